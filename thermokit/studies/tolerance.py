"""How many parts fall inside the window when the inputs are off by their tolerances, and which setting is best.

Scrambled Sobol draws (seed kept) of all inputs with a tolerance; for each draw the limits are followed over a few settings,
and a smooth curve through the margins says on which stretch of the setting the part is good. So one batch of runs gives the
share of good parts for every setting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import Section
from thermokit.case.tolerances import by_path
from thermokit.case.walk import scalar_kind

if TYPE_CHECKING:
    from thermokit.case.tolerances import Tolerance
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


def draw(case: Any, draws: int, seed: int, uncut: str = "") -> dict[str, Array]:
    """Values of every input with a tolerance, path -> (draws,) in SI; ± is two standard deviations."""
    from scipy.stats import qmc

    return drawn(case, qmc.Sobol(len(case.tolerances), seed=seed).random(draws), uncut)


def drawn(case: Any, uniform: Array, uncut: str = "") -> dict[str, Array]:
    """Values of the inputs, path -> (n,) in SI, at points of the unit cube (n, tolerances): one column for each error.

    Each distribution is reached by its inverse; of a measured list all values come alike often. Inputs that err together
    follow one column. What an input cannot hold (an emissivity beyond 1) is cut at its end; not that of the path ``uncut``.
    """
    kinds = {path: scalar_kind(leaf.kind) for path, leaf in by_path(case).items()} if isinstance(case, Section) else {}
    out: dict[str, Array] = {}
    for column, (name, tolerance) in zip(np.asarray(uniform).T, case.tolerances.items(), strict=True):
        for path in tolerance.inputs(name):
            values = _applied(tolerance, case.value(path), column)
            out[path] = values if path == uncut else _inside(kinds.get(path), values)
    return out


def _inside(kind: Any, values: Array) -> Array:
    """Values cut at what an input can hold."""
    low, high, above = (getattr(kind, name, None) for name in ("low", "high", "above"))
    if above is not None and (low is None or above >= low):
        low = above + 1e-9 * max(1e-3, float(np.abs(values).max()))
    return values if low is None and high is None else np.asarray(np.clip(values, low, high), float)


def _applied(tolerance: Tolerance, centre: float, column: Array) -> Array:
    """Values of one input at shares of its distribution, (n,)."""
    from scipy.special import ndtri

    if tolerance.measured:
        held = np.array(tolerance.measured)
        return np.asarray(held[np.minimum((column * len(held)).astype(int), len(held) - 1)])
    normal = ndtri(np.clip(column, 1e-9, 1.0 - 1e-9))
    if tolerance.distribution == "lognormal":
        return np.asarray(centre * np.exp(normal * tolerance.two_sigma / 2.0))
    size = tolerance.plus_minus * (abs(centre) if tolerance.relative else 1.0)
    shape = 2.0 * column - 1.0 if tolerance.distribution == "uniform" else normal / 2.0
    return np.asarray(centre + size * shape)


def sought_error(case: Any) -> tuple[str, str] | None:
    """(name of the tolerance, path) where the sought setting has an error of its own, by whatever name its path goes there."""
    from thermokit.case import Find

    for name, tolerance in case.tolerances.items():
        for path in tolerance.inputs(name):
            note = getattr(case, "sought_input", None)
            if isinstance(case.value(path), Find) or (note is not None and note.is_at(path)):
                return name, path
    return None


def shares(
    question: Question, low: float, high: float, draws: int = DRAWS, nodes: int = NODES, seed: int = SEED
) -> Shares:
    """Share of good parts for settings from low to high [SI]."""
    from scipy.interpolate import PchipInterpolator

    case = question.case
    at = np.linspace(low, high, nodes)
    sought = sought_error(case)
    if sought is not None:
        case = case.with_values({question.path: 1.0})  # drawn about 1, so that relative amounts are right too
    values = draw(case, draws, seed, sought[1] if sought is not None else "")
    off = values.pop(sought[1]) - 1.0 if sought is not None else np.zeros(draws)
    settings = np.repeat(at, draws)
    tolerance = case.tolerances[sought[0]] if sought is not None else None
    relative = tolerance is not None and (tolerance.relative or tolerance.distribution == "lognormal")
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
