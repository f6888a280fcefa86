"""Is the answer of a section right? Solved again on a halved mesh, with a halved error, and by the second engine, FiPy.

Meshes are compared at the nodes of the coarser one, region by region. The error of the halved mesh follows from how much the
first halving changed against the second (order 2 where the change falls to a quarter); that of the halved error from halving
once more; FiPy's from halving its steps. What counts is what the accuracy of a section means: all but the worst fiftieth of
each region and the first quarter of each station.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_across import at_nodes_of, largest_gap, place_of_node
from thermokit.errors import SolveError
from thermokit.studies.comparison import FAR, TEMPERATURE, Comparison
from thermokit.studies.verify_legs import WHAT

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.processes.base import Direct

ROWS = 6  # that are held against FiPy, beside every span's end
STEPS = 8  # of FiPy a span
MOST_WORK = 2.0e6  # sweeps times nodes of FiPy: some ten seconds; beyond, its steps are not refined
LEAST_FALL, FULL_FALL = 1.5, 4.0  # times by which halving the mesh makes its change smaller


def verify_section(direct: Direct, told: Callable[[float], None]) -> tuple[SectionHistory, list[Comparison]]:
    """(the case's own run, every comparison). Raises SolveError where the own run does not finish."""
    accuracy = float(direct.case.accuracy.temperature)
    own = direct.trial()
    finished(own)
    told(0.3)
    found = [_mesh(own, direct, accuracy)]
    told(0.6)
    if not own.steady:
        found.append(_time(own, direct, accuracy))
    told(0.7)
    found.append(_fipy(own, direct, accuracy))
    return own, found


def finished(history: SectionHistory) -> None:
    """Raises what a run that did not finish means."""
    ending = history.ending
    if ending.status == "interrupted":
        raise KeyboardInterrupt
    if ending.status != "finished":
        raise SolveError(f"the run stopped at {ending.time:.4g} s: {ending.status.replace('_', ' ')}", ending.advice)


def _mesh(own: SectionHistory, direct: Direct, accuracy: float) -> Comparison:
    """Against every triangle cut in four."""
    half, coarse = direct.trial(finer=2.0), direct.trial(finer=0.5)
    finished(half)
    gap = np.abs(own.temperature - at_nodes_of(own, half))
    change = largest_gap(gap, own)[0]
    before = coarse.temperature - at_nodes_of(coarse, own)
    first = largest_gap(before, coarse)[0]
    fall = min(max(first / change, LEAST_FALL), FULL_FALL) if change > 0.0 else FULL_FALL
    return _compared("halved mesh", own, gap, change / (fall - 1.0), accuracy, strict=True)


def _time(own: SectionHistory, direct: Direct, accuracy: float) -> Comparison:
    """Against half the error a step; what is left of it from halving once more (in proportion: twice the change)."""
    half, quarter = direct.trial(tighter=2.0), direct.trial(tighter=4.0)
    gap = np.abs(own.temperature - at_nodes_of(own, half))
    left = 2.0 * largest_gap(np.abs(half.temperature - at_nodes_of(half, quarter)), half)[0]
    return _compared("halved error", own, gap, left, accuracy, strict=True)


def _fipy(own: SectionHistory, direct: Direct, accuracy: float) -> Comparison:
    """Against FiPy on the same mesh at a few rows. A failure is told, never hidden."""
    from thermokit.conduction.section_fipy import estimate_section_error, steps_for

    problem = direct.problem()
    rows = np.unique(np.linspace(0, len(own.time) - 1, ROWS + 1).round().astype(int))
    ends = [int(np.argmin(np.abs(own.time - end.time))) for end in own.ends]
    rows = np.unique(np.concatenate([rows[own.time[rows] > 0.0], ends])) if not own.steady else np.array([0])
    times = None if own.steady else own.time[rows]
    try:
        theirs = estimate_section_error(problem, own.mesh, times, STEPS)
        error = largest_gap(_full(own, rows, theirs.error), own)[0]
        if error > accuracy:
            finer = steps_for(error, accuracy, STEPS)
            if theirs.sweeps * finer / STEPS * len(own.mesh.x) <= MOST_WORK:
                theirs = estimate_section_error(problem, own.mesh, times, finer)
                error = largest_gap(_full(own, rows, theirs.error), own)[0]
    except (SolveError, ArithmeticError, RuntimeError, ImportError) as met:
        why = f"FiPy failed: {' '.join(str(met).split())}"
        return Comparison(WHAT, TEMPERATURE, "K", None, None, None, None, None, False, why)
    gap = _full(own, rows, np.abs(own.temperature[rows] - theirs.temperature))
    return _compared(WHAT, own, gap, error, accuracy, strict=False)


def _full(own: SectionHistory, rows: Any, values: Array) -> Array:
    """Values of some rows in the place of all rows, NaN elsewhere."""
    out = np.full_like(own.temperature, np.nan)
    out[rows] = values
    return out


def _compared(what: str, own: SectionHistory, gap: Array, error: float, accuracy: float, strict: bool) -> Comparison:
    size, row, node = largest_gap(gap, own)
    far = error > accuracy
    return Comparison(
        what=what,
        quantity=TEMPERATURE,
        unit="K",
        largest=size,
        time=float(own.time[row]),
        depth=None,
        estimated_error=error,
        allowed=accuracy + error,
        agrees=size <= accuracy + error and not (strict and far),
        note=FAR if far else "",
        place=place_of_node(own, node),
    )
