"""What happens when a line stops, loses its water or its lamps, or changes speed: from the profile at the place concerned.

A stop: the piece that stands at the end of each station goes on in that station, from the profile that it has there. Anything
else: pieces that are at places along the line when it happens go the rest of the way under what has changed; each reaches the
places that have limits at a time of its own. The line itself ran steadily before.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes.base import facts_of_batch
from thermokit.processes.line_stop import Happening, Trace, first_above, glowing, stopped
from thermokit.processes.line_track import station_ends

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Array, Span
    from thermokit.processes.base import Facts, Limit
    from thermokit.processes.line import LineProcess

PIECES = 17  # along the line when something happens, and
IN_STATION = 4  # in each station
COARSE = 25  # edges of a layer above which comparisons take every second
AT_ONCE = 1e-6  # s, for a part of a station that a piece does not get


def happenings(process: LineProcess, facts: Facts) -> list[Happening]:
    """Every event of the case."""
    if facts.travel is None:
        return []
    return [stopped(process, facts, e) if e.kind == "stop" else changed(process, facts, e) for e in process.case.events]


def changed(process: LineProcess, facts: Facts, event: Any) -> Happening:
    """The line runs on, something of it changed: pieces from all along it go the rest of their way."""
    seconds = station_ends(process)[1]
    total = float(seconds[-1])
    begins = np.append(0.0, seconds[:-1])
    within = [np.linspace(a, b, IN_STATION) for a, b in zip(begins, seconds, strict=True) if b > a]
    gone = np.unique(np.concatenate([np.linspace(0.0, total, PIECES), *within]))
    first = next((begins[i] for i, s in enumerate(process.case.stations) if s.name == event.station), 0.0)
    factor = float(np.ravel(event.factor)[0]) if event.kind == "speed" else 1.0
    process = process.on(coarser(process.edges))
    course = _split(process, event, gone, factor)
    batch = facts_of_batch(follow_batch(course, len(gone), process.tolerance))
    batch = replace(
        batch,
        stations=batch.stations[1::2],
        station_states=batch.station_states[1::2],
    )
    values = process.quantities(batch)
    traces = []
    for limit in process.limits():
        name = limit.quantity.rpartition(" at ")[2]
        end = next((seconds[i] for i, s in enumerate(process.case.stations) if s.name == name), total)
        if end <= first * (1.0 + 1e-12) and event.station is not None:
            continue  # nothing of it gets there
        behind = gone <= end * (1.0 + 1e-12)
        arrives = ((end - gone) / factor)[behind][::-1]
        found = np.broadcast_to(values[limit.quantity], gone.shape)[behind][::-1]
        order = np.argsort(arrives, kind="stable")
        traces.append(_trace(limit, arrives[order], found[order]))
    return Happening(event.name, event.kind, tuple(traces), tuple(_change_words(event, traces)))


def coarser(edges: Sequence[Array]) -> list[Array]:
    """A mesh that suits comparisons: every second edge of a layer, until few are left."""
    found = []
    for cut in edges:
        while len(cut) > COARSE and len(cut) % 2:
            cut = cut[::2]
        found.append(cut)
    return found


def _trace(limit: Limit, times: Array, values: Array) -> Trace:
    sign = -1.0 if limit.least else 1.0
    bound = float(np.ravel(limit.bound)[0])
    shown = np.array([limit.shown(float(v)) for v in values])
    edge = limit.shown(bound)
    breaks = first_above(times, sign * shown, sign * edge)
    return Trace(limit.name, limit.unit, times, shown, edge, breaks)


def _split(process: LineProcess, event: Any, gone: Array, factor: float) -> Course:
    """The course with every span cut where each piece is when it happens: before, as it was; behind, as it is changed."""
    course = process.course(process.edges)
    names = {station.name: station for station in process.case.stations}
    begin, legs = 0.0, []
    for leg in course.legs:
        spans: list[Span] = []
        for span in leg.spans:
            whole = float(np.ravel(span.duration)[0])
            before = np.clip(gone - begin, AT_ONCE * whole, whole)
            behind = np.maximum((whole - before) / factor, AT_ONCE * whole)
            first = replace(span, duration=before)
            station = names[span.name]
            after = replace(span, duration=behind)
            if event.station in (None, span.name):
                after = _without(process, event, station, after, np.maximum(begin - gone, 0.0))
            spans += [first, after]
            begin += whole
        legs.append(leg.with_(spans=tuple(spans)))
    return replace(course, legs=tuple(legs))


def _without(process: LineProcess, event: Any, station: Any, span: Span, since: Array) -> Span:
    """A span without its water, or with its lamps off."""
    if event.kind == "water_lost" and station.kind == "bath":
        about = process.about(
            process.pieces_at(process.case.stations.index(station)), process.case.stations.index(station)
        )
        outer = about.free("face")
        return replace(span, outer=outer, inner=about.free("back") if about.inside is None else span.inner)
    if event.kind == "lamps_out" and station.kind == "lamps":
        return glowing(span, float(np.ravel(station.glow)[0]), None, 1e3, since)
    return span


def _change_words(event: Any, traces: list[Trace]) -> list[str]:
    what = {"water_lost": "water lost", "lamps_out": "lamps out"}.get(
        event.kind, f"speed {100.0 * (float(np.ravel(event.factor)[0]) - 1.0):+.0f} %"
    )
    if event.station is not None:
        what += f" in {event.station}"
    words = []
    for trace in traces:
        unit = "" if trace.unit == "1" else f" {trace.unit}"
        last = f"settles at {_figure(trace.values[-1])}{unit}"
        if trace.breaks is None:
            continue
        when = "is not met before it either" if trace.breaks == 0.0 else f"is broken after {trace.breaks:.1f} s"
        words.append(f"{what}: {trace.name} {when} ({last}, limit {trace.bound:.4g}{unit})")
    if not words:
        words = [f"{what}: every limit is still met"]
        if traces:
            words[0] += "; " + ", ".join(
                f"{x.name} settles at {_figure(x.values[-1])}" + ("" if x.unit == "1" else f" {x.unit}")
                for x in traces[:3]
            )
    return words


def _figure(value: float) -> str:
    """Four digits, and nothing for what is next to nothing."""
    return f"{0.0 if abs(value) < 1e-6 else value:.4g}"
