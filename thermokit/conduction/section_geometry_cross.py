"""Where outlines meet: an outline with itself, and one cut where it meets another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import near_lots, points_on_segments

if TYPE_CHECKING:
    from thermokit.conduction.section_problem import Array


def self_meeting(outline: Array, tolerance: float) -> Array | None:
    """A place where an outline crosses or touches itself, or turns back on itself; None where it does not.

    >>> self_meeting(np.array([[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]]), 1e-9).tolist()
    [1.0, 1.0]
    """
    count = len(outline)
    start, end = outline, np.roll(outline, -1, axis=0)
    # a corner on a side that it does not end
    segment, point = points_on_segments(outline, start, end, tolerance)
    strange = (point != segment) & (point != (segment + 1) % count)
    if strange.any():
        return np.asarray(outline[point[np.argmax(strange)]])
    for lot, near in near_lots(start, end, start, end, tolerance):
        one, other, share = _proper(start[lot], end[lot], start[near], end[near])
        if len(one):
            k = int(np.argmin(lot[one] * count + near[other]))
            return np.asarray(start[lot[one[k]]] + share[k] * (end - start)[lot[one[k]]])
    return None


def crossings_of(outline: Array, other: Array, tolerance: float) -> Array:
    """Middles of the pieces into which an outline is cut where it meets another one, (pieces, 2)."""
    start, end = outline, np.roll(outline, -1, axis=0)
    begin, stop = other, np.roll(other, -1, axis=0)
    crossed, where = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    for lot, near in near_lots(start, end, begin, stop, tolerance):
        one, _, share = _proper(start[lot], end[lot], begin[near], stop[near])
        crossed.append(lot[one])
        where.append(share)
    touched, corner = points_on_segments(other, start, end, tolerance)
    way = end - start
    square = np.einsum("ij,ij->i", way, way)
    along = np.einsum("ij,ij->i", other[corner] - start[touched], way[touched]) / square[touched]
    every = np.arange(len(outline))
    segment = np.concatenate([every, every, *crossed, touched])
    at = np.concatenate([np.zeros(len(outline)), np.ones(len(outline)), *where, np.clip(along, 0.0, 1.0)])
    order = np.lexsort([at, segment])
    segment, at = segment[order], at[order]
    length = np.sqrt(square)[segment[:-1]]
    whole = (segment[1:] == segment[:-1]) & (np.diff(at) * length > 2 * tolerance)
    segment, middle = segment[:-1][whole], ((at[1:] + at[:-1]) / 2)[whole]
    return np.asarray(start[segment] + middle[:, None] * way[segment])


def _proper(a: Array, b: Array, c: Array, d: Array) -> tuple[np.ndarray, np.ndarray, Array]:
    """(first, second, share): segments ab that cross segments cd inside both, and the share of ab where."""
    u, v = b - a, d - c
    w = c[None] - a[:, None]
    cross = u[:, 0, None] * v[:, 1] - u[:, 1, None] * v[:, 0]
    parallel = np.abs(cross) <= 1e-14 * np.hypot(*u.T)[:, None] * np.hypot(*v.T)
    safe = np.where(parallel, 1.0, cross)
    s = (w[..., 0] * v[:, 1] - w[..., 1] * v[:, 0]) / safe
    t = (w[..., 0] * u[:, 1, None] - w[..., 1] * u[:, 0, None]) / safe
    edge = 1e-12
    first, second = np.nonzero(~parallel & (s > edge) & (s < 1 - edge) & (t > edge) & (t < 1 - edge))
    return first, second, s[first, second]
