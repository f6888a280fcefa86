"""Exact Sobol indices of functions whose integrals have closed forms; imports nothing of what is checked."""

from __future__ import annotations

import math

import numpy as np


def ishigami(u: np.ndarray, a: float = 7.0, b: float = 0.1) -> np.ndarray:
    """sin x1 + a sin^2 x2 + b x3^4 sin x1, inputs even over -pi to pi, from points of the unit cube (n, 3): (n,)."""
    x1, x2, x3 = (2.0 * math.pi * (u[:, i] - 0.5) for i in range(3))
    return np.asarray(np.sin(x1) + a * np.sin(x2) ** 2 + b * x3**4 * np.sin(x1))


def ishigami_indices(a: float = 7.0, b: float = 0.1) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(first, total): V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = 8 b^2 pi^8/225, all else nothing."""
    v1, v2 = 0.5 * (1.0 + b * math.pi**4 / 5.0) ** 2, a**2 / 8.0
    v13 = 8.0 * b**2 * math.pi**8 / 225.0
    v = v1 + v2 + v13
    return (v1 / v, v2 / v, 0.0), ((v1 + v13) / v, v2 / v, v13 / v)


G_WEIGHTS = (0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0)


def g_function(u: np.ndarray, weights: tuple[float, ...] = G_WEIGHTS) -> np.ndarray:
    """Product of (|4 u_i - 2| + a_i)/(1 + a_i), from points of the unit cube (n, inputs): (n,)."""
    a = np.array(weights)
    return np.asarray(np.prod((np.abs(4.0 * u - 2.0) + a) / (1.0 + a), axis=1))


def g_indices(weights: tuple[float, ...] = G_WEIGHTS) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(first, total): V_i = 1/(3 (1 + a_i)^2), V = prod(1 + V_i) - 1; total V_i prod over the others of (1 + V_j)."""
    parts = [1.0 / (3.0 * (1.0 + a) ** 2) for a in weights]
    product = math.prod(1.0 + v for v in parts)
    whole = product - 1.0
    return tuple(v / whole for v in parts), tuple(v * product / (1.0 + v) / whole for v in parts)


def lumped_share(time: float, low: float, high: float, spread: float) -> float:
    """Share of good plates whose thickness is normal about 10 mm with that relative standard deviation.

    1 MJ/m3/K, 100 W/m2/K on one face, from 20 to 120 degC: T = 120 - 100 exp(-h t/(rho c L)); good between low and high [degC].
    """
    from statistics import NormalDist

    ends = sorted(100.0 * time / (1e6 * math.log(100.0 / (120.0 - t))) / 0.01 - 1.0 for t in (low, high))
    return NormalDist().cdf(ends[1] / spread) - NormalDist().cdf(ends[0] / spread)
