"""Every example case loads, reads back from its resolved text, asks a question, and its answer is plausible.

Bounds come from outside the code: common practice of the trade, closed forms, heat balances, and isothermal times that
stand in a kinetics record. None is copied from an answer of thermokit.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cases.plausible import CASES, case_file, lumped_time, plane_time, radiant, sphere_time
from thermokit.case import load_case, parse_case, resolved_text, sought_path
from thermokit.studies.dwell import Dwell, dwell, run_at
from thermokit.studies.run import run
from thermokit.studies.tolerance import draw
from thermokit.studies.window import Question

FILES = sorted(CASES.glob("*.toml"))


@cache
def found(start: str) -> tuple[Dwell, Any]:
    """(dwell, result at the recommended value) of a case, without its tolerances: those cost most of the time."""
    case = replace(load_case(case_file(start)), tolerances={})
    answer = dwell(case)
    return answer, run_at(case, answer)


@cache
def ran(start: str) -> Any:
    return run(case_file(start))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    assert value is not None
    return value


def sound(result: Any) -> None:
    """Finished, heat balance closed, nothing below absolute zero or above what plastics stand."""
    assert result.status == "finished"
    assert result.history.heat.mismatch < 1e-9
    assert result.history.temperature.min() > 250.0
    assert result.history.temperature.max() < 600.0
    assert np.all(np.isfinite(result.history.temperature))
    assert result.cautions, "every answer carries its cautions"
    assert "supervised trial" in result.cautions[-1]


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_loads_and_says_what_it_asks(file: Path) -> None:
    case = load_case(file)
    assert parse_case(resolved_text(case)) == case
    asked = case.title.rstrip("?").lower()
    assert asked.split()[0] in {"how", "can", "does", "is", "when", "which", "what"}, case.title
    # the file is named by its question
    assert file.stem.split("_")[0] == asked.split()[0]
    text = file.read_text(encoding="utf-8")
    assert "assumed" in text or "common practice" in text
    asks = "fit" if case.fit is not None else "dwell" if sought_path(case) else "run"
    assert f"`thermokit {asks}` answers" in text.splitlines()[0] + text.splitlines()[1]


def test_there_are_enough_of_them() -> None:
    assert len(FILES) >= 9
    shapes = {getattr(getattr(load_case(f), "body", None), "shape", "sheet") for f in FILES}
    assert shapes == {"plane", "cylinder", "sphere", "sheet"}


@pytest.fixture(scope="module")
def abs_tray() -> tuple[Dwell, Any]:
    """The tray with its tolerances."""
    case = load_case(case_file("how_long_to_heat_a_4mm"))
    answer = dwell(case)
    return answer, run_at(case, answer)


class TestAbsTray:
    """4 mm ABS between two panels of 420 degC: accepted ranges from a hand formula and a rough computation."""

    def test_window(self, abs_tray: tuple[Dwell, Any]) -> None:
        answer, _ = abs_tray
        assert 66.0 <= answer.earliest <= 74.0
        assert 82.0 <= answer.latest <= 91.0
        assert 75.0 <= answer.recommended <= 81.0
        assert 16.0 <= answer.latest - answer.earliest <= 17.0
        assert (answer.earliest_limit, answer.latest_limit) == ("coldest_point", "hottest_face")

    def test_what_moves_it(self, abs_tray: tuple[Dwell, Any]) -> None:
        thicker, colder, _ = abs_tray[0].shifts
        assert "0.5 mm thicker" in thicker.change
        assert thicker.earliest == pytest.approx(80.0, abs=1.0)
        assert thicker.latest == pytest.approx(96.0, abs=1.0)
        # stock 15 K colder: + 8 s
        assert colder.earliest - abs_tray[0].earliest == pytest.approx(8.0, abs=0.5)

    def test_heat(self, abs_tray: tuple[Dwell, Any]) -> None:
        result = abs_tray[1]
        sound(result)
        mass = 1050.0 * 0.6 * 0.4 * 0.004
        assert outcome(result, "blank_mass") == pytest.approx(mass, rel=1e-9)
        mean = outcome(result, "mean_temperature")
        assert outcome(result, "heat_taken") == pytest.approx(mass * 1900.0 * (mean - 20.0) / 3.6e6, rel=1e-6)
        # face less core of a sheet under a flux q from both sides: q L/(4 k)
        face, core = outcome(result, "hottest_face") + 273.15, outcome(result, "coldest_point")
        flux = 0.60 * 5.670374419e-8 * (693.15**4 - face**4) + 8.0 * (333.15 - face)
        assert face - 273.15 - core == pytest.approx(flux * 0.004 / (4 * 0.18), rel=0.1)

    def test_hand_formula(self, abs_tray: tuple[Dwell, Any]) -> None:
        hand = abs_tray[0].hand
        # t = rho cp L dT/q at a face half-way between stock and upper limit, worked by hand
        face = (20.0 + 182.0) / 2 + 273.15
        q = 2.0 * (0.60 * 5.670374419e-8 * (693.15**4 - face**4) + 8.0 * (333.15 - face))
        assert hand.value == pytest.approx(1050.0 * 1900.0 * 0.004 * ((127.0 + 182.0) / 2 - 20.0) / q, rel=1e-6)
        assert "without" in hand.why_different

    def test_parts_when_both_panels_err_together(self, abs_tray: tuple[Dwell, Any]) -> None:
        # a rough computation by other means, with one panel error for both sides: good parts in 100 by dwell
        answer, case = abs_tray[0], load_case(case_file("how_long_to_heat_a_4mm"))
        drawn = draw(case, 1024, 1)
        drawn["stations.heat.lower.temperature"] = drawn["stations.heat.upper.temperature"]
        for dwelt, share in ((74.0, 0.81), (77.0, 0.875), (80.0, 0.83), (84.0, 0.64)):
            _, margins = Question(case, answer.path, answer.edges, 0.05).margins(np.full(1024, dwelt), drawn)
            assert (margins >= 0.0).all(axis=0).mean() == pytest.approx(share, abs=0.02), dwelt

    def test_parts(self, abs_tray: tuple[Dwell, Any]) -> None:
        # as the case stands each panel errs by itself: that cancels in part, so the best share is somewhat higher
        shares = abs_tray[0].shares
        assert 0.875 <= shares.at(77.0)[0] <= 0.95
        assert shares.at(84.0)[0] < shares.at(80.0)[0] < shares.at(77.0)[0]


def test_formed_abs_tray() -> None:
    answer, result = found("how_long_does_a_formed")
    # lumped, a third of the slab's resistance at each face (common practice): mould 250 W/m2/K, fan 40 W/m2/K
    thickness, k = 2.5e-3, 0.18
    mould, fan = 1.0 / (1.0 / 250.0 + thickness / 3.0 / k), 1.0 / (1.0 / 40.0 + thickness / 3.0 / k)
    goal = (mould * 65.0 + fan * 25.0) / (mould + fan)
    by_hand = 1050.0 * 1900.0 * thickness / (mould + fan) * math.log((150.0 - goal) / (85.0 - goal))
    assert answer.earliest == pytest.approx(by_hand, rel=0.15)
    assert 33.0 <= answer.earliest <= 43.0
    assert answer.latest is None
    assert "nothing" not in (answer.earliest_limit or "nothing")
    sound(result)
    assert outcome(result, "fan_side_temperature") < 85.0
    # the mould is the quicker face: it stays within a few kelvin of its water
    assert 63.0 < outcome(result, "inner_face_temperature") < 68.0


@pytest.mark.long
def test_covered_wire() -> None:
    answer, result = found("how_long_must_the_trough")
    # at 60 m/min: a few to some tens of metres of trough; common practice for a wall of about 1 mm
    assert 4.0 <= answer.earliest <= 30.0
    sound(result)
    # copper conducts so well that the conductor has one temperature
    wall, axis = outcome(result, "wall_inside_temperature"), outcome(result, "inner_face_temperature")
    assert abs(wall - axis) < 0.5
    assert 18.0 < outcome(result, "outer_face_temperature") < wall < 60.0
    # heat out of 1 m: copper 8940 kg/m3 x 385 J/kg/K cools from 100 degC; polyethylene gives about 508 kJ/kg between
    # 200 and 20 degC (recalled from handbooks), of which the last tens of kelvin stay in it
    copper = 8940.0 * math.pi * 0.8e-3**2 * 385.0 * (100.0 - axis)
    covering = 922.0 * math.pi * (2.0e-3**2 - 0.8e-3**2)
    heat = result.history.heat.left - result.history.heat.entered
    assert copper + 350e3 * covering < heat < copper + 560e3 * covering


def test_net_float() -> None:
    answer, result = found("how_long_to_anneal_a_50mm")
    theta = (115.0 - 110.0) / (115.0 - 20.0)
    radius, rho = 25e-3, 905.0
    # the record's extremes over 20 to 115 degC; radiation between its values cold and warm
    fastest = sphere_time(radius, 0.22, rho, 1680.0, 25.0 + radiant(0.9, 115.0, 115.0), theta)
    slowest = sphere_time(radius, 0.197, rho, 2210.0, 25.0 + radiant(0.9, 115.0, 20.0), theta)
    assert fastest < answer.earliest < slowest
    sound(result)
    assert outcome(result, "inner_face_temperature") < outcome(result, "outer_face_temperature") < 115.0


def test_phenolic_knob() -> None:
    answer, result = found("how_long_to_press_a_6mm_phenolic")
    # trade: 10 to 20 s a millimetre; the record: an isothermal charge at 180 degC is half cured after 10.7 s
    assert answer.earliest > 2 * 10.68
    assert 50.0 < answer.earliest < 120.0
    sound(result)
    heat = 60e3 * 1390.0 * 6e-3
    assert 0.85 * heat < result.history.heat.released <= heat * (1.0 + 1e-6)
    # never hotter than the mould by more than the heat of cure could make it
    assert 170.0 < outcome(result, "hottest_temperature") < 170.0 + 60e3 / 1400.0


def test_polyester_block() -> None:
    result = ran("does_a_30mm")
    sound(result)
    peak, when = outcome(result, "hottest_temperature"), outcome(result, "hottest_time")
    # the record's own table: walls of 10 mm reach 208 degC in a mould of 140, 221 in one of 150; no thick one can pass
    # the mould by more than heat of cure over specific heat
    assert 195.0 < peak < 145.0 + 90e3 / 1100.0
    assert when > 360.0, "hottest after the press has been opened"
    assert abs(outcome(result, "hottest_depth") - 15.0) < 0.5
    assert outcome(result, "cure_degree") > 0.95
    assert result.history.heat.released == pytest.approx(90e3 * 1900.0 * 30e-3, rel=0.01)
    assert [c.name for c in result.limits if not c.met] == ["hottest_temperature"]
    assert any("valid" in w for w in result.warnings), "kinetics used beyond their range are named"


def test_dipped_grip() -> None:
    answer, result = found("how_long_to_fuse_a_dipped")
    # without any resistance in the paste, from 90 degC to 170 degC, at which the record needs minutes to fuse
    former = 2670.0 * 880.0 * math.pi * 10e-3**2
    paste = 1180.0 * 1600.0 * math.pi * (12e-3**2 - 10e-3**2)
    coefficient = 35.0 + radiant(0.9, 195.0, 195.0)
    soonest = lumped_time(former + paste, coefficient * 2 * math.pi * 12e-3, 195.0, 90.0, 170.0)
    assert soonest < answer.earliest < 20 * 60.0
    assert (answer.earliest_limit, answer.latest_limit) == ("fusion_degree", "outer_face_temperature")
    sound(result)
    # paste gels long before it fuses, and the metal side is the last
    states = result.history.states
    paste_cells = ~np.isnan(states["fusion_degree"][-1])
    gel, fusion = states["gel_degree"][:, paste_cells], states["fusion_degree"][:, paste_cells]
    assert np.all(fusion <= gel + 1e-9)
    assert fusion[-1].argmin() == 0
    assert 0.90 < fusion[-1].min() < 1.0


def test_pp_sheet() -> None:
    answer, result = found("how_long_to_heat_a_3mm_pp")
    # trade: PP takes 20 to 60 s a millimetre under two-sided panels
    assert 60.0 < answer.earliest < answer.latest < 180.0
    sound(result)
    # heat taken lies between that of cold and of hot faces all the time, and between sensible heat with and without
    # all of the latent heat
    taken = outcome(result, "heat_taken") * 3.6e6 / (0.8 * 0.5)
    sigma = 5.670374419e-8

    def both(face: float) -> float:
        return 2.0 * (0.60 * sigma * (653.15**4 - face**4) + 8.0 * (353.15 - face))

    assert both(448.15) * answer.recommended < taken < both(293.15) * answer.recommended
    mass = 905.0 * 3e-3
    rise = outcome(result, "mean_temperature") - 20.0
    assert mass * 1680.0 * rise < taken < mass * (2600.0 * rise + 95e3)


def test_acrylic_hatch_has_no_window_and_says_what_opens_one() -> None:
    answer, _ = found("can_a_6mm")
    assert answer.earliest is None and answer.recommended is None
    words = answer.opens_with or ""
    assert words.startswith("no window")
    degrees = float(words.split("panels at ")[1].split(" degC")[0])
    assert degrees < 420.0
    cooler = load_case(case_file("can_a_6mm")).with_values({"stations.heat.upper.temperature": degrees + 273.15})
    opened = dwell(cooler)
    assert opened.earliest is not None
    assert opened.latest is None or opened.latest - opened.earliest > 0.1 * opened.recommended
    # heat from one side: once warm through, the difference is below q L/k of the flux at the end
    result = run_at(cooler, opened)
    sound(result)
    # element facing the middle of a rectangle, four corners of a/c by b/c (Howell, configuration factors, B-4)
    a, b = 450.0 / 200.0, 350.0 / 200.0
    corner = a / math.hypot(1.0, a) * math.atan(b / math.hypot(1.0, a))
    corner += b / math.hypot(1.0, b) * math.atan(a / math.hypot(1.0, b))
    assert outcome(result, "heat_upper_view") == pytest.approx(4.0 * corner / (2.0 * math.pi), abs=1e-9)
    face = outcome(result, "hottest_face") + 273.15
    exchange = outcome(result, "heat_upper_exchange")
    flux = exchange * 5.670374419e-8 * ((degrees + 273.15) ** 4 - face**4) + 7.0 * (383.15 - face)
    assert outcome(result, "face_core_difference") < 1.05 * flux * 6e-3 / 0.19


def test_acrylic_block_in_a_logged_oven() -> None:
    answer, result = found("how_long_to_anneal_a_30mm")
    # sooner than in an oven at its highest, 91 degC, from the first minute it cannot be
    least = plane_time(15e-3, 0.196, 1188.0, 1390.0, 20.0 + radiant(0.9, 91.0, 91.0), (91.0 - 80.0) / (91.0 - 22.0))
    # and it is not later than in a steady oven at 85 degC that begins a quarter of an hour late, and again at the door
    most = 1800.0 + plane_time(15e-3, 0.193, 1188.0, 1650.0, 20.0 + radiant(0.9, 85.0, 22.0), 5.0 / (85.0 - 22.0))
    assert least < answer.earliest < most
    sound(result)
    # the open door is seen in the face, hardly in the core
    times, face = result.history.time, result.history.outer_face
    before, after = np.interp(3600.0, times, face), np.interp(3720.0, times, face)
    assert before - after > 2.0
    core = result.history.inner_face
    assert abs(np.interp(3720.0, times, core) - np.interp(3600.0, times, core)) < 1.0


def test_two_layer_wall() -> None:
    result = ran("how_hot_does_the_back")
    sound(result)
    # all that happens at the outer face balances near 67 degC: 500 (T - 50) = 2000 + 8 (60 - T) + rad(400 degC)
    sigma = 5.670374419e-8
    alone = 50.0
    for _ in range(50):
        radiation = 0.9 * 0.7 * sigma * (673.15**4 - (alone + 273.15) ** 4)
        alone = (500.0 * 50.0 + 2000.0 + 8.0 * 60.0 + radiation) / 508.0
    assert outcome(result, "outer_face_temperature") == pytest.approx(alone, abs=2.0)
    # steel keeps no gradient; the contact takes its share: joint below the steel
    assert 90.0 < outcome(result, "joint_temperature") < 100.0
    assert result.history.temperature.shape[1] >= 40 + 10
    assert len(result.history.time) == 181
