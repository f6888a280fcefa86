"""The second engine: the same body on the same mesh solved with FiPy, to hold the layered solver against.

Only the finite volumes are the same. FiPy assembles and solves the equations; time is stepped by a two-stage diagonally
implicit Runge-Kutta method (Alexander 1977, order 2, L-stable, gamma = 1 - 1/sqrt(2)) on a grid fixed beforehand. Each
stage is one implicit Euler step of length gamma dt from a base energy, swept until the temperatures stand still:

    (C - d(heat)/dT dt') (T - T*)/dt' = div(k grad T) + sources - (h(T*) - h_base)/dt',     dt' = gamma dt

C is the slope of h at the present energy (apparent heat capacity; the last term is the energy correction, so latent heat
is conserved however narrow). Degrees are solved cell by cell within each sweep. A step that does not converge, or that is
too long for an exotherm, is halved; a :class:`SolveError` says where that does not help. Its own error is found by halving
every step (:func:`estimate_error`).

FiPy reads ``sys.argv`` and ``FIPY_SOLVERS`` when it is imported and warns on numpy 2; :func:`load_fipy` is the one place
that imports it, with those shielded and put back afterwards.
"""

from __future__ import annotations

import math
import os
import sys
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.energy_curve import EnergyCurve
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve, Face, Problem, Series, Span
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from types import ModuleType

    from thermokit.conduction.problem import Array, Varying

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
SWEEPS = 40
STILL = 1e-6  # K: a sweep that moves no temperature further has converged
DEEPEST = 12  # times that a step may be halved


@dataclass(frozen=True)
class FipyHistory:
    """Rows of the second engine.

    times : (rows,) [s]; temperature : (rows, cells) [K]; inner_face, outer_face : (rows,) [K]; states : name -> (rows,
    cells), NaN where nothing reacts; steps, sweeps : how many it took.
    """

    times: Array
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]
    steps: int
    sweeps: int


@dataclass(frozen=True)
class FipyError:
    """The solution with halved steps and how far the one with whole steps is from it, entry by entry (same shapes).

    For a method of order 2 the difference is about three times the error of the halved solution.
    """

    history: FipyHistory
    temperature: Array
    inner_face: Array
    outer_face: Array
    states: dict[str, Array]


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
    return fipy  # type: ignore[no-any-return]


def solve_fipy(problem: Problem, times: Array, steps_per_span: int = 40) -> FipyHistory:
    """Temperatures of one body at the asked times, by FiPy.

    times : (rows,) ascending [s], within the run (each is hit exactly, so each adds a step); steps_per_span : equal in the
    square root of time within each span, and again after each jump of a time table.
    """
    return _Engine(problem).run(np.asarray(times, float), steps_per_span, halved=False)


def estimate_error(problem: Problem, times: Array, steps_per_span: int = 40) -> FipyError:
    """The same with every step halved, beside the difference from whole steps."""
    engine, rows = _Engine(problem), np.asarray(times, float)
    whole = engine.run(rows, steps_per_span, halved=False)
    half = engine.run(rows, steps_per_span, halved=True)
    return FipyError(
        history=half,
        temperature=np.abs(half.temperature - whole.temperature),
        inner_face=np.abs(half.inner_face - whole.inner_face),
        outer_face=np.abs(half.outer_face - whole.outer_face),
        states={name: np.abs(values - whole.states[name]) for name, values in half.states.items()},
    )


def value_at(value: Varying, time: float) -> float:
    """A value at a time [s], the earlier one where it jumps."""
    if not isinstance(value, Series):
        return float(value)
    j = int(np.searchsorted(np.asarray(value.time, float), time, side="left"))
    if j == 0 or j == len(value.time):
        return float(value.value[min(j, len(value.time) - 1)])
    (a, b), (u, v) = value.time[j - 1 : j + 1], value.value[j - 1 : j + 1]
    return float(u + (v - u) * (time - a) / (b - a))


class _Surface:
    """A face without heat capacity: its exchange made linear about its last temperature, in series with the half cell."""

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
class _State:
    """Energy [J/kg], crystalline share and degrees of every cell at a time."""

    energy: Array
    share: Array
    degrees: list[Array]


class _Engine:
    def __init__(self, problem: Problem):
        self.problem = problem
        layers = problem.layers
        ends = np.cumsum([0, *(layer.cells for layer in layers)])
        self.cuts = [slice(int(a), int(b)) for a, b in zip(ends[:-1], ends[1:], strict=True)]
        self.curves = [EnergyCurve(layer.medium) for layer in layers]
        starts = np.cumsum([0.0, *(float(layer.thickness) for layer in layers)])
        parts = [s + np.asarray(la.edges, float) * float(la.thickness) for s, la in zip(starts, layers, strict=False)]
        depth = np.concatenate([parts[0], *(p[1:] for p in parts[1:])])
        self.cells = n = len(depth) - 1
        self._mesh(depth + (float(problem.inner_radius) if problem.shape != "plane" else 0.0))
        self.density = np.repeat([float(la.medium.density) for la in layers], [la.cells for la in layers])
        self.contact = np.zeros(n - 1)
        for layer, cut in zip(layers[:-1], self.cuts[:-1], strict=True):
            if layer.contact is not None:
                self.contact[cut.stop - 1] = 1.0 / (float(layer.contact) * self.area[cut.stop])
        self.reactions = [(cut, la, r) for la, cut in zip(layers, self.cuts, strict=True) for r in la.reactions]
        faces = [face for span in problem.spans for face in (span.inner, span.outer)]
        self.linear = not (
            self.reactions
            or any(face.radiation for face in faces)
            or any(isinstance(la.medium.conductivity, Curve) for la in layers)
            or not all(curve.constant for curve in self.curves)
        )
        self.sweeps = self.steps = 0

    def _mesh(self, r: Array) -> None:
        """FiPy's mesh and terms, and the resistances of the half cells [m/k]: exact for shells, whatever the mesh."""
        fipy = load_fipy()
        shape, width, n = self.problem.shape, np.diff(r), self.cells
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
        self.distance = np.diff(middle)
        # FiPy takes r_mid^2 dr for the volume of a shell: coefficients carry the ratio to the exact one
        self.fipy_volume = np.asarray(mesh.cellVolumes, float)
        self.axis = power > 0 and r[0] == 0.0
        self.unknown = fipy.CellVariable(mesh=mesh, value=300.0)
        self.capacity = fipy.CellVariable(mesh=mesh, value=1.0)
        self.given = fipy.CellVariable(mesh=mesh, value=0.0)
        self.taken = fipy.CellVariable(mesh=mesh, value=0.0)
        self.gamma = fipy.FaceVariable(mesh=mesh, value=np.zeros(n + 1))
        self.equation = fipy.TransientTerm(coeff=self.capacity) == (
            fipy.DiffusionTerm(coeff=self.gamma) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        from fipy.solvers.scipy import LinearLUSolver

        self.solver = LinearLUSolver()

    def temperature(self, energy: Array, share: Array) -> tuple[Array, Array]:
        """(temperature [K], d energy/d temperature [J/kg/K]) of all cells."""
        both = [c.temperature(energy[s], share[s]) for c, s in zip(self.curves, self.cuts, strict=True)]
        return np.concatenate([t for t, _ in both]), np.concatenate([c for _, c in both])

    def energy(self, temperature: Array, share: Array) -> Array:
        """Enthalpy of all cells [J/kg]."""
        return np.concatenate([c.energy(temperature[s], share[s]) for c, s in zip(self.curves, self.cuts, strict=True)])

    def conductivity(self, temperature: Array) -> Array:
        """Conductivity of all cells [W/m/K]."""
        out = np.empty(self.cells)
        for layer, cut in zip(self.problem.layers, self.cuts, strict=True):
            k = layer.medium.conductivity
            out[cut] = np.interp(temperature[cut], k.temperature, k.value) if isinstance(k, Curve) else float(k)  # type: ignore[arg-type]
        return out

    def start(self) -> _State:
        """The state at time 0."""
        t = np.concatenate([np.broadcast_to(np.ravel(la.start), (la.cells,)) for la in self.problem.layers]).astype(
            float
        )
        share = np.concatenate([c.start_share(t[s]) for c, s in zip(self.curves, self.cuts, strict=True)])
        degrees = [np.array(np.broadcast_to(np.ravel(r.start), (la.cells,)), float) for _, la, r in self.reactions]
        return _State(self.energy(t, share), share, degrees)

    def sources(self, span: Span, begun: float, time: float) -> Array:
        """Heat put into the cells [W/m3] at a time of the span."""
        heat = np.concatenate([np.full(la.cells, value_at(la.heat, begun + time)) for la in self.problem.layers])
        if span.source is not None:
            heat = heat + np.ravel(span.source.density) * value_at(span.source.factor, time)
        return heat

    def react(
        self, t: Array, base: list[Array], guess: list[Array], dt: float
    ) -> tuple[list[Array], Array, Array] | None:
        """Degrees after an implicit step at temperatures t, (heat [W/m3], d(heat)/dT dt); None where dt is too long."""
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
        self, base: _State, guess: _State, share: Array, dt: float, span: Span, begun: float, time: float
    ) -> _State | None:
        """One implicit step of length dt from ``base`` to ``time`` (of the span); None where it does not converge."""
        energy, degrees = guess.energy.copy(), guess.degrees
        source, ratio = self.sources(span, begun, time), self.volume / self.fipy_volume
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
            for i, face, surface, half, edge in (
                (0, span.inner, self.inner, self.half_in, 0),
                (-1, span.outer, self.outer, self.half_out, -1),
            ):
                if not (self.axis and i == 0):
                    g = k[i] / (half[i] * self.area[edge])
                    a, b = surface.conditions(face, time, float(t[i]), float(g))
                    taken[i] += a * self.area[edge] / self.fipy_volume[i]
                    given[i] += b * self.area[edge] / self.fipy_volume[i]
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
                return _State(energy, share, degrees)
        return None

    def step(self, state: _State, dt: float, span: Span, begun: float, time: float, depth: int = 0) -> _State:
        """From ``time`` to ``time + dt`` of a span."""
        share = state.share
        first = self.stage(state, state, share, GAMMA * dt, span, begun, time + GAMMA * dt)
        if first is not None:
            weight = (1.0 - GAMMA) / GAMMA

            def ahead(a: Array, b: Array, w: float) -> Array:
                return a + w * (b - a)

            base = _State(
                ahead(state.energy, first.energy, weight),
                share,
                [ahead(a, b, weight) for a, b in zip(state.degrees, first.degrees, strict=True)],
            )
            new = self.stage(base, first, share, GAMMA * dt, span, begun, time + dt)
            if new is not None:
                self.steps += 1
                after = [
                    c.share_after(new.energy[s], share[s]) if c.crystallising is not None else share[s]
                    for c, s in zip(self.curves, self.cuts, strict=True)
                ]
                return _State(new.energy, np.concatenate(after), new.degrees)
        if depth == DEEPEST:
            raise SolveError(
                f"FiPy did not converge at {begun + time:g} s, with a step of {dt:g} s",
                "give it more steps a span, or look for a jump in a property there",
            )
        middle = self.step(state, dt / 2, span, begun, time, depth + 1)
        return self.step(middle, dt / 2, span, begun, time + dt / 2, depth + 1)

    def grid(self, span: Span, begun: float, rows: Array, steps: int, halved: bool) -> Array:
        """Times of a span at which a step ends, its start first; every jump and every asked row is one of them."""
        length = float(span.duration)
        tables = [(v, 0.0) for v in _varyings(span)] + [(la.heat, begun) for la in self.problem.layers]
        knots = {0.0, length}
        for value, offset in tables:
            if isinstance(value, Series):
                knots |= {float(t) - offset for t in value.time if 0.0 < float(t) - offset < length}
        ends = sorted(knots)
        graded = np.linspace(0.0, 1.0, max(2, steps // max(1, len(ends) - 1)) + 1) ** 2
        nodes = [a + (b - a) * graded for a, b in zip(ends[:-1], ends[1:], strict=True)]
        asked = rows - begun
        asked = asked[(asked > 0.0) & (asked < length)]
        out = np.unique(np.concatenate([*nodes, asked]))
        # nodes closer than round-off to an asked row make no step of their own
        out = out[np.concatenate([[True], np.diff(out) > 1e-12 * length])]
        out[-1] = length
        return np.unique(np.concatenate([out, (out[1:] + out[:-1]) / 2])) if halved else out

    def run(self, rows: Array, steps: int, halved: bool) -> FipyHistory:
        """All spans."""
        self.inner, self.outer = _Surface(), _Surface()
        self.sweeps = self.steps = 0
        state, begun, made = self.start(), 0.0, []
        total = math.fsum(float(span.duration) for span in self.problem.spans)
        if np.any(np.diff(rows) <= 0) or rows[0] < 0 or rows[-1] > total * (1 + 1e-12):
            raise ValueError("times must ascend within the run")
        for number, span in enumerate(self.problem.spans):
            length = float(span.duration)
            if number == 0 and rows[0] == 0.0:
                made.append(self.row(state, span, 0.0))
            times = self.grid(span, begun, rows, steps, halved) if length > 0 else np.zeros(1)
            for a, b in zip(times[:-1], times[1:], strict=True):
                state = self.step(state, float(b - a), span, begun, float(a))
                if len(made) < len(rows) and begun + b >= rows[len(made)] - 1e-9 * length:
                    made.append(self.row(state, span, float(b)))
            begun += length
        stacked = [np.array(column) for column in zip(*(m[:3] for m in made), strict=True)]
        names = made[0][3].keys()
        states = {name: np.array([m[3][name] for m in made]) for name in names}
        return FipyHistory(rows, stacked[0], stacked[1], stacked[2], states, self.steps, self.sweeps)

    def row(self, state: _State, span: Span, time: float) -> tuple[Array, float, float, dict[str, Array]]:
        """(temperature, inner face, outer face, states) of a moment."""
        t, _ = self.temperature(state.energy, state.share)
        k = self.conductivity(t)
        inner = float(t[0])
        if not self.axis:
            inner = self.inner.settle(span.inner, time, inner, float(k[0] / (self.half_in[0] * self.area[0])))
        g = float(k[-1] / (self.half_out[-1] * self.area[-1]))
        outer = self.outer.settle(span.outer, time, float(t[-1]), g)
        states: dict[str, Array] = {}
        for (cut, _, reaction), degree in zip(self.reactions, state.degrees, strict=True):
            states.setdefault(reaction.state, np.full(self.cells, np.nan))[cut] = degree
        if any(curve.crystallising is not None for curve in self.curves):
            shares = np.full(self.cells, np.nan)
            for curve, cut in zip(self.curves, self.cuts, strict=True):
                if curve.crystallising is not None:
                    shares[cut] = state.share[cut]
            states["crystalline_share"] = shares
        return t, inner, outer, states


def _varyings(span: Span) -> list[Any]:
    """Everything of a span that may change in time, on the span's own clock."""
    out: list[Any] = [] if span.source is None else [span.source.factor]
    for face in (span.inner, span.outer):
        out += [face.heating, face.temperature]
        out += [x for term in face.exchange for x in (term.coefficient, term.temperature)]
        out += [seen.temperature for seen in face.radiation]
    return out
