"""Run a case: translate it, solve it on a mesh that meets its accuracy, judge the history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import MOST_KEPT, TIME_SHARE, Settled, settle
from thermokit.errors import CaseError, Mistake
from thermokit.processes import cautions_run, direct_of, heat_life, process_of, start
from thermokit.processes.base import facts_of_run
from thermokit.processes.media import slowness
from thermokit.results.model import LimitCheck, Provenance, Result

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.history import History
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.processes.base import Facts, Process

WARN_MISMATCH = 1e-6  # of the heat turned over
FAIL_MISMATCH = 1e-3
DEFAULT_ROWS = 200
MOST_CELLS = 200_000  # of all layers together
OPEN_CELLS = 100  # of a layer whose mesh is found: about what they end on


def rows_of(case: Any, durations: list[float]) -> Any:
    """Times of the rows that a case asks for: exactly ``times``, or multiples of ``every`` and every station's end."""
    output = case.output
    ends = np.cumsum(durations)
    if output.times is not None:
        return np.asarray(output.times, float)
    every = float(output.every) if output.every is not None else ends[-1] / DEFAULT_ROWS
    count = int(np.floor(ends[-1] / every * (1.0 + 1e-12)))
    multiples = every * np.arange(count + 1)
    times = np.unique(np.concatenate([multiples, ends]))
    # a multiple that misses a station's end by round-off is that end
    keep = np.concatenate([np.diff(times) > 1e-9 * ends[-1], [True]])
    return times[keep]


def settled(case: Any, process: Process, progress: Callable[[float], None] | None = None) -> Settled:
    """The case solved on a mesh that meets its accuracy."""
    layers = process.layers()
    durations = [float(span.duration) for span in _durations(case)]
    times = rows_of(case, durations)
    _check_size(case, len(times), [cells for *_, cells in layers])
    return settle(
        process.course,
        [slowness(medium, thickness) for _, thickness, medium, _ in layers],
        [cells for *_, cells in layers],
        float(case.accuracy.temperature),
        times,
        progress=progress,
        memory=lambda edges: process.memory(edges, None, TIME_SHARE * float(case.accuracy.temperature)),
    )


def _check_size(case: Any, rows: int, cells: list[int | None]) -> None:
    """What a run keeps must fit into memory: CaseError where it cannot."""
    given = sum(count for count in cells if count is not None)
    if given > MOST_CELLS:
        allowed = f"up to {MOST_CELLS} cells in all layers together"
        raise CaseError(
            case.source.file, [Mistake("layers", f"{given} cells", allowed, "leave cells out: they are found")]
        )
    kept = rows * (given + OPEN_CELLS * sum(count is None for count in cells))
    if kept > MOST_KEPT:
        raise too_many_kept(case, rows, kept // rows, "cells")


def too_many_kept(case: Any, rows: int, places: int, what: str) -> CaseError:
    """Refusal of a run that would keep so many rows of so many cells or nodes (``what``)."""
    return CaseError(
        case.source.file,
        [
            Mistake(
                "output",
                f"would keep {rows} rows of some {places} {what}, {float(rows * places):.3g} temperatures",
                f"up to {MOST_KEPT} temperatures",
                "ask for fewer rows (every, times)",
            )
        ],
    )


def _durations(case: Any) -> Any:
    for station in case.stations:
        if not isinstance(station.duration, (int, float)):
            raise CaseError(
                case.source.file,
                [Mistake(f"stations.{station.name}.duration", 'is "find"', "a time", "`thermokit dwell` finds it")],
            )
    return case.stations


def run_case(case: Any, progress: Callable[[float], None] | None = None, study: dict[str, Any] | None = None) -> Result:
    """The result of a case whose durations are all given."""
    direct = direct_of(case)
    if direct is not None:
        return direct.result(progress, study or {})
    process = process_of(case)
    solved = settled(case, process, progress)
    return judged(case, process, solved, study or {})


def judged(case: Any, process: Process, solved: Settled, study: dict[str, Any]) -> Result:
    """A history with its outcomes, limits, warnings and cautions."""
    history = solved.history
    course = process.course(solved.edges)
    solved_as = {layer.name: layer.thickness for leg in reversed(solved.travel.legs) for layer in leg.layers}
    layers = [
        (name, solved_as.get(name, thickness) if course.changes else thickness)
        for name, thickness, *_ in process.layers()
        if name in course.shown or not course.body
    ]
    ends = np.cumsum([0.0, *(float(thickness) for _, thickness in layers)])
    finished = history.ending.status == "finished"
    facts = process.facts(solved.travel, solved.edges, solved.tolerance) if finished else facts_of_run(history)
    outcomes = process.outcomes(history, facts) if history.ends else []
    result = Result(
        provenance=provenance(case),
        history=history,
        shape=course.shape,
        inner_radius=float(course.inner_radius),
        span_names=tuple(span.name for span in course.spans),
        layer_names=tuple(name for name, _ in layers),
        layer_edges=tuple(float(x) for x in ends),
        outcomes=(*outcomes, *(heat_life.outcomes(process, facts, outcomes) if finished else ())),
        limits=limit_checks(process, history, facts),
        probes=probes(case, history),
        warnings=(
            *mesh_warnings(case, solved),
            *heat_warnings(history),
            *(start.warnings(case, course) if case.earlier is not None else ()),
            *process.warnings(history),
            *(heat_life.warnings(process, facts) if finished else ()),
        ),
        cautions=tuple(process.cautions()),
        remarks=tuple(process.remarks(history, facts)) if finished else (),
        study=process.study(facts) | start.study(case) | study,
        fields=process.fields(solved.travel, facts, solved.edges, solved.tolerance) if finished else (),
    )
    return cautions_run.complete(process, result)


def probes(case: Any, history: History) -> dict[str, Any]:
    """Series of the probes, linear through faces and cell centres [K]."""
    from thermokit.conduction.watch import along

    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    return {probe.name: along(depth, profile, float(probe.at)) for probe in case.output.probes}


def limit_checks(process: Process, history: History, facts: Facts) -> tuple[LimitCheck, ...]:
    """Every limit held against the run."""
    finished = bool(history.ends) and history.ending.status == "finished"
    values = process.quantities(facts) if history.ends else {}
    found = []
    for limit in process.limits():
        value = float(values[limit.quantity][0]) if finished else None
        margin = float(limit.margin(np.array([value]))[0]) if value is not None else None
        where, when = process.found_at(limit, history, facts) if finished else (limit.where, history.ending.time)
        found.append(
            LimitCheck(
                name=limit.name,
                required=limit.required,
                found=limit.shown(value) if value is not None else None,
                unit=limit.unit,
                margin=margin,
                met=margin is not None and margin >= 0.0,
                where=where,
                when=when,
            )
        )
    return tuple(found)


def heat_warnings(history: History | SectionHistory) -> list[str]:
    """Said when the heat balance does not close."""
    mismatch = history.heat.mismatch
    if not mismatch > WARN_MISMATCH:
        return []
    worse = "the run counts as failed" if mismatch > FAIL_MISMATCH else "the answer may be off by as much"
    return [f"heat balance: {mismatch:.1e} of the heat turned over went astray; {worse}"]


def mesh_warnings(case: Any, solved: Settled) -> list[str]:
    """Said when the accuracy was not reached."""
    if solved.met or solved.history.ending.status != "finished" or solved.space_error is None:
        return []
    when, depth = solved.where or (0.0, 0.0)
    return [
        f"accuracy {float(case.accuracy.temperature):g} K not reached: the mesh of {len(solved.history.centres)} cells is "
        f"still about {solved.space_error:.2g} K off at {when:.3g} s, {1e3 * depth:.3g} mm deep (just after a jump of a "
        "face no mesh is fine enough: begin the rows later, or ask for less)"
    ]


def failed(result: Result) -> bool:
    """True where the command must end with a failure."""
    return result.status != "finished" or not result.history.heat.mismatch <= FAIL_MISMATCH or "stop" in result.study


def provenance(case: Any) -> Provenance:
    """Where a result comes from."""
    import platform

    from thermokit import __version__
    from thermokit.case import resolved_text

    return Provenance(
        title=case.title,
        process=case.process,
        case_text=case.source.text,
        resolved_text=resolved_text(case),
        case_sha256=case.source.sha256,
        version=__version__,
        versions={"thermokit": __version__, "numpy": np.__version__, "python": platform.python_version()},
    )
