"""Designs side by side: what a change means, which rows come first, what is said in words."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from thermokit.case import load_case, parse_case
from thermokit.errors import CaseError
from thermokit.studies.compare import compare
from thermokit.studies.compare_changes import changed, changes_of
from thermokit.studies.compare_words import WIDTH, comparison_text, verdict

TEXTS = Path(__file__).parent / "case_texts"
WALL = """
title = "A wall"
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
duration = "60 s"
[stations.inner]
temperature = "100 degC"
[limits.mean_temperature]
at_least = "40 degC"
[materials.stuff]
conductivity = "0.5 W/m/K"
density = "1000 kg/m3"
specific_heat = "1000 J/kg/K"
"""


@cache
def thickness() -> Any:
    return compare([parse_case(WALL)], ["body.layers.slab.thickness=5 mm", "body.layers.slab.thickness=30 mm"])


def values(found: Any, name: str) -> tuple[Any, ...]:
    (row,) = [row for row in found.rows if row.name == name and row.kind != "limit"]
    return tuple(row.values)


def test_a_path_that_comes_again_begins_another_design() -> None:
    assert changes_of(["a=1", "b=2", "a=3", "b=4", "c=5"]) == [{"a": "1", "b": "2"}, {"a": "3", "b": "4", "c": "5"}]
    assert changes_of(['a.b = "x = y"']) == [{"a.b": '"x = y"'}]
    for wrong in ("a", "=3", "a=", ""):
        with pytest.raises(CaseError, match="no change"):
            changes_of([wrong])


def test_changes_are_read_as_if_they_stood_in_the_file() -> None:
    case = parse_case(WALL)
    thick: Any = changed(case, {"body.layers.slab.thickness": "5 mm"})
    assert thick.body.layers[0].thickness == pytest.approx(5e-3)
    assert case.body.layers[0].thickness == pytest.approx(10e-3)  # type: ignore[attr-defined]
    # by number, with quotes, a word, a key that the file leaves out, every entry at once
    assert changed(case, {"body.layers.0.thickness": '"5 mm"'}) == thick
    assert changed(case, {"body.layers.slab.material": "steel_mild"}).body.layers[0].material == "steel_mild"
    assert changed(case, {"accuracy.temperature": "0.3 K"}).accuracy.temperature == pytest.approx(0.3)
    mould = load_case(TEXTS / "mould.toml")
    both: Any = changed(mould, {"circuits.*.temperature": "18 degC"})
    assert [circuit.temperature for circuit in both.circuits] == pytest.approx([291.15, 291.15])


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("body.layers.slab.thicknes", "5 mm", "did you mean"),
        ("body.layers.slab.thickness", "5 kg", "unknown unit|is no|not a|allowed"),
        ("body.layers.slab.thickness", "5", "bare number"),
        ("circuits.*.depth", "5 mm", "no such key"),
        ("stations.heat.duration", "-3 s", "out of range"),
    ],
)
def test_what_cannot_be_set_is_said(path: str, value: str, says: str) -> None:
    with pytest.raises(CaseError, match=says) as caught:
        changed(parse_case(WALL), {path: value})
    assert all(mistake.line is None for mistake in caught.value.mistakes)


def test_what_holds_for_the_whole_is_checked_again() -> None:
    with pytest.raises(CaseError, match="overlaps channel"):
        changed(load_case(TEXTS / "mould.toml"), {"circuits.cavity.pitch": "8 mm"})


def test_rows_are_those_of_each_run_and_the_verdict_names_what_breaks() -> None:
    from thermokit.studies.run import run

    found = thickness()
    assert [design.letter for design in found.designs] == ["A", "B", "C"]
    for design, value in zip(found.designs, values(found, "mean_temperature"), strict=True):
        (own,) = [o.value for o in run(design.case).outcomes if o.name == "mean_temperature"]
        assert value == pytest.approx(own)
    (row,) = [row for row in found.rows if row.kind == "limit"]
    assert row.met == (True, True, False)  # heated from one face for a minute: the thick one stays cold
    assert "C breaks mean_temperature" in verdict(found)
    assert found.inputs == {"body.layers.slab.thickness": ("10 mm", "5 mm", "30 mm")}


def test_what_differs_most_stands_first() -> None:
    for kind in ("limit", "outcome"):
        weights = [row.weight for row in thickness().rows if row.kind == kind]
        assert weights == sorted(weights, reverse=True)


def test_the_text_is_narrow_and_holds_everything() -> None:
    text = comparison_text(thickness())
    assert max(map(len, text.split("\n"))) <= WIDTH
    for word in ("A wall", "B  body.layers.slab.thickness = 5 mm", "Inputs that differ", "mean_temperature", "*"):
        assert word in text


def test_cases_of_any_kind_stand_side_by_side() -> None:
    sheet = parse_case(WALL.replace('title = "A wall"', 'title = "Another"').replace("60 s", "90 s"))
    found = compare([parse_case(WALL), sheet])
    first, second = values(found, "mean_temperature")
    assert second > first


def test_a_window_is_compared_where_one_is_sought() -> None:
    text = WALL.replace('duration = "60 s"', 'duration = { find = ["5 s", "600 s"] }')
    found = compare([parse_case(text)], ["body.layers.slab.thickness=5 mm"])
    from thermokit.studies.dwell import dwell

    for design, value in zip(found.designs, values(found, "earliest"), strict=True):
        assert value == pytest.approx(dwell(design.case).earliest, rel=1e-3)
    assert verdict(found).startswith("B is first")


@pytest.mark.parametrize("count", [1, 7])
def test_two_to_six_designs(count: int) -> None:
    with pytest.raises(CaseError, match="2 to 6 designs"):
        compare([parse_case(WALL)] * count)


def test_changes_want_one_case() -> None:
    with pytest.raises(CaseError, match="one case"):
        compare([parse_case(WALL)] * 2, ["stations.heat.duration=5 s"])


def test_of_speeds_the_highest_is_first() -> None:
    """A web over a hot roll may run the faster the better it touches; the slower end says nothing about it."""
    line = (TEXTS.parents[2] / "cases" / "how_fast_may_a_pond_liner_web_run_to_its_embossing_nip.toml").resolve()
    found = compare([load_case(line)], ["stations.hot roll.contact=700 W/m2/K"])
    fastest = values(found, "latest")
    assert fastest[1] > fastest[0]
    assert verdict(found).startswith("B is fastest with ")
    assert "fastest m/min" in comparison_text(found)
