"""Sobol indices of any function of inputs in the unit cube: how much of its variance each input brings, alone and in all.

First order : variance that goes when this input alone becomes known, as a share; estimator of Saltelli et al. 2010 (Computer
Physics Communications 181, 259), table 2 (b). Total : variance that is left when all inputs but this one are known; Jansen
1999, table 2 (f) there. Their difference is what the input does together with others. Intervals are percentiles of a
bootstrap over rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array

RESAMPLES = 500
CONFIDENCE = 0.95
FEWEST = 8  # rows below which nothing is said
FLAT = 1e-9  # spread as a share of the size, below which an output counts as not changing


@dataclass(frozen=True)
class Indices:
    """Indices of every output.

    first, total : (outputs, inputs), NaN where an output does not change or too few rows are left; first_range, total_range :
    (2, outputs, inputs) ends of the interval of 95 in 100; rows : base rows asked for; used : (outputs,) rows in which nothing
    failed; mean, spread : (outputs,) of the outputs (standard deviation).
    """

    first: Array
    total: Array
    first_range: Array
    total_range: Array
    rows: int
    used: Array
    mean: Array
    spread: Array


def base_points(inputs: int, rows: int, seed: int) -> Array:
    """Points at which the function is asked, (rows x (inputs + 2), inputs): A, B, then A with each column of B in turn.

    rows is a power of two: scrambled Sobol points in twice as many dimensions give A and B.
    """
    from scipy.stats import qmc

    both = np.asarray(qmc.Sobol(2 * inputs, seed=seed).random_base2(int(np.log2(rows))))
    a, b = both[:, :inputs], both[:, inputs:]
    mixed = np.repeat(a[None], inputs, axis=0)
    for i in range(inputs):
        mixed[i, :, i] = b[:, i]
    return np.concatenate([a, b, mixed.reshape(inputs * rows, inputs)])


def indices_of(
    function: Callable[[Array], Array], inputs: int, rows: int, seed: int, resamples: int = RESAMPLES
) -> Indices:
    """Indices of a function from (n, inputs) in the unit cube to (outputs, n); NaN in an output is a row that failed.

    A base row counts only where it, its partner and all its mixed rows came out: with NaN the sums would be nothing.

    >>> found = indices_of(lambda u: (2.0 * u[:, :1] + u[:, 1:]).T, 2, 1024, 1)
    >>> bool(abs(found.first[0, 0] - 0.8) < 0.01), bool(abs(found.total[0, 1] - 0.2) < 0.01)
    (True, True)
    """
    values = np.asarray(function(base_points(inputs, rows, seed)), float)
    outputs = len(values)
    f_a, f_b = values[:, :rows], values[:, rows : 2 * rows]
    f_ab = values[:, 2 * rows :].reshape(outputs, inputs, rows)
    shape = (outputs, inputs)
    first, total = np.full(shape, np.nan), np.full(shape, np.nan)
    first_range, total_range = np.full((2, *shape), np.nan), np.full((2, *shape), np.nan)
    used, mean, spread = np.zeros(outputs, int), np.full(outputs, np.nan), np.full(outputs, np.nan)
    random = np.random.default_rng(seed)
    for o in range(outputs):
        good = np.isfinite(f_a[o]) & np.isfinite(f_b[o]) & np.isfinite(f_ab[o]).all(axis=0)
        used[o] = int(good.sum())
        if used[o] < FEWEST:
            continue
        a, b, ab = f_a[o, good], f_b[o, good], f_ab[o][:, good]
        both = np.concatenate([a, b])
        mean[o], spread[o] = float(both.mean()), float(both.std())
        if spread[o] <= FLAT * float(np.abs(both).max()):
            spread[o] = 0.0
            continue
        first[o], total[o] = estimates(a, b, ab)
        again = [estimates(a[i], b[i], ab[:, i]) for i in random.integers(0, used[o], (resamples, used[o]))]
        ends = [0.5 - CONFIDENCE / 2.0, 0.5 + CONFIDENCE / 2.0]
        first_range[:, o], total_range[:, o] = (np.quantile([pair[k] for pair in again], ends, axis=0) for k in (0, 1))
    return Indices(first, total, first_range, total_range, rows, used, mean, spread)


def estimates(a: Array, b: Array, ab: Array) -> tuple[Array, Array]:
    """(first, total) of one output, (inputs,) each; a, b (rows,), ab (inputs, rows). Centred, since else a mean that is large
    against the spread drowns the first-order sums (Sobol' and Levitan 1999).
    """
    both = np.concatenate([a, b])
    centre, variance = both.mean(), both.var()
    a, b, ab = a - centre, b - centre, ab - centre
    if variance <= 0.0:
        return np.zeros(len(ab)), np.zeros(len(ab))
    return (b * (ab - a)).mean(axis=1) / variance, 0.5 * ((a - ab) ** 2).mean(axis=1) / variance
