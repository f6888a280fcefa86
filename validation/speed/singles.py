"""The reference cases P1 to P3, one run each: CPU time, error and ratio of each contender, in turn."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

import numpy as np

from thermokit.conduction.single import solve
from validation.speed import clock, fipy_direct, settings, tune
from validation.speed.equations import KELVIN, PROBLEMS
from validation.speed.peers import cvode, ivp, lsoda, vode
from validation.speed.problems import output_times, reference
from validation.speed.tables import Rows, table

OWN, BARE = "thermokit", "FiPy, implicit Euler"


def largest(found: np.ndarray, exact: np.ndarray) -> float:
    """Largest difference of any cell in any row [K]."""
    return float(np.abs(found - exact).max())


def contenders(name: str) -> dict[str, Callable[[], np.ndarray]]:
    """What runs the reference case within 0.1 K; each gives temperatures (rows, cells) [degC]."""
    rod = PROBLEMS[name](PROBLEMS[name].reference)  # type: ignore[attr-defined]
    problem, times, tolerance = reference(name), output_times(name), settings.THERMOKIT[name][0]
    found: dict[str, Callable[[], np.ndarray]] = {
        OWN: lambda: solve(problem, times, tolerance).temperature - KELVIN,
        "VODE": lambda: vode(rod, name, settings.VODE[name])[:, 0],
        "CVODE": lambda: cvode(rod, name, settings.CVODE[name])[:, 0],
        "LSODA": lambda: lsoda(rod, name, settings.LSODA[name])[:, 0],
    }
    for method, chosen in (("BDF", settings.BDF), ("Radau", settings.RADAU)):
        for title, sparse in (("sparse", True), ("dense", False)):
            work = partial(ivp, rod, name, method, chosen[name], sparse)
            found[f"{method}, {title}"] = lambda w=work: w()[:, 0]  # type: ignore[misc]
    return found


def against_fipy(name: str, own: Callable[[], np.ndarray], repeats: int) -> tuple[dict[str, list[float]], np.ndarray]:
    """CPU times of FiPy in turn with nine runs of thermokit (one is too short to stand beside seconds), FiPy's values."""
    kept: list[np.ndarray] = []

    def nine() -> None:
        for _ in range(9):
            own()

    def bare() -> None:
        kept.append(fipy_direct.run(name)[0])

    return clock.turns({OWN: nine, BARE: bare}, repeats, warm=False), kept[-1]


def measured(names: Iterable[str], repeats: int, with_fipy: int) -> dict[str, Any]:
    """The table; ``with_fipy`` : turns of FiPy."""
    columns: dict[str, Rows] = {}
    for name in names:
        exact, works = tune.reference(name), contenders(name)
        errors = {title: largest(work(), exact) for title, work in works.items()}
        taken = clock.turns(works, repeats)
        for title, values in taken.items():
            cell: dict[str, Any] = {"s": statistics.median(values), "K": errors[title]}
            if title != OWN:
                cell["x"] = clock.ratio(values, taken[OWN])
            columns.setdefault(title, []).append([cell])
        if with_fipy:
            beside, theirs = against_fipy(name, works[OWN], with_fipy)
            found = {
                "s": statistics.median(beside[BARE]),
                "K": largest(theirs, exact),
                "x": clock.ratio(beside[BARE], beside[OWN], 9.0),
            }
            columns.setdefault(BARE, []).append([found])
    rows: Rows = [[title, *(cell for (cell,) in cells)] for title, cells in columns.items()]
    return {"tables": {"singles": table(["single run", *names], rows)}}


def measure(quick: bool) -> dict[str, Any]:
    """The part `singles`."""
    return measured(list(PROBLEMS), 3 if quick else 15, 0 if quick else 2)
