"""How much liquid a body takes along when it is drawn out of a bath, and how much of it stays after draining.

Newtonian and yield-stress liquids. mu viscosity [Pa s], U withdrawal speed [m/s], gamma surface tension [N/m], rho density
[kg/m3], tau_y yield stress [Pa]; Ca = mu U/gamma, l_c = sqrt(gamma/(rho g)). Numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.convection import GRAVITY

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

#: Ca up to which Landau and Levich holds, and up to which the form with gravity was compared with measurements
LOW_CAPILLARY, HIGH_CAPILLARY = 0.01, 2.0
_STEPS = 60  # halvings of the bracket, and exchanges of viscosity for thickness


def capillary_number(viscosity: ArrayLike, speed: ArrayLike, surface_tension: ArrayLike) -> Array:
    """Ca = mu U/gamma, drag over surface tension."""
    return np.asarray(np.asarray(viscosity) * np.asarray(speed) / np.asarray(surface_tension))


def capillary_length(surface_tension: ArrayLike, density: ArrayLike) -> Array:
    """l_c = sqrt(gamma/(rho g)) [m]."""
    return np.asarray(np.sqrt(np.asarray(surface_tension) / (np.asarray(density) * GRAVITY)))


def thickness_plate_landau_levich(
    viscosity: ArrayLike, speed: ArrayLike, surface_tension: ArrayLike, density: ArrayLike
) -> Array:
    """Film on a plate drawn upright out of a bath [m]: h = 0.9458 l_c Ca^(2/3).

    Ca up to about 0.01; beyond, gravity thins the film (next function). The constant follows from the matched meniscus
    (0.944 as first printed). Landau & Levich, Acta Physicochim. URSS 17 (1942) 42.
    """
    ca = capillary_number(viscosity, speed, surface_tension)
    return np.asarray(0.9458 * capillary_length(surface_tension, density) * np.cbrt(ca) ** 2)


def thickness_plate_white_tallmadge(
    viscosity: ArrayLike, speed: ArrayLike, surface_tension: ArrayLike, density: ArrayLike
) -> Array:
    """The same with gravity [m]: H sqrt(rho g/gamma) = 0.944 Ca^(2/3) (1 - rho g H^2/(mu U))^(2/3), solved for H.

    Ca up to about 2 for fairly viscous liquids; H stays below sqrt(mu U/(rho g)). White & Tallmadge, Chem. Eng. Sci. 20
    (1965) 33, in the form quoted by Deen, Analysis of Transport Phenomena. With T = H sqrt(rho g/(mu U)) it reads
    T^(3/2) = c Ca^(1/4) (1 - T^2), c = 0.944^(3/2), which is increasing in T on the left, falling on the right: one root.

    >>> round(1e6 * float(thickness_plate_white_tallmadge(0.5, 1e-3, 0.030, 1000.0)), 1)  # um
    94.7
    """
    ca = capillary_number(viscosity, speed, surface_tension)
    strength = 0.944**1.5 * np.asarray(ca, float) ** 0.25
    low, high = np.zeros_like(strength), np.ones_like(strength)
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        beyond = middle**1.5 > strength * (1.0 - middle**2)
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    scale = np.sqrt(np.asarray(viscosity) * np.asarray(speed) / (np.asarray(density) * GRAVITY))
    return np.asarray((low + high) / 2.0 * scale)


def thickness_draining_jeffreys(
    viscosity: ArrayLike, density: ArrayLike, below_top: ArrayLike, time: ArrayLike
) -> Array:
    """Newtonian film that runs down an upright plate [m]: h = sqrt(mu x/(rho g t)), x [m] below its top, t [s] of draining.

    Forgets how thick the film was; holds once it is much thinner than at first. Jeffreys, Proc. Camb. Phil. Soc. 26 (1930)
    204. The mean over the top x is two thirds of it.

    >>> round(1e3 * float(thickness_draining_jeffreys(2.0, 1200.0, 0.2, 60.0)), 2)  # mm
    0.75
    """
    flow = np.asarray(viscosity) * np.asarray(below_top) / (np.asarray(density) * GRAVITY * np.asarray(time))
    return np.asarray(np.sqrt(flow))


def thickness_yield_stress(yield_stress: ArrayLike, density: ArrayLike) -> Array:
    """Film that its yield stress holds on an upright plate [m]: h = tau_y/(rho g).

    >>> round(1e3 * float(thickness_yield_stress(5.0, 1200.0)), 3)  # mm
    0.425
    """
    return np.asarray(np.asarray(yield_stress) / (np.asarray(density) * GRAVITY))


def apparent_viscosity_herschel_bulkley(
    yield_stress: ArrayLike, consistency: ArrayLike, index: ArrayLike, shear_rate: ArrayLike
) -> Array:
    """mu = tau_y/rate + K rate^(n - 1) [Pa s] at a shear rate [1/s]; K [Pa s^n] is the viscosity where n = 1.

    Herschel & Bulkley, Kolloid-Z. 39 (1926) 291.
    """
    rate = np.asarray(shear_rate, float)
    return np.asarray(np.asarray(yield_stress) / rate + np.asarray(consistency) * rate ** (np.asarray(index) - 1.0))


def thickness_drawn(
    viscosity: ArrayLike,
    speed: ArrayLike,
    surface_tension: ArrayLike,
    density: ArrayLike,
    yield_stress: ArrayLike = 0.0,
    index: ArrayLike = 1.0,
) -> Array:
    """Film that a body takes along [m], Newtonian or Herschel-Bulkley: White and Tallmadge at the viscosity that the film has.

    viscosity : K [Pa s^n]. The shear rate in the dragged film is about U/H, so H is found together with the viscosity; it is
    at least what the yield stress holds. The reduction to a viscosity is an estimate (no source); exact for index 1 without
    yield stress.
    """
    tau, n = np.asarray(yield_stress, float), np.asarray(index, float)
    held = thickness_yield_stress(tau, density)
    h = thickness_plate_white_tallmadge(viscosity, speed, surface_tension, density)
    if np.all(tau == 0.0) and np.all(n == 1.0):
        return h
    for _ in range(_STEPS):
        apparent = apparent_viscosity_herschel_bulkley(tau, viscosity, n, np.asarray(speed) / np.maximum(h, 1e-9))
        drawn = thickness_plate_white_tallmadge(apparent, speed, surface_tension, density)
        # the geometric mean of old and new settles where the plain exchange may swing
        h = np.sqrt(h * drawn)
    return np.asarray(np.maximum(h, held))


def thickness_drained(
    drawn: ArrayLike,
    viscosity: ArrayLike,
    density: ArrayLike,
    below_top: ArrayLike,
    time: ArrayLike,
    yield_stress: ArrayLike = 0.0,
) -> Array:
    """Film that is left after draining [m]: the smaller of what was drawn and Jeffreys' film, not below the yield residue.

    A film thinner than what its yield stress holds does not run at all.
    """
    running = thickness_draining_jeffreys(viscosity, density, below_top, np.maximum(time, 1e-9))
    held = np.minimum(drawn, thickness_yield_stress(yield_stress, density))
    return np.asarray(np.maximum(np.minimum(drawn, running), held))
