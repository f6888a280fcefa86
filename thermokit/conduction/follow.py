"""One body followed through a course: leg after leg, its rows joined to one history."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.course import Shown, cells_of, edges_of, on_clock, recalled, remembered
from thermokit.conduction.history import Ending, Extreme, HeatBalance, History, SpanEnd
from thermokit.conduction.record import default_times
from thermokit.conduction.single import solve

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.course import Course, LayerState, Memory
    from thermokit.conduction.problem import Array, Problem
    from thermokit.conduction.watch import Watch


@dataclass(frozen=True)
class Companion:
    """A layer that is not part of what is shown (a tool): its rows while it was there.

    time (rows,) [s]; depth (cells,) [m] of its cell centres from its own inner side; temperature (rows, cells) [K];
    start (cells,) and end (cells,) [K].
    """

    time: Array
    depth: Array
    temperature: Array
    start: Array
    end: Array


@dataclass(frozen=True)
class Travel:
    """A course that was followed: history of the body, companions by name, the legs as they were solved.

    legs : problems with the starts that they had; runs : their histories, each on its own clock; memory : what every layer
    remembers at the end.
    """

    history: History
    companions: dict[str, Companion]
    legs: tuple[Problem, ...]
    runs: tuple[History, ...]
    memory: dict[str, LayerState]


def follow(
    course: Course,
    times: Array | None = None,
    tolerance: float = 0.03,
    watches: Sequence[Watch] = (),
    progress: Callable[[float], None] | None = None,
    memory: Memory | None = None,
) -> Travel:
    """Solve the legs of a course in order; arguments as for :func:`thermokit.conduction.single.solve`.

    memory : what layers remember from before (a tool from the shot before). Stops with the first leg that does not finish.
    """
    durations = [[float(span.duration) for span in leg.spans] for leg in course.legs]
    lengths = [float(sum(d)) for d in durations]
    ends = np.cumsum([0.0, *lengths])
    rows = default_times([x for d in durations for x in d]) if times is None else np.asarray(times, float)
    edges = edges_of(course)[:, 0]
    known = {**course.before, **(memory or {})}
    legs: list[Problem] = []
    runs: list[History] = []
    asked: list[Array] = []
    told = progress or (lambda share: None)
    for i in range(len(course.legs)):
        course, known = course.arrived(i, known)
        leg = course.legs[i]
        begin, length = float(ends[i]), lengths[i]

        def share_told(share: float, begin: float = begin, length: float = length) -> None:
            told((begin + share * length) / (float(ends[-1]) or 1.0))

        mine = (rows > _behind(begin)) | (i == 0)
        if i < len(course.legs) - 1:
            mine &= rows <= _behind(float(ends[i + 1]))
        own = rows[mine] - begin
        own = np.where(np.abs(own - length) <= 1e-12 * float(ends[i + 1]), length, own)
        problem = on_clock(recalled(leg, known), begin)
        seen = watches if len(course.legs) == 1 and not course.body else _watched(watches, Shown(course, i), edges)
        run = solve(problem, own, tolerance, seen, share_told)
        legs.append(problem)
        runs.append(run)
        asked.append(rows[mine][: len(run.time)])
        if run.ending.status != "finished":
            break
        known.update(remembered(problem, run.ends[-1].temperature, run.ends[-1].states))
    if len(course.legs) == 1 and not course.body:
        return Travel(runs[0], {}, tuple(legs), tuple(runs), known)
    if course.changes:  # layers may have become thicker or thinner than they were planned
        edges = edges_of(course)[:, 0]
    history = _joined(course, runs, ends, asked, edges)
    history = replace(history, crossings={w.name: history.crossings.get(w.name) for w in watches})
    return Travel(history, _companions(course, legs, runs, asked), tuple(legs), tuple(runs), known)


def _behind(time: float) -> float:
    """The last time [s] that still counts as this one: a row at the end of a leg belongs to the leg that ends."""
    return time * (1.0 + 1e-12)


def _watched(watches: Sequence[Watch], shown: Shown, edges: Array) -> list[Watch]:
    """Watches with depths of the body moved to those of a leg; what is not there cannot be watched."""
    found = []
    for watch in watches:
        if watch.place in ("inner_face", "outer_face"):
            if not shown.free(watch.place == "inner_face"):
                raise ValueError(f"watch {watch.name!r}: the {watch.place} is covered by another layer on its way")
            found.append(watch)
        elif isinstance(watch.place, str):
            found.append(watch)
        else:
            depth = shown.depth_in_leg(float(watch.place), edges)
            found += [replace(watch, place=depth)] if depth is not None else []
    return found


def _joined(course: Course, runs: list[History], begun: Array, asked: list[Array], edges: Array) -> History:
    """The histories of the legs as one of the body."""
    profiles, states, spans, span_ends, offset = [], [], [], [], 0
    hottest, coldest = [], []
    names = list(dict.fromkeys(name for run in runs for name in run.states))
    crossings: dict[str, float | None] = {}
    warnings: list[str] = []
    for i, run in enumerate(runs):
        shown, begin = Shown(course, i), float(begun[i])
        size = len(run.time)
        profile = np.full((size, shown.cells + 2), np.nan)
        profile[:, 1 + shown.target] = run.temperature[:, shown.place]
        profile[:, 0], profile[:, -1] = shown.faces(run.temperature.T, run.inner_face, run.outer_face)
        profiles.append(profile)
        state = {name: np.full((size, shown.cells), np.nan) for name in names}
        for name, value in run.states.items():
            state[name][:, shown.target] = value[:, shown.place]
        states.append(state)
        spans.append(run.span + offset)
        span_ends += [_end(end, shown, names, begin, edges) for end in run.ends]
        if any(layer.counts for layer in shown.problem.layers):
            hottest.append(_placed(run.hottest, shown, edges, begin))
            coldest.append(_placed(run.coldest, shown, edges, begin))
        offset += len(shown.problem.spans)
        for name, when in run.crossings.items():
            if crossings.get(name) is None:
                crossings[name] = when + begin if when is not None else None
        warnings += run.warnings
    rows = np.concatenate(profiles)
    nowhere = Extreme(float("nan"), 0.0, 0.0)
    return History(
        time=np.concatenate(asked),
        span=np.concatenate(spans),
        edges=edges,
        centres=(edges[1:] + edges[:-1]) / 2,
        temperature=rows[:, 1:-1],
        inner_face=rows[:, 0],
        outer_face=rows[:, -1],
        states={name: np.concatenate([state[name] for state in states]) for name in names},
        heat=_heat(course, runs),
        hottest=max(hottest, key=lambda e: e.value, default=nowhere),
        coldest=min(coldest, key=lambda e: e.value, default=nowhere),
        ends=tuple(span_ends),
        ending=_ending(runs[-1].ending, Shown(course, len(runs) - 1), edges, float(begun[len(runs) - 1])),
        crossings=crossings,
        warnings=tuple(dict.fromkeys(warnings)),
        accepted=sum(run.accepted for run in runs),
        rejected=sum(run.rejected for run in runs),
    )


def _end(end: SpanEnd, shown: Shown, names: list[str], begun: float, edges: Array) -> SpanEnd:
    """The end of a span as the body has it."""
    temperature = np.full(shown.cells, np.nan)
    temperature[shown.target] = end.temperature[shown.place]
    faces = shown.faces(end.temperature[:, None], np.array([end.inner_face]), np.array([end.outer_face]))
    states = {name: np.full(shown.cells, np.nan) for name in names}
    for name, value in end.states.items():
        states[name][shown.target] = value[shown.place]
    return SpanEnd(
        time=end.time + begun,
        temperature=temperature,
        inner_face=float(faces[0][0]),
        outer_face=float(faces[1][0]),
        states=states,
        hottest=_placed(end.hottest, shown, edges, begun),
        coldest=_placed(end.coldest, shown, edges, begun),
    )


def _placed(extreme: Extreme, shown: Shown, edges: Array, begun: float) -> Extreme:
    """An extreme with its depth in the body as it is shown: at the nearest face where it lies in another layer."""
    depth = shown.depth_in_body(extreme.depth, edges)
    if depth is None:
        depth = float(edges[0] if shown.before(extreme.depth) else edges[-1])
    return Extreme(extreme.value, extreme.time + begun, depth)


def _ending(ending: Ending, shown: Shown, edges: Array, begun: float) -> Ending:
    """An ending on the body's clock and scale; where the trouble lies in another layer its name stands in the advice."""
    depth, advice = ending.depth, ending.advice
    if depth is not None:
        layer = shown.layer(depth)
        depth = shown.depth_in_body(depth, edges)
        advice = advice if depth is not None else f"in {layer}: {advice}"
    return Ending(ending.status, ending.time + begun, depth, advice)


def _heat(course: Course, runs: list[History]) -> HeatBalance:
    """Sums over the legs, per area of the body as it was in the first."""
    area = [float(np.ravel(course.area(i))[0]) for i in range(len(runs))]
    entered, left, stored, released = (
        sum(a * getattr(run.heat, name) for a, run in zip(area, runs, strict=True))
        for name in ("entered", "left", "stored", "released")
    )
    turned = entered + abs(released) + abs(stored)
    # astray in each leg, so that errors of two legs cannot hide each other
    astray = sum(
        a * run.heat.mismatch * (run.heat.entered + abs(run.heat.released) + abs(run.heat.stored))
        for a, run in zip(area, runs, strict=True)
    )
    return HeatBalance(entered, left, stored, released, astray / turned if turned > 0.0 else 0.0, runs[0].heat.unit)


def _companions(course: Course, legs: list[Problem], runs: list[History], asked: list[Array]) -> dict[str, Companion]:
    """Rows of the layers that are not shown."""
    out: dict[str, Companion] = {}
    for leg, run, time in zip(legs, runs, asked, strict=True):
        for layer, cells in cells_of(leg):
            if layer.name in course.shown:
                continue
            edges = np.asarray(layer.edges) * float(layer.thickness)
            end = run.ends[-1].temperature[cells] if run.ends else np.full(layer.cells, np.nan)
            start = np.array(np.broadcast_to(np.ravel(layer.start), (layer.cells,)), float)
            own = Companion(time, (edges[1:] + edges[:-1]) / 2, run.temperature[:, cells], start, end)
            before = out.get(layer.name)
            if before is not None:
                own = replace(
                    own,
                    time=np.concatenate([before.time, own.time]),
                    temperature=np.concatenate([before.temperature, own.temperature]),
                    start=before.start,
                )
            out[layer.name] = own
    return out
