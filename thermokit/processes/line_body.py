"""What runs through a line, in layers, and what each station is to it: thickness, speed, contact, air."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line import draws
from thermokit.case.line_stations import PLACES, ROLLS
from thermokit.conduction.problem import Exchange, Face, Medium, Reaction
from thermokit.exchange.baths import coefficient_in_air, coefficient_in_water
from thermokit.exchange.nip_heat import Nip
from thermokit.exchange.roll_contact import conductance_at_speed
from thermokit.kinetics.held import Held
from thermokit.processes.line_course import Piece
from thermokit.processes.line_nip import flow_in_nip, friction_in_nip
from thermokit.processes.media import Stuff, typical
from thermokit.stations.line import About

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.line import LineCase
    from thermokit.conduction.problem import Array, Shape

HELD = "held_share"
CONDUCTOR = "conductor"
SKIN = 15.0  # K, about what a face lies above its surroundings, for film coefficients
USUAL_WIDTH = 1.0  # m
USUAL_CONTACT = 400.0  # W/m2/K, of a web held on a roll by its tension; from memory
EMISSIVITY = 0.9  # of a face where neither case nor material gives one; from memory


class LineBody:
    """What runs through a line."""

    def __init__(self, case: LineCase, stuff: Stuff | None = None):
        self.case = case
        self.line = case.line
        self.stuff = stuff if stuff is not None else Stuff(case.materials, case.kinetics)
        #: speed over that where the line begins, by station
        self.ratios: list[Any] = draws(self._sized(), case.stations)
        self._media: dict[str, Medium] = {}
        self._nips: dict[int, Nip | None] = {}
        #: temperature of the face of each roll that is heated or cooled from inside, by its number
        self.faces: dict[int, Any] = {}
        self.edges: Sequence[Array] = ()
        self._cells: dict[str, slice] = {}

    # -- what runs -------------------------------------------------------------------------------------------------

    @property
    def shape(self) -> Shape:
        """Shape that is solved."""
        return self.line.shape  # type: ignore[return-value]

    @property
    def wire(self) -> bool:
        """Whether it is a covered wire."""
        return self.line.product == "wire"

    @property
    def inner_radius(self) -> Any:
        """Radius of the bore where the line begins [m]; 0 for a wire and what is flat."""
        if self.line.product != "pipe":
            return 0.0
        assert self.line.diameter is not None
        return self.line.diameter / 2.0 - sum(self.thickness(layer) for layer in self.line.layers)

    def medium(self, layer: Any) -> Medium:
        """What a layer is made of; a mass with a thickness sets its density."""
        if layer.name not in self._media:
            own = self.stuff.medium(layer.material)
            if layer.mass is not None and layer.thickness is not None:
                own = replace(own, density=layer.mass / layer.thickness)
            self._media[layer.name] = own
        return self._media[layer.name]

    def thickness(self, layer: Any) -> Any:
        """Thickness of a layer as it comes on [m]."""
        if layer.thickness is not None:
            return layer.thickness
        return layer.mass / self.stuff.medium(layer.material).density

    def _sized(self) -> Any:
        """The line with the thickness of every layer, for gauges."""
        layers = tuple(replace(layer, thickness=self.thickness(layer)) for layer in self.line.layers)
        return replace(self.line, layers=layers)

    def densities(self, material: str, hot: Any) -> tuple[Any, Any] | None:
        """(density hot, density at 20 degC) [kg/m3]; None for a material of the case's own, which has one density only.

        hot : temperature [K], a number or an array; outside the library's table its end is held.
        """
        record, mixed = self.stuff.material(material), self.stuff.compound(material)
        if mixed is not None:
            return _plain(np.reshape(mixed.density_at(np.ravel(hot)), np.shape(hot))), mixed.density
        return None if record is None else (_plain(record.density.at(hot)), record.reference_density)

    def coats(self) -> list[tuple[str, Any]]:
        """(side, layer) of what coat stations put on, in order."""
        return [(s.side, layer) for s in self.case.stations if s.kind == "coat" for layer in s.layers]

    def shown(self) -> tuple[str, ...]:
        """Names of the layers of the finished body, from the back to the face."""
        back = [layer.name for side, layer in self.coats() if side == "back"]
        face = [layer.name for side, layer in self.coats() if side == "face"]
        conductor = [CONDUCTOR] if self.wire else []
        return (*reversed(back), *conductor, *(layer.name for layer in self.line.layers), *face)

    @property
    def product_layers(self) -> tuple[str, ...]:
        """Layers that are judged: all but the conductor of a wire."""
        return tuple(name for name in self.shown() if name != CONDUCTOR)

    def held_layers(self) -> tuple[str, ...]:
        """Layers that ``limits.held`` looks at."""
        held = self.case.limits.held
        if held is None:
            return ()
        if held.layer is not None:
            return (held.layer,)
        return tuple(layer.name for _, layer in self.coats()) or self.product_layers

    def reactions(self, layer: Any) -> tuple[Reaction, ...]:
        """What goes on in a layer, and the clock of ``limits.held``."""
        found = self.stuff.reactions(layer.kinetics, layer.material)
        held = self.case.limits.held
        if held is None or layer.name not in self.held_layers():
            return found
        return (*found, Reaction(HELD, Held(held.temperature, held.time)))

    def states(self) -> frozenset[str]:
        """States that some layer grows."""
        layers = [*self.line.layers, *(layer for _, layer in self.coats())]
        return frozenset(reaction.state for layer in layers for reaction in self.reactions(layer))

    def sets_of(self, state: str) -> list[str]:
        """Names of the sets that grow a state."""
        layers = [*self.line.layers, *(layer for _, layer in self.coats())]
        names = dict.fromkeys(name for layer in layers for name in layer.kinetics)
        return [name for name in names if self.stuff.reactions((name,))[0].state == state]

    def first_pieces(self) -> tuple[Piece, ...]:
        """Layers that the line begins with."""
        pieces = [self._piece(layer, 1.0) for layer in self.line.layers]
        own = self.line.conductor
        if own is None:
            return tuple(pieces)
        start = own.start if own.start is not None else self.line.start
        rod = Piece(CONDUCTOR, self.stuff.medium(own.material), own.diameter / 2.0, 1.0, start, (), own.contact)
        return (rod, *pieces)

    def _piece(self, layer: Any, since: Any) -> Piece:
        start = layer.start if layer.start is not None else self.line.start
        return Piece(
            layer.name, self.medium(layer), self.thickness(layer), since, start, self.reactions(layer), layer.contact
        )

    def coated(self, pieces: tuple[Piece, ...], station: Any, ratio: Any) -> tuple[Piece, ...]:
        """The layers after a coat station."""
        for layer in station.layers:
            new = self._piece(layer, ratio)
            if station.side == "back":
                pieces = (new, *pieces)
            else:  # its contact is to what it is put on
                under = pieces[-1] if layer.contact is None else replace(pieces[-1], contact=layer.contact)
                pieces = (*pieces[:-1], under, replace(new, contact=None))
        return pieces

    def pieces_at(self, number: int) -> tuple[Piece, ...]:
        """The layers that are there in a station."""
        pieces = self.first_pieces()
        for i, station in enumerate(self.case.stations[: number + 1]):
            if station.kind == "coat":
                pieces = self.coated(pieces, station, self.ratios[i])
        return pieces

    # -- stations --------------------------------------------------------------------------------------------------

    def has_length(self, number: int) -> bool:
        """Whether a station takes time."""
        return self.case.stations[number].kind not in PLACES

    def last_span(self, number: int) -> int:
        """Number of the span at whose end a station ends; -1 before the first."""
        count = 0
        for i in range(number + 1):
            if self.has_length(i):
                count += len(getattr(self.case.stations[i], "zones", (None,)))
        return count - 1

    @property
    def pace(self) -> float:
        """Speed where the line begins, of the first case [m/s]."""
        speed: Any = self.line.speed
        return float(np.ravel(speed)[0])

    def speed(self, number: int) -> Any:
        """Speed in a station [m/s]."""
        return self.line.speed * self.ratios[number]

    def contact(self, number: int) -> Any:
        """Conductance of the contact of a roll with the web at the line's speed [W/m2/K]; 0 for other stations."""
        station = self.case.stations[number]
        if station.kind not in ROLLS:
            return 0.0
        rest = station.contact if station.contact is not None else USUAL_CONTACT
        if self.line.tension is None or self.line.width is None:
            return rest
        pull = self.line.tension / self.line.width
        found = conductance_at_speed(
            rest, station.diameter, self.speed(number), pull, station.temperature, station.kept, station.roughness
        )
        return float(found) if np.ndim(found) == 0 else found

    @property
    def inner(self) -> tuple[int, ...]:
        """Numbers of the rolls that are heated or cooled from inside."""
        return tuple(i for i, s in enumerate(self.case.stations) if s.kind in ROLLS and s.inside is not None)

    def station(self, number: int) -> Any:
        """A station, a roll with its face where what is inside leaves it."""
        own = self.case.stations[number]
        return own if number not in self.faces else replace(own, temperature=self.faces[number])

    def nip(self, number: int) -> Nip | None:
        """What the flow in a nip does, found once: :func:`thermokit.processes.line_nip.flow_in_nip`."""
        if number not in self._nips:
            self._nips[number] = flow_in_nip(self, number)
        return self._nips[number]

    def friction(self, number: int) -> Any:
        """Rise of the mean by friction in a nip [K]; 0 for other stations."""
        return friction_in_nip(self, number)

    def about(self, pieces: tuple[Piece, ...], number: int) -> About:
        """What is about the line in a station, where it has these layers."""
        air = self.line.air
        materials = {layer.name: layer.material for layer in self.line.layers}
        materials |= {layer.name: layer.material for _, layer in self.coats()}

        def emissivity(name: str) -> Any:
            if air.emissivity is not None:
                return air.emissivity
            record = self.stuff.material(materials[name]) if name in materials else None
            return getattr(record, "emissivity", None) or EMISSIVITY

        inside = None
        if self.wire:
            inside = Face()
        elif self.line.product == "pipe":
            bore = self.line.bore
            inside = Face(exchange=(Exchange(bore.exchange, bore.temperature),)) if np.any(bore.exchange) else Face()
        station = self.case.stations[number]
        water: Any = None
        if station.kind == "bath" and station.exchange is None:
            water = _plain(
                coefficient_in_water(*self._running(pieces, number), station.temperature + SKIN, station.temperature)
            )
        coefficient: Any = air.coefficient
        if coefficient is None:
            surface = (np.asarray(pieces[-1].start) + air.temperature) / 2.0 + SKIN
            coefficient = _plain(coefficient_in_air(*self._running(pieces, number), surface, air.temperature))
        return About(
            air.temperature, coefficient, emissivity(pieces[-1].name), emissivity(pieces[0].name), inside, water
        )

    def _running(self, pieces: tuple[Piece, ...], number: int) -> tuple[str, Any, Any, Any]:
        """(shape, size [m], length [m], speed [m/s]) of what runs in a station, for film coefficients."""
        size: Any = USUAL_WIDTH if self.line.width is None else self.line.width
        if self.shape == "cylinder":
            size = 2.0 * (self.inner_radius + sum(piece.thickness for piece in pieces))
        return self.shape, size, self.case.stations[number].path, self.speed(number)

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of every layer of the finished body."""
        rows = {layer.name: layer for layer in self.line.layers} | {layer.name: layer for _, layer in self.coats()}
        found: list[tuple[str, Any, Any, int | None]] = []
        for name in self.shown():
            if name == CONDUCTOR:
                own = self.line.conductor
                assert own is not None
                found.append((name, own.diameter / 2.0, self.stuff.medium(own.material), None))
            else:
                found.append((name, self.thickness(rows[name]), self.medium(rows[name]), None))
        return found

    def cells(self, *names: str) -> Array:
        """Numbers of the cells of some layers."""
        return np.concatenate([np.arange(self._cells[name].start, self._cells[name].stop) for name in names])

    def weights(self, edges: Array) -> Array:
        """Heat capacity of each cell of the product by area or length, (cells, 1 or cases); the conductor's are 0.

        edges : of the cells, (cells + 1, 1 or cases) [m] from the back, with the thickness that each layer had first.
        """
        radius = edges + (np.asarray(self.inner_radius) if self.shape == "cylinder" else 0.0)
        volume = np.diff(radius ** (2 if self.shape == "cylinder" else 1), axis=0)
        found = np.zeros_like(volume)
        since = self._since()
        for name, _, medium, _ in self.layers():
            if name in self.product_layers:
                cells = self.cells(name)
                found[cells] = volume[cells] * typical(medium.density) * typical(medium.specific_heat) * since[name]
        return found

    def _since(self) -> dict[str, float]:
        """Speed ratio at which each layer comes on (of the first case)."""
        found = dict.fromkeys(self.shown(), 1.0)
        for number, station in enumerate(self.case.stations):
            if station.kind == "coat":
                found |= {layer.name: float(np.ravel(self.ratios[number])[0]) for layer in station.layers}
        return found


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value
