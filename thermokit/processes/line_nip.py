"""Nips of a line that shear the sheet: gap, force and friction heat of each, by :mod:`thermokit.exchange.nip_heat`.

Gauges of a case are counted cold; in the nip they are larger by the density at the mean of both bowls.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.exchange.nip_heat import Nip, consistency_at, gap_for_gauge, nip, nip_rise
from thermokit.processes.media import typical

if TYPE_CHECKING:
    from thermokit.processes.line_body import LineBody


def entering(process: LineBody, number: int) -> Any:
    """Thickness of what comes to a station, counted cold [m]."""
    before: Any = process.ratios[number - 1] if number else 1.0
    return sum(piece.thickness / (np.asarray(before) / piece.since) for piece in process.pieces_at(number))


def swell(process: LineBody, number: int) -> Any:
    """Hot gauge over cold in a nip, by the density at the mean of its bowls; 1 where it is not known."""
    station = process.case.stations[number]
    if process.coats() or len(process.line.layers) != 1:
        return 1.0
    pair = process.densities(process.line.layers[0].material, (np.asarray(station.face) + station.back) / 2.0)
    return 1.0 if pair is None else pair[1] / pair[0]


def flow_in_nip(process: LineBody, number: int) -> Nip | None:
    """What the flow in a nip does, by metre of width; None where the case does not say how the sheet flows."""
    station = process.case.stations[number]
    shear = getattr(station, "shear", None)
    if shear is None:
        return None
    stiff = shear.viscosity
    if shear.temperature is not None:
        bowls = (np.asarray(station.face) + station.back) / 2.0
        stiff = consistency_at(stiff, bowls, shear.temperature, shear.softening)
    larger = swell(process, number)
    comes = entering(process, number) * larger
    gap = gap_for_gauge(station.gauge * larger, shear.index, comes)
    back = 2.0 * process.speed(number) / (1.0 + np.asarray(station.ratio))  # the sheet leaves at the mean of both
    return nip(shear.bowls, gap, (back, back * station.ratio), stiff, shear.index, comes)


def friction_in_nip(process: LineBody, number: int) -> Any:
    """Rise of the mean by friction in a nip [K]: by its flow, else as given; 0 for other stations."""
    station, found = process.case.stations[number], process.nip(number)
    if found is None:
        return getattr(station, "friction", 0.0)
    pieces = process.pieces_at(number)
    thick = sum(p.thickness for p in pieces)
    mass = sum(typical(p.medium.density) * p.thickness for p in pieces)
    heat = sum(typical(p.medium.density) * typical(p.medium.specific_heat) * p.thickness for p in pieces)
    rise = nip_rise(
        found.power, station.gauge, process.speed(number), mass / thick, heat / mass, station.shear.softening
    )
    return float(rise) if np.ndim(rise) == 0 else rise
