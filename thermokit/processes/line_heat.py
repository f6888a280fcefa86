"""Heat along a line: what each station puts into what runs, mass an hour, heat for each kilogram.

What runs carries its change of heat content: power = (content behind less content before a station, by area or length) x
speed, by metre of width for what is flat. So duties and heat content agree whatever the mesh.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line_stations import ROLLS
from thermokit.conduction.enthalpy import melted_share, sensible_enthalpy
from thermokit.conduction.problem import STEFAN_BOLTZMANN

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Layer, Problem, Span
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

CRYSTALLINE = "crystalline_share"


@dataclass(frozen=True)
class Heat:
    """Heat of a station, into what runs: net, and what the station itself gives (a roll: what the free face loses added) [W],
    by metre of width for what is flat; reactions : heat that they release in it [W]."""

    net: float
    given: float
    reactions: float


def per_width(process: LineProcess) -> bool:
    """Whether powers are by metre of width."""
    return process.shape == "plane" and process.line.width is None


def breadth(process: LineProcess) -> float:
    """What powers by metre of width are multiplied by: the width where it is known, else 1."""
    return (
        float(np.ravel(process.line.width)[0]) if process.shape == "plane" and process.line.width is not None else 1.0
    )


def content(layer: Layer, temperature: Array, states: dict[str, Array]) -> Array:
    """Heat content of the cells of a layer [J/kg]: sensible, and latent where it is molten."""
    medium: Any = layer.medium
    found = sensible_enthalpy(temperature, medium.specific_heat)
    if medium.melting is None:
        return np.asarray(found)
    share = states.get(CRYSTALLINE)
    if medium.crystallising is not None and share is not None and np.all(np.isfinite(share)):
        return np.asarray(found + medium.melting.heat * (1.0 - share))
    return np.asarray(found + medium.melting.heat * melted_share(temperature, medium.melting))


def masses(problem: Problem) -> dict[str, Array]:
    """Mass of each cell by layer: of 1 m2 of what is flat, of 1 m of what is round [kg]."""
    found, radius = {}, float(np.ravel(problem.inner_radius)[0]) if problem.shape != "plane" else 0.0
    for layer in problem.layers:
        edges = radius + np.asarray(layer.edges) * float(np.ravel(layer.thickness)[0])
        volume = np.diff(edges) if problem.shape == "plane" else np.pi * np.diff(edges**2)
        found[layer.name] = volume * float(np.ravel(layer.medium.density)[0])
        radius = float(edges[-1])
    return found


def mass_flow(process: LineProcess, facts: Facts) -> float:
    """Mass of the product that leaves the line [kg/s], of a wire with its conductor; by metre of width without a width."""
    assert facts.travel is not None
    leg = facts.travel.legs[-1]
    speed = process.pace * _last_ratio(process)
    return sum(float(m.sum()) for m in masses(leg).values()) * speed * breadth(process)


def covering_flow(process: LineProcess, facts: Facts) -> float:
    """The same without the conductor of a wire."""
    assert facts.travel is not None
    leg = facts.travel.legs[-1]
    speed = process.pace * _last_ratio(process)
    own = masses(leg)
    return sum(float(own[name].sum()) for name in process.product_layers) * speed * breadth(process)


def _last_ratio(process: LineProcess) -> float:
    return float(np.ravel(process.ratios[-1])[0])


def heats(process: LineProcess, facts: Facts) -> dict[int, Heat]:
    """Heat of each station with a length, by its number; and of preheats."""
    travel = facts.travel
    assert travel is not None
    history = travel.history
    found: dict[int, Heat] = {}
    numbers = [i for i in range(len(process.case.stations)) if process.has_length(i)]
    owner = [i for i in numbers for _ in getattr(process.case.stations[i], "zones", (None,))]
    span, speed = 0, process.pace
    for leg in travel.legs:
        own = masses(leg)
        before = _contents(leg, {x.name: _start(x) for x in leg.layers}, {})
        grown = {(x.name, r.state): np.zeros(x.cells) + np.asarray(r.start) for x in leg.layers for r in x.reactions}
        for own_span in leg.spans:
            number = owner[span]
            ratio = float(np.ravel(process.ratios[number])[0])
            temperature = {x.name: history.ends[span].temperature[process.cells(x.name)] for x in leg.layers}
            states = {
                x.name: {name: v[process.cells(x.name)] for name, v in history.ends[span].states.items()}
                for x in leg.layers
            }
            after = _contents(leg, temperature, states)
            change = sum(float(((after[name] - before[name]) * own[name]).sum()) for name in own)
            released = 0.0
            for layer in leg.layers:
                for reaction in layer.reactions:
                    now = states[layer.name][reaction.state]
                    grew = now - grown[layer.name, reaction.state]
                    released += float((own[layer.name] * grew).sum()) * float(np.ravel(reaction.heat)[0])
                    grown[layer.name, reaction.state] = now
            flow = speed * ratio * breadth(process)
            net = (change - released) * flow
            lost = _lost(process, history, number, span, own_span) * flow
            old = found.get(number, Heat(0.0, 0.0, 0.0))
            found[number] = Heat(old.net + net, old.given + net + lost, old.reactions + released * flow)
            before, span = after, span + 1
    return found | _preheats(process, facts)


def _preheats(process: LineProcess, facts: Facts) -> dict[int, Heat]:
    """What preheats put in: from the temperature before them to their own."""
    travel = facts.travel
    assert travel is not None
    found = {}
    leg = travel.legs[0]
    for number, station in enumerate(process.case.stations):
        if station.kind != "preheat":
            continue
        pieces = {piece.name: piece for piece in process.first_pieces()}
        layers = [layer for layer in leg.layers if layer.name in pieces]
        own, span = masses(leg), process.last_span(number)
        change = 0.0
        for layer in layers:
            cells = process.cells(layer.name)
            first = np.zeros(layer.cells) + float(np.ravel(pieces[layer.name].start)[0])
            before = first if span < 0 else travel.history.ends[span].temperature[cells]
            goal = np.zeros(layer.cells) + float(np.ravel(station.temperature)[0])
            change += float(((content(layer, goal, {}) - content(layer, before, {})) * own[layer.name]).sum())
        flow = process.pace * breadth(process)
        found[number] = Heat(change * flow, change * flow, 0.0)
    return found


def _start(layer: Layer) -> Array:
    return np.asarray(np.zeros(layer.cells) + np.ravel(np.asarray(layer.start, float)))


def _contents(leg: Problem, temperature: dict[str, Array], states: dict[str, Any]) -> dict[str, Array]:
    found = {}
    for layer in leg.layers:
        own = states.get(layer.name, {})
        if not own and layer.crystalline_start is not None:
            own = {CRYSTALLINE: np.zeros(layer.cells) + np.ravel(np.asarray(layer.crystalline_start, float))}
        found[layer.name] = content(layer, temperature[layer.name], own)
    return found


def _lost(process: LineProcess, history: History, number: int, span: int, of: Span) -> float:
    """Heat that the free face loses while the other lies on a roll, by area [J/m2], by straight lines between the rows."""
    station = process.case.stations[number]
    if station.kind not in ROLLS:
        return 0.0
    side = "back" if station.side == "face" else "face"
    face = of.outer if side == "face" else of.inner
    rows = history.span == span
    t = (history.outer_face if side == "face" else history.inner_face)[rows]
    time = history.time[rows]
    if len(t) == 0:
        return 0.0
    begin = history.ends[span - 1].time if span else 0.0
    if span and time[0] > begin:
        ended = history.ends[span - 1]
        t = np.append(ended.outer_face if side == "face" else ended.inner_face, t)
        time = np.append(begin, time)
    flux = np.zeros_like(t)
    for exchange in face.exchange:
        flux = flux + float(np.ravel(exchange.coefficient)[0]) * (t - float(np.ravel(exchange.temperature)[0]))  # type: ignore[arg-type]
    for seen in face.radiation:
        around = float(np.ravel(seen.temperature)[0])  # type: ignore[arg-type]
        flux = flux + float(np.ravel(seen.factor)[0]) * STEFAN_BOLTZMANN * (t**4 - around**4)
    return float(np.trapezoid(flux, time))
