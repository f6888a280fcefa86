"""Courses against FiPy: each leg from our own starts, and the whole way with FiPy carrying its own state along."""

from __future__ import annotations

import numpy as np
import pytest
from cross_courses import COURSES

from thermokit.conduction.course import on_clock, recalled, remembered
from thermokit.conduction.fipy_engine import estimate_error
from thermokit.conduction.follow import follow

TOLERANCE = 0.01  # K
PROMISED = 4.0  # tolerances that the solver may be off at worst
STEPS = 8
SLOW = {"melted and pressed", "out of the mould"}
NAMES = [pytest.param(n, marks=pytest.mark.long) if n in SLOW else n for n in COURSES]


@pytest.mark.parametrize("name", NAMES)
def test_leg_by_leg(name: str) -> None:
    course = COURSES[name]()
    ends = np.cumsum([sum(float(s.duration) for s in leg.spans) for leg in course.legs])
    times = np.concatenate([np.linspace(a, b, 4)[1:] for a, b in zip([0.0, *ends[:-1]], ends, strict=True)])
    travel = follow(course, times, TOLERANCE)
    assert travel.history.ending.status == "finished"
    for problem, ours in zip(travel.legs, travel.runs, strict=True):
        theirs = estimate_error(problem, ours.time, STEPS)
        allowed = theirs.largest + PROMISED * TOLERANCE
        for column in ("temperature", "inner_face", "outer_face"):
            gap = np.abs(getattr(ours, column) - getattr(theirs.history, column)).max()
            assert gap <= allowed, column
        for state, values in theirs.history.states.items():
            error = np.nanmax(theirs.states[state]) + PROMISED * TOLERANCE / 30.0
            assert np.nanmax(np.abs(ours.states[state] - values)) <= error, state
        # the comparison says something: FiPy's error is small beside what happens in the run
        assert theirs.largest < 0.06 * np.ptp(ours.temperature)


@pytest.mark.long
@pytest.mark.parametrize("name", COURSES)
def test_the_whole_way(name: str) -> None:
    """FiPy from its own end of a leg into the next: apart by no more than its errors of all legs add up to."""
    course = COURSES[name]()
    known, begun, error = {}, 0.0, 0.0
    state_error: dict[str, float] = {}
    for leg in course.legs:
        length = sum(float(span.duration) for span in leg.spans)
        theirs = estimate_error(on_clock(recalled(leg, known), begun), np.array([length]), STEPS)
        last = theirs.history
        known.update(remembered(leg, last.temperature[-1], {k: v[-1] for k, v in last.states.items()}))
        begun += length
        error += theirs.largest
        for state, values in theirs.states.items():
            state_error[state] = state_error.get(state, 0.0) + float(np.nanmax(values))
    own = follow(course, np.array([begun]), TOLERANCE)
    assert set(known) == set(own.memory)
    for layer, found in own.memory.items():
        theirs_of = known[layer]
        gap = np.abs(found.temperature - theirs_of.temperature).max()
        assert gap <= error + PROMISED * TOLERANCE, layer
        for state, degree in found.degrees.items():
            allowed = state_error[state] + PROMISED * TOLERANCE / 30.0
            assert np.abs(degree - theirs_of.degrees[state]).max() <= allowed, state
        if found.crystalline is not None:
            allowed = state_error["crystalline_share"] + PROMISED * TOLERANCE / 30.0
            assert np.abs(found.crystalline - theirs_of.crystalline).max() <= allowed
