"""A section by linear triangles with lumped heat contents, assembled here with numpy, marched by CVODE (SUNDIALS).

    C_i(T_i) dT_i/dt = - sum over triangles of (k grad T . grad N_i) + faces + joints + sources,     lumped at the nodes

k of a triangle is the mean of that at its corners; a third of each triangle belongs to each corner (of a ring, by its own share of
the radius). Latent heat is in C_i as the slope of the heat content. CVODE chooses order and step; its Jacobian is given here
(without dk/dT, which Newton's method can do without).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
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

SAMPLES = 80  # of a piece, even: at which heat and the hottest place are looked at
MOST_STEPS = 20000


@dataclass(frozen=True)
class Tolerance:
    """Of CVODE, relative and in kelvin."""

    relative: float
    absolute: float


FINE, COARSE = Tolerance(1e-7, 1e-4), Tolerance(1e-6, 1e-3)


class Linear:
    """The matrices of one mesh. watched : region whose hottest place is followed (index)."""

    def __init__(self, problem: SectionProblem, mesh: SectionMesh, watched: int = 0):
        self.problem, self.watched = problem, watched
        self.shape = shape = Shape(problem, mesh)
        self.stuffs = [Stuff(region.medium) for region in problem.regions]
        self.names = [region.name for region in problem.regions]
        t, p, n = shape.triangles, shape.points, shape.count
        x, y = p[t, 0], p[t, 1]
        b = np.column_stack([y[:, 1] - y[:, 2], y[:, 2] - y[:, 0], y[:, 0] - y[:, 1]])
        c = np.column_stack([x[:, 2] - x[:, 1], x[:, 0] - x[:, 2], x[:, 1] - x[:, 0]])
        ring = 2.0 * np.pi * x.mean(axis=1) if problem.axisymmetric else np.ones(len(t))
        self.stiff = (b[:, :, None] * b[:, None, :] + c[:, :, None] * c[:, None, :]) * (ring / 4.0 / shape.area)[
            :, None, None
        ]
        thirds = np.repeat(shape.area[:, None] / 3.0, 3, axis=1)
        if problem.axisymmetric:  # integral of N_i 2 pi r
            thirds = thirds * 2.0 * np.pi * (x + x.sum(axis=1, keepdims=True)) / 4.0
        self.volume = [np.bincount(t[shape.region == r].ravel(), thirds[shape.region == r].ravel(), n)
                       for r in range(len(self.names))]  # fmt: skip
        self.own = [np.flatnonzero(v > 0.0) for v in self.volume]
        self.located: dict[int, tuple[Whole, Array]] = {}

    def ends(self, sides: Whole, face: Whole) -> Array:
        """(sides, 2) area of each end of a side [m2 for each metre, or of the ring]."""
        length = self.shape.length(sides, face)
        r = self.shape.points[sides, 0]
        if not self.problem.axisymmetric:
            return np.repeat(length[:, None] / 2.0, 2, axis=1)
        return np.asarray(2.0 * np.pi * length[:, None] * (r + r.sum(axis=1, keepdims=True)) / 6.0)

    def start(self) -> Array:
        """Temperatures at the start; where regions share nodes, the mean by heat capacity."""
        heat, capacity = np.zeros(self.shape.count), np.zeros(self.shape.count)
        for region, stuff, volume in zip(self.problem.regions, self.stuffs, self.volume, strict=True):
            own = volume * float(stuff.capacity(np.array([region.start]))[0])
            heat += own * region.start
            capacity += own
        return np.asarray(heat / capacity)

    def read(self, t: Array, there: NDArray[np.bool_], look: Look) -> Array:
        """Temperatures at places, NaN where their region is away."""
        out = np.full(len(look.where), np.nan)
        for number in np.unique(look.which):
            mine = look.which == number
            if int(number) not in self.located:
                self.located[int(number)] = self.shape.locate(look.where[mine], int(number))
            cells, shares = self.located[int(number)]
            nodes = self.shape.triangles[cells]
            out[mine] = np.where(there[nodes].all(axis=1), (t[nodes] * shares).sum(axis=1), np.nan)
        return out


class Stretch:
    """One piece: the nodes that are there, its conductances, and the right-hand side and Jacobian that CVODE asks for."""

    def __init__(self, system: Linear, piece: Piece):
        self.system, self.piece = system, piece
        shape = system.shape
        shown = np.array([name not in piece.span.absent for name in system.names])
        self.cells = np.flatnonzero(shown[shape.region])
        self.there = np.zeros(shape.count, bool)
        self.there[shape.triangles[self.cells].ravel()] = True
        self.free = np.flatnonzero(self.there)
        number = np.full(shape.count, -1)
        number[self.free] = np.arange(len(self.free))
        self.triangles = number[shape.triangles[self.cells]]
        self.local = system.stiff[self.cells]
        self.region = shape.region[self.cells]
        self.regions = [r for r in range(len(system.names)) if shown[r]]
        self.content = {r: (number[system.own[r]], system.volume[r][system.own[r]]) for r in self.regions}
        self.faces: dict[str, tuple[Whole, Array]] = {}
        self.joints: list[tuple[frozenset[str], Whole, Whole, Array]] = []
        self._sides(shown, number)
        self._pattern()

    def _sides(self, shown: NDArray[np.bool_], number: Whole) -> None:
        system, shape = self.system, self.system.shape
        both = shown[shape.joint_regions].all(axis=1)
        first, second = shape.joints[:, :2], shape.joints[:, 2:]
        bare = [shown[shape.joint_regions[:, i]] & ~both for i in (0, 1)]
        mine = shown[shape.side_region]
        ends = np.concatenate([shape.sides[mine], first[bare[0]], second[bare[1]]])
        face = np.concatenate([shape.side_face[mine], shape.joint_face[bare[0]], shape.joint_face[bare[1]]])
        area = system.ends(ends, face)
        for i, name in enumerate(system.problem.face_names):
            on = face == i
            if name in self.piece.span.faces and on.any():
                self.faces[name] = (number[ends[on]].ravel(), area[on].ravel())
        pairs = np.sort(shape.joint_regions[both], axis=1)
        area = system.ends(first[both], np.full(int(both.sum()), -1))
        for pair in np.unique(pairs, axis=0):
            on = (pairs == pair).all(axis=1)
            key = frozenset((system.names[pair[0]], system.names[pair[1]]))
            self.joints.append(
                (key, number[first[both][on]].ravel(), number[second[both][on]].ravel(), area[on].ravel())
            )

    def _pattern(self) -> None:
        """Places of the Jacobian's entries, column after column."""
        from scipy.sparse import coo_matrix

        n, t = len(self.free), self.triangles
        rows = [np.repeat(t, 3, axis=1).ravel(), np.arange(n)]
        columns = [np.tile(t, (1, 3)).ravel(), np.arange(n)]
        for _, a, b, _ in self.joints:
            rows += [a, b, a, b]
            columns += [b, a, a, b]
        self.rows, self.columns = np.concatenate(rows), np.concatenate(columns)
        key = self.columns * n + self.rows
        entries, self.slot = np.unique(key, return_inverse=True)
        self.entries = len(entries)
        self.row_of, self.column_of = entries % n, entries // n
        self.sparsity = coo_matrix((np.ones(self.entries), (self.row_of, self.column_of)), shape=(n, n)).tocsc()
        self.diagonal = np.flatnonzero(self.row_of == self.column_of)

    def conductivity(self, t: Array) -> Array:
        """Of each triangle [W/m/K]."""
        k = np.empty(len(self.cells))
        for r in self.regions:
            stuff, mine = self.system.stuffs[r], self.region == r
            k[mine] = stuff.k[1][0] if stuff.even else stuff.conductivity(t[self.triangles[mine]]).mean(axis=1)
        return k

    def capacity(self, t: Array) -> Array:
        """Of each node [J/K]."""
        c = np.zeros(len(t))
        for r, (nodes, volume) in self.content.items():
            c[nodes] += volume * self.system.stuffs[r].capacity(t[nodes])
        return c

    def flow(self, time: float, t: Array) -> Array:
        """Heat into each node [W]."""
        local, n = self.piece.local(time), len(t)
        ends = (self.local @ t[self.triangles][:, :, None])[:, :, 0] * self.conductivity(t)[:, None]
        q: Array = -np.bincount(self.triangles.ravel(), ends.ravel(), n).astype(float)
        for name, (nodes, area) in self.faces.items():
            q += np.bincount(nodes, area * flux(self.piece.span.faces[name], local, t[nodes])[0], n)
        for pair, a, b, area in self.joints:
            exchanged = area * touching(self.system.problem, self.piece.span, pair, local) * (t[b] - t[a])
            q += np.bincount(a, exchanged, n) - np.bincount(b, exchanged, n)
        for r, (nodes, volume) in self.content.items():
            heat = self.system.problem.regions[r].heat
            if is_heated(heat):
                q[nodes] += volume * at(heat, self.piece.span_begun + local)
        return q

    def rhs(self, time: float, t: Array, out: Array) -> None:
        """dT/dt, as CVODE asks for it."""
        out[:] = self.flow(time, t) / self.capacity(t)

    def jacobian(self, time: float, t: Array, rate: Array, out: Array) -> None:
        """d(dT/dt)/dT, entries by columns."""
        local, n = self.piece.local(time), len(t)
        k = self.conductivity(t)
        diagonal = np.zeros(n)
        for name, (nodes, area) in self.faces.items():
            diagonal += np.bincount(nodes, area * flux(self.piece.span.faces[name], local, t[nodes])[1], n)
        c = self.capacity(t)
        slope = (self.capacity(t + 0.01) - c) / 0.01
        values = [-(self.local * k[:, None, None]).ravel(), diagonal - rate * slope]
        for pair, _, _, area in self.joints:
            g = area * touching(self.system.problem, self.piece.span, pair, local)
            values += [g, g, -g, -g]
        out[:] = np.bincount(self.slot, np.concatenate(values), self.entries) / c[self.row_of]

    def solve(self, t: Array, times: Array, tolerance: Tolerance) -> Array:
        """(times, nodes that are there) at ascending times of the piece, from temperatures at its beginning."""
        from sksundae.cvode import CVODE

        with warnings.catch_warnings():
            # it says of every Jacobian that is given that its own will not be used
            warnings.filterwarnings("ignore", message="Custom sparse Jacobian", category=UserWarning)
            solver = CVODE(
                self.rhs, rtol=tolerance.relative, atol=tolerance.absolute, linsolver="sparse", sparsity=self.sparsity,
                jacfn=self.jacobian, max_num_steps=MOST_STEPS,
            )  # fmt: skip
        found = solver.solve(times, t)
        if not found.success:
            raise RuntimeError(f"CVODE: {found.message}")
        return np.asarray(found.y)


def march_cvode(
    problem: SectionProblem, mesh: SectionMesh, look: Look, tolerance: Tolerance, watched: int = 0, shots: int = 1
) -> Answer:
    """Through all spans, ``shots`` times over (what was away comes back with its start); rows and heat are those of the last."""
    from scipy.integrate import simpson

    system = Linear(problem, mesh, watched)
    begins = system.start()
    t, before = begins.copy(), frozenset[str]()
    out: dict[str, Any] = {}
    for _ in range(shots):
        rows: list[Array] = []
        extremes: list[tuple[float, float, float]] = []
        heat = dict.fromkeys(problem.face_names, 0.0)
        track: list[tuple[float, float]] = []
        for piece in pieces(problem):
            stretch = Stretch(system, piece)
            back = np.isin(system.names, list(before - piece.span.absent))
            for r in np.flatnonzero(back):
                t[system.own[r]] = begins[system.own[r]]
            before = piece.span.absent
            share = np.linspace(0.0, 1.0, SAMPLES + 1)
            sampled = piece.begun + piece.length * share**2
            asked = look.times[
                (look.times > piece.begun + 1e-9) & (look.times <= piece.begun + piece.length * (1.0 + 1e-9))
            ]
            every = np.unique(np.concatenate([sampled, np.minimum(asked, sampled[-1])]))
            found = stretch.solve(t[stretch.free], every, tolerance)
            at_samples = found[np.searchsorted(every, sampled)]
            for name, (nodes, area) in stretch.faces.items():
                face = piece.span.faces[name]
                power = [
                    float(area @ flux(face, piece.local(s), row[nodes])[0])
                    for s, row in zip(sampled, at_samples, strict=True)
                ]
                # the root of time as variable, in which what follows a jump is smooth
                heat[name] += float(simpson(np.array(power) * 2.0 * share * piece.length, x=share))
            if system.names[watched] not in piece.span.absent:
                own = np.searchsorted(stretch.free, system.own[watched])
                track += [(float(s), float(row[own].max())) for s, row in zip(sampled, at_samples, strict=True)]
            for time in asked:
                row = found[min(int(np.searchsorted(every, time - 1e-9)), len(every) - 1)]
                full = np.full(len(t), np.nan)
                full[stretch.free] = row
                rows.append(system.read(full, stretch.there, look))
                peak = full[system.own[watched]].max()
                extremes.append((float(np.nanmax(full)), float(np.nanmin(full)), float(peak)))
            t = t.copy()
            t[stretch.free] = found[-1]
        hottest, coldest, peak_rows = (np.array(column) for column in zip(*extremes, strict=True))
        line = np.array(track).T
        _, once = np.unique(line[0], return_index=True)
        out = {"temperature": np.array(rows), "hottest": hottest, "coldest": coldest, "peak": peak_rows, "heat": heat}
        out["track"] = (line[0][once], line[1][once])
    return Answer(**out)
