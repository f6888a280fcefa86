"""Which part of each triangle belongs to which of its corners: the part that is nearest to it.

The perpendicular bisectors cut a triangle into three parts (Voronoi's cells). On a grid of rectangles, whichever way their
diagonals run, a node so owns exactly its box; thirds of triangles do not, and the difference shows wherever the spacing
changes (on a mould section with five channels and 1 400 nodes: 0.044 s in a cooling time instead of 0.002 s).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.section_problem import Array, SectionMesh


def corner_volumes(mesh: SectionMesh, axisymmetric: bool = False) -> Array:
    """(cells, 3) volume of the part of each triangle nearest to each corner [m3 a metre of depth, or of the whole ring].

    The three add up to the triangle's own volume: its area, or 2 pi times the integral of x over it. In a triangle with an
    obtuse corner the parts of the two others are cut off by the bisectors of their sides, and the obtuse one has the rest.
    """
    corner = np.stack([mesh.x[mesh.triangles], mesh.y[mesh.triangles]], axis=-1)  # (cells, 3, 2)
    after, before = np.roll(corner, -1, axis=1), np.roll(corner, 1, axis=1)
    u, v = after - corner, before - corner
    cross = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]  # twice the area, the same at each corner
    dot = (u * v).sum(axis=-1)
    # centre of the circle through the corners
    square = (u * u).sum(axis=-1)[..., None], (v * v).sum(axis=-1)[..., None]
    normal_u = np.stack([-u[..., 1], u[..., 0]], axis=-1)
    normal_v = np.stack([-v[..., 1], v[..., 0]], axis=-1)
    centre = corner + (square[0] * -normal_v + square[1] * normal_u) / (2 * cross[..., None])
    along = (corner + after) / 2, (corner + before) / 2
    obtuse = dot < 0.0
    if not obtuse.any():
        return _of_two(corner, along[0], centre, along[1], axisymmetric)
    # beside an obtuse corner the bisector of the side to it ends on the opposite side instead of in the centre
    to_after, to_before = np.roll(obtuse, -1, axis=1), np.roll(obtuse, 1, axis=1)
    meets_v = corner + v * (square[0] / (2 * np.where(to_after, dot, 1.0)[..., None]))
    meets_u = corner + u * (square[1] / (2 * np.where(to_before, dot, 1.0)[..., None]))
    out = _of_two(corner, along[0], centre, along[1], axisymmetric)
    out = np.where(to_after, _of_one(corner, along[0], meets_v, axisymmetric), out)
    out = np.where(to_before, _of_one(corner, meets_u, along[1], axisymmetric), out)
    whole = _of_one(corner, after, before, axisymmetric)[:, 0]
    return np.where(obtuse, whole[:, None] - out.sum(axis=1, keepdims=True, where=~obtuse), out)


def _of_two(a: Array, b: Array, c: Array, d: Array, axisymmetric: bool) -> Array:
    return _of_one(a, b, c, axisymmetric) + _of_one(a, c, d, axisymmetric)


def _of_one(a: Array, b: Array, c: Array, axisymmetric: bool) -> Array:
    """Volume of triangles with corners a, b, c (..., 2)."""
    u, v = b - a, c - a
    area = (u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]) / 2
    return area * (2 * np.pi / 3) * (a[..., 0] + b[..., 0] + c[..., 0]) if axisymmetric else area
