"""`thermokit fit`: what it prints, writes and draws, and how it says no."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from calling import call, one_object

from thermokit.case import load_case

# a plate so thin and conducting that it is one temperature: rho c L dT/dt = h (T_air - T)
PLATE = """\
# a plate in an oven, with a comment
title = "Plate in an oven"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "plate"
material = "stuff"
thickness = "1 mm"
[materials.stuff]
conductivity = "200 W/m/K"
density = "2700 kg/m3"
specific_heat = "900 J/kg/K"
[[stations]]
name = "oven"
duration = "10 min"
[stations.outer]
convection = { coefficient = "20 W/m2/K", air = "100 degC" } # on a line of its own
[fit]
[fit.unknowns]
"stations.oven.outer.convection.coefficient" = { from = "5 W/m2/K", to = "80 W/m2/K", spacing = "log" }
[[fit.channels]]
column = "T1"
at = "outer_face"
offset = "0 K"
"""
PATH = "stations.oven.outer.convection.coefficient"


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """The case, and a log made by the closed form with 30 W/m2/K."""
    times = np.arange(0.0, 601.0, 10.0)
    noise = 0.3 * np.random.default_rng(8).normal(size=len(times))
    plate = 100.0 - 80.0 * np.exp(-times * 30.0 / (2700.0 * 900.0 * 1e-3)) + noise
    log = tmp_path / "plate.csv"
    log.write_text("time [s],T1 [degC]\n" + "".join(f"{t:g},{v:.2f}\n" for t, v in zip(times, plate, strict=True)))
    case = tmp_path / "plate.toml"
    case.write_text(PLATE)
    return case, log


def test_it_fits_prints_writes_and_draws(
    files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    case, log = files
    fitted, picture = tmp_path / "fitted.toml", tmp_path / "fit.svg"
    said = call(capsys, "fit", case, log, "-o", fitted, "--plot", picture)
    assert said.status == 0
    assert PATH in said.out
    assert "61 rows, columns parted by commas" in said.out
    assert f"New case: {fitted}" in said.out
    new = load_case(fitted)
    # the closed form leaves out the plate's own resistance, Biot number 1e-4
    assert new.value(PATH) == pytest.approx(30.0, rel=0.02)
    text = fitted.read_text()
    assert text.startswith("# a plate in an oven, with a comment\n")
    assert "# on a line of its own; fitted to plate.csv" in text
    assert text.count("\n") == PLATE.count("\n")
    drawn = picture.read_text(encoding="utf-8")
    for words in ("T1 at outer face", "difference [K]", "temperature [°C]", "time of the case [s]", "low bound"):
        assert words in drawn


def test_json_is_one_object(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    said = call(capsys, "fit", *files, "--json")
    assert said.status == 0
    found = one_object(said.out)
    (value,) = found["values"]
    assert value["name"] == PATH
    assert value["low"] < 30.0 < value["high"]
    assert value["unit"] == "W/m2/K"
    assert found["sound"] is True
    assert found["channels"][0]["root_mean_square_K"] == pytest.approx(0.3, rel=0.3)


def test_the_log_may_stand_in_the_case(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    case, _ = files
    case.write_text(PLATE.replace("[fit]\n", '[fit]\nlog = "plate.csv"\n'))
    assert call(capsys, "fit", case).status == 0


def test_what_is_not_told_is_a_failure(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    case, log = files
    case.write_text(PLATE.replace(f'"{PATH}"', '"materials.stuff.conductivity"').replace("W/m2/K\", to", "W/m/K\", to")
                    .replace('"80 W/m2/K", spacing', '"80 W/m/K", spacing'))  # fmt: skip
    said = call(capsys, "fit", case, log)
    assert said.status == 1
    assert "not told" in said.out or "at its bound" in said.out


MISTAKES = {
    "no log": ((), "no log is named", 2),
    "no such log": (("none.csv",), "no such file", 2),
    "over the case": (("plate.csv", "-o", "plate.toml"), "that is the case itself", 2),
    "no case file": (("plate.csv", "-o", "fitted.h5"), "ends in .toml", 2),
    "no picture": (("plate.csv", "--plot", "fit.pdf"), ".png or .svg", 2),
}


@pytest.mark.parametrize(("more", "words", "status"), MISTAKES.values(), ids=MISTAKES.keys())
def test_mistakes_are_plain(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    more: tuple[str, ...], words: str, status: int,
) -> None:  # fmt: skip
    monkeypatch.chdir(files[0].parent)
    said = call(capsys, "fit", "plate.toml", *more)
    assert said.status == status
    assert words in said.err
    assert said.out == ""


def test_a_case_without_fit_is_told_where_to_look(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    case, log = files
    case.write_text(PLATE[: PLATE.index("[fit]")])
    said = call(capsys, "fit", case, log)
    assert said.status == 2
    assert "thermokit explain fit" in said.err
    assert call(capsys, "explain", "fit").status == 0
    assert "unknowns" in call(capsys, "explain", "fit").out
