"""`thermokit chart`: the numbers are those of `thermokit dwell`, the picture is made, what cannot be is refused in plain words."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import SOUGHT, call, one_object

from thermokit.case import parse_case
from thermokit.studies.chart import round_values
from thermokit.studies.window_map import axis_of

Capsys = pytest.CaptureFixture[str]
AIR = "stations.heat.outer.convection.air"


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    file = tmp_path / "wall.toml"
    file.write_text(SOUGHT + '[limits.outer_face_temperature]\nat_most = "110 degC"\n', encoding="utf-8")
    return file


def test_numbers_and_pictures(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    """In hotter air the wall is warm sooner; what one case alone gives stands in the chart; above some air there is no window."""
    files = [tmp_path / f"chart.{kind}" for kind in ("png", "svg", "pdf")]
    arguments = ("--against", f"{AIR}=130degC..190degC", "--points", "4", "--family", "body.start=10degC,20degC")
    said = call(capsys, "chart", wall, *arguments, "--json", *(w for f in files for w in ("-o", f)))
    report = one_object(said.out)
    assert said.status == 0 and report["unit"] == "s" and report["sought"] == "stations.heat.duration"
    assert (
        report["against"]["values"] == pytest.approx([130.0, 150.0, 170.0, 190.0])
        and report["against"]["unit"] == "degC"
    )
    cold, warm = report["curves"]
    assert (cold["value"], warm["value"]) == (pytest.approx(10.0), pytest.approx(20.0))
    for curve in (cold, warm):
        assert np.all(np.diff([e for e in curve["earliest"] if e is not None]) < 0.0)
    assert all(c > w for c, w in zip(cold["earliest"], warm["earliest"], strict=True) if None not in (c, w))
    alone = one_object(call(capsys, "dwell", wall, "--json").out)["dwell"]
    for name in ("earliest", "latest", "recommended"):
        assert warm[name][1] == pytest.approx(alone[name], rel=2e-3), "air of 150 degC, start of 20 degC"
    assert warm["earliest_limit"][1] == "core_temperature" and warm["latest_limit"][1] == "outer_face_temperature"
    png, svg, pdf = (f.read_bytes() for f in files)
    assert png.startswith(b"\x89PNG") and pdf.startswith(b"%PDF")
    for words in ("Thick line: set this", "outer convection air [°C]", "body start", "duration [s]"):
        assert words in svg.decode(), words


def test_table_and_gaps(wall: Path, capsys: Capsys) -> None:
    text = wall.read_text(encoding="utf-8").replace('"110 degC"', '"25 degC"')
    wall.write_text(text, encoding="utf-8")
    said = call(capsys, "chart", wall, "--against", f"{AIR}=150degC..190degC", "--points", "3")
    assert said.status == 1 and said.out.count("no window") == 3, (
        "the core cannot be at 40 degC under a face of 25 degC"
    )


def test_round_values_between_the_ends() -> None:
    case = parse_case(SOUGHT)
    axis = axis_of(case, "body.layers.layer_1.thickness", 2.5e-3, 8e-3)
    assert axis.shown(round_values(axis)) == pytest.approx([2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    axis = axis_of(case, AIR, 393.15, 473.15)
    assert axis.shown(round_values(axis)) == pytest.approx([120, 130, 140, 150, 160, 170, 180, 190, 200])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--against", "stations.heat.duration=10s..20s"), "is what is sought"),
        (("--against", f"{AIR}=150degC"), "is no range"),
        (("--against", f"{AIR}=150degC..190degC", "--family", "body.start"), "is no list of 1 to 6 values"),
        (("--against", f"{AIR}=150degC..190degC", "--family", f"{AIR}=150degC"), "stands in the chart twice"),
        (("--against", f"{AIR}=150degC..190degC", "-o", "chart.txt"), "must end in .png, .svg or .pdf"),
        (("--against", "body.strat=10degC..20degC"), "did you mean body.start"),
    ],
)
def test_refusals(wall: Path, capsys: Capsys, arguments: tuple[str, ...], words: str) -> None:
    said = call(capsys, "chart", wall, *arguments)
    assert said.status == 2 and words in said.err
    assert said.out == ""


def test_nothing_sought(wall: Path, capsys: Capsys) -> None:
    wall.write_text(SOUGHT.replace('{ find = ["5 s", "2000 s"] }', '"60 s"'), encoding="utf-8")
    said = call(capsys, "chart", wall, "--against", f"{AIR}=150degC..190degC")
    assert said.status == 2 and "nothing is sought in this case" in said.err
