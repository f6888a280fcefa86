"""Sets of two rate laws: reactions side by side, or one law below a temperature and another above it.

Arrays and parameters as in ``rates.py``. A set whose law changes at a degree is ``EpoxyAmine`` there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.kinetics.rates import Law

    Array = NDArray[np.float64]
    Number = float | Array
    Degrees = tuple[Array, ...]
    Linearised = tuple[Array, Array, tuple[Array, ...]]

_HOTTEST = 1e6  # K, beyond which a temperature counts as this, so that nothing overflows


@dataclass(frozen=True, eq=False)
class SumOfRates:
    """Two reactions that use up the same groups: d(a)/dt = first + second.

    >>> from thermokit.kinetics.rates import NthOrder
    >>> law = SumOfRates(NthOrder(0.002, 0.0, 1.0), NthOrder(0.01, 0.0, 2.0))
    >>> float(law.evaluate(np.array([400.0]), (np.array([0.5]),))[0])  # 0.002 * 0.5 + 0.01 * 0.25
    0.0035
    """

    first: Law
    second: Law

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        return self.first.evaluate(temperature, degrees) + self.second.evaluate(temperature, degrees)

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        rate, by_temperature, by_degrees = self.first.linearise(temperature, degrees)
        other, other_by_temperature, other_by_degrees = self.second.linearise(temperature, degrees)
        both = tuple(a + b for a, b in zip(by_degrees, other_by_degrees, strict=True))
        return rate + other, by_temperature + other_by_temperature, both


@dataclass(frozen=True, eq=False)
class ByTemperature:
    """One law when cold, another when hot: d(a)/dt = (1 - w) cold + w hot, w = 1/(1 + exp[-(T - middle)/width]).

    The change is spread over about four widths either side of the middle, so that the rate has no jump.
    middle [K]; width [K], above 0.

    >>> from thermokit.kinetics.rates import NthOrder
    >>> law = ByTemperature(NthOrder(0.002, 0.0, 0.0), NthOrder(0.01, 0.0, 0.0), 400.0, 2.0)
    >>> float(law.evaluate(np.array([400.0]), (np.array([0.5]),))[0])  # half of each
    0.006
    """

    cold: Law
    hot: Law
    middle: Number
    width: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        w = self._weight(temperature)
        return np.asarray(
            (1.0 - w) * self.cold.evaluate(temperature, degrees) + w * self.hot.evaluate(temperature, degrees)
        )

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        w = self._weight(temperature)
        cold, cold_by_temperature, cold_by_degrees = self.cold.linearise(temperature, degrees)
        hot, hot_by_temperature, hot_by_degrees = self.hot.linearise(temperature, degrees)
        by_temperature = (1.0 - w) * cold_by_temperature + w * hot_by_temperature
        by_temperature += (hot - cold) * w * (1.0 - w) / self.width
        both = tuple((1.0 - w) * a + w * b for a, b in zip(cold_by_degrees, hot_by_degrees, strict=True))
        return (1.0 - w) * cold + w * hot, by_temperature, both

    def _weight(self, temperature: Array) -> Array:
        colder = (self.middle - np.minimum(temperature, _HOTTEST)) / self.width
        return np.asarray(1.0 / (1.0 + np.exp(np.clip(colder, -700.0, 700.0))))
