"""A small wall with couples in it, and logs made of its runs by the single solver, with noise, lags and offsets of their own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from thermokit.case import load_case
from thermokit.processes.run import run_case

WALL = """
title = "A lid between warm air and a cold plate"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "lid"
material = "stuff"
thickness = "6 mm"
[[body.layers]]
name = "back"
material = "stuff"
thickness = "4 mm"
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "oven"
duration = "20 min"
[stations.inner.convection]
coefficient = "25 W/m2/K"
air = "120 degC"
[output]
every = "1 s"
[[output.probes]]
name = "core"
at = "5 mm"
[accuracy]
temperature = "0.05 K"
"""
CHANNELS = """
[[fit.channels]]
column = "face"
at = "inner_face"
offset = "0 K"
[[fit.channels]]
column = "core"
at = "core"
offset = "0 K"
"""
AIR = "stations.oven.inner.convection.air"
COEFFICIENT = "stations.oven.inner.convection.coefficient"
UNKNOWNS = f"""
[fit.unknowns]
"{AIR}" = {{ from = "80 degC", to = "160 degC" }}
"{COEFFICIENT}" = {{ from = "5 W/m2/K", to = "80 W/m2/K", spacing = "log" }}
"""


def write_case(folder: Path, text: str, name: str = "wall.toml") -> Path:
    """The wall with some more text."""
    file = folder / name
    file.write_text(WALL + text, encoding="utf-8")
    return file


def run_of(folder: Path, values: dict[str, float], times: Any) -> dict[str, Any]:
    """Temperatures of both couples [degC] at times [s], by the solver of single runs."""
    result = run_case(load_case(write_case(folder, "", "plain.toml")).with_values(values))
    history = result.history
    face = np.interp(times, history.time, history.inner_face)
    return {"face": face - 273.15, "core": np.interp(times, history.time, result.probes["core"]) - 273.15}


def write_log(folder: Path, times: Any, columns: dict[str, Any], begin: float = 0.0, name: str = "log.csv") -> Path:
    """A log of columns [degC]."""
    lines = [f"time [s];{';'.join(f'{column} [degC]' for column in columns)}"]
    for i, t in enumerate(times):
        lines.append(";".join([f"{t + begin:.3f}", *(f"{values[i]:.4f}" for values in columns.values())]))
    file = folder / name
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file
