"""The spectrum of a hot surface: what share of its radiation lies below a wavelength, or in a band, and where it peaks."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

# exact in the revised SI (CODATA 2018), rounded to a float's digits
SECOND_RADIATION_CONSTANT = 0.014387768775039337  # m K, h c/k
WIEN_DISPLACEMENT = 2.8977719551851727e-3  # m K
STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4

_JOIN = 1.5  # of x = C2/(lambda T): above it the sum over exponentials, below it the power series
_TERMS = 24  # exp(-24 * 1.5) = 2e-16
# B_k / (k! (k + 3)) for k = 2, 4, ...: the power series of the integral of x^3/(exp x - 1); B_k Bernoulli numbers
_POWERS = tuple(
    bernoulli / (math.factorial(k) * (k + 3))
    for k, bernoulli in (
        (2, 1 / 6),
        (4, -1 / 30),
        (6, 1 / 42),
        (8, -1 / 30),
        (10, 5 / 66),
        (12, -691 / 2730),
        (14, 7 / 6),
        (16, -3617 / 510),
        (18, 43867 / 798),
        (20, -174611 / 330),
    )
)


def planck_fraction(wavelength: ArrayLike, temperature: ArrayLike) -> Array:
    """Share of sigma T^4 that a black surface sends out below a wavelength.

    With x = C2/(wavelength T)::

        F = 15/pi^4 sum_n exp(-n x)/n (x^3 + 3 x^2/n + 6 x/n^2 + 6/n^3)           x >= 1.5
        F = 1 - 15/pi^4 x^3 [1/3 - x/8 + sum_k B_k x^k/(k! (k + 3))], k = 2, 4, ..  x < 1.5

    wavelength : in vacuum, >= 0, may be infinite [m]; temperature : > 0 [K]; they broadcast. Returns [-], 0 to 1, to
    1e-14. Source: S. L. Chang and K. T. Rhee, Blackbody radiation functions, Int. Comm. Heat Mass Transfer 11 (1984)
    451-455; the power series as in Howell, Siegel and Mengüç, Thermal Radiation Heat Transfer, chapter 1.

    >>> [round(float(f), 4) for f in planck_fraction([1e-6, 3e-6, 6e-6], 1000.0)]  # Incropera, table 12.1
    [0.0003, 0.2732, 0.7378]
    """
    product = np.asarray(wavelength, dtype=float) * np.asarray(temperature, dtype=float)
    # a wavelength of 0 gives x = 800, where exp(-x) is 0
    x = np.minimum(SECOND_RADIATION_CONSTANT / np.maximum(product, 1e-30), 800.0)
    share = np.empty(x.shape)
    large = x >= _JOIN
    share[large] = _sum_of_exponentials(x[large])
    share[~large] = 1.0 - _power_series(x[~large])
    return np.asarray(np.clip(share, 0.0, 1.0))


def band_fraction(low: ArrayLike, high: ArrayLike, temperature: ArrayLike) -> Array:
    """Share of sigma T^4 that a black surface sends out between two wavelengths.

    low, high : >= 0, high may be infinite [m]; temperature : > 0 [K]; they broadcast. Returns [-].

    >>> round(float(band_fraction(2e-6, 4e-6, 973.15)), 4)  # a panel of 700 degC between 2 and 4 um, by quadrature
    0.4024
    """
    return np.asarray(planck_fraction(high, temperature) - planck_fraction(low, temperature))


def peak_wavelength(temperature: ArrayLike) -> Array:
    """Wavelength at which a black surface sends out most for each step of wavelength: b/T, Wien [m].

    temperature : > 0 [K].

    >>> round(1e6 * float(peak_wavelength(693.15)), 2)  # um, of a panel of 420 degC
    4.18
    """
    return np.asarray(WIEN_DISPLACEMENT / np.asarray(temperature, dtype=float))


def emissive_power(temperature: ArrayLike) -> Array:
    """What a black surface sends out in all: sigma T^4 [W/m2]; temperature [K]."""
    return np.asarray(STEFAN_BOLTZMANN * np.asarray(temperature, dtype=float) ** 4)


def _sum_of_exponentials(x: Array) -> Array:
    """The share below, for large x: converges as exp(-n x)."""
    n = np.arange(1.0, _TERMS + 1.0).reshape((-1,) + (1,) * x.ndim)
    terms = np.exp(-n * x) / n * (x**3 + 3.0 * x**2 / n + 6.0 * x / n**2 + 6.0 / n**3)
    return np.asarray(15.0 / math.pi**4 * terms.sum(axis=0))


def _power_series(x: Array) -> Array:
    """The share above, for small x: converges as (x/2 pi)^k."""
    square = x * x
    tail = np.zeros(x.shape)
    for factor in reversed(_POWERS):
        tail = (tail + factor) * square
    return np.asarray(15.0 / math.pi**4 * x**3 * (1.0 / 3.0 - x / 8.0 + tail))
