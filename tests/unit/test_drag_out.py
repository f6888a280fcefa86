"""Films that are drawn out and drain: limits of the formulas, and what holds them together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermokit.exchange import drag_out as d

G = 9.80665
viscosities = st.floats(0.05, 20.0)
speeds = st.floats(1e-4, 0.05)


def test_little_drag_is_landau_and_levich() -> None:
    """Without weight to speak of, the form with gravity goes over into the plain one (0.944 and 0.9458 beside each other)."""
    plain = d.thickness_plate_landau_levich(0.01, 1e-5, 0.03, 1000.0)
    assert d.thickness_plate_white_tallmadge(0.01, 1e-5, 0.03, 1000.0) == pytest.approx(float(plain), rel=0.015)


@given(viscosities, speeds)
def test_the_root_is_one(mu: float, u: float) -> None:
    """H solves the published equation, and lies below sqrt(mu U/(rho g)), where the weight would carry all of it back."""
    gamma, rho = 0.033, 1200.0
    h = float(d.thickness_plate_white_tallmadge(mu, u, gamma, rho))
    most = (mu * u / (rho * G)) ** 0.5
    assert 0.0 < h < most
    left = h * (rho * G / gamma) ** 0.5
    right = 0.944 * (mu * u / gamma) ** (2 / 3) * (1.0 - rho * G * h * h / (mu * u)) ** (2 / 3)
    assert left == pytest.approx(right, rel=1e-6)


@given(viscosities, speeds, st.floats(0.0, 30.0), st.floats(0.3, 1.0))
def test_a_yield_stress_holds_what_it_holds(mu: float, u: float, tau: float, n: float) -> None:
    drawn = float(d.thickness_drawn(mu, u, 0.033, 1200.0, tau, n))
    assert drawn >= tau / (1200.0 * G) * (1.0 - 1e-12)
    left = float(d.thickness_drained(drawn, mu, 1200.0, 0.1, 1e6, tau))
    assert left >= tau / (1200.0 * G) * (1.0 - 1e-12)
    assert left <= drawn


def test_drained_long_enough_a_newtonian_film_is_jeffreys() -> None:
    """sqrt(mu x/(rho g t)) = 0.7525 mm at 0.2 m after 60 s for 2 Pa s and 1200 kg/m3 (g = 9.81)."""
    assert 1e3 * d.thickness_drained(5e-3, 2.0, 1200.0, 0.2, 60.0) == pytest.approx(0.7525, rel=1e-3)
    assert d.thickness_drained(1e-4, 2.0, 1200.0, 0.2, 60.0) == pytest.approx(1e-4)


def test_arrays_go_through() -> None:
    mu = np.array([0.5, 1.0, 2.0])
    many = d.thickness_drawn(mu, 5e-3, 0.033, 1200.0, 3.0, 0.7)
    assert many == pytest.approx([float(d.thickness_drawn(m, 5e-3, 0.033, 1200.0, 3.0, 0.7)) for m in mu])
    assert np.all(np.diff(d.thickness_drawn(mu, 5e-3, 0.033, 1200.0)) > 0.0)


def test_apparent_viscosity() -> None:
    """Bingham: plastic viscosity plus tau over the rate."""
    assert d.apparent_viscosity_herschel_bulkley(5.0, 2.0, 1.0, 10.0) == pytest.approx(2.5)
    assert d.apparent_viscosity_herschel_bulkley(0.0, 2.0, 0.5, 4.0) == pytest.approx(1.0)
