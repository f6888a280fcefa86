"""A run held against FiPy, leg by leg of its course: each leg with the starts that our run had.

So what one leg is off is not carried into the next, and the leg in which the two part is the one that is named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, Shown, cells_of, edges_of
from thermokit.errors import SolveError
from thermokit.studies.comparison import (
    FAR,
    TEMPERATURE,
    Comparison,
    Measure,
    Scale,
    compared,
    followed,
    with_ends,
)

if TYPE_CHECKING:
    from thermokit.conduction.course import Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Problem

WHAT = "FiPy, same mesh"
ROWS = 10  # rows that are held against FiPy, and every span's end
STEPS = 10  # steps of FiPy a span, fewer where there are many spans
SPANS = 5  # spans that are given that many
MOST_SWEEPS = 700  # of FiPy, over all legs: about 10 s; beyond, its steps are not refined


@dataclass
class _Leg:
    """A leg as our run had it, and what FiPy made of it: its solution with an error, or why there is none."""

    problem: Problem
    own: History
    scale: Scale
    steps: int
    theirs: Any = None
    failure: str = ""

    def solve(self, steps: int) -> None:
        """FiPy, with so many steps a span, and as many again halved."""
        from thermokit.conduction.fipy_engine import estimate_error

        self.steps = steps
        try:
            self.theirs = estimate_error(self.problem, self.own.time, steps)
        except (SolveError, ArithmeticError, RuntimeError, ImportError) as met:
            self.failure = " ".join(str(met).split())

    def finer(self, accuracy: float) -> float:
        """How many times the steps would bring FiPy's error down to the accuracy: it is of order 2."""
        return float(np.sqrt(self.theirs.largest / accuracy))

    def compared(self, measure: Measure) -> list[Comparison]:
        """All cells of the leg."""
        history = self.theirs.history
        other = {name: np.asarray(values) for name, values in history.states.items()}
        other[TEMPERATURE] = np.column_stack([history.inner_face, history.temperature, history.outer_face])
        error = {name: float(np.max(np.nan_to_num(values))) for name, values in self.theirs.states.items()}
        error[TEMPERATURE] = self.theirs.largest
        return compared(WHAT, self.own, other, error, measure, strict=False, scale=self.scale)


def against_fipy(course: Course, rows: Array, tolerance: float, memory: Memory, measure: Measure) -> list[Comparison]:
    """Against FiPy on the same mesh, at a few rows; its error by halving its steps. A failure is told, never hidden.

    For each quantity the leg with the largest share of what is allowed.
    """
    some = with_ends(rows[np.unique(np.linspace(0, len(rows) - 1, ROWS + 1).round().astype(int))], course.spans)
    travel = followed(course, some[some > 0.0], tolerance, memory)
    course = course.as_followed(travel.legs)
    steps = max(4, STEPS * SPANS // max(SPANS, len(course.spans)))
    legs = _legs(course, travel, steps)
    for leg in legs:
        leg.solve(steps)
    left = float(MOST_SWEEPS)
    sound = [leg for leg in legs if not leg.failure]
    for leg in sorted(sound, key=lambda leg: -leg.finer(measure.accuracy)):
        finer = leg.finer(measure.accuracy)
        work = 3.0 * finer * leg.theirs.history.sweeps
        if finer > 1.0 and work <= left:
            left -= work
            leg.solve(int(np.ceil(1.1 * finer * leg.steps)))
    found = _worst([leg.compared(measure) for leg in legs if not leg.failure])
    for leg in legs:
        if leg.failure:
            at = f" ({_names(leg.problem)})" if len(legs) > 1 else ""
            why = f"FiPy failed{at}: {leg.failure}"
            found.append(Comparison(WHAT, TEMPERATURE, "K", None, None, None, None, None, False, why))
    return found


def _legs(course: Course, travel: Travel, steps: int) -> list[_Leg]:
    """The legs that have rows."""
    found, begun = [], 0.0
    for i, (problem, own) in enumerate(zip(travel.legs, travel.runs, strict=True)):
        if len(own.time):
            found.append(_Leg(problem, own, _scale(course, i, problem, own, begun), steps))
        begun += float(sum(float(span.duration) for span in problem.spans))
    return found


def _scale(course: Course, number: int, problem: Problem, own: History, begun: float) -> Scale:
    """The leg on the scale of the body: faces belong to the layer that they bound."""
    shown, edges = Shown(course, number), edges_of(course)[:, 0]
    depth: list[float | None] = []
    words = []
    for at in (0.0, *own.centres.tolist(), float(own.edges[-1])):
        depth.append(shown.depth_in_body(at, edges))
        words.append("" if depth[-1] is not None else _inside(problem, own.edges, at))
    return Scale(begun, tuple(depth), tuple(words))


def _inside(problem: Problem, edges: Array, depth: float) -> str:
    """A place in a layer that is not part of the body."""
    for layer, cells in cells_of(problem):
        if depth <= edges[cells.stop]:
            return f"in {layer.name}, {1e3 * (depth - edges[cells.start]):.3g} mm from its inner side"
    return ""


def _worst(legs: list[list[Comparison]]) -> list[Comparison]:
    """For each quantity the comparison of the leg that takes most of what is allowed."""

    def share(c: Comparison) -> float:
        return float(c.largest or 0.0) / float(c.allowed or 1.0)

    found = []
    for quantity in dict.fromkeys(c.quantity for comparisons in legs for c in comparisons):
        mine = [c for comparisons in legs for c in comparisons if c.quantity == quantity]
        worst = max(mine, key=lambda c: (not c.agrees, share(c)))
        others = sum(FAR in c.note for c in mine if c is not worst)
        if others:
            note = f"in {others} other part{'s' if others > 1 else ''} of the way FiPy is further off than the accuracy asked for"
            worst = replace(worst, note="; ".join(x for x in (worst.note, note) if x))
        found.append(worst)
    return found


def _names(problem: Problem) -> str:
    return ", ".join(dict.fromkeys(span.name for span in problem.spans if span.name))
