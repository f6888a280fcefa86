"""What unknowns make up for each other, and which measurement would tell them apart.

A place where no couple sat is tried as if one had: with the derivatives of its temperature added to what the log tells, the
covariance of the unknowns shrinks by so much (a couple of READINGS independent readings, with an offset of its own).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.studies.fit_confidence import Confidence
from thermokit.studies.fit_places import Place
from thermokit.studies.fit_squares import around, jacobian_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.studies.fit_search import Found

    Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

READINGS = 20  # independent readings of a couple that is tried
DEVIATION = 0.5  # K, of each
OFFSET = 0.75  # K, of all of them
HELPS = 0.6  # share of its half width to which an interval must come


@dataclass(frozen=True)
class Trade:
    """Two unknowns that make up for each other: one raised by ``first``, the other changed by ``second`` (on their scales)
    changes the readings by less than their noise.
    """

    names: tuple[str, str]
    first: float
    second: float


@dataclass(frozen=True)
class Couple:
    """A couple that would help: where, and the half widths (on their scales) to which the unknowns would come, by name."""

    words: str
    halves: dict[str, float]


@dataclass(frozen=True)
class Advice:
    """trades : unknowns that make up for each other; couple : the place that would help most, None where none does; alone :
    name -> half width (on its scale) of an unknown if the other one of its pair were known.
    """

    trades: tuple[Trade, ...] = ()
    couple: Couple | None = None
    alone: dict[str, float] | None = None


def advice_of(found: Found, sure: Confidence, pairs: Sequence[tuple[str, str, float]]) -> Advice:
    """What would tell unknown inputs apart, where some cannot be."""
    names = [v.name for v in found.model.variables]
    inputs = found.model.inputs
    hard = [(names.index(a), names.index(b)) for a, b, _ in pairs]
    hard = [pair for pair in hard if min(pair) < inputs]
    if not hard:
        return Advice()
    jacobian = found.best.jacobian
    trades = tuple(_trade(found, sure, i, j) for i, j in hard)
    alone = {}
    for i, j in hard:
        for own, other in ((i, j), (j, i)):
            keep = [k for k in range(len(names)) if k != other]
            half = _halves(jacobian[:, keep], found.space.size[keep], sure.quantiles[keep])
            alone[names[own]] = float(half[keep.index(own)])
    return Advice(trades, _couple(found, sure, [i for pair in hard for i in pair if i < inputs]), alone)


def _trade(found: Found, sure: Confidence, i: int, j: int) -> Trade:
    """How one of a pair makes up for a change of the other: along the direction of which least is told."""
    names = [v.name for v in found.model.variables]
    own = found.best.jacobian
    change = float(found.space.size[i])
    half = sure.half_width(i)
    if np.isfinite(half):
        change = min(change, half)
    # the other unknown that leaves the readings as they are, those besides following freely
    free = [k for k in range(own.shape[1]) if k != i]
    size = found.space.size[free]
    moved, *_ = np.linalg.lstsq(own[:, free] * size, -own[:, i] * change, rcond=1e-8)
    return Trade((names[i], names[j]), change, float(moved[free.index(j)] * size[free.index(j)]))


def _halves(jacobian: Array, size: Array, quantiles: Array) -> Array:
    """Half widths by a Jacobian."""
    scaled = jacobian * size
    values, directions = np.linalg.eigh(scaled.T @ scaled)
    values = np.maximum(values, 1e-12 * max(float(values[-1]), 1e-300))
    return np.asarray(quantiles * np.sqrt(((directions**2) / values).sum(axis=1)) * size)


def _couple(found: Found, sure: Confidence, wanted: Sequence[int]) -> Couple | None:
    """The place at which a couple more would narrow the unknowns most."""
    model = found.model
    if model.run is None or not model.run.edges:
        return None
    from thermokit.conduction.course import edges_of
    from thermokit.processes import process_of

    case = model.run.case
    course = process_of(case).course(model.run.edges)
    depth = float(edges_of(course)[-1].min())
    taken = {place.words for place in model.run.places}
    kinds = {place.kind for place in model.run.places}
    tried = [Place("inner", _face(case, True)), Place("outer", _face(case, False))]
    tried += [
        Place("depth", f"{1e3 * depth / 2:.3g} mm", depth / 2),
        Place("depth", f"{1e3 * depth / 4:.3g} mm", depth / 4),
    ]
    layers = dict.fromkeys(layer.name for leg in course.legs for layer in leg.layers)
    tried += [Place("layer", name, None, name) for name in layers if name not in course.shown]
    tried = [p for p in tried if p.words not in taken and not (p.kind in ("inner", "outer") and p.kind in kinds)]
    n = model.inputs
    inputs = found.best.at[:n]
    space = found.space
    points, offsets = around(inputs, type(space)(space.low[:n], space.high[:n], space.size[:n], space.step[:n]))
    values = np.column_stack([v.value(points[:, i]) for i, v in enumerate(model.variables[:n])])
    series = model.run.series(values, tried)
    rows = np.unique(np.linspace(1, series.shape[2] - 1, READINGS).astype(int))
    before = _halves(found.best.jacobian, space.size, sure.quantiles)
    best: tuple[float, Couple] | None = None
    for p, place in enumerate(tried):
        there = rows[np.isfinite(series[0, p, rows])]
        if len(there) < 3:
            continue
        own = jacobian_of(series[:, p, there], offsets) / DEVIATION
        halves = _with(found.best.jacobian, own, space.size, sure.quantiles)
        ratio = max(float(halves[i] / before[i]) for i in wanted)
        if best is None or ratio < best[0]:
            names = {model.variables[i].name: float(halves[i]) for i in dict.fromkeys(wanted)}
            best = (ratio, Couple(place.words, names))
    return best[1] if best is not None and best[0] < HELPS else None


def _with(jacobian: Array, own: Array, size: Array, quantiles: Array) -> Array:
    """Half widths with rows of one more couple, whose offset is a further unknown that is expected at zero."""
    rows, n = jacobian.shape
    whole = np.zeros((rows + len(own) + 1, n + 1))
    whole[:rows, :n] = jacobian
    whole[rows:-1, : own.shape[1]] = own
    whole[rows:-1, n] = 1.0 / DEVIATION
    whole[-1, n] = 1.0 / OFFSET
    return _halves(whole, np.append(size, 1.0), np.append(quantiles, 2.0))[:n]


def _face(case: object, inner: bool) -> str:
    """What a face of this kind of case is called."""
    upper = getattr(case, "process", "") in ("sheet", "charge")
    return ("upper_face" if inner else "lower_face") if upper else ("inner_face" if inner else "outer_face")
