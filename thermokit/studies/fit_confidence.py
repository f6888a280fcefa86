"""How sure fitted values are: covariance, intervals by profile where the sum of squares is curved, what cannot be told apart.

Residuals come in units of their standard deviation, so that with the Jacobian J at the minimum the covariance of the
unknowns is (J'J)^-1, times s^2 = sum of squares/(rows - unknowns) where the deviations themselves are taken from the scatter
(Bates and Watts, Nonlinear Regression Analysis, 1988, section 2.2). The profile of an unknown is the least sum of squares
with it held at a value; its 95 % interval ends where that has risen by t^2 s^2, t of Student's distribution (section 6.1).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.studies.fit_squares import Minimum, Space, minimum

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.studies.fit_squares import Residuals

    Array = NDArray[np.float64]

LEVEL = 0.95
TOGETHER = 0.98  # correlation from which two unknowns cannot be told apart
FLAT = 1e-10  # eigenvalue, over the largest, below which a direction is not determined
MOST_TRIES = 24  # of an end of a profile
NEAR = 0.002  # of the quantile, to which an end is found
REACH = 60.0  # half widths beyond which a profile is not followed


@dataclass(frozen=True)
class Confidence:
    """Errors of fitted values.

    covariance (n, n); scatter : s, standard deviation of the residuals (1 where stated ones are used); quantiles (n,) of
    Student's distribution for 95 % (of the normal one where all deviations are known); flat (n, directions) : directions of
    which nothing is told.
    """

    covariance: Array
    scatter: float
    quantiles: Array
    flat: Array

    def half_width(self, i: int) -> float:
        """Half the 95 % interval of an unknown by the covariance; infinite where nothing is told of it."""
        if self.flat.size and np.max(np.abs(self.flat[i])) > 1e-3:
            return float("inf")
        return float(self.quantiles[i] * np.sqrt(max(self.covariance[i, i], 0.0)))

    def deviation(self, i: int) -> float:
        """Standard deviation of an unknown."""
        return float(np.sqrt(max(self.covariance[i, i], 0.0)))

    def correlation(self) -> Array:
        """Correlation of the unknowns, (n, n)."""
        size = np.sqrt(np.maximum(np.diag(self.covariance), 1e-300))
        return np.asarray(np.clip(self.covariance / np.outer(size, size), -1.0, 1.0))


def confidence(
    found: Minimum, size: Array, by_scatter: bool = False, estimated: Sequence[tuple[slice, float]] = ()
) -> Confidence:
    """Errors at a minimum.

    size (n,) : sensible changes of the unknowns, which make them comparable; by_scatter : residuals have no stated deviation:
    it is taken from all of them; estimated : (rows, degrees of freedom) of those whose deviation was taken from their own
    scatter before. An unknown of which some rows are so has the degrees of freedom of Welch and Satterthwaite.
    """
    from scipy.special import ndtri, stdtrit

    jacobian = found.jacobian * size
    values, directions = np.linalg.eigh(jacobian.T @ jacobian)
    flat = values <= FLAT * max(float(values[-1]) if len(values) else 0.0, 1e-300)
    inverse = (directions[:, ~flat] / values[~flat]) @ directions[:, ~flat].T * np.outer(size, size)
    free = max(len(found.residuals) - len(found.at), 1)
    scatter = float(np.sqrt(found.squares / free)) if by_scatter else 1.0
    groups = [(slice(None), float(free))] if by_scatter else estimated
    shares = np.zeros(len(size))
    for rows, own in groups:
        part = inverse @ found.jacobian[rows].T
        shares += (part**2).sum(axis=1) ** 2 / own
    known = shares <= 0.0
    of_each = np.maximum(np.diag(inverse) ** 2 / np.where(known, 1.0, shares), 1.0)
    quantiles = np.where(known, ndtri(0.5 + LEVEL / 2.0), stdtrit(of_each, 0.5 + LEVEL / 2.0))
    return Confidence(inverse * scatter**2, scatter, quantiles, directions[:, flat])


def profile_ends(
    residuals: Residuals, found: Minimum, space: Space, sure: Confidence, i: int
) -> tuple[float | None, float | None]:
    """Ends of the 95 % interval of an unknown by its profile; None where a bound comes first, or no end was found."""
    return _end(residuals, found, space, sure, i, -1.0), _end(residuals, found, space, sure, i, 1.0)


def _end(residuals: Residuals, found: Minimum, space: Space, sure: Confidence, i: int, sign: float) -> float | None:
    """One end: where the square root of the rise, over s, comes to t; near to linear in the distance."""
    half = sure.half_width(i)
    bound = float(space.high[i] if sign > 0.0 else space.low[i])
    if not np.isfinite(half) or half <= 0.0:
        half = abs(bound - found.at[i]) / 4.0 if np.isfinite(bound) else 10.0 * float(space.size[i])
    wanted = float(sure.quantiles[i]) * sure.scatter
    begin = np.delete(found.at, i)
    slope = np.delete(sure.covariance[:, i], i) / max(float(sure.covariance[i, i]), 1e-300)

    low, rise_low, high = 0.0, 0.0, None
    rise_high = np.inf
    at = half
    most = abs(bound - found.at[i]) if np.isfinite(bound) else np.inf
    for _ in range(MOST_TRIES):
        at = min(at, most)
        rise, begin = _rise(residuals, found, space, i, sign * at, np.delete(found.at, i) + slope * sign * at, begin)
        if abs(rise - wanted) <= NEAR * wanted:
            return float(found.at[i] + sign * at)
        if rise < wanted:
            if at >= most or at > REACH * half:
                return None
            low, rise_low = at, rise
        else:
            high, rise_high = at, rise
        if high is None:
            at = min(max(at * min(wanted / max(rise, 1e-3 * wanted), 3.0), 1.2 * at), most)
        else:
            share = (wanted - rise_low) / (rise_high - rise_low) if np.isfinite(rise_high) else 0.5
            at = low + (high - low) * float(np.clip(share, 0.1, 0.9))
    return float(found.at[i] + sign * at)


def _rise(
    residuals: Residuals, found: Minimum, space: Space, i: int, move: float, guess: Array, last: Array
) -> tuple[float, Array]:
    """(square root of the rise of the least sum of squares with unknown i moved, the other unknowns there)."""
    value = float(np.clip(found.at[i] + move, space.low[i], space.high[i]))
    keep = np.arange(len(found.at)) != i
    if not np.any(keep):
        rest = residuals(np.array([[value]]))[0]
        return _root(float(rest @ rest) - found.squares), last

    def held(points: Array) -> Array:
        return residuals(np.insert(points, i, value, axis=1))

    own = Space(space.low[keep], space.high[keep], space.size[keep], space.step[keep])
    best = minimum(held, np.clip(guess, own.low, own.high), own, 1e-8, 40)
    return _root(best.squares - found.squares), best.at


def _root(rise: float) -> float:
    return float(np.sqrt(max(rise, 0.0))) if np.isfinite(rise) else float("inf")


def together(sure: Confidence, names: tuple[str, ...], limit: float = TOGETHER) -> list[tuple[str, str, float]]:
    """Pairs of unknowns that the measurements hardly tell apart: (name, name, correlation)."""
    found = sure.correlation()
    pairs = []
    for i in range(len(names)):
        for j in range(i):
            # a direction of which nothing is told has no covariance: there the two make up for each other wholly
            whole = [d for d in sure.flat.T if min(abs(d[i]), abs(d[j])) > 1e-3]
            correlation = float(np.sign(whole[0][i] * whole[0][j])) if whole else float(found[i, j])
            if abs(correlation) > limit:
                pairs.append((names[j], names[i], correlation))
    return pairs


def reweighed(found: Minimum, weight: Array) -> Minimum:
    """The same point with residuals over other deviations: weight (rows,) is what each is divided by."""
    return replace(found, residuals=found.residuals / weight, jacobian=found.jacobian / weight[:, None])
