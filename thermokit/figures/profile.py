"""Temperature against depth at a few telling times, with the limits and the edges of the layers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.figures.field import across
from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import (
    LABEL_POINTS,
    Label,
    colours,
    curve_look,
    house_style,
    label_column,
    last_finite,
    new_figure,
)
from thermokit.figures.words import face_names, length_unit, spoken, time_unit
from thermokit.results.digits import number
from thermokit.results.model import layered

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Result

    Array = NDArray[np.float64]


def draw_profile(result: Result, times: Sequence[float] | None = None) -> Figure:
    """Draw temperature [°C] against depth, one curve a time; below it the degrees of cure or fusion, if any.

    Parameters
    ----------
    result : Result
        what to draw
    times : sequence of float, optional
        times to show [s]; the nearest stored rows are taken. Left out: the start, the ends of the stations, and
        those rows that differ most from the ones already chosen.

    """
    history = layered(result)
    rows = telling_rows(result) if times is None else [int(np.argmin(np.abs(history.time - t))) for t in times]
    thickness = float(history.edges[-1])
    scale, unit = length_unit(thickness)
    places, whole = across(history)
    depth = places / scale
    limits = temperature_limits(result)
    states = {name: values for name, values in history.states.items() if np.isfinite(values).any()}
    names = _row_names(result, rows)
    layers = Strips(tuple(edge / scale for edge in result.layer_edges), tuple(map(spoken, result.layer_names)))
    with house_style():
        lines = 2 * len(rows) + 2 * len(limits) + 1
        figure, axes = new_figure(result.provenance.title, lines, layers.headroom, [1.0, *[0.6] * len(states)])
        main = axes[0]
        main.set_xlim(0, thickness / scale)
        temperature_range(main, [whole[rows]], limits)
        labels = draw_limits(main, limits)
        labels += _draw_rows(main, depth, whole[rows], names)
        label_column(main, labels)
        main.set_ylabel("temperature [°C]")
        for panel, (name, values) in zip(axes[1:], states.items(), strict=True):
            inside = history.centres / scale
            panel.set_ylim(-0.03, max(1.03, float(np.nanmax(values)) + 0.03))
            label_column(panel, _draw_rows(panel, inside, values[rows], names))
            panel.set_ylabel(f"{spoken(name)} [1]")
        layers.draw(axes)
        _name_faces(axes[-1], result)
        axes[-1].set_xlabel(_depth_label(result, scale, unit))
    return figure


def telling_rows(result: Result, most: int = 7) -> list[int]:
    """Rows worth drawing: the first, the last of each station, then always the one that differs most from the chosen.

    Stops at ``most`` rows, or when what is left differs by less than 4 % of the whole range.
    """
    history = layered(result)
    _, field = across(history)
    last_of_station = [int(np.flatnonzero(history.span == s)[-1]) for s in np.unique(history.span)]
    chosen = list(dict.fromkeys([0, *last_of_station]))
    if len(chosen) > most:
        chosen = [0, len(history.time) - 1]
    finite = np.nan_to_num(field)
    least = 0.04 * float(np.ptp(finite))
    while len(chosen) < min(most, len(history.time)):
        distance = np.min([np.abs(finite - finite[row]).max(axis=1) for row in chosen], axis=0)
        if distance.max() <= least:
            break
        chosen.append(int(distance.argmax()))
    return sorted(chosen)


def _row_names(result: Result, rows: Sequence[int]) -> list[str]:
    """The time of each row, and which station ends there."""
    history = layered(result)
    scale, unit = time_unit(float(history.time[-1]))
    names = []
    for row in rows:
        text = f"{number(float(history.time[row]) / scale)} {unit}"
        for i, end in enumerate(history.ends):
            if np.isclose(end.time, history.time[row], rtol=1e-12) and i == history.span[row] and row:
                station = result.span_names[i] if i < len(result.span_names) else ""
                text += f", end of {spoken(station) or f'station {i + 1}'}"
        names.append(text)
    return names


def _draw_rows(axes: Axes, depth: Array, rows: Array, names: Sequence[str]) -> list[Label]:
    labels = []
    every = max(len(depth) // 7, 1)
    for i, (values, name, colour) in enumerate(zip(rows, names, colours(len(names)), strict=True)):
        look = curve_look(i, colour)
        axes.plot(depth, values, markevery=((i * every) // len(names), every), zorder=2.5, **look)
        finite = values[np.isfinite(values)]
        labels.append(Label(last_finite(values), name, look, tie=float(finite.mean()) if finite.size else 0.0))
    return labels


def _name_faces(axes: Axes, result: Result) -> None:
    """Write which face is which below the ends of the depth axis."""
    for place, name, side in zip((0.0, 1.0), face_names(result), ("left", "right"), strict=True):
        axes.annotate(
            name,
            (place, 0.0),
            xycoords="axes fraction",
            xytext=(0, -24),
            textcoords="offset points",
            ha=side,
            va="top",
            fontsize=LABEL_POINTS,
            style="italic",
        )


def _depth_label(result: Result, scale: float, unit: str) -> str:
    """What the x axis counts."""
    inner, _ = face_names(result)
    if result.shape == "plane":
        return f"depth from the {inner} [{unit}]"
    if result.inner_radius == 0:
        return f"radius [{unit}]"
    return f"depth from the {inner} [{unit}] (radius: add {number(result.inner_radius / scale)} {unit})"
