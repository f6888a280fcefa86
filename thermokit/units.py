"""The only place that converts: text with a unit to SI and kelvin, and back.

A unit table of our own: each dimension lists the units that are allowed, with ``SI = value * factor + offset``.
Factors: NIST Special Publication 811 (2008), appendix B.8 (inch, pound, pound-force, gallon, calorie and BTU of the
International Table), exact where the definition is exact.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

INCH = 0.0254  # m, exact
FOOT = 0.3048  # m, exact
POUND = 0.45359237  # kg, exact
POUND_FORCE = POUND * 9.80665  # N, exact
LONG_TON_FORCE = 2240.0 * POUND_FORCE  # N, the British ton
CALORIE = 4.1868  # J, International Table
BTU = 1055.05585262  # J, International Table
US_GALLON = 3.785411784e-3  # m3, exact
UK_GALLON = 4.54609e-3  # m3, exact
HOUR = 3600.0  # s
ZERO_CELSIUS = 273.15  # K
LONGEST = 40  # characters of a number that is taken digit by digit
PER_DEGF = 1.8  # kelvin holds 1.8 degrees Fahrenheit


class Dimension(NamedTuple):
    """One kind of quantity: its SI unit, the unit a shop would write, and unit -> (factor, offset)."""

    si: str
    shop: str
    units: Mapping[str, tuple[float, float]]


class UnitError(ValueError):
    """A text that is no value of the dimension asked for: ``what`` is wrong, and which units are ``allowed``."""

    def __init__(self, what: str, allowed: str):
        self.what = what
        self.allowed = allowed
        super().__init__(f"{what}; allowed: {allowed}")


def _plain(shop: str, factors: dict[str, float]) -> Dimension:
    """Row of the table for units without an offset; the first one named is the SI unit."""
    return Dimension(next(iter(factors)), shop, {unit: (factor, 0.0) for unit, factor in factors.items()})


DIMENSIONS: Mapping[str, Dimension] = {
    "length": _plain(
        "mm",
        {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "um": 1e-6, "km": 1e3, "in": INCH, "ft": FOOT, "thou": 1e-3 * INCH}
        | {"mil": 1e-3 * INCH},
    ),
    "area": _plain("m2", {"m2": 1.0, "mm2": 1e-6, "cm2": 1e-4, "in2": INCH**2, "ft2": FOOT**2}),
    "volume": _plain(
        "L",
        {"m3": 1.0, "L": 1e-3, "mL": 1e-6, "cm3": 1e-6, "mm3": 1e-9, "in3": INCH**3, "ft3": FOOT**3}
        | {"gal": US_GALLON, "gal_uk": UK_GALLON},
    ),
    "time": _plain("s", {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": HOUR, "day": 24.0 * HOUR}),
    "speed": _plain(
        "m/min",
        {"m/s": 1.0, "m/min": 1.0 / 60.0, "m/h": 1.0 / HOUR, "mm/s": 1e-3, "mm/min": 1e-3 / 60.0}
        | {"ft/min": FOOT / 60.0, "ft/s": FOOT, "in/s": INCH, "in/min": INCH / 60.0},
    ),
    "temperature": Dimension(
        "K",
        "degC",
        {"K": (1.0, 0.0), "degC": (1.0, ZERO_CELSIUS), "degF": (1.0 / PER_DEGF, 459.67 / PER_DEGF)},
    ),
    "temperature_difference": _plain("K", {"K": 1.0, "delta_degC": 1.0, "delta_degF": 1.0 / PER_DEGF}),
    "heating_rate": _plain("K/min", {"K/s": 1.0, "K/min": 1.0 / 60.0, "K/h": 1.0 / HOUR}),
    "conductivity": _plain(
        "W/m/K",
        {"W/m/K": 1.0, "mW/m/K": 1e-3, "W/cm/K": 100.0, "kcal/h/m/K": 1e3 * CALORIE / HOUR}
        | {"cal/s/cm/K": 100.0 * CALORIE, "BTU/h/ft/degF": BTU / HOUR / FOOT * PER_DEGF}
        | {"BTU in/h/ft2/degF": BTU * INCH / HOUR / FOOT**2 * PER_DEGF},
    ),
    "density": _plain(
        "kg/m3",
        {"kg/m3": 1.0, "g/cm3": 1e3, "kg/L": 1e3, "g/L": 1.0, "lb/ft3": POUND / FOOT**3, "lb/in3": POUND / INCH**3},
    ),
    "specific_heat": _plain(
        "J/kg/K",
        {"J/kg/K": 1.0, "kJ/kg/K": 1e3, "J/g/K": 1e3, "kcal/kg/K": 1e3 * CALORIE, "cal/g/K": 1e3 * CALORIE}
        | {"BTU/lb/degF": BTU / POUND * PER_DEGF},
    ),
    "heat_per_mass": _plain(
        "kJ/kg",
        {"J/kg": 1.0, "kJ/kg": 1e3, "J/g": 1e3, "kcal/kg": 1e3 * CALORIE, "cal/g": 1e3 * CALORIE}
        | {"BTU/lb": BTU / POUND},
    ),
    "volumetric_heat": _plain(
        "W/m3",
        {"W/m3": 1.0, "kW/m3": 1e3, "MW/m3": 1e6, "W/cm3": 1e6, "W/L": 1e3, "BTU/h/ft3": BTU / HOUR / FOOT**3},
    ),
    "heat_flux": _plain(
        "kW/m2",
        {"W/m2": 1.0, "kW/m2": 1e3, "W/cm2": 1e4, "W/in2": 1.0 / INCH**2, "kcal/h/m2": 1e3 * CALORIE / HOUR}
        | {"BTU/h/ft2": BTU / HOUR / FOOT**2},
    ),
    "heat_transfer_coefficient": _plain(
        "W/m2/K",
        {"W/m2/K": 1.0, "kW/m2/K": 1e3, "W/cm2/K": 1e4, "kcal/h/m2/K": 1e3 * CALORIE / HOUR}
        | {"BTU/h/ft2/degF": BTU / HOUR / FOOT**2 * PER_DEGF},
    ),
    "contact_resistance": _plain(
        "m2 K/W",
        {"m2 K/W": 1.0, "cm2 K/W": 1e-4, "mm2 K/W": 1e-6, "h ft2 degF/BTU": HOUR * FOOT**2 / BTU / PER_DEGF},
    ),
    "power": _plain(
        "kW",
        {"W": 1.0, "kW": 1e3, "MW": 1e6, "mW": 1e-3, "uW": 1e-6, "kcal/h": 1e3 * CALORIE / HOUR, "BTU/h": BTU / HOUR},
    ),
    "heat_flow_per_mass": _plain("W/g", {"W/kg": 1.0, "W/g": 1e3, "mW/mg": 1e3, "kW/kg": 1e3, "mW/g": 1.0}),
    "energy": _plain(
        "kWh",
        {"J": 1.0, "kJ": 1e3, "MJ": 1e6, "Wh": HOUR, "kWh": 1e3 * HOUR, "cal": CALORIE, "kcal": 1e3 * CALORIE}
        | {"BTU": BTU},
    ),
    "energy_per_area": _plain(
        "kJ/m2",
        {"J/m2": 1.0, "kJ/m2": 1e3, "MJ/m2": 1e6, "J/cm2": 1e4, "Wh/m2": HOUR, "kWh/m2": 1e3 * HOUR}
        | {"BTU/ft2": BTU / FOOT**2},
    ),
    "heat_capacity": _plain("kJ/K", {"J/K": 1.0, "kJ/K": 1e3, "kcal/K": 1e3 * CALORIE, "BTU/degF": BTU * PER_DEGF}),
    "thermal_conductance": _plain("W/K", {"W/K": 1.0, "kW/K": 1e3, "kcal/h/K": 1e3 * CALORIE / HOUR}),
    "heat_capacity_per_area": _plain("J/m2/K", {"J/m2/K": 1.0, "kJ/m2/K": 1e3}),
    "pressure": _plain(
        "bar",
        {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "bar": 1e5, "mbar": 100.0, "kgf/cm2": 98066.5}
        | {"psi": POUND_FORCE / INCH**2, "tonf/in2": LONG_TON_FORCE / INCH**2}
        | {"tonf_us/in2": 2000.0 * POUND_FORCE / INCH**2},
    ),
    "force": _plain(
        "kN",
        {"N": 1.0, "kN": 1e3, "kgf": 9.80665, "lbf": POUND_FORCE, "tonf": LONG_TON_FORCE}
        | {"tonf_us": 2000.0 * POUND_FORCE},
    ),
    "flow": _plain(
        "L/min",
        {"m3/s": 1.0, "L/min": 1e-3 / 60.0, "L/s": 1e-3, "L/h": 1e-3 / HOUR, "m3/h": 1.0 / HOUR, "m3/min": 1.0 / 60.0}
        | {"ft3/min": FOOT**3 / 60.0, "gal/min": US_GALLON / 60.0, "gal_uk/min": UK_GALLON / 60.0},
    ),
    "mass": _plain("kg", {"kg": 1.0, "g": 1e-3, "mg": 1e-6, "t": 1e3, "lb": POUND, "oz": POUND / 16.0}),
    "mass_flow": _plain(
        "kg/h",
        {"kg/s": 1.0, "kg/min": 1.0 / 60.0, "kg/h": 1.0 / HOUR, "g/s": 1e-3, "g/min": 1e-3 / 60.0}
        | {"lb/h": POUND / HOUR, "lb/min": POUND / 60.0},
    ),
    "mass_per_area": _plain(
        "g/m2",
        {"kg/m2": 1.0, "g/m2": 1e-3, "lb/ft2": POUND / FOOT**2, "oz/ft2": POUND / 16.0 / FOOT**2}
        | {"oz/yd2": POUND / 16.0 / (3.0 * FOOT) ** 2},
    ),
    "mass_per_length": _plain("g/m", {"kg/m": 1.0, "g/m": 1e-3, "lb/ft": POUND / FOOT}),
    "rate": _plain("1/s", {"1/s": 1.0, "1/min": 1.0 / 60.0, "1/h": 1.0 / HOUR}),
    "frequency": _plain("Hz", {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "rev/min": 1.0 / 60.0, "rev/s": 1.0}),
    "molar_energy": _plain("kJ/mol", {"J/mol": 1.0, "kJ/mol": 1e3, "kcal/mol": 1e3 * CALORIE, "cal/mol": CALORIE}),
    "angle": _plain("deg", {"rad": 1.0, "deg": math.pi / 180.0, "rev": 2.0 * math.pi}),
    "voltage": _plain("V", {"V": 1.0, "mV": 1e-3, "kV": 1e3}),
    "current": _plain("A", {"A": 1.0, "mA": 1e-3, "kA": 1e3}),
    "viscosity": _plain("Pa s", {"Pa s": 1.0, "mPa s": 1e-3, "cP": 1e-3, "P": 0.1}),
    "diffusivity": _plain("mm2/s", {"m2/s": 1.0, "mm2/s": 1e-6, "cm2/s": 1e-4, "ft2/h": FOOT**2 / HOUR}),
    "surface_tension": _plain("mN/m", {"N/m": 1.0, "mN/m": 1e-3, "dyn/cm": 1e-3}),
    "absorption": _plain("1/mm", {"1/m": 1.0, "1/mm": 1e3, "1/cm": 100.0, "1/in": 1.0 / INCH}),
    "thermal_expansion": _plain("1/K", {"1/K": 1.0, "um/m/K": 1e-6, "1/degF": PER_DEGF}),
    "inverse_temperature": _plain("1/K", {"1/K": 1.0, "1/degF": PER_DEGF}),
    "fraction": _plain("", {"": 1.0, "%": 0.01}),
}

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_SPELLINGS = str.maketrans(
    {"²": "2", "³": "3", "µ": "u", "μ": "u", "°": "deg", "℃": "degC", "℉": "degF", "·": " ", "*": " ", "−": "-"}
    | {"\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "^": ""}
)
_OTHER_NAMES = {
    "sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min", "hr": "h", "hour": "h", "hours": "h",
    "days": "day", "inch": "in", "inches": "in", '"': "in", "l": "L", "ml": "mL", "l/min": "L/min", "l/s": "L/s",
    "l/h": "L/h", "lbs": "lb", "micron": "um", "Btu": "BTU", "rpm": "rev/min",
}  # fmt: skip


def _spelling_key(unit: str) -> str:
    """The unit without what may be spelled in several ways: ``W/(m2 K)``, ``W/m2/K`` and ``W/m²K`` give one key."""
    head, *denominators = unit.replace("Btu", "BTU").replace("(", "").replace(")", "").split("/")
    numerator = "".join(head.split())
    denominator = "".join("".join(denominators).split())
    if not denominator:
        return numerator
    # per degree Celsius is per kelvin
    return f"{numerator}/{denominator}".replace("delta_", "").replace("degC", "K")


_BY_KEY = {name: {_spelling_key(unit): unit for unit in row.units} for name, row in DIMENSIONS.items()}


def allowed_units(dimension: str) -> str:
    """Which units may be written for a dimension, in words, the shop's own unit first."""
    row = DIMENSIONS[dimension]
    names = [row.shop, *(unit for unit in row.units if unit != row.shop)]
    return ", ".join(name if name else "a bare number" for name in names)


def find_unit(unit: str, dimension: str) -> str:
    """The unit's name in the table, whatever way it was spelled.

    Raises UnitError where the dimension has no such unit.

    >>> find_unit("W/(m² K)", "heat_transfer_coefficient")
    'W/m2/K'
    """
    text = unit.translate(_SPELLINGS).strip()
    text = _OTHER_NAMES.get(text, text)
    found = _BY_KEY[dimension].get(_spelling_key(text))
    if found is not None:
        return found
    shown = text if len(text) <= 30 else text[:30] + "..."
    words = dimension.replace("_", " ")
    if dimension == "temperature_difference" and text in ("degC", "degF"):
        raise UnitError(f"{text} is a temperature, here a difference is meant: write K", allowed_units(dimension))
    if dimension == "temperature" and text in ("C", "F"):
        raise UnitError(f"{text} is not a unit of temperature: write deg{text}", allowed_units(dimension))
    if not text:
        raise UnitError(f"the unit is missing (a {words})", allowed_units(dimension))
    near = [name for name in DIMENSIONS[dimension].units if name.lower() == text.lower()]
    if near:
        raise UnitError(f"{shown} is not a unit of {words}: write {near[0]}", allowed_units(dimension))
    key = _spelling_key(text)
    others = [name.replace("_", " ") for name, keys in _BY_KEY.items() if key in keys]
    if others:
        raise UnitError(f"{shown} is a unit of {' or '.join(others)}, not of {words}", allowed_units(dimension))
    raise UnitError(f"{shown} is not a unit of {words}", allowed_units(dimension))


def from_unit(value: Any, unit: str, dimension: str) -> Any:
    """A number or array in ``unit``, in SI.

    >>> round(from_unit(212.0, "degF", "temperature"), 9)
    373.15
    """
    factor, offset = DIMENSIONS[dimension].units[find_unit(unit, dimension)]
    return value * factor + offset


def to_unit(value_si: Any, unit: str, dimension: str) -> Any:
    """A number or array in SI, in ``unit``.

    >>> round(to_unit(373.15, "degF", "temperature"), 9)
    212.0
    """
    factor, offset = DIMENSIONS[dimension].units[find_unit(unit, dimension)]
    return (value_si - offset) / factor


@cache
def _simple(factor: float) -> Fraction:
    """The fraction that was meant by a number of the table: 1/60, 0.001, 459.67/1.8."""
    for most in (10**3, 10**6, 10**9):
        found = Fraction(factor).limit_denominator(most)
        if float(found) == factor:
            return found
    return Fraction(factor)


def _to_si(number: str, unit: str, dimension: str) -> float:
    """The SI value of a number as it is written, rounded once: 4 mm, 0.4 cm and 0.004 m are one and the same."""
    plain = float(number)
    if len(number) > LONGEST or not (plain == 0.0 or 1e-99 < abs(plain) < 1e99):
        return float(from_unit(plain, unit, dimension))
    factor, offset = DIMENSIONS[dimension].units[find_unit(unit, dimension)]
    return float(Fraction(number) * _simple(factor) + _simple(offset))


def parse(text: str, dimension: str) -> float:
    """The SI value of a text with its unit.

    text : number and unit (``"4 mm"``); dimension : a key of ``DIMENSIONS``.
    Raises UnitError on a decimal comma, a missing or wrong unit, a value that is not finite, a temperature below
    absolute zero.

    >>> parse("12 m/min", "speed")
    0.2
    >>> try:
    ...     parse("1,5 mm", "length")
    ... except UnitError as wrong:
    ...     print(wrong.what)
    decimal comma: write 1.5 mm
    """
    cleaned = text.translate(_SPELLINGS).strip()
    match = _NUMBER.match(cleaned)
    if match is None:
        shown = cleaned if len(cleaned) <= 30 else cleaned[:30] + "..."
        if re.match(r"[+-]?(nan|inf)", cleaned, re.IGNORECASE):
            raise UnitError(f"{shown} is not a number that can be used", _example(dimension))
        raise UnitError(f'"{shown}" does not begin with a number', _example(dimension))
    rest = cleaned[match.end() :]
    if re.match(r",[0-9]", rest):
        point = cleaned.replace(",", ".", 1)[:40]
        thousands = re.fullmatch(r"[+-]?[0-9]{1,3}(,[0-9]{3})+(?![0-9])", re.split(r"[^0-9,+-]", cleaned)[0])
        other = f" (or {cleaned.replace(',', '')[:40]})" if thousands else ""
        raise UnitError(f"decimal comma: write {point}{other}", allowed_units(dimension))
    if re.match(r"\s*(?!\s|1/)[0-9.]", rest):
        raise UnitError(f'"{cleaned[:40]}" holds more than one number', _example(dimension))
    value = _to_si(match.group(), rest, dimension)
    if not math.isfinite(value):
        raise UnitError(f"{match.group()[:30]} is too large a number", _example(dimension))
    if dimension == "temperature" and value < 0.0:
        raise UnitError(f"{cleaned[:40]} lies below absolute zero", "0 K (-273.15 degC) and above")
    return value


def parse_plus_minus(text: str, dimension: str) -> tuple[float, bool]:
    """What a tolerance says: ``(amount, relative)``; a share of the value when written in %, else an amount in SI.

    Tolerances of temperatures are differences and take K; ``%`` always means a share of the value.

    >>> parse_plus_minus("± 3 %", "length")
    (0.03, True)
    >>> parse_plus_minus("+- 5 K", "temperature")
    (5.0, False)
    """
    amount = re.sub(r"^\s*(±|\+\s*/?\s*[-−])", "", text).strip()
    relative = amount.endswith("%")
    of = "fraction" if relative else "temperature_difference" if dimension == "temperature" else dimension
    try:
        value = parse(amount, of)
    except UnitError as wrong:
        raise UnitError(wrong.what, f'"± 3 %", or an amount in {wrong.allowed}') from None
    if value < 0.0:
        raise UnitError(f"{amount[:40]} is negative: a tolerance is an amount to either side", '"± 3 %" and the like')
    return value, relative


def format_(value_si: float, dimension: str, unit: str | None = None, digits: int | None = None) -> str:
    """Text with unit for an SI value, in the shop's unit unless another is given.

    Without ``digits`` it is the shortest text that ``parse`` reads back to exactly the same number (in the SI unit
    where the unit asked for cannot do that); with ``digits`` it is rounded to so many significant digits.

    >>> format_(0.004, "length")
    '4 mm'
    >>> format_(400.15, "temperature", "degF", digits=4)
    '260.6 degF'
    """
    row = DIMENSIONS[dimension]
    name = row.shop if unit is None else find_unit(unit, dimension)
    shown = float(to_unit(value_si, name, dimension))
    if digits is not None:
        return f"{shown:.{digits}g} {name}".rstrip()
    for places in range(6, 18):
        number = f"{shown:.{places}g}"
        if _to_si(number, name, dimension) == value_si:
            return f"{number} {name}".rstrip()
    return f"{float(value_si)!r} {row.si}".rstrip()


def _example(dimension: str) -> str:
    """What a value of a dimension looks like, for messages."""
    shop = DIMENSIONS[dimension].shop
    return f'a number and a unit ("20 {shop}"): {allowed_units(dimension)}' if shop else 'a number, or a share ("5 %")'
