"""A roll that gives heat to a web: from its oil or steam through the shell to the face, and how far the face drops.

All coefficients are taken by area of the roll's face (outside). In the mean over a turn the web draws q [W/m2] from the whole
face; film inside and shell stand in series (steam condenses at
:func:`thermokit.exchange.water_formulation.saturation_temperature`). On top of the mean the skin of the shell swings once a
turn: it cools under the web and recovers where it is bare.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.channel_flow import nusselt
from thermokit.exchange.coolants import liquid

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: (low, typical, high) film of condensing steam inside a turning roll [W/m2/K]; common practice, no source
STEAM_FILM = (1000.0, 2500.0, 6000.0)
#: drop of a roll's face in a turn that is commonly allowed [K]; common practice, no source
USUAL_DROP = (2.0, 3.0)
_TERMS = 12  # summed before the rest is taken by Euler and Maclaurin


def shell_resistance(outer: ArrayLike, wall: ArrayLike, conductivity: ArrayLike) -> Array:
    """Of a shell, by area of its face [m2 K/W]: R ln(R/(R - s))/k; outer diameter and wall [m], k [W/m/K].

    >>> round(1e4 * float(shell_resistance(0.3, 0.02, 45.0)), 2)
    4.77
    """
    r = np.asarray(outer, float) / 2.0
    return np.asarray(-r * np.log1p(-np.asarray(wall, float) / r) / np.asarray(conductivity))


def roll_conductance(
    outer: ArrayLike, wall: ArrayLike, conductivity: ArrayLike, film: ArrayLike, scale: ArrayLike = 0.0
) -> Array:
    """From the heating medium to the face, by area of face [W/m2/K].

    1/U = shell + (R/(R - s)) (1/film + scale). film : coefficient inside [W/m2/K]; scale : resistance of deposits there
    [m2 K/W]; the rest as in :func:`shell_resistance`.
    """
    r = np.asarray(outer, float) / 2.0
    inside = r / (r - np.asarray(wall, float)) * (1.0 / np.asarray(film, float) + np.asarray(scale, float))
    return np.asarray(1.0 / (shell_resistance(outer, wall, conductivity) + inside))


def film_of_roll(
    flow: ArrayLike,
    hydraulic: ArrayLike,
    section: ArrayLike,
    length: ArrayLike,
    temperature: ArrayLike,
    wall: ArrayLike | None = None,
    coolant: str = "oil",
) -> Array:
    """Film of oil or water in a roll's channels [W/m2/K], by :func:`thermokit.exchange.channel_flow.nusselt` (Gnielinski).

    flow : through one channel [m3/s]; hydraulic : its hydraulic diameter, bore of a drilled roll, twice the gap of a
    jacket [m]; section [m2]; length : of the channel [m]; temperature of the liquid, wall : of its wall [K]; coolant : as
    of :func:`thermokit.exchange.coolants.liquid`. Turning mixes what runs in a wide roll: it is then better than this.
    Raises DataError for an unknown coolant.
    """
    at = liquid(coolant, temperature)
    d = np.asarray(hydraulic, float)
    re = at.density * np.asarray(flow, float) * d / (np.asarray(section) * at.viscosity)
    of_wall = None if wall is None else liquid(coolant, wall).prandtl
    return np.asarray(nusselt(re, at.prandtl, np.asarray(length, float) / d, of_wall) * at.conductivity / d)


def web_duty(
    area_mass: ArrayLike, specific_heat: ArrayLike, rise: ArrayLike, speed: ArrayLike, width: ArrayLike = 1.0
) -> Array:
    """Heat that a web takes from a roll [W]: mass by area [kg/m2] x cp [J/kg/K] x rise [K] x speed [m/s] x width [m].

    >>> round(float(web_duty(0.405, 1300.0, 101.0, 0.2)) / 1e3, 1)  # 0.30 mm PVC at 12 m/min, 25 to 126 degC: kW a metre
    10.6
    """
    return np.asarray(
        np.asarray(area_mass, float)
        * np.asarray(specific_heat)
        * np.asarray(rise)
        * np.asarray(speed)
        * np.asarray(width)
    )


def mean_face_drop(duty: ArrayLike, outer: ArrayLike, width: ArrayLike, conductance: ArrayLike) -> Array:
    """How far the face lies below the medium in the mean [K]: duty/(pi D width U).

    duty : of the web [W], losses of the roll added where they count; outer diameter and heated width [m]; conductance
    :func:`roll_conductance` [W/m2/K].
    """
    area = np.pi * np.asarray(outer, float) * np.asarray(width)
    return np.asarray(np.asarray(duty, float) / (area * np.asarray(conductance)))


def drop_per_turn(
    flux: ArrayLike, share: ArrayLike, turn: ArrayLike, conductivity: ArrayLike, volumetric_heat: ArrayLike
) -> Array:
    """Swing of a roll's face once a turn, highest where the web comes on less lowest where it leaves [K].

    A thick shell, from whose face a constant ``flux`` flows for the share of a turn under the web and none for the rest,
    settled. With e = sqrt(k rho c), P turn, zeta Hurwitz's::

        drop = 2 flux sqrt(P)/(e sqrt(pi)) [zeta(-1/2, share) + zeta(-1/2, 1 - share) - 2 zeta(-1/2, 1)]

    flux : under the web, its mean over the contact [W/m2]. The true flux falls along the contact: where it falls as exp(-x),
    x up to 2 (a web that comes within 15 % of the roll), the swing is 0.86 to 1.25 times this one, at x = 4 up to 1.75
    times; share : of the turn under the web, 0 to 1;
    turn : time of one [s]; conductivity [W/m/K]; volumetric_heat rho c [J/m3/K]. Thick enough:
    shell above about three times :func:`swing_depth`. Constant flux on a half-space, superposed (Carslaw & Jaeger,
    sections 2.6 and 2.9).
    """
    phi = np.clip(np.asarray(share, float), 0.0, 1.0)
    inner = _zeta(np.maximum(phi, 1e-300)) + _zeta(np.maximum(1.0 - phi, 1e-300)) - 2.0 * _zeta(np.ones_like(phi))
    effusivity = np.sqrt(np.asarray(conductivity, float) * np.asarray(volumetric_heat))
    scale = 2.0 * np.asarray(flux, float) * np.sqrt(np.asarray(turn, float) / np.pi) / effusivity
    return np.asarray(scale * inner)


def swing_depth(turn: ArrayLike, conductivity: ArrayLike, volumetric_heat: ArrayLike) -> Array:
    """Depth at which the swing of a turn has died to 1/e [m]: sqrt(a P/pi), a = k/(rho c)."""
    a = np.asarray(conductivity, float) / np.asarray(volumetric_heat)
    return np.asarray(np.sqrt(a * np.asarray(turn, float) / np.pi))


def medium_rise(duty: ArrayLike, flow: ArrayLike, density: ArrayLike, specific_heat: ArrayLike) -> Array:
    """How far oil or water cools on its way through a roll [K]: duty/(density flow cp); flow [m3/s].

    >>> round(float(medium_rise(10.6e3, 60.0 / 60e3, 850.0, 2200.0)), 1)  # 10.6 kW, 60 L/min of oil
    5.7
    """
    return np.asarray(
        np.asarray(duty, float) / (np.asarray(density) * np.asarray(flow, float) * np.asarray(specific_heat))
    )


def steam_use(duty: ArrayLike, latent_heat: ArrayLike = 2.1e6) -> Array:
    """Steam that a roll condenses [kg/s]; latent heat [J/kg], 2.1 MJ/kg near 5 bar."""
    return np.asarray(np.asarray(duty, float) / np.asarray(latent_heat, float))


def _zeta(a: Array) -> Array:
    """zeta(-1/2, a) for a from 0 to 1, by Euler and Maclaurin (NIST Digital Library of Mathematical Functions, 25.11.5)."""
    a = np.asarray(a, float)
    m = np.arange(_TERMS).reshape((-1,) + (1,) * a.ndim)
    y = a + _TERMS
    return np.asarray(
        np.sqrt(m + a).sum(axis=0)
        - 2.0 / 3.0 * y**1.5
        + np.sqrt(y) / 2.0
        - 1.0 / (24.0 * np.sqrt(y))
        + 1.0 / (1920.0 * y**2.5)
    )
