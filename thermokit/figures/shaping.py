"""A shaped part: thickness left and temperature by region, and along the meridian of a dome."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import temperature_limits
from thermokit.figures.style import LABEL_POINTS, colours, curve_look, house_style
from thermokit.figures.words import spoken
from thermokit.results.fields import find

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Result

    Array = NDArray[np.float64]

_ON_REGIONS = ("coldest_point", "release_temperature")


def drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """The picture of a shaped part, by kind, where there is one."""
    return {"shaping": draw_shaping} if find(result, "shaping/thickness") is not None else {}


def draw_shaping(result: Result) -> Figure:
    """Draw thickness left [mm] and temperatures [°C] of each region, above them the meridian of a dome with its thickness."""
    from matplotlib.figure import Figure

    field = find(result, "shaping/thickness")
    assert field is not None
    names, thickness = list(field.axes[0].values), np.asarray(field.values, dtype=np.float64)
    round_ = find(result, "shaping/meridian_thickness") is not None
    low = 1.1 + 0.42 * len(names)
    height = low + (3.6 if round_ else 0.0) + 1.5
    with house_style():
        figure = Figure(figsize=(10.0, height))
        grid: Any = figure.add_gridspec(
            2 if round_ else 1, 2, height_ratios=(3.0, low) if round_ else None, width_ratios=(1.0, 1.15)
        )
        figure.subplots_adjust(
            left=0.1,
            right=0.975,
            top=1.0 - 1.0 / height,
            bottom=0.78 / height,
            wspace=0.2,
            hspace=0.95 / (0.5 * height),
        )
        figure.text(0.1, 1.0 - 0.1 / height, spoken(result.provenance.title), va="top", fontsize=11.5, weight="bold")
        figure.text(
            0.1, 1.0 - 0.38 / height, _words(result), va="top", fontsize=LABEL_POINTS, color="0.25", linespacing=1.3
        )
        if round_:
            _profile(figure.add_subplot(grid[0, 0]), result)
            _along(figure.add_subplot(grid[0, 1]), result)
        row = 1 if round_ else 0
        _bars(figure.add_subplot(grid[row, 0]), result, names, thickness)
        _temperatures(figure.add_subplot(grid[row, 1]), result, names)
    return figure


def _outcome(result: Result, name: str) -> float | None:
    return next((o.value for o in result.outcomes if o.name == name), None)


def _words(result: Result) -> str:
    """What stands above the panels: pressure, force, working time, hold."""
    parts = []
    for name, words in (
        ("shaping_pressure", "{:.3g} bar"), ("clamp_force", "make {:.3g} kN on the opening"),
        ("working_time", "work within {:.0f} s"), ("holding_time", "hold {:.3g} s"),
    ):  # fmt: skip
        value = _outcome(result, name)
        if value is not None:
            parts.append(words.format(value))
    told = ", ".join(parts).replace(" bar, make", " bar make")
    return told + ("\nhatched: a tool touches there" if _touched(result).any() else "\nno tool touches it")


def _profile(axes: Axes, result: Result) -> None:
    """The dome in true proportion."""
    field = find(result, "shaping/meridian_height")
    assert field is not None
    r, z = np.asarray(field.axes[0].values, dtype=np.float64), np.asarray(field.values, dtype=np.float64)
    axes.plot(np.concatenate([-r[::-1], r]), np.concatenate([z[::-1], z]), color=colours(2)[0], linewidth=2.2)
    axes.plot([-r[-1], r[-1]], [0, 0], "s", color="0.2", markersize=7)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_xlabel("distance from the axis [mm]")
    axes.set_ylabel("height over ring [mm]")


def _along(axes: Axes, result: Result) -> None:
    """Thickness left over the distance from the axis."""
    field = find(result, "shaping/meridian_thickness")
    assert field is not None
    r, t = np.asarray(field.axes[0].values, dtype=np.float64), np.asarray(field.values, dtype=np.float64)
    axes.plot(r, t, **(curve_look(0, colours(2)[0]) | {"markevery": max(len(r) // 8, 1)}))
    axes.set_xlim(0, r[-1])
    axes.set_ylim(0, 1.15 * float(t.max()))
    axes.set_xlabel("distance from the axis [mm]")
    axes.set_ylabel("thickness left [mm]")


def _touched(result: Result) -> Array:
    field = find(result, "shaping/touched")
    assert field is not None
    return np.asarray(field.values, dtype=np.float64)


def _rows(axes: Axes, names: list[str]) -> Array:
    places = np.arange(len(names))[::-1].astype(float)
    axes.set_yticks(places, [str(name) for name in names])
    axes.set_ylim(-0.6, len(names) - 0.4)
    return places


def _bars(axes: Axes, result: Result, names: list[str], thickness: Array) -> None:
    """Thickness left by region."""
    ratio = find(result, "shaping/draw_ratio")
    assert ratio is not None
    blank = float(thickness[0] * np.asarray(ratio.values)[0])
    light = colours(3)[2]
    for place, value, touched in zip(_rows(axes, names), thickness, _touched(result), strict=True):
        axes.barh(place, value, height=0.6, color=light, edgecolor="0.2", hatch="////" if touched else None)
        axes.text(
            value + 0.015 * blank, place, f"{value:.2g} mm, {100 * value / blank:.0f} %", va="center", fontsize=LABEL_POINTS,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip
    axes.axvline(blank, color="0.3", linestyle=(0, (1, 2)), linewidth=1.2)
    axes.set_xlim(0, 1.42 * blank)
    axes.set_xlabel(f"thickness left [mm]; dotted: blank {blank:.3g} mm")


def _temperatures(axes: Axes, result: Result, names: list[str]) -> None:
    """Coldest layer when it is drawn and hottest plane at release, by region, with their limits."""
    places = _rows(axes, names)
    every: list[float] = []
    for i, name in enumerate(_ON_REGIONS):
        field = find(result, f"regions/{name}")
        single = _outcome(result, name)
        values = (
            np.asarray(field.values, dtype=np.float64) if field is not None else np.full(len(names), single or np.nan)
        )
        every += [float(v) for v in values if np.isfinite(v)]
        axes.plot(values, places, linestyle="none", marker="os"[i], markersize=7, color=colours(2)[0],
                  markerfacecolor="white" if i else colours(2)[0])  # fmt: skip
    shown = [
        (which, value)
        for which, value, words in temperature_limits(result)
        if words.startswith(("coldest point", "release"))
    ]
    for which, value in shown:
        every.append(value)
        axes.axvline(value, color="0.1", linewidth=1.2, linestyle=(0, (6, 2)))
        text = f"at {which} {value:.0f}"
        axes.text(
            value,
            len(names) - 0.42,
            text,
            fontsize=LABEL_POINTS,
            ha="left" if which == "least" else "right",
            va="bottom",
        )
    if every:
        air = max(0.12 * (max(every) - min(every)), 5.0)
        axes.set_xlim(min(every) - air, max(every) + air)
    axes.set_xlabel("temperature [°C]; full: coldest when drawn,\nopen: hottest at release, broken: limits")
