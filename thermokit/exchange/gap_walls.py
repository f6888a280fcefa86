"""Reflecting walls round the gap between panel and sheet, cut into pieces, and who sees whom in that box.

The box stands round panel and sheet: four sides, and of its two ends what panel and sheet leave free. All surfaces are
rectangles with edges along the axes, so that each pair has a view factor in closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise, product
from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.view_factors import view_element_corner_rectangle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.exchange.panel_zones import ZonedPanel

    Array = NDArray[np.float64]

_MOST_PIECES = 10  # of a side, along its length
_TIERS = 2  # of a side, over the gap


@dataclass(frozen=True, eq=False)
class Rectangles:
    """Rectangles in one plane: axis (0, 1, 2 for x, y, z) of their normal, where the plane lies on it [m], and their ends.

    low, high : (rectangles, 3) [m], equal to ``at`` on the axis of the normal.
    """

    axis: int
    at: float
    low: Array
    high: Array

    def __len__(self) -> int:
        return len(self.low)

    @property
    def area(self) -> Array:
        """Their areas, (rectangles,) [m2]."""
        return np.asarray(np.prod(np.delete(self.high - self.low, self.axis, axis=1), axis=1))

    def ends(self, axis: int) -> tuple[Array, Array]:
        """Low and high end of each along an axis, (rectangles,) [m]."""
        return self.low[:, axis], self.high[:, axis]


def rectangles(axis: int, at: float, first: Array, second: Array) -> Rectangles:
    """A grid of rectangles: borders along the two other axes in their order, the first of them running fastest."""
    others = [other for other in range(3) if other != axis]
    low, high = (np.full(((len(first) - 1) * (len(second) - 1), 3), at) for _ in range(2))
    for borders, side in ((slice(None, -1), low), (slice(1, None), high)):
        a, b = np.meshgrid(first[borders], second[borders])
        side[:, others[0]], side[:, others[1]] = a.ravel(), b.ravel()
    return Rectangles(axis, at, low, high)


def exchange_area(one: Rectangles, two: Rectangles) -> Array:
    """Area times view factor of each pair, (one, two) [m2]; the same both ways. Planes must not cut the other's rectangles.

    Sums with alternating signs over the 16 pairs of corners. Parallel at a distance z, u and v the distances between
    two ends along the two sides::

        1/(2 pi) {v sqrt(u^2+z^2) atan[v/sqrt(u^2+z^2)] + u sqrt(v^2+z^2) atan[u/sqrt(v^2+z^2)] - z^2/2 ln(u^2+v^2+z^2)}

    At right angles, d the distance of two ends along the common direction, c^2 = x^2 + y^2 with x and y the distances of
    each one's end from the other's plane::

        1/(2 pi) {c d atan(d/c) - (c^2 - d^2)/4 ln(c^2 + d^2)}

    Source: J. R. Ehlert and T. F. Smith, View factors for perpendicular and parallel rectangular plates, J. Thermophysics
    and Heat Transfer 7 (1993) 173-175; Howell's catalogue, entries C-13 and C-15.

    >>> unit = np.array([0.0, 1.0])
    >>> floor, wall = rectangles(2, 0.0, unit, unit), rectangles(0, 0.0, unit, unit)
    >>> round(float(exchange_area(floor, wall)[0, 0]), 7)  # two walls of a cube, entry C-14
    0.2000438
    """
    if one.axis == two.axis and one.at == two.at:
        return np.zeros((len(one), len(two)))
    total = np.zeros((len(one), len(two)))
    if one.axis == two.axis:
        first, second = (axis for axis in range(3) if axis != one.axis)
        z = abs(one.at - two.at)
        for i, j, k, m in product((0, 1), repeat=4):
            u = (one.ends(first)[i][:, None] - two.ends(first)[k][None, :]) / z
            v = (one.ends(second)[j][:, None] - two.ends(second)[m][None, :]) / z
            root_u, root_v = np.hypot(1.0, u), np.hypot(1.0, v)
            term = (
                v * root_u * np.arctan(v / root_u) + u * root_v * np.arctan(u / root_v) - 0.5 * np.log1p(u * u + v * v)
            )
            total += (-1.0) ** (i + j + k + m) * term
        return np.asarray(np.clip(total * z * z / (2.0 * np.pi), 0.0, None))
    common = 3 - one.axis - two.axis
    from_two = np.sort(np.abs(np.array(one.ends(two.axis)) - two.at), axis=0)
    from_one = np.sort(np.abs(np.array(two.ends(one.axis)) - one.at), axis=0)
    scale = max(float(from_two.max()), float(from_one.max()))
    for i, j, k, m in product((0, 1), repeat=4):
        c = np.hypot(from_two[i][:, None], from_one[k][None, :]) / scale
        d = (one.ends(common)[j][:, None] - two.ends(common)[m][None, :]) / scale
        square = c * c + d * d
        # at a common corner both vanish, and the terms with them
        logs = np.log(np.where(square > 0.0, square, 1.0))
        term = c * d * np.arctan2(d, c) - 0.25 * (c * c - d * d) * logs
        total += (-1.0) ** (i + j + k + m) * term
    return np.asarray(np.clip(total * scale * scale / (2.0 * np.pi), 0.0, None))


def element_views(x: Array, y: Array, seen: Rectangles) -> Array:
    """View factor of rectangles from elements in the plane z = 0 that look along z, (elements, rectangles) [-].

    On walls at right angles, at a distance d from the element, between heights z1 and z2 and between s1 and s2 along the
    wall: sum with signs of d/sqrt(d^2+z^2) atan[s/sqrt(d^2+z^2)]/(2 pi) (Howell's catalogue, entry B-4).
    """
    places = (x[:, None], y[:, None])
    if seen.axis == 2:
        if seen.at <= 0.0:
            return np.zeros((len(x), len(seen)))
        along, across = (tuple(end - places[axis] for end in seen.ends(axis)) for axis in (0, 1))
        views = sum(
            (-1.0) ** (i + j) * view_element_corner_rectangle(along[i], across[j], seen.at)
            for i, j in product((0, 1), repeat=2)
        )
        return np.asarray(np.clip(views, 0.0, 1.0))
    distance = np.abs(places[seen.axis] - seen.at)
    side = 1 - seen.axis
    total = np.zeros((len(x), len(seen)))
    for i, j in product((0, 1), repeat=2):
        root = np.hypot(distance, seen.ends(2)[i])
        safe = np.where(root > 0.0, root, 1.0)
        total -= (-1.0) ** (i + j) * distance / safe * np.arctan((seen.ends(side)[j] - places[side]) / safe)
    return np.asarray(np.clip(total / (2.0 * np.pi), 0.0, 1.0))


def walls_of(panel: ZonedPanel, length: float, width: float) -> list[Rectangles]:
    """Pieces of all that closes the box round a panel and its sheet (length x width [m], middle at 0).

    The sides in pieces about as long as the gap is high, in two tiers; the free part of each end likewise.
    """
    inner = [(-0.5 * length, 0.5 * length), (-0.5 * width, 0.5 * width)]
    zones = [(float(edge[0]), float(edge[-1])) for edge in panel.edges()]
    box = [(min(a[0], b[0]), max(a[1], b[1])) for a, b in zip(inner, zones, strict=True)]
    heights = panel.gap * np.linspace(0.0, 1.0, _TIERS + 1)
    lines = [_cut(ends, panel.gap) for ends in box]
    found = [
        *(rectangles(0, at, lines[1], heights) for at in box[0]),
        *(rectangles(1, at, lines[0], heights) for at in box[1]),
    ]
    for at, taken in ((0.0, inner), (panel.gap, zones)):
        free = _beside(at, box, taken, panel.gap)
        if free is not None:
            found.append(free)
    return found


def _cut(ends: Sequence[float], size: float) -> Array:
    """Borders of pieces of about a size between two ends."""
    count = min(_MOST_PIECES, max(1, math.ceil((ends[1] - ends[0]) / size)))
    return np.linspace(ends[0], ends[1], count + 1)


def _beside(
    at: float, box: Sequence[tuple[float, float]], taken: Sequence[tuple[float, float]], size: float
) -> Rectangles | None:
    """What of an end of the box a rectangle leaves free, in pieces; None where it fills the end."""
    lines = []
    for (low, high), (first, last) in zip(box, taken, strict=True):
        marks = sorted({low, first, last, high})
        parts = [_cut(ends, size) for ends in pairwise(marks)]
        lines.append(np.concatenate([parts[0][:1], *(part[1:] for part in parts)]))
    whole = rectangles(2, at, *lines)
    middle = 0.5 * (whole.low + whole.high)
    inside = np.ones(len(whole), dtype=bool)
    for axis, (first, last) in enumerate(taken):
        inside &= (middle[:, axis] > first) & (middle[:, axis] < last)
    if inside.all():
        return None
    return Rectangles(2, at, whole.low[~inside], whole.high[~inside])
