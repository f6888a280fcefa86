"""The cycle station by station, against sums by hand and the formula of a lump."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import thermokit
from tests.cli.calling import CASES, call, one_object
from tests.unit.test_inverse import LUMP
from thermokit.case import load_case, parse_case
from thermokit.errors import CaseError, SolveError
from thermokit.studies.bottleneck import bottleneck

COOL = """\
[[stations]]
name = "cool"
duration = "200 s"
[stations.outer]
convection = { coefficient = "50 W/m2/K", air = "20 degC" }
"""
CAPACITY = 15_000.0  # J/m2/K
# heated 120 s, then cooled 200 s; the end must lie below 45 degC
TWO = LUMP.replace("[accuracy]", COOL + "[accuracy]") + '[limits.mean_temperature]\nat_most = "45 degC"\n'
RATES = '[cost]\ncurrency = "EUR"\nmachine = 30\nlabour = 15\nbetween = "10 s"\nparts = 4\n'


def test_stations_in_turn_all_rule() -> None:
    """C = 120 + 200 + 10 s, four parts: 43.6 an hour; the cooling is long enough when the end is at 45 degC."""
    found = bottleneck(parse_case(TWO + RATES))
    assert found.cycle == pytest.approx(330.0)
    assert found.per_hour == pytest.approx(3600.0 * 4 / 330.0)
    assert found.gain == pytest.approx(3600.0 * 4 * (1.0 / 329.0 - 1.0 / 330.0))
    assert found.saved_per_part == pytest.approx(45.0 / 3600.0 / 4)
    assert found.ruling.name == "cool"
    steps = {s.name: s for s in found.steps}
    hot = 130.0 * (1.0 - math.exp(-50.0 * 120.0 / CAPACITY))  # above 20 degC after the heating
    least = CAPACITY / 50.0 * math.log(hot / 25.0)
    assert steps["cool"].spare == pytest.approx(200.0 - least, abs=0.3)
    assert steps["cool"].limit == "mean_temperature"
    # a shorter heating breaks nothing
    assert steps["heat"].limit == ""
    assert found.easiest is not None and found.easiest.name == "heat"
    assert steps["between parts"].spare is None


def test_side_by_side_the_slowest_rules() -> None:
    """C = 200 + 10 s; the heating may take 80 s more before it rules."""
    found = bottleneck(parse_case(TWO + RATES + 'stations = "side_by_side"\n'))
    assert found.cycle == pytest.approx(210.0)
    assert [s.name for s in found.steps if s.rules] == ["cool", "between parts"]
    assert found.slack == pytest.approx(80.0)
    assert found.easiest is not None and found.easiest.name == "cool"


def test_a_broken_limit_is_said_first() -> None:
    found = bottleneck(parse_case(TWO.replace("45 degC", "25 degC")))
    assert found.broken == ("mean_temperature",)
    assert next(s for s in found.steps if s.name == "cool").spare == 0.0


def test_what_is_sought_is_filled_in() -> None:
    found = bottleneck(parse_case(TWO.replace('"200 s"', '{ find = ["10 s", "1000 s"] }')))
    hot = 130.0 * (1.0 - math.exp(-50.0 * 120.0 / CAPACITY))
    assert found.ruling.name == "cool"
    assert found.ruling.seconds == pytest.approx(1.1 * CAPACITY / 50.0 * math.log(hot / 25.0), rel=2e-3)
    shut = TWO.replace('"200 s"', '{ find = ["10 s", "20 s"] }')
    with pytest.raises(SolveError, match="no window"):
        bottleneck(parse_case(shut))


def test_a_line_has_no_cycle() -> None:
    case = load_case(CASES / "how_cold_does_a_calendered_sheet_reach_its_wind_up.toml")
    with pytest.raises(CaseError, match="no cycle"):
        bottleneck(case)


def test_command_and_function_agree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "two.toml"
    file.write_text(TWO + RATES)
    found = thermokit.bottleneck(file)
    assert one_object(call(capsys, "bottleneck", file, "--json").out) == found.as_json()
    assert float(found.to_xarray()["cycle"]) == found.cycle
    words = call(capsys, "bottleneck", file).out
    assert "cool rules" in words and "EUR" in words
