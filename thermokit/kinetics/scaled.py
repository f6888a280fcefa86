"""A rate law with all its rates faster or slower by one factor: what differs from batch to batch of one compound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Degrees = tuple[Array, ...]


@dataclass(frozen=True, eq=False)
class Scaled:
    """factor times the rate of another law; factor : a number, or (cases,).

    >>> from thermokit.kinetics.rates import NthOrder
    >>> law = Scaled(NthOrder(0.01, 0.0, 1.0), 1.3)
    >>> round(float(law.evaluate(np.array([400.0]), (np.array([0.5]),))[0]), 12)  # 1.3 * 0.01 * 0.5
    0.0065
    """

    law: Any
    factor: Any

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(degree)/dt [1/s] at temperature [K] and degrees [-]."""
        return np.asarray(self.factor * self.law.evaluate(temperature, degrees))

    def linearise(self, temperature: Array, degrees: Degrees) -> tuple[Array, Array, tuple[Array, ...]]:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        rate, by_temperature, by_degrees = self.law.linearise(temperature, degrees)
        return self.factor * rate, self.factor * by_temperature, tuple(self.factor * slope for slope in by_degrees)
