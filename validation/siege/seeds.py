"""What is mutated: the example cases and the tests' own cases, with their values and what may stand at each."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from thermokit.case import load_case
from thermokit.case.walk import Leaf, leaves

ROOT = Path(__file__).parents[2]
CASES = ROOT / "cases"
TEXTS = ROOT / "tests" / "unit" / "case_texts"

#: a wall whose run takes some 20 ms: it is fitted to every log that can be read
FITTED = """\
title = "A wall beside a log"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "stuff"
thickness = "10 mm"
cells = 10
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "60 s"
[stations.outer]
convection = { coefficient = "50 W/m2/K", air = "150 degC" }
[output]
every = "10 s"
[[output.probes]]
name = "core"
at = "5 mm"
[limits.core_temperature]
at_least = "40 degC"
[tolerances]
"body.layers.0.thickness" = "± 3 %"
[fit]
log = "logged_run_abs_tray.csv"
[fit.unknowns]
"stations.heat.outer.convection.coefficient" = { from = "5 W/m2/K", to = "500 W/m2/K" }
[[fit.channels]]
column = "1"
at = "core"
"""


@dataclass(frozen=True)
class Seed:
    """A case that is right. text, raw : as written and as tomllib reads it; leaves : its single values; quick : runs in about a
    second.
    """

    name: str
    text: str
    raw: dict[str, Any]
    leaves: tuple[Leaf, ...]
    quick: bool


#: seeds whose run takes below about 1.5 s of CPU
QUICK = frozenset(
    (
        "body",
        "cylinder",
        "mill",
        "fitted",
        "does_a_gap_filling_cement_joint_boil_in_acrylic",
        "how_hot_does_the_back_of_a_two_layer_wall_get",
        "does_a_40mm_polyester_winch_block_stay_below_200_degc",
        "how_cold_does_a_calendered_sheet_reach_its_wind_up",
        "how_does_the_dwell_of_an_abs_tray_change_with_its_thickness",
        "how_even_is_the_face_of_a_platen_with_four_heater_bores",
        "how_far_is_a_phenolic_tiller_knob_cured_after_60s",
        "how_hot_must_the_oven_be_for_a_cast_chock_in_an_hour",
        "how_long_to_anneal_a_30mm_acrylic_block_in_a_logged_oven",
    )
)


@cache
def seeds() -> tuple[Seed, ...]:
    """All seeds, by name."""
    found = []
    for path in sorted([*CASES.glob("*.toml"), *TEXTS.glob("*.toml")], key=lambda path: path.name):
        text = path.read_text(encoding="utf-8")
        found.append(
            Seed(path.stem, text, tomllib.loads(text), tuple(leaves(load_case(path))), path.stem in QUICK),
        )
    from thermokit.case import parse_case

    case = parse_case(FITTED, str(CASES / "fitted.toml"))
    return (*found, Seed("fitted", FITTED, tomllib.loads(FITTED), tuple(leaves(case)), True))


@cache
def measured_files() -> dict[str, bytes]:
    """The measured files of the examples, by name."""
    return {path.name: path.read_bytes() for path in sorted(CASES.glob("*.csv"))}
