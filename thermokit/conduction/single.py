"""One layered body through its spans: transient conduction, d(H)/dt = div(k grad T) + sources, per cell

    C_i dy_i/dt = sum_j G_ij (T_j - T_i) + A q_face + V_i (heat + sum_r rho H_r d(degree_r)/dt),   T_i = T(y_i)
    d(degree_r)/dt = rate_r(T, degrees)

with the energy coordinate y as state (:mod:`thermokit.conduction.enthalpy`), conductances G of the cells of
:mod:`thermokit.conduction.rod`, faces of :mod:`thermokit.conduction.surface`, put together in
:mod:`thermokit.conduction.equations` and stepped by Rodas4P (:mod:`thermokit.conduction.rosenbrock`) with the exact
tridiagonal Jacobian; degrees are eliminated cell by cell, in the order of their layer. The error of a step is held below
``tolerance`` in kelvin (largest cell), that of a degree below ``tolerance/200 K``. The solver restarts at every change of
faces. Heat through the faces is integrated by the same scheme.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction import rosenbrock as rb
from thermokit.conduction.equations import Equations, degrees_of
from thermokit.conduction.history import Ending, History
from thermokit.conduction.lapack import routines
from thermokit.conduction.pieces import expand
from thermokit.conduction.problem import HOTTEST
from thermokit.conduction.record import Recorder
from thermokit.conduction.rod import assemble

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.pieces import Piece
    from thermokit.conduction.problem import Array, Problem
    from thermokit.conduction.watch import Watch

DEGREE_PER_KELVIN = 1.0 / 200.0
FIRST_STEP = 30.0  # tolerances that the fastest cell may move in the first step after a switch
SAFETY = 0.9
GROWTH = 6.0
SHORTEST, TINY = 1e-15, 1e-30  # a step that the clock no longer feels, as a share of it; and [s]
LOOK = 16  # steps between looks at whether temperatures are still possible ones
ADVICE = {
    "not_finite": "a value is not finite: look at the inputs of the layer there for a wrong unit",
    "step_too_small": "the step became too small to go on: look for a jump in a property or a rate far outside its range",
    "out_of_range": "below absolute zero or above 20 000 K: look for heating or a heat source of the wrong size or sign",
}
BUFFER = 128  # steps kept before rows are made of them


def solve(
    problem: Problem,
    times: Array | None = None,
    tolerance: float = 0.03,
    watches: Sequence[Watch] = (),
    progress: Callable[[float], None] | None = None,
) -> History:
    """Temperatures and states of one body, always with an ending that says how it went.

    times : (rows,) ascending [s], default 200 equal steps and every span's end; tolerance : [K], local error of a step;
    watches : thresholds to locate inside steps; progress : called with the share of the time that is done.
    """
    return _Run(problem, times, tolerance, watches, progress).go(None)


def integrate_fixed(problem: Problem, steps_per_span: int, times: Array | None = None) -> History:
    """The same with equal steps and no error control, for measuring the order of the method."""
    return _Run(problem, times, 1.0, (), None).go(steps_per_span)


def next_step(h: float, error: float, tolerance: float, before: tuple[float, float], slow: bool) -> float:
    """Step after one of length h that was accepted with an error [K].

    The plain controller h (tolerance/error)^(1/4), or where it is shorter the predictive one of Gustafsson (1994) that goes
    on from the step before (h, error); after a rejection the step does not grow.
    """
    if error <= 0.0:
        return GROWTH * h
    factor = SAFETY * (tolerance / error) ** 0.25
    if before[0] > 0.0 and before[1] > 0.0:
        factor = min(factor, factor * (h / before[0]) * (before[1] / error) ** 0.25)
    return float(h * min(1.0 if slow else GROWTH, max(0.2, factor)))


class _Run:
    """The march of one body."""

    def __init__(
        self,
        problem: Problem,
        times: Array | None,
        tolerance: float,
        watches: Sequence[Watch],
        progress: Callable[[float], None] | None,
    ):
        self.rod = rod = assemble(problem)
        self.pieces = expand(problem)
        self.tolerance, self.progress = tolerance, progress
        self.total = float(sum(p.duration[0] for p in self.pieces))
        self.degrees = degrees_of(problem, rod)
        self.n = n = rod.cells
        self.size = n + sum(d.place.stop - d.place.start for d in self.degrees)
        self.z = np.empty(self.size)
        self.z[:n] = rod.start
        for d in self.degrees:
            self.z[d.place] = d.reaction.start
        self.equations = Equations(problem, rod, self.degrees)
        self.recorder = Recorder(problem, rod, self.pieces, self.degrees, times, watches, BUFFER)
        self.routines = routines("dpttrf", "dpttrs", "dgttrf", "dgttrs")
        # with constant conductivities the matrix is symmetric and positive definite; reactions may spoil the latter
        self.symmetric = self.equations.constant and not self.degrees
        self.accepted = self.rejected = 0
        self.h = 0.0
        self.ending: Ending | None = None
        self.weights = [np.stack([rb.A[i, :i], rb.C[i, :i]]) for i in range(6)]  # second rows are scaled by 1/h
        self.combined = np.empty((2, self.size))
        self.stage = np.empty(self.size)

    def go(self, fixed: int | None) -> History:
        """Run all pieces; with ``fixed`` equal steps a span."""
        begun = 0.0
        try:
            with np.errstate(all="ignore"):
                for number, piece in enumerate(self.pieces):
                    if piece.duration[0] > 0.0:
                        self._march(number, piece, begun, fixed)
                    if self.ending is not None:
                        break
                    begun += float(piece.duration[0])
                    if piece.last:
                        self.recorder.flush(span_end=piece.span)
                        end = self.recorder.last_profile
                        if end is not None and not (end.min() >= 0.0 and end.max() <= HOTTEST):
                            self.ending = self._trouble("out_of_range", begun, np.abs(end[1:-1] - 300.0))
                            break
        except KeyboardInterrupt:
            self.ending = Ending(
                "interrupted", self.recorder.time_reached, None, "stopped by the user; the rows up to here are kept"
            )
        self.recorder.flush()
        return self.recorder.history(self.ending or Ending("finished", begun), self.accepted, self.rejected)

    def _march(self, number: int, piece: Piece, begun: float, fixed: int | None) -> None:
        """Step through one piece of time."""
        length = float(piece.duration[0])
        n, z, record, equations = self.n, self.z, self.recorder, self.equations
        y, degrees, b = z[:n], self.degrees, equations.b
        slope = equations.enter(piece)
        fresh = piece.fresh or self.h == 0.0
        before = (0.0, 0.0)
        tau = 0.0
        while tau < length:
            U, q = record.space()
            first, f = U[0], U[0, :n]
            q[0] = slope(z, y, tau, first, f)
            equations.settle_corners(y, f)
            if fresh:
                self.h = self._first_step(first, length)
                fresh = False
                if not np.isfinite(self.h):
                    self.ending = self._trouble("not_finite", begun + tau, first)
                    return
            lower, diagonal, upper, by_time = equations.jacobian(tau)
            for d in degrees:
                d.linearise(equations.T, b, z)
            longest = min((d.longest_step() for d in degrees), default=float("inf"))
            per_kelvin = 1.0 / b
            faces = (equations.in_y, equations.out_y, equations.in_t, equations.out_t)
            kept = first.copy()
            slow = False
            while True:
                h = _fitted(min(self.h, longest), length - tau, length / fixed if fixed is not None else None)
                error = self._attempt(slope, U, q, tau, h, lower, diagonal, upper, by_time, per_kelvin)
                if fixed is not None or error <= self.tolerance:
                    break
                self.rejected += 1
                slow = True
                finite = error < float("inf")
                self.h = h * (max(0.2, SAFETY * (self.tolerance / error) ** 0.25) if finite else 0.2)
                if self.h <= SHORTEST * tau or self.h < TINY:
                    self.ending = self._trouble("step_too_small" if finite else "not_finite", begun + tau, U[5])
                    return
                first[:] = kept
            new = self.stage
            depth = equations.emission_y if equations.emission is not None else None
            record.step(number, begun + tau, tau, h, z, new, equations.shift, faces, equations.power, depth)
            self.accepted += 1
            if not self.accepted % LOOK and not (equations.T.min() >= 0.0 and equations.T.max() <= HOTTEST):
                self.ending = self._trouble("out_of_range", begun + tau, np.abs(equations.T - 300.0))
                return
            tau = length if tau + h >= length * (1.0 - 1e-14) else tau + h
            if equations.shift is not None:
                equations.shift = self.rod.crystalline_shift(new[:n], equations.shift)
            z[:] = new
            self.h, before = next_step(h, error, self.tolerance, before, slow), (h, error)
            if record.full:
                record.flush()
                if self.progress is not None:
                    self.progress((begun + tau) / self.total)

    def _first_step(self, slope: Array, length: float) -> float:
        """Step after a switch, by how fast the fastest cell moves."""
        n = self.n
        fastest = float(np.abs(slope[:n] * self.equations.b).max())
        if self.degrees:
            fastest = max(fastest, float(np.abs(slope[n:]).max()) / DEGREE_PER_KELVIN)
        if not fastest < float("inf"):
            return float("nan")
        return min(length, FIRST_STEP * self.tolerance / fastest) if fastest > 0.0 else length

    def _attempt(
        self,
        slope: Any,
        U: Array,
        q: Array,
        tau: float,
        h: float,
        lower: Array,
        diagonal: Array,
        upper: Array,
        by_time: Array | None,
        per_kelvin: Array,
    ) -> float:
        """The six stages of a step; the new state is left in ``stage``. Returns the error [K].

        The equations of a stage are multiplied by the capacity of the cells and solved for kelvin; per_kelvin = dy/dT.
        """
        n, z, stage, combined, degrees, weights = self.n, self.z, self.stage, self.combined, self.degrees, self.weights
        y_stage, add, dot, multiply, capacity = stage[:n], np.add, np.dot, np.multiply, self.rod.capacity
        argument, extra = combined
        over = 1.0 / (h * rb.GAMMA)
        inverse_h = 1.0 / h
        weight = capacity * per_kelvin
        diagonal = diagonal + over * weight
        for d in degrees:
            d.eliminate(over, weight, diagonal)
        solve_cells = _factorised(self.routines, lower, diagonal, upper, self.symmetric)
        crossing: list[tuple[float, float, float]] = []
        error = 0.0
        for i in range(6):
            rhs = U[i]
            cells = rhs[:n]
            if i:
                w = weights[i]
                w[1] = _C[i] * inverse_h
                dot(w, U[:i], combined)
                add(z, argument, stage)
                crossing.append(slope(stage, y_stage, tau + _ALPHA[i] * h, rhs, cells))
                add(rhs, extra, rhs)
            if by_time is not None and _GAMMA_TIME[i]:
                rhs += (h * _GAMMA_TIME[i]) * by_time
            for d in degrees:
                d.reduce(rhs)
            multiply(cells, capacity, cells)
            solve_cells(cells)
            if i == 5:
                error = float(np.abs(cells).max())
            multiply(cells, per_kelvin, cells)
            for d in degrees:
                d.restore(rhs)
        q[1:] = crossing
        last = U[5]
        if degrees:
            error = max(error, float(np.abs(last[n:]).max()) / DEGREE_PER_KELVIN)
        add(stage, last, stage)
        return error

    def _trouble(self, status: Any, t: float, vector: Array) -> Ending:
        """An ending that names the worst cell."""
        size = np.abs(vector[: self.n])
        worst = int(np.argmax(np.where(np.isfinite(size), size, np.inf)))
        return Ending(status, t, float(self.rod.centres[worst]), ADVICE[status])


_C = [rb.C[i, :i].copy() for i in range(6)]
_ALPHA, _GAMMA_TIME = rb.ALPHA.tolist(), rb.GAMMA_TIME.tolist()


def _fitted(h: float, left: float, fixed: float | None) -> float:
    """The step to take: the end of the piece is hit exactly, without a tiny last step."""
    if fixed is not None:
        return left if left < 1.5 * fixed else fixed
    if h >= 0.999 * left:
        return left
    return 0.5 * left if h > 0.5 * left else h


def _factorised(
    lapack: tuple[Any, ...], lower: Array, diagonal: Array, upper: Array, symmetric: bool
) -> Callable[[Array], Any]:
    """Factors of a tridiagonal matrix; returns what solves for a right-hand side in place."""
    if len(diagonal) < 3:  # LAPACK's wrapper wants three rows
        inverse = np.linalg.inv(np.diag(diagonal) + np.diag(lower, -1) + np.diag(upper, 1))

        def small(rhs: Array) -> None:
            rhs[:] = inverse @ rhs

        return small
    dpttrf, dpttrs, dgttrf, dgttrs = lapack
    if symmetric:
        pivots, factors, _ = dpttrf(diagonal, lower)

        def solved_symmetric(rhs: Array) -> None:
            dpttrs(pivots, factors, rhs, overwrite_b=1)

        return solved_symmetric
    dl, d, du, du2, swaps, _ = dgttrf(lower, diagonal, upper)

    def solved(rhs: Array) -> None:
        dgttrs(dl, d, du, du2, swaps, rhs, overwrite_b=1)

    return solved
