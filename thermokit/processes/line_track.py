"""Along the line: where a time is in metres, and the temperatures at every row as face, middle, back and mean."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.processes.line_judgement import at_end, product_freezes_at

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess


@dataclass(frozen=True)
class Track:
    """Rows along the line: time [s], distance [m], temperatures [K]; all (rows,)."""

    time: Array
    distance: Array
    face: Array
    middle: Array
    back: Array
    mean: Array


def station_ends(process: LineProcess) -> tuple[Array, Array]:
    """(metres, seconds) from the beginning of the line to the end of every station."""
    lengths = [float(np.ravel(s.path)[0]) for s in process.case.stations]
    times = [float(np.ravel(s.duration)[0]) for s in process.case.stations]
    return np.cumsum(lengths), np.cumsum(times)


def track(process: LineProcess, history: History, facts: Facts) -> Track:
    """The run's rows along the line."""
    metres, seconds = station_ends(process)
    times, places = np.append(0.0, seconds), np.append(0.0, metres)
    keep = np.append(True, np.diff(times) > 0.0)
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face]).T
    found = at_end(process, replace(facts, edges=history.edges[:, None]), profile)
    return Track(
        history.time,
        np.interp(history.time, times[keep], places[keep]),
        found.face,
        found.middle,
        found.back,
        found.mean,
    )


@dataclass(frozen=True)
class Freezing:
    """When skin and bore freeze: time [s] and distance [m], None where they do not on the line; mean then [K]."""

    at: float
    skin: float | None
    skin_metres: float | None
    mean_then: float | None
    back_then: float | None
    back: float | None
    back_metres: float | None


def freezing(process: LineProcess, history: History, facts: Facts) -> Freezing | None:
    """Order of freezing of a body that comes hot: None where it is not melt, or no freezing temperature is known.

    Crossings by straight lines between rows.
    """
    at = product_freezes_at(process)
    if at is None:
        return None
    rows = track(process, history, facts)
    limit = float(np.ravel(at)[0])
    there = np.isfinite(rows.mean)
    if not there.any() or rows.mean[np.argmax(there)] <= limit:
        return None
    skin, back = _falls(rows.time, rows.face, limit), _falls(rows.time, rows.back, limit)

    def place(when: float | None) -> float | None:
        return None if when is None else float(np.interp(when, rows.time, rows.distance))

    def then(values: Array) -> float | None:
        return None if skin is None else float(np.interp(skin, rows.time[there], values[there]))

    return Freezing(limit, skin, place(skin), then(rows.mean), then(rows.back), back, place(back))


def _falls(time: Array, values: Array, limit: float) -> float | None:
    """When values fall below a limit for good: the last time that they do [s]."""
    above = np.nan_to_num(values, nan=np.inf) > limit
    down = np.flatnonzero(above[:-1] & ~above[1:])
    if not len(down) or above[-1]:
        return None
    i = int(down[-1])
    a, b = values[i], values[i + 1]
    if not np.isfinite(a) or a == b:
        return float(time[i + 1])
    return float(time[i] + (a - limit) / (a - b) * (time[i + 1] - time[i]))


def table(process: LineProcess, history: History, facts: Facts, powers: dict[int, str]) -> list[str]:
    """One line for each station: where it ends in metres and seconds, temperatures, its heat."""
    metres, seconds = station_ends(process)
    spoken = {"face": "skin", "back": "bore"} if process.line.product == "pipe" else {"face": "face", "back": "back"}
    if process.wire:
        spoken = {"face": "skin", "back": "at conductor"}
    found = []
    for number, station in enumerate(process.case.stations):
        span = process.last_span(number)
        head = f"{station.name}: to {metres[number]:.2f} m, {seconds[number]:.2f} s"
        if span < 0 or station.kind in ("coat", "preheat"):
            found.append(head + powers.get(number, ""))
            continue
        end = at_end(process, facts, facts.stations[span])
        t = {name: float(getattr(end, name)[0]) - 273.15 for name in ("face", "mean", "back")}
        words = ""
        if np.isfinite(t["mean"]):
            words = f": {spoken['face']} {t['face']:.1f}, mean {t['mean']:.1f}, {spoken['back']} {t['back']:.1f} degC"
        found.append(head + words + powers.get(number, ""))
    return found
