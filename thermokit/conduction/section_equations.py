"""The equations of a section while the same regions are there and the same nodes are held: per node i, in watts,

    dH_i/dt = F_i = power_i - sum_j K_ij T_j - sum_stuffs S_ij Theta(T_j) - linear_i T_i - quartic_i sigma T_i^4

with S and Theta of :mod:`thermokit.conduction.section_matrices`, K = k S of what conducts constantly plus the touches, faces of
:mod:`thermokit.conduction.section_faces`. Nodes on a face of prescribed temperature are held; the heat that keeps them so comes
through that face. Nodes of absent regions are left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.enthalpy import sensible_enthalpy
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_faces import SectionPiece
    from thermokit.conduction.section_matrices import SectionBody, Stuff
    from thermokit.conduction.section_media import NodeEnergy

    Whole = NDArray[np.intp]


def factorised(matrix: Any) -> Any:
    """SuperLU factors of a matrix in columns, symmetric in pattern, in a good order already and in no need of pivots.

    Without supernodes: on meshes of some ten thousand triangles gathering columns costs more than it gains (measured, four times).
    """
    from scipy.sparse.linalg import splu

    options = {"SymmetricMode": True}
    return splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, relax=1, panel_size=1, options=options)


def good_order(body: SectionBody) -> Whole:
    """Nodes in an order in which factors stay sparse (minimum degree), for the whole section and any part of it."""
    from scipy.sparse.linalg import splu

    pattern = body.pattern
    data = np.full(len(pattern.indices), -1.0)
    data[body.diagonal] = np.diff(pattern.indptr)
    options = {"SymmetricMode": True}
    matrix = pattern.matrix(data)
    factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, relax=1, panel_size=1, options=options)
    return np.argsort(factors.perm_c)


class Kirchhoff:
    """One stuff whose conductivity k depends on temperature.

    ``rows`` times the integral of k over the temperature at ``nodes`` is the heat that leaves every node [W].
    """

    def __init__(self, body: SectionBody, stuff: Stuff):
        curve = stuff.medium.conductivity
        assert isinstance(curve, Curve)
        self.stiffness, self.nodes = stuff.stiffness, stuff.nodes
        self.rows = body.pattern.matrix(stuff.stiffness)[:, stuff.nodes].tocsr()
        self.temperature, self.value = curve.temperature, curve.value
        at_nodes = sensible_enthalpy(curve.temperature, curve)
        # one more piece at each end, where the conductivity stays what it is
        self._from = np.concatenate([curve.temperature[:1], curve.temperature])
        self._begun = np.concatenate([at_nodes[:1], at_nodes])
        self._k = np.concatenate([curve.value[:1], curve.value])
        slopes = np.diff(curve.value) / np.diff(curve.temperature)
        self._half = np.concatenate([[0.0], slopes / 2, [0.0]])

    def integral(self, temperature: Array) -> Array:
        """Integral of the conductivity from its first node on [W/m], exact."""
        i = np.searchsorted(self.temperature, temperature, side="right")
        rise = temperature - self._from[i]
        return np.asarray(self._begun[i] + rise * (self._k[i] + rise * self._half[i]))


class SectionSystem:
    """Matrices that pieces with the same regions, coefficients and held nodes share.

    active, held : (nodes,) flags; free : the nodes that are solved for, in a good order; linear : whether one matrix serves every
    step; varies : whether coefficients change within a piece.
    """

    def __init__(
        self, body: SectionBody, energy: NodeEnergy, order: Whole, absent: frozenset[str], piece: SectionPiece
    ):
        self.body, self.energy = body, energy
        problem = body.problem
        self.present = np.array([region.name not in absent for region in problem.regions])
        self.active = self.present[body.owner]
        self.face_ids = sorted(piece.faces)
        self._areas(piece)
        self.free = order[(self.active & ~self.held)[order]]
        self.held_nodes = np.flatnonzero(self.held)
        here = {body.stuff_of[i] for i in np.flatnonzero(self.present)}
        self.curved = [Kirchhoff(body, s) for i, s in enumerate(body.stuffs) if i in here and s.curved_conductivity]
        conduction = np.zeros(len(body.pattern.indices))
        for stuff in body.stuffs:
            if not stuff.curved_conductivity:
                conduction += stuff.constant_conductivity * stuff.stiffness
        self.conduction = conduction
        self._touches()
        lines = piece.faces.values()
        self.varies = any(face.linear_varies for face in lines) or any(rise for _, rise in piece.touches.values())
        self.quartic = self.area_t @ np.array([piece.faces[f].quartic for f in self.face_ids])
        self.radiates = bool(np.any(self.quartic))
        straight = energy.straight or not np.any(energy.curved[self.active])
        self.linear = straight and not self.curved and not self.radiates and not self.varies
        self._submatrix()
        self.base, self.lin = self.coefficients(piece, 0.0)
        self.base_csr = self.base.tocsr()
        self.factors: dict[float, Any] = {}

    def _areas(self, piece: SectionPiece) -> None:
        """Area of each face at each node, and which nodes are held."""
        from scipy.sparse import csr_matrix

        body, mesh = self.body, self.body.mesh
        n = body.nodes
        pair = self.present[mesh.joint_regions.reshape(-1, 2)]
        self.joint_apart = pair[:, 0] != pair[:, 1]
        self.joint_closed = pair[:, 0] & pair[:, 1]
        joints = mesh.joints.reshape(-1, 4)
        bare = np.where(pair[:, :1], joints[:, :2], joints[:, 2:])
        rows, columns, areas = [], [], []
        self.held = np.zeros(n, bool)
        for row, f in enumerate(self.face_ids):
            sides = (mesh.side_face == f) & self.present[mesh.side_region]
            left = (mesh.joint_face == f) & self.joint_apart
            nodes = np.concatenate([mesh.sides.reshape(-1, 2)[sides].ravel(), bare[left].ravel()])
            area = np.concatenate([body.side_area[sides].ravel(), body.joint_area[left].ravel()])
            rows.append(np.full(len(nodes), row))
            columns.append(nodes)
            areas.append(area)
            if piece.faces[f].temperature is not None:
                self.held[nodes] = True
        flat = [np.concatenate(part) if part else np.zeros(0) for part in (rows, columns, areas)]
        self.area = csr_matrix((flat[2], (flat[0].astype(int), flat[1].astype(int))), shape=(len(self.face_ids), n))
        self.area_t = self.area.T.tocsr()
        self.total_area = np.asarray(self.area.sum(axis=1)).ravel()
        self.holding = np.array([piece.faces[f].temperature is not None for f in self.face_ids], bool)
        total = self.area_t @ self.holding.astype(float)
        # a node that two faces hold has the mean of both, weighted by their areas; its heat is shared likewise
        self.share = csr_matrix(self.area.multiply(self.holding[:, None] / np.where(total > 0.0, total, 1.0)[None, :]))
        self.share_t = self.share.T.tocsr()

    def _touches(self) -> None:
        """Number of the touch of each joint, -1 where regions that can be absent touch perfectly without one."""
        problem, mesh = self.body.problem, self.body.mesh
        names = [region.name for region in problem.regions]
        number = {frozenset(touch.between): i for i, touch in enumerate(problem.touches)}
        pairs = mesh.joint_regions.reshape(-1, 2)
        self.touch = np.array([number.get(frozenset((names[a], names[b])), -1) for a, b in pairs], int)

    def _submatrix(self) -> None:
        pattern = self.body.pattern
        numbers = pattern.matrix(np.arange(1, len(pattern.indices) + 1, dtype=float))
        rows = numbers.tocsr()[self.free]
        inner = rows[:, self.free].tocsc()
        inner.sort_indices()
        self.inner = inner.data.astype(np.intp) - 1
        self.indices, self.indptr = inner.indices, inner.indptr
        size = len(self.free)
        columns = np.repeat(np.arange(size), np.diff(inner.indptr))
        self.inner_diagonal = np.flatnonzero(inner.indices == columns)
        self.columns = pattern.columns

    def coefficients(self, piece: SectionPiece, tau: float) -> tuple[Any, Array]:
        """(K, sparse in columns (nodes, nodes) [W/K], linear (nodes,) [W/K]) at a time of a piece."""
        data = self.conduction
        if len(self.touch):
            values = np.array([v + r * tau for v, r in (piece.touches[i] for i in sorted(piece.touches))] + [TIGHT])
            data = data + self.body.joint_data(np.where(self.joint_closed, values[self.touch], 0.0))
        linear = self.area_t @ np.array([piece.faces[f].linear(tau) for f in self.face_ids])
        return self.body.pattern.matrix(data), linear

    # -- what enters ------------------------------------------------------------------------------------------------

    def drives(self, piece: SectionPiece, tau: float) -> Array:
        """(faces,) drive of each face [W/m2]; zero for those that hold a temperature."""
        return np.array([piece.faces[f].drive(tau) for f in self.face_ids])

    def sources(self, piece: SectionPiece, tau: float) -> tuple[Array | float, float]:
        """(power of internal sources at the nodes [W], their sum [W])."""
        power: Array | float = 0.0
        for i, (value, rise) in piece.heat.items():
            if self.present[i]:
                power = power + (value + rise * tau) * self.body.volume[i]
        return power, float(np.sum(power))

    def held_temperature(self, piece: SectionPiece, tau: float) -> Array:
        """Temperatures of the held nodes [K]."""
        lines = [piece.faces[f].temperature for f in self.face_ids]
        values = np.array([0.0 if line is None else line[0] + line[1] * tau for line in lines])
        return np.asarray((self.share_t @ values)[self.held_nodes])

    def flow(self, temperature: Array, power: Array | float, base: Any, linear: Array) -> Array:
        """F, the heat into every node [W], (nodes,); means nothing at absent nodes."""
        # rows of K add up to nothing: what all have in common is taken away first, for the sake of the last digits
        out = power - base @ (temperature - temperature[self.free[:1]].sum()) - linear * temperature
        for curved in self.curved:
            out = out - curved.rows @ curved.integral(temperature[curved.nodes])
        if self.radiates:
            out = out - STEFAN_BOLTZMANN * self.quartic * temperature**4
        return np.asarray(out)

    def face_heat(self, temperature: Array, drives: Array, piece: SectionPiece, tau: float) -> Array:
        """(faces,) heat into the section through each face that holds nothing [W]."""
        heat = self.total_area * drives
        linear = np.array([piece.faces[f].linear(tau) for f in self.face_ids])
        heat = heat - linear * (self.area @ temperature)
        if self.radiates:
            quartic = np.array([piece.faces[f].quartic for f in self.face_ids])
            heat = heat - STEFAN_BOLTZMANN * quartic * (self.area @ temperature**4)
        return np.asarray(heat)

    # -- matrices ---------------------------------------------------------------------------------------------------

    def jacobian(self, temperature: Array, capacity: Array, a: float, base: Any, linear: Array) -> Any:
        """diag(capacity) - a dF/dT of the free nodes, sparse in columns."""
        data = base.data
        for curved in self.curved:
            k = np.zeros(len(temperature))
            k[curved.nodes] = np.interp(temperature[curved.nodes], curved.temperature, curved.value)
            data = data + curved.stiffness * k[self.columns]
        diagonal = linear
        if self.radiates:
            diagonal = diagonal + 4.0 * STEFAN_BOLTZMANN * self.quartic * temperature**3
        return self._free_matrix(data, capacity, diagonal, a)

    def _free_matrix(self, data: Array, capacity: Array, diagonal: Array, a: float) -> Any:
        from scipy.sparse import csc_matrix

        entries = a * data[self.inner]
        entries[self.inner_diagonal] += capacity[self.free] + a * diagonal[self.free]
        size = len(self.free)
        return csc_matrix((entries, self.indices, self.indptr), shape=(size, size))

    def linear_factor(self, a: float) -> Any:
        """Factors of C + a K where the system is linear; made once for each ``a``."""
        if a not in self.factors:
            matrix = self._free_matrix(self.base.data, self.energy.capacity, self.lin, a)
            self.factors[a] = factorised(matrix)
        return self.factors[a]


TIGHT = 1e7  # W/m2/K, of regions that touch perfectly though one of them can be absent: 0.1 K for a MW/m2
