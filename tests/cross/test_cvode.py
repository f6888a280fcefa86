"""Thermokit against CVODE (SUNDIALS) at a tight tolerance on the three reference problems, same grid."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from thermokit.conduction.single import solve
from validation.speed.equations import PROBLEMS
from validation.speed.problems import output_times, reference
from validation.speed.tune import reference as reference_temperatures

PROMISED = 4.0  # tolerances that the solver may be off at worst


@lru_cache
def tight(name: str) -> np.ndarray:
    """Temperatures (rows, cells) [degC] by CVODE at 1e-9."""
    return reference_temperatures(name)


@pytest.mark.parametrize("name", PROBLEMS)
@pytest.mark.parametrize("tolerance", [0.03, 0.003])
def test_single_run(name: str, tolerance: float) -> None:
    found = solve(reference(name), output_times(name), tolerance)
    assert found.ending.status == "finished"
    assert np.abs(found.temperature - 273.15 - tight(name)).max() <= PROMISED * tolerance


@pytest.mark.parametrize("name", PROBLEMS)
def test_recorded_values(name: str) -> None:
    """The peers' equations are those of the reference problems: values recorded when these were defined."""
    times, found = output_times(name), tight(name)
    for time, cell, value in PROBLEMS[name].check:  # type: ignore[attr-defined]
        row = int(np.argmin(np.abs(times - time)))
        assert times[row] == pytest.approx(time)
        assert found[row, cell] == pytest.approx(value, abs=1e-3)
