"""P1 and MS as a user would write them: case files, for timing the command from start to written result."""

from __future__ import annotations

import numpy as np

from validation.speed.equations import Sheet


def text(nodes: int = 241) -> str:
    """The case file; its heat capacity is a table from 0 to 240 degC."""
    t = np.linspace(0.0, 240.0, nodes)
    at = ",\n".join(f'"{x:g} degC"' for x in t)
    cp = ",\n".join(f'"{x:.6f} J/kg/K"' for x in Sheet.specific_heat(t))
    panel = """
convection = { coefficient = "8 W/m2/K", air = "60 degC" }
radiation = [
  { emissivity = 0.85, surround = "400 degC", view = 0.7 },
  { emissivity = 0.85, surround = "30 degC", view = 0.3 },
]
"""
    still = """
convection = { coefficient = "6 W/m2/K", air = "25 degC" }
radiation = { emissivity = 0.85, surround = "25 degC" }
"""
    return f"""title = "Reference problem P1: a sheet between panels, in air, on a tool"
process = "body"

[body]
shape = "plane"
start = "23 degC"

[[body.layers]]
name = "sheet"
material = "glassy"
thickness = "4 mm"
cells = 40

[materials.glassy]
conductivity = "0.19 W/m/K"
density = "1190 kg/m3"
specific_heat = {{ temperature = [{at}], value = [{cp}] }}

[[stations]]
name = "heat"
duration = "180 s"
[stations.inner]{panel}[stations.outer]{panel}
[[stations]]
name = "transfer"
duration = "10 s"
[stations.inner]{still}[stations.outer]{still}
[[stations]]
name = "cool"
duration = "120 s"
[stations.inner]
convection = {{ coefficient = "40 W/m2/K", air = "25 degC" }}
[stations.outer]
contact = {{ coefficient = "500 W/m2/K", temperature = "50 degC" }}
"""


#: MS with both its halves
MOULD = """\
title = "MS with both its halves, as a case"
process = "mould"
[part]
material = "stuff"
melt = "230 degC"
thickness = "3 mm"
length = "100 mm"
width = "100 mm"
[mould]
width = "120 mm"
packed_contact = "2000 W/m2/K"
shrunk_contact = "2000 W/m2/K"
[mould.cavity]
height = "60 mm"
[mould.core]
height = "60 mm"
[[circuits]]
name = "cavity"
side = "cavity"
temperature = "25 degC"
flow = "8 L/min"
diameter = "10 mm"
depth = "15 mm"
pitch = "20 mm"
count = 5
length = "100 mm"
[[circuits]]
name = "core"
side = "core"
temperature = "25 degC"
flow = "8 L/min"
diameter = "10 mm"
depth = "15 mm"
pitch = "20 mm"
count = 5
length = "100 mm"
[cycle]
fill = "1 s"
hold = "4 s"
cooling = "15 s"
open = "5 s"
[limits]
ejection_centre = "90 degC"
[materials.stuff]
conductivity = "0.19 W/m/K"
density = "1050 kg/m3"
specific_heat = "2000 J/kg/K"
"""
