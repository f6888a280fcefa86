"""The section solver in space on meshes of its own: slanted walls, channels, contacts, inserts, corners into the material."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq

from tests.unit.section_grids import box, convection, held, sides_of
from thermokit.conduction.problem import Medium
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionMesh, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_steady import steady
from validation.order.bodies import BASE, Array
from validation.order.modes import Stack, mode
from validation.order.section_space import GROUP, MEDIUM, MODES, RHO_C, K
from validation.order.study import Study
from validation.references.sections import cylinder_in_square

FINENESS = (0.5, 1.0, 2.0, 4.0)


def _areas(mesh: SectionMesh) -> Array:
    """A third of the triangles round each node."""
    x, y = mesh.x[mesh.triangles], mesh.y[mesh.triangles]
    area = 0.5 * np.abs((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0]))
    out = np.zeros(len(mesh.x))
    np.add.at(out, mesh.triangles, area[:, None] / 3)
    return out


def _by_area(mesh: SectionMesh, gap: Array) -> float:
    w = _areas(mesh)
    return float(np.sqrt(np.sum(w * gap**2) / np.sum(w)))


SIDE = 0.06  # m
ALTITUDE = SIDE * math.sqrt(3) / 2


def _triangle(heat: float, duration: float) -> SectionProblem:
    corners = np.array([[0.0, 0.0], [SIDE, 0.0], [SIDE / 2, ALTITUDE]])
    names = tuple(Edge(f"e{i}", tuple(corners[i]), tuple(corners[(i + 1) % 3])) for i in range(3))  # type: ignore[arg-type]
    return SectionProblem(
        (Region("body", corners, MEDIUM, BASE, heat),),
        (SectionSpan(duration, {e.name: held(BASE) for e in names}),),
        edges=names,
    )


def _heights(mesh: SectionMesh) -> tuple[Array, Array, Array]:
    d1 = mesh.y
    d2 = (math.sqrt(3) * mesh.x - mesh.y) / 2
    return d1, d2, ALTITUDE - d1 - d2


def slanted_error(transient: bool, fineness: float) -> float:
    """An equilateral triangle held all round. Steady with heat s: s d1 d2 d3/(k H), d the distances from the walls, H the
    altitude (Prandtl's torsion function); in time the mode sum of sin(2 pi d/H) (Lame)."""
    if not transient:
        case = _triangle(2e5, 1.0)
        mesh = mesh_section(case, fineness)
        d1, d2, d3 = _heights(mesh)
        return _by_area(mesh, steady(case, mesh).temperature[0] - BASE - 2e5 * d1 * d2 * d3 / (K * ALTITUDE))
    duration = 0.5 * RHO_C / K * (ALTITUDE / (2 * math.pi)) ** 2
    case = _triangle(0.0, duration)
    mesh = mesh_section(case, fineness)
    shape = sum(np.sin(2 * math.pi * d / ALTITUDE) for d in _heights(mesh))
    history = march(case, mesh, np.array([duration]), 1e-4, BASE + 50.0 * shape)
    return _by_area(mesh, history.temperature[0] - BASE - 50.0 * math.exp(-0.5) * shape)


WIDTH, DIAMETER = 0.04, 0.012


@cache
def _series(h: float) -> tuple[float, Array, Array]:
    """Square held at 0, channel at 1 (or water at 1 behind h): A + B ln(r/a) + sum c_j (r^4j + g_j r^-4j) cos 4j phi.

    The channel's condition gives g_j and A from B; B and c_j by least squares on an eighth of the square.
    """
    a, half, terms = DIAMETER / 2, WIDTH / 2, 18
    phi = math.pi / 4 * (1 - np.cos(math.pi * (np.arange(8 * terms) + 0.5) / (8 * terms))) / 2
    r = half / np.cos(phi) / a
    j = 4.0 * np.arange(1, terms + 1)
    bi = h * a / K if math.isfinite(h) else math.inf
    # at r = 1: dT/dr = bi (T - 1), or T = 1
    g = -np.ones(terms) if math.isinf(bi) else (j - bi) / (j + bi)
    scale = math.sqrt(2.0) * half / a
    waves = ((r[:, None] / scale) ** j + g * (r[:, None] * scale) ** -j) * np.cos(j * phi[:, None])
    offset = 0.0 if math.isinf(bi) else 1.0 / bi
    found = np.linalg.lstsq(np.column_stack([offset + np.log(r), waves]), -np.ones(len(r)), rcond=None)[0]
    return float(found[0]), found[1:] / scale**j, g


def channel_error(h: float, fineness: float, heat: bool = False) -> float:
    """Water in the middle of a square block held at its sides: temperatures by area, or the heat into the channel [%]."""
    half = WIDTH / 2
    water = held(BASE + 50.0) if math.isinf(h) else convection(h, BASE + 50.0)
    case = SectionProblem(
        (Region("body", box(-half, half, -half, half), MEDIUM, BASE),),
        (SectionSpan(1.0, {"water": water, **{s: held(BASE) for s in ("left", "right", "bottom", "top")}}),),
        channels=(Channel("water", (0.0, 0.0), DIAMETER),),
        edges=sides_of(-half, half, -half, half),
    )
    mesh = mesh_section(case, fineness)
    found = steady(case, mesh)
    b, c, g = _series(h)
    if heat:
        return abs(found.ends[0].heat["water"] / (-b * 2 * math.pi * K * 50.0) - 1.0) * 100.0
    r, phi = np.hypot(mesh.x, mesh.y) / (DIAMETER / 2), np.arctan2(mesh.y, mesh.x)
    bi = h * DIAMETER / 2 / K
    j = 4.0 * np.arange(1, len(c) + 1)
    value = 1.0 + (0.0 if math.isinf(bi) else b / bi) + b * np.log(r)
    value = value + ((r[:, None] ** j + g * r[:, None] ** -j) * c * np.cos(j * phi[:, None])).sum(axis=1)
    return _by_area(mesh, found.temperature[0] - BASE - 50.0 * value)


def shape_factor_error(fineness: float) -> float:
    """The same heat against the shape factor of another collocation (``cylinder_in_square``) [%]."""
    half = WIDTH / 2
    case = SectionProblem(
        (Region("body", box(-half, half, -half, half), MEDIUM, BASE),),
        (
            SectionSpan(
                1.0, {"water": held(BASE + 50.0), **{s: held(BASE) for s in ("left", "right", "bottom", "top")}}
            ),
        ),
        channels=(Channel("water", (0.0, 0.0), DIAMETER),),
        edges=sides_of(-half, half, -half, half),
    )
    found = steady(case, mesh_section(case, fineness)).ends[0].heat["water"]
    return abs(found / (cylinder_in_square(DIAMETER, WIDTH) * K * 50.0) - 1.0) * 100.0


def _cuts(insert: bool, cells: int = 14) -> Array:
    """Lines of a grid on 0..1, crowded as the fourth power towards the corners of what is drawn."""
    one = np.linspace(0, 1, cells + 1) ** 4
    both = np.concatenate([one / 2, 1 - one[-2::-1] / 2])
    if not insert:
        return np.concatenate([0.5 - 0.5 * one[::-1], 0.5 + 0.5 * one[1:]])
    return np.unique(np.concatenate([0.3 - 0.3 * one[::-1], 0.3 + 0.4 * both, 0.7 + 0.3 * one]))


@cache
def _fem(insert: float | None) -> tuple[Array, Array]:
    """Quadratic finite elements on a grid crowded at the corners: (lines of the grid with middles, values there)."""
    from skfem import Basis, BilinearForm, ElementQuad2, MeshQuad, condense, solve
    from skfem.helpers import dot, grad

    cuts = _cuts(insert is not None)
    mesh = MeshQuad.init_tensor(cuts, cuts)
    centre = mesh.p[:, mesh.t].mean(axis=1)
    if insert is None:
        mesh = mesh.restrict(np.flatnonzero((centre[0] < 0.5) | (centre[1] < 0.5)))
    basis = Basis(mesh, ElementQuad2())

    @BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        k = 1.0
        if insert is not None:
            inside = (w.x[0] > 0.3) & (w.x[0] < 0.7) & (w.x[1] > 0.3) & (w.x[1] < 0.7)
            k = np.where(inside, insert, 1.0)
        return k * dot(grad(u), grad(v))

    x, y = basis.doflocs
    hot = np.flatnonzero(x < 1e-12) if insert is not None else np.flatnonzero(y > 1 - 1e-12)
    cold = np.flatnonzero(x > 1 - 1e-12)
    u = np.zeros(basis.N)
    u[hot] = 100.0
    u = solve(*condense(stiffness.assemble(basis), x=u, D=np.concatenate([hot, cold])))
    lines = np.sort(np.concatenate([cuts, (cuts[1:] + cuts[:-1]) / 2]))
    values = np.full((len(lines), len(lines)), np.nan)
    values[np.abs(lines - x[:, None]).argmin(axis=1), np.abs(lines - y[:, None]).argmin(axis=1)] = u
    return lines, values


def _read(lines: Array, values: Array, x: Array, y: Array, into: tuple[Array, Array]) -> Array:
    """The quadratic of its cell at each place; ``into`` : way [-] in which a place on a line is pushed to find its cell."""
    index, shares = [], []
    for p, push in ((x, into[0]), (y, into[1])):
        i = 2 * np.clip((np.searchsorted(lines[::2], p + 1e-9 * push, side="right") - 1), 0, len(lines) // 2 - 1)
        s = (p - lines[i]) / (lines[i + 2] - lines[i])
        index.append(i)
        shares.append(np.stack([(2 * s - 1) * (s - 1), 4 * s * (1 - s), s * (2 * s - 1)]))
    return np.asarray(
        sum(shares[0][a] * shares[1][b] * values[index[0] + a, index[1] + b] for a in range(3) for b in range(3))
    )


def corner_exponent(ratio: float) -> float:
    """Exponent of r near the corner of a square insert that conducts ``ratio`` times as well as what is round it.

    On either side cos or sin of (exponent times the angle from the bisector); the smaller of the symmetric and the other mode.
    """
    quarter, rest = math.pi / 4, 3 * math.pi / 4

    def even(z: float) -> float:
        return ratio * math.sin(z * quarter) * math.cos(z * rest) + math.cos(z * quarter) * math.sin(z * rest)

    def odd(z: float) -> float:
        return ratio * math.cos(z * quarter) * math.sin(z * rest) + math.sin(z * quarter) * math.cos(z * rest)

    roots = []
    for miss in (even, odd):
        grid = np.linspace(0.05, 1.5, 300)
        signs = np.sign([miss(float(z)) for z in grid])
        turn = int(np.flatnonzero(signs[1:] != signs[:-1])[0])
        roots.append(float(brentq(miss, grid[turn], grid[turn + 1], xtol=1e-14)))
    return min(roots)


def corner_error(insert: float | None, fineness: float) -> float:
    """A square insert of another material, or an L with its corner into the material; by area against finite elements."""
    if insert is None:
        outline = np.array([[0, 0], [1, 0], [1, 0.5], [0.5, 0.5], [0.5, 1], [0, 1]], float)
        edges = (Edge("hot", (0, 1), (0.5, 1)), Edge("cold", (1, 0), (1, 0.5)))
        regions: tuple[Region, ...] = (Region("body", outline, Medium(1.0, 1.0, 1.0), BASE),)
    else:
        edges = (Edge("hot", (0, 0), (0, 1)), Edge("cold", (1, 0), (1, 1)))
        regions = (
            Region("body", box(0, 1, 0, 1), Medium(1.0, 1.0, 1.0), BASE),
            Region("insert", box(0.3, 0.7, 0.3, 0.7), Medium(1.0, insert, 1.0), BASE),
        )
    case = SectionProblem(regions, (SectionSpan(1.0, {"hot": held(BASE + 100.0), "cold": held(BASE)}),), edges=edges)
    mesh = mesh_section(case, fineness)
    centre = (0.25, 0.25) if insert is None else (0.5, 0.5)  # no line of places on a joint or a side hides behind it
    exact = _read(*_fem(insert), mesh.x, mesh.y, (centre[0] - mesh.x, centre[1] - mesh.y))
    return _by_area(mesh, steady(case, mesh).temperature[0] - BASE - exact)


def turned_error(fineness: float) -> float:
    """Two materials with a conductance between, the whole turned by 25 degrees: a mode of the layered body in time."""
    stack = Stack("plane", (0.0, 0.5, 1.0), (5.0, 0.8), (2.0, 1.0), (4.0,), outer=6.0)
    lam, phi = mode(stack, 1)
    duration, angle = 0.5 / lam**2, math.radians(25.0)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    ends = [tuple(p) for p in np.array([[1, 0], [1, 0.4]]) @ turn]
    case = SectionProblem(
        (
            Region("a", box(0, 0.5, 0, 0.4) @ turn, Medium(2.0, 5.0, 1.0), BASE),
            Region("b", box(0.5, 1, 0, 0.4) @ turn, Medium(1.0, 0.8, 1.0), BASE),
        ),
        (SectionSpan(duration, {"air": convection(6.0, BASE)}),),
        edges=(Edge("air", ends[0], ends[1]),),  # type: ignore[arg-type]
        touches=(Touch(("a", "b"), 4.0),),
    )
    mesh = mesh_section(case, fineness)
    along = mesh.x * math.cos(angle) + mesh.y * math.sin(angle)
    mine = np.zeros(len(mesh.x), bool)
    mine[np.unique(mesh.triangles[mesh.region == 0])] = True
    shape = phi(np.where(mine, np.minimum(along, 0.5 - 1e-12), np.clip(along, 0.5 + 1e-12, 1.0)))
    history = march(case, mesh, np.array([duration]), 1e-5, BASE + 100.0 * shape)
    return _by_area(mesh, history.temperature[0] - BASE - 100.0 * math.exp(-0.5) * shape)


def studies() -> list[Study]:
    """All of this module."""
    torsion, series = (
        "exact: torsion function of the triangle",
        "exact: series in r and angle, least squares on the square",
    )
    fem = "independent: quadratic finite elements (scikit-fem), crowded at the corners"
    size = "fineness"
    corners = []
    for words, ratio in (
        ("insert that conducts 20 times as well", 20.0),
        ("insert that conducts a twentieth", 0.05),
        ("corner into the material (L)", None),
    ):
        power = 2 / 3 if ratio is None else corner_exponent(ratio)
        why = (
            f"at the corner T goes with r^{power:.3f}, and each triangle is cut in four: order {2 * power:.2f} by area"
        )
        corners.append(
            Study(
                GROUP,
                f"{words}, own mesh",
                fem,
                2.0,
                FINENESS,
                lambda f, r=ratio: corner_error(r, f),
                size=size,
                least=2 * power - 0.1,
                reason=why,
            )
        )
    return [
        *corners,
        Study(
            GROUP,
            "slanted walls held, heat inside, steady, own mesh",
            torsion,
            2.0,
            FINENESS,
            lambda f: slanted_error(False, f),
            size=size,
        ),
        Study(
            GROUP,
            "slanted walls held, in time, own mesh",
            "exact: Lame's mode",
            2.0,
            FINENESS,
            lambda f: slanted_error(True, f),
            size=size,
        ),
        Study(
            GROUP,
            "two materials with a contact, turned by 25 degrees, in time, own mesh",
            MODES,
            2.0,
            FINENESS[:3],
            turned_error,
            size=size,
        ),
        Study(
            GROUP,
            "channel held, temperatures, own mesh",
            series,
            2.0,
            FINENESS,
            lambda f: channel_error(math.inf, f),
            size=size,
        ),
        Study(
            GROUP,
            "channel held, heat, own mesh",
            series,
            2.0,
            FINENESS,
            lambda f: channel_error(math.inf, f, True),
            "%",
            size,
        ),
        Study(
            GROUP,
            "channel held, heat, by shape factor",
            "exact: shape factor of a cylinder in a square",
            2.0,
            FINENESS,
            shape_factor_error,
            "%",
            size,
        ),
        Study(
            GROUP,
            "channel with water, temperatures, own mesh",
            series,
            2.0,
            FINENESS,
            lambda f: channel_error(900.0, f),
            size=size,
        ),
        Study(
            GROUP,
            "channel with water, heat, own mesh",
            series,
            2.0,
            FINENESS,
            lambda f: channel_error(900.0, f, True),
            "%",
            size,
        ),
    ]
