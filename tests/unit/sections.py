"""Small sections whose answers have closed forms, written as case files."""

from __future__ import annotations

BAR = """\
title = "A bar"
process = "section"
[section]
start = "20 degC"
{more}
[[section.regions]]
name = "bar"
material = "stuff"
outline = [["{left} mm", "0 mm"], ["{right} mm", "0 mm"], ["{right} mm", "10 mm"], ["{left} mm", "10 mm"]]
[[section.edges]]
name = "inner"
from = ["{left} mm", "0 mm"]
to = ["{left} mm", "10 mm"]
[[section.edges]]
name = "outer"
from = ["{right} mm", "0 mm"]
to = ["{right} mm", "10 mm"]
[materials.stuff]
conductivity = "{conductivity} W/m/K"
density = "2000 kg/m3"
specific_heat = "1000 J/kg/K"
"""
HELD = """\
[[stations]]
name = "hold"
{duration}
faces.inner.temperature = "100 degC"
faces.outer.temperature = "20 degC"
"""
COOLED = """\
[[stations]]
name = "cool"
duration = {duration}
faces.outer.convection = {{ coefficient = "200 W/m2/K", air = "20 degC" }}
"""


def bar(more: str = "", left: float = 0.0, right: float = 40.0, conductivity: float = 0.5) -> str:
    """A bar 10 mm high between two x, of 0.5 W/m/K, with its ends named inner and outer."""
    return BAR.format(more=more, left=left, right=right, conductivity=conductivity)


def steady_bar(axis: bool = False, left: float = 0.0, right: float = 40.0) -> str:
    """Its ends held at 100 and 20 degC, in the steady state."""
    more = 'steady = true\nsymmetry = "axis"' if axis else "steady = true"
    return bar(more, left, right) + HELD.format(duration="")


def block(duration: str = '"100 s"') -> str:
    """One of 200 W/m/K that starts at 120 degC: 40 mm deep behind a face of 200 W/m2/K (Biot 0.04), nearly one temperature."""
    return bar(conductivity=200.0).replace('start = "20 degC"', 'start = "120 degC"') + COOLED.format(duration=duration)
