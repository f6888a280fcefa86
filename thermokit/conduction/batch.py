"""Thousands of layered bodies at once: the equations and the method of :mod:`thermokit.conduction.single`, case by lane.

Every lane has its own step, clock and place in its sequence of spans; a lane that has finished takes the next case from
the queue. The stage equations are solved for V = temperature increments, in which the matrix of a body with constant
conductivities is symmetric: with C the capacity, b = dT/d(energy), G the conductances of the cells,

    (1/(h g b_i)) V_i + sum_j G_ij (V_i - V_j) = power_i,       energy increment U_i = V_i/b_i

State is the energy of each cell in J per m2 (radian, steradian), so that conduction needs no division.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction import rosenbrock as rb
from thermokit.conduction.lanes import LaneArray, fold, rate_of_cases, unfold
from thermokit.conduction.pieces import expand
from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.conduction.rod import CORNER, UNIT, WHOLE, Tables, assemble
from thermokit.conduction.single import DEGREE_PER_KELVIN, FIRST_STEP, GROWTH, SAFETY

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array, Problem

LANES = 512
BOUND = 1e9  # a prescribed temperature is exchange with it over this many times the half cell's conductance
TOGETHER = 1e5  # the two halves of a middle cell, against the conductance of its neighbours

STATUS = ("finished", "step_too_small", "not_finite")


@dataclass(frozen=True)
class BatchHistory:
    """What a batch gives back; the last axis is always the case.

    end_temperature : (spans, cells, cases) [K] at the end of each span, with end_inner_face, end_outer_face (spans, cases)
    and end_states name -> (spans, cells, cases); temperature (times, cells, cases), inner_face, outer_face (times, cases)
    and states at the times asked for (NaN after a case's end); hottest, coldest (cases,) [K] on the accepted steps, and
    when; entered, left, stored, released, mismatch : (cases,) as in ``HeatBalance``; status (cases,) indexes STATUS.
    """

    centres: Array
    end_temperature: Array
    end_inner_face: Array
    end_outer_face: Array
    end_states: dict[str, Array]
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]
    hottest: Array
    hottest_time: Array
    coldest: Array
    coldest_time: Array
    entered: Array
    left: Array
    stored: Array
    released: Array
    mismatch: Array
    unit: str
    status: Array
    steps: Array


def solve_batch(
    problem: Problem,
    cases: int,
    times: Array | None = None,
    tolerance: float = 0.03,
    lanes: int = LANES,
    progress: Callable[[float], None] | None = None,
) -> BatchHistory:
    """Histories of ``cases`` bodies that differ in any numeric leaf of ``problem`` (arrays of one value a case).

    times : (rows,) or (rows, cases) [s] ascending, default none; tolerance : local error of a step [K] in every lane;
    lanes : how many cases are in flight. Raises ValueError where a leaf has another length.
    """
    return _Batch(problem, cases, times, tolerance, lanes, progress).go()


class _Reacting:
    """One reaction of the batch, on the grid of the whole body."""

    def __init__(self, rate: Any, state: str, mask: Array, heat: Array, start: Array, earlier: list[int], lanes: int):
        self.rate, self.state, self.earlier = rate, state, earlier
        self.mask = mask  # (rows, 2, 1)
        self.whole = bool(np.all(mask))
        self.heat = LaneArray(heat, lanes)  # J per unit of degree, (rows, 2, .)
        self.start = start  # (rows, 2, .)
        self.law = rate


class _Batch:
    def __init__(
        self,
        problem: Problem,
        cases: int,
        times: Array | None,
        tolerance: float,
        lanes: int,
        progress: Callable[[float], None] | None,
    ):
        self.problem, self.cases, self.tolerance, self.progress = problem, cases, tolerance, progress
        self.rod = rod = assemble(problem, cases)
        self.n = n = rod.cells
        self.rows = (n + 1) // 2
        self.L = L = min(lanes, cases)
        self.odd = n % 2 == 1
        self._pieces(L)
        self._body(L)
        self._reactions(L)
        self._outputs(times)
        self._allocate()

    # -- laying out -----------------------------------------------------------------------------------------------

    def _pieces(self, L: int) -> None:
        pieces = expand(self.problem, self.cases)
        self.piece_span = np.array([p.span for p in pieces])
        self.piece_fresh = np.array([p.fresh for p in pieces])
        self.piece_last = np.array([p.last for p in pieces])
        self.prescribed = np.array([p.prescribed for p in pieces])  # (P, 2)
        self.varies = any(p.varies for p in pieces)

        def stacked(name: str) -> Array:
            parts = [getattr(p, name) for p in pieces]
            width = max(p.shape[-1] for p in parts)
            whole = np.stack([np.broadcast_to(p, (*p.shape[:-1], width)) for p in parts])
            return np.ascontiguousarray(np.moveaxis(whole, -1, 1))  # (P, cases | 1, ...)

        self.p_duration = stacked("duration")
        self.p_drive, self.p_linear = stacked("drive"), stacked("linear")
        self.p_quartic, self.p_temperature = stacked("quartic"), stacked("temperature")
        self.p_heat, self.p_factor = stacked("heat"), stacked("factor")
        self.radiates = bool(np.any(self.p_quartic))
        self.heated = bool(np.any(self.p_heat)) or any(s.source is not None for s in self.problem.spans)
        self.drive, self.linear = np.zeros((5, 2, L)), np.zeros((2, 2, L))
        self.quartic = np.zeros((2, L))
        self.source = np.zeros((2, self.rows, 2, L)) if self.heated else None

    def _body(self, L: int) -> None:
        rod = self.rod
        half = np.ones((self.rows, 2, 1))
        if self.odd:
            half[-1] = 0.5
        self.half = half
        self.capacity = LaneArray(fold(rod.capacity) * half, L)
        self.inverse = LaneArray(1.0 / self.capacity.source, L)
        self.volume = LaneArray(fold(rod.volume) * half, L)
        first = np.ascontiguousarray
        half_in, half_out = fold(rod.half_in), fold(rod.half_out)
        self.toward = LaneArray(first(np.stack([half_out[:, 0], half_in[:, 1]], axis=1)), L)
        self.away = LaneArray(first(np.stack([half_in[:, 0], half_out[:, 1]], axis=1)), L)
        joint = rod.joint
        m = self.rows
        width = joint.shape[1]
        inner, outer = joint[: m - 1], joint[::-1][: m - 1]
        self.joint = LaneArray(first(np.stack([inner, outer], axis=1)) if m > 1 else np.zeros((0, 2, width)), L)
        self.joint_middle = LaneArray(np.zeros((1,)) if self.odd else joint[m - 1], L)
        area = [np.broadcast_to(np.atleast_1d(np.asarray(a, float)), (1,) if np.size(a) == 1 else (np.size(a),))
                for a in (rod.area_in, rod.area_out)]  # fmt: skip
        width = max(len(a) for a in area)
        self.area = LaneArray(np.stack([np.broadcast_to(a, (width,)) for a in area]), L)
        self.closed_inner = bool(np.all(area[0] == 0.0))
        self.energy = _LaneTables(rod.energy, L)
        self.two_curves = rod.melting is not None
        if rod.melting is not None and rod.crystallising is not None and rod.share_scale is not None:
            self.melting, self.crystallising = _LaneTables(rod.melting, L), _LaneTables(rod.crystallising, L)
            self.share_scale = LaneArray(fold(rod.share_scale), L)
            self.shift = np.zeros((m, 2, L))
        self.k_const = rod.k is not None
        if rod.k is not None:
            k = fold(rod.k)
            G, Gm, g0 = self._conductances(k, self.toward.source, self.away.source, self.joint.source,
                                           self.joint_middle.source, self.area.source)  # fmt: skip
            self.G, self.G_middle, self.g0 = LaneArray(G, L), LaneArray(Gm, L), LaneArray(g0, L)
            self.G_square = LaneArray(G * G, L)
            total = np.zeros(np.broadcast_shapes(G.shape[-1:], Gm.shape[-1:], (1,)))
            total = np.zeros((m, 2, len(total)))
            total[:-1] += G
            total[1:] += G
            total[-1] += Gm
            self.G_total = LaneArray(total, L)
        else:
            assert rod.conductivity is not None and rod.k_first is not None and rod.k_scale is not None
            self.k_tables = _LaneTables(rod.conductivity, L)
            self.k_first, self.k_scale = LaneArray(fold(rod.k_first), L), LaneArray(fold(rod.k_scale), L)

    def _conductances(self, k: Array, toward: Array, away: Array, joint: Array, joint_middle: Array, area: Array) -> Any:
        """(G (rows-1, 2, .), middle (.), half cells at the faces per m2 (2, .)) for conductivities (rows, 2, .)."""
        G = 1.0 / (toward[:-1] / k[:-1] + away[1:] / k[1:] + joint)
        if self.odd:
            G_middle = TOGETHER * (G[-1].max(axis=0) if len(G) else k[-1, 0] / toward[-1, 0])
        else:
            G_middle = 1.0 / (toward[-1, 0] / k[-1, 0] + toward[-1, 1] / k[-1, 1] + joint_middle)
        with np.errstate(divide="ignore", invalid="ignore"):
            g0 = k[0] / (away[0] * area)
        return G, G_middle, np.where(np.isfinite(g0), g0, 0.0)

    def _reactions(self, L: int) -> None:
        self.reacting: list[_Reacting] = []
        for layer, cells in zip(self.problem.layers, self.rod.slices, strict=True):
            mask = np.zeros((self.n, 1))
            mask[cells] = 1.0
            mine: list[int] = []
            for reaction in layer.reactions:
                rho = np.atleast_1d(np.asarray(layer.medium.density, float))
                heat = np.atleast_1d(np.asarray(reaction.heat, float)) * rho
                folded = fold(mask) * self.half * fold(self.rod.volume) * heat
                start = np.asarray(reaction.start, float)
                profile = np.zeros((self.n, start.shape[-1] if start.ndim else 1))
                profile[cells] = start
                self.reacting.append(
                    _Reacting(reaction.rate, reaction.state, fold(mask), folded, fold(profile), list(mine), L)
                )
                mine.append(len(self.reacting) - 1)
        self.blocks = 1 + len(self.reacting)

    def _outputs(self, times: Array | None) -> None:
        spans, n, N = len(self.problem.spans), self.n, self.cases
        self.times = np.zeros((0, 1)) if times is None else np.asarray(times, float)
        if self.times.ndim == 1:
            self.times = self.times[:, None]
        names = list(dict.fromkeys(r.state for r in self.reacting)) + (["crystalline_share"] if self.two_curves else [])
        rows = len(self.times)
        nan = np.nan
        self.end_T = np.full((spans, n, N), nan)
        self.end_faces = np.full((2, spans, N), nan)
        self.end_states = {name: np.full((spans, n, N), nan) for name in names}
        self.out_T = np.full((rows, n, N), nan)
        self.out_faces = np.full((2, rows, N), nan)
        self.out_states = {name: np.full((rows, n, N), nan) for name in names}
        self.hottest, self.coldest = np.full(N, -np.inf), np.full(N, np.inf)
        self.hottest_time, self.coldest_time = np.zeros(N), np.zeros(N)
        self.heat = np.zeros((5, N))  # entered, left, stored, released, and energy at the start
        self.status = np.zeros(N, np.int8)
        self.steps = np.zeros(N, np.int64)

    def _allocate(self) -> None:
        """Work arrays for the lanes in flight."""
        m, L, K = self.rows, self.L, self.blocks
        if not hasattr(self, "z"):
            self.z = np.zeros((K, m, 2, L))
            self.t, self.tau, self.h = np.zeros(L), np.zeros(L), np.zeros(L)
            self.length, self.before = np.zeros(L), np.zeros((2, L))
            self.case, self.piece = np.zeros(L, np.intp), np.zeros(L, np.intp)
            self.fresh, self.slow = np.zeros(L, bool), np.zeros(L, bool)
            self.next_row = np.zeros(L, np.intp)
            self.faces = np.full((2, L), 300.0)
            self.in_out = np.zeros((2, L))
        self.U = np.zeros((6, K, m, 2, L))
        self.flat = self.U.reshape(6, -1)
        self.combined = np.zeros((2, K, m, 2, L))
        self.combined_flat = self.combined.reshape(2, -1)
        self.stage = np.zeros((K, m, 2, L))
        self.T, self.b = np.zeros((m, 2, L)), np.zeros((m, 2, L))
        self.y, self.index = np.zeros((m, 2, L)), np.zeros((m, 2, L), np.intp)
        self.flow = np.zeros((max(m - 1, 0), 2, L))
        self.V, self.f = np.zeros((m, 2, L)), np.zeros((m, 2, L))
        self.over_b = np.zeros((m, 2, L))
        self.pivot, self.w = np.zeros((m, 2, L)), np.zeros((max(m - 1, 0), 2, L))
        self.wb = self.w if self.k_const else np.zeros_like(self.w)
        self.small = np.zeros((2, L))
        self.rows_V = [self.V[r] for r in range(m)]
        self.rows_w = [self.w[r] for r in range(m - 1)]
        self.rows_wb = [self.wb[r] for r in range(m - 1)]
        self.diagonal = np.zeros((m, 2, L))
        self.q = np.zeros((6, 2, L))

    def _lane_arrays(self) -> list[Any]:
        found: list[Any] = [v for v in vars(self).values() if isinstance(v, LaneArray)]
        found += [v for v in vars(self).values() if isinstance(v, _LaneTables)]
        return found + [r.heat for r in self.reacting]

    # -- lanes ----------------------------------------------------------------------------------------------------

    def _load(self, lanes: Array, cases: Array) -> None:
        """Put new cases into lanes."""
        for array in self._lane_arrays():
            array.load(lanes, cases)
        self.case[lanes] = cases
        rod = self.rod

        def of(x: Array) -> Array:
            return x[..., cases] if x.shape[-1] > 1 else x

        y = fold(of(rod.start))
        capacity = of(self.capacity.source)
        self.z[0][..., lanes] = y * capacity
        if self.two_curves and rod.share_start is not None:
            self.shift[..., lanes] = fold(of(rod.share_start))
        for j, r in enumerate(self.reacting):
            self.z[1 + j][..., lanes] = of(r.start)
        self.t[lanes] = 0.0
        self.piece[lanes] = 0
        self.h[lanes] = 0.0
        self.next_row[lanes] = 0
        self.in_out[:, lanes] = 0.0
        self.heat[4, cases] = np.sum(self.z[0][..., lanes], axis=(0, 1))
        for r in self.reacting:
            r.law = rate_of_cases(r.rate, self.case, self.cases)

    def _enter(self, lanes: Array) -> Array:
        """Begin the current piece of these lanes, passing over empty ones; returns the lanes that have finished."""
        done: list[Array] = []
        active = lanes
        while len(active):
            p, c = self.piece[active], self.case[active]
            out = p >= len(self.piece_span)
            if np.any(out):
                done.append(active[out])
                active, p, c = active[~out], p[~out], c[~out]
                if not len(active):
                    break
            length = self.p_duration[p, c if self.p_duration.shape[1] > 1 else 0]
            empty = length <= 0.0
            if np.any(empty):
                skip = active[empty]
                closing = skip[self.piece_last[self.piece[skip]]]
                if len(closing):
                    self._conditions(closing)
                    self._span_ends(closing)
                self.piece[skip] += 1
            go = active[~empty]
            if len(go):
                self._conditions(go)
                self.length[go] = length[~empty]
                self.tau[go] = 0.0
                self.fresh[go] = self.piece_fresh[self.piece[go]] | (self.h[go] <= 0.0)
                self.slow[go] = False
                self.before[:, go] = 0.0
            active = active[empty]
        return np.concatenate(done) if done else np.zeros(0, np.intp)

    def _conditions(self, lanes: Array) -> None:
        """Faces and sources of the current piece of these lanes."""
        p, c = self.piece[lanes], self.case[lanes]

        def of(x: Array) -> Array:
            return x[p, c if x.shape[1] > 1 else 0]

        self.drive[:, :, lanes] = np.moveaxis(of(self.p_drive), 0, -1).transpose(1, 0, 2)
        self.linear[:, :, lanes] = np.moveaxis(of(self.p_linear), 0, -1).transpose(1, 0, 2)
        self.quartic[:, lanes] = STEFAN_BOLTZMANN * np.moveaxis(of(self.p_quartic), 0, -1)
        held = self.prescribed[p].T
        if np.any(held):
            g = self.g0.now if self.k_const else np.ones((2, 1))
            strong = BOUND * np.broadcast_to(g, (2, self.L))[:, lanes] if self.k_const else np.full((2, len(lanes)), 1e13)
            given = np.moveaxis(of(self.p_temperature), 0, -1).transpose(1, 0, 2)  # (2 powers, faces, lanes)
            for power in range(2):
                self.drive[power][:, lanes] = np.where(held, strong * given[power], self.drive[power][:, lanes])
            self.linear[0][:, lanes] = np.where(held, strong, self.linear[0][:, lanes])
        if self.source is not None:
            heat = of(self.p_heat)  # (lanes, layers, 2)
            volume = np.broadcast_to(self.volume.now, (self.rows, 2, self.L))[..., lanes]
            total = np.zeros((2, self.rows, 2, len(lanes)))
            for j, cells in enumerate(self.rod.slices):
                mask = np.zeros((self.n, 1))
                mask[cells] = 1.0
                total += heat[:, j].T[:, None, None, :] * fold(mask)
            factor = of(self.p_factor)
            for s, span in enumerate(self.problem.spans):
                here = self.piece_span[p] == s
                if span.source is None or not np.any(here):
                    continue
                density = fold(np.atleast_2d(np.asarray(span.source.density, float).T).T)
                density = density[..., c[here]] if density.shape[-1] > 1 else density
                total[..., here] += factor[here].T[:, None, None, :] * density
            self.source[..., lanes] = total * volume

    def _keep(self, lanes: Array) -> None:
        """Go on with these lanes only."""
        for array in self._lane_arrays():
            array.keep(lanes)
        for name in ("t", "tau", "h", "length", "case", "piece", "fresh", "slow", "next_row"):
            setattr(self, name, getattr(self, name)[lanes])
        names = ["z", "before", "faces", "in_out", "drive", "linear", "quartic"]
        names += (["shift"] if self.two_curves else []) + (["source"] if self.heated else [])
        for name in names:
            setattr(self, name, np.ascontiguousarray(getattr(self, name)[..., lanes]))
        self.L = len(lanes)
        for r in self.reacting:
            r.law = rate_of_cases(r.rate, self.case, self.cases)
        self._allocate()

    # -- right-hand side ------------------------------------------------------------------------------------------

    def _temperature(self, energy: Array) -> None:
        """T and b = dT/d(energy coordinate) of the cells."""
        np.multiply(energy, self.inverse.now, out=self.y)
        if not self.two_curves:
            self.energy.read(self.y, self.index, self.T, self.b)
            return
        self.T[...], self.b[...] = self._two_curve_temperature(self.y, self.shift)

    def _two_curve_temperature(self, y: Array, shift: Array) -> tuple[Array, Array]:
        t_rest, b_rest = self.energy(y - shift)
        t_melt, b_melt = self.melting(y)
        t_cool, b_cool = self.crystallising(y)
        cool = t_cool > t_rest
        t, b = np.where(cool, t_cool, t_rest), np.where(cool, b_cool, b_rest)
        melt = t_melt < t
        return np.where(melt, t_melt, t), np.where(melt, b_melt, b)

    def _slope_along(self, direction: Array) -> None:
        """b at corners by the direction in which a cell moves, as in ``Rod.slope_along``."""
        y = self.z[0] * self.inverse.now
        t_rest, b_rest = self.energy(y - self.shift)
        t_melt, b_melt = self.melting(y)
        t_cool, b_cool = self.crystallising(y)
        b = np.where((t_melt < t_rest + CORNER) & (direction > 0.0), b_melt, b_rest)
        self.b[...] = np.where((t_cool > t_rest - CORNER) & (direction < 0.0), b_cool, b)

    def _surfaces(self, g: Array, tau: Array) -> Array:
        """Heat into the body through both faces per m2, (2, lanes); the face temperatures are kept."""
        cell = self.T[0]
        d, l = self.drive, self.linear
        if self.varies:
            drive = d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4])))
            linear = l[0] + tau * l[1]
        else:
            drive, linear = d[0], l[0]
        base = g * cell + drive
        slope = g + linear
        self.slope_now = slope
        if not self.radiates:
            safe = np.where(slope > 0.0, slope, 1.0)
            self.faces = np.where(slope > 0.0, base / safe, cell)
            return g * (self.faces - cell)
        s4 = self.quartic
        safe = slope + (slope <= 0.0)
        base = np.where(slope > 0.0, base, cell)
        face = self.faces
        for _ in range(60):
            cube = s4 * face
            cube *= face
            cube *= face
            top = safe + cube
            top *= face
            top -= base
            cube *= 4.0
            cube += safe
            top /= cube
            face = face - top
            np.abs(top, out=top)
            if not np.any(top > 1e-9):
                break
        self.faces = face
        return g * (face - cell)

    def _power(self, z: Array, tau: Array, out: Array) -> Array:
        """d(state)/dt into ``out`` (blocks, rows, 2, lanes); returns heat into the body through both faces [W] (2, lanes)."""
        self._temperature(z[0])
        T, flow, f = self.T, self.flow, out[0]
        if self.k_const:
            G, G_middle, g0 = self.G.now, self.G_middle.now, self.g0.now
        else:
            k, self.dk = self.k_tables((T - self.k_first.now) * self.k_scale.now + self.k_tables.first.now)
            self.dk = self.dk * self.k_scale.now
            self.k = k
            G, G_middle, g0 = self._conductances(
                k, self.toward.now, self.away.now, self.joint.now, self.joint_middle.now, self.area.now
            )
            self.G_now, self.G_middle_now, self.g0_now = G, G_middle, g0
        q = self._surfaces(g0, tau) * self.area.now
        np.subtract(T[1:], T[:-1], out=flow)
        np.multiply(flow, G, out=flow)
        f[0] = q
        f[1:] = 0.0
        f[:-1] += flow
        f[1:] -= flow
        middle = (T[-1, 1] - T[-1, 0]) * G_middle
        f[-1, 0] += middle
        f[-1, 1] -= middle
        if self.source is not None:
            f += self.source[0]
            if self.varies:
                f += tau * self.source[1]
        for j, r in enumerate(self.reacting):
            rate = r.law.evaluate(T, (*(z[1 + e] for e in r.earlier), z[1 + j]))
            if not r.whole:
                rate = rate * r.mask
            out[1 + j] = rate
            f += r.heat.now * rate
        return q

    # -- one step -------------------------------------------------------------------------------------------------

    def _factor(self, over: Array) -> None:
        """Factorise the matrix of the stage equations for this step; the state is that of the last ``_power`` call."""
        m = self.rows
        b_energy = self.b * self.inverse.now  # K per J
        np.divide(1.0, b_energy, out=self.over_b)  # J per K
        D = self.diagonal
        np.multiply(self.over_b, over, out=D)
        if self.k_const:
            D += self.G_total.now
            left = right = self.G.now
            square = self.G_square.now
            left_m = right_m = self.G_middle.now
            g, extra = self.g0.now, 0.0
        else:
            G, dk, k, T = self.G_now, self.dk, self.k, self.T
            turn = G * G * (T[1:] - T[:-1])
            left = G - turn * self.toward.now[:-1] * dk[:-1] / k[:-1] ** 2
            right = G + turn * self.away.now[1:] * dk[1:] / k[1:] ** 2
            square = left * right
            D[:-1] += left
            D[1:] += right
            Gm = self.G_middle_now
            left_m = right_m = Gm
            if not self.odd:
                turn_m = Gm * Gm * (T[-1, 1] - T[-1, 0])
                left_m = Gm - turn_m * self.toward.now[-1, 0] * dk[-1, 0] / k[-1, 0] ** 2
                right_m = Gm + turn_m * self.toward.now[-1, 1] * dk[-1, 1] / k[-1, 1] ** 2
            D[-1, 0] += left_m
            D[-1, 1] += right_m
            g, extra = self.g0_now, self.g0_now / k[0] * dk[0]
        total = self.slope_now + 4.0 * self.quartic * self.faces**3
        total = total + (total <= 0.0)
        ratio = g / total
        area = self.area.now
        self.q_T = area * (g * (ratio - 1.0) + (self.faces - self.T[0]) * (1.0 - ratio) * extra)
        D[0] -= self.q_T
        if self.varies:
            d, l, tau = self.drive, self.linear, self.tau
            change = d[1] + tau * (2.0 * d[2] + tau * (3.0 * d[3] + tau * 4.0 * d[4])) - self.faces * l[1]
            self.q_t = area * ratio * change
        self._fold_degrees(D, over)
        # elimination from both ends at once
        pivot, w, wb, small = self.pivot, self.w, self.wb, self.small
        np.divide(1.0, D[0], out=pivot[0])
        wide = left.shape[-1] > 1
        for r in range(m - 1):
            np.multiply(square[r], pivot[r], out=small)
            np.subtract(D[r + 1], small, out=small)
            np.divide(1.0, small, out=pivot[r + 1])
        np.multiply(left, pivot[:-1], out=w)
        if wb is not w:
            np.multiply(right, pivot[:-1], out=wb)
        del wide
        d0, d1 = 1.0 / pivot[-1, 0], 1.0 / pivot[-1, 1]
        determinant = 1.0 / (d0 * d1 - left_m * right_m)
        self.middle = (d1 * determinant, right_m * determinant, left_m * determinant, d0 * determinant)

    def _fold_degrees(self, D: Array, over: Array) -> None:
        for j, r in enumerate(self.reacting):
            args = (*(self.z[1 + e] for e in r.earlier), self.z[1 + j])
            _, by_T, by_degree = r.law.linearise(self.T, args)
            if not r.whole:
                by_T = by_T * r.mask
                by_degree = tuple(x * r.mask for x in by_degree)
            *before, own = by_degree
            r.pivot = 1.0 / (over - own)  # type: ignore[attr-defined]
            gain = by_T
            for e, slope in zip(r.earlier, before, strict=True):
                gain = gain + slope * self.reacting[e].gain  # type: ignore[attr-defined]
            r.gain = gain * r.pivot  # type: ignore[attr-defined]
            r.before = before  # type: ignore[attr-defined]
            D -= r.heat.now * r.gain * over  # type: ignore[attr-defined]

    def _solve(self) -> None:
        """V := solution for the right-hand side in V, in place."""
        m, V, w, wb, small = self.rows, self.rows_V, self.rows_w, self.rows_wb, self.small
        multiply, add = np.multiply, np.add
        for r in range(m - 1):
            multiply(V[r], w[r], small)
            add(V[r + 1], small, V[r + 1])
        if m > 1:
            np.multiply(self.V[:-1], self.pivot[:-1], out=self.V[:-1])
        a, bb, c, d = self.middle
        x0, x1 = V[m - 1][0], V[m - 1][1]
        top = a * x0 + bb * x1
        np.add(c * x0, d * x1, out=x1)
        x0[...] = top
        for r in range(m - 2, -1, -1):
            multiply(V[r + 1], wb[r], small)
            add(V[r], small, V[r])

    def _attempt(self) -> tuple[Array, Array, Array]:
        """One step in every lane: (error [K] (lanes,), new state, heat through the faces (2, lanes))."""
        over = 1.0 / (rb.GAMMA * self.h)
        inverse_h = 1.0 / self.h
        self._factor(over)
        z, stage, U, V, q = self.z, self.stage, self.U, self.V, self.q
        crossed = np.zeros((2, self.L))
        weights = _WEIGHTS
        for i in range(6):
            rhs = U[i]
            if i:
                np.matmul(weights[i], self.flat[:i], out=self.combined_flat)
                np.add(z, self.combined[0], out=stage)
                q[i] = self._power(stage, self.tau + rb.ALPHA[i] * self.h if self.varies else self.tau, rhs)
                np.multiply(self.combined[1], inverse_h, out=self.combined[1])
                rhs += self.combined[1]
            if self.varies and rb.GAMMA_TIME[i]:
                share = rb.GAMMA_TIME[i] * self.h
                if self.source is not None:
                    rhs[0] += share * self.source[1]
                rhs[0, 0] += share * self.q_t
            for j, r in enumerate(self.reacting):
                own = rhs[1 + j]
                p = own
                for e, slope in zip(r.earlier, r.before, strict=True):  # type: ignore[attr-defined]
                    p = p + slope * self.reacting[e].offset  # type: ignore[attr-defined]
                r.offset = p = p * r.pivot  # type: ignore[attr-defined]
                rhs[0] += r.heat.now * (p * over - own)
            V[...] = rhs[0]
            self._solve()
            np.multiply(V, self.over_b, out=rhs[0])
            for j, r in enumerate(self.reacting):
                np.multiply(r.gain, V, out=rhs[1 + j])  # type: ignore[attr-defined]
                rhs[1 + j] += r.offset  # type: ignore[attr-defined]
            crossed += rb.QUADRATURE[i] * (q[i] + self.q_T * V[0])
            if self.varies and rb.GAMMA_TIME[i]:
                crossed += rb.QUADRATURE[i] * rb.GAMMA_TIME[i] * self.h * self.q_t
        error = np.maximum(V.max(axis=(0, 1)), -V.min(axis=(0, 1)))
        for j in range(len(self.reacting)):
            size = np.maximum(U[5, 1 + j].max(axis=(0, 1)), -U[5, 1 + j].min(axis=(0, 1)))
            error = np.maximum(error, size / DEGREE_PER_KELVIN)
        np.add(stage, U[5], out=stage)
        return error, stage, crossed * self.h

    def go(self) -> BatchHistory:
        """Run every case."""
        waiting = self.L
        lanes = np.arange(self.L)
        with np.errstate(all="ignore"):
            self._load(lanes, lanes)
            finished = self._enter(lanes)
            while True:
                if len(finished):
                    waiting = self._replace(finished, waiting)
                    if waiting < 0:
                        break
                finished = self._step()
        return self._history()

    def _replace(self, finished: Array, waiting: int) -> int:
        """Finish the cases of these lanes and refill them; -1 when nothing is left to do."""
        while len(finished):
            self._finish(finished)
            count = min(len(finished), self.cases - waiting)
            if self.progress is not None:
                self.progress((waiting - self.L) / self.cases)
            if count < len(finished):
                idle = finished[count:]
                self.case[idle] = -1
            if not count:
                break
            fill = finished[:count]
            self._load(fill, np.arange(waiting, waiting + count))
            waiting += count
            finished = self._enter(fill)
        active = np.flatnonzero(self.case >= 0)
        if not len(active):
            return -1
        # an idle lane is a finished case that marches on; when they are many the work arrays are cut down
        if len(active) <= 0.75 * self.L or len(active) <= 8:
            self._keep(active)
        else:
            idle = np.flatnonzero(self.case < 0)
            if len(idle):
                self._mirror(idle, int(active[0]))
        return waiting

    def _mirror(self, idle: Array, model: int) -> None:
        """Give idle lanes the numbers of a living one, so that they stay harmless."""
        copies = np.full(len(idle), model)
        for array in self._lane_arrays():
            array.load(idle, self.case[copies])
        for name in ("t", "tau", "h", "length", "piece", "fresh", "slow"):
            getattr(self, name)[idle] = getattr(self, name)[model]
        names = ["z", "before", "faces", "drive", "linear", "quartic"]
        names += (["shift"] if self.two_curves else []) + (["source"] if self.heated else [])
        for name in names:
            whole = getattr(self, name)
            whole[..., idle] = whole[..., [model]]

    def _step(self) -> Array:
        """One attempt in every lane; returns the lanes that have come to the end of their last piece."""
        self.q[0] = self._power(self.z, self.tau, self.U[0])
        alive = self.case >= 0
        self._extremes(alive)
        if self.two_curves:
            self._slope_along(self.U[0, 0])
        if np.any(self.fresh):
            slope = np.abs(self.U[0, 0] * self.b * self.inverse.now).max(axis=(0, 1))
            for j in range(len(self.reacting)):
                slope = np.maximum(slope, np.abs(self.U[0, 1 + j]).max(axis=(0, 1)) / DEGREE_PER_KELVIN)
            first = np.where(slope > 0.0, FIRST_STEP * self.tolerance / np.maximum(slope, 1e-300), np.inf)
            self.h = np.where(self.fresh, np.minimum(first, self.length), self.h)
            self.fresh[:] = False
        left = self.length - self.tau
        self.h = np.where(self.h >= 0.999 * left, left, np.where(self.h > 0.5 * left, 0.5 * left, self.h))
        error, new, crossed = self._attempt()
        finite = np.isfinite(error)
        good = finite & (error <= self.tolerance)
        h = self.h
        factor = SAFETY * (self.tolerance / np.maximum(error, 1e-300)) ** 0.25
        h_before, e_before = self.before
        known = (h_before > 0.0) & (e_before > 0.0)
        predictive = factor * (h / np.where(known, h_before, 1.0)) * (e_before / np.maximum(error, 1e-300)) ** 0.25
        onward = np.where(known, np.minimum(factor, predictive), factor)
        grown = h * np.minimum(np.where(self.slow, 1.0, GROWTH), np.maximum(0.2, onward))
        shrunk = h * np.where(finite, np.clip(factor, 0.2, 0.95), 0.2)
        lost = ~good & ((shrunk < 1e-13 * np.maximum(self.t, 1e-6)) | (shrunk < 1e-14 * self.length)) & alive
        ended = self._accept(good & alive, good, h, new, crossed, error)
        self.h = np.where(good, grown, shrunk)
        self.slow = ~good
        if np.any(lost):
            broken = np.flatnonzero(lost)
            self.status[self.case[broken]] = np.where(finite[broken], 1, 2)
            self.piece[broken] = len(self.piece_span)
            ended = np.concatenate([ended, broken])
        if not len(ended):
            return ended
        self.piece[ended] += 1
        return self._enter(ended)

    def _accept(self, good: Array, stepped: Array, h: Array, new: Array, crossed: Array, error: Array) -> Array:
        """Take over the accepted lanes; returns those whose piece is over."""
        if len(self.times):
            self._dense(good, h, new)
        if self.two_curves:
            self._move_share(stepped, new[0])
        if np.all(stepped):
            self.z, self.stage = new, self.z
        else:
            np.copyto(self.z, new, where=stepped)
        self.in_out[0] += np.where(good, np.maximum(crossed, 0.0).sum(axis=0), 0.0)
        self.in_out[1] -= np.where(good, np.minimum(crossed, 0.0).sum(axis=0), 0.0)
        if self.source is not None:
            made = h * (self.source[0].sum(axis=(0, 1)) + self.source[1].sum(axis=(0, 1)) * (self.tau + h / 2))
            self.in_out[0] += np.where(good, np.maximum(made, 0.0), 0.0)
            self.in_out[1] -= np.where(good, np.minimum(made, 0.0), 0.0)
        self.steps[self.case[good]] += 1
        over = good & (self.tau + h >= self.length * (1.0 - 1e-14))
        self.tau = np.where(stepped, self.tau + h, self.tau)
        self.t = np.where(stepped, self.t + h, self.t)
        self.before = np.where(stepped, np.stack([h, error]), self.before)
        ended = np.flatnonzero(over)
        closing = ended[self.piece_last[self.piece[ended]]]
        if len(closing):
            self._span_ends(closing)
        # a lane that mirrors another must not run past its end
        idle = np.flatnonzero((self.case < 0) & (self.tau >= self.length * (1.0 - 1e-14)))
        self.tau[idle] = 0.0
        return ended

    def _move_share(self, stepped: Array, energy: Array) -> None:
        """Crystalline share after the step, as in ``Rod.crystalline_shift``."""
        y = energy * self.inverse.now
        t_rest, _ = self.energy(y - self.shift)
        t, _ = self._two_curve_temperature(y, self.shift)
        resting = self.energy.inverse(t)
        moved = np.where(t != t_rest, np.clip(y - resting, 0.0, self.share_scale.now), self.shift)
        self.shift = np.where(stepped, moved, self.shift)

    # -- keeping --------------------------------------------------------------------------------------------------

    def _extremes(self, alive: Array) -> None:
        """Hottest and coldest at the beginning of the step, faces included."""
        T, faces = self.T, self.faces
        if self.closed_inner:
            faces = faces[1:]
        hot = np.maximum(T.max(axis=(0, 1)), faces.max(axis=0))
        cold = np.minimum(T.min(axis=(0, 1)), faces.min(axis=0))
        self._note(np.flatnonzero(alive), hot, cold, self.t)

    def _note(self, lanes: Array, hot: Array, cold: Array, t: Array) -> None:
        c = self.case[lanes]
        up = hot[lanes] > self.hottest[c]
        self.hottest[c[up]], self.hottest_time[c[up]] = hot[lanes][up], t[lanes][up]
        down = cold[lanes] < self.coldest[c]
        self.coldest[c[down]], self.coldest_time[c[down]] = cold[lanes][down], t[lanes][down]

    def _picture(self, lanes: Array, z: Array, tau: Array) -> tuple[Array, Array, dict[str, Array]]:
        """(T (cells, k), faces (2, k), states) of some lanes at states z (blocks, rows, 2, k)."""
        pick = _Picked(self, lanes)
        T, shift = pick.temperature(z[0])
        faces = pick.faces(T, tau)
        n = self.n
        states: dict[str, Array] = {}
        for j, r in enumerate(self.reacting):
            degree = np.minimum(z[1 + j], 1.0) if r.state.endswith("_degree") else z[1 + j]
            value = np.where(r.mask > 0, degree, np.nan)
            full = unfold(value, n)
            states[r.state] = np.where(np.isnan(full), states[r.state], full) if r.state in states else full
        if shift is not None:
            scale = pick.of(self.share_scale.now)
            states["crystalline_share"] = unfold(np.where(scale > 0, 1.0 - shift / scale, np.nan), n)
        full_T = unfold(T, n)
        if self.closed_inner and n > 1:
            x = self.rod.centres
            x0, x1 = (x[i][self.case[lanes]] if x.shape[1] > 1 else x[i] for i in (0, 1))
            faces[0] = full_T[0] + (full_T[0] - full_T[1]) * x0**2 / (x1**2 - x0**2)
        return full_T, faces, states

    def _span_ends(self, lanes: Array) -> None:
        T, faces, states = self._picture(lanes, self.z[..., lanes], self.length[lanes])
        span, c = self.piece_span[self.piece[lanes]], self.case[lanes]
        self.end_T[span, :, c] = T.T
        for side in range(2):
            self.end_faces[side][span, c] = faces[side]
        for name, value in states.items():
            self.end_states[name][span, :, c] = value.T
        hot, cold = np.full(self.L, -np.inf), np.full(self.L, np.inf)
        hot[lanes] = np.maximum(T.max(axis=0), faces.max(axis=0))
        cold[lanes] = np.minimum(T.min(axis=0), faces.min(axis=0))
        self._note(lanes, hot, cold, self.t)

    def _dense(self, good: Array, h: Array, new: Array) -> None:
        """Rows that fall into this step."""
        times, rows = self.times, len(self.times)
        wide = times.shape[1] > 1
        k1 = k2 = None
        while True:
            row = np.minimum(self.next_row, rows - 1)
            due_time = times[row, self.case if wide else 0]
            due = good & (self.next_row < rows) & (due_time <= (self.t + h) * (1.0 + 1e-12))
            lanes = np.flatnonzero(due)
            if not len(lanes):
                return
            if k1 is None or k2 is None:
                both = (_DENSE @ self.flat).reshape(2, *self.z.shape)
                k1, k2 = both[0], both[1]
            s = np.clip((due_time[lanes] - self.t[lanes]) / h[lanes], 0.0, 1.0)
            z0, z1 = self.z[..., lanes], new[..., lanes]
            z = (1.0 - s) * z0 + s * (z1 + (1.0 - s) * (k1[..., lanes] + s * k2[..., lanes]))
            T, faces, states = self._picture(lanes, z, self.tau[lanes] + s * h[lanes])
            at, c = self.next_row[lanes], self.case[lanes]
            self.out_T[at, :, c] = T.T
            for side in range(2):
                self.out_faces[side][at, c] = faces[side]
            for name, value in states.items():
                self.out_states[name][at, :, c] = value.T
            self.next_row[lanes] += 1

    def _finish(self, lanes: Array) -> None:
        """Heat balance of the cases that these lanes have finished."""
        c = self.case[lanes]
        self.heat[0, c], self.heat[1, c] = self.in_out[0, lanes], self.in_out[1, lanes]
        self.heat[2, c] = np.sum(self.z[0][..., lanes], axis=(0, 1)) - self.heat[4, c]
        for j, r in enumerate(self.reacting):
            start = r.start[..., c] if r.start.shape[-1] > 1 else r.start
            heat = r.heat.now[..., lanes] if not r.heat.shared else r.heat.now
            self.heat[3, c] += np.sum(heat * (self.z[1 + j][..., lanes] - start), axis=(0, 1))

    def _history(self) -> BatchHistory:
        entered, left, stored, released, _ = WHOLE[self.rod.shape] * self.heat
        turned = entered + np.abs(released) + np.abs(stored)
        mismatch = np.abs(entered - left + released - stored) / np.where(turned > 0.0, turned, 1.0)
        return BatchHistory(
            centres=self.rod.centres,
            end_temperature=self.end_T,
            end_inner_face=self.end_faces[0],
            end_outer_face=self.end_faces[1],
            end_states=self.end_states,
            temperature=self.out_T,
            inner_face=self.out_faces[0],
            outer_face=self.out_faces[1],
            states=self.out_states,
            hottest=self.hottest,
            hottest_time=self.hottest_time,
            coldest=self.coldest,
            coldest_time=self.coldest_time,
            entered=entered,
            left=left,
            stored=stored,
            released=released,
            mismatch=mismatch,
            unit=UNIT[self.rod.shape],
            status=self.status,
            steps=self.steps,
        )


_WEIGHTS = [np.stack([rb.A[i, :i], rb.C[i, :i]]) for i in range(6)]
_DENSE = np.stack([rb.DENSE_1, rb.DENSE_2])


class _Picked:
    """Maps of some lanes, for rows and span ends."""

    def __init__(self, batch: _Batch, lanes: Array):
        self.batch, self.lanes = batch, lanes

    def of(self, x: Array) -> Array:
        """The lanes of an array whose last axis is the lane (or shared)."""
        return x[..., self.lanes] if x.shape[-1] > 1 or self.batch.L == 1 else x

    def temperature(self, energy: Array) -> tuple[Array, Array | None]:
        """(T (rows, 2, k), crystalline shift or None)."""
        batch = self.batch
        y = energy * self.of(batch.inverse.now)
        if not batch.two_curves:
            return batch.energy.picked(y, self.lanes)[0], None
        shift = self.of(batch.shift)
        t_rest = batch.energy.picked(y - shift, self.lanes)[0]
        t = np.maximum(t_rest, batch.crystallising.picked(y, self.lanes)[0])
        t = np.minimum(t, batch.melting.picked(y, self.lanes)[0])
        moved = np.clip(y - batch.energy.inverse(t, self.lanes), 0.0, self.of(batch.share_scale.now))
        return t, np.where(t != t_rest, moved, shift)

    def faces(self, T: Array, tau: Array) -> Array:
        """Face temperatures (2, k)."""
        from thermokit.conduction.surface import surface_temperature

        batch, of = self.batch, self.of
        if batch.k_const:
            g = of(batch.g0.now)
        else:
            first = batch.k_tables.of(batch.k_tables.first.now, self.lanes)
            k = batch.k_tables.picked((T - of(batch.k_first.now)) * of(batch.k_scale.now) + first, self.lanes)[0]
            with np.errstate(divide="ignore", invalid="ignore"):
                g = k[0] / (of(batch.away.now)[0] * of(batch.area.now))
            g = np.where(np.isfinite(g), g, 0.0)
        d, l = of(batch.drive), of(batch.linear)
        drive = d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4])))
        linear = l[0] + tau * l[1]
        closed = g + linear <= 0.0  # an inner face that is not there
        quartic = of(batch.quartic) / STEFAN_BOLTZMANN
        faces = surface_temperature(np.where(closed, 1.0, g), T[0], drive, linear, quartic, T[0])
        return np.array(np.broadcast_to(faces, T[0].shape))


class _LaneTables:
    """The tables of the rod on the folded grid, for the lanes in flight."""

    def __init__(self, tables: Tables, lanes: int):
        self.intercept, self.slope = tables.intercept, tables.slope
        self.first, self.last = LaneArray(fold(tables.first), lanes), LaneArray(fold(tables.last), lanes)
        self.single = tables.single
        self.straight = tables.straight

    def load(self, lanes: Array, cases: Array) -> None:
        """Take the tables of ``cases`` into ``lanes``."""
        self.first.load(lanes, cases)
        self.last.load(lanes, cases)

    def keep(self, lanes: Array) -> None:
        """Only these lanes go on."""
        self.first.keep(lanes)
        self.last.keep(lanes)

    def read(self, y: Array, index: Array, value: Array, slope: Array) -> None:
        """Value and slope at coordinates y, into given arrays; ``index`` is work space."""
        if self.straight:
            slope[...] = self.slope[self.first.now]
            np.multiply(slope, y, out=value)
            value += self.intercept[self.first.now]
            return
        np.copyto(index, y, casting="unsafe")
        if not self.single:
            np.maximum(index, self.first.now, out=index)
            np.minimum(index, self.last.now, out=index)
        self.slope.take(index, out=slope, mode="clip")
        self.intercept.take(index, out=value, mode="clip")
        value += slope * y

    def __call__(self, y: Array) -> tuple[Array, Array]:
        """(value, slope) at coordinates of all lanes."""
        i = np.clip(y.astype(np.intp), self.first.now, self.last.now)
        slope = self.slope[i]
        return self.intercept[i] + slope * y, slope

    @staticmethod
    def of(x: Array, lanes: Array) -> Array:
        """Some lanes of a table's bounds."""
        return x[..., lanes] if x.shape[-1] > 1 else x

    def picked(self, y: Array, lanes: Array) -> tuple[Array, Array]:
        """(value, slope) at coordinates of some lanes."""
        i = np.clip(y.astype(np.intp), self.of(self.first.now, lanes), self.of(self.last.now, lanes))
        slope = self.slope[i]
        return self.intercept[i] + slope * y, slope

    def inverse(self, value: Array, lanes: Array | None = None) -> Array:
        """Coordinates at which the tables give a value."""
        from thermokit.conduction.rod import coordinate_of

        first = self.first.now if lanes is None else self.of(self.first.now, lanes)
        last = self.last.now if lanes is None else self.of(self.last.now, lanes)
        shape = value.shape
        tables = Tables(self.intercept, self.slope, np.broadcast_to(first, shape), np.broadcast_to(last, shape))
        return coordinate_of(tables, value)
