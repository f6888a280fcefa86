"""An independent solution of layered bodies: spectral elements in space (Legendre-Gauss-Lobatto), Radau IIA in time.

    integral of rho c(T) dT/dt v r^p = -integral of k(T) T' v' r^p + [r^p q v] + integral of s v r^p,   p = 0, 1, 2

One element a layer, some 20 nodes, integrals by Gauss's rule on 3/2 as many points, degrees of cure held at those points. For
smooth solutions the error falls faster than any power of 1/nodes; the number of nodes is above what changes a digit that counts.
Nothing of it is shared with the solver: no cells, no half cells, no energy tables, another method in time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Array = NDArray[np.float64]
Property = Callable[[Array], Array]
SIGMA = 5.670374419e-8  # W/m2/K4


@dataclass(frozen=True)
class Element:
    """One layer: ends [m], k(T), rho c(T), contact to the next or None; ``source``(T, r, t) [W/m3]; rate(T, a) and the heat
    of reaction [J/m3] where it cures."""

    a: float
    b: float
    k: Property
    rho_c: Property
    contact: float | None = None
    source: Callable[[Array, Array, float], Array] | None = None
    rate: Callable[[Array, Array], Array] | None = None
    heat: float = 0.0


def lobatto(nodes: int) -> Array:
    """Legendre-Gauss-Lobatto points on -1..1."""
    c = np.zeros(nodes)
    c[-1] = 1.0
    return np.concatenate([[-1.0], np.sort(legendre.legroots(legendre.legder(c)).real), [1.0]])


def interpolation(nodes: Array, at: Array) -> Array:
    """Matrix from values at nodes to values at points, through Legendre polynomials, (points, nodes)."""
    degree = len(nodes) - 1
    return np.asarray(np.linalg.solve(legendre.legvander(nodes, degree).T, legendre.legvander(at, degree).T).T)


class Spectral:
    """A body of elements between two faces; ``inner``, ``outer`` : (T, t) -> heat into it [W/m2], or what holds it [K]."""

    def __init__(
        self,
        elements: Sequence[Element],
        inner: Callable[[float, float], float] | float,
        outer: Callable[[float, float], float] | float,
        power: int = 0,
        nodes: int = 20,
    ):
        self.elements, self.inner, self.outer, self.power, self.nodes = tuple(elements), inner, outer, power, nodes
        x = lobatto(nodes)
        points, weights = legendre.leggauss(3 * nodes // 2)
        self.x, self.value = x, interpolation(x, points)
        v = legendre.legvander(x, nodes - 1)
        slopes = np.stack([legendre.legval(points, legendre.legder(row)) for row in np.eye(nodes)], axis=1)
        self.slope = np.linalg.solve(v.T, slopes.T).T
        self.places: list[NDArray[np.intp]] = []
        first = 0
        for i in range(len(self.elements)):
            if i and self.elements[i - 1].contact is None:
                first -= 1
            self.places.append(np.arange(first, first + nodes))
            first += nodes
        self.size = first
        self.r = [(e.a + e.b) / 2 + (e.b - e.a) / 2 * points for e in self.elements]
        self.weight = [weights * (e.b - e.a) / 2 * r**power for e, r in zip(self.elements, self.r, strict=True)]
        self.cures = [i for i, e in enumerate(self.elements) if e.rate is not None]
        self.points = len(points)

    def projected(self, starts: Sequence[Callable[[Array], Array] | float]) -> Array:
        """Node values of starts (a number or a function of r for each element), in the mean square."""
        matrix, right = np.zeros((self.size, self.size)), np.zeros(self.size)
        for place, w, r, start in zip(self.places, self.weight, self.r, starts, strict=True):
            values = start(r) if callable(start) else np.full_like(r, start)
            matrix[np.ix_(place, place)] += self.value.T @ (w[:, None] * self.value)
            right[place] += self.value.T @ (w * values)
        return np.linalg.solve(matrix, right)

    def _rate(self, t: float, z: Array) -> Array:
        T, degrees = z[: self.size], z[self.size :].reshape(len(self.cures), self.points)
        mass, load, growth = np.zeros((self.size, self.size)), np.zeros(self.size), np.zeros_like(degrees)
        for i, (e, place, w, r) in enumerate(zip(self.elements, self.places, self.weight, self.r, strict=True)):
            here, slope = self.value @ T[place], self.slope @ T[place] * 2 / (e.b - e.a)
            mass[np.ix_(place, place)] += self.value.T @ ((w * e.rho_c(here))[:, None] * self.value)
            load[place] -= self.slope.T @ (w * e.k(here) * slope) * 2 / (e.b - e.a)
            if e.source is not None:
                load[place] += self.value.T @ (w * e.source(here, r, t))
            if e.rate is not None:
                j = self.cures.index(i)
                growth[j] = e.rate(here, degrees[j])
                load[place] += self.value.T @ (w * e.heat * growth[j])
            if e.contact is not None and i + 1 < len(self.elements):
                a, b = place[-1], self.places[i + 1][0]
                crossing = e.b**self.power * e.contact * (T[a] - T[b])
                load[a] -= crossing
                load[b] += crossing
        held = []
        for at, face, r in ((0, self.inner, self.elements[0].a), (self.size - 1, self.outer, self.elements[-1].b)):
            if callable(face):
                load[at] += r**self.power * face(float(T[at]), t)
            else:
                held.append(at)
        free = np.setdiff1d(np.arange(self.size), held)
        out = np.zeros_like(z)
        out[free] = np.linalg.solve(mass[np.ix_(free, free)], load[free])
        out[self.size :] = growth.ravel()
        return out

    def run(self, z: Array, duration: float, tolerance: float = 1e-9) -> Array:
        """State after a while; ``z`` : node values, and behind them the degrees at the points of elements that cure."""
        begin = np.concatenate([z, np.zeros(self.size + len(self.cures) * self.points - len(z))])
        for at, face in ((0, self.inner), (self.size - 1, self.outer)):
            if not callable(face):
                begin[at] = face
        found = solve_ivp(self._rate, (0.0, duration), begin, "Radau", rtol=tolerance, atol=10 * tolerance)
        if not found.success:
            raise RuntimeError(found.message)
        return np.asarray(found.y[:, -1])

    def at(self, z: Array, element: int, r: Array) -> Array:
        """Temperatures at places of an element."""
        e = self.elements[element]
        local = (np.asarray(r) - (e.a + e.b) / 2) * 2 / (e.b - e.a)
        return np.asarray(interpolation(self.x, local) @ z[self.places[element]])

    def degree_at(self, z: Array, element: int, r: Array) -> Array:
        """Degrees at places of an element that cures."""
        e, j = self.elements[element], self.cures.index(element)
        points = legendre.leggauss(self.points)[0]
        local = (np.asarray(r) - (e.a + e.b) / 2) * 2 / (e.b - e.a)
        values = z[self.size :].reshape(len(self.cures), self.points)[j]
        return np.asarray(interpolation(points, local) @ values)


def constant(value: float) -> Property:
    """A property that does not change."""
    return lambda T: np.full_like(T, value)


def straight(low: float, at_low: float, high: float, at_high: float) -> Property:
    """A property on the straight line through two temperatures."""
    return lambda T: at_low + (at_high - at_low) * (T - low) / (high - low)
