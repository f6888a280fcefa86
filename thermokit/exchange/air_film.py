"""The heat transfer coefficient of air on a body of simple shape, from its speed and the two temperatures.

Properties of dry air at 1 atm from the materials library, at the film temperature. Forced and natural convection add up as
cubes. Bodies in real ovens see turbulent air: the coefficient is often 1.5 to 2.5 times that of a laminar stream (common
practice, no source), which a ``turbulence`` factor can say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.convection import (
    nusselt_combined_churchill,
    nusselt_cylinder_churchill_bernstein,
    nusselt_plate,
    nusselt_sphere_churchill,
    nusselt_sphere_whitaker,
    nusselt_vertical_plate_churchill_chu,
    outside,
    rayleigh,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.exchange.convection import Array


def air_properties(temperature: float | Array) -> Mapping[str, Array]:
    """Dry air at 1 atm: conductivity [W/m/K], viscosity (kinematic) and diffusivity [m2/s], prandtl, expansion [1/K].

    temperature [K]; from the record ``air`` of the materials library, linear between its nodes.
    """
    from thermokit.materials import library

    table = library.load("air").properties
    at = {
        name: np.asarray(table[name].at(temperature))
        for name in ("conductivity", "density", "viscosity", "prandtl", "expansion_coefficient")
    }
    kinematic = at["viscosity"] / at["density"]
    return {
        "conductivity": at["conductivity"],
        "viscosity": kinematic,
        "diffusivity": kinematic / at["prandtl"],
        "prandtl": at["prandtl"],
        "expansion": at["expansion_coefficient"],
    }


def coefficient_of_air(
    shape: str,
    size: float | Array,
    height: float | Array,
    speed: float | Array,
    surface: float | Array,
    air: float | Array,
) -> Array:
    """Mean heat transfer coefficient [W/m2/K] of air on a body, natural and forced convection together.

    shape : ``plane`` (flow along it), ``cylinder`` (cross flow, standing or hung upright) or ``sphere``; size [m] : length in
    the direction of flow, or diameter; height [m] : upright, for natural convection of plane and cylinder; speed [m/s] of the
    air; surface and air [K].
    """
    film = (np.asarray(surface) + np.asarray(air)) / 2.0
    at = air_properties(film)
    re = np.asarray(speed) * np.asarray(size) / at["viscosity"]
    up = np.asarray(height if shape != "sphere" else size, float)
    ra = rayleigh(at["expansion"], np.asarray(surface) - np.asarray(air), up, at["viscosity"], at["diffusivity"])
    pr = at["prandtl"]
    if shape == "sphere":
        forced = np.where(re > 0.0, nusselt_sphere_whitaker(re, pr), 0.0)
        natural = nusselt_sphere_churchill(ra, pr)
    elif shape == "cylinder":
        forced = np.where(re > 0.0, nusselt_cylinder_churchill_bernstein(re, pr), 0.0)
        natural = nusselt_vertical_plate_churchill_chu(ra, pr) * np.asarray(size) / up  # by the diameter
    else:
        forced = nusselt_plate(re, pr)
        natural = nusselt_vertical_plate_churchill_chu(ra, pr) * np.asarray(size) / up
    return np.asarray(nusselt_combined_churchill(forced, natural) * at["conductivity"] / np.asarray(size))


def outside_of_air(shape: str, size: float, speed: float, film: float) -> str:
    """In words that the stream lies outside the range of its correlation; empty where it does not, or the air is still."""
    if speed <= 0.0:
        return ""
    re = speed * size / air_properties(film)["viscosity"]
    name = {
        "sphere": "nusselt_sphere_whitaker",
        "cylinder": "nusselt_cylinder_churchill_bernstein",
        "plane": "nusselt_plate_pohlhausen" if np.all(re <= 5e5) else "nusselt_plate_schlichting",
    }[shape]
    return outside(name, re)
