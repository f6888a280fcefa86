"""MS with FiPy and with scikit-fem used directly, on the triangles that thermokit cut.

FiPy is given thermokit's control volumes about the nodes as its mesh (cells on the triangles themselves would be several times
less exact), assembles and solves every implicit step by itself. scikit-fem assembles once; its matrices are factored once for
each stage of the cycle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermokit.conduction.section_fipy_mesh import SectionCells
from thermokit.conduction.section_problem import SectionMesh, SectionProblem
from validation.speed.mould_section_problem import AIR, CONTACT, HOT, LEVEL, OPEN, SHUT, WALL, WARM

GAMMA = 1.0 - 1.0 / np.sqrt(2.0)


@dataclass
class Shot:
    """What a cycle gave.

    after : temperatures after it [K]; time : when the hottest place of the part reached 90 degC [s]; hottest : at
    20 s, over 25 degC.
    """

    after: np.ndarray
    time: float
    hottest: float


class Peaks:
    """Follows the hottest place of the part; between two steps by a straight line in its logarithm over the mould's 25 degC."""

    def __init__(self, part: np.ndarray):
        self.part, self.before, self.time, self.hottest = part, np.inf, np.nan, np.nan

    def look(self, t: np.ndarray, at: float, h: float) -> None:
        """After a step of h that ended at a time."""
        peak = float(t[self.part].max()) - WARM
        if self.before > LEVEL - WARM >= peak and np.isfinite(self.before):
            self.time = at - h * np.log((LEVEL - WARM) / peak) / np.log(self.before / peak)
        self.before = self.hottest = peak


class Fipy:
    """FiPy on the control volumes; ``solver``: LU or PCG."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, solver: str):
        import fipy
        from fipy.solvers.scipy import JacobiPreconditioner, LinearLUSolver, LinearPCGSolver

        self.cells = cells = SectionCells(problem, mesh)
        self.problem = problem
        grid = cells.unknown.mesh
        self.t = fipy.CellVariable(mesh=grid, value=WARM)
        heat = np.array([float(r.medium.density) * float(r.medium.specific_heat) for r in problem.regions])  # type: ignore[arg-type]
        capacity = (heat[:, None] * np.array(cells.volume)).sum(axis=0) / cells.total
        self.given, self.taken = fipy.CellVariable(mesh=grid), fipy.CellVariable(mesh=grid)
        self.gamma = fipy.FaceVariable(mesh=grid, value=np.zeros(cells.pairs.shape[1]))
        self.equation = fipy.TransientTerm(coeff=fipy.CellVariable(mesh=grid, value=capacity)) == (
            fipy.DiffusionTerm(coeff=self.gamma) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        self.solver = (
            LinearLUSolver(tolerance=1e-10)
            if solver == "LU"
            else LinearPCGSolver(tolerance=1e-10, iterations=2000, precon=JacobiPreconditioner())
        )
        self.part = cells.owner == 1

    def cycle(self, start: np.ndarray, dt: float, steps: tuple[int | None, int | None] = (None, None)) -> Shot:
        """A cycle by implicit Euler in steps of dt; ``steps`` : only so many of each span."""
        cells = self.cells
        t = np.where(self.part, HOT, start)
        peaks = Peaks(self.part)
        for span, few in zip(self.problem.spans, steps, strict=True):
            there = cells.there(span.absent)
            k = np.array([float(r.medium.conductivity) for r in self.problem.regions])[cells.stuff]  # type: ignore[arg-type]
            joints = np.full(len(cells.joint_regions), CONTACT)
            self.gamma.setValue(np.concatenate([k, joints]) * cells.active(there))
            taken = np.zeros(len(t))
            for name, (nodes, areas) in cells.faces(span.absent).items():
                if name in span.faces:
                    np.add.at(taken, nodes, (WALL if name.startswith("c") and name != "cavity" else AIR) * areas)
            self.taken.setValue(taken / cells.total)
            self.given.setValue(taken * WARM / cells.total)
            self.t.setValue(t)
            for i in range(round(span.duration / dt) if few is None else few):
                self.equation.solve(var=self.t, dt=dt, solver=self.solver)
                if not span.absent:
                    peaks.look(np.asarray(self.t.value), (i + 1) * dt, dt)
            t = np.array(self.t.value)
        return Shot(t, peaks.time, peaks.hottest)


#: mass of a straight line of length 1: both ends, and for quadratic elements its middle (any text on finite elements)
LINES = {
    1: np.array([[2.0, 1.0], [1.0, 2.0]]) / 6,
    2: np.array([[4.0, -1.0, 2.0], [-1.0, 4.0, 2.0], [2.0, 2.0, 16.0]]) / 30,
}


class Elements:
    """scikit-fem on the triangles, linear or quadratic (order 1 or 2)."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, order: int):
        import skfem
        from scipy.sparse import coo_matrix
        from skfem.helpers import dot, grad

        fem = skfem.MeshTri(np.stack([mesh.x, mesh.y]), mesh.triangles.T.copy())
        basis = skfem.Basis(fem, skfem.ElementTriP1() if order == 1 else skfem.ElementTriP2())
        k = np.array([29.0, 0.19])[mesh.region][:, None] * np.ones(basis.dx.shape[1])
        c = np.array([7800.0 * 460.0, 1050.0 * 2000.0])[mesh.region][:, None] * np.ones(basis.dx.shape[1])
        stiff = skfem.BilinearForm(lambda u, v, w: w.k * dot(grad(u), grad(v))).assemble(basis, k=k)
        self.mass = skfem.BilinearForm(lambda u, v, w: w.c * u * v).assemble(basis, c=c).tocsc()
        self.size = n = basis.N
        self.part = np.zeros(n, bool)
        self.part[basis.element_dofs[:, mesh.region == 1].ravel()] = True
        number = {tuple(sorted(pair)): i for i, pair in enumerate(fem.facets.T.tolist())}

        def dofs(ends: np.ndarray) -> np.ndarray:
            """(sides, 2 or 3) unknowns of sides."""
            both = basis.nodal_dofs[0][ends]
            if order == 1:
                return np.asarray(both)
            facets = [number[tuple(sorted(pair))] for pair in ends.tolist()]
            return np.column_stack([both, basis.facet_dofs[0][facets]])

        def line(rows: np.ndarray, columns: np.ndarray, scale: np.ndarray) -> Any:
            local = scale[:, None, None] * LINES[order]
            i = np.broadcast_to(rows[:, :, None], local.shape).ravel()
            j = np.broadcast_to(columns[:, None, :], local.shape).ravel()
            return coo_matrix((local.ravel(), (i, j)), shape=(n, n)).tocsc()

        def length(ends: np.ndarray) -> np.ndarray:
            return np.hypot(*(np.stack([mesh.x, mesh.y])[:, ends[:, 0]] - np.stack([mesh.x, mesh.y])[:, ends[:, 1]]))

        named = np.array([*problem.face_names, ""])[mesh.side_face]
        round_ = np.char.startswith(named, "c") & (named != "cavity")
        used = (named != "") & (named != "cavity")
        sides = mesh.sides[used]
        half = np.arcsin(np.where(round_[used], length(sides) / 0.01, 0.1))
        arc = np.where(round_[used], half / np.sin(half), 1.0)
        own = dofs(sides)
        always = line(own, own, np.where(round_[used], WALL, AIR) * arc * length(sides))
        a, b = dofs(mesh.joints[:, :2]), dofs(mesh.joints[:, 2:])
        across = length(mesh.joints[:, :2])
        touch = sum(
            sign * line(i, j, CONTACT * across) for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1))
        )
        bare = a if mesh.joint_regions[0, 0] == 0 else b
        shut, open_ = always, always + line(bare, bare, AIR * across)
        self.stages = [
            (SHUT, stiff + shut + touch, shut, np.arange(n)),
            (OPEN, stiff + open_, open_, np.flatnonzero(~self.part)),
        ]
        self._factors: dict[tuple[int, float, str], tuple[Any, ...]] = {}

    def factors(self, stage: int, h: float, scheme: str) -> tuple[Any, ...]:
        """(factors, mass, matrix, load, unknowns) of a stage of the cycle, made once."""
        key = (stage, h, scheme)
        if key not in self._factors:
            from scipy.sparse.linalg import splu

            _, matrix, faces, rows = self.stages[stage]
            k, m = (x.tocsc()[rows][:, rows] for x in (matrix, self.mass))
            a = h * (GAMMA if scheme == "SDIRK2" else 1.0)
            options = {"SymmetricMode": True}
            factor = splu((m + a * k).tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
            self._factors[key] = (
                factor,
                m.tocsr(),
                k.tocsr(),
                np.asarray(faces.sum(axis=1)).ravel()[rows] * WARM,
                rows,
            )
        return self._factors[key]

    def cycle(self, start: np.ndarray, h: float, scheme: str) -> Shot:
        """A cycle in equal steps of h, implicit Euler or SDIRK2."""
        t = np.where(self.part, HOT, start)
        peaks = Peaks(self.part)
        for number, (duration, *_) in enumerate(self.stages):
            factor, m, k, load, rows = self.factors(number, h, scheme)
            u = t[rows]
            for i in range(round(duration / h)):
                known = m @ u
                if scheme == "SDIRK2":
                    first = factor.solve(known + GAMMA * h * load)
                    u = factor.solve(known + (1 - GAMMA) * h * (load - k @ first) + GAMMA * h * load)
                else:
                    u = factor.solve(known + h * load)
                if number == 0:
                    peaks.look(u, (i + 1) * h, h)
            t = t.copy()
            t[rows] = u
        return Shot(t, peaks.time, peaks.hottest)


def brute_force(
    cycle: Callable[[np.ndarray], Shot], start: np.ndarray, kept: np.ndarray, settled: np.ndarray, within: float
) -> int:
    """Cycles until what stays is within so many kelvin of its settled state."""
    u, count = start, 0
    while np.abs((u - settled)[kept]).max() > within:
        u, count = cycle(u).after, count + 1
    return count


def anderson(
    cycle: Callable[[np.ndarray], Shot], start: np.ndarray, kept: np.ndarray, within: float, depth: int = 5
) -> tuple[np.ndarray, int]:
    """(settled state, cycles) by Anderson's mixing of the last few cycles.

    Stops when a cycle moves nothing by more than ``within``/5: of factor 0.8, it still has to go five times as far.
    """
    u, count = start.copy(), 0
    points: list[np.ndarray] = []
    moves: list[np.ndarray] = []
    while True:
        after, count = cycle(u).after, count + 1
        move = (after - u)[kept]
        if np.abs(move).max() <= within / 5 or count >= 100:
            return after, count
        points, moves = [*points, after[kept]][-depth - 1 :], [*moves, move][-depth - 1 :]
        new = after[kept]
        if len(moves) > 1:
            df = np.array([moves[i + 1] - moves[i] for i in range(len(moves) - 1)]).T
            dg = np.array([points[i + 1] - points[i] for i in range(len(points) - 1)]).T
            new = new - dg @ np.linalg.lstsq(df, move, rcond=None)[0]
        u = u.copy()
        u[kept] = new
