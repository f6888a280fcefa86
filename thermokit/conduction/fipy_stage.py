"""One implicit step of the second engine: FiPy assembles and solves, this file gives it the coefficients.

From a base energy h_base to the time dt later, swept until the temperatures stand still:

    (rho C - dt dS/dT)(T - T*)/dt = div(k grad T) + S + sources - rho (h(T*) - h_base)/dt

T* : temperatures of the sweep before; C : slope of h there (apparent heat capacity; the last term is the energy
correction, so latent heat is conserved however narrow); S : heat of reaction, with the degrees solved cell by cell
within each sweep. Faces hold no heat: their exchange, made linear about their last temperature, stands in series with
the half cell as an implicit source (FiPy's documented recipe for Robin faces is wrong on plain grids). A conductance
between layers goes into the conductivity of the face between them.

FiPy reads ``sys.argv`` and ``FIPY_SOLVERS`` when it is imported and warns on numpy 2; :func:`load_fipy` is the one
place that imports it, with those shielded and put back afterwards.
"""

from __future__ import annotations

import itertools
import math
import os
import sys
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.energy_curve import EnergyCurve
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve, Face, Problem, Series, Span

if TYPE_CHECKING:
    from types import ModuleType

    from thermokit.conduction.problem import Array, Varying

SWEEPS = 40
STILL = 1e-5  # K: a sweep that moves no temperature further has converged (the next would move it far less)


def load_fipy() -> ModuleType:
    """FiPy, imported with the program's arguments and environment shielded and put back afterwards."""
    if "fipy" in sys.modules:
        return sys.modules["fipy"]
    arguments, environment = sys.argv, {k: v for k, v in os.environ.items() if k.startswith("FIPY_")}
    try:
        sys.argv = arguments[:1]
        for key in environment:
            del os.environ[key]
        os.environ["FIPY_SOLVERS"] = "scipy"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import fipy
    finally:
        sys.argv = arguments
        os.environ.pop("FIPY_SOLVERS", None)
        os.environ.update(environment)
    # FiPy keeps a copy of the whole environment, which nothing here needs
    fipy._fipy_environment.pop("environ", None)
    return fipy  # type: ignore[no-any-return]


def value_at(value: Varying, time: float) -> float:
    """A value at a time [s], the earlier one where it jumps."""
    if not isinstance(value, Series):
        return float(value)
    j = int(np.searchsorted(np.asarray(value.time, float), time, side="left"))
    if j == 0 or j == len(value.time):
        return float(value.value[min(j, len(value.time) - 1)])
    (a, b), (u, v) = value.time[j - 1 : j + 1], value.value[j - 1 : j + 1]
    return float(u + (v - u) * (time - a) / (b - a))


class Surface:
    """A face without heat capacity: its exchange made linear about its last temperature, in series with a half cell."""

    def __init__(self) -> None:
        self.temperature = math.nan

    def conditions(self, face: Face, time: float, cell: float, g: float) -> tuple[float, float]:
        """(a, b) of the heat b - a T_cell into the cell [W/m2]; moves the face's temperature once."""
        if face.temperature is not None:
            self.temperature = value_at(face.temperature, time)
            return g, g * self.temperature
        last = cell if math.isnan(self.temperature) else self.temperature
        slope, given = 0.0, value_at(face.heating, time)
        for term in face.exchange:
            h = value_at(term.coefficient, time)
            slope, given = slope + h, given + h * value_at(term.temperature, time)
        for seen in face.radiation:
            s = float(seen.factor) * STEFAN_BOLTZMANN
            slope += 4.0 * s * last**3
            given += s * (value_at(seen.temperature, time) ** 4 + 3.0 * last**4)
        self.temperature = (g * cell + given) / (g + slope)
        return g * slope / (g + slope), g * given / (g + slope)

    def settle(self, face: Face, time: float, cell: float, g: float) -> float:
        """The face's temperature at a known cell temperature [K]."""
        for _ in range(50):
            last = self.temperature
            self.conditions(face, time, cell, g)
            if abs(self.temperature - last) < 1e-10:
                break
        return self.temperature


@dataclass
class State:
    """Energy [J/kg] and crystalline share of every cell, (cells,), and the degrees of every reaction, (its cells,)."""

    energy: Array
    share: Array
    degrees: list[Array]


class FipyBody:
    """A problem on FiPy's mesh: one case, numbers only."""

    def __init__(self, problem: Problem):
        self.problem = problem
        layers = problem.layers
        ends = np.cumsum([0, *(layer.cells for layer in layers)])
        self.cuts = [slice(int(a), int(b)) for a, b in itertools.pairwise(ends)]
        self.curves = [EnergyCurve(layer.medium) for layer in layers]
        starts = np.cumsum([0.0, *(float(layer.thickness) for layer in layers)])[:-1]
        parts = [s + np.asarray(la.edges, float) * float(la.thickness) for s, la in zip(starts, layers, strict=True)]
        depth = np.concatenate([parts[0], *(p[1:] for p in parts[1:])])
        self.cells = len(depth) - 1
        self._mesh(depth + (float(problem.inner_radius) if problem.shape != "plane" else 0.0))
        self.density = np.repeat([float(la.medium.density) for la in layers], [la.cells for la in layers])
        self.contact = np.zeros(self.cells - 1)
        for layer, cut in zip(layers[:-1], self.cuts[:-1], strict=True):
            if layer.contact is not None:
                self.contact[cut.stop - 1] = 1.0 / (float(layer.contact) * self.area[cut.stop])
        self.reactions = [(cut, la, r) for la, cut in zip(layers, self.cuts, strict=True) for r in la.reactions]
        self.linear = not (
            self.reactions
            or any(face.radiation for span in problem.spans for face in (span.inner, span.outer))
            or any(span.emission is not None for span in problem.spans)
            or any(isinstance(la.medium.conductivity, Curve) for la in layers)
            or not all(curve.constant for curve in self.curves)
        )
        self.restart()

    def restart(self) -> None:
        """Forget the faces' temperatures and the count of sweeps."""
        self.inner, self.outer, self.sweeps = Surface(), Surface(), 0

    def _mesh(self, r: Array) -> None:
        """FiPy's mesh and terms, and the resistances of the half cells times k, exact for shells."""
        fipy = load_fipy()
        shape, width = self.problem.shape, np.diff(r)
        middle = (r[1:] + r[:-1]) / 2.0
        power = {"plane": 0, "cylinder": 1, "sphere": 2}[shape]
        self.area = r**power
        self.volume = np.diff(r ** (power + 1)) / (power + 1)
        with np.errstate(divide="ignore"):
            if shape == "plane":
                self.half_in, self.half_out = middle - r[:-1], r[1:] - middle
                mesh = fipy.Grid1D(dx=width)
            elif shape == "cylinder":
                self.half_in, self.half_out = np.log(middle / r[:-1]), np.log(r[1:] / middle)
                mesh = fipy.CylindricalGrid1D(dx=width, origin=(float(r[0]),))
            else:
                self.half_in, self.half_out = 1.0 / r[:-1] - 1.0 / middle, 1.0 / middle - 1.0 / r[1:]
                mesh = fipy.SphericalGrid1D(dx=width, origin=(float(r[0]),))
        self.centres, self.distance = middle, np.diff(middle)
        # whatever volume FiPy takes for a shell, coefficients carry the ratio to the exact one
        self.fipy_volume = np.asarray(mesh.cellVolumes, float)
        self.ratio = self.volume / self.fipy_volume
        self.axis = power > 0 and r[0] == 0.0
        if self.axis:
            # T goes with r^2 near an axis, where FiPy's own coefficient k A/d is exact and that of a shell is not
            n = self._innermost()
            with np.errstate(divide="ignore"):
                self.half_in[:n] = ((middle - r[:-1]) / self.area[:-1])[:n]
                self.half_out[:n] = ((r[1:] - middle) / self.area[1:])[:n]
        self.unknown = fipy.CellVariable(mesh=mesh, value=300.0)
        self.capacity, self.given, self.taken = (fipy.CellVariable(mesh=mesh, value=1.0) for _ in range(3))
        self.gamma = fipy.FaceVariable(mesh=mesh, value=np.zeros(self.cells + 1))
        self.equation = fipy.TransientTerm(coeff=self.capacity) == (
            fipy.DiffusionTerm(coeff=self.gamma) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        from fipy.solvers.scipy import LinearLUSolver

        # its default stops at once where the residual is small beside C T/dt, and so loses the small steps
        self.solver = LinearLUSolver(criterion="initial", tolerance=1e-12)

    def _innermost(self) -> int:
        """Number of cells of the innermost stuff, however many layers it is cut into."""
        layers = self.problem.layers
        count = layers[0].cells
        for before, layer in itertools.pairwise(layers):
            if before.contact is not None or layer.medium is not before.medium:
                break
            count += layer.cells
        return count

    def temperature(self, energy: Array, share: Array) -> tuple[Array, Array]:
        """(temperature [K], d energy/d temperature [J/kg/K]) of all cells."""
        both = [c.temperature(energy[s], share[s]) for c, s in zip(self.curves, self.cuts, strict=True)]
        return np.concatenate([t for t, _ in both]), np.concatenate([c for _, c in both])

    def energy(self, temperature: Array, share: Array) -> Array:
        """Enthalpy of all cells [J/kg]."""
        pairs = zip(self.curves, self.cuts, strict=True)
        return np.concatenate([c.energy(temperature[s], share[s]) for c, s in pairs])

    def share_after(self, energy: Array, share: Array) -> Array:
        """Crystalline share of all cells after a step."""
        pairs = zip(self.curves, self.cuts, strict=True)
        return np.concatenate([c.share_after(energy[s], share[s]) for c, s in pairs])

    def conductivity(self, temperature: Array) -> Array:
        """Conductivity of all cells [W/m/K]."""
        out = np.empty(self.cells)
        for layer, cut in zip(self.problem.layers, self.cuts, strict=True):
            k = layer.medium.conductivity
            out[cut] = np.interp(temperature[cut], k.temperature, k.value) if isinstance(k, Curve) else float(k)
        return out

    def start(self) -> State:
        """The state at time 0."""
        layers = self.problem.layers
        t = np.concatenate([np.broadcast_to(np.ravel(la.start), (la.cells,)) for la in layers]).astype(float)
        share = np.concatenate(
            [
                c.start_share(t[s])
                if la.crystalline_start is None
                else np.broadcast_to(np.ravel(la.crystalline_start), (la.cells,))
                for la, c, s in zip(layers, self.curves, self.cuts, strict=True)
            ]
        )
        degrees = [np.array(np.broadcast_to(np.ravel(r.start), (la.cells,)), float) for _, la, r in self.reactions]
        return State(self.energy(t, share), share, degrees)

    def sources(self, span: Span, begun: float, time: float) -> Array:
        """Heat put into the cells [W/m3] at a time of the span."""
        heat = np.concatenate([np.full(la.cells, value_at(la.heat, begun + time)) for la in self.problem.layers])
        for put in span.sources:
            heat = heat + np.ravel(put.density) * value_at(put.factor, time)
        return heat

    def react(
        self, t: Array, base: list[Array], guess: list[Array], dt: float
    ) -> tuple[list[Array], Array, Array] | None:
        """(degrees after an implicit step at temperatures t, heat [W/m3], dt d(heat)/dT); None where dt is too long."""
        out: list[Array] = []
        gains: list[Array] = []
        heat, slope = np.zeros(self.cells), np.zeros(self.cells)
        for j, (cut, layer, reaction) in enumerate(self.reactions):
            before = [i for i in range(j) if self.reactions[i][1] is layer]
            degree = guess[j].copy()
            for _ in range(30):
                args = (*(out[i] for i in before), degree)
                rate, by_t, by_degree = reaction.rate.linearise(t[cut], args)
                pivot = 1.0 - dt * by_degree[-1]
                if not np.all(pivot > 0.05):
                    return None
                change = (degree - base[j] - dt * rate) / pivot
                degree = degree - change
                if np.max(np.abs(change)) < 1e-13:
                    break
            else:
                return None
            gain = by_t
            for i, partial in zip(before, by_degree[:-1], strict=True):
                gain = gain + partial * gains[i]
            gains.append(dt * gain / pivot)
            out.append(degree)
            released = float(layer.medium.density) * float(reaction.heat)
            heat[cut] += released * (degree - base[j]) / dt
            slope[cut] += released * gains[j]
        return out, heat, slope

    def stage(
        self, base: State, guess: State, share: Array, dt: float, span: Span, begun: float, time: float
    ) -> State | None:
        """One implicit step of length dt from ``base`` to ``time`` (of the span); None where it does not converge."""
        energy, degrees = guess.energy, guess.degrees
        source, ratio = self.sources(span, begun, time), self.ratio
        t, c = self.temperature(energy, share)
        for sweep in range(SWEEPS):
            k = self.conductivity(t)
            resistance = self.half_out[:-1] / k[:-1] + self.half_in[1:] / k[1:] + self.contact
            gamma = np.zeros(self.cells + 1)
            gamma[1:-1] = self.distance / (self.area[1:-1] * resistance)
            given = (source - self.density * (energy - base.energy) / dt) * ratio
            taken = np.zeros(self.cells)
            capacity = self.density * c
            if self.reactions:
                reacted = self.react(t, base.degrees, degrees, dt)
                if reacted is None or np.any(reacted[2] > 0.95 * capacity):
                    return None
                degrees, heat, slope = reacted
                given = given + heat * ratio
                capacity = capacity - slope
            if span.emission is not None:  # made linear about the temperatures of the sweep before
                off = STEFAN_BOLTZMANN * np.ravel(span.emission) * ratio
                taken += 4.0 * off * t**3
                given = given + 3.0 * off * t**4
            for i, face, surface in self._faces(span):
                g, area = self._half(i, k), self.area[i] / self.fipy_volume[i]
                a, b = surface.conditions(face, time, float(t[i]), g)
                taken[i] += a * area
                given[i] += b * area
            self.gamma.setValue(gamma)
            self.capacity.setValue(capacity * ratio)
            self.given.setValue(given)
            self.taken.setValue(taken)
            self.unknown.setValue(t)
            self.equation.sweep(var=self.unknown, dt=dt, solver=self.solver)
            self.sweeps += 1
            new = np.array(self.unknown.value)
            if not np.all(np.isfinite(new)):
                return None
            # along the tangent, or along the curve: the shorter of the two cannot jump over a latent heat
            tangent, curve = c * (new - t), self.energy(new, share) - energy
            step = np.where(np.abs(curve) < np.abs(tangent), curve, tangent)
            energy = energy + step * (0.5 if sweep > SWEEPS // 2 else 1.0)
            change = float(np.max(np.abs(new - t)))
            t, c = self.temperature(energy, share)
            if self.linear or (change < STILL and float(np.max(np.abs(new - t))) < STILL):
                return State(energy, share, degrees)
        return None

    def _faces(self, span: Span) -> list[tuple[int, Face, Surface]]:
        """(index of cell and edge, conditions, surface) of the faces that there are."""
        both = [(0, span.inner, self.inner), (-1, span.outer, self.outer)]
        return both[1:] if self.axis else both

    def _half(self, i: int, k: Array) -> float:
        """Conductance between a face and the centre of its cell [W/m2/K]; i : 0 inner, -1 outer."""
        resistance = self.half_in[0] if i == 0 else self.half_out[-1]
        return float(k[i] / (resistance * self.area[i]))

    def row(self, state: State, span: Span, time: float) -> tuple[Array, float, float, dict[str, Array]]:
        """(temperature, inner face, outer face, states) of a moment."""
        t, _ = self.temperature(state.energy, state.share)
        k = self.conductivity(t)
        at = [surface.settle(face, time, float(t[i]), self._half(i, k)) for i, face, surface in self._faces(span)]
        states: dict[str, Array] = {}
        for (cut, _, reaction), degree in zip(self.reactions, state.degrees, strict=True):
            states.setdefault(reaction.state, np.full(self.cells, np.nan))[cut] = degree
        for curve, cut in zip(self.curves, self.cuts, strict=True):
            if curve.crystallising is not None:
                states.setdefault("crystalline_share", np.full(self.cells, np.nan))[cut] = state.share[cut]
        return t, self._axis_temperature(t) if self.axis else at[0], at[-1], states

    def _axis_temperature(self, t: Array) -> float:
        """On an axis the profile is even: a parabola through the two innermost centres."""
        if self.cells == 1:
            return float(t[0])
        r0, r1 = self.centres[:2] ** 2
        return float(t[0] - (t[1] - t[0]) * r0 / (r1 - r0))
