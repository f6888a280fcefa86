"""Answers of many rows: against closed forms, against single runs, with reasons where a row fails."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermokit.case import load_case, parse_case
from thermokit.errors import CaseError
from thermokit.studies.answers import answers, answers_of, plan_of
from thermokit.studies.answers_plan import joined, some_rows
from thermokit.studies.answers_prepare import probe_rows
from thermokit.studies.dwell import dwell, window_of
from thermokit.studies.run import run

CASES = Path(__file__).parents[2] / "cases"
TRAY = CASES / "how_long_to_heat_a_4mm_abs_tray.toml"

PLATE = """\
title = "Plate heated at a steady rate, back insulated"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "plate"
material = "stuff"
thickness = "4 mm"
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "120 s"
[stations.outer]
heating = "5 kW/m2"
[limits.mean_temperature]
at_least = "80 degC"
[limits.outer_face_temperature]
at_most = "130 degC"
"""
K, RHO_C, START = 0.2, 1000.0 * 1500.0, 20.0
THICKNESS, HEATING = "body.layers.plate.thickness", "stations.heat.outer.heating"


def plate(sought: bool = False) -> Any:
    return parse_case(PLATE.replace('"120 s"', '"find"') if sought else PLATE, "plate.toml")


def rows(count: int = 40) -> dict[str, Any]:
    draw = np.random.default_rng(7)
    return {THICKNESS: draw.uniform(2e-3, 5e-3, count), HEATING: draw.uniform(2e3, 6e3, count)}


def test_a_plate_under_a_steady_flux() -> None:
    """Mean: all heat stays in it, q t/(rho c L). Face: qL/(3k) above the mean once q L^2 Fo > 0.5 (Carslaw & Jaeger 1959,
    Conduction of Heat in Solids, 3.8 eq. 3)."""
    values = rows()
    found = answers(plate(), values)
    thick, flux = values[THICKNESS], values[HEATING]
    mean = START + flux * 120.0 / (RHO_C * thick)
    assert found.finished.all() and found.units["mean_temperature"] == "degC"
    assert found.outcomes["mean_temperature"] == pytest.approx(mean, abs=1e-6)
    late = K / RHO_C * 120.0 / thick**2 > 0.6
    assert late.sum() > 10
    face = mean + flux * thick / (3.0 * K)
    assert found.outcomes["outer_face_temperature"][late] == pytest.approx(face[late], abs=0.1)
    lower, upper = (found.margins[found.limits.index(n)] for n in ("mean_temperature", "outer_face_temperature"))
    assert lower == pytest.approx(mean - 80.0, abs=1e-6)
    assert upper[late] == pytest.approx(130.0 - face[late], abs=0.1)
    assert found.margin_units == ("K", "K")


def test_windows_of_a_plate_under_a_steady_flux() -> None:
    """Earliest: rho c L (80 - 20)/q; latest: rho c L (130 - 20 - qL/(3k))/q, from the same formula."""
    values = rows(60)
    values[HEATING] = 1.5 * values[HEATING]
    found = answers(plate(sought=True), values)
    thick, flux = values[THICKNESS], values[HEATING]
    earliest = RHO_C * thick * 60.0 / flux
    latest = RHO_C * thick * (110.0 - flux * thick / (3.0 * K)) / flux
    settled = K / RHO_C * np.minimum(earliest, latest) / thick**2 > 0.6
    there = settled & (latest > 1.02 * earliest)
    assert there.sum() > 20
    assert found.outcomes["earliest"][there] == pytest.approx(earliest[there], rel=1e-4)
    assert found.outcomes["latest"][there] == pytest.approx(latest[there], rel=2e-3)
    assert found.outcomes["recommended"][there] == pytest.approx((earliest + latest)[there] / 2, rel=2e-3)
    assert set(found.words["earliest_limit"][there]) == {"mean_temperature"}
    assert set(found.words["latest_limit"][there]) == {"outer_face_temperature"}
    # the face runs ahead of the mean by more than the 50 K between the limits; the decaying part, below
    # qL/k 2/pi^2 exp(-pi^2 Fo) with Fo = 0.2 x 60/(qL) at least, takes off less than 4 K of that here
    ahead = flux * thick / (3.0 * K)
    none = (ahead > 54.0) & (ahead < 65.0)
    assert none.sum() > 2
    assert np.isnan(found.outcomes["earliest"][none]).all()
    assert all(str(s).startswith("no window: nearest at") and "is missed by" in s for s in found.status[none])


def test_outcomes_are_those_of_a_run() -> None:
    case = load_case(TRAY).with_values({"stations.heat.duration": 75.0})
    values = {"sheet.thickness": np.array([3e-3, 4.5e-3]), "sheet.start": np.array([290.0, 300.0])}
    found = answers(case, values, ["all"])
    for i in range(2):
        own = run(case.with_values({path: float(column[i]) for path, column in values.items()}))
        told = {o.name: o for o in own.outcomes}
        assert set(found.outcomes) == set(told)
        for name, outcome in told.items():
            assert found.units[name] == outcome.unit and found.meanings[name] == outcome.meaning
            near = 0.1 if outcome.unit in ("degC", "K") else 0.005 * abs(float(outcome.value or 0.0)) + 1e-9
            assert found.outcomes[name][i] == pytest.approx(outcome.value, abs=near), name
        for name, margin in zip(found.limits, found.margins[:, i], strict=True):
            (check,) = [c for c in own.limits if c.name == name]
            assert margin == pytest.approx(check.margin, abs=0.1)


def test_windows_are_those_of_a_dwell_search() -> None:
    case = load_case(TRAY)
    values = {"sheet.thickness": np.array([2e-3, 4e-3, 8e-3]), "sheet.start": np.array([290.0, 300.0, 293.0])}
    found = answers(case, values)
    for i in range(3):
        own = window_of(case.with_values({path: float(column[i]) for path, column in values.items()}))
        for name, edge in (("earliest", own.earliest), ("latest", own.latest)):
            if edge is None:
                assert np.isnan(found.outcomes[name][i])
            else:  # 0.1 K of accuracy at some K/s
                assert found.outcomes[name][i] == pytest.approx(edge, abs=0.1)
    assert "recommended" not in found.outcomes, "it takes thousands of runs a row where parts vary: only when asked for"


def test_recommended_by_shares_of_good_parts() -> None:
    from thermokit.studies.dwell import dwell

    case = load_case(TRAY)
    found = answers(case, {"sheet.thickness": np.array([4e-3])}, ["earliest", "recommended"])
    own = dwell(case)
    assert found.outcomes["recommended"][0] == pytest.approx(own.recommended, abs=0.5)
    assert list(found.outcomes) == ["earliest", "recommended"]


@pytest.mark.parametrize(
    ("start", "setting", "changed"),
    [
        ("can_a_6mm_acrylic_hatch", 220.0, {"sheet.thickness": [5e-3, 6e-3], "sheet.start": [288.0, 300.0]}),
        ("how_long_to_cure_a_6mm_phenolic", 80.0, {"charge.thickness": [5e-3, 7e-3]}),
        ("how_long_must_a_hot_steel_rod", 60.0, {"former.layers.rod.thickness": [4e-3, 5e-3]}),
        ("how_long_to_mill_a_pvc", 600.0, {"band.thickness": [2e-3, 2.5e-3]}),
    ],
)
def test_each_kind_gives_what_its_runs_give(start: str, setting: float, changed: dict[str, list[float]]) -> None:
    """Mapped sheets, charges, dips, bands: outcomes of a batch are those of single runs."""
    from thermokit.case import sought_path

    (file,) = CASES.glob(f"{start}*.toml")
    case = load_case(file)
    case = case.with_values({sought_path(case): setting})
    values = {path: np.array(column) for path, column in changed.items()}
    found = answers(case, values)
    assert found.finished.all() and len(found.outcomes) >= 3
    for i in range(2):
        own = run(case.with_values({p: float(column[i]) for p, column in values.items()}))
        told = {o.name: o for o in own.outcomes}
        for name, column in found.outcomes.items():
            near = 0.25 if told[name].unit in ("degC", "K") else 0.02 * abs(float(told[name].value or 0.0)) + 1e-6
            assert column[i] == pytest.approx(told[name].value, abs=near), name


BAR = """
title = "Bar held cold at one end and heated at the other, steady"
process = "section"
[section]
start = "20 degC"
steady = true
[[section.regions]]
name = "bar"
material = "stuff"
outline = [["0 mm", "0 mm"], ["40 mm", "0 mm"], ["40 mm", "10 mm"], ["0 mm", "10 mm"]]
[[section.edges]]
name = "left"
from = ["0 mm", "0 mm"]
to = ["0 mm", "10 mm"]
[[section.edges]]
name = "right"
from = ["40 mm", "0 mm"]
to = ["40 mm", "10 mm"]
[materials.stuff]
conductivity = "2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "hold"
[stations.faces.left]
temperature = "20 degC"
[stations.faces.right]
heating = "1 kW/m2"
[[output.probes]]
name = "middle"
at = ["20 mm", "5 mm"]
[limits.hottest_temperature]
at_most = "50 degC"
"""


def test_a_section_is_run_row_by_row() -> None:
    """Steady conduction along a bar: T = 20 degC + q x/k (Fourier)."""
    k = np.array([1.0, 2.0, 4.0])
    found = answers(parse_case(BAR, "bar.toml"), {"materials.stuff.conductivity": k})
    assert found.finished.all()
    assert found.outcomes["middle_temperature"] == pytest.approx(20.0 + 1000.0 * 0.02 / k, abs=1e-6)
    hottest = 20.0 + 1000.0 * 0.04 / k
    assert found.outcomes["hottest_temperature"] == pytest.approx(hottest, abs=1e-6)
    assert found.limits == ("hottest_temperature",) and found.margin_units == ("K",)
    assert found.margins[0] == pytest.approx(50.0 - hottest, abs=1e-6)
    assert found.status.tolist() == ["finished"] * 3, "a limit that is missed is no failure"


def test_whole_numbers_are_run_one_by_one() -> None:
    (file,) = CASES.glob("how_long_to_fuse_a_mixed_rack*.toml")
    case = load_case(file)
    case = case.with_values({"stations.fuse.duration": 900.0})
    plan = plan_of(case, {"ovens.box.count": np.array([12.0, 24.0])})
    assert plan.how == "run" and "whole number" in plan.note
    with pytest.raises(CaseError, match="out of range"):
        plan_of(case, {"ovens.box.count": np.array([12.5])})


def test_rows_are_the_same_in_chunks() -> None:
    """To round-off: sums over the rows in flight are grouped otherwise."""
    values = rows(30)
    plan = plan_of(plate(), values)
    whole = answers_of(plan, values)
    parts = joined([answers_of(plan, some_rows(values, slice(i, i + 7))) for i in range(0, 30, 7)])
    for name, column in whole.outcomes.items():
        assert parts.outcomes[name] == pytest.approx(column, rel=1e-9, abs=1e-9)
    again = answers_of(plan, values)
    assert all(np.array_equal(again.outcomes[name], column) for name, column in whole.outcomes.items())


def test_a_row_that_fails_has_its_reason() -> None:
    values = {HEATING: np.array([5e3, 5e9]), THICKNESS: np.array([4e-3, 4e-3])}
    found = answers(plate(), values)
    assert list(found.finished) == [True, False]
    assert found.status[1] == "a temperature left what is possible"
    assert np.isnan(found.outcomes["mean_temperature"][1]) and np.isnan(found.margins[:, 1]).all()


def test_a_probe_outside_a_thin_body_is_no_answer() -> None:
    case = parse_case(PLATE + '[[output.probes]]\nname = "deep"\nat = "3 mm"\n', "plate.toml")
    found = answers(case, {THICKNESS: np.array([4e-3, 2e-3])}, ["deep_temperature", "hottest_time"])
    assert list(found.finished) == [True, False]
    assert "outside the body" in found.status[1]
    assert found.outcomes["hottest_time"][0] == pytest.approx(120.0)


def test_the_mesh_serves_all_rows() -> None:
    """The thin, hard-heated corner asks for more cells than the middle; all rows get them."""
    base = plate()
    wide = plan_of(base, {THICKNESS: np.linspace(1e-3, 40e-3, 21)})
    narrow = plan_of(base, {THICKNESS: np.array([2e-3, 2.1e-3])})
    assert len(wide.edges[0]) >= len(narrow.edges[0])
    given = plan_of(base, {THICKNESS: np.array([2e-3, 3e-3])}, edges=[np.linspace(0.0, 1.0, 11)])
    assert len(given.edges[0]) == 11


def test_probes_stand_at_corners() -> None:
    grid = np.meshgrid(np.arange(5.0), np.arange(7.0), indexing="ij")
    values = {"a": grid[0].ravel(), "b": grid[1].ravel()}
    chosen = {(values["a"][i], values["b"][i]) for i in probe_rows(values)}
    assert {(0.0, 0.0), (0.0, 6.0), (4.0, 0.0), (4.0, 6.0), (2.0, 3.0)} <= chosen


@pytest.mark.parametrize(
    ("values", "wanted", "words"),
    [
        ({"body.layers.plate.thicknes": [1e-3]}, None, "did you mean body.layers.plate.thickness"),
        ({THICKNESS: [-1e-3]}, None, "out of range"),
        ({THICKNESS: [1e-3, 2e-3], HEATING: [5e3]}, None, "as many values for each input"),
        ({}, None, "no row to solve"),
        ({"body.layers.plate.cells": [10.0, 12.0]}, None, "out of range"),
        ({"body.layers.plate.material": [1.0]}, None, "takes no number"),
        ({THICKNESS: [1e-3]}, ["mean_temprature"], "did you mean mean_temperature"),
    ],
)
def test_what_cannot_be_answered_is_refused(values: dict[str, Any], wanted: Any, words: str) -> None:
    with pytest.raises(CaseError) as wrong:
        answers(plate(), {path: np.array(column) for path, column in values.items()}, wanted)
    assert words in str(wrong.value)


def test_a_value_is_sought_and_nothing_limits_it() -> None:
    case = parse_case(PLATE.replace('"120 s"', '"find"').split("[limits")[0], "plate.toml")
    with pytest.raises(CaseError, match="nothing limits it"):
        answers(case, {THICKNESS: np.array([2e-3])})


SOUGHT_AIR = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "slab"
material = "stuff"
thickness = "10 mm"
[[stations]]
name = "heat"
duration = "100 s"
[stations.inner]
convection = { coefficient = "50 W/m2/K", air = { find = ["60 degC", "200 degC"] } }
[limits.mean_temperature]
at_least = "40 degC"
[materials.stuff]
conductivity = "50 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
"""


def test_a_sought_temperature_is_recommended_as_dwell_does() -> None:
    """A share of kelvins says nothing: a tenth of the search above the only edge, which a lump gives in closed form."""
    case = parse_case(SOUGHT_AIR)
    found = answers(case, {"body.layers.slab.thickness": np.array([0.010, 0.008])}, ["earliest", "recommended"])
    risen = 1.0 - np.exp(-50.0 * 100.0 / (1e6 * np.array([0.010, 0.008])))
    assert found.outcomes["earliest"] == pytest.approx(20.0 + 20.0 / risen, abs=0.3)  # Biot number 0.01
    assert found.outcomes["recommended"] == pytest.approx(found.outcomes["earliest"] + 14.0, abs=1e-6)
    own = dwell(case)
    assert own.recommended is not None
    assert found.outcomes["recommended"][0] == pytest.approx(own.recommended - 273.15, abs=0.05)
