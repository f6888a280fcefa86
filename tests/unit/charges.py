"""A phenolic knob and the whole charge case, to be changed by tests."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from thermokit.case import parse_case
from thermokit.conduction.mesh import base_edges
from thermokit.processes.media import slowness

R = 8.314462618
TEXT = (Path(__file__).parent / "case_texts" / "charge.toml").read_text(encoding="utf-8")
KNOB = """
title = "knob"
process = "charge"
[charge]
material = "phenolic"
thickness = "{thickness}"
start = "{start}"
kinetics = "phenolic"
gel_degree = 0.3
{charge}
[materials.phenolic]
conductivity = "0.30 W/m/K"
density = "1380 kg/m3"
specific_heat = "1400 J/kg/K"
[kinetics.phenolic]
form = "nth_order"
state = "cure"
rate_1 = {{ factor = "{factor} 1/s", energy = "80 kJ/mol" }}
n = 1.3
heat = "{heat}"
[mould.upper]
{mould}
[mould.lower]
{mould}
{stations}
{more}
"""
FACTOR = math.exp(80e3 / (R * 438.15)) / 20.0  # one in 20 s at 165 degC
CURE = '[[stations]]\nname = "cure"\nkind = "cure"\nduration = {duration}\n'


def knob(
    duration: str = '"60 s"', start: str = "100 degC", thickness: str = "6 mm", mould: str = "170 degC", charge: str = "",
    more: str = '[limits]\nhottest = "220 degC"\n', before: str = "", after: str = "", heat: str = "60 kJ/kg",
) -> Any:  # fmt: skip
    mould = mould if "=" in mould else f'temperature = "{mould}"'
    stations = before + CURE.format(duration=duration) + after
    more += "" if "[accuracy]" in more else '[accuracy]\ntemperature = "0.5 K"\n'
    return parse_case(
        KNOB.format(start=start, thickness=thickness, mould=mould, charge=charge, more=more, stations=stations,
                    heat=heat, factor=repr(FACTOR)), "k.toml",
    )  # fmt: skip


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    assert value is not None, name
    return float(value)


def edges_of(process: Any) -> list[Any]:
    layers = process.layers()
    return base_edges([slowness(m, t) for _, t, m, _ in layers], [cells for *_, cells in layers])
