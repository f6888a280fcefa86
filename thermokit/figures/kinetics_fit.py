"""Measured against fitted kinetics: curves with the strip of what is left, Kissinger's line, energy against degree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LINES, colours, house_style
from thermokit.figures.words import UNITS, spoken, time_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.studies.kinetics_fit import FittedRun, KineticsFit

    Array = NDArray[np.float64]

ZERO_CELSIUS = 273.15
_FORMS = {
    "two_rate": "two rates",
    "one_energy": "two rates of one energy",
    "autocatalytic": "one autocatalytic rate",
    "nth_order": "one rate of order n",
}
_POINTS = 45  # measured points shown of a run: all of them would hide the curve


def draw_fit(fit: KineticsFit, title: str = "Kinetics fitted to runs of a calorimeter") -> Figure:
    """Curves above (ramps against temperature, holds against time) with their residuals; below, Kissinger's line and energy
    against degree of cure with standard errors.

    Points are measured, lines fitted; runs differ in dashes and markers as well as in colour.
    """
    from matplotlib.figure import Figure

    groups = _groups(fit.runs)
    with house_style():
        figure = Figure(figsize=(10.0, 9.6))
        grid = figure.add_gridspec(
            1, 1, left=0.085, right=0.975, top=0.91, bottom=0.42
        )[0].subgridspec(2, len(groups), height_ratios=[1.0, 0.28], hspace=0.08, wspace=0.24)  # fmt: skip
        below = figure.add_gridspec(1, 2, left=0.085, right=0.975, top=0.33, bottom=0.065, wspace=0.24)
        figure.text(0.085, 0.985, spoken(title), va="top", fontsize=12, weight="bold")
        words = f"points: measured; lines: fitted, {_FORMS[fit.fitted.form]}; below them the difference"
        figure.text(0.085, 0.955, words, va="top", fontsize=9)
        for i, group in enumerate(groups):
            curves = figure.add_subplot(grid[0, i])
            rest = figure.add_subplot(grid[1, i], sharex=curves)
            _draw_group(curves, rest, group)
        _draw_line(figure.add_subplot(below[0, 0]), fit)
        _draw_energy(figure.add_subplot(below[0, 1]), fit)
    return figure


def _groups(runs: Sequence[FittedRun]) -> list[list[FittedRun]]:
    """Runs that share a panel: of one kind, and of heat flow or conversion."""
    found: dict[tuple[bool, str], list[FittedRun]] = {}
    for run in runs:
        source = run.cure.run
        found.setdefault((source.kind != "ramp", source.measures), []).append(run)
    return [found[key] for key in sorted(found)]


def _draw_group(curves: Axes, rest: Axes, group: list[FittedRun]) -> None:
    """The runs of one panel, and what the fit leaves of them."""
    first = group[0].cure.run
    ramps, heat = first.kind == "ramp", first.measures == "heat_flow"
    scale, unit = time_unit(max(float(run.time[-1]) for run in group))
    by = 1e-3 if heat else 1.0  # W/kg to W/g
    for i, (run, colour) in enumerate(zip(group, colours(len(group)), strict=True)):
        x = run.temperature - ZERO_CELSIUS if ramps else run.time / scale
        dashes, marker = LINES[i % len(LINES)]
        shown = slice(None, None, max(1, len(x) // _POINTS))
        measured: dict[str, Any] = {
            "linestyle": "none", "marker": marker, "markersize": 4, "color": colour, "markerfacecolor": "white",
            "markeredgewidth": 0.8, "zorder": 2,
        }  # fmt: skip
        curves.plot(x[shown], by * run.measured[shown], **measured)
        curves.plot(x, by * run.fitted, color=colour, linestyle=dashes, linewidth=1.6, zorder=3)
        curves.plot([], [], color=colour, linestyle=dashes, linewidth=1.6, label=_words(run), **_sample(measured))
        rest.plot(x[shown], by * (run.measured - run.fitted)[shown], **(measured | {"markersize": 3}))
    rest.axhline(0.0, color="0.3", linewidth=0.8, zorder=1)
    quantity, own = ("heat flow", "W/g") if heat else ("degree of cure", "1")
    curves.set_ylabel(f"{quantity}, baseline off [{own}]" if heat else f"{quantity} [{own}]")
    rest.set_ylabel(f"difference [{own}]")
    rest.set_xlabel("temperature [°C]" if ramps else f"time [{unit}]")
    curves.tick_params(labelbottom=False)
    low, high = rest.get_ylim()
    edge = max(abs(low), abs(high))
    rest.set_ylim(-edge, edge)
    place: Any = "upper left" if heat and ramps else "lower right" if not heat else "upper right"
    curves.legend(loc=place, frameon=True, framealpha=1.0, edgecolor="none", handlelength=3.6)


def _words(run: FittedRun) -> str:
    """What a run is, as it is drawn."""
    return run.cure.run.words.replace("degC", UNITS["degC"])


def _sample(measured: dict[str, Any]) -> dict[str, Any]:
    """The marker of a run, for its entry in the legend."""
    return {key: measured[key] for key in ("marker", "markersize", "markerfacecolor", "markeredgewidth")}


def _draw_line(panel: Axes, fit: KineticsFit) -> None:
    """ln(b/Tp^2) against 1/Tp with its line."""
    from thermokit.studies.kinetics_words import ninety_five

    line = fit.kissinger
    panel.set_xlabel("1000/peak temperature [1/K]")
    panel.set_ylabel("ln(rate/peak²) [ln(1/K/s)]")
    if line is None:
        panel.text(0.5, 0.5, "no line: it takes ramps\nat two and more rates", transform=panel.transAxes, ha="center")
        panel.set_xticks([])
        panel.set_yticks([])
        return
    x = 1e3 * line.x
    ends = np.array([x.min(), x.max()]) + np.array([-0.06, 0.06]) * np.ptp(x)
    panel.plot(ends, line.intercept + line.slope * ends / 1e3, color="0.35", linewidth=1.4, zorder=2)
    panel.plot(x, line.y, linestyle="none", marker="o", markersize=6, color="black", zorder=3)
    for run, at, y in zip([r for r in fit.runs if r.peak is not None], x, line.y, strict=True):
        panel.annotate(_words(run), (at, y), (7, 4), textcoords="offset points", fontsize=9)
    half = ninety_five(line)
    sure = "" if half is None else f" ± {half / 1e3:.2g} (95 %)"
    panel.set_title(f"Kissinger: {line.energy / 1e3:.4g}{sure} kJ/mol", loc="left", fontsize=10)
    panel.margins(x=0.2, y=0.12)


def _draw_energy(panel: Axes, fit: KineticsFit) -> None:
    """Isoconversional energy with standard errors."""
    found = fit.isoconversional
    known = np.isfinite(found.energy)
    degree, energy = found.degree[known], found.energy[known] / 1e3
    error = found.error[known] / 1e3
    sure = np.isfinite(error)
    if np.any(sure):
        panel.errorbar(
            degree[sure], energy[sure], error[sure], color="0.45", linewidth=0, elinewidth=1.1, capsize=2.5, zorder=2
        )
    panel.plot(degree, energy, color="black", marker="o", markersize=4.5, linewidth=1.2, zorder=3)
    panel.set_xlim(0.0, 1.0)
    middle, spread = float(np.median(energy)), float(np.percentile(np.abs(energy - np.median(energy)), 90))
    room = max(2.5 * spread, 0.12 * middle)  # a wild end does not flatten the rest
    panel.set_ylim(max(0.0, middle - max(room, 10.0)), middle + max(room, 10.0))
    panel.set_xlabel("degree of cure [1]")
    panel.set_ylabel("activation energy [kJ/mol]")
    panel.set_title(f"Vyazovkin, {fit.energies_from}; bars: ± one standard error", loc="left", fontsize=10)
