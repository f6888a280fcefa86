"""One step of a section in time: SDIRK2, two implicit stages of the same matrix, stiffly accurate and L-stable, so that a jump
of a face never rings.

    H1 = H0 + g h F(T1, t + g h),      H2 = H0 + h [(1 - g) F1 + g F(T2, t + h)],      g = 1 - 1/sqrt(2)

The error of a step is C h^3 F''; with F at the times 0, g h and h (F0 is F2 of the step before) and C3 the coefficient of z^3 in
the stability function less 1/6, for linear equations exactly to leading order,

    error = (C + g h K)^(-1) h (C3/g) [F0/g - F1/(g (1 - g)) + F2/(1 - g)]

and solving once more with the matrix of the step keeps stiff nodes from being overrated. H is carried on by the fluxes, not by
T, so that what Newton's method leaves over is taken up by the next step and heat closes to round-off.

Source: Alexander, SIAM J. Numer. Anal. 14 (1977) 1006 (the method); the estimate is derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_equations import factorised

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_equations import SectionSystem
    from thermokit.conduction.section_faces import SectionPiece

GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
_C3 = 3.0 * GAMMA**2 - 2.0 * GAMMA**3 - 1.0 / 6.0
_ERROR = _C3 / GAMMA * np.array([1.0 / GAMMA, -1.0 / (GAMMA * (1.0 - GAMMA)), 1.0 / (1.0 - GAMMA)])
WEIGHTS = (1.0 - GAMMA, GAMMA)

MOST = 14  # Newton iterations of a stage
SLOW = 0.4  # a factor is renewed when an iteration shrinks the step by less
LATE = (
    9  # or after so many, which leaves a few with the new one: at a steady third of the step, all would not be enough
)
STALE = 0.5  # or when a heat capacity has changed by more: renewing costs as much as some twenty iterations
ROUND_OFF = 1e-10  # K
NEWTON = 0.003  # share of the tolerance to which temperatures of a stage are found


@dataclass
class SectionState:
    """Where a section stands: coordinates w and heat content H [J] of the nodes, shifts of media with two curves."""

    w: Array
    heat: Array
    shift: Array

    def copy(self) -> SectionState:
        """A state of its own."""
        return SectionState(self.w.copy(), self.heat.copy(), self.shift.copy())


@dataclass
class Step:
    """A step that was computed: the state after it, F at its beginning and end, heat through each face and from sources [J].

    error : [K], the largest of the free nodes (0 where none was asked for); sound : False where Newton's method failed.
    """

    state: SectionState
    rate0: Array
    rate: Array
    faces: Array
    sources: float
    error: float
    sound: bool = True


class Stepper:
    """Steps on one piece of one system."""

    def __init__(self, system: SectionSystem, piece: SectionPiece, tolerance: float):
        self.system, self.piece, self.tolerance = system, piece, tolerance
        self.energy = system.energy
        self.free, self.held = system.free, system.held_nodes
        self.varies = any(face.drive_varies or (face.temperature or (0, 0))[1] for face in piece.faces.values())
        self.varies = self.varies or any(rise for _, rise in piece.heat.values())
        self._fixed = None if self.varies else self._entering(0.0)
        self._factor: dict[float, tuple[Any, Array, Array]] = {}
        self._base: dict[float, tuple[Any, Array]] = {}
        if system.linear:
            self.base_csr = system.base_csr
            self.free_held = self.base_csr[self.free][:, self.held] if len(self.held) else None
            self.held_rows: Any = self.base_csr[self.held] if len(self.held) else None
            self.capacity = self.energy.capacity[self.free]

    def _entering(self, tau: float) -> tuple[Array, Array, float, Array]:
        """(drives of the faces, power of faces and sources at the nodes, sum of the sources, held temperatures)."""
        system = self.system
        drives = system.drives(self.piece, tau)
        sources, total = system.sources(self.piece, tau)
        return drives, system.area_t @ drives + sources, total, system.held_temperature(self.piece, tau)

    def entering(self, tau: float) -> tuple[Array, Array, float, Array]:
        """The same, remembered where nothing varies."""
        return self._fixed if self._fixed is not None else self._entering(tau)

    def rate(self, state: SectionState, tau: float) -> Array:
        """F at a state [W], (nodes,)."""
        base, linear = self._coefficients(tau)
        temperature = self.energy.temperature(state.w, state.shift)[0]
        return self.system.flow(temperature, self.entering(tau)[1], base, linear)

    def hold(self, state: SectionState, tau: float) -> Array:
        """Bring held nodes to their temperatures, in place; the heat that it takes, by face [J]."""
        if not len(self.held):
            return np.zeros(len(self.system.face_ids))
        before = state.heat[self.held]
        self._set_held(state, self.entering(tau)[3])
        jump = np.zeros(len(state.w))
        jump[self.held] = state.heat[self.held] - before
        return np.asarray(self.system.share @ jump)

    def _set_held(self, state: SectionState, temperature: Array) -> None:
        if self.energy.straight:
            state.w[self.held] = temperature
            state.heat[self.held] = self.energy.capacity[self.held] * temperature
            return
        full = self.energy.temperature(state.w, state.shift)[0].copy()
        full[self.held] = temperature
        state.w[self.held] = self.energy.coordinate(full, state.shift)[self.held]
        state.heat[self.held] = self.energy.energy(state.w, state.shift)[0][self.held]

    def _coefficients(self, tau: float) -> tuple[Any, Array]:
        if not self.system.varies:
            return self.system.base, self.system.lin
        if tau not in self._base:
            if len(self._base) > 4:
                self._base.clear()
            self._base[tau] = self.system.coefficients(self.piece, tau)
        return self._base[tau]

    def step(
        self, state: SectionState, rate0: Array, tau: float, h: float, judge: bool = True, last: bool = False
    ) -> Step:
        """One step of length h from ``tau`` seconds after the piece began; ``judge`` : estimate the error.

        rate0 : F at the beginning, of the step before where there is one; last : of the piece, after which nothing takes up what
        Newton's method leaves, so that it goes on to round-off.
        """
        if self.system.linear:
            return self._linear(state, rate0, tau, h, judge)
        return self._newton(state, rate0, tau, h, judge, last)

    # -- one matrix for all -----------------------------------------------------------------------------------------

    def _linear(self, state: SectionState, rate0: Array, tau: float, h: float, judge: bool) -> Step:
        free, c, a = self.free, self.capacity, GAMMA * h
        factor = self.system.linear_factor(a)
        stages, rates, begun = [], [], c * state.w[free]
        known = begun
        after = state.copy()
        inputs = [self.entering(tau + a), self.entering(tau + h)]
        for i, (_, power, _, held) in enumerate(inputs):
            power = power[free]
            if self.free_held is not None:
                power = power - self.free_held @ held
            t = factor.solve(known + a * power)
            full = after.w if i else state.w.copy()
            full[free] = t
            full[self.held] = held
            stages.append(full)
            rates.append((c * t - known) / a)
            known = begun + (1.0 - GAMMA) * h * rates[0]
        after.w = stages[1]
        rate = np.zeros(len(state.w))
        rate[free] = rates[1]
        after.heat[free] = state.heat[free] + h * (WEIGHTS[0] * rates[0] + WEIGHTS[1] * rates[1])
        after.heat[self.held] = self.energy.capacity[self.held] * after.w[self.held]
        faces, sources = self._crossed(state, after, stages, inputs, tau, h)
        error = 0.0
        if judge:
            e = _ERROR[0] * rate0[free] + _ERROR[1] * rates[0] + _ERROR[2] * rates[1]
            error = float(np.abs(factor.solve(h * e)).max(initial=0.0))
        return Step(after, rate0, rate, faces, sources, error, bool(np.isfinite(error)))

    def _crossed(
        self, before: SectionState, after: SectionState, stages: list[Array], inputs: Any, tau: float, h: float
    ) -> tuple[Array, float]:
        """(heat into the section through each face, from sources) during a step [J], by the quadrature of the scheme."""
        system = self.system
        faces, sources = np.zeros(len(system.face_ids)), 0.0
        reaction = np.zeros(len(before.w))
        reaction[self.held] = after.heat[self.held] - before.heat[self.held]
        for weight, t, (drives, power, made, _), c in zip(WEIGHTS, stages, inputs, (GAMMA, 1.0), strict=True):
            at = tau + c * h
            faces += weight * h * system.face_heat(t, drives, self.piece, at)
            sources += weight * h * made
            if len(self.held):
                if system.linear:
                    flow = power[self.held] - self.held_rows @ t - system.lin[self.held] * t[self.held]
                else:
                    flow = system.flow(t, power, *self._coefficients(at))[self.held]
                reaction[self.held] -= weight * h * flow
        if len(self.held):
            faces += system.share @ reaction
        return faces, sources

    # -- Newton's method --------------------------------------------------------------------------------------------

    def _newton(self, state: SectionState, rate0: Array, tau: float, h: float, judge: bool, last: bool) -> Step:
        a = GAMMA * h
        stages: list[Array] = []
        rates: list[Array] = []
        factor: Any = None
        inputs = [self.entering(tau + a), self.entering(tau + h)]
        known, work = state.heat, state.copy()
        if tau > 0.0:  # at the beginning of a piece what is stiff has yet to find its rate
            work.w[self.free] += (a * rate0 / self.energy.energy(state.w, state.shift)[1])[self.free]
        for c, (_, power, _, held) in zip((GAMMA, 1.0), inputs, strict=True):
            if c == 1.0:
                work.w[self.free] = (state.w + (work.w - state.w) / GAMMA)[self.free]
            if len(self.held):
                self._set_held(work, held)
            temperature, factor = self._stage(work, known, power, tau + c * h, a, last)
            if temperature is None:
                lost = np.inf if np.isfinite(work.w.sum()) else np.nan
                return Step(state, rate0, rate0, np.zeros(0), 0.0, lost, False)
            stages.append(temperature)
            rates.append(self.system.flow(temperature, power, *self._coefficients(tau + c * h)))
            known = state.heat + (1.0 - GAMMA) * h * rates[0]
        heat = state.heat + h * (WEIGHTS[0] * rates[0] + WEIGHTS[1] * rates[1])
        still = ~self.system.active
        heat[still] = state.heat[still]
        heat[self.held] = work.heat[self.held]
        after = SectionState(work.w, heat, self.energy.shift_after(work.w, state.shift))
        if self.energy.hysteresis:
            after.shift = np.where(self.energy.slot_flags(self.system.active), after.shift, state.shift)
        faces, sources = self._crossed(state, after, stages, inputs, tau, h)
        error = 0.0
        if judge:
            e = _ERROR[0] * rate0 + _ERROR[1] * rates[0] + _ERROR[2] * rates[1]
            error = float(np.abs(factor.solve(h * e[self.free])).max(initial=0.0))
        return Step(after, rate0, rates[1], faces, sources, error, bool(np.isfinite(error)))

    def _stage(
        self, work: SectionState, known: Array, power: Array, tau: float, a: float, last: bool
    ) -> tuple[Any, Any]:
        """(temperatures of a stage or None, the factors last used); ``work.w`` is the guess and becomes the answer."""
        free, energy = self.free, self.energy
        base, linear = self._coefficients(tau)
        enough = NEWTON * self.tolerance
        before = np.inf
        for i in range(MOST):
            t, b = energy.temperature(work.w, work.shift)
            heat, c = energy.energy(work.w, work.shift)
            residual = (heat - known - a * self.system.flow(t, power, base, linear))[free]
            if not np.isfinite(residual.sum()):
                return None, None
            apparent = c / b
            factor = self._current(a, apparent, t, base, linear)
            step = -factor.solve(residual)
            size = float(np.abs(step).max(initial=0.0))
            work.w[free] += step / b[free]
            if size <= enough and (not last or size <= ROUND_OFF or size > SLOW * before):
                return energy.temperature(work.w, work.shift)[0].copy(), factor
            if size > SLOW * before or i == LATE:
                self._factor.pop(a, None)
            before = size
        return None, None

    def _current(self, a: float, apparent: Array, t: Array, base: Any, linear: Array) -> Any:
        """Factors for this stage; kept ones serve while capacities have not moved by more than a little."""
        kept = self._factor.get(a)
        if kept is not None:
            drift = np.abs(apparent[self.free] / kept[1] - 1.0).max(initial=0.0)
            if drift <= STALE:
                return kept[0]
        matrix = self.system.jacobian(t, apparent, a, base, linear)
        factor = factorised(matrix)
        if len(self._factor) > 6:
            self._factor.pop(next(iter(self._factor)))
        self._factor[a] = (factor, apparent[self.free].copy(), t)
        return factor
