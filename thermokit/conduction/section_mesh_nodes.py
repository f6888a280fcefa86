"""Nodes of a mesh: shared where regions touch perfectly, doubled where they touch with a conductance or one can be absent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_mesh_triangles import keys_of, sides_of
from thermokit.conduction.section_problem import SectionMesh

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_mesh_triangles import Cloud
    from thermokit.conduction.section_problem import Array, SectionProblem, Whole


def with_doubled_nodes(
    points: Array, triangles: Whole, region: Whole, cloud: Cloud, pieces: Pieces, problem: SectionProblem
) -> SectionMesh:
    """The mesh with its sides and joints, from triangles that share all points.

    Corners of triangles become one node where they are joined across sides of perfect contact; so a node where three
    regions meet is split as the contacts around it say.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    cells = len(triangles)
    sides = sides_of(triangles)  # side k of cell c stands at k * cells + c, from corner k to corner k + 1
    keys = keys_of(sides, len(points))
    order = np.argsort(keys, kind="stable")
    twin = keys[order][1:] == keys[order][:-1]
    one, other = order[:-1][twin], order[1:][twin]
    apart = separated(problem)[region[one % cells], region[other % cells]]

    # corner k of cell c stands at k * cells + c; sides of twins run against each other
    def following(side: Whole) -> Whole:
        return (side + cells) % (3 * cells)

    joined_one = np.concatenate([one[~apart], following(one[~apart])])
    joined_other = np.concatenate([following(other[~apart]), other[~apart]])
    links = coo_array((np.ones(len(joined_one)), (joined_one, joined_other)), shape=(3 * cells, 3 * cells))
    count, label = connected_components(links, directed=False)
    place = np.empty(count, dtype=np.int64)
    corner = triangles.T.ravel()
    place[label] = corner
    # numbered as the points are, region by region within a place
    rank = np.full(count, np.iinfo(np.int64).max)
    np.minimum.at(rank, label, region[np.arange(3 * cells) % cells])
    number = np.empty(count, dtype=np.int64)
    number[np.lexsort([rank, place])] = np.arange(count)
    node = number[label]
    at = np.empty(count, dtype=np.int64)
    at[number] = place

    faces = _face_of(keys, cloud, pieces, len(problem.edges), len(points))
    single = np.setdiff1d(np.arange(3 * cells), np.concatenate([one, other]))
    a, b = one[apart], other[apart]
    return SectionMesh(
        x=points[at, 0].copy(),
        y=points[at, 1].copy(),
        triangles=node.reshape(3, cells).T.copy(),
        region=region,
        sides=np.column_stack([node[single], node[following(single)]]),
        side_region=region[single % cells],
        side_face=faces[single],
        joints=np.column_stack([node[a], node[following(a)], node[following(b)], node[b]]),
        joint_regions=np.column_stack([region[a % cells], region[b % cells]]),
        joint_face=faces[a],
    )


def separated(problem: SectionProblem) -> np.ndarray:
    """(regions, regions) True where two regions have nodes of their own where they touch."""
    index = {region.name: k for k, region in enumerate(problem.regions)}
    out = np.zeros((len(index), len(index)), dtype=bool)
    for touch in problem.touches:
        one, other = (index[name] for name in touch.between)
        out[one, other] = out[other, one] = True
    for name in problem.removable:
        out[index[name], :] = out[:, index[name]] = True
        out[index[name], index[name]] = False
    return out


def _face_of(keys: Whole, cloud: Cloud, pieces: Pieces, edges: int, points: int) -> Whole:
    """(sides,) index into the names of faces, -1 where a side lies on none."""
    number = np.concatenate([pieces.face, edges + np.arange(max(cloud.of.max() + 1 - len(pieces.ends), 0))])
    held = keys_of(cloud.segments, points)
    order = np.argsort(held)
    place = np.clip(np.searchsorted(held[order], keys), 0, len(held) - 1)
    match = held[order][place] == keys
    return np.where(match, number[cloud.of[order][place]], -1)
