"""Figures of a section: what is drawn, and that the words on it are those of the case."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sections import steady_bar

from thermokit.case import load_case, parse_case
from thermokit.errors import DataError
from thermokit.figures.history import draw_history
from thermokit.figures.profile import draw_profile
from thermokit.figures.section import drawings
from thermokit.figures.style import drawn
from thermokit.results.read import read
from thermokit.results.write import write
from thermokit.studies.run import run

CASE = Path(__file__).parent / "case_texts" / "section.toml"


@cache
def result() -> Any:
    return run(load_case(CASE))


def words(kind: str, of: Any) -> str:
    return " ".join(drawn(drawings(of)[kind](of), "svg").decode().split())


def test_all_are_drawn_from_the_file(tmp_path: Path) -> None:
    file = tmp_path / "mould.h5"
    write(result(), file)
    again = read(file)
    assert set(drawings(again)) == {"section", "edges", "history"}
    for kind in drawings(again):
        assert words(kind, again).startswith("<?xml")


def test_they_say_what_they_show() -> None:
    section = words("section", result())
    for text in ("x [mm]", "y [mm]", "temperature [°C]", "at 20", "at 25", "bottom", "c1", "block"):
        assert text in section, text
    edges = words("edges", result())
    for text in ("distance along the edge", "bottom", "parting", "c2"):
        assert text in edges, text
    history = words("history", result())
    for text in ("probe corner", "time [s]", "when last there", "NOT MET", "open"):
        assert text in history, text


def test_proportion_is_true() -> None:
    from thermokit.figures.section import draw_section

    panel = draw_section(result()).axes[0]
    assert panel.get_aspect() == 1.0
    x, y = panel.get_xlim(), panel.get_ylim()
    assert x[0] <= 0.0 <= 120.0 <= x[1]
    assert y[0] <= 0.0 <= 63.0 <= y[1]


def test_a_steady_state_has_no_history() -> None:
    ring = run(parse_case(steady_bar(axis=True, left=20.0, right=60.0)))
    assert set(drawings(ring)) == {"section", "edges"}
    assert "radius [mm]" in words("section", ring)
    assert "steady state" in words("section", ring)


@pytest.mark.parametrize("draw", [draw_history, draw_profile])
def test_figures_of_layers_refuse(draw: Any) -> None:
    with pytest.raises(DataError, match="result of a section"):
        draw(result())
