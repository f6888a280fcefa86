"""`thermokit tolerance`, `sensitivity` and `window`: words, one JSON object, pictures, tables, exit status, refusals."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))

from calling import CASES, call, one_object

from thermokit.results.sweep_table import read_table
from validation.families.sensitivity import LUMP

Capsys = pytest.CaptureFixture[str]
HEAT, THICK = "stations.heat.duration", "body.layers.block.thickness"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    file = tmp_path / "lump.toml"
    file.write_text('title = "Lumped plate"\n' + LUMP, encoding="utf-8")
    return file


def test_tolerance(case: Path, tmp_path: Path, capsys: Capsys) -> None:
    picture = tmp_path / "parts.svg"
    said = call(capsys, "tolerance", case, "--at", "65 s", "--draws", 256, "-o", picture)
    assert said.status == 0 and said.err == ""
    assert "At 65.0 s: 256 parts drawn" in said.out and "too cold" in said.out
    assert f"wrote {picture}" in said.out
    drawing = picture.read_text(encoding="utf-8")
    assert "parts in 100" in drawing and "share of the variance" in drawing
    told = one_object(call(capsys, "tolerance", case, "--draws", 64, "--seed", 3, "--json").out)
    assert told["tolerance"]["draws"] == 64 and told["tolerance"]["seed"] == 3
    assert told["tolerance"]["unit"] == "s" and 0.0 < told["tolerance"]["inside"] <= 1.0


def test_usual_tolerances_are_asked_for(tmp_path: Path, capsys: Capsys) -> None:
    file = tmp_path / "bare.toml"
    file.write_text(LUMP.split("[tolerances]")[0], encoding="utf-8")
    refused = call(capsys, "tolerance", file)
    assert refused.status == 2 and "--usual" in refused.err
    said = call(capsys, "tolerance", file, "--usual", "--draws", 64)
    assert said.status == 0 and "materials.block.specific_heat" in said.out


def test_sensitivity(case: Path, tmp_path: Path, capsys: Capsys) -> None:
    picture = tmp_path / "hangs_on.png"
    said = call(capsys, "sensitivity", case, "--rows", 32, "--of", "mean_temperature", "-o", picture)
    assert said.status == 0
    assert "32 base rows" in said.out and "mean_temperature [degC]" in said.out
    assert picture.read_bytes().startswith(b"\x89PNG")
    told = one_object(call(capsys, "sensitivity", case, "--rows", 16, "--json").out)
    assert [o["name"] for o in told["sensitivity"]["outputs"]] == ["mean_temperature", "hottest_temperature"]
    refused = call(capsys, "sensitivity", case, "--of", "colour")
    assert refused.status == 2 and '"colour" is no outcome' in refused.err


def test_window(case: Path, tmp_path: Path, capsys: Capsys) -> None:
    picture, table = tmp_path / "map.png", tmp_path / "map.h5"
    asked = ("window", case, "--across", f"{HEAT}=40s..100 s", "--up", f"{THICK}=8mm..12mm", "--points", 12)
    said = call(capsys, *asked, "-o", picture, "-o", table)
    assert said.status == 0 and said.err == ""
    assert f"across {HEAT}  40 s to 100 s, 12 points" in said.out
    assert "inside: every limit is met" in said.out and f"wrote {table}" in said.out
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert read_table(table).rows == 144
    told = one_object(call(capsys, *asked, "--json").out)
    assert told["window_map"]["present"]["inside"] is True
    never = ("window", case, "--across", f"{HEAT}=1s..5s", "--up", f"{THICK}=8mm..12mm", "--points", 5, "--json")
    assert call(capsys, *never).status == 1


def test_settings_that_go_together(capsys: Capsys, tmp_path: Path) -> None:
    """Both panels under one name: `a+b`, or a name of [tolerances]."""
    tray = (CASES / "how_long_to_heat_a_4mm_abs_tray.toml").read_text(encoding="utf-8").split("[tolerances]")[0]
    paths = "stations.heat.upper.temperature", "stations.heat.lower.temperature"
    file = tmp_path / "tray.toml"
    file.write_text(
        f'{tray}[tolerances]\n"panels" = {{ paths = {list(paths)}, plus_minus = "± 15 K" }}\n', encoding="utf-8"
    )
    for name in ("panels", "+".join(paths)):
        asked = ("--across", f"{name}=390 degC..450degC", "--up", "sheet.start=10degC..30degC", "--at", "77 s")
        block = one_object(call(capsys, "window", file, *asked, "--points", 8, "--json").out)["window_map"]
        assert block["across"]["paths"] == list(paths)
        assert block["present"]["across"] == pytest.approx(420.0)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("tolerance", "--at", "65 mm"), "--at"),
        (("tolerance", "--at", "99999 h"), "out of range"),
        (("tolerance", "-o", "parts.pdf"), "must end in .png or .svg"),
        (("sensitivity", "--over", "sweep"), "[sweep.inputs]"),
        (("window", "--across", HEAT, "--up", f"{THICK}=8mm..12mm"), "PATH=FROM..TO"),
        (("window", "--across", f"{HEAT}=40s..40s", "--up", f"{THICK}=8mm..12mm"), "both ends are the same"),
        (("window", "--across", f"{HEAT}=40s..50s", "--up", "body.layers.block.thicknes=8mm..12mm"), "did you mean"),
        (("window", "--across", f"{HEAT}=40s..50s", "--up", f"{THICK}=8..12"), "length"),
        (("window", "--across", f"{HEAT}=40s..50s", "--up", f"{HEAT}=40s..60s"), "two different settings"),
    ],
)
def test_refusals(case: Path, capsys: Capsys, arguments: tuple[str, ...], words: str) -> None:
    said = call(capsys, arguments[0], case, *arguments[1:])
    assert said.status == 2 and said.out == ""
    assert words in said.err
