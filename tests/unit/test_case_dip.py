"""What a dip case may say, and every mistake named with its place and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from thermokit.case import parse_case, resolved_text
from thermokit.case.dip import TEMPLATE
from thermokit.errors import CaseError

TEXT = (Path(__file__).parent / "case_texts" / "dip.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [TEXT, TEMPLATE])
def test_reads_back(text: str) -> None:
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case


@pytest.mark.parametrize(
    ("was", "becomes", "place", "words"),
    [
        ('shape = "cylinder"\ninner', 'shape = "plane"\ninner', "former.inner_radius", "no radius"),
        ('mass = "120 g"', 'mass = "120 g"\nthickness = "2 mm"', "former.layers.0.mass", "together"),
        ('mass = "120 g"\n', "", "former.layers.0.thickness", "missing"),
        ('area = "90 cm2"\n', "", "former.area", "by its mass"),
        ('inner_radius = "9 mm"', 'inner_radius = "0 mm"', "former.open_inside", "no inside"),
        ('name = "core"', 'name = "coat_1"', "former.layers.0.name", "of its own"),
        ('kind = "dip"\nduration = "30 s"\nwithdrawal = "6 mm/s"\nimmersion = "20 mm/s"\ntemperature = "25 degC"',
         'kind = "air"\nduration = "30 s"', "stations", "no station is a dip"),
        ('name = "drain"\nkind = "drain"', 'name = "drain"\nkind = "strip"', "stations.3.kind", "before other stations"),
        ('"pvc_paste_gelation", ', "", "paste.kinetics", "nothing would stay"),
        (', "pvc_heat_dose"', "", "limits.heat_dose", "does not follow"),
        ('oven = "box"', 'oven = "bax"', "stations.4.oven", "did you mean box"),
        ('oven = "box"', 'oven = "box"\ntemperature = "190 degC"', "stations.4.oven", "together"),
        ('oven = "box"', 'temperature = "190 degC"', "ovens.box", "no station is in this oven"),
        ('power = "9 kW"', 'power = "3 kW"', "ovens.box.power", "never holds the set temperature"),
        ("coefficient = \"30 W/m2/K\"\nwalls", "walls", "stations.0.coefficient", "missing"),
        ('speed = "3 m/s"', 'speed = "3 m/s"\ncoefficient = "20 W/m2/K"', "stations.4.speed", "together"),
        ('wall_least = "0.5 mm"', 'wall_least = "5 mm"', "limits.wall_least", "above wall_most"),
        ('former_least = "120 degC"', 'former_least = "195 degC"', "limits.former_least", "above former_most"),
    ],
)  # fmt: skip
def test_mistakes_are_named(was: str, becomes: str, place: str, words: str) -> None:
    assert was in TEXT
    with pytest.raises(CaseError) as met:
        parse_case(TEXT.replace(was, becomes, 1))
    told = [m for m in met.value.mistakes if m.where == place]
    assert told, [str(m) for m in met.value.mistakes]
    assert any(words in str(m) for m in told), [str(m) for m in told]


def test_an_oven_too_weak_says_how_hot_it_gets() -> None:
    """3 kW over 14 W/K and 0.01 m3/s of room air (12 W/K): 23 + 3000/25.97 = 138.5 degC at most."""
    with pytest.raises(CaseError) as met:
        parse_case(TEXT.replace('power = "9 kW"', 'power = "3 kW"'))
    assert "139 degC at most" in str(met.value)


def test_the_last_station_is_no_dip() -> None:
    head, _, rest = TEXT.partition('[[stations]]\nname = "drain"')
    text = head + "[ovens.box]" + rest.partition("[ovens.box]")[2]
    with pytest.raises(CaseError) as met:
        parse_case(text)
    assert "nothing is drawn out of the paste" in str(met.value)
