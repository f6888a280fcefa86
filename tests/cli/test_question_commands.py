"""The commands of the shop's questions: exit status, one object, plain mistakes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.calling import CLOSED, SOUGHT, WALL, call, one_object

COMMANDS = ("scale", "cost", "bottleneck", "thermocouple")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_missing_case_is_a_plain_mistake(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = call(capsys, command, tmp_path / "nowhere.toml")
    assert done.status == 2
    assert "no such file" in done.err and done.out == ""


@pytest.mark.parametrize("command", COMMANDS)
def test_help_is_plain(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    done = call(capsys, command, "--help")
    assert done.status == 0 and "CASE" in done.out


def put(folder: Path, text: str) -> Path:
    file = folder / "case.toml"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("command", "text", "arguments", "status", "words"),
    [
        ("scale", WALL, (), 2, "nothing is sought"),
        ("scale", SOUGHT, ("--factor", "0"), 2, "above 0"),
        ("scale", SOUGHT, ("--factor", "nan"), 2, "above 0"),
        ("scale", SOUGHT, ("--input", "body.layers.0.thicknes"), 2, "no such input"),
        ("scale", SOUGHT, ("--of", "core_temperatur"), 2, "core_temperature"),
        ("scale", SOUGHT, ("--material", "unobtainium"), 2, "unobtainium"),
        ("scale", CLOSED, (), 1, "no window"),
        ("cost", WALL, (), 2, "cost.area"),
        ("cost", WALL + '[cost]\nenergy = "dear"\n', (), 2, "cost.energy"),
        ("cost", WALL + '[cost]\nstations = "sideways"\n', (), 2, "in_turn"),
        ("bottleneck", CLOSED, (), 1, "no window"),
        ("thermocouple", WALL, (), 2, "tolerances"),
        ("thermocouple", WALL, ("--place", "3 K"), 2, "--place"),
        ("thermocouple", WALL + '[tolerances]\n"body.start" = "± 2 K"\n', ("--at", "60 s"), 2, "nothing is sought"),
    ],
)
def test_what_cannot_be_answered_is_said(
    command: str,
    text: str,
    arguments: tuple[str, ...],
    status: int,
    words: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    done = call(capsys, command, put(tmp_path, text), *arguments)
    assert done.status == status
    assert words in done.err
    assert done.out == ""


def test_scale_tells_an_outcome_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = call(capsys, "scale", put(tmp_path, WALL), "--of", "core_temperature", "--factor", "2", "--json")
    block = one_object(done.out)["scale"]
    assert done.status == 0
    assert block["unit"] == "degC" and block["exponent"] is None
    assert block["sizes"][1]["answer"] < block["sizes"][0]["answer"], "the middle of a thicker wall lags"


def test_dwell_finds_any_input_in_its_own_unit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is found, put in its place, meets the limit; the unit is that of the bounds."""
    text = WALL.replace('air = "150 degC"', 'air = { find = ["100 degF", "700 degF"] }')
    block = one_object(call(capsys, "dwell", put(tmp_path, text), "--json").out)["dwell"]
    assert block["unit"] == "degF"
    assert block["station"] == "stations.heat.outer.convection.air"
    back = WALL.replace('air = "150 degC"', f'air = "{block["earliest"]} degF"')
    limit = one_object(call(capsys, "run", put(tmp_path, back), "--json").out)["limits"][0]
    assert abs(limit["margin"]) < 0.2
    words = call(capsys, "dwell", put(tmp_path, text)).out
    assert "Sought: stations.heat.outer.convection.air" in words and "degF" in words
