"""Degree of cure and heat from a run's heat flow: a straight baseline is taken off, and the rest is integrated.

For a ramp (or any programme) the baseline is the straight line that touches the curve from below before and after its
peak (linear tangential); outside the two points of touch nothing is taken to react. For a hold it is the level of the end;
where the total heat is known from other runs, a hold's degree is its heat over that one, since few holds cure to the end.
Source: common practice of calorimetry, as ISO 11357-5 describes it (scope read, text from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.kinetics.dsc import Run

    Array = NDArray[np.float64]

_SMOOTHED = 60  # a run is smoothed over this share of its rows (1/60) to find where the baseline touches
_LEVEL = 25  # the level at a point of touch is the mean over 1/25 of the rows
_TOP = 0.8  # the peak is found from the curve above this share of its height
_SEEN = 4.0  # times the noise that a peak must stand above the baseline


@dataclass(frozen=True)
class Cure:
    """A run as degrees of cure.

    run; degree [-], rate [1/s] : (rows,) of the run; baseline : (rows,) [W/kg], zeros for a conversion; heat : total
    [J/kg], None for a conversion; first, last : rows between which it reacts.
    """

    run: Run
    degree: Array
    rate: Array
    baseline: Array
    heat: float | None
    first: int
    last: int


def cured(run: Run, total: float | None = None) -> Cure:
    """Degree of cure against time of a run.

    total : heat of full cure from other runs [J/kg], for a hold (its own where it gives more, or where None).

    Raises DataError where the run shows no exotherm.
    """
    if run.measures == "conversion":
        return _of_conversion(run)
    rows = np.flatnonzero(run.counts)
    t, y = run.time[rows], run.signal[rows]
    first, last = (0, len(y) - 1) if run.kind == "hold" else _touches(t, y)
    edge = max(1, len(y) // _LEVEL)
    if run.kind == "hold":
        baseline = np.full(len(y), float(np.mean(y[-2 * edge :])))
    else:
        low = _level(y, first, edge, 0, last)
        high = _level(y, last, edge, first, len(y) - 1)
        baseline = low + (high - low) * (t - t[first]) / (t[last] - t[first])
    above = y - baseline
    noise = noise_in(y)
    if not float(np.max(smoothed(above, _window(len(y)))[first : last + 1])) > _SEEN * noise / np.sqrt(_window(len(y))):
        raise DataError(
            f"{run.name}: no exotherm stands out of the noise; is this the right column, and the right sample?"
        )
    above = np.where((np.arange(len(y)) >= first) & (np.arange(len(y)) <= last), above, 0.0)
    gained = _integral(above, t)
    heat = float(gained[-1])
    if not heat > 0.0:
        raise DataError(f"{run.name}: the heat above the baseline is not positive; does the run reach beyond the peak?")
    full = max(heat, total) if total is not None and run.kind == "hold" else heat
    degree, rate, whole = np.zeros(len(run.time)), np.zeros(len(run.time)), np.zeros(len(run.time))
    degree[rows], rate[rows], whole[rows] = gained / full, above / full, baseline
    degree[rows[-1] :] = heat / full
    whole[: rows[0]], whole[rows[-1] :] = baseline[0], baseline[-1]
    return Cure(run, degree, rate, whole, heat, int(rows[first]), int(rows[last]))


def peak_of(cure: Cure) -> tuple[float, float]:
    """(temperature [K] of the highest rate, its standard error [K]).

    The top of the curve, above 0.8 of its height, is fitted by a cubic in temperature; for a conversion, its integral is.
    """
    run, y = cure.run, smoothed(cure.rate, _window(len(cure.rate)))
    top = int(np.argmax(y))
    high = y > _TOP * y[top]
    begin = top - int(np.argmin(high[top::-1])) + 1 if not np.all(high[: top + 1]) else 0
    end = top + int(np.argmin(high[top:])) if not np.all(high[top:]) else len(y)
    if end - begin < 6:
        begin, end = max(0, top - 3), min(len(y), top + 4)
    middle, half = (run.temperature[end - 1] + run.temperature[begin]) / 2, np.ptp(run.temperature[begin:end]) / 2
    x = (run.temperature[begin:end] - middle) / half
    conversion = run.measures == "conversion"
    values = run.signal[begin:end] if conversion else cure.rate[begin:end]
    order = 4 if conversion else 3
    powers = np.vander(x, order + 1)
    found, *_ = np.linalg.lstsq(powers, values, rcond=None)
    scatter = float(np.sum((values - powers @ found) ** 2)) / max(1, len(x) - order - 1)
    spread = scatter * np.linalg.inv(powers.T @ powers)
    turns = 2 if conversion else 1  # the derivative that vanishes at the top
    roots = np.roots(np.polyder(found, turns))
    real = roots[np.abs(roots.imag) < 1e-9].real
    real = real[(np.abs(real) <= 1.0) & (np.polyval(np.polyder(found, turns + 1), real) < 0.0)]
    if not len(real):
        return float(run.temperature[top]), float("inf")
    at = float(real[np.argmin(np.abs(real))])
    # the root moves by -d(that derivative)/bend, and the derivative is linear in the coefficients
    by = np.array([np.polyval(np.polyder(unit, turns), at) for unit in np.eye(order + 1)])
    error = np.sqrt(float(by @ spread @ by)) / abs(float(np.polyval(np.polyder(found, turns + 1), at)))
    return float(middle + half * at), float(half * error)


def _of_conversion(run: Run) -> Cure:
    """A conversion, smoothed, as a degree; its rate is that of straight pieces over neighbouring rows."""
    window = _window(len(run.time))
    even = smoothed(run.signal, window)
    rate = np.gradient(even, run.time)
    degree = np.clip(even, 0.0, 1.0)
    first = int(np.argmax(even > 0.005)) if np.any(even > 0.005) else 0
    return Cure(run, degree, rate, np.zeros(len(degree)), None, first, len(degree) - 1)


def _integral(y: Array, t: Array) -> Array:
    """Integral from the first row to each."""
    return np.concatenate([[0.0], np.cumsum(np.diff(t) * (y[1:] + y[:-1]) / 2)])


def _window(rows: int) -> int:
    """Odd number of rows over which a curve is smoothed."""
    return max(1, rows // _SMOOTHED) | 1


def smoothed(y: Array, window: int) -> Array:
    """Moving mean over an odd number of rows; at the ends over as many as there are either side."""
    if window < 3:
        return y
    sums = np.concatenate([[0.0], np.cumsum(y)])
    i = np.arange(len(y))
    half = np.minimum(np.minimum(i, len(y) - 1 - i), window // 2)
    return np.asarray((sums[i + half + 1] - sums[i - half]) / (2 * half + 1))


def noise_in(y: Array) -> float:
    """Standard deviation of white noise on a curve, from third differences: they take off any smooth course."""
    jumps = np.diff(y, 3)
    return float(np.median(np.abs(jumps)) / 0.6745 / np.sqrt(20.0)) if len(jumps) else 0.0


def _level(y: Array, at: int, edge: int, low: int, high: int) -> float:
    """Mean about a point of touch, on the side away from the peak as well as on its own."""
    return float(np.mean(y[max(low, at - edge) : min(high, at + edge // 2) + 1]))


def _touches(t: Array, y: Array) -> tuple[int, int]:
    """Rows before and after the peak where a straight line touches the curve from below: an edge of its lower hull."""
    even = smoothed(y, _window(len(y)))
    peak = int(np.argmax(even - np.interp(t, t[[0, -1]], even[[0, -1]])))
    hull: list[int] = []
    for i in range(len(even)):
        while len(hull) >= 2:
            a, b = hull[-2], hull[-1]
            if (even[b] - even[a]) * (t[i] - t[a]) < (even[i] - even[a]) * (t[b] - t[a]):
                break
            hull.pop()
        hull.append(i)
    return next(((a, b) for a, b in pairwise(hull) if a < peak < b), (0, len(y) - 1))
