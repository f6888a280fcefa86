"""A line: temperatures along it in metres and seconds, and what follows an event."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import quantity, spoken
from thermokit.results.fields import find, group_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

PLACES = ("face", "middle", "back", "mean")
EVENT = "event_"
STANDS = "time since it stands"
_TICKS = 0.07  # of the length, between two ticks that still can be read
_LIMIT: dict[str, Any] = {"color": "0.2", "linestyle": (0, (9, 3)), "linewidth": 1.1}


def drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """The figures of a line, by kind; none for other results."""
    found: dict[str, Callable[[Result], Figure]] = {}
    if find(result, "track/distance") is not None:
        found["along"] = draw_along
    if _events(result):
        found["events"] = draw_events
    return found


def _values(result: Result, name: str) -> Array:
    found = find(result, name)
    return np.zeros(0) if found is None else np.asarray(found.values, float)


def draw_along(result: Result) -> Figure:
    """Draw face, middle, back and mean [°C] along the line, stations marked in metres and in seconds, limits as bands."""
    distance, ends = _values(result, "track/distance"), _values(result, "line/end")
    seconds = _values(result, "line/time")
    stations = find(result, "line/end")
    assert stations is not None
    names = [str(name) for name in stations.axes[0].values]
    long = np.append(True, np.diff(ends) > 0.0) if ends[0] > 0.0 else np.append(False, np.diff(ends) > 0.0)
    edges = (0.0, *(float(end) for end in ends[long]))
    strips = Strips(edges, tuple(name for name, own in zip(names, long, strict=True) if own))
    limits = temperature_limits(result)
    curves = [(place, _values(result, f"track/{place}")) for place in PLACES]
    with house_style():
        figure, axes = new_figure(result.provenance.title, 6 + 2 * len(limits), strips.headroom, [1.0])
        panel = axes[0]
        panel.set_xlim(0.0, edges[-1])
        temperature_range(panel, [values[np.isfinite(values)] for _, values in curves], limits)
        labels = []
        for i, ((place, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
            look = curve_look(i, colour) | {"markersize": 4}
            panel.plot(distance, values, markevery=(3 * i, max(len(distance) // 9, 1)), zorder=2.5, **look)
            words = _called(result, place)
            labels.append(
                Label(last_finite(values), f"{words}: {quantity(last_finite(values), 'degC')} at the end", look)
            )
        labels += draw_limits(panel, limits)
        strips.draw(axes)
        _ticks(panel, ends[long], seconds[long])
        label_column(panel, labels)
        panel.set_ylabel("temperature [°C]")
        panel.set_xlabel("along the line: ends of stations [m], time since the beginning [s]", labelpad=1.0)
    return figure


def _called(result: Result, place: str) -> str:
    """What a place is called of this product, as its field says."""
    found = find(result, f"track/{place}")
    assert found is not None
    return found.meaning.removesuffix(" along the line")


def _ticks(panel: Axes, ends: Array, seconds: Array) -> None:
    """Ticks at the ends of stations, in metres and below them in seconds; those too near to the next are left out."""
    places, words, last = [0.0], ["0 m\n0 s"], 0.0
    for i, (end, time) in enumerate(zip(ends, seconds, strict=True)):
        room = end - last > _TICKS * ends[-1] and (i == len(ends) - 1 or ends[-1] - end > _TICKS * ends[-1])
        if room or i == len(ends) - 1:
            places.append(float(end))
            words.append(f"{end:.3g} m\n{time:.3g} s")
            last = float(end)
    panel.set_xticks(places, words)


def _events(result: Result) -> dict[str, list[Field]]:
    """Traces of events by the event's name, in order."""
    found: dict[str, list[Field]] = {}
    for field in result.fields:
        group = group_of(field)
        if group.startswith(EVENT) and field.name.endswith("/value") and len(np.atleast_1d(field.values)) > 1:
            found.setdefault(field.meaning.partition(": ")[0], []).append(field)
    return found


def draw_events(result: Result) -> Figure:
    """Draw what follows each event: one panel for each unit of what is followed, against the time since it happened [s]."""
    panels: list[tuple[str, str, list[Field]]] = []
    for name, traces in _events(result).items():
        for unit in dict.fromkeys(trace.unit for trace in traces):
            panels.append((name, unit, [trace for trace in traces if trace.unit == unit]))
    longest = max(float(np.asarray(t.axes[0].values)[-1]) for *_, traces in panels for t in traces)
    with house_style():
        lines = max(len(traces) + 2 for *_, traces in panels)
        figure, axes = new_figure(result.provenance.title, 2 * lines, 0.0, [1.0] * len(panels))
        axes[0].set_xlim(0.0, longest)
        for panel, (name, unit, traces) in zip(axes, panels, strict=True):
            _one_event(panel, result, name, unit, traces, longest)
        axes[-1].set_xlabel("time since it happened [s]")
    return figure


def _one_event(panel: Axes, result: Result, name: str, unit: str, traces: list[Field], longest: float) -> None:
    labels, bounds = [], {}
    for i, (trace, colour) in enumerate(zip(traces, colours(len(traces)), strict=True)):
        time, values = np.asarray(trace.axes[0].values, float), np.asarray(trace.values, float)
        look = curve_look(i, colour) | {"markersize": 4}
        if time[-1] < longest and trace.axes[0].meaning != STANDS:
            time, values = np.append(time, longest), np.append(values, values[-1])  # it has settled
        panel.plot(time, values, markevery=(i, max(len(time) // 8, 1)), zorder=2.5, **look)
        words = spoken(trace.meaning.partition(": ")[2])
        labels.append(Label(last_finite(values), f"{words}: {_shown(last_finite(values), unit)} at last", look))
        limit = find(result, f"{group_of(trace)}/limit")
        if limit is not None:
            bounds[float(np.ravel(limit.values)[0])] = limit.meaning
    for bound, meaning in bounds.items():
        panel.axhline(bound, zorder=2.0, **_LIMIT)
        words = "limit" if len(bounds) == 1 else spoken(meaning)
        labels.append(Label(bound, f"{words}: {_shown(bound, unit)}", _LIMIT))
    shown = {"degC": "°C", "1": "-"}.get(unit, unit)
    panel.set_ylabel(f"{spoken(name)} [{shown}]")
    label_column(panel, labels)


def _shown(value: float, unit: str) -> str:
    """A number with its unit; a share has none, and one that is next to nothing is 0."""
    return f"{round(value, 3):g}" if unit == "1" else quantity(value, unit)
