"""The control volumes about the nodes of a section, as a mesh of FiPy's, and the one equation that is solved on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.fipy_stage import load_fipy
from thermokit.conduction.problem import Curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem, Whole

    Flags = NDArray[np.bool_]

LEAST = 0.1  # of a third of its triangles, below which a node's volume is no use
PERFECT = 1e9  # W/m2/K, conductance between nodes that are doubled only because a region can be absent


class SectionCells:
    """Cells about nodes: who exchanges heat with whom, through what area over what distance.

    pairs : (2, lines) nodes; area, distance : of each line [m2 and m]: first those along edges of triangles, one for each medium
    that an edge runs in (stuff : (edges,) its region), then the joints (distance 1). volume : one (nodes,) a region [m3].
    """

    def __init__(self, problem: SectionProblem, mesh: SectionMesh):
        self.problem, self.mesh = problem, mesh
        self.radius = 2.0 * np.pi * mesh.x if problem.axisymmetric else np.ones(len(mesh.x))
        self.owner = np.zeros(len(mesh.x), dtype=int)
        self.owner[mesh.triangles.ravel()] = np.repeat(mesh.region, 3)
        self.volume = self._volumes()
        pairs, self.stuff, area, distance = self._lines()
        joints = mesh.joints.reshape(-1, 4)
        own = self._ends_area(joints[:, :2])
        self.joint_regions = np.repeat(mesh.joint_regions.reshape(-1, 2), 2, axis=0)
        self.pairs = np.concatenate([pairs, np.stack([joints[:, :2].ravel(), joints[:, 2:].ravel()])], axis=1)
        self.edges = pairs.shape[1]
        self.area = np.concatenate([area, own.ravel()])
        self.distance = np.concatenate([distance, np.ones(own.size)])
        self._equation()

    def _halves(self) -> list[tuple[int, int, Array, Array, Array]]:
        """For each side of every triangle: its corners i and j, area of the line from its middle to the circumcentre, and the
        volumes of what lies between that line and i, and j; all signed where a triangle is obtuse."""
        mesh = self.mesh
        p = np.stack([mesh.x[mesh.triangles], mesh.y[mesh.triangles]], axis=-1)
        b, c = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
        twice = 2.0 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
        bb, cc = (b**2).sum(axis=1), (c**2).sum(axis=1)
        centre = p[:, 0] + np.column_stack(
            [(c[:, 1] * bb - b[:, 1] * cc) / twice, (b[:, 0] * cc - c[:, 0] * bb) / twice]
        )
        out = []
        for i, j in ((0, 1), (1, 2), (2, 0)):
            along, middle = p[:, j] - p[:, i], (p[:, i] + p[:, j]) / 2.0
            length = np.hypot(*along.T)
            inward = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
            line = ((centre - middle) * inward).sum(axis=1)
            ends, half = self._around(middle[:, 0]) + self._around(centre[:, 0]), line * length / 4.0
            volumes = [half * (self._around(p[:, k, 0]) + ends) / 3.0 for k in (i, j)]
            out.append((i, j, line * ends / 2.0, *volumes))
        return out

    def _around(self, x: Array) -> Array:
        """Length of the ring through a place, 1 in the plane."""
        return 2.0 * np.pi * x if self.problem.axisymmetric else np.ones_like(x)

    def _volumes(self) -> list[Array]:
        """Volume that each node owns of each region: what is nearer to it than to any other node."""
        mesh, n = self.mesh, len(self.mesh.x)
        share = np.zeros(mesh.triangles.shape)
        for i, j, _, first, second in self._halves():
            share[:, i] += first
            share[:, j] += second
        r = self.radius[mesh.triangles]
        equal = (
            share.sum(axis=1, keepdims=True) * (r + r.sum(axis=1, keepdims=True)) / (4.0 * r.sum(axis=1, keepdims=True))
        )
        out = []
        for i in range(len(self.problem.regions)):
            mine = mesh.region == i
            own, thirds = (
                np.bincount(mesh.triangles[mine].ravel(), part[mine].ravel(), n).astype(float)
                for part in (share, equal)
            )
            out.append(thirds if np.any(own < LEAST * thirds) else own)
        return out

    def _lines(self) -> tuple[Any, Any, Array, Array]:
        """(nodes (2, lines), region, area, distance) of the lines between neighbours, one for each region they run in."""
        mesh = self.mesh
        keys, areas = [], []
        for i, j, area, *_ in self._halves():
            areas.append(area)
            keys.append(np.column_stack([np.sort(mesh.triangles[:, [i, j]], axis=1), mesh.region]))
        lines, where = np.unique(np.concatenate(keys), axis=0, return_inverse=True)
        total = np.bincount(where.ravel(), np.concatenate(areas), len(lines)).astype(float)
        first, last, region = lines.T
        distance = np.hypot(mesh.x[last] - mesh.x[first], mesh.y[last] - mesh.y[first])
        return np.stack([first, last]), region, total, distance

    def _ends_area(self, ends: Whole) -> Array:
        """(sides, 2) area that each end of a side has."""
        mesh, r = self.mesh, self.radius[ends]
        length = np.hypot(mesh.x[ends[:, 1]] - mesh.x[ends[:, 0]], mesh.y[ends[:, 1]] - mesh.y[ends[:, 0]])
        return np.asarray(length[:, None] * (r + r.sum(axis=1, keepdims=True)) / 6.0)

    def there(self, absent: frozenset[str]) -> Flags:
        """(nodes,) whether a node's region is there."""
        shown = np.array([region.name not in absent for region in self.problem.regions])
        return np.asarray(shown[self.owner])

    def active(self, there: Flags) -> Array:
        """(lines,) 1 where both ends are there, else 0."""
        return np.asarray((there[self.pairs[0]] & there[self.pairs[1]]).astype(float))

    def faces(self, absent: frozenset[str]) -> dict[str, tuple[Whole, Array]]:
        """Name of a face -> (nodes, areas) of what it touches, with what absent regions leave bare."""
        mesh, there = self.mesh, self.there(absent)
        sides, sides_face = [mesh.sides.reshape(-1, 2)], [mesh.side_face]
        joints = mesh.joints.reshape(-1, 4)
        for own, other in ((joints[:, :2], joints[:, 2:]), (joints[:, 2:], joints[:, :2])):
            bare = there[own[:, 0]] & ~there[other[:, 0]]
            sides.append(own[bare])
            sides_face.append(mesh.joint_face[bare])
        ends, face = np.concatenate(sides), np.concatenate(sides_face)
        area = self._ends_area(ends)
        out = {}
        for i, name in enumerate(self.problem.face_names):
            mine = (face == i) & there[ends[:, 0]]
            if not mine.any():
                continue
            found = area[mine]
            if i >= len(self.problem.edges):  # a chord stands for its arc
                found = found * self._arc(ends[mine], self.problem.channels[i - len(self.problem.edges)])[:, None]
            out[name] = (ends[mine].ravel(), found.ravel())
        return out

    def _arc(self, ends: Whole, channel: Any) -> Array:
        """Length of the arc over that of the chord."""
        x, y = self.mesh.x[ends] - channel.centre[0], self.mesh.y[ends] - channel.centre[1]
        half = np.hypot(np.diff(x, axis=1), np.diff(y, axis=1))[:, 0] / channel.diameter
        return np.asarray(np.arcsin(np.minimum(half, 1.0)) / half)

    def conductivity(self, t: Array) -> Array:
        """(edges,) conductivity between the two ends, its mean between their temperatures (Simpson's rule)."""
        out = np.empty(self.edges)
        a, b = t[self.pairs[0, : self.edges]], t[self.pairs[1, : self.edges]]
        for i, region in enumerate(self.problem.regions):
            k, own = region.medium.conductivity, self.stuff == i
            if not isinstance(k, Curve):
                out[own] = float(k)
                continue
            ends = [np.interp(x, k.temperature, k.value) for x in (a[own], (a[own] + b[own]) / 2.0, b[own])]
            out[own] = (ends[0] + 4.0 * ends[1] + ends[2]) / 6.0
        return out

    def strength(self, gamma: Array) -> float:
        """The largest conductance of any line [W/K]."""
        return float(np.max(np.abs(gamma * self.area / self.distance)))

    def _equation(self) -> None:
        """FiPy's mesh, variables and terms."""
        fipy = load_fipy()
        mesh = _mesh(self)
        self.total = np.sum(self.volume, axis=0)
        self.unknown = fipy.CellVariable(mesh=mesh, value=300.0)
        self.capacity, self.given, self.taken = (fipy.CellVariable(mesh=mesh, value=1.0) for _ in range(3))
        self.gamma = fipy.FaceVariable(mesh=mesh, value=np.zeros(self.pairs.shape[1]))
        self.equation = fipy.TransientTerm(coeff=self.capacity) == (
            fipy.DiffusionTerm(coeff=self.gamma) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        from fipy.solvers.scipy import LinearLUSolver

        self.solver = LinearLUSolver(criterion="initial", tolerance=1e-12)

    def solve(self, t: Array, slope: Array, given: Array, taken: Array, gamma: Array, dt: float) -> Array:
        """Temperatures after one implicit step; slope, given, taken : of each node [J/K, W, W/K]."""
        self.gamma.setValue(gamma)
        self.capacity.setValue(slope / self.total)
        self.given.setValue(given / self.total)
        self.taken.setValue(taken / self.total)
        self.unknown.setValue(t)
        self.equation.sweep(var=self.unknown, dt=dt, solver=self.solver)
        return np.array(self.unknown.value)


def _mesh(cells: SectionCells) -> Any:
    """A mesh of FiPy's whose cells are the control volumes: what separates two of them stands at right angles to their line."""
    load_fipy()
    from fipy.meshes.mesh2D import Mesh2D

    points = np.array([cells.mesh.x, cells.mesh.y])
    pairs = cells.pairs
    count = pairs.shape[1]
    order = np.argsort(pairs.ravel(), kind="stable")
    node = pairs.ravel()[order]
    first = np.searchsorted(node, np.arange(points.shape[1]))
    rank = np.arange(len(node)) - first[node]
    of_cell = np.full((int(rank.max()) + 1, points.shape[1]), -1)
    of_cell[rank, node] = order % count
    along = points[:, pairs[1]] - points[:, pairs[0]]
    normals = np.where(np.hypot(*along) > 0.0, along / np.maximum(np.hypot(*along), 1e-300), [[1.0], [0.0]])
    volume = np.sum(cells.volume, axis=0)

    class ControlVolumes(Mesh2D):  # type: ignore[misc]
        """Geometry as it is given; FiPy's own would be that of polygons."""

        def _calcCellCenters(self) -> Array:
            return points

        def _calcFaceAreas(self) -> Array:
            return cells.area

        def _calcFaceNormals(self) -> Array:
            return normals

        def _calcCellVolumes(self) -> Array:
            return np.asarray(volume)

        def _calcCellDistAndVec(self) -> tuple[Array, Array]:
            return cells.distance, along

    return ControlVolumes(points, pairs, of_cell)
