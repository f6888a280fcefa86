"""Time tables: linear between their points, held at the ends, a jump where two times are equal."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Radiation, Series, Span
from thermokit.conduction.single import solve

LAYER = Layer(Medium(1200.0, 0.2, 1500.0), 0.004, np.linspace(0, 1, 25), 300.0)
TIMES = np.array([5.0, 10.0, 20.0, 30.0, 31.0, 45.0, 60.0])


def run(*spans: Span, times: np.ndarray = TIMES, tolerance: float = 0.01):
    return solve(Problem((LAYER,), spans), times, tolerance)


BEFORE_AFTER = {
    "temperature": (
        Face(temperature=400.0),
        Face(temperature=350.0),
        Face(temperature=Series((0.0, 30.0, 30.0), (400.0, 400.0, 350.0))),
    ),
    "heating": (Face(heating=2000.0), Face(heating=-500.0), Face(heating=Series((30.0, 30.0), (2000.0, -500.0)))),
    "air": (
        Face(exchange=(Exchange(50.0, 450.0),)),
        Face(exchange=(Exchange(50.0, 320.0),)),
        Face(exchange=(Exchange(50.0, Series((0.0, 30.0, 30.0, 40.0), (450.0, 450.0, 320.0, 320.0))),)),
    ),
    "coefficient": (
        Face(exchange=(Exchange(50.0, 450.0),)),
        Face(exchange=(Exchange(500.0, 450.0),)),
        Face(exchange=(Exchange(Series((30.0, 30.0), (50.0, 500.0)), 450.0),)),
    ),
    "surround": (
        Face(radiation=(Radiation(0.8, 700.0),)),
        Face(radiation=(Radiation(0.8, 400.0),)),
        Face(radiation=(Radiation(0.8, Series((30.0, 30.0), (700.0, 400.0))),)),
    ),
}


@pytest.mark.parametrize("what", BEFORE_AFTER)
def test_a_step_in_a_table_is_a_change_of_span(what: str) -> None:
    before, after, table = BEFORE_AFTER[what]
    two = run(Span(30.0, Face(), before), Span(30.0, Face(), after))
    one = run(Span(60.0, Face(), table))
    np.testing.assert_allclose(one.temperature, two.temperature, rtol=0, atol=0.02)  # two runs, each to 0.01 K a step
    assert one.heat.stored == pytest.approx(two.heat.stored, rel=1e-4)


def test_times_of_a_face_run_from_the_start_of_its_span() -> None:
    ramp = Series((0.0, 20.0), (300.0, 400.0))
    late = run(Span(10.0), Span(50.0, Face(), Face(temperature=ramp)))
    early = run(Span(50.0, Face(), Face(temperature=ramp)), times=np.array([10.0, 20.0, 50.0]))
    rows = [list(TIMES).index(t) for t in (20.0, 30.0, 60.0)]
    np.testing.assert_allclose(late.temperature[rows], early.temperature, rtol=0, atol=1e-9)


def test_heat_of_a_layer_runs_from_the_start_of_the_run() -> None:
    """One table over two insulated spans: T = T0 + integral / rho c."""
    heat = Series((0.0, 25.0, 25.0, 45.0), (0.0, 1e6, 4e5, 0.0))
    layer = Layer(Medium(1200.0, 0.2, 1500.0), 0.004, np.linspace(0, 1, 5), 300.0, heat=heat)
    h = solve(Problem((layer,), (Span(20.0), Span(40.0))), np.array([20.0, 60.0]))
    integral = np.array([0.5 * 20 * 8e5, 0.5 * 25 * 1e6 + 0.5 * 20 * 4e5])
    np.testing.assert_allclose(h.temperature[:, 0], 300.0 + integral / (1200 * 1500), rtol=0, atol=1e-9)


def test_faces_follow_a_ramp_and_hold_its_ends() -> None:
    ramp = Series((10.0, 30.0), (300.0, 400.0))
    h = run(Span(60.0, Face(), Face(temperature=ramp)), times=np.array([5.0, 10.0, 15.0, 30.0, 50.0]))
    np.testing.assert_allclose(h.outer_face, [300.0, 300.0, 325.0, 400.0, 400.0], rtol=0, atol=1e-9)


def test_rows_at_a_span_end_belong_to_the_span_that_ends() -> None:
    """The face at a switch is the old span's; row 0 belongs to the first span."""
    spans = (Span(30.0, Face(), Face(temperature=400.0)), Span(30.0, Face(), Face(temperature=350.0)))
    h = run(*spans, times=np.array([0.0, 30.0, 60.0]))
    np.testing.assert_allclose(h.outer_face, [400.0, 400.0, 350.0], rtol=0, atol=1e-9)
    assert h.span.tolist() == [0, 0, 1]
    assert [end.time for end in h.ends] == [30.0, 60.0]
    assert h.ends[0].outer_face == pytest.approx(400.0)


def test_rows_do_not_change_the_run() -> None:
    """Stored rows come from the dense output: asking for more rows changes nothing."""
    face = Face(exchange=(Exchange(200.0, 420.0),))
    few = run(Span(60.0, Face(), face), times=np.array([60.0]))
    many = run(Span(60.0, Face(), face), times=np.linspace(0, 60, 601))
    np.testing.assert_array_equal(few.temperature[-1], many.temperature[-1])
    assert few.accepted == many.accepted
