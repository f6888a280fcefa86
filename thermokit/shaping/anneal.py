"""Annealing formed sheet in an air oven: how long to heat through, how slowly to cool.

Plates cooled or heated evenly on both faces. All functions take numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


def face_core_difference(rate: ArrayLike, thickness: ArrayLike, diffusivity: ArrayLike) -> Array:
    """Difference between core and faces of a plate whose temperature changes steadily [K]: q L^2/(8 a).

    The exact parabola that stands when the start is forgotten (after about ``settling_time``). What sets on cooling with
    this difference keeps it as stress.

    rate : q, of temperature [K/s]; thickness : L [m]; diffusivity : a [m2/s].
    Source: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, section 3.7, for time much above L^2/(pi^2 a).

    >>> round(float(face_core_difference(30 / 3600, 9e-3, 1.1e-7)), 2)  # 9 mm acrylic at 30 K/h
    0.77
    """
    q, length, a = (np.asarray(x, dtype=float) for x in (rate, thickness, diffusivity))
    return np.asarray(q * length**2 / (8.0 * a))


def cooling_rate(difference: ArrayLike, thickness: ArrayLike, diffusivity: ArrayLike) -> Array:
    """Fastest steady cooling [K/s] that keeps core and faces within a difference [K]: 8 a dT/L^2.

    difference : 5 to 8 K is common practice for annealing; thickness [m]; diffusivity [m2/s].

    >>> round(3600 * float(cooling_rate(5.0, 0.025, 1.1e-7)), 1)  # [K/h]
    25.3
    """
    dt, length, a = (np.asarray(x, dtype=float) for x in (difference, thickness, diffusivity))
    return np.asarray(8.0 * a * dt / length**2)


def settling_time(thickness: ArrayLike, diffusivity: ArrayLike) -> Array:
    """Time after which the parabola of ``face_core_difference`` stands, to a third of it [s]: L^2/(pi^2 a)."""
    length, a = (np.asarray(x, dtype=float) for x in (thickness, diffusivity))
    return np.asarray(length**2 / (np.pi**2 * a))


def heating_time(
    thickness: ArrayLike,
    conductivity: ArrayLike,
    diffusivity: ArrayLike,
    coefficient: ArrayLike,
    left: ArrayLike = 0.05,
) -> Array:
    """Time for the core of a plate in moved air to come so near to the air's temperature [s].

    First term of the series: left = C exp(-z^2 Fo), Fo = a t/(L/2)^2, z tan z = Bi = h (L/2)/k, C = 4 sin z/(2 z + sin 2 z).

    thickness : L [m]; conductivity : k [W/m/K]; diffusivity : a [m2/s]; coefficient : h, both faces, of the air with what
    radiates [W/m2/K]; left : share of the first difference left at the core, up to about 0.7 (above, one term is not enough).
    Source: Incropera et al., Fundamentals of Heat and Mass Transfer, equation (5.44).

    >>> round(float(heating_time(0.2, 1.0, 1e-6, 10.0, 1.1191 * np.exp(-0.8603**2))))  # Bi = 1: Fo = 1 by the table [s]
    10000
    """
    half = 0.5 * np.asarray(thickness, dtype=float)
    k, a, h, share = (np.asarray(x, dtype=float) for x in (conductivity, diffusivity, coefficient, left))
    biot = h * half / k
    low, high = np.zeros_like(biot), np.full_like(biot, 0.5 * np.pi)
    for _ in range(60):  # halving: z tan z rises from 0 to infinity
        middle = 0.5 * (low + high)
        below = middle * np.sin(middle) < biot * np.cos(middle)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    z = 0.5 * (low + high)
    first = 4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z))
    return np.asarray(np.log(first / share) / z**2 * half**2 / a)


def soaking_time(thickness: ArrayLike) -> Array:
    """How long formed acrylic is kept in the oven at about 80 degC [s]: 1 h a millimetre, at least 2 h.

    Far longer than heating through: stress relaxes slowly below the glass transition. thickness [m].
    Source: common practice, as sheet dealers' pages on annealing cast acrylic state it (read).

    >>> (soaking_time([1e-3, 6e-3]) / 3600).tolist()
    [2.0, 6.0]
    """
    return np.asarray(3600.0 * np.maximum(2.0, 1e3 * np.asarray(thickness, dtype=float)))


def cooling_time(
    hot: ArrayLike, cold: ArrayLike, thickness: ArrayLike, diffusivity: ArrayLike, difference: ArrayLike
) -> Array:
    """Time to cool steadily between two temperatures [K] within a difference of core and faces [K], in seconds.

    (hot - cold)/q with q of ``cooling_rate``, and the time in which the parabola builds up.

    >>> round(float(cooling_time(353.15, 323.15, 0.025, 1.1e-7, 5.0)) / 3600, 2)  # 25 mm acrylic, 80 to 50 degC [h]
    1.34
    """
    rise = np.asarray(hot, dtype=float) - np.asarray(cold, dtype=float)
    steady = rise / cooling_rate(difference, thickness, diffusivity)
    return np.asarray(steady + settling_time(thickness, diffusivity))
