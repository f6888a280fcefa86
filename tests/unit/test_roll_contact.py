"""The air under a web: the constant of the law against its own equation, limits of the contact, fits, and a worked roll."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermokit.exchange.roll_contact import (
    FOIL,
    air_film,
    air_viscosity,
    conductance_at_speed,
    contact_time,
    fit_contact,
    fit_kept,
    outside_of_film,
    web_conductance,
)


def test_constant_of_the_foil_bearing_follows_from_its_equation() -> None:
    """H''' = (H - 1)/H^3 away from the even film, where H - 1 grows as exp(x): the curvature that it ends with."""
    start = 1e-6
    grown = solve_ivp(
        lambda _, y: [y[1], y[2], (y[0] - 1.0) / y[0] ** 3], (0.0, 200.0), [1.0 + start, start, start],
        rtol=1e-11, atol=1e-13,
    )  # fmt: skip
    assert grown.y[0, -1] > 1e3  # far from the film
    assert pytest.approx(grown.y[2, -1], abs=1e-4) == FOIL


def test_film_of_both_surfaces_as_printed_for_one_speed() -> None:
    """Knox and Sweeney's form, 0.65 R (12 eta U/T)^(2/3) for web and roll at U (from memory), within its rounding."""
    found = air_film(0.15, 0.5, 0.5, 120.0, 1.9e-5)
    assert found == pytest.approx(0.65 * 0.15 * (12 * 1.9e-5 * 0.5 / 120.0) ** (2 / 3), rel=0.012)
    assert air_film(0.15, 0.5, 0.0, 120.0, 1.9e-5) == pytest.approx(found / 2 ** (2 / 3), rel=1e-12)
    assert air_film(0.15, 0.0, 0.0, 120.0, 1.9e-5) == 0.0


def test_contact_falls_with_speed_without_a_step_and_never_beyond_its_limits() -> None:
    speed = np.linspace(0.0, 20.0, 2001)
    h = conductance_at_speed(500.0, 0.3, speed, 80.0, 360.0, roughness=5e-6)
    assert h[0] == 500.0
    assert np.all(np.diff(h) <= 0.0)
    assert np.max(-np.diff(h)) < 5.0  # 0.6 m/min further on costs 1 % of it at most
    fast = web_conductance(500.0, 5e-3, 0.03)
    assert fast == pytest.approx(0.03 / 5e-3, rel=0.02)  # all of it in the air
    assert web_conductance(500.0, 20e-6, 0.03, kept=0.0) == 500.0
    assert web_conductance(500.0, 20e-6, 0.03, roughness=20e-6) == 500.0


@pytest.mark.parametrize("measured", [480.0, 350.0, 200.0])
def test_one_run_finds_one_constant(measured: float) -> None:
    film, k = 12e-6, 0.03
    kept = fit_kept(measured, 500.0, film, k)
    assert web_conductance(500.0, film, k, kept=kept) == pytest.approx(measured)
    contact = fit_contact(measured, film, k, kept=0.8)
    assert web_conductance(contact, film, k, kept=0.8) == pytest.approx(measured)


def test_a_run_that_cannot_tell_is_not_a_number() -> None:
    assert np.isnan(fit_kept(600.0, 500.0, 12e-6, 0.03))  # better than at rest
    assert np.isnan(fit_kept(300.0, 500.0, 0.0, 0.03))  # no film
    assert np.isnan(fit_contact(3000.0, 12e-6, 0.03))  # better than the film alone


def test_outside_of_what_was_measured_is_said() -> None:
    assert outside_of_film(0.1, 2.0, 20.0, 1.9e-5) == ""
    words = outside_of_film(0.15, 0.2, 100.0, 1.9e-5)
    assert "air film over roll radius" in words
    assert "measured between" in words


def test_web_that_warms_on_a_roll() -> None:
    """0.3 mm PVC, half round 300 mm at 12 m/min, 150 degC: T = Tr - (Tr - T0) exp(-t/tau), 128 degC by hand."""
    time = float(contact_time(0.3, np.pi, 0.2))
    u = 1.0 / (1.0 / 500.0 + 0.3e-3 / (3 * 0.17))
    tau = 1350.0 * 1300.0 * 0.3e-3 / u
    assert time == pytest.approx(2.356, abs=1e-3)
    assert 150.0 - 125.0 * np.exp(-time / tau) == pytest.approx(128.0, abs=0.5)


def test_properties_of_air_are_those_of_tables() -> None:
    """Incropera et al., table A.4 at 350 K: 208.2e-7 Pa s."""
    assert air_viscosity(350.0) == pytest.approx(208.2e-7, rel=0.01)
