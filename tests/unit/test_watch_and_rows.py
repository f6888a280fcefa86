"""Rows where they were asked for, in the span they belong to; thresholds over the whole run; extremes between rows."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Series, Span
from thermokit.conduction.record import default_times
from thermokit.conduction.single import solve
from thermokit.conduction.watch import Watch, along
from thermokit.processes.run import rows_of

LUMP = Medium(1000.0, 1e5, 1000.0)  # conducts so well that the body is even


def asked(every: float | None = None, times: tuple[float, ...] | None = None) -> SimpleNamespace:
    return SimpleNamespace(output=SimpleNamespace(every=every, times=times))


def lump(*spans: Span, start: float = 300.0, cells: int = 4) -> Problem:
    """A plate of 10 mm: rho c L = 1e4 J/m2/K."""
    return Problem((Layer(LUMP, 0.01, np.linspace(0, 1, cells + 1), start),), spans)


def heated_by(flux: float, duration: float) -> Span:
    return Span(duration, Face(), Face(heating=flux))


# -- which rows ------------------------------------------------------------------------------------------------------


def test_every_gives_multiples_from_0_and_span_ends() -> None:
    assert rows_of(asked(every=2.0), [5.0, 4.0]).tolist() == [0.0, 2.0, 4.0, 5.0, 6.0, 8.0, 9.0]
    assert rows_of(asked(every=3.0), [3.0, 6.0]).tolist() == [0.0, 3.0, 6.0, 9.0]
    assert rows_of(asked(every=100.0), [5.0]).tolist() == [0.0, 5.0]


def test_round_off_makes_no_second_row() -> None:
    """0.1 x 3 is not 0.3, and 0.1 + 0.2 is not either."""
    rows = rows_of(asked(every=0.1), [0.1, 0.2])
    assert len(rows) == 4
    assert rows == pytest.approx([0.0, 0.1, 0.2, 0.3])


def test_times_are_kept_exactly() -> None:
    times = (0.0, 0.1, 1 / 3, 7.123456789)
    assert rows_of(asked(times=times), [10.0]).tolist() == list(times)


def test_left_out_about_two_hundred_and_the_ends() -> None:
    rows = rows_of(asked(), [30.0, 70.1])
    assert 200 <= len(rows) <= 203
    assert {0.0, 30.0, 100.1} <= set(rows.tolist())
    assert set(np.cumsum([30.0, 70.1])) <= set(default_times([30.0, 70.1]).tolist())


# -- what stands in them ---------------------------------------------------------------------------------------------


def test_rows_are_at_the_times_asked_for() -> None:
    times = np.array([0.0, 1e-6, 0.1, 1 / 3, 4.9999999, 5.0, 5.0000001, 9.0, 20.0])
    found = solve(lump(heated_by(1000.0, 5.0), heated_by(3000.0, 15.0)), times)
    assert found.time.tolist() == times.tolist()
    # dT/dt = q / (rho c L): 0.1 K/s, then 0.3 K/s; the face is q L / (2 k n) warmer, nothing
    exact = 300.0 + 0.1 * np.minimum(times, 5.0) + 0.3 * np.maximum(times - 5.0, 0.0)
    assert found.temperature.mean(axis=1) == pytest.approx(exact, abs=1e-6)


def test_a_row_beyond_the_end_is_not_there() -> None:
    assert solve(lump(heated_by(1000.0, 5.0)), np.array([1.0, 5.0, 6.0])).time.tolist() == [1.0, 5.0]


def test_a_span_end_belongs_to_the_span_that_ends() -> None:
    """Faces of 310, 320, 330 K one after the other: row 0 belongs to the first span, an end to the span that ends."""
    spans = [Span(4.0, Face(temperature=t), Face(temperature=t)) for t in (310.0, 320.0, 330.0)]
    times = np.array([0.0, 2.0, 4.0, 4.0001, 8.0, 9.0, 12.0])
    found = solve(lump(*spans), times)
    assert found.span.tolist() == [0, 0, 0, 1, 1, 2, 2]
    assert found.inner_face.tolist() == [310.0, 310.0, 310.0, 320.0, 320.0, 330.0, 330.0]
    assert [end.outer_face for end in found.ends] == [310.0, 320.0, 330.0]
    assert [end.time for end in found.ends] == [4.0, 8.0, 12.0]


def test_a_jump_of_a_table_belongs_to_what_was_before() -> None:
    held = Face(temperature=Series((0.0, 3.0, 3.0, 6.0), (310.0, 310.0, 350.0, 380.0)))
    found = solve(lump(Span(6.0, held, Face())), np.array([0.0, 3.0, 3.0001, 4.5, 6.0]))
    assert found.inner_face == pytest.approx([310.0, 310.0, 350.001, 365.0, 380.0], abs=1e-6)


def test_many_ends_do_not_drift() -> None:
    found = solve(lump(*[heated_by(100.0, 0.1) for _ in range(30)]), np.array([3.0]))
    assert [end.time for end in found.ends] == pytest.approx(np.cumsum([0.1] * 30), rel=1e-14)
    assert found.time.tolist() == [3.0]


@pytest.mark.parametrize("table", [0.0, Series((0.0, 1.0), (100.0, 100.0))])
def test_an_empty_span_has_its_end(table: float | Series) -> None:
    problem = lump(heated_by(1000.0, 5.0), Span(0.0, Face(temperature=350.0), Face()), heated_by(1000.0, 5.0))
    layer = problem.layers[0]
    layers = (Layer(layer.medium, layer.thickness, layer.edges, layer.start, heat=table),)
    found = solve(problem.with_(layers=layers), np.array([10.0]))
    assert [end.time for end in found.ends] == [5.0, 5.0, 10.0]
    assert found.ends[1].temperature == pytest.approx(found.ends[0].temperature)


# -- thresholds and extremes -----------------------------------------------------------------------------------------


def test_the_first_crossing_of_the_whole_run_counts() -> None:
    """Up at 1 K/s, down, and up again: 305 K at 5 s, back at 15 s."""
    spans = (heated_by(1e4, 10.0), heated_by(-1e4, 10.0), heated_by(1e4, 10.0))
    watches = (
        Watch("up", "coldest", 305.0),
        Watch("down", "hottest", 305.0, rising=False),
        Watch("middle", 0.005, 307.5),
        Watch("never", "hottest", 311.0),
        Watch("from the start", "inner_face", 299.0),
    )
    found = solve(lump(*spans), np.array([30.0]), 0.01, watches).crossings
    assert found["up"] == pytest.approx(5.0, abs=2e-3)
    assert found["middle"] == pytest.approx(7.5, abs=2e-3)
    assert found["never"] is None
    assert found["from the start"] == 0.0
    assert found["down"] == 0.0  # it begins below


def test_a_falling_threshold_in_a_later_span() -> None:
    watch = Watch("down", "hottest", 305.0, rising=False)
    spans = (heated_by(-1e3, 10.0), heated_by(-1e4, 10.0))
    found = solve(lump(*spans, start=310.0), np.array([20.0]), 0.01, (watch,)).crossings
    assert found["down"] == pytest.approx(10.0 + (310.0 - 1.0 - 305.0) / 1.0, abs=2e-3)


def test_extremes_are_found_between_rows() -> None:
    """A face held at a peak of 400 K at 5 s, seen by no row; spans have their own extremes."""
    peak = Face(temperature=Series((0.0, 5.0, 10.0), (300.0, 400.0, 300.0)))
    found = solve(lump(Span(10.0, peak, Face()), Span(10.0, Face(), Face())), np.array([0.0, 20.0]))
    assert found.hottest.value == pytest.approx(400.0, abs=1e-6)
    assert (found.hottest.time, found.hottest.depth) == (pytest.approx(5.0), 0.0)
    assert found.ends[0].hottest.value == pytest.approx(400.0, abs=1e-6)
    assert found.ends[1].hottest.value < 400.0
    assert found.coldest.value == pytest.approx(300.0, abs=1e-6)


def test_extremes_inside_a_step() -> None:
    """Heating that turns to cooling, h constant: a lump's exact peak lies where heating is over."""
    tau = 1e4 / 200.0
    face = Face(exchange=(Exchange(200.0, Series((0.0, 20.0, 20.0), (400.0, 400.0, 300.0))),))
    found = solve(lump(Span(60.0, Face(), face)), np.array([60.0]), 0.01)
    exact = 400.0 - 100.0 * np.exp(-20.0 / tau)
    assert found.ends[0].hottest.time == pytest.approx(20.0, abs=1e-6)
    assert found.hottest.value == pytest.approx(exact, abs=0.03)


def test_along_is_linear_and_takes_the_faces() -> None:
    depth, profile = np.array([0.0, 1.0, 3.0, 4.0]), np.array([[10.0, 20.0, 40.0, 60.0]])
    for at, value in ((0.0, 10.0), (0.5, 15.0), (1.0, 20.0), (2.0, 30.0), (3.5, 50.0), (4.0, 60.0)):
        assert along(depth, profile, at) == pytest.approx([value])
