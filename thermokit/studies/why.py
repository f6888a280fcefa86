"""From a defect to its likely causes: what the trade knows, and what the case's own run says to each.

A cause is held against the run: a limit of the case that is broken, or an outcome on the wrong side of what is usual, speaks
for it; the other side speaks against it. What no run can know (damp stock, a draught) is told as not computed, with the test at the
machine that splits it from the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermokit.studies.why_defects import Cause, Defect, listed, nearest
from thermokit.studies.why_evidence import AGAINST, COMPARE, FOR, UNKNOWN, Case, Evidence, evidence

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.results.model import Result

ORDER = (FOR, "close", COMPARE, UNKNOWN, AGAINST)
RESULT = b"\x89HDF"


@dataclass(frozen=True)
class Finding:
    """A cause, and what the run says to it."""

    cause: Cause
    evidence: Evidence

    @property
    def rank(self) -> int:
        """Place in the order in which causes are told."""
        own = self.evidence
        return ORDER.index("close" if own.close and own.verdict == AGAINST else own.verdict)

    def as_json(self) -> dict[str, Any]:
        """One entry of ``causes``."""
        own = self.evidence
        return {
            "cause": self.cause.says,
            "verdict": own.verdict,
            "close": own.close,
            "quantity": own.name or None,
            "value": own.value,
            "unit": own.unit or None,
            "limit": own.limit or None,
            "margin": own.margin,
            "meaning": own.meaning or None,
            "test": self.cause.test,
            "cure": self.cause.then,
        }


@dataclass(frozen=True)
class Why:
    """The likely causes of a defect, the likeliest first; title : of the case, empty where none was run.

    asked : the words that were given; other : further defects they may mean, with their kinds; result : the run.
    """

    asked: str
    defect: Defect
    findings: tuple[Finding, ...]
    other: tuple[Defect, ...] = ()
    title: str = ""
    status: str = ""
    result: Result | None = None

    def as_json(self) -> dict[str, Any]:
        """The object of ``thermokit why --json``."""
        from thermokit.processes.cautions import DEFERENCE

        return {
            "asked": self.asked,
            "defect": self.defect.name,
            "process": self.defect.kind,
            "title": self.title or None,
            "status": self.status or None,
            "causes": [finding.as_json() for finding in self.findings],
            "also_like": [{"defect": own.name, "process": own.kind} for own in self.other],
            "cautions": [DEFERENCE] if self.result is None else list(self.result.cautions),
        }


def why(
    words: str,
    case: Any = None,
    *,
    kind: str | None = None,
    at: Any = None,
    progress: Callable[[float], None] | None = None,
) -> Why:
    """Likely causes of a defect.

    Parameters
    ----------
    words : str
        what the defect is called; the nearest of the list is taken
    case : Case, path or Result, optional
        the case, its file, or the result of its run; left out: causes and tests alone
    kind : str, optional
        kind of case, where no case is given; left out: any
    at : str or float, optional
        the setting at which the part was made, of a case that leaves it to be found; left out: the recommended one
    progress : callable, optional
        told the share that is done

    Raises
    ------
    DataError
        no defect of the kind is called like that
    CaseError
        the case is wrong, or the kind is none

    """
    if case is None:
        _check(kind)
        found = nearest(words, listed(kind))
        blank = tuple(Finding(cause, Evidence()) for cause in found[0].causes)
        return Why(words, found[0], blank, found[1:])
    opened = _opened(case)
    if not hasattr(opened, "provenance"):
        nearest(words, listed(opened.process, _product(opened)))  # said before the run, not after it
    run = Case(_result(opened, at, progress))
    result = run.result
    found = nearest(words, listed(result.provenance.process, run.product))
    findings = [Finding(cause, evidence(cause, run)) for cause in found[0].causes]
    findings.sort(key=lambda finding: finding.rank)
    return Why(words, found[0], tuple(findings), found[1:], result.provenance.title, result.status, result)


def of_case(case: Any) -> tuple[Defect, ...]:
    """The defects that the product of a case, or of a result, can have."""
    opened = _opened(case)
    if hasattr(opened, "provenance"):
        return listed(opened.provenance.process, Case(opened).product)
    return listed(opened.process, _product(opened))


def _check(kind: str | None) -> None:
    if kind is not None:
        from thermokit.case.kinds import case_class

        case_class(kind)


def _product(case: Any) -> str | None:
    return getattr(getattr(case, "line", None), "product", None)


def _opened(case: Any) -> Any:
    """A case, or a result where the name is that of a result file."""
    if not isinstance(case, (str, Path)):
        return case
    path = Path(case)
    try:
        with path.open("rb") as file:
            head = file.read(len(RESULT))
    except OSError:
        head = b""  # the reader of cases says what is wrong
    if head == RESULT:
        from thermokit.results.read import read

        return read(path)
    from thermokit.studies.run import as_case

    return as_case(case)


def _result(case: Any, at: Any, progress: Callable[[float], None] | None) -> Result:
    if hasattr(case, "provenance"):
        found: Result = case
        return found
    from thermokit.case import sought_path
    from thermokit.studies.given import setting_value
    from thermokit.studies.run import run

    value, path = setting_value(case, at), sought_path(case)
    return run(case if value is None or path is None else case.with_values({path: value}), progress)
