"""Sag that adds up: its law against finite differences and closed forms, alone and in a body that is solved."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Reaction, Series, Span
from thermokit.conduction.single import solve
from thermokit.kinetics.softening import MOST, Softening, softened_time

RATE, SOFT = 0.05, 378.15
LAW = Softening(RATE, SOFT)


def slab(face: Any, start: Any, law: Softening = LAW, length: Any = 60.0) -> Problem:
    """So thin and conducting that it has the temperature of its faces."""
    layer = Layer(Medium(1.0, 1e3, 1.0), 1e-3, np.linspace(0.0, 1.0, 3), start, reactions=(Reaction("sag_state", law),))
    return Problem((layer,), (Span(length, Face(face), Face(face)),))


def time_of(problem: Problem) -> float:
    return float(softened_time(solve(problem, tolerance=0.01).ends[-1].states["sag_state"])[0])


@pytest.mark.parametrize("temperature", [300.0, 378.15, 420.0, 500.0])
@pytest.mark.parametrize("state", [0.0, 0.4, 3.0])
def test_derivatives_are_exact(temperature: float, state: float) -> None:
    t, s, other = np.array([temperature]), np.array([state]), np.array([0.7])
    rate, by_temperature, by_degrees = LAW.linearise(t, (other, s))
    assert rate == pytest.approx(np.exp(RATE * (t - SOFT) - s) / 100.0)
    assert rate == pytest.approx(LAW.evaluate(t, (other, s)))
    step = 1e-4
    up, down = (LAW.evaluate(t + d, (other, s)) for d in (step, -step))
    assert by_temperature == pytest.approx((up - down) / (2 * step), rel=1e-6)
    assert len(by_degrees) == 2
    assert by_degrees[0] == pytest.approx([0.0])
    up = LAW.evaluate(t, (other, s + step))
    assert by_degrees[1] == pytest.approx((up - rate) / step, rel=1e-3)


@pytest.mark.parametrize("temperature", [340.0, 378.15, 420.0])
def test_at_one_temperature_it_adds_up_in_proportion_to_time(temperature: float) -> None:
    """I = exp[rate (T - softening)] t."""
    found = [time_of(slab(temperature, temperature, length=length)) for length in (60.0, 600.0)]
    speed = np.exp(RATE * (temperature - SOFT))
    assert found == pytest.approx([60.0 * speed, 600.0 * speed], rel=2e-3)


def test_on_a_ramp_it_adds_up_to_the_integral() -> None:
    """I = {exp[rate (T1 - softening)] - exp[rate (T0 - softening)]}/(rate b) for T = T0 + b t."""
    ramp = Series((0.0, 100.0), (350.0, 450.0))
    wanted = (np.exp(RATE * (450.0 - SOFT)) - np.exp(RATE * (350.0 - SOFT))) / RATE
    assert wanted == pytest.approx(quad(lambda t: np.exp(RATE * (350.0 + t - SOFT)), 0.0, 100.0)[0])
    assert time_of(slab(ramp, 350.0, length=100.0)) == pytest.approx(wanted, rel=5e-3)


def test_many_laws_at_once() -> None:
    rates, softs = np.array([0.03, 0.05, 0.08]), np.array([370.0, 378.15, 390.0])
    batch = solve_batch(slab(420.0, 420.0, Softening(rates, softs)), 3, tolerance=0.01)
    found = softened_time(batch.end_states["sag_state"][-1][0])
    assert found == pytest.approx(60.0 * np.exp(rates * (420.0 - softs)), rel=2e-3)


def test_a_sheet_that_is_far_too_hot_is_followed_quickly_and_stays_finite() -> None:
    """An hour at 400 degC: a number beyond all sense, but one, and without more steps than the logarithm needs."""
    history = solve(slab(673.15, 673.15, length=3600.0), np.array([3600.0]), 0.01)
    state = history.ends[-1].states["sag_state"]
    assert softened_time(state) == pytest.approx(np.full(2, 3600.0 * np.exp(RATE * (673.15 - SOFT))), rel=0.02)
    assert history.accepted < 500
    beyond = LAW.evaluate(np.array([1e5]), (np.zeros(1),))
    assert beyond == pytest.approx([np.exp(MOST) / 100.0])
    assert LAW.linearise(np.array([1e5]), (np.zeros(1),))[1] == pytest.approx([0.0])
