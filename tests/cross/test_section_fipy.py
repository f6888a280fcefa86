"""The second engine on sections: against exact answers by itself, and against the section solver on the same mesh."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from thermokit.case import load_case
from thermokit.conduction.problem import Exchange, Face, Medium, Transition
from thermokit.conduction.section_fipy import estimate_section_error, solve_section_fipy
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import interpolation
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan
from thermokit.conduction.section_steady import steady
from thermokit.errors import SolveError
from thermokit.processes.section import SectionProcess

CASE = Path(__file__).parents[1] / "unit" / "case_texts" / "section.toml"
STUFF = Medium(1000.0, 1.0, 1000.0)
COLD, WARM = Face(temperature=273.15), Face(temperature=293.15)


def rectangle(
    width: float, height: float, faces: dict[str, Face], axisymmetric: bool = False, x: float = 0.0
) -> SectionProblem:
    """One region from x on with its four sides named, under the faces given."""
    a, b = x, x + width
    outline = np.array([[a, 0.0], [b, 0.0], [b, height], [a, height]])
    ends = (("bottom", 0, 1), ("right", 1, 2), ("top", 2, 3), ("left", 3, 0))
    edges = tuple(Edge(name, tuple(outline[i]), tuple(outline[j])) for name, i, j in ends)
    return SectionProblem(
        (Region("plate", outline, STUFF, 283.15),), (SectionSpan(1.0, faces),), edges=edges, axisymmetric=axisymmetric
    )


def test_half_square_column() -> None:
    """ISO 10211:2007 Annex A, case 1, away from the corner: T = 20 sum 4/(n pi) sin(n pi x/2) sinh(n pi y/2)/sinh(n pi)."""
    problem = rectangle(1.0, 2.0, {"top": WARM, "left": COLD, "bottom": COLD})
    # the side x = 1 is the line of symmetry
    mesh = mesh_section(problem, 2.0)
    nodes, weights = interpolation(mesh, np.array([[0.25, 1.75], [0.5, 1.5], [1.0, 1.0], [0.75, 0.5]]))
    found = (solve_section_fipy(problem, mesh, None)[0][nodes] * weights).sum(axis=1) - 273.15
    assert found == pytest.approx([9.658188, 8.640567, 5.0, 1.76706], abs=0.05)


def test_a_ring() -> None:
    """T = T1 + (T2 - T1) ln(r/r1)/ln(r2/r1) between radii of 20 and 60 mm."""
    problem = rectangle(0.04, 0.01, {"left": COLD, "right": WARM}, axisymmetric=True, x=0.02)
    mesh = mesh_section(problem, 2.0)
    exact = 273.15 + 20.0 * np.log(mesh.x / 0.02) / np.log(3.0)
    assert solve_section_fipy(problem, mesh, None)[0] == pytest.approx(exact, abs=0.02)


def test_same_answer_on_the_same_mesh_in_the_steady_state() -> None:
    """Channels, convection, a corner of two temperatures: the same finite volumes, assembled and solved by others."""
    base = rectangle(0.12, 0.06, {})
    water = Face(exchange=(Exchange(5000.0, 298.15),))
    problem = replace(
        base, channels=(Channel("c1", (0.03, 0.04), 0.01),),
        spans=(SectionSpan(1.0, {"c1": water, "top": WARM, "left": COLD}),),
    )  # fmt: skip
    mesh = mesh_section(problem)
    own = steady(problem, mesh).temperature[0]
    assert np.abs(own - solve_section_fipy(problem, mesh, None)[0]).max() < 1e-4


def test_a_case_with_everything() -> None:
    """Contact, latent heat, a table of conductivity, time tables, channels, a part that leaves: within FiPy's own error."""
    problem = SectionProcess(load_case(CASE)).problem()  # type: ignore[arg-type]
    mesh = mesh_section(problem, 0.5)
    rows = np.array([5.0, 20.0, 22.0, 25.0])
    theirs = estimate_section_error(problem, mesh, rows, 6)
    own = march(problem, mesh, rows, 1e-3)
    assert np.array_equal(np.isnan(own.temperature), np.isnan(theirs.temperature))
    gap = np.abs(own.temperature - theirs.temperature)
    assert np.nanmax(gap) < 0.02 + theirs.largest
    assert theirs.largest < 3.0


def test_two_curves_are_refused() -> None:
    melting = Transition(100e3, 400.0, 420.0)
    problem = rectangle(0.01, 0.01, {"top": WARM})
    medium = replace(STUFF, melting=melting, crystallising=Transition(100e3, 380.0, 390.0))
    problem = replace(problem, regions=(replace(problem.regions[0], medium=medium),))
    with pytest.raises(SolveError, match="two curves"):
        solve_section_fipy(problem, mesh_section(problem), np.array([1.0]))
