"""Finite volumes by FiPy, in two ways: thermokit's second engine on a mesh of this room's, and FiPy as its manual has one use it.

The engine (``thermokit.conduction.fipy_engine``, order 2 in time) is what ``thermokit verify`` asks; here it follows the whole way
by itself, with its own state from leg to leg. The plain one has nothing of thermokit in it: implicit Euler with sweeps, a heat
capacity at the present temperature, and its answer drawn on to steps of no length from two runs (Richardson).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.fipy_engine import estimate_error, solve_fipy
from thermokit.conduction.fipy_stage import load_fipy
from thermokit.conduction.problem import Layer, Problem
from validation.solvers.data import Heat, Piece, conductivity, pieces
from validation.solvers.laws import rate_of
from validation.solvers.mesh import CRYSTALLINE, Profile, Rings

Array = NDArray[np.float64]
STEPS = 6  # of the engine in a span, at least


class Engine:
    """FiPy as thermokit's second engine drives it."""

    name, cells, rows = "FiPy (engine)", 24, 10

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Array, level: int) -> dict[str, Profile]:
        """Profiles at the times."""
        rings = Rings(problem)
        layers = tuple(self._begun(la, start[la.name], Heat(la.medium)) for la in problem.layers)
        given = problem.with_(layers=layers)
        # the fine run has the steps of the rough one cut in two, those that the engine shortened by itself too
        found = solve_fipy(given, times, STEPS) if level == 1 else estimate_error(given, times, STEPS).history
        pairs = list(zip(layers, rings.cut, strict=True))
        k = np.concatenate([conductivity(la.medium, found.temperature[:, cut]) for la, cut in pairs], axis=1)
        states = [
            {name: values[:, cut] for name, values in found.states.items() if np.all(np.isfinite(values[:, cut]))}
            for _, cut in pairs
        ]
        profiles = rings.profiles(found.temperature, k, found.inner_face, found.outer_face, states)
        # its nodes lie half-way between the faces of a cell
        moved = {}
        for la, _ in pairs:
            own, middle = profiles[la.name], _middle(la)
            moved[la.name] = replace(own, x=np.concatenate([[0.0], middle, [1.0]]), xs=middle)
        return moved

    @staticmethod
    def _begun(layer: Layer, before: Profile, heat: Heat) -> Layer:
        middle = _middle(layer)
        t = before.temperature_at(middle)[0]
        share = None
        if heat.two:
            kept = CRYSTALLINE in before.states
            share = np.clip(before.state_at(CRYSTALLINE, middle)[0] if kept else heat.start_share(t), 0.0, 1.0)
        reactions = tuple(
            replace(r, start=before.state_at(r.state, middle)[0] if r.state in before.states else r.start)
            for r in layer.reactions
        )
        return replace(layer, start=t, reactions=reactions, crystalline_start=share)


def _middle(layer: Layer) -> Array:
    return np.asarray((layer.edges[1:] + layer.edges[:-1]) / 2.0)


class Plain:
    """FiPy by its manual: TransientTerm, DiffusionTerm, sources; implicit steps, each swept until it stands still."""

    name, cells, rows = "FiPy (plain)", 24, 10
    steps = 3  # between two rows in the rough run, before they are halved for the extrapolation

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Array, level: int) -> dict[str, Profile]:
        """Profiles at the times."""
        once, twice = (One(problem, start).run(times, self.steps * level * n) for n in (1, 2))
        found = {}
        for name, fine in twice.items():
            rough = once[name]
            states = {n: 2.0 * v - rough.states[n] for n, v in fine.states.items()}
            found[name] = replace(fine, temperature=2.0 * fine.temperature - rough.temperature, states=states)
        return found


class One:
    """A body of one layer without latent heat as FiPy's variables and equation."""

    def __init__(self, problem: Problem, start: Mapping[str, Profile]):
        fipy = load_fipy()
        from fipy.solvers.scipy import LinearLUSolver

        (layer,) = problem.layers
        if problem.shape == "sphere" or layer.medium.melting is not None:
            raise ValueError("a plane or ring of one layer without latent heat")
        self.problem, self.layer, self.rings = problem, layer, Rings(problem)
        width = np.asarray(layer.edges)[1:] - np.asarray(layer.edges)[:-1]
        dx = width * float(layer.thickness)
        ring = problem.shape == "cylinder"
        origin = (float(problem.inner_radius),)
        self.mesh = fipy.CylindricalGrid1D(dx=dx, origin=origin) if ring else fipy.Grid1D(dx=dx)
        self.ends = np.array([self.rings.area[0], self.rings.area[-1]]) / np.asarray(self.mesh.cellVolumes)[[0, -1]]
        self.half = dx[[0, -1]] / 2.0
        middle = _middle(layer)
        before = start[layer.name]
        self.t = fipy.CellVariable(mesh=self.mesh, value=before.temperature_at(middle)[0], hasOld=True)
        self.k, self.c, self.given, self.taken = (fipy.CellVariable(mesh=self.mesh, value=1.0) for _ in range(4))
        self.equation = fipy.TransientTerm(coeff=self.c) == (
            fipy.DiffusionTerm(coeff=self.k.harmonicFaceValue) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        # its default stops at once where the residual is small beside C T/dt, and so loses the small steps
        self.solver = LinearLUSolver(criterion="initial", tolerance=1e-12)
        self.heat = Heat(layer.medium)
        self.rates = [(r.state, float(r.heat), rate_of(r.rate)) for r in layer.reactions]
        self.degrees = {}
        for r in layer.reactions:
            begun = np.zeros(len(middle)) + np.ravel(np.asarray(r.start, float))
            self.degrees[r.state] = before.state_at(r.state, middle)[0] if r.state in before.states else begun
        self.middle = middle

    def run(self, times: Array, steps: int) -> dict[str, Profile]:
        """Rows at the times, so many steps before each."""
        rows: list[Any] = []
        clock = 0.0
        for piece in pieces(self.problem):
            slack = 1e-9 * (piece.end - piece.begin)
            inside = times[(times > piece.begin + slack) & (times < piece.end - slack)]
            for n, stop in enumerate([*inside, piece.end]):
                first = clock
                # after a switch the steps grow from the square of small shares
                shares = np.linspace(0.0, 1.0, steps + 1) ** (2 if n == 0 else 1)
                for share in shares[1:]:
                    now = first + (stop - first) * share
                    self.step(now - clock, now, piece)
                    clock = now
                if len(rows) < len(times) and stop >= times[len(rows)] - slack:
                    rows.append(self.row(stop, piece))
        temperature = np.array([row[0] for row in rows])
        x = np.concatenate([[0.0], self.middle, [1.0]])
        mass = self.rings.volume / self.rings.volume.sum()
        states = {name: np.array([row[1][name] for row in rows]) for name in self.degrees}
        return {self.layer.name: Profile(x, temperature, self.middle, states, slice(1, -1), mass, mass)}

    def step(self, dt: float, clock: float, piece: Piece) -> None:
        """One implicit step, swept until nothing moves."""
        self.t.updateOld()
        old = np.array(self.t.value)
        begun = {name: values.copy() for name, values in self.degrees.items()}
        for _ in range(60):
            t = np.array(self.t.value)
            made, slope = self.react(t, begun, dt)
            # what the cells hold more than at the last step, as a capacity along the chord, along the curve where it is none
            rise = np.where(np.abs(t - old) > 1e-4, t - old, 1e-3)
            capacity = (self.heat.content(old + rise) - self.heat.content(old)) / rise
            self.c.setValue(float(self.layer.medium.density) * capacity)
            self.k.setValue(conductivity(self.layer.medium, t))
            given, taken = made - slope * t, -slope
            given = given + piece.heat[0].at(clock - piece.begin)
            for density, factor in piece.sources:
                given = given + density * factor.at(clock - piece.begin)
            for i, (g, surface, side) in zip((0, -1), self.sides(t, clock, piece), strict=True):
                if self.ends[i] == 0.0:
                    continue
                if side.temperature is not None:
                    a, b = g, g * surface
                else:
                    flux, falls = side.flux(clock - piece.begin, surface)
                    a = g * falls / (g + falls)
                    b = g * (flux + falls * surface) / (g + falls)
                given[i] += b * self.ends[i]
                taken[i] += a * self.ends[i]
            self.given.setValue(given)
            self.taken.setValue(taken)
            self.equation.sweep(var=self.t, dt=dt, solver=self.solver)
            if np.max(np.abs(np.array(self.t.value) - t)) < 1e-5:
                return
        raise RuntimeError(f"FiPy's sweeps did not stand still at {clock:g} s")

    def react(self, t: Array, begun: dict[str, Array], dt: float) -> tuple[Array, Array]:
        """(heat [W/m3], its slope [W/m3/K]) of the reactions in an implicit step at temperatures; their degrees move."""

        def grown(t: Array) -> tuple[Array, dict[str, Array]]:
            made, own = np.zeros_like(t), dict[str, Array]()
            for name, heat, rate in self.rates:
                a = begun[name].copy()
                for _ in range(60):
                    new = begun[name] + dt * rate(t, (*own.values(), a))
                    a, moved = 0.5 * (a + new), np.max(np.abs(new - a))
                    if moved < 1e-12:
                        break
                own[name] = a
                made = made + float(self.layer.medium.density) * heat * (a - begun[name]) / dt
            return made, own

        made, self.degrees = grown(t)
        return made, (grown(t + 0.01)[0] - made) / 0.01

    def sides(self, t: Array, clock: float, piece: Piece) -> list[tuple[float, float, Any]]:
        """(conductance of the half cell [W/m2/K], temperature of the face [K], side) of both faces."""
        found = []
        for i, side in zip((0, -1), (piece.inner, piece.outer), strict=True):
            g = float(conductivity(self.layer.medium, t[[i]])[0] / self.half[i])
            found.append((g, side.surface(clock - piece.begin, float(t[i]), g), side))
        return found

    def row(self, clock: float, piece: Piece) -> tuple[Array, dict[str, Array]]:
        """(temperatures with those of the faces, degrees) at a moment."""
        t = np.array(self.t.value)
        (_, inner, _), (_, outer, _) = self.sides(t, clock, piece)
        return np.concatenate([[inner], t, [outer]]), {name: v.copy() for name, v in self.degrees.items()}
