"""Case files from nested dictionaries, each quantity exact in whatever unit it is written."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from hypothesis import strategies as st

if TYPE_CHECKING:
    from collections.abc import Callable

    from hypothesis.strategies import SearchStrategy

#: unit that amounts are kept in, and unit -> how often (or how much) a number is larger in it: exact factors of the SI
UNITS: dict[str, dict[str, str]] = {
    "length": {"mm": "1", "cm": "0.1", "m": "0.001", "um": "1000"},
    "time": {"s": "1", "ms": "1000", "min": "1/60", "h": "1/3600"},
    "temperature": {"degC": "1", "K": "1", "degF": "1.8"},
    "temperature_difference": {"K": "1", "delta_degC": "1", "delta_degF": "1.8"},
    "conductivity": {"W/m/K": "1", "mW/m/K": "1000", "W/cm/K": "0.01"},
    "density": {"kg/m3": "1", "g/cm3": "0.001", "kg/L": "0.001", "g/L": "1"},
    "specific_heat": {"J/kg/K": "1", "kJ/kg/K": "0.001", "J/g/K": "0.001"},
    "heat_per_mass": {"kJ/kg": "1", "J/kg": "1000", "J/g": "1"},
    "volumetric_heat": {"kW/m3": "1", "W/m3": "1000", "MW/m3": "0.001", "W/L": "1"},
    "heat_flux": {"kW/m2": "1", "W/m2": "1000", "W/cm2": "0.1"},
    "heat_transfer_coefficient": {"W/m2/K": "1", "kW/m2/K": "0.001", "W/cm2/K": "0.0001"},
    "molar_energy": {"kJ/mol": "1", "J/mol": "1000"},
    "rate": {"1/s": "1", "1/min": "60"},
    "area": {"cm2": "1", "mm2": "100", "m2": "0.0001"},
    "mass": {"g": "1", "kg": "0.001", "mg": "1000"},
    "pressure": {"MPa": "1", "bar": "10", "kPa": "1000", "Pa": "1000000"},
    "absorption": {"1/mm": "1", "1/cm": "10", "1/m": "1000"},
    "inverse_temperature": {"1/K": "1"},
    "fraction": {"": "1", "%": "100"},
    "voltage": {"V": "1", "kV": "0.001"},
}  # fmt: skip
_OFFSETS = {"degC": Decimal(0), "K": Decimal("273.15"), "degF": Decimal(32)}


class Amount(NamedTuple):
    """A quantity: its number in the first unit of its dimension, exact."""

    number: Decimal
    dimension: str

    def texts(self) -> dict[str, Any]:
        """What may stand in a case file for it: unit -> text (a bare number for a share), all exactly the same quantity."""
        found: dict[str, Any] = {}
        for unit, factor in UNITS[self.dimension].items():
            over, _, under = factor.partition("/")
            number = self.number * Decimal(over) / Decimal(under or "1")
            if number * Decimal(under or "1") != self.number * Decimal(over):
                continue  # s that are no round number of minutes
            if self.dimension == "temperature":
                number += _OFFSETS[unit]
            plain = f"{number.normalize():f}"
            found[unit] = float(plain) if not unit else f"{plain} {unit}"
        return found

    @property
    def text(self) -> Any:
        """In the unit that it is kept in."""
        return next(iter(self.texts().values()))


def amount(number: float | str, dimension: str) -> Amount:
    """A quantity by its number in the first unit of its dimension."""
    return Amount(Decimal(str(number)), dimension)


@st.composite
def amounts(draw: Any, dimension: str, low: float, high: float, *, digits: int = 3, even: bool = False) -> Amount:
    """Numbers from low to high in the first unit of the dimension: equal chances for each factor, or (even) difference."""
    share = draw(st.floats(0.0, 1.0, width=32))
    number = low + share * (high - low) if even else low * (high / low) ** share
    text = f"{number:.{digits}g}"
    return Amount(Decimal(text), dimension)


def temperatures(low: float, high: float) -> SearchStrategy[Amount]:
    """Temperatures in degC, to a tenth."""
    return st.integers(round(10 * low), round(10 * high)).map(lambda n: Amount(Decimal(n) / 10, "temperature"))


def case_text(tree: dict[str, Any], choose: Callable[[Amount], Any] | None = None) -> str:
    """A case file: a table for each section, one for each entry of a list of tables, all else on the line of its key.

    choose : what is written for an amount; left out, the unit that it is kept in.
    """
    word = choose or (lambda amount: amount.text)
    plain = [f"{_key(k)} = {_value(v, word)}" for k, v in tree.items() if not isinstance(v, dict) and not _tables(v)]
    parts = ["\n".join(plain)]
    for name, value in tree.items():
        if _tables(value):
            parts += [_section(f"[[{_key(name)}]]", entry, word) for entry in value]
        elif isinstance(value, dict):
            parts.append(_section(f"[{_key(name)}]", value, word))
    return "\n".join(part for part in parts if part) + "\n"


def _section(head: str, table: dict[str, Any], word: Any) -> str:
    return "\n".join([head, *(f"{_key(k)} = {_value(v, word)}" for k, v in table.items())])


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(entry, dict) for entry in value)


def _key(name: str) -> str:
    return name if name.replace("_", "").replace("-", "").isalnum() and name.isascii() else json.dumps(name)


def _value(value: Any, word: Any) -> str:
    if isinstance(value, Amount):
        value = word(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v, word)}" for k, v in value.items()) + " }" if value else "{}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(v, word) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False)
