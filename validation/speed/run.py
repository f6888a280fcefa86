"""Measure thermokit beside the peers in one process, print the ratios and write the table of README.md."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.single import solve
from validation.speed import clock, fipy_direct, settings, tune
from validation.speed.case_file import text
from validation.speed.equations import KELVIN, PROBLEMS, sweep
from validation.speed.peers import cvode, ivp, stack
from validation.speed.problems import batch, output_times, reference

README = Path(__file__).with_name("README.md")
START, END = "<!-- measured: begin -->", "<!-- measured: end -->"
TOLERANCE = 0.03  # K, thermokit's default
Table = list[list[str]]


def largest(found: np.ndarray, exact: np.ndarray) -> float:
    """Largest difference of any cell in any row [K]."""
    return float(np.abs(found - exact).max())


def single_runs(repeats: int, with_fipy: bool) -> Table:
    """The reference case: CPU time, error and ratio of each contender."""
    rows: Table = [["single run", "P1", "P2", "P3"]]
    columns: dict[str, list[str]] = {}
    for name, kind in PROBLEMS.items():
        exact, rod = tune.reference(name), kind(kind.reference)  # type: ignore[attr-defined]
        problem, times = reference(name), output_times(name)
        contenders: dict[str, Callable[[], np.ndarray]] = {
            "thermokit": lambda p=problem, t=times, d=settings.THERMOKIT[name][0]: (  # type: ignore[misc]
                solve(p, t, d).temperature - KELVIN
            ),
            "CVODE": lambda r=rod, n=name: cvode(r, n, settings.CVODE[n])[:, 0],  # type: ignore[misc]
        }
        for method, chosen in (("BDF", settings.BDF), ("Radau", settings.RADAU)):
            for title, sparse in (("sparse", True), ("dense", False)):
                work = partial(ivp, rod, name, method, chosen[name], sparse)
                contenders[f"{method}, {title}"] = lambda w=work: w()[:, 0]  # type: ignore[misc]
        errors = {title: largest(work(), exact) for title, work in contenders.items()}
        taken = clock.interleave(contenders, repeats)
        ours = taken["thermokit"]
        for title, seconds in taken.items():
            cell = f"{1e3 * seconds:.1f} ms, {errors[title]:.3f} K"
            columns.setdefault(title, []).append(cell if title == "thermokit" else f"{cell}, ×{seconds / ours:.2f}")
        if with_fipy:
            spent = clock.once(lambda n=name: fipy_direct.run(n)[0])  # type: ignore[misc]
            cell = f"{spent[0]:.1f} s, {largest(spent[1], exact):.2f} K, ×{spent[0] / ours:.0f}"
            columns.setdefault("FiPy, implicit Euler", []).append(cell)
    return rows + [[title, *cells] for title, cells in columns.items()]


def sweeps(cases: int, repeats: int, few: int) -> Table:
    """Many different cases: CPU time a case. Peers run on some of them, which are scaled to a case."""
    rows: dict[str, list[str]] = {}
    for name, kind in PROBLEMS.items():
        inputs, problem = sweep(name, cases), batch(name, cases)
        hundred, stacking, allowed = batch(name, 100), settings.STACKED[name], settings.THERMOKIT[name][1]
        times, times_hundred = output_times(name, cases), output_times(name, 100)

        def stacked(picked: Any, chosen: settings.Setting, k: Any = kind, n: str = name, i: Any = inputs) -> None:
            cvode(stack(k, n, i, picked), n, chosen)

        size = stacking.cases
        contenders: dict[str, tuple[int, Callable[[], Any]]] = {
            f"thermokit, {cases} cases": (cases, partial(solve_batch, problem, cases, times, allowed)),
            "thermokit, ends of stations only": (cases, partial(solve_batch, problem, cases, None, allowed)),
            "CVODE, stacked": (
                size * few,
                lambda s=size, c=stacking.setting, f=stacked: [f(range(i * s, i * s + s), c) for i in range(few)],  # type: ignore[misc]
            ),
            "CVODE, case by case": (
                10,
                lambda c=settings.ONE_BY_ONE[name], f=stacked: [f([i], c) for i in range(10)],  # type: ignore[misc]
            ),
        }
        if name in settings.ALIKE:
            key, alike = settings.ALIKE[name]
            order = np.argsort(inputs[key])
            picks = [order[int(share * (cases - alike.cases)) :][: alike.cases] for share in (0.1, 0.5, 0.9)]
            contenders["CVODE, like cases stacked"] = (
                3 * alike.cases,
                lambda p=picks, c=alike.setting, f=stacked: [f(x, c) for x in p],  # type: ignore[misc]
            )
        taken = clock.interleave({title: work for title, (_, work) in contenders.items()}, repeats)
        per_case = {title: seconds / contenders[title][0] for title, seconds in taken.items()}
        parts = [range(i, min(i + size, 100)) for i in range(0, 100, size)]
        small = clock.interleave(
            {
                "thermokit": partial(solve_batch, hundred, 100, times_hundred, allowed),
                "ends": partial(solve_batch, hundred, 100, None, allowed),
                "CVODE": lambda p=parts, c=stacking.setting, f=stacked: [f(x, c) for x in p],  # type: ignore[misc]
            },
            max(3, 3 * repeats),
        )
        ours, ends = (per_case[title] for title in list(per_case)[:2])
        for title, seconds in per_case.items():
            ratio = "" if title.startswith("thermokit") else f", ×{seconds / ours:.2f} (×{seconds / ends:.2f})"
            rows.setdefault(title, ["–"] * 3)[list(PROBLEMS).index(name)] = f"{1e6 * seconds:.0f} µs{ratio}"
        whole, brief, theirs = (small[key] for key in ("thermokit", "ends", "CVODE"))
        cells = [
            f"{1e4 * whole:.0f} µs",
            f"{1e4 * brief:.0f} µs",
            f"{1e4 * theirs:.0f} µs, ×{theirs / whole:.2f} (×{theirs / brief:.2f})",
        ]
        titles = ("thermokit, 100 cases", "thermokit, 100 cases, ends only", "CVODE, 100 cases stacked")
        for title, cell in zip(titles, cells, strict=True):
            rows.setdefault(title, ["–"] * 3)[list(PROBLEMS).index(name)] = cell
    return [["a case of a sweep", "P1", "P2", "P3"], *([title, *cells] for title, cells in rows.items())]


def worst_errors() -> Table:
    """Errors over the first 60 cases of the sweep, and how well energy closes."""
    titles = ("thermokit, worst", "thermokit, nine in ten below", "energy, of the heat turned over")
    table: Table = [["60 different cases", *PROBLEMS]]
    table += [[title] for title in (*titles, "CVODE, stacked, worst", "CVODE, case by case, worst")]
    for name, kind in PROBLEMS.items():
        exact, inputs = tune.references(name), sweep(name, tune.CASES)
        found = solve_batch(batch(name, tune.CASES), tune.CASES, output_times(name, tune.CASES), TOLERANCE)
        each = np.abs(np.moveaxis(found.temperature, 2, 1) - KELVIN - exact).max(axis=(0, 2))
        worst, usual = each.max(), np.quantile(each, 0.9)
        table[1].append(f"{worst:.3f} K, {worst / TOLERANCE:.1f} tolerances")
        table[2].append(f"{usual:.3f} K, {usual / TOLERANCE:.1f} tolerances")
        table[3].append(f"{found.mismatch.max():.0e}")
        for row, size, chosen in (
            (4, settings.STACKED[name].cases, settings.STACKED[name].setting),
            (5, 1, settings.ONE_BY_ONE[name]),
        ):
            parts = [range(i, i + size) for i in range(0, tune.CASES, size)]
            theirs = np.concatenate([cvode(stack(kind, name, inputs, p), name, chosen) for p in parts], axis=1)
            table[row].append(f"{largest(theirs, exact):.3f} K")
    return table


def memory(cases: int) -> Table:
    """Resident memory of a process that solves a batch, the interpreter and its imports included."""
    table: Table = [["memory", "P1", "P2", "P3"]]
    for title, rows in ((f"{cases} cases, ends of stations", False), (f"{cases} cases, all output rows kept", True)):
        cells = ["{:.0f} MB (imports {:.0f})".format(*clock.peak_memory(name, cases, rows)) for name in PROBLEMS]
        table.append([title, *cells])
    return table


def starts(repeats: int) -> Table:
    """Commands against bare interpreter starts, in processes of their own."""
    program = "import sys; from thermokit.cli import main; sys.argv[0] = 'thermokit'; main()"
    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / "p1.toml"
        case.write_text(text(), encoding="utf-8")
        result = str(Path(folder) / "p1.h5")
        taken = clock.children(
            {
                "bare": [sys.executable, "-c", "pass"],
                "numpy": [sys.executable, "-c", "import numpy"],
                "help": [sys.executable, "-c", program, "--help"],
                "run": [sys.executable, "-c", program, "run", str(case), "-o", result],
            },
            repeats,
        )
    table: Table = [["command", "CPU", "wall", "against"]]
    for title, key, base, words in (
        ("`thermokit --help`", "help", "bare", "`python -c pass`"),
        ("`thermokit run` on P1", "run", "numpy", '`python -c "import numpy"`'),
    ):
        (cpu, wall), (cpu_0, wall_0) = taken[key], taken[base]
        cells = [f"{1e3 * x:.0f} ms, ×{x / y:.1f}" for x, y in ((cpu, cpu_0), (wall, wall_0))]
        table.append([title, *cells, f"{words}: {1e3 * cpu_0:.0f} ms CPU, {1e3 * wall_0:.0f} ms wall"])
    return table


def markdown(table: Table) -> str:
    """A table as Markdown."""
    lines = ["| " + " | ".join(row) + " |" for row in table]
    return "\n".join([lines[0], "|" + "---|" * len(table[0]), *lines[1:]])


def main() -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(prog="python -m validation.speed", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer cases and repeats, no FiPy, nothing written")
    options = parser.parse_args()
    quick = options.quick
    cases = 1000 if quick else 10_000
    parts: list[Callable[[], Table]] = [
        partial(single_runs, 3 if quick else 9, not quick),
        partial(sweeps, cases, 1 if quick else 3, 1 if quick else 3),
        worst_errors,
        partial(memory, cases),
        partial(starts, 3 if quick else 9),
    ]
    made = []
    for part in parts:
        made.append(markdown(part()))
        print(made[-1], end="\n\n", flush=True)
    if not quick:
        before, _, rest = README.read_text(encoding="utf-8").partition(START)
        _, _, after = rest.partition(END)
        README.write_text(f"{before}{START}\n\n" + "\n\n".join(made) + f"\n\n{END}{after}", encoding="utf-8")
    return 0
