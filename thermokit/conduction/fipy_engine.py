"""The second engine: the same body on the same mesh solved with FiPy, to hold the layered solver against.

Only the finite volumes are the same. FiPy assembles and solves the equations (:mod:`thermokit.conduction.fipy_stage`);
time is stepped by a two-stage diagonally implicit Runge-Kutta method (Alexander 1977, SIAM J. Numer. Anal. 14, 1006:
order 2, L-stable, gamma = 1 - 1/sqrt(2)). A step that does not converge, or in which a temperature or a degree moves
too far, is halved; a :class:`SolveError` says where that does not help. Its own error is found by halving every
step again (:func:`estimate_error`).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.fipy_stage import FipyBody, State
from thermokit.conduction.problem import Problem, Series, Span
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
DEEPEST = 14  # times that a step may be halved
FURTHEST = (15.0, 0.05)  # K and degree that a cell may move in one step


@dataclass(frozen=True)
class FipyHistory:
    """Rows of the second engine.

    times : (rows,) [s]; temperature : (rows, cells) [K]; inner_face, outer_face : (rows,) [K]; states : name -> (rows,
    cells), NaN where nothing reacts; ends : where steps ended, one array a span [s since its start]; sweeps : how many.
    """

    times: Array
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]
    ends: tuple[Array, ...]
    sweeps: int


@dataclass(frozen=True)
class FipyError:
    """The solution with halved steps and how far the one with whole steps is from it, entry by entry (same shapes).

    For a method of order 2 the difference is about three times the error of the halved solution, so its maximum is a
    cautious estimate; single entries may be small by chance where the two cross.
    """

    history: FipyHistory
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]

    @property
    def largest(self) -> float:
        """FiPy's own error [K]: the largest difference of any cell or face in any row."""
        return float(max(np.max(x) for x in (self.temperature, self.inner_face, self.outer_face)))


def solve_fipy(problem: Problem, times: Array, steps_per_span: int = 30) -> FipyHistory:
    """Temperatures of one body at the asked times, by FiPy.

    times : (rows,) ascending [s], within the run (each is hit exactly, so each adds a step); steps_per_span : at least
    so many, equal in the square root of the time since the span (or a jump of a time table) began.
    """
    return _Run(problem, times).go(steps_per_span)


def estimate_error(problem: Problem, times: Array, steps_per_span: int = 30) -> FipyError:
    """The same with every step halved, beside the difference from whole steps."""
    run = _Run(problem, times)
    whole = run.go(steps_per_span)
    half = run.go([np.unique(np.concatenate([e, (e[1:] + e[:-1]) / 2.0])) for e in whole.ends])
    return FipyError(
        history=half,
        temperature=np.abs(half.temperature - whole.temperature),
        inner_face=np.abs(half.inner_face - whole.inner_face),
        outer_face=np.abs(half.outer_face - whole.outer_face),
        states={name: np.abs(values - whole.states[name]) for name, values in half.states.items()},
    )


class _Run:
    def __init__(self, problem: Problem, times: Array):
        self.rows = np.asarray(times, float)
        total = math.fsum(float(span.duration) for span in problem.spans)
        if np.any(np.diff(self.rows) <= 0) or self.rows[0] < 0 or self.rows[-1] > total * (1 + 1e-12):
            raise ValueError("times must ascend within the run")
        self.problem = problem
        self.body = FipyBody(problem)
        self.ends: list[float] = []

    def go(self, steps: int | list[Array]) -> FipyHistory:
        """All spans, with a number of steps in each or on a grid that is given."""
        body, rows = self.body, self.rows
        body.restart()
        state, begun = body.start(), 0.0
        made: list[tuple[Array, float, float, dict[str, Array]]] = []
        grids = []
        for number, span in enumerate(self.problem.spans):
            length = float(span.duration)
            if number == 0 and rows[0] == 0.0:
                made.append(body.row(state, span, 0.0))
            grid = steps[number] if isinstance(steps, list) else self.grid(span, begun, steps)
            self.ends = [0.0]
            for a, b in itertools.pairwise(grid.tolist()):
                state = self.step(state, b - a, span, begun, a, limited=not isinstance(steps, list))
                if len(made) < len(rows) and begun + b >= rows[len(made)] - 1e-9 * length:
                    made.append(body.row(state, span, b))
            grids.append(np.array(self.ends))
            begun += length
        temperature, inner, outer = (np.array([row[i] for row in made]) for i in range(3))
        states = {name: np.array([row[3][name] for row in made]) for name in made[0][3]}
        return FipyHistory(rows, temperature, inner, outer, states, tuple(grids), body.sweeps)

    def step(
        self, state: State, dt: float, span: Span, begun: float, time: float, limited: bool, depth: int = 0
    ) -> State:
        """From ``time`` to ``time + dt`` of a span, in as many parts as it needs."""
        new = self.attempt(state, dt, span, begun, time)
        if new is not None and not (limited and depth < DEEPEST and self.too_far(state, new)):
            self.ends.append(time + dt)
            return new
        if depth == DEEPEST:
            raise SolveError(
                f"FiPy did not converge at {begun + time:g} s, with a step of {dt:g} s",
                "give it more steps a span, or look for a jump in a property there",
            )
        half = dt / 2.0
        middle = self.step(state, half, span, begun, time, limited, depth + 1)
        return self.step(middle, half, span, begun, time + half, limited, depth + 1)

    def attempt(self, state: State, dt: float, span: Span, begun: float, time: float) -> State | None:
        """One step of two stages; None where a stage does not converge."""
        body, share, part = self.body, state.share, GAMMA * dt
        first = body.stage(state, state, share, part, span, begun, time + part)
        if first is None:
            return None
        # y + (1 - gamma) dt f(first), with gamma dt f(first) = first - y
        weight = (1.0 - GAMMA) / GAMMA
        base = State(
            state.energy + weight * (first.energy - state.energy),
            share,
            [a + weight * (b - a) for a, b in zip(state.degrees, first.degrees, strict=True)],
        )
        new = body.stage(base, first, share, part, span, begun, time + dt)
        return None if new is None else State(new.energy, body.share_after(new.energy, share), new.degrees)

    def too_far(self, old: State, new: State) -> bool:
        """True where a temperature or a degree moved further than a step may move it."""
        kelvin, degree = FURTHEST
        before, _ = self.body.temperature(old.energy, old.share)
        after, _ = self.body.temperature(new.energy, new.share)
        moved = [np.max(np.abs(b - a)) for a, b in zip(old.degrees, new.degrees, strict=True)]
        return bool(np.max(np.abs(after - before)) > kelvin or max(moved, default=0.0) > degree)

    def grid(self, span: Span, begun: float, steps: int) -> Array:
        """Times of a span at which a step ends, its start first; every bend of a table and every row is one of them."""
        length = float(span.duration)
        if length <= 0.0:
            return np.zeros(1)
        tables = [(value, 0.0) for value in varyings(span)] + [(la.heat, begun) for la in self.problem.layers]
        bends, jumps = set[float](), {0.0, length}
        for value, offset in tables:
            if isinstance(value, Series):
                inside = [float(t) - offset for t in value.time if 0.0 < float(t) - offset < length]
                bends |= set(inside)
                jumps |= {t for t in inside if inside.count(t) > 1}
        pieces = sorted(jumps)
        graded = np.linspace(0.0, 1.0, max(4, steps // (len(pieces) - 1)) + 1) ** 2
        nodes = [a + (b - a) * graded for a, b in itertools.pairwise(pieces)]
        asked = self.rows - begun
        asked = asked[(asked > 0.0) & (asked < length)]
        out = np.unique(np.concatenate([*nodes, sorted(bends), asked]))
        out = out[np.concatenate([[True], np.diff(out) > 1e-10 * length])]
        out[-1] = length
        return np.asarray(out)


def varyings(span: Span) -> list[Any]:
    """Everything of a span that may change in time, on the span's own clock."""
    out: list[Any] = [put.factor for put in span.sources]
    for face in (span.inner, span.outer):
        out += [face.heating, face.temperature]
        out += [x for term in face.exchange for x in (term.coefficient, term.temperature)]
        out += [seen.temperature for seen in face.radiation]
    return out
