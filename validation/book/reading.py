"""The book read back: what it prints for each check, so that the tests can hold it against the registry and a new run."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from validation.checks import Check, Outcome, Row, row

HEADING = re.compile(r"^### (\S+?): (.*)$")
CASE = re.compile(
    r"^- Case: \[`(?P<file>[^`]*)`\]\([^)]*\) \((?P<kind>\w+)\), (?P<title>.*?)(?: \| with (?P<words>.*))?$"
)


@dataclass(frozen=True)
class Printed:
    """One check in the book: its title, the case files that it ran, and the cells of its table."""

    id: str
    title: str
    cases: tuple[tuple[str, str, str], ...]
    rows: tuple[tuple[str, ...], ...]


def printed(text: str) -> tuple[Printed, ...]:
    """Every check of the book, in its order."""
    found = []
    for part in text.split("\n## The checks\n")[1].split('\n<a id="')[1:]:
        lines = part.splitlines()
        (heading,) = [match for match in map(HEADING.match, lines) if match]
        cases = [match for match in map(CASE.match, lines) if match]
        table = [line for line in lines if line.startswith("| ")][2:]
        found.append(
            Printed(
                heading[1],
                heading[2],
                tuple((case["kind"], case["file"], case["words"] or "") for case in cases),
                tuple(tuple(cell.strip() for cell in line[1:-1].split("|")) for line in table),
            )
        )
    return tuple(found)


def number(cell: str) -> float | None:
    """The number of a cell, None for a dash."""
    return None if cell == "–" else float(cell)


def outcome_of(check: Check, entry: Printed) -> Outcome:
    """What the check gave, from the numbers that are printed: exact, found, and whether it passed."""
    rows: list[Row] = []
    for quantity, cells in zip(check.quantities, entry.rows, strict=True):
        found = number(cells[3])
        rows.append(row(quantity, number(cells[2]), float("nan") if found is None else found, cells[6] == "yes"))
    return Outcome(tuple(rows), entry.cases)


def results(checks: Sequence[Check], text: str) -> list[tuple[Check, Outcome]]:
    """The whole book as numbers: from this its pages can be written again."""
    return [(check, outcome_of(check, entry)) for check, entry in zip(checks, printed(text), strict=True)]
