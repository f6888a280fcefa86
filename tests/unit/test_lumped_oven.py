"""An oven and its load, both of one temperature: closed forms, balance, and the load found by its true face."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermokit.exchange.lumped_oven import STEFAN_BOLTZMANN, Load, Oven, loaded_air

TIME = np.linspace(0.0, 1200.0, 2401)


def load(h: float, r: float, m: float, start: float = 300.0) -> Load:
    table = np.ones((1, 1))
    return Load(h * table, r * table, m * table, start * table, 430.0)


def off() -> np.ndarray:
    return np.zeros((len(TIME), 1, 1))


def test_empty_oven_warms_as_a_lumped_body() -> None:
    """P = G (T_end - T_room): T = T_end + (T0 - T_end) exp(-G t/C) while the heaters give all they have."""
    oven = Oven(900.0, 296.0, 4000.0, 20.0, 20e3, 1e-3)
    air, _ = loaded_air(oven, load(0.0, 0.0, 1.0), TIME, 296.0, np.zeros(len(TIME)), off())
    exact = 496.0 - 200.0 * np.exp(-20.0 * TIME / 20e3)
    assert air[:, 0] == pytest.approx(exact, abs=0.1)


def test_it_stands_at_its_set_temperature() -> None:
    oven = Oven(460.0, 296.0, 9000.0, 15.0, 30e3, 2.0)
    air, _ = loaded_air(oven, load(0.0, 0.0, 1.0), TIME, 400.0, np.zeros(len(TIME)), off())
    assert air[-1, 0] == pytest.approx(460.0, abs=1e-3)
    assert air[:, 0].max() <= 460.0 + 1e-9


def test_with_a_load_as_an_integrator_of_another_make_has_it() -> None:
    """Two lumped bodies with radiation, by scipy's Radau."""
    oven = Oven(460.0, 296.0, 6000.0, 15.0, 30e3, 2.0)
    h, r, m = 60.0, 1.5, 40e3

    def slope(_: float, y: np.ndarray) -> list[float]:
        t, s = y
        taken = h * (t - s) + r * STEFAN_BOLTZMANN * (t**4 - s**4)
        return [(float(oven.heaters(np.array(t))) - 15.0 * (t - 296.0) - taken) / 30e3, taken / m]

    exact = solve_ivp(slope, (0.0, 1200.0), [460.0, 300.0], "Radau", TIME, rtol=1e-8, atol=1e-8)
    air, true = np.full((len(TIME), 1), 460.0), exact.y[1].reshape(-1, 1, 1)
    own = load(h, r, m)
    for _ in range(6):
        air, _ = loaded_air(oven, own, TIME, 460.0, np.zeros(len(TIME)), true - own.stand_in(TIME, air))
    assert air[:, 0] == pytest.approx(exact.y[0], abs=0.3)


def test_a_door_lets_room_air_in() -> None:
    """While it is open the air falls towards the balance of heaters and doors; afterwards it comes back."""
    oven = Oven(460.0, 296.0, 6000.0, 15.0, 30e3, 2.0)
    doors = np.where((TIME > 300.0) & (TIME <= 400.0), 200.0, 0.0)
    air, _ = loaded_air(oven, load(0.0, 0.0, 1.0), TIME, 460.0, doors, off())
    end = 296.0 + 6000.0 / 215.0
    exact = end + (460.0 - end) * np.exp(-100.0 * 215.0 / 30e3)
    assert air[800, 0] == pytest.approx(exact, abs=1.5)
    assert air[-1, 0] == pytest.approx(460.0, abs=0.5)
