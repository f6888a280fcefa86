"""A few runs at Chebyshev's points of a box stand for all others in it: a polynomial in the unknowns, value by value.

Profiles and second looks at the sum of squares then take no more runs. On n points a side the polynomial is of degree n - 1
in each unknown; what it misses is told by runs inside the box (``error``).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

POINTS = {0: 1, 1: 9, 2: 7, 3: 5}  # a side, by the number of unknowns


@dataclass(frozen=True)
class Box:
    """Values at the points of a box: low, high (n,); points (a side); values (points^n, numbers)."""

    low: Array
    high: Array
    points: int
    values: Array

    def at(self, places: Array) -> Array:
        """(places, numbers) at places (places, n) of the box."""
        weight = np.ones((len(places), 1))
        for i in range(len(self.low)):
            share = (places[:, i] - self.low[i]) / (self.high[i] - self.low[i])
            one = _lagrange(2.0 * share - 1.0, self.points)
            weight = (weight[:, :, None] * one[:, None, :]).reshape(len(places), -1)
        return np.asarray(weight @ self.values)

    @property
    def sound(self) -> bool:
        """Whether a number is there at every point where it is at any."""
        there = np.isfinite(self.values)
        return bool(np.all(there.all(axis=0) | ~there.any(axis=0)))


def nodes(count: int) -> Array:
    """Chebyshev's points of the second kind on -1..1, ends included."""
    return np.asarray(-np.cos(np.pi * np.arange(count) / max(count - 1, 1)))


def places_of(low: Array, high: Array, count: int) -> Array:
    """(count^n, n) points of a box, the last unknown changing first."""
    one = (nodes(count) + 1.0) / 2.0
    combined = list(product(one, repeat=len(low)))
    shares = np.array(combined, float).reshape(len(combined), len(low))
    return np.asarray(low + shares * (high - low))


def _lagrange(at: Array, count: int) -> Array:
    """Lagrange's polynomials of the points, (places, count), by the barycentric formula (Berrut and Trefethen, 2004)."""
    points = nodes(count)
    weight = (-1.0) ** np.arange(count)
    weight[[0, -1]] *= 0.5
    apart = at[:, None] - points
    hit = np.abs(apart) < 1e-14
    with np.errstate(divide="ignore", invalid="ignore"):
        share = weight / apart
        out = share / share.sum(axis=1, keepdims=True)
    return np.where(hit.any(axis=1, keepdims=True), hit.astype(float), out)
