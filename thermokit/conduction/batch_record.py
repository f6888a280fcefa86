"""What to keep of a batch: extremes, the state at the end of every span, rows at asked times, the heat balance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction import rosenbrock as rb
from thermokit.conduction.history import mismatch_of
from thermokit.conduction.lanes import fold, of_lanes, unfold
from thermokit.conduction.problem import HOTTEST
from thermokit.conduction.rod import UNIT, WHOLE, at_joint, joints_of

if TYPE_CHECKING:
    from thermokit.conduction.batch_body import BatchBody
    from thermokit.conduction.batch_faces import BatchFaces
    from thermokit.conduction.lanes import Array

STATUS = ("finished", "step_too_small", "not_finite", "out_of_range")
_DENSE = np.stack([rb.DENSE_1, rb.DENSE_2])


@dataclass(frozen=True)
class BatchHistory:
    """What a batch gives back; the last axis is always the case.

    centres : (cells, 1 or cases) [m]; end_temperature : (spans, cells, cases) [K] at the end of each span, with
    end_inner_face, end_outer_face (spans, cases) and end_states name -> (spans, cells, cases); temperature (times, cells,
    cases), inner_face, outer_face (times, cases) and states at the times asked for (NaN after a case's end); hottest,
    coldest (cases,) [K] on the accepted steps, and when; entered, left, stored, released, mismatch : (cases,) as in
    ``HeatBalance``; status (cases,) indexes STATUS; steps (cases,) accepted.
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


class BatchRecorder:
    """Collects what the cases of a batch leave behind, by case number."""

    def __init__(self, body: BatchBody, faces: BatchFaces, times: Array | None):
        self.body, self.faces = body, faces
        spans, n, N = len(body.problem.spans), body.n, body.cases
        self.times = np.zeros((0, 1)) if times is None else np.asarray(times, float)
        if self.times.ndim == 1:
            self.times = self.times[:, None]
        names = list(dict.fromkeys(r.state for r in body.reactions)) + (
            ["crystalline_share"] if body.two_curves else []
        )
        rows = len(self.times)

        # not filled beforehand: to touch so much memory twice costs as much as a tenth of a run
        def empty(*shape: int) -> Array:
            return np.empty(shape)

        # case first, so that what a lane leaves behind is written in one stretch
        self.end_T, self.end_faces = empty(N, spans, n), empty(2, N, spans)
        self.end_states = {name: empty(N, spans, n) for name in names}
        self.out_T, self.out_faces = empty(N, rows, n), empty(2, N, rows)
        self.out_states = {name: empty(N, rows, n) for name in names}
        self.hottest, self.coldest = np.full(N, -np.inf), np.full(N, np.inf)
        self.hottest_time, self.coldest_time = np.zeros(N), np.zeros(N)
        self.heat = np.zeros((4, N))  # entered, left, stored, released
        self.at_start = np.zeros(N)
        counts = np.concatenate([np.full(layer.cells, layer.counts) for layer in body.problem.layers])
        self.everything = bool(np.all(counts))
        # what is added to temperatures when extremes are sought, so that tools do not count
        self.apart = np.where(counts, 0.0, -np.inf)
        self.apart_folded = fold(self.apart[:, None])
        self.apart_faces = self.apart[[0, -1]][:, None]
        self.joints = [] if self.everything or not np.any(counts) else joints_of(body.problem.layers)
        self.status = np.zeros(N, np.int8)
        self.steps = np.zeros(N, np.int64)

    # -- pictures of some lanes -----------------------------------------------------------------------------------

    def picture(
        self, lanes: Array, case: Array, z: Array, tau: Array, shift: Array | None
    ) -> tuple[Array, Array, dict[str, Array]]:
        """(T (cells, k), faces (2, k), states) of some lanes at states z (blocks, rows, 2, k)."""
        body, n = self.body, self.body.n
        y = z[0] * body.inverse.of(lanes)
        if shift is None:
            T = body.energy.at(y, lanes)[0]
        else:
            T = body.two_curve_temperature(y, shift, lanes)[0]
            shift = body.shift_after(y, shift, lanes)
        if body.k_const:
            g = body.g0.of(lanes)
        else:
            k, _ = body.conductivity(T, lanes)
            with np.errstate(divide="ignore", invalid="ignore"):
                g = k[0] / (body.away.of(lanes)[0] * body.area.of(lanes))
            g = np.where(np.isfinite(g), g, 0.0)
        faces = self.faces.at(g, T[0], tau, lanes)
        states: dict[str, Array] = {}
        for j, r in enumerate(body.reactions):
            degree = np.clip(z[1 + j], 0.0, 1.0) if r.state.endswith("_degree") else z[1 + j]
            full = unfold(np.where(r.mask > 0, degree, np.nan), n)
            states[r.state] = np.where(np.isnan(full), states[r.state], full) if r.state in states else full
        if shift is not None:
            scale = body.share_scale.of(lanes)
            states["crystalline_share"] = unfold(np.where(scale > 0, 1.0 - shift / scale, np.nan), n)
        full_T = unfold(T, n)
        if body.closed_inner:
            faces[0] = body.axis(full_T[0], full_T[min(1, n - 1)], lanes)
        return full_T, faces, states

    # -- keeping --------------------------------------------------------------------------------------------------

    def note(self, case: Array, hot: Array, cold: Array, t: Array) -> None:
        """Hottest and coldest of cases so far, all (k,)."""
        up = hot > self.hottest[case]
        self.hottest[case[up]], self.hottest_time[case[up]] = hot[up], t[up]
        down = cold < self.coldest[case]
        self.coldest[case[down]], self.coldest_time[case[down]] = cold[down], t[down]

    def note_step(self, alive: Array, case: Array, T: Array, t: Array) -> Array:
        """Extremes at the beginning of a step, faces included; T (rows, 2, lanes). Returns which lanes are out of range."""
        faces, body = self.faces.temperature, self.body
        if body.closed_inner:
            second = T[1, 0] if body.rows > 1 else T[0, 1]
            faces = np.stack([body.axis(T[0, 0], second), faces[1]])
        hot = np.maximum(T.max(axis=(0, 1)), faces.max(axis=0))
        cold = np.minimum(T.min(axis=(0, 1)), faces.min(axis=0))
        beyond = np.asarray((cold < 0.0) | (hot > HOTTEST))
        if not self.everything:
            hot = np.maximum((T + self.apart_folded).max(axis=(0, 1)), (faces + self.apart_faces).max(axis=0))
            cold = np.minimum((T - self.apart_folded).min(axis=(0, 1)), (faces - self.apart_faces).min(axis=0))
            hot, cold = self._with_joints(hot, cold, T, np.maximum(case, 0), None)
        if np.all(alive):
            self.note(case, hot, cold, t)
        else:
            self.note(case[alive], hot[alive], cold[alive], t[alive])
        return beyond

    def _with_joints(self, hot: Array, cold: Array, T: Array, case: Array, lanes: Array | None) -> tuple[Array, Array]:
        """Extremes with the faces of layers that touch one that does not count; T (rows, 2, k) of some lanes, or of all."""
        if not self.joints:
            return hot, cold
        body, rod = self.body, self.body.rod
        k = fold(rod.k) if rod.k is not None else body.conductivity(T, lanes)[0]
        for i, first in self.joints:
            (a, ka), (b, kb) = (self._cell(T, k, j, case) for j in (i, i + 1))
            own, other = of_lanes(rod.half_out[i], case) / ka, of_lanes(rod.half_in[i + 1], case) / kb
            face = at_joint(a, b, own, other, of_lanes(rod.joint[i], case), first)
            hot, cold = np.maximum(hot, face), np.minimum(cold, face)
        return hot, cold

    def _cell(self, T: Array, k: Array, cell: int, case: Array) -> tuple[Array, Array]:
        """Temperature and conductivity of one cell, (k,) each."""
        rows = len(T)
        place = (cell, 0) if cell < rows else (self.body.n - 1 - cell, 1)
        return T[place], k[place] if self.body.rod.k is None else of_lanes(k[place], case)

    def span_end(
        self, lanes: Array, case: Array, piece: Array, z: Array, shift: Array | None, tau: Array, t: Array
    ) -> Array:
        """State of some lanes at the end of their span; z, shift, tau, t are theirs. Returns which are out of range."""
        T, faces, states = self.picture(lanes, case, z, tau, shift)
        span = self.faces.span[piece]
        self.end_T[case, span] = T.T
        self.end_faces[:, case, span] = faces
        for name, value in states.items():
            self.end_states[name][case, span] = value.T
        hot, cold = np.maximum(T.max(axis=0), faces.max(axis=0)), np.minimum(T.min(axis=0), faces.min(axis=0))
        beyond = np.asarray((cold < 0.0) | (hot > HOTTEST))
        if not self.everything:
            up, down = self.apart[:, None], self.apart_faces
            hot = np.maximum((T + up).max(axis=0), (faces + down).max(axis=0))
            cold = np.minimum((T - up).min(axis=0), (faces - down).min(axis=0))
            hot, cold = self._with_joints(hot, cold, fold(T), case, lanes)
        self.note(case, hot, cold, t)
        return beyond

    def rows(
        self, good: Array, case: Array, next_row: Array, t: Array, tau: Array, h: Array,
        z: Array, new: Array, flat: Array, shift: Array | None,
    ) -> None:  # fmt: skip
        """Rows that fall into this step of the lanes in ``good``, by dense output; ``next_row`` is moved on."""
        times, reached = self.times, (t + h) * (1.0 + 1e-12)
        if times.shape[1] > 1:
            passed = np.count_nonzero(times[:, np.maximum(case, 0)] <= reached, axis=0)
        else:
            passed = np.searchsorted(times[:, 0], reached, side="right")
        count = np.where(good, passed - next_row, 0)
        total = int(count.sum())
        if not total:
            return
        # one entry for each row that is due: its lane, and which row
        lanes = np.repeat(np.arange(len(count)), count)
        at = next_row[lanes] + np.arange(total) - np.repeat(np.cumsum(count) - count, count)
        next_row += count
        both = (_DENSE @ flat).reshape(2, *z.shape)
        most = 2 * len(count)
        for first in range(0, total, most):
            part = slice(first, first + most)
            self._rows_of(lanes[part], at[part], case, t, tau, h, (z, new, both[0], both[1]), shift)

    def _rows_of(
        self, lanes: Array, at: Array, case: Array, t: Array, tau: Array, h: Array,
        ends: tuple[Array, Array, Array, Array], shift: Array | None,
    ) -> None:  # fmt: skip
        """Rows ``at`` of lanes (a lane may stand several times), between the ends of their step."""
        c = case[lanes]
        due = self.times[at, c if self.times.shape[1] > 1 else 0]
        s = np.clip((due - t[lanes]) / h[lanes], 0.0, 1.0)
        here = _between(s, *(x[..., lanes] for x in ends))
        of_shift = shift[..., lanes] if shift is not None else None
        T, faces, states = self.picture(lanes, c, here, tau[lanes] + s * h[lanes], of_shift)
        self.out_T[c, at] = T.T
        self.out_faces[:, c, at] = faces
        for name, value in states.items():
            self.out_states[name][c, at] = value.T

    def finish(self, lanes: Array, case: Array, z: Array, in_out: Array, next_row: Array) -> None:
        """Heat balance of finished cases; z (blocks, rows, 2, k), in_out (2, k), next_row (k,) are theirs."""
        for i in np.flatnonzero(next_row < len(self.times)):  # rows beyond the end of a case
            self._blank(case[i], slice(next_row[i], None), self.out_T, self.out_faces, self.out_states)
        self.heat[0, case], self.heat[1, case] = in_out
        self.heat[2, case] = np.sum(z[0], axis=(0, 1)) - self.at_start[case]
        for j, r in enumerate(self.body.reactions):
            change = z[1 + j] - of_lanes(r.start, case)
            self.heat[3, case] += np.sum(r.heat.of(lanes) * change, axis=(0, 1))

    def lose(self, case: Array, span: Array) -> None:
        """Spans from ``span`` on that cases which failed have no end of."""
        for c, first in zip(case, span, strict=True):
            self._blank(c, slice(first, None), self.end_T, self.end_faces, self.end_states)

    @staticmethod
    def _blank(case: int, rows: slice, T: Array, faces: Array, states: dict[str, Array]) -> None:
        T[case, rows] = np.nan
        faces[:, case, rows] = np.nan
        for value in states.values():
            value[case, rows] = np.nan

    def history(self) -> BatchHistory:
        """Everything, as one frozen object."""
        rod = self.body.rod
        entered, left, stored, released = WHOLE[rod.shape] * self.heat
        mismatch = mismatch_of(entered, left, stored, released, WHOLE[rod.shape] * self.at_start)
        return BatchHistory(
            centres=rod.centres,
            end_temperature=np.moveaxis(self.end_T, 0, -1),
            end_inner_face=self.end_faces[0].T,
            end_outer_face=self.end_faces[1].T,
            end_states={name: np.moveaxis(value, 0, -1) for name, value in self.end_states.items()},
            temperature=np.moveaxis(self.out_T, 0, -1),
            inner_face=self.out_faces[0].T,
            outer_face=self.out_faces[1].T,
            states={name: np.moveaxis(value, 0, -1) for name, value in self.out_states.items()},
            hottest=self.hottest,
            hottest_time=self.hottest_time,
            coldest=self.coldest,
            coldest_time=self.coldest_time,
            entered=entered,
            left=left,
            stored=stored,
            released=released,
            mismatch=mismatch,
            unit=UNIT[rod.shape],
            status=self.status,
            steps=self.steps,
        )


def _between(s: Array, z0: Array, z1: Array, k1: Array, k2: Array) -> Array:
    """Dense output (1 - s) z0 + s (z1 + (1 - s)(k1 + s k2)) of shape (blocks, rows, 2, k) at shares s (k,)."""
    rest = 1.0 - s
    out = k2 * s
    out += k1
    out *= rest
    out += z1
    out *= s
    out += rest * z0
    return out
