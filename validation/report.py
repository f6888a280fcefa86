"""Numbers of the checks as text, and the table for the terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from validation.checks import Check, Row, rounded


def number(value: float | None, digits: int = 7) -> str:
    """A number in few characters, a dash for none."""
    return "–" if value is None else f"{value:.{digits}g}"


def to_step(value: float | None, step: float) -> str:
    """A number to a power of ten: as many digits as stand still, a dash for none."""
    if value is None:
        return "–"
    value = rounded(value, step)
    if not math.isfinite(value):
        return str(value)
    if value == 0.0:
        return "0"
    digits = math.floor(math.log10(abs(value))) - round(math.log10(step)) + 1
    return f"{value:.{max(digits, 1)}g}"


def deviation(row: Row) -> str:
    """Found minus exact, both as printed, to the digits of found; 0 where they agree to all of them."""
    if row.exact is None:
        return "–"
    text = to_step(row.found - float(to_step(row.exact, row.step / 10.0)), row.step)
    return text if text in ("0", "nan") or text.startswith("-") else f"+{text}"


def cells(row: Row) -> tuple[str, ...]:
    """Columns of a line: quantity, published, exact, found, deviation, tolerance, pass."""
    unit = f" [{row.unit}]" if row.unit else ""
    return (
        row.name + unit,
        number(row.published),
        to_step(row.exact, row.step / 10.0),
        to_step(row.found, row.step),
        deviation(row),
        row.tolerance,
        "yes" if row.passed else "NO",
    )


HEAD = ("quantity", "published", "exact", "found", "deviation", "tolerance", "pass")


def plain(rows: Sequence[tuple[Check, Row]]) -> str:
    """The table for a terminal."""
    table = [("id", *HEAD), *((check.id, *cells(row)) for check, row in rows)]
    widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
    return "\n".join("  ".join(text.ljust(w) for text, w in zip(line, widths, strict=True)).rstrip() for line in table)
