"""One step of Rodas4P in every lane of a batch: right-hand side, elimination from both ends at once, stages.

The stage equations are solved for temperature increments V, in which the matrix of a body with constant conductivities is
symmetric: with b = dT/d(energy) and G the conductances of the cells,

    (1/(h g b_i)) V_i + sum_j G_ij (V_i - V_j) = power_i,       energy increment U_i = V_i/b_i

State is the energy of each cell in J per m2 (radian, steradian), so that conduction needs no division. All large arrays
are allocated once: fresh memory would cost more than the arithmetic on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction import rosenbrock as rb

if TYPE_CHECKING:
    from thermokit.conduction.batch_body import BatchBody
    from thermokit.conduction.batch_faces import BatchFaces
    from thermokit.conduction.lanes import Array

DEGREE_PER_KELVIN = 1.0 / 200.0
_WEIGHTS = [np.stack([rb.A[i, :i], rb.C[i, :i]]) for i in range(6)]
_ALPHA, _GAMMA_TIME = rb.ALPHA.tolist(), rb.GAMMA_TIME.tolist()


FEW = 200  # lanes up to which one long rod in LAPACK is faster than elimination row by row


class _LongRod:
    """All lanes end to end as one positive definite tridiagonal system, for few lanes of constant conductivity.

    Lanes are joined by zeros, so that one that is not a number would spoil those behind it: ``factor`` and ``solve``
    then refuse (return False), and the caller eliminates row by row.
    """

    def __init__(self, rows: int, lanes: int):
        from thermokit.conduction.lapack import routines

        self._factorise, self._substitute = routines("dpttrf", "dpttrs")
        self._long = np.zeros((lanes, 2 * rows))
        self._diagonal, self._joint = np.zeros((lanes, 2 * rows)), np.zeros((lanes, 2 * rows))
        self._factors: tuple[Any, Any] | None = None

    def factor(self, diagonal: Array, G: Array, middle: Array) -> bool:
        """Factorise; diagonal (rows, 2, lanes), G (rows - 1, 2, .), middle (.)."""
        m = diagonal.shape[0]
        _unfolded(diagonal, self._diagonal)
        joint = self._joint
        joint[:, : m - 1] = -G[:, 0].T
        joint[:, m - 1] = -middle
        joint[:, m : 2 * m - 1] = -G[::-1, 1].T
        d, e, info = self._factorise(self._diagonal.ravel(), joint.ravel()[:-1])
        self._factors = (d, e)
        return info == 0 and bool(np.isfinite(d[-1]))

    def solve(self, x: Array) -> bool:
        """Solve in place for x (rows, 2, lanes)."""
        _unfolded(x, self._long)
        if self._factors is None or not np.isfinite(self._long.sum()):
            return False
        self._substitute(*self._factors, self._long.ravel(), overwrite_b=1)
        m = x.shape[0]
        x[:, 0] = self._long[:, :m].T
        x[::-1, 1] = self._long[:, m:].T
        return True


def _unfolded(x: Array, long: Array) -> None:
    """(rows, 2, lanes) -> (lanes, 2 rows) in the order of the cells."""
    m = x.shape[0]
    long[:, :m] = x[:, 0].T
    long[:, m:] = x[::-1, 1].T


class BatchStep:
    """Work arrays and arithmetic of a step for ``lanes`` lanes."""

    def __init__(self, body: BatchBody, faces: BatchFaces, lanes: int):
        self.body, self.faces, self.lanes = body, faces, lanes
        m, L, K = body.rows, lanes, 1 + len(body.reactions)
        self.U = np.zeros((6, K, m, 2, L))
        self.flat = self.U.reshape(6, -1)
        self.rows_U = [[self.U[i, 0, r] for r in range(m)] for i in range(6)]
        self.combined = np.zeros((2, K, m, 2, L))
        self._combined_flat = self.combined.reshape(2, -1)
        self.stage = np.zeros((K, m, 2, L))
        self.T, self.b = np.zeros((m, 2, L)), np.zeros((m, 2, L))
        self._y, self._index = np.zeros((m, 2, L)), np.zeros((m, 2, L), np.intp)
        self._flow = np.zeros((m - 1, 2, L))
        self._over_b, self._diagonal = np.zeros((m, 2, L)), np.zeros((m, 2, L))
        self._pivot, self._w = np.zeros((m, 2, L)), np.zeros((m - 1, 2, L))
        self._wb = self._w if body.k_const else np.zeros((m - 1, 2, L))
        self._rows_w = [self._w[r] for r in range(m - 1)]
        self._rows_wb = [self._wb[r] for r in range(m - 1)]
        self._small = np.zeros((2, L))
        self._work = np.zeros((m, 2, L)) if body.reactions else self._y
        self.long_rod = _LongRod(m, L) if L <= FEW and body.k_const and not body.reactions else None
        self._as_long_rod = False
        self.q = np.zeros((6, 2, L))
        self.q_T = np.zeros((2, L))
        self.q_t: Array | None = None
        self.given_off = np.zeros(L)  # heat out of the depth at the last call of ``power``, <= 0
        self.steeper = self.T

    # -- right-hand side ------------------------------------------------------------------------------------------

    def power(self, z: Array, tau: Array, shift: Array | None, out: Array) -> Array:
        """d(state)/dt of states z into ``out`` (blocks, rows, 2, lanes); returns heat through both faces [W] (2, lanes)."""
        body, faces, T, flow, f = self.body, self.faces, self.T, self._flow, out[0]
        y = self._y
        np.multiply(z[0], body.inverse.now, out=y)
        if shift is None:
            body.energy.read(y, self._index, T, self.b)
        else:
            T[...], self.b[...], _ = body.two_curve_temperature(y, shift)
        if body.k_const:
            G, middle, g0 = body.G.now, body.G_middle.now, body.g0.now
        else:
            self._k, self._dk = body.conductivity(T)
            now = (body.toward.now, body.away.now, body.joint.now, body.joint_middle.now, body.area.now)
            self._G = G, middle, g0 = body.conductances(self._k, *now)
        q = faces.flux(g0, T[0], tau)
        q *= body.area.now
        if len(flow):
            np.subtract(T[1:], T[:-1], out=flow)
            np.multiply(flow, G, out=flow)
            np.add(flow[0], q, out=f[0])
            np.subtract(flow[1:], flow[:-1], out=f[1:-1])
            np.negative(flow[-1], out=f[-1])
        else:
            f[0] = q
        across = (T[-1, 1] - T[-1, 0]) * middle
        f[-1, 0] += across
        f[-1, 1] -= across
        if faces.source is not None:
            f += faces.source[0]
            if faces.varies:
                f += tau * faces.source[1]
        for j, r in enumerate(body.reactions):
            rate = r.evaluate(T, (*(z[1 + e] for e in r.earlier), z[1 + j]))
            np.copyto(out[1 + j], rate)
            np.multiply(rate, r.heat.now, out=self._work)
            f += self._work
        if faces.emission is not None:
            given = T * T
            given *= given
            given *= faces.emission
            f -= given
            self.given_off = -given.sum(axis=(0, 1))
        return q

    # -- matrix ---------------------------------------------------------------------------------------------------

    def longest_step(self, z: Array) -> Array | None:
        """Longest step that follows degrees growing out of themselves, as in the single run: (lanes,) or None for no bound.

        The state is that of the last ``power`` call, whose derivatives are kept for ``factor``.
        """
        fastest: Array | None = None
        for j, r in enumerate(self.body.reactions):
            r.linearise(self.T, (*(z[1 + e] for e in r.earlier), z[1 + j]))
            own = np.broadcast_to(r.own, self.T.shape).max(axis=(0, 1))
            fastest = own if fastest is None else np.maximum(fastest, own)
        return None if fastest is None else np.where(fastest > 0.0, 1.0 / np.where(fastest > 0.0, fastest, 1.0), np.inf)

    def factor(self, tau: Array, over: Array) -> None:
        """Factorise the stage matrix for 1/(h g) = over (lanes,); the state is that of the last ``longest_step`` call."""
        body, m, D, T = self.body, self.body.rows, self._diagonal, self.T
        np.multiply(self.b, body.inverse.now, out=self._over_b)
        np.divide(1.0, self._over_b, out=self._over_b)  # J per K
        np.multiply(self._over_b, over, out=D)
        left: Any
        right: Any
        if body.k_const:
            D += body.G_total.now
            left = right = body.G.now
            square = body.G_square.now
            left_m = right_m = body.G_middle.now
            g, by_conductance = body.g0.now, 0.0
        else:
            G, middle, g = self._G
            k, dk, toward, away = self._k, self._dk, body.toward.now, body.away.now
            turn = G * G * (T[1:] - T[:-1])
            left = G - turn * toward[:-1] * dk[:-1] / k[:-1] ** 2
            right = G + turn * away[1:] * dk[1:] / k[1:] ** 2
            square = left * right
            D[:-1] += left
            D[1:] += right
            left_m = right_m = middle
            if not body.odd:
                turn_m = middle * middle * (T[-1, 1] - T[-1, 0])
                left_m = middle - turn_m * toward[-1, 0] * dk[-1, 0] / k[-1, 0] ** 2
                right_m = middle + turn_m * toward[-1, 1] * dk[-1, 1] / k[-1, 1] ** 2
            D[-1, 0] += left_m
            D[-1, 1] += right_m
            by_conductance = g / k[0] * dk[0]
        by_cell, by_time = self.faces.slopes(g, T[0], tau, by_conductance)
        self.q_T = body.area.now * by_cell
        self.q_t = None if by_time is None else body.area.now * by_time
        D[0] -= self.q_T
        if self.faces.emission is not None:
            self.steeper = 4.0 * self.faces.emission * T**3
            D += self.steeper
        for r in body.reactions:
            D -= r.eliminate(over, body.reactions)
        self._matrix = (left, right, square, left_m, right_m, m)
        self._as_long_rod = self.long_rod is not None and self.long_rod.factor(D, left, left_m)
        if not self._as_long_rod:
            self._eliminate(*self._matrix)

    def _eliminate(self, left: Any, right: Any, square: Any, left_m: Any, right_m: Any, m: int) -> None:
        """Elimination from both ends towards the middle, where two equations are left."""
        pivot, D, small = self._pivot, self._diagonal, self._small
        np.divide(1.0, D[0], out=pivot[0])
        for r in range(m - 1):
            np.multiply(square[r], pivot[r], out=small)
            np.subtract(D[r + 1], small, out=small)
            np.divide(1.0, small, out=pivot[r + 1])
        np.multiply(left, pivot[:-1], out=self._w)
        if self._wb is not self._w:
            np.multiply(right, pivot[:-1], out=self._wb)
        d0, d1 = 1.0 / pivot[-1, 0], 1.0 / pivot[-1, 1]
        determinant = 1.0 / (d0 * d1 - left_m * right_m)
        self._middle = (d1 * determinant, right_m * determinant, left_m * determinant, d0 * determinant)

    def _solve(self, i: int) -> None:
        """Right-hand side of stage i (powers) to temperature increments, in place."""
        if self._as_long_rod and self.long_rod is not None:
            if self.long_rod.solve(self.U[i, 0]):
                return
            self._as_long_rod = False
            self._eliminate(*self._matrix)
        V, w, wb, small = self.rows_U[i], self._rows_w, self._rows_wb, self._small
        multiply, add = np.multiply, np.add
        last = len(w)
        for r in range(last):
            multiply(V[r], w[r], small)
            add(V[r + 1], small, V[r + 1])
        if last:
            np.multiply(self.U[i, 0, :-1], self._pivot[:-1], out=self.U[i, 0, :-1])
        a, b, c, d = self._middle
        x0, x1 = V[last]
        top = a * x0 + b * x1
        np.add(c * x0, d * x1, out=x1)
        x0[...] = top
        for r in range(last - 1, -1, -1):
            multiply(V[r + 1], wb[r], small)
            add(V[r], small, V[r])

    # -- stages ---------------------------------------------------------------------------------------------------

    def attempt(self, z: Array, tau: Array, h: Array, shift: Array | None) -> tuple[Array, Array]:
        """A step of length h (lanes,) from z, after ``power`` (U[0], q[0]) and ``longest_step``: (error [K] (lanes,), heat through
        the faces, and out of the depth where there is such, (2 or 3, lanes)); the new state is left in ``stage``.
        """
        body, faces, U, stage, q = self.body, self.faces, self.U, self.stage, self.q
        self.factor(tau, 1.0 / (rb.GAMMA * h))
        inverse_h = 1.0 / h
        emits = faces.emission is not None
        crossed = np.zeros((3 if emits else 2, self.lanes))
        error, ends = crossed[0], crossed[:2]
        given_off = self.given_off if emits else error
        for i in range(6):
            rhs = U[i]
            if i:
                np.matmul(_WEIGHTS[i], self.flat[:i], out=self._combined_flat)
                np.add(z, self.combined[0], out=stage)
                q[i] = self.power(stage, tau + _ALPHA[i] * h if faces.varies else tau, shift, rhs)
                given_off = self.given_off if emits else given_off
                np.multiply(self.combined[1], inverse_h, out=self.combined[1])
                rhs += self.combined[1]
            if self.q_t is not None and _GAMMA_TIME[i]:
                share = _GAMMA_TIME[i] * h
                if faces.source is not None:
                    rhs[0] += share * faces.source[1]
                rhs[0, 0] += share * self.q_t
                ends += rb.QUADRATURE[i] * share * self.q_t
            self._reduce(rhs)
            self._solve(i)
            for j, r in enumerate(body.reactions):
                np.multiply(r.gain, rhs[0], out=self._work)
                rhs[1 + j] += self._work
            ends += rb.QUADRATURE[i] * (q[i] + self.q_T * rhs[0, 0])
            if emits:
                crossed[2] += rb.QUADRATURE[i] * (given_off - np.sum(self.steeper * rhs[0], axis=(0, 1)))
            if i == 5:
                error = np.abs(rhs[0], out=self._y).max(axis=(0, 1))
            np.multiply(rhs[0], self._over_b, out=rhs[0])
        for j in range(len(body.reactions)):
            size = np.abs(U[5, 1 + j], out=self._y).max(axis=(0, 1))
            error = np.maximum(error, size / DEGREE_PER_KELVIN)
        np.add(stage, U[5], out=stage)
        return error, crossed * h

    def _reduce(self, rhs: Array) -> None:
        """Take the degrees out of a right-hand side; their places hold their offsets until the cells are known."""
        for j, r in enumerate(self.body.reactions):
            own = rhs[1 + j]
            if not r.earlier:
                np.multiply(r.own_heat, own, out=self._work)
                rhs[0] += self._work
                np.multiply(own, r.pivot, out=own)
                continue
            lent = sum(slope * rhs[1 + e] for e, slope in zip(r.earlier, r.before, strict=True))
            rhs[0] += r.own_heat * own + (r.own_heat + r.heat.now) * lent
            own += lent
            np.multiply(own, r.pivot, out=own)
