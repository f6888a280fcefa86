"""A web on a roll: the air that it drags in, what that leaves of the contact, how long it lies on the roll.

Web and roll carry air into the wedge where they meet, as the foil of a foil bearing does. Far round the wrap the film has one
thickness, which follows from its entrance alone (infinitely wide, tight web that bends freely, isothermal air, tension
constant)::

    h0 = 0.643 R [6 eta (U_web + U_roll)/T]^(2/3)

R radius [m], eta viscosity of air [Pa s], U speeds [m/s], T tension by width [N/m]. The constant is the curvature far out of
H''' = (H - 1)/H^3, 0.64304. Heat goes through contact and film in series, 1/h = 1/h_contact + film/k_air.

Sources: the constant, Eshel & Elrod, J. Basic Eng. 87 (1965) 831; with both surfaces moving (0.65 in place of 0.643), Knox &
Sweeney, Ind. Eng. Chem. Process Des. Dev. 10 (1971) 201 (both from memory). Measured films agree for h0/R from 1e-4 to 1e-3
and T/(eta U) from 1e5 to 1e6: Ma, J. Basic Eng. 87 (1965) 837 (abstract read). Numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.air_film import air_properties

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

FOIL = 0.643  # of the film far round the wrap
#: film over radius, and tension over (viscosity x speed), between which films were measured
MEASURED_FILM, MEASURED_TENSION = (1e-4, 1e-3), (1e5, 1e6)
#: (low, typical, high) conductance of a web held by its tension alone, standing [W/m2/K]; from memory, handbooks in general
CONTACT_BY_TENSION = (150.0, 400.0, 1000.0)
#: the same pressed on by a nip or a bank [W/m2/K]; from memory
CONTACT_BY_NIP = (1000.0, 2500.0, 6000.0)


def contact_length(diameter: ArrayLike, wrap: ArrayLike) -> Array:
    """Length of web on the roll [m]; diameter [m], wrap [rad]. Geometry.

    >>> round(float(contact_length(0.3, np.pi)), 4)
    0.4712
    """
    return np.asarray(np.asarray(diameter, float) / 2.0 * np.asarray(wrap, float))


def contact_time(diameter: ArrayLike, wrap: ArrayLike, speed: ArrayLike) -> Array:
    """Time in contact [s]; diameter [m], wrap [rad], speed [m/s].

    >>> round(float(contact_time(0.3, np.pi, 0.2)), 2)  # half round 300 mm at 12 m/min
    2.36
    """
    return np.asarray(contact_length(diameter, wrap) / np.asarray(speed, float))


def air_viscosity(temperature: ArrayLike) -> Array:
    """Dynamic viscosity of air at 1 atm [Pa s]; temperature [K], from the materials library."""
    from thermokit.materials import library

    return np.asarray(library.load("air").properties["viscosity"].at(temperature))


def air_film(
    radius: ArrayLike, web_speed: ArrayLike, roll_speed: ArrayLike, tension: ArrayLike, viscosity: ArrayLike
) -> Array:
    """Thickness of the air film that web and roll drag in [m]: the foil-bearing law of this module.

    radius [m]; web_speed, roll_speed [m/s], of surfaces running the same way, the roll of a standing bar 0; tension by
    width [N/m]; viscosity of the air [Pa s]. Zero where nothing moves. Edges let air out and a cloth lets it through: both
    make the real film thinner than this one. Outside the measured range (see :func:`outside_of_film`) the law still gives a
    number.

    >>> round(1e6 * float(air_film(0.15, 0.2, 0.2, 100.0, 1.8e-5)), 1)  # um: 300 mm roll, 12 m/min, 100 N/m
    5.5
    """
    speed = np.asarray(web_speed, float) + np.asarray(roll_speed, float)
    group = 6.0 * np.asarray(viscosity) * speed / np.asarray(tension, float)
    return np.asarray(FOIL * np.asarray(radius) * np.cbrt(group) ** 2)


def outside_of_film(radius: ArrayLike, speed: ArrayLike, tension: ArrayLike, viscosity: ArrayLike) -> str:
    """In words that a film lies outside what was measured; empty inside. speed : of the web, the roll running with it [m/s]."""
    film = air_film(radius, speed, speed, tension, viscosity) / np.asarray(radius, float)
    pull = np.asarray(tension, float) / (np.asarray(viscosity) * np.maximum(2.0 * np.asarray(speed, float), 1e-300))
    words = []
    for found, (low, high), what in (
        (film, MEASURED_FILM, "air film over roll radius"),
        (pull, MEASURED_TENSION, "tension over (viscosity x speeds)"),
    ):
        least, most = float(np.min(found)), float(np.max(found))
        if least < low or most > high:
            words.append(f"{what} from {least:.3g} to {most:.3g}, measured between {low:.3g} and {high:.3g}")
    return "; ".join(words)


def web_conductance(
    contact: ArrayLike, film: ArrayLike, air_conductivity: ArrayLike, kept: ArrayLike = 1.0, roughness: ArrayLike = 0.0
) -> Array:
    """Conductance from roll to web [W/m2/K]: 1/h = 1/contact + gap/k_air, gap = max(kept film - roughness, 0).

    contact : of the web at rest under its tension [W/m2/K]; film : :func:`air_film` [m]; air_conductivity [W/m/K]; kept :
    share of the film that stays, 1 for a tight web, towards 0 for an open cloth or a grooved roll; roughness : of roll and
    web together, depth that takes up the film before the web lifts [m]. Never above ``contact``; falls with speed without
    a step; goes to ``contact`` as the film vanishes and to k_air/gap when it is thick. ``kept`` and ``roughness`` have no
    source: fit one of them (:func:`fit_kept`).

    >>> round(float(web_conductance(500.0, 90e-6, 0.03)), 0)  # 90 um of air leave a fifth less than half
    200.0
    """
    gap = np.maximum(np.asarray(kept) * np.asarray(film, float) - np.asarray(roughness), 0.0)
    return np.asarray(1.0 / (1.0 / np.asarray(contact, float) + gap / np.asarray(air_conductivity)))


def conductance_at_speed(
    contact: ArrayLike,
    diameter: ArrayLike,
    speed: ArrayLike,
    tension: ArrayLike,
    air: ArrayLike,
    kept: ArrayLike = 1.0,
    roughness: ArrayLike = 0.0,
) -> Array:
    """Conductance of a web that runs with its roll [W/m2/K]: the film of the speed, then :func:`web_conductance`.

    contact [W/m2/K] at rest; diameter [m]; speed [m/s]; tension [N/m]; air : temperature in the film, mean of roll and web
    [K]; kept, roughness : as there.

    >>> [round(float(conductance_at_speed(500.0, 0.3, v, 100.0, 360.0)), 0) for v in (0.0, 0.2, 1.0)]
    [500.0, 454.0, 386.0]
    """
    film = air_film(np.asarray(diameter, float) / 2.0, speed, speed, tension, air_viscosity(air))
    return web_conductance(contact, film, air_properties(np.asarray(air, float))["conductivity"], kept, roughness)


def fit_kept(measured: ArrayLike, contact: ArrayLike, film: ArrayLike, air_conductivity: ArrayLike) -> Array:
    """Share of the foil-bearing film that stays, from one run whose conductance is known [-].

    kept = (1/measured - 1/contact) k_air/film. measured : conductance found in that run, by its web temperatures before and
    after the roll [W/m2/K]; contact : at rest [W/m2/K]; film : of that run's speed and tension [m]. NaN where measured is
    above contact or there is no film: that run cannot tell. A share above 1 says that contact is worse than assumed: fit
    ``contact`` instead (:func:`fit_contact`).
    """
    m, c, h = (np.asarray(x, float) for x in (measured, contact, film))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (1.0 / m - 1.0 / c) * np.asarray(air_conductivity) / h
    return np.asarray(np.where((m <= c) & (h > 0.0), share, np.nan))


def fit_contact(
    measured: ArrayLike,
    film: ArrayLike,
    air_conductivity: ArrayLike,
    kept: ArrayLike = 1.0,
    roughness: ArrayLike = 0.0,
) -> Array:
    """Conductance at rest, from one run whose conductance is known [W/m2/K]: 1/contact = 1/measured - gap/k_air.

    The same arguments as :func:`web_conductance`, which it inverts. NaN where the film alone lets less through than was
    measured: the film is then thinner than the law says, fit ``kept`` instead.
    """
    gap = np.maximum(np.asarray(kept) * np.asarray(film, float) - np.asarray(roughness), 0.0)
    rest = 1.0 / np.asarray(measured, float) - gap / np.asarray(air_conductivity)
    return np.asarray(np.where(rest > 0.0, 1.0 / np.where(rest > 0.0, rest, 1.0), np.nan))
