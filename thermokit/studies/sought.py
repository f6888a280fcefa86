"""What is sought, as it is shown: a duration in s, a line's speed in m/min, a length in m; and how far it is looked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from thermokit import units
from thermokit.case.paths import dimension_of
from thermokit.case.sought import SoughtInput
from thermokit.case.tables import Sought
from thermokit.case.walk import leaves

#: unit in which a setting of that dimension is shown, where that is not the shop's
SHOWN = {"length": "m"}
#: digits after the point
DIGITS = {"time": 1, "speed": 2, "length": 2, "temperature": 1, "temperature_difference": 1}
#: bounds of the search [SI] where the case gives none
BOUNDS = {
    "time": (0.1, 36_000.0),
    "speed": (0.1 / 60.0, 300.0 / 60.0),  # 0.1 to 300 m/min
    "length": (0.05, 200.0),
}


@dataclass(frozen=True)
class Scale:
    """The dimension of what is sought and the unit that it is shown in; ``factor`` : SI value of one such unit.

    given : unit that the user wrote, empty for the usual one.

    >>> Scale("time").text(12.345), Scale("speed").text(0.2), Scale("temperature").text(453.15)
    ('12.3 s', '12.00 m/min', '180.0 degC')
    """

    dimension: str = "time"
    given: str = ""

    @property
    def unit(self) -> str:
        """The unit that is shown."""
        if self.given:
            return self.given
        if self.dimension == "time":
            return "s"
        row = units.DIMENSIONS[self.dimension]
        return SHOWN.get(self.dimension, row.shop) or "1"

    @property
    def factor(self) -> float:
        """SI value of one shown unit."""
        row = units.DIMENSIONS[self.dimension]
        return row.units[self.unit][0] if self.unit in row.units else 1.0

    @property
    def bounds(self) -> tuple[float, float]:
        """How far is looked where the case gives no bounds [SI]."""
        return BOUNDS.get(self.dimension, (1e-3, 1e3))

    def shown(self, value: Any) -> Any:
        """An SI value (or an array of them) in the unit that is shown, None as None."""
        return None if value is None else self._shown(value)

    def text(self, value: float | None) -> str:
        """An SI value in words."""
        return "none" if value is None else f"{self._shown(value):.{self._digits}f} {self.unit}"

    def change(self, value: float) -> str:
        """A difference of two SI values in words, with its sign."""
        return f"{value / self.factor:+.{self._digits}f} {self.step}"

    def size(self, value: float) -> str:
        """A width in SI in words."""
        return f"{value / self.factor:.{self._digits}f} {self.step}"

    def plain(self, value: float) -> str:
        """An SI value to four digits, in words."""
        return f"{self._shown(value):.4g} {self.unit}"

    @property
    def step(self) -> str:
        """The unit of a difference."""
        return {"degC": "K", "degF": "delta_degF"}.get(self.unit, self.unit)

    @property
    def _digits(self) -> int:
        return 3 if self.given and self.dimension == "length" else DIGITS.get(self.dimension, 3)

    def _shown(self, value: Any) -> Any:
        """An SI value in the unit that is shown; temperatures with their zero."""
        offset = units.DIMENSIONS[self.dimension].units.get(self.unit, (1.0, 0.0))[1]
        return (value - offset) / self.factor


def scale_of(case: Any, path: str) -> Scale:
    """The scale of the key at a path (as ``sought_path`` gives it); in the unit of the bounds that the user wrote."""
    leaf = next((leaf for leaf in leaves(case) if path in (leaf.name, ".".join(leaf.path))), None)
    if leaf is None:
        return Scale()
    dimension = dimension_of(leaf.kind)
    note = noted_input(case, path)
    if note is None:
        return Scale(dimension) if isinstance(leaf.kind, Sought) else Scale(dimension, _shop(dimension))
    try:
        unit = units.find_unit(note.unit, dimension) if note.unit else ""
    except units.UnitError:
        unit = ""
    return Scale(dimension, unit or _shop(dimension))


def noted_input(case: Any, path: str) -> SoughtInput | None:
    """What the case notes of an input that is sought though its key is not declared so, None for any other path."""
    note: SoughtInput | None = getattr(case, "sought_input", None)
    return note if note is not None and note.is_at(path) else None


def _shop(dimension: str) -> str:
    """The shop's unit, empty for times (which are shown in s) and for bare numbers."""
    return "" if dimension == "time" else units.DIMENSIONS[dimension].shop


def bounds_of(case: Any, path: str, usual: tuple[float, float] | None = None) -> tuple[float, float]:
    """How far is looked [SI]: what the case says, else ``usual``, else what suits the dimension."""
    sought = noted_input(case, path) or case.value(path)
    low, high = usual if usual is not None else scale_of(case, path).bounds
    return (
        float(sought.low) if sought.low is not None else low,
        float(sought.high) if sought.high is not None else high,
    )
