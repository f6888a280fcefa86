"""Answers of a single run of a line: outcomes, and what it leaves beside its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line_stations import ROLLS
from thermokit.exchange.baths import water_rise
from thermokit.exchange.roll_balance import drop_per_turn, medium_rise, steam_use
from thermokit.processes.line_heat import breadth, covering_flow, heats, mass_flow, per_width
from thermokit.processes.line_inside import fall
from thermokit.processes.line_judgement import at_end, product_freezes_at, shell, words_of
from thermokit.processes.line_track import freezing, station_ends, track
from thermokit.results.model import Axis, Field, Outcome

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

ZERO = 273.15
STEEL = (45.0, 3.77e6)  # W/m/K and J/m3/K of a roll's shell: assumed
OIL = (850.0, 2200.0)  # kg/m3 and J/kg/K of heating oil: assumed


def outcomes(process: LineProcess, history: History, facts: Facts) -> list[Outcome]:
    """What the setting sheet of a line asks for."""
    if facts.travel is None or history.ending.status != "finished":
        return []
    found: list[Outcome] = []

    def put(name: str, value: float | None, unit: str, words: str) -> None:
        found.append(Outcome(name, None if value is None or not np.isfinite(value) else float(value), unit, words))

    metres, seconds = station_ends(process)
    width = "" if not per_width(process) else ", for each metre of width"
    power, flow = ("kW/m", "kg/h/m") if per_width(process) else ("kW", "kg/h")
    put("speed", 60.0 * process.pace, "m/min", "speed where the line begins")
    last = float(np.ravel(process.ratios[-1])[0])
    if last != 1.0:
        put("speed_behind", 60.0 * process.pace * last, "m/min", "speed where it ends, drawn")
    put("length", metres[-1], "m", "length of all stations")
    put("time", seconds[-1], "s", "time from beginning to end")
    whole, own = mass_flow(process, facts), covering_flow(process, facts)
    put("throughput", 3600.0 * (own if process.wire else whole), flow, f"what the line makes{width}")
    if process.wire:
        put("throughput_with_conductor", 3600.0 * whole, flow, "the same with its conductor")
    powers = heats(process, facts)
    for number, heat in powers.items():
        station = process.case.stations[number]
        put(
            f"{_word(station.name)}_heat",
            1e-3 * heat.given,
            power,
            f"heat that {station.name} gives (below 0: takes){width}",
        )
    given = sum(max(h.given, 0.0) for h in powers.values())
    taken = -sum(min(h.given, 0.0) for h in powers.values())
    flowing = own if process.wire else whole
    put("heat_by_mass", given / flowing / 3.6e6, "kWh/kg", "heat put in, for each kilogram made")
    put("cooling_by_mass", taken / flowing / 3.6e6, "kWh/kg", "heat taken out, for each kilogram made")
    spoken = words_of(process)
    for number, station in enumerate(process.case.stations):
        span = process.last_span(number)
        if span < 0 or station.kind in ("coat", "preheat"):
            continue
        behind = process.case.stations[min(number + 1, len(metres) - 1)].kind
        if process.has_length(number) and behind in ("haul_off", "wind_up") and station.kind not in ("die", "bath"):
            continue  # the place behind it says the same
        end = at_end(process, facts, facts.stations[span])
        for place in ("face", "mean", "back"):
            value = float(getattr(end, place)[0]) - ZERO
            put(f"{_word(station.name)}_{place}", value, "degC", f"{spoken[place]} at the end of {station.name}")
        if station.kind == "die":
            put(f"{_word(station.name)}_shell", 1e3 * float(shell(process, facts, facts.stations[span])[0]), "mm",
                f"frozen shell at the end of {station.name}")  # fmt: skip
        if station.kind == "bath" and station.water is not None:
            rise = water_rise(-powers[number].given, _one(station.water), _one(station.temperature))
            put(f"{_word(station.name)}_rise", float(rise), "K", f"rise of the water of {station.name}")
        if station.kind == "nip":
            _of_nip(process, number, put)
        if station.kind in ROLLS:
            _of_roll(process, number, powers[number].given, put)
        if station.kind in ROLLS and process.line.tension is not None:
            put(f"{_word(station.name)}_contact", float(np.ravel(process.contact(number))[0]), "W/m2/K",
                f"contact on {station.name} with the film of air at this speed")  # fmt: skip
    put("hottest", history.hottest.value - ZERO, "degC", "hottest place at any time")
    froze = freezing(process, history, facts)
    if froze is not None:
        put("skin_freezes", froze.skin, "s", f"when the skin falls below {froze.at - ZERO:.0f} degC for good")
        put("skin_freezes_at", froze.skin_metres, "m", "where that is")
        then = None if froze.mean_then is None else froze.mean_then - ZERO
        put("mean_when_skin_freezes", then, "degC", f"{spoken['mean']} then")
        inside = (
            "the covering at the conductor" if process.wire else "the bore" if process.shape != "plane" else "the back"
        )
        put("bore_freezes", froze.back, "s", f"when {inside} does")
        put("bore_freezes_at", froze.back_metres, "m", "where that is")
    for name, words in (
        ("gel_degree", "lowest degree of gelation at the end"),
        ("fusion_degree", "lowest degree of fusion at the end"),
        ("heat_dose", "share of the heat life used up in the hottest place"),
    ):
        values = process.quantities(facts)
        if name in values:
            put(name, float(values[name][0]), "1", words)
    held = process.case.limits.held
    if held is not None:
        share = float(process.quantities(facts)["held"][0])
        put("held_time", share * float(np.ravel(held.time)[0]), "s",
            f"time above {float(np.ravel(held.temperature)[0]) - ZERO:.0f} degC of the least hot place of "
            f"{' and '.join(process.held_layers())}")  # fmt: skip
    return found


def _of_roll(process: LineProcess, number: int, given: float, put: Callable[..., None]) -> None:
    """Swing of a roll's face once a turn, and what its oil or water changes by on its way through it."""
    station = process.case.stations[number]
    name, diameter, wrap = _word(station.name), _one(station.diameter), _one(station.wrap)
    flux = abs(given) / breadth(process) / (diameter / 2.0 * wrap)
    turn = np.pi * diameter / _one(process.speed(number))
    swing = float(drop_per_turn(flux, wrap / (2.0 * np.pi), turn, *STEEL))
    if station.inside is not None:
        by_width, face = given / breadth(process), _one(process.station(number).temperature)
        put(
            f"{name}_roll_face",
            face - ZERO,
            "degC",
            f"face of {station.name} as the web comes on, in the mean of a turn",
        )
        put(f"{name}_drop", _one(station.temperature) - face, "K",
            f"drop from the {station.inside.medium} that enters {station.name} to its face")  # fmt: skip
        if station.flow is not None and not per_width(process) and station.inside.medium != "steam":
            words = f"fall of the {station.inside.medium} on its way through {station.name}"
            put(f"{name}_flow", float(np.ravel(fall(process, number, by_width))[0]), "K", words)
        if station.inside.medium == "steam" and not per_width(process):
            put(f"{name}_steam", 3600.0 * float(steam_use(given)), "kg/h", f"steam that condenses in {station.name}")
    put(
        f"{name}_swing",
        swing,
        "K",
        f"swing of the face of {station.name} once a turn, were it thick steel; limit 2 to 3 K",
    )
    if station.inside is None and station.flow is not None and not per_width(process):
        flow, cold = _one(station.flow), station.kind == "chill_roll"
        change = water_rise(-given, flow, _one(station.temperature)) if cold else medium_rise(given, flow, *OIL)
        words = "rise of the water" if cold else "fall of the oil (850 kg/m3, 2200 J/kg/K: assumed)"
        put(f"{name}_flow", float(change), "K", f"{words} on its way through {station.name}")


def _of_nip(process: LineProcess, number: int, put: Callable[..., None]) -> None:
    """Friction, pressure and force of a nip, the gap that its gauge wants."""
    station, name = process.case.stations[number], _word(process.case.stations[number].name)
    rise = _one(process.friction(number))
    if rise > 0.0:
        put(f"{name}_friction", rise, "K", f"rise of the mean by friction in {station.name}")
    flow = process.nip(number)
    if flow is not None:
        put(
            f"{name}_gap",
            1e3 * _one(flow.gauge / flow.ratio),
            "mm",
            f"gap of {station.name} for its gauge, hot and under load",
        )
        put(f"{name}_force", 1e-3 * _one(flow.force), "kN/m", f"force that parts the bowls of {station.name}, by width")
        put(f"{name}_pressure", 1e-5 * _one(flow.pressure), "bar", f"highest pressure in {station.name}")


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])


def _word(name: str) -> str:
    """A station's name as part of the name of an outcome."""
    return "".join(c if c.isalnum() else "_" for c in name.lower()).strip("_")


def fields(process: LineProcess, travel: Travel, facts: Facts) -> tuple[Field, ...]:
    """Stations with their ends and heats, temperatures along the line, traces of events."""
    history = travel.history
    metres, seconds = station_ends(process)
    names = [s.name for s in process.case.stations]
    axis = Axis("station", "1", names, "station of the line")
    powers = heats(process, facts)
    unit = "kW/m" if per_width(process) else "kW"
    spoken = words_of(process)
    nothing = np.full(len(names), np.nan)
    columns = {place: nothing.copy() for place in ("face", "middle", "back", "mean")}
    for number, station in enumerate(process.case.stations):
        span = process.last_span(number)
        if span >= 0 and station.kind not in ("coat", "preheat"):
            end = at_end(process, facts, facts.stations[span])
            for place, column in columns.items():
                column[number] = float(getattr(end, place)[0]) - ZERO
    found = [
        Field("line/end", (axis,), "m", metres, "where each station ends"),
        Field("line/time", (axis,), "s", seconds, "when each station ends"),
        *(
            Field(f"line/{place}", (axis,), "degC", column, f"{spoken.get(place, place)} at the end of each station")
            for place, column in columns.items()
        ),
        Field(
            "line/heat", (axis,), unit, np.array([1e-3 * powers[i].given if i in powers else 0.0 for i in range(len(names))]),
            "heat that each station gives",
        ),
    ]  # fmt: skip
    rows = track(process, history, facts)
    along = Axis("row", "s", rows.time, "time from the beginning of the line")
    found.append(Field("track/distance", (along,), "m", rows.distance, "distance from the beginning of the line"))
    for place in ("face", "middle", "back", "mean"):
        words = f"{spoken.get(place, place)} along the line"
        found.append(Field(f"track/{place}", (along,), "degC", getattr(rows, place) - ZERO, words))
    freezes = product_freezes_at(process)
    if freezes is not None and breadth(process):
        at = Axis("layer", "1", [process.product_layers[-1]], "outermost layer")
        found.append(Field("freezing/temperature", (at,), "degC", np.array([float(np.ravel(freezes)[0]) - ZERO]),
                           "temperature below which it is solid"))  # fmt: skip
    for n, event in enumerate(process.happened(facts)):
        for i, trace in enumerate(event.traces):
            clock = Axis(
                "time", "s", trace.time, "time since it stands" if event.kind == "stop" else "time since it happened"
            )
            group = f"event_{n + 1}_{i + 1}"
            found.append(Field(f"{group}/value", (clock,), trace.unit, trace.values, f"{event.name}: {trace.name}"))
            if trace.bound is not None:
                flat = np.full(len(trace.time), trace.bound)
                found.append(Field(f"{group}/limit", (clock,), trace.unit, flat, f"limit of {trace.name}"))
    return tuple(found)
