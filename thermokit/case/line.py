"""A continuous line, ``process = "line"``: web, pipe, covered wire or coated cloth. Depth counts from the back (the bore).

The time in a station follows from its length and the speed there, which grows with each draw: :meth:`LineCase.__post_init__`
puts it into the stations, whenever a case is made or one of its values is replaced.
"""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.common import Case, StartKey, total
from thermokit.case.declare import key, known
from thermokit.case.line_body import LineSection
from thermokit.case.line_checks import check_line
from thermokit.case.line_limits import EventEntry, LineLimits
from thermokit.case.line_stations import KINDS
from thermokit.case.structure import ListOf, Named, OneOf, Sub
from thermokit.case.stuff import OwnKinetics
from thermokit.case.values import Choice

if TYPE_CHECKING:
    from thermokit.case.mistakes import At


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineCase(Case):
    """What runs through rolls, lamps, baths and whatever else a line has."""

    meaning = "a web, pipe, covered wire or coated cloth running through a line"

    process: str = key(Choice(("line",)), "Kind of case.", default="line", stated=True)
    line: LineSection = key(Sub(LineSection), "What runs, and how fast.")
    kinetics: Mapping[str, OwnKinetics] = key(Named(Sub(OwnKinetics)), "Kinetics of your own, by name.", default={})
    stations: tuple[Any, ...] = key(  # of Station: each kind has keys of its own
        ListOf(OneOf("kind", KINDS), least=1, most=300, naming="station"), "What it passes, in order."
    )
    limits: LineLimits = key(Sub(LineLimits), "What must be kept to over all of the line.", default=LineLimits())
    events: tuple[EventEntry, ...] = key(
        ListOf(Sub(EventEntry), most=20, naming="event"), "What may happen to it while it runs.", default=()
    )

    def __post_init__(self) -> None:
        """The time in each station, where its length, the speed and all draws before it are known."""
        if not known(self.stations, self.line) or not isinstance(self.stations, tuple) or not known(*self.stations):
            return
        object.__setattr__(self, "stations", tuple(timed(self.line, self.stations)))

    def depth(self) -> Any:
        """Thickness of the layers that the line begins with [m], where it is given."""
        if not known(self.line) or not known(self.line.layers) or not known(*self.line.layers):
            return None
        conductor = self.line.conductor
        if self.line.product == "wire" and (not known(conductor) or conductor is None):
            return None
        rod = [conductor.diameter / 2.0] if conductor is not None and known(conductor.diameter) else []
        return total([*rod, *(layer.thickness for layer in self.line.layers)])

    def starts(self) -> list[StartKey]:
        """The layers that the line begins with."""
        return [
            StartKey(layer.name, ("line", "layers", str(i), "start"), layer.start, self.line.start)
            for i, layer in enumerate(self.line.layers)
        ]

    def check(self, at: At, given: frozenset[str]) -> None:
        """What product, stations, limits and events say of each other."""
        super().check(at, given)
        check_line(self, at)


def draws(line: LineSection, stations: tuple[Any, ...]) -> list[Any]:
    """Speed over that where the line begins, station by station; None from where it is not known.

    A nip's gauge draws in the ratio of the thickness before to that behind; layers of coats are counted as they come.
    """
    ratio: Any = 1.0
    thickness = _thickness(line.layers)
    found = []
    for station in stations:
        gauge = getattr(station, "gauge", None)
        if not known(gauge):
            ratio = None
        elif gauge is not None:
            ratio = None if thickness is None or ratio is None else ratio * thickness / gauge
            thickness = gauge
        else:
            own = getattr(station, "draw", 1.0)
            ratio = None if not known(own) or ratio is None else ratio * own
            thickness = None if thickness is None or not known(own) else thickness / own
        if station.kind == "coat":
            added = _thickness(station.layers)
            thickness = None if thickness is None or added is None else thickness + added
        found.append(ratio)
    return found


def _thickness(layers: Any) -> Any:
    """Thickness of layers together [m]; None where there are none or one was not read."""
    if not known(layers) or not layers or not known(*layers):
        return None
    return total([layer.thickness for layer in layers])


def timed(line: LineSection, stations: tuple[Any, ...]) -> list[Any]:
    """The stations with the time in each [s]."""
    speed = line.speed if isinstance(line.speed, (int, float, np.ndarray)) else None
    found = []
    for station, ratio in zip(stations, draws(line, stations), strict=True):
        length = _length(station)
        duration = None
        if length is not None and np.all(np.asarray(length) == 0.0):
            duration = 0.0
        elif length is not None and ratio is not None and speed is not None and np.all(np.asarray(speed) > 0.0):
            duration = length / (speed * ratio)
            duration = float(duration) if np.ndim(duration) == 0 else duration
        found.append(replace(station, duration=duration))
    return found


def _length(station: Any) -> Any:
    """Length of a station [m], None where it is sought or was not read."""
    zones = getattr(station, "zones", None)
    if zones is not None:
        return total([zone.length for zone in zones]) if known(zones) and known(*zones) else None
    values = [getattr(station, word, 1.0) for word in ("length", "diameter", "wrap")]
    if not all(isinstance(value, (int, float, np.ndarray)) for value in values):
        return None
    return station.path


TEMPLATE = """\
# How fast may a web run over its hot roll? `thermokit explain KEY` tells what a key means, `thermokit dwell FILE` answers.
title = "How fast may a 0.3 mm web run over a hot roll?"
process = "line"

[line]
product = "web"                 # web | pipe | wire | cloth
speed = { find = ["2 m/min", "60 m/min"] }   # or "12 m/min"; a station's length = "find" asks for a length
start = "25 degC"
width = "1.2 m"
# diameter = "32 mm"            # of a pipe, outside; its layers are its wall
# [line.conductor]              # of a wire: material, diameter, start; a coat station is the crosshead
# [line.bore]                   # of a pipe: state = "still" | "blown" | "water"

[[line.layers]]                 # from the back (the bore) to the face (outside)
name = "web"
material = "pvc_plasticised"
thickness = "0.30 mm"           # or mass = "300 g/m2"
# kinetics = "pvc_heat_dose"

[line.air]
temperature = "25 degC"
coefficient = "8 W/m2/K"

[[stations]]                    # roll | drum | chill_roll | nip | span | air_knife | oven | lamps | die | bath | preheat |
name = "hot roll"               # coat | haul_off | wind_up
kind = "roll"
diameter = "300 mm"
wrap = "180 deg"
temperature = "150 degC"
contact = "500 W/m2/K"
side = "back"
[stations.limits]               # where it ends: face, back, mean _least or _most, difference, shell_least
mean_least = "122 degC"
mean_most = "130 degC"

[[stations]]
name = "span"
kind = "span"
length = "0.4 m"

[[stations]]
name = "chill roll"
kind = "chill_roll"
diameter = "400 mm"
wrap = "200 deg"
temperature = "18 degC"

[[stations]]
name = "wind-up"
kind = "wind_up"

[limits]
hottest = "160 degC"

[[events]]                      # stop | water_lost | lamps_out | speed
kind = "stop"

[accuracy]
temperature = "0.3 K"

[tolerances]                    # how far inputs may be off: two standard deviations
"stations.hot roll.temperature" = "± 3 K"
"stations.hot roll.contact" = "± 30 %"
"""
