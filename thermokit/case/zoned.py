"""A setting that is one value, or one for each zone of a panel: a rectangular table, and perhaps a table of times."""

# ruff: noqa: D102 (the methods are documented once, at ``Kind``)

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from thermokit.case.declare import UNKNOWN, Kind, known
from thermokit.case.mistakes import At, shown
from thermokit.case.tables import Varying
from thermokit.case.values import Quantity

MOST_ZONES = 100  # along either side of a panel


@dataclass(eq=False, repr=False)
class Zoned(Kind):
    """A quantity, one for the whole panel or a table: a list of rows (across the width) of values (along the length).

    times : whether it may be a table of times instead; instead : what a message advises where a path leads to a table
    of zones, which is no single number; ``{}`` stands for the path of the panel.
    """

    quantity: Quantity
    times: bool = False
    instead: str = ""

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, dict) and self.times:
            return Varying(self.quantity).read(raw, at)
        if not isinstance(raw, list):
            return self.quantity.read(raw, at, self._also())
        if not raw or not all(isinstance(row, list) and row for row in raw):
            at.mistake(
                f"{shown(raw)} is no table of zones", self.words(), 'one row is written [["400 degC", "420 degC"]]'
            )
            return UNKNOWN
        columns = sorted({len(row) for row in raw})
        if len(columns) > 1:
            at.mistake(
                f"rows of {columns[0]} and of {columns[-1]} zones", "as many zones in every row",
                "a zone without power keeps its place in the table and is named in dead",
            )  # fmt: skip
            return UNKNOWN
        if len(raw) > MOST_ZONES or columns[0] > MOST_ZONES:
            at.mistake(f"{len(raw)} rows of {columns[0]} zones", f"up to {MOST_ZONES} rows of {MOST_ZONES}")
            return UNKNOWN
        rows = [[self.quantity.read(zone, at / i / j) for j, zone in enumerate(row)] for i, row in enumerate(raw)]
        return tuple(tuple(row) for row in rows) if all(known(*row) for row in rows) else UNKNOWN

    def holds_table(self, value: tuple[Any, ...]) -> bool:
        """Whether these are rows of equally many values in range (each a number or an array of one a run)."""
        if not value or not all(isinstance(row, tuple) and row and len(row) == len(value[0]) for row in value):
            return False
        try:
            return all(self.quantity.holds(zone) for row in value for zone in row)
        except (ValueError, TypeError):
            return False

    def write(self, value: Any) -> Any:
        if isinstance(value, tuple):
            return [[self.quantity.write(zone) for zone in row] for row in value]
        return Varying(self.quantity).write(value)

    def _also(self) -> str:
        times = "; or a table { time = [...], value = [...] }" if self.times else ""
        return times + "; or a table of zones, [[...], [...]]: a list of rows across the width, each along the length"

    def words(self) -> str:
        return self.quantity.words() + self._also()

    def schema(self) -> dict[str, Any]:
        row = {"type": "array", "items": self.quantity.schema(), "minItems": 1, "maxItems": MOST_ZONES}
        zones = {"type": "array", "items": row, "minItems": 1, "maxItems": MOST_ZONES}
        plain = Varying(self.quantity).schema()["anyOf"] if self.times else [self.quantity.schema()]
        return {"anyOf": [*plain, zones]}
