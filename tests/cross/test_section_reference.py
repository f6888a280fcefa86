"""The reference section computed once more: isoparametric biquadratic elements on quadrilaterals that follow the channels.

Nothing of the section kernel is used. Held against the numbers that the kernel's own tests take for true, and against the kernel.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import SectionRun
from thermokit.conduction.section_mesh import mesh_section
from thermokit.conduction.section_mesh_places import interpolation
from validation.speed.mould_section_peers import GAMMA, Shot, anderson
from validation.speed.mould_section_problem import AIR, CONTACT, HOT, KELVIN, LEVEL, WALL, WARM, WATCH, problem

skfem = pytest.importorskip("skfem")
pytestmark = pytest.mark.long

TIME, HOTTEST = 17.7446, 80.3906
POINTS = np.array([(60, 0), (50, 0), (60, -30), (60, -60), (0, -60)]) * 1e-3
TEMPERATURES = [34.9447, 35.0020, 26.6787, 26.7830, 27.0839]
CHANNELS = [10248.4, 10366.7, 10429.6, 10366.7, 10248.4]
CENTRES = [(0.02 * i, -0.015) for i in range(1, 6)]
RADIUS = 0.005
#: (steps, length [s]) of a stage of the cycle, short at first
STEPS = {20.0: ((20, 0.005), (30, 0.03), (190, 0.1)), 5.0: ((10, 0.01), (18, 0.05), (40, 0.1))}
ACROSS, ROUND = 12, 9  # elements along a pitch of the face, and from a channel outwards


def lines(a: float, b: float, count: int, power: float = 1.0) -> np.ndarray:
    """From a to b, closer together towards b."""
    return b + (a - b) * np.linspace(1.0, 0.0, count + 1) ** power


FACE = lines(0.01, 0.11, 5 * ACROSS)  # x of what touches the part
UP = lines(-0.03, 0.0, 14, 1.6)


def rectangle(xs: np.ndarray, ys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(points (2, n), quadrilaterals (4, cells))."""
    x, y = np.meshgrid(xs, ys, indexing="ij")
    number = np.arange(x.size).reshape(x.shape)
    quads = [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]]
    return np.stack([x.ravel(), y.ravel()]), np.stack([q.ravel() for q in quads])


def ring(centre: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """The block of a pitch about a channel: rays from the channel's wall to the block's outline."""
    xs = lines(centre[0] - 0.01, centre[0] + 0.01, ACROSS)
    outline = np.concatenate(
        [[(x, UP[0]) for x in xs[:-1]], [(xs[-1], y) for y in UP[:-1]], [(x, 0.0) for x in xs[:0:-1]],
         [(xs[0], y) for y in UP[:0:-1]]]
    )  # fmt: skip
    away = outline - centre
    wall = centre + RADIUS * away / np.hypot(*away.T)[:, None]
    share = np.linspace(0.0, 1.0, ROUND + 1)[:, None, None] ** 1.2
    points = (wall + share * (outline - wall)).reshape(-1, 2).T
    n = len(outline)
    i, j = np.meshgrid(np.arange(ROUND), np.arange(n), indexing="ij")
    after = (j + 1) % n
    quads = [i * n + j, (i + 1) * n + j, (i + 1) * n + after, i * n + after]
    return points, np.stack([q.ravel() for q in quads])


def joined(parts: list[tuple[np.ndarray, np.ndarray]]) -> Any:
    """One curved mesh of parts that share nodes; what lies on a channel is put on its circle."""
    points = np.concatenate([p for p, _ in parts], axis=1)
    offsets = np.cumsum([0, *(p.shape[1] for p, _ in parts)])
    quads = np.concatenate([q + o for (_, q), o in zip(parts, offsets[:-1], strict=True)], axis=1)
    _, first, number = np.unique(np.round(points, 9), axis=1, return_index=True, return_inverse=True)
    mesh = skfem.MeshQuad2.from_mesh(skfem.MeshQuad(np.ascontiguousarray(points[:, first]), number.ravel()[quads]))
    x = mesh.doflocs.copy()
    facets, corners = mesh.facets, x[:, : mesh.p.shape[1]]
    for centre in CENTRES:
        on = np.abs(np.hypot(*(corners - np.array(centre)[:, None])) - RADIUS) < 1e-9
        mine = np.flatnonzero(on[facets].all(axis=0))
        away = x[:, mesh.dofs.facet_dofs[0, mine]] - np.array(centre)[:, None]
        x[:, mesh.dofs.facet_dofs[0, mine]] = np.array(centre)[:, None] + RADIUS * away / np.hypot(*away)
    middles = x[:, mesh.dofs.facet_dofs[0][mesh.t2f]].sum(axis=1) / 2 - x[:, mesh.t].sum(axis=1) / 4
    x[:, mesh.dofs.interior_dofs[0]] = middles
    return skfem.MeshQuad2(x, mesh.t)


class Reference:
    """Mould and part as biquadratic elements, linear in everything."""

    def __init__(self) -> None:
        from scipy.sparse import bmat, coo_matrix
        from skfem.helpers import dot, grad

        left = lines(0.0, 0.01, 5, 1.3)
        right = 0.12 - left[::-1]
        below = lines(-0.06, -0.03, 8)
        mould = joined(
            [ring(c) for c in CENTRES]
            + [rectangle(left, UP), rectangle(right, UP)]
            + [rectangle(np.unique(np.round(np.concatenate([left, FACE, right]), 12)), below)]
        )
        part = joined([rectangle(FACE, 0.0015 - lines(0.0, 0.0015, 10, 1.4)[::-1])])
        element = skfem.ElementQuad2()
        stiff = skfem.BilinearForm(lambda u, v, w: dot(grad(u), grad(v)))
        mass = skfem.BilinearForm(lambda u, v, w: u * v)
        one = skfem.LinearForm(lambda v, w: 1.0 * v)
        bases = [skfem.Basis(m, element, intorder=5) for m in (mould, part)]
        k = [29.0 * stiff.assemble(bases[0]), 0.19 * stiff.assemble(bases[1])]
        c = [7800.0 * 460.0 * mass.assemble(bases[0]), 1050.0 * 2000.0 * mass.assemble(bases[1])]
        self.sizes = [b.N for b in bases]
        self.places = [b.doflocs for b in bases]

        def side(mesh: Any, test: Any) -> Any:
            return skfem.FacetBasis(
                mesh, element, facets=mesh.facets_satisfying(test, boundaries_only=True), intorder=5
            )

        def touched(x: np.ndarray) -> np.ndarray:
            return (np.abs(x[1]) < 1e-9) & (x[0] > 0.01) & (x[0] < 0.11)

        def wall(x: np.ndarray) -> np.ndarray:
            return np.any([np.hypot(x[0] - a, x[1] - b) < 1.01 * RADIUS for a, b in CENTRES], axis=0)

        on_mould, on_part = side(mould, touched), side(part, lambda x: np.abs(x[1]) < 1e-9)
        self.wall = [
            WALL * one.assemble(side(mould, lambda x, c=c: np.hypot(x[0] - c[0], x[1] - c[1]) < 1.01 * RADIUS))
            for c in CENTRES
        ]
        outside = side(mould, lambda x: ~wall(x) & ~touched(x))
        film = WALL * mass.assemble(side(mould, wall)) + AIR * mass.assemble(outside)
        given = WARM * (WALL * one.assemble(side(mould, wall)) + AIR * one.assemble(outside))
        # the same lines carry the same functions on both sides: unknowns are matched by their x
        ours, theirs = (
            np.flatnonzero((np.abs(p[1]) < 1e-9) & (p[0] > 0.01 - 1e-9) & (p[0] < 0.11 + 1e-9)) for p in self.places
        )
        ours = ours[np.argsort(self.places[0][0, ours])]
        theirs = theirs[np.argsort(self.places[1][0, theirs])]
        assert np.allclose(self.places[0][0, ours], self.places[1][0, theirs])
        match = coo_matrix((np.ones(len(ours)), (ours, theirs)), shape=tuple(self.sizes))
        bare, covered = mass.assemble(on_mould), mass.assemble(on_part)
        cross = -CONTACT * match @ covered
        shut = bmat([[k[0] + film + CONTACT * bare, cross], [cross.T, k[1] + CONTACT * covered]]).tocsc()
        both = bmat([[c[0], None], [None, c[1]]]).tocsc()
        self.stages = [
            (20.0, shut, both, np.concatenate([given, np.zeros(self.sizes[1])])),
            (5.0, (k[0] + film + AIR * bare).tocsc(), c[0].tocsc(), given + AIR * WARM * one.assemble(on_mould)),
        ]
        self.factors: dict[tuple[float, float], Any] = {}

    def cycle(self, start: np.ndarray) -> Shot:
        """A cycle from temperatures of the mould: SDIRK2 in prescribed steps; ``heat``, ``end`` : of it, kept aside."""
        from scipy.sparse.linalg import splu

        self.heat = np.zeros(len(CENTRES))
        u, time, before = np.concatenate([start, np.full(self.sizes[1], HOT)]), np.nan, HOT - WARM
        for duration, k, m, load in self.stages:
            u, at = u[: k.shape[0]], 0.0
            for count, h in STEPS[duration]:
                if (duration, h) not in self.factors:
                    self.factors[duration, h] = splu((m + GAMMA * h * k).tocsc(), permc_spec="MMD_AT_PLUS_A")
                solve = self.factors[duration, h].solve
                for _ in range(count):
                    known = m @ u
                    first = solve(known + GAMMA * h * load)
                    u = solve(known + (1 - GAMMA) * h * (load - k @ first) + GAMMA * h * load)
                    at += h
                    for weight, t in ((1 - GAMMA, first), (GAMMA, u)):
                        self.heat += weight * h * np.array([w @ (t[: self.sizes[0]] - WARM) for w in self.wall])
                    if duration == 20.0:
                        peak = u[self.sizes[0] :].max() - WARM
                        if before > LEVEL - WARM >= peak:
                            time = at - h * np.log((LEVEL - WARM) / peak) / np.log(before / peak)
                        before = peak
            if duration == 20.0:
                self.end = u
        return Shot(u[: self.sizes[0]], float(time), float(before))


@cache
def found() -> tuple[Reference, Shot]:
    reference = Reference()
    kept = np.arange(reference.sizes[0])
    u, _ = anderson(reference.cycle, np.full(reference.sizes[0], WARM), kept, 1e-3)
    return reference, reference.cycle(u)


def test_the_numbers_that_are_taken_for_true() -> None:
    reference, shot = found()
    assert shot.time == pytest.approx(TIME, abs=5e-4)
    assert shot.hottest + WARM - KELVIN == pytest.approx(HOTTEST, abs=2e-3)
    near = [int(np.argmin(np.hypot(*(reference.places[0] - point[:, None])))) for point in POINTS]
    assert reference.end[near] - KELVIN == pytest.approx(TEMPERATURES, abs=5e-4)
    assert reference.heat == pytest.approx(CHANNELS, rel=2e-5)


def test_the_kernel_at_many_places() -> None:
    """At the end of cooling, everywhere in the mould but beside the ends of the part, and along the middle of the part."""
    reference, _ = found()
    case = problem()
    mesh = mesh_section(case)
    end = settled(case, mesh, 0.001, np.zeros(0), (WATCH,), 0.003).history.ends[0].temperature
    xs, ys = (
        a.ravel() for a in np.meshgrid(np.arange(2, 120, 4) * 1e-3, np.array([-58, -45, -31, -24, -4, -1]) * 1e-3)
    )
    for places, values, region in (
        (reference.places[0], reference.end[: reference.sizes[0]], 0),
        (reference.places[1], reference.end[reference.sizes[0] :], 1),
    ):
        if region == 0:
            chosen = np.array(
                [int(np.argmin(np.hypot(places[0] - x, places[1] - y))) for x, y in zip(xs, ys, strict=True)]
            )
        else:
            chosen = np.flatnonzero(np.abs(places[1] - 0.0015) < 1e-9)
        inside = [np.hypot(*(places[:, chosen] - np.array(c)[:, None])) > 1.2 * RADIUS for c in CENTRES]
        chosen = chosen[np.all(inside, axis=0)]
        nodes, weights = interpolation(mesh, places[:, chosen].T, region)
        assert np.abs((weights * end[nodes]).sum(axis=1) - values[chosen]).max() < (0.02 if region == 0 else 0.05)


def test_steps_that_may_be_worse_early_are_as_right_in_the_end() -> None:
    """Held against steps a hundred times more exact, on one mesh: what is allowed early is gone at the ends of the spans."""
    case = problem()
    mesh = mesh_section(case, 0.5)
    exact = SectionRun(case, mesh, 3e-4).record(np.zeros(0), watches=(WATCH,))
    strict, loose = (SectionRun(case, mesh, 0.03, early).record(np.zeros(0), watches=(WATCH,)) for early in (1.0, 10.0))
    assert loose.accepted < 0.7 * strict.accepted
    for history in (strict, loose):
        assert history.crossings["cool"] == pytest.approx(exact.crossings["cool"], abs=0.01)
        assert history.heat.mismatch < 1e-10
        for end, other in zip(history.ends, exact.ends, strict=True):
            assert np.nanmax(np.abs(end.temperature - other.temperature)) < 2 * 0.03
