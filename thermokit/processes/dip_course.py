"""What a dipped former passes through, as a course: a leg ends where the former goes into paste and where it comes out.

Layers from the inside outwards: those of the former, fabric, a coat for each dip that is over, and in a dip the paste. One
span for each station.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.dip_checks import FABRIC
from thermokit.conduction.course import Course
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Span
from thermokit.stations.dip import Soaking, Withdrawal
from thermokit.stations.oven import air_face, coefficient_by_speed, level

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.problem import Array
    from thermokit.processes.dip import DipProcess

PLANNED_COAT = 1e-3  # m, thickness of a coat until it is known


@dataclass
class _Leg:
    """A leg in the making: coats that are on, number of the dip it is in (None outside), spans."""

    coats: int
    dip: int | None
    spans: list[Span] = field(default_factory=list)


def coat_name(dip: int) -> str:
    """Name of the coat that a dip leaves, dips counted from 0."""
    return f"coat_{dip + 1}"


def paste_name(dip: int) -> str:
    """Name of the paste in a dip."""
    return f"paste_{dip + 1}"


def dip_course(process: DipProcess, edges: Mapping[str, Array]) -> Course:
    """The course of the former; edges by name of the layer."""
    legs: list[_Leg] = []
    coats = 0
    surface: Any = process.case.former.start  # about what the face has when a station begins
    for number, station in enumerate(process.case.stations):
        if station.kind == "dip":
            legs.append(_Leg(coats, coats, [_dip_span(process, number)]))
            surface = (surface + process.bath_temperature(number)) / 2.0
            coats += 1
            continue
        if not legs or legs[-1].dip is not None:
            legs.append(_Leg(coats, None))
        span, surface = _span(process, number, coats > 0, surface)
        legs[-1].spans.append(span)
    problems = tuple(_problem(process, leg, edges) for leg in legs)
    return Course(problems, process.shown(), changes=_changes(process, legs, edges))


def _changes(process: DipProcess, legs: list[_Leg], edges: Mapping[str, Array]) -> dict[int, Any]:
    changes: dict[int, Any] = {}
    for i, leg in enumerate(legs):
        before = legs[i - 1].dip if i > 0 else None
        if before is not None:
            coat = coat_name(before)
            changes[i] = Withdrawal(
                paste_name(before), coat, edges[coat], process.case.paste.stays, process.clinging(before)
            )
        if leg.dip == 0 and i > 0 and process.fabric_soaks:
            dry, wet, paste = process.fabric_dry, process.fabric_wet, process.paste_medium
            changes[i] = Soaking(FABRIC, dry, wet, paste, process.bath_temperature(process.dips[0]))
    return changes


def _problem(process: DipProcess, leg: _Leg, edges: Mapping[str, Array]) -> Problem:
    case = process.case
    wet = leg.coats > 0 or leg.dip is not None
    layers = [
        Layer(
            process.stuff.medium(entry.material), thickness, edges[entry.name], case.former.start,
            contact=entry.contact, name=entry.name, counts=False,
        )
        for entry, thickness in zip(case.former.layers, process.walls, strict=True)
    ]  # fmt: skip
    fabric = case.former.fabric
    if fabric is not None:
        if fabric.contact is not None:
            layers[-1] = replace(layers[-1], contact=fabric.contact)
        soaks = wet and process.fabric_soaks
        medium = process.fabric_wet if soaks else process.fabric_dry
        reactions = process.reactions() if soaks else ()
        layers.append(
            Layer(medium, fabric.thickness, edges[FABRIC], case.former.start, reactions=reactions, name=FABRIC)
        )
    for i in range(leg.coats):
        name = coat_name(i)
        layers.append(
            Layer(
                process.paste_medium, PLANNED_COAT, edges[name], case.paste.temperature, reactions=process.reactions(),
                name=name,
            )
        )  # fmt: skip
    if leg.dip is not None:
        name, number = paste_name(leg.dip), process.dips[leg.dip]
        layers.append(
            Layer(
                process.paste_medium, process.paste_depth(number), edges[name], process.bath_temperature(number),
                reactions=process.reactions(), name=name, counts=False,
            )
        )  # fmt: skip
    return Problem(tuple(layers), tuple(leg.spans), process.shape, process.inner_radius)


def _dip_span(process: DipProcess, number: int) -> Span:
    """Far from the former the paste keeps the temperature of the bath."""
    station = process.case.stations[number]
    outer = Face(temperature=process.bath_temperature(number))
    return Span(process.duration_at_place(number), outer=outer, name=station.name)


def _span(process: DipProcess, number: int, coated: bool, surface: Any) -> tuple[Span, Any]:
    """(the span of a station, about what the face has at its end [K])."""
    station: Any = process.case.stations[number]
    former = process.case.former
    emissivity = process.coat_emissivity if coated else former.emissivity
    inner = Face()
    view: Any = 1.0
    walls: Any = None
    if station.kind == "quench":
        return (
            Span(station.duration, inner, Face(exchange=(Exchange(station.coefficient, station.temperature),)),
                 name=station.name),
            level(station.temperature),
        )  # fmt: skip
    if station.kind == "oven":
        air, coefficient, speed, factor = (
            process.oven_air(number),
            station.coefficient,
            station.speed,
            station.turbulence,
        )
        view, walls = station.view, station.walls
        around = process.case.ovens[station.oven].temperature if station.oven is not None else level(air)
        typical = (surface + around) / 2.0
    else:
        air, coefficient, speed, factor = station.air.temperature, station.air.coefficient, station.air.speed, 1.0
        typical, around = surface, level(air)
    if coefficient is None:
        still = speed if speed is not None else 0.0
        found = coefficient_by_speed(
            process.shape, process.diameter, former.length, still, typical, around, station.turning
        )
        coefficient = found * factor
    if station.kind == "oven":
        coefficient = process.on_side(coefficient, station)
    outer = air_face(coefficient, air, emissivity, walls, view)
    if former.open_inside:
        hollow = process.shape == "plane" or bool(np.any(np.asarray(process.inner_radius) > 0.0))
        # beside hollow formers on a rack a solid one keeps the entry, and takes nothing by it
        inner = air_face(coefficient if hollow else 0.0, air, former.emissivity, walls, 0.0)
    after = around if station.kind == "oven" else surface
    return Span(station.duration, inner, outer, name=station.name), after


def heights_of(case: Any) -> tuple[str, ...]:
    """Places along the dipped length that differ in their time in the paste."""
    speeds = [s for station in case.stations if station.kind == "dip" for s in (station.withdrawal, station.immersion)]
    return ("top", "bottom") if any(s is not None for s in speeds) else ()


def sides_of(case: Any) -> tuple[str, ...]:
    """Places round a former that stands still in uneven air."""
    uneven = any(
        station.kind == "oven" and np.any(np.asarray(station.uneven) > 0.0) and not np.any(np.asarray(station.turning))
        for station in case.stations
    )
    return ("windward", "lee") if uneven else ()
