"""Sizes of what a line makes: once cold, as it leaves its die or last nip, and the openings that this wants.

Layers of a line are counted cold (mass by their density at 20 degC), so that what leaves the line is known; what is hot is
larger by the density there. A web held in length and width changes in thickness alone; a covering, held in length by its
conductor, in its section; a pipe somewhere between free and held in diameter by its sizing sleeve
(:mod:`thermokit.shaping.line_sizes`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.line_course import thickness_in
from thermokit.processes.line_judgement import at_end
from thermokit.processes.media import typical
from thermokit.shaping.line_sizes import (
    add_on,
    covered_diameter,
    die_gap_of_sheet,
    die_of_tube,
    hot_thickness,
    knife_gap,
    knife_wet,
    tube_draw_down,
    tube_section,
)

if TYPE_CHECKING:
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

DRAWN = (
    1.5  # sections die over melt, that a die is told for where the case has none; common practice 1.2 to 2, no source
)
ALIKE = 0.05  # of a stated mass or thickness, beyond which a knife's gap is said to disagree with it
LEVEL = "a level knife drags half its gap (Newtonian, no head of paste); a wedge or a head leaves more"
HELD_CHANGE = 2e-3  # change of volume below which nothing is told of it


def sizes(process: LineProcess, facts: Facts) -> dict[str, Any]:
    """The block: what it is once cold, what it is hot, which openings that wants; each a list of words."""
    if facts.travel is None:
        return {}
    found = {"pipe": _pipe, "wire": _wire}.get(process.line.product, _flat)(process, facts)
    return {name: words for name, words in found.items() if words}


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])


def _last(process: LineProcess) -> float:
    return _one(process.ratios[-1])


def _mean(process: LineProcess, facts: Facts, number: int) -> float:
    return _one(at_end(process, facts, facts.stations[process.last_span(number)]).mean)


def _start(process: LineProcess, layer: Any) -> float:
    return _one(layer.start if layer.start is not None else process.line.start)


def _flat(process: LineProcess, facts: Facts) -> dict[str, list[str]]:
    """Thickness and mass by area cold; the hot gauge behind the last nip or at the die; what knives leave."""
    pieces = process.pieces_at(len(process.case.stations) - 1)
    walls = [_one(thickness_in(process, piece, _last(process))) for piece in pieces]
    mass = sum(w * typical(p.medium.density) for w, p in zip(walls, pieces, strict=True))
    cold = [f"{1e3 * sum(walls):.3g} mm thick at 20 degC, {1e3 * mass:.0f} g/m2"]
    if process.line.width is not None:
        width = _one(process.line.width)
        cold[0] += f", {width:.3g} m wide while the line holds it"
        shrunk = _free_width(process, facts)
        if shrunk is not None:
            cold.append(
                f"{width * shrunk:.3g} m wide at least, were it free to shrink behind its last hot station: what it is "
                "lies between"
            )
    return {"cold": cold, "hot": _hot_gauges(process, facts), "die": _slot(process), "coat": _knives(process)}


def _free_width(process: LineProcess, facts: Facts) -> float | None:
    """Width cold over hot of a web of one layer, free in all directions, from the mean at its hottest station end."""
    if len(process.line.layers) != 1 or process.coats():
        return None
    ends = [_mean(process, facts, i) for i in range(len(process.case.stations)) if process.has_length(i)]
    pair = process.densities(process.line.layers[0].material, max(ends))
    if pair is None or pair[1] / pair[0] - 1.0 < HELD_CHANGE:
        return None
    return float((pair[0] / pair[1]) ** (1.0 / 3.0))


def _hot_gauges(process: LineProcess, facts: Facts) -> list[str]:
    """Hot gauge behind every nip that rolls out, and the gap of its bowls."""
    if len(process.line.layers) != 1:
        return []
    found, material = [], process.line.layers[0].material
    for number, station in enumerate(process.case.stations):
        if getattr(station, "gauge", None) is None:
            continue
        hot = _mean(process, facts, number)
        pair, cold = process.densities(material, hot), _one(station.gauge)
        if pair is None:
            continue
        gauge = float(hot_thickness(cold, *pair, free=1))
        words = f"{station.name}: {1e3 * gauge:.3g} mm hot ({hot - 273.15:.0f} degC) is {1e3 * cold:.3g} mm cold"
        flow = process.nip(number)
        if flow is not None:
            words += f"; gap between the bowls {1e3 * _one(flow.gauge / flow.ratio):.3g} mm, under their load"
        found.append(words)
    return found


def _slot(process: LineProcess) -> list[str]:
    """The slot that a web of melt leaves: its draw-down, or the gap for the thickness where the line begins."""
    layers = process.line.layers
    if len(layers) != 1 or (process.line.opening is None and process.line.product == "cloth"):
        return []
    cold, hot = _one(process.thickness(layers[0])), _start(process, layers[0])
    pair = process.densities(layers[0].material, hot)
    if process.line.opening is None or process.line.opening.gap is None or pair is None:
        return []
    gap = _one(process.line.opening.gap)
    undrawn = float(die_gap_of_sheet(cold, 1.0, *pair, free=1))
    return [
        f"slot {1e3 * gap:.3g} mm, hot web {1e3 * undrawn:.3g} mm ({hot - 273.15:.0f} degC): draw-down {gap / undrawn:.2f} "
        "(swelling at the lips not counted)"
    ]


def _knives(process: LineProcess) -> list[str]:
    """What each knife leaves, or the gap that the add-on wants."""
    found = []
    for station in process.case.stations:
        if station.kind != "coat":
            continue
        for layer in station.layers:
            density, wall = _one(typical(process.medium(layer).density)), _one(process.thickness(layer))
            mass = density * wall
            told = f"{layer.name}: {1e3 * mass:.0f} g/m2, {1e3 * wall:.3g} mm as it comes on"
            if station.opening is None or station.opening.gap is None:
                found.append(f"{told}: gap of the knife about {1e3 * float(knife_gap(mass, density)):.3g} mm; {LEVEL}")
                continue
            gap = _one(station.opening.gap)
            own = float(add_on(knife_wet(gap), density))
            words = f"{told}; its knife at {1e3 * gap:.3g} mm leaves about {1e3 * own:.0f} g/m2; {LEVEL}"
            if abs(own / mass - 1.0) > ALIKE:
                words += f": the case has {100.0 * (mass / own - 1.0):+.0f} % of that"
            found.append(words)
    return found


def _pipe(process: LineProcess, facts: Facts) -> dict[str, list[str]]:
    """Diameter and wall cold; the bore of the sizing sleeve; die and pin."""
    last, hot = np.sqrt(_last(process)), _start(process, process.line.layers[0])
    wall = sum(_one(process.thickness(layer)) for layer in process.line.layers) / last
    assert process.line.diameter is not None
    outer = _one(process.line.diameter) / last
    cold = [f"{1e3 * outer:.4g} mm outside, {1e3 * wall:.3g} mm wall at 20 degC, if the sleeve is chosen for it"]
    material = process.line.layers[0].material
    pair = process.densities(material, hot)
    if len(process.line.layers) != 1 or pair is None:
        return {"cold": cold}
    told, die = [], []
    for number, station in enumerate(process.case.stations):
        if station.kind != "die":
            continue
        mean = _mean(process, facts, number)
        there = process.densities(material, mean)
        assert there is not None
        free = float(hot_thickness(outer, *there))
        told.append(
            f"{station.name}: bore of the sleeve {1e3 * outer:.4g} to {1e3 * free:.4g} mm (its mean is {mean - 273.15:.0f} degC "
            "there): the lower one if its shell holds the diameter from then on, the upper one if all of it shrinks freely; "
            "start in the middle and measure"
        )
    share = float(hot_thickness(1.0, *pair))
    section = float(tube_section(outer * share, wall * share))
    die += _annulus(process.line.opening, outer * share, (outer - 2.0 * wall) * share, section, outer, wall, pair, hot)
    return {"cold": cold, "sleeve": told, "die": die}


def _annulus(
    opening: Any,
    outer: float,
    inner: float,
    section: float,
    cold: float,
    wall: float,
    pair: tuple[float, float],
    hot: float,
) -> list[str]:
    """Draw-down and balance of a die that is there, or bore and pin for a usual draw-down; outer, inner : of the hot tube."""
    head = f"hot melt ({hot - 273.15:.0f} degC) has {1e6 * section:.3g} mm2"
    if opening is None:
        bore, pin = (float(x) for x in die_of_tube(cold, wall, DRAWN, 1.0, *pair))
        return [
            f"{head}; for a draw-down of {DRAWN:g} (common practice, no source) drawn alike outside and inside: bore "
            f"{1e3 * bore:.3g} mm, pin {1e3 * pin:.3g} mm; swelling at the lips not counted"
        ]
    down, balance = (float(x) for x in tube_draw_down(opening.bore, opening.pin, outer, inner))
    words = (
        f"{head}: bore {1e3 * _one(opening.bore):.3g} mm and pin {1e3 * _one(opening.pin):.3g} mm mean a draw-down of "
    )
    words += f"{down:.2f}, balance {balance:.2f}"
    if down < 1.0:
        words += "; below 1 the melt would have to swell to its size: a larger die"
    return [words]


def _wire(process: LineProcess, facts: Facts) -> dict[str, list[str]]:
    """Covered diameter cold and hot; die and pin of the crosshead."""
    conductor = process.line.conductor
    assert conductor is not None
    last = _last(process)
    thin = np.sqrt(last)
    layers = [*process.line.layers, *(layer for _, layer in process.coats())]
    walls = [_one(process.thickness(layer)) for layer in layers]
    metal = _one(conductor.diameter) / thin
    outer = (_one(conductor.diameter) + 2.0 * sum(walls)) / thin
    cold = [f"{1e3 * outer:.4g} mm over {1e3 * metal:.4g} mm of conductor at 20 degC, held in length by it"]
    coats = process.coats()
    if len(layers) != 1 or len(coats) != 1:
        return {"cold": cold}
    hot = _start(process, layers[0])
    pair = process.densities(layers[0].material, hot)
    if pair is None:
        return {"cold": cold}
    output = float(np.pi / 4.0 * (outer**2 - metal**2)) * pair[1]  # kg/m
    melt = float(covered_diameter(metal, output, 1.0, pair[0]))
    told = [f"{1e3 * melt:.4g} mm where it leaves the crosshead ({hot - 273.15:.0f} degC): the hot gauge reads that"]
    opening = next(s.opening for s in process.case.stations if s.kind == "coat")
    section = float(np.pi / 4.0 * (melt**2 - metal**2))
    if opening is None:
        die = [
            f"die that presses the covering on: bore about {1e3 * melt:.3g} mm, tip just over {1e3 * metal:.3g} mm; of a die that "
            f"draws a tube on, section = draw-down x {1e6 * section:.3g} mm2"
        ]
    else:
        die = _annulus(opening, melt, metal, section, outer, 0.0, pair, hot)
    return {"cold": cold, "hot": told, "die": die}
