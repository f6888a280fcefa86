"""What a line is judged by: temperatures where stations end, shells, heat over all of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line_limits import PLACES
from thermokit.processes.base import Limit

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

DOSE = 0.3  # of the heat life; common practice, no source
HELD = "held_share"
HARD = 313.15  # K, a glass transition below which is that of what is soft when cold
LEAST_LATENT = 20e3  # J/kg, from which melting stands for freezing; below, the glass transition does
WORDS = {"face": "face", "back": "back", "mean": "mean over the thickness"}
ROUND_WORDS = {"face": "skin", "back": "bore", "mean": "mean of the wall"}
WIRE_WORDS = {"face": "skin", "back": "covering at the conductor", "mean": "mean of the covering"}


@dataclass(frozen=True)
class ShellLimit(Limit):
    """A bound on a length [m], shown in mm."""

    def margin(self, value: Array) -> Array:
        """Margin in mm, positive where the limit is met."""
        return 1e3 * super().margin(value)

    @property
    def unit(self) -> str:
        """Unit of the value as it is shown."""
        return "mm"

    @property
    def margin_unit(self) -> str:
        """Unit of the margin as it is shown."""
        return "mm"

    def shown(self, value: float) -> float:
        """A length in mm."""
        return 1e3 * value


def words_of(process: LineProcess) -> dict[str, str]:
    """What face, back and mean are called of this product."""
    if process.wire:
        return WIRE_WORDS
    return ROUND_WORDS if process.line.product == "pipe" else WORDS


def limits(process: LineProcess) -> tuple[Limit, ...]:
    """Limits of stations and line; those the line leaves out from material and trade. Named ``word at station``."""
    found: list[Limit] = []
    spoken = words_of(process)
    for station in process.case.stations:
        given = station.limits
        for place in PLACES:
            for end, least in (("least", True), ("most", False)):
                bound = getattr(given, f"{place}_{end}")
                if bound is not None:
                    found.append(
                        Limit(
                            f"{place}_{end} at {station.name}", f"{place} at {station.name}", least, bound, "temperature",
                            f"{spoken[place]}, end of {station.name}",
                        )
                    )  # fmt: skip
        if given.difference is not None:
            name = f"difference at {station.name}"
            where = f"{spoken['face']} and {spoken['back']}, end of {station.name}"
            found.append(Limit(name, name, False, given.difference, "temperature_difference", where))
        if given.shell_least is not None:
            where = f"frozen shell, end of {station.name}"
            found.append(
                ShellLimit(
                    f"shell_least at {station.name}",
                    f"shell at {station.name}",
                    True,
                    given.shell_least,
                    "length",
                    where,
                )
            )
    return (*found, *_of_line(process))


def _of_line(process: LineProcess) -> list[Limit]:
    given, states = process.case.limits, process.states()
    hottest = given.hottest
    if hottest is None and process.line.product in ("web", "cloth"):
        hottest = _caution(process)
    dose = given.heat_dose if given.heat_dose is not None else DOSE
    rows: list[tuple[str, bool, Any, str, str]] = [
        ("hottest", False, hottest, "temperature", "hottest place, at any time"),
        ("gel_degree", True, given.gel_degree, "fraction", "where it is lowest, at the end of the line"),
        ("fusion_degree", True, given.fusion_degree, "fraction", "where it is lowest, at the end of the line"),
        ("heat_dose", False, dose if "heat_dose" in states else None, "fraction", "hottest place, all of the line"),
    ]
    held = given.held
    if held is not None:
        at = float(np.ravel(held.temperature)[0]) - 273.15
        where = f"least hot place of {' and '.join(process.held_layers())}: share of the time above {at:.0f} degC"
        rows.append(("held", True, 1.0, "fraction", where))
    return [
        Limit(name, name, least, bound, dimension, where)
        for name, least, bound, dimension, where in rows
        if bound is not None and (not name.endswith("_degree") or name in states)
    ]


def _caution(process: LineProcess) -> Any:
    """The lowest of the materials' caution temperatures [K], None where none has one."""
    names = [layer.material for layer in (*process.line.layers, *(layer for _, layer in process.coats()))]
    records = [process.stuff.material(name) for name in names]
    found = [
        (record.surface_limit or {}).get("caution") for record in records if record is not None and record.surface_limit
    ]
    return min((value for value in found if value is not None), default=None)


@dataclass(frozen=True)
class AtEnd:
    """Temperatures where a station ends, each (cases,) [K]: face, back, mean, middle of the product that is there then."""

    face: Array
    back: Array
    mean: Array
    middle: Array


def at_end(process: LineProcess, facts: Facts, profile: Array) -> AtEnd:
    """Face, back, mean and middle of a profile (points, cases): inner face, cells, outer face; NaN where nothing is yet."""
    cells = profile[1:-1]
    weight = np.where(np.isfinite(cells), np.broadcast_to(process.weights(facts.edges), cells.shape), 0.0)
    there: Array = np.asarray(weight.any(axis=1))
    whole = weight.sum(axis=0)
    filled = np.where(np.isfinite(cells), cells, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (filled * weight).sum(axis=0) / whole
    if not there.any():
        nothing = np.full(cells.shape[1], np.nan)
        return AtEnd(nothing, nothing, nothing, nothing)
    first, last = int(np.argmax(there)), len(there) - 1 - int(np.argmax(there[::-1]))
    back = cells[first] if process.wire else profile[0]
    thick = np.broadcast_to(np.diff(facts.edges, axis=0), cells.shape)[first : last + 1]
    half = np.cumsum(thick, axis=0) - thick / 2 - thick.sum(axis=0) / 2
    j = np.clip((half <= 0.0).sum(axis=0) - 1, 0, max(last - first - 1, 0))
    own = np.arange(cells.shape[1])
    body = filled[first : last + 1]
    if last > first:
        share = np.clip(-half[j, own] / (half[j + 1, own] - half[j, own]), 0.0, 1.0)
        middle = body[j, own] + share * (body[j + 1, own] - body[j, own])
    else:
        middle = body[0]
    return AtEnd(profile[-1], np.asarray(back), mean, np.asarray(middle))


def freezes_at(process: LineProcess, material: str) -> Any:
    """Temperature below which a material is solid [K], None where it is not known.

    Peak (or middle) of crystallising, else of melting, where it takes 20 kJ/kg or more; else a glass transition above 40 degC.
    """
    medium = process.stuff.medium(material)
    for found in (medium.crystallising, medium.melting):
        if found is not None and np.all(np.asarray((medium.melting or found).heat) >= LEAST_LATENT):
            return found.peak if found.peak is not None else (found.low + found.high) / 2.0
    record = process.stuff.material(material)
    glass = getattr(getattr(record, "glass_transition", None), "temperature", None)
    return glass if glass is not None and glass > HARD else None


def product_freezes_at(process: LineProcess) -> Any:
    """That of the outermost layer of the product."""
    rows = {layer.name: layer for layer in process.line.layers} | {layer.name: layer for _, layer in process.coats()}
    return freezes_at(process, rows[process.product_layers[-1]].material)


def shell(process: LineProcess, facts: Facts, profile: Array) -> Array:
    """Thickness of what is frozen from the outside inwards, (cases,) [m]; NaN where no freezing temperature is known.

    Between points of the profile in a straight line; on the scale of the thickness that the layers had first.
    """
    freezing = product_freezes_at(process)
    if freezing is None:
        return np.full(profile.shape[1], np.nan)
    first = int(process.cells(*process.product_layers)[0])
    depth = np.broadcast_to(facts.depth, profile.shape)[1 + first :][::-1]
    t = profile[1 + first :][::-1]
    solid = t < np.asarray(freezing)
    count = np.cumprod(solid, axis=0).sum(axis=0)
    own = np.arange(t.shape[1])
    i = np.clip(count - 1, 0, len(t) - 2)
    t0, t1 = t[i, own], t[i + 1, own]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip((np.asarray(freezing) - t0) / (t1 - t0), 0.0, 1.0)
    at = depth[i, own] + share * (depth[i + 1, own] - depth[i, own])
    found = np.where(count == 0, 0.0, np.where(count == len(t), depth[0] - depth[-1], depth[0] - at))
    return np.asarray(found)


def quantities(process: LineProcess, facts: Facts) -> dict[str, Array]:
    """What limits are put on, (cases,) in SI; NaN where a run did not get that far."""
    nothing = np.full(facts.hottest.shape, np.nan)
    last = process.last_span(len(process.case.stations) - 1)
    if len(facts.stations) <= last:
        return dict.fromkeys([limit.quantity for limit in limits(process)], nothing)
    found: dict[str, Array] = {"hottest": facts.hottest}
    asked = {limit.quantity for limit in limits(process)}
    for number, station in enumerate(process.case.stations):
        if not any(name.endswith(f" at {station.name}") for name in asked):
            continue
        span = process.last_span(number)
        if span < 0:
            continue
        end = at_end(process, facts, facts.stations[span])
        for place in PLACES:
            found[f"{place} at {station.name}"] = getattr(end, place)
        found[f"difference at {station.name}"] = np.abs(end.face - end.back)
        if f"shell at {station.name}" in asked:
            found[f"shell at {station.name}"] = shell(process, facts, facts.stations[span])
    cells = process.cells(*process.product_layers)
    for state in ("gel_degree", "fusion_degree"):
        if state in facts.states:
            found[state] = np.fmin.reduce(
                facts.states[state][cells], axis=0
            )  # NaN only where no cell has one: it failed
    if "heat_dose" in facts.states:
        found["heat_dose"] = np.fmax.reduce(facts.states["heat_dose"][cells], axis=0)
    if HELD in facts.states:
        found["held"] = facts.states[HELD][process.cells(*process.held_layers())].min(axis=0)
    return found


def found_at(process: LineProcess, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
    """Place in words and time of what a limit looks at, in a run that finished."""
    if limit.quantity == "hottest":
        span = next((i for i, end in enumerate(history.ends) if history.hottest.time <= end.time * (1 + 1e-12)), 0)
        names = span_names(process)
        where = f"{process.place(history.hottest.depth)}, in {names[min(span, len(names) - 1)]}"
        return where, history.hottest.time
    _, at, name = limit.quantity.rpartition(" at ")
    for number, station in enumerate(process.case.stations):
        if at and station.name == name:
            return limit.where, history.ends[process.last_span(number)].time
    return limit.where, history.ending.time


def span_names(process: LineProcess) -> list[str]:
    """Name of the station of every span."""
    return [
        station.name
        for number, station in enumerate(process.case.stations)
        if process.has_length(number)
        for _ in getattr(station, "zones", (None,))
    ]
