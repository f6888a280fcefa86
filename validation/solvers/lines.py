"""The method of lines by SUNDIALS' CVODE (scikit-sundae): cells, faces, heat content and rates of its own, BDF to order 5.

Unknowns, cell by cell: heat content over a specific heat [K], and the degrees of its reactions. The crystalline share of media
with two curves rests while CVODE steps and is brought up to date at many stops; between two stops a cell that turns round
is late by as much as it moves between them, which the halving shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.problem import Problem
from validation.solvers.data import SIGMA, Heat, Piece, conductivity, pieces
from validation.solvers.laws import rate_of
from validation.solvers.mesh import CRYSTALLINE, Profile, Rings

Array = NDArray[np.float64]
STOPS = 15  # of the crystalline share in a piece of the rough run
RELATIVE, KELVIN, DEGREE = 1e-7, 1e-5, 1e-8


class Body:
    """A leg as ordinary differential equations; ``enter`` a piece before use."""

    def __init__(self, problem: Problem, start: Mapping[str, Profile]):
        self.problem, self.rings = problem, Rings(problem)
        rings = self.rings
        self.heats = [Heat(la.medium) for la in problem.layers]
        self.rates = [[(r.state, float(r.heat), rate_of(r.rate)) for r in la.reactions] for la in problem.layers]
        size = np.repeat([1 + len(rates) for rates in self.rates], [la.cells for la in problem.layers])
        first = np.concatenate([[0], np.cumsum(size)])
        self.at, self.size, self.band = first[:-1], int(first[-1]), int(size.max())
        self.scale = np.concatenate([np.full(la.cells, h.cp) for la, h in zip(problem.layers, self.heats, strict=True)])
        self.y = np.zeros(self.size)
        self.share: list[Array | None] = []
        for i, (la, cut) in enumerate(zip(problem.layers, rings.cut, strict=True)):
            before, places = start[la.name], rings.places(i)
            t = before.temperature_at(places)[0]
            share = None
            if self.heats[i].two:
                kept = CRYSTALLINE in before.states
                share = before.state_at(CRYSTALLINE, places)[0] if kept else self.heats[i].start_share(t)
                share = np.clip(share, 0.0, 1.0)
            self.share.append(share)
            self.y[self.at[cut]] = self.heats[i].content(t, share) / self.heats[i].cp
            for j, (name, _, _) in enumerate(self.rates[i]):
                begun = np.ravel(np.asarray(la.reactions[j].start, float))
                here = before.state_at(name, places)[0] if name in before.states else np.zeros(la.cells) + begun
                self.y[self.at[cut] + 1 + j] = here
        self.tolerance = np.full(self.size, DEGREE)
        self.tolerance[self.at] = KELVIN
        self.piece: Piece | None = None

    def temperature(self, y: Array) -> Array:
        """Of all cells [K]."""
        t = np.empty(self.rings.n)
        for heat, share, cut in zip(self.heats, self.share, self.rings.cut, strict=True):
            t[cut] = heat.temperature(y[self.at[cut]] * heat.cp, share)
        return t

    def conductivities(self, t: Array) -> Array:
        """Of all cells [W/m/K]."""
        return np.concatenate(
            [conductivity(la.medium, t[cut]) for la, cut in zip(self.problem.layers, self.rings.cut, strict=True)]
        )

    def surfaces(self, t: Array, k: Array, time: float, piece: Piece) -> tuple[float, float]:
        """Temperatures of the inner and outer face [K]; on an axis that of the innermost cell."""
        rings = self.rings
        inner = float(t[0])
        if rings.area[0] > 0.0:
            inner = piece.inner.surface(time, float(t[0]), float(k[0] / (rings.inward[0] * rings.area[0])))
        elif rings.n > 1:  # the line through the two innermost nodes in r^2
            r = rings.node[:2] ** 2
            inner = float(t[0] - (t[1] - t[0]) * r[0] / (r[1] - r[0]))
        return inner, piece.outer.surface(time, float(t[-1]), float(k[-1] / (rings.outward[-1] * rings.area[-1])))

    def heating(self, t: Array, k: Array, faces: tuple[float, float], time: float, piece: Piece) -> Array:
        """Heat into every cell but that of reactions [W per m2, radian or steradian]."""
        rings = self.rings
        flow = np.diff(t) / (rings.outward[:-1] / k[:-1] + rings.inward[1:] / k[1:] + rings.joint)
        out = np.zeros(rings.n)
        out[:-1] += flow
        out[1:] -= flow
        if rings.area[0] > 0.0:
            out[0] += (faces[0] - t[0]) * k[0] / rings.inward[0]
        out[-1] += (faces[1] - t[-1]) * k[-1] / rings.outward[-1]
        for made, cut in zip(piece.heat, rings.cut, strict=True):
            out[cut] += made.at(time) * rings.volume[cut]
        for density, factor in piece.sources:
            out += density * factor.at(time) * rings.volume
        if piece.emission is not None:
            out -= piece.emission * SIGMA * t**4 * rings.volume
        return out

    def growth(self, t: Array, y: Array, dy: Array) -> Array:
        """Rates of all degrees into dy; returns their heat in each cell [W/kg]."""
        made = np.zeros(self.rings.n)
        for rates, cut in zip(self.rates, self.rings.cut, strict=True):
            degrees = tuple(y[self.at[cut] + 1 + j] for j in range(len(rates)))
            for j, (_, heat, rate) in enumerate(rates):
                grown = rate(t[cut], degrees[: j + 1])
                dy[self.at[cut] + 1 + j] = grown
                if heat:
                    made[cut] += heat * grown
        return made

    def slope(self, clock: float, y: Array, dy: Array) -> None:
        """d(y)/dt at a time of the leg."""
        piece = self.piece
        assert piece is not None
        time, t = clock - piece.begin, self.temperature(y)
        k = self.conductivities(t)
        heat = self.heating(t, k, self.surfaces(t, k, time, piece), time, piece)
        made = self.growth(t, y, dy)
        dy[self.at] = (heat / (self.rings.volume * self.rings.density) + made) / self.scale

    def keep_share(self, y: Array) -> None:
        """Bring the crystalline shares up to date."""
        for i, (heat, cut) in enumerate(zip(self.heats, self.rings.cut, strict=True)):
            share = self.share[i]
            if share is not None:
                self.share[i] = heat.share_after(y[self.at[cut]] * heat.cp, share)

    def states(self, y: Array) -> list[dict[str, Array]]:
        """Degrees and crystalline shares by layer."""
        found = []
        for i, (rates, cut) in enumerate(zip(self.rates, self.rings.cut, strict=True)):
            own = {name: y[self.at[cut] + 1 + j] for j, (name, _, _) in enumerate(rates)}
            share = self.share[i]
            found.append(own if share is None else {**own, CRYSTALLINE: share.copy()})
        return found


class Record:
    """Rows of a body as they come."""

    def __init__(self, body: Body, times: Array):
        self.body, self.times, self.rows = body, times, list[Any]()

    def wanted(self, begin: float, end: float) -> Array:
        """Rows that are still wanted within a piece of time."""
        left = self.times[len(self.rows) :]
        return np.asarray(left[left <= end + 1e-9 * (end - begin)])

    def row(self, y: Array, clock: float, piece: Piece) -> None:
        """Keep the state at a time of the leg."""
        t = self.body.temperature(y)
        k = self.body.conductivities(t)
        self.rows.append((t, k, *self.body.surfaces(t, k, clock - piece.begin, piece), self.body.states(y)))

    def profiles(self) -> dict[str, Profile]:
        """All rows, by layer."""
        t, k, inner, outer = (np.array([row[i] for row in self.rows]) for i in range(4))
        layers = range(len(self.body.problem.layers))
        states = [{n: np.array([row[4][i][n] for row in self.rows]) for n in self.rows[0][4][i]} for i in layers]
        return self.body.rings.profiles(t, k, inner, outer, states)


class Cvode:
    """CVODE on equations by lines."""

    name, cells, rows = "CVODE", 80, 30

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Array, level: int) -> dict[str, Profile]:
        """Profiles at the times."""
        body = Body(problem, start)
        record = Record(body, times)
        cut = pieces(problem)
        y = body.y
        stops = STOPS * level if any(share is not None for share in body.share) else 1
        for piece in cut:
            body.piece = piece
            wanted = record.wanted(piece.begin, piece.end)
            slack = 1e-9 * (piece.end - piece.begin)
            ends = piece.begin + (piece.end - piece.begin) * np.linspace(0.0, 1.0, stops + 1)[1:] ** 2
            if stops > 1:
                ends = np.unique(np.concatenate([ends, wanted[wanted < piece.end - slack]]))
                ends = ends[np.concatenate([np.diff(ends) > slack, [True]])]
            begin = piece.begin
            for end in ends:
                inside = wanted[(wanted > begin + slack) & (wanted < end - slack)]
                found = self.integrated(body, np.concatenate([[begin], inside, [end]]), y)
                for clock, state in zip(inside, found[1:-1], strict=True):
                    record.row(state, clock, piece)
                y, begin = found[-1].copy(), float(end)
                body.keep_share(y)
                if len(record.wanted(piece.begin, end)):
                    record.row(y, end, piece)
        return record.profiles()

    def integrated(self, body: Body, times: Array, y: Array) -> Array:
        """States at the times, by CVODE from the first of them."""
        from sksundae.cvode import CVODE

        solver = CVODE(
            body.slope,
            linsolver="band",
            lband=body.band,
            uband=body.band,
            rtol=RELATIVE,
            atol=body.tolerance,
            max_num_steps=200_000,
        )
        found = solver.solve(times, y)
        if not found.success:
            raise RuntimeError(f"CVODE: {found.message}")
        # asked for the end alone, it gives every step that it made
        return np.asarray(found.y if len(times) > 2 else found.y[[0, -1]])
