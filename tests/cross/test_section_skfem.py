"""A full cycle of a small mould against scikit-fem: quadratic elements with consistent masses, BDF2 in short equal steps.

Shared are the triangles (nodes doubled where part and mould touch) and nothing else: shapes, masses, faces, the contact and the
time scheme are scikit-fem's or written here.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_grids import box, convection
from thermokit.conduction.problem import Medium
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import interpolation
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionMesh, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_watch import SectionWatch

skfem = pytest.importorskip("skfem")

WATER, AIR, HOT = 298.0, 295.0, 500.0
WALL, FILM, CONTACT = 5000.0, 12.0, 2000.0
STEPS = {20.0: 400, 5.0: 100}


def mould() -> SectionProblem:
    """One pitch of a mould: a channel under half a wall that covers most of its face."""
    out = {"left": convection(FILM, AIR), "rim": convection(FILM, AIR), "c": convection(WALL, WATER)}
    return SectionProblem(
        (
            Region("mould", box(0, 0.02, -0.03, 0), Medium(7800.0, 29.0, 460.0), 305.0),
            Region("part", box(0.004, 0.02, 0, 0.0015), Medium(1050.0, 0.19, 2000.0), HOT),
        ),
        (SectionSpan(20.0, out), SectionSpan(5.0, {**out, "cavity": convection(FILM, AIR)}, frozenset({"part"}))),
        (Channel("c", (0.01, -0.012), 0.008),),
        (
            Edge("left", (0, -0.03), (0, 0)),
            Edge("rim", (0, 0), (0.004, 0)),
            Edge("cavity", (0.004, 0), (0.02, 0)),
        ),
        (Touch(("mould", "part"), CONTACT),),
    )


class Quadratic:
    """The mould as quadratic elements."""

    def __init__(self, case: SectionProblem, mesh: SectionMesh):
        from skfem.helpers import dot, grad

        self.mesh = mesh
        fem = skfem.MeshTri(np.stack([mesh.x, mesh.y]), mesh.triangles.T.copy())
        self.basis = basis = skfem.Basis(fem, skfem.ElementTriP2())
        self.number = {tuple(sorted(pair)): i for i, pair in enumerate(fem.facets.T.tolist())}
        media = [region.medium for region in case.regions]
        region = mesh.region
        k = np.array([m.conductivity for m in media])[region][:, None]
        c = np.array([m.density * m.specific_heat for m in media])[region][:, None]
        self.stiffness = skfem.BilinearForm(lambda u, v, w: w.k * dot(grad(u), grad(v))).assemble(
            basis, k=k * np.ones(basis.dx.shape[1])
        )
        self.mass = skfem.BilinearForm(lambda u, v, w: w.c * u * v).assemble(basis, c=c * np.ones(basis.dx.shape[1]))

    def dofs(self, pair) -> list[int]:
        """Those of a facet: both ends and the middle."""
        facet = self.number[tuple(sorted(int(p) for p in pair))]
        ends = [int(self.basis.nodal_dofs[0, p]) for p in pair]
        return [*ends, int(self.basis.facet_dofs[0, facet])]

    def line(self, pair, length: float) -> np.ndarray:
        """Mass matrix of a straight quadratic line (any text on finite elements)."""
        return length / 30.0 * np.array([[4.0, -1.0, 2.0], [-1.0, 4.0, 2.0], [2.0, 2.0, 16.0]])

    def length(self, pair) -> float:
        p, q = pair
        return float(np.hypot(self.mesh.x[p] - self.mesh.x[q], self.mesh.y[p] - self.mesh.y[q]))


def face_terms(fem: Quadratic, case: SectionProblem, present: bool):
    """(matrix, right-hand side, (channel's matrix, right-hand side)) of faces and contact."""
    from scipy.sparse import lil_matrix

    n, mesh = fem.basis.N, fem.mesh
    matrix, load = lil_matrix((n, n)), np.zeros(n)
    wall, wall_load = lil_matrix((n, n)), np.zeros(n)

    def add(target, right, pair, h, t, factor=1.0):
        dofs = fem.dofs(pair)
        local = h * factor * fem.line(pair, fem.length(pair))
        target[np.ix_(dofs, dofs)] += local
        right[dofs] += local.sum(axis=1) * t

    channel = case.channels[0]
    for pair, f in zip(mesh.sides, mesh.side_face, strict=True):
        name = case.face_names[f] if f >= 0 else ""
        if name == "c":
            half = np.arcsin(fem.length(pair) / channel.diameter)
            add(wall, wall_load, pair, WALL, WATER, half / np.sin(half))
        elif name in ("left", "rim"):
            add(matrix, load, pair, FILM, AIR)
    for a1, a2, b1, b2 in mesh.joints:
        if not present:
            regions = mesh.joint_regions[0]
            add(matrix, load, (a1, a2) if regions[0] == 0 else (b1, b2), FILM, AIR)
            continue
        a, b = fem.dofs((a1, a2)), fem.dofs((b1, b2))
        local = CONTACT * fem.line((a1, a2), fem.length((a1, a2)))
        for rows, columns, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            matrix[np.ix_(rows, columns)] += sign * local
    return (matrix + wall).tocsc(), load + wall_load, wall.tocsr(), wall_load


def quadratic_cycle(case: SectionProblem, mesh: SectionMesh):
    """(temperatures at the nodes at the end of each span, heat into the section through the channel, time at 380 K)."""
    from scipy.sparse.linalg import splu

    fem = Quadratic(case, mesh)
    n = fem.basis.N
    part = np.zeros(n, bool)
    part[fem.basis.element_dofs[:, mesh.region == 1].ravel()] = True
    t = np.where(part, HOT, 305.0)
    vertex = fem.basis.nodal_dofs[0]
    ends, heats, crossed = [], [], None
    for duration, present in ((20.0, True), (5.0, False)):
        matrix, load, wall, wall_load = face_terms(fem, case, present)
        rows = np.arange(n) if present else np.flatnonzero(~part)
        k = (fem.stiffness + matrix).tocsc()[rows][:, rows]
        m = fem.mass.tocsc()[rows][:, rows]
        h = duration / STEPS[duration]
        bdf, euler = splu((1.5 * m + h * k).tocsc()), splu((m + h / 40 * k).tocsc())
        old = t[rows]
        heat, now, last = 0.0, old, np.inf
        for _ in range(40):  # the first step by many short ones
            now = euler.solve(m @ now + h / 40 * load[rows])
            heat += h / 40 * float((wall_load - wall[:, rows] @ now).sum())
        for step in range(1, STEPS[duration] + 1):
            peak = now[part[rows]].max(initial=0.0)
            if present and crossed is None and peak <= 380.0:
                crossed = (step - (380.0 - peak) / (last - peak)) * h
            last = peak
            if step == STEPS[duration]:
                break
            new = bdf.solve(m @ (2.0 * now - 0.5 * old) + h * load[rows])
            heat += h / 2 * float((2.0 * wall_load - wall[:, rows] @ (new + now)).sum())
            old, now = now, new
        t = t.copy()
        t[rows] = now
        ends.append(t[vertex])
        heats.append(heat)
    return ends, heats, crossed


def test_a_cycle_of_a_mould():
    case = mould()
    mesh = mesh_section(case)
    watch = SectionWatch("out", "hottest", 380.0, rising=False, region="part")
    history = march(case, mesh, tolerance=0.01, watches=(watch,))
    meshes = mesh_section(case, 0.5), mesh
    (_, coarse, _), (ends, fine, crossed) = (quadratic_cycle(case, grid) for grid in meshes)
    # straight sides leave steel in the channels; that error falls by four from mesh to mesh
    heats = [(4.0 * b - a) / 3.0 for a, b in zip(coarse, fine, strict=True)]
    assert history.crossings["out"] == pytest.approx(crossed, abs=0.01)
    mould_points = np.array([(0, 0), (10, 0), (20, -1), (10, -8), (10, -25), (2, -12)]) * 1e-3
    part_points = np.array([(5, 0), (12, 0.7), (12, 1.5), (20, 1.5)]) * 1e-3
    for end, other, heat in zip(history.ends, ends, heats, strict=True):
        for points, region in ((mould_points, 0), (part_points, 1)):
            if region == 1 and np.isnan(end.temperature).any():
                continue
            nodes, weights = interpolation(mesh, points, region)
            assert np.abs((weights * (end.temperature - other)[nodes]).sum(axis=1)).max() < 0.03
        assert end.heat["c"] == pytest.approx(heat, rel=5e-4)
