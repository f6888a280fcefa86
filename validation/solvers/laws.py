"""Rate laws written anew from their published equations, over the parameters of the records only.

What a law is called in a case decides which equation stands here; none of thermokit's own evaluations is used.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rate = Callable[[Array, tuple[Array, ...]], Array]

R = 8.314462618  # J/mol/K


def _k(factor: float, energy: float, t: Array) -> Array:
    return np.asarray(factor * np.exp(-energy / (R * np.maximum(t, 1.0))))


def _about(rate: float, energy: float, reference: float, t: Array) -> Array:
    return np.asarray(rate * np.exp(-energy / R * (1.0 / np.maximum(t, 1.0) - 1.0 / reference)))


def _rest(a: Array, n: float) -> Array:
    return np.asarray(np.maximum(1.0 - a, 0.0) ** n) if n else np.ones_like(a)


def _grown(a: Array, m: float) -> Array:
    return np.asarray(np.maximum(a, 1e-9) ** m) if m else np.ones_like(a)


def _two_rate(p: Any) -> Rate:
    def rate(t: Array, d: tuple[Array, ...]) -> Array:
        growth = _k(p.factor_1, p.energy_1, t) + _k(p.factor_2, p.energy_2, t) * _grown(d[-1], p.m)
        return np.asarray(growth * _rest(d[-1], p.n))

    return rate


def _nth_order(p: Any) -> Rate:
    return lambda t, d: np.asarray(_k(p.factor, p.energy, t) * _rest(d[-1], p.n))


def _gelation(p: Any) -> Rate:
    return lambda t, d: np.asarray(_about(p.rate, p.energy, p.reference_temperature, t) * (1.0 - d[-1]))


def _fusion(p: Any) -> Rate:
    def rate(t: Array, d: tuple[Array, ...]) -> Array:
        goal = 0.5 * (1.0 + np.tanh((t - p.half_temperature) / (2.0 * p.width)))  # the logistic curve
        k = _about(p.rate, p.energy, p.reference_temperature, t)
        return np.asarray(k * np.clip(goal - d[-1], 0.0, None) * d[-2])

    return rate


def _heat_dose(p: Any) -> Rate:
    return lambda t, d: _about(1.0 / p.life, p.energy, p.reference_temperature, t)


def _held(p: Any) -> Rate:
    return lambda t, d: np.asarray(0.5 * (1.0 + np.tanh((t - p.temperature) / 0.5)) / p.time)  # width 0.25 K


def _friction(p: Any) -> Rate:
    return lambda t, d: np.asarray(p.power * np.exp(-p.softening * (t - p.reference)) / 1e5)  # of 100 kJ/kg


def _scaled(p: Any) -> Rate:
    own = rate_of(p.law)
    return lambda t, d: np.asarray(p.factor * own(t, d))


def _sum(p: Any) -> Rate:
    first, second = rate_of(p.first), rate_of(p.second)
    return lambda t, d: first(t, d) + second(t, d)


def _by_temperature(p: Any) -> Rate:
    cold, hot = rate_of(p.cold), rate_of(p.hot)

    def rate(t: Array, d: tuple[Array, ...]) -> Array:
        w = 0.5 * (1.0 + np.tanh((t - p.middle) / (2.0 * p.width)))
        return np.asarray((1.0 - w) * cold(t, d) + w * hot(t, d))

    return rate


EQUATIONS: dict[str, Callable[[Any], Rate]] = {
    "TwoRate": _two_rate,
    "NthOrder": _nth_order,
    "Gelation": _gelation,
    "Fusion": _fusion,
    "HeatDose": _heat_dose,
    "Held": _held,
    "FrictionHeat": _friction,
    "Scaled": _scaled,
    "SumOfRates": _sum,
    "ByTemperature": _by_temperature,
}


def rate_of(law: Any) -> Rate:
    """The equation [1/s] of a law by its name; raises KeyError for one that has not been written down here."""
    return EQUATIONS[type(law).__name__](law)
