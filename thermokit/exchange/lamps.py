"""Infrared lamps over a web: what a bank sends, what arrives and is taken in, and what comes after they are switched off.

A bank is a row of zones, each with a rating by area, a setting and a share that it radiates. Dimmed, an emitter is colder,
T = T_rated setting^(1/4), and its spectrum longer. What the web takes in is a share by spectrum: of its bands
(:func:`absorbed_share`), or as measured for that kind of lamp. Switched off, a lamp glows on: its radiation falls as
exp(-t/tau).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.absorption import slab_shares

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from thermokit.exchange.bands import Bands

    Array = NDArray[np.float64]


@dataclass(frozen=True)
class Lamp:
    """A kind of lamp; every number common practice without source, but for ``radiant`` (a maker's table).

    temperature : (low, typical, high) of the emitter [K]; rating : (low, high) of a bank, by area [W/m2]; radiant : share
    of its power that it sends out as radiation, the rest heats the air [-]; tau : time constant of its radiation once
    switched off [s], (low, typical, high).
    """

    name: str
    temperature: tuple[float, float, float]
    rating: tuple[float, float]
    radiant: float
    tau: tuple[float, float, float]


#: kinds of lamp by name
LAMPS: Mapping[str, Lamp] = {
    lamp.name: lamp
    for lamp in (
        Lamp("short_wave", (2100.0, 2400.0, 2700.0), (50e3, 300e3), 0.86, (0.3, 0.6, 1.5)),
        Lamp("medium_wave_fast", (1500.0, 1650.0, 1800.0), (40e3, 120e3), 0.75, (0.5, 1.0, 3.0)),
        Lamp("medium_wave", (1050.0, 1150.0, 1300.0), (15e3, 60e3), 0.61, (15.0, 30.0, 60.0)),
        Lamp("ceramic", (600.0, 800.0, 950.0), (5e3, 40e3), 0.96, (100.0, 200.0, 400.0)),
    )
}

#: share taken in by coats and cloth, (short wave, medium wave, long wave); from memory, handbooks in general
TAKEN_IN: Mapping[str, tuple[float, float, float]] = {
    "white cotton, dry": (0.25, 0.55, 0.88),
    "white cotton, wet": (0.45, 0.80, 0.92),
    "clear PVC paste, 0.3 mm on cloth": (0.35, 0.75, 0.93),
    "white PVC film, 0.3 mm": (0.25, 0.65, 0.92),
    "dark PVC film, 0.3 mm": (0.85, 0.90, 0.94),
}
#: temperatures of emitter [K] at which those three stand: middles of the kinds of lamp above
TAKEN_AT = (2400.0, 1200.0, 800.0)


def emitter_temperature(rated: ArrayLike, setting: ArrayLike) -> Array:
    """Temperature of a dimmed emitter [K]: rated x setting^(1/4), all its power radiated to colder surroundings.

    rated [K] at full power; setting : share of full power, 0 to 1.
    """
    return np.asarray(np.asarray(rated, float) * np.sqrt(np.sqrt(np.asarray(setting, float))))


def sent_by_bank(rating: ArrayLike, setting: ArrayLike, radiant: ArrayLike = 1.0, mains: ArrayLike = 1.0) -> Array:
    """Radiation that zones send [W/m2]: rating x setting x radiant x mains^2.

    rating : installed power by area of zone [W/m2]; setting : share of full power, 0 to 1; mains : voltage over nominal,
    squared where nothing controls the power.

    >>> float(sent_by_bank(40e3, 0.9, 0.61))
    21960.0
    """
    return np.asarray(
        np.asarray(rating, float) * np.asarray(setting) * np.asarray(radiant) * np.asarray(mains, float) ** 2
    )


def absorbed_share(
    bands: Bands, thickness: ArrayLike, temperature: ArrayLike, path: ArrayLike = 1.7, behind: ArrayLike = 0.0
) -> Array:
    """Share of a lamp's radiation that a coat takes in, by its absorption bands [-]; shape of ``slab_shares``.

    thickness [m]; temperature : of the emitter (:func:`emitter_temperature`) [K]; path : mean length of a ray over the
    depth, about 1.7 in diffuse radiation; behind : share that the cloth below throws back. What is not taken in by the coat
    and not thrown back lands in the cloth.
    """
    return slab_shares(bands, thickness, temperature, path, behind).absorbed


def taken_in(what: str, temperature: ArrayLike) -> Array:
    """Share that a coat or cloth of :data:`TAKEN_IN` takes in [-], linear in 1/T between the kinds of lamp, ends held.

    temperature : of the emitter [K]. Raises KeyError for a name that is not in the table.

    >>> round(float(taken_in("white PVC film, 0.3 mm", 2400.0)), 2)
    0.25
    """
    at = 1.0 / np.asarray(TAKEN_AT)
    return np.asarray(np.interp(1.0 / np.asarray(temperature, float), at, TAKEN_IN[what]))


def after_glow(flux: ArrayLike, tau: ArrayLike, time: ArrayLike) -> Array:
    """Flux that still arrives a time after switching off [W/m2]: flux exp(-t/tau); SI. First order: an estimate."""
    return np.asarray(np.asarray(flux, float) * np.exp(-np.asarray(time, float) / np.asarray(tau, float)))


def heat_after_stop(flux: ArrayLike, tau: ArrayLike, shutter: ArrayLike = np.inf, leak: ArrayLike = 0.0) -> Array:
    """Heat that falls on a standing web after lamps are switched off and a shutter closes [J/m2].

    The shutter, at rest until ``shutter`` seconds after the stop, then lets the share ``leak`` through::

        flux tau [1 - (1 - leak) exp(-shutter/tau)]

    flux : taken in while running [W/m2]; tau [s]; shutter [s], infinite for none; leak [-].

    >>> round(float(heat_after_stop(16e3, 30.0, 1.0)), 0), float(heat_after_stop(16e3, 30.0))
    (15736.0, 480000.0)
    """
    q, t = np.asarray(flux, float), np.asarray(tau, float)
    stays = -np.expm1(-np.asarray(shutter, float) / t)
    return np.asarray(q * t * (stays + np.asarray(leak, float) * (1.0 - stays)))


def heat_while_closing(flux: ArrayLike, tau: ArrayLike, delay: ArrayLike, closing: ArrayLike) -> Array:
    """The same for a shutter that begins to move after ``delay`` [s] and covers evenly over ``closing`` [s].

    flux tau [1 - exp(-d/tau) (tau/c) (1 - exp(-c/tau))]: the mean of :func:`heat_after_stop` over the time at which a place
    is covered. closing 0 gives that of a shutter that shuts at once.
    """
    q, t = np.asarray(flux, float), np.asarray(tau, float)
    x = np.maximum(np.asarray(closing, float) / t, 1e-12)
    return np.asarray(q * t * (1.0 - np.exp(-np.asarray(delay, float) / t) * -np.expm1(-x) / x))


def rise_after_stop(
    flux: ArrayLike, tau: ArrayLike, shutter: ArrayLike, areal_heat: ArrayLike, leak: ArrayLike = 0.0
) -> Array:
    """Rise of a standing web after a stop, evened out through it, no losses counted [K]: an upper mean.

    areal_heat : rho cp thickness of all layers [J/m2/K]; the rest as in :func:`heat_after_stop`.
    """
    return np.asarray(heat_after_stop(flux, tau, shutter, leak) / np.asarray(areal_heat))


def time_to_limit(flux: ArrayLike, tau: ArrayLike, areal_heat: ArrayLike, room: ArrayLike) -> Array:
    """Time from a stop until a standing web is ``room`` kelvin hotter, lamps switched off at the stop [s]; infinite if never.

    -tau ln(1 - room areal_heat/(flux tau)): evened out, no losses: the shutter must be shut by then. tau infinite: lamps that
    stay on.
    """
    q, t = np.asarray(flux, float), np.asarray(tau, float)
    plain = np.asarray(room, float) * np.asarray(areal_heat) / q
    glow = np.where(np.isfinite(t), t, 1.0)
    share = np.minimum(plain / glow, 1.0)
    with np.errstate(divide="ignore"):
        fading = -glow * np.log1p(-share)  # infinite where the glow does not do it
    return np.asarray(np.where(np.isfinite(t), fading, plain))
