"""Reading case files: what a right one gives in SI, and what each mistake is told."""

from __future__ import annotations

import hashlib
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from thermokit.case import Find, load_case, parse_case
from thermokit.conduction.problem import Curve, Series
from thermokit.errors import CaseError

TEXTS = Path(__file__).parent / "case_texts"
BODY = (TEXTS / "body.toml").read_text(encoding="utf-8")
SHEET = (TEXTS / "sheet.toml").read_text(encoding="utf-8")


def mistakes(text: str) -> list[tuple[str, str]]:
    """(where, the whole line) of each mistake of a text."""
    with pytest.raises(CaseError) as caught:
        parse_case(text, "x.toml")
    assert str(caught.value).startswith("x.toml: ")
    return [(mistake.where, str(mistake)) for mistake in caught.value.mistakes]


def test_body_in_si() -> None:
    case = parse_case(BODY, "wall.toml")
    shell, stuff = case.body.layers
    assert (shell.name, shell.thickness, shell.cells, shell.contact) == ("shell", 0.006, 40, 500.0)
    assert shell.start == pytest.approx(303.15)
    assert (stuff.name, stuff.cells, stuff.contact, stuff.start) == ("layer_2", None, None, None)
    assert stuff.heat == Series((0.0, 10.0, 10.0), (0.0, 1e6, 0.0))
    assert stuff.kinetics == ("resin",)
    conductivity = case.materials["stuff"].conductivity
    assert isinstance(conductivity, Curve)
    np.testing.assert_allclose(conductivity.temperature, [293.15, 393.15])
    np.testing.assert_allclose(conductivity.value, [0.2, 0.25])
    melting = case.materials["stuff"].melting.transition
    assert (melting.heat, melting.low, melting.high, melting.peak) == (180e3, 368.15, 398.15, 383.15)
    resin = case.kinetics["resin"]
    assert (resin.factor_1, resin.factor_2, resin.energy_2) == (0.0, 6.17e20, 167.4e3)
    assert (resin.form, resin.m, resin.n, resin.heat, resin.start) == ("two_rate", 0.524, 1.476, 77.5e3, 1e-4)
    heat, second = case.stations
    assert (heat.name, heat.duration, second.name, second.duration) == ("heat", 180.0, "station_2", 60.0)
    assert heat.inner.temperature == 373.15
    assert (heat.outer.convection.coefficient, heat.outer.convection.air) == (8.0, 333.15)
    assert heat.outer.radiation[0].view == 0.7
    assert (heat.outer.contact.coefficient, heat.outer.heating) == (500.0, 2000.0)
    assert second.inner.insulated
    assert [(r.emissivity, r.surround, r.view) for r in second.outer.radiation] == [
        (1.0, 0.0, 1.0),
        (0.05, 293.15, 0.0),
    ]
    assert (case.output.every, case.output.times, case.output.probes[0].at) == (1.0, None, 0.002)
    assert case.limits["core_temperature"].at_least == pytest.approx(400.15)
    assert case.limits["core_temperature"].at_most is None
    assert case.accuracy.temperature == 0.1
    assert case.source.file == "wall.toml"
    assert case.source.text == BODY
    assert case.source.sha256 == hashlib.sha256(BODY.encode()).hexdigest()


def test_sheet_in_si() -> None:
    case = parse_case(SHEET)
    heat, transfer = case.stations
    assert heat.duration == Find(low=10.0, high=600.0)
    assert (heat.upper.temperature, heat.upper.exchange, heat.upper.emissivity) == (693.15, 0.6, 0.9)
    assert heat.lower.exchange is None
    np.testing.assert_allclose([*heat.lower.size, heat.lower.gap], [0.7, 0.5, 0.15])
    assert (transfer.kind, transfer.emissivity, transfer.surround) == ("air", None, None)
    assert case.limits.face_core_difference is None
    thickness, upper, duration, conductivity = case.tolerances.values()
    assert (thickness.two_sigma, thickness.relative) == (0.04, True)
    assert (upper.two_sigma, upper.relative, upper.distribution) == (15.0, False, "normal")
    # standard deviation of a uniform distribution: half width / sqrt 3
    assert duration.two_sigma == pytest.approx(2 * 1.0 / math.sqrt(3.0))
    assert conductivity.two_sigma == pytest.approx(math.log(2.0))


def test_bare_minimum() -> None:
    case = parse_case(
        'process = "body"\n[body]\nshape = "sphere"\n[[body.layers]]\nmaterial = "a"\nthickness = "1 mm"\n'
        'start = "20 degC"\n[materials.a]\nconductivity = "1 W/m/K"\ndensity = "1 kg/m3"\nspecific_heat = "1 J/kg/K"\n'
        '[[stations]]\nduration = "find"\n'
    )
    assert (case.title, case.body.inner_radius, case.stations[0].duration) == ("", 0.0, Find())
    assert (case.output.every, case.output.times) == (None, None)


# (what is replaced, by what, where the mistake is, what the message says)
BODY_MISTAKES = [
    ('shape = "plane"', 'shape = "plan"', "body.shape", "did you mean plane?"),
    ('shape = "plane"', 'shape = "plane"\nstrat = "20 degC"', "body.strat", "did you mean start?"),
    ('shape = "plane"', 'shape = "plane"\ninner_radius = "5 mm"', "body.inner_radius", "a plane has no radius"),
    ('shape = "plane"', 'shape = "cylinder"', "stations.0.inner", "solid cylinder has no inner face"),
    ('thickness = "6 mm"', "thickness = 6", "body.layers.0.thickness", "bare number"),
    ('thickness = "6 mm"', 'thickness = "6,5 mm"', "body.layers.0.thickness", "decimal comma: write 6.5 mm"),
    ('thickness = "6 mm"', 'thickness = "6 s"', "body.layers.0.thickness", "s is a unit of time, not of length"),
    ('thickness = "6 mm"', 'thickness = "-6 mm"', "body.layers.0.thickness", "above 0 mm"),
    ('thickness = "6 mm"', 'thickness = "0 mm"', "body.layers.0.thickness", "out of range"),
    ('thickness = "6 mm"', 'thickness = "1e300 mm"', "body.layers.0.thickness", "out of range"),
    ('thickness = "6 mm"', 'thickness = "nan mm"', "body.layers.0.thickness", "not a number"),
    ('thickness = "6 mm"', "thickness = nan", "body.layers.0.thickness", "bare number"),
    ('thickness = "6 mm"', "thickness = true", "body.layers.0.thickness", "true is no length"),
    ('thickness = "6 mm"', "thickness = 1979-05-27", "body.layers.0.thickness", "a date or time is no length"),
    ('thickness = "6 mm"', 'thickness = ["6 mm"]', "body.layers.0.thickness", "a list of 1 is no length"),
    ('thickness = "6 mm"', "", "body.layers.0.thickness", "missing"),
    ("cells = 40", "cells = 0", "body.layers.0.cells", "from 1 to"),
    ("cells = 40", "cells = 4.5", "body.layers.0.cells", "whole number"),
    ("cells = 40", "cells = 99999999999999999999999", "body.layers.0.cells", "more than 20 digits"),
    ('material = "steel"', 'material = "stel"', "body.layers.0.material", "did you mean steel"),
    ('kinetics = "resin"', 'kinetics = "resn"', "body.layers.1.kinetics", "did you mean resin?"),
    ('kinetics = "resin"', 'kinetics = ["resin", "resin"]', "body.layers.1.kinetics", "stands twice"),
    ('kinetics = "resin"', 'contact = "1 W/m2/K"', "body.layers.1.contact", "no next one"),
    ('name = "shell"', 'name = "1"', "body.layers.0.name", "number of another entry"),
    ('start = "20 degC"', "", "body.layers.1.start", "neither the body nor the layer"),
    ('time = ["0 s", "10 s", "10 s"]', 'time = ["0 s", "10 s", "9 s"]', "body.layers.1.heat.time.2", "ascending"),
    ('time = ["0 s", "10 s", "10 s"]', 'time = ["0 s", "0 s", "0 s"]', "body.layers.1.heat.time.2", "three times"),
    ('time = ["0 s", "10 s", "10 s"]', 'time = ["0 s", "1 s"]', "body.layers.1.heat", "time has 2 entries"),
    ('time = ["0 s", "10 s", "10 s"]', "time = []", "body.layers.1.heat.time", "a list of 0"),
    ('temperature = ["20 degC", "120 degC"]', 'temperature = ["20 degC", "20 degC"]',
     "materials.stuff.conductivity.temperature.1", "ascending order"),
    ('to = "125 degC"', 'to = "90 degC"', "materials.stuff.melting.to", "does not lie above"),
    ('peak = "110 degC"', 'peak = "130 degC"', "materials.stuff.melting.peak", "outside the range"),
    ('crystallising = { heat = "180', 'crystallising = { heat = "18', "materials.stuff.crystallising.heat", "differs"),
    ("melting = {", "melt = {", "materials.stuff.crystallising", "without melting"),
    ("m = 0.524", "m = -1", "kinetics.resin.m", "out of range"),
    ("m = 0.524", 'm = "0.5"', "kinetics.resin.m", "not a number"),
    ("start = 1e-4", "start = 2", "kinetics.resin.start", "out of range"),
    ('state = "cure"', 'state = "curing"', "kinetics.resin.state", "did you mean cure?"),
    ('duration = "180 s"', "", "stations.0.duration", "missing"),
    ('duration = "180 s"', 'duration = "soon"', "stations.0.duration", '"find"'),
    ('duration = "180 s"', 'duration = { find = ["9 s", "1 s"] }', "stations.0.duration.find", "not below"),
    ('duration = "180 s"', 'duration = { search = ["9 s", "1 s"] }', "stations.0.duration", "not understood"),
    ('duration = "1 min"', 'duration = "find"\nname = "heat"', "stations.1.name", "already the name of entry 0"),
    ('temperature = "100 degC"', 'temperature = "100 degC"\nheating = "1 W/m2"', "stations.0.inner.temperature",
     "together with heating"),
    ("emissivity = 0.9", "emissivity = 1.2", "stations.0.outer.radiation.emissivity", "from 0 up to 1"),
    ('convection = { coefficient = "8 W/m2/K", air = "60 degC" }', 'air = "60 degC"', "stations.0.outer.air",
     "belongs in convection"),
    ("emissivity = 0.9", "emisivity = 0.9", "stations.0.outer.radiation.emisivity", "did you mean emissivity?"),
    ('surround = "0 K"', "surround = 0", "stations.1.outer.radiation.0.surround", "bare number"),
    ('"8 W/m2/K"', '"8 W/m2"', "stations.0.outer.convection.coefficient", "unit of heat flux"),
    ('air = "60 degC"', 'air = "-300 degC"', "stations.0.outer.convection.air", "absolute zero"),
    ('every = "1 s"', 'every = "1 s"\ntimes = ["1 s"]', "output.times", "both every and times"),
    ('every = "1 s"', 'times = ["2 s", "1 s"]', "output.times.1", "ascending order"),
    ('every = "1 s"', 'times = ["2 s", "241 s"]', "output.times.1", "after the end of the run"),
    ('every = "1 s"', 'every = "1e-9 s"', "output.every", "rows"),
    ('at = "2 mm"', 'at = "17 mm"', "output.probes.0.at", "from 0 mm to 16 mm"),
    ('name = "core"', 'name = "inner_face"', "output.probes.0.name", "calls a face"),
    ('name = "core"', 'name = "a/b"', "output.probes.0.name", "variable's name"),
    ("[limits.core_temperature]", "[limits.cor_temperature]", "limits.cor_temperature", "core_temperature"),
    ('at_least = "127 degC"', "", "limits.core_temperature", "neither at_least nor at_most"),
    ('at_least = "127 degC"', 'at_least = "9 degC"\nat_most = "5 degC"', "limits.core_temperature.at_least", "above"),
    ('title = "Two-layer wall"', "title = 3", "title", "3 cannot stand here"),
    ('process = "body"', 'process = "bodies"', "process", "did you mean body?"),
    ('process = "body"', "", "process", "missing"),
    ('[output]\nevery = "1 s"', 'accuracy = 1\n[output]\nevery = "1 s"', "stations.1.outer.accuracy", "unknown key"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "says"), BODY_MISTAKES)
def test_one_mistake_in_a_body(old: str, new: str, where: str, says: str) -> None:
    assert old in BODY
    found = dict(mistakes(BODY.replace(old, new, 1)))
    assert where in found
    assert says in found[where]
    # no other key is accused, but for one that a misspelt key leaves without its value
    assert len(found) <= 2


SHEET_MISTAKES = [
    ('kind = "panels"', "", "stations.0.kind", "missing"),
    ('kind = "panels"', 'kind = "panel"', "stations.0.kind", "did you mean panels?"),
    ("exchange = 0.60", "", "stations.0.upper.exchange", "neither exchange nor size and gap"),
    ('gap = "150 mm"', "", "stations.0.lower.gap", "missing"),
    ('gap = "150 mm"', 'gap = "150 mm"\nexchange = 0.6', "stations.0.lower.exchange", "together with size or gap"),
    ('size = ["700 mm", "500 mm"]', 'size = ["700 mm"]', "stations.0.lower.size", "from 2 to 2 entries"),
    ('duration = "4 s"', 'duration = "find"', "stations.1.duration", "stands here and at stations.0.duration"),
    ('coldest_point = "127 degC"', 'coldest_point = "190 degC"', "limits.coldest_point", "below hottest_face"),
    ('thickness = "4 mm"', 'thickness = "4 mm"\nlength = "1 m"', "sheet.width", "only one side"),
    ('"sheet.thickness"', '"sheet.thicknes"', "tolerances.sheet.thicknes", "did you mean sheet.thickness"),
    ('"± 4 %"', '"± 4 mmm"', "tolerances.sheet.thickness", "mmm is not a unit of length"),
    ('"± 4 %"', "0.04", "tolerances.sheet.thickness", "no tolerance"),
    ('"± 4 %"', '"± 400 %"', "tolerances.sheet.thickness", "up to 100 %"),
    ('"± 15 K"', '"± 15 degC"', "tolerances.stations.heat.upper.temperature", "write K"),
    ('"± 15 K"', '"± 15 %"', "tolerances.stations.heat.upper.temperature", "says nothing"),
    ('"uniform"', '"uniforn"', "tolerances.stations.0.duration.distribution", "did you mean uniform?"),
    ("factor = 2", "factor = 0.5", "tolerances.materials.tray.conductivity.factor", "out of range"),
    ("factor = 2", 'plus_minus = "1 %"', "tolerances.materials.tray.conductivity", "given by factor"),
    ('"stations.0.duration"', '"sheet.thickness "', "tolerances.sheet.thickness ", "no number stands"),
]


@pytest.mark.parametrize(("old", "new", "where", "says"), SHEET_MISTAKES)
def test_one_mistake_in_a_sheet(old: str, new: str, where: str, says: str) -> None:
    assert old in SHEET
    found = dict(mistakes(SHEET.replace(old, new, 1)))
    assert where in found
    assert says in found[where]


def test_the_same_input_twice_in_tolerances() -> None:
    text = SHEET + '"stations.0.upper.temperature" = "± 1 K"\n'
    assert "same input" in dict(mistakes(text))["tolerances.stations.0.upper.temperature"]


def test_two_sets_for_one_state() -> None:
    second = '[kinetics.other]\nstate = "cure"\nm = 1\nn = 1\n'
    text = BODY.replace('kinetics = "resin"', 'kinetics = ["resin", "other"]') + second
    assert 'grow "cure"' in dict(mistakes(text))["body.layers.1.kinetics"]


def test_all_mistakes_at_once_in_the_order_of_lines() -> None:
    text = BODY.replace('"6 mm"', "6").replace("m = 0.524", 'm = "x"').replace('shape = "plane"', 'shape = "flat"')
    with pytest.raises(CaseError) as caught:
        parse_case(text, "wall.toml")
    found = [(mistake.line, mistake.where) for mistake in caught.value.mistakes]
    lines = text.split("\n")
    assert [where for _, where in found] == ["body.shape", "body.layers.0.thickness", "kinetics.resin.m"]
    assert [lines[line - 1] for line, _ in found] == ['shape = "flat"', "thickness = 6", 'm = "x"']
    assert "wall.toml: 3 mistakes" in str(caught.value)


def test_a_long_list_of_mistakes_is_cut() -> None:
    found = mistakes(BODY.replace("[output]", "".join(f"nonsense_{i} = 1\n" for i in range(500)) + "[output]"))
    assert len(found) < 60
    assert "more mistakes" in found[-1][1]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"\xff\xfe\x00", "not UTF-8"),
        ('process = "body"'.encode("utf-16"), "not UTF-8"),
        (b"a = 1\nb = \n", "line 2"),
        (b"[[[[", "not TOML"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, "nested too deeply"),
        (b"a = " + b"9" * 5000, "not TOML"),
        (b"junk " * 2_000_000, "too large"),
        (b"", "process"),
        (b"\x00", "not TOML"),
    ],
)
def test_files_that_are_no_case(tmp_path: Path, data: bytes, says: str) -> None:
    file = tmp_path / "x.toml"
    file.write_bytes(data)
    with pytest.raises(CaseError) as caught:
        load_case(file)
    assert says in str(caught.value)
    assert str(file) in str(caught.value)


def test_file_that_cannot_be_opened(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.toml", "a\0b"):
        with pytest.raises(CaseError):
            load_case(path)


def test_byte_order_mark_and_windows_lines(tmp_path: Path) -> None:
    file = tmp_path / "x.toml"
    data = b"\xef\xbb\xbf" + BODY.replace("\n", "\r\n").encode()
    file.write_bytes(data)
    case = load_case(file)
    assert case == parse_case(BODY)
    assert case.source.sha256 == hashlib.sha256(data).hexdigest()
    file.write_bytes(data.replace(b'"6 mm"', b"6"))
    with pytest.raises(CaseError) as caught:
        load_case(file)
    assert caught.value.mistakes[0].line == BODY.split("\n").index('thickness = "6 mm"') + 1


def test_reading_imports_only_numpy() -> None:
    code = (
        "import sys; from thermokit.case import parse_case, template; parse_case(template('body')); "
        "heavy = {'scipy', 'h5py', 'matplotlib', 'fipy', 'click', 'jsonschema'} & set(sys.modules); "
        "sys.exit(', '.join(heavy) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
