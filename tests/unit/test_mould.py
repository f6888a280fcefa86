"""A settled shot of a mould: against closed forms, heat balances and a second path; what its limits and settings say."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).parent))

from moulds import SMALL, changed

from thermokit.case import parse_case
from thermokit.processes import direct_of
from thermokit.processes.mould_judgement import beyond, bow_share, first_met
from thermokit.studies.dwell import dwell, run_at
from thermokit.studies.run import run

pytestmark = pytest.mark.long

SOUGHT = changed(SMALL, ('cooling = "15 s"', 'cooling = { find = ["1 s", "200 s"] }'))


@cache
def shot(text: str = SMALL) -> Any:
    return run(parse_case(text))


@cache
def found(text: str = SOUGHT) -> Any:
    case = parse_case(text)
    answer = dwell(case)
    return answer, run_at(case, answer)


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


def field(result: Any, name: str) -> Any:
    (found_,) = [f for f in result.fields if f.name == name]
    return np.asarray(found_.values)


def plane_time(half: float, k: float, rho_c: float, h: float, theta: float) -> float:
    """Middle of a plate: theta = C exp(-zeta^2 Fo), zeta tan zeta = Bi (Incropera et al., section 5.5)."""
    bi = h * half / k
    z = brentq(lambda x: x * np.tan(x) - bi, 1e-9, np.pi / 2 - 1e-9)
    c = 4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z))
    return float(np.log(c / theta) / z**2 * half**2 * rho_c / k)


def test_bow_is_the_sagitta_of_a_bent_strip() -> None:
    """R = s/(alpha dT), sagitta R - sqrt(R^2 - l^2/4): the exact circle, for a flat one within 0.01 %."""
    alpha, difference, length, thickness = 1.4e-4, 6.0, 0.15, 0.003
    radius = thickness / (alpha * difference)
    sagitta = radius - np.sqrt(radius**2 - length**2 / 4.0)
    assert bow_share(alpha, difference, length, thickness) * length == pytest.approx(sagitta, rel=1e-3)


def test_a_margin_that_fades_is_followed_to_where_it_is_met() -> None:
    """m = 5 - 40 exp(-t/8): zero at 8 ln 8; and -1 - ..., which never is."""
    t = np.linspace(0.0, 10.0, 41)
    assert beyond(t, 5.0 - 40.0 * np.exp(-t / 8.0)) == pytest.approx(8.0 * np.log(8.0), rel=2e-3)
    assert beyond(t, -1.0 - 40.0 * np.exp(-t / 8.0)) == np.inf
    late = np.linspace(0.0, 30.0, 3001)
    assert first_met(late, 5.0 - 40.0 * np.exp(-late / 8.0)) == pytest.approx(8.0 * np.log(8.0), abs=1e-4)


def test_heat_of_a_shot_is_what_the_part_gives_off() -> None:
    """Into coolant and air goes rho c L s w (T_melt - mean at ejection), nothing else stays in a settled mould."""
    result = shot()
    given = 1000.0 * 2000.0 * 0.060 * 0.003 * 0.100 * (230.0 - outcome(result, "mean_at_ejection"))
    to_air = given - 1e3 * outcome(result, "heat_per_shot")
    # 10 W/m2/K on 0.03 m2 of outside, within 5 K of the room, for 24 s: up to some 40 J either way
    assert abs(to_air) < 40.0
    assert given > 4000.0
    assert result.history.heat.mismatch < 1e-6  # from there on a result warns


def test_coolant_warms_by_its_heat_along_the_channels() -> None:
    """rise = Q/(rho V c); channels in series each begin where the one before ends."""
    result = shot()
    heat = outcome(result, "circuit_cavity_heat")
    assert outcome(result, "circuit_cavity_rise") == pytest.approx(heat / (998.2 * 8e-3 / 60.0 * 4184.0), rel=5e-3)
    coolant = field(result, "mould_channels/coolant")[:3]
    assert np.all(np.diff(coolant) > 0.0)
    # side by side each takes a third of the flow: three times the rise of a channel, all alike but for the ends
    parallel = shot(changed(SMALL, ("count = 3", 'count = 3\nconnected = "parallel"')))
    assert outcome(parallel, "circuit_cavity_reynolds") == pytest.approx(
        outcome(result, "circuit_cavity_reynolds") / 3.0, rel=0.02
    )


def test_reynolds_of_a_bore() -> None:
    """Re = 4 V/(pi d nu) with nu of water at 20 degC, 1.004e-6 m2/s (Incropera, table A.6, between its rows)."""
    assert outcome(shot(), "circuit_cavity_reynolds") == pytest.approx(
        4.0 * 8e-3 / 60.0 / (np.pi * 8e-3 * 1.004e-6), rel=0.02
    )


def test_in_a_cold_firm_mould_the_part_cools_as_a_slab() -> None:
    """Copper close to fast water, contact 50 000 W/m2/K: the plate between faces of one temperature (one term of its series).

    The wall's temperature is the mean of the mould's faces while it is shut, read off the shot.
    """
    text = changed(
        SOUGHT,
        ('width = "80 mm"', 'width = "80 mm"\npacked_contact = "50000 W/m2/K"\nshrunk_contact = "50000 W/m2/K"'),
        ('height = "30 mm"', 'height = "30 mm"\nmaterial = "copper"'),
        ('depth = "12 mm"', 'depth = "8 mm"'),
        ('flow = "8 L/min"', 'flow = "20 L/min"'),
    )
    answer, result = found(text)
    faces = field(result, "mould_shot/cavity_face")
    rows = result.history.span < 2
    time = result.history.time[rows]
    wall = float(np.trapezoid(faces[rows], time) / time[-1])
    slab = plane_time(1.5e-3, 0.2, 1000.0 * 2000.0, 50_000.0, (90.0 - wall) / (230.0 - wall))
    assert 3.0 + answer.earliest == pytest.approx(slab, rel=0.02)


def test_the_window_begins_where_the_run_meets_its_limit() -> None:
    answer, result = found()
    assert answer.earliest_limit == "ejection_centre"
    assert answer.latest is None
    at = run(parse_case(SOUGHT).with_values({"cycle.cooling": answer.earliest}))
    assert outcome(at, "hottest_at_ejection") == pytest.approx(90.0, abs=0.5)
    (margin,) = [m.value for m in answer.margins if m.limit == "ejection_centre" and not m.edge]
    (check,) = [c for c in result.limits if c.name == "ejection_centre"]
    assert margin == pytest.approx(check.margin, abs=0.3)
    # the second opinion, another model of the same mould, is near for a flat wall
    assert outcome(result, "single_wall_cooling") == pytest.approx(answer.earliest, rel=0.08)


def test_what_helps_and_what_does_not() -> None:
    """Scale, warmer coolant, a looser contact and a thicker wall make it longer; each by the model of the single wall."""
    answer, _ = found()
    assert len(answer.shifts) == 5
    for shift in answer.shifts:
        assert shift.earliest is not None
        assert shift.earliest > answer.earliest, shift.change


def test_a_fat_sprue_rules_the_cycle() -> None:
    text = changed(
        SOUGHT, ("[mould]", '[feed]\nsprue_diameter = "14 mm"\n[mould]'), ('material = "stuff"', 'material = "pp"')
    )
    answer, result = found(text)
    assert answer.earliest_limit == "sprue_set"
    assert any("sprue rules the cycle" in remark for remark in result.remarks)


def test_coolant_too_warm_has_no_window() -> None:
    # the part's own limit is the record's; the mould runs hotter than that
    text = changed(
        SOUGHT,
        ('ejection_centre = "90 degC"', "reynolds = 3000.0"),
        ('"20 degC"', '"92 degC"'),
        ('material = "stuff"', 'material = "abs"'),
    )
    answer, result = found(text)
    assert answer.recommended is None
    assert "coolants from" in answer.opens_with
    assert not all(check.met for check in result.limits)


def test_a_laminar_circuit_breaks_its_limit_and_says_what_mends_it() -> None:
    result = shot(changed(SMALL, ('flow = "8 L/min"', 'flow = "0.7 L/min"')))
    (check,) = [c for c in result.limits if c.name == "reynolds"]
    assert not check.met
    assert any("bring it to 10 000" in remark for remark in result.remarks)


def test_faces_of_unlike_halves_bend_the_part() -> None:
    result = shot(changed(SMALL, ('side = "core"\ntemperature = "20 degC"', 'side = "core"\ntemperature = "45 degC"')))
    assert outcome(result, "face_difference") < -5.0  # the core's side is the hotter one
    assert any("face at the core" in remark and "hollow" in remark for remark in result.remarks)


def test_cold_water_in_damp_air_sweats() -> None:
    air = '[air]\ntemperature = "30 degC"\nhumidity = 0.9\n[limits]'
    result = shot(changed(SMALL, ('"20 degC"', '"8 degC"'), ("[limits]", air)))
    (check,) = [c for c in result.limits if c.name == "condensation"]
    assert not check.met
    assert any("sweat" in remark for remark in result.remarks)


def test_water_above_100_degc_is_cautioned() -> None:
    text = changed(SMALL, ('"20 degC"', '"120 degC"'), ('"90 degC"', '"180 degC"'))
    assert any("steam" in words for words in direct_of(parse_case(text)).cautions())  # type: ignore[union-attr]
    assert not any("steam" in words for words in shot().cautions)


def test_the_mould_creeps_up_to_its_settled_state() -> None:
    """Against the true sequence of shots, at fewer steps: the faces when the melt comes."""
    from thermokit.conduction.section_cycle import shot_after_shot

    process: Any = direct_of(parse_case(SMALL))
    own = process._shot()
    rows = field(shot(), "mould_shots/cavity_face")
    assert rows[0] == pytest.approx(20.0)
    assert np.all(np.diff(rows) > -1e-6)
    true = shot_after_shot(own.problem, own.history.mesh, 3, rows=np.zeros(0), step_tolerance=1.0).start
    from thermokit.processes.mould_facts import mean_along

    nodes = own.facts.faces["cavity_face"]
    assert rows[3] == pytest.approx(float(mean_along(nodes.metal_way, true[nodes.metal])) - 273.15, abs=0.4)


def test_margins_know_cooling_times_only() -> None:
    """The wall's thickness must not be taken for a cooling time."""
    process = direct_of(parse_case(SMALL))
    assert process is not None
    with pytest.raises(ValueError, match=r"cycle\.cooling, not by part\.thickness"):
        process.margins("part.thickness", np.array([0.002]), {})
