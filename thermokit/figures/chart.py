"""A chart for the wall: what is sought against an input, its window shaded, one panel for each member of the family.

Large letters on A4 across; the window is light grey, its edges are dashed, the recommended value is a thick line with its
numbers: nothing hangs on colour.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.figures.style import drawn, house_style
from thermokit.figures.words import UNITS, spoken
from thermokit.results.digits import number

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.studies.chart import Chart, Curve

PAGE = (11.69, 8.27)  # inches, A4 across
LARGE, MIDDLE, SMALL = 20.0, 14.0, 11.0  # points
_SHADE = "0.86"
_ROOM = 0.08  # of the height above and below all curves
SUFFIXES = (".png", ".svg", ".pdf")


def draw_chart(found: Chart) -> Figure:
    """Draw the chart; a value without a window leaves a gap, and a cross at the foot says so."""
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=PAGE)
        title = textwrap.wrap(spoken(found.case.title or "Chart"), 62, max_lines=2, placeholder=" …")
        figure.text(0.06, 0.965, "\n".join(title), va="top", fontsize=LARGE, weight="bold", linespacing=1.1)
        count = len(found.curves)
        columns = min(count, 3)
        rows = -(-count // columns)
        grid: Any = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        top = 0.955 - 0.042 * len(title) - (0.05 if found.family is not None else 0.015)
        figure.subplots_adjust(left=0.095, right=0.985, top=top, bottom=0.175, wspace=0.06, hspace=0.2)
        low, high = _range(found)
        for i, axes in enumerate(grid.flat):
            if i >= count:
                axes.set_visible(False)
                continue
            axes.set_ylim(low, high)
            _draw(axes, found, found.curves[i])
        unit = UNITS.get(found.across.unit, found.across.unit)
        along = spoken(found.across.name.replace(".", " ").replace("+", " and ")) + (f" [{unit}]" if unit else "")
        figure.text(0.54, 0.105, along, ha="center", va="center", fontsize=MIDDLE, weight="bold")
        sought = spoken(found.sought.replace(".", " "))
        up = f"{sought} [{UNITS.get(found.unit, found.unit)}]" if found.unit != "1" else sought
        figure.text(0.022, (top + 0.175) / 2, up, rotation=90, ha="center", va="center", fontsize=MIDDLE, weight="bold")
        figure.text(0.06, 0.012, "\n".join(_foot(found)), va="bottom", fontsize=SMALL, linespacing=1.2)
    return figure


def save_chart(figure: Figure, path: Path) -> None:
    """Write a chart as PNG, SVG or PDF, by the end of its name. Raises DataError where it ends otherwise or cannot be written."""
    from thermokit.results.whole import write_whole

    kind = path.suffix.lower().lstrip(".")
    if f".{kind}" not in SUFFIXES:
        raise DataError(f"cannot draw {path}: the name must end in .png, .svg or .pdf")
    if kind != "pdf":
        write_whole(path, drawn(figure, kind))
        return
    import io

    content = io.BytesIO()
    with house_style():
        figure.savefig(content, format="pdf", metadata={"CreationDate": None})
    write_whole(path, content.getvalue())


def _range(found: Chart) -> tuple[float, float]:
    """Of what is sought, so that every curve has its place."""
    every = np.concatenate([v for c in found.curves for v in (c.earliest, c.latest, c.recommended)])
    every = every[np.isfinite(every)]
    if not every.size:
        return 0.0, 1.0
    low, high = float(every.min()), float(every.max())
    air = max(_ROOM * (high - low), 0.02 * abs(high), 1e-9)
    return max(low - air, 0.0) if low >= 0.0 else low - air, high + air


def _draw(axes: Axes, found: Chart, curve: Curve) -> None:
    """One panel: the window, its edges, what is recommended."""
    x = np.asarray(found.across.shown(found.at), float)
    floor, ceiling = axes.get_ylim()
    open_ended = np.isnan(curve.latest) & np.isfinite(curve.recommended)
    latest = np.where(open_ended, ceiling, curve.latest)
    there = np.isfinite(curve.recommended)
    axes.fill_between(x, curve.earliest, latest, where=there.tolist(), color=_SHADE, linewidth=0, zorder=1)
    edge: dict[str, Any] = {"color": "0.0", "linewidth": 1.4, "zorder": 3}
    axes.plot(x, curve.earliest, linestyle=(0, (6, 2)), **edge)
    axes.plot(x, curve.latest, linestyle=(0, (1.5, 1.5)), **edge)
    axes.plot(x, curve.recommended, color="0.0", linewidth=3.0, marker="o", markersize=6, zorder=4)
    falls = bool(there.any()) and curve.recommended[there][-1] < curve.recommended[there][0]
    for at, value in zip(x[there], curve.recommended[there], strict=True):
        box = {"boxstyle": "square,pad=0.12", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
        axes.annotate(
            number(float(value), "", 3), (float(at), float(value)), xytext=(7 if falls else -7, 5), textcoords="offset points",
            ha="left" if falls else "right", va="bottom", fontsize=SMALL, weight="bold", bbox=box, zorder=5,
        )  # fmt: skip
    if not there.all():
        axes.plot(x[~there], np.full(int((~there).sum()), floor), linestyle="none", marker="x", color="0.0", markersize=10,
                  markeredgewidth=2.0, clip_on=False, zorder=5)  # fmt: skip
    axes.grid(color="0.6", linewidth=0.6)
    axes.minorticks_on()
    axes.grid(which="minor", color="0.85", linewidth=0.4)
    axes.set_axisbelow(False)
    axes.tick_params(labelsize=MIDDLE)
    span = float(x[-1] - x[0])
    axes.set_xlim(float(x[0]) - 0.13 * span, float(x[-1]) + 0.06 * span)
    if found.family is not None and curve.value is not None:
        head = f"{spoken(found.family.name.replace('.', ' '))}\n{found.family.text(curve.value)}".replace("degC", "°C")
        axes.set_title(head, fontsize=MIDDLE, weight="bold", linespacing=1.1)


def _foot(found: Chart) -> list[str]:
    """What the lines mean, which limits make the edges, what the chart stands for."""
    first = sorted({spoken(w) for c in found.curves for w in c.first if w})
    last = sorted({spoken(w) for c in found.curves for w in c.last if w})
    low, high = found.edges
    words = "Thick line: set this. Grey: every limit is met."
    words += (
        f" Dashed: {low}, by {', '.join(first)}."
        if first
        else " Dashed: where the search began; nothing limits it there."
    )
    words += f" Dotted: {high}, by {', '.join(last)}." if last else " Nothing limits it upwards."
    if any(np.isnan(c.recommended).any() for c in found.curves):
        words += " Cross at the foot: no window."
    words += " Between the points straight lines."
    held = f"All else as in the case (SHA-256 {found.case.source.sha256[:12]}). Starting values for a supervised trial."
    return [*textwrap.wrap(words, 128), held]
