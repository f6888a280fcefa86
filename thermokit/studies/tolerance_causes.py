"""What the scatter of parts comes from: shares of the variance of each margin, and the worst part that is still credible.

Over the tolerances a margin is nearly a sum of functions of one error each. A least-squares fit of a line and a parabola in
every error says how much of the variance each of them brings (Saltelli et al., Global Sensitivity Analysis, 2008, section 1.2.5: in
an additive model these are the first-order indices); what the fit leaves is interplay. `thermokit sensitivity` needs no such
form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array

PER_COLUMN = 8  # draws for each line and parabola, below which lines alone are fitted
CREDIBLE = 2.0  # standard deviations: one part in forty is worse, where margins are normal


@dataclass(frozen=True)
class Causes:
    """Shares of the variance.

    names : of the tolerances; shares (limits, tolerances) and rest (limits,) that no single error explains, NaN where a
    margin does not vary; overall (tolerances,) : weighted by the parts that break each limit; slopes (limits, tolerances) :
    change of the margin for one standard deviation of each error [SI].
    """

    names: tuple[str, ...]
    shares: Array
    rest: Array
    overall: Array
    slopes: Array

    def ranked(self) -> list[int]:
        """Numbers of the tolerances, the largest cause first."""
        return [int(i) for i in np.argsort(-self.overall, kind="stable")]


def causes_of(tolerances: dict[str, Any], uniform: Array, margins: Array) -> Causes:
    """What the scatter comes from; uniform (n, tolerances) in the unit cube, margins (limits, n) with NaN where none."""
    names = tuple(tolerances)
    scores = np.array([score_of(t, column) for t, column in zip(tolerances.values(), uniform.T, strict=True)])
    held = np.isfinite(margins).all(axis=0)
    count, limits = len(names), len(margins)
    shares, rest = np.full((limits, count), np.nan), np.full(limits, np.nan)
    slopes = np.full((limits, count), np.nan)
    x = scores[:, held]
    # two values have no parabola: its column would be constant
    enough = x.shape[1] >= PER_COLUMN * 2 * count
    curved = np.array([enough and len(np.unique(row)) > 2 for row in x], bool)
    parabola = x**2 - (x**2).mean(axis=1, keepdims=True)
    columns = np.concatenate([x - x.mean(axis=1, keepdims=True), parabola[curved]]).T
    which = np.concatenate([np.arange(count), np.flatnonzero(curved)])
    for j in range(limits):
        y = margins[j, held]
        spread = float(y.std()) if y.size else 0.0
        if y.size < 2 * columns.shape[1] + 2 or spread <= 1e-9 * max(1e-9, float(np.abs(y).max())):
            continue
        fit, *_ = np.linalg.lstsq(columns, y - y.mean(), rcond=None)
        for i in range(count):
            own = which == i
            shares[j, i] = float((columns[:, own] @ fit[own]).var() / y.var())
        slopes[j] = fit[:count]
        rest[j] = max(0.0, 1.0 - float(shares[j].sum()))
    return Causes(names, shares, rest, _overall(shares, margins[:, held]), slopes)


def _overall(shares: Array, margins: Array) -> Array:
    """Shares over all limits: each counts by the parts that break it; where none does, the one that comes nearest to it."""
    if not margins.size:
        return np.zeros(shares.shape[1])
    weight = (margins < 0.0).mean(axis=1)
    weight = np.where(np.isnan(shares).any(axis=1), 0.0, weight)
    if weight.sum() <= 0.0:
        spread = margins.std(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.where(np.isnan(shares).any(axis=1), np.inf, margins.mean(axis=1) / spread)
        weight = np.where(np.arange(len(margins)) == int(np.argmin(reach)), 1.0, 0.0)
    found = np.nansum(shares * weight[:, None], axis=0) / weight.sum()
    return np.asarray(np.nan_to_num(found))


def score_of(tolerance: Any, column: Array) -> Array:
    """An error in standard deviations (of a lognormal one: of its logarithm), at shares of its distribution."""
    from scipy.special import ndtri

    if tolerance.measured:
        held = np.array(tolerance.measured)
        spread = held.std()
        return np.asarray(
            (held[np.minimum((column * len(held)).astype(int), len(held) - 1)] - held.mean()) / (spread or 1.0)
        )
    if tolerance.distribution == "uniform":
        return np.asarray((2.0 * column - 1.0) * np.sqrt(3.0))
    return np.asarray(ndtri(np.clip(column, 1e-9, 1.0 - 1e-9)))


def share_at(tolerance: Any, score: float) -> float:
    """The share of the distribution at which an error has that many standard deviations; the end of one that has ends."""
    from scipy.special import ndtr

    if tolerance.measured:
        held = np.array(tolerance.measured)
        wanted = held.mean() + score * held.std()
        nearest = int(np.argmin(np.abs(held - wanted)))
        return (nearest + 0.5) / len(held)
    if tolerance.distribution == "uniform":
        return float(np.clip((score / np.sqrt(3.0) + 1.0) / 2.0, 0.0, 1.0))
    return float(ndtr(score))


def corners(causes: Causes, tolerances: dict[str, Any]) -> tuple[Array, Array]:
    """Points of the unit cube, (limits, tolerances) each: the worst credible part of every limit, and the worst corner of all.

    Credible : errors in proportion to what each does, together CREDIBLE standard deviations from the nominal part, where a
    margin that is a line loses most. Corner : every error at CREDIBLE of its own at once, which hardly any part has.
    """
    slopes = np.nan_to_num(causes.slopes)
    length = np.linalg.norm(slopes, axis=1, keepdims=True)
    near = -CREDIBLE * slopes / np.where(length > 0.0, length, 1.0)
    return _points(near, tolerances), _points(-CREDIBLE * np.sign(slopes), tolerances)


def _points(scores: Array, tolerances: dict[str, Any]) -> Array:
    kinds: Sequence[Any] = list(tolerances.values())
    return np.array([[share_at(t, float(s)) for t, s in zip(kinds, row, strict=True)] for row in scores])
