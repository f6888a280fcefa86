"""Panels that warm up, or glow on after they are switched off: an exponential as a short table of straight pieces."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

CLOSE = 0.2  # K
SHARE = 5e-4  # of the step: whichever is larger


def warm_up(
    final: ArrayLike, initial: ArrayLike, time_constant: ArrayLike, duration: float = math.inf
) -> tuple[Array, Array]:
    """Nodes of T = final + (initial - final) exp(-t/time_constant), to be joined by straight lines and held at the end.

    The lines lie within 0.2 K, or 0.05 % of the step where that is more, on either side of the curve: the first node
    lies on it, the others on a curve moved by that much, so that the lines hang as far on one side as on the other.

    final, initial : number, (cases,) or (zones,) [K]; time_constant : number, or (cases,) with the others [s];
    duration : of the station [s], nodes beyond it are left out as far as the piece at its end allows.
    Returns times, (nodes,) or (nodes, cases) [s], at most 24 nodes; values, (nodes, ...) as final and initial [K].

    >>> times, values = warm_up(693.15, 293.15, 120.0)
    >>> len(times) <= 24, float(values[0]), abs(float(values[-1]) - 693.15) <= 0.2
    (True, 293.15, True)
    """
    end, begin, tau = (np.asarray(a, dtype=float) for a in (final, initial, time_constant))
    step = begin - end
    largest = float(np.max(np.abs(step)))
    if largest == 0.0:
        return np.zeros((1, *tau.shape)), np.broadcast_to(end, (1, *np.shape(step + 0.0 * tau))).copy()
    nodes, heights = _polygon(max(SHARE, CLOSE / largest), duration / float(np.min(tau)))
    times = nodes.reshape((-1,) + (1,) * tau.ndim) * tau
    return times, end + step * heights.reshape((-1,) + (1,) * step.ndim)


def _polygon(close: float, last: float) -> tuple[Array, Array]:
    """Nodes (u, v) of straight pieces within ``close`` of exp(-u), until u reaches ``last`` or the rest may be held."""
    u, nodes, heights = 0.0, [0.0], [1.0]
    above = 0.0  # how far the last node lies below the curve
    while u < last and heights[-1] > close:
        u += _longest(u, above, close)
        above = close
        nodes.append(u)
        heights.append(math.exp(-u) - close)
    return np.array(nodes), np.array(heights)


def _longest(u: float, below: float, close: float) -> float:
    """Longest piece from exp(-u) - below to exp(-u - d) - close that does not lie more than ``close`` above the curve."""

    def too_long(d: float) -> bool:
        first, last = math.exp(-u) - below, math.exp(-u - d) - close
        slope = (first - last) / d
        # the curve is steepest below its chord where its own slope is that of the chord
        place = min(max(-math.log(slope), u), u + d)
        return first - slope * (place - u) - math.exp(-place) > close

    low, high = 0.0, 1.0
    while not too_long(high) and high < 50.0:
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if too_long(middle) else (middle, high)
    return low
