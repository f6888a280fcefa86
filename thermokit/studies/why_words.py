"""The causes of a defect in words, and the list of defects."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from thermokit.processes.cautions import DEFERENCE
from thermokit.results.digits import difference_unit, number
from thermokit.studies.why_evidence import AGAINST, COMPARE, FOR, UNKNOWN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.studies.why import Finding, Why
    from thermokit.studies.why_defects import Defect

WIDTH = 100
VERDICTS = {
    FOR: "SPEAKS FOR IT",
    AGAINST: "speaks against it",
    UNKNOWN: "not computed",
    COMPARE: "compare with a good part",
}


def why_text(found: Why) -> str:
    """Every cause with what the run says, the test that splits it and the cure; no line wider than 100 characters."""
    own = found.defect
    lines = _filled(f"{own.name} ({own.kind})", "", "  ")
    if found.title:
        ended = "" if found.status == "finished" else f"; the run did not finish ({found.status})"
        lines += _filled(f"by the run of: {found.title}{ended}", "", "  ")
    else:
        lines += _filled("no case given: causes and tests alone; with a CASE its run says which are likely", "", "  ")
    if found.other:
        others = "; ".join(f"{x.name} ({x.kind})" for x in found.other[:4])
        lines += _filled(f"{found.asked!r} is also like: {others}", "", "  ")
    for i, finding in enumerate(found.findings, 1):
        lines += ["", *_finding(i, finding, bool(found.title))]
    cautions = (DEFERENCE,) if found.result is None else found.result.cautions
    lines += ["", "Cautions", *(line for text in cautions for line in _filled(text, "  - ", "    "))]
    return "\n".join(lines)


def _finding(i: int, finding: Finding, ran: bool) -> list[str]:
    cause = finding.cause
    lines = _filled(cause.says, f"{i:>2}. ", "    ")
    if ran:
        lines += _filled(_verdict(finding), "    ", "      ")
    lines += _filled(f"Test: {cause.test}", "    ", "      ")
    lines += _filled(f"Then: {cause.then}", "    ", "      ")
    return lines


def _verdict(finding: Finding) -> str:
    own = finding.evidence
    said = VERDICTS[own.verdict]
    if own.value is None:
        return said
    unit = "" if own.unit == "1" else own.unit
    text = f"{said}: {own.name} {number(own.value, own.unit)} {unit}".rstrip()
    if own.limit:
        text += f", {own.limit}"
    if own.margin is not None:
        sign = "+" if own.margin >= 0 else "-"
        text += (
            f", margin {sign}{number(abs(own.margin), own.unit)} {difference_unit(own.unit) if unit else ''}".rstrip()
        )
    if own.close:
        text += "; by so little that it is not ruled out"
    return f"{text} ({own.meaning})" if own.meaning else text


def list_text(defects: Sequence[Defect]) -> str:
    """The defects by kind of case, with what else they are called."""
    lines: list[str] = []
    for kind in dict.fromkeys(own.kind for own in defects):
        lines += ["", kind] if lines else [kind]
        for own in defects:
            if own.kind == kind:
                of = f" [{', '.join(own.products)}]" if own.products else ""
                lines += _filled(f"{own.name}{of}", "  ", "    ")
                lines += _filled(f"also: {', '.join(own.also)}", "      ", "      ")
    return "\n".join(lines)


def _filled(text: str, first: str, later: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)
