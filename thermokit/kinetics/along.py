"""The degree along measured temperatures, for many sets of two-rate constants and many runs in one pass: made for fitting.

d(a)/dt = (k1 + k2 a^m)(1 - a)^n is stepped in p = [(1 - a)^(1-n) - 1]/(n - 1), or -ln(1 - a) for n = 1, for which

    dp/dt = k1(T) + k2(T) a(p)^m

has no decaying part, however fast the reaction or hot the end of a run, so that an explicit method of order 4 (Kutta)
stays stable on a few hundred steps. The steps are laid where a run reacts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.kinetics.guards import GAS_CONSTANT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

STEPS, ROUGH = 160, 50  # ROUGH is good to some 1e-3, for finding where to look
_LEAST = 1e-12  # degree, in its power
_END = -1.0 + 1e-14  # order p at which an order below 1 is done
_ONE = 1e-7  # an order nearer to 1 than this counts as 1
_EVEN, _EARLY = 0.25, 0.1  # shares of the steps: even in time, crowded at the start; the others follow the degree


@dataclass(frozen=True)
class Constants:
    """Sets of constants: factors of k1 and k2 as logarithms at ``reference``, energies, exponents, and start.

    ln_k1, ln_k2 : ln of [1/s] at the reference temperature [K], (sets,), -inf for no such rate; energy_1, energy_2
    [J/mol], m, n, start : (sets,).
    """

    ln_k1: Array
    energy_1: Array
    ln_k2: Array
    energy_2: Array
    m: Array
    n: Array
    start: Array
    reference: float

    def rates(self, temperature: Array) -> tuple[Array, Array]:
        """(k1, k2) [1/s] at temperatures (...,): each (..., sets)."""
        colder = (1.0 / temperature - 1.0 / self.reference)[..., None] / GAS_CONSTANT
        return (
            np.exp(self.ln_k1 - self.energy_1 * colder),
            np.exp(self.ln_k2 - self.energy_2 * colder),
        )


@dataclass(frozen=True)
class Track:
    """A run's temperatures as steps, and where its rows lie on them.

    edges : times of the steps [s], (steps + 1,); temperature : at the edges and in the middles [K], (2 steps + 1,); rows :
    step of each row; share : place in it, 0 to 1; row_temperature [K], (rows,).
    """

    edges: Array
    temperature: Array
    rows: NDArray[np.intp]
    share: Array
    row_temperature: Array


def track(time: Array, temperature: Array, degree: Array, at: Array, steps: int = STEPS) -> Track:
    """Steps for a run: some even in time, some crowded at its start, most even in its degree as far as that is known.

    time [s] ascending, temperature [K], degree [-] : as measured, a rough degree is good enough; at : times of the rows that
    are asked for [s], within the run.
    """
    fine = np.linspace(0.0, 1.0, 20 * steps + 1) ** 2  # close together at the start
    when = time[0] + (time[-1] - time[0]) * fine
    risen = np.interp(when, time, np.maximum.accumulate(np.clip(degree, 0.0, 1.0)))
    span = max(float(risen[-1] - risen[0]), 1e-9)
    weight = _EVEN * fine + _EARLY * np.cbrt(fine) + (1.0 - _EVEN - _EARLY) * (risen - risen[0]) / span
    edges = np.interp(np.linspace(0.0, weight[-1], steps + 1), weight, when)
    edges[0], edges[-1] = time[0], time[-1]
    halves = np.empty(2 * steps + 1)
    halves[::2], halves[1::2] = edges, (edges[1:] + edges[:-1]) / 2
    rows = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, steps - 1)
    share = (at - edges[rows]) / np.maximum(edges[rows + 1] - edges[rows], 1e-300)
    return Track(edges, np.interp(halves, time, temperature), rows, share, np.interp(at, time, temperature))


def degrees_along(constants: Constants, tracks: list[Track]) -> list[tuple[Array, Array]]:
    """(degree, d(degree)/dt [1/s]) at the rows of every run, each (rows, sets).

    All tracks have the same number of steps. The error of the degree is about 1e-5 with 160 steps.
    """
    steps = len(tracks[0].edges) - 1
    k1, k2 = constants.rates(np.stack([t.temperature for t in tracks], axis=1))  # (2 steps + 1, runs, sets)
    h = np.diff(np.stack([t.edges for t in tracks], axis=1), axis=0)[..., None]  # (steps, runs, 1)
    half, sixth = h / 2, h / 6
    order = constants.n - 1.0
    order = np.where(np.abs(order) < _ONE, _ONE, order)
    p, slope = np.empty((steps + 1, *k1.shape[1:])), np.empty((steps + 1, *k1.shape[1:]))
    p[0] = np.expm1(-order * np.log1p(-constants.start)) / order
    work = np.empty_like(p[0])
    growth = _Growth(k1, k2, order, constants.m)
    with np.errstate(over="ignore", invalid="ignore"):
        for i in range(steps):
            now = p[i]
            first = growth(now, 2 * i, slope[i])
            np.multiply(first, half[i], out=work)
            work += now
            second = growth(work, 2 * i + 1, np.empty_like(work))
            np.multiply(second, half[i], out=work)
            work += now
            third = growth(work, 2 * i + 1, np.empty_like(work))
            np.multiply(third, h[i], out=work)
            work += now
            fourth = growth(work, 2 * i + 2, np.empty_like(work))
            second += third
            second *= 2.0
            second += first
            second += fourth
            second *= sixth[i]
            np.add(now, second, out=p[i + 1])
        growth(p[steps], 2 * steps, slope[steps])
        return [_at_rows(constants, order, t, p[:, r], slope[:, r]) for r, t in enumerate(tracks)]


class _Growth:
    """dp/dt = k1 + k2 a(p)^m at a node of the steps, without arrays of its own: this is called some thousand times."""

    def __init__(self, k1: Array, k2: Array, order: Array, m: Array):
        self.k1, self.k2, self.order, self.m = k1, k2, order, m
        self.inverse = -1.0 / order
        self.ends = bool(np.any(order < 0.0))  # an order below 1 reaches its end at a finite p

    def __call__(self, p: Array, node: int, out: Array) -> Array:
        np.multiply(p, self.order, out=out)
        if self.ends:
            np.maximum(out, _END, out=out)
        np.log1p(out, out=out)
        out *= self.inverse
        np.expm1(out, out=out)  # -a
        np.negative(out, out=out)
        np.maximum(out, _LEAST, out=out)
        np.power(out, self.m, out=out)
        out *= self.k2[node]
        out += self.k1[node]
        return out


def _at_rows(constants: Constants, order: Array, along: Track, p: Array, slope: Array) -> tuple[Array, Array]:
    """Degree and rate at the rows: p by Hermite's cubic in its step, the rate from the law itself."""
    i, s = along.rows, along.share[:, None]
    h = (along.edges[i + 1] - along.edges[i])[:, None]
    rest = 1.0 - s
    at = rest * rest * ((1.0 + 2.0 * s) * p[i] + s * h * slope[i])
    at += s * s * ((3.0 - 2.0 * s) * p[i + 1] - rest * h * slope[i + 1])
    left = np.log1p(np.maximum(order * at, _END)) / order  # -ln(1 - a)
    degree = -np.expm1(-left)
    k1, k2 = constants.rates(along.row_temperature)
    growth = k1 + k2 * np.exp(constants.m * np.log(np.maximum(degree, _LEAST)))
    return degree, growth * np.exp(-constants.n * left)
