"""Is the answer right? The case solved again: on a halved mesh, with a halved error, and by the second engine, FiPy.

Each difference stands beside the estimated error of what it is held against, which is found by going one step further:
the halved mesh is halved again (order 2: four thirds of what then changes), the halved error likewise (twice what then
changes), FiPy's steps are halved (:func:`thermokit.conduction.fipy_engine.estimate_error`). A body that changes on its
way is followed through its whole course each time; FiPy is given one leg of it after the other
(:mod:`thermokit.studies.verify_legs`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.studies.comparison import (
    Comparison,
    Measure,
    compared,
    fields_of,
    finished,
    followed,
    largest,
    share_of_kelvin,
    with_ends,
)
from thermokit.studies.sought import Scale, scale_of
from thermokit.studies.verify_legs import against_fipy

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Process
    from thermokit.studies.comparison import Fields


@dataclass(frozen=True)
class Verification:
    """What :func:`verify` found.

    path, value : the setting that was sought and the value [SI] it was verified at (None where nothing was sought);
    window : False where that is only the nearest miss;
    accuracy [K] of the case; cells : of all layers, or triangles of a section, steps : of the run; comparisons; advice : what
    to try, one sentence for each comparison that does not agree.
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
    scale: Scale = field(default_factory=Scale)

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
                else {
                    "path": self.path,
                    "value": self.scale.shown(self.value),
                    "unit": self.scale.unit,
                    "window": self.window,
                },
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
                        "place": c.place,
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
    :func:`thermokit.studies.comparison.share_of_kelvin`.

    Raises CaseError where the case is wrong, SolveError where the case's own run does not finish.
    """
    from thermokit.processes import direct_of, process_of
    from thermokit.processes.run import settled
    from thermokit.studies.run import as_case
    from thermokit.studies.verify_words import advice

    told = progress or (lambda share: None)
    asked = as_case(case)
    case, path, value, window = _filled(asked, told)
    scale = Scale() if path is None else scale_of(asked, path)
    told(0.2)
    direct = direct_of(case)
    if direct is not None:
        from thermokit.studies.verify_section import verify_section

        run, against = verify_section(direct, lambda share: told(0.2 + 0.8 * share))
        return Verification(
            title=case.title,
            process=case.process,
            case_sha256=case.source.sha256,
            path=path,
            value=value,
            window=window,
            accuracy=float(case.accuracy.temperature),
            cells=len(run.mesh.triangles),
            steps=run.accepted,
            comparisons=tuple(against),
            advice=tuple(dict.fromkeys(advice(c, given=False) for c in against if not c.agrees)),
            scale=scale,
        )
    process = process_of(case)
    given = any(cells is not None for *_, cells in process.layers())
    base = settled(case, process)
    finished(base.history)
    told(0.3)
    course, accuracy = process.course(base.edges), float(case.accuracy.temperature)
    rows = with_ends(base.history.time, course.spans)
    memory = process.memory(base.edges, None, base.tolerance)
    own = followed(course, rows, base.tolerance, memory).history
    measure = Measure(accuracy, share_of_kelvin(course))
    comparisons = _mesh(own, process, base.edges, base.tolerance, measure)
    told(0.35)
    comparisons += _time(own, process, base.edges, base.tolerance, measure)
    told(0.4)
    comparisons += against_fipy(course, rows, base.tolerance, memory, measure)
    told(1.0)
    return Verification(
        title=case.title,
        process=case.process,
        case_sha256=case.source.sha256,
        path=path,
        value=value,
        window=window,
        accuracy=accuracy,
        cells=sum(len(edges) - 1 for edges in base.edges),
        steps=base.history.accepted,
        comparisons=tuple(comparisons),
        advice=tuple(dict.fromkeys(advice(c, given) for c in comparisons if not c.agrees)),
        scale=scale,
    )


def _mesh(
    own: History, process: Process, edges: Sequence[Array], tolerance: float, measure: Measure
) -> list[Comparison]:
    """Against every cell cut in two; the error of that from cutting once more (order 2: 4/3 of the change)."""
    from thermokit.conduction.mesh import halved

    half_edges = [halved(e) for e in edges]
    half = _again(process, half_edges, own.time, tolerance)
    quarter = _again(process, [halved(e) for e in half_edges], own.time, tolerance)
    change = _changes(own.time, fields_of(half), fields_of(quarter, half.edges))
    error = {name: 4.0 / 3.0 * size for name, size in change.items()}
    return compared("halved mesh", own, fields_of(half, own.edges), error, measure, strict=True)


def _time(
    own: History, process: Process, edges: Sequence[Array], tolerance: float, measure: Measure
) -> list[Comparison]:
    """Against half the error a step; what is left of it from halving once more (in proportion: twice the change)."""
    half, quarter = (fields_of(_again(process, edges, own.time, tolerance / n)) for n in (2, 4))
    error = {name: 2.0 * size for name, size in _changes(own.time, half, quarter).items()}
    return compared("halved error", own, half, error, measure, strict=True)


def _again(process: Process, edges: Sequence[Array], rows: Array, tolerance: float) -> History:
    """The whole case once more, with what its layers remember from before."""
    return followed(process.course(edges), rows, tolerance, process.memory(edges, None, tolerance)).history


def _changes(time: Array, a: Fields, b: Fields) -> dict[str, float]:
    late = time > 0.0
    return {name: largest(values[late], b[name][late])[0] for name, values in a.items()}


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
