"""Arrhenius factors and powers that stay finite wherever a time step may land."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
