"""A layer that is sheared between two walls and warmed by its own friction, exactly.

Plane Couette flow: gap h, one wall at rest, the other at speed U, walls held at T1 (at rest, y = 0) and T2 (moving, y = h),
conductivity k. Constant viscosity mu, Br = mu U^2/(k (T2 - T1)), s = y/h::

    T = T1 + (T2 - T1) s + mu U^2/(2 k) s (1 - s)
    heat into the wall at rest k (T2 - T1)/h + mu U^2/(2 h), into the moving wall -k (T2 - T1)/h + mu U^2/(2 h)

Viscosity that falls as mu exp[-b (T - Tw)], both walls at Tw, Na = b mu U^2/k::

    hottest, in the middle     T - Tw = ln(1 + Na/8)/b
    shear stress               tau = (mu U/h) asinh(sqrt(Na/8)) / sqrt(Na/8 (1 + Na/8))

Sources: the first, Brinkman, Appl. Sci. Res. A 2 (1951) 120, and textbooks (Bird, Stewart & Lightfoot, section 10.4); the second,
Nahme, Ing.-Arch. 11 (1940) 191 (from memory; the tests integrate the equations). Numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


def brinkman_number(viscosity: ArrayLike, speed: ArrayLike, conductivity: ArrayLike, difference: ArrayLike) -> Array:
    """Br = mu U^2/(k dT) [-]: friction over conduction. Above 2 the layer is hotter inside than either wall.

    viscosity [Pa s], speed : of one wall past the other [m/s], conductivity [W/m/K], difference of the walls [K].
    """
    made = np.asarray(viscosity, float) * np.asarray(speed) ** 2
    return np.asarray(made / (np.asarray(conductivity) * np.asarray(difference)))


def nahme_number(viscosity: ArrayLike, speed: ArrayLike, conductivity: ArrayLike, softening: ArrayLike) -> Array:
    """Na = b mu U^2/k [-]: how far its own friction thins a layer; small below about 0.5.

    viscosity at the walls' temperature [Pa s], softening b [1/K]; the rest as in :func:`brinkman_number`.
    """
    return np.asarray(
        np.asarray(softening, float) * np.asarray(viscosity) * np.asarray(speed) ** 2 / np.asarray(conductivity)
    )


def sheared_temperature(
    place: ArrayLike,
    walls: tuple[ArrayLike, ArrayLike],
    viscosity: ArrayLike,
    speed: ArrayLike,
    conductivity: ArrayLike,
) -> Array:
    """Settled temperature of a layer of constant viscosity [K].

    place : s = y/h, 0 at the wall at rest to 1 at the moving one; walls : their temperatures, at rest and moving [K];
    viscosity [Pa s], speed [m/s], conductivity [W/m/K]. The gap itself does not count.

    >>> float(sheared_temperature(0.5, (450.0, 450.0), 2000.0, 0.1, 0.2))  # mu U^2/(8 k) above its walls
    462.5
    """
    s = np.asarray(place, float)
    low, high = (np.asarray(w, float) for w in walls)
    rise = np.asarray(viscosity, float) * np.asarray(speed) ** 2 / (2.0 * np.asarray(conductivity))
    return np.asarray(low + (high - low) * s + rise * s * (1.0 - s))


def hottest_of_sheared(
    walls: tuple[ArrayLike, ArrayLike], viscosity: ArrayLike, speed: ArrayLike, conductivity: ArrayLike
) -> tuple[Array, Array]:
    """(hottest temperature [K], its place y/h [-]) of :func:`sheared_temperature`; a wall where Br is 2 or less."""
    low, high = (np.asarray(w, float) for w in walls)
    rise = np.asarray(viscosity, float) * np.asarray(speed) ** 2 / (2.0 * np.asarray(conductivity))
    with np.errstate(divide="ignore", invalid="ignore"):
        place = 0.5 + (high - low) / (2.0 * rise)
    place = np.where(rise > 0.0, np.clip(place, 0.0, 1.0), np.where(high > low, 1.0, 0.0))
    return sheared_temperature(place, walls, viscosity, speed, conductivity), np.asarray(place)


def heat_to_walls(
    walls: tuple[ArrayLike, ArrayLike], gap: ArrayLike, viscosity: ArrayLike, speed: ArrayLike, conductivity: ArrayLike
) -> tuple[Array, Array]:
    """Heat that a sheared layer gives to the wall at rest and to the moving one [W/m2]; their sum is mu U^2/h.

    gap [m]; the rest as in :func:`sheared_temperature`.
    """
    low, high = (np.asarray(w, float) for w in walls)
    through = np.asarray(conductivity, float) * (high - low) / np.asarray(gap)
    half = np.asarray(viscosity, float) * np.asarray(speed) ** 2 / (2.0 * np.asarray(gap))
    return np.asarray(through + half), np.asarray(half - through)


def softened_rise(nahme: ArrayLike, softening: ArrayLike) -> Array:
    """Hottest temperature of a layer that thins as it warms, above its two equal walls [K]: ln(1 + Na/8)/b.

    nahme : :func:`nahme_number`; softening b [1/K], above 0. Goes to mu U^2/(8 k) as Na goes to 0.
    """
    return np.asarray(np.log1p(np.asarray(nahme, float) / 8.0) / np.asarray(softening))


def softened_stress_share(nahme: ArrayLike) -> Array:
    """Shear stress, and with it heat made, of that layer over what it would be at the walls' temperature [-], 1 down to 0."""
    x = np.maximum(np.asarray(nahme, float) / 8.0, 1e-12)  # there the share is 1 to all digits
    return np.asarray(np.arcsinh(np.sqrt(x)) / np.sqrt(x * (1.0 + x)))
