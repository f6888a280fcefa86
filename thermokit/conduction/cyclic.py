"""A state that goes through the same shot again and again: where it settles, and how many shots that takes.

P maps the state x at the beginning of a shot (say the temperatures of a tool's cells) to the state one shot later; the
settled state is x = P(x). A tool that keeps nearly all its heat needs hundreds of shots to get there; with the slope
M = dP/dx (:mod:`thermokit.conduction.slow_map`) Newton's method takes a few:

    x+ = x - A^(-1) g,      g = x - P(x),      A = I - M

The length of that step, not g, says how far off x is: where a shot takes away one hundredth of a deviation, the deviation
is a hundred times g. After each shot A is corrected so that it agrees with what was seen, A+ = A + (dg - A s) s^T/(s^T s)
for a move s that changed g by dg (Broyden's good update), damped as by Powell so that A stays regular. A step counts when
it is shorter than the one before, both measured with the corrected A; else the move is halved, then a plain shot is taken.

Sources: Broyden, Math. Comp. 19 (1965) 577; Powell in Rabinowitz (ed.), Numerical Methods for Nonlinear Algebraic
Equations (1970) 87; Deuflhard, Newton Methods for Nonlinear Problems (2004), section 2.1 (natural monotonicity).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Shot = Callable[[Array], Array]

REGULAR = 0.1  # no update takes more than nine tenths of the determinant of A: steps grow tenfold at most
HALVINGS = 1  # of a move that did not help, before a plain shot is taken instead
NEVER = 1e9  # shots that a deviation lasts, beyond which it is taken to stay for ever
STILL = 1e-4  # K


@dataclass(frozen=True)
class Settled:
    """Where a repeated shot settles.

    profile : (n,) [K]; evaluations : shots that it took to find; residual : largest abs(P(x) - x) [K] at the last x;
    error : estimated largest error of that x [K], that of ``profile``, one step further, is smaller; reached : whether it
    is below the tolerance and shots draw nearer to the profile; slope : (n, n), dP/dx there, corrected by what was seen.
    """

    profile: Array
    evaluations: int
    residual: float
    error: float
    reached: bool
    slope: Array


@dataclass(frozen=True)
class SettledMany:
    """The same of many cases: profile (n, cases), residual, error, reached (cases,), slope (n, n, cases).

    evaluations : of all cases at once. A case none of whose shots could be computed has an infinite error.
    """

    profile: Array
    evaluations: int
    residual: Array
    error: Array
    reached: Flags
    slope: Array


def settled_profile(shot: Shot, start: Array, slope: Array, tolerance: float = 0.01, most: int = 12) -> Settled:
    """The state that a repeated shot settles in.

    shot : state (n,) at the beginning -> state one shot later; start : (n,) first guess, the state before the first shot
    will do; slope : (n, n) estimate of dP/dx; tolerance : [K] of the state; most : shots after which it gives up.
    A shot that returns not-a-number is one that could not be computed. Raises ValueError for a slope that keeps a
    deviation for ever.

    >>> settled_profile(lambda x: 0.5 * x + 150.0, np.array([290.0]), np.array([[0.5]])).profile.tolist()
    [300.0]
    """
    many = settled_many(lambda x: np.asarray(shot(x[:, 0]))[:, None], start[:, None], slope, tolerance, most)
    return Settled(
        many.profile[:, 0],
        many.evaluations,
        float(many.residual[0]),
        float(many.error[0]),
        bool(many.reached[0]),
        many.slope[:, :, 0],
    )


def settled_many(shot: Shot, starts: Array, slopes: Array, tolerance: float = 0.01, most: int = 12) -> SettledMany:
    """The states that repeated shots of many cases settle in, all cases in each evaluation.

    shot : states (n, cases) -> (n, cases); starts : (n, cases); slopes : (n, n) for all or (n, n, cases). A case that has
    settled is given the same state again while others go on. Else as :func:`settled_profile`.
    """
    x = np.array(starts, float)
    cases = x.shape[1]
    slopes = np.asarray(slopes, float)
    matrix = _Corrected(slopes)
    base, base_g = x.copy(), np.zeros_like(x)  # the best state of each case so far
    profile = x.copy()
    residual, error = np.full(cases, np.inf), np.full(cases, np.inf)
    failures, done = np.zeros(cases, int), np.zeros(cases, bool)
    evaluations = 0
    while evaluations < most and not np.all(done):
        g = x - shot(x)
        evaluations += 1
        sound = np.all(np.isfinite(g), axis=0)
        g = np.where(sound, g, 0.0)
        known = np.isfinite(error)
        matrix.correct(x - base, g - base_g, sound & known & ~done)
        step, again = -matrix.solve(g), -matrix.solve(base_g)
        length, before = np.abs(step).max(axis=0), np.abs(again).max(axis=0)
        better = sound & ~done & (~known | (length < before))
        base, base_g = np.where(better, x, base), np.where(better, g, base_g)
        profile = np.where(better, x + step, profile)
        residual = np.where(better, np.abs(g).max(axis=0), residual)
        error = np.where(better, length, error)
        failures = np.where(better, 0, failures + 1)
        done = error <= tolerance
        back = np.where(failures <= HALVINGS, again * 0.5**failures, -base_g)
        x = np.where(done, x, base + np.where(better, step, back))
    slope = matrix.slope(cases)
    return SettledMany(profile, evaluations, residual, error, done & _fading(slope), slope)


class _Corrected:
    """A = I - M with corrections of rank one for each case, A + sum_j u_j v_j^T; solved by Woodbury's formula."""

    def __init__(self, slopes: Array):
        self.slopes = slopes
        self.first = np.eye(len(slopes)) - (np.moveaxis(slopes, -1, 0) if slopes.ndim == 3 else slopes)
        try:
            self.inverse: Array = np.asarray(np.linalg.inv(self.first), float)
            lasting = float(np.abs(self.inverse).max(initial=0.0))
        except np.linalg.LinAlgError:
            lasting = np.inf
        if not lasting < NEVER:
            raise ValueError("a deviation of the state stays for ever: nothing takes its heat from shot to shot")
        self.u: list[Array] = []
        self.v: list[Array] = []
        self.w: list[Array] = []  # A^(-1) u with the first A

    def _times(self, matrix: Array, x: Array) -> Array:
        return matrix @ x if matrix.ndim == 2 else (matrix @ x.T[:, :, None])[:, :, 0].T

    def solve(self, g: Array) -> Array:
        """A^(-1) g, (n, cases)."""
        y = self._times(self.inverse, g)
        if not self.u:
            return y
        v, w = np.stack(self.v), np.stack(self.w)
        small = np.eye(len(v)) + np.einsum("inc,jnc->cij", v, w)
        shares = np.linalg.solve(small, np.einsum("inc,nc->ci", v, y)[..., None])[..., 0]
        return np.asarray(y - np.einsum("inc,ci->nc", w, shares))

    def correct(self, s: Array, dg: Array, where: Flags) -> None:
        """Make A s = dg in the cases of ``where``, as far as A stays regular."""
        square = np.sum(s * s, axis=0)
        where = where & (square > 0.0)
        if not np.any(where):
            return
        v = np.where(where, s / np.where(where, square, 1.0), 0.0)
        seen = self._times(self.first, s)
        for u_before, v_before in zip(self.u, self.v, strict=True):
            seen = seen + u_before * np.sum(v_before * s, axis=0)
        u = np.where(where, dg - seen, 0.0)
        growth = 1.0 + np.sum(v * self.solve(u), axis=0)  # of the determinant
        mild = np.abs(growth) >= REGULAR
        least = np.where(growth < 0.0, -REGULAR, REGULAR)
        u = u * np.where(mild, 1.0, (1.0 - least) / np.where(mild, 1.0, 1.0 - growth))
        self.u.append(u)
        self.v.append(v)
        self.w.append(self._times(self.inverse, u))

    def slope(self, cases: int) -> Array:
        """M of every case as it stands now, (n, n, cases)."""
        n = len(self.slopes)
        out = np.array(np.broadcast_to(self.slopes.reshape(n, n, -1), (n, n, cases)))
        for u, v in zip(self.u, self.v, strict=True):
            out -= u[:, None] * v[None]
        return out


def _fading(slope: Array) -> Flags:
    """Whether deviations fade from shot to shot, (cases,): all eigenvalues of M (n, n, cases) inside the unit circle."""
    # what gives heat to cold neighbours only has row sums below one: no need for eigenvalues there
    fading = np.abs(slope).sum(axis=1).max(axis=0, initial=0.0) < 1.0
    for case in np.flatnonzero(~fading):
        fading[case] = np.abs(np.linalg.eigvals(slope[:, :, case])).max() < 1.0
    return np.asarray(fading)


def shots_until_settled(slope: Array, start: Array, settled: Array, within: float) -> int:
    """The first shot after which the state stays within ``within`` [K] of the settled one, from the slope alone.

    Smallest k with abs(M^k (start - settled)) <= within in every cell; 0 where the start is near enough. Conduction lets
    the largest deviation only fall, so that k is found by doubling and halving. slope : (n, n); start, settled : (n,).
    Raises ValueError where deviations do not fade.

    >>> shots_until_settled(np.array([[0.5]]), np.array([16.0]), np.array([0.0]), 1.0)
    4
    """
    deviation = start - settled
    if np.abs(deviation).max() <= within:
        return 0
    powers = [slope]
    while np.abs(powers[-1] @ deviation).max() > within:
        if not 2.0 ** len(powers) < NEVER:
            raise ValueError("deviations do not fade from shot to shot")
        powers.append(powers[-1] @ powers[-1])
    count = 0
    for exponent in range(len(powers) - 2, -1, -1):
        further = powers[exponent] @ deviation
        if np.abs(further).max() > within:
            deviation = further
            count += 2**exponent
    return count + 1


def follow_shots(shot: Shot, start: Array, count: int, still: float = STILL) -> Array:
    """The states before the first and after each of ``count`` shots, shot by shot, (count + 1, n).

    start : (n,), or (n, cases) for (count + 1, n, cases). Where no state changes by more than ``still`` [K] in a shot the
    rest are taken to be the same: with a share m of a deviation left after a shot, it ends within still m/(1 - m) of the
    settled state. still = 0 follows every shot.
    """
    out = np.empty((count + 1, *np.shape(start)))
    out[0] = start
    for number in range(1, count + 1):
        out[number] = shot(out[number - 1])
        if np.abs(out[number] - out[number - 1]).max() < still:
            out[number + 1 :] = out[number]
            break
    return out
