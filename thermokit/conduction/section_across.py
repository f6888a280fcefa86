"""Two runs of one section held against each other, on meshes of different fineness: where and how far they are apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_mesh_places import interpolation
from thermokit.conduction.section_solve import EARLY, LEFT_OUT
from thermokit.errors import DataError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import Whole

    Flags = NDArray[np.bool_]

SAME = 1e-9  # of the section's size: nodes nearer than this are at one place


def at_nodes_of(own: SectionHistory, other: SectionHistory) -> Array:
    """Rows of another run read at the nodes of this one's mesh, region by region, (rows, nodes) [K].

    NaN at a node that lies outside the other mesh: on a circle, a chord of a coarser mesh may.
    """
    if other.mesh is own.mesh or (
        np.array_equal(other.mesh.x, own.mesh.x) and np.array_equal(other.mesh.y, own.mesh.y)
    ):
        return other.temperature
    from scipy.spatial import cKDTree

    out = np.full((len(other.time), len(own.mesh.x)), np.nan)
    size = float(np.hypot(np.ptp(own.mesh.x), np.ptp(own.mesh.y)))
    for region in range(len(own.region_names)):
        mine = np.unique(own.mesh.triangles[own.mesh.region == region])
        theirs = np.unique(other.mesh.triangles[other.mesh.region == region])
        places = np.column_stack([own.mesh.x[mine], own.mesh.y[mine]])
        far, near = _pair(cKDTree(np.column_stack([other.mesh.x[theirs], other.mesh.y[theirs]])).query(places))
        same = far <= SAME * size
        out[:, mine[same]] = other.temperature[:, theirs[near[same]]]
        for node, place in zip(mine[~same], places[~same], strict=True):
            try:
                nodes, weights = interpolation(other.mesh, place[None], region)
            except DataError:
                continue
            out[:, node] = other.temperature[:, nodes[0]] @ weights[0]
    return out


def _pair(found: Any) -> tuple[Array, Whole]:
    """(distances, indices) of a query for many places."""
    return np.asarray(found[0], float), np.asarray(found[1], dtype=np.int64)


def largest_gap(gap: Array, own: SectionHistory) -> tuple[float, int, int]:
    """(largest difference [K], row, node) of (rows, nodes), as the accuracy of a section is meant: see ``solve_section``.

    The worst fiftieth of each region by area does not count, nor does the first quarter of each span: no mesh is fine enough
    for a corner in which a face ends, nor for the moment of a jump.
    """
    mesh = own.mesh
    share = np.bincount(mesh.triangles.ravel(), np.repeat(_areas(own), 3), len(mesh.x))
    found = (0.0, len(own.time) - 1, 0)
    regions = [np.unique(mesh.triangles[mesh.region == i]) for i in range(len(own.region_names))]
    for row in np.flatnonzero(not_early(own)):
        for nodes in regions:
            apart = np.abs(gap[row, nodes])
            there = np.isfinite(apart)
            if not there.any():
                continue
            nodes, apart = nodes[there], apart[there]
            order = np.argsort(apart)
            below = np.cumsum(share[nodes][order])
            at = order[min(int(np.searchsorted(below, (1.0 - LEFT_OUT) * below[-1])), len(order) - 1)]
            if apart[at] > found[0]:
                found = (float(apart[at]), int(row), int(nodes[at]))
    return found


def _areas(own: SectionHistory) -> Array:
    """Areas of the triangles [m2]."""
    x, y = own.mesh.x[own.mesh.triangles], own.mesh.y[own.mesh.triangles]
    return np.asarray(((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])) / 2.0)


def not_early(own: SectionHistory) -> Flags:
    """(rows,) True after the first quarter of the row's span."""
    if own.steady or not own.ends:
        return np.ones(len(own.time), dtype=bool)
    ends = np.array([end.time for end in own.ends])
    begun = np.concatenate([[0.0], ends])[own.span]
    return np.asarray(own.time - begun >= EARLY * (np.append(ends, own.ending.time)[own.span] - begun))


def place_of_node(history: SectionHistory, node: int) -> str:
    """Region and place of a node in words."""
    mesh = history.mesh
    region = history.region_names[int(mesh.region[(mesh.triangles == node).any(axis=1)][0])]
    return f"{region}, x {1e3 * mesh.x[node]:.4g} mm, y {1e3 * mesh.y[node]:.4g} mm"
