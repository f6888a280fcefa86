"""``python -m validation.speed.sweeps [--rows N]``: what a sweep costs beside the bare solver, and what it saves.

The case is the 4 mm tray of the examples for 75 s: thickness x panel temperature x stock. CPU time of one process, contenders
in turn, medians, so that a busy machine falls on all of them:

- the batched solver alone, given the same bodies and mesh, keeping nothing; in the sweep's chunks, and all rows at once;
- the sweep in one process, from the case to the table on disk: mesh, judgement of every row, chunks, merged table;
- one run after another as `thermokit run` does them (a sample, scaled);
- windows of a sought dwell for many rows at once, against one search after another (a sample, scaled).

Then wall time of the command with one and with two processes, in turn; on a machine that does other work this says little.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
from pathlib import Path  # noqa: E402
from typing import Any  # noqa: E402

import numpy as np  # noqa: E402

from thermokit.case import load_case, parse_case  # noqa: E402
from thermokit.conduction.follow_batch import follow_batch  # noqa: E402
from thermokit.processes import process_of  # noqa: E402
from thermokit.studies.answers import answers_of, plan_of  # noqa: E402
from thermokit.studies.answers_plan import some_rows  # noqa: E402
from thermokit.studies.dwell import window_of  # noqa: E402
from thermokit.studies.run import run  # noqa: E402
from thermokit.studies.sweep import chunk_of, sweep  # noqa: E402
from thermokit.studies.sweep_rows import rows_of  # noqa: E402
from validation.speed.clock import ROOT, children, interleave  # noqa: E402

TRAY = ROOT / "cases" / "how_long_to_heat_a_4mm_abs_tray.toml"
FIXED, SAMPLE, WINDOWS, WINDOW_SAMPLE = "75 s", 40, 2000, 10


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


def measured(rows: int, repeats: int) -> None:
    """CPU time a row of each contender, as lines."""
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

    taken = interleave({"bare": bare, "at once": at_once, "sweep": whole, "runs": singly}, repeats)
    own = taken["bare"] / count
    print(f"{count} rows, {sum(len(e) - 1 for e in plan.edges)} cells")
    print(f"batched solver alone         {1e6 * own:8.0f} us a row, in chunks of {size} rows as the sweep has them")
    print(f"the same, all rows at once   {1e6 * taken['at once'] / count:8.0f} us a row")
    share = 100.0 * taken["bare"] / taken["sweep"]
    print(
        f"sweep, case to table         {1e6 * taken['sweep'] / count:8.0f} us a row: {share:.0f} % of it is the solver"
    )
    singles = taken["runs"] / SAMPLE
    print(f"one run after another        {1e6 * singles:8.0f} us a row, x {singles * count / taken['sweep']:.0f}")


def windows(repeats: int) -> None:
    """CPU time a row of the windows of a sought dwell."""
    case = load_case(TRAY)
    draw = np.random.default_rng(5)
    values = {
        "sheet.thickness": draw.uniform(2e-3, 6e-3, WINDOWS),
        "stations.heat.upper.temperature": draw.uniform(660.0, 730.0, WINDOWS),
        "sheet.start": draw.uniform(283.0, 313.0, WINDOWS),
    }
    plan = plan_of(case, values)

    def singly() -> None:
        for i in range(WINDOW_SAMPLE):
            one: Any = some_rows(values, i)
            window_of(case.with_values({path: float(value) for path, value in one.items()}))

    taken = interleave({"rows": lambda: answers_of(plan, values), "searches": singly}, repeats)
    own, other = taken["rows"] / WINDOWS, taken["searches"] / WINDOW_SAMPLE
    print(f"window of each of {WINDOWS} rows  {1e3 * own:8.2f} ms a row")
    print(f"one search after another     {1e3 * other:8.2f} ms a row, x {other / own:.0f}")


def processes(rows: int, repeats: int) -> None:
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
        table = str(Path(folder) / "table.h5")
        taken = children({n: [sys.executable, str(program), str(case), table, n] for n in ("1", "2")}, repeats)
    (cpu_1, wall_1), (cpu_2, wall_2) = taken["1"], taken["2"]
    print(f"wall time, one process       {wall_1:8.1f} s (CPU {cpu_1:.1f} s)")
    print(f"wall time, two processes     {wall_2:8.1f} s (CPU {cpu_2:.1f} s), x {wall_1 / wall_2:.2f}")


def main() -> int:
    """Measure and print."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--rows", type=int, default=100_000)
    reader.add_argument("--repeats", type=int, default=3)
    asked = reader.parse_args()
    measured(asked.rows, asked.repeats)
    windows(asked.repeats)
    processes(asked.rows, max(1, asked.repeats - 1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
