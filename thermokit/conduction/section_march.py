"""A section through its spans: steps held to an error in kelvin, spans and the knots of time tables hit exactly.

The length of a step is the piece's times a power of one half, so that few lengths occur and the factors of each serve again;
a step grows only where it stays on the grid of the longer one, so that the last ends with the piece. Rows are read off inside
steps. An error made at a time t of a piece spreads like any warmth: at the end of the piece, at T, no more than sqrt(t/T) of it
is left. Where ends are what counts, a step may be so much worse, up to ``early`` tolerances. The equations are those of
:mod:`thermokit.conduction.section_equations`, the scheme that of :mod:`thermokit.conduction.section_step`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.history import Ending
from thermokit.conduction.problem import HOTTEST
from thermokit.conduction.section_equations import SectionSystem, factorised, good_order
from thermokit.conduction.section_faces import section_pieces
from thermokit.conduction.section_matrices import assemble_section
from thermokit.conduction.section_media import NodeEnergy, starts_of
from thermokit.conduction.section_record import SectionRecorder
from thermokit.conduction.section_step import SectionState, Step, Stepper

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

    from numpy.typing import NDArray

    from thermokit.conduction.history import Status
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from thermokit.conduction.section_watch import SectionWatch

    Levels = list[int]  # of the steps of a piece, in order: a step at level k is the piece's duration/2^k

TOLERANCE = 0.03  # K
FIRST = 30.0  # tolerances that the fastest node may move in the first step after a switch
SAFETY = 0.9
GROWTH = 16.0
DEEPEST = 60  # halvings of a piece: 10 ns of the longest stretch of time that a case may have
ADVICE = {
    "not_finite": "a value is not finite: look at the inputs of the regions for a wrong unit",
    "step_too_small": "the step became too small to go on: look for a jump in a property or a source far outside its range",
    "out_of_range": "below absolute zero or above 20 000 K: look for heating or a heat source of the wrong size or sign",
    "interrupted": "stopped by hand: what was computed until then is kept",
}


def march(
    problem: SectionProblem,
    mesh: SectionMesh,
    rows: Array | None = None,
    tolerance: float = TOLERANCE,
    start: Array | None = None,
    watches: Sequence[SectionWatch] = (),
    progress: Callable[[float], None] | None = None,
) -> SectionHistory:
    """Temperatures of a section through its spans, always with an ending that says how it went.

    rows : (rows,) ascending [s], default 100 equal steps and every span's end; tolerance : [K], local error of a step;
    start : (nodes,) [K] instead of the regions' own starts (where it is not-a-number these count); watches : thresholds to
    locate inside steps; progress : called with the share of the time that is done.
    """
    return SectionRun(problem, mesh, tolerance).record(rows, start, watches, progress)


class Stopped(Exception):
    """The march cannot go on; holds the status of its ending and the node of the trouble."""

    def __init__(self, status: Status, node: int | None = None):
        self.status: Status = status
        self.node = node
        super().__init__(status)


class SectionRun:
    """A section made ready to march, as often as wanted: matrices and factors are kept (``early``: see above)."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, tolerance: float = TOLERANCE, early: float = 1.0):
        self.problem, self.tolerance, self.early = problem, tolerance, early
        self.body = assemble_section(problem, mesh)
        self.energy = NodeEnergy(self.body)
        self.order = good_order(self.body)
        self.pieces = section_pieces(problem)
        self.total = sum(piece.duration for piece in self.pieces)
        self._systems: dict[object, SectionSystem] = {}
        self._steppers: dict[int, Stepper] = {}
        self.starts = starts_of(self.body)

    def stepper(self, number: int) -> Stepper:
        """Matrices and conditions of a piece."""
        if number not in self._steppers:
            piece = self.pieces[number]
            absent = self.problem.spans[piece.span].absent
            key = (absent, piece.key)
            if key not in self._systems:
                self._systems[key] = SectionSystem(self.body, self.energy, self.order, absent, piece)
            self._steppers[number] = Stepper(self._systems[key], piece, self.tolerance)
        return self._steppers[number]

    def begin(self, start: Array | None = None) -> SectionState:
        """The state of a section at its start, or at given temperatures (nodes,) [K]."""
        temperature = self.starts if start is None else np.where(np.isfinite(start), start, self.starts)
        shift = self.energy.start_shift(temperature)
        w = self.energy.coordinate(temperature, shift)
        return SectionState(w, self.energy.energy(w, shift)[0].copy(), shift)

    def temperature(self, state: SectionState) -> Array:
        """Temperatures of all nodes [K], those of absent regions at their start."""
        return self.energy.temperature(state.w, state.shift)[0]

    def restart(self, state: SectionState, nodes: NDArray[np.bool_]) -> None:
        """Bring nodes (flags) back to the start of their regions, in place."""
        if not np.any(nodes):
            return
        temperature = np.where(nodes, self.starts, self.temperature(state))
        shift = self.energy.restarted(state.shift, temperature, nodes)
        w = self.energy.coordinate(temperature, shift)
        heat = self.energy.energy(w, shift)[0]
        state.w[nodes], state.heat[nodes], state.shift = w[nodes], heat[nodes], shift

    def record(
        self,
        rows: Array | None = None,
        start: Array | None = None,
        watches: Sequence[SectionWatch] = (),
        progress: Callable[[float], None] | None = None,
    ) -> SectionHistory:
        """Go through all spans once and keep what happens."""
        recorder = SectionRecorder(self.body, self.energy, rows, watches, self.tolerance)
        ending = Ending("finished", self.total)
        state = self.begin(start)
        try:
            self.shot(state, recorder=recorder, progress=progress)
        except KeyboardInterrupt:
            ending = Ending("interrupted", recorder.time, advice=ADVICE["interrupted"])
        except Stopped as stop:
            ending = self.ending_of(stop, recorder.time)
        return recorder.history(ending)

    def ending_of(self, stop: Stopped, time: float) -> Ending:
        """How a march ended that could not go on."""
        return Ending(stop.status, time, advice=ADVICE[stop.status] + self._where(stop.node))

    @staticmethod
    def factor_of(
        system: SectionSystem, temperature: Array, capacity: Array, a: float, base: Any, linear: Array
    ) -> Any:
        """Factors of capacity - a dF/dT about a state."""
        return factorised(system.jacobian(temperature, capacity, a, base, linear))

    def _where(self, node: int | None) -> str:
        if node is None:
            return ""
        mesh, name = self.body.mesh, self.problem.regions[int(self.body.owner[node])].name
        return f" (near x {mesh.x[node] * 1e3:.4g} mm, y {mesh.y[node] * 1e3:.4g} mm in {name})"

    def shot(
        self,
        state: SectionState,
        levels: list[Levels] | None = None,
        recorder: SectionRecorder | None = None,
        progress: Callable[[float], None] | None = None,
    ) -> tuple[SectionState, list[Levels]]:
        """Through all spans once: (the state after it, levels of the steps that were taken).

        levels : steps to take, without looking at their error; else steps are as long as the tolerance allows. Raises Stopped.
        """
        done, taken = 0.0, []
        absent: frozenset[str] = frozenset()
        for number, piece in enumerate(self.pieces):
            stepper = self.stepper(number)
            system = stepper.system
            state = state.copy()
            if piece.begun == 0.0 and piece.fresh:
                back = absent - self.problem.spans[piece.span].absent
                names = [region.name for region in self.problem.regions]
                self.restart(state, np.isin(self.body.owner, [names.index(name) for name in back]))
                absent = self.problem.spans[piece.span].absent
            before = state.heat.copy()
            held = stepper.hold(state, 0.0)
            if recorder is not None:
                if piece.begun == 0.0:
                    recorder.begin_span(piece.span)
                recorder.heat(system, held, 0.0)
                recorder.stored += float((state.heat - before)[system.active].sum())
                recorder.look(system, self.temperature(state))
            march = _PieceMarch(self, stepper, recorder, progress, done)
            state = march.go(state, None if levels is None else levels[number])
            taken.append(march.taken)
            done += piece.duration
            if recorder is not None:
                recorder.time = done
                if piece.last:
                    recorder.end_span(system, self.temperature(state), done)
        return state, taken


class _PieceMarch:
    """The steps of one piece."""

    def __init__(
        self,
        run: SectionRun,
        stepper: Stepper,
        recorder: SectionRecorder | None,
        progress: Callable[[float], None] | None,
        done: float,
    ):
        self.run, self.stepper, self.recorder, self.progress, self.done = run, stepper, recorder, progress, done
        self.taken: Levels = []
        self.duration = stepper.piece.duration

    def go(self, state: SectionState, levels: Levels | None) -> SectionState:
        """From the beginning of the piece to its end."""
        if self.duration <= 0.0 or not len(self.stepper.free):
            return state
        rate = self.stepper.rate(state, 0.0)
        if levels is not None:
            return self._along(state, rate, levels)
        return self._adaptive(state, rate)

    def _along(self, state: SectionState, rate: Array, levels: Levels) -> SectionState:
        at = 0.0
        for i, level in enumerate(levels):
            h = math.ldexp(self.duration, -level)
            step = self.stepper.step(state, rate, at, h, judge=False, last=i == len(levels) - 1)
            if not step.sound:
                raise Stopped("step_too_small")
            self._accept(state, step, h, level)
            state, rate, at = step.state, step.rate, at + h
        return state

    def _accept(self, state: SectionState, step: Step, h: float, level: int) -> None:
        self._check(step)
        if self.recorder is not None:
            self.recorder.step(self.stepper.system, state, step, h)
        self.taken.append(level)

    def _adaptive(self, state: SectionState, rate: Array) -> SectionState:
        stepper = self.stepper
        level = self._first_level(state, rate)
        at, end = 0, 1 << DEEPEST  # the clock counts the shortest step
        while at < end:
            h = math.ldexp(self.duration, -level)
            tau = math.ldexp(self.duration * at, -DEEPEST)
            tolerance = self._allowed(tau + h)
            step = stepper.step(state, rate, tau, h, last=at + (1 << (DEEPEST - level)) == end)
            if not step.sound or step.error > tolerance:
                level = self._shorter(level, step, tolerance)
                if self.recorder is not None:
                    self.recorder.rejected += 1
                continue
            self._accept(state, step, h, level)
            state, rate = step.state, step.rate
            at += 1 << (DEEPEST - level)
            wanted = min(GROWTH, SAFETY * (tolerance / step.error) ** (1 / 3)) if step.error > 0.0 else GROWTH
            longer = int(math.log2(max(wanted, 1.0)))
            for _ in range(longer):
                if level > 0 and at % (1 << (DEEPEST - level + 1)) == 0:
                    level -= 1
            if self.progress is not None:
                self.progress((self.done + math.ldexp(self.duration * at, -DEEPEST)) / max(self.run.total, 1e-300))
        return state

    def _allowed(self, tau: float) -> float:
        """Error that a step may have which ends so long after the piece began [K]."""
        return self.run.tolerance * min(self.run.early, math.sqrt(self.duration / tau))

    def _first_level(self, state: SectionState, rate: Array) -> int:
        """Level of a first step in which no node moves by more than some tolerances."""
        energy, free = self.run.energy, self.stepper.free
        _, b = energy.temperature(state.w, state.shift)
        _, c = energy.energy(state.w, state.shift)
        fastest = float(np.abs(rate[free] * b[free] / c[free]).max(initial=0.0))
        if not np.isfinite(fastest):
            raise Stopped("not_finite")
        steps = fastest * self.duration / (FIRST * self.run.tolerance * self.run.early)
        return int(min(max(math.ceil(math.log2(max(steps, 1.0))), 0), 20))

    def _shorter(self, level: int, step: Step, tolerance: float) -> int:
        shrink = 2.0
        if step.sound:
            shrink = max((step.error / tolerance) ** (1 / 3) / SAFETY, 2.0)
        level += min(math.ceil(math.log2(shrink)), 6) if step.sound else 2
        if level > DEEPEST - 2:
            raise Stopped("not_finite" if np.isnan(step.error) else "step_too_small")
        return level

    def _check(self, step: Step) -> None:
        w = self.run.temperature(step.state)
        if not np.isfinite(w.sum()):
            raise Stopped("not_finite", int(np.argmin(np.isfinite(w))))
        if w.max() > HOTTEST or w.min() < 0.0:
            raise Stopped("out_of_range", int(np.argmax(w) if w.max() > HOTTEST else np.argmin(w)))
