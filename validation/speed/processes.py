"""``python -m validation.speed.processes``: what batches and shortcuts of the processes save, as ratios in one run.

- a map of 600 spots of a sheet, through panels, air and tool: all at once against spot after spot;
- 1 000 dips of three coats each, at once against one after another (a sample of them, scaled);
- the state in which tools settle: found from few shots against shot after shot until they stand still.

Both sides are thermokit, so these are no comparison with a peer: they say what the batch and the cyclic solver are worth.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

from typing import Any  # noqa: E402

import numpy as np  # noqa: E402

from thermokit.case import load_case, parse_case  # noqa: E402
from thermokit.conduction.follow import follow  # noqa: E402
from thermokit.conduction.follow_batch import follow_batch  # noqa: E402
from thermokit.conduction.mesh import base_edges  # noqa: E402
from thermokit.processes import process_of  # noqa: E402
from thermokit.processes.media import slowness  # noqa: E402
from thermokit.processes.sheet_shots import settled_tools, shot_fields  # noqa: E402
from validation.speed.clock import ROOT, interleave  # noqa: E402

SPOTS, DIPS, SAMPLE = 600, 1000, 12
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


def the_map() -> tuple[float, float]:
    """(all spots at once, spot after spot) [s] for 600 spots."""
    whole = process_of(parse_case(SHEET), "all")
    edges = edges_of(whole)
    ones = [process_of(whole.case, ((spot, 0),)) for spot in range(0, SPOTS, SPOTS // SAMPLE)]
    taken = interleave(
        {
            "once": lambda: follow_batch(whole.course(edges), SPOTS, TOLERANCE),
            "after": lambda: [follow(one.course(edges), NONE, TOLERANCE) for one in ones],
        },
        3,
    )
    return taken["once"], taken["after"] * SPOTS / len(ones)


def the_dips() -> tuple[float, float]:
    """(1 000 at once, one after another) [s]."""
    case = parse_case(DIP)
    draw = np.random.default_rng(7)
    paths = {"stations.dip_1.duration": (10.0, 40.0), "stations.preheat_1.temperature": (413.15, 453.15)}
    values = {path: draw.uniform(*bounds, DIPS) for path, bounds in paths.items()}
    many = process_of(case.with_values(values))
    edges = edges_of(process_of(case))
    ones = [process_of(case.with_values({p: float(v[i]) for p, v in values.items()})) for i in range(SAMPLE)]
    taken = interleave(
        {
            "once": lambda: follow_batch(many.course(edges), DIPS, TOLERANCE),
            "after": lambda: [follow(one.course(edges), NONE, TOLERANCE) for one in ones],
        },
        1,
    )
    return taken["once"], taken["after"] * DIPS / SAMPLE


def the_shots() -> tuple[float, float, int, int]:
    """(settled directly, shot after shot) [s], shots that each took."""
    (file,) = (ROOT / "cases").glob("how_long_to_cool_a_potting*.toml")
    case = load_case(file).with_values({"stations.cool.duration": 60.0})
    process = process_of(case)
    edges = edges_of(process)
    followed = next(f for f in shot_fields(process, edges, TOLERANCE) if f.name == "shots/touch_temperature")
    brute = int(np.argmax(followed.values == followed.values[-1])) + 1
    taken = interleave(
        {
            "direct": lambda: settled_tools(process, edges, None, TOLERANCE),
            "brute": lambda: shot_fields(process, edges, TOLERANCE),
        },
        3,
    )
    return taken["direct"], taken["brute"], settled_tools(process, edges, None, TOLERANCE).evaluations, brute


def main() -> None:
    """Print the table."""
    at_once, after = the_map()
    dips, one_by_one = the_dips()
    direct, brute, few, many = the_shots()
    print("| what | shortcut | the long way | ratio |\n|---|---|---|---|")
    print(
        f"| map of {SPOTS} spots | {at_once:.2f} s at once | {after:.2f} s spot after spot | ×{after / at_once:.1f} |"
    )
    print(
        f"| {DIPS} dips of three coats | {dips:.1f} s at once | {one_by_one:.0f} s each alone | ×{one_by_one / dips:.1f} |"
    )
    print(f"| settled tool | {direct:.2f} s, {few} shots | {brute:.2f} s, {many} shots | ×{brute / direct:.1f} |")


if __name__ == "__main__":
    main()
