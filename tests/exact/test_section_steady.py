"""Steady sections against published tables, series and shape factors."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.section_grids import at, box, convection, grid, held, sides_of, spaced
from thermokit.conduction.problem import STEFAN_BOLTZMANN, ZERO_CELSIUS, Curve, Face, Medium, Radiation
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import interpolation
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_steady import steady
from thermokit.errors import SolveError

ANY = Medium(1000.0, 1.0, 1000.0)


def problem(regions, faces, edges=(), channels=(), touches=(), axisymmetric=False) -> SectionProblem:
    return SectionProblem(tuple(regions), (SectionSpan(1.0, faces),), channels, edges, touches, axisymmetric)


def read(history, points, region=None) -> np.ndarray:
    nodes, weights = interpolation(history.mesh, np.array(points), region)
    return (weights * history.temperature[0][nodes]).sum(axis=1)


# ISO 10211:2007 annex A, test reference case 1: 28 temperatures, rows y = 1.75 ... 0.25, columns x = 0.25 ... 1
COLUMN = (
    (9.7, 13.4, 14.7, 15.1),
    (5.3, 8.6, 10.3, 10.8),
    (3.2, 5.6, 7.0, 7.5),
    (2.0, 3.6, 4.7, 5.0),
    (1.3, 2.3, 3.0, 3.2),
    (0.7, 1.4, 1.8, 1.9),
    (0.3, 0.6, 0.8, 0.9),
)


@pytest.mark.parametrize("meshed", ["own", "grid"])
def test_iso_10211_case_1(meshed):
    """0.1 K at every point is the standard's own rule; against the series of the same problem it is closer."""
    case = problem(
        [Region("column", box(0, 1, 0, 2), ANY, 280.0)],
        {"top": held(ZERO_CELSIUS + 20.0), "left": held(ZERO_CELSIUS), "bottom": held(ZERO_CELSIUS)},
        sides_of(0, 1, 0, 2),
    )
    mesh = mesh_section(case) if meshed == "own" else grid(case, spaced(0, 1, cells=40), spaced(0, 2, cells=80))
    history = steady(case, mesh)
    ys, xs = 1.75 - 0.25 * np.arange(7), 0.25 + 0.25 * np.arange(4)
    found = read(history, [(x, y) for y in ys for x in xs]).reshape(7, 4) - ZERO_CELSIUS
    odd = np.arange(1, 200, 2)[:, None, None]
    decay = np.exp(odd * np.pi * (ys[None, :, None] - 2.0) / 2) * (1.0 - np.exp(-odd * np.pi * ys[None, :, None]))
    series = (80.0 / (odd * np.pi) * np.sin(odd * np.pi * xs / 2) * decay / (1.0 - np.exp(-2.0 * odd * np.pi))).sum(
        axis=0
    )
    assert np.abs(series - COLUMN).max() < 0.05 + 1e-9
    assert np.abs(found - COLUMN).max() < 0.1
    assert np.abs(found - series).max() < 0.03


def test_iso_10211_case_2():
    """Concrete, wood, insulation and aluminium: nine temperatures within 0.1 K, heat within 0.1 W/m (the standard's rule)."""
    mm = 1e-3

    def region(name: str, k: float, outline) -> Region:
        return Region(name, np.array(outline, float) * mm, Medium(1.0, k, 1.0), 280.0)

    metal = Medium(1.0, 230.0, 1.0)
    shape = [(0, 0), (500, 0), (500, 1.5), (1.5, 1.5), (1.5, 35), (15, 35), (15, 36.5), (0, 36.5)]
    case = problem(
        [
            region("concrete", 1.15, box(0, 500, 41.5, 47.5)),
            region("wood", 0.12, box(0, 15, 36.5, 41.5)),
            region("insulation", 0.029, [(1.5, 1.5), (500, 1.5), (500, 41.5), (15, 41.5), (15, 35), (1.5, 35)]),
            Region("aluminium", np.array(shape) * mm, metal, 280.0),
        ],
        {"top": convection(1 / 0.06, ZERO_CELSIUS), "bottom": convection(1 / 0.11, ZERO_CELSIUS + 20.0)},
        sides_of(0, 0.5, 0, 0.0475),
    )
    history = steady(case, mesh_section(case))
    points = [(0, 47.5), (500, 47.5), (0, 41.5), (15, 41.5), (500, 41.5), (0, 36.5), (15, 36.5), (0, 0), (500, 0)]
    printed = [7.1, 0.8, 7.9, 6.3, 0.8, 16.4, 16.3, 16.8, 18.3]
    found = read(history, np.array(points) * mm) - ZERO_CELSIUS
    assert np.abs(found - printed).max() < 0.1
    assert history.ends[0].heat["bottom"] == pytest.approx(9.5, abs=0.1)
    assert history.heat.mismatch < 1e-9


def test_nafems_t4():
    """The Standard NAFEMS Benchmarks (1990), T4: 18.25 degC at E; the series gives 18.2538."""
    case = problem(
        [Region("plate", box(0, 0.6, 0, 1), Medium(7850.0, 52.0, 460.0), 300.0)],
        {
            "bottom": held(ZERO_CELSIUS + 100.0),
            "right": convection(750.0, ZERO_CELSIUS),
            "top": convection(750.0, ZERO_CELSIUS),
        },
        sides_of(0, 0.6, 0, 1),
    )
    mesh = grid(case, spaced(0, 0.6, cells=36), spaced(0, 1, cells=60))
    found = at(mesh, steady(case, mesh).temperature[0], 0.6, 0.2) - ZERO_CELSIUS
    assert found == pytest.approx(18.25376, abs=0.02)
    assert read(steady(case, mesh_section(case)), [(0.6, 0.2)])[0] - ZERO_CELSIUS == pytest.approx(18.25376, abs=0.05)


def test_square_column_with_convection():
    """Incropera et al., example 4.3, exact: 623.35 W/m, 337.26 K and 348.36 K (the print's coarse grid is 42 % off)."""
    case = problem(
        [Region("half", box(0, 0.5, 0, 1), ANY, 400.0)],
        {"left": held(500.0), "top": held(500.0), "bottom": convection(10.0, 300.0)},
        sides_of(0, 0.5, 0, 1),
    )
    near = 0.5 * np.linspace(0, 1, 41) ** 2
    mesh = grid(case, near, 2.0 * near)
    history = steady(case, mesh)
    assert -2.0 * history.ends[0].heat["bottom"] == pytest.approx(623.3463, rel=0.005)
    assert at(mesh, history.temperature[0], 0.5, 0.0) == pytest.approx(337.2634, abs=0.1)
    nodes = np.argsort(np.hypot(mesh.x - 0.25, mesh.y))[:1]
    assert history.temperature[0][nodes][0] == pytest.approx(348.3623, abs=0.8)
    assert read(history, [(0.25, 0.0)])[0] == pytest.approx(348.3623, abs=0.1)


@pytest.mark.parametrize(("width", "exact"), [(2.0, 8.172471), (1.25, 21.30625)])
def test_shape_factor_of_a_cylinder_in_a_square(width, exact):
    """Exact by collocation (residual 1e-8); Incropera table 4.1 case 6 prints 8.159 and 20.94 by its approximate formula."""
    w = width / 2
    case = problem(
        [Region("square", box(-w, w, -w, w), ANY, 300.0)],
        {**dict.fromkeys(("left", "right", "bottom", "top"), held(301.0)), "hole": held(300.0)},
        sides_of(-w, w, -w, w),
        (Channel("hole", (0.0, 0.0), 1.0),),
    )
    history = steady(case, mesh_section(case))
    assert -history.ends[0].heat["hole"] == pytest.approx(exact, rel=0.005)
    assert history.heat.mismatch < 1e-9


@pytest.mark.parametrize(
    ("d", "z", "w", "exact"), [(1.0, 2.0, 3.0, 1.616561), (0.5, 2.0, 3.0, 1.317712), (1.0, 1.5, 2.0, 1.685395)]
)
def test_row_of_channels_under_a_mould_face(d, z, w, exact):
    """Exact shape factors by multipole collocation and quadratic elements; the handbook's thin-wire formula is up to 12 % low."""
    case = problem(
        [Region("block", box(-w / 2, w / 2, -2.5 * z, 0), ANY, 300.0)],
        {"face": held(301.0), "hole": held(300.0)},
        (Edge("face", (-w / 2, 0.0), (w / 2, 0.0)),),
        (Channel("hole", (0.0, -z), d),),
    )
    history = steady(case, mesh_section(case))
    assert history.ends[0].heat["face"] == pytest.approx(exact, rel=0.005)


def test_conductivity_that_rises_with_temperature():
    """Arpaci (1966) example 3-8: k = 2 (1 + 0.01 T), source 5, T(0) = 87.08287, T(5) = 69.55825 (0 of the print is 1000 K here)."""
    k = Curve(np.array([900.0, 1200.0]), np.array([0.0, 6.0]))
    case = problem(
        [Region("slab", box(0, 10, 0, 1), Medium(1.0, k, 1.0), 1000.0, 5.0)],
        {"right": held(1000.0)},
        sides_of(0, 10, 0, 1),
    )
    for skew in (0.0, 0.25):
        mesh = grid(case, spaced(0, 10, cells=40), spaced(0, 1, cells=4), skew)
        history = steady(case, mesh)
        assert at(mesh, history.temperature[0], 0.0, 0.0) - 1000.0 == pytest.approx(87.08287, rel=5e-4)
        assert at(mesh, history.temperature[0], 5.0 if not skew else 0.0, 1.0) - 1000.0 == pytest.approx(
            69.55825 if not skew else 87.08287, rel=5e-4
        )
        assert history.ends[0].heat["right"] == pytest.approx(-50.0, rel=1e-9)
        assert history.heat.mismatch < 1e-9


def test_kirchhoff_is_exact_where_the_mesh_is():
    """With k(T) and no source the transformed problem is linear in x, which linear triangles hold exactly, whatever the mesh."""
    k = Curve(np.array([300.0, 400.0, 500.0]), np.array([0.1, 0.5, 0.2]))
    case = problem(
        [Region("slab", box(0, 1, 0, 0.3), Medium(1.0, k, 1.0), 350.0)],
        {"left": held(300.0), "right": held(500.0)},
        sides_of(0, 1, 0, 0.3),
    )
    mesh = grid(case, spaced(0, 1, cells=10), spaced(0, 0.3, cells=3), 0.3)
    history = steady(case, mesh)
    # integral of k: 30 up to 400 K and 35 from there; at 400 K x is 30/65
    assert history.ends[0].heat["right"] == pytest.approx(65.0 * 0.3, rel=1e-9)
    t = history.temperature[0]
    up = 0.1 * (t - 300.0) + 0.002 * (t - 300.0) ** 2
    down = 30.0 + 0.5 * (t - 400.0) - 0.0015 * (t - 400.0) ** 2
    assert np.where(t <= 400.0, up, down) == pytest.approx(65.0 * mesh.x, abs=1e-8)


def test_contact_between_two_slabs_is_exact():
    """Series of resistances (Incropera ch. 3): 0.1/2 + 1/40 + 0.2/5 + 1/10 m2K/W under 100 K."""
    case = problem(
        [
            Region("a", box(0, 0.1, 0, 0.1), Medium(1.0, 2.0, 1.0), 300.0),
            Region("b", box(0.1, 0.3, 0, 0.1), Medium(1.0, 5.0, 1.0), 300.0),
        ],
        {"left": held(400.0), "right": convection(10.0, 300.0)},
        sides_of(0, 0.3, 0, 0.1),
        touches=(Touch(("b", "a"), 40.0),),
    )
    mesh = grid(case, spaced(0, 0.1, 0.3, cells=4), spaced(0, 0.1, cells=3))
    history = steady(case, mesh)
    flux = 100.0 / (0.05 + 0.025 + 0.04 + 0.1)
    assert history.ends[0].heat["left"] == pytest.approx(flux * 0.1, rel=1e-9)
    assert at(mesh, history.temperature[0], 0.1, 0.0, 0) == pytest.approx(400.0 - 0.05 * flux, abs=1e-7)
    assert at(mesh, history.temperature[0], 0.1, 0.1, 1) == pytest.approx(400.0 - 0.075 * flux, abs=1e-7)


def test_hollow_cylinder_in_an_axisymmetric_section():
    """ln(r2/r1)/(2 pi k L) + 1/(2 pi r2 L h), and 1/(2 pi r L c) of a contact half-way (Incropera ch. 3), in W of the ring."""
    r1, r, r2, height, k, c, h = 0.02, 0.035, 0.05, 0.03, 0.4, 60.0, 25.0
    case = problem(
        [
            Region("inner", box(r1, r, 0, height), Medium(1.0, k, 1.0), 300.0),
            Region("outer", box(r, r2, 0, height), Medium(1.0, k, 1.0), 300.0),
        ],
        {"left": held(400.0), "right": convection(h, 300.0)},
        sides_of(r1, r2, 0, height),
        touches=(Touch(("inner", "outer"), c),),
        axisymmetric=True,
    )
    mesh = grid(case, spaced(r1, r, r2, cells=20), spaced(0, height, cells=3))
    exact = 100.0 * 2 * math.pi * height / (math.log(r2 / r1) / k + 1 / (r * c) + 1 / (r2 * h))
    assert steady(case, mesh).ends[0].heat["left"] == pytest.approx(exact, rel=2e-4)


def test_radiation_from_a_plate():
    """k dT/dx = eps sigma (T^4 - Ts^4): the root of one equation, by bisection."""
    k, length, eps, hot, around = 0.5, 0.05, 0.9, 600.0, 290.0
    case = problem(
        [Region("plate", box(0, length, 0, 0.02), Medium(1.0, k, 1.0), 300.0)],
        {"left": held(hot), "right": Face(radiation=(Radiation(eps, around),))},
        sides_of(0, length, 0, 0.02),
    )
    low, high = around, hot
    for _ in range(80):
        middle = (low + high) / 2
        more = k * (hot - middle) / length > eps * STEFAN_BOLTZMANN * (middle**4 - around**4)
        low, high = (middle, high) if more else (low, middle)
    history = steady(case, mesh := grid(case, spaced(0, length, cells=5), spaced(0, 0.02, cells=2)))
    assert at(mesh, history.temperature[0], length, 0.0) == pytest.approx(low, abs=1e-6)
    assert history.heat.mismatch < 1e-9


def test_an_insulated_section_is_refused():
    case = problem(
        [
            Region("a", box(0, 1, 0, 1), ANY, 300.0),
            Region("b", box(1, 2, 0, 1), ANY, 300.0),
        ],
        {"left": convection(10.0, 300.0), "right": Face(heating=5.0)},
        sides_of(0, 2, 0, 1),
        touches=(Touch(("a", "b"), 0.0),),
    )
    with pytest.raises(SolveError, match="b exchanges heat with nothing"):
        steady(case, grid(case, spaced(0, 1, 2, cells=3), spaced(0, 1, cells=3)))
