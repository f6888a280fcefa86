"""Many different cases of P1 to P3: CPU time a case beside CVODE, and the errors of 60 cases."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from thermokit.conduction.batch import solve_batch
from validation.speed import clock, settings, tune
from validation.speed.equations import KELVIN, PROBLEMS, sweep
from validation.speed.peers import Solver, cvode, stack, vode
from validation.speed.problems import batch, output_times
from validation.speed.singles import largest
from validation.speed.tables import Rows, table

TOLERANCE = 0.03  # K, thermokit's default
ALL, ENDS = "thermokit, all rows kept", "thermokit, ends of stations only"
HUNDRED = 100
Contender = tuple[int, Callable[[], Any]]


def runner(name: str, cases: int) -> Callable[..., None]:
    """Runs the cases ``picked`` of a sweep in one system."""
    inputs = sweep(name, cases)

    def run(picked: Any, setting: settings.Setting, solver: Solver = cvode) -> None:
        solver(stack(PROBLEMS[name], name, inputs, picked), name, setting)

    return run


def many(name: str, cases: int, few: int) -> dict[str, Contender]:
    """Title: (cases that it runs, work) for a large sweep; peers run a part of it."""
    problem, times, tolerance = batch(name, cases), output_times(name, cases), settings.THERMOKIT[name][1]
    stacking, run = settings.STACKED[name], runner(name, cases)
    size, alone = stacking.cases, settings.ONE_BY_ONE[name]
    found: dict[str, Contender] = {
        ALL: (cases, partial(solve_batch, problem, cases, times, tolerance)),
        ENDS: (cases, partial(solve_batch, problem, cases, None, tolerance)),
        "CVODE, stacked": (
            size * few,
            lambda: [run(range(i * size, i * size + size), stacking.setting) for i in range(few)],
        ),
        "CVODE, case by case": (10, lambda: [run([i], alone) for i in range(10)]),
        "VODE, case by case": (10, lambda: [run([i], alone, vode) for i in range(10)]),
    }
    if name in settings.ALIKE:
        key, alike = settings.ALIKE[name]
        order = np.argsort(sweep(name, cases)[key])
        picks = [order[int(share * (cases - alike.cases)) :][: alike.cases] for share in (0.1, 0.5, 0.9)]
        found["CVODE, like cases stacked"] = (3 * alike.cases, lambda: [run(x, alike.setting) for x in picks])
    return found


def hundred(name: str) -> dict[str, Contender]:
    """The same for a hundred cases, which all run whole."""
    problem, times, tolerance = batch(name, HUNDRED), output_times(name, HUNDRED), settings.THERMOKIT[name][1]
    stacking, run = settings.STACKED[name], runner(name, HUNDRED)
    parts = [range(i, min(i + stacking.cases, HUNDRED)) for i in range(0, HUNDRED, stacking.cases)]
    return {
        ALL: (HUNDRED, partial(solve_batch, problem, HUNDRED, times, tolerance)),
        ENDS: (HUNDRED, partial(solve_batch, problem, HUNDRED, None, tolerance)),
        "CVODE, stacked": (HUNDRED, lambda: [run(x, stacking.setting) for x in parts]),
    }


def measured(cases: int, repeats: int, few: int) -> dict[str, Any]:
    """Both tables, a row a contender and a column a problem."""
    tables = {}
    for key, words, works, count in (
        ("many", f"a case of {cases} cases", partial(many, cases=cases, few=few), repeats),
        ("hundred", f"a case of {HUNDRED} cases", hundred, 3 * repeats),
    ):
        cells: dict[str, list[Any]] = {}
        for column, name in enumerate(PROBLEMS):
            found = works(name)
            taken = clock.turns({title: work for title, (_, work) in found.items()}, count)
            for title, values in taken.items():
                number = found[title][0]
                cell: dict[str, Any] = {"s": statistics.median(values) / number}
                if title not in (ALL, ENDS):
                    cell["x"] = clock.ratio(values, taken[ALL], found[ALL][0] / number)
                    cell["ends"] = clock.ratio(values, taken[ENDS], found[ENDS][0] / number)
                cells.setdefault(title, ["–"] * len(PROBLEMS))[column] = cell
        tables[key] = table([words, *PROBLEMS], [[title, *row] for title, row in cells.items()])
    return {"tables": tables}


def measure(quick: bool) -> dict[str, Any]:
    """The part `sweeps`."""
    return measured(200 if quick else 10_000, 1 if quick else 3, 1 if quick else 3)


def errors(quick: bool, cases: int = tune.CASES) -> dict[str, Any]:
    """The part `errors`: the first 60 cases of the sweep, and how well energy closes."""
    cases = 12 if quick else cases
    titles = ("thermokit, worst", "thermokit, nine in ten below", "thermokit, energy that does not close, of the heat")
    rows: Rows = [[title] for title in (*titles, "CVODE, stacked, worst", "CVODE, case by case, worst")]
    rows += [["VODE, case by case, worst"]]
    for name, kind in PROBLEMS.items():
        exact, inputs = tune.references(name, cases), sweep(name, cases)
        found = solve_batch(batch(name, cases), cases, output_times(name, cases), TOLERANCE)
        each = np.abs(np.moveaxis(found.temperature, 2, 1) - KELVIN - exact).max(axis=(0, 2))
        worst, usual = float(each.max()), float(np.quantile(each, 0.9))
        rows[0].append({"K": worst, "note": f"{worst / TOLERANCE:.1f} tolerances"})
        rows[1].append({"K": usual, "note": f"{usual / TOLERANCE:.1f} tolerances"})
        rows[2].append(f"{found.mismatch.max():.0e}")
        for row, size, chosen, solver in (
            (3, min(cases, settings.STACKED[name].cases), settings.STACKED[name].setting, cvode),
            (4, 1, settings.ONE_BY_ONE[name], cvode),
            (5, 1, settings.ONE_BY_ONE[name], vode),
        ):
            parts = [range(i, min(i + size, cases)) for i in range(0, cases, size)]
            theirs = np.concatenate([solver(stack(kind, name, inputs, p), name, chosen) for p in parts], axis=1)
            rows[row].append({"K": largest(theirs, exact)})
    return {"tables": {"errors": table([f"{cases} different cases", *PROBLEMS], rows)}}
