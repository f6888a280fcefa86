"""Drying and annealing of sheet in an air oven, held against what the trade does and against the exact parabola."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import ThermokitError
from thermokit.processes.media import typical
from thermokit.shaping.anneal import cooling_rate, face_core_difference, soaking_time
from thermokit.units import parse

if TYPE_CHECKING:
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
NEAR = 10.0  # K from the drying temperature of the record that still count as drying
ALLOWED = 5.0  # K between faces and core while it is cooled; common practice 5 to 8 K
HOUR = 3600.0


def drying_stations(process: SheetProcess) -> list[tuple[str, float, float, float]]:
    """(name, duration [s], shortest, longest [s] of the material's record) of air stations at its drying temperature."""
    drying = (getattr(process.record, "record", None) or {}).get("drying")
    if not isinstance(drying, dict) or not {"temperature", "shortest", "longest"} <= set(drying):
        return []
    try:
        at = parse(drying["temperature"], "temperature")
        shortest, longest = (parse(drying[word], "time") for word in ("shortest", "longest"))
    except (ThermokitError, TypeError, AttributeError):
        return []
    found = []
    stations: Any = process.case.stations
    for station in stations:
        if station.kind != "air" or station.ends_at is not None or not isinstance(station.duration, (int, float)):
            continue
        air = station.air.temperature
        if not hasattr(air, "value") and abs(float(np.ravel(air)[0]) - at) <= NEAR:
            found.append((station.name, float(station.duration), shortest, longest))
    return found


def is_dried(process: SheetProcess) -> bool:
    """Whether a station dries the sheet for as long as the record asks."""
    return any(time >= shortest for _, time, shortest, _ in drying_stations(process))


def remarks(process: SheetProcess) -> list[str]:
    """Drying against the record; slow cooling against the exact parabola and against what is usual."""
    found = []
    for name, time, shortest, longest in drying_stations(process):
        if time < 0.25 * shortest:
            continue  # a warm place on the way, not a dryer
        word = "enough" if time >= shortest else "TOO SHORT"
        found.append(
            f"{name}: {time / HOUR:.3g} h at the drying temperature, {shortest / HOUR:.3g} to {longest / HOUR:.3g} h are usual: "
            f"{word}"
        )
    medium = process.stuff.medium(process.case.sheet.material)
    diffusivity = typical(medium.conductivity) / (typical(medium.density) * typical(medium.specific_heat))
    thickness = float(np.ravel(process.case.sheet.thickness)[0])
    for station in process.case.stations:
        if getattr(station, "ends_at", None) is None or not isinstance(station.duration, (int, float)):
            continue
        found.append(_cooling(station, thickness, diffusivity))
    return found


def _cooling(station: Any, thickness: float, diffusivity: float) -> str:
    """One slow cooling in words."""
    from_, to = float(np.ravel(station.air.temperature)[0]), float(np.ravel(station.ends_at)[0])
    rate = abs(from_ - to) / float(station.duration)
    exact = float(face_core_difference(rate, thickness, diffusivity))
    most = float(cooling_rate(ALLOWED, thickness, diffusivity))
    soak = float(soaking_time(thickness))
    return (
        f"{station.name}: {HOUR * rate:.3g} K/h; once it runs evenly, core and faces of {1e3 * thickness:.3g} mm are q L^2/8a = "
        f"{exact:.2g} K apart; {ALLOWED:g} K are reached at {HOUR * most:.3g} K/h; before it, a soak of about {soak / HOUR:.2g} h "
        "relaxes formed acrylic (common practice: 1 h a mm, at least 2 h)"
    )
