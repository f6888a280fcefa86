"""The equations of a layered body on given cells, written anew for references in time: half cells in series, faces by root.

dT_i/dt = (what crosses the edges of cell i + its sources)/(rho c(T) V), degrees cell by cell. Nothing is taken from the solver: no
energy table, no closed-form face, differences for the Jacobian. scipy integrates them to 1e-12 or better.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp

from validation.order.bodies import Array

STIFF, TIGHTEST = (
    1e-12,
    3e-14,
)  # tolerances of Radau, and of Dormand and Prince's method of order 8 where nothing is stiff
SIGMA = 5.670374419e-8  # W/m2/K4
Of = Callable[[float], float]


@dataclass(frozen=True)
class Slice:
    """A layer of equal cells: thickness [m], k(T), rho c(T), contact to the next, heat(t) [W/m3], degrees.

    rates : (T, all degrees of the layer) -> growth of each; heats : J/m3 of each. depth : (cells,) [W/m3] times factor(t);
    emission : (cells,) [1/m].
    """

    cells: int
    thickness: float
    k: Callable[[Array], Array]
    rho_c: Callable[[Array], Array]
    start: float = 300.0
    contact: float | None = None
    heat: Of = lambda t: 0.0
    rates: tuple[Callable[..., Array], ...] = ()
    heats: tuple[float, ...] = ()
    degrees: tuple[float, ...] = ()
    depth: Array | None = None
    factor: Of = lambda t: 1.0
    emission: Array | None = None


@dataclass(frozen=True)
class Edge:
    """A face: h(t), air(t), radiation factor and what it sees, flux(t), or a held temperature(t)."""

    h: Of = lambda t: 0.0
    air: Of = lambda t: 0.0
    factor: float = 0.0
    seen: Of = lambda t: 0.0
    flux: Of = lambda t: 0.0
    held: Of | None = None

    def surface(self, g: float, cell: float, t: float) -> float:
        """Temperature of the face behind which a half cell of conductance g lies."""
        if self.held is not None:
            return self.held(t)
        x = cell
        for _ in range(50):
            q = self.flux(t) + self.h(t) * (self.air(t) - x) + self.factor * SIGMA * (self.seen(t) ** 4 - x**4)
            step = (g * (x - cell) - q) / (g + self.h(t) + 4 * self.factor * SIGMA * x**3)
            x -= step
            if abs(step) < 1e-13 * x:
                break
        return x


class Lines:
    """A body as equations in time alone."""

    def __init__(self, slices: Sequence[Slice], inner: Edge, outer: Edge, shape: str = "plane", radius: float = 0.0):
        self.slices, self.inner, self.outer = tuple(slices), inner, outer
        at = np.concatenate([[0.0], np.cumsum([s.thickness for s in slices])])
        edges = np.concatenate(
            [[0.0], *(a + s.thickness * np.arange(1, s.cells + 1) / s.cells for a, s in zip(at, slices, strict=False))]
        )
        r = radius + edges if shape != "plane" else edges
        middle = (r[1:] + r[:-1]) / 2
        p = {"plane": 0, "cylinder": 1, "sphere": 2}[shape]

        def between(a: Array, b: Array) -> Array:
            return np.asarray([b - a, np.log(b / a) if p == 1 else 0.0, 1 / a - 1 / b if p == 2 else 0.0][p])

        self.volume, self.area = np.diff(r ** (p + 1)) / (p + 1), r**p
        self.inside, self.outside = between(r[:-1], middle), between(middle, r[1:])
        cut = np.cumsum([0, *(s.cells for s in slices)])
        self.parts = [slice(a, b) for a, b in pairwise(cut)]
        self.n = int(cut[-1])
        self.joint = np.zeros(self.n - 1)
        for part, s in zip(self.parts[:-1], slices, strict=False):
            if s.contact is not None:
                self.joint[part.stop - 1] = 1 / (s.contact * self.area[part.stop])

    def start(self) -> Array:
        """State at the beginning: temperatures, then degrees layer by layer."""
        temperature = np.concatenate([np.full(s.cells, s.start) for s in self.slices])
        degrees = [np.full(s.cells, d) for s in self.slices for d in s.degrees]
        return np.concatenate([temperature, *degrees])

    def rate(self, t: float, z: Array) -> Array:
        """d(state)/dt."""
        T, out = z[: self.n], np.zeros_like(z)
        k = np.concatenate([s.k(T[p]) for s, p in zip(self.slices, self.parts, strict=True)])
        c = np.concatenate([s.rho_c(T[p]) for s, p in zip(self.slices, self.parts, strict=True)])
        flow = np.diff(T) / (self.outside[:-1] / k[:-1] + self.inside[1:] / k[1:] + self.joint)
        gain = np.zeros(self.n)
        gain[:-1] += flow
        gain[1:] -= flow
        for cell, side, half in ((0, self.inner, self.inside[0]), (self.n - 1, self.outer, self.outside[-1])):
            area = self.area[0] if cell == 0 else self.area[-1]
            g = k[cell] / (half * area)
            gain[cell] += area * g * (side.surface(g, float(T[cell]), t) - T[cell])
        place = self.n
        for s, p in zip(self.slices, self.parts, strict=True):
            made = np.full(s.cells, s.heat(t))
            if s.depth is not None:
                made += s.depth * s.factor(t)
            if s.emission is not None:
                made -= s.emission * SIGMA * T[p] ** 4
            states = [z[place + j * s.cells : place + (j + 1) * s.cells] for j in range(len(s.rates))]
            for j, (law, heat) in enumerate(zip(s.rates, s.heats, strict=True)):
                growth = law(T[p], *states[: j + 1])
                out[place + j * s.cells : place + (j + 1) * s.cells] = growth
                made = made + heat * growth
            place += len(s.rates) * s.cells
            gain[p] += made * self.volume[p]
        out[: self.n] = gain / (c * self.volume)
        return out

    def states(self, times: Sequence[float], method: str = "Radau", breaks: Sequence[float] = ()) -> Array:
        """States at times, (times, state); the integration is restarted at each of them and at the breaks."""
        z, begin, out = self.start(), 0.0, []
        tight = TIGHTEST if method == "DOP853" else STIFF
        for end in sorted({*times, *breaks}):
            scale = tight * np.maximum(np.abs(z), 1.0 if method == "Radau" else 0.01)
            found = solve_ivp(self.rate, (begin, end), z, method, rtol=tight, atol=scale)
            if not found.success:
                raise RuntimeError(found.message)
            z, begin = found.y[:, -1], end
            if end in times:
                out.append(z)
        return np.asarray(out)
