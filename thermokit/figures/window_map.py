"""A map over two settings: every limit's line, the island where all are met, the present setting and its way to the edges."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LABEL_POINTS, LINES, colours, house_style
from thermokit.figures.words import UNITS, spoken

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.studies.window_map import WindowMap
    from thermokit.studies.window_map_edges import Edge

_WIDTH, _HIGH = 10.0, 5.2  # inches: page, map
_SHORT = 0.06  # share of a side below which a way is too short for words
_ISLAND = "#e9e2b8"  # light enough in grey that lines and words stand out


def draw_window_map(found: WindowMap) -> Figure:
    """Lines where each limit begins to be broken, with teeth on the broken side and a dash pattern of its own; the island
    where every limit is met is shaded, what could not be solved is hatched.
    """
    from matplotlib.figure import Figure

    heading = textwrap.wrap(spoken(found.case.title or "Window map"), 84, max_lines=2, placeholder=" …")
    words = [line for part in _words(found) for line in textwrap.wrap(part, 122)]
    top = 0.25 + 0.2 * len(heading) + 0.17 * len(words) + 0.15
    whole = top + _HIGH + 0.6
    with house_style():
        figure = Figure(figsize=(_WIDTH, whole))
        figure.text(0.02, 1 - 0.12 / whole, "\n".join(heading), va="top", fontsize=11.5, weight="bold")
        below = 1 - (0.18 + 0.2 * len(heading)) / whole
        figure.text(0.02, below, "\n".join(words), va="top", fontsize=LABEL_POINTS, linespacing=1.25)
        axes = figure.add_axes((0.085, 0.55 / whole, 0.63, _HIGH / whole))
        _draw(axes, found)
    return figure


def _words(found: WindowMap) -> list[str]:
    from thermokit.studies.window_map_words import edge_words

    if found.present is None:
        return [f"Every limit is met on {100 * found.share:.0f} % of the map."]
    x, y = found.present
    state = "inside" if found.inside else "outside"
    told = [f"Present setting: {found.across.text(x)}, {found.up.text(y)}, {state}."]
    if found.nearest is not None:
        told.append(f"Nearest edge in any direction: {spoken(edge_words(found, found.nearest))}.")
    return [" ".join(told).replace("degC", UNITS["degC"]), *(f"{note[0].upper()}{note[1:]}." for note in found.notes)]


def _draw(axes: Axes, found: WindowMap) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    x, y = found.across.shown(found.x), found.up.shown(found.y)
    handles: list[Any] = [Patch(facecolor=_ISLAND, edgecolor="0.6", label="every limit is met")]
    with np.errstate(invalid="ignore"):
        size = np.nanstd(found.margins, axis=(1, 2))
        worst = (found.margins / np.where(size > 0.0, size, 1.0)[:, None, None]).min(axis=0)
    if np.isfinite(worst).any() and np.nanmax(worst) > 0.0:
        axes.contourf(x, y, worst, levels=[0.0, np.inf], colors=[_ISLAND], zorder=0)
    if not np.isfinite(worst).all():
        axes.contourf(x, y, np.isnan(worst).astype(float), levels=[0.5, 2.0], colors="none", hatches=["xx"], zorder=0)
        handles.append(Patch(facecolor="none", edgecolor="0.5", hatch="xx", label="could not be solved"))
    palette = colours(max(len(found.limits), 3))
    for j, (limit, margins) in enumerate(zip(found.limits, found.margins, strict=True)):
        finite = margins[np.isfinite(margins)]
        label = f"{spoken(limit.name)}\n{limit.required}".replace("degC", UNITS["degC"])
        if not finite.size or finite.min() > 0.0 or finite.max() < 0.0:
            state = "met everywhere" if finite.size and finite.min() > 0.0 else "met nowhere"
            handles.append(Line2D([], [], linestyle="none", label=f"{label}\n({state})"))
            continue
        dash, colour = LINES[j % len(LINES)][0], palette[j]
        _contour(axes, x, y, margins, colour, dash)
        handles.append(Line2D([], [], color=colour, linestyle=dash, linewidth=1.8, label=label))
    handles += _draw_present(axes, found)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    axes.set_axisbelow(False)
    axes.grid(color="0.7", linewidth=0.4, alpha=0.5)
    for name, axis in (("x", found.across), ("y", found.up)):
        unit = UNITS.get(axis.unit, axis.unit)
        words = axis.name + (f" [{unit}]" if unit else "")
        label = "\n".join(textwrap.wrap(words.replace("+", " + "), 70))
        (axes.set_xlabel if name == "x" else axes.set_ylabel)(label, fontsize=LABEL_POINTS)
    axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False, fontsize=LABEL_POINTS,
        handlelength=3.2, labelspacing=0.9, borderaxespad=0.0,
    )  # fmt: skip


def _contour(axes: Axes, x: Any, y: Any, margins: Any, colour: Any, dash: Any) -> None:
    """The line of a limit, with teeth on the side on which it is broken."""
    from matplotlib.patheffects import TickedStroke

    axes.contour(x, y, margins, levels=[0.0], colors=[colour], linewidths=1.8, linestyles=[dash])
    teeth = axes.contour(x, y, margins, levels=[0.0], colors=[colour], linewidths=0.01)
    teeth.set_path_effects([TickedStroke(angle=-90, spacing=14, length=0.5, linewidth=0.9, foreground=colour)])


def _draw_present(axes: Axes, found: WindowMap) -> list[Any]:
    """The present setting, its ways to the edges and where most room is; returns what the legend shows."""
    from matplotlib.lines import Line2D

    handles: list[Any] = []
    if found.present is not None:
        px, py = float(found.across.shown(found.present[0])), float(found.up.shown(found.present[1]))
        for edge in found.edges:
            _arrow(axes, found, (px, py), edge)
        axes.plot(
            [px], [py], marker="o", markersize=8, color="black", markerfacecolor="white", markeredgewidth=2, zorder=5
        )
        look: dict[str, Any] = {"marker": "o", "markersize": 8, "color": "black", "linestyle": "none"}
        handles.append(Line2D([], [], markerfacecolor="white", markeredgewidth=2, label="present setting", **look))
    if found.room is not None:
        rx, ry = float(found.across.shown(found.room.place[0])), float(found.up.shown(found.room.place[1]))
        axes.plot([rx], [ry], marker="+", markersize=11, color="black", markeredgewidth=2, zorder=5)
        look = {"marker": "+", "markersize": 11, "color": "black", "linestyle": "none", "markeredgewidth": 2}
        words = f"most room:\n{found.across.text(found.room.place[0])}, {found.up.text(found.room.place[1])}"
        handles.append(Line2D([], [], label=words.replace("degC", UNITS["degC"]), **look))
    return handles


def _arrow(axes: Axes, found: WindowMap, start: tuple[float, float], edge: Edge) -> None:
    """The way from the present setting to an edge, with its length."""
    if edge.limit is None:
        return
    end = float(found.across.shown(edge.place[0])), float(found.up.shown(edge.place[1]))
    style: dict[str, Any] = {"arrowstyle": "-|>", "color": "black", "linewidth": 1.0, "shrinkA": 5, "shrinkB": 0}
    axes.annotate("", xy=end, xytext=start, arrowprops=style, zorder=4)
    if edge.size < _SHORT:
        return
    axis = (found.across, found.up)[edge.along or 0]
    words = axis.change(edge.way[edge.along or 0])
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    shift = (0, 7) if edge.along == 0 else (8, 0)
    side: dict[str, Any] = {"ha": "center", "va": "bottom"} if edge.along == 0 else {"ha": "left", "va": "center"}
    box = {"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
    axes.annotate(
        words, middle, xytext=shift, textcoords="offset points", fontsize=LABEL_POINTS, bbox=box, zorder=6, **side
    )
