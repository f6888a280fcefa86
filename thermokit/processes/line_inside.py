"""Rolls that are heated or cooled from inside: where the duty of the web leaves their faces.

In the mean over a turn, by area of the face (:mod:`thermokit.exchange.roll_balance`)::

    face = medium - fall/2 - duty/(pi D W U),  1/U = shell + (R/(R - s))/film,  fall = duty/(density flow cp)

with the medium as it enters. The duty follows from the face in turn: some rounds of the line on a mesh that suits
comparisons. In each the duty is taken to go as the face lies above the web that comes, which settles at once where one roll
does not reach the next; what is left of a round's change falls below 0.1 K.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.enthalpy import sensible_enthalpy
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.exchange.coolants import liquid
from thermokit.exchange.roll_balance import film_of_roll, medium_rise, roll_conductance
from thermokit.processes.base import facts_of_batch
from thermokit.processes.line_course import line_course
from thermokit.processes.line_judgement import at_end
from thermokit.processes.media import typical

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.line import LineProcess

ROUNDS = 3
COARSE = 9  # edges of a layer, about
LOOSE = 0.05  # K, local error
EVEN = 0.5  # K that a face lies from the web, below which the duty is not taken to go as that


def liquid_of(medium: str) -> str:
    """Name of what flows, as coolants have it."""
    return "oil" if medium == "oil" else "water"


def conductance(process: LineProcess, number: int) -> Array:
    """From what is inside a roll to its face, by area of the face [W/m2/K]."""
    station = process.case.stations[number]
    inside, film = station.inside, station.inside.film
    if film is None and inside.gap is not None and station.flow is not None and process.line.width is not None:
        turn = np.pi * (station.diameter - 2.0 * inside.shell - inside.gap)
        section = inside.gap * inside.pitch
        film = film_of_roll(
            station.flow, 2.0 * section / (inside.gap + inside.pitch), section, turn * process.line.width / inside.pitch,
            station.temperature, coolant=liquid_of(inside.medium),
        )  # fmt: skip
    film = inside.usual if film is None else film
    return roll_conductance(station.diameter, inside.shell, inside.conductivity, film)


def fall(process: LineProcess, number: int, duty: Any) -> Any:
    """How far what flows through a roll cools on its way [K], by the duty of 1 m of width [W/m]; 0 where it is not known."""
    station = process.case.stations[number]
    if station.inside.medium == "steam" or station.flow is None or process.line.width is None:
        return 0.0 * np.asarray(duty)
    at = liquid(liquid_of(station.inside.medium), station.temperature)
    return medium_rise(np.asarray(duty) * process.line.width, station.flow, at.density, at.specific_heat)


def drop(process: LineProcess, number: int, duty: Any) -> Any:
    """How far the face lies below what enters [K], by the duty of 1 m of width [W/m]."""
    station = process.case.stations[number]
    through = np.asarray(duty) / (np.pi * np.asarray(station.diameter) * conductance(process, number))
    return through + np.asarray(fall(process, number, duty)) / 2.0


def faces(process: LineProcess, edges: Sequence[Array]) -> dict[int, Any]:
    """Temperature of the face of each such roll, by its number [K], numbers or (cases,)."""
    cut = {name: np.linspace(0.0, 1.0, min(len(own), COARSE)) for name, own in zip(process.shown(), edges, strict=True)}
    mesh = [cut[name] for name in process.shown()]
    trial = type(process)(process.case, process.stuff)
    trial.faces = {number: process.case.stations[number].temperature for number in process.inner}
    trial.course(mesh)  # its cells
    for _ in range(ROUNDS):
        course = line_course(trial, cut)
        cases = _cases(course)
        facts = facts_of_batch(follow_batch(course, cases, LOOSE))
        found = {}
        for number in process.inner:
            enters: Any = process.case.stations[number].temperature
            face, comes = np.asarray(trial.faces[number]), _comes(trial, facts, number)
            share = drop(process, number, duty(trial, facts, number))
            above = face - comes
            near = np.abs(above) < EVEN
            slope = np.where(near, 0.0, share / np.where(near, 1.0, above))
            new = np.where(near, enters - share, (enters + slope * comes) / (1.0 + slope))
            new = np.where(np.isfinite(new), new, enters)
            found[number] = float(np.ravel(new)[0]) if cases == 1 else new
        trial.faces = found
    return trial.faces


def _cases(course: Any) -> int:
    """Number of cases of a course: the longest of its numbers."""
    spans = [span for leg in course.legs for span in leg.spans]
    sizes = [
        np.size(x) for leg in course.legs for layer in leg.layers for x in (layer.thickness, layer.start, layer.contact)
    ]
    sizes += [np.size(value) for leg in course.legs for layer in leg.layers for value in _numbers(layer.medium)]
    for span in spans:
        sizes.append(np.size(span.duration))
        for face in (span.inner, span.outer):
            sizes += [np.size(x.coefficient) for x in face.exchange] + [np.size(x.temperature) for x in face.exchange]
            sizes += [np.size(x.factor) for x in face.radiation] + [np.size(face.heating)]
        sizes += [np.size(x.density[0]) for x in span.sources]
    return max(sizes)


def _numbers(medium: Any) -> list[Any]:
    return [
        x
        for x in (medium.density, medium.conductivity, medium.specific_heat)
        if isinstance(x, (int, float, np.ndarray))
    ]


def _comes(process: LineProcess, facts: Facts, number: int) -> Array:
    """Mean of the web as it comes to a station, (cases,) [K]."""
    before = process.last_span(number) - 1
    if before >= 0:
        return at_end(process, facts, facts.stations[before]).mean
    pieces = process.pieces_at(number)
    heat = [typical(p.medium.density) * typical(p.medium.specific_heat) * p.thickness for p in pieces]
    return np.asarray(sum(h * p.start for h, p in zip(heat, pieces, strict=True)) / sum(heat))


def duty(process: LineProcess, facts: Facts, number: int) -> Array:
    """Heat that a roll gives to a metre of width [W/m], (cases,): what the web takes up, and what its free face loses there.

    The loss by the mean of the free face before and behind.
    """
    station, span = process.station(number), process.last_span(number)
    pieces = process.pieces_at(number)
    gained: Any = 0.0
    for piece in pieces:
        cells = process.cells(piece.name)
        after = facts.stations[span][1:-1][cells]
        before = facts.stations[span - 1][1:-1][cells] if span else np.full(after.shape, np.nan)
        before = np.where(np.isfinite(before), before, piece.start)  # it has come on just here
        cp = piece.medium.specific_heat
        heat = sensible_enthalpy(after, cp) - sensible_enthalpy(before, cp)
        gained = gained + piece.medium.density * piece.thickness * piece.since * np.mean(heat, axis=0)
    # thickness x ratio when it came on x first speed is what flows of it
    flow = np.asarray(gained) * process.line.speed
    free = facts.stations[span][-1 if station.side == "back" else 0]
    about = process.about(pieces, number)
    face = about.free("face" if station.side == "back" else "back", station.coefficient)
    earlier = facts.stations[span - 1][-1 if station.side == "back" else 0] if span else _comes(process, facts, number)
    surface = (np.where(np.isfinite(earlier), earlier, free) + free) / 2.0
    lost: Any = 0.0
    for exchange in face.exchange:
        lost = lost + exchange.coefficient * (surface - exchange.temperature)
    for seen in face.radiation:
        lost = lost + seen.factor * STEFAN_BOLTZMANN * (surface**4 - np.asarray(seen.temperature) ** 4)
    return np.asarray(flow + lost * station.path)
