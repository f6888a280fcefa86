"""Cases on disc that begin from each other's results."""

from __future__ import annotations

from pathlib import Path

import pytest

from thermokit.case import load_case
from thermokit.processes.run import run_case
from thermokit.results.model import Result
from thermokit.results.write import write

# -- two runs joined ---------------------------------------------------------------------------------------------------

BAND = """\
title = "Band of compound on a roll, then in air"
process = "body"
[body]
shape = "{shape}"
{radius}
start = "25 degC"
[[body.layers]]
name = "band"
material = "fender"
thickness = "4 mm"
cells = {cells}
kinetics = ["pvc_paste_gelation", "pvc_paste_fusion"]
[[body.layers]]
name = "backing"
material = "pp"
thickness = "2 mm"
cells = 16
[materials.fender.recipe]
resin = 100
plasticiser = {{ kind = "dop", parts = 60 }}
stabiliser = {{ parts = 2.5 }}
"""
RECIPE = """\
[materials.fender.recipe]
resin = 100
plasticiser = { kind = "dop", parts = 60 }
"""
ROLL = """\
[[stations]]
name = "roll"
duration = "150 s"
[stations.inner]
contact = { coefficient = "600 W/m2/K", temperature = "190 degC" }
"""
AIR = """\
[[stations]]
name = "air"
duration = "80 s"
[stations.outer]
convection = { coefficient = "60 W/m2/K", air = "25 degC" }
"""
ACCURACY = '[accuracy]\ntemperature = "0.02 K"\n'
PLANE = {"shape": "plane", "radius": "", "cells": 24}


def on_disc(text: str, folder: Path, name: str) -> tuple[Result, Path]:
    """Result of a case and its file."""
    case_file = folder / f"{name}.toml"
    case_file.write_text(text, encoding="utf-8")
    result = run_case(load_case(case_file))
    assert result.status == "finished"
    write(result, case_file.with_suffix(".h5"))
    return result, case_file.with_suffix(".h5")


def begun_from(text: str, file: str = "first.h5") -> str:
    """The same case begun from a result: without the start of the body."""
    process = text[text.index("process = ") :].split("\n")[0]
    return text.replace(process, f'{process}\nstart_from = "{file}"').replace('start = "25 degC"\n', "")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("runs")


@pytest.fixture(scope="module")
def first(folder: Path) -> Result:
    """A band after the roll."""
    return on_disc(BAND.format(**PLANE) + ROLL + ACCURACY, folder, "first")[0]
