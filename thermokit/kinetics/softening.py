"""How much a hot sheet has sagged, as a number that can be held against a run known to be good."""

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

SCALE = 100.0  # s, so that a usual sag has a state of about one and the error control suits it
MOST = 60.0  # exponent beyond which the sheet has long fallen off: e^60 s^-1 is no sag but a leak


@dataclass(frozen=True, eq=False)
class Softening:
    """Sag that a layer adds up: state = ln(1 + I/100 s) with dI/dt = exp[rate (T - softening)].

    So d(state)/dt = exp[rate (T - softening) - state]/100 s. The fluidity of a plastic near its softening point grows about
    exponentially with temperature; I is the time that the sheet would need at its softening temperature to sag as much
    (:func:`softened_time`). Its logarithm is followed, since I runs over many decades. Common practice, no source: only
    ratios of two runs of the same sheet mean anything.
    rate [1/K]; softening [K]; numbers, or (cases,).

    >>> float(Softening(0.05, 378.15).evaluate(np.array([378.15]), (np.array([0.0]),))[0])  # 1/100
    0.01
    """

    rate: Number
    softening: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(state)/dt [1/s] at temperature [K]; the last entry of ``degrees`` is the state."""
        exponent = np.minimum(self.rate * (temperature - self.softening), MOST)
        return np.asarray(np.exp(exponent - np.maximum(degrees[-1], 0.0)) / SCALE)

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        rate = self.evaluate(temperature, degrees)
        slope = np.where(self.rate * (temperature - self.softening) < MOST, self.rate, 0.0)
        others = tuple(np.zeros_like(rate) for _ in degrees[:-1])
        own = np.where(degrees[-1] >= 0.0, -rate, 0.0)
        return rate, np.asarray(rate * slope), (*others, own)


def softened_time(state: Number) -> Array:
    """Time I [s] at the softening temperature that a state of :class:`Softening` stands for: 100 s (exp(state) - 1).

    >>> round(float(softened_time(np.log(1.6))), 9)
    60.0
    """
    return np.asarray(SCALE * np.expm1(state))
