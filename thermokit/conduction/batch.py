"""Thousands of layered bodies at once: the equations and the method of :mod:`thermokit.conduction.single`, case by lane.

Every lane has its own step, clock and place in its sequence of spans; a lane that has finished takes the next case from
the queue, and when the queue is empty the idle lanes are dropped. A case that fails ends alone: an idle or broken lane
is given the numbers of a living one, so that it stays harmless.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.batch_body import BatchBody
from thermokit.conduction.batch_faces import BatchFaces
from thermokit.conduction.batch_record import STATUS, BatchHistory, BatchRecorder
from thermokit.conduction.batch_step import DEGREE_PER_KELVIN, BatchStep
from thermokit.conduction.rod import assemble
from thermokit.conduction.single import FIRST_STEP, GROWTH, SAFETY, SHORTEST, TINY

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.lanes import Array
    from thermokit.conduction.problem import Problem

__all__ = ["STATUS", "BatchHistory", "solve_batch"]

WORKING_SET = 40_000  # values of one array in flight: about what stays near the processor
LANES = (64, 1536)


def solve_batch(
    problem: Problem,
    cases: int,
    times: Array | None = None,
    tolerance: float = 0.03,
    lanes: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> BatchHistory:
    """Histories of ``cases`` bodies that differ in any numeric leaf of ``problem`` (arrays of one value a case).

    times : (rows,) or (rows, cases) [s] ascending, default none; tolerance : local error of a step [K] in every lane;
    lanes : how many cases are in flight, found from the size of the body when None; progress : told the share that is done.
    """
    return _Batch(problem, cases, times, tolerance, lanes, progress).go()


class _Batch:
    """The lanes in flight: clocks, steps and states."""

    def __init__(
        self,
        problem: Problem,
        cases: int,
        times: Array | None,
        tolerance: float,
        lanes: int | None,
        progress: Callable[[float], None] | None,
    ):
        self.cases, self.tolerance, self.progress = cases, tolerance, progress
        rod = assemble(problem, cases)
        blocks = 1 + sum(len(layer.reactions) for layer in problem.layers)
        if lanes is None:
            lanes = int(np.clip(WORKING_SET // (rod.cells * blocks), *LANES))
        self.L = L = min(lanes, cases)
        self.body = BatchBody(problem, rod, cases, L)
        self.faces = BatchFaces(self.body, L)
        self.step = BatchStep(self.body, self.faces, L)
        self.record = BatchRecorder(self.body, self.faces, times)
        self.z = np.zeros((blocks, self.body.rows, 2, L))
        self.shift = np.zeros((self.body.rows, 2, L)) if self.body.two_curves else None
        self.t, self.tau, self.h, self.length = np.zeros(L), np.zeros(L), np.zeros(L), np.zeros(L)
        self.before = np.zeros((2, L))  # step and error of the step before
        self.in_out = np.zeros((2, L))
        self.begun = np.zeros(L)  # time at which the piece began
        self.case, self.piece, self.next_row = (np.zeros(L, np.intp) for _ in range(3))
        self.fresh, self.slow = np.zeros(L, bool), np.zeros(L, bool)

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
                finished = self._march()
        return self.record.history()

    # -- lanes ----------------------------------------------------------------------------------------------------

    def _load(self, lanes: Array, cases: Array) -> None:
        """Put new cases into lanes."""
        self.body.load(lanes, cases)
        self.case[lanes] = cases
        z, shift = self.body.start(cases)
        self.z[..., lanes] = z
        if self.shift is not None:
            self.shift[..., lanes] = shift
        self.record.at_start[cases] = np.sum(z[0], axis=(0, 1))
        for name in ("t", "begun", "piece", "h", "next_row"):
            getattr(self, name)[lanes] = 0
        self.in_out[:, lanes] = 0.0
        self.body.set_laws(self.case)

    def _enter(self, lanes: Array) -> Array:
        """Begin the current piece of these lanes, passing over empty ones; returns the lanes that have finished."""
        faces, done = self.faces, [np.zeros(0, np.intp)]
        active = lanes
        while len(active):
            over = self.piece[active] >= len(faces.span)
            if np.any(over):
                done.append(active[over])
                active = active[~over]
                if not len(active):
                    break
            p, c = self.piece[active], self.case[active]
            length = faces.duration[p, c if faces.duration.shape[1] > 1 else 0]
            faces.enter(active, p, c)
            self.length[active] = length
            self.tau[active] = 0.0
            empty = ~(length > 0.0)
            unknown = active[np.isnan(length)]
            if len(unknown):
                self._fail(unknown, np.full(len(unknown), 2))
            self.fresh[active] = faces.fresh[p] | (self.h[active] <= 0.0)
            self.slow[active] = False
            self.before[:, active] = 0.0
            skipped = active[empty & ~np.isnan(length)]
            closing = skipped[faces.last[self.piece[skipped]]]
            if len(closing):
                self._span_end(closing)
            self.piece[skipped] += 1
            active = np.concatenate([skipped, unknown])
        return np.concatenate(done)

    def _replace(self, finished: Array, waiting: int) -> int:
        """Close the cases of these lanes and refill them; -1 when nothing is left to do."""
        while len(finished):
            self.record.finish(
                finished, self.case[finished], self.z[..., finished], self.in_out[:, finished], self.next_row[finished]
            )
            count = min(len(finished), self.cases - waiting)
            if self.progress is not None:
                self.progress(max(0.0, (waiting - self.L) / self.cases))
            self.case[finished[count:]] = -1
            if not count:
                break
            fill = finished[:count]
            self._load(fill, np.arange(waiting, waiting + count))
            waiting += count
            finished = self._enter(fill)
        active = np.flatnonzero(self.case >= 0)
        if not len(active):
            return -1
        if len(active) <= 0.75 * self.L or len(active) <= 8 < self.L:
            self._keep(active)
        else:
            idle = np.flatnonzero(self.case < 0)
            if len(idle):
                self._mirror(idle, int(active[0]))
        return waiting

    def _state_names(self) -> list[str]:
        """Arrays whose last axis is the lane."""
        names = [
            "z",
            "before",
            "in_out",
            "t",
            "tau",
            "h",
            "length",
            "begun",
            "case",
            "piece",
            "next_row",
            "fresh",
            "slow",
        ]
        return names + (["shift"] if self.shift is not None else [])

    def _keep(self, lanes: Array) -> None:
        """Go on with these lanes only."""
        self.body.keep(lanes)
        for owner, names in ((self, self._state_names()), (self.faces, self.faces.names())):
            for name in names:
                setattr(owner, name, np.ascontiguousarray(getattr(owner, name)[..., lanes]))
        self.L = len(lanes)
        self.body.set_laws(self.case)
        self.step = BatchStep(self.body, self.faces, self.L)

    def _mirror(self, idle: Array, model: int) -> None:
        """Give idle lanes the numbers of a living one, so that they stay harmless."""
        self.body.load(idle, np.full(len(idle), self.case[model]))
        skip = {"case", "in_out", "next_row"}
        for owner, names in ((self, self._state_names()), (self.faces, self.faces.names())):
            for name in names:
                if name not in skip:
                    whole = getattr(owner, name)
                    whole[..., idle] = whole[..., [model]]
        laws = self.case.copy()
        laws[idle] = self.case[model]
        self.body.set_laws(laws)

    # -- marching -------------------------------------------------------------------------------------------------

    def _march(self) -> Array:
        """One attempt in every lane; returns the lanes that have come to the end of their last piece."""
        step = self.step
        step.q[0] = step.power(self.z, self.tau, self.shift, step.U[0])
        alive = self.case >= 0
        beyond = self.record.note_step(alive, self.case, step.T, self.t)
        if self.shift is not None:
            direction = step.U[0, 0].copy()
            self.body.even_middle(direction)
            step.b[...] = self.body.slope_along(self.z[0] * self.body.inverse.now, self.shift, direction)
        if np.any(self.fresh):
            self._first_steps()
        left, longest = self.length - self.tau, step.longest_step(self.z)
        wanted = self.h if longest is None else np.minimum(self.h, longest)
        h = np.where(wanted >= 0.999 * left, left, np.where(wanted > 0.5 * left, 0.5 * left, wanted))
        error, crossed = step.attempt(self.z, self.tau, h, self.shift)
        finite = np.isfinite(error)
        good = finite & (error <= self.tolerance)
        grown, shrunk = self._next_steps(h, error, finite)
        too_small = (shrunk <= SHORTEST * self.tau) | (shrunk < TINY)
        good &= ~beyond
        lost = np.flatnonzero(~good & alive & (too_small | beyond | ~np.isfinite(self.h)))
        self.h = np.where(good, grown, shrunk)
        ended = self._accept(good & alive, good, h, crossed, error)
        self.slow = ~good
        if len(lost):
            self._fail(lost, np.where(beyond[lost], 3, np.where(finite[lost], 1, 2)))
            ended = np.concatenate([ended, lost])
        if not len(ended):
            return ended
        self.piece[ended] += 1
        return self._enter(ended)

    def _fail(self, lanes: Array, status: Array) -> None:
        """End the cases of these lanes here, with a status."""
        case, pieces = self.case[lanes], len(self.faces.span)
        self.record.status[case] = status
        self.record.lose(case, self.faces.span[np.minimum(self.piece[lanes], pieces - 1)])
        self.piece[lanes] = pieces

    def _first_steps(self) -> None:
        """Steps after a switch, by how fast the fastest cell moves."""
        step, lanes = self.step, np.flatnonzero(self.fresh)
        speed = np.abs(step.U[0, 0][..., lanes] * step.b[..., lanes] * self.body.inverse.of(lanes)).max(axis=(0, 1))
        for j in range(len(self.body.reactions)):
            speed = np.maximum(speed, np.abs(step.U[0, 1 + j][..., lanes]).max(axis=(0, 1)) / DEGREE_PER_KELVIN)
        first = np.where(speed > 0.0, FIRST_STEP * self.tolerance / np.where(speed > 0.0, speed, 1.0), np.inf)
        self.h[lanes] = np.where(~np.isfinite(speed), np.nan, np.minimum(first, self.length[lanes]))
        self.fresh[:] = False

    def _next_steps(self, h: Array, error: Array, finite: Array) -> tuple[Array, Array]:
        """(steps after acceptance, after rejection): the controller of the single run, lane by lane."""
        size = np.maximum(error, 1e-300)
        factor = SAFETY * (self.tolerance / size) ** 0.25
        h_before, e_before = self.before
        known = (h_before > 0.0) & (e_before > 0.0)
        predictive = factor * (h / np.where(known, h_before, 1.0)) * (e_before / size) ** 0.25
        onward = np.where(known, np.minimum(factor, predictive), factor)
        grown = h * np.minimum(np.where(self.slow, 1.0, GROWTH), np.maximum(0.2, onward))
        return grown, h * np.where(finite, np.maximum(0.2, np.minimum(factor, SAFETY)), 0.2)

    def _accept(self, good: Array, stepped: Array, h: Array, crossed: Array, error: Array) -> Array:
        """Take over the accepted lanes (``good`` : those of living cases); returns those whose piece is over."""
        step, record = self.step, self.record
        new = step.stage
        if len(record.times):
            record.rows(
                good, self.case, self.next_row, self.t, self.tau, h, self.z, new, step.flat, self.shift
            )  # fmt: skip
        if self.shift is not None:
            self.body.even_middle(new[0])
            moved = self.body.shift_after(new[0] * self.body.inverse.now, self.shift)
            self.shift = np.where(stepped, moved, self.shift)
        rejected = np.flatnonzero(~stepped)
        if len(rejected):
            new[..., rejected] = self.z[..., rejected]
        self.z, step.stage = new, self.z
        for part in (crossed, *self._made(h)):
            inwards = np.where(good, part, 0.0)
            self.in_out[0] += np.maximum(inwards, 0.0).sum(axis=0)
            self.in_out[1] -= np.minimum(inwards, 0.0).sum(axis=0)
        record.steps[self.case[good]] += 1
        ending = self.tau + h >= self.length * (1.0 - 1e-14)
        self.tau = np.where(stepped, np.where(ending, self.length, self.tau + h), self.tau)
        self.t = self.begun + self.tau
        self.before = np.where(stepped, np.stack([h, error]), self.before)
        ended = np.flatnonzero(good & ending)
        self.begun[ended] += self.length[ended]
        closing = ended[self.faces.last[self.piece[ended]]]
        if len(closing):
            self._span_end(closing)
        # a lane that mirrors another must not run past its end
        self.tau[(self.case < 0) & stepped & ending] = 0.0
        return ended

    def _made(self, h: Array) -> list[Array]:
        """Heat of the sources in this step, [(1, lanes)] or nothing."""
        source = self.faces.source
        if source is None:
            return []
        first, second = source[0].sum(axis=(0, 1)), source[1].sum(axis=(0, 1))
        return [(h * (first + second * (self.tau + h / 2)))[None]]

    def _span_end(self, lanes: Array) -> None:
        """Keep the state at the end of a span; a case that has left what is possible ends here."""
        shift = self.shift[..., lanes] if self.shift is not None else None
        beyond = lanes[
            self.record.span_end(
                lanes, self.case[lanes], self.piece[lanes], self.z[..., lanes], shift, self.length[lanes], self.t[lanes]
            )
        ]
        if len(beyond):
            self._fail(beyond, np.full(len(beyond), 3))
