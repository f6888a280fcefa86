"""Figures of a mould: faces along the part, the shot as a bar, the mould from shot to shot; from the file as from the run."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from moulds import SMALL, changed

from thermokit.case import parse_case
from thermokit.figures.mould import drawings
from thermokit.figures.section import drawings as of_section
from thermokit.figures.style import drawn
from thermokit.results.read import read
from thermokit.results.write import write
from thermokit.studies.run import run

pytestmark = pytest.mark.long


@cache
def result() -> Any:
    feed = '[feed]\ngate_thickness = "1.5 mm"\nrunner_diameter = "4 mm"\n[mould]'
    return run(parse_case(changed(SMALL, ("[mould]", feed), ('material = "stuff"', 'material = "pp"'))))


def words(kind: str, of: Any) -> str:
    return " ".join(drawn(drawings(of, of_section(of))[kind](of), "svg").decode().split())


def test_all_are_drawn_from_the_file(tmp_path: Path) -> None:
    file = tmp_path / "mould.h5"
    write(result(), file)
    again = read(file)
    assert set(drawings(again, of_section(again))) == {"section", "history", "faces", "cycle", "shots"}
    for kind in ("faces", "cycle", "shots"):
        assert words(kind, again) == words(kind, result())


def test_they_say_what_they_show() -> None:
    faces, cycle, shots = (words(kind, result()) for kind in ("faces", "cycle", "shots"))
    for text in ("cavity face [°C]", "core face [°C]", "when the mould opens", "when the melt comes", "[mm]"):
        assert text in faces
    for text in (
        "hold",
        "cooling",
        "open",
        "gate frozen",
        "runner set",
        "mould face [°C]",
        "time from the end of the fill [s]",
    ):
        assert text in cycle
    for text in ("shot, from the first", "mould face [°C]", "settled to 0.5 K"):
        assert text in shots


def test_another_section_keeps_its_own() -> None:
    assert drawings(run(parse_case(WALL)), {"section": str}) == {"section": str}  # type: ignore[dict-item, comparison-overlap]


WALL = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "steel_mild"
thickness = "10 mm"
[[stations]]
duration = "10 s"
"""
