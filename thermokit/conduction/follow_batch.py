"""Thousands of bodies followed through a course at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.course import Shown, edges_of, on_clock, recalled, remembered

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.batch_record import BatchHistory
    from thermokit.conduction.course import Course, LayerState, Memory
    from thermokit.conduction.lanes import Array
    from thermokit.conduction.problem import Problem


@dataclass(frozen=True)
class BatchTravel:
    """What a batch leaves behind; the last axis is always the case.

    edges (cells + 1, 1 or cases) [m] of the body; end_temperature (spans, cells, cases) [K] at the end of every span of
    the course, NaN where a layer was not there; end_inner_face, end_outer_face (spans, cases); end_states name -> (spans,
    cells, cases); hottest, hottest_time, coldest (cases,); status (cases,) indexes ``batch_record.STATUS``; mismatch
    (cases,); memory of every layer at the end; runs : the legs.
    """

    edges: Array
    end_temperature: Array
    end_inner_face: Array
    end_outer_face: Array
    end_states: dict[str, Array]
    hottest: Array
    hottest_time: Array
    coldest: Array
    status: Array
    mismatch: Array
    memory: dict[str, LayerState]
    runs: tuple[BatchHistory, ...]


def follow_batch(
    course: Course,
    cases: int,
    tolerance: float = 0.03,
    memory: Memory | None = None,
    progress: Callable[[float], None] | None = None,
    times: Array | None = None,
) -> BatchTravel:
    """Solve the legs of a course for ``cases`` bodies that differ in any numeric leaf of it.

    times : (rows,) [s] ascending, on the clock of the course: every leg of ``runs`` then has these rows, of which those that
    fall into the leg count (before it they hold its start, behind it NaN). A case that fails in a leg has that status, and
    nothing behind it.
    """
    known = {**_for_all(course.before), **(memory or {})}
    runs: list[BatchHistory] = []
    status = np.zeros(cases, np.int8)
    begun = np.zeros(cases)
    hottest, when, coldest = np.full(cases, -np.inf), np.zeros(cases), np.full(cases, np.inf)
    ends: list[tuple[Array, Array, Array, dict[str, Array]]] = []
    for i in range(len(course.legs)):
        course, known = course.arrived(i, known)
        problem = on_clock(recalled(course.legs[i], known), begun)
        # a leg in which the cases do not differ yet (sheets that are heated alike) is solved once for all
        count = 1 if cases > 1 and _alike(problem, cases) else cases
        rows = None if times is None else np.asarray(times, float)[:, None] - begun[:count]
        own = solve_batch(problem, count, rows, tolerance=tolerance, progress=_share(progress, i, len(course.legs)))
        run = own if count == cases else _spread(own, cases)
        runs.append(run)
        status = np.where(status == 0, run.status, status).astype(np.int8)
        hotter = run.hottest > hottest
        hottest, when = np.where(hotter, run.hottest, hottest), np.where(hotter, begun + run.hottest_time, when)
        coldest = np.minimum(coldest, run.coldest)
        begun = begun + _length(problem)
        known.update(
            remembered(problem, own.end_temperature[-1], {name: value[-1] for name, value in own.end_states.items()})
        )
        ends += _ends(Shown(course, i, cases), run)
    names = list(dict.fromkeys(name for *_, states in ends for name in states))
    blank = np.full_like(ends[0][0], np.nan)
    turned = sum(area * turn for area, turn in _turned(course, runs))
    astray = sum(area * turn * run.mismatch for (area, turn), run in zip(_turned(course, runs), runs, strict=True))
    return BatchTravel(
        edges=edges_of(course),
        end_temperature=np.stack([end[0] for end in ends]),
        end_inner_face=np.stack([end[1] for end in ends]),
        end_outer_face=np.stack([end[2] for end in ends]),
        end_states={name: np.stack([end[3].get(name, blank) for end in ends]) for name in names},
        hottest=hottest,
        hottest_time=when,
        coldest=coldest,
        status=status,
        mismatch=np.asarray(astray / np.where(turned > 0.0, turned, 1.0)),
        memory={name: _spread(state, cases) for name, state in known.items()},
        runs=tuple(runs),
    )


def _for_all(memory: Memory) -> dict[str, LayerState]:
    """Profiles (cells,) as (cells, 1), which every case of a batch begins with; those of each case as they are."""

    def column(value: Array) -> Array:
        return value[:, None] if value.ndim == 1 else value

    return {
        name: replace(
            state,
            temperature=column(state.temperature),
            degrees={degree: column(value) for degree, value in state.degrees.items()},
            crystalline=None if state.crystalline is None else column(state.crystalline),
        )
        for name, state in memory.items()
    }


def _alike(part: Any, cases: int) -> bool:
    """Whether no leaf of a problem holds values by case; an array over as many cells as there are cases counts as such."""
    if isinstance(part, np.ndarray):
        return part.ndim == 0 or part.shape[-1] != cases
    if isinstance(part, tuple):
        return all(_alike(item, cases) for item in part)
    if is_dataclass(part) and not isinstance(part, type):
        return all(_alike(getattr(part, item.name), cases) for item in fields(part))
    return True


def _spread(run: Any, cases: int) -> Any:
    """The one case of a batch (or of what it left) for all cases."""

    def over(value: Any, name: str) -> Any:
        if isinstance(value, Mapping):
            return {key: over(entry, name) for key, entry in value.items()}
        if not isinstance(value, np.ndarray) or name == "centres" or value.shape[-1] == cases:
            return value
        return np.broadcast_to(value, (*value.shape[:-1], cases))

    return replace(run, **{item.name: over(getattr(run, item.name), item.name) for item in fields(run)})


def _share(progress: Callable[[float], None] | None, leg: int, legs: int) -> Callable[[float], None] | None:
    """What is told of a leg, as a share of all."""
    return None if progress is None else lambda share: progress((leg + share) / legs)


def _turned(course: Course, runs: list[BatchHistory]) -> list[tuple[Array, Array]]:
    """(area, heat turned over) of each leg."""
    return [
        (np.asarray(course.area(i)), run.entered + np.abs(run.released) + np.abs(run.stored))
        for i, run in enumerate(runs)
    ]


def _length(problem: Problem) -> Array:
    return np.asarray(sum(np.asarray(span.duration, float) for span in problem.spans))


def _ends(shown: Shown, run: BatchHistory) -> list[tuple[Array, Array, Array, dict[str, Array]]]:
    """(temperature, inner face, outer face, states) of the body at the end of each span of a leg."""
    out = []
    for s in range(len(run.end_temperature)):
        whole = run.end_temperature[s]
        if len(shown.place) == shown.cells == len(whole):
            states = {name: value[s] for name, value in run.end_states.items()}
            out.append((whole, run.end_inner_face[s], run.end_outer_face[s], states))
            continue
        temperature = np.full((shown.cells, whole.shape[1]), np.nan)
        temperature[shown.target] = whole[shown.place]
        states = {}
        for name, value in run.end_states.items():
            states[name] = np.full_like(temperature, np.nan)
            states[name][shown.target] = value[s][shown.place]
        out.append((temperature, *shown.faces(whole, run.end_inner_face[s], run.end_outer_face[s]), states))
    return out
