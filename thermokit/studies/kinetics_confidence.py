"""How sure fitted constants are: 95 % intervals that hold where noise is correlated from row to row, and simpler laws.

The residuals of a run are noise that remembers itself over some rows (a filter in the instrument, a law that does not quite
fit): an autoregression of first order, e_i = memory e_(i-1) + w_i, of a memory and size of its own in each run. Fitting takes
some of the slow noise away, so that the residuals show less memory and size than the noise has; both are found such that the
residuals are what fitting would leave of it. The covariance of the constants is that of least squares under such noise,

    (J'J)^-1 (sum over runs of J' C J) (J'J)^-1,    C_ij = size^2 memory^|i-j|

which for a memory of 0 is the usual s^2 (J'J)^-1, and weighs a run of n rows as n/length independent ones, length = (1 +
memory)/(1 - memory). Where the autocorrelation of the residuals reaches further than that, the run counts for less.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.studies.kinetics_model import Model

    Array = NDArray[np.float64]

LEVEL = 0.95
_WINDOW = 5.0  # autocorrelation is summed up to this many times its own length (Sokal)
_MOST = 0.98  # memory beyond which noise is no noise
_TURNS = 6
_FLAT = 1e-13  # eigenvalue, over the largest, below which a direction of the constants is not determined


@dataclass(frozen=True)
class Confidence:
    """Errors of scaled constants.

    covariance : (free, free); undetermined : (free, directions) along which the data say nothing; rows : effective number;
    quantile : of Student's distribution for 95 %; names : of the constants.
    """

    covariance: Array
    undetermined: Array
    rows: float
    quantile: float
    names: tuple[str, ...]

    def half_width(self, direction: Array) -> float:
        """Half the 95 % interval of a linear combination of scaled constants; infinite where the data do not say."""
        if self.undetermined.size and np.max(np.abs(direction @ self.undetermined)) > 1e-6 * np.max(np.abs(direction)):
            return float("inf")
        return float(self.quantile * np.sqrt(max(float(direction @ self.covariance @ direction), 0.0)))

    def correlation(self) -> Array:
        """Correlation of the constants, (free, free)."""
        size = np.sqrt(np.maximum(np.diag(self.covariance), 1e-300))
        return np.asarray(self.covariance / np.outer(size, size))

    def inseparable(self, limit: float = 0.98) -> list[tuple[str, str, float]]:
        """Pairs of constants that the data hardly tell apart: (name, name, correlation)."""
        found = self.correlation()
        return [
            (self.names[i], self.names[j], float(found[i, j]))
            for i in range(len(found))
            for j in range(i)
            if abs(found[i, j]) > limit
        ]


def memory_length(residuals: Array) -> float:
    """Autocorrelation time of residuals in rows: 1 for white noise, summed as Sokal's window has it; 1 to rows/4.

    >>> rng = np.random.default_rng(1)
    >>> round(memory_length(rng.normal(size=4000)), 1)
    1.0
    """
    x = residuals - residuals.mean()
    rows = len(x)
    size = 1 << (2 * rows - 1).bit_length()
    spectrum = np.fft.rfft(x, size)
    covariance = np.fft.irfft(spectrum * np.conj(spectrum), size)[:rows]
    if not covariance[0] > 0.0:
        return 1.0
    length = 2.0 * np.cumsum(covariance / covariance[0]) - 1.0
    enough = np.arange(rows) >= _WINDOW * length
    found = length[int(np.argmax(enough))] if np.any(enough) else rows / 4.0
    return float(np.clip(found, 1.0, rows / 4.0))


@dataclass(frozen=True)
class Noise:
    """The noise of each run, over what it was weighed with, (runs,): ``size``, ``memory`` from row to row, ``length`` in rows
    that count as one.
    """

    size: Array
    memory: Array
    length: Array


def noise_behind(left: Sequence[Array], jacobians: Sequence[Array], linear: Sequence[Array]) -> Noise:
    """The noise that leaves these residuals when constants and baselines are fitted to it.

    left : residuals of each run, (rows,); jacobians : (rows, free), without their share of the linear columns; linear :
    orthonormal columns that were fitted to each run alone, (rows, 0 and more).
    """
    runs = len(left)
    inverse = _inverse(np.sum([j.T @ j for j in jacobians], axis=0))[0]
    seen = np.array([[rest @ rest, rest[:-1] @ rest[1:]] for rest in left])
    memory = np.clip(seen[:, 1] / np.maximum(seen[:, 0], 1e-300), 0.0, _MOST)
    size = np.sqrt(seen[:, 0] / [len(rest) for rest in left])
    for _ in range(_TURNS):
        lags = [_lags(len(left[r]), memory[r]) for r in range(runs)]
        spread = sum(size[r] ** 2 * (jacobians[r].T @ lags[r] @ jacobians[r]) for r in range(runs))
        shared = inverse @ spread @ inverse
        for r in range(runs):
            expected = _moments(lags[r], size[r] ** 2, jacobians[r], linear[r], inverse, shared)
            if not expected[0] > 0.0:
                continue
            size[r] *= np.sqrt(seen[r, 0] / expected[0])
            memory[r] += seen[r, 1] / max(seen[r, 0], 1e-300) - expected[1] / expected[0]
        memory = np.clip(memory, 0.0, _MOST)
    length = (1.0 + memory) / (1.0 - memory)
    return Noise(size, memory, np.maximum(length, [memory_length(rest) for rest in left]))


def _lags(rows: int, memory: float) -> Array:
    """memory^|i-j|, (rows, rows)."""
    i = np.arange(rows)
    return np.asarray((memory**i)[np.abs(i[:, None] - i)])


def _moments(
    lags: Array, variance: float, jacobian: Array, linear: Array, inverse: Array, shared: Array
) -> tuple[float, float]:
    """Expected sums of e_i e_i and e_i e_(i+1) of a run's residuals, e = (I - L L')noise - J inverse (sum over runs J' noise)."""

    def crossed(x: Array, y: Array) -> Array:
        return np.array([np.sum(x * y), (np.sum(x[:-1] * y[1:]) + np.sum(y[:-1] * x[1:])) / 2])

    rows = len(lags)
    noise = np.array([rows, np.sum(np.diagonal(lags, 1))])
    seen_by_linear, seen_by_law = lags @ linear, lags @ jacobian
    noise = noise - 2.0 * crossed(linear, seen_by_linear) + crossed(linear @ (linear.T @ seen_by_linear), linear)
    seen_by_law = seen_by_law - linear @ (linear.T @ seen_by_law)
    noise = variance * (noise - 2.0 * crossed(seen_by_law @ inverse, jacobian)) + crossed(jacobian @ shared, jacobian)
    return float(noise[0]), float(noise[1])


def _inverse(matrix: Array) -> tuple[Array, Array]:
    """(inverse of J'J without the directions that it hardly holds, those directions (free, directions))."""
    scale = 1.0 / np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    values, directions = np.linalg.eigh(matrix * np.outer(scale, scale))
    flat = values < _FLAT * values[-1]
    inverse = (directions[:, ~flat] / values[~flat]) @ directions[:, ~flat].T * np.outer(scale, scale)
    none = directions[:, flat] * scale[:, None]
    return inverse, none / np.maximum(np.max(np.abs(none), axis=0, keepdims=True), 1e-300) if none.size else none


def confidence(model: Model, vector: Array) -> Confidence:
    """Errors of the constants at a minimum."""
    from scipy.special import stdtrit

    left, jacobians = model.derivatives(vector)
    noise = noise_behind(left, jacobians, model.linear(vector))
    inverse, none = _inverse(np.sum([j.T @ j for j in jacobians], axis=0))
    spread = np.zeros_like(inverse)
    for j, size, memory, length in zip(jacobians, noise.size, noise.memory, noise.length, strict=True):
        further = length * (1.0 - memory) / (1.0 + memory)
        spread += further * size**2 * (j.T @ _lags(len(j), memory) @ j)
    rows = float(sum(len(rest) / length for rest, length in zip(left, noise.length, strict=True)))
    quantile = float(stdtrit(max(rows - len(vector), 1.0), 0.5 + LEVEL / 2))
    names = tuple(" and ".join(names) for names in model.free)
    return Confidence(inverse @ spread @ inverse, none, rows, quantile, names)


def simpler_fits_as_well(full: Model, vector: Array, simple: Model, simple_vector: Array) -> bool:
    """Whether the data do not reject a law with fewer constants at 95 %: the F test with the effective number of rows."""
    from scipy.special import fdtri

    left, jacobians = full.derivatives(vector)
    noise = noise_behind(left, jacobians, full.linear(vector))
    rows = rise = 0.0
    worse = simple.residuals(simple_vector[None])
    for rest, other, size, length in zip(left, worse, noise.size, noise.length, strict=True):
        rise += (float(np.sum(other**2)) - float(rest @ rest)) / (size**2 * length)
        rows += len(rest) / length
    fewer = len(vector) - len(simple_vector)
    return rise / fewer <= float(fdtri(fewer, max(rows - len(vector), 1.0), LEVEL))
