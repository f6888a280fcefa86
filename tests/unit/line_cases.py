"""Line cases that tests build on, as text."""

from __future__ import annotations

#: S9 of the acceptance scenarios: 0.30 mm PVC over a hot roll
WEB = """
process = "line"
[line]
product = "web"
speed = "12 m/min"
start = "25 degC"
width = "1 m"
[[line.layers]]
name = "web"
material = "stuff"
thickness = "0.30 mm"
[materials.stuff]
conductivity = "0.17 W/m/K"
density = "1350 kg/m3"
specific_heat = "1300 J/kg/K"
[line.air]
temperature = "25 degC"
coefficient = "8 W/m2/K"
[[stations]]
name = "hot roll"
kind = "roll"
diameter = "300 mm"
wrap = "180 deg"
temperature = "150 degC"
contact = "500 W/m2/K"
[stations.limits]
mean_least = "122 degC"
mean_most = "130 degC"
[accuracy]
temperature = "0.1 K"
"""
SPAN = """
[[stations]]
name = "span"
kind = "span"
length = "0.4 m"
"""
SECOND = """
[[stations]]
name = "second roll"
kind = "roll"
diameter = "300 mm"
wrap = "180 deg"
temperature = "150 degC"
contact = "500 W/m2/K"
side = "face"
"""
#: S12: coated cloth, lamps at 90 %, drum
CLOTH = """
process = "line"
[line]
product = "cloth"
speed = "10 m/min"
start = "25 degC"
[[line.layers]]
name = "cloth"
material = "polyester"
thickness = "0.25 mm"
mass = "120 g/m2"
[materials.polyester]
conductivity = "0.06 W/m/K"
density = "480 kg/m3"
specific_heat = "1300 J/kg/K"
[materials.paste]
conductivity = "0.16 W/m/K"
density = "1250 kg/m3"
specific_heat = "1740 J/kg/K"
[line.air]
temperature = "25 degC"
coefficient = "8 W/m2/K"
emissivity = 0.6
[[stations]]
name = "knife"
kind = "coat"
[[stations.layers]]
name = "coat"
material = "paste"
mass = "300 g/m2"
thickness = "0.24 mm"
start = "25 degC"
[[stations]]
name = "lamps"
kind = "lamps"
setting = 0.9
[[stations.zones]]
length = "1.5 m"
power = "16 kW/m2"
[[stations]]
name = "drum"
kind = "drum"
diameter = "600 mm"
wrap = "270 deg"
temperature = "185 degC"
contact = "300 W/m2/K"
[limits]
hottest = "205 degC"
held = { temperature = "170 degC", time = "5 s", layer = "coat" }
[[events]]
kind = "stop"
[accuracy]
temperature = "0.3 K"
"""
#: a tube of constant properties through one bath
TUBE = """
process = "line"
[line]
product = "pipe"
speed = "6 m/min"
diameter = "40 mm"
start = "150 degC"
[[line.layers]]
name = "wall"
material = "stuff"
thickness = "2 mm"
[materials.stuff]
conductivity = "200 W/m/K"
density = "900 kg/m3"
specific_heat = "2000 J/kg/K"
[[stations]]
name = "bath"
kind = "bath"
length = "3 m"
temperature = "20 degC"
coefficient = "300 W/m2/K"
[stations.limits]
back_most = "60 degC"
[accuracy]
temperature = "0.05 K"
"""
#: a covered wire of constant properties, preheated
WIRE = """
process = "line"
[line]
product = "wire"
speed = "60 m/min"
start = "20 degC"
[line.conductor]
material = "metal"
diameter = "1.6 mm"
contact = "3000 W/m2/K"
[materials.metal]
conductivity = "380 W/m/K"
density = "8900 kg/m3"
specific_heat = "390 J/kg/K"
[materials.stuff]
conductivity = "0.3 W/m/K"
density = "920 kg/m3"
specific_heat = "2300 J/kg/K"
[[stations]]
name = "wheel"
kind = "preheat"
temperature = "100 degC"
[[stations]]
name = "crosshead"
kind = "coat"
[[stations.layers]]
name = "covering"
material = "stuff"
thickness = "1.2 mm"
start = "210 degC"
[line.air]
temperature = "25 degC"
coefficient = "30 W/m2/K"
emissivity = 0.9
[[stations]]
name = "gap"
kind = "span"
length = "0.3 m"
[[stations]]
name = "trough"
kind = "bath"
length = "10 m"
temperature = "20 degC"
coefficient = "2500 W/m2/K"
[stations.limits]
back_most = "60 degC"
[accuracy]
temperature = "0.2 K"
"""
