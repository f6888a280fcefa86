"""What a settled shot says of the part and the mould's faces, as a function of the time at which the mould opens."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from thermokit.stations.mould import FACES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem, Whole

OTHER = {"cavity_face": 2, "core_face": 1}  # region that meets a face at its ends only
NEAR = 1e-6  # m, how far a node may lie off a face that it belongs to


@dataclass(frozen=True)
class FaceNodes:
    """The nodes along one face of the part, from left to right, on the part's side and on the metal's: (n,) each, and the way
    along the face [m].
    """

    part: Whole
    metal: Whole
    part_way: Array
    metal_way: Array


def face_nodes(mesh: SectionMesh, chain: Array, other: int) -> FaceNodes:
    """Nodes of the part (region 0) and of the metals but the ``other`` half that lie on a chain of straight runs."""
    of_part, of_other = np.zeros(len(mesh.x), bool), np.zeros(len(mesh.x), bool)
    of_part[mesh.triangles[mesh.region == 0].ravel()] = True
    of_other[mesh.triangles[mesh.region == other].ravel()] = True
    points = np.column_stack([mesh.x, mesh.y])
    begins = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain, axis=0).T))])
    best, way = np.full(len(points), np.inf), np.zeros(len(points))
    for a, b, begin in zip(chain[:-1], chain[1:], begins[:-1], strict=True):
        run = b - a
        share = np.clip((points - a) @ run / (run @ run), 0.0, 1.0)
        off = np.hypot(*(points - a - share[:, None] * run).T)
        nearer = off < best
        best[nearer], way[nearer] = off[nearer], begin + share[nearer] * np.hypot(*run)
    on = best < NEAR

    region = np.full(len(mesh.x), -1)
    region[mesh.triangles.ravel()] = np.repeat(mesh.region, 3)

    def ordered(nodes: Whole) -> tuple[Whole, Array]:
        nodes = nodes[np.argsort(way[nodes], kind="stable")]
        for k in range(1, len(nodes) - 1):
            # where two metals meet a place has a node of each: that of the metal so far comes first
            a, b = nodes[k], nodes[k + 1]
            if abs(way[a] - way[b]) < NEAR and region[b] == region[nodes[k - 1]] != region[a]:
                nodes[k], nodes[k + 1] = b, a
        return nodes, np.asarray(way[nodes])

    part, part_way = ordered(np.flatnonzero(on & of_part))
    metal, metal_way = ordered(np.flatnonzero(on & ~of_part & ~of_other))
    return FaceNodes(part, metal, part_way, metal_way)


def mean_along(way: Array, values: Array) -> Array:
    """Mean of values (..., n) along a face (trapezoid rule), (...)."""
    length = way[-1] - way[0]
    return np.asarray(np.trapezoid(values, way, axis=-1) / length if length > 0.0 else values.mean(axis=-1))


def node_areas(mesh: SectionMesh, region: int) -> Array:
    """Area that each node has of a region [m2], a third of each triangle."""
    cells = mesh.triangles[mesh.region == region]
    (x0, x1, x2), (y0, y1, y2) = (axis[cells].T for axis in (mesh.x, mesh.y))
    area = np.abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 2.0
    return np.asarray(np.bincount(cells.ravel(), np.repeat(area / 3.0, 3), len(mesh.x)), dtype=float)


@dataclass(frozen=True)
class MouldFacts:
    """A settled shot, read. Rows are those in which the part is in the mould; temperatures in K, times from the fill's end."""

    problem: SectionProblem
    history: SectionHistory
    chains: Mapping[str, Array]

    @cached_property
    def faces(self) -> dict[str, FaceNodes]:
        """Nodes along each face."""
        return {name: face_nodes(self.history.mesh, self.chains[name], OTHER[name]) for name in FACES}

    @cached_property
    def rows(self) -> Whole:
        """Numbers of the rows with the part in the mould."""
        return np.flatnonzero(self.history.span < 2)

    @cached_property
    def time(self) -> Array:
        """(rows,) [s]."""
        return np.asarray(self.history.time[self.rows])

    @cached_property
    def areas(self) -> Array:
        """Area of the part that each node stands for [m2]."""
        return node_areas(self.history.mesh, 0)

    @cached_property
    def part_nodes(self) -> Whole:
        """Numbers of the part's nodes."""
        return np.flatnonzero(self.areas > 0.0)

    @cached_property
    def part(self) -> Array:
        """(rows, nodes of the part) [K]."""
        return np.asarray(self.history.temperature[np.ix_(self.rows, self.part_nodes)])

    @cached_property
    def hottest(self) -> Array:
        """(rows,) hottest place of the part."""
        return np.asarray(self.part.max(axis=1))

    @cached_property
    def mean(self) -> Array:
        """(rows,) mean of the part by area."""
        weights = self.areas[self.part_nodes]
        return np.asarray(self.part @ weights / weights.sum())

    def part_face(self, name: str) -> Array:
        """(rows, nodes along it) of the part's own face."""
        return np.asarray(self.history.temperature[np.ix_(self.rows, self.faces[name].part)])

    @cached_property
    def face_difference(self) -> Array:
        """(rows,) mean of the part's face at the cavity less that at the core."""
        means = [mean_along(self.faces[name].part_way, self.part_face(name)) for name in FACES]
        return np.asarray(means[0] - means[1])

    def metal_face(self, name: str) -> Array:
        """(all rows, nodes along it) of the mould's face."""
        return np.asarray(self.history.temperature[:, self.faces[name].metal])

    @property
    def opening(self) -> int:
        """The row in which the mould opens."""
        return int(self.rows[-1])

    def hot_spot(self, name: str) -> tuple[float, float, float]:
        """(how much the hottest place of a mould face lies above its mean [K], its x and y [m]) when the mould opens."""
        own, face = self.faces[name], self.metal_face(name)[self.opening]
        at = int(np.argmax(face))
        node = own.metal[at]
        return (
            float(face[at] - mean_along(own.metal_way, face)),
            float(self.history.mesh.x[node]),
            float(self.history.mesh.y[node]),
        )

    def hottest_place(self) -> tuple[float, float]:
        """Where the part is hottest when the mould opens [m]."""
        node = self.part_nodes[int(np.argmax(self.part[-1]))]
        return float(self.history.mesh.x[node]), float(self.history.mesh.y[node])

    def coldest_face(self) -> float:
        """Coldest place of the mould's faces at any time of the shot [K]."""
        return float(min(np.nanmin(self.metal_face(name)) for name in FACES))

    def share_above(self, temperature: float, time: float) -> float:
        """Share of the part's area that is hotter than a temperature [K] at a time [s]."""
        weights = self.areas[self.part_nodes]
        held = np.array([np.interp(time, self.time, column) for column in self.part.T])
        return float(weights[held > temperature].sum() / weights.sum())

    def when_share(self, temperature: float, share: float) -> float | None:
        """Time [s] at which the share of the part hotter than a temperature [K] falls to ``share``; None before opening."""
        weights = self.areas[self.part_nodes]
        left = (self.part > temperature) @ weights / weights.sum()
        low = np.flatnonzero(left <= share)
        if not len(low):
            return None
        i = int(low[0])
        if i == 0:
            return float(self.time[0])
        a, b = left[i - 1], left[i]
        return float(self.time[i - 1] + (a - share) / (a - b) * (self.time[i] - self.time[i - 1]))

    def last_to_set(self, temperature: float) -> tuple[float | None, float, float]:
        """(time [s] at which the last place falls below a temperature [K], its x, y [m]); None where one stays hotter."""
        above = self.part > temperature
        x, y = self.hottest_place()
        if above[-1].any():
            return None, x, y
        last = int(np.flatnonzero(above.any(axis=1))[-1]) if above.any() else 0
        node = int(np.argmax(self.part[last]))
        a, b = self.hottest[last], self.hottest[min(last + 1, len(self.time) - 1)]
        share = (a - temperature) / (a - b) if a > b else 0.0
        after = self.time[min(last + 1, len(self.time) - 1)]
        at = self.part_nodes[node]
        mesh = self.history.mesh
        return float(self.time[last] + share * (after - self.time[last])), float(mesh.x[at]), float(mesh.y[at])
