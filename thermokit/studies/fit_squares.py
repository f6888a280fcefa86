"""Nonlinear least squares when one call gives the residuals of many points: minimum, its Jacobian, several starts.

``residuals`` takes points (points, n) and gives (points, rows): a batch of cases costs little more than one, so that a point
and those about it, from which the Jacobian is taken by central differences, are always asked for together. The steps are
those of ``scipy.optimize.least_squares`` (trust region, reflective at bounds).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Residuals = Callable[[Array], Array]

MOST_TURNS = 200


@dataclass(frozen=True)
class Space:
    """Where is looked: low, high (n,) bounds, infinite where open; size (n,) : by how much each unknown changes sensibly;
    step (n,) : of the differences.
    """

    low: Array
    high: Array
    size: Array
    step: Array

    def inside(self, points: Array) -> Array:
        """Points moved into the bounds."""
        return np.clip(points, self.low, self.high)


@dataclass(frozen=True)
class Minimum:
    """A minimum of the sum of squares.

    at (n,); residuals (rows,); jacobian (rows, n); turns : calls of the residuals; converged : False where the turns ran out.
    """

    at: Array
    residuals: Array
    jacobian: Array
    turns: int
    converged: bool

    @property
    def squares(self) -> float:
        """Sum of squares."""
        return float(self.residuals @ self.residuals)


def around(at: Array, space: Space) -> tuple[Array, Array]:
    """(points (2 n + 1, n) of which the first is ``at``, offsets (n, 2)) for :func:`jacobian_of`; at a bound both lie inside."""
    points = [at]
    offsets = np.empty((len(at), 2))
    for i in range(len(at)):
        h = space.step[i]
        up, down = at[i] + h <= space.high[i], at[i] - h >= space.low[i]
        pair = (-h, h) if up and down else (h, 2.0 * h) if up else (-h, -2.0 * h)
        offsets[i] = pair
        for offset in pair:
            point = at.copy()
            point[i] += offset
            points.append(point)
    return np.array(points), offsets


def jacobian_of(values: Array, offsets: Array) -> Array:
    """Derivatives (rows, n) at the first of the points of :func:`around`, exact for parabolas; values (2 n + 1, rows)."""
    middle = values[0]
    columns = []
    for i, (a, b) in enumerate(offsets):
        first, second = values[1 + 2 * i] - middle, values[2 + 2 * i] - middle
        columns.append((first * b / a - second * a / b) / (b - a))
    return np.column_stack(columns) if columns else np.zeros((len(middle), 0))


def minimum(
    residuals: Residuals, start: Array, space: Space, tolerance: float = 1e-10, most: int = MOST_TURNS
) -> Minimum:
    """The minimum that is reached from a start.

    tolerance : relative, of the sum of squares and of the unknowns. Raises SolveError where residuals at the start are not
    finite.
    """
    from scipy.optimize import least_squares

    kept: dict[bytes, tuple[Array, Array]] = {}
    turns = 0

    def both(at: Array) -> tuple[Array, Array]:
        nonlocal turns
        mark = at.tobytes()
        if mark not in kept:
            turns += 1
            points, offsets = around(at, space)
            values = residuals(points)
            kept.clear()  # only the last one is asked for again
            kept[mark] = (values[0], jacobian_of(values, offsets))
        return kept[mark]

    begin = _off_bounds(np.asarray(start, float), space)
    if not np.all(np.isfinite(both(begin)[0])):
        raise SolveError("the runs at the first values did not finish", "narrow the bounds in [fit.unknowns]")
    jacobians: dict[bytes, Array] = {}

    def value(at: Array) -> Array:
        found, jacobian = both(at)
        jacobians.clear()
        jacobians[at.tobytes()] = jacobian
        return np.where(np.isfinite(found), found, 1e6)

    def slope(at: Array) -> Array:
        jacobian = jacobians.get(at.tobytes())
        jacobian = both(at)[1] if jacobian is None else jacobian
        return np.where(np.isfinite(jacobian), jacobian, 0.0)

    found = least_squares(
        value, begin, jac=slope, bounds=(space.low, space.high), x_scale=space.size, ftol=tolerance, xtol=tolerance,
        gtol=None, max_nfev=most,
    )  # fmt: skip
    rest, jacobian = both(found.x)
    return Minimum(found.x, rest, jacobian, turns, found.status > 0)


def _off_bounds(start: Array, space: Space) -> Array:
    """A start inside the bounds, not on them: the trust region begins inside."""
    finite = np.isfinite(space.low) & np.isfinite(space.high)
    width = np.where(finite, space.high - space.low, 1.0)
    width = np.where(np.isfinite(width), width, 1.0)
    margin = np.minimum(1e-3 * width, space.step)
    low = np.where(np.isfinite(space.low), space.low + margin, -np.inf)
    high = np.where(np.isfinite(space.high), space.high - margin, np.inf)
    return np.clip(start, low, high)


def distinct(found: Sequence[Minimum], size: Array, apart: float = 0.05) -> list[Minimum]:
    """Minima in the order of their sums of squares, those at one place once; apart : distance in sizes."""
    out: list[Minimum] = []
    for one in sorted(found, key=lambda m: m.squares):
        if all(np.max(np.abs(one.at - other.at) / size) > apart for other in out):
            out.append(one)
    return out
