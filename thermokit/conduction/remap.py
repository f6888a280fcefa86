"""From one mesh to another: cell averages with their content conserved, straight lines inside the old cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array


def remapped(
    values: Array,
    old: Array,
    new: Array,
    power: int = 1,
    faces: tuple[float | None, float | None] = (None, None),
    bounds: tuple[float, float] | None = None,
) -> Array:
    """Averages over new cells of what has given averages over old ones, (new cells,).

    values : (old cells,); old, new : edges of the cells [m], ascending, with the same ends, (cells + 1,); power : 1 plane,
    2 cylinder (edges are radii), 3 sphere; faces : values at both ends where they are known. Sums of average times volume
    stay as they are, whatever the meshes. Inside an old cell the value runs on a straight line about its centroid, whose
    slope never passes the neighbouring averages (nor a known face), so that nothing new becomes highest or lowest. At an end
    whose face is not known it is flat, or with bounds (lowest, highest) drawn on from the neighbour as far as they allow.
    Order 2 where the profile is smooth.
    Raises ValueError where the ends are not the same.

    >>> remapped(np.array([10.0, 30.0]), np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0])).tolist()
    [20.0]
    """
    if np.array_equal(old, new):
        return np.array(values, float)
    if not np.allclose(old[[0, -1]], new[[0, -1]], rtol=1e-9, atol=1e-12 * float(old[-1] - old[0])):
        raise ValueError("the two meshes are not of the same stretch")
    ends = np.clip(new, old[0], old[-1])
    ends[0], ends[-1] = old[0], old[-1]
    volume = np.diff(old**power) / power
    centroid = np.diff(old ** (power + 1)) / (power + 1) / volume
    slope = _slopes(np.asarray(values, float), old, centroid, faces)
    if bounds is not None and len(values) > 1:
        for end, face in ((0, faces[0]), (-1, faces[1])):
            if face is None:
                slope[end] = _drawn_on(values, old, centroid, end, bounds)
    content = np.concatenate([[0.0], np.cumsum(values * volume)])
    cell = np.clip(np.searchsorted(old, ends, side="right") - 1, 0, len(values) - 1)
    inside = (ends**power - old[cell] ** power) / power
    moment = (ends ** (power + 1) - old[cell] ** (power + 1)) / (power + 1)
    total = content[cell] + values[cell] * inside + slope[cell] * (moment - centroid[cell] * inside)
    return np.asarray(np.diff(total) / (np.diff(ends**power) / power))


def _slopes(values: Array, edges: Array, centroid: Array, faces: tuple[float | None, float | None]) -> Array:
    """Slope inside each cell: that of the neighbours, cut so that no edge passes a neighbour or a known face."""
    before = np.concatenate([[values[0] if faces[0] is None else faces[0]], values[:-1]])
    behind = np.concatenate([values[1:], [values[-1] if faces[1] is None else faces[1]]])
    places = np.concatenate([[edges[0]], centroid, [edges[-1]]])
    middle = (behind - before) / (places[2:] - places[:-2])
    left = (values - before) / (centroid - edges[:-1])
    right = (behind - values) / (edges[1:] - centroid)
    least = np.minimum(np.abs(middle), np.minimum(np.abs(left), np.abs(right)))
    return np.where(left * right > 0.0, np.sign(middle) * least, 0.0)


def _drawn_on(values: Array, edges: Array, centroid: Array, end: int, bounds: tuple[float, float]) -> float:
    """Slope in the first (0) or last (-1) cell, that to its neighbour, cut so that the face stays within the bounds."""
    near = 1 if end == 0 else -2
    inner_edge = edges[1] if end == 0 else edges[-2]
    rise = float(values[near] - values[end])
    slope = rise / float(centroid[near] - centroid[end])
    out = float(edges[end] - centroid[end])
    room = (bounds[1] if slope * out > 0.0 else bounds[0]) - float(values[end])
    cuts = (abs(slope), abs(rise / float(inner_edge - centroid[end])), max(0.0, abs(room)) / abs(out))
    return float(np.sign(slope) * min(cuts))
