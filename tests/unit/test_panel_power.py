"""Power of a panel's zones against hand balances and a general solver; controlled panels; warm-up tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import root

from thermokit.exchange.panel_power import Surroundings, held_temperatures, supplied, zone_temperatures
from thermokit.exchange.panel_reach import panel_reach
from thermokit.exchange.panel_zones import ZonedPanel, spot_grid
from thermokit.exchange.warm_up import warm_up

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
SHEET, WALLS, AIR = 383.15, 333.15, 343.15
SPOTS = spot_grid(0.6, 0.4, 6, 4)[:2]


def around(walls: float = 0.0, emissivity: float = 0.9, coefficient: float = 8.0) -> Surroundings:
    reach = panel_reach(ZonedPanel(0.7, 0.5, 0.15, 3, 4), *SPOTS, emissivity, 0.9, walls, (0.6, 0.4))
    return Surroundings(reach, SHEET, WALLS, AIR, coefficient)


def test_power_goes_with_the_square_of_the_mains() -> None:
    assert supplied(25e3, [1.0, 0.6, 0.0], 380 / 400, 0.2) == pytest.approx(
        [25e3 * 0.9025 * 0.8, 25e3 * 0.6 * 0.9025 * 0.8, 0.0]
    )


@pytest.mark.parametrize("power", [0.0, 2e3, 8e3, 40e3])
def test_one_zone_over_a_wide_sheet_by_hand(power: float) -> None:
    """Wide grey plates: P = sigma (T^4 - Ts^4)/(1/e1 + 1/e2 - 1) + h (T - Ta), turned round for P."""
    reach = panel_reach(ZonedPanel(1e4, 1e4, 1e-3), 0.0, 0.0, 0.8, 0.9)
    t = float(zone_temperatures(Surroundings(reach, SHEET, WALLS, AIR, 6.0), power)[0])
    by_hand = SIGMA * (t**4 - SHEET**4) / (1 / 0.8 + 1 / 0.9 - 1) + 6.0 * (t - AIR)
    assert by_hand == pytest.approx(power, abs=1e-2)


@pytest.mark.parametrize("walls", [0.0, 0.9])
@pytest.mark.parametrize("coefficient", [0.0, 8.0, 200.0])
def test_zones_come_to_rest_where_a_general_solver_finds_them(walls: float, coefficient: float) -> None:
    surroundings = around(walls, coefficient=coefficient)
    power = np.array([0.0, 20e3, 5e3, 12e3, 8e3, 0.0, 30e3, 1e3, 15e3, 15e3, 100.0, 9e3])
    found = zone_temperatures(surroundings, power)
    assert surroundings.needed(found) == pytest.approx(power, abs=1e-6)
    general = root(lambda t: surroundings.needed(t * 100.0) - power, found / 100.0 + 0.5, tol=1e-12)
    assert general.success and found == pytest.approx(100.0 * general.x, abs=1e-6)
    reach = surroundings.reach
    radiated = reach.zone_loss(found, SHEET, WALLS)
    assert radiated + coefficient * (found - AIR) == pytest.approx(power, abs=1e-6)


def test_a_dead_zone_is_kept_warm_by_sheet_and_neighbours() -> None:
    power = np.full(12, 10e3)
    power[5] = 0.0
    t = zone_temperatures(around(), power)
    lively = np.delete(t, 5)
    assert min(SHEET, WALLS, AIR) < t[5] < lively.min() - 100.0
    nothing = zone_temperatures(around(), np.zeros(12))
    assert np.all((nothing > WALLS) & (nothing < SHEET))


def test_an_open_loop_panel_cools_with_the_mains_and_a_controlled_one_holds() -> None:
    surroundings = around()
    full, low = (supplied(25e3, 1.0, volts) for volts in (1.0, 380 / 400))
    wanted = np.full(12, 650.0)
    setting = surroundings.needed(wanted) / full
    assert np.all((setting > 0.0) & (setting < 1.0))
    open_loop = zone_temperatures(surroundings, setting * low)
    assert np.all(open_loop < 650.0 - 5.0)
    held = held_temperatures(surroundings, wanted, low)
    assert np.all(held.held) and held.temperature == pytest.approx(650.0)
    assert held.power == pytest.approx(setting * full, rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_controlled_zones_are_held_full_on_or_off(seed: int) -> None:
    """Whatever is asked: power within 0 and its most, the balance met, and each zone for a reason where it is."""
    rng = np.random.default_rng(seed)
    surroundings = around(rng.choice([0.0, 0.9]), rng.uniform(0.2, 1.0), rng.uniform(0.0, 20.0))
    wanted, most = rng.uniform(320.0, 850.0, 12), rng.uniform(0.0, 30e3, 12)
    most[rng.random(12) < 0.15] = 0.0
    got = held_temperatures(surroundings, wanted, most)
    assert surroundings.needed(got.temperature) == pytest.approx(got.power, rel=1e-7, abs=1e-3)
    assert np.all(got.power >= -1e-3) and np.all(got.power <= most * (1 + 1e-8) + 1e-3)
    assert got.temperature[got.held] == pytest.approx(wanted[got.held], rel=1e-12)
    full, off = ~got.held & (got.power > 0.0), ~got.held & (got.power == 0.0) & (most > 0.0)
    assert np.all(got.temperature[full] <= wanted[full] + 1e-6)
    assert np.all(got.temperature[off] >= wanted[off] - 1e-6)


def test_zones_that_cannot_hold_are_named() -> None:
    most = np.full(12, 12e3)
    most[7] = 0.0
    got = held_temperatures(around(), np.full(12, 700.0), most)
    assert not got.held[7] and got.power[7] == 0.0
    weak = ~got.held
    weak[7] = False
    assert got.power[weak] == pytest.approx(12e3) and np.all(got.temperature[weak] < 700.0)


@pytest.mark.parametrize("step", [1200.0, 400.0, 90.0, 20.0, 1.0, 0.3, 0.1, -350.0])
def test_warm_up_follows_the_exponential(step: float) -> None:
    times, values = warm_up(693.15, 693.15 - step, 120.0)
    t = np.linspace(0.0, 1800.0, 20_001)
    exact = 693.15 - step * np.exp(-t / 120.0)
    off = np.abs(np.interp(t, times, values) - exact).max()
    assert off <= max(0.2, 5e-4 * abs(step)) * (1 + 1e-9)
    assert len(times) <= 24 and times[0] == 0.0 and values[0] == 693.15 - step
    assert np.all(np.diff(times) > 0.0)


def test_warm_up_of_zones_of_cases_and_of_a_short_station() -> None:
    ends = np.array([693.15, 600.0, 650.0])
    times, values = warm_up(ends, 300.0, 100.0)
    assert times.ndim == 1 and values.shape == (len(times), 3)
    times, values = warm_up(ends, 300.0, np.array([80.0, 100.0, 120.0]))
    assert times.shape == values.shape == (len(times), 3)
    assert np.interp(150.0, times[:, 2], values[:, 2]) == pytest.approx(650.0 - 350.0 * np.exp(-1.25), abs=0.2)
    short, _ = warm_up(693.15, 293.15, 120.0, duration=30.0)
    assert short[-1] >= 30.0 and len(short) <= 6
    for final, initial, shape in ((500.0, 500.0, (1,)), (ends, ends, (1, 3))):
        times, values = warm_up(final, initial, 100.0)
        assert times.tolist() == [0.0] and values.shape == shape
