"""A log beside the fitted case with what is left, trials beside their outcomes, and how sure the fitted values are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LINES, colours, house_style
from thermokit.figures.words import UNITS, spoken, time_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.studies.fit import CaseFit, FittedChannel, FittedValue

ZERO_CELSIUS = 273.15
_POINTS = 70  # readings shown of a channel: all of them would hide the line
_NAME = 46  # characters of a name


def draw_fit(fit: CaseFit) -> Figure:
    """Channels over time with their differences below, trials, the fitted values between their bounds, and of two inputs the
    region in which they lie together.

    Points are measured, lines are the fitted case; channels differ in dashes and markers as well as in colour.
    """
    from matplotlib.figure import Figure

    inputs = [i for i, v in enumerate(fit.values) if v.variable.role == "input"]
    bounded = [v for v in fit.values if np.isfinite(v.variable.high - v.variable.low)]
    upper = 4.6 if fit.channels else 0.5 + 0.42 * len(fit.findings)
    trials = 0.6 + 0.42 * len(fit.findings) if fit.channels and fit.findings else 0.0
    lower = max(2.6 if len(inputs) > 1 else 0.0, 0.9 + 0.62 * len(bounded))
    height = 1.1 + upper + (0.75 + trials if trials else 0.0) + 0.85 + lower
    with house_style():
        figure = Figure(figsize=(9.6, height))
        figure.text(0.085, 1 - 0.14 / height, spoken(fit.case.title or "Fit"), va="top", fontsize=12, weight="bold")
        words = "points: measured; lines: the fitted case; differences are reading less case"
        words = words if fit.channels else "what trials found, and the fitted case beside it"
        figure.text(0.085, 1 - 0.42 / height, words, va="top", fontsize=9)
        top = 1 - 0.75 / height
        if fit.channels:
            grid = figure.add_gridspec(
                2,
                1,
                left=0.085,
                right=0.975,
                top=top,
                bottom=top - upper / height,
                height_ratios=[1.0, 0.42],
                hspace=0.08,
            )
            _draw_log(figure.add_subplot(grid[0]), figure.add_subplot(grid[1]), fit)
        if fit.findings:
            begin = top - (upper + 0.75) / height if fit.channels else top
            tall = (trials if fit.channels else upper) / height
            _draw_trials(figure.add_axes((0.34, begin - tall, 0.635, tall)), fit)
        base = figure.add_gridspec(
            1, 2, left=0.34, right=0.975, bottom=0.62 / height, top=(0.62 + lower - 0.35) / height, wspace=0.42,
            width_ratios=[1.0, 1.0] if len(inputs) > 1 else [1.0, 1e-3],
        )  # fmt: skip
        if bounded:
            _draw_values(figure.add_subplot(base[0]), bounded)
        if len(inputs) > 1:
            _draw_together(figure.add_subplot(base[1]), fit, inputs[0], inputs[1])
    return figure


def _draw_log(curves: Axes, rest: Axes, fit: CaseFit) -> None:
    """Channels and their differences over time."""
    scale, unit = time_unit(max(float(c.time[-1]) for c in fit.channels))
    for i, (c, colour) in enumerate(zip(fit.channels, colours(len(fit.channels)), strict=True)):
        dashes, marker = LINES[i % len(LINES)]
        points = _points(c)
        look: dict[str, Any] = {
            "linestyle": "none", "marker": marker, "markersize": 4, "color": colour, "markerfacecolor": "white",
            "markeredgewidth": 0.8, "zorder": 2,
        }  # fmt: skip
        time = c.time / scale
        curves.plot(time[points], c.measured.temperature[points] - ZERO_CELSIUS, **look)
        curves.plot(time, c.shown - ZERO_CELSIUS, color=colour, linestyle=dashes, zorder=3)
        sample = {key: look[key] for key in ("marker", "markersize", "markerfacecolor", "markeredgewidth")}
        label = spoken(f"{c.measured.name} at {c.measured.at}")
        curves.plot([], [], color=colour, linestyle=dashes, label=label, **sample)
        rest.plot(time[points], c.rest[points], **(look | {"markersize": 3.2}))
        band = 2.0 * float(np.median(c.measured.deviation)) * np.sqrt(c.measured.group)
        for edge in (-band, band):
            rest.axhline(edge, color=colour, linestyle=dashes, linewidth=0.7, zorder=1)
    rest.axhline(0.0, color="0.3", linewidth=0.8, zorder=1)
    low, high = rest.get_ylim()
    edge = max(abs(low), abs(high))
    rest.set_ylim(-edge, edge)
    rest.sharex(curves)
    curves.tick_params(labelbottom=False)
    curves.set_ylabel("temperature [°C]")
    rest.set_ylabel("difference [K]\n(lines: as stated)", fontsize=9)
    rest.set_xlabel(f"time of the case [{unit}]")
    curves.legend(loc="best", frameon=True, framealpha=1.0, edgecolor="none", handlelength=3.6)


def _points(c: FittedChannel) -> Any:
    return slice(None, None, max(1, len(c.time) // _POINTS))


def _draw_trials(panel: Axes, fit: CaseFit) -> None:
    """Findings in deviations about what was found, and the outcome of the fitted case."""
    rows = np.arange(len(fit.findings))[::-1]
    names = []
    for y, f in zip(rows, fit.findings, strict=True):
        found = f.finding
        off = (f.outcome - found.value) / found.deviation
        shown = float(np.clip(off, -6.0, 6.0)) if np.isfinite(off) else 6.0
        if found.side == 0:
            panel.plot([-2.0, 2.0], [y, y], color="0.55", linewidth=5.0, solid_capstyle="butt", zorder=2)
        else:
            panel.annotate(
                "",
                (6.5 * found.side, y),
                (0.0, y),
                arrowprops={"arrowstyle": "->", "color": "0.55", "linewidth": 3.0},
                zorder=2,
            )
        panel.plot([shown], [y], marker="o", color="black", markersize=6, linestyle="none", zorder=3)
        unit = "" if found.unit in ("", "1") else f" {UNITS.get(found.unit, found.unit)}"
        side = {0: "", 1: "at least ", -1: "at most "}[found.side]
        seen = f" ({found.words})" if found.words else ""
        names.append(f"{spoken(found.outcome + seen)[:_NAME]}\n{side}{found.value:.4g}{unit}; case {f.outcome:.4g}")
    panel.set_yticks(rows, names, fontsize=8)
    panel.set_xlim(-7.0, 7.0)
    panel.set_ylim(-0.6, len(rows) - 0.4)
    panel.axvline(0.0, color="0.3", linewidth=0.8, zorder=1)
    panel.set_xlabel("outcome less finding [standard deviations]; grey: what was found, dot: the fitted case")


def _draw_values(panel: Axes, values: list[FittedValue]) -> None:
    """Values with their intervals between their bounds."""
    from thermokit.studies.fit_words import interval_words, rounded

    rows = np.arange(len(values))[::-1]
    names = []
    for y, v in zip(rows, values, strict=True):
        low, width = v.variable.low, v.variable.high - v.variable.low

        def share(at: float, low: float = low, width: float = width) -> float:
            return float(np.clip((at - low) / width, 0.0, 1.0))

        at = v.interval.at
        begin = share(v.interval.low) if v.interval.low is not None else 0.0
        end = share(v.interval.high) if v.interval.high is not None else 1.0
        if v.by_tolerances:
            sides = [share(at - v.by_tolerances), share(at + v.by_tolerances)]
            panel.plot(sides, [y, y], color="0.78", linewidth=9.0, solid_capstyle="butt", zorder=1)
        panel.plot([begin, end], [y, y], color="0.35", linewidth=3.0, solid_capstyle="butt", zorder=2)
        panel.plot([share(at)], [y], marker="o", color="black", markersize=6, linestyle="none", zorder=3)
        if v.before is not None and (v.before > 0.0 or not v.variable.log):
            before = share(float(np.log(v.before)) if v.variable.log else v.before)
            panel.plot([before], [y], marker="|", color="black", markersize=12, linestyle="none", zorder=3)
        names.append(f"{_short(v.variable.name)}\n{_degrees(rounded(v))}\n({_degrees(interval_words(v))})")
    panel.set_yticks(rows, names, fontsize=8)
    panel.set_xlim(-0.03, 1.03)
    panel.set_ylim(-0.6, len(rows) - 0.4)
    panel.set_xticks([0.0, 0.5, 1.0], ["low bound", "", "high bound"])
    panel.set_title("dark: 95 %; light: by tolerances; stroke: case", loc="left", fontsize=9)


def _short(name: str) -> str:
    """The end of a path, as much as a label holds."""
    text = spoken(name)
    return text if len(text) <= _NAME else "… " + text[-_NAME + 2 :]


def _degrees(text: str) -> str:
    return text.replace("degC", UNITS["degC"])


def _draw_together(panel: Axes, fit: CaseFit, i: int, j: int) -> None:
    """The region in which two inputs lie together at 95 %, by the covariance (ellipse of chi square 5.99)."""
    from thermokit.studies.fit_words import shown

    sure = fit.sure
    block = sure.covariance[np.ix_([i, j], [i, j])]
    values, directions = np.linalg.eigh(block / np.outer(*2 * [np.sqrt(np.maximum(np.diag(block), 1e-300))]))
    size = np.sqrt(np.maximum(np.diag(block), 1e-300))
    angle = np.linspace(0.0, 2.0 * np.pi, 181)
    circle = directions @ (np.sqrt(5.99 * np.maximum(values, 0.0))[:, None] * np.array([np.cos(angle), np.sin(angle)]))
    at = np.array([fit.values[i].interval.at, fit.values[j].interval.at])
    curve = at[:, None] + size[:, None] * circle
    for axis, k, row in (("x", i, 0), ("y", j, 1)):
        v = fit.values[k].variable
        ends = np.linspace(float(curve[row].min()), float(curve[row].max()), 3)
        ticks = [shown(v, float(v.value(x))).rsplit(" ", 1)[0] for x in ends]
        unit = shown(v, float(v.value(ends[1]))).rpartition(" ")[2] if v.dimension != "fraction" else "1"
        label = f"{_short(v.name)[-34:]} [{UNITS.get(unit, unit)}]"
        getattr(panel, f"set_{axis}ticks")(ends, ticks)
        getattr(panel, f"set_{axis}label")(label, fontsize=8)
    panel.plot(*curve, color="black", linewidth=1.4)
    panel.plot(*at, marker="o", color="black", markersize=6)
    panel.set_title(f"both at 95 %; correlation {fit.correlation[i, j]:+.2f}", loc="left", fontsize=9)
