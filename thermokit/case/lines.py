"""In which line of a TOML text a key stands; asked only when there is a mistake to report: tomllib does not tell."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

MOST_LINES = 20_000  # beyond this a message goes without its line
DEEPEST = 20  # tables inside tables that are followed
LONGEST_STATEMENT = 400  # lines of one value that are tried before giving up


def line_numbers(text: str) -> dict[tuple[str, ...], int]:
    """Path of every key and table -> its line (from 1), list entries by number.

    Statement by statement: lines are joined until they parse by themselves. What stands inside a value of several lines
    has the line where the value begins. Returns what was found until something could not be followed.

    >>> line_numbers('a = 1\\n[[b]]\\nc = 2\\n')[("b", "0", "c")]
    3
    """
    lines = text.replace("\r\n", "\n").split("\n")
    found: dict[tuple[str, ...], int] = {}
    counts: dict[tuple[str, ...], int] = {}
    prefix: tuple[str, ...] = ()
    number = 0
    if len(lines) > MOST_LINES:
        return found
    while number < len(lines):
        first = number
        parsed, number = _statement(lines, first)
        if parsed is None:
            return found
        if lines[first].lstrip().startswith("["):
            prefix = _heading(parsed, lines[first].lstrip().startswith("[["), counts)
            for n in range(1, len(prefix) + 1):
                found.setdefault(prefix[:n], first + 1)
        else:
            for path in _paths(parsed):
                found.setdefault((*prefix, *path), first + 1)
    return found


def _statement(lines: list[str], first: int) -> tuple[dict[str, Any] | None, int]:
    """The statement that begins in a line, and the line after it; None where no end was found."""
    last_try = min(len(lines), first + LONGEST_STATEMENT)
    for end in range(first + 1, last_try + 1):
        try:
            return tomllib.loads("\n".join(lines[first:end])), end
        except (ValueError, RecursionError):
            continue
    return None, last_try


def _heading(parsed: dict[str, Any], entry: bool, counts: dict[tuple[str, ...], int]) -> tuple[str, ...]:
    """The path of a ``[table]`` or ``[[list of tables]]``, with the number of the entry that is meant."""
    path: tuple[str, ...] = ()
    inner: Any = parsed
    while isinstance(inner, dict) and inner:
        name, inner = next(iter(inner.items()))
        path = (*path, name)
        last = not isinstance(inner, dict) or not inner
        if last and entry:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, str(counts[path]))
    return path


def _paths(value: Any, depth: int = 0) -> Iterator[tuple[str, ...]]:
    """Every path inside a parsed value, down to a depth that no case reaches."""
    entries: Any = ()
    if depth > DEEPEST:
        return
    if isinstance(value, dict):
        entries = value.items()
    elif isinstance(value, list):
        entries = enumerate(value)
    for name, inner in entries:
        yield (str(name),)
        for path in _paths(inner, depth + 1):
            yield (str(name), *path)
