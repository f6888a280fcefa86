"""Bodies of other sizes and stuff as the cases of one batch: each as if it were alone."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.problem import Curve, Exchange, Face, Layer, Medium, Problem, Span
from thermokit.conduction.side_by_side import side_by_side
from thermokit.conduction.single import solve

CUT = np.linspace(0.0, 1.0, 9)


def made(k: object, cp: object, thickness: float, radius: float = 0.01) -> Problem:
    layer = Layer(Medium(1000.0, k, cp), thickness, CUT, 300.0, name="x")
    face = Face(exchange=(Exchange(50.0, 400.0),))
    return Problem((layer,), (Span(60.0, outer=face),), "cylinder", radius)


PROBLEMS = [
    made(0.2, 1500.0, 3e-3),
    made(Curve(np.array([300.0, 400.0]), np.array([0.2, 0.4])), 1200.0, 4e-3, 0.02),
    made(15.0, Curve(np.array([290.0, 350.0, 410.0]), np.array([500.0, 700.0, 650.0])), 1e-3),
]


def test_each_as_if_alone() -> None:
    many = solve_batch(side_by_side(PROBLEMS), 3, tolerance=1e-3)
    for i, problem in enumerate(PROBLEMS):
        alone = solve(problem, np.array([60.0]), 1e-3)
        assert many.end_temperature[0][:, i] == pytest.approx(alone.temperature[-1], abs=0.02)


def test_arrays_over_cases_stay_together() -> None:
    joined = side_by_side([made(np.array([0.2, 0.3]), 1500.0, 3e-3), made(0.5, 1500.0, 3e-3)], 2)
    assert np.asarray(joined.layers[0].medium.conductivity).tolist() == [0.2, 0.3, 0.5, 0.5]
    assert joined.layers[0].thickness == 3e-3


def test_what_does_not_correspond() -> None:
    other = PROBLEMS[0].with_(spans=(*PROBLEMS[0].spans, Span(1.0)))
    with pytest.raises(ValueError, match="different number"):
        side_by_side([PROBLEMS[0], other])
    with pytest.raises(ValueError, match="beside"):
        side_by_side([PROBLEMS[0], PROBLEMS[0].with_(shape="plane")])
