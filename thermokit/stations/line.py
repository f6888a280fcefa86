"""Stations of a line as faces of the solver: rolls, nips, air, ovens, lamps, sizing die, baths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Radiation

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number


@dataclass(frozen=True)
class About:
    """What is about the line: air [K], its coefficient [W/m2/K], emissivity of face and back; the inside of what is round.

    inside : face of the bore of a pipe, an insulated one for a solid wire; None for what is flat; water : coefficient of a
    trough by its length and speed [W/m2/K].
    """

    air: Number
    coefficient: Number
    face: Number
    back: Number
    inside: Face | None = None
    water: Any = None

    def free(self, side: str, coefficient: Any = None, temperature: Any = None, walls: Any = None) -> Face:
        """A face in air that sees walls of the air's temperature."""
        if side == "back" and self.inside is not None:
            return self.inside
        air = self.air if temperature is None else temperature
        own = self.coefficient if coefficient is None else coefficient
        emissivity: Any = self.face if side == "face" else self.back
        seen = (Radiation(emissivity, air if walls is None else walls),) if np.any(np.asarray(emissivity) > 0.0) else ()
        return Face(exchange=(Exchange(own, air),), radiation=seen)


@dataclass(frozen=True)
class Stretch:
    """A part of a station: its share of the station's time, its faces; heat put into the layer under the outermost [W/m2]."""

    share: Any
    back: Face
    face: Face
    under: Any = 0.0


def stretches(station: Any, about: About, contact: Any) -> list[Stretch]:
    """The parts of a station in order; contact : conductance of a roll's contact at the line's speed [W/m2/K]."""
    kind = station.kind
    if kind in ("roll", "drum", "chill_roll"):
        touch = Face(exchange=(Exchange(contact, station.temperature),))
        free = {side: about.free(side, station.coefficient) for side in ("face", "back")}
        return [Stretch(1.0, **(free | {station.side: touch}))]
    if kind == "nip":
        return [
            Stretch(
                1.0,
                Face(exchange=(Exchange(station.contact, station.back),)),
                Face(exchange=(Exchange(station.contact, station.face),)),
            )
        ]
    if kind == "span":
        return [Stretch(1.0, *(about.free(s, station.coefficient, station.temperature) for s in ("back", "face")))]
    if kind == "air_knife":
        blown = {s: about.free(s, station.coefficient, station.temperature, about.air) for s in ("face", "back")}
        other = {s: about.free(s) for s in ("face", "back")}
        return [Stretch(1.0, **{s: (blown if station.side in (s, "both") else other)[s] for s in ("face", "back")})]
    if kind == "oven":
        return [Stretch(1.0, *(about.free(s, station.coefficient, station.temperature) for s in ("back", "face")))]
    if kind == "lamps":
        return _lamps(station, about)
    if kind == "die":
        return [Stretch(1.0, about.free("back"), Face(exchange=(Exchange(station.joint, station.temperature),)))]
    if kind == "bath":
        own = station.exchange if station.exchange is not None else about.water
        wet = Face(exchange=(Exchange(own, station.temperature),))
        return [Stretch(1.0, wet if about.inside is None else about.inside, wet)]
    raise ValueError(f"a {kind} has no length")


def _lamps(station: Any, about: About) -> list[Stretch]:
    """One part a row of lamps; their heat goes into the side they shine on, a share of it into the layer under that."""
    free = {s: about.free(s, station.coefficient, station.temperature) for s in ("face", "back")}
    whole = station.path
    found = []
    for zone in station.zones:
        taken = station.taken(zone)
        lit = replace(free[station.side], heating=_plain(taken * (1.0 - station.passes)))
        found.append(Stretch(zone.length / whole, **(free | {station.side: lit}), under=_plain(taken * station.passes)))
    return found


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value
