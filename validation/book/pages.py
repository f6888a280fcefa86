"""``validation/README.md`` and ``validation/not_validated.md`` as text, from the checks and what they gave."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

from thermokit.results.whole import write_whole
from validation import report
from validation.book import outcomes as of_kinds
from validation.checks import KINDS, Check, Outcome, Row

ROOT = Path(__file__).parents[2]
README, NOT_VALIDATED = ROOT / "validation" / "README.md", ROOT / "validation" / "not_validated.md"
MADE = "*Made by `python -m validation`; do not edit.*"

Results = Sequence[tuple[Check, Outcome]]


def text_of(name: str) -> str:
    """The prose of a page."""
    return (Path(__file__).parent / name).read_text(encoding="utf-8").strip()


def table(head: Iterable[str], lines: Iterable[Iterable[str]]) -> list[str]:
    """Lines of a table."""
    head = list(head)
    rows = [head, ["---"] * len(head), *(list(line) for line in lines)]
    return ["| " + " | ".join(row) + " |" for row in rows]


def anchors(checks: Iterable[Check]) -> dict[Check, str]:
    """Check -> its place on the page: its number, and which one of that number it is."""
    count: dict[str, int] = {}
    places = {}
    for check in checks:
        count[check.id] = count.get(check.id, 0) + 1
        places[check] = f"{check.id.lower()}-{count[check.id]}"
    return places


def is_off(row: Row) -> bool:
    """Whether the published number differs from the exact one by more than the tolerance."""
    if row.published is None or row.exact is None:
        return False
    return abs(row.published - row.exact) > row.allowed


@cache
def title_of(file: str) -> str:
    """The title of a case file."""
    return str(tomllib.loads((ROOT / file).read_text(encoding="utf-8"))["title"])


def link_of(file: str) -> str:
    """Path of a file of the project from the book's folder."""
    inside = file.removeprefix("validation/")
    return inside if inside != file else f"../{file}"


def _summary(results: Results, places: dict[Check, str]) -> list[str]:
    rows = [row for _, outcome in results for row in outcome.rows]
    outside, exact = sum(not row.passed for row in rows), sum(row.exact is not None for row in rows)
    off = sum(is_off(row) for row in rows)
    first: dict[str, str] = {}
    for check in places:
        first.setdefault(check.id, places[check])
    return [
        "## Summary",
        "",
        f"- {len(rows)} numbers of {len(results)} checks; **{outside} outside their tolerance**.",
        f"- {exact} of them against an exact value, {len(rows) - exact} against the bounds of a fact of the trade.",
        f"- {sum(row.published is not None for row in rows)} have a published number; {off} of those are off by more than the"
        " tolerance, each for a reason that is [given below](#published-numbers-that-are-off).",
        "",
        "Numbers of the checks: " + ", ".join(f"[{name}](#{place})" for name, place in first.items()) + ".",
        "",
    ]


def held(results: Results) -> dict[str, tuple[dict[str, int], dict[str, int]]]:
    """Kind of case -> (checks that run a case of that kind, checks of what it uses): number of the check -> numbers in it."""
    found: dict[str, tuple[dict[str, int], dict[str, int]]] = {kind: ({}, {}) for kind in KINDS}
    for check, outcome in results:
        ran = {kind for kind, *_ in outcome.cases}
        for kind in KINDS:
            if kind in ran or kind in check.parts:
                numbers = found[kind][0 if kind in ran else 1]
                numbers[check.id] = numbers.get(check.id, 0) + len(check.quantities)
    return found


def _processes(results: Results) -> list[str]:
    def names(numbers: dict[str, int]) -> str:
        return f"{', '.join(numbers)} ({sum(numbers.values())} numbers)" if numbers else "**none**"

    lines = [(f"`{kind}`", names(whole), names(parts)) for kind, (whole, parts) in held(results).items()]
    alone = dict.fromkeys(check.id for check, outcome in results if not outcome.cases and not check.parts)
    return [
        "## Which kind of case is held by which checks",
        "",
        "A check holds a kind *as a whole* when it runs a case of that kind, from its file to its answer; it holds *parts* of it",
        "when it runs laws or a solver that the kind uses, without a case of that kind. What the checks of `body` hold of the",
        "layered solver serves sheet, charge, dip, mill, cylinder and line too, what those of `section` hold serves mould; that",
        "is not repeated.",
        "",
        *table(("kind of case", "as a whole", "parts of it"), lines),
        "",
        *([f"Laws that no kind of case uses yet: {', '.join(alone)}.", ""] if alone else []),
    ]


def _outside(results: Results, places: dict[Check, str]) -> list[str]:
    lines = [
        (f"[{check.id}](#{places[check]})", *report.cells(row)[:6], row.reason or "**not explained**")
        for check, outcome in results
        for row in outcome.rows
        if not row.passed
    ]
    body = table(("check", *report.HEAD[:6], "reason"), lines) if lines else ["None."]
    return ["## Numbers outside their tolerance", "", *body, ""]


def _off(results: Results, places: dict[Check, str]) -> list[str]:
    lines = []
    for check, outcome in results:
        for row in outcome.rows:
            if is_off(row):
                cells = report.cells(row)
                difference = report.to_step(row.published - float(cells[2]), row.step)  # type: ignore[operator]  # of what is printed
                lines.append((f"[{check.id}](#{places[check]})", *cells[:3], difference, row.tolerance, row.note))
    return [
        "## Published numbers that are off",
        "",
        "Printed numbers that differ from the exact value by more than the tolerance of the check, and why.",
        "None of them is a target.",
        "",
        *table(("check", "quantity", "published", "exact", "published less exact", "tolerance", "reason"), lines),
        "",
    ]


def _check(check: Check, outcome: Outcome, place: str) -> list[str]:
    cases = [
        f"- Case: [`{file}`]({link_of(file)}) ({kind}), {title_of(file)}" + (f" | with {words}" if words else "")
        for kind, file, words in outcome.cases
    ]
    return [
        f'<a id="{place}"></a>',
        "",
        f"### {check.id}: {check.title}",
        "",
        f"- Source: {check.source}",
        f"- Status: {check.status}",
        *([f"- Solved: {check.statement}"] if check.statement else []),
        *cases,
        "",
        *table((*report.HEAD, "note"), ((*report.cells(row), row.note) for row in outcome.rows)),
        "",
    ]


def book(results: Results) -> str:
    """The whole of ``validation/README.md``."""
    places = anchors(check for check, _ in results)
    lines = [
        MADE,
        "",
        text_of("preface.md"),
        "",
        *_summary(results, places),
        *_processes(results),
        *_outside(results, places),
        *_off(results, places),
        "## The checks",
        "",
        *(line for check, outcome in results for line in _check(check, outcome, places[check])),
    ]
    return "\n".join(lines).rstrip() + "\n"


def not_validated(results: Results, named: of_kinds.Outcomes) -> str:
    """The whole of ``validation/not_validated.md``; named: outcomes of each kind of case."""
    whole = held(results)
    lines = [MADE, "", text_of("not_validated.md"), "", "## Outcomes, kind by kind", "", of_kinds.INTRODUCTION, ""]
    for kind in KINDS:
        checks, solver = of_kinds.HELD.get(kind, {}), of_kinds.SECOND[kind]
        by_name = {name: checks.get(name, "") for name in named[kind]}
        bare = [f"`{name}`" for name, ids in by_name.items() if not ids]
        ran = ", ".join(whole[kind][0]) or "none"
        lines += [f"### {kind}", "", f"Checks that run a case of this kind: {ran}. {solver}", ""]
        with_check = [(f"`{name}`", ids) for name, ids in by_name.items() if ids]
        if with_check:
            lines += [*table(("outcome", "held by"), with_check), ""]
        lines += [f"Held by no outside check ({len(bare)}): {', '.join(bare)}.", ""]
    return "\n".join(lines).rstrip() + "\n"


def write(results: Results) -> tuple[str, ...]:
    """Write both pages; their paths from the project's folder."""
    pages = (book(results), not_validated(results, of_kinds.named()))  # both are made before either is written
    for path, text in zip((README, NOT_VALIDATED), pages, strict=True):
        write_whole(path, text.encode())
    return tuple(path.relative_to(ROOT).as_posix() for path in (README, NOT_VALIDATED))
