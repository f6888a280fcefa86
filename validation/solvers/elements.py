"""Finite elements by scikit-fem: quadratic lines with consistent masses, a two-stage implicit method with Newton.

Heat content, degrees and crystalline shares live at the quadrature points; nodes are doubled where layers touch with a contact.
Time is stepped by the two-stage diagonally implicit method of order 2 (Alexander 1977, gamma = 1 - 1/sqrt 2); a step is taken
again where the straight line through its first stage misses its end by more than a bound, a quarter as much in the fine run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.problem import Problem
from validation.solvers.data import SIGMA, Heat, Piece, Side, conductivity, pieces
from validation.solvers.laws import rate_of
from validation.solvers.mesh import CRYSTALLINE, POWER, Profile

Array = NDArray[np.float64]
GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
MISS = 0.3  # K, that a straight line may miss the end of a step in the rough run
DEGREE = 0.005  # the same of a degree, for 1 K
NUDGE = 1e-3  # K, for slopes by difference
STILL = 1e-6  # K, that Newton's last step moves


@dataclass
class Inner:
    """What lives at the quadrature points: heat content [J/kg] and degrees by layer and state, (elements, points)."""

    content: Array
    degrees: list[list[Array]]


class Bars:
    """A leg as elements."""

    def __init__(self, problem: Problem, start: Mapping[str, Profile]):
        import skfem  # type: ignore[import-untyped]

        self.problem, self.p = problem, POWER[problem.shape]
        layers = problem.layers
        at = float(problem.inner_radius) if self.p else 0.0
        places: list[Array] = []
        lines: list[Any] = []
        self.span: list[tuple[float, float]] = []
        joints: list[tuple[int, int, float]] = []
        count = 0
        for i, la in enumerate(layers):
            own = at + np.asarray(la.edges) * float(la.thickness)
            shared = i > 0 and layers[i - 1].contact is None
            if i > 0 and not shared:
                joints.append((count - 1, count, float(layers[i - 1].contact or 0.0) * at**self.p))
            first = count - 1 if shared else count
            places.append(own[1:] if shared else own)
            lines.append(first + np.stack([np.arange(la.cells), np.arange(1, la.cells + 1)]))
            count = first + la.cells + 1
            self.span.append((at, float(own[-1])))
            at = float(own[-1])
        ends = np.cumsum([0, *(la.cells for la in layers)])
        self.cut = [slice(int(a), int(b)) for a, b in pairwise(ends)]
        mesh = skfem.MeshLine(np.concatenate(places)[None], np.concatenate(lines, axis=1))
        self.basis = skfem.Basis(mesh, skfem.ElementLineP2(), intorder=4)
        self.r = np.asarray(self.basis.global_coordinates())[0]
        self.rp = self.r**self.p
        self.area = (self.span[0][0] ** self.p, at**self.p)
        nodes = self.basis.nodal_dofs[0]
        self.first, self.last = int(nodes[0]), int(nodes[count - 1])
        self.joints = [(int(nodes[a]), int(nodes[b]), h) for a, b, h in joints]
        self.at = self.basis.doflocs[0]
        self.heats = [Heat(la.medium) for la in layers]
        self.rates = [[(r.state, float(r.heat), rate_of(r.rate)) for r in la.reactions] for la in layers]
        self.density = np.concatenate([np.full(la.cells, float(la.medium.density)) for la in layers])[:, None]
        self._forms(skfem)
        self._begin(start)

    def _forms(self, skfem: Any) -> None:
        self.load = skfem.LinearForm(lambda v, w: w.held * v + w.flow * v.grad[0])
        self.stiff = skfem.BilinearForm(lambda u, v, w: w.c * u * v + (w.k * u.grad[0] + w.dk * u) * v.grad[0])

    def dofs(self, i: int) -> Array:
        """Numbers of the unknowns of a layer, from its inner side outwards."""
        own = np.unique(self.basis.element_dofs[:, self.cut[i]])
        return np.asarray(own[np.argsort(self.at[own], kind="stable")])

    def shares(self, i: int, r: Array) -> Array:
        """Places of a layer as shares of its thickness."""
        a, b = self.span[i]
        return np.asarray((r - a) / (b - a))

    def _begin(self, start: Mapping[str, Profile]) -> None:
        self.t = np.zeros(self.basis.N)
        self.share: list[Array | None] = []
        for i, la in enumerate(self.problem.layers):
            own = self.dofs(i)
            self.t[own] = start[la.name].temperature_at(self.shares(i, self.at[own]))[0]
        degrees, content = [], np.zeros_like(self.r)
        for i, (la, cut) in enumerate(zip(self.problem.layers, self.cut, strict=True)):
            before = start[la.name]
            places = self.shares(i, self.r[cut]).ravel()

            def seen(
                name: str, else_: Any, before: Profile = before, places: Array = places, cut: slice = cut
            ) -> Array:
                found = before.state_at(name, places)[0] if name in before.states else np.zeros(len(places)) + else_
                return np.asarray(found).reshape(self.r[cut].shape)

            degrees.append([seen(r.state, np.ravel(np.asarray(r.start, float))) for r in la.reactions])
            # not from the nodes: one that two layers share cannot hold the temperatures of both before they touch
            t = before.temperature_at(places)[0].reshape(self.r[cut].shape)
            share = seen(CRYSTALLINE, self.heats[i].start_share(t).ravel()) if self.heats[i].two else None
            self.share.append(None if share is None else np.clip(share, 0.0, 1.0))
            content[cut] = self.heats[i].content(t, self.share[i])
        self.inner = Inner(content, degrees)

    def gauss(self, t: Array) -> Array:
        """Temperatures at the quadrature points."""
        return np.asarray(self.basis.interpolate(t))

    def contents(self, t: Array) -> Array:
        """Heat content at the quadrature points [J/kg]."""
        parts = zip(self.heats, self.share, self.cut, strict=True)
        return np.concatenate([heat.content(t[cut], share) for heat, share, cut in parts])

    def conductivities(self, t: Array) -> Array:
        """Conductivity there [W/m/K]."""
        return np.concatenate(
            [conductivity(la.medium, t[cut]) for la, cut in zip(self.problem.layers, self.cut, strict=True)]
        )

    def grown(self, t: Array, base: list[list[Array]], dt: float) -> tuple[list[list[Array]], Array]:
        """(degrees after an implicit step of dt from base, their heat [W/kg]) at the quadrature points."""
        made, found = np.zeros_like(t), []
        for rates, cut, begun in zip(self.rates, self.cut, base, strict=True):
            own: list[Array] = []
            for (_, heat, rate), a0 in zip(rates, begun, strict=True):
                a = a0.copy()
                for _ in range(25):
                    off = a - a0 - dt * rate(t[cut], (*own, a))
                    slope = 1.0 - dt * (rate(t[cut], (*own, a + 1e-7)) - rate(t[cut], (*own, a - 1e-7))) / 2e-7
                    change = off / np.where(slope > 0.05, slope, 0.05)
                    a = a - change
                    if np.max(np.abs(change)) < 1e-12:
                        break
                own.append(a)
                made[cut] += heat * (a - a0) / dt
            found.append(own)
        return found, made

    def stage(self, guess: Array, base: Inner, dt: float, clock: float, piece: Piece) -> tuple[Array, Inner] | None:
        """An implicit step of dt from base to a time of the leg: (temperatures, inner); None where Newton does not settle."""
        time, t = clock - piece.begin, guess.copy()
        for side, dof in ((piece.inner, self.first), (piece.outer, self.last)):
            if side.temperature is not None:
                t[dof] = side.temperature.at(time)
        extra = np.zeros_like(self.r)
        for heating, cut in zip(piece.heat, self.cut, strict=True):
            extra[cut] = heating.at(time)
        for density, factor in piece.sources:
            extra += density[:, None] * factor.at(time)
        off = np.zeros(len(self.r)) if piece.emission is None else SIGMA * piece.emission
        for _ in range(25):
            field = self.basis.interpolate(t)
            x, gradient = np.asarray(field), np.asarray(field.grad[0])
            content = self.contents(x)
            c = (self.contents(x + NUDGE) - self.contents(x - NUDGE)) / (2.0 * NUDGE)
            k = self.conductivities(x)
            dk = (self.conductivities(x + NUDGE) - self.conductivities(x - NUDGE)) / (2.0 * NUDGE)
            made = self.grown(x, base.degrees, dt)[1]
            hotter = self.grown(x + NUDGE, base.degrees, dt)[1] if any(self.rates) else made
            given = extra - off[:, None] * x**4 + self.density * made
            held = self.density * (content - base.content) / dt - given
            by_t = self.density * (c / dt - (hotter - made) / NUDGE) + 4.0 * off[:, None] * x**3
            residual = self.load.assemble(self.basis, held=held * self.rp, flow=k * gradient * self.rp)
            matrix = self.stiff.assemble(self.basis, c=by_t * self.rp, k=k * self.rp, dk=dk * gradient * self.rp)
            matrix = matrix.toarray()
            for a, b, h in self.joints:
                flow = h * (t[b] - t[a])
                residual[a] -= flow
                residual[b] += flow
                for i, j, v in ((a, a, h), (b, b, h), (a, b, -h), (b, a, -h)):
                    matrix[i, j] += v
            for side, dof, area in ((piece.inner, self.first, self.area[0]), (piece.outer, self.last, self.area[1])):
                self._face(side, dof, area, time, t, residual, matrix)
            change = np.asarray(np.linalg.solve(matrix, residual))
            largest = float(np.max(np.abs(change)))
            if not largest < 300.0:
                return None
            t = t - change
            if largest < STILL:
                x = self.gauss(t)
                return t, Inner(self.contents(x), self.grown(x, base.degrees, dt)[0])
        return None

    @staticmethod
    def _face(side: Side, dof: int, area: float, time: float, t: Array, residual: Array, matrix: Any) -> None:
        if area == 0.0:
            return
        if side.temperature is not None:
            matrix[dof, :] = 0.0
            matrix[dof, dof] = 1.0
            residual[dof] = 0.0
            return
        flux, slope = side.flux(time, float(t[dof]))
        residual[dof] -= area * flux
        matrix[dof, dof] += area * slope

    def step(self, dt: float, clock: float, piece: Piece) -> tuple[Array, Inner, float] | None:
        """(temperatures, inner, how far the straight line through the first stage misses them [K]) after dt."""
        part, weight = GAMMA * dt, (1.0 - GAMMA) / GAMMA
        one = self.stage(self.t, self.inner, part, clock + part, piece)
        if one is None:
            return None

        def base(before: Array, middle: Array) -> Array:
            return np.asarray(before + weight * (middle - before))

        pairs = zip(self.inner.degrees, one[1].degrees, strict=True)
        middle = [[base(a, b) for a, b in zip(u, v, strict=True)] for u, v in pairs]
        two = self.stage(one[0], Inner(base(self.inner.content, one[1].content), middle), part, clock + dt, piece)
        if two is None:
            return None
        missed = np.abs(two[0] - self.t - (one[0] - self.t) / GAMMA)
        for side, dof in ((piece.inner, self.first), (piece.outer, self.last)):
            if side.temperature is not None:
                missed[dof] = 0.0
        miss = float(np.max(missed))
        for a, b, c in zip(self.inner.degrees, one[1].degrees, two[1].degrees, strict=True):
            for u, v, w in zip(a, b, c, strict=True):
                miss = max(miss, float(np.max(np.abs(w - u - (v - u) / GAMMA))) / DEGREE)
        return *two, miss

    def take(self, new: Array, inner: Inner) -> None:
        """Go on from the end of a step."""
        for i, (heat, cut) in enumerate(zip(self.heats, self.cut, strict=True)):
            share = self.share[i]
            if share is not None:
                self.share[i] = heat.share_after(inner.content[cut], share)
        self.t, self.inner = new, inner


class Elements:
    """scikit-fem, quadratic elements."""

    name, cells, rows = "scikit-fem", 24, 30

    def leg(self, problem: Problem, start: Mapping[str, Profile], times: Array, level: int) -> dict[str, Profile]:
        """Profiles at the times."""
        bars, bound = Bars(problem, start), MISS / 4 ** (level - 1)
        rows: list[tuple[Array, list[list[Array]], list[Array | None]]] = []
        for piece in pieces(problem):
            length = piece.end - piece.begin
            shortest = 2e-5 * length  # with which a jump of a face is stepped over, whatever the straight line says
            clock, dt = piece.begin, shortest
            stops = [*times[(times > piece.begin + 1e-9 * length) & (times < piece.end - 1e-9 * length)], piece.end]
            for stop in stops:
                while stop - clock > 1e-12 * stop:
                    left = stop - clock
                    h = left if dt >= left else left / 2.0 if dt > left / 2.0 else dt
                    found = bars.step(h, clock, piece)
                    if found is None or (found[2] > 2.0 * bound and h > 1.01 * shortest):
                        dt = h / 3.0 if found is None else max(shortest, h / 3.0)
                        if dt < 1e-9 * length:
                            raise RuntimeError(f"scikit-fem: no step is short enough at {clock:g} s")
                        continue
                    bars.take(found[0], found[1])
                    clock = stop if h == left else clock + h
                    dt = max(dt, h) if h == left and h < dt else h
                    dt *= min(2.5, max(0.3, 0.85 * float(np.sqrt(bound / max(found[2], 1e-12)))))
                    dt = max(dt, shortest)
                if len(rows) < len(times) and stop >= times[len(rows)] - 1e-9 * length:
                    rows.append((bars.t, bars.inner.degrees, list(bars.share)))
        return _profiles(bars, rows)


def _profiles(bars: Bars, rows: list[Any]) -> dict[str, Profile]:
    found = {}
    for i, (la, cut) in enumerate(zip(bars.problem.layers, bars.cut, strict=True)):
        own = bars.dofs(i)
        xs = bars.shares(i, bars.r[cut]).ravel()
        order = np.argsort(xs)
        states = {
            name: np.array([row[1][i][j].ravel()[order] for row in rows])
            for j, (name, _, _) in enumerate(bars.rates[i])
        }
        if bars.share[i] is not None:
            states[CRYSTALLINE] = np.array([row[2][i].ravel()[order] for row in rows])
        mass = (bars.basis.dx * bars.rp)[cut].ravel()[order]
        inside = np.zeros(len(bars.r))
        inside[cut] = 1.0
        weight = bars.load.assemble(bars.basis, held=inside[:, None] * bars.rp, flow=0.0 * bars.rp)[own]
        t = np.array([row[0][own] for row in rows])
        found[la.name] = Profile(
            bars.shares(i, bars.at[own]), t, xs[order], states, slice(None), weight / weight.sum(), mass / mass.sum()
        )
    return found
