"""From one mesh to another: cell averages with their content conserved, straight lines inside the old cells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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
    part: bool = False,
) -> Array:
    """Averages over new cells of what has given averages over old ones, (new cells,) or (new cells, cases).

    values : (old cells,); old, new : edges of the cells [m], ascending, (cells + 1,); any of them with a second axis for the
    cases of a batch; power : 1 plane, 2 cylinder (edges are radii), 3 sphere; faces : values at both ends where they are
    known; part : the new cells may cover a part of the old ones only (what is left when the rest is taken away), else both
    have the same ends. Sums of average times volume stay as they are, whatever the meshes. Inside an old cell the value runs
    on a straight line about its centroid, whose slope never passes the neighbouring averages (nor a known face), so that
    nothing new becomes highest or lowest. At an end whose face is not known it is flat, or with bounds (lowest, highest) drawn
    on from the neighbour as far as they allow. Order 2 where the profile is smooth.
    Raises ValueError where the ends are not the same, or a part reaches beyond the old cells.

    >>> remapped(np.array([10.0, 30.0]), np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0])).tolist()
    [20.0]
    """
    if np.array_equal(old, new):
        return np.array(values, float)
    flat = max(np.ndim(v) for v in (values, old, new)) == 1
    u, x, y = (np.asarray(v, float)[:, None] if np.ndim(v) == 1 else np.asarray(v, float) for v in (values, old, new))
    cases = max(v.shape[1] for v in (u, x, y))
    u, x, y = (np.broadcast_to(v, (len(v), cases)) for v in (u, x, y))
    ends = _ends(x, y, part)
    volume = np.diff(x**power, axis=0) / power
    centroid = np.diff(x ** (power + 1), axis=0) / (power + 1) / volume
    slope = _slopes(u, x, centroid, faces)
    if bounds is not None and len(u) > 1:
        for end, face in ((0, faces[0]), (-1, faces[1])):
            if face is None:
                slope[end] = _drawn_on(u, x, centroid, end, bounds)
    content = np.concatenate([np.zeros((1, cases)), np.cumsum(u * volume, axis=0)])
    cell = np.clip((x[:, None, :] <= ends[None]).sum(axis=0) - 1, 0, len(u) - 1)

    def of(v: Array) -> Array:
        return np.take_along_axis(v, cell, axis=0)

    start = of(x)
    inside = (ends**power - start**power) / power
    moment = (ends ** (power + 1) - start ** (power + 1)) / (power + 1)
    total = of(content) + of(u) * inside + of(slope) * (moment - of(centroid) * inside)
    found = np.diff(total, axis=0) / (np.diff(ends**power, axis=0) / power)
    return np.asarray(found[:, 0] if flat else found)


def _ends(old: Array, new: Array, part: bool) -> Array:
    """The new edges, without the round-off by which they lie beyond the old ones."""
    slack = 1e-9 * np.abs(old[[0, -1]]) + 1e-12 * (old[-1] - old[0])
    beyond = (new[0] < old[0] - slack[0]) | (new[-1] > old[-1] + slack[1])
    if not part:
        beyond |= (new[0] > old[0] + slack[0]) | (new[-1] < old[-1] - slack[1])
    if np.any(beyond):
        raise ValueError("the two meshes are not of the same stretch")
    ends = np.clip(new, old[0], old[-1])
    if not part:
        ends[0], ends[-1] = old[0], old[-1]
    return ends


def _slopes(values: Array, edges: Array, centroid: Array, faces: tuple[float | None, float | None]) -> Array:
    """Slope inside each cell: that of the neighbours, cut so that no edge passes a neighbour or a known face."""

    def ended(face: float | None, own: Array) -> Array:
        return own[None] if face is None else np.full_like(own, face)[None]

    before = np.concatenate([ended(faces[0], values[0]), values[:-1]])
    behind = np.concatenate([values[1:], ended(faces[1], values[-1])])
    places = np.concatenate([edges[:1], centroid, edges[-1:]])
    middle = (behind - before) / (places[2:] - places[:-2])
    left = (values - before) / (centroid - edges[:-1])
    right = (behind - values) / (edges[1:] - centroid)
    least = np.minimum(np.abs(middle), np.minimum(np.abs(left), np.abs(right)))
    return np.where(left * right > 0.0, np.sign(middle) * least, 0.0)


def _drawn_on(values: Array, edges: Array, centroid: Array, end: int, bounds: tuple[float, float]) -> Any:
    """Slope in the first (0) or last (-1) cell, that to its neighbour, cut so that the face stays within the bounds."""
    near = 1 if end == 0 else -2
    inner_edge = edges[1] if end == 0 else edges[-2]
    rise = values[near] - values[end]
    slope = rise / (centroid[near] - centroid[end])
    out = edges[end] - centroid[end]
    room = np.where(slope * out > 0.0, bounds[1], bounds[0]) - values[end]
    cut = np.minimum(np.abs(slope), np.abs(rise / (inner_edge - centroid[end])))
    return np.sign(slope) * np.minimum(cut, np.maximum(0.0, np.abs(room)) / np.abs(out))
