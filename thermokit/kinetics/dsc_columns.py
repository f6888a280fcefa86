"""Which column of a calorimeter's file holds what, by its name and unit: time, temperature, heat flow, conversion."""

from __future__ import annotations

import re
from dataclasses import dataclass

from thermokit.logs.columns import LONGEST
from thermokit.units import UnitError, find_unit

# quantity -> (dimensions its unit may have, names it goes by)
QUANTITIES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "time": (("time",), ("time", "elapsed", "t", "zeit")),
    "temperature": (("temperature",), ("temperature", "temp", "temp.", "ts", "tsample", "sample temperature")),
    "heat_flow": (
        ("heat_flow_per_mass", "power"),
        ("heat flow", "heatflow", "heat-flow", "hf", "dsc", "power", "signal", "exotherm"),
    ),
    "conversion": (
        ("fraction",),
        ("conversion", "degree", "degree of cure", "degree of conversion", "cure", "cure degree", "alpha", "α"),
    ),
}
NAMING = (
    'name the columns with their units in the first line, such as "time [s];temperature [degC];heat flow [W/g]" '
    '(or "conversion" in place of heat flow)'
)
_UNITLESS = {"", "-", "1", "fraction"}
_LETTERS = {"C": "degC", "F": "degF", "deg C": "degC", "deg F": "degF", "Celsius": "degC"}


@dataclass(frozen=True)
class Column:
    """A column by its heading: quantity ("" for one that is of no use here), name, unit as in ``units`` (None: none given),
    and the dimension of that unit.
    """

    quantity: str
    name: str
    unit: str | None = None
    dimension: str = ""

    @property
    def wants_unit(self) -> bool:
        """Whether the column is of use but for its unit."""
        return bool(self.quantity) and self.unit is None


def column_of(heading: str) -> Column:
    """What a heading such as ``time [min]``, ``Temp./°C``, ``heat flow (mW)`` or ``time_s`` says.

    >>> column_of("Temp. (°C)")
    Column(quantity='temperature', name='Temp.', unit='degC', dimension='temperature')
    """
    text = heading.strip().strip('"').strip()
    if len(text) > LONGEST:
        return Column("", text[:60] + "...")
    for name, unit in _splits(text):
        by_name = _named(name)
        for quantity in [by_name] if by_name else [q for q in QUANTITIES if q != "conversion"]:
            found = unit_of(unit, quantity)
            if found is not None:
                return Column(quantity, name, *found)
    name = re.split(r"[\[(/]", text)[0].strip() or text
    quantity = _named(name) or _named(text)
    if quantity == "conversion":
        return Column(quantity, name, "", "fraction") if name == text else Column(quantity, name)
    return Column(quantity, name)


def unit_of(unit: str, quantity: str) -> tuple[str, str] | None:
    """(unit as in ``units``, dimension) where a text is a unit of a quantity, else None."""
    text = unit.strip()
    text = _LETTERS.get(text, text)
    if quantity == "conversion" and text in _UNITLESS:
        return "", "fraction"
    for dimension in QUANTITIES[quantity][0]:
        try:
            return find_unit(text, dimension), dimension
        except UnitError:
            continue
    return None


def _splits(text: str) -> list[tuple[str, str]]:
    """The ways to take a heading as a name and a unit."""
    found = []
    for pattern in (
        r"(.*?)\s*[\[({](.+?)[\])}][\w\s]*",
        r"(.*?)\s*/\s*\(?([^()]+(?:\([^()]*\))?[^()]*)\)?\s*",
        r"(.+)[_ ](\S+)",
    ):
        match = re.fullmatch(pattern, text)
        if match:
            name, unit = match.group(1).strip(" _/"), match.group(2).strip()
            found.append((name, unit.strip("()") if unit.count("(") != unit.count(")") else unit))
    return found


def _named(name: str) -> str:
    """The quantity that goes by a name, "" for none; T is temperature and t is time."""
    plain = " ".join(name.replace("_", " ").split()).strip(" .:")
    if plain in ("T", "Ts", "T sample"):
        return "temperature"
    lower = plain.lower()
    for quantity, (_, names) in QUANTITIES.items():
        if lower in (known.strip(" .") for known in names):
            return quantity
    words = set(re.split(r"[\s.]+", lower))
    if words & {"temperature", "temp"}:
        return "temperature"
    if "heat flow" in lower or "heatflow" in lower:
        return "heat_flow"
    if words & {"conversion"}:
        return "conversion"
    return "time" if "time" in words else ""
