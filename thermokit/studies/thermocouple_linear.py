"""What readings of one couple tell about an outcome, where everything is linear and normal.

Scores z ~ N(0, 1), one an unknown; a reading r_i = s_i.z + b + g_i x + e_i with e ~ N(0, noise^2), an offset b ~ N(0, offset^2) of
the couple and an error x ~ N(0, place^2) of its place (g : gradient of temperature); the outcome y = w.z. With H the rows
(s_i, offset, g_i place)::

    P = (I + H' H/noise^2)^-1,   var(y | readings) = w' P w,   information on the unknowns = ln det terms of (I + H' H/noise^2)

Gelb (ed.), Applied Optimal Estimation, 1974, chapter 4 (posterior covariance); Fedorov, Theory of Optimal Experiments, 1972
(D-optimality: largest determinant of the information).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array


def gathered(signal: Array, gradient: Array, noise: float, offset: float, place: float) -> Array:
    """Running sums of H'H/noise^2 over the readings, (times + 1, places, u + 2, u + 2); unknown readings (NaN) tell nothing.

    signal : (times, places, u) change of the reading for one standard deviation of each unknown [K]; gradient : (times, places)
    [K/m]; noise, offset [K], place [m] : standard deviations.
    """
    times, places, u = signal.shape
    rows = np.empty((times, places, u + 2))
    rows[..., :u] = signal
    rows[..., u] = offset
    rows[..., u + 1] = gradient * place
    rows[~np.isfinite(rows).all(axis=-1)] = 0.0
    sums = np.zeros((times + 1, places, u + 2, u + 2))
    np.cumsum(np.einsum("tpi,tpj->tpij", rows, rows) / noise**2, axis=0, out=sums[1:])
    return sums


def left_of(information: Array, weights: Array) -> Array:
    """Standard deviation of the outcome after the readings, (...,); before them it is the length of ``weights``.

    information : (..., u + 2, u + 2) sums of H'H/noise^2; weights : (u,).

    >>> one = np.zeros((1, 3, 3)); one[0, 0, 0] = 3.0  # one unknown read with 1/sqrt(3) of its own spread
    >>> left_of(one, np.array([2.0])).tolist()
    [1.0]
    """
    size = information.shape[-1]
    target = np.zeros(size)
    target[: len(weights)] = weights
    solved = np.linalg.solve(information + np.eye(size), target[:, None])[..., 0]
    return np.asarray(np.sqrt(np.maximum((solved * target).sum(axis=-1), 0.0)))


def told_of(information: Array, unknowns: int) -> Array:
    """ln of how much smaller the volume of the unknowns has become by the readings, (...,): half a difference of two determinants.

    The couple's own errors are taken out of it: ln det of all less ln det of them alone.
    """
    size = information.shape[-1]
    whole = np.linalg.slogdet(information + np.eye(size))[1]
    own = np.linalg.slogdet(information[..., unknowns:, unknowns:] + np.eye(size - unknowns))[1]
    return np.asarray(0.5 * (whole - own))
