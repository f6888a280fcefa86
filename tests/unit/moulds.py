"""A small mould case for tests: constant properties, three channels a side, and changes to it."""

from __future__ import annotations

from pathlib import Path

TEXT = (Path(__file__).parent / "case_texts" / "mould.toml").read_text(encoding="utf-8")
SMALL = """
process = "mould"
[part]
material = "stuff"
melt = "230 degC"
thickness = "3 mm"
length = "60 mm"
width = "100 mm"
[mould]
width = "80 mm"
[mould.cavity]
height = "30 mm"
[mould.core]
height = "30 mm"
[[circuits]]
name = "cavity"
side = "cavity"
temperature = "20 degC"
flow = "8 L/min"
diameter = "8 mm"
depth = "12 mm"
pitch = "20 mm"
count = 3
length = "100 mm"
[[circuits]]
name = "core"
side = "core"
temperature = "20 degC"
flow = "8 L/min"
diameter = "8 mm"
depth = "12 mm"
pitch = "20 mm"
count = 3
length = "100 mm"
[cycle]
hold = "3 s"
cooling = "15 s"
[accuracy]
temperature = "0.3 K"
[limits]
ejection_centre = "90 degC"
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "2000 J/kg/K"
"""


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """A text with changes, each of which must be there."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text
