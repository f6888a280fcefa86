"""Shots of a :class:`~thermokit.processes.mould_wall.MouldWall` until they are alike: cooling time, faces, heat."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.course import recalled, remembered
from thermokit.conduction.cyclic import settled_many, shots_until_settled
from thermokit.conduction.mesh import equal_edges
from thermokit.conduction.problem import Curve
from thermokit.conduction.slow_map import linear_map
from thermokit.processes.mould_wall import (
    CAVITY,
    CORE,
    PART_CELLS,
    SHORTEST,
    at_temperature,
    cases_of,
    cooling_time_by_hand,
    one_of,
)

if TYPE_CHECKING:
    from thermokit.conduction.batch_record import BatchHistory
    from thermokit.conduction.problem import Array, Layer, Problem
    from thermokit.processes.mould_wall import MouldWall

TOLERANCE = 0.3  # K, local error of a step: a hundredth of a per cent of the cooling time
SETTLED = 0.02  # K of the tools when they touch
MOST = 14  # shots that are computed
STEEP = (
    40.0  # K that a time e times as long counts as, while shot length and tools are sought together: 0.05 % is 0.02 K
)
LONGEST = 3.0  # times as long as a shot may become from one round to the next
ALIKE = 0.4  # of the logarithm of a length: shots that are as long share a slope
WITHIN = 0.5  # K of the settled state: from there on shots count as settled
HELD_ROWS = np.array([0.003, 0.01, 0.03, 0.07, 0.13, 0.22, 0.33, 0.46, 0.6, 0.75, 0.88, 1.0])
SHUT_ROWS = np.array([0.01, 0.04, 0.09, 0.16, 0.25, 0.35, 0.45, 0.55, 0.65, 0.74, 0.82, 0.89, 0.95, 1.0])
OPEN_ROWS = np.array([0.0, 0.01, 0.05, 0.15, 0.3, 0.5, 0.75, 1.0])


@dataclass(frozen=True)
class FaceCycle:
    """A mould face in the settled state: at_touch, mean over the cycle, highest, lowest, at_opening [K], (cases,); heat
    [J/m2] that its coolant takes in one cycle."""

    at_touch: Array
    mean: Array
    highest: Array
    lowest: Array
    at_opening: Array
    heat: Array

    @property
    def swing(self) -> Array:
        """Highest less lowest [K]."""
        return self.highest - self.lowest


@dataclass(frozen=True)
class WallCycle:
    """What one shot is like once all are alike; everything (cases,).

    cooling [s] after the hold; shut : hold and cooling [s]; cycle [s]; earliest : from filling until the criterion is met
    [s], less than the hold where the part is cold before; hottest, mean [K] of the part at opening; profile (cells, cases)
    [K] there at shares ``depth`` (cells,) of the thickness from the cavity; cavity, core; heat [J/m2] that the part leaves
    in a cycle; to_air : of it by the open faces; mismatch : share of
    it that the integrals over the rows miss; by_hand [s] : the formula between faces at their mean temperature while shut;
    reached : whether a settled state was found; shots : computed for it.
    """

    cooling: Array
    shut: Array
    cycle: Array
    earliest: Array
    hottest: Array
    mean: Array
    depth: Array
    profile: Array
    cavity: FaceCycle
    core: FaceCycle
    heat: Array
    to_air: Array
    mismatch: Array
    by_hand: Array
    reached: Array
    shots: int
    slope: Array
    settled: Array
    start: Array

    def shots_to_settle(self, case: int = 0, within: float = WITHIN) -> int:
        """Shots from a mould at the temperature of its coolant until faces and metal are within some kelvin of the settled state.

        Without the metal behind the channels, so that a real mould takes longer. Raises ValueError where it never settles.
        """
        n = len(self.settled)
        slope = self.slope[:n, :n, case]
        return shots_until_settled(slope, self.start[:, case], self.settled[:, case], within)


def settled_cycle(wall: MouldWall, tolerance: float = TOLERANCE, refined: int = 1) -> WallCycle:
    """The settled shot of every case of a wall.

    tolerance [K] : local error of the time steps; refined : times as many cells through the part. A case whose part never gets
    as cold as its ejection temperature has NaN times and ``reached`` False: the coolant is too warm for it.
    """
    shot = _Shot(wall, cases_of(wall), tolerance, refined)
    start, shut = shot.guess()
    x = np.concatenate([start, STEEP * np.log(shut)[None]]) if wall.cooling is None else start
    found = settled_many(shot, x, shot.slopes(shut, len(x)), SETTLED, MOST)
    last = shot(found.profile)  # once more, from where it settled
    n = len(start)
    return shot.cycle(
        found.profile, found.reached & np.all(np.isfinite(last), axis=0), found.evaluations, found.slope, n
    )


class _Shot:
    """One shot: tools (and the logarithm of its length) at one touch -> at the next."""

    def __init__(self, wall: MouldWall, cases: int, tolerance: float, refined: int):
        self.wall, self.cases, self.tolerance, self.refined = wall, cases, tolerance, refined
        self.held = np.broadcast_to(wall.held, (cases,))
        self.open = np.broadcast_to(np.maximum(np.asarray(wall.open, float), 0.0), (cases,))
        self.target = np.broadcast_to(np.asarray(wall.ejection, float), (cases,))
        coolest = np.minimum(np.asarray(wall.cavity.coolant, float), np.asarray(wall.core.coolant, float))
        self.floor = np.broadcast_to(coolest, (cases,)) - 1.0
        self.edges = equal_edges(PART_CELLS * refined)
        self.runs: tuple[BatchHistory, ...] = ()
        self.legs: tuple[Problem, ...] = ()
        self.shut = np.zeros(cases)
        self.cells = 0

    # -- beginning ------------------------------------------------------------------------------------------------

    def guess(self) -> tuple[Array, Array]:
        """(tools (cells, cases) as their mean over a cycle, time shut (cases,)) by resistances and the hand formula."""
        wall, shape = self.wall, (self.cases,)
        heat = np.broadcast_to(wall.heat(), shape)
        sides = (wall.cavity, wall.core)
        behind = [sum(side.resistance()) for side in sides]
        warmest = np.maximum(np.asarray(wall.cavity.coolant, float), np.asarray(wall.core.coolant, float))
        room = np.maximum(np.asarray(wall.ejection, float) - warmest, 1.0)
        # the hand formula, longer by contact (h s/2k is its Biot number) and by latent heat over the heat that it knows
        fall = np.asarray(wall.melt, float) - wall.ejection
        stored = at_temperature(wall.part.conductivity, (np.asarray(wall.melt, float) + wall.ejection) / 2)
        stored = stored / wall.diffusivity * wall.thickness  # J/m2/K
        scale = np.asarray(wall.thickness, float) ** 2 / (np.pi**2 * wall.diffusivity)
        slower = 1.0 + sum(stored / 4 / np.asarray(s.contact_after, float) for s in sides) / scale
        slower = slower * np.maximum(heat / (stored * fall), 1.0)
        shut, flux = np.broadcast_to(2.0 * scale * slower, shape), np.zeros(shape)
        for _ in range(8):
            flux = heat / 2 / (shut + self.open)
            warm = warmest + np.minimum(sum(flux * r for r in behind) / 2, 0.8 * room)
            by_hand = slower * cooling_time_by_hand(
                wall.thickness, wall.diffusivity, wall.melt, warm, wall.ejection, wall.criterion
            )
            shut = (shut + np.where(np.isfinite(by_hand), by_hand, 0.5 * shut)) / 2
        if wall.cooling is not None:
            shut = self.held + np.asarray(wall.cooling, float)
            flux = heat / 2 / (shut + self.open)
        shut = np.maximum(shut, self.held * 1.01)
        layers = (wall.cavity.layer(CAVITY), wall.core.layer(CORE))
        columns = []
        for side, layer, own in zip(sides, layers, (CAVITY, CORE), strict=True):
            centres = (layer.edges[1:] + layer.edges[:-1]) / 2
            away = centres if own == CAVITY else 1.0 - centres  # share of the steel between a cell and its coolant
            steel, film = (np.broadcast_to(r, shape) for r in side.resistance())
            columns.append(np.asarray(side.coolant) + flux * (film + np.outer(away, steel)))
        self.cells = sum(layer.cells for layer in layers)
        return np.concatenate(columns), np.broadcast_to(shut, shape).copy()

    def slopes(self, shut: Array, size: int) -> Array:
        """dP/dx of every case, (size, size, cases): one for all shots that are about alike."""
        wall = self.wall
        marks = [shut, self.open + SHORTEST]
        for side in (wall.cavity, wall.core):
            steel, film = side.resistance()
            depth = steel * np.asarray(side.conductivity)
            stored = np.asarray(side.density) * np.asarray(side.specific_heat) * depth
            marks += [stored * (steel / 2 + film), stored * np.asarray(wall.thickness)]
        rounded = np.round(np.log([np.broadcast_to(m, (self.cases,)) for m in marks]) / ALIKE)
        _, which = np.unique(rounded, axis=1, return_inverse=True)
        which = np.ravel(which)
        out = np.zeros((size, size, self.cases))
        n = self.cells
        for group in range(int(which.max()) + 1):
            members = np.flatnonzero(which == group)
            one = int(members[len(members) // 2])
            legs = one_of(wall, one).legs(float(shut[one]), self.refined)
            out[:n, :n, members] = linear_map(legs, (CAVITY, CORE))[:, :, None]
        return out

    # -- one shot -------------------------------------------------------------------------------------------------

    def __call__(self, x: Array) -> Array:
        """Tools (and steep logarithm of the length) of all cases one shot later."""
        n = self.cells
        free = self.wall.cooling is None
        if self.wall.cooling is None:
            shut = np.exp(np.clip(x[n] / STEEP, -10.0, 20.0))
        else:
            shut = self.held + np.asarray(self.wall.cooling, float)
        self.shut = np.maximum(shut, self.held + SHORTEST)
        self.legs = self.wall.legs(self.shut, self.refined)
        first = self.legs[0].layers[0].cells
        memory: dict[str, Any] = {}
        tools = {CAVITY: x[:first], CORE: x[first:n]}
        runs, legs = [], []
        rows = (HELD_ROWS, SHUT_ROWS, OPEN_ROWS, OPEN_ROWS)
        for leg, shares in zip(self.legs, rows, strict=True):
            problem = recalled(leg, memory) if memory else _begun(leg, tools)
            length = np.broadcast_to(np.asarray(leg.spans[0].duration, float), (self.cases,))
            run = solve_batch(problem, self.cases, shares[:, None] * length, self.tolerance)
            states = {name: value[-1] for name, value in run.end_states.items()}
            memory.update(remembered(problem, run.end_temperature[-1], states))
            runs.append(run)
            legs.append(problem)
        self.runs, self.legs = tuple(runs), tuple(legs)
        after = np.concatenate([memory[CAVITY].temperature, memory[CORE].temperature])
        if not free:
            return after
        earliest = self.crossing()
        wanted = np.clip(np.maximum(earliest, self.held + SHORTEST), self.shut / LONGEST, self.shut * LONGEST)
        return np.concatenate([after, STEEP * np.log(wanted)[None]])

    def part_of(self, run: BatchHistory) -> slice:
        """Cells of the part in a leg with both tools."""
        first = self.legs[0].layers[0].cells
        return slice(first, first + len(self.edges) - 1)

    def judged(self, temperature: Array) -> Array:
        """What the criterion looks at, (rows, cases), of temperatures (rows, cells, cases) of the part."""
        if self.wall.criterion == "mean":
            return np.asarray(np.einsum("rnc,n->rc", temperature, np.diff(self.edges)))
        return hottest_place(temperature, (self.edges[1:] + self.edges[:-1]) / 2)

    def crossing(self) -> Array:
        """Time from filling at which the criterion is met [s]; beyond the shot by going on as its last rows do."""
        values, times = [], []
        after = np.maximum(self.shut - self.held, SHORTEST)
        for run, when in zip(
            self.runs[:2], (HELD_ROWS[:, None] * self.held, self.held + SHUT_ROWS[:, None] * after), strict=True
        ):
            times.append(when)
            values.append(self.judged(run.temperature[:, self.part_of(run)]))
        t = np.concatenate(times)
        y = np.log(np.maximum(np.concatenate(values) - self.floor, 1e-6))
        wanted = np.log(np.maximum(self.target - self.floor, 1e-6))
        met = y <= wanted
        i = np.clip(np.where(met.any(axis=0), met.argmax(axis=0), len(t) - 1), 1, len(t) - 1)
        c = np.arange(self.cases)
        slope = (y[i, c] - y[i - 1, c]) / (t[i, c] - t[i - 1, c])
        falling = slope < -1e-9
        found = t[i, c] + (wanted - y[i, c]) / np.where(falling, slope, -1.0)
        found = np.where(falling, found, LONGEST * self.shut)
        found = np.where(met[0], t[0], found)
        return np.asarray(np.where(self.target > self.floor + 1.0, found, np.nan))

    # -- what it is like ------------------------------------------------------------------------------------------

    def cycle(self, x: Array, reached: Array, evaluations: int, slope: Array, n: int) -> WallCycle:
        """The last shot in words of the trade."""
        pressed, free, cavity, core = self.runs
        length = np.maximum(self.shut - self.held, SHORTEST)
        times = [HELD_ROWS[:, None] * self.held, self.held + SHUT_ROWS[:, None] * length]
        opened = self.shut + OPEN_ROWS[:, None] * self.open
        faces = [self._steel_faces(leg, run) for leg, run in zip(self.legs[:2], self.runs[:2], strict=True)]
        t = np.concatenate([np.zeros((1, self.cases)), *times, opened])
        first = self.legs[0].layers[0].cells
        sides = {
            CAVITY: (x[first - 1], [f[0] for f in faces], cavity.outer_face, cavity.inner_face, 0),
            CORE: (x[first], [f[1] for f in faces], core.inner_face, core.outer_face, 1),
        }
        found, shut_mean = {}, []
        to_air = np.zeros(self.cases)
        for name, (touch, closed, open_, open_back, which) in sides.items():
            side = self.wall.cavity if name == CAVITY else self.wall.core
            face = np.concatenate([touch[None], *closed, open_])
            _, film = side.resistance()
            backs = [run.inner_face if which == 0 else run.outer_face for run in (pressed, free)]
            back = np.concatenate([backs[0][:1], *backs, open_back])
            heat = _integral(t, (back - side.coolant) / film)
            rows = 1 + len(HELD_ROWS) + len(SHUT_ROWS)
            shut_mean.append(_integral(t[:rows], face[:rows]) / self.shut)
            found[name] = FaceCycle(
                touch, _integral(t, face) / t[-1], face.max(axis=0), face.min(axis=0), closed[1][-1], heat
            )
            to_air = to_air + _integral(opened, side.air_coefficient * (open_ - side.air))
        heat = sum((run.left - run.entered for run in self.runs), start=np.zeros(self.cases))
        profile = free.end_temperature[-1][self.part_of(free)]
        wall = self.wall
        by_hand = cooling_time_by_hand(
            wall.thickness, wall.diffusivity, wall.melt, sum(shut_mean) / 2, wall.ejection, wall.criterion
        )
        centres = (self.edges[1:] + self.edges[:-1]) / 2
        good = np.asarray(reached)
        earliest = np.where(good, self.crossing(), np.nan)
        shut = np.where(good, self.shut, np.nan)
        return WallCycle(
            cooling=np.where(shut - self.held > 2 * SHORTEST, shut - self.held, 0.0 * shut),
            shut=shut,
            cycle=shut + self.open,
            earliest=earliest,
            hottest=hottest_place(profile[None], centres)[0],
            mean=np.einsum("nc,n->c", profile, np.diff(self.edges)),
            depth=centres,
            profile=profile,
            cavity=found[CAVITY],
            core=found[CORE],
            heat=heat,
            to_air=np.broadcast_to(to_air, (self.cases,)),
            mismatch=np.abs(heat - to_air - found[CAVITY].heat - found[CORE].heat) / np.abs(heat),
            by_hand=np.broadcast_to(by_hand, (self.cases,)),
            reached=good,
            shots=evaluations,
            slope=slope,
            settled=x[:n],
            start=np.concatenate([np.full((layer.cells, self.cases), layer.start) for layer in self._steels()]),
        )

    def _steels(self) -> tuple[Layer, Layer]:
        return self.wall.cavity.layer(CAVITY), self.wall.core.layer(CORE)

    def _steel_faces(self, leg: Problem, run: BatchHistory) -> tuple[Array, Array]:
        """Faces of cavity and core where they touch the part, (rows, cases): half a cell from the flux of the joint."""
        cavity, part, core = leg.layers
        own, T = self.part_of(run), run.temperature
        conductivity = part.medium.conductivity
        out = []
        for layer, steel, skin, share, width, contact in (
            (cavity, own.start - 1, own.start, cavity.edges[-1] - cavity.edges[-2], part.edges[1], cavity.contact),
            (core, own.stop, own.stop - 1, core.edges[1], 1.0 - part.edges[-2], part.contact),
        ):
            k = _of_temperature(conductivity, T[:, skin])
            half = share * np.asarray(layer.thickness) / 2 / np.asarray(layer.medium.conductivity)
            across = width * np.asarray(part.thickness) / 2 / k + 1.0 / np.asarray(contact) + half
            out.append(T[:, steel] + (T[:, skin] - T[:, steel]) / across * half)
        return out[0], out[1]


def _begun(leg: Problem, tools: dict[str, Array]) -> Problem:
    """The first leg with its tools as they are when the melt comes."""
    layers = tuple(replace(layer, start=tools.get(layer.name, layer.start)) for layer in leg.layers)
    return replace(leg, layers=layers)


def _of_temperature(value: Any, temperature: Array) -> Array:
    """A property at temperatures (rows, cases)."""
    if not isinstance(value, Curve):
        return np.broadcast_to(np.asarray(value, float), temperature.shape)
    if np.ndim(value.value) == 1:
        return np.asarray(np.interp(temperature, value.temperature, value.value))
    pairs = zip(temperature.T, value.value.T, strict=True)
    return np.stack([np.interp(t, value.temperature, v) for t, v in pairs], axis=1)


def _integral(t: Array, y: Array) -> Array:
    """Integral over time of rows (rows, cases), straight between them."""
    return np.asarray(np.sum((y[1:] + y[:-1]) / 2 * np.diff(t, axis=0), axis=0))


def hottest_place(temperature: Array, centres: Array) -> Array:
    """Highest temperature (rows, cases) of cells (rows, cells, cases): top of a parabola through the hottest three."""
    i = np.clip(temperature.argmax(axis=1), 1, len(centres) - 2)
    y0, y1, y2 = (np.take_along_axis(temperature, (i + j)[:, None], axis=1)[:, 0] for j in (-1, 0, 1))
    x0, x1, x2 = centres[i - 1], centres[i], centres[i + 1]
    left, right = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (right - left) / (x2 - x0)
    slope = left + bend * (x1 - x0)  # at x1
    curved = bend < 0.0
    move = np.clip(np.where(curved, -slope / (2 * np.where(curved, bend, -1.0)), 0.0), x0 - x1, x2 - x1)
    return np.asarray(np.maximum(np.where(curved, y1 + slope * move + bend * move**2, y1), temperature.max(axis=1)))
