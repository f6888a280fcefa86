"""Reading charge cases: what stands in them in SI, what their stations bring along, and what each mistake is told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermokit.case import numeric_paths, parse_case, resolved_text, sought_path, template
from thermokit.case.charge_checks import kinetics_of
from thermokit.conduction.problem import Series
from thermokit.errors import CaseError

TEXT = (Path(__file__).parent / "case_texts" / "charge.toml").read_text(encoding="utf-8")
SHORT = """
process = "charge"
[charge]
material = "pf_compound"
thickness = "6 mm"
start = "100 degC"
{charge}
[mould.upper]
temperature = "170 degC"
[mould.lower]
temperature = "170 degC"
{stations}
{more}
"""
CURE = '[[stations]]\nname = "cure"\nkind = "cure"\nduration = "60 s"\n'


def kelvin(celsius: float) -> Any:
    return pytest.approx(celsius + 273.15)


def short(charge: str = "", stations: str = CURE, more: str = "") -> str:
    return SHORT.format(charge=charge, stations=stations, more=more)


def order(*kinds: str) -> str:
    """Stations of these kinds, one after another."""
    air = {"post_bake": '[stations.air]\ntemperature = "150 degC"\n'}
    return short(stations="".join(f'[[stations]]\nkind = "{k}"\nduration = "5 s"\n{air.get(k, "")}' for k in kinds))


def mistakes(text: str) -> dict[str, str]:
    """Where -> the whole lines of the mistakes there."""
    with pytest.raises(CaseError) as caught:
        parse_case(text, "x.toml")
    assert all(mistake.allowed or mistake.advice for mistake in caught.value.mistakes)
    found: dict[str, str] = {}
    for mistake in caught.value.mistakes:
        found[mistake.where] = f"{found.get(mistake.where, '')}{mistake}\n"
    return found


def test_values_in_si() -> None:
    case = parse_case(TEXT)
    charge = case.charge
    assert (charge.mass, charge.thickness, charge.rate, charge.gel_degree) == (pytest.approx(0.045), None, 1.1, 0.4)
    assert (charge.area, charge.flash) == (pytest.approx(50e-4), 0.05)
    # 1 British ton force = 2240 lb x 9.80665 m/s2
    assert charge.pressure == pytest.approx(2 * 2240 * 0.45359237 * 9.80665 / 0.0254**2)
    assert charge.rating == pytest.approx(40 * 2240 * 0.45359237 * 9.80665)
    assert (charge.loose.thickness, charge.loose.cover, charge.loose.conductivity) == (pytest.approx(0.02), 0.6, 0.11)
    assert (charge.cured.conductivity, charge.cured.specific_heat) == (0.35, None)
    assert (charge.dose.energy, charge.dose.reference, charge.dose.time) == (120e3, kelvin(190), 1200.0)
    upper, lower = case.mould.upper, case.mould.lower
    assert (upper.has_body, upper.temperature.time) == (False, (0.0, 60.0, 60.0))
    assert (lower.has_body, lower.thickness, lower.start) == (True, pytest.approx(0.04), kelvin(165))
    assert (lower.platen.temperature, lower.platen.coefficient) == (kelvin(175), 3000.0)
    assert case.depth() is None  # it follows from the mass
    assert case.duration() is None
    assert sought_path(case) == "stations.cure.duration"


def test_stations_bring_their_contacts() -> None:
    load, close, breathe, cure, opened, fixture, bake = parse_case(TEXT).stations
    assert [s.touches for s in (load, close, breathe, cure, opened, fixture, bake)] == [
        ("lower",), ("upper", "lower"), ("upper", "lower"), ("upper", "lower"), ("upper",), ("lower",), (),
    ]  # fmt: skip
    assert (load.lower.contact, load.air.coefficient, load.air.temperature) == (250.0, 8.0, kelvin(60))
    assert close.upper.contact == Series((0.0, 2.0), (500.0, 3000.0))
    # a loose charge takes up less heat than one that flows, and that less than one under pressure
    assert breathe.lower.contact < close.lower.contact < cure.lower.contact
    assert (cure.upper.temperature, cure.lower.temperature) == (None, kelvin(180))
    assert (fixture.lower.temperature, fixture.upper) == (kelvin(40), None)
    assert (bake.air.temperature, bake.emissivity, opened.emissivity) == (kelvin(150), 0.9, None)


@pytest.mark.parametrize("text", [TEXT, template("charge"), short(), order("load", "close", "breathe", "cure", "open")])
def test_resolved_text_reads_back(text: str) -> None:
    case = parse_case(text)
    assert parse_case(resolved_text(case)) == case


def test_kinetics_are_the_materials_own_unless_named() -> None:
    case = parse_case(short())
    assert kinetics_of(case, case.charge) == ("pf_calibrated",)
    case = parse_case(short('kinetics = "uf_calibrated"'))
    assert kinetics_of(case, case.charge) == ("uf_calibrated",)
    layers = parse_case(
        short().replace('material = "pf_compound"\nthickness = "6 mm"\n', "")
        + '[[charge.layers]]\nname = "plate"\nmaterial = "steel_mild"\nthickness = "2 mm"\n'
        + '[[charge.layers]]\nmaterial = "pf_compound"\nthickness = "4 mm"\ncontact = "500 W/m2/K"\n'.replace(
            'contact = "500 W/m2/K"\n', ""
        )
    )
    assert [kinetics_of(layers, e) for e in layers.charge.layers] == [(), ("pf_calibrated",)]
    assert layers.depth() == pytest.approx(6e-3)


def test_inputs_have_paths() -> None:
    paths = numeric_paths(parse_case(TEXT))
    for path in ("charge.rate", "charge.mass", "mould.lower.platen.temperature", "stations.breathe.upper.contact"):
        assert path in paths, path
    # a side that touches nothing is no input
    assert not [p for p in paths if p.startswith("stations.open.lower")]
    case = parse_case(TEXT).with_values({"charge.rate": np.array([0.7, 1.3]), "mould.upper.temperature": 440.0})
    assert case.charge.rate.tolist() == [0.7, 1.3]


@pytest.mark.parametrize(
    ("kinds", "where", "says"),
    [
        (["open", "close", "cure"], "stations.0.kind", "the press opens before it has closed"),
        (["load", "cool", "cure"], "stations.1.kind", "the press opens before it has closed"),
        (["breathe", "cure"], "stations.0.kind", "breathes before it has closed"),
        (["close", "load", "cure"], "stations.1.kind", "loaded after the press has closed"),
        (["close", "open", "cure"], "stations.1.kind", "does not cure"),
        (["cure", "breathe", "open"], "stations.2.kind", "shut again before it is opened"),
        (["cure", "open", "cure"], "stations.2.kind", "after the press has been opened"),
        (["cure", "cool", "open"], "stations.2.kind", "the part has left it"),
        (["cure", "breathe"], "stations.1.kind", "before the press is shut again"),
        (["load", "close"], "stations", "no station cures"),
    ],
)
def test_order_of_the_stations(kinds: list[str], where: str, says: str) -> None:
    assert says in mistakes(order(*kinds))[where]


def test_orders_that_are_right() -> None:
    for kinds in (
        ["cure"],
        ["load", "load", "close", "breathe", "close", "breathe", "cure", "cure", "open", "cool", "post_bake", "cool"],
        ["cure", "breathe", "cure", "open", "open", "post_bake"],
        ["cure", "cool"],
    ):
        assert [s.kind for s in parse_case(order(*kinds)).stations] == kinds


@pytest.mark.parametrize(
    ("charge", "where", "says"),
    [
        ('mass = "40 g"', "charge.mass", "stands together with thickness"),
        ('rating = "20 tonf"', "charge.area", "area times pressure"),
        ("rate = 0.0", "charge.rate", "out of range"),
        ("gel_degree = 1.2", "charge.gel_degree", "out of range"),
        ("flash = 1.5", "charge.flash", "out of range"),
        ('kinetics = "pvc_paste_gelation"', "charge.kinetics", "nothing in the charge cures"),
        ("kinetics = []", "charge.kinetics", "nothing in the charge cures"),
        ('kinetics = ["pf_calibrated", "mf_calibrated"]', "charge.kinetics", "two sets"),
        ('kinetics = "pf"', "charge.kinetics", "no known set of kinetics"),
        ('loose = { thickness = "12 mm" }', "charge.loose", "no load station"),
        ('[[charge.layers]]\nmaterial = "pf_compound"\nthickness = "3 mm"', "charge.layers", "stand together with"),
    ],
)
def test_mistakes_of_the_charge(charge: str, where: str, says: str) -> None:
    assert says in mistakes(short(charge))[where]


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        (TEXT.replace('mass = "45 g"\n', ""), "charge.thickness", "neither thickness nor mass"),
        (TEXT.replace('area = "50 cm2"\n', ""), "charge.area", "a mass is spread over it"),
        (TEXT.replace('mass = "45 g"', 'mass = "45 g"\nvolume = "30 cm3"'), "charge.volume", "stands together with mass"),
        (TEXT.replace('start = "100 degC"\n', ""), "charge.start", "missing"),
        (TEXT.replace('thickness = "40 mm"\n', ""), "mould.lower.thickness", "missing"),
        (TEXT.replace('material = "steel_p20"\n', 'temperature = "160 degC"\n'), "mould.lower.temperature", "alone"),
        (TEXT.replace("cure_degree = 0.7\n", "cure_degree = 1.7\n"), "limits.cure_degree", "out of range"),
        (TEXT.replace('hottest = "220 degC"', 'hottest = "160 degC"'), "", ""),
        (TEXT.replace('kind = "cool"', 'kind = "chill"'), "stations.5.kind", "not one of the choices"),
        (TEXT.replace('on = "upper"', 'on = "upper"\nlower = { contact = "9 W/m2/K" }'), "stations.4.lower", "nothing"),
        (TEXT.replace('platen = { temperature = "175 degC", coefficient = "3000 W/m2/K" }\n', ""), "mould.lower.platen",
         "missing"),
        (TEXT.replace('[stations.lower]\ntemperature = "180 degC"',
                      '[stations.lower]\ncontact = { time = ["0 s", "5 s"], value = ["1 W/m2/K", "2 W/m2/K"] }'),
         "stations.3.lower.contact", "has a body"),
        (TEXT.replace('[charge.dose]\nenergy = "120 kJ/mol"\nreference = "190 degC"\ntime = "20 min"\n', ""),
         "limits.over_cure", "no dose is followed"),
    ],
)  # fmt: skip
def test_mistakes_elsewhere(text: str, where: str, says: str) -> None:
    if not where:  # a table of temperatures is not held against the limit
        parse_case(text)
        return
    assert says in mistakes(text)[where]


def test_a_mould_above_the_limit() -> None:
    assert "lies below" in mistakes(short(more='[limits]\nhottest = "160 degC"'))["limits.hottest"]


def test_a_heap_denser_than_the_moulding() -> None:
    stations = '[[stations]]\nkind = "load"\nduration = "4 s"\n' + CURE
    found = mistakes(short('loose = { thickness = "10 mm", cover = 0.5 }', stations))
    assert "denser" in found["charge.loose.thickness"]
    assert "12 mm" in found["charge.loose.thickness"]  # 6 mm pressed over half the area


def test_names_that_the_result_uses() -> None:
    probe = '[[output.probes]]\nname = "hottest"\nat = "3 mm"\n'
    assert "another name" in mistakes(short(more=probe))["output.probes.0.name"]
    assert (
        "lies outside the body"
        in mistakes(short(more=probe.replace("3 mm", "7 mm").replace("hottest", "mid")))["output.probes.0.at"]
    )
    layer = short().replace('material = "pf_compound"\nthickness = "6 mm"\n', "")
    layer += '[[charge.layers]]\nname = "upper_half"\nmaterial = "pf_compound"\nthickness = "4 mm"\n'
    layer += 'contact = "500 W/m2/K"\n'
    found = mistakes(layer)
    assert "what the result calls a half" in found["charge.layers.0.name"]
    assert "no next one" in found["charge.layers.0.contact"]
