"""What is killed: commands that write files, each with what it needs beside it and what it writes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from validation.siege.seeds import CASES, FITTED, ROOT

WALL = FITTED.split("[fit]")[0]
SWEPT = (
    WALL
    + """
[sweep]
outcomes = ["mean_temperature", "hottest_time", "hottest_depth"]
[sweep.inputs]
"body.layers.0.thickness" = { from = "6 mm", to = "12 mm", count = 12 }
"body.start" = { from = "10 degC", to = "30 degC", count = 8 }
"""
)
TRAY = "how_long_to_heat_a_4mm_abs_tray.toml"
RESINS = tuple(f"dsc_winch_block_resin_{rate}K_min.csv" for rate in ("5", "10", "20"))


@dataclass(frozen=True)
class Work:
    """A command: its words, the files that it writes, and what is put beside it first.

    over : earlier files stand under the final names; share : weight among the kills; where : folder of what it writes.
    """

    name: str
    words: tuple[str, ...]
    writes: tuple[str, ...]
    furnish: Callable[[Path], None]
    over: bool
    share: float
    module: str = "thermokit"
    where: str = "."


def _texts(**texts: str) -> Callable[[Path], None]:
    def furnish(folder: Path) -> None:
        for name, text in texts.items():
            (folder / f"{name}.toml").write_text(text, encoding="utf-8")

    return furnish


def _fitted(folder: Path) -> None:
    """A wall and the log that it is fitted to."""
    (folder / "fitted.toml").write_text(FITTED, encoding="utf-8")
    _examples("logged_run_abs_tray.csv")(folder)


def _examples(*names: str) -> Callable[[Path], None]:
    def furnish(folder: Path) -> None:
        for name in names:
            shutil.copy(CASES / name, folder / name)

    return furnish


def _result(folder: Path) -> None:
    """The wall and its result, by the solver of this process."""
    import thermokit

    (folder / "wall.toml").write_text(WALL, encoding="utf-8")
    thermokit.write_result(thermokit.run(thermokit.load_case(folder / "wall.toml")), folder / "wall.h5")


def _tree(folder: Path) -> None:
    """A copy of the project, whose own pages are written."""
    for name in ("thermokit", "validation", "cases"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "*.part"))


def _run(what: str, file: str, furnish: Callable[[Path], None], over: bool, share: float) -> Work:
    words = "over an earlier result" if over else "to a new file"
    return Work(f"run of {what} {words}", ("run", file, "-o", "out.h5"), ("out.h5",), furnish, over, share)


_CHARGE = "how_far_is_a_phenolic_tiller_knob_cured_after_60s.toml"
_SECTION = "how_even_is_the_face_of_a_platen_with_four_heater_bores.toml"
_LINE = "how_cold_does_a_calendered_sheet_reach_its_wind_up.toml"
_ZONES = "how_to_set_the_zones_of_an_oven_with_a_dead_zone.toml"
_SHAPED = "how_long_to_cool_a_vacuum_formed_seed_tray.toml"
_SWEEP = ("sweep", "swept.toml", "-o", "out.h5", "--csv", "out.csv", "--workers")

WORKS = (
    _run("a body", "wall.toml", _texts(wall=WALL), True, 24),
    _run("a body", "wall.toml", _texts(wall=WALL), False, 10),
    _run("a charge", _CHARGE, _examples(_CHARGE), True, 12),
    _run("a section", _SECTION, _examples(_SECTION), True, 10),
    _run("a line", _LINE, _examples(_LINE), False, 6),
    _run("a sheet", TRAY, _examples(TRAY), True, 6),
    Work("dwell", ("dwell", TRAY, "-o", "out.h5"), ("out.h5",), _examples(TRAY), True, 8),
    Work("sweep, one process", (*_SWEEP, "1"), ("out.h5", "out.csv"), _texts(swept=SWEPT), False, 16),
    Work("sweep, two workers", (*_SWEEP, "2"), ("out.h5", "out.csv"), _texts(swept=SWEPT), False, 26),
    Work("show --csv", ("show", "wall.h5", "--csv", "out.csv"), ("out.csv",), _result, True, 12),
    Work("show --vtk", ("show", "wall.h5", "--vtk", "out.vtk"), ("out.vtk",), _result, True, 8),
    Work("plot", ("plot", "wall.h5", "-o", "out.png"), ("out_history.png", "out_profile.png"), _result, True, 12),
    Work("setting, HTML", ("setting", "wall.h5", "-o", "out.html"), ("out.html",), _result, True, 10),
    Work("setting, PDF", ("setting", "wall.h5", "-o", "out.pdf"), ("out.pdf",), _result, True, 8),
    Work("chart", ("chart", TRAY, "--against", "sheet.thickness=3mm..5mm", "--points", "3", "-o", "out.pdf"), ("out.pdf",),
         _examples(TRAY), True, 4),
    Work("fit", ("fit", "fitted.toml", "-o", "out.toml"), ("out.toml",), _fitted, True, 8),
    Work("kinetics fit", ("kinetics", "fit", *RESINS, "-o", "out.toml"), ("out.toml",), _examples(*RESINS), False, 6),
    Work("zones", ("zones", _ZONES, "-o", "out.toml"), ("out.toml",), _examples(_ZONES), True, 4),
    Work("methods", ("methods", _SHAPED, "--method", "vacuum_plug", "-o", "out.toml"), ("out.toml",), _examples(_SHAPED), True, 6),
    Work("new", ("new", "sheet", "-o", "out.toml"), ("out.toml",), _texts(), False, 8),
    Work("the book of speed", ("--render",),
         ("README.md", *(f"work_precision_{name}.png" for name in ("MS", "P1", "P2", "P3"))), _tree, True, 4,
         "validation.speed", "validation/speed"),
)  # fmt: skip
