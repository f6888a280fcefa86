"""A heated roll: resistances, the film in its channels, the swing of its face against Fourier's series, a worked web."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.exchange import roll_balance as roll

K, C = 45.0, 3.6e6  # steel


def test_shell_of_a_tube() -> None:
    """R ln(Ro/Ri)/k; a thin one is a plate."""
    assert roll.shell_resistance(0.4, 0.03, 45.0) == pytest.approx(0.2 * np.log(0.2 / 0.17) / 45.0)
    assert roll.shell_resistance(10.0, 0.001, 45.0) == pytest.approx(0.001 / 45.0, rel=2e-4)
    all_of_it = 1.0 / roll.roll_conductance(0.4, 0.03, 45.0, 1200.0, 1e-4)
    assert all_of_it == pytest.approx(0.2 * np.log(0.2 / 0.17) / 45.0 + 0.2 / 0.17 * (1 / 1200.0 + 1e-4))


def swing(share: float, turn: float, flux: float, terms: int = 4000) -> float:
    """The same by Fourier's series: each harmonic through 1/sqrt(i w k rho c), the tail summed by its leading power."""
    n = np.arange(1, terms + 1)
    w = 2 * np.pi * n / turn
    mean = flux * (1 - np.exp(-1j * w * share * turn)) / (1j * w * turn)
    part = mean / np.sqrt(1j * w * K * C)

    def at(t: float) -> float:
        return float(-2 * np.real(np.sum(part * np.exp(1j * w * t))))

    return at(0.0) - at(share * turn)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("turn", [0.5, 5.0])
def test_drop_per_turn_by_fouriers_series(share: float, turn: float) -> None:
    # the series converges as 1/sqrt(terms): extrapolate from two sums
    few, many = swing(share, turn, 10e3, 20_000), swing(share, turn, 10e3, 80_000)
    assert roll.drop_per_turn(10e3, share, turn, K, C) == pytest.approx(2 * many - few, rel=2e-4)


def test_swing_vanishes_where_nothing_changes() -> None:
    assert roll.drop_per_turn(10e3, 0.0, 5.0, K, C) == pytest.approx(0.0, abs=1e-6)
    assert roll.drop_per_turn(10e3, 1.0, 5.0, K, C) == pytest.approx(0.0, abs=1e-6)
    shares = np.linspace(0.0, 0.5, 20)
    found = roll.drop_per_turn(10e3, shares, 5.0, K, C)
    assert np.all(np.diff(found) > 0.0)
    assert found == pytest.approx(roll.drop_per_turn(10e3, 1.0 - shares, 5.0, K, C))


def test_first_contact_cools_as_a_thick_body() -> None:
    """A short contact: the half-space under constant flux, 2 q sqrt(t/pi)/e."""
    share, turn = 1e-4, 10.0
    expected = 2 * 10e3 * np.sqrt(share * turn / np.pi) / np.sqrt(K * C)
    assert roll.drop_per_turn(10e3, share, turn, K, C) == pytest.approx(expected, rel=0.02)


def test_depth_of_the_swing_is_that_of_a_sine() -> None:
    """Carslaw and Jaeger, section 2.6: exp[-x sqrt(w/(2a))], w = 2 pi/P."""
    a = K / C
    assert roll.swing_depth(5.0, K, C) == pytest.approx(1.0 / np.sqrt(2 * np.pi / 5.0 / (2 * a)))


def test_film_in_a_drilled_roll_by_ht() -> None:
    """Oil at 150 degC, 10 L/min through 20 mm: Gnielinski by the library ht, entrance and wall left out."""
    ht = pytest.importorskip("ht")
    from thermokit.exchange.coolants import liquid

    oil, flow, d = liquid("oil", 423.15), 10.0 / 60e3, 0.020
    area = np.pi / 4 * d**2
    re = float(oil.density * flow / area * d / oil.viscosity)
    assert re > 4000.0
    friction = (0.790 * np.log(re) - 1.64) ** -2  # Petukhov
    expected = ht.turbulent_Gnielinski(re, float(oil.prandtl), friction) * oil.conductivity / d
    assert roll.film_of_roll(flow, d, area, 1e9, 423.15) == pytest.approx(float(expected), rel=1e-6)
    assert roll.film_of_roll(flow, d, area, 1.0, 423.15) > expected  # the entrance helps
    assert roll.film_of_roll(flow, d, area, 1.0, 423.15, 403.15) < roll.film_of_roll(flow, d, area, 1.0, 423.15)


def test_a_worked_web() -> None:
    """0.3 mm PVC web, 12 m/min, 25 to 126 degC on a roll of 300 mm at 150 degC: 10.6 kW a metre by hand."""
    duty = float(roll.web_duty(0.3e-3 * 1350.0, 1300.0, 101.0, 0.2))
    assert duty == pytest.approx(10.6e3, rel=0.01)
    u = roll.roll_conductance(0.3, 0.015, 45.0, 1500.0)
    drop = roll.mean_face_drop(duty, 0.3, 1.0, u)
    assert drop * np.pi * 0.3 * u == pytest.approx(duty)
    assert 8.0 < drop < 16.0  # the face lies well below the oil: set by the face, not by the oil
    flux = duty / (np.pi * 0.3 * 0.5)
    turn = np.pi * 0.3 / 0.2
    assert roll.drop_per_turn(flux, 0.5, turn, K, C) < roll.USUAL_DROP[1]
    assert roll.medium_rise(duty, 1e-3, 850.0, 2200.0) == pytest.approx(5.67, abs=0.05)
    assert roll.steam_use(2.1e6) == 1.0
