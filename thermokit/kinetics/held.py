"""How long a place has been at least so hot, as a share of the time that is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array
    Degrees = tuple[Array, ...]
    Linearised = tuple[Array, Array, tuple[Array, ...]]

WIDTH = 0.25  # K, over which the clock starts, so that time steps see it come


@dataclass(frozen=True, eq=False)
class Held:
    """Time above a temperature: d(share)/dt = 1/(1 + exp(-(T - temperature)/width)) / time.

    temperature [K]; time [s] at which the share is 1; width 0.25 K. Numbers, or (cases,).

    >>> law = Held(448.15, 60.0)
    >>> law.evaluate(np.array([440.0, 448.15, 460.0]), (np.zeros(3),)).round(6).tolist()  # 0, half, whole 1/60
    [0.0, 0.008333, 0.016667]
    """

    temperature: Number
    time: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(share)/dt [1/s] at temperature [K]; it does not depend on itself."""
        return np.asarray(self._on(temperature) / self.time)

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (zeros, one for each entry of ``degrees``))."""
        on = self._on(temperature)
        rate = np.asarray(on / self.time)
        return rate, rate * (1.0 - on) / WIDTH, tuple(np.zeros_like(rate) for _ in degrees)

    def _on(self, temperature: Array) -> Array:
        return np.asarray(1.0 / (1.0 + np.exp(np.clip((self.temperature - temperature) / WIDTH, -700.0, 700.0))))
