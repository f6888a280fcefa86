"""Inputs by their path, other values in their place, and the resolved text that loads to the same case."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermokit.case import (
    KINDS,
    Find,
    numeric_paths,
    parse_case,
    resolved_text,
    sought_path,
    template,
    value,
    with_values,
)
from thermokit.conduction.problem import Curve, Series
from thermokit.errors import CaseError

TEXTS = Path(__file__).parent / "case_texts"
BODY = (TEXTS / "body.toml").read_text(encoding="utf-8")
SHEET = (TEXTS / "sheet.toml").read_text(encoding="utf-8")
CASES = {"body": BODY, "sheet": SHEET} | {f"template {kind}": template(kind) for kind in KINDS}


@pytest.mark.parametrize("name", CASES)
def test_resolved_text_loads_to_an_equal_case(name: str) -> None:
    case = parse_case(CASES[name])
    text = resolved_text(case)
    again = parse_case(text)
    assert again == case
    assert resolved_text(again) == text


def test_cases_differ_when_a_value_does() -> None:
    case = parse_case(BODY)
    assert case != parse_case(SHEET)
    assert case != parse_case(BODY.replace("0.25 W/m/K", "0.26 W/m/K"))
    assert case != parse_case(BODY.replace("1 MW/m3", "2 MW/m3"))
    assert case == parse_case(BODY, "another name.toml")


def test_odd_words_survive() -> None:
    text = BODY.replace('"shell"', '"the \\"old\\" shell é.1"').replace("stuff", '"my stuff.2"').replace('""', '"')
    text = text.replace('title = "Two-layer wall"', 'title = "back\\\\slash"')
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case
    assert value(case, 'body.layers.the "old" shell é.1.thickness') == 0.006
    assert value(case, "materials.my stuff.2.density") == 1200.0


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("body.layers.shell.thickness", 0.006),
        ("body.layers.0.thickness", 0.006),
        ("body.layers.layer_2.thickness", 0.01),
        ("body.layers.1.thickness", 0.01),
        ("stations.heat.duration", 180.0),
        ("stations.0.duration", 180.0),
        ("stations.heat.outer.radiation.emissivity", 0.9),
        ("stations.heat.outer.radiation.0.emissivity", 0.9),
        ("stations.1.outer.radiation.1.view", 0.0),
        ("stations.heat.inner.temperature", 373.15),
        ("materials.stuff.density", 1200.0),
        ("materials.stuff.melting.from", 368.15),
        ("kinetics.resin.rate_2.factor", 6.17e20),
        ("limits.core_temperature.at_least", 400.15),
        ("output.every", 1.0),
        ("accuracy.temperature", 0.1),
        ("body.layers.shell.cells", 40),
        ("body.layers.1.contact", None),
        ("body.layers.0.material", "steel"),
    ],
)
def test_value_at_a_path(path: str, expected: Any) -> None:
    assert value(parse_case(BODY), path) == expected


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("stations.heat.durations", "did you mean stations.heat.duration"),
        ("station.heat.duration", "did you mean stations.heat.duration"),
        ("thickness", "body.layers.shell.thickness"),
        ("stations.9.duration", "did you mean"),
        ("body", "no such input"),
        ("body.layers", "no such input"),
        ("", "no such input"),
        ("stations.1.outer.convection.air", "no such input"),
        ("x" * 5000, "no such input"),
    ],
)
def test_a_path_that_is_not_there(path: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse_case(BODY, "wall.toml").value(path)
    assert says in str(caught.value)


def test_every_numeric_path_can_be_set_and_read() -> None:
    for text in CASES.values():
        case = parse_case(text)
        for path, (number, dimension) in numeric_paths(case).items():
            assert value(case, path) == number
            new = number * 0.999
            changed = case.with_values({path: new})
            assert value(changed, path) == new
            assert numeric_paths(changed)[path] == (new, dimension)
            assert case.with_values({path: number}) == case


def test_numeric_paths_hold_only_inputs_that_count() -> None:
    paths = numeric_paths(parse_case(BODY))
    assert paths["body.layers.shell.thickness"] == (0.006, "length")
    assert paths["stations.heat.outer.radiation.view"] == (0.7, "fraction")
    for absent in ("output.every", "accuracy.temperature", "body.inner_radius", "body.layers.shell.cells"):
        assert absent not in paths
    assert "body.layers.layer_2.heat" not in paths  # a table
    sheet = parse_case(SHEET)
    assert "stations.heat.duration" not in numeric_paths(sheet)
    assert sought_path(sheet) == "stations.heat.duration"
    assert sought_path(parse_case(BODY)) is None


def test_values_put_in_place() -> None:
    case = parse_case(SHEET)
    durations = np.array([60.0, 70.0, 80.0])
    batch = case.with_values({"stations.heat.duration": durations, "sheet.thickness": 0.005})
    assert batch.stations[0].duration is not case.stations[0].duration
    np.testing.assert_array_equal(batch.stations[0].duration, durations)
    assert batch.sheet.thickness == 0.005
    assert case.stations[0].duration == Find(low=10.0, high=600.0)
    assert batch == case.with_values({"stations.heat.duration": durations.copy(), "sheet.thickness": 0.005})
    assert pickle.loads(pickle.dumps(batch)) == batch
    with pytest.raises(ValueError, match="arrays"):
        resolved_text(batch)


def test_tables_and_keys_left_out_take_numbers() -> None:
    case = with_values(
        parse_case(BODY),
        {"body.layers.1.contact": 100.0, "body.layers.1.heat": 5.0, "materials.stuff.conductivity": 0.3},
    )
    assert (case.body.layers[1].contact, case.body.layers[1].heat) == (100.0, 5.0)
    assert case.materials["stuff"].conductivity == 0.3
    table = Series((0.0, 1.0), (1.0, 2.0))
    assert with_values(case, {"stations.heat.outer.heating": table}).stations[0].outer.heating == table
    curve = Curve(np.array([300.0, 400.0]), np.array([0.1, 0.2]))
    assert with_values(case, {"materials.stuff.conductivity": curve}).materials["stuff"].conductivity is curve
    many = Series((0.0, 1.0), (np.array([1.0, 2.0]), np.array([3.0, 4.0])))
    assert with_values(case, {"stations.heat.outer.heating": many}).stations[0].outer.heating is many
    cells = with_values(case, {"body.layers.0.cells": 80.0}).body.layers[0].cells
    assert cells == 80
    assert isinstance(cells, int)


@pytest.mark.parametrize(
    ("path", "new"),
    [
        ("sheet.thickness", -0.001),
        ("sheet.thickness", np.nan),
        ("sheet.thickness", np.array([0.001, np.inf])),
        ("sheet.thickness", np.ones((2, 2))),
        ("sheet.thickness", np.array([])),
        ("sheet.thickness", "4 mm"),
        ("sheet.thickness", None),
        ("sheet.thickness", Series((0.0,), (1.0,))),
        ("stations.heat.air.temperature", Series((0.0,), (-1.0,))),
        ("stations.heat.air.temperature", Find()),
        ("sheet.material", 3.0),
        ("stations.heat.upper.exchange", 1.5),
    ],
)
def test_values_that_cannot_be(path: str, new: Any) -> None:
    with pytest.raises(CaseError) as caught:
        parse_case(SHEET).with_values({path: new, "no.such": 1.0})
    assert [mistake.where for mistake in caught.value.mistakes] == [path, "no.such"]


@given(
    number=st.floats(min_value=1e-6, max_value=0.9),
    temperature=st.floats(min_value=0.0, max_value=5000.0),
    spread=st.floats(min_value=0.0, max_value=0.5),
)
@settings(derandomize=True, deadline=None, max_examples=30)
def test_any_number_survives_the_text(number: float, temperature: float, spread: float) -> None:
    case = parse_case(SHEET.replace("± 4 %", f"± {100 * spread!r} %"))
    case = case.with_values({"sheet.thickness": number, "sheet.start": temperature, "stations.heat.duration": number})
    again = parse_case(resolved_text(case))
    assert again == case
