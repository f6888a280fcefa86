"""How many parts fall inside the window when the inputs are off by their tolerances, and which setting is best.

Scrambled Sobol draws (seed kept) of all inputs with a tolerance; for each draw the limits are followed over a few settings,
and a smooth curve through the margins says on which stretch of the setting the part is good. So one batch of runs gives the
share of good parts for every setting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.studies.window import Question

DRAWS = 512
NODES = 9
SEED = 20_240_229
FINE = 401
FLAT = 0.01  # share of parts within which the best is a plateau: its middle is meant, not its noisiest point
ALIKE = 0.005  # share of parts that counts as nothing


@dataclass(frozen=True)
class Shares:
    """Share of good parts against the setting.

    settings (n,) [SI]; good (n,): share inside all limits; broken (limits, n): share that breaks each limit; names of the
    limits; best : setting with the largest share (the middle of those within one part in a hundred of it); first_best :
    the first one within half a part in a hundred of it; draws, seed.
    """

    settings: Array
    good: Array
    broken: Array
    names: tuple[str, ...]
    best: float
    first_best: float
    draws: int
    seed: int

    def at(self, setting: float) -> tuple[float, dict[str, float]]:
        """(share of good parts, share that breaks each limit) at a setting."""
        good = float(np.interp(setting, self.settings, self.good))
        return good, {
            name: float(np.interp(setting, self.settings, row))
            for name, row in zip(self.names, self.broken, strict=True)
        }


def draw(case: Any, draws: int, seed: int) -> dict[str, Array]:
    """Values of every input with a tolerance, path -> (draws,) in SI; ± is two standard deviations."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    paths = list(case.tolerances)
    uniform = qmc.Sobol(len(paths), seed=seed).random(draws)
    uniform = np.clip(uniform, 1e-9, 1.0 - 1e-9)
    out: dict[str, Array] = {}
    for column, path in zip(uniform.T, paths, strict=True):
        tolerance = case.tolerances[path]
        centre = case.value(path)
        if tolerance.distribution == "lognormal":
            out[path] = centre * np.exp(ndtri(column) * tolerance.two_sigma / 2.0)
            continue
        size = tolerance.plus_minus * (abs(centre) if tolerance.relative else 1.0)
        shape = 2.0 * column - 1.0 if tolerance.distribution == "uniform" else ndtri(column) / 2.0
        out[path] = centre + size * shape
    return out


def shares(
    question: Question, low: float, high: float, draws: int = DRAWS, nodes: int = NODES, seed: int = SEED
) -> Shares:
    """Share of good parts for settings from low to high [SI]."""
    from scipy.interpolate import PchipInterpolator

    from thermokit.case import Find

    case = question.case
    at = np.linspace(low, high, nodes)
    # the sought setting may have a tolerance of its own, by whatever name its path goes there
    sought = next((path for path in case.tolerances if isinstance(case.value(path), Find)), None)
    if sought is not None:
        case = case.with_values({question.path: 1.0})  # drawn about 1, so that relative amounts are right too
    values = draw(case, draws, seed)
    off = values.pop(sought) - 1.0 if sought is not None else np.zeros(draws)
    settings = np.repeat(at, draws)
    relative = sought is not None and (
        case.tolerances[sought].relative or case.tolerances[sought].distribution == "lognormal"
    )
    tried = np.maximum(settings + (settings if relative else 1.0) * np.tile(off, nodes), 1e-6)
    limits, margins = question.margins(tried, {path: np.tile(v, nodes) for path, v in values.items()})
    curves = margins.reshape(len(limits), nodes, draws)
    fine = np.linspace(low, high, FINE)
    met = np.empty((len(limits), FINE, draws), bool)
    for j in range(len(limits)):
        curve = np.where(np.isfinite(curves[j]), curves[j], -1e6)
        met[j] = PchipInterpolator(at, curve, axis=0)(fine) >= 0.0
    good = met.all(axis=0).mean(axis=1)
    top = good >= good.max() - FLAT
    best, first = float(fine[top].mean()), float(fine[int(np.argmax(good >= good.max() - ALIKE))])
    names = tuple(limit.name for limit in limits)
    return Shares(fine, good, 1.0 - met.mean(axis=2), names, best, first, draws, seed)
