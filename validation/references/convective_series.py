"""Slab, long cylinder and sphere that are put into a convective medium: the exact series.

Position is counted from the insulated middle (plane, axis, centre), 0 to 1; ``biot`` = h R/k, ``fourier`` = a t/R^2
with R the half-thickness or the radius; ``biot`` may be ``math.inf`` (prescribed surface temperature).

Source: Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, sections 5.5 and 5.6.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

TERMS = 120  # enough for fourier >= 0.0005 at double precision


@lru_cache(maxsize=256)
def eigenvalues(shape: str, biot: float, count: int = TERMS) -> np.ndarray:
    """First ``count`` roots: slab z tan z = Bi; cylinder z J1(z) = Bi J0(z); sphere 1 - z cot z = Bi.

    >>> round(float(eigenvalues("plane", 1.0)[0]), 4)   # Incropera Table 5.1
    0.8603
    """
    from scipy.optimize import brentq
    from scipy.special import j0, j1, jn_zeros

    if math.isinf(biot):
        n = np.arange(1, count + 1)
        return {"plane": (n - 0.5) * math.pi, "cylinder": jn_zeros(0, count), "sphere": n * math.pi}[shape]
    if shape == "plane":
        brackets = [(n * math.pi, (n + 0.5) * math.pi) for n in range(count)]

        def miss(z: float) -> float:
            return z * math.sin(z) - biot * math.cos(z)
    elif shape == "cylinder":
        low = np.concatenate([[0.0], jn_zeros(1, count - 1)])
        brackets = list(zip(low, jn_zeros(0, count), strict=True))

        def miss(z: float) -> float:
            return z * j1(z) - biot * j0(z)
    else:
        brackets = [(n * math.pi, (n + 1) * math.pi) for n in range(count)]

        def miss(z: float) -> float:
            return (1 - biot) * math.sin(z) - z * math.cos(z)

    tiny = 1e-12
    return np.array([brentq(miss, a + tiny, b, xtol=1e-15, rtol=1e-14) for a, b in brackets])


def coefficients(shape: str, z: np.ndarray) -> np.ndarray:
    """Series coefficients C for a uniform start.

    slab 4 sin z/(2z + sin 2z); cylinder (2/z) J1/(J0^2 + J1^2); sphere 4 (sin z - z cos z)/(2z - sin 2z).
    """
    from scipy.special import j0, j1

    if shape == "plane":
        return 4 * np.sin(z) / (2 * z + np.sin(2 * z))
    if shape == "cylinder":
        return 2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2)
    return 4 * (np.sin(z) - z * np.cos(z)) / (2 * z - np.sin(2 * z))


def first_pair(shape: str, biot: float) -> tuple[float, float]:
    """First eigenvalue and coefficient (zeta1, C1)."""
    z = eigenvalues(shape, biot)[:1]
    return float(z[0]), float(coefficients(shape, z)[0])


def _mode(shape: str, z: np.ndarray, position: float) -> np.ndarray:
    from scipy.special import j0

    if shape == "plane":
        return np.cos(z * position)
    if shape == "cylinder":
        return j0(z * position)
    return np.sinc(z * position / math.pi)


def _mode_mean(shape: str, z: np.ndarray) -> np.ndarray:
    from scipy.special import j1

    if shape == "plane":
        return np.sin(z) / z
    if shape == "cylinder":
        return 2 * j1(z) / z
    return 3 * (np.sin(z) - z * np.cos(z)) / z**3


def ratio(shape: str, biot: float, fourier: float, position: float) -> float:
    """(T - T_medium)/(T_start - T_medium) at a position."""
    z = eigenvalues(shape, biot)
    return float(np.sum(coefficients(shape, z) * np.exp(-(z**2) * fourier) * _mode(shape, z, position)))


def mean_ratio(shape: str, biot: float, fourier: float) -> float:
    """Volume mean of (T - T_medium)/(T_start - T_medium); the share of the heat given off is 1 minus it."""
    z = eigenvalues(shape, biot)
    return float(np.sum(coefficients(shape, z) * np.exp(-(z**2) * fourier) * _mode_mean(shape, z)))


def fourier_to_reach(shape: str, biot: float, wanted: float, position: float | str) -> float:
    """Fourier number at which the ratio at ``position`` (or the ``"mean"``) has fallen to ``wanted``."""
    from scipy.optimize import brentq

    def miss(fo: float) -> float:
        here = mean_ratio(shape, biot, fo) if position == "mean" else ratio(shape, biot, fo, float(position))
        return here - wanted

    high = 1.0
    while miss(high) > 0:
        high *= 2
    return float(brentq(miss, 5e-4, high, xtol=1e-14, rtol=1e-13))
