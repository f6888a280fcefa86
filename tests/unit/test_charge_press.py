"""Charges that must not be run, changes at the press, pictures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from charges import CURE, TEXT, edges_of, knob, outcome

from thermokit.case import parse_case
from thermokit.conduction.follow import follow
from thermokit.processes import process_of
from thermokit.processes.charge import ChargeProcess
from thermokit.processes.charge_changes import starting_at, times_as_thick, warmer_mould
from thermokit.processes.charge_judgement import peak_limit
from thermokit.processes.run import failed, run_case
from thermokit.studies.dwell import dwell

# -- what must not be run ---------------------------------------------------------------------------------------------------


def test_an_ordinary_charge_is_not_refused() -> None:
    result = run_case(knob())
    assert result.study == {}
    assert not failed(result)


def test_a_thick_rich_charge_is_refused_and_remedies_are_tried() -> None:
    case = knob('"10 min"', thickness="30 mm", heat="150 kJ/kg", more='[limits]\nhottest = "215 degC"\n')
    result = run_case(case)
    assert failed(result)
    stop = result.study["stop"]
    assert stop["why"].startswith("STOP: do not run this charge")
    assert "Frank-Kamenetskii" in stop["why"]
    assert "30 % up" in stop["why"]
    text = "\n".join(stop["remedies"])
    for word in ("preheat less", "mould", "thinner", "filler", "step-cure"):
        assert word in text, word
    # what is said to be enough is: run it
    enough = [line for line in stop["remedies"] if ": enough" in line]
    assert enough
    fillers = [line for line in enough if line.startswith("filler")]
    for line in fillers:
        share = float(line.split(" by ")[1].split(" %")[0]) / 100.0
        richer = knob(
            '"10 min"', thickness="30 mm", heat=f"{150 * (1 - share)} kJ/kg", charge="rate = 1.3",
            more='[limits]\nhottest = "215 degC"\n',
        )  # fmt: skip
        assert outcome(run_case(richer), "hottest_temperature") <= 215.0


def test_a_charge_that_only_a_fast_batch_would_break_is_refused() -> None:
    case = knob('"2 min"', thickness="5 mm", start="150 degC", heat="150 kJ/kg", more="")
    plain = run_case(case)
    peak, fast = outcome(plain, "hottest_temperature"), outcome(plain, "hottest_if_faster")
    assert fast > peak + 0.2
    between = (peak + fast) / 2.0 + 273.15
    result = run_case(case.with_values({"limits.hottest": between}))
    assert all(c.met for c in result.limits if c.name == "hottest")
    assert failed(result)
    assert "too near to running away" in result.study["stop"]["why"]


def test_a_press_that_is_too_small() -> None:
    more = 'area = "200 cm2"\npressure = "30 MPa"\nrating = "500 kN"'
    result = run_case(knob(charge=more))
    assert failed(result)
    assert "600 kN" in result.study["stop"]["why"]
    assert any("25 MPa" in text for text in result.study["stop"]["remedies"])


def test_where_the_limit_on_the_peak_comes_from() -> None:
    """The case, the material's scorch temperature, or the higher of 200 degC and 40 K above the mould."""
    assert peak_limit(process_of(knob())) == pytest.approx(493.15)
    assert peak_limit(process_of(knob(more=""))) == pytest.approx(443.15 + 40.0)
    assert peak_limit(process_of(knob(more="", mould="120 degC"))) == pytest.approx(473.15)
    library = parse_case(
        'process = "charge"\ncharge = { material = "pf_compound", thickness = "5 mm", start = "90 degC" }\n'
        'mould = { upper = { temperature = "170 degC" }, lower = { temperature = "165 degC" } }\n'
        + CURE.format(duration='"60 s"')
    )
    from thermokit.materials import library as materials

    record = materials.load("pf_compound")
    assert peak_limit(process_of(library)) == record.surface_limit["scorch"]
    limits = {limit.name: limit.bound for limit in process_of(library).limits()}
    assert limits["cure_degree"] == record.record["release"]["least_cure_degree"]


def test_a_press_opened_on_an_uncured_charge_is_warned_of() -> None:
    after = '[[stations]]\nkind = "cool"\nduration = "10 min"\n'
    result = run_case(knob('"60 s"', thickness="25 mm", after=after, heat="120 kJ/kg"))
    assert any("after the press has opened" in text for text in result.warnings)


# -- changes at the press ---------------------------------------------------------------------------------------------------


def test_changes_as_values() -> None:
    case = parse_case(TEXT)
    assert starting_at(case, 300.0) == {"charge.start": 300.0}
    warmer = warmer_mould(case, 10.0)
    assert warmer["mould.lower.start"] == pytest.approx(175 + 273.15)
    assert warmer["mould.lower.platen.temperature"] == pytest.approx(185 + 273.15)
    assert warmer["mould.upper.temperature"].value[0] == pytest.approx(170 + 273.15)
    assert warmer["stations.cure.lower.temperature"] == pytest.approx(190 + 273.15)
    thicker = times_as_thick(case, 2.0)
    assert thicker == {"charge.mass": pytest.approx(0.09), "charge.loose.thickness": pytest.approx(0.04)}
    changed = case.with_values(warmer | thicker | {"stations.cure.duration": 20.0})
    assert float(process_of(changed).thickness) == pytest.approx(2.0 * float(process_of(case).thickness))


def test_cured_properties_take_their_stations() -> None:
    case = knob(
        before='[[stations]]\nkind = "close"\nduration = "2 s"\n', after='[[stations]]\nkind = "cool"\nduration = "9 s"\n',
        charge='cured = { conductivity = "0.5 W/m/K", specific_heat = "1600 J/kg/K" }',
    )  # fmt: skip
    process = process_of(case)
    course = process.course(edges_of(process))
    media = [leg.layers[0].medium for leg in course.legs]
    assert [m.conductivity for m in media] == pytest.approx([0.30, 0.40, 0.50])
    assert [m.specific_heat for m in media] == pytest.approx([1400.0, 1500.0, 1600.0])
    assert follow(course, tolerance=0.05).history.heat.mismatch < 1e-9


@pytest.mark.long
def test_a_dwell_of_a_charge_that_must_not_be_run_still_says_stop() -> None:
    from thermokit.studies.dwell import run_at
    from thermokit.studies.dwell_words import dwell_text

    case = knob(
        '{ find = ["60 s", "900 s"] }', thickness="30 mm", heat="150 kJ/kg", more='[limits]\nhottest = "215 degC"\n'
    )
    found = dwell(case)
    result = run_at(case, found)
    assert failed(result)
    assert "STOP" in dwell_text(found, result)
    assert found.recommended is None
    assert "moulds at" in found.opens_with or "charges at" in found.opens_with


# -- figures ----------------------------------------------------------------------------------------------------------------


def test_figures_of_a_charge(tmp_path: Path) -> None:
    from thermokit.figures.cure import drawings
    from thermokit.figures.style import drawn
    from thermokit.results.read import read
    from thermokit.results.write import write

    result = run_case(knob(before='[[stations]]\nkind = "load"\nduration = "3 s"\n'))
    write(result, tmp_path / "knob.h5")
    again = read(tmp_path / "knob.h5")
    assert set(drawings(again)) == {"cure", "opening"}
    text = drawn(drawings(again)["cure"](again), "svg").decode()
    for words in ("middle gels at", "to open: at least 0.85", "hottest", "degree of cure [1]"):
        assert words in text, words
    text = drawn(drawings(again)["opening"](again), "svg").decode()
    assert "spread" in text
    assert "depth below the upper face [mm]" in text


def test_other_results_have_no_such_figures() -> None:
    from thermokit.figures.cure import drawings

    assert drawings(replace(run_case(knob()), fields=())) == {}


def test_processes_take_factors() -> None:
    case = knob()
    plain, faster = ChargeProcess(case), ChargeProcess(case, rate_factor=1.3)
    edges = edges_of(plain)
    a, b = (follow(p.course(edges), tolerance=0.05).history.states["cure_degree"][-1].min() for p in (plain, faster))
    assert b > a
