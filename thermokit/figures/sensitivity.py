"""What the answer hangs on: both indices of every input with their intervals, and what each input does alone."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LABEL_POINTS, colours, house_style
from thermokit.figures.tolerance import path_words
from thermokit.figures.words import UNITS, spoken

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.studies.sensitivity import Sensitivity

MOST_OUTPUTS, MOST_INPUTS = 6, 10
_WIDTH, _BAR, _BETWEEN = 11.0, 0.34, 0.95  # inches: page, one input, room between outputs
_LEFT, _MIDDLE, _RIGHT = (0.235, 0.36), (0.655, 0.325), 0.98


def draw_sensitivity(found: Sensitivity) -> Figure:
    """For each output: bars of the total index with the first order in it and both intervals; beside it the output when one
    input alone goes from its low (hollow) to its high end (filled), the largest cause first.
    """
    from matplotlib.figure import Figure

    from thermokit.studies.sensitivity_words import title_of

    told = [o for o in range(len(found.outputs)) if np.isfinite(found.indices.total[o]).all()][:MOST_OUTPUTS]
    inputs = min(len(found.inputs), MOST_INPUTS)
    high = max(inputs * _BAR, 0.8)
    heading = textwrap.wrap(spoken(found.case.title or "Sensitivity"), 90, max_lines=2, placeholder=" …")
    top = 0.35 + 0.2 * len(heading) + 0.2
    whole = top + max(len(told), 1) * (high + _BETWEEN) + 0.1
    with house_style():
        figure = Figure(figsize=(_WIDTH, whole))
        figure.text(0.02, 1 - 0.12 / whole, "\n".join(heading), va="top", fontsize=11.5, weight="bold")
        figure.text(0.02, 1 - (0.18 + 0.2 * len(heading)) / whole, _words(found), va="top", fontsize=LABEL_POINTS)
        for n, o in enumerate(told):
            bottom = whole - top - n * (high + _BETWEEN) - high - 0.25
            box = [(left, bottom / whole, width, high / whole) for left, width in (_LEFT, _MIDDLE)]
            ranked = found.ranked(o)[:inputs]
            _draw_indices(figure.add_axes(box[0]), found, o, ranked, first=n == 0)
            _draw_alone(figure.add_axes(box[1]), found, o, ranked, first=n == 0)
            head = spoken(title_of(found.outputs[o])).replace("degC", UNITS["degC"])
            figure.text(0.02, (bottom + high + 0.08) / whole, head, va="bottom", fontsize=10, weight="bold")
        if not told:
            figure.text(0.02, 0.3, "Nothing changes over these inputs.", fontsize=10)
    return figure


def _words(found: Sensitivity) -> str:
    at = f" at {found.scale.text(found.setting)}" if found.setting is not None else ""
    over = "ranges of the sweep" if found.over == "sweep" else "tolerances"
    return f"Share of the variance over the {over}{at}; whiskers: 95 in 100. {found.indices.rows} base rows."


def _draw_indices(axes: Axes, found: Sensitivity, o: int, ranked: list[int], first: bool) -> None:
    """Total and first-order index of every input."""
    i = found.indices
    y = np.arange(len(ranked), dtype=float)
    dark = colours(3)[0]
    look: dict[str, Any] = {"edgecolor": dark, "linewidth": 0.9}
    axes.barh(y, i.total[o, ranked], 0.72, facecolor="white", hatch="////", label="in all (total)", **look)
    axes.barh(y, i.first[o, ranked], 0.4, facecolor=dark, label="alone (first order)", **look)
    for shift, value, ends, style in ((-0.28, i.total, i.total_range, "0.25"), (0.0, i.first, i.first_range, "0.6")):
        low, high = value[o, ranked] - ends[0, o, ranked], ends[1, o, ranked] - value[o, ranked]
        error = np.maximum([low, high], 0.0)
        axes.errorbar(value[o, ranked], y + shift, xerr=error, fmt="none", ecolor=style, elinewidth=1.3, capsize=2.5)
    axes.set_yticks(y, [path_words(found.inputs[k]) for k in ranked], fontsize=LABEL_POINTS - 0.5)
    axes.set_ylim(len(ranked) - 0.4, -0.6)
    axes.set_xlim(min(0.0, float(np.nanmin(i.first_range[0, o])), 0.0), max(1.0, float(np.nanmax(i.total_range[1, o]))))
    axes.grid(visible=False, axis="y")
    axes.tick_params(labelsize=LABEL_POINTS)
    axes.set_xlabel("share of the variance", fontsize=LABEL_POINTS)
    if first:
        axes.legend(loc="lower right", fontsize=LABEL_POINTS, framealpha=1.0, edgecolor="0.8")


def _draw_alone(axes: Axes, found: Sensitivity, o: int, ranked: list[int], first: bool) -> None:
    """The output when one input alone goes from its low to its high end."""
    y = np.arange(len(ranked), dtype=float)
    low, high = found.alone[0, o, ranked], found.alone[1, o, ranked]
    dark = colours(3)[0]
    for place, a, b in zip(y, low, high, strict=True):
        axes.plot([a, b], [place, place], color=dark, linewidth=4, solid_capstyle="butt", alpha=0.35)
    look: dict[str, Any] = {"linestyle": "none", "color": dark, "markersize": 6}
    axes.plot(low, y, marker="o", markerfacecolor="white", label="input low", **look)
    axes.plot(high, y, marker="o", label="input high", **look)
    axes.axvline(found.nominal[o], color="0.35", linewidth=1.0)
    if found.outputs[o].margin:
        axes.axvline(0.0, color="black", linewidth=1.4, linestyle=(0, (4, 2)))
    axes.set_yticks(y, [""] * len(ranked))
    axes.set_ylim(len(ranked) - 0.4, -0.6)
    axes.grid(visible=False, axis="y")
    axes.tick_params(labelsize=LABEL_POINTS)
    unit = found.outputs[o].unit
    what = "margin, broken left of the dashed line" if found.outputs[o].margin else spoken(found.outputs[o].name)
    axes.set_xlabel(what + ("" if unit == "1" else f" [{UNITS.get(unit, unit)}]"), fontsize=LABEL_POINTS)
    if first:
        axes.legend(loc="best", fontsize=LABEL_POINTS - 1, framealpha=0.9, edgecolor="0.8")
