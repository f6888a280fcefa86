"""The bodies of a batch on the folded grid: capacities, conductances, energy maps and reactions of the lanes in flight."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.lanes import LaneArray, LaneTables, fold, of_lanes, rate_of_cases
from thermokit.conduction.rod import CORNER

if TYPE_CHECKING:
    from thermokit.conduction.lanes import Array
    from thermokit.conduction.problem import Problem
    from thermokit.conduction.rod import Rod

TOGETHER = 1e5  # the two halves of a middle cell, against the conductance of its neighbours


class BatchReaction:
    """One reaction of the batch, on the grid of the whole body."""

    def __init__(self, rate: Any, state: str, mask: Array, heat: Array, start: Array, earlier: list[int], lanes: int):
        self.rate, self.law, self.state, self.earlier = rate, rate, state, earlier
        self.mask = mask  # (rows, 2, 1), 1 where it reacts
        self.whole = bool(np.all(mask))
        self.heat = LaneArray(heat, lanes)  # J per unit of degree, (rows, 2, .)
        self.start = start  # (rows, 2, .)
        # of the step: d(degree)/dT of an eliminated stage, 1/(1/(h g) - own), heat that goes with the right-hand side
        self.gain = self.pivot = self.own_heat = heat
        self.before: list[Array] = []
        self.by_temperature = self.own = heat

    def evaluate(self, T: Array, degrees: tuple[Array, ...]) -> Array:
        """d(degree)/dt, zero where nothing reacts."""
        rate: Array = self.law.evaluate(T, degrees)
        return rate if self.whole else rate * self.mask

    def linearise(self, T: Array, degrees: tuple[Array, ...]) -> None:
        """Exact derivatives at a state."""
        _, by_T, by_degree = self.law.linearise(T, degrees)
        if not self.whole:
            by_T = by_T * self.mask
            by_degree = tuple(x * self.mask for x in by_degree)
        self.by_temperature, (*self.before, self.own) = by_T, by_degree

    def eliminate(self, over: Array, others: list[BatchReaction]) -> Array:
        """What the reaction takes from the diagonal, in J/K per (1/s); the step's couplings are kept."""
        self.pivot = 1.0 / (over - self.own)
        gain = self.by_temperature
        for e, slope in zip(self.earlier, self.before, strict=True):
            gain = gain + slope * others[e].gain
        self.gain = gain * self.pivot
        scaled = self.heat.now * over
        self.own_heat = scaled * self.pivot - self.heat.now
        return np.asarray(scaled * self.gain)


class BatchBody:
    """Everything of the bodies that does not change in time; ``load`` puts cases into lanes."""

    def __init__(self, problem: Problem, rod: Rod, cases: int, lanes: int):
        self.problem, self.rod, self.cases = problem, rod, cases
        self.n = n = rod.cells
        self.rows = rows = (n + 1) // 2
        self.odd = n % 2 == 1
        half = np.ones((rows, 2, 1))
        if self.odd:
            half[-1] = 0.5
        self.half = half
        L = lanes
        self.capacity = LaneArray(fold(rod.capacity) * half, L)
        self.inverse = LaneArray(1.0 / self.capacity.source, L)
        self.volume = LaneArray(fold(rod.volume) * half, L)
        half_in, half_out = fold(rod.half_in), fold(rod.half_out)
        # resistances of half cells towards the middle of the body and away from it
        self.toward = LaneArray(np.stack([half_out[:, 0], half_in[:, 1]], axis=1), L)
        self.away = LaneArray(np.stack([half_in[:, 0], half_out[:, 1]], axis=1), L)
        joint = rod.joint
        self.joint = LaneArray(np.stack([joint[: rows - 1], joint[::-1][: rows - 1]], axis=1), L)
        self.joint_middle = LaneArray(np.zeros(1) if self.odd else joint[rows - 1], L)
        area = [np.atleast_1d(np.asarray(a, float)) for a in (rod.area_in, rod.area_out)]
        width = max(len(a) for a in area)
        self.area = LaneArray(np.stack([np.broadcast_to(a, (width,)) for a in area]), L)
        self.closed_inner = bool(np.all(area[0] == 0.0))
        # a solid body: temperature at its axis or centre by a parabola through the first two cells
        x = rod.centres
        self.axis_weight = LaneArray(x[0] ** 2 / (x[1] ** 2 - x[0] ** 2) if n > 1 else np.zeros(1), L)
        self.energy = LaneTables(rod.energy, L)
        self.two_curves = rod.melting is not None
        if rod.melting is not None and rod.crystallising is not None and rod.share_scale is not None:
            self.melting, self.crystallising = LaneTables(rod.melting, L), LaneTables(rod.crystallising, L)
            self.share_scale = LaneArray(fold(rod.share_scale), L)
        self.k_const = rod.k is not None
        if rod.k is not None:
            self._constant(fold(rod.k), L)
        else:
            assert rod.conductivity is not None and rod.k_first is not None and rod.k_scale is not None
            self.k_tables = LaneTables(rod.conductivity, L)
            self.k_first, self.k_scale = LaneArray(fold(rod.k_first), L), LaneArray(fold(rod.k_scale), L)
        self.reactions = self._reactions(L)
        # folded once: a load takes a few cases of many
        self._start_y = fold(rod.start)
        self._start_shift = fold(rod.share_start) if rod.share_start is not None else None

    def _constant(self, k: Array, lanes: int) -> None:
        sources = (self.toward.source, self.away.source, self.joint.source, self.joint_middle.source, self.area.source)
        G, middle, faces = self.conductances(k, *sources)
        self.G, self.G_middle, self.g0 = (LaneArray(x, lanes) for x in (G, middle, faces))
        self.G_square = LaneArray(G * G, lanes)
        total = np.zeros((self.rows, 2, np.broadcast_shapes(G.shape[-1:], middle.shape[-1:])[0]))
        total[:-1] += G
        total[1:] += G
        total[-1] += middle
        self.G_total = LaneArray(total, lanes)

    def conductances(self, k: Array, toward: Array, away: Array, joint: Array, joint_middle: Array, area: Array) -> Any:
        """(G (rows-1, 2, .), middle (.), half cells at the faces per m2 (2, .)) for conductivities (rows, 2, .)."""
        G = 1.0 / (toward[:-1] / k[:-1] + away[1:] / k[1:] + joint)
        if self.odd:
            middle = TOGETHER * (G[-1].max(axis=0) if len(G) else k[-1, 0] / toward[-1, 0])
        else:
            middle = 1.0 / (toward[-1, 0] / k[-1, 0] + toward[-1, 1] / k[-1, 1] + joint_middle)
        with np.errstate(divide="ignore", invalid="ignore"):
            faces = k[0] / (away[0] * area)
        return G, middle, np.where(np.isfinite(faces), faces, 0.0)

    def conductivity(self, T: Array, lanes: Array | None = None) -> tuple[Array, Array]:
        """(k, dk/dT) at temperatures of all lanes, or of some."""
        tables = self.k_tables
        if lanes is None:
            first, scale, base = self.k_first.now, self.k_scale.now, tables.first.now
        else:
            first, scale, base = self.k_first.of(lanes), self.k_scale.of(lanes), tables.first.of(lanes)
        k, slope = tables.at((T - first) * scale + base, lanes)
        return k, slope * scale

    def _reactions(self, lanes: int) -> list[BatchReaction]:
        found: list[BatchReaction] = []
        for layer, cells in zip(self.problem.layers, self.rod.slices, strict=True):
            mask = np.zeros((self.n, 1))
            mask[cells] = 1.0
            mine: list[int] = []
            for reaction in layer.reactions:
                density = np.atleast_1d(np.asarray(layer.medium.density, float))
                heat = fold(mask) * self.volume.source * density * np.atleast_1d(np.asarray(reaction.heat, float))
                start = np.asarray(reaction.start, float)
                profile = np.zeros((self.n, start.shape[-1] if start.ndim else 1))
                profile[cells] = start
                found.append(
                    BatchReaction(reaction.rate, reaction.state, fold(mask), heat, fold(profile), list(mine), lanes)
                )
                mine.append(len(found) - 1)
        return found

    # -- lanes ----------------------------------------------------------------------------------------------------

    def parts(self) -> list[Any]:
        """All lane arrays and tables."""
        found: list[Any] = [v for v in vars(self).values() if isinstance(v, (LaneArray, LaneTables))]
        return found + [r.heat for r in self.reactions]

    def load(self, lanes: Array, cases: Array) -> None:
        """Put cases into lanes."""
        for part in self.parts():
            part.load(lanes, cases)

    def keep(self, lanes: Array) -> None:
        """Only these lanes go on."""
        for part in self.parts():
            part.keep(lanes)

    def set_laws(self, case_of_lane: Array) -> None:
        """Rate laws with the parameters of the cases in flight."""
        cases = np.maximum(case_of_lane, 0)
        for r in self.reactions:
            r.law = rate_of_cases(r.rate, cases, self.cases)

    def start(self, cases: Array) -> tuple[Array, Array | None]:
        """(state (blocks, rows, 2, k): energies and degrees; crystalline shift (rows, 2, k) or None) of cases."""
        z = np.empty((1 + len(self.reactions), self.rows, 2, len(cases)))
        z[0] = of_lanes(self._start_y, cases) * of_lanes(self.capacity.source, cases)
        for j, r in enumerate(self.reactions):
            z[1 + j] = of_lanes(r.start, cases)
        if self._start_shift is None:
            return z, None
        return z, np.array(np.broadcast_to(of_lanes(self._start_shift, cases), z.shape[1:]))

    def axis(self, first: Array, second: Array, lanes: Array | None = None) -> Array:
        """Temperature at the axis of a solid body from those of its first two cells, (lanes,) or of some lanes."""
        weight = self.axis_weight.now if lanes is None else self.axis_weight.of(lanes)
        return np.asarray(first + (first - second) * weight)

    def even_middle(self, x: Array) -> None:
        """Make the two halves of the middle cell of an odd body equal, in place; x (rows, 2, lanes).

        They differ by round-off, which is enough to send them along different curves.
        """
        if self.odd:
            x[-1] = (x[-1, 0] + x[-1, 1]) / 2

    # -- two curves -----------------------------------------------------------------------------------------------

    def two_curve_temperature(self, y: Array, shift: Array, lanes: Array | None = None) -> tuple[Array, Array, Array]:
        """(T, dT/dy, T on the resting line) as in ``Rod.temperature``."""
        t_rest, b_rest = self.energy.at(y - shift, lanes)
        t_melt, b_melt = self.melting.at(y, lanes)
        t_cool, b_cool = self.crystallising.at(y, lanes)
        cool = t_cool > t_rest
        t, b = np.where(cool, t_cool, t_rest), np.where(cool, b_cool, b_rest)
        melt = t_melt < t
        return np.where(melt, t_melt, t), np.where(melt, b_melt, b), t_rest

    def slope_along(self, y: Array, shift: Array, direction: Array) -> Array:
        """dT/dy at corners by the direction in which a cell moves, as in ``Rod.slope_along``."""
        t_rest, b_rest = self.energy.at(y - shift)
        t_melt, b_melt = self.melting.at(y)
        t_cool, b_cool = self.crystallising.at(y)
        b = np.where((t_melt < t_rest + CORNER) & (direction > 0.0), b_melt, b_rest)
        return np.where((t_cool > t_rest - CORNER) & (direction < 0.0), b_cool, b)

    def shift_after(self, y: Array, shift: Array, lanes: Array | None = None) -> Array:
        """Crystalline shift after a step that ends at y, as in ``Rod.crystalline_shift``."""
        t, _, t_rest = self.two_curve_temperature(y, shift, lanes)
        moved = t != t_rest
        after = np.array(shift)
        if np.any(moved):
            scale = self.share_scale.now if lanes is None else self.share_scale.of(lanes)
            resting = self.energy.inverse(t, moved, lanes)
            after[moved] = np.clip(y[moved] - resting, 0.0, np.broadcast_to(scale, y.shape)[moved])
        return after
