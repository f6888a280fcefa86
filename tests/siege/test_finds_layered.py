"""What the siege of dips, mills and cylinders found, case by case."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.run import run_case

RACK = """
title = "a rack"
process = "dip"
[former]
shape = "cylinder"
inner_radius = "9 mm"
start = "23 degC"
length = "110 mm"
layers = [{ material = "steel_mild", thickness = "3 mm" }]
[[stations]]
kind = "dip"
duration = "10 s"
withdrawal = "5 mm/s"
[[stations]]
kind = "oven"
duration = "4 min"
oven = "box"
coefficient = "20 W/m2/K"
[ovens.box]
temperature = "195 degC"
power = "9 kW"
losses = "14 W/K"
count = 24
rack = [{ count = 12, layers = [{ material = "porcelain_former", thickness = "6 mm" }] }]
[accuracy]
temperature = "2 K"
"""


def test_walls_of_an_oven_are_as_hot_as_its_air_for_many_cases() -> None:
    """Formers on a rack saw walls of 127 degC for ever as soon as a batch held several cases (a dwell, a tolerance).

    Two cases alike are each the case alone, and the oven's heat is all accounted for in both.
    """
    case = parse_case(RACK, "rack.toml")
    faces = []
    for own in (case, case.with_values({"former.start": np.full(2, 296.15)})):
        process: Any = process_of(own)
        process.course([np.linspace(0.0, 1.0, 7)] * len(process.layers()))
        (air,) = process.ovens_solved().values()
        assert not air.warnings
        assert abs(air.heats["astray"]) < 0.01 * abs(air.heats["heaters"])
        faces.append(air.faces)
    np.testing.assert_allclose(faces[1], faces[0], rtol=0, atol=0.2)  # twice the steps' error of the oven's batches


def with_dip(*changes: tuple[str, str]) -> Any:
    """A former drawn out of the paste into the room."""
    text = RACK.split('[[stations]]\nkind = "oven"')[0] + '[[stations]]\nkind = "air"\nduration = "5 s"\n'
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse_case(text, "dip.toml")


def outcome(result: Any, name: str) -> float:
    """An outcome by its name."""
    return float(next(o.value for o in result.outcomes if o.name == name))


def test_a_coat_on_a_thin_rod_weighs_what_its_ring_weighs() -> None:
    """Mass was density times wall times the area of the bare former: of a thick coat on a thin rod a third too little."""
    thin = (('inner_radius = "9 mm"\n', ""), ('thickness = "3 mm"', 'thickness = "2 mm"'))
    result = run_case(with_dip(*thin, ('withdrawal = "5 mm/s"', 'withdrawal = "40 mm/s"')))
    wall = outcome(result, "wall") / 1e3
    assert wall > 1e-3
    density = float(process_of(with_dip()).paste_medium.density)  # type: ignore[attr-defined]
    ring = np.pi * ((2e-3 + wall) ** 2 - 2e-3**2) * 0.11
    assert outcome(result, "article_mass") == pytest.approx(1e3 * density * ring, rel=1e-9)


def test_a_thick_film_comes_out_of_a_bath_that_is_followed_far_enough() -> None:
    """What clings was cut at the depth to which paste is followed, 2 mm after a short dwell, though more was told to cling."""
    result = run_case(
        with_dip(
            ('duration = "10 s"', 'duration = "1 s"'), ('withdrawal = "5 mm/s"', 'withdrawal = "60 mm/s"'),
            ("[former]", '[paste]\nviscosity = "10 Pa s"\n[former]'),
        )
    )  # fmt: skip
    assert outcome(result, "clinging") > 2.2
    assert outcome(result, "wall") == pytest.approx(outcome(result, "clinging"), abs=2e-3)


def test_a_bath_that_neither_takes_nor_loses_heat_stays_as_it_is() -> None:
    """No dips and no losses divided nothing by nothing: the bath was not a number."""
    bath = '[paste]\nbath = { mass = "90 kg", dips = "0 1/h" }\n[former]'
    result = run_case(with_dip(("[former]", bath)))
    assert outcome(result, "bath") == pytest.approx(24.0, abs=1e-9)


def test_a_bath_of_two_dips_in_turn_is_a_number() -> None:
    """The coat of the first had no temperature before the second began: the bath was not a number.

    Fresh paste twice takes more heat out of the former than once for as long, and no more than twice as much.
    """
    bath = ("[former]", '[paste]\nbath = { mass = "90 kg", dips = "100 1/h" }\n[former]')
    hot = ('start = "23 degC"', 'start = "150 degC"')
    slow = ('duration = "10 s"\nwithdrawal = "5 mm/s"', 'duration = "10 s"')
    twice = (slow[0], 'duration = "5 s"\n[[stations]]\nkind = "dip"\nduration = "5 s"')
    one, two = (outcome(run_case(with_dip(bath, hot, last)), "bath") for last in (slow, twice))
    assert one - 24.0 < two - 24.0 < 2.0 * (one - 24.0)


MILL = """
title = "a band"
process = "mill"
[band]
material = "stuff"
thickness = "4 mm"
start = "60 degC"
[materials.stuff]
conductivity = "0.17 W/m/K"
density = "1300 kg/m3"
specific_heat = "1500 J/kg/K"
[rolls]
diameter = "300 mm"
front = "160 degC"
back = "150 degC"
speed = "18 m/min"
[[stations]]
kind = "mill"
duration = "4 min"
folds = 3
[stations.air]
temperature = "30 degC"
coefficient = "10 W/m2/K"
"""


def banded(*changes: tuple[str, str]) -> Any:
    """The band with other lines."""
    text = MILL
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse_case(text, "mill.toml")


def test_air_of_a_mill_goes_on_through_folds() -> None:
    """A table of the air began anew at every fold: here the fan of the last minute never came on."""
    table = 'coefficient = { time = ["0 s", "180 s", "180 s"], value = ["10 W/m2/K", "10 W/m2/K", "200 W/m2/K"] }'
    whole = run_case(banded(('coefficient = "10 W/m2/K"', table)))
    text = MILL.replace('"4 min"', '"3 min"').replace("folds = 3", "folds = 2")
    fan = text[text.index("[[stations]]") :].replace('"3 min"', '"1 min"').replace("folds = 2", "folds = 0")
    parts = run_case(parse_case(text + fan.replace('"10 W/m2/K"', '"200 W/m2/K"'), "parts.toml"))
    # the fold at the third minute evens the band where the fan comes on; in the parts nobody folds there
    assert whole.history.ends[-1].outer_face < run_case(banded()).history.ends[-1].outer_face - 10.0
    assert whole.history.ends[-1].outer_face == pytest.approx(parts.history.ends[-1].outer_face, abs=3.0)


def test_folding_keeps_the_heat_of_a_band_that_melts() -> None:
    """Temperatures were averaged, and a band half molten lost or gained latent heat at every fold."""
    melting = 'specific_heat = "1500 J/kg/K"\nmelting = { heat = "150 kJ/kg", from = "110 degC", to = "140 degC" }'
    case = banded(
        ('specific_heat = "1500 J/kg/K"', melting),
        ("4 min", "90 s"),
        ("title", 'accuracy = { temperature = "2 K" }\ntitle'),
    )
    history: Any = run_case(case).history
    t = history.temperature[-1]
    molten = np.clip((t - 383.15) / 30.0, 0.0, 1.0)
    content = 1300.0 * np.diff(history.edges) @ (1500.0 * (t - 333.15) + 150e3 * molten)
    heat = history.heat
    assert 0.05 < molten.mean() < 1.0, "some of it melts"
    # tables leave their curves by 1e-4 K: 1.3 MJ/m3/K and (latent) 8 MJ/m3/K over 4 mm, at each of 3 folds and the end
    assert heat.entered - heat.left == pytest.approx(content, abs=4e-3 * 1e-4 * 8e6 * 4)


@pytest.mark.parametrize("limit", ["gel_degree = 0.9", "fusion_degree = 0.9", "heat_dose = 0.3"])
def test_a_mill_does_not_limit_what_it_does_not_follow(limit: str) -> None:
    """A limit on a dose that nothing adds up ended in a KeyError; one on a degree was left out without a word."""
    with pytest.raises(CaseError, match="does not follow"):
        parse_case(MILL + f"[limits]\n{limit}\n", "mill.toml")


CYLINDER = """
title = "a cylinder"
process = "cylinder"
machine = { bore = "60 mm", spreader = "44 mm", contact = "0.001 W/m2/K" }
zones = [{ length = "200 mm", temperature = "200 degC" }]
[shot]
material = "stuff"
mass = "60 g"
cycle = "40 s"
density = "800 kg/m3"
start = "180 degC"
pressure_loss = "40 MPa"
[materials.stuff]
conductivity = "0.17 W/m/K"
density = "1200 kg/m3"
specific_heat = "2000 J/kg/K"
"""


def test_friction_of_injection_warms_a_kilogram_of_melt() -> None:
    """Work by volume of melt was put into as much volume of the record's density: a third too little here.

    Without heat through the bore the rise is pressure lost/(density of the melt x specific heat) = 40e6/(800 x 2000) = 25 K.
    """
    result = run_case(parse_case(CYLINDER, "cylinder.toml"))
    assert outcome(result, "friction_rise") == pytest.approx(25.0, rel=1e-12)
    assert outcome(result, "melt_mean") == pytest.approx(205.0, abs=1e-2)
    assert outcome(result, "heat_power") == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("limit", ["heat_dose = 0.3", "hold_up_dose = 1"])
def test_a_cylinder_does_not_limit_what_it_does_not_follow(limit: str) -> None:
    """A limit on a dose that nothing adds up was left out without a word."""
    with pytest.raises(CaseError, match="does not follow"):
        parse_case(CYLINDER + f"[limits]\n{limit}\n", "cylinder.toml")
