"""What a slope does not show: the balance of a face is exact, a jump does not ring, a slow iteration of a stage ends."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_grids import box, convection, grid, sides_of, spaced
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Face, Layer, Medium, Problem, Radiation, Span
from thermokit.conduction.section_march import march
from thermokit.conduction.section_problem import Region, SectionProblem, SectionSpan
from thermokit.conduction.single import solve
from validation.order import section_time

BASE = 300.0  # K


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
@pytest.mark.parametrize("cells", [1, 3, 10])
def test_balance_of_a_face_is_exact(shape: str, cells: int) -> None:
    """Uniform heat leaves by radiation: T_s from q R/d = e s (T_s^4 - T_0^4), on any mesh."""
    d = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
    radius, heat, emissivity = 0.01, 8e5, 0.9
    surface = (heat * radius / (d * emissivity * STEFAN_BOLTZMANN) + BASE**4) ** 0.25
    layer = Layer(Medium(1000.0, 0.25, 1000.0), radius, np.linspace(0, 1, cells + 1), surface, heat=heat)
    seen = Face(radiation=(Radiation(0.6, BASE), Radiation(emissivity - 0.6, BASE)))
    history = solve(Problem((layer,), (Span(40000.0, Face(), seen),), shape), np.array([40000.0]), 1e-4)
    assert history.outer_face[-1] == pytest.approx(surface, abs=1e-5)


def test_a_jump_does_not_ring() -> None:
    """Air that jumps by 100 K at a face with next to no resistance: nothing goes beyond it by more than the error allowed."""
    case = SectionProblem(
        (Region("body", box(0, 1, 0, 1), Medium(1000.0, 2.0, 1000.0), BASE),),
        (SectionSpan(1e7, {"right": convection(1e5, BASE - 100.0)}),),
        edges=sides_of(0, 1, 0, 1),
    )
    mesh = grid(case, spaced(0, 1, cells=20), spaced(0, 1, cells=2))
    for tolerance in (1.0, 0.03):
        history = march(case, mesh, tolerance=tolerance)
        assert history.coldest.value > BASE - 100.0 - tolerance
        assert history.hottest.value < BASE + tolerance


@pytest.mark.parametrize("name", ["air and coefficient that grow", "radiation, panel rising", "k(T) and radiation"])
def test_a_stage_that_nears_by_a_third_each_time_ends(name: str) -> None:
    """With kept factors Newton's method may shrink a step by a third for ever: short of its end it must renew them, not give up."""
    run = section_time._cases()[name]
    state, taken = run.shot(run.begin(), [[4] * 16])
    assert len(taken[0]) == 16
    assert np.isfinite(run.temperature(state)).all()
