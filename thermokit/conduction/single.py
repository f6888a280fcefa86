"""One layered body through its spans: transient conduction, d(H)/dt = div(k grad T) + sources, per cell

    C_i dy_i/dt = sum_j G_ij (T_j - T_i) + A q_face + V_i (heat + sum_r rho H_r d(degree_r)/dt),   T_i = T(y_i)
    d(degree_r)/dt = rate_r(T, degrees)

with the energy coordinate y as state (:mod:`thermokit.conduction.enthalpy`), conductances G of the cells of
:mod:`thermokit.conduction.rod`, faces of :mod:`thermokit.conduction.surface`, stepped by Rodas4P
(:mod:`thermokit.conduction.rosenbrock`) with the exact tridiagonal Jacobian; degrees are eliminated cell by cell, in the
order of their layer. The error of a step is held below ``tolerance`` in kelvin (largest cell), that of a degree below
``tolerance/100 K``. The solver restarts at every change of faces. Heat through the faces is integrated by the same scheme.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction import rosenbrock as rb
from thermokit.conduction.history import Ending, History
from thermokit.conduction.pieces import Piece, expand
from thermokit.conduction.record import Recorder
from thermokit.conduction.rod import Rod, assemble
from thermokit.conduction.surface import ScalarFace

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.problem import Array, Problem, Reaction
    from thermokit.conduction.watch import Watch

DEGREE_PER_KELVIN = 1.0 / 100.0
FIRST_STEP = 30.0  # tolerances that the fastest cell may move in the first step after a switch
SAFETY = 0.9
GROWTH = 6.0
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
    return h * min(1.0 if slow else GROWTH, max(0.2, factor))


class _Degree:
    """One reaction of the run: where it lives in the state vector and its couplings."""

    def __init__(self, reaction: Reaction, cells: slice, place: slice, earlier: list[int], kappa: Array | float):
        self.reaction = reaction
        self.evaluate = reaction.rate.evaluate
        self.linearise = reaction.rate.linearise
        self.cells = cells
        self.place = place
        self.earlier = earlier  # indices of the degrees of the same layer that stand before it
        self.kappa = kappa  # heat of reaction per unit of the energy coordinate
        self.gain: Any = None  # d(degree)/dy of the eliminated stage
        self.pivot: Any = None
        self.from_earlier: list[Any] = []


def degrees_of(problem: Problem, rod: Rod) -> list[_Degree]:
    """The reactions of all layers, laid behind the cells in one state vector."""
    out: list[_Degree] = []
    place = rod.cells
    for layer, cells in zip(problem.layers, rod.slices, strict=True):
        mine: list[int] = []
        for reaction in layer.reactions:
            size = cells.stop - cells.start
            kappa = reaction.heat / rod.spacing[cells]
            out.append(_Degree(reaction, cells, slice(place, place + size), list(mine), kappa))
            mine.append(len(out) - 1)
            place += size
    return out


class _Run:
    def __init__(
        self,
        problem: Problem,
        times: Array | None,
        tolerance: float,
        watches: Sequence[Watch],
        progress: Callable[[float], None] | None,
    ):
        self.problem = problem
        self.rod = rod = assemble(problem)
        self.pieces = expand(problem)
        self.tolerance = tolerance
        self.progress = progress
        self.total = float(sum(p.duration[0] for p in self.pieces))
        n = rod.cells
        self.degrees = degrees_of(problem, rod)
        self.size = n + sum(d.place.stop - d.place.start for d in self.degrees)
        self.z = np.empty(self.size)
        self.z[:n] = rod.start
        for d in self.degrees:
            self.z[d.place] = d.reaction.start
        self.shift = rod.share_start
        self.inner = ScalarFace(0, float(rod.area_in), 300.0)
        self.outer = ScalarFace(1, float(rod.area_out), 300.0)
        with np.errstate(divide="ignore"):
            self.inner_half, self.outer_half = float(rod.half_in[0]), float(rod.half_out[-1])
        self.inverse = 1.0 / rod.capacity
        self.recorder = Recorder(problem, rod, self.pieces, self.degrees, times, watches, BUFFER)
        self._allocate(n)

    def _allocate(self, n: int) -> None:
        self.flow = np.zeros(n + 1)  # heat that crosses each cell edge towards the inner side
        self.T = np.empty(n)
        self.b = np.empty(n)
        self.index = np.empty(n, np.intp)
        self.ta = np.empty(n)
        self.stage = np.empty(self.size)
        self.combined = np.empty((2, self.size))
        rod = self.rod
        energy = rod.energy
        self.straight = energy.straight and rod.melting is None
        self.clip = not energy.single
        if self.straight:
            self.b[:] = energy.slope[energy.first]
            self.ta[:] = energy.intercept[energy.first]
        if rod.k is not None:
            self.G = 1.0 / (rod.half_out[:-1] / rod.k[:-1] + rod.half_in[1:] / rod.k[1:] + rod.joint)
            self._surfaces(float(rod.k[0]), float(rod.k[-1]))
            self._constant_jacobian()
        self.k_const = rod.k is not None

    def _surfaces(self, k_first: float, k_last: float) -> None:
        inner, outer = self.inner, self.outer
        inner.g = k_first / (self.inner_half * inner.area) if inner.area else 0.0
        outer.g = k_last / (self.outer_half * outer.area)

    def _constant_jacobian(self) -> None:
        g, inv = self.G, self.inverse
        self.lower = -g * inv[1:]
        self.upper = -g * inv[:-1]
        total = np.zeros(len(inv))
        total[:-1] += g
        total[1:] += g
        self.diagonal = total * inv

    # -- right-hand side -------------------------------------------------------------------------------------------

    def _temperature(self, y: Array) -> None:
        """T and b = dT/dy of the cells at energy coordinates y."""
        T, b = self.T, self.b
        if self.straight:
            np.multiply(b, y, out=T)
            np.add(T, self.ta, out=T)
            return
        if self.shift is not None:
            T[:], b[:] = self.rod.temperature(y, self.shift)
            return
        energy, index = self.rod.energy, self.index
        np.copyto(index, y, casting="unsafe")
        if self.clip:
            np.maximum(index, energy.first, out=index)
            np.minimum(index, energy.last, out=index)
        energy.slope.take(index, out=b, mode="clip")
        energy.intercept.take(index, out=self.ta, mode="clip")
        np.multiply(b, y, out=T)
        np.add(T, self.ta, out=T)

    def _slope(self, z: Array, tau: float, out: Array) -> tuple[float, float]:
        """f(t, z) into ``out``; returns the heat through the inner and outer face, area included."""
        n = self.n
        T = self.T
        self._temperature(z[:n])
        flow = self.flow
        middle = flow[1:-1]
        np.subtract(T[1:], T[:-1], out=middle)
        if self.k_const:
            np.multiply(middle, self.G, out=middle)
        else:
            k, self.dk = self.rod.conductivity_at(T)
            self.k_now = k
            self.G = 1.0 / (self.rod.half_out[:-1] / k[:-1] + self.rod.half_in[1:] / k[1:] + self.rod.joint)
            self.difference = middle.copy()
            np.multiply(middle, self.G, out=middle)
            self._surfaces(float(k[0]), float(k[-1]))
        inner, outer = self.inner, self.outer
        q_in = inner.area * inner.flux(float(T[0]), tau) if inner.area else 0.0
        q_out = outer.area * outer.flux(float(T[-1]), tau)
        flow[0] = -q_in
        flow[-1] = q_out
        f = out[:n]
        np.subtract(flow[1:], flow[:-1], out=f)
        np.multiply(f, self.inverse, out=f)
        if self.sources is not None:
            f += self.sources[0]
            if self.varies:
                f += tau * self.sources[1]
        for d in self.degrees:
            r = d.evaluate(T[d.cells], (*(z[self.degrees[j].place] for j in d.earlier), z[d.place]))
            out[d.place] = r
            f[d.cells] += d.kappa * r
        return q_in, q_out

    def _enter(self, piece: Piece) -> None:
        self.inner.enter(piece)
        self.outer.enter(piece)
        self.varies = piece.varies
        rod = self.rod
        source = np.zeros((2, rod.cells))
        for heat, cells in zip(piece.heat[:, :, 0], rod.slices, strict=True):
            source[:, cells] += heat[:, None]
        span = self.problem.spans[piece.span]
        if span.source is not None:
            source += piece.factor[:, :1] * span.source.density
        source *= rod.volume
        self.power = source.sum(axis=1)
        self.sources = source * self.inverse if np.any(source) else None

    # -- one step -------------------------------------------------------------------------------------------------

    def _jacobian(self, z: Array, tau: float) -> tuple[Array, Array, Array, Array | None]:
        """(lower, diagonal, upper) of -J for the cells alone and df/dt, at the state of the last ``_slope`` call."""
        b = self.b
        if self.k_const:
            lower, upper, diagonal = self.lower * b[:-1], self.upper * b[1:], self.diagonal * b
            extra_in = extra_out = 0.0
        else:
            inv, rod, G, k = self.inverse, self.rod, self.G, self.k_now
            turn = G * G * self.difference
            # heat from cell i+1 to cell i moves with the conductivity of both
            with_left = -G + turn * rod.half_out[:-1] * self.dk[:-1] / k[:-1] ** 2
            with_right = G + turn * rod.half_in[1:] * self.dk[1:] / k[1:] ** 2
            lower = with_left * inv[1:] * b[:-1]
            upper = -with_right * inv[:-1] * b[1:]
            diagonal = np.zeros(len(b))
            diagonal[:-1] -= with_left
            diagonal[1:] += with_right
            diagonal *= inv * b
            extra_in = self.inner.g / float(k[0]) * float(self.dk[0])
            extra_out = self.outer.g / float(k[-1]) * float(self.dk[-1])
        inner, outer = self.inner, self.outer
        time_slope: Array | None = np.zeros(self.size) if self.varies else None
        self.in_y = self.in_t = 0.0
        if inner.area:
            dq, dg, dt = inner.slopes(float(self.T[0]), tau)
            self.in_y = inner.area * (dq + dg * extra_in) * float(b[0])
            self.in_t = inner.area * dt
            diagonal[0] -= self.in_y * self.inverse[0]
        dq, dg, dt = outer.slopes(float(self.T[-1]), tau)
        self.out_y = outer.area * (dq + dg * extra_out) * float(b[-1])
        self.out_t = outer.area * dt
        diagonal[-1] -= self.out_y * self.inverse[-1]
        if time_slope is not None:
            if self.sources is not None:
                time_slope[: self.n] += self.sources[1]
            time_slope[0] += self.in_t * self.inverse[0]
            time_slope[self.n - 1] += self.out_t * self.inverse[-1]
        return lower, diagonal, upper, time_slope

    def _linearise_degrees(self, z: Array) -> None:
        for d in self.degrees:
            earlier = [self.degrees[j] for j in d.earlier]
            args = (*(z[e.place] for e in earlier), z[d.place])
            _, by_temperature, by_degree = d.linearise(self.T[d.cells], args)
            d.by_energy = by_temperature * self.b[d.cells]  # type: ignore[attr-defined]
            d.by_degree = by_degree  # type: ignore[attr-defined]

    def _eliminate(self, diagonal: Array, over: float) -> None:
        """Fold the degrees into the diagonal: A_j = p_j + gain_j U."""
        for d in self.degrees:
            *before, own = d.by_degree  # type: ignore[attr-defined]
            d.pivot = 1.0 / (over - own)
            gain = d.by_energy  # type: ignore[attr-defined]
            for j, slope in zip(d.earlier, before, strict=True):
                gain = gain + slope * self.degrees[j].gain
            d.gain = gain * d.pivot
            d.from_earlier = before
            diagonal[d.cells] -= d.kappa * d.gain * over

    def go(self, fixed: int | None) -> History:
        """Run all pieces; with ``fixed`` equal steps a span."""
        from scipy.linalg.lapack import dgttrf, dgttrs

        self.n = n = self.rod.cells
        small = n < 3  # LAPACK's wrapper wants three rows
        z, stage, combined = self.z, self.stage, self.combined
        record, degrees, tolerance = self.recorder, self.degrees, self.tolerance
        weights = np.zeros((6, 2, 6))
        alpha, gamma_time = rb.ALPHA.tolist(), rb.GAMMA_TIME.tolist()
        weights[:, 0] = rb.A
        t = 0.0
        h = 0.0
        ending: Ending | None = None
        accepted = rejected = 0
        begun = 0.0
        try:
            with np.errstate(all="ignore"):
                for number, piece in enumerate(self.pieces):
                    length = float(piece.duration[0])
                    if length <= 0.0:
                        if piece.last:
                            record.flush(span_end=piece.span)
                        continue
                    self._enter(piece)
                    tau = 0.0
                    slow = False
                    before = (0.0, 0.0)
                    fresh = piece.fresh or h == 0.0
                    if piece.fresh:
                        self.inner.temperature = self.outer.temperature = 300.0
                    while tau < length:
                        U, q = record.space()
                        q[0] = self._slope(z, tau, U[0])
                        if fresh:
                            fastest = float(np.max(np.abs(U[0, :n] * self.b)))
                            if degrees:
                                fastest = max(fastest, float(np.max(np.abs(U[0, n:]))) / DEGREE_PER_KELVIN)
                            h = min(length, FIRST_STEP * tolerance / fastest) if fastest > 0.0 else length
                            if not np.isfinite(h):
                                ending = self._trouble("not_finite", t, U[0])
                                break
                            fresh = False
                        if self.shift is not None:
                            self.b[:] = self.rod.slope_along(z[:n], self.shift, U[0, :n])
                        lower0, diagonal0, upper0, time_slope = self._jacobian(z, tau)
                        if degrees:
                            self._linearise_degrees(z)
                        b = self.b if self.straight else self.b.copy()
                        first_slope = U[0].copy()
                        in_y, out_y, in_t, out_t = self.in_y, self.out_y, self.in_t, self.out_t
                        while True:
                            left = length - tau
                            if fixed is not None:
                                h = length / fixed
                                if left < 1.5 * h:
                                    h = left
                            elif h >= 0.999 * left:
                                h = left
                            elif h > 0.5 * left:
                                h = 0.5 * left
                            over = 1.0 / (h * rb.GAMMA)
                            diagonal = diagonal0 + over
                            if degrees:
                                self._eliminate(diagonal, over)
                            if small:
                                inverse = np.linalg.inv(np.diag(diagonal) + np.diag(lower0, -1) + np.diag(upper0, 1))
                            else:
                                dl, dd, du, du2, pivots, _ = dgttrf(lower0, diagonal, upper0)
                            weights[:, 1] = rb.C / h
                            for i in range(6):
                                rhs = U[i]
                                if i:
                                    np.matmul(weights[i, :, :i], U[:i], out=combined)
                                    np.add(z, combined[0], out=stage)
                                    q[i] = self._slope(stage, tau + alpha[i] * h, rhs)
                                    np.add(rhs, combined[1], out=rhs)
                                if time_slope is not None and gamma_time[i]:
                                    rhs += (h * gamma_time[i]) * time_slope
                                for d in degrees:
                                    own = rhs[d.place]
                                    p = own
                                    for j, slope in zip(d.earlier, d.from_earlier, strict=True):
                                        p = p + slope * degrees[j].offset  # type: ignore[attr-defined]
                                    d.offset = p = p * d.pivot  # type: ignore[attr-defined]
                                    rhs[d.cells] += d.kappa * (p * over - own)
                                if small:
                                    rhs[:n] = inverse @ rhs[:n]
                                else:
                                    dgttrs(dl, dd, du, du2, pivots, rhs[:n], overwrite_b=1)
                                for d in degrees:
                                    rhs[d.place] = d.offset + d.gain * rhs[d.cells]  # type: ignore[attr-defined]
                            error = float(np.max(np.abs(U[5, :n] * b)))
                            if degrees:
                                error = max(error, float(np.max(np.abs(U[5, n:]))) / DEGREE_PER_KELVIN)
                            if fixed is not None or error <= tolerance:
                                break
                            rejected += 1
                            slow = True
                            finite = error < float("inf")
                            h *= max(0.2, 0.9 * (tolerance / error) ** 0.25) if finite else 0.2
                            if h < 1e-13 * max(t, 1e-6) or h < 1e-14 * length:
                                ending = self._trouble("step_too_small" if finite else "not_finite", t, U[5])
                                break
                            U[0] = first_slope
                        if ending is not None:
                            break
                        new = stage + U[5]
                        last = tau + h >= length * (1.0 - 1e-14)
                        record.step(number, t, tau, h, z, new, self.shift, (in_y, out_y, in_t, out_t), self.power)
                        accepted += 1
                        tau = length if last else tau + h
                        t = begun + tau
                        if self.shift is not None:
                            self.shift = self.rod.crystalline_shift(new[:n], self.shift)
                        z[:] = new
                        h, before = next_step(h, error, tolerance, before, slow), (h, error)
                        slow = False
                        if record.full:
                            record.flush()
                            if self.progress is not None:
                                self.progress(t / self.total if self.total else 1.0)
                    if ending is not None:
                        break
                    begun += length
                    if piece.last:
                        record.flush(span_end=piece.span)
        except KeyboardInterrupt:
            ending = Ending("interrupted", t, None, "stopped by the user; the rows up to here are kept")
        record.flush()
        if ending is None:
            ending = Ending("finished", t)
        return record.history(ending, accepted, rejected)

    def _trouble(self, status: Any, t: float, vector: Array) -> Ending:
        """An ending that names the worst cell."""
        size = np.abs(vector[: self.n])
        worst = int(np.argmax(np.where(np.isfinite(size), size, np.inf)))
        advice = (
            "a value is not finite: look at the inputs of the layer there for a wrong unit"
            if status == "not_finite"
            else "the step became too small to go on: look for a jump in a property or a rate far outside its range there"
        )
        return Ending(status, t, float(self.rod.centres[worst]), advice)
