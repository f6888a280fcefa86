"""Rate laws: closed forms, exact derivatives, broadcasting, and no warning wherever a time step may land."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from thermokit.kinetics.branches import ByTemperature, SumOfRates
from thermokit.kinetics.limited import DiffusionLimited, Vitrified
from thermokit.kinetics.network import GlassTransition
from thermokit.kinetics.pvc import Fusion, Gelation, HeatDose
from thermokit.kinetics.rates import EpoxyAmine, NthOrder, TwoRate

SHARED = TwoRate(2.7e9, 90e3, 2.7e10, 90e3, 1.0, 1.5)
GENERAL = TwoRate(4.9e14, 140e3, 6.2e5, 51e3, 1.3, 2.7)
SEEDED = TwoRate(0.0, 0.0, 6.167e20, 167.4e3, 0.524, 1.476)
FIRST_ONLY = TwoRate(1.7e6, 59e3, 0.0, 0.0, 1.0, 0.96)
SQUARE = TwoRate(1e6, 70e3, 3e7, 80e3, 2.0, 2.0)
ORDER = NthOrder(3.8e13, 126e3, 1.66)
HALF = NthOrder(3.8e13, 126e3, 0.5)
AMINE = EpoxyAmine(3.5e7, 80.7e3, -3.36e7, 77.8e3, 3266.67, 56.6e3, 0.47)
GEL = Gelation(0.0125, 80e3, 358.15)
FUSE = Fusion(0.03, 110e3, 453.15, 425.15, 9.0)
DOSE = HeatDose(4000.0, 115e3, 463.15)
NOTHING = TwoRate(0.0, 0.0, 0.0, 0.0, 1.0, 1.0)
GLASS = GlassTransition(260.0, 460.0, 0.45)
FROZEN = Vitrified(GENERAL, GLASS, 0.01)
FROZEN_AMINE = Vitrified(AMINE, GLASS, 0.1, 30.0, 60.0)
SLOWED = DiffusionLimited(SHARED, 30.0, 0.8, 0.004, 400.0)
BOTH = SumOfRates(SHARED, ORDER)
TURNING = ByTemperature(ORDER, SQUARE, 400.0, 5.0)
LAWS = {
    "shared": SHARED,
    "general": GENERAL,
    "seeded": SEEDED,
    "first only": FIRST_ONLY,
    "square": SQUARE,
    "order": ORDER,
    "half order": HALF,
    "amine": AMINE,
    "gel": GEL,
    "fuse": FUSE,
    "dose": DOSE,
    "nothing": NOTHING,
    "vitrified": FROZEN,
    "vitrified amine": FROZEN_AMINE,
    "diffusion": SLOWED,
    "sum": BOTH,
    "by temperature": TURNING,
}
EVERY_LAW = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())


def run_isothermal(law: object, start: float, times: list[float], temperature: float = 400.0) -> np.ndarray:
    """Degree at times, by an independent integrator."""
    at = np.array([temperature])
    found = solve_ivp(
        lambda t, a: law.evaluate(at, (a,)),  # type: ignore[attr-defined]
        (0.0, max(times)),
        [start],
        t_eval=times,
        method="LSODA",
        rtol=1e-10,
        atol=1e-13,
    )
    return found.y[0]


@pytest.mark.parametrize("n", [1.0, 1.5, 2.0])
def test_order_n_follows_its_closed_form(n: float) -> None:
    # (1-a)^(1-n) = 1 - (1-n) k t; for n = 1: a = 1 - exp(-k t)
    times, k = [100.0, 300.0, 1000.0], 0.005
    exact = [1 - math.exp(-k * t) if n == 1.0 else 1 - (1 - (1 - n) * k * t) ** (1 / (1 - n)) for t in times]
    assert run_isothermal(NthOrder(k, 0.0, n), 0.0, times) == pytest.approx(exact, abs=1e-8)


def test_order_one_half_is_complete_in_finite_time() -> None:
    # a(100 s) = 0.4375, a(300 s) = 0.9375, complete at 400 s
    found = run_isothermal(NthOrder(0.005, 0.0, 0.5), 0.0, [100.0, 300.0, 1000.0])
    assert found == pytest.approx([0.4375, 0.9375, 1.0], abs=1e-5)


def test_two_rates_follow_their_closed_form() -> None:
    # m = n = 1: a = (e^((k1+k2)t) - 1)/(e^((k1+k2)t) + k2/k1), k1 = 2e-4, k2 = 6e-3 1/s
    found = run_isothermal(TwoRate(2e-4, 0.0, 6e-3, 0.0, 1.0, 1.0), 0.0, [200.0, 400.0, 600.0, 1000.0])
    assert found == pytest.approx([0.07339915, 0.2608711, 0.5650002, 0.9406981], abs=1e-7)


@pytest.mark.parametrize("temperature", [363.15, 383.15, 403.15])
def test_the_autocatalytic_law_follows_its_closed_form(temperature: float) -> None:
    # m + n = 2, y = a/(1-a): y^(1-m) = y0^(1-m) + (1-m) k t.
    # Set of Bogetti and Gillespie, J. Composite Materials 25 (1991) 239
    factor, energy, m, start = 3.7e22 / 60.0, 167.4e3, 0.524, 1e-4
    k = factor * math.exp(-energy / 8.314462618 / temperature)

    def time_to(a: float) -> float:
        return ((a / (1 - a)) ** (1 - m) - (start / (1 - start)) ** (1 - m)) / ((1 - m) * k)

    times = [time_to(a) for a in (0.1, 0.5, 0.9)]
    law = TwoRate(0.0, 0.0, factor, energy, m, 2.0 - m)
    assert run_isothermal(law, start, times, temperature) == pytest.approx([0.1, 0.5, 0.9], abs=1e-6)


def degrees_for(law: object, degree: np.ndarray) -> tuple[np.ndarray, ...]:
    """Degrees to hand to a law: fusion reads the gel degree before its own."""
    return (np.full_like(degree, 0.7), degree) if isinstance(law, Fusion) else (degree,)


@EVERY_LAW
def test_derivatives_agree_with_central_differences(law: object) -> None:
    temperature = np.array([330.0, 380.0, 430.0, 470.0, 500.0])[:, None] + np.zeros(6)
    degree = np.array([0.02, 0.15, 0.29, 0.5, 0.8, 0.97]) + np.zeros((5, 1))
    degrees = degrees_for(law, degree)
    rate, by_temperature, by_degrees = law.linearise(temperature, degrees)  # type: ignore[attr-defined]
    assert np.array_equal(rate.shape, temperature.shape)
    assert rate == pytest.approx(law.evaluate(temperature, degrees), rel=1e-13)  # type: ignore[attr-defined]
    scale = np.abs(rate).max() + 1e-300

    def central(step: float, change: object) -> np.ndarray:
        forth, back = change(step), change(-step)  # type: ignore[operator]
        ahead, behind = law.evaluate(*forth), law.evaluate(*back)  # type: ignore[attr-defined]
        return np.asarray((ahead - behind) / (2 * step))

    numeric = central(1e-3, lambda h: (temperature + h, degrees))
    assert by_temperature == pytest.approx(numeric, rel=1e-6, abs=1e-9 * scale)
    assert len(by_degrees) == len(degrees)
    for i, derivative in enumerate(by_degrees):
        numeric = central(1e-6, lambda h, i=i: (temperature, tuple(d + h * (j == i) for j, d in enumerate(degrees))))
        assert derivative == pytest.approx(numeric, rel=1e-6, abs=1e-8 * scale)


@EVERY_LAW
def test_a_large_batch_gives_what_single_cases_give(law: object) -> None:
    # larger than one block, so that the blocks are put together
    rng = np.random.default_rng(1)
    temperature, degree = rng.uniform(300, 480, (60, 400)), rng.uniform(0, 1, (60, 400))
    whole = law.linearise(temperature, degrees_for(law, degree))  # type: ignore[attr-defined]
    rates = law.evaluate(temperature, degrees_for(law, degree))  # type: ignore[attr-defined]
    for case in (0, 399):
        alone = law.linearise(temperature[:, case].copy(), degrees_for(law, degree[:, case].copy()))  # type: ignore[attr-defined]
        assert whole[0][:, case] == pytest.approx(alone[0], rel=1e-13, abs=0)
        assert rates[:, case] == pytest.approx(alone[0], rel=1e-13, abs=0)
        assert whole[1][:, case] == pytest.approx(alone[1], rel=1e-13, abs=0)
        for part, single in zip(whole[2], alone[2], strict=True):
            assert part[:, case] == pytest.approx(single, rel=1e-13, abs=0)


def test_parameters_may_differ_by_case() -> None:
    temperature, degree = np.full((7, 3), 430.0), np.linspace(0.01, 0.9, 21).reshape(7, 3)
    energies, orders = np.array([88e3, 90e3, 92e3]), np.array([1.0, 1.5, 2.0])
    batch = TwoRate(np.array([2e9, 0.0, 3e9]), energies, 2.7e10, 90e3, np.array([1.0, 0.5, 1.3]), orders)
    singles = [
        TwoRate(f, float(e), 2.7e10, 90e3, m, float(n))
        for f, e, m, n in zip((2e9, 0.0, 3e9), energies, (1.0, 0.5, 1.3), orders, strict=True)
    ]
    together = batch.linearise(temperature, (degree,))
    for case, law in enumerate(singles):
        alone = law.linearise(temperature[:, case], (degree[:, case],))
        assert together[0][:, case] == pytest.approx(alone[0], rel=1e-9)
        assert together[1][:, case] == pytest.approx(alone[1], rel=1e-9)
        assert together[2][0][:, case] == pytest.approx(alone[2][0], rel=1e-9)


@EVERY_LAW
@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    temperature=st.floats(min_value=0.0, max_value=1.7e308, exclude_min=True),
    degree=st.floats(min_value=-0.1, max_value=1.1),
)
def test_no_warning_and_no_nan_wherever_a_step_may_land(law: object, temperature: float, degree: float) -> None:
    at, degrees = np.array([temperature]), degrees_for(law, np.array([degree]))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        rate, by_temperature, by_degrees = law.linearise(at, degrees)  # type: ignore[attr-defined]
        law.evaluate(at, degrees)  # type: ignore[attr-defined]
    assert np.all(np.isfinite([rate, by_temperature, *by_degrees]))


def test_nothing_reacts_beyond_its_end_and_the_singular_start_is_finite() -> None:
    hot = np.array([450.0])
    assert abs(SHARED.evaluate(hot, (np.array([1.05]),))[0]) < 1e-15
    assert abs(GENERAL.evaluate(hot, (np.array([1.05]),))[0]) < 1e-15
    assert GEL.evaluate(hot, (np.array([1.05]),))[0] < 0.0  # drives back to 1
    rate, _, (slope,) = SEEDED.linearise(hot, (np.array([0.0]),))
    assert 0.0 < rate[0] < 1.0
    assert np.isfinite(slope[0])


def test_fusion_stops_at_what_the_temperature_allows_and_stays_when_cooled() -> None:
    one, half = np.array([1.0]), np.array([0.5])
    assert FUSE.equilibrium(np.array([425.15]))[0] == pytest.approx(0.5)
    assert FUSE.evaluate(np.array([420.0]), (one, half))[0] == 0.0
    assert FUSE.evaluate(np.array([440.0]), (one, half))[0] > 0.0
    assert FUSE.evaluate(np.array([440.0]), (0.0 * one, half))[0] == 0.0  # nothing fuses before it gels


def test_the_heat_dose_at_the_reference_temperature_counts_its_life() -> None:
    assert quad(lambda t: float(DOSE.evaluate(np.array([463.15]), (np.zeros(1),))[0]), 0.0, 4000.0)[0] == pytest.approx(
        1
    )
