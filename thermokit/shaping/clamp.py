"""What must hold the sheet and how large it must be: clamp force, energy in the air, blank size, cold size.

All functions take numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError
from thermokit.units import to_unit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from thermokit.materials.material import Material

    Array = NDArray[np.float64]

LARGEST_SHARE = 0.6  # of a clamp's rating that may be used: common practice
ATMOSPHERE = 101325.0  # Pa


def clamp_force(pressure: ArrayLike, area: ArrayLike) -> Array:
    """Force that opens the clamp [N]: pressure times the area that it acts on, seen along the clamp's axis.

    pressure : above the other side [Pa]; area [m2]: of the ring's opening, not of the dome.

    >>> round(float(clamp_force(3.5e5, 0.25 * np.pi * 0.6**2)) / 1e3, 1)  # 50 lbf/in2 on a 600 mm disc: ten tonnes
    99.0
    """
    return np.asarray(np.asarray(pressure, dtype=float) * np.asarray(area, dtype=float))


def tonnes(force: ArrayLike) -> Array:
    """A force [N] in tonnes (1000 kgf), as clamps are rated.

    >>> round(float(tonnes(9806.65)), 9)
    1.0
    """
    return np.asarray(to_unit(np.asarray(force, dtype=float), "kgf", "force") / 1000.0)


def clamp_share(pressure: ArrayLike, area: ArrayLike, rating: ArrayLike) -> Array:
    """Share of a clamp's rating [N] that pressure times area takes; at most LARGEST_SHARE = 0.6 is common practice.

    >>> float(clamp_share(1e5, 0.12, 20e3))
    0.6
    """
    return np.asarray(clamp_force(pressure, area) / np.asarray(rating, dtype=float))


def check_clamp(pressure: float, area: float, rating: float) -> str:
    """In words, what the clamp is asked to hold; raises DataError where that is more than 60 % of its rating.

    pressure [Pa], area [m2], rating [N].

    >>> check_clamp(0.5e5, 0.2, 40e3)
    'clamp: 50 kPa on 0.2 m2 push with 10 kN (1.02 t), 25 % of its rating of 40 kN'
    """
    force = float(clamp_force(pressure, area))
    share = force / rating
    said = (
        f"clamp: {pressure / 1e3:.3g} kPa on {area:.3g} m2 push with {force / 1e3:.3g} kN ({float(tonnes(force)):.3g} t), "
        f"{100 * share:.3g} % of its rating of {rating / 1e3:.3g} kN"
    )
    if share > LARGEST_SHARE:
        raise DataError(
            f"{said}; allowed: {100 * LARGEST_SHARE:.0f} %. Take less pressure, a smaller opening, or a clamp of at least "
            f"{force / LARGEST_SHARE / 1e3:.4g} kN"
        )
    return said


def stored_energy(pressure: ArrayLike, volume: ArrayLike, gamma: float = 1.4, ambient: float = ATMOSPHERE) -> Array:
    """Energy that compressed air gives off when its vessel bursts [J]: expansion without heat to the air around.

    E = p V/(gamma - 1) [1 - (p0/p)^((gamma - 1)/gamma)]

    pressure : above the air around [Pa], >= 0; volume : of the air under pressure [m3], with the pipes and the receiver
    that are not shut off; gamma : ratio of specific heats; ambient : p0 [Pa]. p is pressure + p0.
    Source: work of an isentropic expansion, any textbook of thermodynamics.

    >>> round(float(stored_energy(1e6, 1.0, ambient=1e5)) / 1e6, 3)  # 11 bar absolute: 2.75e6 (1 - 11^-0.2857)
    1.364
    """
    p = np.asarray(pressure, dtype=float) + ambient
    return np.asarray(
        p * np.asarray(volume, dtype=float) / (gamma - 1.0) * (1.0 - (ambient / p) ** (1.0 - 1.0 / gamma))
    )


def vacuum_energy(vacuum: ArrayLike, volume: ArrayLike, gamma: float = 1.4, ambient: float = ATMOSPHERE) -> Array:
    """Energy set free when a vacuum box caves in [J]: work of the air around less that of squeezing what is left inside.

    E = p0 (V - Ve) - p V/(gamma - 1) [(p0/p)^((gamma - 1)/gamma) - 1],  Ve = V (p/p0)^(1/gamma)

    vacuum : below the air around [Pa], 0 up to ``ambient`` (then p0 V); volume [m3].

    >>> float(vacuum_energy(101325.0, 1.0))  # nothing inside
    101325.0
    """
    p = np.maximum(ambient - np.asarray(vacuum, dtype=float), 1e-300)
    v = np.asarray(volume, dtype=float)
    left = v * (p / ambient) ** (1.0 / gamma)
    # p V (p0/p)^((gamma-1)/gamma) is p0 Ve
    return np.asarray(ambient * (v - left) - (ambient * left - p * v) / (gamma - 1.0))


def blank_size(opening: ArrayLike, margin: ArrayLike, shrinkage: ArrayLike = 0.0) -> Array:
    """Side or diameter of the blank to cut cold [m]: opening and clamp margin on both sides, before it shrinks in the oven.

    (opening + 2 margin)/(1 - shrinkage)

    opening : of the clamp [m]; margin : under the clamp on each side [m]; shrinkage : linear, on first heating, 0 to below
    1 (cast acrylic about 0.02, and it gains about 0.04 in thickness).

    >>> round(1e3 * float(blank_size(0.6, 0.03, 0.02)), 1)  # 660/0.98
    673.5
    """
    whole = np.asarray(opening, dtype=float) + 2.0 * np.asarray(margin, dtype=float)
    return np.asarray(whole / (1.0 - np.asarray(shrinkage, dtype=float)))


def contraction(material: Material, hot: ArrayLike, cold: ArrayLike) -> Array:
    """Linear contraction from hot to cold as a share of the hot size, by the material's density table.

    1 - (rho(hot)/rho(cold))^(1/3): nothing holds the part. From the temperature at which it is let go (what shrinks before,
    the tool holds): amorphous 0.4 to 0.8 %, semi-crystalline 1.5 to 3 % is common practice.

    hot, cold [K]; outside the table its ends are held.

    >>> from thermokit.materials.library import load
    >>> round(100 * float(contraction(load("pmma_cast"), 378.15, 293.15)), 2)  # [%]; 7e-5 x 85 K gives 0.6
    0.62
    """
    return np.asarray(1.0 - np.cbrt(material.density.at(hot) / material.density.at(cold)))


def cold_size(hot_size: ArrayLike, material: Material, hot: ArrayLike, cold: ArrayLike) -> Array:
    """Size of the cold part [m] from that when it was let go [m] at the temperature hot [K].

    >>> from thermokit.materials.library import load
    >>> round(1e3 * float(cold_size(1.0, load("pmma_cast"), 378.15, 293.15)), 1)
    993.8
    """
    return np.asarray(np.asarray(hot_size, dtype=float) * (1.0 - contraction(material, hot, cold)))


def expansion_contraction(expansion: ArrayLike, hot: ArrayLike, cold: ArrayLike) -> Array:
    """Linear contraction as a share of the hot size, for one expansion coefficient [1/K]: 1 - exp[-alpha (hot - cold)].

    >>> round(100 * float(expansion_contraction(7e-5, 358.15, 293.15)), 3)  # acrylic let go at 85 degC [%]
    0.454
    """
    rise = np.asarray(hot, dtype=float) - np.asarray(cold, dtype=float)
    return np.asarray(-np.expm1(-np.asarray(expansion, dtype=float) * rise))
