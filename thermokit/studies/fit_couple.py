"""What a couple shows of the temperature that it sits in: a lag of first order, and readings between rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def lagged(temperature: Array, lag: Array, step: float) -> Array:
    """What couples show, lag dC/dt = T - C from C = T at the first row; exact for temperatures that are linear between rows.

    With a = exp(-step/lag) and b = lag/step (1 - a), row by row

        C_i = a C_(i-1) + (1 - b) T_i + (b - a) T_(i-1)

    Parameters
    ----------
    temperature : (cases, rows) float
        at equal steps of time [K]; NaN (a place that is not there yet) counts as the value next to it
    lag : (cases,) float
        time constants [s], >= 0; 0 shows the temperature itself
    step : float
        between rows [s]

    Returns
    -------
    (cases, rows) float
        readings [K]

    Examples
    --------
    A step by 1 K (in one row's time, here next to nothing) is shown to 1 - 1/e after one time constant:

    >>> step = np.where(np.arange(10001) > 0, 1.0, 0.0)[None]
    >>> round(float(lagged(step, np.array([5.0]), 1e-3)[0, 5000]), 3)
    0.632

    """
    lag = np.asarray(lag, float)
    if not np.any(lag > 0.0):
        return temperature
    there = np.isfinite(temperature)
    filled = temperature if np.all(there) else _filled(temperature, there)
    with np.errstate(divide="ignore"):
        keep = np.exp(-step / lag)
    share = lag / step * (1.0 - keep)
    shown = np.empty_like(filled)
    shown[:, 0] = filled[:, 0]
    shown[:, 1:] = (1.0 - share)[:, None] * filled[:, 1:] + (share - keep)[:, None] * filled[:, :-1]
    # the sums of a C_(i-1) + u_i for all rows at once, by doubling
    width, factor = 1, keep[:, None]
    while width < shown.shape[1]:
        shown[:, width:] = shown[:, width:] + factor * shown[:, :-width]
        width, factor = 2 * width, factor * factor
    return np.where(there, shown, np.nan)


def _filled(temperature: Array, there: Array) -> Array:
    """Holes filled with the value before them, at the beginning with that behind."""
    rows = np.arange(temperature.shape[1])
    last = np.maximum.accumulate(np.where(there, rows, -1), axis=1)
    first = np.argmax(there, axis=1)
    return np.take_along_axis(temperature, np.where(last < 0, first[:, None], last), axis=1)


def read_at(series: Array, times: Array, step: float) -> Array:
    """Series at equal steps from 0, (cases, rows), at other times, (cases, readings) [s]; ends held."""
    place = np.clip(times / step, 0.0, series.shape[1] - 1.0)
    i = np.minimum(place.astype(np.intp), series.shape[1] - 2)
    share = place - i
    low, high = np.take_along_axis(series, i, axis=1), np.take_along_axis(series, i + 1, axis=1)
    # a row that is reached exactly does not ask for its neighbour, which may not be there
    return np.where(share == 0.0, low, np.where(share == 1.0, high, low + share * (high - low)))
