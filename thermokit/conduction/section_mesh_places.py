"""Places on the mesh of a section: nodes along a face, and weights that read a value at any point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import distance_to_segments, tolerance_of
from thermokit.errors import DataError

if TYPE_CHECKING:
    from collections.abc import Collection

    from thermokit.conduction.section_problem import Array, SectionMesh, SectionProblem, Whole


def face_path(mesh: SectionMesh, problem: SectionProblem, name: str) -> tuple[Whole, Array]:
    """(nodes, distance [m]) in order along a named edge from its start, or round a channel.

    A channel is gone round counter-clockwise from its rightmost node, distance along its circle; its first node is not repeated
    at the end. Where nodes are doubled, those of a region that is never absent are taken, then those of the region that
    stands first in the problem.

    Raises DataError for a name that the section does not have.
    """
    channels = {channel.name: channel for channel in problem.channels}
    edges = {edge.name: edge for edge in problem.edges}
    if name in channels:
        channel = channels[name]
        nodes = np.unique(mesh.sides[mesh.side_face == problem.face_names.index(name)])
        angle = np.arctan2(mesh.y[nodes] - channel.centre[1], mesh.x[nodes] - channel.centre[0]) % (2 * np.pi)
        angle[2 * np.pi - angle < 1e-9] = 0.0
        order = np.argsort(angle)
        return nodes[order], channel.diameter / 2 * (angle[order] - angle[order[0]])
    if name not in edges:
        known = ", ".join(problem.face_names) or "none"
        raise DataError(f"the section has no edge or channel {name!r}; it has: {known}")
    edge = edges[name]
    points = np.column_stack([mesh.x, mesh.y])
    start, end = np.array(edge.start, dtype=float), np.array(edge.end, dtype=float)
    slack = 10 * tolerance_of(size_of_mesh(mesh))
    nodes = np.nonzero(distance_to_segments(points, start[None], end[None])[0] <= slack)[0]
    region = regions_of_nodes(mesh)[nodes]
    removable = np.array([r.name in problem.removable for r in problem.regions])
    along = (points[nodes] - start) @ (end - start) / np.hypot(*(end - start))
    order = np.lexsort([region, removable[region], np.round(along / slack)])
    nodes, along = nodes[order], along[order]
    first = np.concatenate([[True], np.diff(along) > slack])
    return nodes[first], np.maximum(along[first], 0.0)


def regions_of_nodes(mesh: SectionMesh) -> Whole:
    """(nodes,) region of each node; of those that share it, the first."""
    out = np.full(len(mesh.x), np.iinfo(np.int64).max)
    np.minimum.at(out, mesh.triangles.ravel(), np.repeat(mesh.region, 3))
    return out


def size_of_mesh(mesh: SectionMesh) -> float:
    """Diagonal of the box that holds the mesh [m]."""
    return float(np.hypot(np.ptp(mesh.x), np.ptp(mesh.y)))


def interpolation(
    mesh: SectionMesh, points: Array, region: int | None = None, absent: Collection[int] = ()
) -> tuple[Whole, Array]:
    """(nodes, weights), both (points, 3): the value at a point is the sum of weights times values at the nodes.

    points : (points, 2) [m], on boundaries and corners too; region : index of the region to read (where nodes are doubled the
    point has a value in each); left out, the first one that holds the point and is not among ``absent`` (indices).

    Raises DataError for a point that lies in none.
    """
    points = np.asarray(points, dtype=float).reshape(-1, 2)
    allowed = np.ones(len(mesh.region), dtype=bool)
    if region is not None:
        allowed = mesh.region == region
    for index in absent:
        allowed &= mesh.region != index
    cells = np.nonzero(allowed)[0]
    corners = np.stack([mesh.x[mesh.triangles[cells]], mesh.y[mesh.triangles[cells]]], axis=-1)
    slack = 10 * tolerance_of(size_of_mesh(mesh))
    nodes = np.empty((len(points), 3), dtype=np.int64)
    weights = np.empty((len(points), 3))
    for k, point in enumerate(points):
        near = np.nonzero(
            ((corners.min(axis=1) <= point + slack) & (corners.max(axis=1) >= point - slack)).all(axis=1)
        )[0]
        share = _shares(corners[near], point)
        clipped = np.maximum(share, 0.0)
        clipped /= clipped.sum(axis=1, keepdims=True)
        off = np.hypot(*(np.einsum("ck,ckj->cj", clipped, corners[near]) - point).T)
        held = np.nonzero(off <= slack)[0]
        if not len(held):
            where = "no region" if region is None else "that region"
            raise DataError(f"the point ({point[0] * 1e3:g} mm, {point[1] * 1e3:g} mm) lies in {where} of the section")
        best = held[np.lexsort([-clipped[held].min(axis=1), mesh.region[cells[near[held]]]])[0]]
        nodes[k] = mesh.triangles[cells[near[best]]]
        weights[k] = clipped[best]
    return nodes, weights


def _shares(corners: Array, point: Array) -> Array:
    """(cells, 3) barycentric coordinates of a point in triangles, corners (cells, 3, 2)."""
    a, b, c = corners.transpose(1, 0, 2)
    u, v, w = b - a, c - a, point - a
    twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    second = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / twice
    third = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / twice
    return np.column_stack([1.0 - second - third, second, third])
