"""Charges: S-shaped cures against closed forms and other codes, contacts and halves against plain conduction, the STOP."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from charges import CURE, FACTOR, KNOB, TEXT, R, edges_of, knob, outcome

from thermokit.case import parse_case
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import graded_edges
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from thermokit.conduction.single import solve
from thermokit.kinetics.rates import NthOrder, TwoRate
from thermokit.processes import process_of
from thermokit.processes.base import facts_of_batch, facts_of_run
from thermokit.processes.charge_judgement import quantities
from thermokit.processes.charge_runaway import CRITICAL, danger
from thermokit.processes.charge_times import isothermal_time
from thermokit.processes.run import failed, run_case
from thermokit.studies.dwell import dwell
from thermokit.studies.run import run

# -- the phenolic knob: a rough 1-D computation by other means gives 60 s preheated and 79 s cold, peak 181 degC ------------


@pytest.fixture(scope="module")
def knob_window() -> Any:
    case = knob('{ find = ["5 s", "600 s"] }')
    found = dwell(case)
    return found, run(case)


def test_knob_window(knob_window: Any) -> None:
    found, result = knob_window
    assert 52.0 <= found.earliest <= 68.0
    assert found.earliest == pytest.approx(60.0, abs=1.0)
    assert (found.earliest_limit, found.latest) == ("cure_degree", None)
    assert result.status == "finished"
    assert not failed(result)
    assert outcome(result, "hottest_temperature") == pytest.approx(181.0, abs=0.5)
    # half the gel time of a face in full contact, 9 s in the rough computation: load to close within 4 to 5 s
    assert outcome(result, "load_to_close_most") == pytest.approx(4.5, abs=0.6)
    assert outcome(result, "upper_face_gel_time") == pytest.approx(9.0, abs=1.5)
    assert any(text.startswith("Load to close at most") for text in result.remarks)


def test_knob_shifts(knob_window: Any) -> None:
    shifts = {shift.change: shift.earliest for shift in knob_window[0].shifts}
    assert shifts["mould 10 K cooler"] == pytest.approx(77.0, abs=1.0)
    assert shifts["mould 10 K hotter"] == pytest.approx(50.0, abs=1.0)
    assert shifts["charge not preheated (25 degC)"] == pytest.approx(79.0, abs=1.0)
    assert dwell(knob('{ find = ["5 s", "600 s"] }', thickness="10 mm")).earliest == pytest.approx(99.0, abs=1.5)


def test_knob_by_hand(knob_window: Any) -> None:
    """Heat-through L^2/(pi^2 a) ln[(4/pi)(Tm - T0)/10] = 51 s, then (0.15^-0.3 - 1)/0.3 time constants of 15.6 s."""
    hand = knob_window[0].hand
    through = 0.006**2 / (math.pi**2 * 0.3 / (1380 * 1400)) * math.log(4 / math.pi * 70 / 10)
    assert through == pytest.approx(51.0, abs=0.5)
    constant = 20.0 * math.exp(80e3 / R * (1 / 443.15 - 1 / 438.15))
    reaction = constant * (0.15**-0.3 - 1) / 0.3
    assert hand.value == pytest.approx(through + reaction, rel=1e-4)
    assert "without the heat of cure" in hand.why_different
    assert "10 to 20 s for each mm" in hand.formula


# -- closed forms -----------------------------------------------------------------------------------------------------------


def test_isothermal_times() -> None:
    # two rates, m = n = 1: ln[(k1 + k2 a)/(k1 (1 - a))]/(k1 + k2)
    law = TwoRate(2e-3, 0.0, 3e-2, 0.0, 1.0, 1.0)
    exact = math.log((2e-3 + 3e-2 * 0.9) / (2e-3 * 0.1)) / 3.2e-2
    assert isothermal_time(law, 400.0, 0.0, 0.9) == pytest.approx(exact, rel=1e-4)
    assert isothermal_time(NthOrder(0.0, 0.0, 1.0), 400.0, 0.0, 0.5) == float("inf")


def test_a_face_pressed_firmly_precures_as_at_the_moulds_temperature() -> None:
    """With a contact without resistance: 1 - a = (1 + 0.3 k t)^(-1/0.3) for (1 - a)^1.3."""
    before = '[[stations]]\nkind = "load"\nduration = "4 s"\nlower = { contact = "1e8 W/m2/K" }\n'
    case = knob(before=before, heat="0 kJ/kg", more='[accuracy]\ntemperature = "0.2 K"\n')
    result = run_case(case)
    k = FACTOR * math.exp(-80e3 / (R * 443.15))
    exact = 1.0 - (1.0 + 0.3 * k * 4.0) ** (-1.0 / 0.3)
    (check,) = [c for c in result.limits if c.name == "precure"]
    assert check.found == pytest.approx(exact, rel=0.01)
    assert (check.required, check.where, check.when) == ("at most 0.15", "lower face, when the press is shut", 4.0)
    assert check.met == (exact <= 0.15)
    assert outcome(result, "face_degree_at_shut") == check.found
    # to half the gel degree at the same temperature
    exact_time = (0.85**-0.3 - 1.0) / (0.3 * k)
    assert outcome(result, "load_to_close_as_loaded") == pytest.approx(exact_time, rel=0.02)


def test_adiabatic_rise_and_frank_kamenetskii() -> None:
    """H/cp, and rho H A exp(-E/RT) E a^2/(k R T^2) of the textbooks."""
    own = danger(process_of(knob()))
    assert own.adiabatic_rise == pytest.approx(60e3 / 1400.0)
    rate = FACTOR * math.exp(-80e3 / (R * 443.15))
    delta = 1380 * 60e3 * rate * 80e3 * 0.003**2 / (0.30 * R * 443.15**2)
    assert own.frank_kamenetskii == pytest.approx(delta, rel=1e-6)
    assert delta > 5 * CRITICAL, "an ordinary thin charge stands far above the critical number"
    assert pytest.approx(0.8785, abs=1e-4) == CRITICAL


def test_mass_and_force() -> None:
    more = 'area = "50 cm2"\nvolume = "20 cm3"\nflash = 0.1\npressure = "2 tonf/in2"\nrating = "40 tonf"'
    result = run_case(knob(charge=more))
    assert outcome(result, "charge_mass") == pytest.approx(1.1 * 1380 * 20e-6 * 1e3)
    force = 2 * 2240 * 0.45359237 * 9.80665 / 0.0254**2 * 50e-4
    assert outcome(result, "clamp_force") == pytest.approx(force / 1e3)
    assert outcome(result, "clamp_share") == pytest.approx(force / (40 * 2240 * 0.45359237 * 9.80665))


def test_thickness_from_mass() -> None:
    case = parse_case(TEXT)
    process = process_of(case.with_values({"stations.cure.duration": 30.0}))
    assert float(process.thickness) == pytest.approx(0.045 / 1.05 / (1380 * 50e-4))
    many = process_of(case.with_values({"charge.mass": np.array([0.04, 0.05]), "charge.area": np.array([5e-3, 6e-3])}))
    np.testing.assert_allclose(many.thickness, np.array([0.04, 0.05]) / 1.05 / 1380 / np.array([5e-3, 6e-3]))


# -- against other codes ----------------------------------------------------------------------------------------------------


LAMINATE = """
process = "charge"
[charge]
material = "glass_polyester"
thickness = "25.4 mm"
start = "25 degC"
kinetics = "polyester"
[materials.glass_polyester]
conductivity = "0.2163 W/m/K"
density = "1890 kg/m3"
specific_heat = "1260 J/kg/K"
[kinetics.polyester]
state = "cure"
rate_2 = { factor = "6.167e20 1/s", energy = "167.4 kJ/mol" }
m = 0.524
n = 1.476
heat = "77.5 kJ/kg"
start = 1e-4
[mould.upper]
temperature = { time = ["0 s", "1560 s"], value = ["25 degC", "90 degC"] }
[mould.lower]
temperature = { time = ["0 s", "1560 s"], value = ["25 degC", "90 degC"] }
[[stations]]
name = "ramp"
kind = "cure"
duration = "1000 s"
[stations.upper]
contact = "1e7 W/m2/K"
[stations.lower]
contact = "1e7 W/m2/K"
[[stations]]
name = "hold"
kind = "cure"
duration = "6000 s"
[stations.upper]
contact = "1e7 W/m2/K"
[stations.lower]
contact = "1e7 W/m2/K"
[[output.probes]]
name = "mid"
at = "12.7 mm"
"""


def test_thick_laminate_with_exotherm() -> None:
    """Finite volumes with BDF and finite differences with SUNDIALS CVODE: 135.38 degC after 4713 s, degree there 0.990.

    Glass and polyester with the kinetic set of Bogetti and Gillespie (1991), faces 25 to 90 degC at 2.5 K/min, then held. The
    ramp runs on through a change of station: the mould's table counts from the start of the case.
    """
    result = run_case(parse_case(LAMINATE))
    assert outcome(result, "hottest_temperature") == pytest.approx(135.38, abs=1.0)
    assert outcome(result, "hottest_time") == pytest.approx(4713.0, rel=0.01)
    assert outcome(result, "hottest_depth") == pytest.approx(12.7, abs=0.3)
    at = int(np.argmin(np.abs(result.history.time - 4713.0)))
    middle = result.history.states["cure_degree"][at, len(result.history.centres) // 2]
    assert middle == pytest.approx(0.990, abs=0.01)
    # hotter than the mould by more than the usual 40 K, but far below anything that would do harm
    assert result.study == {}
    assert outcome(result, "mid_temperature") < 135.0


def test_the_course_of_a_plain_charge_is_a_slab_between_contacts() -> None:
    """The same problem put together by hand."""
    process = process_of(knob())
    edges = edges_of(process)
    medium = Medium(1380.0, 0.30, 1400.0)
    face = Face(exchange=(Exchange(3000.0, 443.15),))
    from thermokit.conduction.problem import Reaction

    law = NthOrder(FACTOR, 80e3, 1.3)
    layer = Layer(medium, 6e-3, edges[0], 373.15, reactions=(Reaction("cure_degree", law, 60e3),))
    by_hand = solve(Problem((layer,), (Span(60.0, face, face),)), tolerance=0.01)
    course = follow(process.course(edges), tolerance=0.01).history
    np.testing.assert_allclose(course.temperature[-1], by_hand.temperature[-1], atol=1e-6)
    np.testing.assert_allclose(course.states["cure_degree"][-1], by_hand.states["cure_degree"][-1], atol=1e-9)


def test_a_heap_of_powder_by_its_mass_is_the_heap_itself() -> None:
    """Loose thickness, density and conductivity in a layer of its own: the same temperatures at the same share of depth."""
    before = '[[stations]]\nkind = "load"\nduration = "20 s"\n'
    heap = 'loose = { thickness = "16 mm", cover = 0.75, conductivity = "0.11 W/m/K" }'
    process = process_of(knob(before=before, charge=heap, heat="0 kJ/kg"))
    edges = edges_of(process)
    course = process.course(edges)
    assert len(course.legs) == 2
    first = follow(replace(course, legs=course.legs[:1]), tolerance=0.01).history
    # what lies there: mass of 6 mm of 1380 kg/m3 on 0.75 of the area, 16 mm high
    density = 1380.0 * 6.0 / (16.0 * 0.75)
    layer = Layer(Medium(density, 0.11, 1400.0), 16e-3, edges[0], 373.15)
    below, above = Face(exchange=(Exchange(300.0, 443.15),)), Face(exchange=(Exchange(10.0, 333.15),))
    own = solve(Problem((layer,), (Span(20.0, above, below),)), tolerance=0.01)
    np.testing.assert_allclose(first.temperature[-1], own.temperature[-1], atol=1e-5)
    assert own.temperature[-1, -1] - own.temperature[-1, 0] > 10.0


HALF = (
    'material = "tool"\nthickness = "40 mm"\nstart = "{start}"\n'
    'platen = {{ temperature = "{platen}", coefficient = "2000 W/m2/K" }}'
)
TOOL = '[materials.tool]\nconductivity = "35 W/m/K"\ndensity = "7800 kg/m3"\nspecific_heat = "480 J/kg/K"\n'


def test_halves_with_bodies_lead_heat_from_platen_to_platen() -> None:
    """Steady: platen, 40 mm of steel, contact, charge, contact, steel, platen in series."""
    text = KNOB.format(
        start="150 degC", thickness="6 mm", charge="", heat="0 kJ/kg", factor=repr(FACTOR), stations="", more=TOOL,
        mould="MOULD",
    )  # fmt: skip
    upper, lower = HALF.format(start="160 degC", platen="180 degC"), HALF.format(start="150 degC", platen="140 degC")
    text = text.replace("MOULD", upper, 1).replace("MOULD", lower, 1) + CURE.format(duration='"2 h"')
    result = run_case(parse_case(text + '[accuracy]\ntemperature = "0.2 K"\n'))
    resistances = [1 / 2000.0, 0.04 / 35.0, 1 / 3000.0, 0.006 / 0.30, 1 / 3000.0, 0.04 / 35.0, 1 / 2000.0]
    flux = 40.0 / sum(resistances)
    at = np.cumsum([180.0, *(-flux * r for r in resistances)])
    assert result.history.inner_face[-1] - 273.15 == pytest.approx(at[3], abs=0.05)
    assert result.history.outer_face[-1] - 273.15 == pytest.approx(at[4], abs=0.05)
    fields = {field.name: field for field in result.fields}
    steel = fields["tool/upper_half_temperature"].values
    # cell centres of twelve or more equal cells: half a cell from its ends
    half_cell = 0.5 * (at[1] - at[2]) / steel.shape[1]
    assert steel[-1, 0] == pytest.approx(at[1] - half_cell, abs=0.05)
    assert steel[-1, -1] == pytest.approx(at[2] + half_cell, abs=0.05)
    assert outcome(result, "lower_half_highest") <= 150.0 + 1e-6


def test_a_half_that_is_not_touched_waits() -> None:
    """The upper half begins where it began; the charge goes on from where it was."""
    before = '[[stations]]\nname = "load"\nkind = "load"\nduration = "30 s"\n'
    case = parse_case(
        KNOB.format(
            start="30 degC", thickness="6 mm", charge="", heat="0 kJ/kg", factor=repr(FACTOR), more=TOOL,
            mould=HALF.format(start="160 degC", platen="165 degC"), stations=before + CURE.format(duration='"10 s"'),
        )
    )  # fmt: skip
    process = process_of(case)
    travel = follow(process.course(edges_of(process)), tolerance=0.01)
    upper, lower = travel.companions["upper_half"], travel.companions["lower_half"]
    np.testing.assert_allclose(upper.start, 433.15)
    assert upper.time[0] == pytest.approx(30.0, abs=1.0)
    assert lower.time[0] == 0.0
    load_end, cure_start = travel.runs[0].ends[-1].temperature, travel.legs[1].layers[1].start
    np.testing.assert_allclose(cure_start, load_end[: len(cure_start)])
    assert travel.history.coldest.value >= 303.15 - 1e-6, "halves are not meant by the coldest place"
    assert travel.history.heat.mismatch < 1e-9


# -- many at once -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["plain", "everything"])
def test_a_batch_is_many_single_runs(which: str) -> None:
    base = parse_case(TEXT) if which == "everything" else knob(before='[[stations]]\nkind = "load"\nduration = "3 s"\n')
    base = base.with_values({"stations.cure.duration": 45.0})
    size = {"charge.mass": np.array([0.040, 0.050, 0.045])} if which == "everything" else {
        "charge.thickness": np.array([5e-3, 7e-3, 6e-3])
    }  # fmt: skip
    values = size | {
        "charge.start": np.array([300.0, 370.0, 340.0]), "charge.rate": np.array([0.7, 1.3, 1.0]),
        "stations.cure.duration": np.array([30.0, 60.0, 45.0]),
    }  # fmt: skip
    many = process_of(base.with_values(values))
    edges = [graded_edges(12) for _ in many.layers()]
    batch = quantities(many, facts_of_batch(follow_batch(many.course(edges), 3, 1e-3)))
    for i in range(3):
        one = process_of(base.with_values({path: float(v[i]) for path, v in values.items()}))
        alone = quantities(one, facts_of_run(follow(one.course(edges), tolerance=1e-3).history))
        assert alone.keys() == batch.keys()
        for name, value in alone.items():
            digits = 0.05 if name in ("hottest", "temperature_spread") else 5e-4
            assert batch[name][i] == pytest.approx(value[0], abs=digits), (name, i)


def test_limits_at_the_opening_and_at_the_end() -> None:
    """The press opens at the end of its last cure station, whatever comes after it."""
    case = parse_case(TEXT).with_values({"stations.cure.duration": 25.0})
    result = run_case(case)
    found = {c.name: c for c in result.limits}
    opens = 4.0 + 2.0 + 1.0 + 25.0
    for name in ("cure_degree", "firm_degree", "core_rate", "temperature_spread", "degree_spread"):
        assert found[name].when == pytest.approx(opens), name
    for name in ("final_cure_degree", "over_cure"):
        assert found[name].when == pytest.approx(result.history.ending.time), name
    assert outcome(result, "opening_time") == pytest.approx(opens)
    assert found["final_cure_degree"].found > found["cure_degree"].found
    assert found["core_rate"].unit == "1/s"
    names = {field.name for field in result.fields}
    assert {"press/core_degree", "opening/cure_degree", "tool/lower_half_temperature"} <= names


def test_what_is_cold_need_not_be_firm() -> None:
    hot = run_case(knob('"8 s"', start="25 degC", more='[limits]\nblister_temperature = "100 degC"\n'))
    (check,) = [c for c in hot.limits if c.name == "firm_degree"]
    assert not check.met
    cold = run_case(knob('"8 s"', start="25 degC", more='[limits]\nblister_temperature = "180 degC"\n'))
    (check,) = [c for c in cold.limits if c.name == "firm_degree"]
    assert (check.found, check.met, check.where) == (1.0, True, "nothing is that hot")
