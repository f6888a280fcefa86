"""A charge in the press: temperature and degree of cure of faces and middle against time, and through it at the opening."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import NO_BREAK, quantity, spoken, time_unit, together
from thermokit.results.digits import number
from thermokit.results.fields import find
from thermokit.results.model import layered

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Result

    Array = NDArray[np.float64]
    Curves = list[tuple[str, Array]]

PLACES = (("upper_face", "upper face"), ("core", "middle"), ("lower_face", "lower face"))
_STAR: dict[str, Any] = {
    "marker": "*", "markersize": 11, "color": "white", "markeredgecolor": "black", "linestyle": "none",
}  # fmt: skip
_GEL: dict[str, Any] = {
    "marker": "D", "markersize": 6, "color": "white", "markeredgecolor": "black", "linestyle": "none",
}  # fmt: skip
_BAND: dict[str, Any] = {"facecolor": "0.9", "edgecolor": "none"}
ALIKE, MOSTLY = 0.01, 0.9  # curves within so much of the range in so many of the rows are drawn as one


def drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """The figures of a charge that was pressed, by kind; none for other results."""
    found: dict[str, Callable[[Result], Figure]] = {}
    if find(result, "press/core_degree") is not None:
        found["cure"] = draw_cure
    if find(result, "opening/cure_degree") is not None:
        found["opening"] = draw_opening
    return found


def draw_cure(result: Result) -> Figure:
    """Draw temperature [°C] and degree of cure against time, from loading until as long again after the press opens.

    A star marks the hottest place, diamonds where faces and middle gel; dotted uprights part the stations; limits are
    hatched on the side that is not allowed.
    """
    time = np.asarray(_field(result, "press/core_degree").axes[0].values, float)
    scale, unit = time_unit(float(time[-1]))
    at = time / scale
    temperatures = _merged([(words, _values(result, f"press/{key}_temperature")) for key, words in PLACES])
    degrees = _merged([(words, _values(result, f"press/{key}_degree")) for key, words in PLACES])
    # what heat still in the charge could do is no temperature of it
    limits = temperature_limits(replace(result, limits=tuple(c for c in result.limits if c.name != "heat_left")))
    coldest, hottest = _values(result, "press/coldest_temperature"), _values(result, "press/hottest_temperature")
    stations = _stations(result, float(time[-1]), scale)
    with house_style():
        figure, axes = new_figure(
            result.provenance.title, 2 * (len(temperatures) + len(limits)) + 5, stations.headroom, [1.0, 0.85]
        )
        first, second = axes
        first.set_xlim(0.0, at[-1])
        temperature_range(first, [coldest, hottest, np.array(_peaks(result, float(time[-1])))], limits)
        labels = draw_limits(first, limits)
        first.fill_between(at, coldest, hottest, linewidth=0, zorder=1, **_BAND)
        band = last_finite((coldest + hottest) / 2)
        labels.append(Label(band, "coldest to hottest place", patch=_BAND | {"edgecolor": "0.6"}))
        labels += _curves(first, at, temperatures, "degC")
        labels += _peak(first, result, at[-1], scale, unit)
        label_column(first, labels)
        first.set_ylabel("temperature [°C]")
        second.set_ylim(-0.03, 1.06)
        labels = _least_degree(second, result)
        labels += _curves(second, at, degrees, "1")
        labels += _gelling(second, result, time, scale, unit)
        label_column(second, labels)
        second.set_ylabel("degree of cure [1]")
        second.set_xlabel(f"time from loading [{unit}]")
        stations.draw(axes)
    return figure


def draw_opening(result: Result) -> Figure:
    """Draw temperature [°C] and degree of cure through the charge at the moment when the press opens, with their spread."""
    temperature, degree = _values(result, "opening/temperature"), _values(result, "opening/cure_degree")
    depth = np.asarray(_field(result, "opening/temperature").axes[0].values, float)
    layers = Strips(tuple(1e3 * edge for edge in result.layer_edges), tuple(map(spoken, result.layer_names)))
    opened = next((o.value for o in result.outcomes if o.name == "opening_time"), None)
    with house_style():
        figure, axes = new_figure(result.provenance.title, 6, layers.headroom, [1.0, 1.0])
        first, second = axes
        first.set_xlim(0.0, depth[-1])
        temperature_range(first, [temperature], [])
        first.plot(depth, temperature, markevery=max(len(depth) // 9, 1), **curve_look(0, colours(1)[0]))
        label_column(first, _ends(depth, temperature, "degC", "K"))
        first.set_ylabel("temperature [°C]")
        least = _opening_degree(result)
        low = float(np.nanmin(degree)) if least is None else min(float(np.nanmin(degree)), least)
        second.set_ylim(max(-0.03, low - 0.05), min(1.02, float(np.nanmax(degree)) + 0.1))
        labels = _least_degree(second, result)
        second.plot(depth, degree, markevery=max(len(depth) // 9, 1), **curve_look(1, colours(1)[0]))
        label_column(second, labels + _ends(depth, degree, "1", "1"))
        second.set_ylabel("degree of cure [1]")
        when = f", {number(opened)}{NO_BREAK}s after loading" if opened is not None else ""
        second.set_xlabel(f"depth below the upper face [mm]; as the press opens{when}")
        layers.draw(axes)
    return figure


def _field(result: Result, name: str) -> Any:
    found = find(result, name)
    assert found is not None
    return found


def _values(result: Result, name: str) -> Array:
    return np.asarray(_field(result, name).values, float)


def _merged(curves: Curves) -> Curves:
    """The same curves, those that lie on one another once under all their names, those without numbers left out."""
    known = [(name, values) for name, values in curves if np.isfinite(values).any()]
    close = ALIKE * float(np.nanmax([v for _, v in known]) - np.nanmin([v for _, v in known])) if known else 0.0
    kept: list[tuple[list[str], Array]] = []
    for name, values in known:
        for names, other in kept:
            if np.mean(np.abs(np.nan_to_num(values) - np.nan_to_num(other)) <= close) >= MOSTLY:
                names.append(name)
                break
        else:
            kept.append(([name], values))
    return [(together(names), values) for names, values in kept]


def _curves(axes: Axes, at: Array, curves: Curves, unit: str) -> list[Label]:
    labels = []
    every = max(len(at) // 9, 1)
    for i, ((name, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
        look = curve_look(i, colour)
        axes.plot(at, values, markevery=((i * every) // max(len(curves), 1), every), zorder=2.5, **look)
        last = last_finite(values)
        end = quantity(last, unit) if unit != "1" else number(last)
        labels.append(Label(last, f"{name}\n{end} at the end", look))
    return labels


def _peaks(result: Result, last: float) -> list[float]:
    """The hottest temperature [degC] if it falls within the time that is drawn [s]."""
    peak = result.history.hottest
    return [peak.value - 273.15] if peak.time <= last * (1 + 1e-9) else []


def _peak(axes: Axes, result: Result, last: float, scale: float, unit: str) -> list[Label]:
    """The hottest place, where it lies within the time that is drawn."""
    peak = layered(result).hottest
    value = peak.value - 273.15
    if not _peaks(result, last * scale):
        return []
    axes.plot([peak.time / scale], [value], clip_on=False, zorder=4, **_STAR)
    deep = f"{number(1e3 * peak.depth)}{NO_BREAK}mm deep" if peak.depth > 0.0 else "upper face"
    place = f"{deep}, at {number(peak.time / scale)}{NO_BREAK}{unit}"
    return [Label(value, f"hottest {quantity(value, 'degC')}\n{place}", _STAR, points=False)]


def _gelling(axes: Axes, result: Result, time: Array, scale: float, unit: str) -> list[Label]:
    """Diamonds on the curves where faces and middle gel."""
    times = {o.name: o.value for o in result.outcomes}
    labels: dict[str, Label] = {}
    for key, words in PLACES:
        when = times.get(f"{key}_gel_time")
        if when is None:
            continue
        value = float(np.interp(when, time, _values(result, f"press/{key}_degree")))
        axes.plot([when / scale], [value], zorder=4, **_GEL)
        shown = f"{number(when / scale)}{NO_BREAK}{unit}"
        if shown in labels:
            labels[shown].text = labels[shown].text.replace(" gels", f" and {words} gel", 1)
        else:
            labels[shown] = Label(value, f"{words} gels at {shown}", _GEL, points=False)
    return list(labels.values())


def _least_degree(axes: Axes, result: Result) -> list[Label]:
    """The degree of cure that the press waits for, hatched below."""
    limit, value = next((c for c in result.limits if c.name == "cure_degree"), None), _opening_degree(result)
    if limit is None or value is None:
        return []
    low, high = axes.get_ylim()
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": "0.35", "hatch": "\\\\\\\\"}
    axes.axhspan(value - 0.03 * (high - low), value, linewidth=0, zorder=1.5, **look)
    axes.axhline(value, color="0.1", linewidth=1.2, zorder=1.6)
    verdict = "met" if limit.met else f"NOT{NO_BREAK}MET"
    return [Label(value, f"to open: at least {value:g} everywhere, {verdict}", patch=look)]


def _opening_degree(result: Result) -> float | None:
    """The degree of cure that is required when the press opens."""
    return next((float(c.required.split()[-1]) for c in result.limits if c.name == "cure_degree"), None)


def _ends(depth: Array, values: Array, unit: str, difference: str) -> list[Label]:
    """Highest and lowest value with their places, and the spread."""
    found = []
    for word, i in (("highest", int(np.nanargmax(values))), ("lowest", int(np.nanargmin(values)))):
        value = float(values[i])
        shown = quantity(value, unit) if unit != "1" else number(value)
        found.append(Label(value, f"{word} {shown}\n{number(float(depth[i]))}{NO_BREAK}mm deep"))
    spread = float(np.nanmax(values) - np.nanmin(values))
    shown = quantity(spread, difference) if difference != "1" else number(spread)
    found.append(Label(float(np.nanmax(values) + np.nanmin(values)) / 2, f"spread {shown}", points=False))
    return found


def _stations(result: Result, last: float, scale: float) -> Strips:
    """The stations as far as the curves go."""
    edges, names = [0.0], []
    for i, end in enumerate(layered(result).ends):
        begun = edges[-1] * scale
        if begun >= last * (1 - 1e-9):
            break
        edges.append(min(end.time, last) / scale)
        names.append(spoken(result.span_names[i]) if i < len(result.span_names) else "")
    return Strips(tuple(edges), tuple(names))
