"""`thermokit materials mix`: a compound from its parts, its weigh sheet, and plain refusals."""

from __future__ import annotations

from pathlib import Path

import pytest
from calling import call, one_object

SOFT = ("materials", "mix", "--resin", 100, "--plasticiser", "dop=60", "--stabiliser", "2.5")
CASE = """\
process = "body"
[body]
shape = "plane"
start = "20 degC"
layers = [{ material = "fender", thickness = "4 mm" }]
[materials.fender.recipe]
resin = 100
plasticiser = { kind = "dinp", parts = 60 }
[materials.core.recipe]
resin = 100
[materials.other]
conductivity = "0.2 W/m/K"
density = "1200 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
duration = "60 s"
"""


def test_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    said = call(capsys, *SOFT, "--batch", "16.25 kg", "--scale", "1 g")
    assert said.status == 0
    # 16.25 kg of 162.5 parts: 0.1 kg a part
    for amount in ("100    61.54        10", "60    36.92         6", "2.5     1.54      0.25"):
        assert amount in said.out
    for part in ("glass transition -8 degC", "± 10 %", "heat life", "CAUTION", "sources", "[6]"):
        assert part in said.out


def test_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    found = one_object(call(capsys, *SOFT, "--batch", "16.25 kg", "--json").out)
    masses = {line["role"]: line["mass"] for line in found["batch"]["lines"]}
    assert masses == pytest.approx({"resin": 10.0, "plasticiser": 6.0, "stabiliser": 0.25})
    # 1/rho by volumes, at 20 degC
    assert found["density"]["values"][0] == pytest.approx(162.5 / (100 / 1400 + 60 / 986 + 2.5 / 1150))
    assert found["heat_life"]["value"] == pytest.approx((0.001 + 2.5 * 0.003) / 2.5e-6)
    assert found["heat_life"]["low"] < found["heat_life"]["value"] < found["heat_life"]["high"]


def test_kinds_add_up(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("materials", "mix", "--resin", 100, "--plasticiser", "dinp=45", "--plasticiser", "epoxidised_oil=5")
    found = one_object(call(capsys, *words, "--json").out)
    assert [item["kind"] for item in found["ingredients"]] == ["resin", "dinp", "epoxidised_oil"]
    assert sum(item["share"] for item in found["ingredients"]) == pytest.approx(1.0)


def test_recipes_of_a_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(CASE, encoding="utf-8")
    found = one_object(call(capsys, "materials", "mix", file, "--batch", "8 kg", "--json").out)
    assert list(found["materials"]) == ["fender", "core"]
    assert found["materials"]["fender"]["batch"]["lines"][0]["mass"] == pytest.approx(5.0)
    text = call(capsys, "materials", "mix", file).out
    assert "fender: PVC compound" in text and "core: PVC compound" in text and "WARNING core: no stabiliser" in text


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--plasticiser", "dop=60"), "without resin"),
        (("--resin", "0"), "without resin"),
        (("--resin", "100", "--plasticiser", "dpo=60"), "known are dop"),
        (("--resin", "100", "--plasticiser", "60 phr"), "no number of parts"),
        (("--resin", "100", "--filler", "chalk=-1"), "from 0 up"),
        (("--resin", "100", "--filler", "1", "--filler", "chalk=2"), "given twice"),
        (("--resin", "100", "--batch", "25"), "the unit is missing"),
        (("--resin", "100", "--batch", "0 kg"), "above zero"),
        (("--resin", "100", "--scale", "1 g"), "give --batch"),
        ((), "give a recipe"),
        (("none.toml",), "no such file"),
        (("--resin", "1e999"), "from 0 up"),
    ],
)
def test_refusals(words: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = call(capsys, "materials", "mix", *words)
    assert said.status == 2
    assert says in said.err
    assert said.out == ""


def test_a_case_without_a_recipe(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.toml"
    start, end = CASE.index("[materials.fender"), CASE.index("[materials.other")
    file.write_text((CASE[:start] + CASE[end:]).replace('"fender"', '"pp"'), encoding="utf-8")
    said = call(capsys, "materials", "mix", file)
    assert said.status == 2 and "no material of it is given by a recipe" in said.err
    said = call(capsys, "materials", "mix", file, "--resin", 100)
    assert said.status == 2 and "its own recipe" in said.err


def test_the_rest_of_the_command_stays_as_it_was(capsys: pytest.CaptureFixture[str]) -> None:
    assert "pp" in call(capsys, "materials").out
    assert call(capsys, "materials", "abs").out.startswith("abs: ")
    assert call(capsys, "materials", "mixed").status == 2
    assert "pf_calibrated" in call(capsys, "materials", "--kinetics").out
    assert "--plasticiser" in call(capsys, "materials", "mix", "--help").out
