"""Forming and cooling on tools: the worked tray, what is said of it, draw by region, tools with bodies, turning it over."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from sheets import K, air, body, case, checks, edges_of, fields, panels, plain, stuff, tool, touch, transfer, values

from thermokit.case import parse_case
from thermokit.conduction.follow_batch import follow_batch
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.studies.dwell import dwell, run_at

HOT = {"start": "150 degC", "thickness": "2.5 mm"}
RELEASE = {"release_temperature": "85 degC"}
FAN = air(25.0, 40.0)
COOLED = {"back": {"coefficient": "800 W/m2/K", "temperature": "15 degC"}}


def mould(temperature: float = 65.0) -> dict[str, Any]:
    return {"mould": {"temperature": f"{temperature} degC"}}


def tray(duration: Any = "find", fan: float = 40.0, cold: float = 65.0, limits: Any = None, **more: Any) -> Any:
    """The worked tray: 2.5 mm of ABS at 150 degC on a mould by 250 W/m2/K, a fan on the other face."""
    station = tool(duration, lower=touch(250.0), air=air(25.0, fan), **more)
    return case(station, sheet=HOT, limits=limits or RELEASE, tools=mould(cold))


# -- the worked tray -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "low", "high"),
    [
        ({}, 36.0, 37.5),
        ({"fan": 10.0}, 0.92 * 57.0, 1.08 * 57.0),
        ({"cold": 75.0}, 0.92 * 43.0, 1.08 * 43.0),
        ({"cold": 45.0}, 0.92 * 30.0, 1.08 * 30.0),
    ],
)
def test_time_to_release(change: Any, low: float, high: float) -> None:
    """A rough 1-D calculation, 8 % about it; the first is known better."""
    found = dwell(tray(**change))
    assert found.earliest is not None
    assert low <= found.earliest <= high
    assert (found.earliest_limit, found.latest) == ("release_temperature", None)
    if change.get("cold") == 45.0:
        at = values(run_case(tray(f"{found.earliest} s", **change)))
        assert at["release_difference"] == pytest.approx(19.0, abs=1.5)


def test_the_hand_formula_and_what_makes_the_difference() -> None:
    """39 s by U = 1/(1/h + L/3k); a sheet without a gradient between such conductances takes just that long."""
    hand = dwell(tray()).hand
    assert hand is not None
    assert hand.value == pytest.approx(39.0, abs=0.5)
    (every,) = re.findall(r"without all of these ([0-9.]+) s", hand.why_different)
    assert float(every) == pytest.approx(hand.value, rel=5e-3)


def test_what_must_be_said_of_the_tray() -> None:
    said = run_case(tray("37 s")).remarks
    assert "the draw must be finished within 0.54 s of the lower face touching the tool, or expect a chill mark" in said
    assert any("the lower face (tool side) is the quicker one, the upper face (air side) sets" in text for text in said)
    slow, quick = (run_case(tray("37 s", draw_takes=takes)).remarks[0] for takes in ("1 s", "0.3 s"))
    assert slow.endswith("it takes 1 s: TOO SLOW")
    assert quick.endswith("it takes 0.3 s: in time")


def test_release_in_the_outcomes_and_limits() -> None:
    result = run_case(tray("30 s", limits={**RELEASE, "release_difference": "3 K"}))
    end, found, held = result.history.ends[-1], values(result), checks(result)
    hottest = max(end.temperature.max(), end.inner_face, end.outer_face) - K
    assert found["release_temperature"] == pytest.approx(hottest)
    assert found["release_difference"] == pytest.approx(abs(end.inner_face - end.outer_face))
    assert held["release_temperature"].margin == pytest.approx(85.0 - hottest)
    assert not held["release_temperature"].met
    assert held["release_difference"].met == (found["release_difference"] <= 3.0)
    assert found["release_time"] == 30.0
    slower = {o.name: o.meaning for o in result.outcomes}["upper_face_at_release"]
    assert slower.endswith("the slower face")


@pytest.mark.parametrize(("cold", "warned"), [(90.0, False), (95.0, True)])
def test_a_tool_that_is_too_hot(cold: float, warned: bool) -> None:
    """Steady face on the tool T - q/h, q = (T - 25)/(1/250 + 2.5 mm/0.18 + 1/40): 83.9 and 88.5 degC."""
    face = cold - (cold - 25.0) / (1 / 250 + 0.0025 / 0.18 + 1 / 40) / 250
    assert (face > 85.0) == warned
    result = run_case(tray("600 s", cold=cold))
    assert values(result)["release_temperature"] == pytest.approx(face, abs=0.1)
    said = [
        text for text in result.warnings if f"keeps {face:.0f} degC, and the release temperature is 85 degC" in text
    ]
    assert len(said) == warned
    found = dwell(tray({"find": ["5 s", "600 s"]}, cold=cold))
    assert (found.earliest is None) == warned
    if warned:
        assert found.opens_with is not None
        assert "tools at 90 degC open one from" in found.opens_with


# -- draw ------------------------------------------------------------------------------------------------------------

REGIONS = [{"name": "flat", "draw_ratio": 1.25}, {"name": "corner", "draw_ratio": 2.5}, {"draw_ratio": 1.6}]


def test_regions_cool_as_sheets_drawn_alike() -> None:
    """Each region by itself, drawn as one; the thickest sets the release."""
    result = run_case(tray("20 s", regions=REGIONS))
    alone = [run_case(tray("20 s", draw_ratio=region["draw_ratio"])) for region in REGIONS]
    table = fields(result)
    assert table["regions/thickness"] == pytest.approx([2.0, 1.0, 2.5 / 1.6])
    released = [values(one)["release_temperature"] for one in alone]
    assert table["regions/release_temperature"] == pytest.approx(released, abs=0.06)
    assert released[0] > released[2] > released[1]
    assert values(result)["release_temperature"] == pytest.approx(released[0], abs=0.06)
    check = checks(result)["release_temperature"]
    assert "region flat" in check.where


def test_a_dwell_over_regions_is_that_of_the_region_that_decides() -> None:
    """Hottest plane: the thickest; face difference: every region is held against it, followed by itself."""
    limits = {**RELEASE, "release_difference": "9 K"}
    given = tray(limits=limits, regions=REGIONS, cold=45.0)
    whole = dwell(given)
    own = [dwell(tray(limits=limits, draw_ratio=r["draw_ratio"], cold=45.0)) for r in REGIONS]
    assert whole.earliest is not None
    assert whole.earliest == pytest.approx(max(d.earliest for d in own if d.earliest), rel=2e-3)
    run = run_at(given, whole)
    assert all(check.met for check in run.limits)


def test_mass_does_not_change_by_drawing() -> None:
    """A stretch by 1.3 in air and 2 on the tool: 1/2.6 of the thickness, without heat taken or given."""
    still = {"air": air(25.0, 0.0), "emissivity": 0.0}
    stations = [{**transfer("5 s", draw_ratio=1.3), **still}, tool("5 s", draw_ratio=2.0, air=FAN, lower=touch(250.0))]
    result = run_case(case(*stations, sheet=HOT, tools=mould()))
    assert values(result)["drawn_thickness"] == pytest.approx(2.5 / 2.6)
    assert result.history.ends[0].temperature == pytest.approx(np.full(len(result.history.centres), 150.0 + K))


# -- tools with bodies -----------------------------------------------------------------------------------------------


def on_body(share: float = 1.0, contact: float = 250.0, duration: str = "20 s", **more: Any) -> Any:
    station = tool(duration, lower=touch(contact, share=share), air=FAN)
    return case(station, sheet=HOT, limits=RELEASE, tools={"mould": body(12.0, 40.0, **COOLED)}, **more)


def test_a_share_of_a_tool_with_a_body() -> None:
    """The contact is a mean over the face; that no air is counted on the rest is said."""
    part, mean = run_case(on_body(0.4, 500.0)), run_case(on_body(1.0, 200.0))
    assert part.history.outer_face == pytest.approx(mean.history.outer_face, abs=1e-9)
    assert any("40 % of the lower face touches mould" in text for text in part.warnings)
    assert not any("touches mould" in text for text in mean.warnings)


def test_a_contact_table_on_a_tool_with_a_body_is_refused() -> None:
    table = {"time": ["0 s", "5 s"], "value": ["100 W/m2/K", "300 W/m2/K"]}
    with pytest.raises(CaseError, match="split the station in two where the contact changes"):
        case(tool(lower={"tool": "mould", "contact": table}, air=FAN), sheet=HOT, tools={"mould": body()})


def test_a_heavy_tool_is_one_of_fixed_temperature() -> None:
    """A metre of a metal that conducts and stores as none does hardly warms: as the tool that keeps 40 degC."""
    heavy = {"mould": {**body(1000.0, 40.0), "material": "heavy"}}
    station = tool("20 s", lower=touch(250.0), air=FAN)
    own = run_case(case(station, sheet=HOT, limits=RELEASE, tools=heavy, materials={"heavy": stuff(8900.0, 1e4, 4e3)}))
    fixed = run_case(tray("20 s", cold=40.0))
    assert own.history.outer_face[-1] == pytest.approx(fixed.history.outer_face[-1], abs=0.1)


# -- the same in other words -----------------------------------------------------------------------------------------


def swapped(text: str) -> str:
    """Upper and lower exchanged."""
    return text.replace("upper", "~").replace("lower", "upper").replace("~", "lower")


@pytest.mark.parametrize("with_body", [False, True])
def test_turned_over_it_is_the_mirror_image(with_body: bool) -> None:
    hot = panels(plain(420.0), plain(300.0, 0.5), "60 s")
    sides = {"upper": touch(300.0, "plug"), "lower": touch(900.0)}
    tools = {"mould": body(12.0, 30.0, **COOLED), "plug": {"temperature": "70 degC"}} if with_body else {
        **mould(30.0), "plug": {"temperature": "70 degC"}}  # fmt: skip
    given = case(
        hot, transfer(), tool("15 s", **sides), tool("5 s", "cool", lower=sides["lower"], air=FAN), tools=tools
    )
    one, other = run_case(given), run_case(parse_case(swapped(given.source.text)))
    assert other.history.temperature[:, ::-1] == pytest.approx(one.history.temperature, abs=1e-6)
    assert other.history.inner_face == pytest.approx(one.history.outer_face, abs=1e-6)
    mirrored = {swapped(name): value for name, value in values(other).items()}
    assert mirrored == pytest.approx(values(one), abs=1e-5)
    if with_body:
        tools_rows = fields(one)["tool/mould_temperature"], fields(other)["tool/mould_temperature"]
        assert tools_rows[1][:, ::-1] == pytest.approx(tools_rows[0], abs=1e-6)


@pytest.mark.parametrize("with_body", [False, True])
def test_a_station_cut_in_two_changes_nothing(with_body: bool) -> None:
    tools = {"mould": body(12.0, 30.0, **COOLED)} if with_body else mould(30.0)
    hot = panels(plain(), plain(), "60 s")
    whole = [hot, tool("20 s", draw_ratio=1.5, lower=touch(250.0), air=FAN)]
    cut = [
        panels(plain(), plain(), "25 s", "first"), panels(plain(), plain(), "35 s", "second"),
        tool("8 s", draw_ratio=1.5, lower=touch(250.0), air=FAN), tool("12 s", "on", lower=touch(250.0), air=FAN),
    ]  # fmt: skip
    more: Any = {"tools": tools, "output": {"times": ["60 s", "68 s", "80 s"]}, "accuracy": {"temperature": "0.01 K"}}
    one, other = (run_case(case(*stations, **more)) for stations in (whole, cut))
    assert other.history.temperature == pytest.approx(one.history.temperature, abs=0.01)
    for name in ("coldest_point", "hottest_face", "release_temperature", "lower_draw_time", "heat_taken"):
        assert values(other)[name] == pytest.approx(values(one)[name], abs=0.01), name


def test_many_tools_at_once_are_as_each() -> None:
    """Contact, water, thickness and start of the tool, and draw of a region, as arrays over cases."""
    given = case(
        panels(plain(), plain(), "60 s"), tool("10 s", regions=REGIONS, lower=touch(250.0), air=FAN),
        tools={"mould": body(12.0, 30.0, **COOLED)},
    )  # fmt: skip
    changes = {
        "stations.form.lower.contact": [100.0, 500.0], "tools.mould.back.temperature": [280.0, 330.0],
        "tools.mould.thickness": [8e-3, 20e-3], "tools.mould.start": [290.0, 340.0],
        "stations.form.regions.corner.draw_ratio": [2.0, 3.0],
    }  # fmt: skip
    places = ((-1, 0), (-1, 1), (-1, 2))
    whole = process_of(given.with_values({p: np.repeat(v, 3) for p, v in changes.items()}), places)
    cut = edges_of(given, 8)
    together = follow_batch(whole.course(cut), 6, 0.1)
    for i in range(2):
        alone = process_of(given.with_values({p: v[i] for p, v in changes.items()}), places)
        own = follow_batch(alone.course(cut), 3, 0.1)
        part = slice(3 * i, 3 * i + 3)
        assert together.end_temperature[..., part] == pytest.approx(own.end_temperature, abs=1e-7)
        assert together.memory["mould"].temperature[:, part] == pytest.approx(own.memory["mould"].temperature, abs=1e-7)
