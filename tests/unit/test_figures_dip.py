"""Figures of a dip: the wall against the dwell, an oven and all that stands in it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from thermokit.case import parse_case
from thermokit.figures.dip import drawings
from thermokit.figures.style import drawn
from thermokit.results.read import read
from thermokit.results.write import write
from thermokit.studies.run import run

TEXT = (Path(__file__).parent / "case_texts" / "dip.toml").read_text(encoding="utf-8")


@cache
def result() -> Any:
    return run(parse_case(TEXT))


def words(kind: str, of: Any) -> str:
    return " ".join(drawn(drawings(of)[kind](of), "svg").decode().split())


def test_both_are_drawn_from_the_file(tmp_path: Path) -> None:
    file = tmp_path / "dip.h5"
    write(result(), file)
    again = read(file)
    assert set(drawings(again)) == {"wall", "oven"}
    assert words("wall", again) == words("wall", result())


def test_they_say_what_they_show() -> None:
    wall, oven = words("wall", result()), words("oven", result())
    for text in ("gelled wall [mm]", "dipped face [°C]", "dwell in the paste [s]", "dip as it is"):
        assert text in wall
    for text in ("time in the oven", "heaters", "doors", "own former"):
        assert text in oven
