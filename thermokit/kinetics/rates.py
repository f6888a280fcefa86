"""Rate laws of cure: d(degree)/dt from temperature and degree, with exact derivatives. PVC has its own in ``pvc.py``.

Every law is a frozen object with the two methods of a solver's ``Rate``: ``evaluate`` and ``linearise``. Temperatures
and degrees are arrays (cells,) or (cells, cases) [K, -]; parameters are numbers, or arrays (cases,) that broadcast
against the latter. The last entry of ``degrees`` is the degree that the law governs; earlier ones are other states of
the layer.

Near the ends of the scale the laws are guarded (``guards.py``), so that no finite temperature above zero and no degree
within [-0.1, 1.1], where a time step may land, gives a warning or a NaN:

- temperatures below 1 K count as 1 K;
- in a power of the degree, the degree counts as at least 1e-9; in a power of what is left, that counts as at least
  1e-12. The derivative is that of the power at the guarded value;
- the powers 0 and 1 are smooth on both sides and not guarded.

**Starts at degree 0 without a first rate** (factor_1 = 0). With m >= 1 nothing ever begins, in the equation as in the
laboratory: such a set needs a seed (``start``, 1e-4 is usual), and its induction time depends on it; with 1 < m the guard
makes it grow all the same, but too late to mean anything, with m = 1 it stays at 0. With 0 < m < 1 the start is singular:
the slope of the rate is infinite at 0 and the equation has two solutions, one that stays at 0 and one that grows at once,
a = ((1 - m) k t)^(1/(1 - m)) at first. The guard takes the one that grows (it is the limit of ever smaller seeds), with a
finite slope, so that a solver needs no seed; a seed of 1e-4 shortens the time to degree 0.5 by a per cent or two.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np

from thermokit.kinetics.guards import (
    GAS_CONSTANT,
    SMALLEST_DEGREE,
    SMALLEST_REST,
    as_number,
    guarded_temperature,
    is_number,
    power,
    power_slope,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array
    Degrees = tuple[Array, ...]
    Linearised = tuple[Array, Array, tuple[Array, ...]]


class Law(Protocol):
    """What every rate law can do; the solver's ``Rate`` asks for the same."""

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""


# Large arrays are worked through in blocks of rows: the memory of many large arrays in turn costs more than arithmetic.
BLOCK = 8192  # values in a block


def _blocks(temperature: Array) -> list[slice]:
    """Rows of an array in blocks of about ``BLOCK`` values."""
    step = max(1, BLOCK * len(temperature) // temperature.size)
    return [slice(first, first + step) for first in range(0, len(temperature), step)]


def _of_last(degrees: Degrees, slope: Array) -> tuple[Array, ...]:
    """Derivatives by each state where the law reads only its own degree."""
    if len(degrees) == 1:
        return (slope,)
    return (*(np.zeros_like(slope) for _ in degrees[:-1]), slope)


@dataclass(frozen=True, eq=False)
class TwoRate:
    """Cure that speeds itself up: d(a)/dt = (k1 + k2 a^m) (1 - a)^n with ki = factor exp(-energy/RT).

    factor_1, factor_2 [1/s]; energy_1, energy_2 [J/mol]; m, n [-]. With factor_1 = 0 it is the autocatalytic law, which
    needs a start above zero. Guards: see the head of this module.
    Source: Kamal and Sourour, Polymer Engineering and Science 13 (1973) 59.

    >>> law = TwoRate(2e-4, 0.0, 6e-3, 0.0, 1.0, 1.0)
    >>> float(law.evaluate(np.array([400.0]), (np.array([0.5]),))[0])  # (2e-4 + 6e-3/2)/2
    0.0016
    """

    factor_1: Number
    energy_1: Number
    factor_2: Number
    energy_2: Number
    m: Number
    n: Number

    @cached_property
    def _skips(self) -> tuple[bool, bool, bool]:
        """(no first rate, no second rate, one exponential serves both)."""
        return (
            is_number(self.factor_1, 0.0),
            is_number(self.factor_2, 0.0),
            bool(np.array_equal(self.energy_1, self.energy_2)),
        )

    @cached_property
    def _parameters(self) -> tuple[Number, Number, Number, Number, Number, Number]:
        """factor_1, -energy_1/R [K], factor_2, -energy_2/R [K], m, n."""
        first, second = self.energy_1 / -GAS_CONSTANT, self.energy_2 / -GAS_CONSTANT
        found = (self.factor_1, first, self.factor_2, second, self.m, self.n)
        a, b, c, d, e, f = (as_number(value) for value in found)
        return a, b, c, d, e, f

    @cached_property
    def _in_logarithms(self) -> tuple[float, float, float, float, float, float] | None:
        """(ln factor_1, -energy_1/R, ln factor_2, -energy_2/R, m, n) where both powers need a logarithm anyway.

        Then k1 (1-a)^n = exp(ln factor_1 - E_1/RT + n ln(1-a)) and so on: two exponentials and two logarithms in place of
        two exponentials and two powers, which cost twice as much.
        """
        found = self._parameters
        plain = (0.0, 0.5, 1.0, 1.5, 2.0)
        if any(not isinstance(value, float) for value in found) or found[4] in plain or found[5] in plain:
            return None
        if found[0] <= 0.0 or found[2] <= 0.0:
            return None
        return float(np.log(found[0])), found[1], float(np.log(found[2])), found[3], found[4], found[5]  # type: ignore[return-value]

    def _log_rates(self, temperature: Array, degree: Array) -> tuple[Array, Array, Array, Array, Array]:
        """(k1 (1-a)^n, k2 a^m (1-a)^n, guarded temperature, guarded degree, guarded rest)."""
        ln_1, cold_1, ln_2, cold_2, m, n = self._in_logarithms  # type: ignore[misc]
        guarded = guarded_temperature(temperature)
        grown = np.maximum(degree, SMALLEST_DEGREE)
        rest = np.subtract(1.0, degree)
        np.maximum(rest, SMALLEST_REST, out=rest)
        left = np.log(rest)
        left *= n
        first = np.divide(cold_1, guarded)
        first += ln_1
        first += left
        second = np.log(grown)
        second *= m
        second += left
        np.divide(cold_2, guarded, out=left)
        second += left
        second += ln_2
        return np.exp(first, out=first), np.exp(second, out=second), guarded, grown, rest

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        if temperature.size <= BLOCK or temperature.ndim < 2:
            return self._evaluate(temperature, degrees)
        rate = np.empty_like(temperature)
        for rows in _blocks(temperature):
            rate[rows] = self._evaluate(temperature[rows], tuple(degree[rows] for degree in degrees))
        return rate

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        if temperature.size <= BLOCK or temperature.ndim < 2:
            return self._linearise(temperature, degrees)
        rate, by_temperature = np.empty_like(temperature), np.empty_like(temperature)
        by_degrees = tuple(np.empty_like(temperature) for _ in degrees)
        for rows in _blocks(temperature):
            found = self._linearise(temperature[rows], tuple(degree[rows] for degree in degrees))
            rate[rows], by_temperature[rows] = found[0], found[1]
            for whole, part in zip(by_degrees, found[2], strict=True):
                whole[rows] = part
        return rate, by_temperature, by_degrees

    def _evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """``evaluate`` on one block, in place on arrays of its own wherever it can."""
        if self._in_logarithms is not None:
            first, second, *_ = self._log_rates(temperature, degrees[-1])
            first += second
            return first
        no_first, no_second, shared = self._skips
        factor_1, cold_1, factor_2, cold_2, m, n = self._parameters
        degree = degrees[-1]
        guarded = guarded_temperature(temperature)
        if no_second:
            if no_first:
                return np.zeros_like(guarded)
            rate = np.asarray(cold_1 / guarded)
            np.exp(rate, out=rate)
            rate *= factor_1
        else:
            rate = np.asarray(cold_2 / guarded)
            np.exp(rate, out=rate)
            driven = np.asarray(factor_2 * power(degree, m, SMALLEST_DEGREE))
            if shared and not no_first:
                driven += factor_1
            rate *= driven
            if not (shared or no_first):
                first = np.asarray(cold_1 / guarded)
                np.exp(first, out=first)
                first *= factor_1
                rate += first
        rate *= power(1.0 - degree, n, SMALLEST_REST)
        return rate

    def _linearise_in_logarithms(self, temperature: Array, degrees: Degrees) -> Linearised:
        """The derivatives of the two exponentials; powers are differentiated at their guarded bases."""
        _, cold_1, _, cold_2, m, n = self._in_logarithms  # type: ignore[misc]
        first, second, guarded, grown, rest = self._log_rates(temperature, degrees[-1])
        rate = first + second
        first *= -cold_1
        by_temperature = second * -cold_2
        by_temperature += first
        by_temperature /= guarded
        by_temperature /= guarded
        by_degree = second
        by_degree *= m
        by_degree /= grown
        by_degree -= n * rate / rest
        return rate, by_temperature, _of_last(degrees, by_degree)

    def _linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """``linearise`` on one block."""
        if self._in_logarithms is not None:
            return self._linearise_in_logarithms(temperature, degrees)
        no_first, no_second, shared = self._skips
        factor_1, cold_1, factor_2, cold_2, m, n = self._parameters
        degree = degrees[-1]
        guarded = guarded_temperature(temperature)
        left = 1.0 - degree
        rest = power(left, n, SMALLEST_REST)
        rest_slope = power_slope(left, n, SMALLEST_REST, rest)
        if no_second and no_first:
            return np.zeros_like(guarded), np.zeros_like(guarded), _of_last(degrees, np.zeros_like(guarded))

        # growth = k1 + k2 a^m, with d growth/da and (d growth/dT)(-T)
        if no_second:
            cooling = np.asarray(cold_1 / guarded)
            growth = np.exp(cooling)
            growth *= factor_1
            cooling *= growth
            by_degree = np.zeros_like(growth)
        else:
            driving = power(degree, m, SMALLEST_DEGREE)
            slope = power_slope(degree, m, SMALLEST_DEGREE, driving)
            cooling = np.asarray(cold_2 / guarded)
            growth = np.exp(cooling)
            by_degree = np.asarray(factor_2 * growth)
            by_degree *= slope
            driving = np.asarray(factor_2 * driving)
            if shared and not no_first:
                driving += factor_1
            growth *= driving
            cooling *= growth
            if not (shared or no_first):
                exponent = np.asarray(cold_1 / guarded)
                first = np.exp(exponent)
                first *= factor_1
                growth += first
                exponent *= first
                cooling += exponent

        by_degree *= rest
        lost = np.asarray(growth * rest_slope)
        by_degree -= lost
        cooling *= rest
        cooling /= guarded
        growth *= rest
        return growth, np.negative(cooling, out=cooling), _of_last(degrees, by_degree)


@dataclass(frozen=True, eq=False)
class NthOrder:
    """Cure of order n: d(a)/dt = factor exp(-energy/RT) (1 - a)^n.

    factor [1/s]; energy [J/mol]; n [-]. Guards: see the head of this module.

    >>> law = NthOrder(0.005, 0.0, 2.0)
    >>> round(float(law.evaluate(np.array([400.0]), (np.array([0.6]),))[0]), 12)  # 0.005 * 0.4^2
    0.0008
    """

    factor: Number
    energy: Number
    n: Number

    @cached_property
    def _law(self) -> TwoRate:
        return TwoRate(self.factor, self.energy, 0.0, 0.0, 1.0, self.n)

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        return self._law.evaluate(temperature, degrees)

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        return self._law.linearise(temperature, degrees)


@dataclass(frozen=True, eq=False)
class EpoxyAmine:
    """Epoxy cured by an amine, in two regimes that meet at degree 0.3.

    d(a)/dt = (k1 + k2 a)(1 - a)(limit - a) up to 0.3, k3 (1 - a) above, ki = factor exp(-energy/RT). The rate jumps at
    0.3; factor_2 is negative in the published set, so the first regime's rate may fall below zero when cold.
    factor_i [1/s]; energy_i [J/mol]; limit [-].
    Source: Lee, Loos and Springer, Journal of Composite Materials 16 (1982) 510.

    >>> law = EpoxyAmine(1e-3, 0.0, 0.0, 0.0, 5e-4, 0.0, 0.5)
    >>> [float(x) for x in law.evaluate(np.array([400.0, 400.0]), (np.array([0.0, 0.6]),))]
    [0.0005, 0.0002]
    """

    factor_1: Number
    energy_1: Number
    factor_2: Number
    energy_2: Number
    factor_3: Number
    energy_3: Number
    limit: Number

    def evaluate(self, temperature: Array, degrees: Degrees) -> Array:
        """d(a)/dt [1/s] at temperature [K] and degrees [-]."""
        return self.linearise(temperature, degrees)[0]

    def linearise(self, temperature: Array, degrees: Degrees) -> Linearised:
        """(rate [1/s], d rate/dT [1/s/K], (d rate/d degree [1/s] by each entry of ``degrees``))."""
        inverse = 1.0 / guarded_temperature(temperature)
        a = degrees[-1]
        e1, e2, e3 = self.energy_1 / GAS_CONSTANT, self.energy_2 / GAS_CONSTANT, self.energy_3 / GAS_CONSTANT
        k1 = self.factor_1 * np.exp(-e1 * inverse)
        k2 = self.factor_2 * np.exp(-e2 * inverse)
        k3 = self.factor_3 * np.exp(-e3 * inverse)
        early = a <= 0.3
        rest, room = 1.0 - a, self.limit - a
        growth = k1 + k2 * a
        rate = np.where(early, growth * rest * room, k3 * rest)
        by_temperature = np.where(early, (k1 * e1 + k2 * e2 * a) * rest * room, k3 * e3 * rest) * (inverse * inverse)
        by_degree = np.where(early, k2 * rest * room - growth * (room + rest), -k3)
        return rate, by_temperature, _of_last(degrees, by_degree)
