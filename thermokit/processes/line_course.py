"""What runs through a line as a course: a leg ends where a layer comes on, where it is drawn, or where it is preheated.

Plane: drawn to ``ratio`` times its speed a layer gets thinner by it, width as it was. Round: all radii by its square root, so
that the section stays similar to itself. One span for each station with a length, one for each row of lamps.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, LayerState
from thermokit.conduction.problem import DepthSource, Layer, Problem, Span
from thermokit.processes.media import typical
from thermokit.stations.line import stretches

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.course import Change, Memory
    from thermokit.conduction.problem import Array, Number
    from thermokit.processes.line import LineProcess


@dataclass(frozen=True)
class Piece:
    """A layer as the line has it: thickness [m] and speed ratio when it comes on, its start [K], contact outwards."""

    name: str
    medium: Any
    thickness: Any
    since: Any
    start: Any
    reactions: tuple[Any, ...] = ()
    contact: Any = None


@dataclass
class Leg:
    """A leg in the making: its layers from the back to the face, speed ratio, spans; the temperature that some of its layers
    are preheated to, and their names."""

    pieces: tuple[Piece, ...]
    ratio: Any
    preheat: Any = None
    warmed: tuple[str, ...] = ()
    spans: list[Span] = field(default_factory=list)


@dataclass(frozen=True)
class Preheat:
    """All that runs brought to a temperature, a ``Change`` of the course."""

    temperature: Number

    def __call__(
        self, memory: Memory, before: Problem, legs: tuple[Problem, ...]
    ) -> tuple[Memory, tuple[Problem, ...]]:
        """Every layer evenly at the temperature."""

        def warmed(state: LayerState) -> LayerState:
            return replace(state, temperature=np.zeros_like(state.temperature) + self.temperature)

        return {name: warmed(state) for name, state in memory.items()}, legs


def legs_of(process: LineProcess, edges: Mapping[str, Array]) -> list[Leg]:
    """The legs of the line, each with its spans."""
    legs: list[Leg] = []
    pieces = process.first_pieces()
    fresh: Any = None  # what a preheat that waits for the next span brings it to
    warmed: tuple[str, ...] = ()
    new = True
    for number, station in enumerate(process.case.stations):
        if station.kind == "preheat":
            fresh, warmed, new = station.temperature, tuple(piece.name for piece in pieces), True
        elif station.kind == "coat":
            pieces, new = process.coated(pieces, station, process.ratios[number]), True
        if not process.has_length(number):
            continue
        ratio = process.ratios[number]
        # in a batch over the length of one station, all before it are then alike, and solved once for all cases
        varies = bool(legs) and np.ndim(station.duration) > 0 and not any(np.ndim(s.duration) for s in legs[-1].spans)
        if new or varies or not legs or not _same(legs[-1].ratio, ratio):
            legs.append(Leg(pieces, ratio, fresh, warmed))
            fresh, new = None, False
        legs[-1].spans += spans_of(process, number, legs[-1], edges)
    return legs


def line_course(process: LineProcess, edges: Mapping[str, Array]) -> Course:
    """The course of what runs; edges by name of the layer."""
    legs = legs_of(process, edges)
    problems = []
    changes: dict[int, Change] = {}
    for i, leg in enumerate(legs):
        if leg.preheat is not None and i > 0:
            changes[i] = Preheat(leg.preheat)
        layers = tuple(_layer(process, piece, leg, edges, i == 0) for piece in leg.pieces)
        layers = (*layers[:-1], replace(layers[-1], contact=None))
        inner = process.inner_radius / np.sqrt(leg.ratio) if process.shape == "cylinder" else 0.0
        problems.append(Problem(layers, tuple(leg.spans), process.shape, _plain(inner)))
    first = legs[0].ratio
    return Course(tuple(problems), process.shown(), tuple(_plain(leg.ratio / first) for leg in legs), changes)


def _layer(process: LineProcess, piece: Piece, leg: Leg, edges: Mapping[str, Array], first: bool) -> Layer:
    start = leg.preheat if first and leg.preheat is not None and piece.name in leg.warmed else piece.start
    return Layer(
        piece.medium, thickness_in(process, piece, leg.ratio), edges[piece.name], start, contact=piece.contact,
        reactions=piece.reactions, name=piece.name, counts=piece.name in process.product_layers,
    )  # fmt: skip


def thickness_in(process: LineProcess, piece: Piece, ratio: Any) -> Any:
    """Thickness of a layer where the line runs at a ratio of its first speed [m]."""
    drawn = np.asarray(ratio) / piece.since
    return _plain(piece.thickness / (np.sqrt(drawn) if process.shape == "cylinder" else drawn))


def spans_of(process: LineProcess, number: int, leg: Leg, edges: Mapping[str, Array]) -> list[Span]:
    """The spans of a station."""
    station = process.station(number)
    about = process.about(leg.pieces, number)
    found = []
    for part in stretches(station, about, process.contact(number)):
        duration = _plain(station.duration * part.share)
        sources = tuple(_sources(process, number, leg, edges, part.under, duration))
        found.append(Span(duration, part.back, part.face, sources, name=station.name))
    return found


def _sources(
    process: LineProcess, number: int, leg: Leg, edges: Mapping[str, Array], under: Any, duration: Any
) -> list[DepthSource]:
    """Heat put in depth: friction of a nip evenly into all of it, what of the lamps passes the outermost layer."""
    found = []
    station, friction = process.case.stations[number], process.friction(number)
    if np.any(np.asarray(friction) > 0.0):
        rows = []
        for piece in leg.pieces:
            heat = typical(piece.medium.density) * typical(piece.medium.specific_heat)
            rows += [heat * friction / duration] * (len(edges[piece.name]) - 1)
        found.append(DepthSource(_stacked(rows)))
    if np.any(np.asarray(under) > 0.0):
        order = leg.pieces if station.side == "back" else leg.pieces[::-1]
        taking = order[1 if len(order) > 1 else 0]
        rows = []
        for piece in leg.pieces:
            into = under / thickness_in(process, piece, leg.ratio) if piece is taking else 0.0 * np.asarray(under)
            rows += [into] * (len(edges[piece.name]) - 1)
        found.append(DepthSource(_stacked(rows)))
    return found


def _stacked(rows: list[Any]) -> Array:
    width = max(np.size(row) for row in rows)
    if width == 1:
        return np.array([float(np.ravel(row)[0]) for row in rows])
    return np.stack([np.broadcast_to(np.asarray(row, float), (width,)) for row in rows])


def _same(one: Any, other: Any) -> bool:
    return bool(np.array_equal(np.asarray(one), np.asarray(other)))


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value
