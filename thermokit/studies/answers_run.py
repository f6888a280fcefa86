"""One row of a study run by itself, on a mesh that is given, or by a process that solves itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import CaseError, ThermokitError
from thermokit.processes import heat_life, process_of
from thermokit.processes.run import rows_of
from thermokit.results.digits import difference_unit
from thermokit.studies.answers_batch import OUTSIDE, margin_of, outside
from thermokit.studies.answers_plan import FINISHED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.results.model import Outcome, Result

MOST_WORDS = 300  # characters of a reason


@dataclass(frozen=True)
class Row:
    """What one run tells: outcomes, margins by limit as they are shown with their units, status in words; steps taken.

    window : the ``dwell`` block of a case that seeks something and solves itself.
    """

    outcomes: tuple[Outcome, ...]
    margins: dict[str, tuple[float, str]]
    status: str
    steps: int = 0
    window: dict[str, Any] | None = None


def run_row(case: Any, edges: Sequence[Array], tolerance: float) -> Row:
    """A case whose numbers are all given, on given cell edges: what ``thermokit run`` would tell of it on that mesh."""
    from thermokit.conduction.follow import follow

    if outside(case)[0]:
        return Row((), {}, OUTSIDE)
    try:
        process = process_of(case)
        course = process.course(edges)
        rows = rows_of(case, [float(station.duration) for station in case.stations])
        travel = follow(course, rows, tolerance, memory=process.memory(edges, None, tolerance) or None)
        history = travel.history
        if history.ending.status != FINISHED:
            if history.ending.status == "interrupted":
                raise KeyboardInterrupt
            return Row((), {}, reason(history.ending.status.replace("_", " "), history.ending.advice))
        facts = process.facts(travel, edges, tolerance)
        outcomes = process.outcomes(history, facts)
        outcomes += heat_life.outcomes(process, facts, outcomes)
        quantities = process.quantities(facts)
        margins = {x.name: (float(margin_of(x, quantities, 1)[0]), x.margin_unit) for x in process.limits()}
        return Row(tuple(outcomes), margins, FINISHED, history.accepted)
    except ThermokitError as wrong:
        return Row((), {}, of_error(wrong))


def run_whole(case: Any) -> Row:
    """A case run as ``thermokit run`` runs it, what is sought found first."""
    from thermokit.studies.run import run

    try:
        result = run(case)
    except ThermokitError as wrong:
        return Row((), {}, of_error(wrong))
    if result.status == "interrupted":
        raise KeyboardInterrupt
    return Row(result.outcomes, _margins(result), _status(result), 0, result.study.get("dwell"))


def _status(result: Result) -> str:
    if result.status == FINISHED:
        return FINISHED
    return reason(result.status.replace("_", " "), getattr(result.history.ending, "advice", ""))


def _margins(result: Result) -> dict[str, tuple[float, str]]:
    return {
        check.name: (np.nan if check.margin is None else float(check.margin), difference_unit(check.unit))
        for check in result.limits
    }


def of_error(wrong: ThermokitError) -> str:
    """A refusal as the reason of a row."""
    if isinstance(wrong, CaseError):
        return reason("; ".join(str(mistake) for mistake in wrong.mistakes))
    return reason(str(wrong))


def reason(words: str, advice: str = "") -> str:
    """The reason of a row on one line, of a readable length."""
    text = " ".join(f"{words}; {advice}".split()) if advice else " ".join(words.split())
    return text if len(text) <= MOST_WORDS else text[: MOST_WORDS - 3] + "..."
