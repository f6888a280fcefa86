"""Work and precision of P1 to P3: CPU time against error for a range of settings of each contender.

A survey runs a grid of settings of each contender once; for each of a few errors the fastest setting within it is kept (so every
contender is at its best, picked on the very case that is timed) and timed again in turns with all others.
"""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.single import solve
from validation.speed import clock, fipy_direct, settings, tune
from validation.speed.equations import KELVIN, PROBLEMS, Charge, sweep
from validation.speed.peers import Failed, cvode, ivp, lsoda, stack, vode
from validation.speed.problems import batch, output_times, reference
from validation.speed.settings import Setting
from validation.speed.singles import largest

OWN = "thermokit"
GOALS = (3.0, 1.0, 0.3, 0.1, 0.03, 0.01, 3e-3, 1e-3, 3e-4)  # K
TOLERANCES = (2.0, 1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015, 0.007, 0.003, 0.0015, 7e-4, 3e-4, 1e-4)  # thermokit's, K
ABSOLUTE = (0.3, 0.1, 0.05, 0.03, 0.015, 0.01, 0.005, 0.0025, 0.001, 3e-4, 1e-4, 3e-5)  # peers', K
COARSER = (16.0, 8.0, 4.0, 2.0)  # of FiPy's steps in `singles`
Runs = Mapping[str, Callable[[], np.ndarray]]
Point = dict[str, Any]


def peer_settings(
    name: str, relative: Iterable[float], orders: Iterable[int], absolute: Iterable[float] = ABSOLUTE
) -> list[Setting]:
    """A peer's settings; the tolerance of degrees in proportion to that of temperatures, in two ways."""
    shares = (1e-6, 2e-5) if issubclass(PROBLEMS[name], Charge) else (1.0,)
    return [
        Setting(tolerance, tolerance * share, rtol, order)
        for tolerance, share, rtol, order in itertools.product(absolute, shares, relative, orders)
    ]


def survey(runs: Runs, exact: np.ndarray, goals: Sequence[float] = GOALS) -> dict[str, float]:
    """Setting: its error [K], for those that were fastest within one of the errors asked for."""
    found: list[tuple[float, float, str]] = []
    for words, run in runs.items():
        try:
            spent, values = clock.once(run)
        except (Failed, RuntimeError):
            continue  # a peer that gives up at a setting has no point there
        error = largest(values, exact)
        if np.isfinite(error):
            found.append((spent, error, words))
    kept: dict[str, float] = {}
    for goal in goals:
        within = [point for point in found if point[1] <= goal]
        if within:
            _, error, words = min(within)
            kept[words] = error
    return kept


def timed(
    grids: Mapping[str, Runs], exact: np.ndarray, repeats: int, goals: Sequence[float] = GOALS
) -> dict[str, list[Point]]:
    """Contender: its points, largest error first."""
    kept = {title: survey(runs, exact, goals) for title, runs in grids.items()}
    places = [(title, words) for title, chosen in kept.items() for words in chosen]
    taken = clock.turns({str(i): grids[title][words] for i, (title, words) in enumerate(places)}, repeats, warm=False)
    curves: dict[str, list[Point]] = {title: [] for title in grids}
    for (title, words), values in zip(places, taken.values(), strict=True):
        curves[title].append(point(words, kept[title][words], values))
    return {title: front(points) for title, points in curves.items()}


def front(points: Sequence[Point]) -> list[Point]:
    """Points that no other of the same contender beats in both error and time, largest error first."""
    best = [p for p in points if not any(q["K"] <= p["K"] and q["s"] < p["s"] for q in points)]
    return sorted(best, key=lambda p: -p["K"])


def point(setting: str, error: float, values: Sequence[float]) -> Point:
    """A point of a curve: error [K], CPU time [s] with its least and most."""
    spent = statistics.median(values)
    return {"setting": setting, "K": error, "s": spent, "least": min(values), "most": max(values)}


def words_of(setting: Setting) -> str:
    """A setting in short."""
    degree = "" if setting.degree == setting.tolerance else f", {setting.degree:g}"
    return f"{setting.tolerance:g} K{degree}, relative {setting.relative:g}, order {setting.order}"


def single_grids(name: str, fine: bool) -> dict[str, dict[str, Callable[[], np.ndarray]]]:
    """The contenders of one run."""
    rod = PROBLEMS[name](PROBLEMS[name].reference)  # type: ignore[attr-defined]
    problem, times = reference(name), output_times(name)
    absolute = ABSOLUTE if fine else ABSOLUTE[1:8:3]
    grids: dict[str, dict[str, Callable[[], np.ndarray]]] = {
        OWN: {
            f"{d:g} K": (lambda d=d: solve(problem, times, d).temperature - KELVIN)  # type: ignore[misc]
            for d in (TOLERANCES if fine else TOLERANCES[::3])
        }
    }
    for title, solver in (("VODE", vode), ("CVODE", cvode), ("LSODA", lsoda)):
        chosen = peer_settings(name, (1e-12, 1e-5, 1e-4) if fine else (1e-5,), (5, 3), absolute)
        grids[title] = {words_of(s): (lambda f=solver, s=s: f(rod, name, s)[:, 0]) for s in chosen}  # type: ignore[misc]
    for method in ("BDF", "Radau"):
        grids[method] = {
            f"{s.tolerance:g} K, {s.degree:g}, relative {s.relative:g}, {'sparse' if sparse else 'dense'}": (
                lambda m=method, s=s, p=sparse: ivp(rod, name, m, s, p)[:, 0]  # type: ignore[misc]
            )
            for s in peer_settings(name, (1e-5, 1e-3) if fine else (1e-4,), (5,), absolute[: 10 if fine else 2])
            for sparse in ((True, False) if fine else (False,))
        }
    return grids


def batch_grids(name: str, cases: int, compared: int, fine: bool) -> dict[str, dict[str, Callable[[], np.ndarray]]]:
    """The contenders of many cases; each gives (rows, compared, cells) [degC] of the first cases."""
    problem, times, inputs = batch(name, cases), output_times(name, cases), sweep(name, compared)
    kind, absolute = PROBLEMS[name], ABSOLUTE[1:10] if fine else ABSOLUTE[1:8:3]

    def own(tolerance: float) -> np.ndarray:
        found = solve_batch(problem, cases, times, tolerance).temperature
        return np.moveaxis(found, 2, 1)[:, :compared] - KELVIN

    def peers(setting: Setting, size: int, solver: Any) -> np.ndarray:
        parts = [range(i, min(i + size, compared)) for i in range(0, compared, size)]
        return np.concatenate([solver(stack(kind, name, inputs, p), name, setting) for p in parts], axis=1)

    grids: dict[str, dict[str, Callable[[], np.ndarray]]] = {
        OWN: {f"{d:g} K": partial(own, d) for d in (TOLERANCES[1:11] if fine else TOLERANCES[1:10:3])}
    }
    stacked, alone = settings.STACKED[name], settings.ONE_BY_ONE[name]
    for title, size, solver, like in (
        ("CVODE, stacked", min(stacked.cases, compared), cvode, stacked.setting),
        ("CVODE, case by case", 1, cvode, alone),
        ("VODE, case by case", 1, vode, alone),
    ):
        orders = dict.fromkeys((like.order, 5))
        share = like.degree / like.tolerance if issubclass(kind, Charge) else 1.0
        chosen = [replace(like, tolerance=a, degree=a * share, order=o) for a in absolute for o in orders]
        grids[title] = {words_of(s): partial(peers, s, size, solver) for s in chosen}
    return grids


def fipy_points(name: str, exact: np.ndarray, coarser: Iterable[float]) -> list[Point]:
    """FiPy with longer steps than those of the single runs, once each."""
    points = []
    for times in coarser:
        own = fipy_direct.STEPS[name]
        steps = replace(own, first=times * own.first, longest=times * own.longest)
        try:
            spent, (values, sweeps) = clock.once(partial(fipy_direct.run, name, steps))
        except RuntimeError:
            continue  # too long a step does not converge
        points.append(point(f"{sweeps} sweeps", largest(values, exact), [spent]))
    return points


def measured(
    name: str, repeats: tuple[int, int], cases: int, compared: int, coarser: Iterable[float], fine: bool
) -> dict[str, Any]:
    """Curves of a problem: of one run, and of a case of many (seconds a case; the worst error of the first ones).

    repeats : turns of one run and of many; coarser : FiPy's steps over those of `singles`; fine : all settings, or few.
    """
    exact = tune.reference(name)
    single = timed(single_grids(name, fine), exact, repeats[0])
    single["FiPy"] = fipy_points(name, exact, coarser)
    many = timed(batch_grids(name, cases, compared, fine), tune.references(name, compared), repeats[1])
    for title, points in many.items():
        for one in points:
            for key in ("s", "least", "most"):
                one[key] /= cases if title == OWN else compared
    return {"single": single, "batch": many, "cases": cases, "compared": compared}


def measure(quick: bool, name: str) -> dict[str, Any]:
    """The parts `curves_P1` to `curves_P3`."""
    if quick:
        return measured(name, (1, 1), 100, 6, (), False)
    return measured(name, (3, 2), 500, tune.CASES, COARSER, True)
