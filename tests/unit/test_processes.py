"""Cases as problems, limits and outcomes: forming limits, panels by size and gap, the hand formula, what opens a window."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.materials import library
from thermokit.processes import process_of
from thermokit.processes.base import facts_of_run, mean_temperature
from thermokit.processes.run import failed, run_case
from thermokit.studies.dwell import dwell

SIGMA = 5.670374419e-8
SHEET = """
process = "sheet"
[sheet]
material = "{material}"
thickness = "4 mm"
start = "20 degC"
[materials.stock]
conductivity = "0.18 W/m/K"
density = "1050 kg/m3"
specific_heat = "1900 J/kg/K"
[[stations]]
name = "heat"
kind = "panels"
duration = {duration}
[stations.upper]
{upper}
[stations.lower]
temperature = "{panels}"
exchange = 0.6
[stations.air]
temperature = "60 degC"
coefficient = "8 W/m2/K"
{more}
"""
WINDOW = '[limits]\ncoldest_point = "127 degC"\nhottest_face = "182 degC"\n'


def sheet(
    material: str = "stock", duration: str = '"30 s"', upper: str = "", panels: str = "420 degC", more: str = WINDOW
) -> Any:
    upper = upper or f'temperature = "{panels}"\nexchange = 0.6'
    return parse_case(
        SHEET.format(material=material, duration=duration, upper=upper, panels=panels, more=more), "s.toml"
    )


# -- limits ----------------------------------------------------------------------------------------------------------


def test_forming_limits_come_from_the_material() -> None:
    """ABS: lower 127, upper 182 degC (forming-temperature guidelines named in the library's record)."""
    limits = {n.name: n for n in process_of(sheet("abs", more="")).limits()}
    assert limits["coldest_point"].bound - 273.15 == pytest.approx(127.0)
    assert limits["coldest_point"].least
    assert limits["hottest_face"].bound - 273.15 == pytest.approx(182.0)
    assert not limits["hottest_face"].least
    assert "face_core_difference" not in limits
    assert limits["coldest_point"].required == "at least 127 degC"


@pytest.mark.parametrize("material", [m for m in ("pmma_cast", "hips", "pp", "pc") if m in library.names()])
def test_every_sheet_material_gives_its_own(material: str) -> None:
    record = library.load(material)
    limits = {n.name: n.bound for n in process_of(sheet(material, more="")).limits()}
    forming = record.forming or {}
    assert limits.get("coldest_point") == forming.get("lower")
    assert limits.get("hottest_face") == forming.get("upper")


def test_the_case_overrules_the_material() -> None:
    more = '[limits]\ncoldest_point = "140 degC"\nface_core_difference = "25 K"\n'
    limits = {n.name: n for n in process_of(sheet("abs", more=more)).limits()}
    assert limits["coldest_point"].bound - 273.15 == pytest.approx(140.0)
    assert limits["hottest_face"].bound - 273.15 == pytest.approx(182.0)
    assert limits["face_core_difference"].bound == pytest.approx(25.0)
    assert limits["face_core_difference"].margin(np.array([20.0])) == pytest.approx([5.0])


def test_a_sheet_without_limits_says_so() -> None:
    result = run_case(sheet(more=""))
    assert result.limits == ()
    assert any("forming limits" in text for text in result.warnings)


def test_limits_are_held_against_the_run() -> None:
    result = run_case(sheet(duration='"40 s"'))
    checks = {c.name: c for c in result.limits}
    found = {o.name: o.value for o in result.outcomes}
    assert checks["coldest_point"].found == pytest.approx(found["coldest_point"])
    assert checks["coldest_point"].margin == pytest.approx(found["coldest_point"] - 127.0)
    assert checks["hottest_face"].margin == pytest.approx(182.0 - found["hottest_face"])
    assert not checks["coldest_point"].met  # 40 s is too short for 4 mm: see the hand formula below
    assert checks["hottest_face"].met
    assert found["face_core_difference"] == pytest.approx(found["upper_face"] - found["middle"], abs=0.05)
    assert not failed(result)  # a broken limit is an answer


# -- panels ----------------------------------------------------------------------------------------------------------


def corner(a: float, b: float) -> float:
    """Howell B-3 for sides a, b over the gap, written down again."""
    u, v = math.sqrt(1 + a * a), math.sqrt(1 + b * b)
    return (a / u * math.atan(b / u) + b / v * math.atan(a / v)) / (2 * math.pi)


def test_panel_by_size_and_gap() -> None:
    """A 700 x 500 mm panel 150 mm off fills 0.82 of what the middle of the sheet sees."""
    upper = 'temperature = "420 degC"\nemissivity = 0.9\nsize = ["700 mm", "500 mm"]\ngap = "150 mm"'
    case = sheet("abs", upper=upper)
    view = 4.0 * corner(350 / 150, 250 / 150)
    assert view == pytest.approx(0.82, abs=0.005)
    found = {o.name: o.value for o in run_case(case).outcomes}
    own = library.load("abs").emissivity
    assert own is not None
    factor = 1.0 / ((1 - own) / own + 1 / view + (1 - 0.9) / 0.9)
    assert found["heat_upper_view"] == pytest.approx(view, rel=1e-9)
    assert found["heat_upper_exchange"] == pytest.approx(factor, rel=1e-9)
    face = process_of(case).course([np.array([0.0, 1.0])]).spans[0].inner
    panel, rest = face.radiation
    assert panel.factor == pytest.approx(factor)
    assert panel.temperature == pytest.approx(693.15)
    assert rest.factor == pytest.approx(own * (1.0 - view))  # what is left sees the oven
    assert rest.temperature == pytest.approx(333.15)


def test_heat_at_the_first_moment() -> None:
    """A panel by exchange and air: q = F sigma (Tp^4 - T^4) + h (Ta - T) into a cold face, both sides alike."""
    case = sheet(duration='"0.01 s"', more='[accuracy]\ntemperature = "1 K"')
    history = run_case(case).history
    q = 0.6 * SIGMA * (693.15**4 - 293.15**4) + 8.0 * 40.0
    assert history.heat.entered == pytest.approx(2 * q * 0.01, rel=0.01)  # the faces warm by a few tenths of a kelvin


def test_a_panel_left_out_sees_the_oven() -> None:
    text = sheet().source.text
    begin, end = text.index("[stations.upper]"), text.index("[stations.lower]")
    case = parse_case(text[:begin] + text[end:], "one.toml")
    face = process_of(case).course([np.array([0.0, 1.0])]).spans[0].inner
    assert [seen.temperature for seen in face.radiation] == pytest.approx([333.15])
    assert face.exchange[0].coefficient == pytest.approx(8.0)


# -- the formula of the shop and the window ------------------------------------------------------------------------


def test_hand_formula() -> None:
    """t = rho cp L dT / q by hand: 20 -> 154.5 degC, q at a face of (20 + 182)/2 = 101 degC."""
    flux = 2 * (0.6 * SIGMA * (693.15**4 - 374.15**4) + 8.0 * (60.0 - 101.0))
    by_hand = 1050.0 * 1900.0 * 0.004 * (154.5 - 20.0) / flux
    found = dwell(sheet(duration='"find"')).hand
    assert found is not None
    assert found.value == pytest.approx(by_hand, rel=1e-9)
    assert "1050" in found.formula
    assert "134 K" in found.formula or "135 K" in found.formula
    assert "gradient" in found.why_different
    # the lumped body with all effects off is the formula itself
    last = re.search(r"without all of these ([\d.]+) s", found.why_different)
    assert last is not None
    assert float(last[1]) == pytest.approx(by_hand, rel=0.01)


def test_what_opens_a_window_opens_it() -> None:
    """Panels that scorch the face before the core is warm: the temperature that is named must give the window named."""
    case = sheet(duration='"find"', panels="560 degC")
    found = dwell(case)
    assert found.earliest is None
    assert found.opens_with is not None
    named = re.search(r"panels at (\d+) degC open one from ([\d.]+) to ([\d.]+) s", found.opens_with)
    assert named is not None, found.opens_with
    kelvin = float(named[1]) + 273.15
    opened = dwell(
        case.with_values({"stations.heat.upper.temperature": kelvin, "stations.heat.lower.temperature": kelvin})
    )
    assert opened.earliest == pytest.approx(float(named[2]), abs=0.3)
    assert opened.latest == pytest.approx(float(named[3]), abs=0.3)
    assert kelvin < 560.0 + 273.15


# -- the open kind ---------------------------------------------------------------------------------------------------

BODY = """
process = "body"
[body]
shape = "{shape}"
start = "20 degC"
{radius}
[[body.layers]]
name = "core"
material = "block"
thickness = "6 mm"
cells = 6
start = "80 degC"
[[body.layers]]
name = "shell"
material = "block"
thickness = "4 mm"
cells = 2
[materials.block]
conductivity = "1e-9 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
[[stations]]
name = "wait"
duration = "5 s"
[[output.probes]]
name = "mid"
at = "3 mm"
[limits.mean_temperature]
at_least = "30 degC"
at_most = "50 degC"
[limits.mid_temperature]
at_most = "70 degC"
"""


@pytest.mark.parametrize(
    ("shape", "radius", "share"),
    # share of the volume in the core of 6 mm, of 10 mm in all
    [
        ("plane", "", 0.6),
        ("cylinder", "", 0.36),
        ("sphere", "", 0.216),
        ("cylinder", 'inner_radius = "10 mm"', (16**2 - 10**2) / (20**2 - 10**2)),
        ("sphere", 'inner_radius = "10 mm"', (16**3 - 10**3) / (20**3 - 10**3)),
    ],
)
def test_outcomes_of_a_body(shape: str, radius: str, share: float) -> None:
    """A core at 80 degC in a shell at 20 degC that do not conduct: means by volume, places by depth."""
    result = run_case(parse_case(BODY.format(shape=shape, radius=radius), "b.toml"))
    found = {o.name: o.value for o in result.outcomes}
    mean = 20.0 + 60.0 * share
    assert found["mean_temperature"] == pytest.approx(mean, abs=1e-6)
    assert found["hottest_temperature"] == pytest.approx(80.0)
    assert found["coldest_temperature"] == pytest.approx(20.0)
    assert found["mid_temperature"] == pytest.approx(80.0)
    margins = {(c.name, c.required): (c.margin, c.met) for c in result.limits}
    assert margins["mean_temperature", "at least 30 degC"] == (pytest.approx(mean - 30.0, abs=1e-6), mean >= 30.0)
    assert margins["mean_temperature", "at most 50 degC"] == (pytest.approx(50.0 - mean, abs=1e-6), mean <= 50.0)
    assert margins["mid_temperature", "at most 70 degC"] == (pytest.approx(-10.0, abs=1e-6), False)
    assert result.layer_edges == pytest.approx((0.0, 0.006, 0.010))


def test_mean_of_facts_is_by_volume() -> None:
    case = parse_case(BODY.format(shape="sphere", radius=""), "b.toml")
    facts = facts_of_run(run_case(case).history)
    assert mean_temperature(facts, "sphere", 0.0) == pytest.approx([293.15 + 60.0 * 0.216], abs=1e-6)


def test_a_body_s_outcomes_at_the_end_are_those_of_its_last_profile() -> None:
    """Formed 2.5 mm sheet on a mould at 65 degC with a fan: hottest plane, spread and coldest of the profile kept at the end."""
    from thermokit.case import parse_case
    from thermokit.processes.run import run_case

    case = parse_case(
        """
process = "body"
[body]
shape = "plane"
start = "150 degC"
[[body.layers]]
material = "formed_stock"
thickness = "2.5 mm"
cells = 20
[materials.formed_stock]
conductivity = "0.18 W/m/K"
density = "1050 kg/m3"
specific_heat = "1900 J/kg/K"
[[stations]]
duration = "37 s"
[stations.inner]
contact = { coefficient = "250 W/m2/K", temperature = "65 degC" }
[stations.outer]
convection = { coefficient = "40 W/m2/K", air = "25 degC" }
[limits.hottest_final_temperature]
at_most = "86 degC"
[limits.final_spread]
at_most = "2 K"
"""
    )
    result = run_case(case)
    end = result.history.ends[-1]
    profile = np.concatenate([[end.inner_face], end.temperature, [end.outer_face]])
    found = {o.name: o for o in result.outcomes}
    assert found["hottest_final_temperature"].value == pytest.approx(profile.max() - 273.15)
    assert found["final_spread"].value == pytest.approx(profile.max() - profile.min())
    assert found["final_spread"].unit == "K"
    # by hand: U of either side through a third of the sheet, 39 s to a hottest plane of 85 degC; a rough 1-D sum says 37 s
    assert found["hottest_final_temperature"].value == pytest.approx(85.0, abs=3.0)
    assert [check.met for check in result.limits] == [True, False]
