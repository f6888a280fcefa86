"""Activation energies without a rate law: Kissinger, Ozawa (Flynn, Wall), and Vyazovkin's against conversion."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from thermokit.kinetics.guards import GAS_CONSTANT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.kinetics.conversion import Cure

    Array = NDArray[np.float64]

LEVELS = np.round(np.arange(0.05, 0.951, 0.05), 2)  # degrees of cure at which energies are found
_LOWEST, _HIGHEST = 5e3, 1e6  # J/mol between which energies are looked for


@dataclass(frozen=True)
class Line:
    """An activation energy from the slope of a straight line.

    energy [J/mol]; error : its standard error, None from two points; factor : before the exponential [1/s], None where the
    method gives none; x, y : points of the line, x = 1/T [1/K]; slope, intercept.
    """

    energy: float
    error: float | None
    factor: float | None
    x: Array
    y: Array
    slope: float
    intercept: float


def kissinger(heating_rates: Sequence[float], peaks: Sequence[float]) -> Line:
    """Energy from the temperatures at which cure is fastest on ramps: ln(b/Tp^2) = ln(A R/E) - E/(R Tp).

    heating_rates b [K/s] and peaks Tp [K], two and more; the relation is exact for a reaction of first order, and within
    some per cent for others.
    Source: Kissinger, Analytical Chemistry 29 (1957) 1702; as in ASTM E2890 (scope read, equation from memory).

    >>> round(kissinger([2 / 60, 20 / 60], [381.3526, 416.4520]).energy)  # exact peaks of 80 kJ/mol, 2e8 1/s
    80000
    """
    b, at = np.asarray(heating_rates, float), np.asarray(peaks, float)
    slope, intercept, error = _line(1.0 / at, np.log(b / at**2))
    energy = -GAS_CONSTANT * slope
    return Line(
        energy,
        None if error is None else GAS_CONSTANT * error,
        energy / GAS_CONSTANT * math.exp(intercept) if energy > 0.0 else None,
        1.0 / at,
        np.log(b / at**2),
        slope,
        intercept,
    )


def ozawa(heating_rates: Sequence[float], temperatures: Sequence[float], refined: bool = True) -> Line:
    """Energy from the temperatures of one degree (or of the peaks) on ramps: E = -(R ln 10/D) d log10(b)/d(1/T).

    D is 1.052 to begin with, which gives E = -2.19 R d log10(b)/d(1/T); refined, it is -d ln p/dx at x = E/(R T) with
    p(x) = integral from x of exp(-u)/u^2 du, found in turns. heating_rates [K/s], temperatures [K], two and more.
    Source: Flynn and Wall, Journal of Polymer Science B 4 (1966) 323; Ozawa, Bulletin of the Chemical Society of Japan 38
    (1965) 1881; as in ASTM E698 (scope read, equations from memory).

    >>> round(ozawa([2 / 60, 20 / 60], [381.3526, 416.4520], refined=False).energy / 1e3, 1)
    82.4
    """
    b, at = np.asarray(heating_rates, float), np.asarray(temperatures, float)
    slope, intercept, error = _line(1.0 / at, np.log10(b))
    size = GAS_CONSTANT * math.log(10.0)
    divisor = math.log(10.0) / 2.19
    energy = -size * slope / divisor
    for _ in range(20 if refined and energy > 0.0 else 0):
        divisor = _divisor(energy / (GAS_CONSTANT * float(np.mean(at))))
        energy = -size * slope / divisor
    middle = float(np.mean(at))
    factor = None
    if energy > 0.0:
        # E698: Z = b E exp(E/RT)/(R T^2), at the middle of the range
        rate = 10.0 ** (intercept + slope / middle)
        factor = rate * energy / (GAS_CONSTANT * middle**2) * math.exp(energy / (GAS_CONSTANT * middle))
    return Line(
        energy, None if error is None else size * error / divisor, factor, 1.0 / at, np.log10(b), slope, intercept
    )


def _divisor(x: float) -> float:
    """-d ln p/dx for p(x) = integral from x of exp(-u)/u^2 du = E2(x)/x."""
    from scipy.special import expn

    return math.exp(-x) / (x * float(expn(2, x)))


def _line(x: Array, y: Array) -> tuple[float, float, float | None]:
    """(slope, intercept, standard error of the slope) of a straight line; no error from two points."""
    middle = x - x.mean()
    square = float(middle @ middle)
    if len(x) < 2 or square <= 0.0:
        raise ValueError("a line needs points at two places")
    slope = float(middle @ y) / square
    rest = y - y.mean() - slope * middle
    error = math.sqrt(float(rest @ rest) / (len(x) - 2) / square) if len(x) > 2 else None
    return slope, float(y.mean() - slope * x.mean()), error


@dataclass(frozen=True)
class EnergyAgainstDegree:
    """Activation energy against degree of cure: degree [-], energy and its standard error [J/mol], (levels,); the error is
    NaN from two runs.
    """

    degree: Array
    energy: Array
    error: Array


def vyazovkin(cures: Sequence[Cure], levels: Array = LEVELS) -> EnergyAgainstDegree:
    """Activation energy against degree of cure from runs of any temperature programme, ramps and holds together.

    Over each small step of degree, J = integral of exp(-E/(R T(t))) dt is the same for all runs at the right E. E is found
    where the logarithms of J scatter least, which is Vyazovkin's minimum of sum_i sum_j J_i/J_j to the first order of the
    scatter, and the scatter that is left gives the standard error. cures : two runs and more; levels : (levels,) ascending.
    Source: Vyazovkin, Journal of Computational Chemistry 22 (2001) 178 (integration over small steps; from memory).
    """
    edges = np.concatenate([[max(levels[0] - (levels[1] - levels[0] if len(levels) > 1 else 0.05), 0.01)], levels])
    steps = [[_stretch(cure, a, b) for a, b in pairwise(edges)] for cure in cures]
    energies, errors = np.full(len(levels), np.nan), np.full(len(levels), np.nan)
    for i in range(len(levels)):
        pieces = [steps[run][i] for run in range(len(cures))]
        if all(len(time) >= 2 and time[-1] > time[0] for time, _ in pieces):
            energies[i], errors[i] = _same_integral(pieces)
    return EnergyAgainstDegree(levels, energies, errors)


def _stretch(cure: Cure, low: float, high: float) -> tuple[Array, Array]:
    """(times, temperatures) of a run between two degrees."""
    risen = np.maximum.accumulate(cure.degree)
    rising = np.concatenate([[True], np.diff(risen) > 0.0])
    t_low, t_high = np.interp([low, high], risen[rising], cure.run.time[rising])
    time = np.linspace(t_low, t_high, 21)
    return time, np.interp(time, cure.run.time, cure.run.temperature)


def _same_integral(pieces: list[tuple[Array, Array]]) -> tuple[float, float]:
    """(energy, standard error) for which the integrals of all runs agree best."""
    base = 1.0 / float(np.mean([np.mean(temperature) for _, temperature in pieces]))
    colder = np.stack([1.0 / temperature - base for _, temperature in pieces]) / GAS_CONSTANT
    weight = np.stack([_trapezia(time) for time, _ in pieces])

    def logarithms(energy: float) -> tuple[Array, Array]:
        terms = weight * np.exp(-energy * colder)
        whole = terms.sum(axis=1)
        return np.log(whole), -(terms * colder).sum(axis=1) / whole  # ln J, d(ln J)/dE

    energy = 80e3
    for _ in range(60):  # Gauss and Newton: ln J is nearly linear in E
        values, slopes = logarithms(energy)
        off, lean = values - values.mean(), slopes - slopes.mean()
        square = float(lean @ lean)
        if square <= 0.0:
            return float("nan"), float("nan")
        step = -float(off @ lean) / square
        energy = min(max(energy + step, _LOWEST), _HIGHEST)
        if abs(step) < 1e-6 * energy:
            break
    values, slopes = logarithms(energy)
    off, lean = values - values.mean(), slopes - slopes.mean()
    if len(pieces) < 3:
        return energy, float("nan")
    return energy, math.sqrt(float(off @ off) / (len(pieces) - 2) / float(lean @ lean))


def _trapezia(time: Array) -> Array:
    """Weights of the trapezium rule."""
    step = np.diff(time)
    return np.asarray(np.concatenate([[step[0]], step[1:] + step[:-1], [step[-1]]]) / 2)
