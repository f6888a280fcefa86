"""A section of rectangles on FiPy's own Grid2D (or CylindricalGrid2D), put together as FiPy's manual says. No code of thermokit's.

    TransientTerm(dh/dT) == DiffusionTerm(k) + sources - (h(T) - h_begun) / dt,   T, dh/dT, k renewed in every sweep

where the old value of a sweep is that of the sweep before, so that latent heat is conserved whatever the step. k between two
cells is the harmonic mean with the resistance of a contact in between; what a face exchanges enters its cells as a source, the
half cell up to the face in series. Every step has the two stages of the SDIRK of order 2 (Alexander 1977), each of which is one
implicit solve for FiPy.
"""

from __future__ import annotations

from itertools import pairwise, product
from typing import TYPE_CHECKING

import numpy as np

from validation.solvers.sections_answer import Answer
from validation.solvers.sections_data import Stuff, at, flux, pieces, touching
from validation.solvers.sections_quadratic import GAMMA, steps_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.section_problem import SectionProblem
    from validation.solvers.sections_data import Piece
    from validation.solvers.sections_shape import Look

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]

SWEEPS, STILL = 60, 1e-5  # of FiPy a stage; K
NEAR = 1e-7  # m, within which a place lies on a line of the lattice


class Lattice:
    """The grid: lines through all corners of the rectangles, and ``count`` cells between two of them, finer towards both."""

    def __init__(self, problem: SectionProblem, count: int):
        import fipy

        self.problem, self.count = problem, count
        corners = np.concatenate([np.asarray(region.outline, float) for region in problem.regions])
        self.lines = [np.unique(np.round(corners[:, axis], 9)) for axis in (0, 1)]
        share = (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, count + 1))) / 2.0
        self.edges = [
            np.unique(np.concatenate([a + (b - a) * share for a, b in pairwise(line)])) for line in self.lines
        ]
        (dx, dy), origin = (np.diff(e) for e in self.edges), [[self.edges[0][0]], [self.edges[1][0]]]
        kind = fipy.CylindricalGrid2D if problem.axisymmetric else fipy.Grid2D
        self.mesh = kind(dx=dx, dy=dy) + origin if not problem.axisymmetric else kind(dx=dx, dy=dy, origin=origin)
        self.ring = 2.0 * np.pi if problem.axisymmetric else 1.0  # FiPy's rings are those of one radian
        self.centres = np.array(self.mesh.cellCenters.value)
        self.shape = (len(dy), len(dx))
        self.region = np.full(self.centres.shape[1], -1)
        for number, region in enumerate(problem.regions):  # one that lies in another stands after it
            low, high = np.min(region.outline, axis=0), np.max(region.outline, axis=0)
            mine = ((self.centres > low[:, None]) & (self.centres < high[:, None])).all(axis=0)
            self.region[mine] = number
        if (self.region < 0).any():
            raise ValueError("the rectangles do not fill their box")
        self.stuffs = [Stuff(region.medium) for region in problem.regions]
        self.volume = np.array(self.mesh.cellVolumes) * self.ring

    def by_region(self, name: str, t: Array) -> Array:
        """A property of the cells' media at their temperatures."""
        out = np.empty(len(t))
        for number, stuff in enumerate(self.stuffs):
            mine = self.region == number
            out[mine] = getattr(stuff, name)(t[mine])
        return out

    def read(self, t: Array, look: Look) -> Array:
        """Values at places, between the centres of the cells of one tile, which is of the place's own region."""
        from scipy.interpolate import RegularGridInterpolator

        values, regions = t.reshape(self.shape), self.region.reshape(self.shape)
        x, y = (np.diff(e) / 2.0 + e[:-1] for e in self.edges)
        out = np.empty(len(look.where))
        for i, ((px, py), region) in enumerate(zip(look.where, look.which, strict=True)):
            near = [
                {int(np.clip(np.searchsorted(line, p + off) - 1, 0, len(line) - 2)) for off in (-NEAR, NEAR)}
                for line, p in zip(self.lines, (px, py), strict=True)
            ]
            tiles = [tuple(slice(j * self.count, (j + 1) * self.count) for j in tile) for tile in product(*near)]
            across, up = next(tile for tile in tiles if regions[tile[1].start, tile[0].start] == region)
            tile = RegularGridInterpolator((y[up], x[across]), values[up, across], bounds_error=False, fill_value=None)
            out[i] = tile([[py, px]])[0]
        return out


class Faces:
    """Which faces of cells lie on a named edge or between two regions."""

    def __init__(self, lattice: Lattice):
        mesh, problem = lattice.mesh, lattice.problem
        centres = np.array(mesh.faceCenters.value)
        self.area = np.array(mesh._faceAreas) * lattice.ring
        ids = np.ma.array(mesh.faceCellIDs)
        first = np.asarray(ids[0].filled(0))
        second = np.asarray(ids[1].filled(-1))
        self.inner = second >= 0
        self.first, self.second = first, np.where(self.inner, second, first)
        self.half = [np.hypot(*(centres - lattice.centres[:, cells])) for cells in (self.first, self.second)]
        self.named: dict[str, Whole] = {}
        for edge in problem.edges:
            start, run = np.array(edge.start)[:, None], np.array(edge.end) - np.array(edge.start)
            share = np.clip(run @ (centres - start) / (run @ run), 0.0, 1.0)
            off = np.hypot(*(centres - start - share * run[:, None]))
            self.named[edge.name] = np.flatnonzero((off < 1e-9) & ~self.inner)
        names = [region.name for region in problem.regions]
        one, other = lattice.region[self.first], lattice.region[self.second]
        self.contacts: dict[frozenset[str], Whole] = {}
        for pair in {(min(a, b), max(a, b)) for a, b in zip(one, other, strict=True) if a != b}:
            on = (np.minimum(one, other) == pair[0]) & (np.maximum(one, other) == pair[1])
            self.contacts[frozenset((names[pair[0]], names[pair[1]]))] = np.flatnonzero(on)


class GridRun:
    """One run through all pieces."""

    def __init__(self, problem: SectionProblem, count: int, watched: int):
        import fipy
        from fipy.solvers.scipy import LinearLUSolver

        if any(span.absent for span in problem.spans) or problem.channels:
            raise ValueError("a grid of rectangles has no channels, and nothing leaves it")
        self.lattice = lattice = Lattice(problem, count)
        self.problem, self.watched, self.faces = problem, watched, Faces(lattice)
        begun = np.array([region.start for region in problem.regions], float)[lattice.region]
        self.t = fipy.CellVariable(mesh=lattice.mesh, value=begun, hasOld=True)
        self.c, self.given, self.taken = (fipy.CellVariable(mesh=lattice.mesh, value=1.0) for _ in range(3))
        self.k = fipy.FaceVariable(mesh=lattice.mesh, value=0.0)
        self.equation = fipy.TransientTerm(coeff=self.c) == (
            fipy.DiffusionTerm(coeff=self.k) + self.given - fipy.ImplicitSourceTerm(coeff=self.taken)
        )
        self.solver = LinearLUSolver()

    def between(self, t: Array, piece: Piece, local: float) -> Array:
        """Conductivity at the faces of the cells [W/m/K], contacts included."""
        faces, k = self.faces, self.lattice.by_region("conductivity", t)
        resistance = faces.half[0] / k[faces.first] + faces.half[1] / k[faces.second]
        for pair, on in faces.contacts.items():
            resistance[on] += 1.0 / touching(self.problem, piece.span, pair, local)
        return np.where(faces.inner, (faces.half[0] + faces.half[1]) / resistance, 0.0)

    def outside(self, t: Array, piece: Piece, local: float) -> dict[str, tuple[Whole, Array, Array]]:
        """Face -> (its cells, given [W], taken [W/K]) of heat given - taken T, made linear about the face's temperature."""
        faces, k, found = self.faces, self.lattice.by_region("conductivity", t), {}
        for name, on in faces.named.items():
            if name not in piece.span.faces:
                continue
            cells = faces.first[on]
            inward = k[cells] / faces.half[0][on]
            surface = t[cells].copy()
            for _ in range(20):  # the temperature of the face itself, between the cell's and what it sees
                q, slope = flux(piece.span.faces[name], local, surface)
                surface = surface + (q + inward * (t[cells] - surface)) / (inward - slope)
            q, slope = flux(piece.span.faces[name], local, surface)
            whole = -slope * inward / (inward - slope)  # W/m2/K from the cell's centre
            area = faces.area[on]
            found[name] = (cells, area * (q + whole * t[cells]), area * whole)
        return found

    def step(self, piece: Piece, time: float, dt: float) -> dict[str, float]:
        """One step that begins at a time; heat in by each face [J/m]."""
        begun, part = self.lattice.by_region("heat", np.array(self.t.value)), GAMMA * dt
        first = self.stage(piece, begun, time + part, part)
        gained = self.lattice.by_region("heat", np.array(self.t.value)) - begun
        last = self.stage(piece, begun + (1.0 - GAMMA) / GAMMA * gained, time + dt, part)
        return {name: dt * ((1.0 - GAMMA) * first[name] + GAMMA * last[name]) for name in first}

    def stage(self, piece: Piece, begun: Array, time: float, dt: float) -> dict[str, float]:
        """One implicit solve from heat contents [J/m3]; power in by each face [W/m]."""
        lattice, local = self.lattice, piece.local(time)
        for sweep in range(SWEEPS):
            t = np.array(self.t.value)
            self.t.updateOld()
            self.c.setValue(lattice.by_region("capacity", t))
            self.k.setValue(self.between(t, piece, local))
            given = self.sources(piece, local) - lattice.volume * (lattice.by_region("heat", t) - begun) / dt
            taken, outside = np.zeros(len(t)), self.outside(t, piece, local)
            for cells, gives, takes in outside.values():
                np.add.at(given, cells, gives)
                np.add.at(taken, cells, takes)
            self.given.setValue(given / lattice.volume)
            self.taken.setValue(taken / lattice.volume)
            self.equation.sweep(var=self.t, dt=dt, solver=self.solver)
            new = np.array(self.t.value)
            if float(np.abs(new - t).max()) < STILL:
                return {
                    name: float((gives - takes * new[cells]).sum()) for name, (cells, gives, takes) in outside.items()
                }
            if sweep > SWEEPS // 3:
                self.t.setValue((new + t) / 2.0)
        raise RuntimeError(f"FiPy's sweeps did not converge at {time:g} s")

    def sources(self, piece: Piece, local: float) -> Array:
        """Heat sources of the cells [W]."""
        heat = np.array([at(region.heat, piece.span_begun + local) for region in self.problem.regions])
        return np.asarray(heat[self.lattice.region] * self.lattice.volume)

    def go(self, look: Look, each: int) -> Answer:
        """Through all pieces in the steps of ``steps_of``."""
        rows, extremes, heat, track = [], [], dict.fromkeys(self.problem.face_names, 0.0), []
        mine = self.lattice.region == self.watched
        for piece in pieces(self.problem):
            time = piece.begun
            for step in steps_of(piece.length, each):
                for name, amount in self.step(piece, time, step).items():
                    heat[name] += amount
                time += step
                t = np.array(self.t.value)
                track.append((time, float(t[mine].max())))
                if np.any(np.abs(look.times - time) < 1e-6 * step):
                    rows.append(self.lattice.read(t, look))
                    extremes.append((float(t.max()), float(t.min()), float(t[mine].max())))
        hottest, coldest, peak = (np.array(column) for column in zip(*extremes, strict=True))
        line = np.array(track).T
        return Answer(np.array(rows), hottest, coldest, peak, heat, (line[0], line[1]))


def march_grid(problem: SectionProblem, look: Look, count: int, each: int, watched: int = 0) -> Answer:
    """Through all spans on a grid of ``count`` cells a tile."""
    return GridRun(problem, count, watched).go(look, each)
