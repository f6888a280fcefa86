"""A dip and its oven: the wall that gels against the dwell, and the air of an oven with the faces of all that stands in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import quantity, spoken, time_unit
from thermokit.results.fields import find, group_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

_DWELL: dict[str, Any] = {
    "marker": "*", "markersize": 12, "color": "white", "markeredgecolor": "black", "linestyle": "none",
}  # fmt: skip
_STALL: dict[str, Any] = {"color": "0.3", "linestyle": (0, (9, 3)), "linewidth": 1.1}
SPAN = 5.0  # dwells that are drawn, or up to where the wall has stalled


def drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """The figures of a dip, by kind; none for other results."""
    found: dict[str, Callable[[Result], Figure]] = {}
    if any(np.max(np.asarray(wall.values)) > 0.0 for wall in _dips(result)):
        found["wall"] = draw_wall
    if _ovens(result):
        found["oven"] = draw_oven
    return found


def _dips(result: Result) -> list[Field]:
    """Wall against dwell of every dip, in order."""
    return [f for f in result.fields if group_of(f).startswith("dip_") and f.name.endswith("/wall")]


def _ovens(result: Result) -> list[Field]:
    """Air of every oven that was solved under its load."""
    return [f for f in result.fields if group_of(f).startswith("oven_") and f.name.endswith("/air")]


def _outcome(result: Result, name: str) -> float | None:
    return next((outcome.value for outcome in result.outcomes if outcome.name == name), None)


def draw_wall(result: Result) -> Figure:
    """Draw the wall that gels [mm] against the dwell [s], and below it the face of the former [°C] that it grows on.

    A star marks the dwell of the case, a dashed upright the dwell from which another minute adds less than 0.1 mm.
    """
    walls = [w for w in _dips(result) if np.max(np.asarray(w.values)) > 0.0]
    several = len(_dips(result)) > 1
    ends = []
    for wall in walls:
        tag = group_of(wall).removeprefix("dip") if several else ""
        stall, dwell = _outcome(result, f"stall_time{tag}"), _dwell(result, wall, tag)
        ends.append(max(SPAN * dwell, 2.0 * stall if stall is not None else 0.0, 30.0))
    last = min(max(ends), max(float(np.asarray(w.axes[0].values)[-1]) for w in walls))
    with house_style():
        figure, axes = new_figure(result.provenance.title, 4 * len(walls) + 4, 0.3, [1.0, 0.7])
        axes[0].set_xlim(0.0, last)
        labels: tuple[list[Label], list[Label]] = ([], [])
        for i, (wall, colour) in enumerate(zip(walls, colours(len(walls)), strict=True)):
            tag = group_of(wall).removeprefix("dip") if several else ""
            for at, found in enumerate(_one_dip(axes, result, wall, tag, last, i, colour)):
                labels[at].extend(found)
        axes[0].set_ylim(bottom=0.0)
        label_column(axes[0], labels[0])
        label_column(axes[1], labels[1])
        axes[0].set_ylabel("gelled wall [mm]")
        axes[1].set_ylabel("dipped face [°C]")
        axes[1].set_xlabel("dwell in the paste [s]")
    return figure


def _dwell(result: Result, wall: Field, tag: str) -> float:
    """The dwell of the case: where the curve has the wall that the run found."""
    gelled = _outcome(result, f"gelled{tag}") or 0.0
    return float(np.interp(gelled, np.asarray(wall.values, float), np.asarray(wall.axes[0].values, float)))


def _one_dip(
    axes: list[Axes], result: Result, wall: Field, tag: str, last: float, number: int, colour: Any
) -> tuple[list[Label], list[Label]]:
    whole = np.asarray(wall.axes[0].values, float)
    face = find(result, f"{group_of(wall)}/face")
    assert face is not None
    time = np.append(whole[whole < last], last)
    values, temperature = (np.interp(time, whole, np.asarray(f.values, float)) for f in (wall, face))
    words = f"dip {tag.removeprefix('_')}" if tag else "dip"
    look = curve_look(number, colour) | {"markersize": 4}
    every = max(len(time) // 8, 1)
    axes[0].plot(time, values, markevery=every, zorder=2.5, **look)
    axes[1].plot(time, temperature, markevery=every, zorder=2.5, **look)
    top = [Label(float(values[-1]), f"{words}: {quantity(float(values[-1]), 'mm')} after {last:.0f} s", look)]
    below = [Label(float(temperature[-1]), f"{words}: {quantity(float(temperature[-1]), 'degC')}", look)]
    dwell = _dwell(result, wall, tag)
    here = [float(np.interp(dwell, time, column)) for column in (values, temperature)]
    for panel, value in zip(axes, here, strict=True):
        panel.plot([dwell], [value], zorder=3, **_DWELL)
    top.append(Label(here[0], f"{words} as it is: {quantity(here[0], 'mm')} in {dwell:.0f} s", _DWELL))
    below.append(Label(here[1], f"{words} as it is: {quantity(here[1], 'degC')}", _DWELL))
    stall = _outcome(result, f"stall_time{tag}")
    if stall is not None and stall <= last:
        for panel in axes:
            panel.axvline(stall, zorder=1.5, **_STALL)
        value = float(np.interp(stall, time, values))
        top.append(Label(value, f"stalls after {stall:.0f} s: another minute adds less than 0.1 mm", _STALL))
    return top, below


def draw_oven(result: Result) -> Figure:
    """Draw the air [°C] of each oven under its load and the faces of the formers in it against time, one panel an oven.

    Beside it the heat that heaters, walls, doors and formers turned over.
    """
    airs = _ovens(result)
    longest = max(float(np.asarray(air.axes[0].values)[-1]) for air in airs)
    scale, unit = time_unit(longest)
    strips = Strips((0.0, longest / scale), ("",))
    with house_style():
        lines = max(2 * (1 + len(_formers(result, air))) + len(_heat(result, air)) + 2 for air in airs)
        figure, axes = new_figure(result.provenance.title, lines, strips.headroom, [1.0] * len(airs))
        axes[0].set_xlim(0.0, longest / scale)
        for panel, air in zip(axes, airs, strict=True):
            _one_oven(panel, result, air, scale)
        axes[-1].set_xlabel(f"time in the oven [{unit}]")
    return figure


def _formers(result: Result, air: Field) -> list[tuple[str, Array]]:
    faces = find(result, f"{group_of(air)}/faces")
    if faces is None:
        return []
    table = np.asarray(faces.values, float)
    return [(str(name), table[:, i]) for i, name in enumerate(faces.axes[1].values)]


def _heat(result: Result, air: Field) -> list[tuple[str, float]]:
    heat = find(result, f"{group_of(air)}/heat")
    if heat is None:
        return []
    return [(str(name), float(v)) for name, v in zip(heat.axes[0].values, np.asarray(heat.values, float), strict=True)]


def _one_oven(panel: Axes, result: Result, air: Field, scale: float) -> None:
    time = np.asarray(air.axes[0].values, float) / scale
    curves = [("air", np.asarray(air.values, float)), *_formers(result, air)]
    temperature_range(panel, [values for _, values in curves], [])
    labels = []
    for i, ((name, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
        look = curve_look(i, colour) | {"markersize": 4}
        panel.plot(time, values, markevery=(2 * i, 12), zorder=2.5, **look)
        words = "air" if name == "air" else "case's own former" if name == "own" else spoken(name)
        least = f", lowest {quantity(float(values.min()), 'degC')}" if name == "air" else ""
        labels.append(
            Label(last_finite(values), f"{words}: {quantity(float(values[-1]), 'degC')} at the end{least}", look)
        )
    heats = [(name, value) for name, value in _heat(result, air) if name != "astray"]
    if heats:
        text = "heat into the air [MJ]\n" + "\n".join(f"{name} {1e-3 * value:+.2f}" for name, value in heats)
        low, high = panel.get_ylim()
        labels.append(Label(low + 0.05 * (high - low), text, {"linestyle": "none"}))
    label_column(panel, labels)
    panel.set_ylabel(f"{spoken(group_of(air))} [°C]")
