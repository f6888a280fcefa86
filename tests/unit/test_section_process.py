"""Sections run as cases: steady and transient answers with closed forms, what comes and goes, what is said of them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sections import bar, block, steady_bar

from thermokit.case import load_case, parse_case
from thermokit.errors import CaseError
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import failed
from thermokit.results.summary import as_json, as_text
from thermokit.studies.run import run

TEXTS = Path(__file__).parent / "case_texts"


def found(result: Any) -> dict[str, float | None]:
    return {o.name: o.value for o in result.outcomes}


@cache
def mould() -> Any:
    return run(load_case(TEXTS / "section.toml"))


def test_heat_through_a_bar() -> None:
    """q = k A dT/L = 0.5 x 0.010 x 80/0.040 = 10 W/m, and a straight profile, which linear triangles hold exactly."""
    result = run(parse_case(steady_bar() + '[[output.probes]]\nname = "middle"\nat = ["20 mm", "5 mm"]\n'))
    values = found(result)
    assert values["inner_heat_flow"] == pytest.approx(10.0, rel=1e-9)
    assert values["outer_heat_flow"] == pytest.approx(-10.0, rel=1e-9)
    assert values["middle_temperature"] == pytest.approx(60.0, abs=1e-8)
    assert values["mean_temperature"] == pytest.approx(60.0, abs=1e-8)
    assert values["hottest_temperature"] == pytest.approx(100.0)
    assert result.history.heat.unit == "W/m"
    assert not failed(result)
    assert "finished at the steady state" in as_text(result)


def test_heat_through_a_ring() -> None:
    """Q = 2 pi k l dT/ln(r2/r1); mean by volume of T1 + (T2 - T1) ln(r/r1)/ln(r2/r1) between the radii."""
    result = run(parse_case(steady_bar(axis=True, left=20.0, right=60.0) + '[accuracy]\ntemperature = "0.02 K"\n'))
    values, log = found(result), np.log(3.0)
    assert values["inner_heat_flow"] == pytest.approx(2 * np.pi * 0.5 * 0.010 * 80.0 / log, rel=1e-3)
    r = np.linspace(0.02, 0.06, 100_001)
    mean = np.average(100.0 - 80.0 * np.log(r / 0.02) / log, weights=r)
    assert values["mean_temperature"] == pytest.approx(mean, abs=0.05)
    assert result.history.heat.unit == "W"


def test_a_contact_stands_in_series() -> None:
    """Two bars of 20 mm with 50 W/m2/K between them: q/A = 80/(0.02/0.5 + 1/50 + 0.02/0.5) = 800 W/m2."""
    second = """
[[section.regions]]
name = "second"
material = "stuff"
outline = [["20 mm", "0 mm"], ["40 mm", "0 mm"], ["40 mm", "10 mm"], ["20 mm", "10 mm"]]
[[section.contacts]]
between = ["bar", "second"]
coefficient = "50 W/m2/K"
[[section.edges]]
name = "inner"
"""
    first = steady_bar().replace(
        '["40.0 mm", "0 mm"], ["40.0 mm", "10 mm"], [', '["20 mm", "0 mm"], ["20 mm", "10 mm"], [', 1
    )
    text = first.replace('[[section.edges]]\nname = "inner"\n', second, 1)
    values = found(run(parse_case(text)))
    assert values["inner_heat_flow"] == pytest.approx(8.0, rel=1e-9)
    assert values["bar_coldest_temperature"] == pytest.approx(100.0 - 800.0 * 0.04, abs=1e-8)
    assert values["second_hottest_temperature"] == pytest.approx(20.0 + 800.0 * 0.04, abs=1e-8)


@pytest.mark.parametrize(("at", "exact"), [("0.25, 1.75", 9.658188), ("0.50, 1.50", 8.640567), ("1.00, 1.00", 5.0)])
def test_half_square_column(at: str, exact: float) -> None:
    """ISO 10211:2007 Annex A, case 1; the values are the terms of its series: within 0.1 K, the standard's own rule."""
    x, y = at.split(", ")
    text = bar("steady = true", 0.0, 1000.0).replace('"10 mm"', '"2000 mm"').replace('"inner"', '"left"')
    text += f"""
[[section.edges]]
name = "bottom"
from = ["0 mm", "0 mm"]
to = ["1000 mm", "0 mm"]
[[section.edges]]
name = "top"
from = ["0 mm", "2000 mm"]
to = ["1000 mm", "2000 mm"]
[[stations]]
faces.top.temperature = "20 degC"
faces.left.temperature = "0 degC"
faces.bottom.temperature = "0 degC"
[[output.probes]]
name = "here"
at = ["{x} m", "{y} m"]
"""
    assert found(run(parse_case(text)))["here_temperature"] == pytest.approx(exact, abs=0.1)


def test_a_block_cools_as_one_lump() -> None:
    """T = 20 + 100 exp(-t h/(rho c L)), 200/(2000 x 1000 x 0.04) = 1/400 s; Biot number 0.04 moves the mean by 1.3 %."""
    result = run(parse_case(block()))
    values = found(result)
    rate = 1.0 / 400.0 / (1.0 + 0.04 / 3.0)  # series of the lump and a third of its own resistance (Biot << 1)
    mean = 20.0 + 100.0 * np.exp(-100.0 * rate)
    assert values["mean_temperature"] == pytest.approx(mean, abs=0.1)
    lost = 0.04 * 0.01 * 2000.0 * 1000.0 * (120.0 - float(values["mean_temperature"] or 0.0))
    assert values["outer_heat"] == pytest.approx(-lost, rel=1e-3)
    assert values["inner_heat"] == 0.0
    assert values["hottest_time"] < 1.0  # the far end stays at its start for a while
    assert result.history.heat.mismatch < 1e-9


def test_rows_are_those_asked_for() -> None:
    result = run(parse_case(block() + '[output]\ntimes = ["3 s", "50 s", "100 s"]\n'))
    assert result.history.time.tolist() == [3.0, 50.0, 100.0]
    assert mould().history.time.tolist() == [float(t) for t in range(26)]


def test_a_region_that_leaves_is_judged_by_when_it_was_last_there() -> None:
    result, values = mould(), found(mould())
    assert np.isnan(result.probes["middle"][-1])
    assert values["middle_temperature"] == pytest.approx(result.probes["middle"][20] - 273.15)
    assert values["part_hottest_final_temperature"] >= values["part_mean_temperature"]  # type: ignore[operator]
    check = next(c for c in result.limits if c.name == "part_hottest_final_temperature")
    assert (check.when, check.met) == (20.0, False)
    assert check.where.startswith("part, at x")
    meaning = next(o.meaning for o in result.outcomes if o.name == "part_mean_temperature")
    assert "when it was last there, at 20 s" in meaning


def test_heat_by_face_adds_up() -> None:
    """What the faces bring and the source makes is what is stored, less what the part takes with it."""
    heat = mould().history.heat
    assert heat.mismatch < 1e-6
    assert heat.unit == "J/m"
    names = {o.name for o in mould().outcomes}
    assert {"bottom_heat", "parting_heat", "c1_heat", "c2_heat"} <= names


def test_tables_left_behind_are_told() -> None:
    """The part starts at 230 degC; its conductivity is known to 220."""
    assert any("conductivity of stuff: table covers 20 to 220 degC, the run reached 230" in w for w in mould().warnings)


def test_cautions_and_json() -> None:
    told = as_json(mould(), None)
    assert told["status"] == "finished"
    assert told["heat_balance"]["unit"] == "J/m"
    assert any("burn" in text for text in told["cautions"])
    assert any("local codes" in text for text in told["cautions"])


def test_what_is_for_layered_bodies_says_so() -> None:
    case = parse_case(block())
    assert direct_of(case) is not None
    with pytest.raises(CaseError, match="no layered body"):
        process_of(case)


def test_a_station_to_be_found_is_told() -> None:
    direct = direct_of(parse_case(block('"find"') + '[limits.mean_temperature]\nat_most = "60 degC"\n'))
    assert direct is not None
    with pytest.raises(CaseError, match="dwell"):
        direct.result(None, {})
