"""What a charge goes through, as a course: legs change where halves with bodies come and go, or the charge changes.

One span for each station, in order. Legs hold [upper half] charge layers [lower half], as far as the halves have bodies and
the charge touches them; a half that it does not touch keeps the state in which it was left.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.charge_checks import HALVES, kinetics_of
from thermokit.conduction.course import Course
from thermokit.conduction.problem import Layer, Problem, Reaction, Span
from thermokit.kinetics.pvc import HeatDose
from thermokit.kinetics.scaled import Scaled
from thermokit.stations.press import (
    between,
    free_face,
    from_station,
    half_layer,
    loose_medium,
    platen_face,
    pressed_face,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.case.charge import ChargeCase
    from thermokit.conduction.problem import Array, Face, Medium
    from thermokit.processes.charge import ChargeProcess

CURE = "cure_degree"
DOSE = "heat_dose"
#: degree for which a station's properties are taken, where the charge has cured ones
DEGREE_OF = {"load": 0.0, "close": 0.0, "breathe": 0.0, "cure": 0.5, "open": 1.0, "cool": 1.0, "post_bake": 1.0}


@dataclass(frozen=True)
class Part:
    """A layer of the charge as it is solved: thickness as pressed [m], start [K], kinetics by name, heat not yet scaled."""

    name: str
    material: str
    thickness: Any
    start: Any
    kinetics: tuple[str, ...]
    cured: Any
    contact: Any

    @property
    def reacts(self) -> bool:
        """Whether anything happens in it."""
        return bool(self.kinetics)


def parts_of(case: ChargeCase, density: Any) -> tuple[Part, ...]:
    """The layers of the charge from the upper face downwards; density : of a material by name [kg/m3]."""
    charge = case.charge
    if not charge.layers:
        assert charge.material is not None
        thickness: Any = charge.thickness
        if thickness is None:
            mass: Any = charge.mass
            thickness = mass / (1.0 + charge.flash) / (density(charge.material) * charge.area)
        own = Part("charge", charge.material, thickness, charge.start, kinetics_of(case, charge), charge.cured, None)
        return (own,)
    found = []
    for layer in charge.layers:
        thickness = layer.thickness
        if thickness is None:
            thickness = layer.mass / (density(layer.material) * charge.area)
        start = layer.start if layer.start is not None else charge.start
        found.append(
            Part(layer.name, layer.material, thickness, start, kinetics_of(case, layer), layer.cured, layer.contact)
        )
    return tuple(found)


@dataclass
class _Leg:
    """A leg in the making: contacts of the halves with bodies, state of the charge, spans so far."""

    contacts: dict[str, Any]
    degree: float
    loose: bool
    spans: list[Span] = field(default_factory=list)

    def same(self, other: _Leg) -> bool:
        """Whether a station like this goes on in this leg."""
        return (
            list(self.contacts) == list(other.contacts)
            and all(np.array_equal(self.contacts[side], other.contacts[side]) for side in self.contacts)
            and (self.degree, self.loose) == (other.degree, other.loose)
        )


def charge_course(process: ChargeProcess, edges: Mapping[str, Array]) -> Course:
    """The course of the charge; edges by name of the layer."""
    case = process.case
    legs: list[_Leg] = []
    begun: Any = 0.0
    changes = any(part.cured is not None for part in process.parts)
    for station in case.stations:
        leg = _Leg(
            contacts={side: getattr(station, side).contact for side in _on_bodies(case, station)},
            degree=DEGREE_OF[station.kind] if changes else 0.0,
            loose=station.kind == "load" and case.charge.loose is not None,
        )
        if legs and legs[-1].same(leg):
            leg = legs[-1]
        else:
            legs.append(leg)
        upper, lower = (_face(process, station, side, leg, begun) for side in ("upper", "lower"))
        leg.spans.append(Span(station.duration, upper, lower, name=station.name))
        begun = begun + station.duration
    with_bodies = any(leg.contacts for leg in legs)
    names = tuple(part.name for part in process.parts) if with_bodies else ()
    return Course(tuple(_problem(process, leg, edges) for leg in legs), names)


def _on_bodies(case: ChargeCase, station: Any) -> tuple[str, ...]:
    """Sides that touch a half of the mould with a body."""
    if station.kind in ("cool", "post_bake"):
        return ()
    return tuple(side for side in station.touches if getattr(case.mould, side).has_body)


def _face(process: ChargeProcess, station: Any, side: str, leg: _Leg, begun: Any) -> Face:
    """The outermost face on one side in a station: of the charge, or of the half behind it."""
    case = process.case
    cover = case.charge.loose.cover if leg.loose and case.charge.loose is not None else 1.0
    if side not in station.touches:
        emissivity = station.emissivity if station.emissivity is not None else process.emissivity(side)
        return free_face(station.air, emissivity, cover)
    entry = getattr(station, side)
    half = getattr(case.mould, side)
    if side in leg.contacts:
        return platen_face(half, entry.temperature, begun)
    temperature = entry.temperature if entry.temperature is not None else from_station(half.temperature, begun)
    return pressed_face(entry.contact, temperature, cover)


def _problem(process: ChargeProcess, leg: _Leg, edges: Mapping[str, Array]) -> Problem:
    case = process.case
    cover = case.charge.loose.cover if leg.loose and case.charge.loose is not None else 1.0
    layers = [
        Layer(
            _medium(process, part, leg), part.thickness, edges[part.name], part.start, contact=part.contact,
            reactions=reactions_of(process, part), name=part.name,
        )
        for part in process.parts
    ]  # fmt: skip
    if "lower" in leg.contacts:
        layers[-1] = replace(layers[-1], contact=leg.contacts["lower"] * cover)
        layers.append(half_layer(HALVES["lower"], case.mould.lower, process.stuff, edges[HALVES["lower"]]))
    if "upper" in leg.contacts:
        upper = half_layer(HALVES["upper"], case.mould.upper, process.stuff, edges[HALVES["upper"]])
        layers.insert(0, replace(upper, contact=leg.contacts["upper"] * cover))
    return Problem(tuple(layers), tuple(leg.spans))


def _medium(process: ChargeProcess, part: Part, leg: _Leg) -> Medium:
    """What a layer is made of in a leg: loose, fresh, curing or cured."""
    medium = process.stuff.medium(part.material)
    if leg.loose:
        loose = process.case.charge.loose
        assert loose is not None
        known = loose.conductivity if loose.conductivity is not None else process.powder(part.material, "conductivity")
        return loose_medium(medium, known, loose.cover, part.thickness / loose.thickness)
    if part.cured is None or leg.degree == 0.0:
        return medium
    return replace(
        medium,
        conductivity=between(medium.conductivity, part.cured.conductivity, leg.degree),
        specific_heat=between(medium.specific_heat, part.cured.specific_heat, leg.degree),
    )


def reactions_of(process: ChargeProcess, part: Part) -> tuple[Reaction, ...]:
    """What happens in a layer: cure at the rate of this batch, and the heat dose where it is followed."""
    found = []
    for reaction in process.stuff.reactions(part.kinetics, part.material):
        if reaction.state != CURE:
            found.append(reaction)
            continue
        factor = process.case.charge.rate * process.rate_factor
        rate = reaction.rate if np.all(np.asarray(factor) == 1.0) else Scaled(reaction.rate, factor)
        found.append(replace(reaction, rate=rate, heat=reaction.heat * process.heat_factor))
    dose = process.case.charge.dose
    if dose is not None and part.reacts:
        found = [reaction for reaction in found if reaction.state != DOSE]
        found.append(Reaction(DOSE, HeatDose(dose.time, dose.energy, dose.reference)))
    return tuple(found)
