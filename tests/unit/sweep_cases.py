"""Cases for sweeps: a plate heated at a steady rate, whose mean temperature is known in closed form."""

from __future__ import annotations

from typing import Any

import numpy as np

PLATE = """\
title = "Plate heated at a steady rate"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "plate"
material = "stuff"
thickness = "4 mm"
cells = 12
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "120 s"
[stations.outer]
heating = "5 kW/m2"
[limits.mean_temperature]
at_least = "80 degC"
"""
THICKNESS, HEATING, START = "body.layers.plate.thickness", "stations.heat.outer.heating", "body.start"


def mean_temperature(thickness: Any, heating: Any, start: Any = 293.15) -> Any:
    """start + q t/(rho c L): all heat stays in the plate. thickness [m], heating [W/m2], start [K]; in degC."""
    return np.asarray(start) - 273.15 + np.asarray(heating) * 120.0 / (1000.0 * 1500.0 * np.asarray(thickness))


def sweep(inputs: str, **keys: Any) -> str:
    """The plate with a sweep: lines of inputs, and keys of [sweep] as TOML."""
    lines = [f"{name} = {value}" for name, value in keys.items()]
    return "\n".join([PLATE, "[sweep]", *lines, "[sweep.inputs]" if inputs else "", inputs, ""])


#: thickness x heating, 160 rows
GRID = (
    f'"{THICKNESS}" = {{ from = "2 mm", to = "6 mm", count = 16 }}\n'
    f'"{HEATING}" = {{ from = "2 kW/m2", to = "8 kW/m2", count = 10, spacing = "log" }}'
)
