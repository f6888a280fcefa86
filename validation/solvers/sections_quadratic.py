"""A section by quadratic triangles of scikit-fem with consistent heat contents, in steps of the two-stage SDIRK of order 2.

    integral of h(T) v  +  integral of k(T) grad T . grad v  =  faces + joints + sources

Sides are integrated by Simpson's rule at their three nodes. Where properties depend on temperature a Newton iteration keeps its
matrix for as long as it converges fast; regions of constant properties are assembled once. Steps double from group to group
(short ones after each switch), so that few matrices have to be factored.

Source of the scheme: Alexander, SIAM J. Numer. Anal. 14 (1977) 1006.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from validation.solvers.sections_answer import Answer
from validation.solvers.sections_data import Stuff, at, flux, is_heated, pieces, touching
from validation.solvers.sections_shape import Shape

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.section_problem import SectionMesh, SectionProblem
    from validation.solvers.sections_data import Piece
    from validation.solvers.sections_shape import Look

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]

GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
GROUPS = 6  # in which steps double
STILL = 1e-5  # K: a Newton step that moves nothing further has converged
SLOW, MOST = 0.6, 30  # fall of a Newton step above which the matrix is renewed; steps after which it has failed
SIMPSON = np.array([1.0, 1.0, 4.0]) / 6.0  # both ends and the middle


def steps_of(length: float, each: int) -> list[float]:
    """Lengths of steps: ``each`` in every group, twice as long as those of the group before."""
    first = length / (each * (2**GROUPS - 1))
    return [first * 2.0**group for group in range(GROUPS) for _ in range(each)]


class Quadratic:
    """The elements of one mesh; watched : region whose hottest place is followed (index)."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, watched: int = 0):
        import skfem

        self.problem, self.watched = problem, watched
        self.shape = shape = Shape(problem, mesh)
        self.names = [region.name for region in problem.regions]
        self.stuffs = [Stuff(region.medium) for region in problem.regions]
        flat = skfem.MeshTri(shape.points.T.copy(), shape.triangles.T.copy())
        self.facet = {tuple(sorted(pair)): i for i, pair in enumerate(flat.facets.T.tolist())}
        self.basis = skfem.Basis(self._rounded(flat), skfem.ElementTriP2(), intorder=4)
        self.size = int(self.basis.N)
        self.parts = [Part(self, r) for r in range(len(self.names))]

    def _rounded(self, flat: Any) -> Any:
        """The same triangles with the middles of the sides round a channel on its circle."""
        import skfem

        curved = skfem.MeshTri2.from_mesh(flat)
        x, first = curved.doflocs.copy(), len(self.problem.edges)
        for number, channel in enumerate(self.problem.channels, start=first):
            mine = [
                self.facet[tuple(sorted(side))] for side in self.shape.sides[self.shape.side_face == number].tolist()
            ]
            middles = curved.dofs.facet_dofs[0, mine]
            centre = np.array(channel.centre)[:, None]
            away = x[:, middles] - centre
            x[:, middles] = centre + channel.diameter / 2.0 * away / np.hypot(*away)
        return skfem.MeshTri2(x, curved.t)

    def of_sides(self, ends: Whole) -> Whole:
        """(sides, 3) unknowns of sides: both ends and the middle."""
        middles = [self.facet[tuple(sorted(pair))] for pair in ends.tolist()]
        return np.column_stack([self.basis.nodal_dofs[0][ends], self.basis.facet_dofs[0][middles]])

    def areas(self, ends: Whole, face: Whole) -> Array:
        """(sides, 3) area of each unknown of a side by Simpson's rule."""
        out = self.shape.length(ends, face)[:, None] * SIMPSON
        if self.problem.axisymmetric:
            r = self.shape.points[ends, 0]
            out = out * 2.0 * np.pi * np.column_stack([r, r.mean(axis=1)])
        return np.asarray(out)

    def start(self) -> Array:
        """Temperatures at the start; where regions share unknowns, the mean by heat capacity."""
        heat, capacity = np.zeros(self.size), np.zeros(self.size)
        for r, region in enumerate(self.problem.regions):
            c = float(self.stuffs[r].capacity(np.array([region.start]))[0])
            share = c * self.parts[r].elements
            heat, capacity = heat + share * region.start, capacity + share
        return np.asarray(heat / capacity)

    def reader(self, look: Look) -> Any:
        """Matrix that reads values at the places, (places, unknowns)."""
        from scipy.sparse import coo_matrix

        rows, columns, values = [], [], []
        for r in np.unique(look.which):
            mine = np.flatnonzero(look.which == r)
            cells, shares = self.shape.locate(look.where[mine], int(r))
            for row, cell, share in zip(mine, cells, shares, strict=True):
                corners = self.shape.triangles[cell]
                pairs = [(0, 1), (1, 2), (2, 0)]
                middles = self.of_sides(np.array([[corners[a], corners[b]] for a, b in pairs]))[:, 2]
                rows += [row] * 6
                columns += [*self.basis.nodal_dofs[0][corners], *middles]
                values += [*(share * (2.0 * share - 1.0)), *(4.0 * share[a] * share[b] for a, b in pairs)]
        return coo_matrix(
            (np.array(values), (np.array(rows), np.array(columns))), shape=(len(look.where), self.size)
        ).tocsr()


class Part:
    """One region: its unknowns, and matrices that read value and gradient of a field at the elements' points (scikit-fem's)."""

    def __init__(self, system: Quadratic, region: int):
        from scipy.sparse import coo_matrix

        own = system.basis.with_elements(np.flatnonzero(system.shape.region == region))
        self.stuff = stuff = Stuff(system.problem.regions[region].medium)
        self.elements = np.bincount(own.element_dofs.ravel(), minlength=system.size)  # at each unknown
        self.dofs = np.flatnonzero(self.elements)
        points, count = own.dx.size, len(own.basis)
        rows = np.tile(np.arange(points), count)
        columns = np.concatenate([np.repeat(own.element_dofs[i], own.dx.shape[1]) for i in range(count)])

        def reader(values: Any) -> Any:
            every = np.concatenate([np.broadcast_to(v, own.dx.shape).ravel() for v in values])
            return coo_matrix((every, (rows, columns)), shape=(points, system.size)).tocsr()

        self.value = reader([np.asarray(f[0]) for f in own.basis])
        self.slopes = [reader([f[0].grad[axis] for f in own.basis]) for axis in (0, 1)]
        about = 2.0 * np.pi * own.global_coordinates()[0] if system.problem.axisymmetric else 1.0
        self.weight = (own.dx * about).ravel()
        self.volume = np.asarray(self.value.T @ self.weight)
        at_rest = np.full(system.size, 300.0)
        self.mass = self.mass_at(at_rest) if stuff.straight else None
        self.stiff = self.stiff_at(at_rest) if stuff.even else None

    def heat(self, t: Array) -> Array:
        """Heat content of the unknowns [J]."""
        return np.asarray(self.value.T @ (self.weight * self.stuff.heat(self.value @ t)))

    def conducted(self, t: Array) -> Array:
        """What conduction takes from the unknowns [W]."""
        k = self.weight * self.stuff.conductivity(self.value @ t)
        return np.asarray(sum(slope.T @ (k * (slope @ t)) for slope in self.slopes))

    def mass_at(self, t: Array) -> Any:
        """Slope of ``heat`` [J/K]."""
        return self.value.T @ self.value.multiply((self.weight * self.stuff.capacity(self.value @ t))[:, None]).tocsr()

    def stiff_at(self, t: Array) -> Any:
        """Slope of ``conducted`` without dk/dT [W/K]."""
        k = (self.weight * self.stuff.conductivity(self.value @ t))[:, None]
        return sum(slope.T @ slope.multiply(k).tocsr() for slope in self.slopes)


class Stage:
    """One piece of one span: what is there and how it is solved."""

    def __init__(self, system: Quadratic, piece: Piece):
        self.system, self.piece = system, piece
        shape = system.shape
        shown = np.array([name not in piece.span.absent for name in system.names])
        self.regions = [int(r) for r in np.flatnonzero(shown)]
        self.there = np.zeros(system.size, bool)
        for r in self.regions:
            self.there[system.parts[r].dofs] = True
        self.free = np.flatnonzero(self.there)
        both = shown[shape.joint_regions].all(axis=1)
        first, second = shape.joints[:, :2], shape.joints[:, 2:]
        bare = [shown[shape.joint_regions[:, i]] & ~both for i in (0, 1)]
        mine = shown[shape.side_region]
        ends = np.concatenate([shape.sides[mine], first[bare[0]], second[bare[1]]])
        face = np.concatenate([shape.side_face[mine], shape.joint_face[bare[0]], shape.joint_face[bare[1]]])
        areas, unknowns = system.areas(ends, face), system.of_sides(ends)
        self.faces = {
            name: (unknowns[face == i].ravel(), areas[face == i].ravel())
            for i, name in enumerate(system.problem.face_names)
            if name in piece.span.faces and (face == i).any()
        }
        self.joints = []
        pairs = np.sort(shape.joint_regions[both], axis=1)
        one, other = system.of_sides(first[both]), system.of_sides(second[both])
        areas = system.areas(first[both], np.full(int(both.sum()), -1))
        for pair in np.unique(pairs, axis=0):
            on = (pairs == pair).all(axis=1)
            key = frozenset((system.names[pair[0]], system.names[pair[1]]))
            self.joints.append((key, one[on].ravel(), other[on].ravel(), areas[on].ravel()))
        parts = [system.parts[r] for r in self.regions]
        nothing = 0.0 * _eye(system.size)
        self.stiff = sum((part.stiff for part in parts if part.stiff is not None), start=nothing)
        self.mass = sum((part.mass for part in parts if part.mass is not None), start=nothing)
        self.bent = [part for part in parts if part.mass is None]  # whose heat content bends
        self.uneven = [part for part in parts if part.stiff is None]  # whose conductivity does
        self.linear = not self.bent and not self.uneven and not any(f.radiation for f in piece.span.faces.values())
        # a coefficient of a face or contact that changes with time changes the matrix
        varies = any(hasattr(x.coefficient, "time") for f in piece.span.faces.values() for x in f.exchange)
        varies |= any(
            hasattr(x, "time") for x in (*piece.span.touches.values(), *(c.conductance for c in system.problem.touches))
        )
        self.linear &= not varies
        self.factor: Any = None
        self.factor_step = np.nan
        self.kept: dict[float, Any] = {}  # factors of a linear stage, by the step

    def heat(self, t: Array) -> Array:
        """Heat content of all unknowns [J]."""
        return np.asarray(self.mass @ t + sum(part.heat(t) for part in self.bent))

    def flow(self, t: Array, time: float) -> tuple[Array, dict[str, float]]:
        """(heat into all unknowns [W], heat in by each face [W])."""
        system, local = self.system, self.piece.local(time)
        out = -(self.stiff @ t) - sum(part.conducted(t) for part in self.uneven)
        for r in self.regions:
            heat = system.problem.regions[r].heat
            if is_heated(heat):
                out = out + system.parts[r].volume * at(heat, self.piece.span_begun + local)
        by_face = {}
        for name, (unknowns, area) in self.faces.items():
            q = area * flux(self.piece.span.faces[name], local, t[unknowns])[0]
            by_face[name] = float(q.sum())
            out += np.bincount(unknowns, q, len(t))
        for pair, a, b, area in self.joints:
            q = area * touching(system.problem, self.piece.span, pair, local) * (t[b] - t[a])
            out += np.bincount(a, q, len(t)) - np.bincount(b, q, len(t))
        return out, by_face

    def renew(self, t: Array, step: float, time: float) -> None:
        """The matrix of a Newton iteration (its dk/dT left out), factored; step : gamma times the step [s]."""
        from scipy.sparse import coo_matrix
        from scipy.sparse.linalg import splu

        system, local = self.system, self.piece.local(time)
        matrix = self.mass + step * self.stiff
        for part in self.bent:
            matrix = matrix + part.mass_at(t)
        for part in self.uneven:
            matrix = matrix + step * part.stiff_at(t)
        rows: list[Any] = []
        columns: list[Any] = []
        values: list[Any] = []
        for name, (unknowns, area) in self.faces.items():
            slope = area * flux(self.piece.span.faces[name], local, t[unknowns])[1]
            rows, columns, values = [*rows, unknowns], [*columns, unknowns], [*values, -slope]
        for pair, a, b, area in self.joints:
            g = area * touching(system.problem, self.piece.span, pair, local)
            rows, columns, values = [*rows, a, b, a, b], [*columns, a, b, b, a], [*values, g, g, -g, -g]
        if rows:
            every = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
            matrix = matrix + step * coo_matrix(every, shape=matrix.shape)
        self.factor = splu(matrix.tocsc()[self.free][:, self.free], permc_spec="MMD_AT_PLUS_A")
        self.factor_step = step
        if self.linear:
            self.kept[step] = self.factor

    def implicit(self, guess: Array, base: Array, step: float, time: float) -> tuple[Array, Array, dict[str, float]]:
        """(T, heat content, heat by face) with heat(T) = base + step * flow(T, time)."""
        t = guess.copy()
        if abs(step / self.factor_step - 1.0) > 1e-9 or np.isnan(self.factor_step):
            self.factor_step = step
            if self.linear and (kept := [f for s, f in self.kept.items() if abs(s / step - 1.0) < 1e-9]):
                self.factor = kept[0]
            else:
                self.renew(t, step, time)
        before = np.inf
        for _ in range(MOST):
            content = self.heat(t)
            flow, _ = self.flow(t, time)
            left = (content - base - step * flow)[self.free]
            moved = -self.factor.solve(left)
            t[self.free] += moved
            size = float(np.abs(moved).max())
            if size < STILL or self.linear:
                return t, self.heat(t), self.flow(t, time)[1]
            if size > SLOW * before:
                self.renew(t, step, time)
            before = size
        raise RuntimeError(f"Newton's iteration did not converge at {time:g} s (last step {before:.3g} K)")


def _eye(n: int) -> Any:
    from scipy.sparse import identity

    return identity(n, format="csr")


def march_quadratic(
    problem: SectionProblem, mesh: SectionMesh, look: Look, each: int, watched: int = 0, shots: int = 1,
    still: float = 0.0,
) -> Answer:  # fmt: skip
    """Through all spans, ``shots`` times over (what was away comes back with its start); rows and heat are those of the last.

    look : of its times each must be the end of a step; each : steps of a group, even; still : [K], ends before
    that many shots once what stays has moved by less from one shot to the next. The heat of the faces is that of the stages.
    """
    system = Quadratic(problem, mesh, watched)
    reader = system.reader(look)
    begins = system.start()
    t, before = begins.copy(), frozenset[str]()
    stages = [Stage(system, piece) for piece in pieces(problem)]
    for _ in range(shots):
        rows: list[Array] = []
        extremes: list[tuple[float, float, float]] = []
        heat = dict.fromkeys(problem.face_names, 0.0)
        track: list[tuple[float, float]] = []
        at_start = t.copy()
        for stage in stages:
            piece = stage.piece
            for name in before - piece.span.absent:
                back = system.parts[system.names.index(name)].dofs
                t[back] = begins[back]
            before = piece.span.absent
            follow = system.names[watched] not in before
            time = piece.begun
            for step in steps_of(piece.length, each):
                base, part = stage.heat(t), GAMMA * step
                first, content, by_face = stage.implicit(t, base, part, time + part)
                for name, power in by_face.items():
                    heat[name] += (1.0 - GAMMA) * step * power
                moved = base + (1.0 - GAMMA) / GAMMA * (content - base)
                t, _, by_face = stage.implicit(first, moved, part, time + step)
                for name, power in by_face.items():
                    heat[name] += part * power
                time += step
                if follow:
                    track.append((time, float(t[system.parts[watched].dofs].max())))
                if np.any(np.abs(look.times - time) < 1e-6 * step):
                    full = np.where(stage.there, t, np.nan)
                    rows.append(reader @ np.where(stage.there, t, 0.0))
                    away = np.isin(look.which, [r for r in range(len(system.names)) if r not in stage.regions])
                    rows[-1][away] = np.nan
                    own = full[system.parts[watched].dofs]
                    extremes.append((float(np.nanmax(full)), float(np.nanmin(full)), float(own.max())))
        stays = np.isin(np.arange(system.size), np.concatenate([system.parts[r].dofs for r in stages[-1].regions]))
        if still and float(np.abs(t - at_start)[stays].max()) < still:
            break
    if len(rows) != len(look.times):
        raise ValueError("a time at which rows are asked for is not the end of a step")
    hottest, coldest, peak = (np.array(column) for column in zip(*extremes, strict=True))
    line = np.array(track).T if track else np.zeros((2, 0))
    return Answer(np.array(rows), hottest, coldest, peak, heat, (line[0], line[1]))


def steady_quadratic(problem: SectionProblem, mesh: SectionMesh, look: Look) -> Answer:
    """The steady state under the faces of the first span: one implicit step in which nothing is stored."""
    system = Quadratic(problem, mesh)
    stage = Stage(system, pieces(problem)[0])
    stage.mass, stage.bent = 0.0 * _eye(system.size), []  # no heat content: any step is as good as endless
    t, _, by_face = stage.implicit(system.start(), np.zeros(system.size), 1.0, 0.0)
    row = np.array([system.reader(look) @ t])
    return Answer(row, np.array([t.max()]), np.array([t.min()]), np.array([t.max()]), by_face)
