"""Draws limits on a temperature: a line, hatched on the side that is not allowed, so that no colour is needed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import Label
from thermokit.figures.words import NO_BREAK, spoken
from thermokit.results.bounds import bounds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from thermokit.results.model import Result

_HATCH = {"least": "\\\\\\\\", "most": "////"}


def temperature_limits(result: Result) -> list[tuple[str, float, str]]:
    """Limits on a temperature: (least or most, degC, what to write beside it)."""
    found = []
    for limit in result.limits:
        if limit.unit != "degC":
            continue
        verdict = "met" if limit.met else "NOT MET"
        for which, value in bounds(limit):
            found.append((which, value, f"{spoken(limit.name)}: at {which} {value:g}{NO_BREAK}°C, {verdict}"))
    return found


def temperature_range(
    axes: Axes, values: Sequence[NDArray[np.float64]], limits: Sequence[tuple[str, float, str]]
) -> None:
    """Let the axis hold all these temperatures [degC] and all limits, with some air."""
    every = np.concatenate([np.ravel(v) for v in values] + [np.array([v for _, v, _ in limits])])
    every = every[np.isfinite(every)]
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    air = max(0.06 * (high - low), 0.5)
    axes.set_ylim(low - air, high + air)


def draw_limits(axes: Axes, limits: Sequence[tuple[str, float, str]]) -> list[Label]:
    """Draw each limit as a line with hatching on the side that is not allowed; gives the labels for the column."""
    low, high = axes.get_ylim()
    depth = 0.03 * (high - low)
    labels = []
    for which, value, text in limits:
        other = value - depth if which == "least" else value + depth
        look: dict[str, Any] = {"facecolor": "none", "edgecolor": "0.35", "hatch": _HATCH[which]}
        axes.axhspan(min(value, other), max(value, other), linewidth=0, zorder=1.5, **look)
        axes.axhline(value, color="0.1", linewidth=1.2, zorder=1.6)
        labels.append(Label(value, text, patch=look))
    return labels
