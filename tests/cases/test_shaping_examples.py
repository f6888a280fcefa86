"""The examples of shaping, against closed forms, published thickness of domes and facts of the trade (marked)."""

from __future__ import annotations

import math

import pytest

from cases.plausible import case_file, radiant
from cases.test_examples import found, outcome, ran, sound
from thermokit.case import load_case

BAR, PSI = 1e5, 6894.757


def lumped(
    thickness: float, start: float, air: float, release: float, sides: float, heat: float = 1188.0 * 2000.0
) -> float:
    """Time of a sheet of one temperature [m, degC, sum of both coefficients]; rho cp of acrylic between 80 and 160 degC."""
    return heat * thickness / sides * math.log((start - air) / (release - air))


def test_hatch_dome_is_held_some_minutes() -> None:
    answer, result = found("how_long_to_hold_a_free")
    sound(result)
    # fact of the trade: shapes cool for a few minutes under pressure
    assert 120.0 < answer.earliest < 420.0 and answer.earliest_limit == "release_temperature"
    # ring: the thickest; between the blank and the mean of the cap of that height, 1/(1 + (H/a)^2)
    mean = 5.0 / (1.0 + 0.6**2)
    thick = outcome(result, "thickest_place")
    assert mean < thick < 5.0
    both = 2.0 * (15.0 + radiant(0.9, 120.0, 24.0))
    assert answer.earliest == pytest.approx(lumped(thick * 1e-3, 168.0, 24.0, 80.0, both), rel=0.1)
    # pole: cap by hand 1/(1 + (H/a)^2)^2 of the blank, a rubber a little above
    hand = 5.0 / (1.0 + 0.6**2) ** 2
    assert hand < outcome(result, "thinnest_place") < 1.2 * hand
    # thin-wall balance at the pole, p = 2 sigma t/r, rubber of 0.45 MPa (to a factor of 2) stretched by sqrt(5/t)
    t = outcome(result, "thinnest_place") * 1e-3
    radius = (0.2**2 + 0.12**2) / (2 * 0.12)
    stretch = math.sqrt(5e-3 / t)
    sigma = 0.45e6 * (stretch**2 - stretch**-4)
    assert outcome(result, "blowing_pressure") * BAR == pytest.approx(2 * sigma * t / radius, rel=0.15)
    assert outcome(result, "clamp_force") * 1e3 == pytest.approx(
        outcome(result, "shaping_pressure") * BAR * math.pi * 0.04, rel=1e-6
    )
    assert "stop" not in result.study


def test_hatch_dome_can_be_worked_a_minute() -> None:
    _, result = found("how_long_to_hold_a_free")
    # 5 mm that lose heat through both faces; the face is colder than the mean, so it is sooner than lumped
    loss = 2.0 * (8.0 + radiant(0.9, 160.0, 22.0))
    late = 1150.0 * 2100.0 * 5e-3 / loss * math.log((174.0 - 22.0) / (140.0 - 22.0))
    assert 0.4 * late < outcome(result, "working_time") < late


def test_deck_light_takes_fifty_psi_and_most_of_its_clamp() -> None:
    answer, result = found("how_long_to_cool_a_deck")
    sound(result)
    # fact of the trade: close fitting into a detailed mould takes about 50 lbf/in2; the hot sheet's own share lies below
    assert load_case(case_file("how_long_to_cool_a_deck")).shaping.pressure == pytest.approx(50 * PSI, rel=0.02)
    assert 1.0 < outcome(result, "detail_pressure") < 50 * PSI / BAR
    force = 3.5e5 * math.pi * 0.125**2
    assert outcome(result, "clamp_force") * 1e3 == pytest.approx(force, rel=1e-6)
    assert force < 0.6 * 40e3
    # a few minutes under pressure (fact of the trade), sooner than in the air
    assert 40.0 < answer.earliest < 300.0
    assert "MARKED" in next(o.meaning for o in result.outcomes if o.name == "upper_face_at_touch")


def test_drip_tray_hangs_between_ribs() -> None:
    answer, result = found("how_long_to_press_a_drip")
    sound(result)
    thick = outcome(result, "thickest_place")
    sides = 2.0 * (12.0 + radiant(0.9, 120.0, 24.0))
    assert answer.earliest == pytest.approx(lumped(thick * 1e-3, 168.0, 24.0, 80.0, sides), rel=0.12)
    assert "on 10 % of the area" in next(o.meaning for o in result.outcomes if o.name == "upper_face_at_touch")
    assert not any(o.name == "lower_face_at_touch" for o in result.outcomes)


def test_bait_tray_is_pressed_in_less_than_twenty_seconds() -> None:
    answer, result = found("how_long_to_press_a_bait")
    sound(result)
    # fact of the trade: rigid PVC can be pressed in less than 20 s
    assert outcome(result, "release_time") < 20.0
    # both faces on tools of 30 degC, a sheet of one temperature with 1/(1/h + L/3k) on each side
    thick = outcome(result, "thickest_place") * 1e-3
    side = 1.0 / (1.0 / 400.0 + thick / (3 * 0.17))
    start = outcome(result, "mean_temperature")
    assert answer.earliest == pytest.approx(lumped(thick, start, 30.0, 65.0, 2 * side, 1380.0 * 1450.0), rel=0.35)
    assert 65.0 < start < 175.0


def test_cowl_snaps_back_while_it_is_rubbery() -> None:
    answer, result = found("how_long_to_cool_a_cockpit")
    sound(result)
    limit = next(c for c in result.limits if c.name == "vacuum_release")
    assert limit.met and "at least 130" in limit.required  # 110 degC and 20 K
    # the clear face is not touched, so nothing is asked of it
    assert not any(c.name == "clear_face" for c in result.limits)
    assert outcome(result, "clamp_force") == pytest.approx(80.0 * math.pi * 0.3**2, rel=1e-6)
    assert 120.0 < answer.earliest < 600.0
    assert any("cave in" in text for text in result.cautions)


@pytest.mark.long
def test_seed_tray_on_its_warm_mould() -> None:
    answer, result = found("how_long_to_cool_a_vacuum")
    sound(result)
    tool = outcome(result, "settled_mould_temperature")
    assert 30.0 < tool < 60.0
    # thickest region, contact and fan with L/3k each, by hand
    thick = outcome(result, "thickest_place") * 1e-3
    sides = [1.0 / (1.0 / h + thick / (3 * 0.16)) for h in (250.0, 40.0)]
    cooler = (sides[0] * tool + sides[1] * 25.0) / sum(sides)
    by_hand = 1040.0 * 1870.0 * thick / sum(sides) * math.log((155.0 - cooler) / (90.0 - cooler))
    assert answer.earliest == pytest.approx(by_hand, rel=0.25)
    # usual: a corner keeps at least a quarter of the blank; what is drawn from 0.135 m2 into walls of 45 mm thins to the mean
    assert outcome(result, "mean_thickness") == pytest.approx(1.5 / (1 + 2 * 45 * (500 + 270) / (500 * 270)), rel=1e-9)
    assert 0.25 * 1.5 < outcome(result, "thinnest_place") < outcome(result, "mean_thickness")


def test_annealed_hatch_keeps_face_and_core_together() -> None:
    answer, result = found("how_slowly_must")
    sound(result)
    # q L^2/(8 a) = 5 K with a = 1.05e-7 to 1.25e-7 m2/s (handbooks), 35 K in all; the oven's film and the start make it quicker
    slowest = 35.0 * 0.02**2 / (8 * 1.05e-7 * 5.0)
    assert 0.5 * slowest < answer.earliest < slowest
    assert answer.earliest_limit == "face_core_difference"


def test_cement_in_a_thick_joint_boils() -> None:
    result = ran("does_a_gap_filling")
    sound(result)
    hottest = outcome(result, "hottest_temperature")
    # never above its adiabatic rise, 350 kJ/kg over 1.8 kJ/kg/K; well below it, for acrylic on both sides takes heat up
    assert 80.0 < hottest < 22.0 + 350.0 / 1.8
    assert not next(c for c in result.limits if c.name == "hottest_temperature").met
    assert outcome(result, "cure_degree") > 0.9
    # all heat of the cure leaves: 3 mm x 1050 x 350 kJ/kg
    assert result.history.heat.released == pytest.approx(3e-3 * 1050.0 * 350e3, rel=0.01)
