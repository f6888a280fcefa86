"""What a case sets, read off the resolved case that a result keeps: settings by station, stock, and where inputs come from."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from thermokit.sheets.page import Block, Entry
from thermokit.sheets.words import capital, spaced

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from thermokit.sheets.words import Words

    Pattern = tuple[str, ...]

NOTHING = ("0 K", "0 mm", "0 s", "0 W/m3", "0 Hz")  # amounts of what is not there
ONE = ("draw", "draw_ratio", "ratio")  # 1: nothing is drawn
#: units that a machine is set in, where the case is kept in another: key -> (unit kept, factor, unit shown)
AT_MACHINE = {
    "withdrawal": ("m/min", 1000.0 / 60.0, "mm/s"),
    "immersion": ("m/min", 1000.0 / 60.0, "mm/s"),
    "turning": ("Hz", 60.0, "rev/min"),
}
GENERAL = (
    "layers",
    "stations",
    "regions",
    "inner",
    "sheet",
    "charge",
    "body",
    "line",
    "band",
    "convection",
    "materials",
)
MOST = 24  # inputs that are listed with their source


def table_of(text: str) -> dict[str, Any]:
    """The case as tomllib reads it; empty where a result keeps no text."""
    return tomllib.loads(text)


def values(table: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value with its path; entries of a list stand under their name, a table of time under its own path."""
    if isinstance(table, dict) and not _of_time(table) and "find" not in table:
        for name, entry in table.items():
            yield from values(entry, (*path, str(name)))
    elif isinstance(table, list) and table and all(isinstance(entry, dict) for entry in table):
        for i, entry in enumerate(table):
            yield from values(entry, (*path, str(entry.get("name") or i)))
    else:
        yield path, table


def _of_time(table: dict[str, Any]) -> bool:
    return "time" in table and ("value" in table or "values" in table)


def fits(path: Sequence[str], pattern: Pattern) -> bool:
    """Whether a path is that of a pattern, in which ``*`` is any one step and a step may name several (``a|b``).

    >>> fits(("stations", "heat", "duration"), ("stations", "*", "duration|power"))
    True
    """
    return len(path) == len(pattern) and all(
        want == "*" or step in want.split("|") for step, want in zip(path, pattern, strict=True)
    )


def chosen(table: dict[str, Any], patterns: Sequence[Pattern]) -> list[tuple[tuple[str, ...], Any]]:
    """(path, value) of what fits a pattern, without what is nought, in the order of the case."""
    return [
        (path, value)
        for path, value in values(table)
        if any(fits(path, pattern) for pattern in patterns) and not (is_plan(value) or _nothing(path, value))
    ]


def _nothing(path: tuple[str, ...], value: Any) -> bool:
    """Whether a value says that there is nothing of it."""
    return value in NOTHING or (path[-1] in ONE and value == 1.0)


def _shown(path: tuple[str, ...], value: Any, words: Words) -> str:
    """A value in the unit in which the machine is set."""
    kept, factor, unit = AT_MACHINE.get(path[-1], ("", 1.0, ""))
    head, _, own = str(value).partition(" ")
    if kept and own == kept:
        return words.quantity(float(head) * factor, unit)
    return words.given(value)


def is_plan(value: Any) -> bool:
    """Whether a value is one of zones: rows of columns."""
    return isinstance(value, list) and bool(value) and all(isinstance(row, list) for row in value)


def blocks(table: dict[str, Any], patterns: Sequence[Pattern], words: Words) -> tuple[Block, ...]:
    """Settings as they are set: a block for each station, tool or other table that has any."""
    kinds = {str(s.get("name") or i): str(s.get("kind", "")) for i, s in enumerate(table.get("stations", []))}
    found: dict[str, list[Entry]] = {}
    for path, value in chosen(table, patterns):
        listed = path[0] in ("stations", "tools", "circuits", "zones", "ovens") and len(path) > 2
        head, rest = (path[1], path[2:]) if listed else (path[0], path[1:])
        if path[0] == "stations" and kinds.get(head) and kinds[head] not in head:
            head = f"{head} ({spaced(kinds[head])})"
        elif listed and path[0] != "stations":
            head = f"{path[0].removesuffix('s')} {head}"
        label = _label(rest, ("convection", "faces"))
        found.setdefault(capital(spaced(head)), []).append(Entry(label, _shown(path, value, words)))
    return tuple(Block(head, tuple(entries)) for head, entries in found.items())


def plans(table: dict[str, Any]) -> list[tuple[str, list[list[Any]]]]:
    """Settings that differ from zone to zone: (what is set, rows of the plan)."""
    return [
        (capital(" ".join(spaced(step) for step in path[1:])), value)
        for path, value in values(table)
        if path[0] == "stations" and path[-1] in ("temperature", "power") and is_plan(value)
    ]


def dead_zones(table: dict[str, Any]) -> list[tuple[str, str]]:
    """Zones that give nothing: (panel, rows and columns in words)."""
    return [
        (
            capital(" ".join(spaced(step) for step in path[1:-1])),
            "; ".join(f"row {at[0]}, column {at[1]}" for at in value),
        )
        for path, value in values(table)
        if path[-1] == "dead" and is_plan(value) and all(len(at) == 2 for at in value)
    ]


def inputs(table: dict[str, Any], patterns: Sequence[Pattern], words: Words) -> tuple[Entry, ...]:
    """Stock and what else the answer rests on, each with where it comes from, as far as the case says."""
    sources: dict[str, str] = table.get("job", {}).get("sources", {})
    told = dict(chosen(table, patterns))
    for path, value in values(table):
        if path[0] not in ("job", "title", "process", "stations") and not is_plan(value) and _source(path, sources):
            told.setdefault(path, value)
    found = []
    for path, value in list(told.items())[:MOST]:
        label = _label(path, GENERAL)
        found.append(Entry(label, _shown(path, value, words), _source(path, sources)))
    return tuple(found)


def _label(path: Sequence[str], without: Sequence[str]) -> str:
    """A path in words; entries without a name are counted from 1, as people do.

    >>> _label(("zones", "0", "power"), ())
    'zones 1 power'
    """
    return " ".join(str(int(step) + 1) if step.isdecimal() else spaced(step) for step in path if step not in without)


def _source(path: tuple[str, ...], sources: dict[str, str]) -> str:
    """Where an input comes from, by its own path or by that of the nearest table above it."""
    for length in range(len(path), 0, -1):
        word = sources.get(".".join(path[:length]))
        if word is not None:
            return word
    return ""


def sought(text: str) -> tuple[str, ...] | None:
    """The path of what a case as given leaves to be found, None where nothing is."""
    for path, value in values(table_of(text)):
        if value == "find" or (isinstance(value, dict) and "find" in value):
            return path
    return None
