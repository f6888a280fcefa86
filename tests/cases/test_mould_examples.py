"""The mould examples: a flat lid, the same with scale, a boss with an insert, a ribbed frame, a drawn dish.

Bounds from outside the solver: the plate of the textbook, heat balances with the record's heat, the Graetz-free formulas of water
in a bore, and facts of the trade (2.5 s for each mm2 of wall squared, 1.5 to 3.5: common practice).
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from cases.plausible import case_file, plane_time
from thermokit.case import load_case
from thermokit.studies.dwell import Dwell, dwell, run_at
from thermokit.studies.run import run

pytestmark = pytest.mark.long

LID = "how_long_must_a_flat_pp"
SCALE = "what_does_scale"
BOSS = "does_an_aluminium_insert"
FRAME = "when_can_a_ribbed"
DISH = "how_evenly_does_a_drawn"


@cache
def found(start: str) -> tuple[Dwell, Any]:
    case = replace(load_case(case_file(start)), tolerances={})
    answer = dwell(case)
    return answer, run_at(case, answer)


@cache
def ran(start: str) -> Any:
    return run(case_file(start))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


def sound(result: Any) -> None:
    """Finished, heat balance closed, cautions at the end."""
    assert result.status == "finished"
    assert result.history.heat.mismatch < 1e-6  # from there on a result warns
    assert "supervised trial" in result.cautions[-1]


def test_lid_takes_what_the_trade_and_the_plate_say() -> None:
    answer, result = found(LID)
    sound(result)
    closed = outcome(result, "hold_time") + answer.earliest
    # the trade: 1.5 to 3.5 s for each mm2 of 2.5 mm squared
    assert 1.5 * 2.5**2 < closed < 3.5 * 2.5**2
    # a plate between faces of the mould's temperature, no contact, without crystallising: faster than any real part
    wall = outcome(result, "cavity_face_at_ejection")
    cp = 2350.0  # J/kg/K, mean of the record from 35 to 230 degC
    fastest = plane_time(1.25e-3, 0.20, 905.0, cp, 1e9, (95.0 - wall) / (230.0 - wall))
    # the heat of crystallising, 95 kJ/kg, counted as specific heat over the whole fall: slower by its share, contact on top
    slowest = plane_time(1.25e-3, 0.19, 905.0, cp + 95e3 / 135.0, 1000.0, (95.0 - wall) / (230.0 - wall))
    assert fastest < closed < 1.15 * slowest


def test_lid_heats_the_water_by_its_own_heat() -> None:
    _, result = found(LID)
    mass = 0.2 * 0.15 * 0.0025 * 905.0
    mean = outcome(result, "mean_at_ejection")
    heat = mass * (2400.0 * (230.0 - mean) + 95e3) / 1e3
    assert outcome(result, "heat_per_shot") == pytest.approx(heat, rel=0.08)
    for name in ("cavity", "core"):
        per_second = outcome(result, f"circuit_{name}_heat")
        assert per_second == pytest.approx(1e3 * heat / 2.0 / outcome(result, "cycle_time"), rel=0.1)
        assert outcome(result, f"circuit_{name}_rise") == pytest.approx(per_second / (8.0 / 60.0 * 4180.0), rel=0.02)


def test_scale_costs_seconds_and_is_a_resistance() -> None:
    clean, scaled = found(LID), found(SCALE)
    sound(scaled[1])
    assert scaled[0].earliest > 1.05 * clean[0].earliest
    # 0.5 mm at 1 W/m/K: the bore's resistance alone lets through no more than 2000 W/m2/K (by its narrower inside less)
    assert any("1585" in remark or "descale" in remark for remark in scaled[1].remarks)
    rise = outcome(scaled[1], "cavity_face_at_ejection") - outcome(clean[1], "cavity_face_at_ejection")
    flux = outcome(scaled[1], "circuit_cavity_heat") / (5 * math.pi * 0.010 * 0.15)  # W/m2 of bore
    assert rise == pytest.approx(flux * math.log(10.0 / 9.0) * 0.010 / 2.0, rel=0.35)


def test_boss_is_slower_than_its_wall_and_the_insert_does_not_mend_it() -> None:
    result = ran(BOSS)
    sound(result)
    broken = [check.name for check in result.limits if not check.met]
    assert broken == ["ejection_centre"]
    # the circle in the root, s + b2/(4 s) = 4.1 mm: about (4.1/2.5)^2 times as long as the wall
    wall = outcome(result, "hold_time") + outcome(result, "single_wall_cooling")
    assert outcome(result, "cycle_time") - 7.2 > wall
    assert any("boss" in remark and "0.6 of the wall" in remark for remark in result.remarks)
    (x, y) = (float(text.split()[0]) for text in _place(result, "hottest_at_ejection"))
    assert x == pytest.approx(60.0, abs=1.5)
    assert 1.0 < y < 6.0


def _place(result: Any, name: str) -> tuple[str, str]:
    (words,) = [o.meaning for o in result.outcomes if o.name == name]
    return words.split("x ")[1], words.split("y ")[1]


def test_frame_is_hottest_under_a_rib_and_later_than_its_wall() -> None:
    answer, result = found(FRAME)
    sound(result)
    x = float(_place(result, "hottest_at_ejection")[0].split()[0])
    assert min(abs(x - at) for at in (35.0, 75.0, 115.0)) < 3.0
    # thickness at the root by the circle, 3 + 1.8^2/12 = 3.27 mm: up to (3.27/3)^2 = 1.19 times as long, less what the rib cools
    wall = outcome(result, "hold_time") + outcome(result, "single_wall_cooling")
    assert wall < outcome(result, "hold_time") + answer.earliest < 1.3 * wall


def test_dish_is_hottest_in_its_corner() -> None:
    pytest.importorskip("ezdxf")
    result = ran(DISH)
    sound(result)
    x, y = (float(text.split()[0]) for text in _place(result, "hottest_at_ejection"))
    assert min(abs(x - 5.2), abs(x - 134.8)) < 4.0
    assert 0.0 < y < 5.0
    assert any(check.name == "hot_spot" and not check.met for check in result.limits)
    # inside corner of the plug: the core's face is hotter there than at the base
    assert outcome(result, "core_face_hot_spot") > outcome(result, "cavity_face_hot_spot")
