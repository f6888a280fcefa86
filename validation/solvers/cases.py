"""The cases: at least two of every layered kind, each with the answer that a shop would want from it.

Where a case leaves a duration to be found, a number near what is found stands here, so that all solvers have the same case.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from validation.solvers.table import TEMPERATURE, Answer

Array = NDArray[np.float64]
HERE = Path(__file__).parent / "cases"
EXAMPLES = Path(__file__).parents[2] / "cases"
ZERO = 273.15


@dataclass(frozen=True, eq=False)
class Entry:
    """A case: its kind, what is of interest in it, the file, values that are given, its answer, solvers beside the three."""

    kind: str
    title: str
    file: Path
    answer: Answer
    values: Mapping[str, float] = field(default_factory=dict)
    also: tuple[str, ...] = ()

    def load(self) -> Any:
        """The case with its values."""
        import thermokit

        case = thermokit.load_case(self.file)
        return case.with_values(dict(self.values)) if self.values else case


def lowest(rows: Array) -> Array:
    """Of all places that have it."""
    return np.asarray(np.nanmin(rows, axis=1))


def highest(rows: Array) -> Array:
    """Of all places that have it."""
    return np.asarray(np.nanmax(rows, axis=1))


def inner(rows: Array) -> Array:
    """The inner face."""
    return rows[:, 0]


def outer(rows: Array) -> Array:
    """The outer face."""
    return rows[:, -1]


def _when(words: str, pick: Callable[[Array], Array], celsius: float, leg: int = -1) -> Answer:
    return Answer(f"time at which {words} {celsius:g} degC", "s", TEMPERATURE, pick, celsius + ZERO, leg)


def _grown(words: str, state: str, pick: Callable[[Array], Array], level: float, leg: int = -1) -> Answer:
    return Answer(f"time at which {words} {level:g}", "s", state, pick, level, leg)


def _at_end(words: str, pick: Callable[[Array], Array]) -> Answer:
    return Answer(f"{words} at the end", "degC", TEMPERATURE, pick, shift=ZERO)


def _share(words: str, state: str, pick: Callable[[Array], Array]) -> Answer:
    return Answer(f"{words} at the end", "1", state, pick)


ENTRIES = (
    Entry(
        "body",
        "two-layer wall: latent heat, contact, k(T), prescribed face, radiation and convection",
        EXAMPLES / "how_hot_does_the_back_of_a_two_layer_wall_get.toml",
        _when("the back reaches", outer, 65.0),
        also=("IDA",),
    ),
    Entry(
        "body",
        "net float: solid ball of polypropylene in an oven",
        EXAMPLES / "how_long_to_anneal_a_50mm_net_float.toml",
        _when("the centre reaches", inner, 110.0),
        {"stations.soak.duration": 4000.0},
    ),
    Entry(
        "sheet",
        "clear cloche: radiation taken in and given off in depth",
        EXAMPLES / "how_long_to_heat_a_clear_petg_cloche.toml",
        _at_end("coldest place", lowest),
        {"stations.heat.duration": 69.0},
        ("IDA",),
    ),
    Entry(
        "sheet",
        "seed tray: opaque between panels, drawn onto a tool that has a body and is warm from the shots before",
        EXAMPLES / "how_long_to_cool_a_vacuum_formed_seed_tray.toml",
        _when("the free face has cooled to", inner, 85.0),
        {"stations.form.duration": 13.0},
    ),
    Entry(
        "charge",
        "tiller knob: thin phenolic, cure with its heat",
        EXAMPLES / "how_far_is_a_phenolic_tiller_knob_cured_after_60s.toml",
        _grown("the lowest degree of cure reaches", "cure_degree", lowest, 0.75),
        also=("IDA", "FiPy (plain)"),
    ),
    Entry(
        "charge",
        "winch block: 40 mm of polyester that heat themselves by 70 K above the mould, then cool on the bench",
        EXAMPLES / "does_a_40mm_polyester_winch_block_stay_below_200_degc.toml",
        _grown("the lowest degree of cure reaches", "cure_degree", lowest, 0.85),
    ),
    Entry(
        "charge",
        "soap dish: five legs between steel halves, touched by one or both, loose and pressed",
        EXAMPLES / "how_long_to_cure_a_melamine_soap_dish_in_a_steel_mould.toml",
        _grown("the lowest degree of cure reaches", "cure_degree", lowest, 0.85, leg=3),
        {"stations.cure.duration": 95.0},
    ),
    Entry(
        "dip",
        "boat-hook grip: paste gels on a hot solid rod, what has gelled stays, fuses and is quenched",
        EXAMPLES / "how_long_must_a_hot_steel_rod_dwell_for_a_2mm_grip.toml",
        _share("lowest degree of fusion", "fusion_degree", lowest),
        {"stations.dip.duration": 58.0},
    ),
    Entry(
        "dip",
        "porcelain former: dipped cold twice, two coats of what clings",
        EXAMPLES / "what_wall_does_a_cold_dipped_porcelain_former_take.toml",
        _share("lowest degree of fusion", "fusion_degree", lowest),
    ),
    Entry(
        "mill",
        "boat-cover compound: ten legs between nine folds, friction by power",
        EXAMPLES / "how_long_to_mill_a_pvc_compound_for_boat_covers.toml",
        _share("lowest degree of gelling", "gel_degree", lowest),
        {"stations.mill.duration": 900.0},
    ),
    Entry(
        "mill",
        "band warmed by friction that falls as it softens, folded three times, then in the air",
        HERE / "mill_with_friction.toml",
        _at_end("hottest place", highest),
        also=("IDA",),
    ),
    Entry(
        "cylinder",
        "polystyrene as a plug through three zones about a spreader, friction of the flow",
        EXAMPLES / "how_long_must_the_cycle_be_for_cleat_bodies.toml",
        _at_end("coldest place", lowest),
        {"shot.cycle": 100.0},
        ("IDA", "FiPy (plain)"),
    ),
    Entry(
        "cylinder",
        "polyethylene without a spreader: a solid plug that melts",
        HERE / "cylinder_of_polyethylene.toml",
        _at_end("coldest place", lowest),
    ),
    Entry(
        "line",
        "pipe: crystallises from its skin through sizing die and two baths",
        EXAMPLES / "how_fast_may_a_32mm_hdpe_pipe_run_through_its_baths.toml",
        _when("the bore has cooled to", inner, 65.0),
        {"line.speed": 0.15},
    ),
    Entry(
        "line",
        "covered wire: copper under polyethylene, contact between them, troughs",
        EXAMPLES / "how_long_a_trough_does_a_covered_wire_need.toml",
        _when("the conductor has cooled to", inner, 60.0),
        {"stations.cold trough.length": 16.0},
    ),
    Entry(
        "line",
        "calendered sheet: drawn from nip to nip, friction in them, bowls and chill rolls now on one face, now on the other",
        EXAMPLES / "how_cold_does_a_calendered_sheet_reach_its_wind_up.toml",
        _at_end("hottest place", highest),
        also=("IDA",),
    ),
    Entry(
        "line",
        "coated cloth: lamps in part through the coat, drum and chill drums by contact, gelling and fusion",
        EXAMPLES / "how_fast_may_coated_boat_cover_cloth_run_under_its_lamps.toml",
        _share("lowest degree of fusion", "fusion_degree", lowest),
        {"line.speed": 0.165},
    ),
)
KINDS = tuple(dict.fromkeys(entry.kind for entry in ENTRIES))
