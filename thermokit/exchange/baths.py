"""Film coefficients of what runs through water or air: bath, trough, spray, sizing sleeve, air gap, and the bore of a pipe.

A face that moves through still fluid drags a layer along that grows from where it enters. Laminar, its mean Nusselt number over
a length L is (Sakiadis' flow; Re = U L/nu)::

    Nu = 2 sqrt(Re) [sqrt(Pr/pi) - 0.0942 - 0.0355/sqrt(Pr) + 0.0095/Pr]        a moving face
    Nu = (0.037 Re^(4/5) - 871) Pr^(1/3)                                        turbulent, as on a plate at rest

The larger of the two is taken. Natural convection and a stream across add as cubes. The plastic's wall governs from about 1500
W/m2/K on: the exact value then matters little. Where nothing can be named, a range stands here, marked common practice.

Sources: Sakiadis, AIChE J. 7 (1961) 26 and 221; Tsou, Sparrow & Goldstein, Int. J. Heat Mass Transfer 10 (1967) 219, who
measured turbulent transfer close to that of a plate at rest (from memory); the bracket is a fit of this project to the
similarity solution, within 0.1 % for Pr 0.7 to 1000, its first two terms exact for large Pr. Numbers or arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.air_film import air_properties
from thermokit.exchange.channel_flow import nusselt
from thermokit.exchange.convection import (
    nusselt_cylinder_churchill_bernstein,
    nusselt_horizontal_cylinder_churchill_chu,
    nusselt_plate_schlichting,
    nusselt_vertical_plate_churchill_chu,
    rayleigh,
)
from thermokit.exchange.coolants import liquid

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: (low, typical, high) coefficients [W/m2/K]; from memory or common practice, no source that could be read
RANGES: Mapping[str, tuple[float, float, float]] = {
    "still bath": (500.0, 1000.0, 1500.0),
    "stirred bath": (1000.0, 2000.0, 3500.0),
    "spray": (800.0, 1500.0, 3000.0),
    "mist": (100.0, 300.0, 600.0),
    "wire trough": (2000.0, 4000.0, 10000.0),
    "wet sizing sleeve": (500.0, 1200.0, 3000.0),
    "dry sizing sleeve": (200.0, 500.0, 1000.0),
    "bore, closed": (0.0, 2.0, 5.0),
    "bore, blown": (10.0, 20.0, 60.0),
    "bore, water": (200.0, 500.0, 2000.0),
}
CROSSFLOW_LOWEST = 1e-6  # m/s, below which a stream counts as none


def water_properties(temperature: ArrayLike) -> Mapping[str, Array]:
    """Water: conductivity [W/m/K], viscosity (kinematic), diffusivity [m2/s], prandtl, expansion [1/K], density, specific_heat.

    temperature [K]; of :mod:`thermokit.exchange.coolants` (IAPWS), but the expansion from the record ``water`` of the
    materials library, 5 to 90 degC, ends held, and above that of 10 degC: near 4 degC water hardly rises by itself.
    """
    from thermokit.materials import library

    at = liquid("water", temperature)
    expansion = library.load("water").properties["expansion_coefficient"].at(temperature)
    kinematic = np.asarray(at.viscosity / at.density)
    return {
        "conductivity": at.conductivity,
        "viscosity": kinematic,
        "diffusivity": np.asarray(kinematic / at.prandtl),
        "prandtl": at.prandtl,
        "expansion": np.maximum(expansion, 8.8e-5),
        "density": at.density,
        "specific_heat": at.specific_heat,
    }


def nusselt_moving_face(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Mean over a face that moves through still fluid from where it enters (this module's equations).

    reynolds : U L/nu, L from the entrance; prandtl 0.7 to 1000. Holds for a cylinder whose radius is well above the layer:
    see :func:`nusselt_filament`. Beyond Re = 1e8 and outside the range of Pr it still gives a number.

    >>> round(float(nusselt_moving_face(1e4, 10.0)) / 200, 3)  # Tsou, Sparrow & Goldstein: 1.680 at one place
    1.68
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    laminar = 2.0 * np.sqrt(re) * (np.sqrt(pr / np.pi) - 0.0942 - 0.0355 / np.sqrt(pr) + 0.0095 / pr)
    return np.asarray(np.maximum(laminar, nusselt_plate_schlichting(re, pr)))


def nusselt_filament(reynolds: ArrayLike) -> Array:
    """Mean round a thin wire or thread that moves lengthwise through still air: Nu = 0.42 Re^0.334, by its diameter.

    reynolds : U D/nu, 0.5 to 50 (used above it as the smaller addition); air only. Kase & Matsuo, J. Polym. Sci. A 3 (1965)
    2541 (from memory).
    """
    return np.asarray(0.42 * np.asarray(reynolds, float) ** 0.334)


def coefficient_in_water(
    shape: str,
    size: ArrayLike,
    length: ArrayLike,
    speed: ArrayLike,
    surface: ArrayLike,
    water: ArrayLike,
    across: ArrayLike = 0.0,
) -> Array:
    """Mean coefficient of a flooded bath or trough [W/m2/K]: drag of the moving face, stream across, natural convection.

    h^3 = sum of the cubes. shape : ``cylinder`` (lying; size its diameter) or ``plane`` (size its height when on edge, or
    its width); length : of the bath that is under water [m]; speed : of the line [m/s]; surface, water [K], surface the
    mean over the bath (properties at their mean); across : speed of water that is stirred or pumped across it [m/s].
    Air and steam that the face carries in may halve it on the first metre (common practice, no source).
    """
    film = (np.asarray(surface, float) + np.asarray(water, float)) / 2.0
    return _together(water_properties(film), shape, size, length, speed, surface, water, across)


def coefficient_in_air(
    shape: str,
    size: ArrayLike,
    length: ArrayLike,
    speed: ArrayLike,
    surface: ArrayLike,
    air: ArrayLike,
    across: ArrayLike = 0.0,
) -> Array:
    """The same in an air gap or a free span [W/m2/K]; radiation comes on top. Thin wires by :func:`nusselt_filament` besides."""
    film = (np.asarray(surface, float) + np.asarray(air, float)) / 2.0
    at = air_properties(film)
    h = _together(at, shape, size, length, speed, surface, air, across)
    if shape != "cylinder":
        return h
    d = np.asarray(size, float)
    thread = nusselt_filament(np.asarray(speed, float) * d / at["viscosity"]) * at["conductivity"] / d
    return np.asarray(np.cbrt(h**3 + thread**3))


def _together(
    at: Mapping[str, Array], shape: str, size: ArrayLike, length: ArrayLike, speed: ArrayLike, surface: ArrayLike,
    fluid: ArrayLike, across: ArrayLike,
) -> Array:  # fmt: skip
    d, run, u, v = (np.asarray(x, float) for x in (size, length, speed, across))
    k, nu, pr = at["conductivity"], at["viscosity"], at["prandtl"]
    moving = nusselt_moving_face(u * run / nu, pr) * k / run
    ra = rayleigh(at["expansion"], np.asarray(surface, float) - np.asarray(fluid, float), d, nu, at["diffusivity"])
    natural = nusselt_vertical_plate_churchill_chu if shape == "plane" else nusselt_horizontal_cylinder_churchill_chu
    rising = natural(ra, pr) * k / d
    if shape == "plane":
        stream = nusselt_moving_face(v * d / nu, pr) * k / d
    else:
        stream = nusselt_cylinder_churchill_bernstein(v * d / nu, pr) * k / d
    stream = np.where(v > CROSSFLOW_LOWEST, stream, 0.0)
    return np.asarray(np.cbrt(moving**3 + rising**3 + stream**3))


def conductance_of_sleeve(
    film: ArrayLike, contact: ArrayLike, wall: ArrayLike = 0.0, metal: ArrayLike = 100.0
) -> Array:
    """From the skin of a pipe to the water behind a sizing sleeve [W/m2/K]: film of water, contact and metal in series.

    1/h = film/k_water + 1/contact + wall/metal. film : of water between skin and sleeve [m], 0 where dry; contact : of skin
    and sleeve, wet on metal (or the water side of the sleeve) [W/m2/K]; wall [m] and conductivity [W/m/K] of the sleeve. A
    film of 0.1 to 0.5 mm is common practice (no source); k_water 0.62 at 30 degC.
    """
    water = np.asarray(film, float) / 0.62
    return np.asarray(1.0 / (water + 1.0 / np.asarray(contact, float) + np.asarray(wall) / np.asarray(metal, float)))


# -- the bore of a pipe ------------------------------------------------------------------------------------------------


def closed_bore_share(
    bore: ArrayLike, wall: ArrayLike, density: ArrayLike, specific_heat: ArrayLike, temperature: ArrayLike = 400.0
) -> Array:
    """Heat capacity of the air in a closed bore over that of the pipe's wall [-]: how little it can take in.

    bore, wall [m]; density, specific heat of the wall [SI]; temperature of the air [K], 1 atm. Some 1e-3: a closed bore
    is an insulated one; what it takes it gives back, and facing walls of one temperature radiate nothing to each other.
    """
    from thermokit.materials import library

    air = library.load("air").properties
    held = np.asarray(air["density"].at(temperature)) * np.asarray(air["specific_heat"].at(temperature))
    d, s = np.asarray(bore, float), np.asarray(wall, float)
    return np.asarray(held * d**2 / (4.0 * (d + s) * s * np.asarray(density, float) * np.asarray(specific_heat)))


def coefficient_of_closed_bore(bore: ArrayLike, temperature: ArrayLike) -> Array:
    """Between a wall and the mean of the air that goes along in its bore [W/m2/K]: 5.783 k/D, conduction, slug flow.

    The air moves with the pipe: Nu = 5.783 is that of a plug with a wall of even temperature, the first root of J0 squared.
    Natural convection inside raises it some times in wide pipes; it does not matter (:func:`closed_bore_share`).
    """
    k = air_properties(np.asarray(temperature, float))["conductivity"]
    return np.asarray(5.783 * k / np.asarray(bore, float))


def coefficient_of_blown_bore(
    bore: ArrayLike, length: ArrayLike, flow: ArrayLike, temperature: ArrayLike, ambient: ArrayLike = 293.15
) -> Array:
    """Air blown through a bore [W/m2/K], by the correlations of channels (:mod:`thermokit.exchange.channel_flow`).

    bore, length [m]; flow : of air as metered at ``ambient`` and 1 atm [m3/s]; temperature : of the air inside [K]. The
    pipe's own speed is left out: much smaller.
    """
    at = air_properties(np.asarray(temperature, float))
    d = np.asarray(bore, float)
    hot = np.asarray(flow, float) * np.asarray(temperature, float) / np.asarray(ambient)
    re = 4.0 * hot / (np.pi * d * at["viscosity"])
    return np.asarray(nusselt(re, at["prandtl"], np.asarray(length, float) / d) * at["conductivity"] / d)


def coefficient_of_water_in_bore(
    bore: ArrayLike, length: ArrayLike, flow: ArrayLike, temperature: ArrayLike, wall: ArrayLike | None = None
) -> Array:
    """A bore that is full of running water [W/m2/K]; arguments as for a blown one, flow of water [m3/s], wall its face [K]."""
    at = water_properties(temperature)
    d = np.asarray(bore, float)
    re = 4.0 * np.asarray(flow, float) / (np.pi * d * at["viscosity"])
    pr_wall = None if wall is None else water_properties(wall)["prandtl"]
    return np.asarray(nusselt(re, at["prandtl"], np.asarray(length, float) / d, pr_wall) * at["conductivity"] / d)


def air_rise(duty: ArrayLike, flow: ArrayLike, ambient: ArrayLike = 293.15) -> Array:
    """How much warmer blown air leaves a bore [K]: duty/(mass flow cp); duty [W], flow [m3/s] metered at ambient [K], 1 atm."""
    from thermokit.materials import library

    air = library.load("air").properties
    mass = np.asarray(air["density"].at(ambient)) * np.asarray(flow, float)
    return np.asarray(np.asarray(duty, float) / (mass * np.asarray(air["specific_heat"].at(ambient))))


def water_rise(duty: ArrayLike, flow: ArrayLike, water: ArrayLike = 293.15) -> Array:
    """How much warmer water leaves a bath [K]: duty/(density flow cp); duty [W], flow [m3/s].

    >>> round(float(water_rise(21e3, 60.0 / 60e3)), 2)  # 21 kW, 60 L/min
    5.03
    """
    at = water_properties(water)
    return np.asarray(np.asarray(duty, float) / (at["density"] * np.asarray(flow, float) * at["specific_heat"]))
