"""The table of a sweep as any spreadsheet reads it: one line a row, the unit of each column in its head."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from thermokit.results.sweep_table import STATUS
from thermokit.results.table import inert

if TYPE_CHECKING:
    from collections.abc import Iterator

    from thermokit.results.sweep_table import SweepTable

LOT = 5000  # rows that are turned into text at a time


def as_csv(table: SweepTable) -> str:
    """Comma-separated values (RFC 4180) with decimal points: inputs, outcomes, margins, flags, status and reason.

    A value that does not exist is an empty field. Lines end in carriage return and line feed.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    heads = [c.name if c.unit in ("", "1") else f"{c.name} [{c.unit}]" for c in table.columns]
    writer.writerow(map(inert, [*heads, *(f.name for f in table.flags), "status", "reason"]))
    for first in range(0, table.rows, LOT):
        writer.writerows(_lines(table, first, min(first + LOT, table.rows)))
    return text.getvalue()


def _lines(table: SweepTable, first: int, last: int) -> Iterator[tuple[str, ...]]:
    numbers = [map(_field, c.values[first:last].tolist()) for c in table.columns]
    words = [["" if i < 0 else inert(f.words[i]) for i in f.values[first:last].tolist()] for f in table.flags]
    status = [STATUS[i].replace("_", " ") for i in table.status[first:last].tolist()]
    reasons = [inert(table.reasons.get(i, "")) for i in range(first, last)]
    return zip(*numbers, *words, status, reasons, strict=True)


def _field(value: float) -> str:
    """Ten significant digits: more would only show the rounding of conversions."""
    return f"{value:.10g}" if math.isfinite(value) else ""
