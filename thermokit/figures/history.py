"""Temperature against time: faces, middle, probes, coldest and hottest point, with the limits and the stations."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.field import across, at_depth, celsius
from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import face_names, length_unit, quantity, spoken, time_unit, together
from thermokit.results.digits import number
from thermokit.results.fields import group_of, short_name
from thermokit.results.model import layered

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

_BAND: dict[str, Any] = {"facecolor": "0.9", "edgecolor": "none"}
_THIN = ((0, (4, 3)), (0, (1, 2)), (0, (8, 2, 1, 2)))


def draw_history(result: Result) -> Figure:
    """Draw temperature [°C] against time, and the degrees of cure, gelation or fusion below it where there are any.

    Curves differ in dashes and markers, not in colour alone; each limit on a temperature is a line with hatching on
    the side that is not allowed; dotted uprights part the stations.
    """
    history = layered(result)
    scale, unit = time_unit(float(history.time[-1]))
    time = history.time / scale
    curves = merged(_curves(result))
    tools = _tools(result)
    limits = temperature_limits(result)
    states = {name: values for name, values in history.states.items() if np.isfinite(values).any()}
    stations = stations_of(result, scale)
    with house_style():
        lines = 2 * (len(curves) + len(tools) + len(limits)) + 7
        ratios = [1.0, 0.5] if states else [1.0]
        figure, axes = new_figure(result.provenance.title, lines, stations.headroom, ratios)
        main = axes[0]
        main.set_xlim(stations.edges[0], stations.edges[-1])
        _, everywhere = across(history)
        temperature_range(main, [everywhere, *(values for _, values in curves), *(t[2] for t in tools)], limits)
        labels = draw_limits(main, limits)
        labels += _draw_band(main, time, everywhere)
        labels += draw_curves(main, time, curves)
        labels += _draw_tools(main, scale, tools)
        labels += _draw_extremes(main, result, scale, unit)
        label_column(main, labels)
        main.set_ylabel("temperature [°C]")
        if states:
            _draw_states(axes[1], time, states)
        axes[-1].set_xlabel(f"time [{unit}]")
        stations.draw(axes)
    return figure


def _curves(result: Result) -> list[tuple[str, Array]]:
    """Name and temperature [degC] of the faces, of half the depth, and of the probes."""
    history = layered(result)
    inner, outer = face_names(result)
    named = [(inner, celsius(history.inner_face)), (outer, celsius(history.outer_face))]
    named.append(("half depth", at_depth(history, float(history.edges[-1]) / 2)))
    return named + [(f"probe {spoken(name)}", celsius(values)) for name, values in result.probes.items()]


def _tools(result: Result) -> list[tuple[str, Array, Array]]:
    """Name, times [s] and temperature of the face [degC] of each tool that the result holds (``tool/..._temperature``)."""
    found = []
    for field in result.fields:
        name = short_name(field).removesuffix("_temperature")
        if group_of(field) == "tool" and field.unit == "degC" and [axis.unit for axis in field.axes] == ["s", "mm"]:
            time = np.asarray(field.axes[0].values, dtype=np.float64)
            values = _at_face(field)
            if np.isfinite(values).any():
                found.append((f"{spoken(name)} face", time, values))
    return found


def _at_face(field: Field) -> Array:
    """Temperature of a tool where it touches the sheet: depth counts from there, or else that end which swings more."""
    values = np.asarray(field.values, dtype=np.float64)
    depth = np.asarray(field.axes[1].values, dtype=np.float64)
    near, far = values[:, int(depth.argmin())], values[:, int(depth.argmax())]
    swings = [float(np.ptp(end[np.isfinite(end)])) if np.isfinite(end).any() else 0.0 for end in (near, far)]
    return near if "face" in field.axes[1].meaning or swings[0] >= swings[1] else far


def merged(curves: list[tuple[str, Array]]) -> list[tuple[str, Array]]:
    """The same curves, those that would lie on one another drawn once under both names."""
    finite = np.concatenate([values[np.isfinite(values)] for _, values in curves])
    close = 0.004 * float(np.ptp(finite)) if finite.size else 0.0
    kept: list[tuple[list[str], Array]] = []
    for name, values in curves:
        for names, other in kept:
            if np.allclose(values, other, rtol=0, atol=close, equal_nan=True):
                names.append(name)
                break
        else:
            kept.append(([name], values))
    return [(together(names), values) for names, values in kept]


def _draw_band(axes: Axes, time: Array, everywhere: Array) -> list[Label]:
    coldest, hottest = _ends(everywhere)
    axes.fill_between(time, coldest, hottest, linewidth=0, zorder=1, **_BAND)
    return [Label(last_finite((coldest + hottest) / 2), "coldest to hottest point", patch=_BAND | {"edgecolor": "0.6"})]


def draw_curves(axes: Axes, time: Array, curves: list[tuple[str, Array]]) -> list[Label]:
    """Draw curves against time, told apart by dashes and markers; gives the labels for the column."""
    labels = []
    every = max(len(time) // 8, 1)
    for i, ((name, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
        look = curve_look(i, colour)
        # markers of different curves stand at different times, so that none hides another
        first = (i * every) // max(len(curves), 1)
        axes.plot(time, values, markevery=(first, every), zorder=2.5, **look)
        late = "at the end" if np.isfinite(values[-1]) else "when last there"
        labels.append(Label(last_finite(values), f"{name}\n{quantity(last_finite(values), 'degC')} {late}", look))
    return labels


def _draw_tools(axes: Axes, scale: float, tools: list[tuple[str, Array, Array]]) -> list[Label]:
    """Faces of tools: thin dashes, for they are beside the matter."""
    labels = []
    for i, (name, time, values) in enumerate(tools):
        look: dict[str, Any] = {"color": "0.25", "linewidth": 1.0, "linestyle": _THIN[i % len(_THIN)]}
        axes.plot(time / scale, values, zorder=2.3, **look)
        last = last_finite(values)
        labels.append(Label(last, f"{name}\n{quantity(last, 'degC')} at the end", look))
    return labels


def _draw_extremes(axes: Axes, result: Result, scale: float, unit: str) -> list[Label]:
    """Mark the hottest and the coldest point of the whole run, which may lie between the stored rows."""
    labels = []
    history = layered(result)
    to_length, length = length_unit(float(history.edges[-1]))
    for word, marker, extreme in (
        ("hottest", "*", history.hottest),
        ("coldest", "h", history.coldest),
    ):
        value = float(celsius(extreme.value))
        look: dict[str, Any] = {
            "marker": marker,
            "markersize": 10,
            "color": "white",
            "markeredgecolor": "black",
            "linestyle": "none",
        }
        axes.plot([extreme.time / scale], [value], clip_on=False, zorder=4, **look)
        place = f"{number(extreme.depth / to_length)} {length} deep, at {number(extreme.time / scale)} {unit}"
        labels.append(Label(value, f"{word} {quantity(value, 'degC')}\n{place}", look, points=False))
    return labels


def _draw_states(axes: Axes, time: Array, states: dict[str, Array]) -> None:
    """Lowest and highest degree anywhere, against time."""
    curves = []
    for name, values in states.items():
        reacting = values[:, np.isfinite(values).any(axis=0)]
        both = list(zip(("lowest", "highest"), _ends(reacting), strict=True))
        curves += [(f"{spoken(name)}, {which}", degree) for which, degree in merged(both)]
    labels = []
    every = max(len(time) // 8, 1)
    for i, ((name, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
        look = curve_look(i, colour)
        axes.plot(time, values, markevery=((i * every) // len(curves), every), **look)
        labels.append(Label(last_finite(values), f"{name}\n{number(float(values[-1]))} at the end", look))
    axes.set_ylim(-0.03, max(1.03, *(label.y + 0.03 for label in labels)))
    axes.set_ylabel("degree [1]")
    label_column(axes, labels)


def _ends(values: Any) -> tuple[Any, Any]:
    """Lowest and highest over the depth, (rows,) each; a layer that is not there yet does not count."""
    absent = np.isnan(values)
    low, high = np.where(absent, np.inf, values).min(axis=1), np.where(absent, -np.inf, values).max(axis=1)
    none = absent.all(axis=1)
    return np.where(none, np.nan, low), np.where(none, np.nan, high)


def stations_of(result: Result, scale: float) -> Strips:
    """Every station that the rows reach, on the time axis."""
    history = result.history
    edges = [0.0, *(end.time / scale for end in history.ends)]
    last = float(history.time[-1]) / scale
    if len(edges) == 1 or last > edges[-1] * (1 + 1e-12):
        edges.append(last or 1.0)  # a run that stopped inside a station, or at its start
    names = [*result.span_names, *[""] * len(edges)][: len(edges) - 1]
    return Strips(tuple(edges), tuple(spoken(name) or str(i + 1) for i, name in enumerate(names)))
