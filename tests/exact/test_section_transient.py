"""Transient sections against closed forms: product solution, lumped radiation, Stefan's front, and the layered solver."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.section_grids import at, box, convection, grid, held, sides_of, spaced
from thermokit.conduction.problem import (
    ZERO_CELSIUS,
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Series,
    Span,
    Transition,
)
from thermokit.conduction.section_march import march
from thermokit.conduction.section_problem import Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_watch import SectionWatch
from thermokit.conduction.single import solve


def test_corner_of_a_block():
    """Product of two error functions (Carslaw & Jaeger 1.15): start 1, two faces at 0, diffusivity 1e-6 m2/s, 50 s."""
    case = SectionProblem(
        (Region("block", box(0, 0.06, 0, 0.06), Medium(1000.0, 1.0, 1000.0), 301.0),),
        (SectionSpan(50.0, {"left": held(300.0), "bottom": held(300.0)}),),
        edges=sides_of(0, 0.06, 0, 0.06),
    )
    line = np.unique(np.concatenate([np.linspace(0, 0.02, 41), np.linspace(0.02, 0.06, 21)]))
    mesh = grid(case, line, line)
    history = march(case, mesh, np.array([50.0]), tolerance=1e-3)
    for x, y, exact in ((5, 5, 0.1466315), (5, 10, 0.2614188), (10, 20, 0.6516269)):
        assert at(mesh, history.temperature[0], x * 1e-3, y * 1e-3) - 300.0 == pytest.approx(exact, abs=1e-3)
    assert history.heat.mismatch < 1e-10


@pytest.mark.parametrize(("around", "h", "exact"), [(300.0, 0.0, 157.4552), (0.0, 10.0, 23.08221)])
def test_thin_sheet_that_radiates(around, h, exact):
    """Bejan & Kraus, Heat Transfer Handbook (2003), eq. 3.283 and 3.284: 1 mm of aluminium from 450 to 350 K."""
    face = Face(exchange=(Exchange(h, 0.0),), radiation=(Radiation(0.9, around),))
    case = SectionProblem(
        (Region("sheet", box(0, 0.02, 0, 0.001), Medium(2700.0, 200.0, 900.0), 450.0),),
        (SectionSpan(200.0, {"bottom": face, "top": face}),),
        edges=sides_of(0, 0.02, 0, 0.001),
    )
    mesh = grid(case, spaced(0, 0.02, cells=3), spaced(0, 0.001, cells=2))
    history = march(case, mesh, tolerance=0.01, watches=(SectionWatch("cold", "hottest", 350.0, rising=False),))
    assert history.crossings["cold"] == pytest.approx(exact, rel=5e-4)
    assert history.heat.mismatch < 1e-6


def test_stefan_front():
    """Melt at its melting point on a wall at 30 degC (Carslaw & Jaeger 11.2): front 1.657274 mm at 10 s, 4.059475 mm at 60 s.

    The latent heat is spread over 0.2 K, which the closed form does not have.
    """
    melting = Transition(200e3, ZERO_CELSIUS + 129.8, ZERO_CELSIUS + 130.0)
    case = SectionProblem(
        (Region("melt", box(0, 0.012, 0, 0.0003), Medium(950.0, 0.35, 2300.0, melting), ZERO_CELSIUS + 130.0),),
        (SectionSpan(60.0, {"left": held(ZERO_CELSIUS + 30.0)}),),
        edges=sides_of(0, 0.012, 0, 0.0003),
    )
    mesh = grid(case, spaced(0, 0.012, cells=160), spaced(0, 0.0003, cells=1))
    history = march(case, mesh, np.array([10.0, 60.0]), tolerance=0.1)
    for row, exact in ((0, 1.657274e-3), (1, 4.059475e-3)):
        t = history.temperature[row]
        line = np.flatnonzero(mesh.y == 0.0)
        line = line[np.argsort(mesh.x[line])]
        front = np.interp(ZERO_CELSIUS + 129.9, t[line], mesh.x[line])
        assert front == pytest.approx(exact, rel=0.01)
    # heat through the wall: integral of k dT/(erf(lambda) sqrt(pi alpha t)), by hand
    alpha, lam = 0.35 / (950.0 * 2300.0), 0.6547205
    heat = 2 * 0.35 * 100.0 / (math.erf(lam) * math.sqrt(math.pi * alpha)) * math.sqrt(60.0)
    assert -history.ends[0].heat["left"] / 0.0003 == pytest.approx(heat, rel=0.01)
    assert history.heat.mismatch < 1e-6


PLASTIC = Medium(
    900.0,
    Curve(np.array([300.0, 400.0, 500.0]), np.array([0.28, 0.22, 0.2])),
    Curve(np.array([300.0, 450.0]), np.array([1700.0, 2400.0])),
    Transition(90e3, 400.0, 440.0, 430.0),
)
TWO_CURVES = Medium(900.0, 0.22, 2100.0, Transition(90e3, 410.0, 440.0, 432.0), Transition(90e3, 370.0, 400.0, 385.0))
STEEL = Medium(7800.0, 29.0, 460.0)
WARM_AND_COLD = (
    Face(
        exchange=(Exchange(400.0, Series((0.0, 30.0, 30.0), (480.0, 470.0, 300.0))),),
        radiation=(Radiation(0.8, 500.0),),
    ),
    Face(exchange=(Exchange(150.0, 290.0),), heating=1500.0),
)


@pytest.mark.parametrize("medium", [STEEL, PLASTIC, TWO_CURVES], ids=["linear", "one curve", "two curves"])
@pytest.mark.parametrize("contact", [None, 800.0])
def test_a_strip_is_a_layered_body(medium, contact):
    """A strip insulated along its sides, of two layers, is what the layered solver knows, by another method and scheme."""
    thick = (0.003, 0.005)
    regions = (
        Region("a", box(0, thick[0], 0, 0.001), medium, 320.0, 2e5),
        Region("b", box(thick[0], sum(thick), 0, 0.001), STEEL, 310.0),
    )
    faces = {"left": WARM_AND_COLD[0], "right": WARM_AND_COLD[1]}
    case = SectionProblem(
        regions,
        (SectionSpan(60.0, faces), SectionSpan(40.0, {"left": convection(900.0, 300.0)})),
        edges=sides_of(0, sum(thick), 0, 0.001),
        touches=(Touch(("a", "b"), contact),) if contact else (),
    )
    mesh = grid(case, spaced(0, thick[0], sum(thick), cells=(48, 20)), spaced(0, 0.001, cells=1))
    rows = np.array([5.0, 20.0, 45.0, 60.0, 80.0, 100.0])
    history = march(case, mesh, rows, tolerance=0.01)
    edges = np.linspace(0.0, 1.0, 61)
    same = solve(
        Problem(
            (
                Layer(medium, thick[0], edges, 320.0, contact, 2e5),
                Layer(STEEL, thick[1], edges, 310.0),
            ),
            (Span(60.0, *WARM_AND_COLD), Span(40.0, Face(exchange=(Exchange(900.0, 300.0),)))),
        ),
        rows,
        tolerance=0.003,
    )
    assert history.ending.status == "finished", history.ending
    line = np.flatnonzero(mesh.y == 0.0)
    for row in range(len(rows)):
        inside = line[(mesh.x[line] > 1e-9) & (mesh.x[line] < thick[0] - 1e-9)]
        layered = np.interp(mesh.x[inside], same.centres[:60], same.temperature[row, :60])
        well_in = (mesh.x[inside] > same.centres[0]) & (mesh.x[inside] < same.centres[59])
        assert np.abs(history.temperature[row, inside] - layered)[well_in].max() < 0.12, rows[row]
        assert at(mesh, history.temperature[row], 0.0, 0.0) == pytest.approx(same.inner_face[row], abs=0.12)
        assert at(mesh, history.temperature[row], sum(thick), 0.0) == pytest.approx(same.outer_face[row], abs=0.12)
    assert history.heat.mismatch < (1e-10 if medium is STEEL else 1e-6)
    assert history.heat.stored == pytest.approx(0.001 * same.heat.stored, abs=5e-4 * history.heat.entered)
