"""The examples of the sheet from panel to release, against closed forms, heat balances and common practice."""

from __future__ import annotations

import math

import pytest

from cases.plausible import SIGMA, case_file, radiant
from cases.test_examples import found, outcome, sound
from thermokit.case import load_case
from thermokit.studies.dwell import dwell


def test_clear_cloche_takes_the_time_of_the_radiation_it_absorbs() -> None:
    answer, result = found("how_long_to_heat_a_clear")
    sound(result)
    # what a slab takes in of radiation on one face, reflections within it counted: (1 - r)(1 - t)/(1 - r t)
    passes = math.exp(-1.5)
    absorbed = 0.95 * (1.0 - passes) / (1.0 - 0.05 * passes)
    assert outcome(result, "heat_upper_absorbed") == pytest.approx(absorbed, abs=1e-3)
    shares = sum(outcome(result, f"heat_upper_{word}") for word in ("absorbed", "reflected", "passed"))
    assert shares == pytest.approx(1.0, abs=1e-9)
    # lumped: rho cp L dT/dt = 2 {A F sigma (Tp^4 - T^4) + h (Ta - T)}, by steps of 10 ms
    temperature, time = 293.15, 0.0
    while time < answer.recommended:
        flux = absorbed * 0.6 * SIGMA * (623.15**4 - temperature**4) + 8.0 * (323.15 - temperature)
        temperature += 0.01 * 2.0 * flux / (1270.0 * 1750.0 * 1.5e-3)
        time += 0.01
    cooling = 2.0 * (10.0 + radiant(0.7, 150.0, 23.0)) * 123.0 * 3.0 / (1270.0 * 1750.0 * 1.5e-3)
    assert outcome(result, "mean_temperature") + 273.15 == pytest.approx(temperature - cooling, abs=1.5)
    # it is the same all through: an opaque sheet would show q L/4k of 6 K and more
    assert outcome(result, "face_core_difference") < 4.0
    assert "as if opaque" in answer.hand.why_different
    assert any("absorbing band" in remark for remark in result.remarks)


def test_potting_tray_cools_as_the_conductances_of_its_sides_let_it() -> None:
    answer, result = found("how_long_to_cool_a_potting")
    sound(result)
    # between a sheet without resistance of its own and one that keeps all of its half thickness
    tool = outcome(result, "settled_mould_temperature")
    thickness, heat = 4.0e-3 / 1.1, 1045.0 * 1950.0
    start, release = outcome(result, "mean_temperature"), 85.0

    def lumped(resistance: float) -> float:
        sides = [1.0 / (1.0 / 250.0 + resistance), 1.0 / (1.0 / 40.0 + resistance)]
        cooler = (sides[0] * tool + sides[1] * 25.0) / sum(sides)
        return heat * thickness / sum(sides) * math.log((start - cooler) / (release - cooler))

    assert lumped(0.0) < answer.earliest + 3.0 < lumped(thickness / 0.19)
    assert answer.latest is None
    # the tool stands between its water and the sheet, and is warmer at the touch than before the first shot
    assert 40.0 < tool < 60.0
    assert outcome(result, "shots_until_settled") <= 50.0
    # common practice, no source: a drawn tray of some millimetres is on its tool for half a minute to two minutes
    assert 30.0 < answer.recommended < 120.0
    assert any("chill mark" in remark and "TOO SLOW" in remark for remark in result.remarks)
    assert {"shots/touch_temperature", "tool/mould_temperature", "regions/thickness"} <= {f.name for f in result.fields}


def test_low_mains_take_more_time_by_the_power_that_is_missing() -> None:
    case = load_case(case_file("what_does_low_mains"))
    low, rated = dwell(case), dwell(case.with_values({"stations.heat.mains.actual": 400.0}))
    assert low.recommended is not None and rated.recommended is not None
    # the heat of the sheet is the same; (400/380)^2 = 1.108 of it where nothing is lost, more as losses stay the same
    assert 1.08 < low.recommended / rated.recommended < 1.30


def test_compound_is_milled_in_about_the_time_of_the_trade() -> None:
    answer, result = found("how_long_to_mill_a_pvc")
    sound(result)
    # common practice, no source: about ten minutes at about 160 degC, two to twelve are met with
    assert 120.0 < answer.earliest < 900.0
    assert 145.0 < outcome(result, "mean_temperature") < 175.0
    # first order at the mean temperature reached: the band needs at least ln 20 / k there, and less than a third more to warm
    k = 2e10 * math.exp(-105e3 / 8.314462618 / (outcome(result, "mean_temperature") + 273.15))
    assert 0.8 * math.log(20.0) / k < answer.earliest < 1.5 * math.log(20.0) / k
