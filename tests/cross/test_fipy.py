"""Thermokit against FiPy on the same mesh: apart by no more than FiPy's own error, found by halving its steps."""

from __future__ import annotations

import numpy as np
import pytest
from cross_bodies import BODIES, rows

from thermokit.conduction.fipy_engine import estimate_error
from thermokit.conduction.single import solve

TOLERANCE = 0.01  # K
PROMISED = 4.0  # tolerances that the solver may be off at worst


SLOW = {"curing charge", "melting and crystallising", "melting slab", "melting within 1 K"}


@pytest.mark.parametrize("name", [pytest.param(n, marks=pytest.mark.long) if n in SLOW else n for n in BODIES])
def test_within_fipys_own_error(name: str) -> None:
    problem = BODIES[name]()
    times = rows(problem)
    ours = solve(problem, times, TOLERANCE)
    theirs = estimate_error(problem, times, 8)
    assert ours.ending.status == "finished"
    allowed = theirs.largest + PROMISED * TOLERANCE
    for column in ("temperature", "inner_face", "outer_face"):
        assert np.abs(getattr(ours, column) - getattr(theirs.history, column)).max() <= allowed, column
    for state, values in theirs.history.states.items():
        error = np.nanmax(theirs.states[state]) + PROMISED * TOLERANCE / 30.0
        assert np.nanmax(np.abs(ours.states[state] - values)) <= error, state
    # the comparison says something: FiPy's error is small beside what happens in the run
    assert theirs.largest < 0.04 * (ours.hottest.value - ours.coldest.value)
