"""Exact decaying modes of layered bodies: temperature = phi(r) exp(-lam^2 t), phi from cos, sin and Bessel functions.

Separation of variables (Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., chapters 3, 7 and 9): in each layer
phi combines two functions, carried across joints by continuity of flux and flux = contact * jump; lam makes the outer
face's condition hold.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import j0, j1, y0, y1

HELD = math.inf


@dataclass(frozen=True)
class Stack:
    """Layers by their edges (radii, or depths), conductivities, heat capacities, contacts, and the faces' coefficients.

    ``inner``, ``outer``: 0 insulated, HELD prescribed temperature, else a coefficient, towards a medium at 0.
    """

    shape: str
    edges: tuple[float, ...]
    k: tuple[float, ...] = (1.0,)
    rho_c: tuple[float, ...] = (1.0,)
    contact: tuple[float, ...] = ()
    inner: float = 0.0
    outer: float = HELD


def _basis(shape: str, w: float, r: float) -> np.ndarray:
    """[[u1, u2], [u1', u2']] at r for the local wave number w."""
    x = w * r
    if shape == "plane":
        return np.array([[math.cos(x), math.sin(x)], [-w * math.sin(x), w * math.cos(x)]])
    if r == 0.0:  # the regular function only
        return np.array([[1.0, 0.0], [0.0, 0.0]])
    if shape == "cylinder":
        return np.array([[j0(x), y0(x)], [-w * j1(x), -w * y1(x)]])
    s, c = math.sin(x), math.cos(x)
    return np.array([[s / x, c / x], [(c * x - s) / (x * r), (-s * x - c) / (x * r)]])


def _parts(stack: Stack, lam: float) -> list[tuple[float, np.ndarray]]:
    """(local wave number, the two factors) of each layer."""
    w = [lam * math.sqrt(c / k) for k, c in zip(stack.k, stack.rho_c, strict=True)]
    r0 = stack.edges[0]
    if r0 == 0.0 and stack.shape != "plane":
        factors = np.array([1.0, 0.0])
    else:
        b = _basis(stack.shape, w[0], r0)
        # k phi' = h phi at the inner face: start from (phi, phi') and solve for the factors
        start = np.array([0.0, 1.0]) if math.isinf(stack.inner) else np.array([1.0, stack.inner / stack.k[0]])
        factors = np.linalg.solve(b, start)
    parts = [(w[0], factors)]
    for i in range(1, len(stack.k)):
        value, slope = _basis(stack.shape, w[i - 1], stack.edges[i]) @ parts[-1][1]
        flux = stack.k[i - 1] * slope  # = -heat flux
        conductance = stack.contact[i - 1] if stack.contact else math.inf
        value += flux / conductance
        b = _basis(stack.shape, w[i], stack.edges[i])
        parts.append((w[i], np.linalg.solve(b, np.array([value, flux / stack.k[i]]))))
    return parts


def mode(stack: Stack, number: int = 1) -> tuple[float, Callable[[np.ndarray], np.ndarray]]:
    """(lam, phi): the ``number``-th mode; phi is scaled to a largest value of about 1 and takes radii or depths."""

    def miss(lam: float) -> float:
        w, factors = _parts(stack, lam)[-1]
        value, slope = _basis(stack.shape, w, stack.edges[-1]) @ factors
        return value if math.isinf(stack.outer) else stack.k[-1] * slope + stack.outer * value

    size = sum(
        (b - a) * math.sqrt(c / k)
        for a, b, k, c in zip(stack.edges, stack.edges[1:], stack.k, stack.rho_c, strict=False)
    )
    grid = np.linspace(0.02, (number + 2) * math.pi, 60 * (number + 2)) / size
    values = [miss(x) for x in grid]
    turns = [i for i in range(len(grid) - 1) if values[i] * values[i + 1] < 0]
    lam = float(brentq(miss, grid[turns[number - 1]], grid[turns[number - 1] + 1], xtol=1e-15, rtol=1e-14))
    parts = _parts(stack, lam)

    def raw(r: np.ndarray, layer: int) -> np.ndarray:
        w, factors = parts[layer]
        return np.array([(_basis(stack.shape, w, x) @ factors)[0] for x in np.atleast_1d(r)])

    top = max(
        float(np.max(np.abs(raw(np.linspace(a, b, 50), i))))
        for i, (a, b) in enumerate(zip(stack.edges, stack.edges[1:], strict=False))
    )

    def phi(r: np.ndarray) -> np.ndarray:
        r = np.atleast_1d(r)
        layer = np.clip(np.searchsorted(stack.edges, r, side="right") - 1, 0, len(stack.k) - 1)
        return np.array([raw(x, i)[0] for x, i in zip(r, layer, strict=True)]) / top

    return lam, phi
