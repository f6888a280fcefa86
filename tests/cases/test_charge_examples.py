"""Example cases of charges: windows, peaks and refusals against common practice, closed forms and heat balances."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cases.plausible import case_file
from cases.test_examples import found, outcome, ran, sound
from thermokit.case import load_case
from thermokit.processes.run import failed, run_case
from thermokit.studies.dwell import dwell


def test_tiller_knob() -> None:
    """A rough computation by other means: 60 s preheated, 79 s cold, peak 181 degC; trade: 10 to 20 s for each mm."""
    answer, result = found("how_long_to_cure_a_6mm_phenolic")
    sound(result)
    assert 52.0 <= answer.earliest <= 68.0
    assert 52.0 <= answer.recommended <= 68.0
    assert outcome(result, "hottest_temperature") == pytest.approx(181.0, abs=0.5)
    assert 3.5 <= outcome(result, "load_to_close_most") <= 5.0
    cold = replace(load_case(case_file("how_long_to_cure_a_6mm")), tolerances={}).with_values({"charge.start": 298.15})
    assert 70.0 <= dwell(cold).earliest <= 88.0
    # 1380 kg/m3, 9.5 cm3 and 5 % flash; 30 MPa on 20 cm2
    assert outcome(result, "charge_mass") == pytest.approx(1.05 * 1.380 * 9.5, rel=1e-6)
    assert outcome(result, "clamp_force") == pytest.approx(60.0, rel=1e-6)


def test_polyester_block_that_runs() -> None:
    result = ran("does_a_40mm_polyester")
    sound(result)
    assert not failed(result)
    assert all(check.met for check in result.limits)
    # no thick charge can pass the mould by more than heat of cure over specific heat, and a block of 40 mm keeps most of it
    assert 120.0 + 0.6 * 90e3 / 1200.0 < outcome(result, "hottest_temperature") < 120.0 + 90e3 / 1000.0
    # the outer layers gel minutes before the middle: half the time that heat takes through, L^2/(pi^2 a), at the least
    through = 0.04**2 * 1900.0 * 1000.0 / (math.pi**2 * 0.54)
    assert outcome(result, "gel_lag") > 0.5 * through
    assert result.history.heat.released == pytest.approx(90e3 * 1900.0 * 40e-3, rel=0.01)
    # in a mould as hot as thin mouldings have it, the same block is refused
    hotter = {"mould.upper.temperature": 418.15, "mould.lower.temperature": 418.15}
    hot = run_case(load_case(case_file("does_a_40mm_polyester")).with_values(hotter))
    assert failed(hot)
    assert "STOP" in hot.study["stop"]["why"]
    assert any(text.startswith("mould") and ": enough" in text for text in hot.study["stop"]["remedies"])


def test_resin_rich_block_that_is_refused() -> None:
    result = ran("can_a_40mm_resin")
    assert result.status == "finished"
    assert failed(result)
    stop = result.study["stop"]
    assert stop["why"].startswith("STOP")
    assert outcome(result, "adiabatic_rise") == pytest.approx(300e3 / 1800.0)
    assert outcome(result, "hottest_temperature") > 130.0 + 0.8 * 300e3 / 1800.0
    # 40 mm of an insulator over 17 min of heat-through: thinner and cooler moulds alone do not help, filler does
    assert any(text.startswith("filler") and ": enough" in text for text in stop["remedies"])
    assert result.history.heat.released == pytest.approx(300e3 * 1200.0 * 40e-3, rel=0.02)
    assert result.history.heat.mismatch < 1e-9


def test_melamine_dish_in_a_steel_mould() -> None:
    answer, result = found("how_long_to_cure_a_melamine")
    sound(result)
    # trade: 45 to 100 s for 3 mm of melamine
    assert 45.0 <= answer.earliest <= 100.0
    # faces of steel that touch colder powder fall between their start and the touch temperature of two half spaces
    steel, powder = math.sqrt(34.0 * 7800.0 * 460.0), math.sqrt(0.38 * 1500.0 * 1500.0)
    touch = (steel * 157.0 + powder * 30.0) / (steel + powder)
    for side in ("upper", "lower"):
        assert touch < outcome(result, f"{side}_half_lowest") < 157.0
        assert outcome(result, f"{side}_half_highest") < 161.0
    assert outcome(result, "breathe_spare") > 3.0


def test_post_baked_bush() -> None:
    answer, result = found("how_long_to_press_a_phenolic_bush")
    sound(result)
    # trade: 10 to 20 s for each of 11 mm
    assert 100.0 < answer.earliest < answer.latest < 300.0
    assert (answer.earliest_limit, answer.latest_limit) == ("cure_degree", "over_cure")
    assert outcome(result, "final_cure_degree") > 0.95
    # the plate is steel: 5 mm + 4 mm of compound, 2 mm of 7850 kg/m3, on 25 cm2, with 5 % flash
    mass = 1.05 * 25.0 * (0.9 * 1.39 + 0.2 * 7.85)
    assert outcome(result, "charge_mass") == pytest.approx(mass, rel=0.01)
    # dose of two hours at 150 degC, borne twenty minutes at 200 degC, 110 kJ/mol
    baked = 7200.0 / 1200.0 * math.exp(-110e3 / 8.314 * (1 / 423.15 - 1 / 473.15))
    assert baked * 0.9 < outcome(result, "over_cure") < 0.22
