"""A settled shot of a mould case on its section, with the coolant that goes with it, and the cooling time that its limits ask for.

The coolant's films and temperatures follow from the heat that the section gives to each channel, the heat from them: two or three
times round. The shot's length is found at the same time: how long the part takes hardly depends on how warm the mould is from
one guess to the next. Both are gone round on a coarse mesh; the last shot is solved on a finer one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import march
from thermokit.conduction.section_mesh import mesh_section
from thermokit.processes.mould_facts import MouldFacts
from thermokit.processes.mould_wall import cooling_only
from thermokit.processes.mould_water import films, water_of
from thermokit.stations.mould import ShotTimes, mould_problem

if TYPE_CHECKING:
    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_shape import MouldShape
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_cycle import Cycle
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from thermokit.processes.media import Stuff
    from thermokit.processes.mould_water import CircuitWater

COARSE, COARSE_STEP = 0.25, 3.0  # fineness of the mesh on which is gone round, and local error of its steps [K]
FINE, FINE_STEP = 1.0, 0.1  # the same of the last shot for an accuracy of USUAL
LEAST_FINE = 0.5  # with corners, whatever the accuracy: ribs and drawn outlines ask for more than a plain wall
USUAL, FINEST = 0.1, 2.0  # K; fineness beyond which no accuracy goes
SETTLED = 0.02  # K
WATER_SETTLED = 0.1  # K of the coolant in the channels from one round to the next
TIME_SETTLED = 0.004  # of the cooling time
ANSWER = (
    0.8  # of a change of the cooling time that is made: a longer shot is a colder mould, which takes some of it back
)
ROUNDS = 6
FIRST_START = 0.5  # K, within which a mould counts as settled
# shares of the hold, the cooling and the open time at which there are rows
ROWS = (
    np.array([0.005, 0.02, 0.06, 0.13, 0.22, 0.34, 0.48, 0.64, 0.82, 1.0]),
    np.concatenate([[0.004, 0.012], np.linspace(0.0, 1.0, 41)[1:]]),
    np.concatenate([[0.01, 0.03, 0.07], np.linspace(0.0, 1.0, 9)[1:]]),
)

SOBER = np.array([0.3, 0.5, 0.75, 1.0])  # shares of a span at which a verification looks
JUMP = 0.25  # share of the time in the mould, after the melt's jump on to it, for which an accuracy promises nothing


@dataclass(frozen=True)
class Shot:
    """A settled shot: its times, outlines, problem, cycle and circuits.

    mesh_error : estimated error of the hottest place at ejection that the mesh makes [K], None where it was not asked for.
    """

    times: ShotTimes
    shape: MouldShape
    problem: SectionProblem
    cycle: Cycle
    circuits: tuple[CircuitWater, ...]
    mesh_error: float | None = None

    @property
    def history(self) -> SectionHistory:
        """The shot's rows."""
        return self.cycle.history

    @property
    def facts(self) -> MouldFacts:
        """The shot, read."""
        return MouldFacts(
            self.problem, self.history, {"cavity_face": self.shape.cavity_face, "core_face": self.shape.core_face}
        )


class MouldSolver:
    """One mould case made ready: outlines and meshes; solves shots of any length.

    heat : of a shot, about, for the first guess of the coolant [J for each m2 of wall].
    """

    def __init__(self, case: MouldCase, shape: MouldShape, stuff: Stuff, heat: float):
        self.case, self.shape, self.stuff, self.heat = case, shape, stuff, heat
        self.width = float(case.part.width) if case.part.width is not None else float(case.circuits[0].length)
        accuracy = float(case.accuracy.temperature)
        # the error of the mesh falls with the square of its fineness
        least = COARSE if len(shape.part) == 4 else LEAST_FINE
        self.fineness = float(np.clip(FINE * np.sqrt(USUAL / accuracy), least, FINEST))
        self.step = float(np.clip(FINE_STEP * accuracy / USUAL, 0.01, COARSE_STEP))
        self._meshes: dict[float, SectionMesh] = {}

    def problem(self, times: ShotTimes, circuits: tuple[CircuitWater, ...]) -> SectionProblem:
        """One shot as it is given to the solver; the part only cools, so that one curve of its melting counts."""
        case = self.case
        start = case.mould.start if case.mould.start is not None else min(c.temperature for c in case.circuits)
        problem = mould_problem(case, self.shape, self.stuff.medium, times, films(circuits), float(start))
        part = replace(problem.regions[0], medium=cooling_only(problem.regions[0].medium))
        return replace(problem, regions=(part, *problem.regions[1:]))

    def mesh(self, fineness: float, problem: SectionProblem) -> SectionMesh:
        """The mesh at a fineness."""
        if fineness not in self._meshes:
            self._meshes[fineness] = mesh_section(problem, fineness)
        return self._meshes[fineness]

    def guessed(self, times: ShotTimes) -> tuple[CircuitWater, ...]:
        """The circuits with an even share each of the heat of a shot."""
        total = self.heat * self.shape.area / self.shape.wall * self.width / times.cycle
        share = total / len(self.shape.holes)
        heat = {hole.name: share for hole in self.shape.holes}
        dry = water_of(self.case, self.shape, heat, {})
        walls = {
            c.hole.name: c.mean + share / (np.pi * c.hole.diameter * self.width * float(c.at.film))
            for circuit in dry
            for c in circuit.channels
        }
        return water_of(self.case, self.shape, heat, walls)

    def shot(self, times: ShotTimes, circuits: tuple[CircuitWater, ...], fine: bool, count: bool = False) -> Shot:
        """The settled shot with given circuits; the circuits that it returns have the heat of this shot."""
        problem = self.problem(times, circuits)
        cycle = settled(
            problem,
            self.mesh(self.fineness if fine else COARSE, problem),
            SETTLED,
            rows_of(times),
            step_tolerance=self.step if fine else COARSE_STEP,
            within=FIRST_START if count else None,
        )
        return Shot(times, self.shape, problem, cycle, self.water(problem, cycle.history, times, circuits))

    def first(self, times: ShotTimes, finer: float, tighter: float) -> SectionHistory:
        """The first shot into a mould at its start, on a mesh and with steps finer by so much."""
        problem = self.problem(times, self.guessed(times))
        mesh = self.mesh(self.fineness * finer, problem)
        # just after a jump of a face no mesh is fine enough; to the part hold and cooling are one station
        rows = np.concatenate([b + SOBER * length for b, length in zip(*spans_of(times), strict=True)])
        rows = rows[rows >= JUMP * times.closed]
        return march(problem, mesh, rows, self.step / tighter)

    def water(
        self, problem: SectionProblem, history: SectionHistory, times: ShotTimes, before: tuple[CircuitWater, ...]
    ) -> tuple[CircuitWater, ...]:
        """The circuits with the heat of a shot."""
        heat, walls = {}, {}
        for circuit in before:
            for channel in circuit.channels:
                name = channel.hole.name
                per_metre = -sum(end.heat[name] for end in history.ends) / times.cycle
                heat[name] = per_metre * self.width
                walls[name] = channel.mean + per_metre / (np.pi * channel.hole.diameter * float(channel.at.film))
        return water_of(self.case, self.shape, heat, walls)

    def run(self, times: ShotTimes, count: bool = True) -> Shot:
        """The settled shot of a length, its coolant found with it."""
        circuits = self.guessed(times)
        shot = self.shot(times, circuits, fine=True, count=count)
        if _moved(circuits, shot.circuits) > WATER_SETTLED:
            circuits = self._round(times, shot.circuits)[0]
            shot = self.shot(times, circuits, fine=True, count=count)
        return replace(shot, mesh_error=self._mesh_error(shot, times, circuits))

    def _mesh_error(self, shot: Shot, times: ShotTimes, circuits: tuple[CircuitWater, ...]) -> float | None:
        """From the coarse mesh, order 2; None for a plain wall, whose meshes are hardly apart."""
        if len(self.shape.part) == 4:
            return None
        apart = shot.facts.hottest[-1] - self.shot(times, circuits, fine=False).facts.hottest[-1]
        return float(abs(apart) / ((self.fineness / COARSE) ** 2 - 1.0))

    def find(
        self, hold: float, empty: float, guess: float, crossing: Callable[[MouldFacts], float]
    ) -> tuple[Shot, float]:
        """(the settled shot that opens when it may, cooling after the hold [s]); inf where it never may.

        crossing : time from the end of the fill at which all limits are met, by a shot's facts (it may lie beyond the shot).
        """
        cooling, circuits, shot = guess, None, None
        for _ in range(ROUNDS):
            circuits, shot = self._round(ShotTimes(hold, cooling, empty), circuits)
            wanted = max(crossing(shot.facts) - hold, SHORTEST)
            if not np.isfinite(wanted):
                break
            close = abs(wanted - cooling) <= TIME_SETTLED * max(wanted, 1.0)
            wanted = cooling + ANSWER * (wanted - cooling)
            cooling = float(np.clip(wanted, cooling / 3.0, 3.0 * cooling))
            if close:
                break
        assert circuits is not None
        shot = self.shot(ShotTimes(hold, cooling, empty), circuits, fine=True)
        return shot, max(crossing(shot.facts) - hold, SHORTEST)

    def _round(
        self, times: ShotTimes, circuits: tuple[CircuitWater, ...] | None
    ) -> tuple[tuple[CircuitWater, ...], Shot]:
        """The circuits that go with a shot on the coarse mesh: once where they are known nearly, else until they settle."""
        near = circuits is not None
        current = circuits if circuits is not None else self.guessed(times)
        for _ in range(1 if near else 3):
            shot = self.shot(times, current, fine=False)
            old, current = current, shot.circuits
            if _moved(old, current) <= WATER_SETTLED:
                break
        return current, shot


SHORTEST = 0.05  # s


def _moved(a: tuple[CircuitWater, ...], b: tuple[CircuitWater, ...]) -> float:
    """Largest change of the coolant in a channel [K]."""
    return max(
        abs(one.mean - other.mean)
        for x, y in zip(a, b, strict=True)
        for one, other in zip(x.channels, y.channels, strict=True)
    )


def spans_of(times: ShotTimes) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(beginnings, lengths) of hold, cooling and the time without the part [s]."""
    return (0.0, times.hold, times.closed), (times.hold, times.cooling, times.empty)


def rows_of(times: ShotTimes) -> Array:
    """Rows of a shot [s]: close after every switch, and every span's end."""
    begins, lengths = spans_of(times)
    found = [np.zeros(1), *(b + share * length for b, share, length in zip(begins, ROWS, lengths, strict=True))]
    return np.unique(np.concatenate(found))
