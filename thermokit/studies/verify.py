"""Is the answer right? The case solved again: on a halved mesh, with a halved error, and by the second engine, FiPy.

Each difference stands beside the estimated error of what it is held against, which is found by going one step further:
the halved mesh is halved again (order 2: four thirds of what then changes), the halved error likewise (twice what then
changes), FiPy's steps are halved (:func:`thermokit.conduction.fipy_engine.estimate_error`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Problem

    Fields = dict[str, Array]

FIPY_ROWS = 10  # rows that are held against FiPy, and every span's end
FIPY_STEPS = 10  # steps of FiPy a span, fewer where there are many spans
FIPY_SPANS = 5  # spans that are given that many
MOST_SWEEPS = 700  # of FiPy: about 10 s; beyond, its steps are not refined
TEMPERATURE = "temperature"
# 1/K, how fast a degree moves with temperature: ln 2 / 2 x E/(R T^2) of a first-order reaction half-way,
# with E = 100 kJ/mol at T = 400 K, rounded
DEGREE_PER_KELVIN = 0.03


@dataclass(frozen=True)
class Comparison:
    """The run held against another solution of the same case.

    what : that solution in words; quantity : ``temperature`` or a state; largest : the largest difference, in ``unit``,
    at time [s] and depth [m]; estimated_error : of the other solution; allowed : what the difference may be (accuracy
    and estimated error); agrees; note : what else must be said. Numbers are None where the other solution failed.
    """

    what: str
    quantity: str
    unit: str
    largest: float | None
    time: float | None
    depth: float | None
    estimated_error: float | None
    allowed: float | None
    agrees: bool
    note: str = ""


@dataclass(frozen=True)
class Verification:
    """What :func:`verify` found.

    path, value : the setting that was sought and the value [s] it was verified at (None where nothing was sought);
    window : False where that is only the nearest miss;
    accuracy [K] of the case; cells, steps : of the run; comparisons; advice : what to try, one sentence for each
    comparison that does not agree.
    """

    title: str
    process: str
    case_sha256: str
    path: str | None
    value: float | None
    window: bool
    accuracy: float
    cells: int
    steps: int
    comparisons: tuple[Comparison, ...]
    advice: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """True where every comparison agrees."""
        return all(c.agrees for c in self.comparisons)

    def as_json(self) -> dict[str, Any]:
        """The JSON object of ``thermokit verify --json``."""
        from thermokit import __version__

        return {
            "title": self.title,
            "process": self.process,
            "case_sha256": self.case_sha256,
            "version": __version__,
            "verify": {
                "agrees": self.agrees,
                "at": None
                if self.path is None
                else {"path": self.path, "value": self.value, "unit": "s", "window": self.window},
                "accuracy": self.accuracy,
                "cells": self.cells,
                "steps": self.steps,
                "units": {"time": "s", "depth": "m", "accuracy": "K"},
                "comparisons": [
                    {
                        "what": c.what,
                        "quantity": c.quantity,
                        "largest": _finite(c.largest),
                        "unit": c.unit,
                        "time": c.time,
                        "depth": c.depth,
                        "estimated_error": _finite(c.estimated_error),
                        "allowed": _finite(c.allowed),
                        "agrees": c.agrees,
                        "note": c.note,
                    }
                    for c in self.comparisons
                ],
                "advice": list(self.advice),
            },
        }


def verify(case: Any, progress: Callable[[float], None] | None = None) -> Verification:
    """How far the run of a case (or case file) is from the same on a halved mesh, with a halved error, and from FiPy.

    A case with something to find is verified at the recommended value, without a window at the nearest miss. Agreement:
    the difference is within the case's accuracy plus the estimated error of what it is held against; for the halved
    mesh and the halved error that estimate must itself be within the accuracy. What 1 K means for a state:
    :func:`share_of_kelvin`.

    Raises CaseError where the case is wrong, SolveError where the case's own run does not finish.
    """
    from thermokit.processes import process_of
    from thermokit.processes.run import settled
    from thermokit.studies.run import as_case
    from thermokit.studies.verify_words import advice

    told = progress or (lambda share: None)
    case, path, value, window = _filled(as_case(case), told)
    told(0.2)
    process = process_of(case)
    given = any(cells is not None for *_, cells in process.layers())
    base = settled(case, process)
    _finished(base.history)
    told(0.3)
    problem, accuracy = process.problem(base.edges), float(case.accuracy.temperature)
    rows = _with_ends(base.history.time, problem)
    own = _solved(problem, rows, base.tolerance)
    measure = _Measure(accuracy, share_of_kelvin(problem))
    comparisons = _mesh(own, process.problem, base.edges, base.tolerance, measure)
    told(0.35)
    comparisons += _time(own, problem, base.tolerance, measure)
    told(0.4)
    comparisons += _fipy(problem, rows, base.tolerance, measure)
    told(1.0)
    return Verification(
        title=case.title,
        process=case.process,
        case_sha256=case.source.sha256,
        path=path,
        value=value,
        window=window,
        accuracy=accuracy,
        cells=len(base.history.centres),
        steps=base.history.accepted,
        comparisons=tuple(comparisons),
        advice=tuple(dict.fromkeys(advice(c, given) for c in comparisons if not c.agrees)),
    )


def share_of_kelvin(problem: Problem) -> dict[str, float]:
    """What a state may be off where the temperature is off by 1 K, state -> [1/K].

    0.03 for degrees of reaction; for the crystalline share the steepest of its curves (two over the width of a triangle
    in temperature, one over that of a uniform range), at least 0.03.
    """
    out = {reaction.state: DEGREE_PER_KELVIN for layer in problem.layers for reaction in layer.reactions}
    steepest = [DEGREE_PER_KELVIN]
    for layer in problem.layers:
        for curve in (layer.medium.melting, layer.medium.crystallising):
            if curve is not None:
                width = float(curve.high) - float(curve.low)
                steepest.append((1.0 if curve.peak is None else 2.0) / width)
    return out | {"crystalline_share": max(steepest)}


@dataclass(frozen=True)
class _Measure:
    """What counts as agreement: accuracy [K], and what 1 K means for each state [1/K]."""

    accuracy: float
    kelvin: dict[str, float]

    def enough(self, name: str) -> float:
        """The accuracy of a quantity."""
        return self.accuracy * (1.0 if name == TEMPERATURE else self.kelvin.get(name, DEGREE_PER_KELVIN))


def fields_of(history: History, edges: Array | None = None) -> Fields:
    """Temperature (rows, faces and cells) [K], states (rows, cells); on coarser ``edges``, means over their cells."""
    cells = {TEMPERATURE: history.temperature, **history.states}
    if edges is not None:
        widths = np.diff(history.edges)
        first = np.searchsorted(history.centres, edges[:-1])
        total = np.add.reduceat(widths, first)
        cells = {name: np.add.reduceat(values * widths, first, axis=1) / total for name, values in cells.items()}
    cells[TEMPERATURE] = np.column_stack([history.inner_face, cells[TEMPERATURE], history.outer_face])
    return cells


def largest(a: Array, b: Array) -> tuple[float, int, int]:
    """(largest difference, its row, its place); where both are NaN they agree, where one is they differ without end."""
    gap = np.abs(a - b)
    gap = np.where(np.isnan(a) & np.isnan(b), 0.0, np.where(np.isnan(gap), np.inf, gap))
    row, place = np.unravel_index(int(np.argmax(gap)), gap.shape)
    return float(gap[row, place]), int(row), int(place)


def _compared(
    what: str, own: History, other: Fields, error: dict[str, float], measure: _Measure, strict: bool
) -> list[Comparison]:
    """One comparison for the temperature and one for each state; rows at the very start do not count."""
    late = own.time > 0.0
    found = []
    for name, values in fields_of(own).items():
        size, row, place = largest(values[late], other[name][late])
        depth = [0.0, *own.centres.tolist(), float(own.edges[-1])] if name == TEMPERATURE else own.centres.tolist()
        enough = measure.enough(name)
        far = error[name] > enough
        allowed = enough + error[name]
        found.append(
            Comparison(
                what=what,
                quantity=name,
                unit="K" if name == TEMPERATURE else "1",
                largest=size,
                time=float(own.time[late][row]),
                depth=float(depth[place]),
                estimated_error=error[name],
                allowed=allowed,
                agrees=size <= allowed and not (strict and far),
                note="what it is held against is itself further off than the accuracy asked for" if far else "",
            )
        )
    return found


def _mesh(
    own: History,
    build: Callable[[Sequence[Array]], Problem],
    edges: Sequence[Array],
    tolerance: float,
    measure: _Measure,
) -> list[Comparison]:
    """Against every cell cut in two; the error of that from cutting once more (order 2: 4/3 of the change)."""
    from thermokit.conduction.mesh import halved

    half_edges = [halved(e) for e in edges]
    half = _solved(build(half_edges), own.time, tolerance)
    quarter = _solved(build([halved(e) for e in half_edges]), own.time, tolerance)
    change = _changes(own.time, fields_of(half), fields_of(quarter, half.edges))
    error = {name: 4.0 / 3.0 * size for name, size in change.items()}
    return _compared("halved mesh", own, fields_of(half, own.edges), error, measure, strict=True)


def _time(own: History, problem: Problem, tolerance: float, measure: _Measure) -> list[Comparison]:
    """Against half the error a step; what is left of it from halving once more (in proportion: twice the change)."""
    half, quarter = (fields_of(_solved(problem, own.time, tolerance / n)) for n in (2, 4))
    error = {name: 2.0 * size for name, size in _changes(own.time, half, quarter).items()}
    return _compared("halved error", own, half, error, measure, strict=True)


def _changes(time: Array, a: Fields, b: Fields) -> dict[str, float]:
    late = time > 0.0
    return {name: largest(values[late], b[name][late])[0] for name, values in a.items()}


def _fipy(problem: Problem, rows: Array, tolerance: float, measure: _Measure) -> list[Comparison]:
    """Against FiPy on the same mesh, at a few rows; its error by halving its steps. A failure is told, never hidden."""
    from thermokit.conduction.fipy_engine import estimate_error

    some = _with_ends(rows[np.unique(np.linspace(0, len(rows) - 1, FIPY_ROWS + 1).round().astype(int))], problem)
    some = some[some > 0.0]
    own = _solved(problem, some, tolerance)
    steps = max(4, FIPY_STEPS * FIPY_SPANS // max(FIPY_SPANS, len(problem.spans)))
    try:
        theirs = estimate_error(problem, some, steps)
        # of order 2: so many times the steps, and the work, bring its error down to the accuracy
        finer = np.sqrt(theirs.largest / measure.accuracy)
        if finer > 1.0 and 3.0 * finer * theirs.history.sweeps <= MOST_SWEEPS:
            steps = int(np.ceil(1.1 * finer * steps))
            theirs = estimate_error(problem, some, steps)
    except (SolveError, ArithmeticError, RuntimeError, ImportError) as met:
        why = f"FiPy failed: {' '.join(str(met).split())}"
        return [Comparison("FiPy, same mesh", TEMPERATURE, "K", None, None, None, None, None, False, why)]
    other = {name: np.asarray(values) for name, values in theirs.history.states.items()}
    other[TEMPERATURE] = np.column_stack(
        [theirs.history.inner_face, theirs.history.temperature, theirs.history.outer_face]
    )
    error = {name: float(np.max(np.nan_to_num(values))) for name, values in theirs.states.items()}
    error[TEMPERATURE] = theirs.largest
    return _compared("FiPy, same mesh", own, other, error, measure, strict=False)


def _finite(value: float | None) -> float | None:
    """JSON holds neither NaN nor infinity."""
    return value if value is not None and np.isfinite(value) else None


def _filled(case: Any, told: Callable[[float], None]) -> tuple[Any, str | None, float | None, bool]:
    """(case with nothing left to find, path of what was sought, its value, False where that is the nearest miss)."""
    from thermokit.case import sought_path

    path = sought_path(case)
    if path is None:
        return case, None, None, True
    from thermokit.studies.dwell import dwell

    found = dwell(case, lambda share: told(0.2 * share))
    value = found.recommended if found.recommended is not None else found.nearest
    return case.with_values({path: value}), path, float(value), found.recommended is not None


def _with_ends(rows: Array, problem: Problem) -> Array:
    """Rows and the end of every span, each once."""
    ends = np.cumsum([float(span.duration) for span in problem.spans])
    times = np.unique(np.concatenate([rows, ends]))
    return np.asarray(times[np.concatenate([np.diff(times) > 1e-9 * ends[-1], [True]])])


def _solved(problem: Problem, rows: Array, tolerance: float) -> History:
    from thermokit.conduction.single import solve

    return _finished(solve(problem, rows, tolerance))


def _finished(history: History) -> History:
    ending = history.ending
    if ending.status == "interrupted":
        raise KeyboardInterrupt
    if ending.status != "finished":
        place = "" if ending.depth is None else f", {1e3 * ending.depth:.3g} mm deep"
        words = ending.status.replace("_", " ")
        raise SolveError(f"the run stopped at {ending.time:.4g} s{place}: {words}", ending.advice)
    return history
