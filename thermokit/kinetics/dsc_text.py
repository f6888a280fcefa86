"""The text of a calorimeter's file as columns of numbers: delimiters, decimal commas, comments, and every line that is wrong.

Nothing that stands in the file is dropped in silence: what is not used is told in ``notes``, what cannot be read is a
DataError that names file and line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError
from thermokit.kinetics.dsc_columns import NAMING, Column, column_of, unit_of
from thermokit.logs.text import (
    COMMENT,
    DELIMITERS,
    MOST_SHOWN,
    NOTHING,
    PLAIN,
    commas_twice,
    decimal_comma,
    number,
    read_lines,
    shown_lines,
    split,
)
from thermokit.units import from_unit

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_FACT = re.compile(r"([^:=]{2,40}?)\s*[:=]\s*(.+)")


@dataclass
class Table:
    """The numbers of a file, in SI.

    columns : quantity -> (rows,), NaN where a cell is empty; lines : line of each row; per_mass : whether heat flow is for
    each kilogram [W/kg], else [W]; facts : what comments say, ``heating rate`` -> ``10 K/min``; notes : what was done.
    """

    file: str
    columns: dict[str, Array]
    lines: Array
    per_mass: bool = True
    facts: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def read_table(path: Path) -> Table:
    """The columns of a file; raises DataError with every line that cannot be read (up to some)."""
    lines, notes = read_lines(path)
    head = _find_header(lines, path)
    facts = _facts([line for i, line in enumerate(lines) if i < head.line or COMMENT.match(line)])
    wanted = _wanted(head, path, notes)
    rows = _rows(lines, head)
    mistakes: list[str] = []
    comma = _decimal_comma(rows, wanted, head, path, notes)
    values = np.full((len(rows), len(wanted)), np.nan)
    numbers = list(wanted.items())
    last = _last_row(rows, wanted)
    after = [line for line, _ in rows[last + 1 :]]
    if after:
        notes.append(f"{shown_lines(after)}: text after the last row, not used")
    for r, (line, cells) in enumerate(rows[: last + 1]):
        if len(cells) > len(head.columns) and any(cell.strip() for cell in cells[len(head.columns) :]):
            mistakes.append(f"line {line} has {len(cells)} cells, the heading names {len(head.columns)}")
            continue
        for c, (_, place) in enumerate(numbers):
            cell = cells[place].strip() if place < len(cells) else ""
            if cell.lower() in NOTHING:
                continue
            value = number(cell, comma)
            if value is None:
                mistakes.append(f'line {line}: "{cell[:30]}" in the column {head.columns[place].name} is no number')
            else:
                values[r, c] = value
    if mistakes:
        more = f"\n  and {len(mistakes) - MOST_SHOWN} more" if len(mistakes) > MOST_SHOWN else ""
        raise DataError("\n  ".join([f"{path}: cannot be read", *mistakes[:MOST_SHOWN]]) + more)
    columns = {}
    for c, (quantity, place) in enumerate(numbers):
        named = head.columns[place]
        columns[quantity] = np.asarray(from_unit(values[: last + 1, c], named.unit or "", named.dimension))
    per_mass = "heat_flow" not in wanted or head.columns[wanted["heat_flow"]].dimension != "power"
    at = np.array([line for line, _ in rows[: last + 1]], dtype=np.float64)
    return Table(str(path), columns, at, per_mass, facts, notes)


@dataclass(frozen=True)
class _Head:
    """The heading: its line (counted from 0), what its columns hold, the delimiter, the line of the first row."""

    line: int
    columns: list[Column]
    delimiter: str
    first: int


def _headings(line: str, delimiter: str) -> list[str]:
    """The cells of a heading; between spaces they are told apart by their brackets, or by wider gaps."""
    if delimiter != " ":
        return split(line, delimiter)
    bracketed = re.findall(r"[^\[\]()]{1,300}[\[(][^\[\]()]{0,300}[\])]", line)
    if bracketed and "".join(bracketed).replace(" ", "") == line.replace(" ", ""):
        return [cell.strip() for cell in bracketed]
    wide = re.split(r"\s{2,}", line.strip())
    return wide if len(wide) > 1 else line.split()


def _find_header(lines: list[str], path: Path) -> _Head:
    """The first line that names a time or temperature and a heat flow or conversion."""
    halves: tuple[int, list[Column]] | None = None
    for i, line in enumerate(lines[:500]):
        bare = COMMENT.sub("", line, count=1).strip()
        for delimiter in DELIMITERS:
            columns = [column_of(cell) for cell in _headings(bare, delimiter)]
            named = {column.quantity for column in columns} - {""}
            if not (named & {"time", "temperature"} and named & {"heat_flow", "conversion"}):
                continue
            columns, first = _with_unit_row(columns, lines, i, delimiter)
            if not any(column.wants_unit for column in columns):
                return _Head(i, columns, delimiter, first)
            halves = halves or (i, columns)
    if halves is not None:
        bare_names = ", ".join(column.name for column in halves[1] if column.wants_unit)
        raise DataError(f"{path}: line {halves[0] + 1}: no unit, or none that is known, with {bare_names}; {NAMING}")
    raise DataError(f"{path}: no line names the columns; {NAMING}")


def _with_unit_row(columns: list[Column], lines: list[str], i: int, delimiter: str) -> tuple[list[Column], int]:
    """The columns with the units of a row of units below the heading, where there is one, and the line of the first row."""
    if i + 1 >= len(lines) or not any(column.wants_unit for column in columns):
        return columns, i + 1
    cells = [cell.strip().strip("[]()") for cell in split(COMMENT.sub("", lines[i + 1], count=1), delimiter)]
    if any(PLAIN.fullmatch(cell.replace(",", ".")) for cell in cells) or len(cells) < len(columns):
        return columns, i + 1
    made = []
    for column, cell in zip(columns, cells, strict=False):
        unit = unit_of(cell, column.quantity) if column.wants_unit else None
        made.append(Column(column.quantity, column.name, *unit) if unit else column)
    return made, i + 2


def _wanted(head: _Head, path: Path, notes: list[str]) -> dict[str, int]:
    """Quantity -> column. Of two temperatures the sample's is taken; heat flow goes before conversion."""
    found: dict[str, int] = {}
    unused = []
    for i, column in enumerate(head.columns):
        if column.quantity and column.quantity not in found:
            found[column.quantity] = i
        elif column.quantity == "temperature" and "sample" in column.name.lower():
            unused.append(head.columns[found["temperature"]].name)
            found["temperature"] = i
        else:
            unused.append(column.name or f"number {i + 1}")
    if "heat_flow" in found and "conversion" in found:
        unused.append(head.columns[found.pop("conversion")].name)
    if unused:
        notes.append(f"columns not used: {', '.join(unused)}")
    return found


def _rows(lines: list[str], head: _Head) -> list[tuple[int, list[str]]]:
    """(line, cells) of what stands below the heading, without comments and empty lines."""
    found = []
    for i, line in enumerate(lines[head.first :], start=head.first + 1):
        if line.strip() and not COMMENT.match(line):
            found.append((i, split(line, head.delimiter)))
    return found


def _facts(lines: list[str]) -> dict[str, str]:
    """What comments and the lines before the heading say, as ``key: value`` or ``key = value``."""
    found = {}
    for line in lines:
        match = _FACT.fullmatch(COMMENT.sub("", line, count=1).strip().strip('"'))
        if match:
            found[match.group(1).strip().lower()] = match.group(2).strip()
    return found


def _last_row(rows: list[tuple[int, list[str]]], wanted: dict[str, int]) -> int:
    """Number of the last row that holds a number where one is wanted."""
    for r in range(len(rows) - 1, -1, -1):
        cells = rows[r][1]
        if any(place < len(cells) and re.match(r"\s*[+-]?[.,]?[0-9]", cells[place]) for place in wanted.values()):
            return r
    return -1


def _decimal_comma(
    rows: list[tuple[int, list[str]]], wanted: dict[str, int], head: _Head, path: Path, notes: list[str]
) -> bool:
    """Whether commas stand for the decimal point in this file."""
    if not rows:
        return False
    width = len(head.columns)
    if head.delimiter == "," and sum(len(cells) > width for _, cells in rows) > len(rows) / 2:
        line, first = rows[0]
        raise commas_twice(path, line, len(first), width)
    cells = ((line, cells[place]) for line, cells in rows for place in wanted.values() if place < len(cells))
    return decimal_comma(cells, path, notes)
