"""What a line case may say, and every mistake named with its place and what would be right."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from thermokit.case import parse_case, resolved_text
from thermokit.case.line import TEMPLATE, draws
from thermokit.errors import CaseError

TEXT = (Path(__file__).parent / "case_texts" / "line.toml").read_text(encoding="utf-8")
PIPE = """
process = "line"
[line]
product = "pipe"
speed = "10 m/min"
diameter = "32 mm"
start = "205 degC"
[[line.layers]]
name = "wall"
material = "hdpe"
thickness = "3 mm"
[[stations]]
name = "die"
kind = "die"
length = "160 mm"
draw = 1.5
[[stations]]
name = "bath"
kind = "bath"
length = "5000 m"
"""
WIRE = """
process = "line"
[line]
product = "wire"
speed = "60 m/min"
start = "20 degC"
[line.conductor]
diameter = "1.6 mm"
[[stations]]
name = "wheel"
kind = "preheat"
temperature = "100 degC"
[[stations]]
name = "crosshead"
kind = "coat"
[[stations.layers]]
name = "covering"
material = "ldpe"
thickness = "1 mm"
start = "210 degC"
[[stations]]
name = "trough"
kind = "bath"
length = "10 m"
"""


ROLLED = TEXT.replace('friction = "1 K"', 'gauge = "0.4 mm"\nshear = { bowls = "300 mm", viscosity = "5000 Pa s" }')


@pytest.mark.parametrize("text", [TEXT, TEMPLATE, PIPE, WIRE, ROLLED])
def test_reads_back(text: str) -> None:
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case


def test_time_is_length_over_speed() -> None:
    """Half round 600 mm and half of that again, 270 deg, at 10.1 m/min (drawn by 1 %); a place takes no time."""
    case = parse_case(TEXT)
    by_name = {station.name: station.duration for station in case.stations}
    assert by_name["lamps"] == pytest.approx(1.5 / (10.1 / 60.0), rel=1e-12)
    assert by_name["drum"] == pytest.approx(0.3 * 1.5 * math.pi / (10.1 / 60.0), rel=1e-12)
    assert by_name["knife"] == by_name["wind-up"] == 0.0
    faster = case.with_values({"line.speed": 2.0 * 10.0 / 60.0})
    assert faster.stations[2].duration == pytest.approx(by_name["lamps"] / 2.0, rel=1e-12)


def test_many_speeds_at_once() -> None:
    case = parse_case(TEXT).with_values({"line.speed": np.array([0.1, 0.2])})
    np.testing.assert_allclose(case.stations[2].duration, [1.5 / 0.101, 1.5 / 0.202], rtol=1e-12)


def test_what_is_sought_has_no_time_yet() -> None:
    case = parse_case(TEMPLATE)
    assert [s.duration for s in case.stations[:3]] == [None, None, None]
    assert all(s.duration is not None for s in case.with_values({"line.speed": 0.2}).stations)


def test_gauges_speed_the_sheet_up() -> None:
    """0.8 to 0.5 to 0.4 mm: speeds as 1 to 1.6 to 2."""
    nip = '[[stations]]\nname = "{}"\nkind = "nip"\nface = "165 degC"\nback = "170 degC"\ngauge = "{} mm"\n'
    text = (
        'process = "line"\n[line]\nproduct = "web"\nspeed = "10 m/min"\nstart = "160 degC"\n[[line.layers]]\nname = "s"\n'
        'material = "pvc_plasticised"\nthickness = "0.8 mm"\n' + nip.format("a", 0.5) + nip.format("b", 0.4)
    )
    case = parse_case(text)
    assert draws(case.line, case.stations) == pytest.approx([1.6, 2.0])


def test_a_very_long_bath_is_no_mistake() -> None:
    assert parse_case(PIPE).stations[1].duration == pytest.approx(5000.0 / (15.0 / 60.0))


LIMIT = '[stations.limits]\nface_least = "150 degC"'


@pytest.mark.parametrize(
    ("text", "was", "becomes", "place", "words"),
    [
        (TEXT, 'speed = "10 m/min"', 'speed = "0 m/min"', "line.speed", "an event"),
        (TEXT, 'wrap = "270 deg"', 'wrap = "400 deg"', "stations.3.wrap", "more than once round"),
        (TEXT, 'start = "25 degC"\nwidth', "width", "line.start", "missing"),
        (TEXT, 'width = "1.5 m"\n', "", "line.width", "the width of the web"),
        (TEXT, 'mass = "120 g/m2"\nthickness = "0.25 mm"\n', "", "line.layers.0.thickness", "missing"),
        (TEXT, 'product = "cloth"', 'product = "pipe"', "line.width", "a pipe has none"),
        (TEXT, 'name = "coat"', 'name = "cloth"', "stations.0.layers.0.name", "stands twice"),
        (TEXT, 'start = "25 degC"\nkinetics', "kinetics", "stations.0.layers.0.start", "comes on"),
        (TEXT, "face_least = \"150 degC\"", "face_least = \"201 degC\"", "stations.3.limits.face_least", "above face_most"),
        (TEXT, 'layer = "coat"', 'layer = "coal"', "limits.held.layer", "coat"),
        (TEXT, '["gelling", "pvc_heat_dose"]', '["pvc_heat_dose"]', "limits.gel_degree", "does not follow"),
        (TEXT, 'kind = "lamps_out"\nstation = "lamps"', 'kind = "water_lost"', "events.1.kind", "has no bath"),
        (TEXT, 'kind = "lamps_out"\nstation = "lamps"', 'kind = "lamps_out"\nstation = "lamp"', "events.1.station", "lamps"),
        (TEXT, 'kind = "stop"', 'kind = "stop"\nfactor = 2', "events.0.factor", 'kind = "speed"'),
        (TEXT, 'kind = "stop"', 'kind = "stop"\nstation = "drum"', "events.0.station", "all of the line"),
        (TEXT, 'friction = "1 K"', 'friction = "1 K"\ngauge = "0.4 mm"\ndraw = 1.1', "stations.6.draw", "together"),
        (TEXT, "absorbed = 0.9", 'absorbed = 0.9\nonto = "white PVC film, 0.3 mm"', "stations.2.onto", "together"),
        (TEXT, "absorbed = 0.9", 'onto = "white PVC film, 0.3 mm"', "stations.2.lamp", "missing"),
        (TEXT, 'kind = "wind_up"', 'kind = "coat"\n[[stations.layers]]\nmaterial = "paste"\nthickness = "1 mm"\nstart = "20 degC"',
         "stations.8.kind", "nothing comes after"),
        (TEXT, 'kind = "air_knife"\n', 'kind = "die"\n', "stations.4.kind", "a cloth passes no die"),
        (PIPE, 'diameter = "32 mm"\n', "", "line.diameter", "missing"),
        (PIPE, 'thickness = "3 mm"', 'thickness = "16 mm"', "line.diameter", "leave no bore"),
        (PIPE, 'thickness = "3 mm"', 'mass = "3 kg/m2"', "line.layers.0.mass", "by its walls"),
        (WIRE, '[line.conductor]\ndiameter = "1.6 mm"\n', "", "line.conductor", "missing"),
        (WIRE, 'kind = "preheat"\ntemperature = "100 degC"\n', 'kind = "haul_off"\n' + LIMIT + "\n", "stations.0.limits",
         "no covering yet"),
    ],
)  # fmt: skip
def test_mistakes_are_named(text: str, was: str, becomes: str, place: str, words: str) -> None:
    assert was in text
    with pytest.raises(CaseError) as met:
        parse_case(text.replace(was, becomes, 1))
    told = [m for m in met.value.mistakes if m.where == place]
    assert told, [str(m) for m in met.value.mistakes]
    assert any(words in str(m) for m in told), [str(m) for m in told]


def test_a_wire_without_covering() -> None:
    text = WIRE.replace('kind = "coat"\n[[stations.layers]]\nname = "covering"\nmaterial = "ldpe"\nthickness = "1 mm"\n'
                        'start = "210 degC"', 'kind = "haul_off"')  # fmt: skip
    with pytest.raises(CaseError, match="never covered"):
        parse_case(text)
