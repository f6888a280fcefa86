"""Designs side by side in words, no line wider than 100 characters: what differs most stands first."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.results.digits import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.studies.compare import Comparison, Design, Row

WIDTH = 100
NAME = (30, 44)  # columns of a row's name and its unit, at least and at most
CELL = 11
MOST_INPUTS = 16
SPEED = "m/min"  # unit of what is wanted high
SPOKEN = {"earliest": "slowest", "latest": "fastest"}  # of a speed


def comparison_text(found: Comparison) -> str:
    """Legend, verdict, the window, the limits, outcomes that differ, outcomes alike, and the inputs that differ."""
    lines = []
    wide = min(max(WIDTH - CELL * len(found.designs), NAME[0]), NAME[1])
    for design in found.designs:
        lines += _filled(design.name, f"{design.letter}  ", "   ")
        if design.case.title not in ("", design.name) and not design.changes:
            lines += _filled(design.case.title, "   ", "   ")
    lines += ["", *_filled(verdict(found), "", "")]
    for kind, head in (("window", "What is sought"), ("limit", "Limits (* not met)"), ("outcome", "Outcomes")):
        rows = [row for row in found.rows if row.kind == kind]
        shown = rows if kind != "outcome" else [row for row in rows if row.weight > 0.0]
        if shown:
            lines += ["", _head(head, found.designs, wide), *(line for row in shown for line in _row(row, wide))]
        alike = [row for row in rows if row not in shown]
        if alike:
            texts = (f"{row.name} {_cell(row, 0)} {_unit(row)}".strip() for row in alike)
            lines += ["", *_filled("Alike: " + ", ".join(texts), "", "  ")]
    if found.inputs:
        lines += ["", _head("Inputs that differ", found.designs, wide)]
        for path, values in list(found.inputs.items())[:MOST_INPUTS]:
            lines += _cells(path, [value or "-" for value in values], wide)
        if len(found.inputs) > MOST_INPUTS:
            lines.append(f"  and {len(found.inputs) - MOST_INPUTS} more; `--json` holds all")
    for design in found.designs:
        if design.trouble:
            lines += ["", *_filled(f"{design.letter}: {design.trouble}", "", "   ")]
    lines += ["", *_filled(_deference(), "", "")]
    return "\n".join(line.rstrip() for line in lines)


def verdict(found: Comparison) -> str:
    """What a reader wants first: which design is the quickest, and what each breaks."""
    parts = []
    rows = {row.name: row for row in found.rows if row.kind == "window"}
    # a speed is wanted high, a time or a length low
    fast = "earliest" in rows and rows["earliest"].unit == SPEED
    earliest = rows.get("latest" if fast else "earliest")
    if earliest is not None and any(v is not None for v in earliest.values):
        order = sorted((v, d.letter) for v, d in zip(earliest.values, found.designs, strict=True) if v is not None)
        order = order[::-1] if fast else order
        words = f"{number(order[0][0])} {earliest.unit}"
        rest = [f"{letter} {number(v)} ({v - order[0][0]:+.1f})" for v, letter in order[1:]]
        unlike = bool(rest) and earliest.weight > 0.0
        parts.append(
            f"{order[0][1]} is {'fastest' if fast else 'first'} with {words}; " + ", ".join(rest)
            if unlike
            else f"all {'reach' if fast else 'begin at'} {words}, to 1 %"
        )
    for design, i in zip(found.designs, range(len(found.designs)), strict=True):
        if not design.answered:
            parts.append(f"{design.letter} has no answer")
            continue
        broken = [row.name for row in found.rows if row.met and row.met[i] is False]
        if broken:
            parts.append(f"{design.letter} breaks {', '.join(broken)}")
    if not any(row.met and False in row.met for row in found.rows) and all(d.answered for d in found.designs):
        parts.append("every limit is met by each" if any(row.met for row in found.rows) else "each finished")
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}."


def _deference() -> str:
    from thermokit.processes.cautions import DEFERENCE

    return DEFERENCE


def _head(title: str, designs: Sequence[Design], wide: int) -> str:
    return f"{title:<{wide}}" + "".join(f"{design.letter:>{CELL}}" for design in designs)


def _unit(row: Row) -> str:
    return "" if row.unit == "1" else row.unit


def _cell(row: Row, i: int) -> str:
    value = row.values[i]
    if value is None:
        return "none" if row.kind == "window" else "-"
    star = "*" if row.met and row.met[i] is False else ""
    return star + number(float(value), row.unit)


def _row(row: Row, wide: int) -> list[str]:
    spoken = SPOKEN.get(row.name, row.name) if row.kind == "window" and row.unit == SPEED else row.name
    name = f"  {spoken} {_unit(row)}".rstrip()
    lines = _cells(name.strip(), [_cell(row, i) for i in range(len(row.values))], wide)
    if row.kind == "limit" and row.required:
        lines += _filled(row.required, "      ", "      ")
    elif row.kind == "window" and row.meaning:
        lines += _filled(f"by {row.meaning}", "      ", "      ")
    return lines


def _cells(name: str, cells: Sequence[str], wide: int) -> list[str]:
    """A name and its cells; a name or cell that is too long takes lines of its own."""
    if any(len(cell) >= CELL for cell in cells):
        return [
            f"  {name}",
            *(line for i, cell in enumerate(cells) for line in _filled(cell, f"      {'ABCDEF'[i]}  ", "         ")),
        ]
    row = "".join(f"{cell:>{CELL}}" for cell in cells)
    if len(name) + 2 >= wide:
        return [f"  {name}", " " * wide + row]
    return [f"  {name:<{wide - 2}}{row}"]


def _filled(text: str, first: str, later: str) -> list[str]:
    return textwrap.wrap(
        " ".join(text.split()), WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
    )
