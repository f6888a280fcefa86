"""Outlines cut into straight pieces between points, each of which knows what lies on its left and on its right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import (
    area_of,
    inside_polygon,
    points_on_segments,
    size_of,
    tolerance_of,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.section_problem import Array, Edge, Region, Whole

OUTSIDE = -1


@dataclass(frozen=True)
class Pieces:
    """Straight pieces of all outlines; no two cross, and no point lies inside one.

    points : (points, 2) [m]; ends : (pieces, 2) points; left, right : (pieces,) region on that side, -1 outside;
    face : (pieces,) index of the named edge that lies on it, -1.
    """

    points: Array
    ends: Whole
    left: Whole
    right: Whole
    face: Whole

    @property
    def start(self) -> Array:
        """(pieces, 2) [m]."""
        return self.points[self.ends[:, 0]]

    @property
    def end(self) -> Array:
        """(pieces, 2) [m]."""
        return self.points[self.ends[:, 1]]


def pieces_of(regions: Sequence[Region], edges: Sequence[Edge]) -> Pieces:
    """Outlines cut at every corner and every end of a named edge that lies on them.

    Who owns a side of a piece: of the regions that have it on their outline with their inside on that side, and of those
    that hold it in their inside, the smallest.
    """
    outlines = [counter_clockwise(np.asarray(region.outline, dtype=float)) for region in regions]
    size = size_of(outlines)
    tolerance = tolerance_of(size)
    marks = np.array([p for edge in edges for p in (edge.start, edge.end)], dtype=float).reshape(-1, 2)
    gathered = np.concatenate([*outlines, marks])
    points, place = merged(gathered, tolerance)
    corners = [place[lo:hi] for lo, hi in _ranges([len(o) for o in outlines])]
    first = np.concatenate(corners)
    last = np.concatenate([np.roll(c, -1) for c in corners])
    owner = np.repeat(np.arange(len(outlines)), [len(c) for c in corners])
    a, b, owner = _cut(points, first, last, owner, tolerance)
    pairs, back = np.unique(np.sort(np.column_stack([a, b]), axis=1), axis=0, return_inverse=True)
    back = back.ravel()
    middle = (points[pairs[:, 0]] + points[pairs[:, 1]]) / 2
    holds = np.stack([inside_polygon(middle, points[c]) for c in corners])  # (regions, pieces)
    forward = a == pairs[back, 0]
    on_left = np.zeros_like(holds)
    on_right = np.zeros_like(holds)
    on_left[owner[forward], back[forward]] = True
    on_right[owner[~forward], back[~forward]] = True
    on_outline = on_left | on_right
    order = np.argsort([area_of(o) for o in outlines], kind="stable")
    left = _smallest(on_left | (holds & ~on_outline), order)
    right = _smallest(on_right | (holds & ~on_outline), order)
    face = np.full(len(pairs), -1)
    for index, edge in enumerate(edges):
        on = points_on_segments(middle, np.array([edge.start], float), np.array([edge.end], float), tolerance)[1]
        face[on] = index
    kept = left != right
    return Pieces(points, pairs[kept], left[kept], right[kept], face[kept])


def counter_clockwise(outline: Array) -> Array:
    """The outline turned so that its inside is on the left."""
    x, y = outline.T
    twice = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return outline if twice > 0.0 else outline[::-1]


def merged(points: Array, tolerance: float) -> tuple[Array, Whole]:
    """Points nearer than the tolerance made one: (points, 2) and the new index of each old one.

    Coordinates that are equal within the tolerance become equal to the last digit, so that lines of a grid meet them.
    """
    aligned = np.column_stack([_equalised(points[:, 0], tolerance), _equalised(points[:, 1], tolerance)])
    out, place = np.unique(aligned, axis=0, return_inverse=True)
    return out, place.ravel()


def _equalised(value: Array, tolerance: float) -> Array:
    """Values in which a chain of neighbours nearer than the tolerance is replaced by its first."""
    order = np.argsort(value, kind="stable")
    ascending = value[order]
    new = np.concatenate([[True], np.diff(ascending) > tolerance])
    out = np.empty_like(value)
    out[order] = ascending[new][np.cumsum(new) - 1]
    return out


def _ranges(lengths: Sequence[int]) -> list[tuple[int, int]]:
    ends = np.cumsum(lengths)
    return [(int(e - n), int(e)) for e, n in zip(ends, lengths, strict=True)]


def _cut(points: Array, first: Whole, last: Whole, owner: Whole, tolerance: float) -> tuple[Whole, Whole, Whole]:
    """Segments cut at all points that lie on them: (start, end, owner) of the cut ones, direction kept."""
    a, b = points[first], points[last]
    segment, point = points_on_segments(points, a, b, tolerance)
    along = np.einsum("ij,ij->i", points[point] - a[segment], (b - a)[segment])
    order = np.lexsort([along, segment])
    segment, point = segment[order], point[order]
    same = segment[1:] == segment[:-1]
    return point[:-1][same], point[1:][same], owner[segment[1:][same]]


def _smallest(holds: np.ndarray, order: np.ndarray) -> Whole:
    """(pieces,) the first region in the order that holds, -1 where none does."""
    ranked = holds[order]
    return np.where(ranked.any(axis=0), order[np.argmax(ranked, axis=0)], OUTSIDE)
