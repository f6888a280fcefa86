"""P1 as a user would write it: a case file, for timing the command from start to written result."""

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
