"""The second engine for sections: the same nodes and triangles solved with FiPy, to hold the section solver against.

FiPy is given the control volumes about the nodes: two nodes joined by an edge of a triangle exchange heat through the line
between the edge's middle and the triangle's circumcentre, at right angles to the edge, so that the flux between two cells is
exact for a straight profile. (Cells on the triangles themselves are no help: the line between two centroids is not at right
angles to the edge between them, and FiPy, which does not correct for it, is then off by a share that no finer mesh mends.)
FiPy assembles and solves; time is stepped as in :mod:`thermokit.conduction.fipy_engine` (Alexander 1977, two stages, order 2).
Its own error is found by halving its steps (:func:`estimate_section_error`).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.energy_curve import EnergyCurve
from thermokit.conduction.fipy_engine import GAMMA
from thermokit.conduction.fipy_stage import value_at
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve, Series
from thermokit.conduction.section_fipy_mesh import PERFECT, SectionCells
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array, Face, Varying
    from thermokit.conduction.section_fipy_mesh import Flags
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem, SectionSpan

SWEEPS = 60
STILL = 1e-5  # K: a sweep that moves no temperature further has converged
DEEPEST = 10  # times that a step may be halved
HELD = 1e7  # times the largest conductance of a node, by which a prescribed temperature is held
FOR_EVER = 1e14  # s, a step in which nothing is stored: the steady state


@dataclass(frozen=True)
class SectionFipyError:
    """Rows (rows, nodes) [K] of the run with halved steps, and how far that with whole steps is from them (same shape).

    sweeps : of FiPy, for both. In the steady state there are no steps: the error is 0.
    """

    temperature: Array
    error: Array
    sweeps: int

    @property
    def largest(self) -> float:
        """FiPy's own error [K]: the largest of any node in any row."""
        return float(np.nanmax(self.error, initial=0.0))


def solve_section_fipy(
    problem: SectionProblem, mesh: SectionMesh, times: Array | None, steps_per_span: int = 20
) -> Array:
    """Temperatures at all nodes, (rows, nodes) [K], NaN where a region is absent; times None: the steady state, one row.

    times : (rows,) ascending [s], each hit exactly; steps_per_span : at least so many, equal in the square root of the time
    since the span began. Raises SolveError where a step does not converge, or a region melts and crystallises on two curves.
    """
    run = _Run(problem, mesh)
    return run.steady() if times is None else run.go(times, run.grids(times, steps_per_span))


def estimate_section_error(
    problem: SectionProblem, mesh: SectionMesh, times: Array | None, steps_per_span: int = 20
) -> SectionFipyError:
    """The same with every step halved, beside the difference from whole steps."""
    run = _Run(problem, mesh)
    if times is None:
        rows = run.steady()
        return SectionFipyError(rows, np.zeros_like(rows), run.sweeps)
    grids = run.grids(times, steps_per_span)
    whole = run.go(times, grids)
    half = run.go(times, [np.unique(np.concatenate([g, (g[1:] + g[:-1]) / 2.0])) for g in grids])
    return SectionFipyError(half, np.abs(half - whole), run.sweeps)


class _Run:
    def __init__(self, problem: SectionProblem, mesh: SectionMesh):
        for region in problem.regions:
            if region.medium.crystallising is not None:
                raise SolveError(
                    f"FiPy does not follow {region.name}, which melts and crystallises on two curves, in a section",
                    "leave its crystallising out to compare the rest",
                )
        self.problem, self.cells = problem, SectionCells(problem, mesh)
        self.curves = [EnergyCurve(region.medium) for region in problem.regions]
        self.starts = np.array([region.start for region in problem.regions], float)[self.cells.owner]
        self.linear = all(curve.constant for curve in self.curves) and not any(
            isinstance(region.medium.conductivity, Curve) for region in problem.regions
        )
        self.sweeps = 0

    def energy(self, t: Array) -> tuple[Array, Array]:
        """(heat content of the nodes [J], its slope [J/K]) at their temperatures."""
        total, slope = np.zeros(len(t)), np.zeros(len(t))
        for region, curve, volume in zip(self.problem.regions, self.curves, self.cells.volume, strict=True):
            own = np.flatnonzero(volume > 0.0)
            i = np.clip(np.searchsorted(curve.nodes, t[own], side="right") - 1, 0, len(curve.nodes) - 2)
            c = (curve.melting[i + 1] - curve.melting[i]) / (curve.nodes[i + 1] - curve.nodes[i])
            mass = float(region.medium.density) * volume[own]
            total[own] += mass * (curve.melting[i] + c * (t[own] - curve.nodes[i]))
            slope[own] += mass * c
        return total, slope

    def steady(self) -> Array:
        """One row: the steady state under the faces of the first span."""
        span, t = self.problem.spans[0], self.starts.copy()
        new = self.stage(t, self.energy(t)[0], FOR_EVER, span, 0.0, 0.0, self.cells.there(span.absent))
        if new is None:
            raise SolveError("FiPy found no steady state", "look for a section that no face holds at a temperature")
        return self.shown(new, span)[None]

    def shown(self, t: Array, span: SectionSpan) -> Array:
        """Temperatures of what is there."""
        return np.where(self.cells.there(span.absent), t, np.nan)

    def go(self, times: Array, grids: Sequence[Array]) -> Array:
        """All spans on given grids of steps."""
        t, begun, before = self.starts.copy(), 0.0, frozenset[str]()
        rows: list[Array] = []
        for span, grid in zip(self.problem.spans, grids, strict=True):
            there = self.cells.there(span.absent)
            t = np.where(there & ~self.cells.there(before), self.starts, t)  # what comes back begins with its start
            if not rows and times[0] <= 0.0:
                rows.append(self.shown(t, span))
            for a, b in itertools.pairwise(grid.tolist()):
                t = self.step(t, b - a, span, begun, a, there)
                if len(rows) < len(times) and begun + b >= times[len(rows)] - 1e-9 * max(float(grid[-1]), 1e-300):
                    rows.append(self.shown(t, span))
            begun += float(span.duration)
            before = span.absent
        return np.array(rows)

    def step(
        self, t: Array, dt: float, span: SectionSpan, begun: float, time: float, there: Flags, depth: int = 0
    ) -> Array:
        """From ``time`` to ``time + dt`` of a span, in as many parts as it needs."""
        part = GAMMA * dt
        base = self.energy(t)[0]
        first = self.stage(t, base, part, span, begun, time + part, there)
        if first is not None:
            moved = base + (1.0 - GAMMA) / GAMMA * (self.energy(first)[0] - base)
            new = self.stage(first, moved, part, span, begun, time + dt, there)
            if new is not None:
                return new
        if depth == DEEPEST:
            raise SolveError(f"FiPy did not converge at {begun + time:g} s, with a step of {dt:g} s")
        middle = self.step(t, dt / 2.0, span, begun, time, there, depth + 1)
        return self.step(middle, dt / 2.0, span, begun, time + dt / 2.0, there, depth + 1)

    def stage(
        self, guess: Array, base: Array, dt: float, span: SectionSpan, begun: float, time: float, there: Flags
    ) -> Array | None:
        """One implicit step of length dt from the heat content ``base``; None where it does not converge."""
        cells, t = self.cells, guess.copy()
        once = self.linear and not any(face.radiation for face in span.faces.values())
        faces = [
            (span.faces[name], *own) for name, own in cells.faces(span.absent).items() if name in span.faces
        ]  # (conditions, nodes, areas)
        largest = max((float(areas.max()) for *_, areas in faces), default=1.0)
        source = np.zeros(len(t))
        for region, volume in zip(self.problem.regions, cells.volume, strict=True):
            source += value_at(region.heat, begun + time) * volume
        joints = self._joints(span, time)
        for sweep in range(SWEEPS):
            heat, slope = self.energy(t)
            gamma = np.concatenate([cells.conductivity(t), joints]) * cells.active(there)
            taken = np.where(there, 0.0, slope)  # what is absent rests
            given = np.where(there, source - (heat - base) / dt, slope * t)
            for face, nodes, areas in faces:
                a, b = _conditions(face, time, t[nodes])
                if face.temperature is not None:
                    a = np.full(len(nodes), HELD * cells.strength(gamma) / largest)
                    b = a * value_at(face.temperature, time)
                np.add.at(taken, nodes, a * areas)
                np.add.at(given, nodes, b * areas)
            new = cells.solve(t, slope, given, taken, gamma, dt)
            self.sweeps += 1
            if not np.all(np.isfinite(new)):
                return None
            change = new - t
            t = t + (0.5 if sweep > SWEEPS // 3 else 1.0) * change
            if once or float(np.max(np.abs(change))) < STILL:
                return new
        return None

    def _joints(self, span: SectionSpan, time: float) -> Array:
        """Conductance of every pair of doubled nodes [W/m2/K]."""
        instead = {frozenset(pair): value for pair, value in span.touches.items()}
        named: dict[frozenset[str], Varying] = {frozenset(x.between): x.conductance for x in self.problem.touches}
        names = [region.name for region in self.problem.regions]
        out = np.empty(len(self.cells.joint_regions))
        for pair in np.unique(self.cells.joint_regions, axis=0):
            key = frozenset((names[int(pair[0])], names[int(pair[1])]))
            value = value_at(instead.get(key, named[key]), time) if key in named else PERFECT
            out[(self.cells.joint_regions == pair).all(axis=1)] = value
        return out

    def grids(self, times: Array, steps: int) -> list[Array]:
        """Times of each span at which a step ends, its start first; every bend of a table and every row is one of them."""
        out, begun = [], 0.0
        for span in self.problem.spans:
            length = float(span.duration)
            tables = [(value, 0.0) for face in span.faces.values() for value in _varyings(face)]
            tables += [(value, 0.0) for value in span.touches.values()]
            tables += [(touch.conductance, 0.0) for touch in self.problem.touches]
            tables += [(region.heat, begun) for region in self.problem.regions]
            bends, jumps = set[float](), {0.0, length}
            for value, offset in tables:
                if isinstance(value, Series):
                    inside = [float(x) - offset for x in value.time if 0.0 < float(x) - offset < length]
                    bends |= set(inside)
                    jumps |= {x for x in inside if inside.count(x) > 1}
            pieces = sorted(jumps)
            graded = np.linspace(0.0, 1.0, max(4, steps // (len(pieces) - 1)) + 1) ** 2
            nodes = [a + (b - a) * graded for a, b in itertools.pairwise(pieces)]
            asked = np.asarray(times) - begun
            grid = np.unique(np.concatenate([*nodes, sorted(bends), asked[(asked > 0.0) & (asked < length)]]))
            grid = grid[np.concatenate([[True], np.diff(grid) > 1e-10 * length])]
            grid[-1] = length
            out.append(grid)
            begun += length
        return out


def _conditions(face: Face, time: float, t: Array) -> tuple[Array, Array]:
    """(a, b) of the heat b - a T into the nodes of a face [W/m2], radiation made linear about their temperatures."""
    slope, given = np.zeros(len(t)), np.full(len(t), value_at(face.heating, time))
    for term in face.exchange:
        h = value_at(term.coefficient, time)
        slope = slope + h
        given = given + h * value_at(term.temperature, time)
    for seen in face.radiation:
        s = float(seen.factor) * STEFAN_BOLTZMANN
        slope = slope + 4.0 * s * t**3
        given = given + s * (value_at(seen.temperature, time) ** 4 + 3.0 * t**4)
    return slope, given


def _varyings(face: Face) -> list[Any]:
    """Everything of a face that may change in time."""
    out: list[Any] = [face.heating, face.temperature]
    out += [x for term in face.exchange for x in (term.coefficient, term.temperature)]
    return out + [seen.temperature for seen in face.radiation]


def steps_for(error: float, accuracy: float, steps: int) -> int:
    """Steps a span that bring an error down to an accuracy, for a method of order 2."""
    return math.ceil(1.1 * steps * math.sqrt(error / accuracy))
