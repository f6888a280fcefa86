"""The figure of a shaped part: made for domes and trays, labelled, through the command, and not where there is none."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner
from shaped import blown, pressed
from sheets import case, panels, plain
from test_figures import pixels, texts

from thermokit.cli import plot
from thermokit.figures.shaping import draw_shaping, drawings
from thermokit.processes.run import run_case
from thermokit.results.write import write


def test_dome_and_tray_are_drawn_with_their_numbers() -> None:
    for given, names in ((blown(), ("pole", "middle", "ring")), (pressed(), ("flat", "wall", "rib"))):
        result = run_case(given)
        figure = draw_shaping(result)
        said = " | ".join(texts(figure))
        assert all(name in said for name in names)
        assert "%" in said and "thickness left [mm]" in said and "at most 90" in said
        ink = (pixels(figure) < 0.6).all(axis=2)
        assert 0.003 < ink.mean() < 0.35
        assert len(figure.axes) == (4 if names[0] == "pole" else 2)


def test_only_where_the_sheet_is_shaped() -> None:
    assert drawings(run_case(case(panels(plain(), plain())))) == {}


def test_through_the_command(tmp_path: Path) -> None:
    file = tmp_path / "dome.h5"
    write(run_case(blown()), file)
    target = tmp_path / "dome.png"
    done = CliRunner().invoke(plot.command, [str(file), "--kind", "shaping", "-o", str(target)])
    assert done.exit_code == 0, done.output
    assert target.stat().st_size > 10_000
