"""A case followed from leg to leg by another solver, which carries its own state and makes the changes between legs itself.

A layer goes on by its name, on the solver's own mesh. What happens to it between two legs is done here by its meaning: a band
that is folded becomes even, of paste what has gelled stays with what clings to it, a preheat brings all to one temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.course import Course
from thermokit.conduction.follow import Travel, follow
from thermokit.conduction.mesh import halved
from thermokit.conduction.problem import Problem
from validation.solvers.mesh import Profile, cells_of, remeshed, start_of

Array = NDArray[np.float64]


class Solver(Protocol):
    """A solver of one leg. level : 1 for the rough run, 2 for that with half the steps and cells half as thick."""

    name: str
    cells: int
    rows: int  # about how many times are compared

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Array, level: int) -> dict[str, Profile]:
        """Profiles of every layer at the times [s of the leg], the last of which is its end."""


@dataclass(frozen=True)
class Ours:
    """What thermokit made of a case: its course, the legs as it solved them, the accuracy that was asked for [K].

    finer : the same with every cell cut in four and a tenth of the error a step, to tell thermokit's own error by.
    """

    course: Course
    travel: Travel
    accuracy: float
    finer: Callable[[], Travel]


def ours(case: Any, count: int) -> Ours:
    """A case by thermokit itself, on the mesh that it finds for the case's accuracy at the rows that are compared."""
    from thermokit.processes import process_of
    from thermokit.processes.run import settled

    process = process_of(case)
    rough = settled(case, process)
    rows = rows_of(process.course(rough.edges), count)
    case = replace(case, output=replace(case.output, times=rows, every=None))
    process = process_of(case)
    base = settled(case, process)

    def followed(edges: list[Array], tolerance: float) -> Travel:
        memory = process.memory(edges, None, tolerance)
        travel = follow(process.course(edges), rows, tolerance, memory=memory)
        if travel.history.ending.status != "finished":
            raise RuntimeError(f"{case.title}: {travel.history.ending}")
        return travel

    @cache
    def finer() -> Travel:
        return followed([halved(halved(e)) for e in base.edges], base.tolerance / 10.0)

    course = process.course(base.edges)
    return Ours(course, followed(list(base.edges), base.tolerance), float(case.accuracy.temperature), finer)


def rows_of(course: Course, count: int) -> Array:
    """Times of the comparison [s]: about so many, at even shares of every span, and its end."""
    spans = [float(span.duration) for span in course.spans]
    each = -(-count // len(spans))
    begun, found = 0.0, []
    for length in spans:
        found += [begun + length * j / each for j in range(1, each + 1)]
        begun += length
    return np.array(found)


def travelled(case: Ours, solver: Solver, level: int) -> list[dict[str, Profile]]:
    """Profiles of every leg by the other solver, at the rows of thermokit's."""
    legs = case.travel.legs
    cells = cells_of(legs, solver.cells * level)
    known: dict[str, Profile] = {}
    thickness: dict[str, float] = {}
    found = []
    for i, (leg, run) in enumerate(zip(legs, case.travel.runs, strict=True)):
        if i in case.course.changes:
            known = changed(case.course.changes[i], known, legs[i - 1], thickness)
        start = {la.name: known[la.name] if la.name in known else start_of(la) for la in leg.layers}
        own = remeshed(leg, cells, thickness)
        profiles = solver.leg(own, start, run.time[run.time > 0.0], level)
        known |= {name: profile.last() for name, profile in profiles.items()}
        found.append(profiles)
    return found


def changed(change: Any, known: dict[str, Profile], before: Problem, thickness: dict[str, float]) -> dict[str, Profile]:
    """What layers remember once a change has been made; thickness [m] of layers that it makes is noted."""
    kind = getattr(change, "__name__", type(change).__name__)
    if kind == "_folded":
        return {name: _even(profile) for name, profile in known.items()}
    if kind == "Preheat":
        goal = float(change.temperature)
        return {n: replace(p, temperature=np.full_like(p.temperature, goal)) for n, p in known.items()}
    if kind == "Withdrawal":
        paste = known[change.paste]
        layer = next(la for la in before.layers if la.name == change.paste)
        deep = float(layer.thickness)
        kept = float(np.clip(_gelled(paste, deep, float(change.stays)) + float(change.clinging), 2e-6, deep))
        thickness[change.coat] = kept
        # the coat is the inner part of the paste: its places as shares of the coat
        inside, places = paste.x <= 1.3 * kept / deep, paste.xs <= 1.3 * kept / deep
        coat = replace(
            paste,
            x=paste.x[inside] * deep / kept,
            temperature=paste.temperature[:, inside],
            xs=paste.xs[places] * deep / kept,
            states={name: values[:, places] for name, values in paste.states.items()},
        )
        return {**known, change.coat: coat}
    raise ValueError(f"a change of a course that nobody has written down here: {kind}")


def _even(profile: Profile) -> Profile:
    def mean(values: Array, weight: Array) -> Array:
        return np.asarray(np.full_like(values, float(values[0] @ weight / weight.sum())))

    states = {name: mean(values, profile.weights) for name, values in profile.states.items()}
    return replace(profile, temperature=mean(profile.temperature, profile.weight), states=states)


def _gelled(paste: Profile, deep: float, stays: float) -> float:
    """Depth [m] to which the gel degree is at least ``stays``, by a monotone cubic through its double logarithm."""
    from scipy.optimize import brentq

    degree = np.clip(paste.states["gel_degree"], 1e-14, 1.0 - 1e-14)
    straight = replace(paste, states={"y": np.log(-np.log1p(-degree))})
    goal = float(np.log(-np.log1p(-stays)))
    y = straight.states["y"][0]

    def off(share: float) -> float:
        return float(straight.state_at("y", np.array([share]))[0, 0]) - goal

    if y[0] < goal:
        return 0.0 if off(0.0) < 0.0 else deep * float(brentq(off, 0.0, paste.xs[0]))
    if y[-1] >= goal:
        return deep
    i = int(np.argmax(y < goal))
    return deep * float(brentq(off, paste.xs[i - 1], paste.xs[i]))
