"""Rate laws of PVC: gelation of paste, fusion of the gel, and the heat dose that uses up the stabiliser.

Arrays, parameters and guards as in ``rates.py``. Rate constants are written about a reference temperature,
k = rate exp[-energy/R (1/T - 1/T_reference)], so that the constant is a rate that a shop can picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.kinetics.guards import GAS_CONSTANT, guarded_temperature

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array
    Degrees = tuple[Array, ...]
    Linearised = tuple[Array, Array, tuple[Array, ...]]


def _arrhenius(inverse: Array, rate: Number, energy: Number, reference_temperature: Number) -> Array:
    """rate exp[-energy/R (1/T - 1/T_reference)] from 1/T."""
    return np.asarray(rate * np.exp((energy / GAS_CONSTANT) * (1.0 / reference_temperature - inverse)))


@dataclass(frozen=True, eq=False)
class Gelation:
    """PVC paste taking up its plasticiser: d(g)/dt = k (1 - g).

    rate : k at the reference temperature [1/s]; energy [J/mol]; reference_temperature [K].

    >>> law = Gelation(0.0125, 80e3, 358.15)
    >>> round(float(law.evaluate(np.array([358.15]), (np.array([0.2]),))[0]), 12)  # 0.0125 * 0.8
    0.01
    """

    rate: Number
    energy: Number
    reference_temperature: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(g)/dt [1/s] at temperature [K] and degrees [-]."""
        inverse = 1.0 / guarded_temperature(temperature)
        k = _arrhenius(inverse, self.rate, self.energy, self.reference_temperature)
        return np.asarray(k * (1.0 - degrees[-1]))

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        inverse = 1.0 / guarded_temperature(temperature)
        k = _arrhenius(inverse, self.rate, self.energy, self.reference_temperature)
        rate = np.asarray(k * (1.0 - degrees[-1]))
        others = tuple(np.zeros_like(rate) for _ in degrees[:-1])
        return rate, rate * (self.energy / GAS_CONSTANT) * (inverse * inverse), (*others, -k)


@dataclass(frozen=True, eq=False)
class Fusion:
    """Gelled PVC fusing to a whole: d(f)/dt = k max(0, feq(T) - f) g, feq = 1/(1 + exp(-(T - T_half)/width)).

    The crystallites melt over a range, so each temperature has a degree ``feq`` beyond which fusion does not go; what
    is fused stays so on cooling. g is the gel degree, the state that stands just before the fusion degree.
    rate : k at the reference temperature [1/s]; energy [J/mol]; reference_temperature, half_temperature, width [K].

    >>> law = Fusion(0.03, 110e3, 453.15, 453.15, 9.0)
    >>> float(law.evaluate(np.array([453.15]), (np.array([1.0]), np.array([0.1])))[0])  # 0.03 * (0.5 - 0.1)
    0.012
    """

    rate: Number
    energy: Number
    reference_temperature: Number
    half_temperature: Number
    width: Number

    def equilibrium(self, temperature: Array) -> Array:
        """The fusion degree that a temperature [K] leads to in the end."""
        # beyond 700 the exponential would overflow, and feq is zero to all digits
        return np.asarray(1.0 / (1.0 + np.exp(np.minimum((self.half_temperature - temperature) / self.width, 700.0))))

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(f)/dt [1/s] at temperature [K]; the last two entries of ``degrees`` are gel and fusion degree."""
        k = _arrhenius(1.0 / guarded_temperature(temperature), self.rate, self.energy, self.reference_temperature)
        return np.asarray(k * np.maximum(self.equilibrium(temperature) - degrees[-1], 0.0) * degrees[-2])

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        inverse = 1.0 / guarded_temperature(temperature)
        k = _arrhenius(inverse, self.rate, self.energy, self.reference_temperature)
        gel = degrees[-2]
        target = self.equilibrium(temperature)
        gap = target - degrees[-1]
        active = gap > 0.0
        drive = np.where(active, gap, 0.0)
        by_gel = np.asarray(k * drive)
        rate = by_gel * gel
        k_gel = np.where(active, k * gel, 0.0)
        by_temperature = rate * (self.energy / GAS_CONSTANT) * (inverse * inverse) + k_gel * (
            target * (1.0 - target) / self.width
        )
        others = tuple(np.zeros_like(rate) for _ in degrees[:-2])
        return rate, by_temperature, (*others, by_gel, -k_gel)


@dataclass(frozen=True, eq=False)
class HeatDose:
    """Share of a material's heat life that is used up: d(D)/dt = exp[-energy/R (1/T - 1/T_reference)] / life.

    D = 1 when the life is spent; the dose does not depend on itself and may pass 1.
    life : time that the material stands at the reference temperature [s]; energy [J/mol]; reference_temperature [K].

    >>> law = HeatDose(4000.0, 115e3, 463.15)
    >>> float(law.evaluate(np.array([463.15]), (np.array([0.3]),))[0])  # 1/4000
    0.00025
    """

    life: Number
    energy: Number
    reference_temperature: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(D)/dt [1/s] at temperature [K]."""
        inverse = 1.0 / guarded_temperature(temperature)
        return _arrhenius(inverse, 1.0 / self.life, self.energy, self.reference_temperature)

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (zeros, one for each entry of ``degrees``))."""
        inverse = 1.0 / guarded_temperature(temperature)
        rate = _arrhenius(inverse, 1.0 / self.life, self.energy, self.reference_temperature)
        by_temperature = rate * (self.energy / GAS_CONSTANT) * (inverse * inverse)
        return rate, by_temperature, tuple(np.zeros_like(rate) for _ in degrees)
