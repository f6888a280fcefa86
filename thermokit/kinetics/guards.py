"""Arrhenius factors and powers that stay finite wherever a time step may land, and where a law loses its meaning."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.kinetics.rates import Law

    Array = NDArray[np.float64]
    Number = float | Array

GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018
SMALLEST_DEGREE = 1e-9
SMALLEST_REST = 1e-12
LOWEST_TEMPERATURE = 1.0  # K


def as_number(value: Number) -> Number:
    """A parameter as a plain float where it is one number for all cases, else as it is."""
    return float(value) if np.ndim(value) == 0 else value


def is_number(value: Number, number: float) -> bool:
    """Whether a parameter is one number for all cases, and this number."""
    return np.ndim(value) == 0 and float(value) == number


def guarded_temperature(temperature: Array) -> Array:
    """Temperature [K] in a fresh array; below 1 K it counts as 1 K."""
    return np.asarray(np.maximum(temperature, LOWEST_TEMPERATURE))


def power(base: Array, exponent: Number, floor: float) -> Array:
    """base**exponent with the base at least ``floor``; powers of 0, 1, 1.5, 2 and 0.5 are done without a logarithm.

    The powers 0 and 1 are smooth on both sides of zero and stay as they are.
    """
    if isinstance(exponent, float):
        if exponent == 1.0:
            return base
        if exponent == 0.0:
            return np.ones_like(base)
        guarded = np.maximum(base, floor)
        if exponent == 1.5:
            root = np.sqrt(guarded)
            root *= guarded
            return np.asarray(root)
        if exponent == 2.0:
            return np.asarray(np.square(guarded, out=guarded))
        if exponent == 0.5:
            return np.asarray(np.sqrt(guarded, out=guarded))
        return np.asarray(np.power(guarded, exponent, out=guarded))
    return np.asarray(np.maximum(base, floor) ** exponent)


def power_slope(base: Array, exponent: Number, floor: float, value: Array) -> Array | float:
    """d(base**exponent)/d(base) at the guarded base, where ``value`` is the power itself."""
    if isinstance(exponent, float):
        if exponent == 1.0 or exponent == 0.0:
            return exponent
        guarded = np.maximum(base, floor)
        if exponent == 1.5:
            np.sqrt(guarded, out=guarded)  # cheaper than a division
        else:
            np.divide(value, guarded, out=guarded)
        guarded *= exponent
        return np.asarray(guarded)
    return np.asarray(exponent * value / np.maximum(base, floor))


def falls_below_zero(law: Law, low: float, high: float, earlier: int = 0) -> tuple[float, float] | None:
    """Where a law would undo cure: (hottest temperature [K], degree) with a rate below zero in a range, None for nowhere.

    Looked for at every kelvin from ``low`` to ``high`` [K] and every hundredth of the degree between 0 and 1; the states
    before it (``earlier`` of them) stand at 1. A rate constant with a negative factor does that when it is cold.
    """
    first = max(low, LOWEST_TEMPERATURE)
    temperatures = np.append(np.arange(first, max(high, first), 1.0), max(high, first))
    degrees = np.linspace(0.0, 1.0, 101)
    temperature, degree = (np.ascontiguousarray(x) for x in np.broadcast_arrays(temperatures[:, None], degrees))
    rate = law.evaluate(temperature, (*(np.ones_like(degree) for _ in range(earlier)), degree))
    rows = np.flatnonzero(np.any(rate < -1e-12 * np.abs(rate).max(), axis=1))
    if not len(rows):
        return None
    hottest = int(rows.max())
    return float(temperatures[hottest]), float(degrees[int(np.argmin(rate[hottest]))])
