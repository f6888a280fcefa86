"""Sections and moulds against CVODE, scikit-fem and FiPy: the short half of ``validation.solvers``, and the solvers themselves.

The solvers are first held against exact answers and against what the problem says, then against thermokit. What is allowed comes
from both sides' stated errors (``validation/solvers/sections_answer.py``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.section_grids import box
from thermokit.conduction.problem import Curve, Exchange, Face, Medium, Transition
from thermokit.conduction.section_problem import Edge, Region, SectionProblem, SectionSpan
from thermokit.studies.verify_section import verify_section
from validation.references.convective_series import mean_ratio, ratio
from validation.solvers import mould, sections
from validation.solvers.sections_answer import Answer, Pair, compared, look_at
from validation.solvers.sections_data import Stuff
from validation.solvers.sections_grid import march_grid
from validation.solvers.sections_linear import FINE, march_cvode
from validation.solvers.sections_peers import (
    CVODE,
    ELEMENTS,
    VOLUMES,
    Effort,
    by_elements,
    mesh_of,
    ours_of_section,
    process_of_case,
)
from validation.solvers.sections_quadratic import march_quadratic
from validation.solvers.sections_shape import Look, Shape

pytest.importorskip("skfem")
pytest.importorskip("sksundae")

STEEL = Medium(7800.0, 29.0, 460.0)
PLASTIC = Medium(
    905.0,
    Curve(np.array([293.0, 493.0]), np.array([0.34, 0.22])),
    Curve(np.array([293.0, 393.0, 493.0]), np.array([1700.0, 2600.0, 2700.0])),
    Transition(90e3, 368.0, 403.0, 391.0),
)
SHORT = Effort(elements=0.5, steps=4, linear=1.0, volumes=0.5, volume_steps=8)


def plate() -> SectionProblem:
    """A rectangular bar of steel, 40 mm by 20 mm, in moving water: convection on all four sides."""
    a, b = 0.04, 0.02
    corners = [(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)]
    edges = tuple(Edge(f"side_{i}", corners[i], corners[(i + 1) % 4]) for i in range(4))
    face = Face(exchange=(Exchange(1500.0, 300.0),))
    faces = {edge.name: face for edge in edges}
    return SectionProblem((Region("bar", box(0, a, 0, b), STEEL, 500.0),), (SectionSpan(12.0, faces),), edges=edges)


def bar_by(solver: str, share: float, look: Look) -> Answer:
    """The bar by one solver, with all effort (1) or half of it."""
    if solver == "grid":
        return march_grid(plate(), look, round(12 * share), round(4 * share))
    mesh = mesh_of(plate(), share)
    if solver == "cvode":
        return march_cvode(plate(), mesh, look, FINE)
    return march_quadratic(plate(), mesh, look, round(4 * share))


@pytest.mark.parametrize("solver", ["cvode", "elements", "grid"])
def test_on_a_bar_of_which_the_answer_is_known_a_solver_is_off_by_no_more_than_it_says(solver: str) -> None:
    """The product of two plates' series (Carslaw & Jaeger, 2nd ed., section 5.6); 2 mK for the scale of digits and steps."""
    look = look_at(plate(), mesh_of(plate(), 0.5))
    pair = Pair(bar_by(solver, 1.0, look), bar_by(solver, 0.5, look))
    diffusivity, h_over_k = 29.0 / (7800.0 * 460.0), 1500.0 / 29.0

    def along(half: float, place: float, time: float) -> float:
        return ratio("plane", h_over_k * half, diffusivity * time / half**2, (place - half) / half)

    late = np.flatnonzero(~look.early)
    exact = np.array(
        [[300 + 200 * along(0.02, x, t) * along(0.01, y, t) for x, y in look.where] for t in look.times[late]]
    )
    off = np.abs(pair.fine.temperature[late] - exact).max(axis=1)
    assert (off <= pair.own[late, 0] + 2e-3).all()
    assert off.max() < 1.5
    # what the bar has lost went through its sides
    means = [mean_ratio("plane", h_over_k * half, diffusivity * 12.0 / half**2) for half in (0.02, 0.01)]
    lost = 7800.0 * 460.0 * 0.04 * 0.02 * 200.0 * (1.0 - means[0] * means[1])
    heats = [-sum(answer.heat.values()) for answer in (pair.fine, pair.coarse)]
    assert abs(heats[0] - lost) <= abs(heats[1] - heats[0]) + 1e-4 * lost


def test_heat_content_is_the_integral_of_its_slope() -> None:
    stuff = Stuff(PLASTIC)
    t = np.linspace(260.0, 520.0, 260_001)
    slope = stuff.capacity(t)
    rise = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(t))])
    assert stuff.heat(t) - stuff.heat(t[:1]) == pytest.approx(rise, abs=1e-6 * rise[-1])
    # from below to above the melting range: latent heat and the trapezoids of the specific heat
    gained = float(stuff.heat(np.array([493.0]))[0] - stuff.heat(np.array([293.0]))[0])
    assert gained == pytest.approx(905.0 * (90e3 + 100 * (1700 + 2600) / 2 + 100 * (2600 + 2700) / 2))


@pytest.mark.parametrize("name", [mould.PLAIN, mould.CUP, "section_bored_block"])
def test_sides_and_joints_that_are_found_from_places_are_those_of_the_mesh(name: str) -> None:
    problem = process_of_case(name).problem()
    mesh = mesh_of(problem, 0.25)
    shape = Shape(problem, mesh)

    def sides(ends: np.ndarray, face: np.ndarray) -> set[tuple[int, ...]]:
        return {(*sorted(pair), f) for pair, f in zip(ends.tolist(), face.tolist(), strict=True)}

    assert sides(shape.sides, shape.side_face) == sides(mesh.sides, mesh.side_face)
    assert sides(shape.joints, shape.joint_face) == sides(mesh.joints, mesh.joint_face)
    # the triangles fill the outlines: their area is the polygon's less those of holes and of what lies inside
    assert (shape.area > 0.0).all()
    outlines = [np.asarray(region.outline) for region in problem.regions]
    whole = [abs(float(np.sum(o[:, 0] * np.roll(o[:, 1], -1) - np.roll(o[:, 0], -1) * o[:, 1]))) / 2 for o in outlines]
    metal = sum(whole[1:] if name == mould.PLAIN else whole[1:2] if "section" in name else whole[1:3])
    # a hole is the polygon of its chords, each with the triangle of half r^2 sin(angle) at the centre
    holes = 0.0
    for number, channel in enumerate(problem.channels, start=len(problem.edges)):
        angle = 2.0 * shape.length(shape.sides, shape.side_face)[shape.side_face == number] / channel.diameter
        assert float(angle.sum()) == pytest.approx(2.0 * np.pi)
        holes += float(np.sum(channel.diameter**2 / 8.0 * np.sin(angle)))
    assert float(shape.area.sum()) == pytest.approx(whole[0] + metal - holes, rel=1e-9)


def test_a_ring_by_all_three() -> None:
    rows = sections.ring(effort=SHORT)
    assert {row.solver for row in rows} == {CVODE, ELEMENTS, sections.GRID}
    assert [row for row in rows if not row.passed] == []


def test_the_steady_state_of_a_platen() -> None:
    rows = sections.platen()
    assert {row.solver for row in rows} == {ELEMENTS, VOLUMES}
    assert [row for row in rows if not row.passed] == []


def test_the_comparison_sees_an_error_of_a_tenth_in_one_contact() -> None:
    process = process_of_case("section_ring")
    problem = process.problem()
    wrong = replace(problem, touches=(replace(problem.touches[0], conductance=1.1 * problem.touches[0].conductance),))
    ours, look = ours_of_section(process)
    theirs = by_elements(wrong, look, SHORT)
    rows = compared(("section", "ring", ELEMENTS), ours, theirs, look, 0.1, heats=["bore", "rim", "top"])
    assert any(not row.passed for row in rows)
    none = Pair(ours.coarse, ours.coarse)
    assert all(row.passed and row.difference == 0.0 for row in compared(("", "", ""), none, none, look, 0.1))


def test_the_first_shot_into_a_mould() -> None:
    rows = mould.plain_first(solvers=(CVODE,), effort=replace(SHORT, linear=0.5))
    assert len(rows) > 5
    assert [row for row in rows if not row.passed] == []


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(sections.CASES))
def test_sections(name: str) -> None:
    assert [row for row in sections.CASES[name]() if not row.passed and not row.reason] == []


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(mould.CASES))
def test_moulds(name: str) -> None:
    assert [row for row in mould.CASES[name]() if not row.passed and not row.reason] == []


@pytest.mark.long
def test_a_plain_wall_is_verified_at_a_tenth_of_a_kelvin() -> None:
    """Once its mesh was too coarse for that: 0.29 K off when the hottest place passed 95 degC."""
    process = process_of_case(mould.PLAIN)
    own, found = verify_section(process, lambda share: None)
    assert own.time[0] >= 0.25 * 17.0  # s, of hold and cooling: to the part they are one station
    assert [comparison.what for comparison in found if not comparison.agrees] == []
