"""Bounded least squares around a model that is not linear, for values that should be even.

With x the N values to be evened out, s the other residuals, and settings u between low and high::

    minimise  N M^2 + |s|^2,   M = min over c of (1/N sum |x_i - c|^p)^(1/p)

p = 2 is the sum of squares about the mean, p = 8 nearly half the spread: the highest and the lowest value decide, and still
all is smooth. N M^2 = sum w_i (x_i - c)^2, with its gradient, for weights w_i = (|x_i - c|/M)^(p - 2) (A. Bjoerck, Numerical
Methods for Least Squares Problems, section 4.5). Each step makes the model straight at u and finds the smallest value within
the bounds that hold there; the model then says how far along the step it is better (Gauss and Newton's method with bounds).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array

MOST_STEPS = 8
HALVINGS = 4
POWER = 8.0  # p
NEWTON = 100  # steps of Newton's method, at most
CUTS = 30  # halvings of one of them
LITTLE = 1e-3  # of the value: a step that promises no more is not taken
ENOUGH = 1e-7  # of the value: what a step may still promise


class Model(Protocol):
    """What is fitted. A way, (n,), is a change of the settings, or of numbers that stand for them."""

    def at(self, settings: Array) -> Any:
        """The state at some settings."""

    def room(self, state: Any) -> tuple[Array, Array, Array]:
        """Where a state stands, and between what it may go from there, (n,) each."""

    def moved(self, state: Any, way: Array) -> Array:
        """The settings a way further on."""

    def residuals(self, state: Any) -> tuple[Array, Array]:
        """What should be even, (N,), and what should come to nothing, (m,)."""

    def slopes(self, state: Any) -> tuple[Array, Array]:
        """Change of both with each entry of a way, (N, n) and (m, n)."""


@dataclass(frozen=True, eq=False)
class Fit:
    """The best state that was found; steps that were taken; whether it came to rest."""

    state: Any
    steps: int
    settled: bool


def fit(
    model: Model,
    start: Array,
    at_rest: Callable[[Any, Any], bool],
    most_steps: int = MOST_STEPS,
    progress: Callable[[float], None] | None = None,
    power: float = POWER,
) -> Fit:
    """Settings at which what is to be evened out is smallest.

    start : (n,); at_rest : whether the last state differs so little from the one before that the work is done; progress :
    told the share of ``most_steps`` that is done; power : p, 2 or more. Every state is better than the one before.
    """
    state = model.at(start)
    for step in range(most_steps):
        if progress is not None:
            progress(step / most_steps)
        residuals, slopes = model.residuals(state), model.slopes(state)
        here, low, high = model.room(state)
        way, promised = _way(slopes, residuals, low - here, high - here, power)
        if promised <= LITTLE * value(residuals, power)[0]:
            return Fit(state, step, True)
        better = None
        for halving in range(HALVINGS + 1):
            trial = model.at(model.moved(state, way / 2**halving))
            if value(model.residuals(trial), power)[0] < value(residuals, power)[0]:
                better = trial
                break
        if better is None:
            return Fit(state, step, True)
        before, state = state, better
        if at_rest(before, state):
            return Fit(state, step + 1, True)
    return Fit(state, most_steps, False)


def _way(
    slopes: tuple[Array, Array], residuals: tuple[Array, Array], low: Array, high: Array, power: float
) -> tuple[Array, float]:
    """The step between low and high to the smallest value of the model made straight, (n,), and by how much that is less.

    Newton's method, each of its steps by bounded least squares: the model's second derivatives are R'R.
    """
    from scipy.optimize import lsq_linear

    high = np.maximum(high, low + 1e-9)  # K; lsq_linear wants bounds that differ
    way = np.clip(np.zeros(len(low)), low, high)
    here = _straight(slopes, residuals, way, power)
    for _ in range(NEWTON):
        whole, rise, bend = here
        root = np.linalg.cholesky(bend).T
        wanted = -np.linalg.solve(root.T, rise)
        step = lsq_linear(root, wanted, (low - way, high - way), method="bvls", max_iter=20 * len(way)).x
        if -(rise @ step) <= ENOUGH * whole:
            break
        for halving in range(CUTS):
            trial = np.clip(way + step / 2**halving, low, high)
            there = _straight(slopes, residuals, trial, power)
            if there[0] < whole:
                way, here = trial, there
                break
        else:
            break
    return way, value(residuals, power)[0] - here[0]


def _straight(
    slopes: tuple[Array, Array], residuals: tuple[Array, Array], way: Array, power: float
) -> tuple[float, Array, Array]:
    """Value of the model made straight, its rise (n,) and its second derivatives (n, n)."""
    even, other = (r + a @ way for r, a in zip(residuals, slopes, strict=True))
    whole, by_even, weight = value((even, other), power)
    rise = by_even @ slopes[0] + 2.0 * other @ slopes[1]
    curve = 2.0 * (power - 1.0) * weight
    bend = slopes[0].T @ (curve[:, None] * slopes[0]) + 2.0 * slopes[1].T @ slopes[1]
    bend -= np.outer(curve @ slopes[0], curve @ slopes[0]) / curve.sum()  # the middle goes along
    evenness = whole - float(other @ other)
    if evenness > 0.0:
        bend -= (power - 2.0) / (2.0 * evenness) * np.outer(by_even @ slopes[0], by_even @ slopes[0])
    return whole, rise, bend


def value(residuals: tuple[Array, Array], power: float = POWER) -> tuple[float, Array, Array]:
    """N M^2 + |s|^2; how it rises with each of the values that should be even, and their weights w, (N,) each.

    >>> value((np.array([1.0, 3.0, 5.0]), np.array([2.0])), power=2.0)[0]  # (-2)^2 + 0 + 2^2, and 2^2
    12.0
    """
    even, other = residuals
    rest = float(other @ other)
    half = float(np.ptp(even)) / 2.0
    if half == 0.0:
        return rest, np.zeros(len(even)), np.ones(len(even))
    share = (even - (even.max() + even.min()) / 2.0) / half
    middle = 0.0
    for _ in range(NEWTON):
        off = share - middle
        step = float(np.sum(np.sign(off) * np.abs(off) ** (power - 1.0)))
        step /= (power - 1.0) * float(np.sum(np.abs(off) ** (power - 2.0)))
        middle += step
        if abs(step) < 1e-14:
            break
    off = share - middle
    mean = float(np.mean(np.abs(off) ** power)) ** (1.0 / power)
    weight = (np.abs(off) / mean) ** (power - 2.0)
    return len(even) * (half * mean) ** 2 + rest, 2.0 * weight * half * off, weight
