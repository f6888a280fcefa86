"""Thresholds located inside a step, against the exact times of the series (not against stored rows)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from thermokit.conduction.single import solve
from thermokit.conduction.watch import Watch
from validation.references import convective_series as series

SHAPES = ("plane", "cylinder", "sphere")


def heated(shape: str, biot: float, cells: int = 200) -> Problem:
    """R = 10 mm, a = 1e-6 m2/s (R2/a = 100 s), from 300 K in a medium at 400 K."""
    face = Face(temperature=400.0) if math.isinf(biot) else Face(exchange=(Exchange(100.0 * biot, 400.0),))
    layer = Layer(Medium(1000.0, 1.0, 1000.0), 0.01, np.linspace(0, 1, cells + 1), 300.0)
    return Problem((layer,), (Span(300.0, Face(), face),), shape)


@pytest.mark.parametrize("biot", [0.5, 5.0, math.inf])
@pytest.mark.parametrize("shape", SHAPES)
def test_rising_thresholds(shape: str, biot: float) -> None:
    watches = (
        Watch("coldest", "coldest", 370.0),
        Watch("axis", "inner_face", 370.0),
        Watch("halfway", 0.005, 370.0),
        Watch("never", "hottest", 401.0),
    )
    crossings = solve(heated(shape, biot), np.array([300.0]), 0.002, watches).crossings
    centre = 100 * series.fourier_to_reach(shape, biot, 0.3, 0.0)
    halfway = 100 * series.fourier_to_reach(shape, biot, 0.3, 0.5)
    assert crossings["coldest"] == pytest.approx(centre, rel=2e-4)
    assert crossings["axis"] == pytest.approx(centre, rel=2e-4)
    assert crossings["halfway"] == pytest.approx(halfway, rel=2e-4)
    assert crossings["never"] is None


@pytest.mark.parametrize("shape", SHAPES)
def test_falling_threshold(shape: str) -> None:
    problem = heated(shape, 2.0)
    layer = problem.layers[0]
    hot = Layer(layer.medium, layer.thickness, layer.edges, 500.0)
    watch = (Watch("surface", "outer_face", 430.0, rising=False),)
    cooled = solve(problem.with_(layers=(hot,)), np.array([300.0]), 0.002, watch)
    exact = 100 * series.fourier_to_reach(shape, 2.0, 0.3, 1.0)
    assert cooled.crossings["surface"] == pytest.approx(exact, rel=2e-4)


def test_crossing_does_not_hang_on_the_rows() -> None:
    watch = (Watch("axis", "inner_face", 370.0),)
    few = solve(heated("plane", 5.0), np.array([300.0]), 0.03, watch).crossings["axis"]
    many = solve(heated("plane", 5.0), np.linspace(0, 300, 3001), 0.03, watch).crossings["axis"]
    assert few == many
