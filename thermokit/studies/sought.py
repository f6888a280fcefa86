"""What is sought, as it is shown: a duration in s, a line's speed in m/min, a length in m; and how far it is looked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from thermokit import units
from thermokit.case.paths import dimension_of
from thermokit.case.walk import leaves

#: unit in which a setting of that dimension is shown, where that is not the shop's
SHOWN = {"length": "m"}
#: digits after the point
DIGITS = {"time": 1, "speed": 2, "length": 2}
#: bounds of the search [SI] where the case gives none
BOUNDS = {
    "time": (0.1, 36_000.0),
    "speed": (0.1 / 60.0, 300.0 / 60.0),  # 0.1 to 300 m/min
    "length": (0.05, 200.0),
}


@dataclass(frozen=True)
class Scale:
    """The dimension of what is sought and the unit that it is shown in; ``factor`` : SI value of one such unit.

    >>> Scale("time").text(12.345), Scale("speed").text(0.2)
    ('12.3 s', '12.00 m/min')
    """

    dimension: str = "time"

    @property
    def unit(self) -> str:
        """The unit that is shown."""
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

    def shown(self, value: float | None) -> float | None:
        """An SI value in the unit that is shown, None as None."""
        return None if value is None else value / self.factor

    def text(self, value: float | None) -> str:
        """An SI value in words."""
        return "none" if value is None else f"{value / self.factor:.{DIGITS.get(self.dimension, 3)}f} {self.unit}"

    def change(self, value: float) -> str:
        """A difference of two SI values in words, with its sign."""
        return f"{value / self.factor:+.{DIGITS.get(self.dimension, 3)}f} {self.unit}"

    def plain(self, value: float) -> str:
        """An SI value to four digits, in words."""
        return f"{value / self.factor:.4g} {self.unit}"


def scale_of(case: Any, path: str) -> Scale:
    """The scale of the key at a path (as ``sought_path`` gives it)."""
    return next(
        (Scale(dimension_of(leaf.kind)) for leaf in leaves(case) if path in (leaf.name, ".".join(leaf.path))), Scale()
    )


def bounds_of(case: Any, path: str, usual: tuple[float, float] | None = None) -> tuple[float, float]:
    """How far is looked [SI]: what the case says, else ``usual``, else what suits the dimension."""
    sought = case.value(path)
    low, high = usual if usual is not None else scale_of(case, path).bounds
    return (
        float(sought.low) if sought.low is not None else low,
        float(sought.high) if sought.high is not None else high,
    )
