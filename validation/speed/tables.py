"""Tables of measured numbers: cells keep numbers under short names, so that what is stored can be read and rendered again.

A cell is text, or numbers by kind: ``s`` CPU time [s], ``wall`` [s], ``K`` error [K], ``ds`` a signed time error [s], ``MB``,
``x`` a ratio as [median, smallest, largest], ``ends`` another, ``note`` words, ``scaled`` the part of the work that ran,
where a time was scaled from it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

Cell = str | dict[str, Any]
Rows = list[list[Cell]]


def seconds(value: float) -> str:
    """A time with a unit that fits."""
    for unit, size in (("µs", 1e-6), ("ms", 1e-3)):
        if value < 999.5 * size:
            return f"{digits(value / size)} {unit}"
    return f"{digits(value)} s"


def digits(value: float, count: int = 3) -> str:
    """So many digits at least, never an exponent between 0.001 and a million."""
    if value != value or value == 0.0:
        return "–" if value else "0"
    text = f"{value:.{count}g}"
    return f"{float(text):.0f}" if "e+" in text and abs(value) < 1e6 else text


def spread(x: Sequence[float]) -> str:
    """A ratio with its smallest and largest of the turns, which one turn has not."""
    if x[1] == x[2]:
        return f"×{digits(x[0])}"
    return f"×{digits(x[0])} ({digits(x[1])} to {digits(x[2])})"


SHOWN: dict[str, Callable[[Any], str]] = {
    "s": seconds,
    "wall": seconds,
    "scaled": lambda v: f"scaled from {v}",
    "K": lambda v: f"{v:.2g} K",
    "ds": lambda v: f"{v:+.4f} s",
    "MB": lambda v: f"{v:.0f} MB",
    "x": spread,
    "ends": lambda v: f"ends only {spread(v)}",
    "note": str,
}


def shown(cell: Cell) -> str:
    """A cell as text."""
    if isinstance(cell, str):
        return cell
    return ", ".join(SHOWN[kind](value) for kind, value in cell.items() if value is not None)


def table(head: Sequence[str], rows: Rows) -> dict[str, Any]:
    """A table as it is stored."""
    return {"head": list(head), "rows": rows}


def markdown(found: dict[str, Any]) -> str:
    """A table as Markdown."""
    head = found["head"]
    lines = [head, ["---"] * len(head), *([shown(cell) for cell in row] for row in found["rows"])]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def cell(found: dict[str, Any], row: str, column: str) -> dict[str, Any]:
    """The numbers of a cell, by the words of its row and column; an error that names what is missing."""
    place = found["head"].index(column)
    for line in found["rows"]:
        if line[0] == row and isinstance(line[place], dict):
            numbers: dict[str, Any] = line[place]
            return numbers
    raise KeyError(f"no numbers for {row!r}, {column!r}")
