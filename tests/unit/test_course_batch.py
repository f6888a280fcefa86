"""Many bodies through one course at once: each is its single run, and fails alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from batches import one
from course_bodies import CUT, formed

from thermokit.conduction.batch_record import STATUS
from thermokit.conduction.course import Course, LayerState
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Series, Span

TOLERANCE = 0.01
APART = 2.0 * TOLERANCE  # two marches of the same equations
CASES = 5
KEPT = [0, 2, 3, 4]  # without the one that fails
RATIO = np.array([1.0, 1.5, 2.2, 4.0, 0.8])
CONTACT = np.array([50.0, 300.0, 900.0, 1e5, 2.0])


def many(medium: str, reacts: bool, on_top: bool = False) -> Course:
    """Cases that differ in how long they are heated, how far they are drawn, the contact and the tool's profile."""
    profile = 320.0 + 30.0 * np.linspace(0.0, 1.0, 5)[:, None] * np.array([0.0, 1.0, -1.0, 2.0, -2.0])
    heat = np.array([20.0, 40.0, 60.0, 80.0, 70.0])
    return formed(medium, reacts, RATIO, CONTACT, profile, heat, on_top)


@pytest.mark.parametrize(
    ("medium", "reacts", "on_top"),
    [("plain", False, True), ("variable", True, False), ("two curves", False, False), ("two curves", True, True)],
)
def test_the_batch_is_the_single_run(medium: str, reacts: bool, on_top: bool) -> None:
    course = many(medium, reacts, on_top)
    told: list[float] = []
    batch = follow_batch(course, CASES, TOLERANCE, progress=told.append)
    assert told == sorted(told)
    assert np.all(batch.status == 0)
    assert batch.end_temperature.shape == (4, len(CUT) - 1, CASES)
    for i in range(CASES):
        own = follow(one(course, i), np.zeros(0), TOLERANCE)
        apart = {"abs": APART}
        for k, end in enumerate(own.history.ends):
            assert batch.end_temperature[k, :, i] == pytest.approx(end.temperature, **apart), k
            assert batch.end_inner_face[k, i] == pytest.approx(end.inner_face, **apart), k
            assert batch.end_outer_face[k, i] == pytest.approx(end.outer_face, **apart), k
            for name, values in end.states.items():
                assert batch.end_states[name][k, :, i] == pytest.approx(values, abs=APART / 30.0), (k, name)
        assert batch.hottest[i] == pytest.approx(own.history.hottest.value, abs=0.3)
        assert batch.coldest[i] == pytest.approx(own.history.coldest.value, abs=0.3)
        assert batch.hottest_time[i] == pytest.approx(own.history.hottest.time, abs=1.0)
        assert batch.memory["tool"].temperature[:, i] == pytest.approx(own.memory["tool"].temperature, **apart)
        assert batch.memory["sheet"].temperature[:, i] == pytest.approx(own.memory["sheet"].temperature, **apart)
        assert batch.mismatch[i] <= 1e-12
        assert own.history.heat.mismatch <= 1e-12
        assert batch.edges[:, 0] == pytest.approx(own.history.edges)


@pytest.mark.parametrize("medium", ["plain", "two curves"])
def test_cases_that_part_on_their_way(medium: str) -> None:
    """Alike until they are drawn, or until a tool comes that differs: every case is its single run all the same."""
    course = formed(medium, True, RATIO, CONTACT)
    batch = follow_batch(course, CASES, TOLERANCE)
    profiles = 320.0 + np.outer(np.linspace(0.0, 1.0, 5), [0.0, 20.0, -20.0, 60.0, 5.0])
    warm = follow_batch(formed(medium, True), CASES, TOLERANCE, {"tool": LayerState(profiles, {}, None)})
    for i in range(CASES):
        for found, own in (
            (batch, follow(one(course, i), np.zeros(0), TOLERANCE)),
            (
                warm,
                follow(
                    formed(medium, True), np.zeros(0), TOLERANCE, memory={"tool": LayerState(profiles[:, i], {}, None)}
                ),
            ),
        ):
            assert found.status[i] == 0
            for k, end in enumerate(own.history.ends):
                assert found.end_temperature[k, :, i] == pytest.approx(end.temperature, abs=APART), k
                for name, values in end.states.items():
                    assert found.end_states[name][k, :, i] == pytest.approx(values, abs=APART / 30.0), (k, name)
            assert found.hottest[i] == pytest.approx(own.history.hottest.value, abs=0.3)
            assert found.memory["tool"].temperature[:, i] == pytest.approx(own.memory["tool"].temperature, abs=APART)
            assert found.mismatch[i] <= 1e-12
    alike = follow_batch(formed(medium, True), CASES, TOLERANCE)
    assert alike.end_temperature.shape == batch.end_temperature.shape
    assert alike.memory["tool"].temperature.shape == (5, CASES)
    assert np.ptp(alike.end_temperature, axis=2).max() == 0.0


def test_heat_inside_runs_on_each_case_s_clock() -> None:
    """A source by a time table, in legs that begin at other times in every case: by hand, rho c dT = integral."""
    first = np.array([5.0, 12.0, 30.0])
    pulse = Series((10.0, 10.0, 20.0, 20.0), (0.0, 2e6, 2e6, 0.0))
    layer = Layer(Medium(1000.0, 0.3, 2000.0), 2e-3, np.linspace(0.0, 1.0, 5), 300.0, heat=pulse, name="charge")
    course = Course(
        (Problem((layer,), (Span(first),)), Problem((layer,), (Span(15.0),)), Problem((layer,), (Span(9.0),)))
    )
    found = follow_batch(course, 3, 1e-3)
    rise = 2e6 / 2e6
    so_far = np.array([first, first + 15.0, first + 24.0])
    exact = 300.0 + rise * np.clip(so_far - 10.0, 0.0, 10.0)
    assert found.end_temperature[:, 2] == pytest.approx(exact, abs=1e-6)
    single = follow(one(course, 1), np.array([11.0, 16.0, 30.0]), 1e-3).history
    assert single.temperature[:, 2] == pytest.approx([301.0, 306.0, 310.0], abs=1e-6)


@pytest.mark.parametrize("leg", [0, 1])
@pytest.mark.parametrize("medium", ["plain", "two curves"])
def test_a_case_that_fails_fails_alone(medium: str, leg: int) -> None:
    """Cooled below absolute zero in one leg: it keeps its status, and the others are what they are without it."""
    course = many(medium, True)
    heating = np.zeros(CASES)
    heating[1] = -1e7
    legs = list(course.legs)
    bad = replace(legs[leg].spans[0], inner=Face(heating=heating))
    legs[leg] = replace(legs[leg], spans=(bad, *legs[leg].spans[1:]))
    found = follow_batch(replace(course, legs=tuple(legs)), CASES, TOLERANCE)
    assert STATUS[found.status[1]] in ("out_of_range", "not_finite", "step_too_small")
    assert found.status[1] == found.runs[leg].status[1]
    assert np.all(found.status[KEPT] == 0)
    assert np.isnan(found.end_temperature[0 if leg == 0 else 2 :, :, 1]).all()
    fine = follow_batch(one_less(replace(course, legs=tuple(legs))), CASES - 1, TOLERANCE)
    others = found.end_temperature[..., KEPT]
    assert others == pytest.approx(fine.end_temperature, abs=1e-4)
    assert found.hottest[KEPT] == pytest.approx(fine.hottest, abs=1e-4)
    assert found.coldest[KEPT] == pytest.approx(fine.coldest, abs=1e-4)
    assert found.mismatch[KEPT].max() <= 1e-12
    assert found.memory["tool"].temperature[:, KEPT] == pytest.approx(fine.memory["tool"].temperature, abs=1e-4)


def one_less(course: Any) -> Any:
    """The batch without its case 1."""
    from dataclasses import fields, is_dataclass

    if is_dataclass(course):
        return replace(course, **{f.name: one_less(getattr(course, f.name)) for f in fields(course)})  # type: ignore[type-var]
    if isinstance(course, tuple):
        return tuple(one_less(x) for x in course)
    if isinstance(course, np.ndarray) and course.shape[-1] == CASES:
        return course[..., KEPT]
    return course
