"""[shaping] and [part]: what may stand there, what contradicts, and that the resolved text reads back."""

from __future__ import annotations

from typing import Any

import pytest
from shaped import DOME, TRAY, blown, pressed, shaped, station
from sheets import touch

from thermokit.case import explain, parse_case, resolved_text
from thermokit.case.shaping import METHODS
from thermokit.case.shaping_checks import region_names, released_at, shaped_at
from thermokit.errors import CaseError


def told(make: Any) -> str:
    with pytest.raises(CaseError) as met:
        make()
    return str(met.value)


@pytest.mark.parametrize(
    "given", [blown(), pressed(), pressed("matched_press", share=None), blown({"jet": 2.0, "clamp": "4 kN"})]
)
def test_reads_back(given: Any) -> None:
    assert parse_case(resolved_text(given)) == given


def test_every_method_is_explained() -> None:
    words = explain("shaping.method")
    assert all(method in words for method in METHODS)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: blown(part=DOME | {"height": "250 mm"}), ["part.height", "2.5 times the radius", "allowed"]),
        (lambda: blown(part=DOME | {"height": "0.1 mm"}), ["part.height", "no dome"]),
        (lambda: blown(part={"shape": "dome", "ring": "200 mm"}), ["part.height", "missing"]),
        (lambda: blown(part=DOME | {"depth": "3 mm"}), ["part.depth", "a dome has no depth"]),
        (lambda: blown(part=TRAY), ["free_blowing makes domes"]),
        (lambda: pressed(part=TRAY | {"corner": "40 mm"}), ["part.corner", "does not fit"]),
        (lambda: blown({"stop": "pressure"}), ["shaping.pressure", "missing"]),
        (lambda: blown({"vacuum": "80 kPa"}), ["shaping.vacuum", "free_blowing has none"]),
        (lambda: blown({"fills_in": "2 s"}), ["shaping.fills_in", "has none"]),
        (lambda: shaped("vacuum_female", [station("tool", lower=touch())], TRAY, {"fills_in": "1 s"}, tools={
            "mould": {"material": "metal", "thickness": "9 mm", "start": "20 degC"}}), ["shaping.fills_in", "has a body"]),
        (lambda: blown({"at": "hodl"}), ["shaping.at", "no station", "did you mean", "hold"]),
        (lambda: blown({"measured": {"crown": "1 mm"}}), ["shaping.measured.crown", "no region", "pole"]),
        (lambda: blown({"measured": {"pole": "1.2 mm"}}), ["shaping.measured.pole", "thicker than the blank"]),
        (lambda: pressed(share=None), ["share", "skeleton", "5 to 20 %"]),
        (lambda: pressed("vacuum_female", {"pressure": "1 bar"}, share=None), ["shaping.pressure", "has none"]),
        (lambda: blown(stations=[station(draw_ratio=1.5)]), ["draw_ratio", "stands together with [shaping]"]),
        (lambda: shaped("free_blowing", [station("tool", upper=touch())], DOME, tools={"mould": {"temperature": "60 degC"}}),
         ["touches no tool"]),
        (lambda: shaped("vacuum_female", [station()], TRAY), ["needs a tool"]),
        (lambda: shaped("snap_back", [station("tool", upper=touch(share=0.1))], TRAY, tools={"mould": {"temperature": "60 degC"}}),
         ["shaping.at", "bubble"]),
        (lambda: pressed(tools={"mould": {"material": "metal", "thickness": "9 mm", "start": "20 degC"}}), ["has a body"]),
        (lambda: blown(stations=[station(ends_at="40 degC", air={
            "temperature": {"time": ["0 s", "5 s"], "value": ["80 degC", "60 degC"]}, "coefficient": "8 W/m2/K"})]), ["ends_at"]),
    ],
)  # fmt: skip
def test_mistakes_say_where_what_and_what_next(make: Any, words: list[str]) -> None:
    said = told(make)
    for word in words:
        assert word in said, said


@pytest.mark.parametrize(
    ("old", "new"),
    [('name = "hold"', "name = 3"), ("[stations.upper]", "[stations.under]"), ('ring = "200 mm"', "ring = []")],
)
def test_mistakes_elsewhere_do_not_hide_behind_the_shaping(old: str, new: str) -> None:
    text = resolved_text(pressed() if "upper" in old else blown())
    assert old in text
    with pytest.raises(CaseError) as met:
        parse_case(text.replace(old, new))
    assert met.value.mistakes


def test_shaping_and_part_stand_together() -> None:
    table = resolved_text(blown())
    alone = "\n".join(line for line in table.split("[part]")[0].splitlines())
    with pytest.raises(CaseError, match=r"\[shaping\] needs the part"):
        parse_case(alone)


def test_stations_and_regions_by_default() -> None:
    stations = [
        station(name="oven"),
        station("tool", "press", upper=touch(share=0.2)),
        station("tool", "cool", lower=touch()),
    ]
    given = shaped("drape", stations, TRAY, tools={"mould": {"temperature": "60 degC"}})
    assert (shaped_at(given), released_at(given)) == (1, 2)
    assert region_names(given) == ("flat", "wall", "rib")
    assert region_names(blown()) == ("pole", "middle", "ring")
    assert region_names(pressed("matched_press", share=None)) == ("flat", "wall", "corner")
    assert region_names(pressed(part={"shape": "panel", "length": "200 mm", "width": "100 mm"})) == ("web", "rib")
