"""Text of a measured file: its lines whatever wrote them, its cells, its numbers with points or commas.

What was done is told in ``notes``; what cannot be read is a DataError that names the file.
"""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING

from thermokit.errors import DataError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

LARGEST = 60_000_000  # bytes
LONGEST = 100_000  # characters of a line: no table is that wide
MOST_SHOWN = 6  # mistakes, or lines in a note, that are listed one by one
DELIMITERS = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas", " ": "spaces"}
COMMENT = re.compile(r"^\s*(#|%|!|//|\"#)")
NOTHING = frozenset({"", "-", "--", "---", "nan", "na", "n/a", "null", "none", "#n/a", "#nv", "#value!"})
PLAIN = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eEdD][+-]?[0-9]+)?")
#: what a terminal would obey, or what turns the direction of writing: it has no meaning in a table (line ends and tabs have)
_UNSEEN = str.maketrans(
    dict.fromkeys((*range(1, 9), *range(14, 28), 31, *range(127, 133), *range(134, 160)), "\ufffd")
    | dict.fromkeys((*range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x2070)), "\ufffd")
)
_GROUPED = re.compile(r"\s*[+-]?[1-9][0-9]{0,2},[0-9]{3}\s*")
_COMMA = re.compile(r"\s*[+-]?[0-9]*,[0-9]+([eE][+-]?[0-9]+)?\s*")
_POINT = re.compile(r"\s*[+-]?[0-9]*\.[0-9]+([eE][+-]?[0-9]+)?\s*")


def read_lines(path: Path) -> tuple[list[str], list[str]]:
    """(lines, notes) of a text file: UTF-8 with or without a mark, UTF-16, or the text of Western Windows.

    Raises DataError for a file that is missing, empty, larger than LARGEST, or no text.
    """
    raw = contents(path, LARGEST)
    if not raw.strip():
        raise DataError(f"{path}: cannot be read: it is empty")
    notes: list[str] = []
    text = _decoded(raw, notes)
    if "\0" in text:
        raise DataError(f"{path}: is no text file; export the run as CSV or text")
    seen = text.translate(_UNSEEN)
    if seen != text:
        notes.append("characters that cannot be seen: read as \ufffd")
    lines = seen.splitlines()
    long = next((i for i, line in enumerate(lines) if len(line) > LONGEST), None)
    if long is not None:
        raise DataError(f"{path}: line {long + 1} has {len(lines[long])} characters: that is no table of a logger")
    return lines, notes


def contents(path: Path, most: int) -> bytes:
    """The bytes of a file, never more than ``most`` and one: a device has no end.

    Raises DataError for a file that cannot be read, or is larger.
    """
    try:
        with path.open("rb") as handle:
            raw = handle.read(most + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise DataError(f"{path}: cannot be read: {reason.lower()}") from None
    if len(raw) > most:
        raise DataError(f"{path}: cannot be read: it is larger than {most // 1_000_000} MB")
    return raw


def refuse_device(path: Path) -> None:
    """Raise DataError where a name that stands in a case leads to a pipe or a device: it may never give a byte, or never end."""
    try:
        device = path.exists() and not path.is_file() and not path.is_dir()
    except (OSError, ValueError):
        return  # what is wrong with the name is told when it is read
    if device:
        raise DataError(f"{path}: cannot be read: that is no ordinary file")


def _decoded(raw: bytes, notes: list[str]) -> str:
    """The text of some bytes."""
    try:
        if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
            return raw.decode("utf-16")
        for order, zeros in (("utf-16-le", raw[1:200:2]), ("utf-16-be", raw[0:200:2])):
            # every second byte of plain words in UTF-16 is zero
            if len(raw) % 2 == 0 and len(zeros) > 4 and zeros.count(0) > 0.7 * len(zeros):
                notes.append("UTF-16 without a mark")
                return raw.decode(order)
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        notes.append("not UTF-8: read as text of Western Windows")
        return raw.decode("cp1252", errors="replace")


def split(line: str, delimiter: str) -> list[str]:
    """The cells of a line."""
    if delimiter == " ":
        return line.split()
    return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])


def number(cell: str, comma: bool) -> float | None:
    """The number in a cell, None for text; thousands may be parted by the other sign, a space or an apostrophe.

    >>> number("1.234,5", comma=True), number("1,234.5", comma=False), number("OL", comma=False)
    (1234.5, 1234.5, None)
    """
    text = cell.replace("−", "-").replace("\N{NO-BREAK SPACE}", " ").strip()
    mark, parts = (",", r"[.' ]") if comma else (".", r"[,' ]")
    grouped = re.fullmatch(rf"[+-]?[0-9]{{1,3}}({parts}[0-9]{{3}})+({re.escape(mark)}[0-9]+)?", text)
    if grouped:
        text = re.sub(parts, "", text)
    text = text.replace(",", ".") if comma else text
    if not PLAIN.fullmatch(text):
        return None
    value = float(text.replace("d", "e").replace("D", "e"))
    return value if abs(value) < 1e300 else None


def decimal_comma(cells: Iterable[tuple[int, str]], path: Path, notes: list[str], advice: str = "") -> bool:
    """Whether commas stand for the decimal point in these cells, each with its line.

    Raises DataError where both stand side by side.
    """
    comma = point = grouped = None
    for line, cell in cells:
        if _GROUPED.fullmatch(cell):
            grouped = grouped or (line, cell.strip())  # 1,234: decimal or thousands, as the other cells have it
        elif _COMMA.fullmatch(cell):
            comma = comma or (line, cell.strip())
        elif _POINT.fullmatch(cell):
            point = point or (line, cell.strip())
    comma = comma or (grouped if point is None else None)
    if comma is not None and point is not None:
        raise DataError(
            f"{path}: decimal commas and decimal points stand side by side: {comma[1]} in line {comma[0]}, {point[1]} in "
            f"line {point[0]}; write all numbers the same way{advice}"
        )
    if comma is not None:
        notes.append(f"decimal commas, as in {comma[1]}")
    return comma is not None


def commas_twice(path: Path, line: int, cells: int, width: int) -> DataError:
    """The refusal of a file whose commas part columns and decimals alike."""
    return DataError(
        f"{path}: line {line} has {cells} cells between commas, the heading names {width}: are the commas decimal "
        "commas too? Save the file with semicolons or tabs between the columns"
    )


def shown_lines(lines: Sequence[int]) -> str:
    """Lines in words.

    >>> shown_lines([3, 8])
    'lines 3, 8'
    """
    shown = ", ".join(str(line) for line in lines[:MOST_SHOWN])
    more = f" and {len(lines) - MOST_SHOWN} more" if len(lines) > MOST_SHOWN else ""
    return f"line{'s' if len(lines) > 1 else ''} {shown}{more}"
