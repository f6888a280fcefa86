"""A couple of first order against the closed answers for a step, a ramp and a swing; readings between rows."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.studies.fit_couple import lagged, read_at


def test_a_ramp_is_exact() -> None:
    """lag C' = T - C with T = b t: C = b (t - lag (1 - exp(-t/lag)))."""
    step, lag, slope = 0.5, 3.0, 2.0
    t = step * np.arange(101)
    shown = lagged((slope * t)[None], np.array([lag]), step)[0]
    assert shown == pytest.approx(slope * (t - lag * (1.0 - np.exp(-t / lag))), abs=1e-12)


def test_a_step_is_exact() -> None:
    """The step is a ramp of one row: from its end on, what is left decays by exp(-t/lag)."""
    step, lag = 0.25, 2.0
    values = np.where(np.arange(200) > 0, 10.0, 0.0)
    shown = lagged(values[None], np.array([lag]), step)[0]
    first = 10.0 * (1.0 - lag / step * (1.0 - np.exp(-step / lag)))  # the ramp's own answer at its end
    t = step * (np.arange(200) - 1)
    assert shown[1] == pytest.approx(first, abs=1e-12)
    assert shown[1:] == pytest.approx(10.0 - (10.0 - first) * np.exp(-t[1:] / lag), abs=1e-12)


def test_a_swing_lags_and_shrinks() -> None:
    """A sine of angular frequency w is shown 1/sqrt(1 + (w lag)^2) times as high, later by atan(w lag)/w."""
    lag, w, step = 4.0, 0.5, 0.01
    t = step * np.arange(20_001)
    shown = lagged(np.sin(w * t)[None], np.array([lag]), step)[0]
    late = t > 100.0
    gain = 1.0 / np.sqrt(1.0 + (w * lag) ** 2)
    assert shown[late] == pytest.approx(gain * np.sin(w * t[late] - np.arctan(w * lag)), abs=1e-4)


def test_each_case_has_its_own_lag_and_none_is_none() -> None:
    values = np.tile(np.linspace(0.0, 50.0, 26), (3, 1))
    shown = lagged(values, np.array([0.0, 1.0, 5.0]), 1.0)
    assert shown[0] == pytest.approx(values[0], abs=1e-12)
    assert np.all(shown[1, 1:] > shown[2, 1:])
    assert lagged(values, np.zeros(3), 1.0) is values
    assert lagged(values, np.full(3, 1e-9), 1.0) == pytest.approx(values, abs=1e-6)
    assert lagged(values, np.full(3, 1e9), 1.0) == pytest.approx(np.zeros_like(values), abs=1e-4)


def test_a_place_that_is_not_there_stays_so() -> None:
    values = np.array([[np.nan, np.nan, 20.0, 20.0, 40.0, 40.0]])
    shown = lagged(values, np.array([1.0]), 1.0)[0]
    assert np.isnan(shown[:2]).all()
    assert shown[2:4] == pytest.approx([20.0, 20.0])  # in balance with the first that it meets
    assert 20.0 < shown[4] < shown[5] < 40.0


def test_readings_between_rows() -> None:
    series = np.array([[0.0, 10.0, 30.0], [np.nan, 10.0, 30.0]])
    read = read_at(series, np.array([[0.0, 0.5, 3.0, 9.0], [0.0, 2.0, 4.0, 3.0]]), 2.0)
    assert read[0] == pytest.approx([0.0, 2.5, 20.0, 30.0])
    assert np.isnan(read[1, 0])
    assert read[1, 1:] == pytest.approx([10.0, 30.0, 20.0])
