"""Cure that slows down as its groups can no longer reach each other: limits that may be put on any rate of cure.

``Vitrified`` ties the limit to the glass transition, which the degree then cannot pass by more than ``reach``;
``DiffusionLimited`` takes a degree and a temperature slope that were fitted to measurements. Arrays, parameters and
guards as in ``rates.py``; the law inside may be any other, and its parameters may be arrays over cases.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.kinetics.network import GlassTransition
    from thermokit.kinetics.rates import Law

    Array = NDArray[np.float64]
    Number = float | Array
    Degrees = tuple[Array, ...]
    Linearised = tuple[Array, Array, tuple[Array, ...]]

_HOTTEST = 1e6  # K, beyond which a temperature counts as this, so that nothing overflows
_CLOSEST = 0.02  # K; nearer than this to the end of its reach diffusion is zero to all digits (exp(-1e5))


@dataclass(frozen=True, eq=False)
class Vitrified:
    """A rate of cure in series with diffusion that freezes at the glass transition: 1/rate = 1/chemical + 1/diffusion.

    diffusion = at_glass exp[strength (T - Tg)/(reach + T - Tg)], and nothing where Tg lies more than ``reach`` above T:
    so the degree cannot pass that at which Tg = T + reach, and hardly that at which Tg = T + 20 K. It goes on when the
    temperature is raised.
    law : the chemical rate; glass : glass transition against degree; at_glass : diffusion at T = Tg [1/s], 1e-3 to 1 in
    most work (a factor of ten moves the limit by some 3 K); strength [-] and reach [K] : 40.2 and 51.6 K, the universal
    constants (17.44 ln 10, 51.6 K).
    Source: Rabinowitch, Transactions of the Faraday Society 33 (1937) 1225 (two resistances in series); Williams, Landel
    and Ferry, Journal of the American Chemical Society 77 (1955) 3701 (the constants); Wisanrakkit and Gillham, Journal of
    Applied Polymer Science 41 (1990) 2885 (the two together for epoxy; from memory).

    >>> from thermokit.kinetics.network import GlassTransition
    >>> from thermokit.kinetics.rates import NthOrder
    >>> law = Vitrified(NthOrder(0.01, 0.0, 0.0), GlassTransition(250.0, 450.0, 1.0), 0.01)
    >>> float(law.evaluate(np.array([350.0]), (np.array([0.5]),))[0])  # Tg = T: both 0.01 1/s in series
    0.005
    >>> float(law.evaluate(np.array([350.0]), (np.array([0.8]),))[0])  # Tg 60 K above T
    0.0
    """

    law: Law
    glass: GlassTransition
    at_glass: Number
    strength: Number = 40.2
    reach: Number = 51.6

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        chemical = self.law.evaluate(temperature, degrees)
        diffusion = self._diffusion(temperature, degrees[-1])[0]
        return np.asarray(chemical * _share(chemical, diffusion))

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        chemical, by_temperature, by_degrees = self.law.linearise(temperature, degrees)
        diffusion, by_lead = self._diffusion(temperature, degrees[-1])
        share = _share(chemical, diffusion)
        by_chemical = share * share
        by_diffusion = np.sign(chemical) * np.square(1.0 - share)
        through = by_diffusion * by_lead  # d rate/d(T - Tg)
        *others, own = (by_chemical * slope for slope in by_degrees)
        own = own - through * self.glass.slope(degrees[-1])
        return chemical * share, by_chemical * by_temperature + through, (*others, own)

    def _diffusion(self, temperature: Array, degree: Array) -> tuple[Array, Array]:
        """(diffusion [1/s], its derivative by T - Tg [1/s/K])."""
        lead = temperature - self.glass.at(degree)
        room = np.maximum(self.reach + lead, _CLOSEST)
        diffusion = self.at_glass * np.exp(self.strength * (1.0 - self.reach / room))
        slope = diffusion * (self.strength * self.reach / room / room)
        frozen = self.reach + lead < _CLOSEST
        return np.where(frozen, 0.0, diffusion), np.where(frozen, 0.0, slope)


def _share(chemical: Array, diffusion: Array) -> Array:
    """How much of the chemical rate is left in series with diffusion: diffusion/(|chemical| + diffusion)."""
    return np.asarray(diffusion / (np.abs(chemical) + diffusion + 1e-300))


@dataclass(frozen=True, eq=False)
class DiffusionLimited:
    """A rate of cure times 1/(1 + exp[sharpness (a - a_c)]), where a_c = critical + slope (T - at).

    Nothing holds the degree at a_c: beyond it the rate falls by a factor of e for each 1/sharpness of degree.
    law : the chemical rate; sharpness [-], 20 to 60 in most work; critical : degree at the temperature ``at`` [K]; slope
    [1/K].
    Source: Chern and Poehlein, Polymer Engineering and Science 27 (1987) 788 (the factor); Cole, Hechler and Noel,
    Macromolecules 24 (1991) 3098 (a_c linear in temperature); both from memory.

    >>> from thermokit.kinetics.rates import NthOrder
    >>> law = DiffusionLimited(NthOrder(0.01, 0.0, 0.0), 30.0, 0.8, 0.002, 400.0)
    >>> round(float(law.evaluate(np.array([410.0]), (np.array([0.82]),))[0]), 12)  # at a_c: half
    0.005
    """

    law: Law
    sharpness: Number
    critical: Number
    slope: Number
    at: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        return np.asarray(self.law.evaluate(temperature, degrees) * self._share(temperature, degrees[-1]))

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        rate, by_temperature, by_degrees = self.law.linearise(temperature, degrees)
        share = self._share(temperature, degrees[-1])
        fall = rate * share * (1.0 - share) * self.sharpness  # -d/da of the factor, times the rate
        *others, own = (share * slope for slope in by_degrees)
        return rate * share, share * by_temperature + fall * self.slope, (*others, own - fall)

    def _share(self, temperature: Array, degree: Array) -> Array:
        beyond = degree - (self.critical + self.slope * (np.minimum(temperature, _HOTTEST) - self.at))
        return np.asarray(1.0 / (1.0 + np.exp(np.clip(self.sharpness * beyond, -700.0, 700.0))))
