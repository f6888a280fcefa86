"""Reading sheet cases: zones of panels, absorption in depth, tools, shots, and what each mistake is told."""

from __future__ import annotations

import copy
import math
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermokit.case import json_schema, load_case, numeric_paths, parse_case, resolved_text, value, with_values
from thermokit.case.panels import PanelEntry
from thermokit.case.writing import toml_text
from thermokit.conduction.problem import Series
from thermokit.errors import CaseError

TEXTS = Path(__file__).parent / "case_texts"
ZONES = (TEXTS / "sheet_zones.toml").read_text(encoding="utf-8")
TOOLS = (TEXTS / "sheet_tools.toml").read_text(encoding="utf-8")
BOTH = {"zones": ZONES, "tools": TOOLS}
EXAMPLES = sorted(
    file
    for file in (Path(__file__).parents[2] / "cases").glob("*.toml")
    if 'process = "sheet"' in file.read_text("utf-8")
)


def kelvin(celsius: float) -> float:
    return pytest.approx(celsius + 273.15)


def mistakes(text: str) -> dict[str, str]:
    """Where -> the whole lines of the mistakes there."""
    with pytest.raises(CaseError) as caught:
        parse_case(text, "x.toml")
    assert all(mistake.allowed or mistake.advice for mistake in caught.value.mistakes)
    found: dict[str, str] = {}
    for mistake in caught.value.mistakes:
        found[mistake.where] = f"{found.get(mistake.where, '')}{mistake}\n"
    return found


# -- values --------------------------------------------------------------------------------------------------------


def test_zones_in_si() -> None:
    case = parse_case(ZONES)
    sheet = case.sheet
    assert (sheet.absorption, sheet.path, sheet.bands, sheet.spots, sheet.dried) == ("at_face", 1.0, (), (30, 20), True)
    assert case.map_spots == (30, 20)
    assert sheet.frame.temperature == kelvin(60)
    assert (sheet.sag.softening, sheet.sag.rate, sheet.sag.span) == (kelvin(105), 0.05, None)
    assert (sheet.sag.known_good, sheet.sag.known_good_sag) == (12.0, pytest.approx(0.03))
    assert (sheet.dose.energy, sheet.dose.reference, sheet.dose.time) == (120e3, kelvin(200), 600.0)
    station = case.stations[0]
    upper, lower = station.upper, station.lower
    assert station.panels == {"upper": upper, "lower": lower}
    assert (upper.shape, upper.zoned, upper.geometric, upper.set_by) == ((2, 3), True, True, "temperature")
    assert (lower.shape, lower.zoned, lower.geometric, lower.set_by) == ((4, 6), True, True, "power")
    np.testing.assert_allclose(np.array(upper.zones("temperature")) - 273.15, [[420, 400, 420], [410, 390, 410]])
    assert upper.zones("power") == [[None] * 3] * 2
    assert lower.zones("power") == [[0.6] * 6] * 4
    assert (upper.power, lower.temperature, upper.trim, upper.emissivity) == (None, None, 5.0, 0.92)
    assert (upper.installed, lower.installed) == (30e3, 25e3)
    assert (upper.dead, lower.dead) == (((1, 3),), ((4, 6), (1, 1)))
    assert upper.alive == [[True, True, False], [True, True, True]]
    np.testing.assert_allclose([*upper.size, upper.gap, *upper.offset], [0.7, 0.5, 0.15, 0.01, -0.02])
    assert (lower.offset, lower.initial, lower.time_constant, lower.back_loss) == ((0.0, 0.0), kelvin(25), 120.0, 0.3)
    assert (upper.initial, upper.time_constant) == (None, None)
    assert (station.mains.rated, station.mains.actual) == (400.0, 380.0)
    assert (station.oven.surround, station.oven.reflectance, station.oven.behind) == (kelvin(80), 0.5, 0.1)
    limits, zones = case.limits, case.zones
    assert (limits.map_spread, limits.sag_index, limits.heat_dose) == (10.0, 1.2, 0.3)
    assert (zones.lowest, zones.highest, zones.target) == (kelvin(200), kelvin(550), kelvin(150))
    assert (zones.lowest_power, zones.highest_power, zones.symmetry) == (0.1, 0.9, "both")
    assert (case.tools, case.shots) == ({}, None)


def test_tools_in_si() -> None:
    case = parse_case(TOOLS)
    sheet = case.sheet
    assert (sheet.absorption, sheet.path, sheet.spots, case.map_spots) == ("in_depth", 1.2, None, None)
    first, second = sheet.bands
    np.testing.assert_allclose([first.low, first.high, first.coefficient, first.reflectance], [1.6e-6, 2e-5, 2e3, 0.05])
    np.testing.assert_allclose(
        [second.low, second.high, second.coefficient, second.reflectance], [8e-7, 1.6e-6, 35, 0.04]
    )
    heat, stretch, form = case.stations
    assert (heat.upper.shape, heat.upper.zoned, heat.upper.geometric) == ((1, 1), False, False)
    assert (heat.mains, heat.oven, heat.lower) == (None, None, None)
    assert (stretch.kind, stretch.draw_ratio, form.kind, form.duration, form.draw_takes) == (
        "air",
        1.3,
        "tool",
        20.0,
        1.0,
    )
    assert [(region.name, region.draw_ratio) for region in form.regions] == [("corner", 2.5), ("region_2", 1.2)]
    assert (form.upper.tool, form.upper.share, form.lower.share, form.lower.contact) == ("plug", 0.5, 1.0, 250.0)
    assert form.upper.contact == Series((0.0, 5.0, 5.0), (100.0, 100.0, 300.0))
    assert form.touches == {"upper": form.upper, "lower": form.lower}
    assert (form.air.temperature, form.air.coefficient) == (kelvin(25), 40.0)
    mould, plug = case.tools["mould"], case.tools["plug"]
    assert (mould.has_body, mould.temperature, mould.material) == (True, None, "aluminium_cast")
    assert (mould.thickness, mould.start) == (pytest.approx(0.012), kelvin(25))
    assert (mould.back.coefficient, mould.back.temperature) == (800.0, kelvin(15))
    assert (mould.open.coefficient, mould.open.temperature) == (8.0, kelvin(25))
    assert (plug.has_body, plug.temperature, plug.material, plug.back) == (False, kelvin(65), None, None)
    assert (case.shots.count, case.shots.between, case.shots.settled) == (50, 40.0, True)
    assert (case.limits.release_temperature, case.limits.release_difference) == (kelvin(85), 10.0)
    assert case.duration() is None  # sought
    assert case.with_values({"stations.heat.duration": 60.0}).duration() == 82.0


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_examples_mean_what_they_meant(file: Path) -> None:
    case = load_case(file)
    assert parse_case(resolved_text(case)) == case


def test_what_is_left_out_changes_nothing() -> None:
    case = parse_case((TEXTS / "sheet.toml").read_text(encoding="utf-8"))
    assert (case.sheet.absorption, case.sheet.dried, case.zones, case.shots) == ("at_face", None, None, None)
    upper, lower = case.stations[0].upper, case.stations[0].lower
    assert (upper.trim, upper.back_loss, upper.dead, upper.shape) == (0.0, 0.0, (), (1, 1))
    assert (upper.geometric, lower.geometric, case.map_spots) == (False, True, None)
    sized = case.with_values({"sheet.length": 0.6, "sheet.width": 0.4})
    assert sized.map_spots == (15, 10)


def test_hot_sheet_straight_onto_a_tool() -> None:
    """A tool may come first, without forming limits: the sheet is then as it is given."""
    case = parse_case(
        'process = "sheet"\nsheet = { material = "abs", thickness = "2.5 mm", start = "150 degC" }\n'
        '[[stations]]\nkind = "tool"\nduration = "find"\nlower = { tool = "m", contact = "250 W/m2/K" }\n'
        'air = { temperature = "25 degC", coefficient = "40 W/m2/K" }\n[tools.m]\ntemperature = "65 degC"\n'
    )
    station = case.stations[0]
    assert (station.name, station.upper, station.draw_ratio, station.regions) == ("station_1", None, 1.0, ())
    assert case.limits.coldest_point is None


def test_pressed_between_two_tools_needs_no_air() -> None:
    text = TOOLS.replace("share = 0.5\n", "")
    start = text.index('[stations.air]\ntemperature = "25 degC"\ncoefficient = "40')
    text = text[:start] + text[text.index("[tools.mould]") :]
    assert parse_case(text).stations[2].air is None


def test_panel_smaller_than_the_sheet_is_legal() -> None:
    text = ZONES.replace('size = ["700 mm", "500 mm"]', 'size = ["400 mm", "300 mm"]')
    assert parse_case(text).stations[0].upper.size[0] == pytest.approx(0.4)


# -- paths ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BOTH)
def test_every_number_can_be_set_alone_and_over_runs(name: str) -> None:
    case = parse_case(BOTH[name])
    for path, (number, dimension) in numeric_paths(case).items():
        new = number * 0.999
        assert numeric_paths(case.with_values({path: new}))[path] == (new, dimension)
        many = np.array([number, new])
        assert np.array_equal(value(case.with_values({path: many}), path), many), path


def test_inputs_that_count() -> None:
    zones, tools = numeric_paths(parse_case(ZONES)), numeric_paths(parse_case(TOOLS))
    assert zones["stations.heat.upper.trim"] == (5.0, "temperature_difference")
    assert zones["stations.heat.mains.actual"] == (380.0, "voltage")
    assert zones["stations.heat.lower.power"] == (0.6, "fraction")
    assert zones["stations.heat.upper.offset.1"] == (pytest.approx(-0.02), "length")
    assert zones["sheet.sag.rate"] == (0.05, "inverse_temperature")
    assert zones["sheet.sag.known_good"] == (12.0, "fraction")
    assert tools["stations.form.regions.corner.draw_ratio"] == (2.5, "fraction")
    assert tools["tools.mould.back.coefficient"] == (800.0, "heat_transfer_coefficient")
    assert tools["sheet.bands.1.coefficient"] == (35.0, "absorption")
    assert tools["shots.between"] == (40.0, "time")
    assert value(parse_case(TOOLS), "stations.form.regions.0.draw_ratio") == 2.5
    absent = ["stations.heat.upper.temperature", "stations.heat.lower.rows", "stations.heat.upper.dead.0.0"]
    absent += ["stations.heat.lower.trim", "sheet.spots.0", "zones.lowest", "zones.lowest_power", "sheet.path"]
    assert not {*absent} & {*zones}
    absent = ["shots.count", "stations.form.draw_ratio", "stations.heat.upper.offset.0", "stations.form.upper.contact"]
    assert not {*absent} & {*tools}


def test_a_table_of_zones_at_a_path() -> None:
    case, path = parse_case(ZONES), "stations.heat.upper.temperature"
    table = value(case, path)
    assert with_values(case, {path: table}) == case
    other = ((500.0, np.array([500.0, 600.0])),)
    assert with_values(case, {path: other}).stations[0].upper.zones("temperature") == [list(other[0])]
    # one number stands for all zones, dead ones keep their place
    assert with_values(case, {path: 700.0}).stations[0].upper.shape == (1, 3)
    assert with_values(case, {"stations.heat.lower.power": ((0.5,),)}).stations[0].lower.zones("power") == [[0.5]]
    single = parse_case((TEXTS / "sheet.toml").read_text(encoding="utf-8"))
    times = Series((0.0, 10.0), (500.0, np.array([600.0, 700.0])))
    assert with_values(single, {path: times}).stations[0].upper.temperature is times


@pytest.mark.parametrize(
    ("path", "new", "says"),
    [
        ("stations.heat.upper.temperature.0.1", 700.0, "stations.heat.upper.trim"),
        ("stations.heat.upper.temperature", ((1.0, 2.0), (3.0,)), "no such table of zones"),
        ("stations.heat.upper.temperature", (), "no such table of zones"),
        ("stations.heat.lower.power", ((0.5, 1.5),), "no such table of zones"),
        ("stations.heat.lower.power", ((0.5, "x"),), "no such table of zones"),
        ("stations.heat.lower.power", Series((0.0,), (0.5,)), "takes no such Series"),
        ("stations.heat.lower.power", 1.5, "out of range"),
    ],
)
def test_zones_that_cannot_be_set(path: str, new: Any, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse_case(ZONES).with_values({path: new})
    assert says in str(caught.value)


# -- text and schema -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BOTH)
def test_resolved_text_and_schema(name: str) -> None:
    case = parse_case(BOTH[name])
    text = resolved_text(case)
    assert parse_case(text) == case
    check = jsonschema.Draft202012Validator(json_schema("sheet"))
    for each in (text, BOTH[name]):
        check.validate(tomllib.loads(each))


@pytest.mark.parametrize("new", [["400 degC"], [[]], [[400.0]], [], {"time": ["0 s"]}])
def test_schema_refuses_what_is_no_table_of_zones(new: Any) -> None:
    raw = tomllib.loads(ZONES)
    raw["stations"][0]["upper"]["temperature"] = new
    assert not jsonschema.Draft202012Validator(json_schema("sheet")).is_valid(raw)


# -- mistakes ------------------------------------------------------------------------------------------------------

UPPER, LOWER = "stations.0.upper", "stations.0.lower"
TABLE = '[["420 degC", "400 degC", "420 degC"], ["410 degC", "390 degC", "410 degC"]]'
TIMES = '{ time = ["0 s", "9 s"], value = ["400 degC", "300 degC"] }'
RAGGED = '[["420 degC"], ["410 degC", "390 degC"]]'

# (what is replaced, by what, where the mistake is, what the message says)
ZONES_MISTAKES = [
    (TABLE, RAGGED, f"{UPPER}.temperature", "rows of 1 and of 2 zones"),
    (TABLE, '["420 degC", "400 degC"]', f"{UPPER}.temperature", "no table of zones"),
    (TABLE, "[[]]", f"{UPPER}.temperature", "no table of zones"),
    (TABLE, TABLE.replace("390 degC", "390"), f"{UPPER}.temperature.1.1", "the unit is missing"),
    (TABLE, TABLE.replace("390 degC", "-390 degC"), f"{UPPER}.temperature.1.1", "absolute zero"),
    (TABLE, TIMES + "\nrows = 1\ncolumns = 3", f"{UPPER}.temperature", "table of times stands together with zones"),
    ("trim", "rows = 3\ntrim", f"{UPPER}.rows", "the table of temperature has 2 rows of 3 zones"),
    ("trim", "columns = 2\ntrim", f"{UPPER}.columns", "the table of temperature has 2 rows of 3 zones"),
    ("[[1, 3]]", "[[1, 4]]", f"{UPPER}.dead.0", "rows 1 to 2, columns 1 to 3"),
    ("[[1, 3]]", "[[1, 3], [2, 1], [1, 3]]", f"{UPPER}.dead.2", "twice"),
    ("[[1, 3]]", "[[0, 3]]", f"{UPPER}.dead.0.0", "whole number from 1"),
    ("[[1, 3]]", "[[1, 3, 2]]", f"{UPPER}.dead.0", "from 2 to 2 entries"),
    ("rows = 4\ncolumns = 6\n", "", f"{LOWER}.dead.0", "give rows and columns"),
    ("emissivity = 0.92", "emissivity = 1.2", f"{UPPER}.emissivity", "up to 1"),
    ('gap = "150 mm"', 'gap = "0 mm"', f"{UPPER}.gap", "above 0 mm"),
    ('size = ["700 mm", "500 mm"]\ngap = "200 mm"', "exchange = 0.6", f"{LOWER}.exchange", "stands together with zones"),
    ('gap = "150 mm"\n', "", f"{UPPER}.gap", "size and gap together"),
    ('size = ["700 mm", "500 mm"]\ngap = "150 mm"', "exchange = 0.6", f"{UPPER}.offset", "together with exchange"),
    ('installed = "25 kW/m2"\n', "", f"{LOWER}.installed", "power is a share of it"),
    ('power = "60 %"', 'power = 0.6\ntemperature = "400 degC"', f"{LOWER}.power", "together with temperature"),
    ('power = "60 %"\n', "", f"{LOWER}.temperature", "neither temperature nor power"),
    ('power = "60 %"', 'power = "120 %"', f"{LOWER}.power", "out of range"),
    ('trim = "5 K"', 'trim = "-700 K"', f"{UPPER}.trim", "below absolute zero"),
    ('power = "60 %"', 'power = "60 %"\ntrim = "5 K"', f"{LOWER}.trim", "mains.actual"),
    ('time_constant = "2 min"\n', "", f"{LOWER}.time_constant", "initial is given"),
    ('initial = "25 degC"\n', "", f"{LOWER}.initial", "time_constant is given"),
    (f"temperature = {TABLE}", f'temperature = {TIMES}\ninitial = "25 degC"\ntime_constant = "2 s"', f"{UPPER}.initial",
     "table of times"),
    ('size = ["700 mm", "500 mm"]', 'size = ["290 mm", "500 mm"]', f"{UPPER}.size.0", "less than half"),
    ('size = ["700 mm", "500 mm"]', 'size = ["700 mm", "19 cm"]', f"{UPPER}.size.1", "width of 400 mm"),
    ("back_loss = 0.3", "back_loss = 0.95", f"{LOWER}.back_loss", "up to 0.9"),
    ('actual = "380 V"\n', "", "stations.0.mains.actual", "missing"),
    ('actual = "380 V"', 'actual = "380 W"', "stations.0.mains.actual", "W is a unit of power"),
    ("reflectance = 0.5", "reflectance = 1.5", "stations.0.oven.reflectance", "up to 1"),
    ('length = "600 mm"\nwidth = "400 mm"\n', "", "sheet.spots", "size of the sheet is missing"),
    ('length = "600 mm"\nwidth = "400 mm"\n', "", "sheet.frame", "size of the sheet is missing"),
    ('length = "600 mm"\nwidth = "400 mm"\n', "", "sheet.sag.span", "neither"),
    ('length = "600 mm"\nwidth = "400 mm"\n', "", "limits.map_spread", "does not follow"),
    ('length = "600 mm"\nwidth = "400 mm"\n', "", "zones", "no map of the sheet"),
    ("spots = [30, 20]", "spots = [30, 201]", "sheet.spots.1", "from 1 to 200"),
    ("spots = [30, 20]", "spots = [30, 20]\npath = 1.5", "sheet.path", 'absorption = "in_depth"'),
    ("[sheet.frame]", '[[sheet.bands]]\ncoefficient = "1 1/mm"\nreflectance = 0.05\n[sheet.frame]', "sheet.bands",
     'absorption = "in_depth"'),
    ("dried = true", 'dried = "yes"', "sheet.dried", "true or false"),
    ("known_good = 12\n", "", "sheet.sag.known_good", "known_good_sag was measured"),
    ("known_good = 12\n", "", "limits.sag_index", "[sheet.sag] with known_good"),
    ("known_good = 12\n", 'known_good = "12 m"\n', "sheet.sag.known_good", "not a number"),
    ('rate = "0.05 1/K"', "rate = 0.05", "sheet.sag.rate", "bare number"),
    ('[sheet.dose]\nenergy = "120 kJ/mol"\nreference = "200 degC"\ntime = "10 min"\n', "", "limits.heat_dose",
     "[sheet.dose]"),
    ("heat_dose = 0.3", 'release_temperature = "85 degC"', "limits.release_temperature", 'kind = "tool"'),
    ("heat_dose = 0.3", 'release_difference = "5 K"', "limits.release_difference", 'kind = "tool"'),
    ('lowest = "200 degC"', 'lowest = "600 degC"', "zones.lowest", "below highest"),
    ('lowest = "200 degC"\n', "", "zones.lowest", "panels are set by temperature"),
    ("lowest_power = 0.1", "lowest_power = 0.95", "zones.lowest_power", "below highest_power"),
    (f"temperature = {TABLE}\n", "power = 0.5\n", "zones.lowest", "no panel is set by temperature"),
    ('symmetry = "both"', 'symmetry = "bot"', "zones.symmetry", "did you mean both?"),
    ('"stations.heat.upper.trim"', '"stations.heat.upper.temperature"', "tolerances.stations.heat.upper.temperature",
     "stations.heat.upper.trim is an input"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "says"), ZONES_MISTAKES)
def test_one_mistake_with_zones(old: str, new: str, where: str, says: str) -> None:
    assert old in ZONES
    found = mistakes(ZONES.replace(old, new, 1))
    assert where in found
    assert says in found[where]


REGIONS = '[{ name = "corner", draw_ratio = 2.5 }, { draw_ratio = 1.2 }]'
MOULD = TOOLS[TOOLS.index("[tools.mould]") : TOOLS.index("[tools.plug]")]
AIR = '[stations.air]\ntemperature = "25 degC"\ncoefficient = "40 W/m2/K"\n'
FORM = TOOLS[TOOLS.index('[stations.upper]\ntool = "plug"') : TOOLS.index("[tools.mould]")]
GREY = '[[sheet.bands]]\ncoefficient = "1 1/mm"\nreflectance = 0.05\n'
BANDS = TOOLS[TOOLS.index("[[sheet.bands]]") : TOOLS.index("[materials.clear]")]

TOOLS_MISTAKES = [
    ('tool = "plug"', 'tool = "plugg"', "stations.2.upper.tool", "did you mean plug?"),
    ('tool = "plug"', 'tool = "plugg"', "tools.plug", "no station touches this tool"),
    ('tool = "plug"', 'tool = "mould"', "stations.2.lower.tool", "touches the upper face already"),
    ('contact = "250 W/m2/K"\n', "", "stations.2.lower.contact", "missing"),
    ("share = 0.5", "share = 0", "stations.2.upper.share", "out of range"),
    (FORM, AIR, "stations.2", "neither face touches a tool"),
    (AIR, "", "stations.2.air", "only a share of the upper face"),
    (FORM, '[stations.lower]\ntool = "mould"\ncontact = "250 W/m2/K"\n', "stations.2.air", "the upper face touches no"),
    ("draw_takes", "draw_ratio = 1.5\ndraw_takes", "stations.2.draw_ratio", "together with regions"),
    ("{ draw_ratio = 1.2 }", '{ name = "corner", draw_ratio = 1.2 }', "stations.2.regions.1.name", "already the name"),
    ('name = "corner"', 'name = "a/b"', "stations.2.regions.0.name", "outcome's name"),
    ('name = "corner"', 'name = " corner"', "stations.2.regions.0.name", "outcome's name"),
    ("draw_ratio = 2.5", "draw_ratio = 0", "stations.2.regions.0.draw_ratio", "out of range"),
    ("draw_ratio = 1.3", 'draw_ratio = "1.3 mm"', "stations.1.draw_ratio", "not a number"),
    (TOOLS[TOOLS.index('name = "stretch"') : TOOLS.index("[[stations]]\nname = \"form\"")],
     f'kind = "tool"\nduration = "1 s"\nregions = {REGIONS}\n{FORM}', "stations.2.regions", "at stations.1 already"),
    ('[tools.plug]\ntemperature = "65 degC"', "[tools.plug]", "tools.plug", "neither a temperature nor a material"),
    ('[tools.plug]\n', '[tools.plug]\nmaterial = "steel_mild"\n', "tools.plug.temperature", "together with material"),
    ('thickness = "12 mm"\n', "", "tools.mould.thickness", "material, thickness and start together"),
    ('material = "aluminium_cast"', 'material = "aluminium_kast"', "tools.mould.material", "aluminium_cast"),
    ("[tools.plug]", '[tools.spare]\ntemperature = "20 degC"\n[tools.plug]', "tools.spare", "no station touches"),
    ("[tools.plug]", '[tools."a/b"]\ntemperature = "20 degC"\n[tools.plug]', "tools.a/b", "cannot be the name"),
    (MOULD, '[tools.mould]\ntemperature = "25 degC"\n', "shots", "no tool that warms up"),
    ("count = 50", "count = 5001", "shots.count", "from 1 to 5000"),
    ('between = "40 s"\n', "", "shots.between", "missing"),
    (BANDS, "", "sheet.bands", "material of your own has no absorption bands"),
    (BANDS, GREY + GREY, "sheet.bands.0", "grey band stands together"),
    ('from = "1.6 um"', 'from = "1.5 um"', "sheet.bands.0.from", "1.5 um lies within entry 1, which goes up to 1.6 um"),
    ('to = "20 um"', 'to = "1 um"', "sheet.bands.0.to", "from below to"),
    ('to = "20 um"\n', "", "sheet.bands.0.to", "one end only"),
    ('coefficient = "35 1/m"', 'coefficient = "35 1/s"', "sheet.bands.1.coefficient", "1/s is a unit of rate"),
    ('absorption = "in_depth"', 'absorption = "in_deth"', "sheet.absorption", "did you mean in_depth?"),
    ("path = 1.2", "path = 2.5", "sheet.path", "up to 2"),
    ("[limits]", '[sheet.frame]\ntemperature = "60 degC"\n[limits]', "sheet.frame", "size of the sheet is missing"),
    ("[limits]", '[zones]\nlowest = "1 K"\nhighest = "9 K"\n[limits]', "zones", "no map of the sheet"),
    ("exchange = 0.6", 'exchange = 0.6\n[stations.mains]\nrated = "1 V"\nactual = "1 V"', "stations.0.mains", "installed"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "says"), TOOLS_MISTAKES)
def test_one_mistake_with_tools(old: str, new: str, where: str, says: str) -> None:
    assert old in TOOLS
    found = mistakes(TOOLS.replace(old, new, 1))
    assert where in found
    assert says in found[where]


def test_bands_of_the_library() -> None:
    head = (
        'process = "sheet"\n[sheet]\nmaterial = "{}"\nthickness = "2 mm"\nstart = "20 degC"\nabsorption = "in_depth"\n'
    )
    rest = '[[stations]]\nkind = "air"\nduration = "1 s"\nair = { temperature = "20 degC", coefficient = "8 W/m2/K" }\n'
    assert parse_case(head.format("petg") + rest).sheet.bands == ()
    assert "no absorption bands of steel_mild" in mistakes(head.format("steel_mild") + rest)["sheet.bands"]
    assert [*mistakes(head.format("petgg") + rest)] == ["sheet.material"]


def test_a_frame_needs_a_map() -> None:
    text = TOOLS.replace('start = "20 degC"\n', 'start = "20 degC"\nlength = "6 cm"\nwidth = "4 cm"\n', 1)
    text = text.replace("[limits]", '[sheet.frame]\ntemperature = "60 degC"\n[limits]')
    assert "no map" in mistakes(text)["sheet.frame"]
    assert parse_case(text.replace("path", "spots = [3, 2]\npath", 1)).map_spots == (3, 2)


def test_all_mistakes_at_once() -> None:
    text = (
        ZONES.replace("[[1, 3]]", "[[9, 9]]").replace('"25 kW/m2"', "25").replace('symmetry = "both"', "symmetry = 1")
    )
    assert [*mistakes(text)] == ["stations.0.upper.dead.0", "stations.0.lower.installed", "zones.symmetry"]


def test_a_panel_by_hand() -> None:
    """Panels may be made in Python too; numbers may be arrays over runs."""
    panel = PanelEntry(temperature=np.array([600.0, 700.0]), size=(0.7, 0.5), gap=0.1, rows=2, columns=2)
    assert panel.shape == (2, 2)
    assert all(zone is panel.temperature for row in panel.zones("temperature") for zone in row)


# -- anything at all -----------------------------------------------------------------------------------------------

ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(min_value=-3, max_value=10**18),
    st.floats(),
    st.sampled_from(["", "find", "nan mm", "4 mm", "20 degC", "0.5", "60 %", "mould", "in_depth", "at_face", "panels"]),
    st.sampled_from([[], {}, [[]], [[1, 3]], [["20 degC"]], [["20 degC"], []], [0.5], [[0.5, 0.2]], [{}], [[{}], 3]]),
    st.just({"time": ["0 s", "1 s"], "value": ["20 degC", "30 degC"]}),
)


def places(raw: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw) if isinstance(raw, list) else ()
    for name, inner in entries:
        found += places(inner, (*path, name))
    return found


def whole(value: Any) -> Any:
    """What TOML can hold of a mutated value."""
    if isinstance(value, dict):
        return {name: whole(entry) for name, entry in value.items() if entry is not None}
    return [whole(entry) for entry in value if entry is not None] if isinstance(value, list) else value


@pytest.mark.parametrize("name", BOTH)
@given(data=st.data())
@settings(derandomize=True, deadline=None, max_examples=150)
def test_values_of_every_type_anywhere(name: str, data: st.DataObject) -> None:
    raw = tomllib.loads(BOTH[name])
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(places(raw)))
        new = data.draw(ODD)
        changed = copy.deepcopy(raw)
        inner = changed
        for step in path[:-1]:
            inner = inner[step]
        if new is None:
            del inner[path[-1]]
        else:
            inner[path[-1]] = new
        raw = changed
    try:
        case = parse_case(toml_text(whole(raw)))
    except CaseError as wrong:
        assert wrong.mistakes
        return
    assert parse_case(resolved_text(case)) == case
    assert all(math.isfinite(number) for number, _ in numeric_paths(case).values())
