"""The three reference problems as plain numpy right-hand sides, and their sweeps (see :mod:`validation.speed.rods`)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from validation.speed.rods import GAS, KELVIN, SIGMA, Face, Rhs, Rod

__all__ = ["GAS", "KELVIN", "PROBLEMS", "SIGMA", "Charge", "Rod", "Sheet", "Wire", "output_shares", "sweep"]


class Sheet(Rod):
    """P1: a 4 mm sheet between radiating panels, in still air, then on a tool."""

    cells, stages = 40, 3
    outputs = (
        *(1.0, 2.0, 5.0),
        *np.arange(10.0, 311.0, 10.0),
        *(180.2, 180.5, 181.0, 182.0, 185.0),
        *(190.2, 190.5, 191.0, 192.0, 195.0),
    )
    reference = {
        "start": 23.0, "heater": 400.0, "panel_h": 8.0, "air": 60.0, "tool_h": 500.0, "tool": 50.0,
        "heat": 180.0, "transfer": 10.0, "cool": 120.0,
    }  # fmt: skip
    bounds = {
        "heater": (350, 450), "panel_h": (5, 12), "air": (40, 80), "tool_h": (200, 1000), "tool": (30, 70),
        "heat": (120, 210), "transfer": (5, 15), "cool": (90, 150), "start": (15, 30),
    }  # fmt: skip
    check = (
        (180.0, 0, 215.43385),
        (180.0, 20, 199.91445),
        (310.0, 0, 59.19973),
        (310.0, 20, 63.67366),
        (310.0, 39, 53.25548),
    )
    thickness, conductivity, density = 4e-3, 0.19, 1190.0

    @staticmethod
    def specific_heat(t: np.ndarray) -> np.ndarray:
        """Heat capacity [J/kg/K] at t [degC]."""
        u = np.clip((t - 97.0) / 16.0, 0.0, 1.0)
        glass, melt = 1470.0 + 4.0 * (t - 20.0), 2100.0 + 2.5 * (t - 120.0)
        return glass + u * u * (3.0 - 2.0 * u) * (melt - glass)

    def durations(self) -> list[Any]:
        """Heating, transfer, cooling [s]."""
        return [self.value("heat"), self.value("transfer"), self.value("cool")]

    def faces(self, stage: int) -> tuple[Face, Face]:
        """Left and right face of a stage."""
        g, v, n = self.conductivity / (self.thickness / self.cells / 2.0), self.value, self.cases
        if stage == 0:
            panels = [(0.85 * 0.7, v("heater")), (0.85 * 0.3, 30.0)]
            return tuple(Face(n, g, [(v("panel_h"), v("air"))], panels) for _ in range(2))  # type: ignore[return-value]
        if stage == 1:
            return tuple(Face(n, g, [(6.0, 25.0)], [(0.85, 25.0)]) for _ in range(2))  # type: ignore[return-value]
        return Face(n, g, [(40.0, 25.0)], []), Face(n, g, [(v("tool_h"), v("tool"))], [])

    def rhs(self, stage: int) -> Rhs:
        """Conduction with a heat capacity that steps at the glass transition; faces as given."""
        n, dx = self.cells, self.thickness / self.cells
        # everything divided by rho V, so that dT/dt = (sum) / cp
        link = self.joined(np.full(n - 1, self.conductivity / dx / (self.density * dx)))
        area = 1.0 / (self.density * dx)
        left, right = self.faces(stage)
        clock = self.clock(stage)
        u, s, w, flow = (np.empty(self.size) for _ in range(4))
        inner = flow[:-1]
        single = self.cases == 1

        def f(_t: float, y: np.ndarray, dy: np.ndarray) -> None:
            np.subtract(y[1:], y[:-1], out=inner)
            np.multiply(inner, link, out=inner)
            dy[:-1] = inner
            dy[-1] = 0.0
            dy[1:] -= inner
            if single:
                dy[0] += area * left.into(float(y[0]))
                dy[-1] += area * right.into(float(y[-1]))
            else:
                dy[::n] += area * left.into(y[::n])
                dy[n - 1 :: n] += area * right.into(y[n - 1 :: n])
            np.multiply(y, 1.0 / 16.0, out=u)
            np.subtract(u, 97.0 / 16.0, out=u)
            np.maximum(u, 0.0, out=u)
            np.minimum(u, 1.0, out=u)
            np.multiply(u, -2.0, out=s)
            np.add(s, 3.0, out=s)
            np.multiply(s, u, out=s)
            np.multiply(s, u, out=s)
            np.multiply(y, -1.5, out=w)
            np.add(w, 410.0, out=w)
            np.multiply(s, w, out=s)
            np.multiply(y, 4.0, out=w)
            np.add(w, s, out=w)
            np.add(w, 1390.0, out=w)
            np.divide(dy, w, out=dy)
            if clock is not None:
                np.multiply(dy, clock, out=dy)

        return f


class Charge(Rod):
    """P2: a 10 mm charge that reacts between platens. Unknowns interleaved: T0, alpha0, T1, alpha1, ..."""

    cells, stages = 60, 1
    outputs = tuple(sorted({1.0, 2.0, 5.0, *np.arange(10.0, 601.0, 10.0), *np.arange(150.0, 251.0, 2.0)}))
    reference = {"start": 25.0, "platen": 150.0, "h": 1000.0, "released": 300e3}
    bounds = {"platen": (140, 165), "h": (500, 2000), "released": (240e3, 320e3), "start": (20, 60)}
    check = ((200.0, 29, 315.280), (600.0, 0, 150.06846))
    thickness, conductivity, density, capacity = 10e-3, 0.5, 1600.0, 1600.0
    degree_start = 1e-3
    factors, energies, m, n = (1e4, 5e5), (65e3, 60e3), 0.7, 1.3

    def durations(self) -> list[Any]:
        """One stage of 600 s."""
        return [600.0 if self.cases == 1 else np.full(self.cases, 600.0)]

    def start(self) -> np.ndarray:
        """Temperatures and degrees, interleaved."""
        y = np.empty(2 * self.size)
        y[::2], y[1::2] = super().start(), self.degree_start
        return y

    def temperature(self, y: np.ndarray) -> np.ndarray:
        """Every other unknown."""
        return super().temperature(np.ascontiguousarray(y[:, ::2]))

    def rhs(self, stage: int) -> Rhs:
        """Conduction, two-rate cure and its heat."""
        n, dx = self.cells, self.thickness / self.cells
        heat = 1.0 / (self.density * self.capacity * dx)
        link = self.joined(np.full(n - 1, self.conductivity / dx * heat))
        g = self.conductivity / (dx / 2.0)
        left, right = (Face(self.cases, g, [(self.value("h"), self.value("platen"))], []) for _ in range(2))
        rise = np.repeat(np.broadcast_to(np.asarray(self.value("released")), (self.cases,)), n) / self.capacity
        clock = self.clock(stage)
        e1, e2 = -self.energies[0] / GAS, -self.energies[1] / GAS
        l1, l2 = math.log(self.factors[0]), math.log(self.factors[1])
        t, a, rate, k, flow = (np.empty(self.size) for _ in range(5))
        inner = flow[:-1]
        m, order, single = self.m, self.n, self.cases == 1

        def f(_t: float, y: np.ndarray, dy: np.ndarray) -> None:
            t[:] = y[::2]
            d_t = dy[::2]
            np.subtract(t[1:], t[:-1], out=inner)
            np.multiply(inner, link, out=inner)
            np.maximum(y[1::2], 1e-9, out=a)
            np.power(a, m, out=rate)
            np.add(t, KELVIN, out=k)
            np.reciprocal(k, out=k)
            np.multiply(k, e2, out=a)
            np.add(a, l2, out=a)
            np.exp(a, out=a)
            np.multiply(rate, a, out=rate)
            np.multiply(k, e1, out=k)
            np.add(k, l1, out=k)
            np.exp(k, out=k)
            np.add(rate, k, out=rate)
            np.subtract(1.0, y[1::2], out=a)
            np.maximum(a, 1e-12, out=a)
            np.power(a, order, out=a)
            np.multiply(rate, a, out=rate)
            np.multiply(rate, rise, out=a)
            a[:-1] += inner
            a[1:] -= inner
            if single:
                a[0] += heat * left.into(float(t[0]))
                a[-1] += heat * right.into(float(t[-1]))
            else:
                a[::n] += heat * left.into(t[::n])
                a[n - 1 :: n] += heat * right.into(t[n - 1 :: n])
            if clock is None:
                d_t[:] = a
                dy[1::2] = rate
            else:
                np.multiply(a, clock, out=d_t)
                np.multiply(rate, clock, out=dy[1::2])

        return f


class Wire(Rod):
    """P3: a copper wire in polyethylene, in air and then in water (per radian of circumference)."""

    cells, stages = 60, 2
    outputs = (
        *(0.05, 0.1, 0.2),
        *(0.2 + np.array([0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 1, 1.5, 2, 2.5, 3, 3.5, 4])),
        *(0.2 + np.array([4.5, 5, 6, 7, 8, 9, 10])),
    )
    reference = {"start": 200.0, "air_time": 0.2, "water_time": 10.0, "water_h": 2000.0, "water": 20.0}
    bounds = {
        "air_time": (0.1, 0.4),
        "water_time": (5, 15),
        "start": (180, 220),
        "water_h": (1000, 4000),
        "water": (10, 40),
    }
    check = ((10.2, 0, 84.11001), (10.2, 30, 69.62253), (10.2, 59, 29.24829))
    radius, core_cells, shell_cells = 2e-3, 20, 40
    core = (400.0, 8960.0, 385.0)  # k, rho, cp of copper
    shell = (0.33, 920.0)  # k, rho of polyethylene
    heat, width, peak = 180e3, 30.0, 110.0

    @classmethod
    def specific_heat(cls, t: np.ndarray) -> np.ndarray:
        """Heat capacity of polyethylene [J/kg/K] at t [degC]."""
        x = (t - cls.peak) / cls.width
        bump = cls.heat / cls.width * (1.0 + np.cos(2.0 * np.pi * x))
        return 2300.0 + np.where(np.abs(x) < 0.5, bump, 0.0)

    def durations(self) -> list[Any]:
        """In air, in water [s]."""
        return [self.value("air_time"), self.value("water_time")]

    def grid(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, float]:
        """Volumes and conductances per radian, k, rho and the conductance of the outer half cell [W/m2/K]."""
        f = np.concatenate(
            [np.linspace(0, 1e-3, self.core_cells + 1), np.linspace(1e-3, 2e-3, self.shell_cells + 1)[1:]]
        )
        x = (f[1:] + f[:-1]) / 2.0
        k = np.repeat([self.core[0], self.shell[0]], [self.core_cells, self.shell_cells])
        rho = np.repeat([self.core[1], self.shell[1]], [self.core_cells, self.shell_cells])
        volume = (f[1:] ** 2 - f[:-1] ** 2) / 2.0
        link = 1.0 / (np.log(f[1:-1] / x[:-1]) / k[:-1] + np.log(x[1:] / f[1:-1]) / k[1:])
        return volume, link, k, rho, float(k[-1] / math.log(f[-1] / x[-1]) / f[-1])

    def rhs(self, stage: int) -> Rhs:
        """Radial conduction with a melting bump in the heat capacity of the polyethylene."""
        n, core = self.cells, self.core_cells
        volume, link_, _, rho, g = self.grid()
        link = self.joined(link_)
        h, t_air = (20.0, 25.0) if stage == 0 else (self.value("water_h"), self.value("water"))
        face = Face(self.cases, g, [(h, t_air)], [])
        mass = np.tile(rho * volume, self.cases)
        mass_core = mass.reshape(self.cases, n)[:, :core] * self.core[2]
        clock = self.clock(stage)
        flow, cp, x = np.empty(self.size), np.empty((self.cases, n)), np.empty((self.cases, n - core))
        mass_shell = np.ascontiguousarray(mass.reshape(self.cases, n)[:, core:])
        cp[:, :core] = mass_core
        inner, capacity, single, radius = flow[:-1], cp.reshape(-1), self.cases == 1, self.radius
        turn = 2.0 * math.pi / self.width

        def f(_t: float, y: np.ndarray, dy: np.ndarray) -> None:
            np.subtract(y[1:], y[:-1], out=inner)
            np.multiply(inner, link, out=inner)
            dy[:-1] = inner
            dy[-1] = 0.0
            dy[1:] -= inner
            if single:
                dy[-1] += radius * face.into(float(y[-1]))
            else:
                dy[n - 1 :: n] += radius * face.into(y[n - 1 :: n])
            np.subtract(y.reshape(-1, n)[:, core:], self.peak, out=x)
            np.multiply(x, turn, out=x)
            # beyond half the width the bump is held at its foot, where it is zero
            np.minimum(x, math.pi, out=x)
            np.maximum(x, -math.pi, out=x)
            np.cos(x, out=x)
            np.multiply(x, self.heat / self.width, out=x)
            np.add(x, 2300.0 + self.heat / self.width, out=x)
            np.multiply(x, mass_shell, out=cp[:, core:])
            np.divide(dy, capacity, out=dy)
            if clock is not None:
                np.multiply(dy, clock, out=dy)

        return f


PROBLEMS: dict[str, type[Rod]] = {"P1": Sheet, "P2": Charge, "P3": Wire}


def sweep(name: str, cases: int = 10_000) -> dict[str, np.ndarray]:
    """Inputs of the sweep, each (cases,), uniform between the problem's bounds; case 0 is the reference."""
    kind, rng = PROBLEMS[name], np.random.default_rng(1)
    out = {key: rng.uniform(low, high, 10_000) for key, (low, high) in kind.bounds.items()}  # type: ignore[attr-defined]
    for key, column in out.items():
        column[0] = kind.reference[key]  # type: ignore[attr-defined]
    return {key: column[:cases] for key, column in out.items()} | {
        key: np.full(cases, value)
        for key, value in kind.reference.items()  # type: ignore[attr-defined]
        if key not in out
    }


def output_shares(name: str) -> list[np.ndarray]:
    """Output times of each stage as shares of its length, the stage's end included (so that sweeps compare alike)."""
    kind = PROBLEMS[name]
    ends = np.cumsum(kind(kind.reference).durations())  # type: ignore[attr-defined]
    times, shares, begin = np.array(sorted(kind.outputs)), [], 0.0  # type: ignore[attr-defined]
    for end in ends:
        here = times[(times > begin + 1e-9) & (times < end - 1e-9)]
        shares.append(np.append((here - begin) / (end - begin), 1.0))
        begin = end
    return shares
