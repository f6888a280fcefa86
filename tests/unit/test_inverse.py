"""Any input may be left to be found, for the limits or for a wanted outcome; held against closed forms."""

from __future__ import annotations

import math
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import thermokit
from tests.cli.calling import CASES, call, one_object
from thermokit.case import json_schema, numeric_paths, parse_case, resolved_text, sought_path
from thermokit.errors import CaseError

# a plate of 10 mm that conducts so well that it is one lump: T = Ta + (T0 - Ta) exp(-h t/(rho cp L))
LUMP = """\
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "plate"
material = "stuff"
thickness = "10 mm"
cells = 6
[materials.stuff]
conductivity = "5000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "120 s"
[stations.outer]
convection = { coefficient = "50 W/m2/K", air = "150 degC" }
[accuracy]
temperature = "0.01 K"
"""
WANTED = '[wanted]\noutcome = "mean_temperature"\nvalue = "80 degC"\n'
CAPACITY = 1000.0 * 1500.0 * 0.010  # J/m2/K
AT_80 = math.log(130.0 / 70.0)  # h t/(rho cp L) at which 20 degC has become 80 degC in 150 degC
FORMS = [
    ('coefficient = "50 W/m2/K"', 'coefficient = { find = ["10 W/m2/K", "400 W/m2/K"] }',
     "stations.heat.outer.convection.coefficient", CAPACITY * AT_80 / 120.0, "W/m2/K"),
    ('thickness = "10 mm"', 'thickness = { find = ["1 mm", "12 mm"] }',
     "body.layers.plate.thickness", 1e3 * 50.0 * 120.0 / (1000.0 * 1500.0 * AT_80), "mm"),
    ('air = "150 degC"', 'air = { find = ["300 degF", "900 degF"] }',
     "stations.heat.outer.convection.air",
     32.0 + 1.8 * (20.0 + 60.0 / (1.0 - math.exp(-50.0 * 120.0 / CAPACITY))), "degF"),
    ('specific_heat = "1500 J/kg/K"', 'specific_heat = { find = ["300 J/kg/K", "3000 J/kg/K"] }',
     "materials.stuff.specific_heat", 50.0 * 120.0 / (10.0 * AT_80), "J/kg/K"),
    ('duration = "120 s"', 'duration = "find"', "stations.heat.duration", CAPACITY * AT_80 / 50.0, "s"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "sought", "path", "exact", "unit"), FORMS, ids=[form[2] for form in FORMS])
def test_any_input_is_found_for_a_wanted_outcome(given: str, sought: str, path: str, exact: float, unit: str) -> None:
    case = parse_case(LUMP.replace(given, sought) + WANTED)
    assert sought_path(case) == path
    found = thermokit.dwell(case).as_json()
    assert found["unit"] == unit
    assert found["recommended"] == pytest.approx(exact, rel=1e-3)
    assert found["earliest"] == found["latest"] == found["recommended"]


def test_bounds_on_an_outcome_give_a_window() -> None:
    """At least 80 and at most 100 degC: both edges by the formula of the lump."""
    text = LUMP.replace(FORMS[0][0], FORMS[0][1])
    wanted = '[wanted]\noutcome = "mean_temperature"\nat_least = "80 degC"\nat_most = "212 degF"\n'
    found = thermokit.dwell(parse_case(text + wanted)).as_json()
    assert found["earliest"] == pytest.approx(CAPACITY * AT_80 / 120.0, rel=1e-3)
    assert found["latest"] == pytest.approx(CAPACITY * math.log(130.0 / 50.0) / 120.0, rel=1e-3)


def test_limits_make_the_window_of_any_input() -> None:
    """The air that meets a limit at both sides, with the unit of the bounds; the middle is a mean of temperatures."""
    limits = '[limits.mean_temperature]\nat_least = "80 degC"\nat_most = "90 degC"\n'
    text = LUMP.replace('air = "150 degC"', 'air = { find = ["100 degC", "400 degC"] }') + limits
    found = thermokit.dwell(parse_case(text)).as_json()
    share = 1.0 - math.exp(-50.0 * 120.0 / CAPACITY)
    assert found["earliest"] == pytest.approx(20.0 + 60.0 / share, abs=0.3)
    assert found["latest"] == pytest.approx(20.0 + 70.0 / share, abs=0.3)
    assert found["recommended"] == pytest.approx((found["earliest"] + found["latest"]) / 2.0, abs=1e-6)
    # the same case at the values that were found meets its limits exactly
    edge = parse_case(text).with_values({"stations.heat.outer.convection.air": found["earliest"] + 273.15})
    assert sought_path(edge) is None
    assert thermokit.run(edge).limits[0].margin == pytest.approx(0.0, abs=0.1)


def test_a_window_with_one_edge_stands_a_tenth_of_the_search_inside() -> None:
    """Kelvin have no ratios: 10 % above 490 K would be 49 K whatever the bounds are."""
    text = LUMP.replace('air = "150 degC"', 'air = { find = ["100 degC", "400 degC"] }')
    found = thermokit.dwell(parse_case(text + '[limits.mean_temperature]\nat_least = "80 degC"\n')).as_json()
    assert found["latest"] is None
    assert found["recommended"] == pytest.approx(found["earliest"] + 30.0, abs=1e-6)


def test_what_cannot_be_had_is_said_in_numbers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = LUMP.replace('air = "150 degC"', 'air = { find = ["30 degC", "60 degC"] }') + WANTED
    file = tmp_path / "cold.toml"
    file.write_text(text)
    done = call(capsys, "dwell", file, "--json")
    assert done.status == 1
    block = one_object(done.out)["dwell"]
    assert block["recommended"] is None
    assert "no such setting" in block["opens_with"]
    top = 20.0 + 40.0 * (1.0 - math.exp(-50.0 * 120.0 / CAPACITY))
    assert f"it is {top:.4g} degC" in block["opens_with"]


@pytest.mark.parametrize(
    ("given", "written", "where", "words"),
    [
        ('air = "150 degC"', 'air = "find"', "air", "needs bounds"),
        ('air = "150 degC"', 'air = { find = ["90 degC", "60 degC"] }', "find", "not below"),
        ('air = "150 degC"', 'air = { find = ["90 degC"] }', "air", "not understood"),
        ("cells = 6", 'cells = "find"', "cells", "whole number cannot be found"),
        ('temperature = "0.01 K"', 'temperature = { find = ["0.1 K", "1 K"] }', "accuracy", "nothing can be found here"),
        ('air = "150 degC"', 'air = { time = ["0 s"], value = [{ find = ["1 degC", "2 degC"] }] }', "value", "single"),
        ('start = "20 degC"', 'start = { find = ["1 degC", "2 degC"] }', "air", "one value can be found at a time"),
        ('air = "150 degC"', 'air = "150 degC"', "wanted", "nothing is sought"),
    ],
)  # fmt: skip
def test_mistakes_are_plain(given: str, written: str, where: str, words: str) -> None:
    text = LUMP.replace(given, written) + WANTED
    if where == "air" and "one value" in words:
        text = text.replace('air = "150 degC"', 'air = { find = ["30 degC", "60 degC"] }')
    with pytest.raises(CaseError) as wrong:
        parse_case(text)
    assert where in str(wrong.value)
    assert words in str(wrong.value)


def test_a_wanted_outcome_must_exist_and_keep_to_its_unit() -> None:
    text = LUMP.replace('duration = "120 s"', 'duration = { find = ["10 s", "500 s"] }')
    with pytest.raises(CaseError, match="mean_temperature"):
        thermokit.dwell(parse_case(text + WANTED.replace("mean_", "men_")))
    with pytest.raises(CaseError, match="wanted"):
        thermokit.dwell(parse_case(text + WANTED.replace("80 degC", "80 mm")))


@pytest.mark.parametrize("form", FORMS, ids=[form[2] for form in FORMS])
def test_what_is_sought_survives_writing_and_the_schema(form: tuple[str, str, str, float, str]) -> None:
    text = LUMP.replace(form[0], form[1]) + WANTED
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case
    assert form[2] not in numeric_paths(case)
    import tomllib

    jsonschema.Draft202012Validator(json_schema("body")).validate(tomllib.loads(text))


def test_a_section_finds_an_input_too() -> None:
    """A bar with one warm edge: dT/dt from a flux is q/(rho cp L), so that 10 K in 30 s take rho cp L 10/30."""
    text = """
process = "section"
[section]
start = "20 degC"
[[section.regions]]
name = "bar"
material = "stuff"
outline = [["0 mm", "0 mm"], ["20 mm", "0 mm"], ["20 mm", "10 mm"], ["0 mm", "10 mm"]]
[materials.stuff]
conductivity = "4000 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[section.edges]]
name = "bottom"
from = ["0 mm", "0 mm"]
to = ["20 mm", "0 mm"]
[[stations]]
name = "warm"
duration = "30 s"
[stations.faces.bottom]
heating = { find = ["1 kW/m2", "9 kW/m2"] }
[[output.probes]]
name = "middle"
at = ["10 mm", "5 mm"]
[wanted]
outcome = "middle_temperature"
value = "30 degC"
"""
    found = thermokit.dwell(parse_case(text)).as_json()
    assert found["unit"] == "kW/m2"
    assert found["recommended"] == pytest.approx(1e-3 * 1000.0 * 1000.0 * 0.010 * 10.0 / 30.0, rel=2e-3)


@pytest.mark.long
def test_a_sheet_thickness_is_found_for_its_dwell() -> None:
    """The thickness reachable in a dwell is the inverse of the dwell of that thickness."""
    text = (CASES / "how_long_to_heat_a_4mm_abs_tray.toml").read_text().partition("[tolerances]")[0]
    dwell = thermokit.dwell(parse_case(text))
    assert dwell.earliest is not None
    back = text.replace('"find"', f'"{dwell.earliest:.6f} s"')
    back = back.replace('thickness = "4 mm"', 'thickness = { find = ["2 mm", "8 mm"] }')
    assert np.isclose(thermokit.dwell(parse_case(back)).latest or 0.0, 4e-3, rtol=2e-3)


@pytest.mark.long
def test_a_mould_finds_the_thickness_that_its_cycle_allows() -> None:
    """The other way round than the cooling time of that thickness, which is read off one shot: both must give 15 s."""
    from tests.unit.moulds import SMALL

    sought = parse_case(SMALL.replace('thickness = "3 mm"', 'thickness = { find = ["2 mm", "4.5 mm"] }'))
    found = thermokit.dwell(sought)
    assert (found.earliest_limit, found.latest_limit) == (None, "ejection_centre")
    assert found.latest is not None
    back = SMALL.replace('thickness = "3 mm"', f'thickness = "{1e3 * found.latest:.6f} mm"')
    cooling = thermokit.dwell(parse_case(back.replace('cooling = "15 s"', 'cooling = { find = ["1 s", "120 s"] }')))
    assert cooling.earliest == pytest.approx(15.0, abs=0.1)
    with pytest.raises(CaseError, match="cooling time only"):
        thermokit.tolerance(parse_case(SMALL.replace('"3 mm"', '{ find = ["2 mm", "4.5 mm"] }', 1) + ERRS))


ERRS = '[tolerances]\n"circuits.core.temperature" = "± 2 K"\n'
