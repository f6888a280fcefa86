"""Finds where a case follows what was measured: a coarse look at the whole of the bounds, then steps from the best of it.

The noise of a channel remembers itself from row to row (a couple that swings, a model that does not quite follow), so that n
rows do not count as n. What a first fit leaves of a channel has a size s, over what was stated, and hangs together over L rows.
With C the covariance of the unknowns and J_i the rows of channel i, the unknowns then vary by

    C (sum over channels of s^2 L J_i'J_i + J_o'J_o) C,      J_o the other rows

instead of C. The deviations of all channels are multiplied by the root of the largest ratio of the two, where that is above 1,
and it is fitted again. The channels are trusted as was stated, each beside the others: which of two that contradict each other
is wrong, what is left of them cannot say.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import SolveError
from thermokit.studies.fit_nodes import POINTS, Box, places_of
from thermokit.studies.fit_squares import Minimum, Space, distinct, minimum
from thermokit.studies.kinetics_confidence import noise_behind

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.studies.fit_model import FitModel

    Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

STARTS = 3  # places of the coarse look from which steps are taken
TRUE_STARTS = 2  # of what these come to, how many are followed by runs
TURNS = 25  # of the runs from one start
FINE = 1e-6  # relative change of the sum of squares that ends them
WEIGHINGS = 5
NUISANCE = {"lag": 3, "start": 7}  # values at which unknown lags and starts are first looked at
CHANGE = 1.5  # K, by which a difference shall change a channel at most
STEPS = (1e-3, 0.04)  # share of its range that a step of an input may be


@dataclass(frozen=True)
class Found:
    """The best minimum with the model as it was weighed in the end, other minima nearly as good, and the space of the search.

    lengths (channels,) : rows of each channel that count as one.
    """

    model: FitModel
    best: Minimum
    others: tuple[Minimum, ...]
    space: Space
    lengths: Array

    @property
    def estimated(self) -> list[tuple[slice, float]]:
        """(rows, degrees of freedom) of channels whose deviation was taken from their scatter."""
        out, first = [], 0
        for channel, weight, length in zip(self.model.channels, self.model.weights, self.lengths, strict=True):
            rows = slice(first, first + len(channel.time))
            first = rows.stop
            if weight > 1.0:
                out.append((rows, max(len(channel.time) / float(length) - self.model.inputs, 1.0)))
        return out


def space_of(model: FitModel, steps: Array) -> Space:
    """Bounds, sizes and steps of the variables of a model."""
    v = model.variables
    return Space(np.array([x.low for x in v]), np.array([x.high for x in v]), np.array([x.size for x in v]), steps)


def find(model: FitModel, told: Callable[[float], None]) -> Found:
    """The values at which the sum of squares is least. Raises SolveError where no run finishes."""
    box = coarse(model)
    told(0.3)
    steps = model.steps(_shares(model, box) if box is not None else None)
    space = space_of(model, steps)
    starts = _starts(model, box, space)
    if box is not None and box.sound:
        near = [minimum(lambda p: model.residuals(p, box.at), start, space, 1e-6, 60) for start in starts]
        starts = [one.at for one in distinct(near, space.size, 0.2)]
    reached = []
    for start in starts[:TRUE_STARTS]:
        reached.append(minimum(model.residuals, start, space, FINE, TURNS))
        told(0.3 + 0.3 * len(reached) / TRUE_STARTS)
    ordered = distinct(reached, space.size, 0.1)
    best, others = ordered[0], ordered[1:]
    lengths: Array = np.ones(len(model.channels))
    for _ in range(WEIGHINGS if model.channels else 0):
        weight, lengths = weight_of(model, best)
        if abs(weight / float(model.weights[0]) - 1.0) < 0.05:
            break
        model = model.weighed(np.full(len(model.channels), weight))
        best = minimum(model.residuals, best.at, space, FINE, TURNS)
    close = [one for one in others if _as_good(model, one, best)]
    return Found(model, best, tuple(close), space, lengths)


def coarse(model: FitModel) -> Box | None:
    """Runs at the points of the whole of the bounds; None without unknown inputs."""
    n = model.inputs
    if not n:
        return None
    low, high = (np.array([getattr(v, end) for v in model.variables[:n]]) for end in ("low", "high"))
    values = model.outputs(places_of(low, high, POINTS[n]))
    if not np.any(np.isfinite(values)):
        raise SolveError("no run between the bounds of the unknowns finishes", "look at the bounds in [fit.unknowns]")
    return Box(low, high, POINTS[n], values)


def box_about(model: FitModel, at: Array, half: Array) -> Box:
    """Runs at the points of a box about a place, within the bounds; half (inputs,) : of its sides."""
    n = model.inputs
    low = np.array([max(v.low, at[i] - half[i]) for i, v in enumerate(model.variables[:n])])
    high = np.array([min(v.high, at[i] + half[i]) for i, v in enumerate(model.variables[:n])])
    return Box(low, high, POINTS[n], model.outputs(places_of(low, high, POINTS[n])))


def _shares(model: FitModel, box: Box) -> list[float]:
    """Steps of the inputs as shares of their ranges: they change what is measured by some kelvin at most."""
    if model.run is None:
        return [0.01] * model.inputs
    rows = len(model.channels) * len(model.run.times)
    values = box.values[:, :rows].reshape(*[box.points] * model.inputs, rows)
    shares = []
    for axis in range(model.inputs):
        with np.errstate(all="ignore"):
            change = np.abs(np.diff(values, axis=axis)).sum(axis=axis)
        most = float(np.nanmax(change)) if np.any(np.isfinite(change)) else 0.0
        shares.append(float(np.clip(CHANGE / max(most, 1e-9), *STEPS)))
    return shares


def _starts(model: FitModel, box: Box | None, space: Space) -> list[Array]:
    """The best places of the coarse look, apart from each other."""
    begin = np.array([v.begin for v in model.variables])
    looks = []
    for v in model.variables[model.inputs :]:
        count = NUISANCE.get(v.role, 1)
        if count > 1 and np.isfinite(v.low) and np.isfinite(v.high):
            looks.append(v.low + (v.high - v.low) * (np.arange(count) + 0.5) / count)
        else:
            looks.append(np.array([v.begin]))
    combined = list(product(*looks))  # one empty one where nothing but inputs is unknown
    others = np.array(combined, float).reshape(len(combined), len(looks))
    if box is None:
        places = others
        outputs = np.repeat(model.outputs(np.zeros((1, 0))), len(others), axis=0)
    else:
        nodes = places_of(box.low, box.high, box.points)
        places = np.column_stack([np.repeat(nodes, len(others), axis=0), np.tile(others, (len(nodes), 1))])
        outputs = np.repeat(box.values, len(others), axis=0)
    rest = model.residuals(places, lambda _: outputs)
    squares = np.where(np.isfinite(rest).all(axis=1), (rest**2).sum(axis=1), np.inf)
    chosen: list[Array] = []
    for i in np.argsort(squares, kind="stable"):
        if not np.isfinite(squares[i]) or len(chosen) == STARTS:
            break
        if all(np.max(np.abs(places[i] - other) / space.size) > 1.0 for other in chosen):
            chosen.append(places[i])
    return chosen or [begin]


def weight_of(model: FitModel, found: Minimum) -> tuple[float, Array]:
    """(by what the deviations of all channels are multiplied, rows of each that count as one)."""
    outputs = model.outputs(found.at[None, : model.inputs])
    left, jacobians, first = [], [], 0
    for i, channel in enumerate(model.channels):
        rows = slice(first, first + len(channel.time))
        first = rows.stop
        rest = model.of_channel(i, found.at[None], outputs)[0] / channel.deviation
        there = rest != 0.0  # of a place that is not there nothing is left
        left.append(rest[there])
        jacobians.append(found.jacobian[rows][there] * model.weights[i] * sizes_of(model))
    noise = noise_behind(left, jacobians, [np.zeros((len(rest), 0)) for rest in left])
    own = np.maximum(1.0, noise.size**2 * noise.length)
    others = found.jacobian[first:] * sizes_of(model)
    held = others.T @ others
    values, directions = np.linalg.eigh(held + sum(j.T @ j for j in jacobians))
    values = np.maximum(values, 1e-10 * float(values[-1]))
    inverse = (directions / values) @ directions.T
    spread = held + sum(share * (j.T @ j) for share, j in zip(own, jacobians, strict=True))
    ratio = np.diag(inverse @ spread @ inverse) / np.diag(inverse)
    looked_at = ratio[: model.inputs] if model.inputs else ratio
    return float(np.sqrt(max(1.0, np.max(looked_at)))), noise.length


def sizes_of(model: FitModel) -> Array:
    """Sizes of the variables, which make columns of a Jacobian comparable."""
    return np.array([v.size for v in model.variables])


def _as_good(model: FitModel, one: Minimum, best: Minimum) -> bool:
    """Whether another minimum is not rejected beside the best: within the 95 % of a chi square of one more unknown."""
    rest = model.residuals(one.at[None])[0]
    return float(rest @ rest) - best.squares < 3.84
