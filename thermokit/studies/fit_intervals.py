"""95 % intervals of the unknowns of a case: by the covariance, and by the profile, from a few runs about the minimum.

Profiles are taken on a polynomial through runs in a box about the minimum (:mod:`fit_nodes`), made larger until the ends lie
inside or the bounds are reached. Where the polynomial misses what the runs give, profiles take runs of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.studies.fit_confidence import Confidence, profile_ends
from thermokit.studies.fit_search import box_about
from thermokit.studies.fit_squares import Minimum, Space, minimum

if TYPE_CHECKING:
    from thermokit.studies.fit_nodes import Box
    from thermokit.studies.fit_search import Found

    Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

WIDE = 2.0  # half widths to each side that a box holds at first
LARGER = 2.5
GROWINGS = 3
MISSED = 0.15  # deviations by which a polynomial may miss a run
CURVED = 0.15  # share of the half width by which an end of a profile lies elsewhere


@dataclass(frozen=True)
class Interval:
    """An unknown on its scale: where it was found, half width by the covariance (infinite: not told), ends of the interval
    (None: not within the bounds), whether these come from a profile that differs from the covariance.
    """

    at: float
    half: float
    low: float | None
    high: float | None
    curved: bool


def intervals(found: Found, sure: Confidence) -> list[Interval]:
    """The interval of every unknown. Offsets, on which all depends linearly, by the covariance."""
    variables = found.model.variables
    halves = np.array([sure.half_width(i) for i in range(len(variables))])
    profiled = [i for i, v in enumerate(variables) if v.role != "offset"]
    ends = _profiles(found, sure, halves, profiled)
    out = []
    for i, v in enumerate(variables):
        at, half = float(found.best.at[i]), float(halves[i])
        low, high = ends.get(i, (at - half, at + half))
        if i not in ends:
            low = low if low is not None and low >= v.low else None
            high = high if high is not None and high <= v.high else None
        curved = not np.isfinite(half) or any(
            end is None or abs(abs(end - at) - half) > CURVED * half for end in (low, high)
        )
        out.append(Interval(at, half, low, high, curved))
    return out


def _profiles(
    found: Found, sure: Confidence, halves: Array, profiled: list[int]
) -> dict[int, tuple[float | None, float | None]]:
    """Ends of the profiles of some unknowns."""
    model, n = found.model, found.model.inputs
    if not n:
        outputs = model.outputs(np.zeros((1, 0)))
        return _ends(found, sure, profiled, found.space, lambda p: np.repeat(outputs, len(p), axis=0))
    full = np.array([v.high - v.low for v in model.variables[:n]])
    half = np.where(np.isfinite(halves[:n]), np.minimum(WIDE * halves[:n], full), full)
    half = np.maximum(half, 2.0 * found.space.step[:n])
    ends: dict[int, tuple[float | None, float | None]] = {}
    for _ in range(GROWINGS):
        box = box_about(model, found.best.at, half)
        if not box.sound or _missed(found, box) > MISSED:
            # too large a box for one polynomial, or with runs that fail: profiles by runs
            return _ends(found, sure, profiled, found.space, model.outputs)
        inside = _within(found.space, box)
        ends = _ends(found, sure, profiled, inside, box.at)
        short = [
            i for i in range(n)
            if (ends[i][0] is None and box.low[i] > found.space.low[i])
            or (ends[i][1] is None and box.high[i] < found.space.high[i])
        ]  # fmt: skip
        if not short:
            break
        half = np.minimum(LARGER * half, full)
    return ends


def _within(space: Space, box: Box) -> Space:
    """The space, its inputs held inside a box."""
    n = len(box.low)
    low, high = space.low.copy(), space.high.copy()
    low[:n], high[:n] = box.low, box.high
    return Space(low, high, space.size, np.minimum(space.step, (high - low) / 10.0))


def _missed(found: Found, box: Box) -> float:
    """By how many deviations the polynomial misses the run at the minimum."""
    at = found.best.at[None]
    return float(np.max(np.abs(found.model.residuals(at, box.at)[0] - found.best.residuals)))


def _ends(
    found: Found, sure: Confidence, profiled: list[int], space: Space, outputs: object
) -> dict[int, tuple[float | None, float | None]]:
    """Profiles with outputs by runs, or by what stands for them."""

    def residuals(points: Array) -> Array:
        return found.model.residuals(points, outputs)  # type: ignore[arg-type]

    best: Minimum = found.best
    if outputs != found.model.outputs:
        best = minimum(residuals, found.best.at, space, 1e-10, 60)
    return {i: profile_ends(residuals, best, space, sure, i) for i in profiled}
