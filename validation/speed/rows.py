"""What a sweep costs beside the bare solver, and what it saves: rows through chunks, journal and table on disk.

The case is the 4 mm tray of the examples for 75 s: thickness x panel temperature x stock. CPU time of one process, contenders
in turn, so that a busy machine falls on all of them:

- the batched solver alone, given the same bodies and mesh, keeping nothing; in the sweep's chunks, and all rows at once;
- the sweep in one process, from the case to the table on disk: mesh, judgement of every row, chunks, merged table;
- one run after another as `thermokit run` does them (a sample, scaled);
- windows of a sought dwell for many rows at once, against one search after another (a sample, scaled).

Then wall time of the command with one and with two processes, in turn; on a machine that does other work this says little.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from thermokit.case import load_case, parse_case
from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes import process_of
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.answers_plan import some_rows
from thermokit.studies.dwell import window_of
from thermokit.studies.run import run
from thermokit.studies.sweep import chunk_of, sweep
from thermokit.studies.sweep_rows import rows_of
from validation.speed.clock import ROOT, children, middle, ratio, turns
from validation.speed.tables import Rows, table

TRAY = ROOT / "cases" / "how_long_to_heat_a_4mm_abs_tray.toml"
FIXED, SAMPLE, WINDOWS, WINDOW_SAMPLE = "75 s", 40, 1000, 10


def text(rows: int) -> str:
    """The tray for a fixed time with a grid of about so many rows."""
    side = round(rows ** (1.0 / 3.0))
    last = max(2, round(rows / side**2))
    whole = TRAY.read_text(encoding="utf-8").replace('duration = "find"', f'duration = "{FIXED}"')
    return f"""{whole}
[sweep.inputs]
"sheet.thickness" = {{ from = "2 mm", to = "6 mm", count = {side} }}
"stations.heat.upper.temperature" = {{ from = "380 degC", to = "460 degC", count = {side} }}
"sheet.start" = {{ from = "10 degC", to = "40 degC", count = {last} }}
"""


def rate(values: list[float], rows: int) -> dict[str, Any]:
    """A row's CPU time [s], and rows a second."""
    each = statistics.median(values) / rows
    return {"s": each, "note": f"{1.0 / each:.0f} rows/s"}


def through_files(rows: int, repeats: int) -> Rows:
    """CPU time a row of each contender."""
    case = parse_case(text(rows), str(TRAY))
    values = rows_of(case)
    count = len(values["sheet.thickness"])
    plan = plan_of(case, values)
    size = chunk_of(plan, count)
    chunks = [some_rows(values, slice(i, i + size)) for i in range(0, count, size)]

    def bare() -> None:
        for chunk in chunks:
            course = process_of(case.with_values(chunk)).course(plan.edges)
            follow_batch(course, len(chunk["sheet.thickness"]), plan.tolerance)

    def at_once() -> None:
        follow_batch(process_of(case.with_values(values)).course(plan.edges), count, plan.tolerance)

    def whole() -> None:
        with tempfile.TemporaryDirectory() as folder:
            sweep(case, Path(folder) / "table.h5", workers=1)

    few = np.linspace(0, count - 1, SAMPLE).astype(int)

    def singly() -> None:
        for i in few:
            run(case.with_values({path: float(column[i]) for path, column in values.items()}))

    taken = turns({"bare": bare, "once": at_once, "sweep": whole, "runs": singly}, repeats)
    share = {"x": ratio(taken["bare"], taken["sweep"])}
    cells = sum(len(e) - 1 for e in plan.edges)
    return [
        [f"sweep of {count} rows, {cells} cells, case to table", rate(taken["sweep"], count), ""],
        [f"batched solver alone, in the sweep's chunks of {size}", rate(taken["bare"], count), share],
        [
            "batched solver alone, all rows at once",
            rate(taken["once"], count),
            {"x": ratio(taken["once"], taken["sweep"])},
        ],
        [
            f"one run after another ({SAMPLE} of them)",
            rate(taken["runs"], SAMPLE),
            {"x": ratio(taken["runs"], taken["sweep"], count / SAMPLE)},
        ],
    ]


def windows(rows: int, sample: int, repeats: int) -> Rows:
    """CPU time a row of the windows of a sought dwell."""
    case = load_case(TRAY)
    draw = np.random.default_rng(5)
    values = {
        "sheet.thickness": draw.uniform(2e-3, 6e-3, rows),
        "stations.heat.upper.temperature": draw.uniform(660.0, 730.0, rows),
        "sheet.start": draw.uniform(283.0, 313.0, rows),
    }
    plan = plan_of(case, values)

    def singly() -> None:
        for i in range(sample):
            one: Any = some_rows(values, i)
            window_of(case.with_values({path: float(value) for path, value in one.items()}))

    taken = turns({"rows": lambda: answers_of(plan, values), "searches": singly}, repeats)
    return [
        [f"window of each of {rows} rows", rate(taken["rows"], rows), ""],
        [
            f"one search after another ({sample} of them)",
            rate(taken["searches"], sample),
            {"x": ratio(taken["searches"], taken["rows"], rows / sample)},
        ],
    ]


def processes(rows: int, repeats: int) -> Rows:
    """Wall time of the command with one and two processes."""
    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / "tray.toml"
        case.write_text(text(rows), encoding="utf-8")
        code = (
            "import sys, shutil, pathlib; from thermokit.studies.sweep import sweep\n"
            "if __name__ == '__main__':\n"
            "    t = pathlib.Path(sys.argv[2]); t.unlink(missing_ok=True); sweep(sys.argv[1], t, int(sys.argv[3]))\n"
        )
        program = Path(folder) / "program.py"
        program.write_text(code, encoding="utf-8")
        target = str(Path(folder) / "table.h5")
        taken = children({n: [sys.executable, str(program), str(case), target, n] for n in ("1", "2")}, repeats)
    (cpu_1, wall_1), (cpu_2, wall_2) = middle(taken["1"]), middle(taken["2"])
    walls = ratio([wall for _, wall in taken["1"]], [wall for _, wall in taken["2"]])
    return [
        ["one process", {"s": cpu_1}, {"wall": wall_1}, ""],
        ["two processes", {"s": cpu_2}, {"wall": wall_2}, {"x": walls}],
    ]


def measure(quick: bool) -> dict[str, Any]:
    """The part `rows`."""
    rows, repeats = (500, 1) if quick else (10_000, 3)
    through = through_files(rows, repeats) + windows(100 if quick else WINDOWS, 3 if quick else WINDOW_SAMPLE, repeats)
    return {
        "tables": {
            "rows": table(["a row of a sweep", "CPU", "against the batch with its files"], through),
            "processes": table(
                ["the same from the command", "CPU", "wall", "one against two"], processes(rows, repeats)
            ),
        }
    }
