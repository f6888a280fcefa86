"""FiPy as its manual has one use it: implicit Euler, a heat capacity at the present temperature, steps that grow.

Nothing of thermokit is in it. Each stage begins with a small step that grows by a factor, up to a longest; each step is
swept until the temperatures stand still. Faces are implicit sources with the half cell in series. The solver's
criterion is set, because its default stops early on small steps. Degrees of P2 are stepped before the temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermokit.conduction.fipy_stage import load_fipy
from validation.speed.equations import GAS, KELVIN, PROBLEMS, SIGMA, Charge, Sheet, Wire, output_shares


@dataclass(frozen=True)
class Steps:
    """First step, growth and longest step as a share of the stage."""

    first: float
    growth: float
    longest: float


# about a thousand sweeps for P1 and P3, with errors of 0.8 and 1 K; P2 needs several times as many for 10 K
STEPS = {"P1": Steps(1e-2, 1.1, 0.01), "P2": Steps(0.1, 1.1, 0.0004), "P3": Steps(1e-4, 1.1, 0.01)}


class Direct:
    """One of the reference problems in FiPy."""

    def __init__(self, name: str):
        fipy = load_fipy()
        from fipy.solvers.scipy import LinearLUSolver

        self.name, self.rod = name, PROBLEMS[name](PROBLEMS[name].reference)  # type: ignore[attr-defined]
        self.solver = LinearLUSolver(criterion="initial", tolerance=1e-10)
        rod = self.rod
        if isinstance(rod, Wire):
            mesh = fipy.CylindricalGrid1D(dx=2e-3 / 60 * np.concatenate([np.full(20, 1.5), np.full(40, 0.75)]))
            _, link, _, rho, self.half = rod.grid()
            self.rho, middle = rho, mesh.cellCenters.value[0]
            radius = mesh.faceCenters.value[0]
            gamma = np.concatenate([[0.0], link * np.diff(middle) / radius[1:-1], [0.0]])
            self.areas = (0.0, 2e-3 / mesh.cellVolumes[-1])
        else:
            dx = rod.thickness / rod.cells  # type: ignore[attr-defined]
            mesh = fipy.Grid1D(dx=dx, nx=rod.cells)
            k = rod.conductivity  # type: ignore[attr-defined]
            self.rho, self.half = np.full(rod.cells, rod.density), k / (dx / 2)  # type: ignore[attr-defined]
            gamma = np.concatenate([[0.0], np.full(rod.cells - 1, k), [0.0]])
            self.areas = (1.0 / dx, 1.0 / dx)
        self.t = fipy.CellVariable(mesh=mesh, value=float(rod.value("start")), hasOld=True)
        self.capacity, self.given, self.taken = (fipy.CellVariable(mesh=mesh, value=1.0) for _ in range(3))
        self.equation = fipy.TransientTerm(coeff=self.capacity) == (
            fipy.DiffusionTerm(coeff=fipy.FaceVariable(mesh=mesh, value=gamma))
            + self.given
            - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        self.degree = np.full(rod.cells, Charge.degree_start)
        self.sweeps = 0

    def heat_capacity(self, t: np.ndarray) -> np.ndarray:
        """Volumetric heat capacity [J/m3/K]."""
        if isinstance(self.rod, Sheet):
            return self.rho * Sheet.specific_heat(t)
        if isinstance(self.rod, Charge):
            return self.rho * Charge.capacity
        return self.rho * np.where(np.arange(60) < 20, Wire.core[2], Wire.specific_heat(t))

    def faces(self, stage: int) -> list[tuple[list[tuple[float, float]], list[tuple[float, float]]]]:
        """([(h, air)], [(factor, seen)]) of the inner and the outer face."""
        v = self.rod.value
        if isinstance(self.rod, Sheet):
            panels = ([(v("panel_h"), v("air"))], [(0.85 * 0.7, v("heater")), (0.85 * 0.3, 30.0)])
            still = ([(6.0, 25.0)], [(0.85, 25.0)])
            return [[panels, panels], [still, still], [([(40.0, 25.0)], []), ([(v("tool_h"), v("tool"))], [])]][stage]
        if isinstance(self.rod, Charge):
            return [([(v("h"), v("platen"))], [])] * 2
        return [([], []), ([(20.0, 25.0) if stage == 0 else (v("water_h"), v("water"))], [])]

    def react(self, t: np.ndarray, dt: float) -> np.ndarray:
        """Step the degrees at fixed temperatures (implicit Euler, Newton's method); heat [W/m3]."""
        tk, before = t + KELVIN, self.degree
        k1, k2 = (f * np.exp(-e / GAS / tk) for f, e in zip(Charge.factors, Charge.energies, strict=True))
        a = before.copy()
        for _ in range(30):
            x, y = np.maximum(a, 1e-9), np.maximum(1.0 - a, 1e-12)
            rate = (k1 + k2 * x**Charge.m) * y**Charge.n
            slope = k2 * Charge.m * x ** (Charge.m - 1.0) * y**Charge.n - Charge.n * rate / y
            change = (a - before - dt * rate) / (1.0 - dt * slope)
            a = np.clip(a - change, 0.0, 1.0)
            if np.abs(change).max() < 1e-12:
                break
        self.degree = a
        return self.rho * self.rod.value("released") * (a - before) / dt

    def step(self, stage: int, dt: float) -> None:
        """One step, swept until it stands still."""
        self.t.updateOld()
        released = self.react(self.t.value, dt) if isinstance(self.rod, Charge) else 0.0
        for _ in range(30):
            t = self.t.value.copy()
            given, taken = np.zeros(len(t)) + released, np.zeros(len(t))
            for i, area, (exchange, radiation) in zip((0, -1), self.areas, self.faces(stage), strict=True):
                surface = t[i] + KELVIN
                for _ in range(6):
                    slope = sum(h for h, _ in exchange) + sum(4 * f * SIGMA * surface**3 for f, _ in radiation)
                    heat = sum(h * (a + KELVIN) for h, a in exchange)
                    heat += sum(f * SIGMA * ((s + KELVIN) ** 4 + 3 * surface**4) for f, s in radiation)
                    if slope:
                        surface = (self.half * (t[i] + KELVIN) + heat) / (self.half + slope)
                if slope:
                    conductance = area / (1.0 / self.half + 1.0 / slope)
                    taken[i] += conductance
                    given[i] += conductance * (heat / slope - KELVIN)
            self.capacity.setValue(self.heat_capacity(t))
            self.given.setValue(given)
            self.taken.setValue(taken)
            self.equation.sweep(var=self.t, dt=dt, solver=self.solver)
            self.sweeps += 1
            if np.abs(self.t.value - t).max() < 1e-3:
                return
        raise RuntimeError("FiPy did not converge")

    def run(self, steps: Steps) -> np.ndarray:
        """Temperatures (rows, cells) [degC] at the output times."""
        rows = []
        for stage, shares in enumerate(output_shares(self.name)):
            length = float(self.rod.durations()[stage])
            now, dt = 0.0, steps.first
            for target in shares * length:
                while now < target * (1 - 1e-12):
                    left = target - now
                    h = left if dt >= left else (left / 2 if dt > left / 2 else dt)
                    self.step(stage, h)
                    now = target if h == left else now + h
                    dt = min(dt * steps.growth, steps.longest * length)
                rows.append(self.t.value.copy())
        return np.array(rows)


def run(name: str, steps: Steps | None = None) -> tuple[np.ndarray, int]:
    """(temperatures (rows, cells) [degC], sweeps) of the reference case."""
    direct = Direct(name)
    return direct.run(steps or STEPS[name]), direct.sweeps
