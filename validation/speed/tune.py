"""Search the settings with which each peer is fastest at an error of 0.1 K: ``python -m validation.speed.tune``.

The settings found are written down in :mod:`validation.speed.settings`; a run of the benchmark uses those and measures
the errors again. Stacked and repeated cases are tuned to a worst error of 0.12 K over the first 60 cases of the sweep,
which is what thermokit promises at its default tolerance (four times 0.03 K).
"""

from __future__ import annotations

import itertools
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from functools import partial

import numpy as np

from validation.speed.equations import PROBLEMS, Charge, sweep
from validation.speed.peers import Failed, cvode, ivp, lsoda, stack, vode
from validation.speed.settings import Setting

SINGLE, MANY, CASES = 0.1, 0.12, 60  # K, K, cases


def reference(name: str) -> np.ndarray:
    """Temperatures (rows, cells) of the reference case by CVODE at 1e-9: Radau at 1e-10 agrees within 1e-5 K."""
    return cvode(PROBLEMS[name](PROBLEMS[name].reference), name, Setting(1e-9, 1e-12, 1e-9))[:, 0]  # type: ignore[attr-defined]


def references(name: str, cases: int = CASES) -> np.ndarray:
    """Temperatures (rows, cases, cells) of the first cases of the sweep, within 1e-3 K."""
    inputs, kind = sweep(name, cases), PROBLEMS[name]
    tight = Setting(1e-6, 1e-9, 1e-8)
    return np.concatenate([cvode(stack(kind, name, inputs, [i]), name, tight) for i in range(cases)], axis=1)


def grid(name: str, tolerances: Iterable[float], relative: Iterable[float], orders: Iterable[int]) -> Iterator[Setting]:
    """Settings to try."""
    degrees = (1e-8, 1e-7, 3e-7, 1e-6, 1e-5) if issubclass(PROBLEMS[name], Charge) else (1.0,)
    for tolerance, degree, rtol, order in itertools.product(tolerances, degrees, relative, orders):
        yield Setting(tolerance, degree, rtol, order)


def fastest(
    settings: Iterable[Setting], run: Callable[[Setting], np.ndarray], exact: np.ndarray, allowed: float
) -> list[tuple[float, float, Setting]]:
    """(CPU s, error K, setting) of those within the allowed error, fastest first."""
    found = []
    for setting in settings:
        begun = time.process_time()
        try:
            values = run(setting)
        except Failed:
            continue
        seconds, error = time.process_time() - begun, float(np.abs(values - exact).max())
        if error <= allowed:
            found.append((seconds, error, setting))
    return sorted(found, key=lambda row: row[0])


def show(title: str, rows: list[tuple[float, float, Setting]], cases: int = 1) -> None:
    """Print the three fastest."""
    for seconds, error, setting in rows[:3]:
        print(f"{title:24} {1e6 * seconds / cases:10.0f} us a case  {error:.3f} K  {setting}", flush=True)


def tune_single(name: str) -> None:
    """The reference case, one run."""
    kind, exact = PROBLEMS[name], reference(name)[:, None]
    rod = kind(kind.reference)  # type: ignore[attr-defined]
    tolerances = (0.1, 0.06, 0.04, 0.03, 0.02, 0.015, 0.01, 0.005, 0.003, 0.002, 0.001)
    relative = (1e-12, 1e-5, 1e-4, 1e-3)
    for title, solver in (("CVODE", cvode), ("LSODA", lsoda), ("VODE", vode)):
        work = partial(solver, rod, name)
        show(f"{name} {title}", fastest(grid(name, tolerances, relative, (5, 4, 3)), work, exact, SINGLE))
    for method in ("BDF", "Radau"):
        run = partial(ivp, rod, name, method, sparse=True)
        show(f"{name} {method}", fastest(grid(name, tolerances, relative, (5,)), run, exact, SINGLE))


def tune_stacked(name: str, size: int) -> None:
    """The first 60 cases of the sweep, so many in one system."""
    exact, inputs = references(name), sweep(name, CASES)
    parts = [range(i, i + size) for i in range(0, CASES, size)]

    def run(setting: Setting) -> np.ndarray:
        rods = (stack(PROBLEMS[name], name, inputs, part) for part in parts)
        return np.concatenate([cvode(rod, name, setting) for rod in rods], axis=1)

    tolerances = (0.02, 0.01, 0.007, 0.005, 0.003, 0.002, 0.001)
    show(f"{name} CVODE, {size} in one", fastest(grid(name, tolerances, (1e-12,), (5, 3)), run, exact, MANY), CASES)


if __name__ == "__main__":
    for chosen in sys.argv[1:] or PROBLEMS:
        tune_single(chosen)
        for size in (1, 20, 30, 60):
            tune_stacked(chosen, size)
