"""What must not change the answer: repeating, mirroring, cutting a layer in two, bending a plane a very little."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Radiation, Span
from thermokit.conduction.single import integrate_fixed, solve

from .bodies import FACES, MEDIA, body

TIMES = np.array([1.0, 5.0, 20.0, 40.0, 45.0, 70.0])
STEPS = 40  # fixed: two runs then differ by round-off only, not by the lengths of their steps
SPANS = (Span(40.0, FACES["contact"], FACES["all"]), Span(30.0, FACES["held"], Face()))


def assert_identical(a, b) -> None:
    for name in ("time", "temperature", "inner_face", "outer_face"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
    for state in a.states:
        np.testing.assert_array_equal(a.states[state], b.states[state])
    assert a.heat == b.heat
    assert (a.accepted, a.rejected) == (b.accepted, b.rejected)


@pytest.mark.parametrize("medium", MEDIA)
def test_repeated_run_is_bit_identical(medium: str) -> None:
    problem = body("cylinder", medium, SPANS)
    first = solve(problem, TIMES)
    solve(body("sphere", "two curves", SPANS, start=420.0), TIMES)  # another run in between leaves no trace
    assert_identical(first, solve(problem, TIMES))


@pytest.mark.parametrize("medium", MEDIA)
def test_mirrored_body_gives_the_mirrored_answer(medium: str) -> None:
    problem = body("plane", medium, SPANS)
    a, b = problem.layers
    mirrored = problem.with_(
        layers=(replace(b, contact=a.contact), replace(a, contact=None)),
        spans=tuple(replace(s, inner=s.outer, outer=s.inner) for s in problem.spans),
    )
    here, there = integrate_fixed(problem, STEPS, TIMES), integrate_fixed(mirrored, STEPS, TIMES)
    np.testing.assert_allclose(there.temperature[:, ::-1], here.temperature, rtol=0, atol=1e-6)
    np.testing.assert_allclose(there.inner_face, here.outer_face, rtol=0, atol=1e-6)
    np.testing.assert_allclose(there.outer_face, here.inner_face, rtol=0, atol=1e-6)
    assert there.heat.stored == pytest.approx(here.heat.stored, rel=1e-8)


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
@pytest.mark.parametrize("medium", ["plain", "variable", "melting", "two curves"])
def test_a_layer_cut_in_two_is_one_layer(medium: str, shape: str) -> None:
    def run(*cuts: float):
        marks = (0.0, *cuts, 1.0)
        layers = tuple(
            Layer(MEDIA[medium], 0.004 * (b - a), np.linspace(0, 1, round(20 * (b - a)) + 1), 300.0)
            for a, b in pairwise(marks)
        )
        problem = Problem(layers, (Span(60.0, Face(), FACES["all"]),), shape)
        return integrate_fixed(problem, STEPS, np.array([10.0, 60.0]))

    whole, cut = run(), run(0.25, 0.6)
    np.testing.assert_allclose(cut.temperature, whole.temperature, rtol=0, atol=1e-6)
    np.testing.assert_allclose(cut.outer_face, whole.outer_face, rtol=0, atol=1e-6)
    assert cut.heat.entered == pytest.approx(whole.heat.entered, rel=1e-8)


@pytest.mark.parametrize("shape", ["cylinder", "sphere"])
def test_thin_shell_tends_to_the_plane(shape: str) -> None:
    """The difference from the plane falls as thickness over radius."""
    plane = integrate_fixed(body("plane", "melting", SPANS), STEPS, TIMES)
    gaps = []
    for radius in (1.0, 10.0):
        shell = integrate_fixed(body(shape, "melting", SPANS).with_(inner_radius=radius), STEPS, TIMES)
        gaps.append(np.max(np.abs(shell.temperature - plane.temperature)))
    assert gaps[0] < 200 * 0.006 / 1.0 * (1 if shape == "cylinder" else 2)
    assert gaps[1] == pytest.approx(gaps[0] / 10, rel=0.1)


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
@pytest.mark.parametrize("medium", ["plain", "variable", "melting", "one kelvin", "two curves"])
def test_no_temperature_leaves_the_range_of_start_and_surroundings(medium: str, shape: str) -> None:
    """Without sources the hottest and coldest points of all times lie between the start and what the faces see."""
    tolerance = 0.03
    hot = Face(exchange=(Exchange(2000.0, 470.0),), radiation=(Radiation(0.9, 460.0),))
    cold = Face(exchange=(Exchange(3000.0, 290.0),))
    layer = Layer(MEDIA[medium], 0.004, np.linspace(0, 1, 31), 320.0)
    second = Layer(Medium(2700.0, 200.0, 900.0), 0.002, np.linspace(0, 1, 5), 440.0)
    spans = (Span(30.0, Face(), hot), Span(10.0, cold, hot), Span(20.0, cold, Face(temperature=300.0)))
    problem = Problem((replace(layer, contact=700.0), second), spans, shape, 0.0 if shape == "plane" else 0.001)
    h = solve(problem, np.linspace(0.0, 60.0, 61), tolerance)
    assert h.hottest.value <= 470.0 + tolerance
    assert h.coldest.value >= 290.0 - tolerance


def test_at_rest_nothing_moves() -> None:
    """A body in balance with its surroundings stays there, with no heat turned over."""
    face = Face(exchange=(Exchange(50.0, 350.0),), radiation=(Radiation(0.9, 350.0),))
    layer = Layer(MEDIA["variable"], 0.004, np.linspace(0, 1, 21), 350.0)
    h = solve(Problem((layer,), (Span(100.0, face, face),)), np.array([50.0, 100.0]))
    np.testing.assert_allclose(h.temperature, 350.0, rtol=0, atol=1e-9)
    assert h.heat.entered + h.heat.left < 1e-6
