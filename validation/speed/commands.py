"""Commands in processes of their own, from start to written result: starts, one case of each kind, and memory of batches."""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from validation.speed.case_file import MOULD, text
from validation.speed.clock import COMMAND, ROOT, child, children, middle, peak_memory, ratio
from validation.speed.equations import PROBLEMS
from validation.speed.machine import yardsticks
from validation.speed.tables import Rows, table

#: kind of case: command and example
EXAMPLES = {
    "body": ("run", "how_hot_does_the_back_of_a_two_layer_wall_get"),
    "sheet": ("dwell", "how_long_to_heat_a_4mm_abs_tray"),
    "charge": ("dwell", "how_long_to_cure_a_6mm_phenolic_tiller_knob"),
    "dip": ("run", "how_thick_a_wall_does_a_thin_aluminium_tube_take"),
    "mill": ("dwell", "how_long_to_mill_a_pvc_compound_for_boat_covers"),
    "cylinder": ("dwell", "how_long_must_the_cycle_be_for_cleat_bodies"),
    "section": ("run", "how_even_is_the_face_of_a_platen_with_four_heater_bores"),
    "mould": ("run", "how_long_must_a_flat_pp_bin_lid_cool"),
    "line": ("run", "how_fast_may_a_32mm_hdpe_pipe_run_through_its_baths"),
}
LONG = 5.0  # s of CPU: what takes longer runs once


def thermokit(*words: str) -> list[str]:
    """The command line of a measured run; the last line printed is its largest memory [kB]."""
    return [sys.executable, "-c", COMMAND, *words]


def memory(quick: bool) -> dict[str, Any]:
    """The part `memory`: resident memory of a process that solves a batch, the interpreter and its imports included."""
    cases = 1000 if quick else 10_000
    rows: Rows = []
    for title, kept in ((f"{cases} cases, ends of stations", False), (f"{cases} cases, all output rows kept", True)):
        line: list[Any] = [title]
        for name in PROBLEMS:
            whole, imports = peak_memory(name, cases, kept)
            line.append({"MB": whole, "note": f"imports {imports:.0f}"})
        rows.append(line)
    return {"tables": {"memory": table(["memory", *PROBLEMS], rows)}}


def starts(quick: bool) -> dict[str, Any]:
    """The part `starts`: commands against bare interpreter starts."""
    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / "p1.toml"
        case.write_text(text(), encoding="utf-8")
        result = str(Path(folder) / "p1.h5")
        taken = children(
            {
                "bare": [sys.executable, "-c", "pass"],
                "numpy": [sys.executable, "-c", "import numpy"],
                "help": thermokit("--help"),
                "run": thermokit("run", str(case), "-o", result),
            },
            3 if quick else 9,
        )
    rows: Rows = []
    for title, key, base, words in (
        ("`thermokit --help`", "help", "bare", "`python -c pass`"),
        ("`thermokit run` on P1", "run", "numpy", '`python -c "import numpy"`'),
    ):
        (cpu, wall), (cpu_0, _) = middle(taken[key]), middle(taken[base])
        times = ratio([c for c, _ in taken[key]], [c for c, _ in taken[base]])
        rows.append([title, {"s": cpu}, {"wall": wall}, {"x": times}, {"note": words, "s": cpu_0}])
    return {"tables": {"starts": table(["command", "CPU", "wall", "CPU against", "of"], rows)}}


def whole(command: str, case: Path, folder: str, most: int, yardstick: float) -> list[Any]:
    """CPU, wall, memory and multiple of the yardstick of a command on a case file."""
    words = [command, str(case), "-o", str(Path(folder) / "result.h5")]
    found: list[tuple[float, float]] = []
    peak = 0.0
    for turn in range(most + 1):
        cpu, wall, said = child(thermokit(*words))
        peak = max(peak, float(said) / 1024.0)
        if turn or cpu > LONG:  # the first compiles modules, which is little beside what takes long
            found.append((cpu, wall))
        if cpu > LONG:
            break
    cpu, wall = middle(found)
    least, greatest = min(c for c, _ in found), max(c for c, _ in found)
    spent = {"s": cpu, "note": "once" if len(found) == 1 else f"{least:.2f} to {greatest:.2f}"}
    return [spent, {"wall": wall}, {"MB": peak}, {"note": f"{cpu / yardstick:.3g}"}]


def kinds(quick: bool) -> dict[str, Any]:
    """The part `commands`: one whole command for each kind of case, from the case file to the result file."""
    chosen = [EXAMPLES[kind] for kind in (("body", "sheet") if quick else EXAMPLES)]
    yardstick = yardsticks()["additions"]
    rows: Rows = []
    with tempfile.TemporaryDirectory() as folder:
        for kind, (command, name) in zip(EXAMPLES, chosen, strict=False):
            case = ROOT / "cases" / f"{name}.toml"
            try:
                cells = whole(command, case, folder, 1 if quick else 3, yardstick)
            except RuntimeError as problem:
                # one example that fails must not cost the others; the table says so
                print(problem, file=sys.stderr)
                cells = ["**failed**", "–", "–", "–"]
            rows.append([kind, f"`{command}` {name.replace('_', ' ')}", *cells])
        if not quick:
            case = Path(folder) / "ms.toml"
            case.write_text(MOULD, encoding="utf-8")
            rows.append(["mould", "`run` MS with both its halves", *whole("run", case, folder, 3, yardstick)])
        bare = statistics.median(child([sys.executable, "-c", "pass"])[0] for _ in range(5))
        rows.append(["–", "the interpreter alone", {"s": bare}, "–", "–", {"note": f"{bare / yardstick:.3g}"}])
    head = ["kind of case", "command and example", "CPU (spread)", "wall", "largest memory", "yardsticks"]
    return {"tables": {"commands": table(head, rows)}}
