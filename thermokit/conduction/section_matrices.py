"""A section as sparse matrices: vertex-centred finite volumes on triangles.

Node i owns what is nearer to it than to any other node (its Voronoi cell, cut by material). In a triangle with corners i, j, m
the cells of i and j meet along the perpendicular from the middle of their side to the centre of the circle through the
corners. For a medium of unit conductivity the heat from i to j there is S_ij (T_i - T_j) with

    -S_ij = r cot(angle at m)/2,      volume of the half of i: r' l_ij^2 cot(angle at m)/8

r, r' : radius (1 in the plane, 2 pi x in an axisymmetric section) in the middle of that perpendicular, and at the centroid of what
lies between it and i, which integrates r exactly; both are signed where a triangle is obtuse. In the plane S is that of
linear triangles; volumes that are one third of each triangle would do too, but are several times less exact (corners!), and
in a ring both must go together. S is symmetric and its rows add up to nothing, so heat is conserved; two stuffs that meet
act in series along a line that crosses both.

A conductivity that depends on temperature is taken by Kirchhoff's transformation, region by region: with
Theta(T) = integral of k dT the heat that leaves the nodes is S Theta(T), exact in the steady state wherever S is, and its
slope S diag(k(T)) needs no new assembly.

Sources: Eymard, Gallouet & Herbin, Finite Volume Methods (Handbook of Numerical Analysis VII, 2000), section 9; Kirchhoff's
transformation, Carslaw & Jaeger, Conduction of Heat in Solids (1959), section 2.16.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array, Medium
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem

    Whole = NDArray[np.integer[Any]]


SMALL = 0.1  # share of a third of its triangles, below which no node is left


@dataclass(frozen=True)
class Pattern:
    """Places of the entries of a symmetric sparse matrix in columns: data[k] stands in row ``indices[k]``."""

    size: int
    indptr: Whole
    indices: Whole
    columns: Whole

    def places(self, rows: Whole, columns: Whole) -> Whole:
        """Where entries stand in ``data``; all of them must be in the pattern."""
        key = self.columns.astype(np.int64) * self.size + self.indices
        return np.searchsorted(key, columns.astype(np.int64) * self.size + rows)

    def matrix(self, data: Array) -> Any:
        """The sparse matrix with these entries."""
        from scipy.sparse import csc_matrix

        return csc_matrix((data, self.indices, self.indptr), shape=(self.size, self.size))


@dataclass(frozen=True)
class Stuff:
    """One medium of the section: the data of S of its triangles, and the nodes that own some of it with their volumes [m3]."""

    medium: Medium
    stiffness: Array
    nodes: Whole
    volume: Array

    @property
    def curved_conductivity(self) -> bool:
        """True where the conductivity depends on temperature."""
        k = self.medium.conductivity
        return isinstance(k, Curve) and len(np.unique(k.value)) > 1

    @property
    def curved_energy(self) -> bool:
        """True where the heat content is not a straight line over temperature."""
        cp = self.medium.specific_heat
        return self.medium.melting is not None or (isinstance(cp, Curve) and len(np.unique(cp.value)) > 1)

    @property
    def constant_conductivity(self) -> float:
        """The conductivity where it is constant [W/m/K]."""
        k = self.medium.conductivity
        return float(k.value[0]) if isinstance(k, Curve) else float(k)

    @property
    def constant_heat(self) -> float:
        """The specific heat where it is constant [J/kg/K]."""
        cp = self.medium.specific_heat
        return float(cp.value[0]) if isinstance(cp, Curve) else float(cp)


@dataclass(frozen=True)
class SectionBody:
    """A meshed section, assembled, with every region in place.

    stuffs : one a medium; stuff_of : index of each region's; owner : (nodes,) a region of each node; volume : region ->
    (nodes,) [m3, of a metre of depth or of the whole ring]. joint_area : (joints, 2) and side_area : (sides, 2), the area
    that each of their nodes has; joint_place : (joints, 2, 4) of (aa, bb, ab, ba) in the pattern; diagonal : (nodes,).
    """

    problem: SectionProblem
    mesh: SectionMesh
    pattern: Pattern
    stuffs: tuple[Stuff, ...]
    stuff_of: tuple[int, ...]
    owner: Whole
    volume: tuple[Array, ...]
    diagonal: Whole
    joint_place: Whole
    joint_area: Array
    side_area: Array

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.mesh.x)

    def joint_data(self, conductance: Array) -> Array:
        """Entries of the matrix of joints with these conductances, (joints,) [W/m2/K]."""
        flow = self.joint_area * conductance[:, None]
        data = np.stack([flow, flow, -flow, -flow], axis=2)
        return summed(self.joint_place, data, len(self.pattern.indices))


def assemble_section(problem: SectionProblem, mesh: SectionMesh) -> SectionBody:
    """Matrices and areas of a meshed section."""
    n = len(mesh.x)
    radius = 2.0 * np.pi * mesh.x if problem.axisymmetric else np.ones(n)
    share, stiffness = _triangles(mesh, radius)
    joints = mesh.joints.reshape(-1, 4).astype(np.intp)
    a, b = joints[:, :2], joints[:, 2:]
    triangles = mesh.triangles.astype(np.intp)
    rows = np.repeat(triangles, 3, axis=1)  # local entry 3 i + j stands in row i, column j
    columns = np.tile(triangles, 3)
    every = np.arange(n)
    pattern = _pattern(
        n,
        np.concatenate([rows.ravel(), a.ravel(), b.ravel(), every]),
        np.concatenate([columns.ravel(), b.ravel(), a.ravel(), every]),
    )
    place = pattern.places(rows, columns)

    media = [region.medium for region in problem.regions]
    kinds: list[Medium] = []
    for medium in media:
        if not any(medium is known for known in kinds):
            kinds.append(medium)
    stuff_of = tuple(next(i for i, known in enumerate(kinds) if medium is known) for medium in media)
    stuff_of_cell = np.array(stuff_of, int)[mesh.region]
    stuffs = []
    for i, medium in enumerate(kinds):
        mine = stuff_of_cell == i
        _without_small(share, triangles, radius, mine)
        volume = summed(triangles[mine], share[mine], n)
        nodes = np.flatnonzero(np.bincount(triangles[mine].ravel(), minlength=n))
        data = summed(place[mine], stiffness[mine], len(pattern.indices))
        stuffs.append(Stuff(medium, data, nodes, volume[nodes]))
    owner = np.zeros(n, np.intp)
    owner[triangles.ravel()] = np.repeat(mesh.region, 3)
    volumes = tuple(summed(triangles[mesh.region == i], share[mesh.region == i], n) for i in range(len(media)))
    return SectionBody(
        problem=problem,
        mesh=mesh,
        pattern=pattern,
        stuffs=tuple(stuffs),
        stuff_of=stuff_of,
        owner=owner,
        volume=volumes,
        diagonal=pattern.places(every, every),
        joint_place=np.stack([pattern.places(*pair) for pair in ((a, a), (b, b), (a, b), (b, a))], axis=2),
        joint_area=_edge_areas(mesh, radius, a),
        side_area=_edge_areas(mesh, radius, mesh.sides.reshape(-1, 2)) * _roundness(problem, mesh)[:, None],
    )


def summed(places: Whole, values: Array, size: int) -> Array:
    """(size,) sums of the values that fall on each place; both of any one shape."""
    return np.asarray(np.bincount(places.ravel(), weights=values.ravel(), minlength=size), float)


def _triangles(mesh: SectionMesh, radius: Array) -> tuple[Array, Array]:
    """(volumes of the corners' shares (cells, 3) [m3], local stiffness of unit conductivity (cells, 9), row by row)."""
    x, y, r = mesh.x[mesh.triangles], mesh.y[mesh.triangles], radius[mesh.triangles]
    # side k lies opposite corner k, from corner k + 1 to corner k + 2
    dx, dy = np.roll(x, -2, axis=1) - np.roll(x, -1, axis=1), np.roll(y, -2, axis=1) - np.roll(y, -1, axis=1)
    square = dx**2 + dy**2
    twice = dx[:, 0] * dy[:, 1] - dx[:, 1] * dy[:, 0]
    cotangent = (square.sum(axis=1)[:, None] - 2.0 * square) / (2.0 * twice[:, None])
    # radius at the centre of the circle through the corners, linear as it is
    weight = square * (square.sum(axis=1)[:, None] - 2.0 * square)
    centre = (weight * r).sum(axis=1) / weight.sum(axis=1)
    share, local = np.zeros_like(x), np.zeros((len(x), 3, 3))
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        middle = (r[:, i] + r[:, j]) / 2
        flow = cotangent[:, k] / 2 * (middle + centre) / 2
        local[:, i, j] = local[:, j, i] = -flow
        local[:, i, i] += flow
        local[:, j, j] += flow
        half = square[:, k] * cotangent[:, k] / 8
        share[:, i] += half * (r[:, i] + middle + centre) / 3
        share[:, j] += half * (r[:, j] + middle + centre) / 3
    return share, local.reshape(-1, 9)


def _without_small(share: Array, triangles: Whole, radius: Array, mine: NDArray[np.bool_]) -> None:
    """Give the corners of some triangles (flags) equal shares instead, in place, where a node would be left next to nothing."""
    total = share[mine].sum(axis=1)[:, None]
    r = radius[triangles[mine]]
    equal = total * (r + r.sum(axis=1)[:, None]) / (4.0 * r.sum(axis=1)[:, None])
    nodes = triangles[mine].ravel()
    own = summed(nodes, share[mine], int(nodes.max(initial=0)) + 1)
    usual = summed(nodes, equal, int(nodes.max(initial=0)) + 1)
    if np.any(own < SMALL * usual):
        share[mine] = equal


def _pattern(n: int, rows: Whole, columns: Whole) -> Pattern:
    keys = np.unique(columns.astype(np.int64) * n + rows)
    columns, rows = (keys // n).astype(np.intp), (keys % n).astype(np.int32)
    indptr = np.searchsorted(columns, np.arange(n + 1))
    return Pattern(n, indptr.astype(np.int32), rows, columns)


def _edge_areas(mesh: SectionMesh, radius: Array, ends: Whole) -> Array:
    """(edges, 2) area of each node of edges [m2, of a metre of depth or of the whole ring]."""
    a, b = ends[:, 0], ends[:, 1]
    length = np.hypot(mesh.x[b] - mesh.x[a], mesh.y[b] - mesh.y[a])
    total = radius[ends].sum(axis=1)
    return np.asarray((2.0 * radius[ends] + total[:, None]) * (length / 8.0)[:, None])


def _roundness(problem: SectionProblem, mesh: SectionMesh) -> Array:
    """(sides,) length of the true arc over that of the chord where a side belongs to a channel, else 1."""
    factor = np.ones(len(mesh.side_face))
    sides = mesh.sides.reshape(-1, 2)
    for i, channel in enumerate(problem.channels):
        mine = np.flatnonzero(mesh.side_face == len(problem.edges) + i)
        dx, dy = mesh.x[sides[mine]] - channel.centre[0], mesh.y[sides[mine]] - channel.centre[1]
        turn = np.abs(np.angle((dx + 1j * dy)[:, 1] / (dx + 1j * dy)[:, 0]))
        chord = np.hypot(np.diff(dx, axis=1), np.diff(dy, axis=1))[:, 0]
        factor[mine] = turn * channel.diameter / 2 / chord
    return factor
