"""Where the table of a logger's file stands: delimiter, heading, row of units, first and last row; the rest is told."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.errors import DataError
from thermokit.logs.columns import Column, column_of, is_gap, is_measured, is_time_name, units_row
from thermokit.logs.stamps import looks_like_stamp, time_unit_of
from thermokit.logs.text import DELIMITERS, commas_twice, number, shown_lines, split

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

FEWEST = 3  # rows that make a table
NAMES = {"tab": "\t", "semicolon": ";", "bar": "|", "comma": ",", "space": " "}
SAMPLE = 600  # lines by which the delimiter is found


@dataclass
class Grid:
    """The table: columns, rows as (line, cells), whether a heading names the columns."""

    columns: list[Column]
    rows: list[tuple[int, list[str]]]
    named: bool


def find_grid(lines: Sequence[str], path: Path, delimiter: str | None, notes: list[str]) -> Grid:
    """The table in the lines of a file; delimiter : as the case names it, None: as it is found.

    Raises DataError where there is no table, or its commas part columns and decimals alike.
    """
    first = 0
    if lines and (match := re.fullmatch(r"\s*\"?sep\s*=\s*(.)\"?\s*", lines[0], re.IGNORECASE)):
        delimiter = delimiter or next((name for name, mark in NAMES.items() if mark == match[1]), None)
        first = 1
    if delimiter is not None:
        marks: Sequence[str] = [NAMES[delimiter]]
    else:
        marks = list(DELIMITERS)
    best, rows, width = _best(lines, first, marks)
    if len(rows) < FEWEST:
        parted = "" if delimiter is None else f" parted by {DELIMITERS[marks[0]]}"
        raise DataError(
            f"{path}: no table of times and temperatures was found{parted}: {FEWEST} and more lines with a time and numbers, "
            'such as "time [s];T1 [degC]" and below it "0;21.4"'
        )
    begin = rows[0]
    heading, at = _heading(lines, first, begin, best, width, path)
    columns = heading or [Column("time" if i == 0 else f"column {i + 1}", None, i == 0) for i in range(width)]
    found, others = [], []
    for i in range(begin, rows[-1] + 1):
        if not lines[i].strip():
            continue
        cells = split(lines[i], best)
        if _is_row(cells, width):
            found.append((i + 1, cells))
        else:
            others.append(i + 1)
    if others:
        notes.append(f"{shown_lines(others)}: no row of the table; left out")
    before = [i + 1 for i in range(first, begin) if i not in at and lines[i].strip()]
    if before:
        notes.append(f"{shown_lines(before)}: text before the table, not used")
    after = [i + 1 for i in range(rows[-1] + 1, len(lines)) if lines[i].strip()]
    if after:
        notes.append(f"{shown_lines(after)}: text after the last row, not used")
    notes.append(f"{len(found)} rows, columns parted by {DELIMITERS[best]}")
    return Grid(_told_apart(columns), found, heading is not None)


def _best(lines: Sequence[str], first: int, marks: Sequence[str]) -> tuple[str, list[int], int]:
    """(delimiter, numbers of the lines that are rows, cells of a row) of the delimiter that makes most rows."""
    best, width, score = marks[0], 0, 0.0
    sample = range(first, min(len(lines), first + SAMPLE))
    for mark in marks:
        counts = list(_rows(lines, sample, mark).values())
        if not counts:
            continue
        most = max(set(counts), key=lambda w: (counts.count(w), w))
        # spaces part dates from clocks and numbers from units: they are the last resort
        good = (counts.count(most) + 1e-3 * most) * (0.5 if mark == " " else 1.0)
        if good > score:
            best, width, score = mark, most, good
    if not score:
        return best, [], 0
    rows = _rows(lines, range(first, len(lines)), best)
    return best, [i for i, cells in rows.items() if cells <= width or not any(split(lines[i], best)[width:])], width


def _rows(lines: Sequence[str], numbers: range, mark: str) -> dict[int, int]:
    """Lines that are rows when this delimiter parts them -> how many cells they have."""
    found: dict[int, int] = {}
    for i in numbers:
        cells = split(lines[i], mark) if lines[i].strip() else []
        if len(cells) > 1 and _is_row(cells, len(cells)):
            found[i] = len(_trimmed(cells))
    return found


def _trimmed(cells: list[str]) -> list[str]:
    """Cells without the empty one that a delimiter at the end of the line leaves."""
    return cells[:-1] if len(cells) > 2 and not cells[-1].strip() else cells


def _is_row(cells: Sequence[str], width: int) -> bool:
    """Whether a line is a row: a time or number first, and nothing but measured cells; one word in it may be a remark."""
    some = [cell for cell in cells if cell.strip()]
    if len(some) < 2 or len(cells) > width + 1 or not any(not is_gap(cell) for cell in some):
        return False
    first = some[0]
    if not (looks_like_stamp(first) or number(first, False) is not None or number(first, True) is not None):
        return False
    strange = sum(not is_measured(cell) for cell in some)
    return strange == 0 or (strange <= len(some) // 3 and len(some) > 2)


def _heading(
    lines: Sequence[str], first: int, begin: int, mark: str, width: int, path: Path
) -> tuple[list[Column] | None, set[int]]:
    """(columns by the heading above the first row, lines that it takes); None where there is none."""
    above = [i for i in range(max(first, begin - 4), begin) if lines[i].strip()]
    cells = {i: [cell.strip() for cell in _cells(lines[i], mark, width)] for i in above}
    rows_of_units = {i: found for i in above if (found := units_row(cells[i])) and len(cells[i]) > 1}
    for i in reversed(above):
        if i in rows_of_units:
            continue
        names = cells[i]
        while len(names) > width and not names[-1]:
            names = names[:-1]
        if mark == "," and 1 < len(names) < width and width >= 2 * len(names) - 1:
            raise commas_twice(path, begin + 1, width, len(names))
        if len(names) < 2 or len(names) > width or len(names) < width - 1:
            continue
        columns = [column_of(name) if name else Column(f"column {j + 1}") for j, name in enumerate(names)]
        columns += [Column(f"column {j + 1}") for j in range(len(names), width)]
        below = next((j for j in rows_of_units if j > i), next(iter(rows_of_units), None))
        if below is not None:
            columns = [_with_unit(c, u) for c, u in zip(columns, _padded(rows_of_units[below], width), strict=True)]
        return columns, {i, below} if below is not None else {i}
    return None, set(rows_of_units)


def _cells(line: str, mark: str, width: int) -> list[str]:
    """Cells of a heading; between spaces names may hold spaces themselves, then wider gaps part them."""
    bare = re.sub(r"^\s*(#|%|//)\s*", "", line)
    cells = split(bare, mark)
    if mark == " " and len(cells) != width:
        bracketed = re.findall(r"[^\[\]()]{1,300}[\[(][^\[\]()]{0,300}[\])]", bare)
        wide = [cell.strip() for cell in bracketed] if len(bracketed) == width else re.split(r"\s{2,}", bare.strip())
        return wide if len(wide) == width else cells
    return cells


def _padded(units: list[str | None], width: int) -> list[str | None]:
    return [*units[:width], *[None] * (width - len(units))]


def _with_unit(column: Column, unit: str | None) -> Column:
    """A column with the unit of the row of units, where its own heading names none."""
    if unit is None or column.unit is not None:
        return column
    is_time = column.time or (time_unit_of(unit) is not None and is_time_name(column.name))
    if column.time and time_unit_of(unit) is None:
        return column
    return Column(column.name, unit, is_time)


def _told_apart(columns: list[Column]) -> list[Column]:
    """Columns whose names stand once each where only a unit or nothing tells them apart by number."""
    return [Column(" ".join(c.name.split()) or f"column {i + 1}", c.unit, c.time) for i, c in enumerate(columns)]
