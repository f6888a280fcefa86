"""Parts within the tolerances: share that comes out right against the setting, and what the scatter comes from."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LABEL_POINTS, LINES, colours, house_style
from thermokit.figures.words import spoken

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.studies.tolerance_study import Scatter

MOST_CAUSES = 8
SMALL = 0.005  # share of the variance below which a cause is not drawn
HATCHES = ("", "////", "....", "\\\\\\\\", "xxxx", "++++")
_WIDTH, _ROW = 9.0, 0.3  # inches: of the page, of one group of bars for each limit


def draw_tolerance(found: Scatter) -> Figure:
    """Share of good parts against the setting, with what the others break; below it the causes, the largest first.

    Curves differ by dash pattern, bars by hatching: legible in grey.
    """
    from matplotlib.figure import Figure

    limits = [j for j in range(len(found.limits)) if np.isfinite(found.causes.rest[j])]
    told = np.nan_to_num(found.causes.shares).max(axis=0, initial=0.0) >= SMALL
    causes = [i for i in found.causes.ranked() if told[i]][:MOST_CAUSES]
    bars = 0.8 + max(len(causes), 1) * (0.15 + _ROW * 0.6 * max(len(limits), 1))
    curve = 3.2 if found.shares is not None else 0.0
    heading = textwrap.wrap(
        spoken(found.case.title or "Parts within the tolerances"), 80, max_lines=2, placeholder=" …"
    )
    words = textwrap.wrap(_words(found), 112)
    top = 0.2 + 0.2 * len(heading) + 0.17 * len(words) + 0.15
    whole = top + curve + (0.75 if curve else 0.0) + bars + 0.55
    with house_style():
        figure = Figure(figsize=(_WIDTH, whole))
        figure.text(0.06, 1 - 0.12 / whole, "\n".join(heading), va="top", fontsize=11.5, weight="bold")
        below = 1 - (0.18 + 0.2 * len(heading)) / whole
        figure.text(0.06, below, "\n".join(words), va="top", fontsize=LABEL_POINTS, linespacing=1.25)
        if curve:
            _draw_curve(figure.add_axes((0.085, 1 - (top + curve) / whole, 0.62, curve / whole)), found)
        _draw_causes(figure.add_axes((0.33, 0.5 / whole, 0.62, bars / whole)), found, causes, limits)
    return figure


def _words(found: Scatter) -> str:
    from thermokit.studies.tolerance_words import sentence

    return spoken(sentence(found))


def _draw_curve(axes: Axes, found: Scatter) -> None:
    """Share of good parts and shares that break each limit, against the setting."""
    shares = found.shares
    assert shares is not None
    x = found.scale.shown(shares.settings)
    axes.plot(x, 100 * shares.good, color="black", linewidth=2.4, label="inside all limits")
    # two limits alone would be the two ends of the scale
    for i, (name, row) in enumerate(zip(shares.names, shares.broken, strict=True)):
        if row.max() < 0.005:
            continue
        colour = colours(max(len(shares.names), 3))[i]
        axes.plot(x, 100 * row, color=colour, linestyle=LINES[(i + 1) % len(LINES)][0], label=f"break {spoken(name)}")
    marks: list[tuple[float, str, Any]] = []
    if found.setting is not None:
        marks.append((found.setting, f"drawn here: {found.scale.text(found.setting)}", "-"))
    best = found.best
    if best is not None and (found.setting is None or abs(best - found.setting) > 1e-3 * abs(best)):
        marks.append((best, f"best: {found.scale.text(best)}", (0, (2, 2))))
    for value, words, dash in marks:
        axes.axvline(found.scale.shown(value), color="0.35", linewidth=1.0, linestyle=dash, label=words)
    if found.setting is not None:
        look: dict[str, Any] = {"color": "black", "markersize": 6, "capsize": 3, "fmt": "o", "label": _drawn(found)}
        axes.errorbar([found.scale.shown(found.setting)], [100 * found.inside], yerr=[200 * found.error], **look)
    axes.set_ylim(0, 102)
    axes.set_xlim(x[0], x[-1])
    what = "dwell" if found.scale.dimension == "time" else found.path or ""
    axes.set_xlabel(f"{spoken(what)} [{found.scale.unit}]", fontsize=LABEL_POINTS)
    axes.set_ylabel("parts in 100", fontsize=LABEL_POINTS)
    axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize=LABEL_POINTS, handlelength=3.2)


def _drawn(found: Scatter) -> str:
    return f"{100 * found.inside:.1f} ± {200 * found.error:.1f}\n({found.draws} drawn, two\nstandard errors)"


def _draw_causes(axes: Axes, found: Scatter, causes: list[int], limits: list[int]) -> None:
    """Share of the variance of each limit's margin, bar by bar."""
    high = 0.8 / max(len(limits), 1)
    palette = colours(max(len(limits), 3))
    for n, j in enumerate(limits):
        y = np.arange(len(causes)) + (n - (len(limits) - 1) / 2) * high
        look: dict[str, Any] = {"facecolor": palette[n] if n == 0 else "white", "edgecolor": palette[n]}
        values = 100 * found.causes.shares[j, causes]
        axes.barh(y, values, high * 0.9, hatch=HATCHES[n % len(HATCHES)], label=spoken(found.limits[j].name), **look)
        for place, value in zip(y, values, strict=True):
            axes.text(value + 1.0, place, f"{value:.0f}", va="center", fontsize=LABEL_POINTS - 1)
    axes.set_yticks(range(len(causes)), [path_words(found.causes.names[i]) for i in causes], fontsize=LABEL_POINTS)
    axes.set_ylim(max(len(causes), 1) - 0.5, -0.5)
    axes.set_xlim(0, 108)
    axes.grid(visible=False, axis="y")
    axes.set_xlabel("share of the variance of the margin [%]", fontsize=LABEL_POINTS)
    if limits:
        axes.legend(loc="lower right", frameon=True, framealpha=1.0, edgecolor="0.8", fontsize=LABEL_POINTS)


def path_words(name: str) -> str:
    """A path as it is typed, broken at its dots where it is long."""
    if len(name) <= 34:
        return name
    cut = name.rfind(".", 0, 34)
    return f"{name[: cut + 1]}\n{name[cut + 1 :]}" if cut > 0 else name
