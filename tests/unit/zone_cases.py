"""A small oven whose zones are set: 2 x 3 zones over 6 x 4 spots keep the runs short."""

from __future__ import annotations

OVEN = """\
# Locker lid.
title = "Locker lid"
process = "sheet"
[materials.lid]
conductivity = "0.18 W/m/K"
density = "1050 kg/m3"
specific_heat = "1900 J/kg/K"
[sheet]
material = "lid"
thickness = "4 mm"
start = "20 degC"
length = "600 mm"
width = "400 mm"
spots = [6, 4]
emissivity = 0.9
[[stations]]
name = "heat"
kind = "panels"
duration = "90 s"
[stations.upper]
temperature = "420 degC"      # as it was left
rows = 2
columns = 3
size = ["700 mm", "500 mm"]
gap = "150 mm"
[stations.lower]
temperature = "420 degC"
rows = 2
columns = 3
size = ["700 mm", "500 mm"]
gap = "150 mm"
[stations.air]
temperature = "60 degC"
coefficient = "8 W/m2/K"
[[stations]]
kind = "air"
duration = "4 s"
[stations.air]
temperature = "23 degC"
coefficient = "10 W/m2/K"
[zones]
lowest = "200 degC"
highest = "600 degC"
symmetry = "none"
target = "150 degC"
"""
FINE = OVEN.replace("rows = 2", "rows = 4").replace("columns = 3", "columns = 6").replace("[6, 4]", "[12, 8]")
#: the same zones set by power; 14 kW/m2 is not enough for even corners
POWER = (
    OVEN.replace('temperature = "420 degC"', 'power = 0.5\ninstalled = "14 kW/m2"')
    .replace('lowest = "200 degC"\n', "")
    .replace('highest = "600 degC"\n', "")
)


def changed(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text
