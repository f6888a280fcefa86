"""Wall against dwell: the gel front in a dip, followed far beyond the dwell of the case, and where it stalls."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.single import solve
from thermokit.processes.dip_course import paste_name
from thermokit.processes.media import typical
from thermokit.stations.dip import gel_front, paste_edges

if TYPE_CHECKING:
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.problem import Array, Problem
    from thermokit.processes.dip import DipProcess

LONGEST = 600.0  # s, at least so long a dip is followed
TIMES_DWELL = 4.0  # and at least so many dwells
STALLED = 0.1e-3 / 60.0  # m/s: another minute adds less than 0.1 mm, the usual tolerance of a wall
LEAST = 2e-5  # m, of gel that counts as a wall
POINTS = 80


@dataclass(frozen=True)
class WallCurve:
    """What a dip would leave for any dwell.

    dwell (points,) [s]; wall (points,) [m] that has gelled; face (points,) [K] of what is dipped; stall [s] : dwell from
    which the wall hardly grows, None where it grows to the end; limit [m] : wall after the longest dwell.
    """

    dwell: Array
    wall: Array
    face: Array
    stall: float | None
    limit: float

    def at(self, dwell: float) -> float:
        """Wall at a dwell [m]."""
        return float(np.interp(dwell, self.dwell, self.wall))

    def speed(self, dwell: float) -> float:
        """How fast the front moves at a dwell [m/s]."""
        step = 0.05 * dwell
        return (self.at(dwell + step) - self.at(dwell - step)) / (2.0 * step)

    def face_at(self, dwell: float) -> float:
        """Temperature of the dipped face at a dwell [K]."""
        return float(np.interp(dwell, self.dwell, self.face))


def wall_curves(process: DipProcess, travel: Travel, tolerance: float) -> list[WallCurve]:
    """The curve of every dip of a run, as it was when the former went in."""
    found = []
    for i, number in enumerate(process.dips):
        name = paste_name(i)
        leg = next((leg for leg in travel.legs if any(layer.name == name for layer in leg.layers)), None)
        if leg is None:
            break
        dwell = float(np.ravel(process.case.stations[number].duration)[0])
        found.append(_curve(process, leg, name, max(LONGEST, TIMES_DWELL * dwell), tolerance))
    return found


def _curve(process: DipProcess, leg: Problem, name: str, longest: float, tolerance: float) -> WallCurve:
    medium = process.paste_medium
    diffusivity = typical(medium.conductivity) / (typical(medium.density) * typical(medium.specific_heat))
    deep = max(float(np.ravel(process.paste_depth(process.dips[0]))[0]), 4.0 * float(np.sqrt(diffusivity * longest)))
    layers = tuple(replace(x, thickness=deep) if x.name == name else x for x in leg.layers)
    problem = leg.with_(layers=layers, spans=(replace(leg.spans[0], duration=longest),))
    times = np.concatenate([[0.0], np.geomspace(0.2, longest, POINTS)])
    history = solve(problem, times, tolerance)
    edges = paste_edges(problem, name)
    count = len(problem.layers[-1].edges) - 1
    degree = history.states["gel_degree"][:, -count:].T
    wall = np.maximum.accumulate(gel_front(edges, degree, _one(process.case.paste.stays)))
    face = history.temperature[:, -count - 1]
    return WallCurve(history.time, wall, face, _stall(history.time, wall), float(wall[-1]))


def _stall(time: Array, wall: Array) -> float | None:
    """Dwell [s] from which the wall stays slower than what counts as stalled; None where it does not within the curve."""
    if wall[-1] < LEAST:
        return None
    slow = np.diff(wall) < STALLED * np.diff(time)
    slow[wall[1:] < LEAST] = False  # before it has begun
    if not slow[-1]:
        return None
    fast = np.flatnonzero(~slow)
    return float(time[int(fast[-1]) + 1]) if len(fast) else 0.0


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])
