"""Convection from air (or any fluid) to plates, cylinders and spheres: mean Nusselt numbers by published correlations.

Nu = h L/k with the length and the range that each docstring names; properties at the film temperature (mean of surface and
fluid) unless it says otherwise. Arguments may be numbers or arrays that broadcast. Outside its range a correlation still
gives a number; :func:`outside` says so in words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

GRAVITY = 9.80665  # m/s2, standard
CRITICAL_REYNOLDS = 5e5  # of a flat plate with a sharp leading edge, transition from laminar

#: function -> (what, low, high) of its range in Re or Ra
RANGES = {
    "nusselt_plate_pohlhausen": ("Re", 0.0, 5e5),
    "nusselt_plate_schlichting": ("Re", 5e5, 1e8),
    "nusselt_cylinder_churchill_bernstein": ("Re", 0.0, 1e7),
    "nusselt_cylinder_zukauskas": ("Re", 1.0, 1e6),
    "nusselt_sphere_whitaker": ("Re", 3.5, 7.6e4),
    "nusselt_vertical_plate_churchill_chu": ("Ra", 0.0, 1e12),
    "nusselt_horizontal_cylinder_churchill_chu": ("Ra", 0.0, 1e12),
    "nusselt_sphere_churchill": ("Ra", 0.0, 1e11),
}


def outside(name: str, number: ArrayLike) -> str:
    """In words that a correlation is used outside its range; empty where it is not. number : Re or Ra, as it takes."""
    what, low, high = RANGES[name]
    least, most = float(np.min(number)), float(np.max(number))
    if least >= low and most <= high:
        return ""
    return f"{name}: {what} from {least:.3g} to {most:.3g} lies outside its range, {low:.3g} to {high:.3g}"


# -- forced ------------------------------------------------------------------------------------------------------------


def nusselt_plate_pohlhausen(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a plate in laminar flow along it: Nu = 0.664 Re^(1/2) Pr^(1/3).

    reynolds : u L/nu, L length in the direction of flow, up to 5e5; prandtl above 0.6. Pohlhausen (1921), as in Incropera
    et al., Fundamentals of Heat and Mass Transfer, eq. 7.30.

    >>> round(float(nusselt_plate_pohlhausen(189873.4, 0.7202)), 2)  # Cengel, example 7-3
    259.35
    """
    return np.asarray(0.664 * np.sqrt(reynolds) * np.cbrt(prandtl))


def nusselt_plate_schlichting(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a plate that is laminar at first, turbulent from Re = 5e5: Nu = (0.037 Re^(4/5) - 871) Pr^(1/3).

    reynolds : u L/nu, 5e5 to 1e8; prandtl 0.6 to 60. Incropera et al., eq. 7.38, after Schlichting.
    """
    return np.asarray((0.037 * np.asarray(reynolds, float) ** 0.8 - 871.0) * np.cbrt(prandtl))


def nusselt_plate(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a plate in flow along it: laminar up to Re = 5e5, mixed beyond (the two above)."""
    laminar = nusselt_plate_pohlhausen(reynolds, prandtl)
    mixed = nusselt_plate_schlichting(np.maximum(reynolds, CRITICAL_REYNOLDS), prandtl)
    return np.where(np.asarray(reynolds) <= CRITICAL_REYNOLDS, laminar, mixed)


def nusselt_cylinder_churchill_bernstein(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean round a cylinder in cross flow.

    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4) [1 + (Re/282000)^(5/8)]^(4/5)

    reynolds : u D/nu up to 1e7, with Re Pr above 0.2; scatter about 20 %. Churchill & Bernstein, J. Heat Transfer 99 (1977)
    300.

    >>> round(float(nusselt_cylinder_churchill_bernstein(6071.0, 0.70)), 1)  # Incropera et al., example 7.4
    40.6
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    base = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1.0 + (0.4 / pr) ** (2.0 / 3.0)) ** 0.25
    return np.asarray(0.3 + base * (1.0 + (re / 282000.0) ** 0.625) ** 0.8)


def nusselt_cylinder_zukauskas(reynolds: ArrayLike, prandtl: ArrayLike, prandtl_wall: ArrayLike) -> Array:
    """Mean round a cylinder in cross flow: Nu = C Re^m Pr^n (Pr/Pr_wall)^(1/4), properties of the free stream.

    C, m by Re: 0.75, 0.4 up to 40; 0.51, 0.5 up to 1000; 0.26, 0.6 up to 2e5; 0.076, 0.7 up to 1e6; n = 0.37 for Pr up to
    10, else 0.36. prandtl_wall : at the surface. Zukauskas (1972), as in Incropera et al., eq. 7.53 and table 7.4.
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    bounds = [re <= 40.0, re <= 1e3, re <= 2e5]
    factor = np.select(bounds, [0.75, 0.51, 0.26], 0.076)
    power = np.select(bounds, [0.4, 0.5, 0.6], 0.7)
    n = np.where(pr <= 10.0, 0.37, 0.36)
    return np.asarray(factor * re**power * pr**n * (pr / np.asarray(prandtl_wall)) ** 0.25)


def nusselt_sphere_whitaker(reynolds: ArrayLike, prandtl: ArrayLike, viscosity_ratio: ArrayLike = 1.0) -> Array:
    """Mean over a sphere: Nu = 2 + (0.4 Re^(1/2) + 0.06 Re^(2/3)) Pr^0.4 (mu/mu_wall)^(1/4), properties of the free stream.

    reynolds : u D/nu, 3.5 to 7.6e4; prandtl 0.71 to 380; viscosity_ratio : mu/mu_wall, 1 to 3.2. Whitaker, AIChE J. 18
    (1972) 361.
    """
    re = np.asarray(reynolds, float)
    mixed = 0.4 * np.sqrt(re) + 0.06 * np.cbrt(re) ** 2
    return np.asarray(2.0 + mixed * np.asarray(prandtl) ** 0.4 * np.asarray(viscosity_ratio) ** 0.25)


# -- natural -----------------------------------------------------------------------------------------------------------


def rayleigh(
    expansion: ArrayLike,
    difference: ArrayLike,
    length: ArrayLike,
    kinematic_viscosity: ArrayLike,
    diffusivity: ArrayLike,
) -> Array:
    """Ra = g beta |dT| L^3/(nu alpha); expansion beta [1/K] (1/T for a gas), difference [K], length [m], nu, alpha [m2/s]."""
    return np.asarray(
        GRAVITY
        * np.asarray(expansion)
        * np.abs(difference)
        * np.asarray(length, float) ** 3
        / (np.asarray(kinematic_viscosity) * np.asarray(diffusivity))
    )


def nusselt_vertical_plate_churchill_chu(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a vertical plate: Nu = {0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27)}^2.

    rayleigh : by the height, up to 1e12. A vertical cylinder counts as a plate where D/H >= 35/Gr^(1/4). Churchill & Chu,
    Int. J. Heat Mass Transfer 18 (1975) 1323.

    >>> round(float(nusselt_vertical_plate_churchill_chu(0.69 * 2.63e9, 0.69)), 1)  # Incropera et al., example 9.2
    147.2
    """
    pr = np.asarray(prandtl, float)
    base = 0.387 * np.asarray(rayleigh, float) ** (1.0 / 6.0) / (1.0 + (0.492 / pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return np.asarray((0.825 + base) ** 2)


def nusselt_horizontal_cylinder_churchill_chu(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean round a long horizontal cylinder: Nu = {0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}^2.

    rayleigh : by the diameter, up to 1e12. Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049.
    """
    pr = np.asarray(prandtl, float)
    base = 0.387 * np.asarray(rayleigh, float) ** (1.0 / 6.0) / (1.0 + (0.559 / pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return np.asarray((0.60 + base) ** 2)


def nusselt_sphere_churchill(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a sphere: Nu = 2 + 0.589 Ra^(1/4) / [1 + (0.469/Pr)^(9/16)]^(4/9).

    rayleigh : by the diameter, up to 1e11; prandtl from 0.7. Churchill (1983), as in Incropera et al., eq. 9.35.
    """
    pr = np.asarray(prandtl, float)
    return np.asarray(
        2.0 + 0.589 * np.asarray(rayleigh, float) ** 0.25 / (1.0 + (0.469 / pr) ** (9.0 / 16.0)) ** (4.0 / 9.0)
    )


def nusselt_combined_churchill(forced: ArrayLike, natural: ArrayLike) -> Array:
    """Forced and natural convection together, in the same direction or across: Nu^3 = Nu_forced^3 + Nu_natural^3.

    Churchill, AIChE J. 23 (1977) 10.
    """
    return np.asarray(np.cbrt(np.asarray(forced, float) ** 3 + np.asarray(natural, float) ** 3))
