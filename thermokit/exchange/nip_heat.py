"""The nip of a calender: how thick the sheet leaves, with what pressure, force and heat.

Lubrication between two bowls of radius R, gap g between them, g + x^2/R away from the narrowest place. With
rho = x/sqrt(R g), U the mean of the two face speeds and a power law tau = K rate^n::

    exit at rho = lambda:    gauge/g = 1 + lambda^2, where sheet and bowls run at one speed
    dp/dx = 2 K [2 (2n + 1)/n]^n U^n / g^(n+1)  sgn(rho^2 - lambda^2) |rho^2 - lambda^2|^n / (1 + rho^2)^(2n+1)

lambda is where the pressure comes down to zero, the entrance at rho = -rho_f, entering gauge/g = 1 + rho_f^2. Newtonian with
a deep bank: lambda = 0.475, gauge/g = 1.226. Assumes: nothing slips, gap much smaller than R, one viscosity through the nip,
even width, bowls that do not bend.

Sources: Gaskell, J. Appl. Mech. 17 (1950) 334; McKelvey, Polymer Processing (1962); Middleman, Fundamentals of Polymer
Processing (1977), chapter 7 (all from memory); the ratio 1.226 is printed in abstracts since. Different bowl speeds change the
pressure of a Newtonian melt only by their mean, and add the shear of their difference (exact there; see ``nip``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_NODES = 48  # of the quadratures along the nip: heat to 5e-5, force and pressure to 1e-8 of ten times as many
_ACROSS = 12  # of that across the gap
_HALVINGS = 48  # of the bracket of the exit place


@dataclass(frozen=True, eq=False)
class Nip:
    """What a nip does; all entries broadcast to one shape.

    gauge : of the leaving sheet [m]; ratio : gauge over gap [-]; speed : of the leaving sheet, mean of the bowls [m/s];
    pressure : at its peak [Pa]; force : that parts the bowls, by width [N/m]; power : turned to heat, by width [W/m];
    friction : the part of it that the difference of speeds makes [W/m]; bite, exit : distance of the entrance before
    (infinite for a deep bank) and of the exit behind the narrowest place [m].
    """

    gauge: Array
    ratio: Array
    speed: Array
    pressure: Array
    force: Array
    power: Array
    friction: Array
    bite: Array
    exit: Array


def exit_ratio(index: ArrayLike = 1.0, entering: ArrayLike = np.inf) -> Array:
    """Gauge of the leaving sheet over the gap, 1 + lambda^2 [-].

    index : n of the power law, 0.2 to 1; entering : entering gauge over gap, above 1, infinite for a deep bank. At most
    ``entering``. It rises with the bank and falls with n, from 1.265 at n = 0.25 to 1.226.

    >>> round(float(exit_ratio()), 3)  # Gaskell
    1.226
    """
    n, e = np.broadcast_arrays(np.asarray(index, float), np.asarray(entering, float))
    return np.asarray(1.0 + _lambda(n, e) ** 2)


def gap_for_gauge(gauge: ArrayLike, index: ArrayLike = 1.0, entering: ArrayLike = np.inf) -> Array:
    """Gap that gives a gauge of leaving sheet [m]; gauge and entering gauge [m], infinite for a deep bank.

    Falls back to gap = gauge where the entering sheet is no thicker than that: then nothing is rolled out.
    """
    h, n, e = np.broadcast_arrays(np.asarray(gauge, float), np.asarray(index, float), np.asarray(entering, float))
    thicker = np.maximum(e / h, 1.0)

    def settled(n: Array, thicker: Array) -> Array:
        # the entrance follows the exit here: entering/gap = (entering/gauge) (1 + lambda^2)
        return _settled(n, np.ones(n.shape), lambda end: thicker * (1.0 + end**2))

    (lam,) = _of_unlike(lambda *given: (settled(*given),), n, thicker)
    return np.asarray(np.where(thicker > 1.0, h / (1.0 + lam**2), h))


def consistency_at(
    consistency: ArrayLike, temperature: ArrayLike, reference: ArrayLike, softening: ArrayLike = 0.0
) -> Array:
    """K(T) = K exp[-softening (T - reference)] [Pa s^n]; temperatures [K], softening [1/K].

    A straight line on logarithmic paper over the range of a calender (some 30 K); held at 50 powers of e.
    """
    power = np.clip(-np.asarray(softening) * (np.asarray(temperature, float) - np.asarray(reference)), -50.0, 50.0)
    return np.asarray(np.asarray(consistency, float) * np.exp(power))


def nip(
    diameter: ArrayLike,
    gap: ArrayLike,
    speeds: tuple[ArrayLike, ArrayLike],
    consistency: ArrayLike,
    index: ArrayLike = 1.0,
    entering: ArrayLike = np.inf,
) -> Nip:
    """Gauge, pressure, force and heat of one nip.

    diameter of both bowls, gap [m]; speeds : faces of the two bowls, both above 0 [m/s]; consistency K [Pa s^n] at the
    temperature in the nip (:func:`consistency_at`), index n, 0.2 to 1; entering : gauge [m], infinite for a deep bank
    (the heat of a deep bank does not grow with it; where the speeds differ and n is 0.5 or less it does, as h^-n over the
    bank, without end: give the gauge).

    Heat by area: integral over the gap of K rate^(n+1) with rate^2 = (of pressure flow)^2 + [(u2 - u1)/h]^2. Exact for
    equal speeds (any n) and for n = 1 (any speeds); for n < 1 with a friction ratio an estimate (no source), and the
    pressure, which does not know that the shear of the friction thins the melt, is then an upper one.
    Raises ValueError for an index outside 0.2 to 1.
    """
    given = (diameter, gap, speeds[0], speeds[1], consistency, index, entering)
    d, g, u1, u2, k, n, e = np.broadcast_arrays(*(np.asarray(x, float) for x in given))
    if np.any((n < 0.2) | (n > 1.0)):
        raise ValueError("index of the power law: allowed 0.2 to 1")
    r, u = d / 2.0, (u1 + u2) / 2.0
    thick = np.maximum(e / g, 1.0)
    unit, stress = np.sqrt(r * g), k * (u / g) ** n
    lam, force, pressure, heat, alone = _of_unlike(_shape, n, thick, np.abs(u2 - u1) / u)
    force, pressure = force * stress * unit**2 / g, pressure * stress * unit / g
    heat, alone = heat * stress * u * unit, alone * stress * u * unit
    gauge = g * (1.0 + lam**2)
    bite = np.where(np.isfinite(thick), np.sqrt(np.where(np.isfinite(thick), thick, 1.0) - 1.0) * unit, np.inf)
    return Nip(gauge, gauge / g, u, pressure, force, heat, heat - alone, bite, lam * unit)


def _shape(n: Array, thick: Array, difference: Array) -> tuple[Array, ...]:
    """(lambda, force, pressure, heat, heat without the difference) of a nip of radius, gap, speed and consistency 1.

    difference : of the speeds over their mean.
    """
    lam = _lambda(n, thick)
    rho, weight = _places(lam, thick)
    lead = 2.0 * (2.0 * (2.0 * n + 1.0) / n) ** n
    slope = lead * _pull(rho, lam, n)  # dp/dx
    # integration by parts: the force is -integral of x dp/dx, as the pressure is zero at both ends
    force = -np.sum(weight * rho * slope, axis=0)
    to_peak, peak_weight = _places(-lam, thick)
    pressure = np.sum(peak_weight * lead * _pull(to_peak, lam, n), axis=0)
    h, one = 1.0 + rho**2, np.ones(n.shape)
    heat, alone = (np.sum(weight * _heat(x, np.abs(slope), h, one, n), axis=0) for x in (difference, np.zeros(n.shape)))
    return lam, force, pressure, heat, alone


def _of_unlike(found: Callable[..., tuple[Array, ...]], *given: Array) -> tuple[Array, ...]:
    """What a function of arrays of one shape gives, worked out once for those that are alike: nips of a batch often are."""
    rows, of = np.unique(np.stack([np.ravel(x) for x in given], axis=1), axis=0, return_inverse=True)
    return tuple(x[np.ravel(of)].reshape(np.shape(given[0])) for x in found(*rows.T))


def nip_rise(
    power: ArrayLike, gauge: ArrayLike, speed: ArrayLike, density: ArrayLike, specific_heat: ArrayLike,
    softening: ArrayLike = 0.0,
) -> Array:  # fmt: skip
    """Mean rise of the sheet by the heat of a nip, nothing lost to the bowls [K].

    power [W/m] at the entering temperature; gauge [m], speed [m/s], density [kg/m3], specific heat [J/kg/K] of the leaving
    sheet. First rise = power/(density cp gauge speed); where the melt softens as exp(-softening T) while it warms,
    rise = ln(1 + softening first)/softening (exact when all of it warms alike).

    >>> round(float(nip_rise(5e3, 1e-3, 0.5, 1250.0, 1800.0)), 2)
    4.44
    """
    first = np.asarray(power, float) / (
        np.asarray(density) * np.asarray(specific_heat) * np.asarray(gauge) * np.asarray(speed)
    )
    b = np.asarray(softening, float) + 0.0 * first
    safe = np.where(b > 0.0, b, 1.0)
    return np.asarray(np.where(b > 0.0, np.log1p(safe * first) / safe, first))


def followed_bowl(temperatures: tuple[float, float], speeds: tuple[float, float]) -> tuple[int | None, str]:
    """(which of two bowls keeps the sheet, 0 or 1, or None where one cannot say; the reason in words).

    The sheet stays with the hotter bowl and with the faster one (common practice, no source; finish and tack of the faces
    may turn it round). temperatures [K], speeds [m/s]. Differences below 1 K and 1 % count as none.
    """
    hotter = _which(temperatures[0] - temperatures[1], 1.0)
    faster = _which(speeds[0] / speeds[1] - 1.0, 0.01)
    warm = f"{abs(temperatures[0] - temperatures[1]):.0f} K hotter"
    quick = f"{100 * (max(speeds) / min(speeds) - 1):.0f} % faster"
    if hotter is None and faster is None:
        return None, "the bowls are alike in heat and speed: the sheet may follow either, or change over"
    if hotter is not None and faster is not None and hotter != faster:
        return (
            None,
            f"one bowl is {warm}, the other {quick}: one cannot say which keeps the sheet; let one bowl be both",
        )
    found = faster if hotter is None else hotter
    why = " and ".join(w for w, which in ((warm, hotter), (quick, faster)) if which is not None)
    return found, f"it is {why} (common practice, no source)"


def _which(difference: float, least: float) -> int | None:
    return None if abs(difference) < least else 0 if difference > 0.0 else 1


def _pull(rho: Array, lam: Array, n: Array) -> Array:
    """Shape of the pressure gradient."""
    inside = rho**2 - lam**2
    return np.asarray(np.sign(inside) * np.abs(inside) ** n / (1.0 + rho**2) ** (2.0 * n + 1.0))


def _places(end: Array, thick: Array) -> tuple[Array, Array]:
    """(rho, weights) of a quadrature from the entrance to ``end``, split where the gradient has its kink (rho = -|end|).

    Gauss and Legendre in the angle atan(rho), as a deep bank begins at -90 degrees; the nodes crowd towards the ends of
    both parts, where |rho^2 - lambda^2|^n is not smooth.
    """
    node, w = (x.reshape((-1,) + (1,) * end.ndim) for x in _gauss(_NODES))
    first = -np.arctan(np.sqrt(np.maximum(thick - 1.0, 0.0)))
    kink, last = -np.arctan(np.abs(end)), np.arctan(end)
    places, weights = [], []
    for a, b in ((first, kink), (kink, last)):
        half = (b - a) / 2.0
        angle = (a + b) / 2.0 + half * np.sin(np.pi / 2.0 * node)
        places.append(np.tan(angle))
        weights.append(w * half * np.pi / 2.0 * np.cos(np.pi / 2.0 * node) / np.cos(angle) ** 2)
    return np.concatenate(places), np.concatenate(weights)


def _lambda(n: Array, thick: Array) -> Array:
    """Exit place at which the pressure, zero at the entrance, is zero again."""
    most = np.minimum(np.sqrt(np.maximum(thick - 1.0, 0.0)), 1.0)
    return _settled(n, most, lambda _: thick)


def _settled(n: Array, most: Array, thick: Callable[[Array], Array]) -> Array:
    """Exit place up to ``most`` where the pressure comes back to zero; thick : entering gauge over gap for an exit place."""
    low, high = np.zeros(n.shape), most
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        rho, weight = _places(middle, thick(middle))
        left = np.sum(weight * _pull(rho, middle, n), axis=0) > 0.0
        low, high = np.where(left, middle, low), np.where(left, high, middle)
    return np.asarray((low + high) / 2.0)


@lru_cache
def _gauss(nodes: int) -> tuple[Array, Array]:
    """(nodes, weights) of Gauss and Legendre from -1 to 1."""
    place, weight = np.polynomial.legendre.leggauss(nodes)
    return np.asarray(place), np.asarray(weight)


def _heat(difference: Array, slope: Array, h: Array, k: Array, n: Array) -> Array:
    """Heat by area of bowl [W/m2]: integral over the gap h of K rate^(n+1), shear of pressure and of friction together."""
    node, w = (x.reshape((-1,) + (1,) * h.ndim) for x in _gauss(_ACROSS))
    pressed = (slope * h / 2.0 * (node + 1.0) / 2.0 / k) ** (1.0 / n)
    return np.asarray(h * k * np.sum(w / 2.0 * (pressed**2 + (difference / h) ** 2) ** ((n + 1.0) / 2.0), axis=0))
