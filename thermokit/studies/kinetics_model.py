"""Constants of a two-rate law from measured runs, as a least-squares problem: what is free, residuals, derivatives.

All runs are held against the law together. A run of heat flow has a total heat and a straight baseline of its own (a hold
a level), which are linear and are taken out of the residuals before the constants are sought (variable projection, Golub
and Pereyra, SIAM Journal on Numerical Analysis 10 (1973) 413); so an error of mass or baseline does not bend the constants.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.kinetics.along import STEPS, Constants, Track, degrees_along, track
from thermokit.kinetics.guards import GAS_CONSTANT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.kinetics.conversion import Cure

    Array = NDArray[np.float64]

MOST_ROWS = (
    400  # of a run; longer ones are averaged in groups of neighbours, which loses nothing that bears on constants
)
SEED = 1e-4  # degree from which a law without a first rate starts
NAMES = ("ln_k1", "energy_1", "ln_k2", "energy_2", "m", "n")
# form -> the free constants, as (name of the constant, constants that follow it)
FORMS: dict[str, tuple[tuple[str, ...], ...]] = {
    "two_rate": (("ln_k1",), ("energy_1",), ("ln_k2",), ("energy_2",), ("m",), ("n",)),
    "one_energy": (("ln_k1",), ("energy_1", "energy_2"), ("ln_k2",), ("m",), ("n",)),
    "autocatalytic": (("ln_k2",), ("energy_2",), ("m",), ("n",)),
    "nth_order": (("ln_k1",), ("energy_1",), ("n",)),
}
_FIXED = {"autocatalytic": {"ln_k1": -np.inf}, "nth_order": {"ln_k2": -np.inf, "m": 1.0}}
_BOUNDS = {"energy": (5e3, 5e5), "m": (0.02, 6.0), "n": (0.1, 8.0)}
_STEP = 1e-4  # of a scaled constant, for derivatives by central differences


@dataclass(frozen=True)
class Rows:
    """The rows of a run that are fitted.

    time [s], temperature [K], signal [W/kg or -] : (rows,); straight : (rows, 0 to 2) orthonormal baseline; along : the
    temperatures that the law follows; heat_flow : whether the signal is one, else a degree.
    """

    time: Array
    temperature: Array
    signal: Array
    straight: Array
    along: Track
    heat_flow: bool


def rows_of(cure: Cure, steps: int = STEPS) -> Rows:
    """The rows of a run for fitting, with the law followed in so many steps."""
    run = cure.run
    used = np.flatnonzero(run.counts)
    group = -(-len(used) // MOST_ROWS)
    first = np.arange(0, len(used), group)
    sizes = np.diff(np.append(first, len(used)))

    def thinned(values: Array) -> Array:
        return np.asarray(np.add.reduceat(values[used], first) / sizes)

    time, temperature = thinned(run.time), thinned(run.temperature)
    heat_flow = run.measures == "heat_flow"
    columns = [np.ones(len(time))] if heat_flow else []
    if heat_flow and run.kind != "hold":
        columns.append(time - time.mean())
    straight = np.linalg.qr(np.stack(columns, axis=1))[0] if columns else np.zeros((len(time), 0))
    along = track(run.time, run.temperature, cure.degree, time, steps)
    return Rows(time, temperature, thinned(run.signal), straight, along, heat_flow)


class Model:
    """The law of one form against all runs.

    reference : temperature at which rate constants are free [K]. Vectors of free constants are scaled: logarithms, energies
    over R times the reference, exponents.
    """

    def __init__(self, form: str, runs: Sequence[Rows], reference: float):
        self.form, self.runs, self.reference = form, runs, reference
        self.free = FORMS[form]
        self.thermal = GAS_CONSTANT * reference
        self.noise = np.ones(len(runs))
        self._targets = [_projected(rows.signal[:, None], rows.straight) for rows in runs]

    def constants(self, vectors: Array) -> Constants:
        """Constants of scaled vectors (sets, free)."""
        sets = len(vectors)
        values = {name: np.full(sets, _FIXED.get(self.form, {}).get(name, 0.0)) for name in NAMES}
        for i, names in enumerate(self.free):
            for name in names:
                values[name] = vectors[:, i] * (self.thermal if name.startswith("energy") else 1.0)
        start = np.full(sets, SEED if self.form == "autocatalytic" else 0.0)
        return Constants(**values, start=start, reference=self.reference)

    def vector(self, values: dict[str, float]) -> Array:
        """The scaled vector of constants by name."""
        scale = [self.thermal if names[0].startswith("energy") else 1.0 for names in self.free]
        return np.array([values[names[0]] / s for names, s in zip(self.free, scale, strict=True)])

    def bounds(self) -> tuple[Array, Array]:
        """Lowest and highest scaled constants."""
        ends = []
        for names in self.free:
            if names[0].startswith("energy"):
                ends.append(tuple(e / self.thermal for e in _BOUNDS["energy"]))
            else:
                ends.append(_BOUNDS.get(names[0], (-60.0, 60.0)))
        low, high = np.array(ends).T
        return low, high

    def residuals(self, vectors: Array) -> list[Array]:
        """What is left of each run's signal, over its noise: (rows, sets) each."""
        found = []
        for i, (rows, (degree, rate)) in enumerate(zip(self.runs, self.followed(vectors), strict=True)):
            if rows.heat_flow:
                shape = _projected(rate, rows.straight)
                target = self._targets[i]
                heat = np.sum(shape * target, axis=0) / np.maximum(np.sum(shape * shape, axis=0), 1e-300)
                left = target - np.maximum(heat, 0.0) * shape
            else:
                left = rows.signal[:, None] - degree
            found.append(left / self.noise[i])
        return found

    def followed(self, vectors: Array) -> list[tuple[Array, Array]]:
        """(degree, rate [1/s]) at the rows of each run, (rows, sets)."""
        return degrees_along(self.constants(vectors), [rows.along for rows in self.runs])

    def linear(self, vector: Array) -> list[Array]:
        """Orthonormal columns that are fitted to each run alone: baseline and, with the heat, the shape of its rate."""
        found = []
        for rows, (_, rate) in zip(self.runs, self.followed(vector[None]), strict=True):
            if not rows.heat_flow:
                found.append(rows.straight)
                continue
            shape = _projected(rate, rows.straight)
            found.append(np.column_stack([rows.straight, shape / max(float(np.linalg.norm(shape)), 1e-300)]))
        return found

    def derivatives(self, vector: Array) -> tuple[list[Array], list[Array]]:
        """(residuals (rows,), their derivatives (rows, free)) run by run: central differences on one pass of the law."""
        shift, half = _STEP * np.eye(len(vector)), len(vector)
        found = self.residuals(np.concatenate([vector + shift, vector - shift, vector[None]]))
        by = [(left[:, :half] - left[:, half : 2 * half]) / (2 * _STEP) for left in found]
        return [left[:, -1] for left in found], by

    def misfit(self, vector: Array) -> float:
        """Sum of squares of all residuals."""
        return float(sum(np.sum(left**2) for left in self.residuals(vector[None])))


def _projected(values: Array, straight: Array) -> Array:
    """Columns without their share of a straight line."""
    return values - straight @ (straight.T @ values)
