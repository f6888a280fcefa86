"""The equations of one body in one piece of time: d(state)/dt and its exact Jacobian, as closures on plain arrays.

State: energy coordinates y of the cells, and behind them the degrees of the layers that react. With C_i the capacity per
unit of y, G the conductances, q the heat into the body at a face of area A:

    dy_i/dt = [G_(i-1) (T_(i-1) - T_i) + G_i (T_(i+1) - T_i) + A q + sources - V emission sigma T_i^4]/C_i
              + kappa d(degree)/dt
    d(degree)/dt = rate(T, degrees),      kappa = heat of reaction/(energy of one unit of y)

A call costs about twenty numpy calls on short arrays, so everything that does not change is bound beforehand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.conduction.surface import scalar_face

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.pieces import Piece
    from thermokit.conduction.problem import Array, Problem, Reaction
    from thermokit.conduction.rod import Rod

    # slope(z, z[:cells], tau, out, out[:cells]) -> heat through the inner and outer face, and out of the depth (<= 0)
    Slope = Callable[[Array, Array, float, Array, Array], tuple[float, float, float]]


class Degree:
    """One reaction of the run: where it lives in the state vector and its couplings."""

    def __init__(self, reaction: Reaction, cells: slice, place: slice, earlier: list[Degree], kappa: Array):
        self.reaction = reaction
        self.evaluate = reaction.rate.evaluate
        self.cells = cells
        self.place = place
        self.earlier = earlier  # the degrees of the same layer that stand before it
        self.kappa = kappa  # heat of reaction per unit of the energy coordinate
        self.alone = not earlier
        self.by_energy: Array = kappa
        self.by_degree: tuple[Array, ...] = ()
        self.gain: Array = kappa  # d(degree)/dy of an eliminated stage
        self.pivot: Array = kappa
        self._own_heat: Array = kappa
        self._over_kappa: Array = kappa

    def linearise(self, temperature: Array, slope: Array, z: Array) -> None:
        """Exact derivatives at a state."""
        degrees = (*(z[e.place] for e in self.earlier), z[self.place])
        _, by_temperature, self.by_degree = self.reaction.rate.linearise(temperature[self.cells], degrees)
        self.by_energy = by_temperature * slope[self.cells]

    def longest_step(self) -> float:
        """The longest step [s] that still follows a degree growing out of itself: one of its own time constants.

        A step of several is unstable in the implicit equations, which would then hold a small degree down for ever, and no
        error would show it (autocatalytic laws from a small degree; with an exponent below 1 from none at all).
        """
        fastest = float(self.by_degree[-1].max())
        return 1.0 / fastest if fastest > 0.0 else float("inf")

    def eliminate(self, over: float, weight: Array, diagonal: Array) -> None:
        """Fold the degree into the diagonal of the stage equations, cell by cell: degree = offset + gain y.

        over : 1/(h gamma); weight : J/K of the cells, by which the equations are multiplied.
        """
        *before, own = self.by_degree
        self.pivot = 1.0 / (over - own)
        gain = self.by_energy
        for earlier, slope in zip(self.earlier, before, strict=True):
            gain = gain + slope * earlier.gain
        self.gain = gain * self.pivot
        scaled = over * self.kappa
        diagonal[self.cells] -= scaled * self.gain * weight[self.cells]
        self._own_heat = scaled * self.pivot - self.kappa
        self._over_kappa = scaled

    def reduce(self, rhs: Array) -> None:
        """Take the degree out of the right-hand side of a stage."""
        own = rhs[self.place]
        cells = rhs[self.cells]
        if self.alone:
            cells += self._own_heat * own
            own *= self.pivot
            return
        p = own
        for earlier, slope in zip(self.earlier, self.by_degree[:-1], strict=True):
            p = p + slope * rhs[earlier.place]
        p = p * self.pivot
        cells += self._over_kappa * p - self.kappa * own
        own[:] = p

    def restore(self, rhs: Array) -> None:
        """The degree's own increment, once that of the cells is known (its place holds the offset until then)."""
        rhs[self.place] += self.gain * rhs[self.cells]


def degrees_of(problem: Problem, rod: Rod) -> list[Degree]:
    """The reactions of all layers, laid behind the cells in one state vector."""
    out: list[Degree] = []
    place = rod.cells
    for layer, cells in zip(problem.layers, rod.slices, strict=True):
        mine: list[Degree] = []
        for reaction in layer.reactions:
            size = cells.stop - cells.start
            mine.append(
                Degree(reaction, cells, slice(place, place + size), list(mine), reaction.heat / rod.spacing[cells])
            )
            place += size
        out += mine
    return out


class Equations:
    """Right-hand side and Jacobian of a run; ``enter`` a piece before use.

    T, b : temperatures and dT/dy of the last call of ``slope`` (b where the energy map is curved); heat through the
    faces moves with the energy of the outermost cells by in_y, out_y and with time by in_t, out_t.
    """

    def __init__(self, problem: Problem, rod: Rod, degrees: list[Degree]):
        self.problem, self.rod, self.degrees = problem, rod, degrees
        n = rod.cells
        self.n = n
        self.inverse = 1.0 / rod.capacity
        self.area_in, self.area_out = float(rod.area_in), float(rod.area_out)
        with np.errstate(divide="ignore"):
            self.half_in, self.half_out = float(rod.half_in[0]), float(rod.half_out[-1])
        self.T, self.b = np.empty(n), np.empty(n)
        self.straight = rod.energy.straight and rod.melting is None
        if self.straight:
            self.b[:] = rod.energy.slope[rod.energy.first]
        self.constant = rod.k is not None
        self.g_in = self.g_out = 0.0
        self.shift = rod.share_start
        self.varies = False
        self.sources: Array | None = None
        self.emission: Array | None = None  # W/K4 of the cells
        self.power = np.zeros(2)
        self.in_y = self.out_y = self.in_t = self.out_t = 0.0
        self.emission_y: Array | None = None  # how the heat given off in depth moves with the cells' energies
        if rod.k is not None:
            self.G = 1.0 / (rod.half_out[:-1] / rod.k[:-1] + rod.half_in[1:] / rod.k[1:] + rod.joint)
            self._half_cells(float(rod.k[0]), float(rod.k[-1]))
            self._off = -self.G
            self._total = np.zeros(n)
            self._total[:-1] += self.G
            self._total[1:] += self.G

    def _half_cells(self, k_first: float, k_last: float) -> None:
        """Conductance from the outermost cells to the faces, per m2 of face."""
        self.g_in = k_first / (self.half_in * self.area_in) if self.area_in else 0.0
        self.g_out = k_last / (self.half_out * self.area_out)

    def enter(self, piece: Piece) -> Slope:
        """Take the conditions of a piece of time; returns its right-hand side."""
        self.varies = piece.varies
        self.flux_in, self.slopes_in = scalar_face(piece, 0)
        self.flux_out, self.slopes_out = scalar_face(piece, 1)
        rod = self.rod
        source = np.zeros((2, self.n))
        for heat, cells in zip(piece.heat[:, :, 0], rod.slices, strict=True):
            source[:, cells] += heat[:, None]
        span = self.problem.spans[piece.span]
        for put, factor in zip(span.sources, piece.factor[:, :, :1], strict=False):  # fewer than the span with most
            source += factor * put.density
        source *= rod.volume
        self.power = source.sum(axis=1)
        self.sources = source * self.inverse if np.any(source) else None
        self.emission = None
        if span.emission is not None and np.any(span.emission):
            self.emission = STEFAN_BOLTZMANN * np.ravel(span.emission) * rod.volume
        return self._closure()

    def _closure(self) -> Slope:
        """The right-hand side with everything bound."""
        T, n, inverse, rod = self.T, self.n, self.inverse, self.rod
        flow = np.zeros(n + 1)  # heat that crosses each cell edge towards the inner side
        middle, towards_in, towards_out = flow[1:-1], flow[1:], flow[:-1]
        T_out, T_in = T[1:], T[:-1]
        area_in, area_out, last = self.area_in, self.area_out, n - 1
        flux_in, flux_out = self.flux_in, self.flux_out
        g_in, g_out = self.g_in, self.g_out
        subtract, multiply, item = np.subtract, np.multiply, T.item
        constant, sources, varies, degrees = self.constant, self.sources, self.varies, self.degrees
        emission = self.emission
        G = self.G if constant else None
        read = self._reader()

        def slope(z: Array, y: Array, tau: float, out: Array, f: Array) -> tuple[float, float, float]:
            nonlocal G, g_in, g_out
            read(y)
            subtract(T_out, T_in, middle)
            if not constant:
                k, self.dk = rod.conductivity_at(T)
                self.k = k
                self.G = G = 1.0 / (rod.half_out[:-1] / k[:-1] + rod.half_in[1:] / k[1:] + rod.joint)
                self.difference = middle.copy()
                self._half_cells(float(k[0]), float(k[-1]))
                g_in, g_out = self.g_in, self.g_out
            multiply(middle, G, middle)  # type: ignore[arg-type]
            q_in = area_in * flux_in(item(0), tau, g_in) if area_in else 0.0
            q_out = area_out * flux_out(item(last), tau, g_out)
            flow[0] = -q_in
            flow[n] = q_out
            subtract(towards_in, towards_out, f)
            multiply(f, inverse, f)
            if sources is not None:
                f += sources[0]
                if varies:
                    f += tau * sources[1]
            for d in degrees:
                place = d.place
                if d.alone:
                    r = d.evaluate(T[d.cells], (z[place],))
                else:
                    r = d.evaluate(T[d.cells], (*(z[e.place] for e in d.earlier), z[place]))
                out[place] = r
                f[d.cells] += d.kappa * r
            if emission is None:
                return q_in, q_out, 0.0
            given = emission * (T * T) ** 2
            f -= given * inverse
            return q_in, q_out, -float(given.sum())

        return slope

    def _reader(self) -> Callable[[Array], None]:
        """T (and b) of the cells at energy coordinates."""
        T, b, rod = self.T, self.b, self.rod
        multiply, add = np.multiply, np.add
        if self.straight:
            a = rod.energy.intercept[rod.energy.first]

            def straight(y: Array) -> None:
                multiply(b, y, T)
                add(T, a, T)

            return straight
        if self.shift is not None:

            def two_curves(y: Array) -> None:
                T[:], b[:] = rod.temperature(y, self.shift)

            return two_curves
        curved_cells = np.flatnonzero(rod.energy.first != rod.energy.last)
        begin, end = int(curved_cells[0]), int(curved_cells[-1]) + 1
        if not np.any(rod.energy.first[curved_cells]) and len(curved_cells) == end - begin:
            return self._reader_of_stretch(slice(begin, end))
        index, a, copyto = np.empty(self.n, np.intp), np.empty(self.n), np.copyto
        slope_of, intercept_of = rod.energy.slope.take, rod.energy.intercept.take
        first, last = rod.energy.first, rod.energy.last
        clip, floor, minimum, maximum = not rod.energy.single, rod.energy.floor_counts, np.minimum, np.maximum

        def curved(y: Array) -> None:
            copyto(index, y, "unsafe")
            if clip:
                if floor:
                    maximum(index, first, out=index)
                minimum(index, last, out=index)
            slope_of(index, None, b, "clip")
            intercept_of(index, None, a, "clip")
            multiply(b, y, T)
            add(T, a, T)

        return curved

    def _reader_of_stretch(self, cells: slice) -> Callable[[Array], None]:
        """The same where one stretch of cells shares one curved table and the others have straight maps."""
        T, b, energy = self.T, self.b, self.rod.energy
        multiply, add, copyto = np.multiply, np.add, np.copyto
        a, index = energy.intercept[energy.first], np.empty(cells.stop - cells.start, np.intp)
        b[:] = energy.slope[energy.first]
        size = int(energy.last[cells.start]) + 1
        slope_of, intercept_of = energy.slope[:size].take, energy.intercept[:size].take
        a_here, b_here = a[cells], b[cells]

        def stretch(y: Array) -> None:
            copyto(index, y[cells], "unsafe")
            slope_of(index, None, b_here, "clip")
            intercept_of(index, None, a_here, "clip")
            multiply(b, y, T)
            add(T, a, T)

        return stretch

    def settle_corners(self, y: Array, direction: Array) -> None:
        """b of cells that rest on one of two curves, by the direction in which they move."""
        if self.shift is not None:
            self.b[:] = self.rod.slope_along(y, self.shift, direction)

    def jacobian(self, tau: float) -> tuple[Array, Array, Array, Array | None]:
        """(lower, diagonal, upper) of -d(heat into the cells)/dT [W/K], and d(state)/dt at fixed state (None: zero).

        Exact, at the state of the last call of ``slope``. In kelvin and watts the rows of thin and thick, light and heavy
        layers are of a size, and with constant conductivities they are symmetric; in the state's own units elimination
        with pivoting could mix rows whose sizes differ by ten powers of ten.
        """
        b = self.b
        extra_in = extra_out = 0.0
        if self.constant:
            lower = upper = self._off
            diagonal = self._total.copy()
        else:
            rod, G, k = self.rod, self.G, self.k
            turn = G * G * self.difference
            # heat from cell i+1 to cell i moves with the conductivity of both
            lower = -G + turn * rod.half_out[:-1] * self.dk[:-1] / k[:-1] ** 2
            upper = -G - turn * rod.half_in[1:] * self.dk[1:] / k[1:] ** 2
            diagonal = np.zeros(len(b))
            diagonal[:-1] -= lower
            diagonal[1:] -= upper
            extra_in = self.g_in / float(k[0]) * float(self.dk[0])
            extra_out = self.g_out / float(k[-1]) * float(self.dk[-1])
        if self.area_in:
            dq, dg, dt = self.slopes_in(float(self.T[0]), tau, self.g_in)
            by_T = self.area_in * (dq + dg * extra_in)
            self.in_y, self.in_t = by_T * float(b[0]), self.area_in * dt
            diagonal[0] -= by_T
        dq, dg, dt = self.slopes_out(float(self.T[-1]), tau, self.g_out)
        by_T = self.area_out * (dq + dg * extra_out)
        self.out_y, self.out_t = by_T * float(b[-1]), self.area_out * dt
        diagonal[-1] -= by_T
        if self.emission is not None:
            steeper = 4.0 * self.emission * self.T**3
            diagonal += steeper
            self.emission_y = -steeper * b
        if not self.varies:
            return lower, diagonal, upper, None
        by_time = np.zeros(self.n + sum(d.place.stop - d.place.start for d in self.degrees))
        if self.sources is not None:
            by_time[: self.n] += self.sources[1]
        by_time[0] += self.in_t * self.inverse[0]
        by_time[self.n - 1] += self.out_t * self.inverse[-1]
        return lower, diagonal, upper, by_time
