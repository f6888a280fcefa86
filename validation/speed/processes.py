"""What batches and shortcuts of the processes save, as ratios in one run.

- a map of 600 spots of a sheet, through panels, air and tool: all at once against spot after spot;
- 1 000 dips of three coats each, at once against one after another (a sample of them, scaled);
- the state in which tools settle: found from few shots against shot after shot until they stand still.

Both sides are thermokit, so these are no comparison with a peer: they say what the batch and the cyclic solver are worth.
"""

from __future__ import annotations

import statistics
from typing import Any

import numpy as np

from thermokit.case import load_case, parse_case
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import base_edges
from thermokit.processes import process_of
from thermokit.processes.media import slowness
from thermokit.processes.sheet_shots import settled_tools, shot_fields
from validation.speed.clock import ROOT, ratio, turns
from validation.speed.tables import Rows, table

SPOTS = 600
TOLERANCE = 0.03
NONE = np.zeros(0)

SHEET = """
title = "Map of a sheet"
process = "sheet"
[sheet]
material = "abs"
thickness = "4 mm"
start = "20 degC"
length = "600 mm"
width = "400 mm"
spots = [30, 20]
[[stations]]
name = "heat"
kind = "panels"
duration = "77 s"
upper = { temperature = "420 degC", size = ["700 mm", "500 mm"], gap = "150 mm", rows = 4, columns = 6 }
lower = { temperature = "420 degC", size = ["700 mm", "500 mm"], gap = "150 mm", rows = 4, columns = 6 }
air = { temperature = "60 degC", coefficient = "8 W/m2/K" }
[[stations]]
name = "transfer"
kind = "air"
duration = "4 s"
air = { temperature = "23 degC", coefficient = "10 W/m2/K" }
[[stations]]
name = "form"
kind = "tool"
duration = "30 s"
draw_ratio = 1.6
lower = { tool = "mould", contact = "250 W/m2/K" }
air = { temperature = "25 degC", coefficient = "40 W/m2/K" }
[tools.mould]
temperature = "65 degC"
"""

DIP = (
    """
title = "Three coats"
process = "dip"
[former]
shape = "plane"
start = "25 degC"
layers = [{ name = "wall", material = "steel_mild", thickness = "4 mm" }]
[paste]
material = "pvc_paste_dip"
temperature = "24 degC"
kinetics = ["pvc_paste_gelation", "pvc_paste_fusion"]
viscosity = "2 Pa s"
"""
    + "".join(
        f"""
[[stations]]
name = "preheat_{i}"
kind = "oven"
duration = "5 min"
temperature = "160 degC"
coefficient = "30 W/m2/K"
[[stations]]
name = "dip_{i}"
kind = "dip"
duration = "20 s"
withdrawal = "5 mm/s"
"""
        for i in (1, 2, 3)
    )
    + """
[[stations]]
name = "fuse"
kind = "oven"
duration = "8 min"
temperature = "190 degC"
coefficient = "30 W/m2/K"
"""
)


def edges_of(process: Any) -> list[Any]:
    """The mesh that most bodies end on."""
    layers = process.layers()
    return base_edges([slowness(medium, t) for _, t, medium, _ in layers], [cells for *_, cells in layers])


def line(what: str, taken: dict[str, list[float]], words: tuple[str, str], times: float = 1.0) -> Rows:
    """A line of the table: the shortcut, the long way (scaled by ``times`` where only a part of it ran), the ratio."""
    brief, long = (statistics.median(taken[key]) for key in ("brief", "long"))
    return [
        [
            what,
            {"s": brief, "note": words[0]},
            {"s": times * long, "note": words[1]},
            {"x": ratio(taken["long"], taken["brief"], times)},
        ]
    ]


def the_map(sample: int, repeats: int) -> Rows:
    """All spots at once against spot after spot."""
    whole = process_of(parse_case(SHEET), "all")
    edges = edges_of(whole)
    ones = [process_of(whole.case, ((spot, 0),)) for spot in range(0, SPOTS, SPOTS // sample)]
    taken = turns(
        {
            "brief": lambda: follow_batch(whole.course(edges), SPOTS, TOLERANCE),
            "long": lambda: [follow(one.course(edges), NONE, TOLERANCE) for one in ones],
        },
        repeats,
    )
    words = ("at once", f"spot after spot, scaled from {len(ones)}")
    return line(f"map of {SPOTS} spots of a sheet, panels to release", taken, words, SPOTS / len(ones))


def the_dips(dips: int, sample: int, repeats: int) -> Rows:
    """Dips at once against one after another."""
    case = parse_case(DIP)
    draw = np.random.default_rng(7)
    paths = {"stations.dip_1.duration": (10.0, 40.0), "stations.preheat_1.temperature": (413.15, 453.15)}
    values = {path: draw.uniform(*bounds, dips) for path, bounds in paths.items()}
    many = process_of(case.with_values(values))
    edges = edges_of(process_of(case))
    ones = [process_of(case.with_values({p: float(v[i]) for p, v in values.items()})) for i in range(sample)]
    taken = turns(
        {
            "brief": lambda: follow_batch(many.course(edges), dips, TOLERANCE),
            "long": lambda: [follow(one.course(edges), NONE, TOLERANCE) for one in ones],
        },
        repeats,
    )
    return line(f"{dips} dips of three coats", taken, ("at once", f"each alone, scaled from {sample}"), dips / sample)


def the_shots(repeats: int) -> Rows:
    """Settled directly against shot after shot."""
    (file,) = (ROOT / "cases").glob("how_long_to_cool_a_potting*.toml")
    case = load_case(file).with_values({"stations.cool.duration": 60.0})
    process: Any = process_of(case)
    edges = edges_of(process)
    followed = next(f for f in shot_fields(process, edges, TOLERANCE) if f.name == "shots/touch_temperature")
    brute = int(np.argmax(followed.values == followed.values[-1])) + 1
    few = settled_tools(process, edges, None, TOLERANCE).evaluations
    taken = turns(
        {
            "brief": lambda: settled_tools(process, edges, None, TOLERANCE),
            "long": lambda: shot_fields(process, edges, TOLERANCE),
        },
        repeats,
    )
    return line("settled tool of the potting tray", taken, (f"{few} shots", f"{brute} shots"))


def measure(quick: bool) -> dict[str, Any]:
    """The part `processes`."""
    repeats = 1 if quick else 3
    rows = the_map(3 if quick else 12, repeats)
    rows += the_dips(50 if quick else 1000, 2 if quick else 12, repeats)
    rows += the_shots(repeats)
    return {"tables": {"processes": table(["what", "shortcut", "the long way", "ratio"], rows)}}
