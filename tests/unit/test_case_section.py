"""What a section case may say, and every mistake named with its place and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from thermokit.case import numeric_paths, parse_case, resolved_text
from thermokit.case.section import TEMPLATE
from thermokit.errors import CaseError

TEXT = (Path(__file__).parent / "case_texts" / "section.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [TEXT, TEMPLATE])
def test_reads_back(text: str) -> None:
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case


def test_values_are_si() -> None:
    case = parse_case(TEXT)
    assert case.section.regions[1].outline[2] == pytest.approx((0.11, 0.063))
    assert case.section.channels[0].centre == pytest.approx((0.02, 0.045))
    assert case.section.edges[0].end == pytest.approx((0.12, 0.0))
    assert case.output.probes[0].at == pytest.approx((0.06, 0.063))
    assert case.stations[1].absent == ("part",)


def test_places_are_inputs_by_their_path() -> None:
    paths = numeric_paths(parse_case(TEXT))
    assert paths["section.channels.c1.centre.1"] == (pytest.approx(0.045), "length")
    assert paths["section.regions.part.outline.3.1"] == (pytest.approx(0.063), "length")
    assert paths["stations.cool.faces.bottom.convection.coefficient"] == (10.0, "heat_transfer_coefficient")


def test_a_steady_state_needs_neither_start_nor_duration() -> None:
    text = TEXT.replace("steady = false", "steady = true").replace('start = "20 degC"\n', "", 1)
    case = parse_case(text.replace('duration = "20 s"\n', "").replace('"stations.cool.duration" = "± 0.5 s"\n', ""))
    assert case.stations[0].duration is None


@pytest.mark.parametrize(
    ("was", "becomes", "place", "words"),
    [
        ('start = "20 degC"\n', "", "section.regions.0.start", "neither the section nor the region"),
        ('duration = "20 s"\n', "", "stations.0.duration", "missing"),
        ('duration = "20 s"', 'duration = 20', "stations.0.duration", "bare number"),
        ('"120 mm", "60 mm"]', '"120 mm", "6,0 mm"]', "section.regions.0.outline.2.1", "decimal comma"),
        ('"120 mm", "60 mm"]', '"120 mm"]', "section.regions.0.outline.2", "1 entries: no place"),
        ('centre = ["20 mm", "45 mm"]', 'centre = "20 mm"', "section.channels.0.centre", "no place in the section"),
        ('between = ["part", "block"]', 'between = ["part", "blok"]', "section.contacts.0.between.1", "did you mean block"),
        ('between = ["part", "block"]', 'between = ["part", "part"]', "section.contacts.0.between", "touches itself"),
        ("faces.c2", "faces.c3", "stations.0.faces.c3", "no edge or channel"),
        ('absent = ["part"]', 'absent = ["prt"]', "stations.1.absent.0", "did you mean part"),
        ('absent = ["part"]', 'absent = ["part", "block"]', "stations.1.absent", "no region is left"),
        ('name = "c2"', 'name = "bottom"', "section.channels.1.name", "name of an edge"),
        ('name = "c2"', 'name = "c1"', "section.channels.1.name", "already the name of entry 0"),
        ('name = "middle"', 'name = "block_mean"', "output.probes.0.name", "already an outcome"),
        ("limits.middle_temperature", "limits.midle_temperature", "limits.midle_temperature", "did you mean middle_temperature"),
        ('symmetry = "plane"', 'symmetry = "axis"\nstart_from = 1', "section.start_from", "unknown key"),
        # geometry, with names and places in mm
        ('centre = ["20 mm", "45 mm"]', 'centre = ["20 mm", "57 mm"]', "section.channels.0", "(20 mm, 60 mm)"),
        ('centre = ["60 mm", "45 mm"]', 'centre = ["26 mm", "45 mm"]', "section.channels.1", "channel 'c1'"),
        ('[["10 mm", "60 mm"], ["110 mm", "60 mm"]', '[["10 mm", "59 mm"], ["110 mm", "59 mm"]', "section.regions.1",
         "partly inside and partly outside region 'block'"),
        ('to = ["120 mm", "0 mm"]', 'to = ["120 mm", "-5 mm"]', "section.edges.0", "edge 'bottom'"),
        ('at = ["60 mm", "63 mm"]', 'at = ["60 mm", "64 mm"]', "output.probes.0.at", "(60 mm, 64 mm) lies in no region"),
        ('at = ["60 mm", "63 mm"]', 'at = ["60 mm", "45 mm"]', "output.probes.0.at", 'lies in channel "c2"'),
    ],
)  # fmt: skip
def test_mistakes_are_named(was: str, becomes: str, place: str, words: str) -> None:
    assert was in TEXT
    with pytest.raises(CaseError) as met:
        parse_case(TEXT.replace(was, becomes, 1))
    told = [m for m in met.value.mistakes if m.where == place]
    assert told, [str(m) for m in met.value.mistakes]
    assert any(words in str(m) for m in told), [str(m) for m in told]


def test_an_outline_that_crosses_itself_says_where() -> None:
    """The two diagonals of a rectangle of 40 mm by 20 mm cross at its middle."""
    text = TEMPLATE.replace(
        'outline = [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["60 mm", "40 mm"], ["0 mm", "40 mm"]]',
        'outline = [["0 mm", "0 mm"], ["60 mm", "40 mm"], ["60 mm", "0 mm"], ["0 mm", "40 mm"]]',
    )
    with pytest.raises(CaseError, match=r"crosses or touches itself at \(30 mm, 20 mm\)"):
        parse_case(text)


def test_left_of_the_axis_is_nowhere() -> None:
    text = TEMPLATE.replace('symmetry = "plane"', 'symmetry = "axis"').replace('["0 mm", "0 mm"]', '["-1 mm", "0 mm"]')
    with pytest.raises(CaseError, match="reaches across the axis"):
        parse_case(text)
