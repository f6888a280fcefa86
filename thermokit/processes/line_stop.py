"""A line that stops: what stands at the end of each station goes on in it, from the profile that it has there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, LayerState, recalled
from thermokit.conduction.follow import follow
from thermokit.conduction.problem import Series

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array, Face, Problem, Span
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

ROWS = 60  # of what stands still
#: nodes of an after-glow, in its own time
GLOW = np.array([*np.arange(0.0, 1.0, 0.1), *np.arange(1.0, 3.0, 0.2), *np.arange(3.0, 6.5, 0.5)])
ZERO = 273.15


@dataclass(frozen=True)
class Trace:
    """A quantity after an event: place or limit, unit, time since it happened [s], values in the unit; limit or None; breaks :
    time when the limit is passed [s], None where it is not."""

    name: str
    unit: str
    time: Array
    values: Array
    bound: float | None
    breaks: float | None


@dataclass(frozen=True)
class Happening:
    """An event that was followed."""

    name: str
    kind: str
    traces: tuple[Trace, ...]
    words: tuple[str, ...]


def stopped(process: LineProcess, facts: Facts, event: Any) -> Happening:
    """The line stands: what is at the end of each station stays there."""
    travel = facts.travel
    assert travel is not None
    bound = next((limit.bound for limit in process.limits() if limit.name == "hottest"), None)
    limit = None if bound is None else float(np.ravel(bound)[0]) - ZERO
    lasts = float(event.lasts)
    times = np.append(0.0, np.geomspace(min(0.02, lasts / 100.0), lasts, ROWS))
    traces = []
    for number, station in enumerate(process.case.stations):
        if not process.has_length(number):
            continue
        span = process.last_span(number)
        leg = _leg_of(travel.legs, span)
        hottest = standing(process, facts, leg, span, station, times)
        traces.append(
            Trace(station.name, "degC", times, hottest - ZERO, limit, first_above(times, hottest - ZERO, limit))
        )
    return Happening(event.name, event.kind, tuple(traces), tuple(_stop_words(process, facts, traces, limit, lasts)))


def standing(
    process: LineProcess, facts: Facts, leg: Problem, span: int, station: Any, times: Array, lit: bool = False
) -> Array:
    """Hottest place of the product that stands at the end of a span, (times,) [K]; lit : its lamps stay on."""
    travel = facts.travel
    assert travel is not None
    end, memory = travel.history.ends[span], {}
    for layer in leg.layers:
        cells = process.cells(layer.name)
        degrees = {r.state: end.states[r.state][cells] for r in layer.reactions}
        crystalline = end.states["crystalline_share"][cells] if layer.medium.crystallising is not None else None
        memory[layer.name] = LayerState(end.temperature[cells], degrees, crystalline)
    first = sum(len(x.spans) for x in travel.legs[: [x is leg for x in travel.legs].index(True)])
    own = leg.spans[span - first]
    hold = replace(own, duration=float(times[-1]))
    if station.kind == "lamps" and not lit:
        hold = glowing(hold, float(np.ravel(station.glow)[0]), _first(station.shutter), float(times[-1]))
    if station.kind == "nip":  # nothing is sheared while it stands
        hold = replace(hold, sources=())
    if getattr(station, "inside", None) is not None:  # with no web to warm its face comes up to what is inside
        warm = float(np.ravel(station.temperature)[0])
        touch = hold.inner if station.side == "back" else hold.outer
        touch = replace(touch, exchange=tuple(replace(x, temperature=warm) for x in touch.exchange))
        hold = replace(hold, inner=touch) if station.side == "back" else replace(hold, outer=touch)
    run = follow(Course((recalled(replace(leg, spans=(hold,)), memory),)), times, process.tolerance).history
    keep = [i for layer, cut in _cells_of(leg) for i in cut if layer.counts]
    rows = [run.temperature[:, keep].max(axis=1), run.outer_face]
    if not process.wire:
        rows.append(run.inner_face)
    return np.asarray(np.max(rows, axis=0))


def glowing(span: Span, glow: float, shutter: float | None, lasts: float, since: Any = 0.0) -> Span:
    """A span whose lamps are off: their heat falls as exp(-t/glow), to nothing once a shutter stands before them.

    since : how long they have been off when the span begins [s], a number or one a case.
    """
    nodes = GLOW * glow
    if shutter is not None:
        shutter = max(shutter, 1e-3)
        nodes = np.append(nodes[nodes < shutter], [shutter])
    factors = [np.exp(-(t + since) / glow) for t in nodes]
    times = [float(t) for t in nodes]
    times, factors = [*times, times[-1]], [*factors, 0.0 * factors[-1]]

    def dimmed(value: Any) -> Any:
        if not np.any(np.asarray(value)):
            return value
        return Series(tuple(times), tuple(value * f for f in factors))

    def face(own: Face) -> Face:
        return own if isinstance(own.heating, Series) else replace(own, heating=dimmed(own.heating))

    sources = tuple(replace(x, factor=Series(tuple(times), tuple(1.0 * f for f in factors))) for x in span.sources)
    return replace(span, inner=face(span.inner), outer=face(span.outer), sources=sources)


def first_above(times: Array, values: Array, limit: float | None) -> float | None:
    """When a trace first lies above a limit [s], by straight lines; None where it does not or there is none."""
    if limit is None or not np.any(values > limit):
        return None
    i = int(np.argmax(values > limit))
    if i == 0:
        return 0.0
    a, b = values[i - 1], values[i]
    return float(times[i - 1] + (limit - a) / (b - a) * (times[i] - times[i - 1]))


def _stop_words(
    process: LineProcess, facts: Facts, traces: list[Trace], limit: float | None, lasts: float
) -> list[str]:
    if limit is None:
        highest = max(traces, key=lambda x: float(np.max(x.values)))
        return [
            f"line stop: no limits.hottest to hold it against; hottest in {highest.name}: {np.max(highest.values):.0f} degC"
        ]
    words = []
    travel = facts.travel
    assert travel is not None
    for trace in traces:
        number = next(i for i, s in enumerate(process.case.stations) if s.name == trace.name)
        station = process.case.stations[number]
        if station.kind == "lamps":
            words += _lamp_words(process, facts, number, trace, limit, lasts)
        elif trace.breaks is not None:
            when = "is above it already" if trace.breaks == 0.0 else f"reaches it in {trace.breaks:.1f} s"
            words.append(f"line stop, limit {limit:.0f} degC: what stands in {trace.name} {when}")
    if not words:
        words.append(f"line stop: nothing reaches {limit:.0f} degC within {lasts:.0f} s")
    return words


def _lamp_words(process: LineProcess, facts: Facts, number: int, trace: Trace, limit: float, lasts: float) -> list[str]:
    """What stands under lamps: with them left on, with their after-glow, with the shutter that is there."""
    station, span = process.case.stations[number], process.last_span(number)
    assert facts.travel is not None
    leg = _leg_of(facts.travel.legs, span)
    bare = replace(station, shutter=None)
    times = trace.time
    on = standing(process, facts, leg, span, station, times, lit=True) - ZERO
    left_on = first_above(times, on, limit)
    rate = (on[min(10, len(on) - 1)] - on[0]) / (times[min(10, len(on) - 1)] - times[0])
    off = standing(process, facts, leg, span, bare, times) - ZERO
    glows = first_above(times, off, limit)
    words = []
    if left_on is None:
        return [f"line stop: under {station.name} nothing reaches {limit:.0f} degC within {lasts:.0f} s, lamps left on"]
    words.append(
        f"line stop: under {station.name}, left on, the hottest place rises by {rate:.0f} K/s and reaches {limit:.0f} degC in "
        f"{left_on:.1f} s"
    )
    glow = f"switched off at once, with an after-glow of {float(np.ravel(station.glow)[0]):.1f} s"
    if glows is None:
        words.append(
            f"{glow}, it stays below ({np.max(off):.0f} degC at most): the interlock must switch them off at once"
        )
    else:
        need = max(0.1, np.floor(10.0 * min(glows, 1.0)) / 10.0)
        words.append(
            f"{glow}, it reaches it in {glows:.1f} s all the same: shutter or retraction needed, within {need:.1f} s "
            "(<= 1 s), by an interlock with the line's drive"
        )
    if station.shutter is not None:
        if trace.breaks is None:
            words.append(
                f"with the shutter of the case, shut after {float(np.ravel(station.shutter)[0]):.1f} s, it gets to "
                f"{np.max(trace.values):.0f} degC at most"
            )
        else:
            words.append(
                f"the shutter of the case, shut after {float(np.ravel(station.shutter)[0]):.1f} s, is too slow: "
                f"{limit:.0f} degC after {trace.breaks:.1f} s"
            )
    return words


def _leg_of(legs: tuple[Problem, ...], span: int) -> Problem:
    count = 0
    for leg in legs:
        count += len(leg.spans)
        if span < count:
            return leg
    raise IndexError(span)


def _cells_of(leg: Problem) -> list[tuple[Any, range]]:
    found, first = [], 0
    for layer in leg.layers:
        found.append((layer, range(first, first + layer.cells)))
        first += layer.cells
    return found


def _first(value: Any) -> float | None:
    return None if value is None else float(np.ravel(value)[0])
