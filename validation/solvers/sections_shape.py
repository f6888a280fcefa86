"""Sides and joints of a triangulated section, found from the places of nodes alone.

Taken from thermokit are nodes, triangles and the region of each triangle. Which side of a triangle lies on the outside, on which
edge or channel, and which two sides touch across a joint, is found here once more from where they lie.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.section_problem import SectionMesh, SectionProblem

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]

NEAR = 1e-6  # of the section's size, within which a place lies on a line
ON_CIRCLE = 1e-5  # of a channel's radius


class Shape:
    """Triangles with their sides.

    sides : (n, 2) nodes of the outside, side_region, side_face (-1: no name); joints : (n, 4) nodes a1, a2, b1, b2 with a1 at the
    place of b1; joint_regions : (n, 2); joint_face : (n,) the name that counts while one of the two is away.
    """

    def __init__(self, problem: SectionProblem, mesh: SectionMesh):
        self.problem = problem
        self.points = np.column_stack([mesh.x, mesh.y])
        self.triangles = np.asarray(mesh.triangles)
        self.region = np.asarray(mesh.region)
        self.count = len(self.points)
        self.size = float(np.hypot(*np.ptp(self.points, axis=0)))
        self.area = self._areas()
        lone, owner = self._lone()
        middle = self.points[lone].mean(axis=1)
        face = self._named(lone, middle)
        key = np.round(middle / (NEAR * self.size)).astype(np.int64)
        _, where, twice = np.unique(key, axis=0, return_inverse=True, return_counts=True)
        where = where.ravel()
        outside = twice[where] == 1
        self.sides, self.side_region, self.side_face = lone[outside], owner[outside], face[outside]
        order = np.argsort(where, kind="stable")
        paired = order[~outside[order]].reshape(-1, 2)
        a, b = paired.T
        second = lone[b]
        same = np.hypot(*(self.points[lone[a, 0]] - self.points[second[:, 0]]).T) < NEAR * self.size
        second = np.where(same[:, None], second, second[:, ::-1])
        self.joints = np.column_stack([lone[a], second])
        self.joint_regions = np.column_stack([owner[a], owner[b]])
        self.joint_face = np.maximum(face[a], face[b])

    def _areas(self) -> Array:
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        u, v = b - a, c - a
        return np.asarray((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0)

    def _lone(self) -> tuple[Whole, Whole]:
        """Sides that one triangle alone has, and its region."""
        t = self.triangles
        every = np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
        owner = np.tile(self.region, 3)
        _, first, twice = np.unique(np.sort(every, axis=1), axis=0, return_index=True, return_counts=True)
        mine = first[twice == 1]
        return every[mine], owner[mine]

    def _named(self, sides: Whole, middle: Array) -> Whole:
        """Index of the edge or channel on which each side lies, -1 for none."""
        found = np.full(len(sides), -1)
        for number, edge in enumerate(self.problem.edges):
            start, end = np.array(edge.start, float), np.array(edge.end, float)
            run = end - start
            share = np.clip((middle - start) @ run / (run @ run), 0.0, 1.0)
            off = np.hypot(*(middle - start - share[:, None] * run).T)
            along = self.points[sides[:, 1]] - self.points[sides[:, 0]]
            askew = np.abs(along[:, 0] * run[1] - along[:, 1] * run[0]) / (np.hypot(*along.T) * np.hypot(*run))
            found[(off < NEAR * self.size) & (askew < 1e-3) & (found < 0)] = number
        for number, channel in enumerate(self.problem.channels, start=len(self.problem.edges)):
            radius = channel.diameter / 2.0
            off = np.abs(np.hypot(*(self.points[sides] - np.array(channel.centre)).transpose(2, 0, 1)) - radius)
            found[(off < ON_CIRCLE * radius).all(axis=1) & (found < 0)] = number
        return found

    def length(self, ends: Whole, face: Whole) -> Array:
        """Length of sides [m]; on a channel that of the arc."""
        chord = np.hypot(*(self.points[ends[:, 1]] - self.points[ends[:, 0]]).T)
        out = chord.copy()
        for number, channel in enumerate(self.problem.channels, start=len(self.problem.edges)):
            mine = face == number
            out[mine] = channel.diameter * np.arcsin(np.minimum(chord[mine] / channel.diameter, 1.0))
        return np.asarray(out)

    def locate(self, points: Array, region: int) -> tuple[Whole, Array]:
        """(triangle of each place, shares of its corners (places, 3)) in a region; triangle -1 where there is none."""
        mine = np.flatnonzero(self.region == region)
        p = self.points[self.triangles[mine]]
        found, shares = np.full(len(points), -1), np.zeros((len(points), 3))
        for i, place in enumerate(points):
            first, second = (
                ((p[:, a, 0] - place[0]) * (p[:, b, 1] - place[1]) - (p[:, b, 0] - place[0]) * (p[:, a, 1] - place[1]))
                for a, b in ((1, 2), (2, 0))
            )
            share = np.column_stack([first, second]) / (2.0 * self.area[mine])[:, None]
            share = np.column_stack([share, 1.0 - share.sum(axis=1)])
            best = int(np.argmax(share.min(axis=1)))
            if share[best].min() > -1e-6:
                found[i], shares[i] = mine[best], share[best]
        return found, shares


@dataclass(frozen=True)
class Look:
    """Where and when answers are compared: places (n, 2) [m], the region of each, times [s], and which of these are early.

    early : (times,) within the first quarter of a station, for which a case's accuracy promises nothing.
    """

    where: Array
    which: Whole
    times: Array
    early: NDArray[np.bool_]


def places(problem: SectionProblem, mesh: SectionMesh) -> tuple[Array, Whole]:
    """Places at which answers are compared, (places, 2) [m], and the region of each: some of the mesh's nodes.

    Values are known at nodes; between them a straight line would add an error of its own. Taken are the nodes nearest to a
    lattice over the box of each region, but none by a corner (a fiftieth of the box) or a channel's wall, where a mesh bends.
    """
    shape = Shape(problem, mesh)
    across, up = np.array([0.06, 0.21, 0.37, 0.5, 0.71, 0.93]), np.array([0.0, 0.32, 0.55, 1.0])
    corners = np.concatenate([np.asarray(region.outline, float) for region in problem.regions])
    kept, owner = [], []
    for number, region in enumerate(problem.regions):
        low, high = np.min(region.outline, axis=0), np.max(region.outline, axis=0)
        nodes = shape.points[np.unique(shape.triangles[shape.region == number])]
        away = np.hypot(*(nodes[:, None] - corners[None]).transpose(2, 0, 1)).min(axis=1)
        good = away > 0.02 * float(np.hypot(*(high - low)))
        for channel in problem.channels:
            good &= np.hypot(*(nodes - np.array(channel.centre)).T) > 0.75 * channel.diameter
        nodes = nodes[good]
        x, y = (a.ravel() for a in np.meshgrid(across, up))
        lattice = low + np.column_stack([x, y]) * (high - low)
        nearest = np.hypot(*(nodes[:, None] - lattice[None]).transpose(2, 0, 1)).argmin(axis=0)
        kept.append(nodes[np.unique(nearest)])
        owner.append(np.full(len(kept[-1]), number))
    return np.concatenate(kept), np.concatenate(owner)
