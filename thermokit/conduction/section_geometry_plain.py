"""Plain geometry of sections: areas, insides, distances, and which region owns a point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from thermokit.conduction.section_problem import Array, Region, Whole

    Flags = NDArray[np.bool_]

LOT = 64  # neighbours along an outline that are looked at together
TOLERANCE = 1e-7  # of the size of the section: places nearer to each other are one place


def size_of(outlines: Sequence[Array]) -> float:
    """Diagonal of the box that holds all outlines [m].

    >>> size_of([np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])])
    5.0
    """
    points = np.concatenate([np.asarray(o, dtype=float) for o in outlines])
    return float(np.hypot(*(points.max(axis=0) - points.min(axis=0))))


def tolerance_of(size: float) -> float:
    """Distance below which two places of a section of this size count as one [m]."""
    return TOLERANCE * size


def area_of(outline: Array) -> float:
    """Area of a polygon [m2], whichever way round (Gauss's trapezoid formula).

    >>> area_of(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 3.0], [0.0, 3.0]]))
    6.0
    """
    x, y = (np.asarray(outline, dtype=float) - np.asarray(outline, dtype=float)[0]).T
    return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2.0)


def inside_polygon(points: Array, outline: Array) -> Flags:
    """(points,) True where a point lies inside a polygon; on the outline itself the answer is either.

    A ray to the right is crossed an odd number of times.

    >>> inside_polygon(np.array([[1.0, 1.0], [3.0, 1.0]]), np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]]))
    array([ True, False])
    """
    outline = np.asarray(outline, dtype=float)
    inside = np.zeros(len(points), dtype=bool)
    low, high = outline.min(axis=0), outline.max(axis=0)
    near = np.nonzero(((points >= low) & (points <= high)).all(axis=1))[0]
    (x0, y0), (x1, y1) = outline.T, np.roll(outline, -1, axis=0).T
    slope = (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    for lot in np.array_split(near, 1 + len(near) * len(outline) // 2_000_000):
        x, y = points[lot, 0, None], points[lot, 1, None]
        inside[lot] = (((y0 > y) != (y1 > y)) & (x < x0 + slope * (y - y0))).sum(axis=1) % 2 == 1
    return inside


def distance_to_segments(points: Array, start: Array, end: Array) -> Array:
    """(segments, points) distance of points from segments [m]."""
    along = end - start
    square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-300)
    dx = points[None, :, 0] - start[:, 0, None]
    dy = points[None, :, 1] - start[:, 1, None]
    share = np.clip((dx * along[:, 0, None] + dy * along[:, 1, None]) / square[:, None], 0.0, 1.0)
    return np.asarray(np.hypot(dx - share * along[:, 0, None], dy - share * along[:, 1, None]))


def points_on_segments(points: Array, start: Array, end: Array, tolerance: float) -> tuple[Whole, Whole]:
    """(segments, points): the pairs in which a point lies on a segment, ends included; in the order of segments, then points.

    >>> line = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0]])
    >>> [pairs.tolist() for pairs in points_on_segments(line, line[:2], line[1:], 1e-9)]
    [[0, 0, 1, 1], [0, 1, 1, 2]]
    """
    found = [np.empty((2, 0), dtype=np.int64)]
    for lot, near in near_lots(start, end, points, points, tolerance):
        segment, point = np.nonzero(distance_to_segments(points[near], start[lot], end[lot]) <= tolerance)
        found.append(np.stack([lot[segment], near[point]]))
    segments, those = np.concatenate(found, axis=1)
    return segments, those


def near_lots(start: Array, end: Array, begin: Array, stop: Array, slack: float) -> Iterator[tuple[Whole, Whole]]:
    """(some segments, others): lots of segments in their order, each with those segments whose boxes come as near to the box of
    the lot as ``slack``. What is looked for between all of two outlines is so looked for in little memory, and mostly in little
    time: neighbours along an outline lie together.
    """
    low, high = np.minimum(begin, stop) - slack, np.maximum(begin, stop) + slack
    for lot in np.array_split(np.arange(len(start)), 1 + len(start) // LOT):
        if not len(lot):
            continue
        least = np.minimum(start[lot], end[lot]).min(axis=0)
        most = np.maximum(start[lot], end[lot]).max(axis=0)
        near = np.nonzero(((low <= most) & (high >= least)).all(axis=1))[0]
        if len(near):
            yield lot, near


def lots_of(places: Array, count: int) -> list[Whole]:
    """Indices of places (places, 2) in so many lots of neighbours."""
    if count == 1:
        return [np.arange(len(places))]
    x, y = places.T
    columns = np.ceil(np.sqrt(count))
    column = np.floor((x - x.min()) / max(float(np.ptp(x)), 1e-300) * columns)
    return np.array_split(np.lexsort([y, column]), count)


def owner_of(points: Array, regions: Sequence[Region]) -> Whole:
    """(points,) index of the region that owns each point, -1 outside all: of those that hold it, the smallest.

    On an outline the answer is any of those that touch there, or none.
    """
    out = np.full(len(points), -1)
    for index in np.argsort([-area_of(region.outline) for region in regions], kind="stable"):
        out[inside_polygon(points, regions[index].outline)] = index
    return out
