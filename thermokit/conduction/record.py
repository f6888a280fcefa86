"""What to save, kept apart from how to step: rows, span ends, extremes, crossings and the heat balance of a single run.

The stepper leaves each accepted step (state, stages, heat through the faces) in a buffer; here they are turned into rows
all at once by the dense output of the method, so that saving costs a fraction of stepping.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction import rosenbrock as rb
from thermokit.conduction.history import Ending, Extreme, HeatBalance, History, SpanEnd, mismatch_of
from thermokit.conduction.rod import UNIT, WHOLE, at_joint, joints_of
from thermokit.conduction.surface import surface_temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.pieces import Piece
    from thermokit.conduction.problem import Array, Problem
    from thermokit.conduction.rod import Rod
    from thermokit.conduction.watch import Watch

SAMPLES = np.array([0.0, 0.5, 1.0])  # where a step is looked at for extremes and crossings
FINE = 33
ALIKE = 2e-3  # K, temperatures that count as the same when extremes are placed
_DENSE = np.stack([rb.DENSE_1, rb.DENSE_2])


def default_times(durations: Sequence[float], rows: int = 200) -> Array:
    """About ``rows`` equal steps over the run, and the end of every span."""
    ends = np.cumsum(durations)
    return np.unique(np.concatenate([np.linspace(0.0, ends[-1], rows + 1), ends]))


class Recorder:
    """Collects the accepted steps of one run and makes its :class:`History`."""

    def __init__(
        self,
        problem: Problem,
        rod: Rod,
        pieces: list[Piece],
        degrees: Any,
        times: Array | None,
        watches: Sequence[Watch],
        capacity: int,
    ):
        self.problem, self.rod, self.pieces, self.degrees = problem, rod, pieces, degrees
        durations = [float(span.duration) for span in problem.spans]
        self.times = default_times(durations) if times is None else np.asarray(times, float)
        self.watches = list(watches)
        n = rod.cells
        size = n + sum(d.place.stop - d.place.start for d in degrees)
        self.n, self.count = n, 0
        self.U = np.empty((capacity, 6, size))
        self.q = np.empty((capacity, 6, 3))
        self.z0, self.z1 = np.empty((capacity, size)), np.empty((capacity, size))
        self.shift = np.empty((capacity, n)) if rod.share_start is not None else None
        self.clock = np.empty((capacity, 3))  # t, tau, h
        self.slopes = np.empty((capacity, 4))
        self.power = np.empty((capacity, 2))
        # of heat given off in depth, by the energy of each cell
        emits = any(span.emission is not None for span in problem.spans)
        self.depth_slopes = np.zeros((capacity, n)) if emits else None
        # places that count for extremes: faces and cells of the layers that do, all where none does (a tool by itself)
        counts = np.concatenate([np.full(layer.cells, layer.counts) for layer in problem.layers])
        counts = np.concatenate([counts[:1], counts, counts[-1:]])
        self.counted = None if np.all(counts) or not np.any(counts) else np.flatnonzero(counts)
        self.joints = joints_of(problem.layers) if self.counted is not None else []
        self.piece = np.empty(capacity, np.intp)
        self.depth = np.concatenate([[0.0], rod.centres, [rod.edges[-1]]])
        self.seen_depth = self.depth
        if self.counted is not None:
            self.seen_depth = np.concatenate([self.depth[self.counted], [rod.edges[i + 1] for i, _ in self.joints]])
        self.drive = np.stack([p.drive[:, :, 0] for p in pieces])
        self.linear = np.stack([p.linear[:, :, 0] for p in pieces])
        self.quartic = np.stack([p.quartic[:, 0] for p in pieces])
        self.given = np.stack([p.temperature[:, :, 0] for p in pieces])
        self.prescribed = np.array([p.prescribed for p in pieces])
        self.spans = np.array([p.span for p in pieces])
        self.next_row = 0
        self.rows: dict[str, list[Array]] = {k: [] for k in ("time", "span", "profile", "z", "shift")}
        self.ends: list[SpanEnd] = []
        self.crossings: dict[str, float | None] = {w.name: None for w in watches}
        self.hottest: Extreme | None = None
        self.coldest: Extreme | None = None
        self.span_hottest: Extreme | None = None
        self.span_coldest: Extreme | None = None
        self.heat = {"in": 0.0, "out": 0.0}
        self.start: Array | None = None
        self.last_z: Array | None = None
        self.last_time = 0.0
        self.last_profile: Array | None = None
        self.last_shift: Array | None = rod.share_start

    @property
    def full(self) -> bool:
        """True when the buffer must be flushed before the next step."""
        return self.count == len(self.clock)

    @property
    def time_reached(self) -> float:
        """Time of the last accepted step [s]."""
        return float(self.clock[self.count - 1, 0] + self.clock[self.count - 1, 2]) if self.count else self.last_time

    def space(self) -> tuple[Array, Array]:
        """(stages (6, size), heat through the faces and out of the depth (6, 3)) of the next step, to be filled in place."""
        return self.U[self.count], self.q[self.count]

    def step(
        self,
        piece: int,
        t: float,
        tau: float,
        h: float,
        z0: Array,
        z1: Array,
        shift: Array | None,
        slopes: tuple[float, float, float, float],
        power: Array,
        depth: Array | None,
    ) -> None:
        """Keep an accepted step."""
        m = self.count
        if self.depth_slopes is not None:
            self.depth_slopes[m] = 0.0 if depth is None else depth
        self.z0[m], self.z1[m] = z0, z1
        self.clock[m] = t, tau, h
        self.slopes[m] = slopes
        self.power[m] = power
        self.piece[m] = piece
        if self.shift is not None and shift is not None:
            self.shift[m] = shift
        self.count = m + 1

    # -- dense output ---------------------------------------------------------------------------------------------

    def _states(self, step: Array, s: Array) -> Array:
        """State vectors (rows, size) at shares s (rows,) of steps (rows,)."""
        share = s[:, None]
        k1, k2 = self.k1[step], self.k2[step]
        dense = (1.0 - share) * self.z0[step] + share * (self.z1[step] + (1.0 - share) * (k1 + share * k2))
        return np.asarray(dense)

    def _profiles(self, step: Array, s: Array, z: Array) -> Array:
        """Temperatures (rows, cells + 2) from the inner to the outer face."""
        shift = self.shift[step] if self.shift is not None else None
        T, _ = self.rod.temperature(z[:, : self.n], shift)
        tau = self.clock[step, 1] + s * self.clock[step, 2]
        return self._with_faces(T, self.piece[step], tau)

    def _with_faces(self, T: Array, piece: Array, tau: Array) -> Array:
        rod = self.rod
        if rod.k is not None:
            k_in, k_out = rod.k[0], rod.k[-1]
        else:
            k, _ = rod.conductivity_at(T)
            k_in, k_out = k[:, 0], k[:, -1]
        out = np.empty((len(T), self.n + 2))
        out[:, 1:-1] = T
        for side, k, half, area in ((0, k_in, rod.half_in[0], rod.area_in), (1, k_out, rod.half_out[-1], rod.area_out)):
            cell = T[:, 0] if side == 0 else T[:, -1]
            if area == 0.0:
                x = rod.centres
                out[:, 0] = T[:, 0] + (T[:, 0] - T[:, 1]) * x[0] ** 2 / (x[1] ** 2 - x[0] ** 2) if self.n > 1 else cell
                continue
            c = self.drive[piece, side].T
            drive = c[0] + tau * (c[1] + tau * (c[2] + tau * (c[3] + tau * c[4])))
            linear = self.linear[piece, side, 0] + tau * self.linear[piece, side, 1]
            face = surface_temperature(k / (half * area), cell, drive, linear, self.quartic[piece, side], cell)
            given = self.given[piece, side, 0] + tau * self.given[piece, side, 1]
            out[:, -1 if side else 0] = np.where(self.prescribed[piece, side], given, face)
        return out

    # -- flushing -------------------------------------------------------------------------------------------------

    def flush(self, span_end: int | None = None) -> None:
        """Turn the buffered steps into rows, extremes, crossings and heat; note the end of a span."""
        m = self.count
        if m:
            with np.errstate(all="ignore"):
                both = np.matmul(_DENSE, self.U[:m])
                self.k1, self.k2 = both[:, 0], both[:, 1]
                if self.start is None:
                    self.start = self.z0[0].copy()
                self._heat(m)
                # rows and samples are evaluated together: one pass over many short arrays costs as much as over few
                row_step, row_share, wanted = self._wanted(m)
                step = np.concatenate([row_step, np.repeat(np.arange(m), len(SAMPLES))])
                share = np.concatenate([row_share, np.tile(SAMPLES, m)])
                z = self._states(step, share)
                profile = self._profiles(step, share, z)
                rows = len(wanted)
                self._keep(wanted, row_step, z[:rows], profile[:rows])
                self._look(step[rows:], share[rows:], profile[rows:])
            self.last_z = self.z1[m - 1].copy()
            self.last_time = float(self.clock[m - 1, 0] + self.clock[m - 1, 2])
            if span_end is not None:  # not the sum of all steps, which carries their round-off
                self.last_time = float(sum(p.duration[0] for p in self.pieces[: self.piece[m - 1] + 1]))
            self.last_shift = self._shift_after(m - 1)
            self.count = 0
        if span_end is not None:
            self._end_span(span_end)

    def _shift_after(self, step: int) -> Array | None:
        if self.shift is None:
            return None
        return self.rod.crystalline_shift(self.z1[step, : self.n], self.shift[step])

    def _heat(self, m: int) -> None:
        """Heat through the faces by the scheme's own quadrature, and from sources."""
        h = self.clock[:m, 2]
        ends = np.stack([self.U[:m, :, 0], self.U[:m, :, self.n - 1]], axis=2)
        by_y, by_t = self.slopes[:m, None, :2], self.slopes[:m, None, 2:]
        rate = self.q[:m].copy()
        rate[:, :, :2] += by_y * ends + by_t * (h[:, None, None] * rb.GAMMA_TIME[None, :, None])
        if self.depth_slopes is not None:
            rate[:, :, 2] += np.matmul(self.U[:m, :, : self.n], self.depth_slopes[:m, :, None])[..., 0]
        crossed = h[:, None] * np.einsum("i,mif->mf", rb.QUADRATURE, rate)
        made = h * (self.power[:m, 0] + self.power[:m, 1] * (self.clock[:m, 1] + h / 2))
        for part in (crossed, made):
            self.heat["in"] += float(part[part > 0].sum())
            self.heat["out"] -= float(part[part < 0].sum())

    def _wanted(self, m: int) -> tuple[Array, Array, Array]:
        """(step, share of it, time) of the rows that fall into the buffered steps."""
        begin, h = self.clock[:m, 0], self.clock[:m, 2]
        end = begin + h
        stop = int(np.searchsorted(self.times, end[-1] * (1.0 + 1e-12), side="right"))
        wanted = self.times[self.next_row : stop]
        self.next_row = stop
        step = np.minimum(np.searchsorted(end, wanted * (1.0 - 1e-12), side="left"), m - 1)
        return step, np.clip((wanted - begin[step]) / h[step], 0.0, 1.0), wanted

    def _keep(self, wanted: Array, step: Array, z: Array, profile: Array) -> None:
        """Store rows."""
        if not len(wanted):
            return
        self.rows["time"].append(wanted)
        self.rows["span"].append(self.spans[self.piece[step]])
        self.rows["profile"].append(profile)
        self.rows["z"].append(z)
        if self.shift is not None:
            shift = self.shift[step].copy()
            for r in range(len(step)):
                shift[r] = self.rod.crystalline_shift(z[r, : self.n], shift[r])
            self.rows["shift"].append(shift)

    def _sample(self, step: Array, s: Array) -> tuple[Array, Array]:
        """(times, profiles) at shares of steps."""
        z = self._states(step, s)
        return self.clock[step, 0] + s * self.clock[step, 2], self._profiles(step, s, z)

    def _look(self, step: Array, s: Array, profile: Array) -> None:
        """Extremes and crossings of the buffered steps, from samples of them."""
        time = self.clock[step, 0] + s * self.clock[step, 2]
        self.last_profile = profile[-1]
        for name, sign in (("hottest", 1.0), ("coldest", -1.0)):
            best = self._extreme(step, s, time, profile, sign)
            for scope in (name, f"span_{name}"):
                known = getattr(self, scope)
                if known is None or sign * best.value > sign * known.value:
                    setattr(self, scope, best)
        for watch in self.watches:
            if self.crossings[watch.name] is None:
                self.crossings[watch.name] = self._crossing(watch, step, s, time, profile)

    def _seen(self, profile: Array) -> Array:
        """What counts for extremes, (rows, places): of a layer that touches one that does not count, its face there too."""
        if self.counted is None:
            return profile
        rod, T = self.rod, profile[:, 1:-1]
        k = np.broadcast_to(rod.k, T.shape) if rod.k is not None else rod.conductivity_at(T)[0]
        found = [profile[:, self.counted]]
        for i, first in self.joints:
            own, other = rod.half_out[i] / k[:, i], rod.half_in[i + 1] / k[:, i + 1]
            found.append(at_joint(T[:, i], T[:, i + 1], own, other, rod.joint[i], first)[:, None])
        return np.concatenate(found, axis=1)

    def _extreme(self, step: Array, s: Array, time: Array, profile: Array, sign: float) -> Extreme:
        profile = self._seen(profile)
        signed = sign * profile
        signed = np.where(np.isfinite(signed), signed, -np.inf)
        row, place = (int(x) for x in np.unravel_index(int(np.argmax(signed)), signed.shape))
        # a step may overshoot by less than its tolerance: the first place that is as hot counts
        early = int(np.argmax(signed.max(axis=1) >= signed[row, place] - ALIKE))
        if early < row and signed[early].max() >= signed[early + 1].max() - ALIKE and s[early] == 0.0:
            row, place = early, int(np.argmax(signed[early]))
        value, when = float(profile[row, place]), float(time[row])
        inner = 0 < row < len(signed) - 1 and signed[row - 1, place] < signed[row, place] > signed[row + 1, place]
        if not inner and s[row] != 0.5:  # at the end of a stretch it cannot be higher in between
            return Extreme(value, when, float(self.seen_depth[place]))
        fine = np.clip(np.linspace(s[row] - 0.5, s[row] + 0.5, FINE), 0.0, 1.0)
        times, profile = self._sample(np.full(FINE, step[row]), fine)
        around = self._seen(profile)[:, place]
        near = int(np.argmax(sign * around))
        if sign * around[near] > sign * value:
            value, when = float(around[near]), float(times[near])
        return Extreme(value, when, float(self.seen_depth[place]))

    def _watched(self, watch: Watch, profile: Array) -> Array:
        if self.counted is not None and watch.place in ("coldest", "hottest"):
            return watch.value(self.seen_depth, self._seen(profile))
        return watch.value(self.depth, profile)

    def _crossing(self, watch: Watch, step: Array, s: Array, time: Array, profile: Array) -> float | None:
        sign = 1.0 if watch.rising else -1.0
        over = sign * (self._watched(watch, profile) - watch.threshold) >= 0.0
        if not np.any(over):
            return None
        i = int(np.argmax(over))
        if s[i] == 0.0:
            return float(time[i])
        low, high = float(s[i - 1]), float(s[i])
        for _ in range(3):
            fine = np.linspace(low, high, FINE)
            _, around = self._sample(np.full(FINE, step[i]), fine)
            past = sign * (self._watched(watch, around) - watch.threshold)
            j = max(int(np.argmax(past >= 0.0)), 1) if np.any(past >= 0.0) else FINE - 1
            low, high = float(fine[j - 1]), float(fine[j])
        # the end of the last bracket alone would be late by a share of the step, which is of order 1
        if past[j - 1] < 0.0 < past[j]:
            high -= (high - low) * float(past[j] / (past[j] - past[j - 1]))
        return float(self.clock[step[i], 0] + high * self.clock[step[i], 2])

    def _end_span(self, span: int) -> None:
        if self.last_z is None:
            z = np.empty(self.z0.shape[1])
            z[: self.n] = self.rod.start
            for d in self.degrees:
                z[d.place] = d.reaction.start
            self.last_z = z
        if self.last_profile is None or self.span_hottest is None:  # a span without length
            number = next(i for i, p in enumerate(self.pieces) if p.span == span and p.last)
            T, _ = self.rod.temperature(self.last_z[: self.n], self.last_shift)
            tau = np.array([float(self.pieces[number].duration[0])])
            profile = self._with_faces(T[None, :], np.array([number]), tau)[0]
        else:
            profile, T = self.last_profile, self.last_profile[1:-1].copy()
        counted = np.arange(len(profile)) if self.counted is None else self.counted
        up, down = (int(counted[int(i)]) for i in (np.argmax(profile[counted]), np.argmin(profile[counted])))
        here = Extreme(float(profile[up]), self.last_time, float(self.depth[up]))
        cold = Extreme(float(profile[down]), self.last_time, float(self.depth[down]))
        shift = self.last_shift[None, :] if self.last_shift is not None else None
        states = {k: v[0] for k, v in self._named(self.last_z[None, :], shift).items()}
        self.ends.append(
            SpanEnd(
                self.last_time,
                T,
                float(profile[0]),
                float(profile[-1]),
                states,
                self.span_hottest or here,
                self.span_coldest or cold,
            )
        )
        self.span_hottest = self.span_coldest = None

    def _named(self, z: Array, shift: Array | None) -> dict[str, Array]:
        """States by name, (rows, cells), NaN where nothing reacts; layers that share a name share an array."""
        out: dict[str, Array] = {}
        for d in self.degrees:
            field = out.setdefault(d.reaction.state, np.full((len(z), self.n), np.nan))
            # a step may land a hair beyond full conversion, or before its beginning; a dose has no such end
            value = z[:, d.place]
            field[:, d.cells] = np.clip(value, 0.0, 1.0) if d.reaction.state.endswith("_degree") else value
        scale = self.rod.share_scale
        if shift is not None and scale is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                out["crystalline_share"] = np.where(scale > 0, 1.0 - shift / scale, np.nan)
        return out

    def history(self, ending: Ending, accepted: int, rejected: int) -> History:
        """Everything that was kept, as one frozen object."""
        n, rod = self.n, self.rod
        whole = WHOLE[rod.shape]

        def joined(key: str, shape: tuple[int, ...]) -> Array:
            return np.concatenate(self.rows[key]) if self.rows[key] else np.zeros(shape)

        profile = joined("profile", (0, n + 2))
        z = joined("z", (0, self.z0.shape[1]))
        shift = joined("shift", (0, n)) if self.shift is not None else None
        stored = released = held = 0.0
        if self.start is not None and self.last_z is not None:
            change = self.last_z - self.start
            held = float(rod.capacity @ np.abs(self.start[:n]))
            stored = float(rod.capacity @ change[:n])
            for d in self.degrees:
                released += float(np.sum(d.kappa * rod.capacity[d.cells] * change[d.place]))
        entered, left = self.heat["in"], self.heat["out"]
        mismatch = float(mismatch_of(entered, left, stored, released, held))
        begun = rod.temperature(rod.start, rod.share_start)[0]
        inside = np.arange(n) if self.counted is None else np.unique(np.clip(self.counted - 1, 0, n - 1))
        up, down = inside[np.argmax(begun[inside])], inside[np.argmin(begun[inside])]
        return History(
            time=joined("time", (0,)),
            span=joined("span", (0,)).astype(np.int64),
            edges=rod.edges,
            centres=rod.centres,
            temperature=profile[:, 1:-1],
            inner_face=profile[:, 0],
            outer_face=profile[:, -1],
            states=self._named(z, shift),
            heat=HeatBalance(
                whole * entered, whole * left, whole * stored, whole * released, mismatch, UNIT[rod.shape]
            ),
            hottest=self.hottest or Extreme(float(begun[up]), 0.0, float(rod.centres[up])),
            coldest=self.coldest or Extreme(float(begun[down]), 0.0, float(rod.centres[down])),
            ends=tuple(self.ends),
            ending=ending,
            crossings=dict(self.crossings),
            accepted=accepted,
            rejected=rejected,
        )
