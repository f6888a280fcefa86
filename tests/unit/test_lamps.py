"""Lamps over a web: power by setting and mains, spectrum when dimmed, after-glow and shutter against quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.exchange import lamps
from thermokit.exchange.bands import grey_bands
from thermokit.exchange.planck import peak_wavelength

FLUX, TAU = 16e3, 25.0


def test_peaks_of_the_kinds_are_those_of_the_trade() -> None:
    """Wien's 2898 um K: short wave 1.07 to 1.38, medium 2.2 to 2.8, fast medium 1.6 to 1.9, long 3.1 to 4.8 um."""
    for name, low, high in (
        ("short_wave", 1.07, 1.38), ("medium_wave_fast", 1.6, 1.95), ("medium_wave", 2.2, 2.8), ("ceramic", 3.05, 4.83),
    ):  # fmt: skip
        lamp = lamps.LAMPS[name]
        assert low <= 1e6 * float(peak_wavelength(lamp.temperature[1])) <= high
        assert lamp.temperature[0] < lamp.temperature[1] < lamp.temperature[2]
        assert lamp.tau[0] < lamp.tau[1] < lamp.tau[2]


def test_dimmed_lamp_radiates_its_power() -> None:
    """sigma T^4 falls with the setting."""
    t = lamps.emitter_temperature(1150.0, [1.0, 0.5, 0.0])
    assert t**4 == pytest.approx(1150.0**4 * np.array([1.0, 0.5, 0.0]))


def test_mains_and_settings_multiply() -> None:
    zones = lamps.sent_by_bank([30e3, 40e3], [1.0, 0.5], 0.61, 0.9)
    assert zones == pytest.approx([30e3 * 0.61 * 0.81, 20e3 * 0.61 * 0.81])


def test_grey_coat_takes_in_what_beer_says() -> None:
    share = lamps.absorbed_share(grey_bands(5000.0, 0.0), 0.24e-3, 1150.0, path=1.0)
    assert share == pytest.approx(1.0 - np.exp(-1.2))


def test_table_gives_its_own_numbers_and_lies_between() -> None:
    for what, row in lamps.TAKEN_IN.items():
        assert lamps.taken_in(what, lamps.TAKEN_AT) == pytest.approx(row)
    between = lamps.taken_in("white PVC film, 0.3 mm", np.linspace(800.0, 2400.0, 50))
    assert np.all(np.diff(between) <= 0.0)
    assert lamps.taken_in("dark PVC film, 0.3 mm", 5000.0) == 0.85


def test_heat_after_a_stop_by_quadrature() -> None:
    for shutter, leak in ((1.0, 0.0), (4.0, 0.1), (60.0, 0.0)):
        open_, _ = quad(lambda t: float(lamps.after_glow(FLUX, TAU, t)), 0.0, shutter)
        shut, _ = quad(lambda t: float(lamps.after_glow(FLUX, TAU, t)), shutter, 60.0 * TAU)
        found = lamps.heat_after_stop(FLUX, TAU, shutter, leak)
        assert found == pytest.approx(open_ + leak * shut, rel=1e-8)
    assert lamps.heat_after_stop(FLUX, TAU) == FLUX * TAU


def test_slow_shutter_by_quadrature() -> None:
    delay, closing = 0.5, 2.0

    def left(t: float) -> float:
        return float(lamps.after_glow(FLUX, TAU, t)) * float(np.clip(1.0 - (t - delay) / closing, 0.0, 1.0))

    expected = quad(left, 0.0, delay)[0] + quad(left, delay, delay + closing)[0]
    assert lamps.heat_while_closing(FLUX, TAU, delay, closing) == pytest.approx(expected, rel=1e-9)
    at_once = lamps.heat_after_stop(FLUX, TAU, delay)
    assert lamps.heat_while_closing(FLUX, TAU, delay, 0.0) == pytest.approx(float(at_once), rel=1e-9)


def test_time_to_the_limit_is_when_the_rise_is_used_up() -> None:
    room, areal = 30.0, 678.0
    time = lamps.time_to_limit(FLUX, TAU, areal, room)
    assert lamps.rise_after_stop(FLUX, TAU, time, areal) == pytest.approx(room)
    assert lamps.time_to_limit(FLUX, np.inf, areal, room) == pytest.approx(areal * room / FLUX)
    assert lamps.time_to_limit(FLUX, 0.5, areal, room) == np.inf  # short-wave lamps: their glow alone does not do it


def test_cloth_under_medium_wave_lamps_needs_a_shutter_within_about_a_second() -> None:
    """300 g/m2 paste on 120 g/m2 cloth, 678 J/m2/K, 16 kW/m2: some 24 K each second, 30 K left: common practice, a shutter."""
    assert 1.0 < lamps.time_to_limit(FLUX, 30.0, 678.0, 30.0) < 1.5
