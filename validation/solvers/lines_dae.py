"""The same bodies as differential-algebraic equations by SUNDIALS' IDA (scikit-sundae).

Heat content, temperature and faces are unknowns of their own, tied by algebraic equations in place of tables read backwards and
of faces solved inside the right-hand side:

    c du/dt = heat into the cell,   content(T) - c u = 0,   g (Ts - T) - q(Ts) = 0
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from validation.solvers.data import Side
from validation.solvers.lines import DEGREE, KELVIN, RELATIVE, Body, Cvode

Array = NDArray[np.float64]


class Ida(Cvode):
    """IDA on equations by lines."""

    name, cells, rows = "IDA", 60, 30

    def integrated(self, body: Body, times: Array, y: Array) -> Array:
        """States at the times, in the unknowns of the ordinary equations."""
        from sksundae.ida import IDA

        tied = _Tied(body)
        z, zp = tied.start(float(times[0]), y)
        tolerance = np.full(len(z), KELVIN)
        tolerance[tied.own] = np.where(body.tolerance == DEGREE, DEGREE, KELVIN)
        solver = IDA(
            tied.residual,
            algebraic_idx=tied.algebraic,
            linsolver="band",
            lband=body.band + 2,
            uband=body.band + 2,
            rtol=RELATIVE,
            atol=tolerance,
            max_num_steps=200_000,
        )
        found = solver.solve(times, z, zp)
        if not found.success:
            raise RuntimeError(f"IDA: {found.message}")
        rows = np.asarray(found.y)[:, tied.own]
        return rows if len(times) > 2 else rows[[0, -1]]


class _Tied:
    """Unknowns [inner face, (u, T, degrees) of each cell, outer face] and their equations."""

    def __init__(self, body: Body):
        self.body = body
        n = body.rings.n
        before = np.arange(n)  # a temperature stands behind the heat content of each cell
        cell_of = np.searchsorted(body.at, np.arange(body.size), side="right") - 1
        is_content = np.isin(np.arange(body.size), body.at)
        self.own = 1 + np.arange(body.size) + cell_of + ~is_content
        self.temperature = 1 + body.at + before + 1
        self.size = body.size + n + 2
        self.algebraic = np.concatenate([[0], self.temperature, [self.size - 1]])

    def start(self, clock: float, y: Array) -> tuple[Array, Array]:
        """A consistent state and its slope."""
        body, piece = self.body, self.body.piece
        assert piece is not None
        z, zp, dy = np.zeros(self.size), np.zeros(self.size), np.zeros(body.size)
        t = body.temperature(y)
        z[self.own], z[self.temperature] = y, t
        z[0], z[-1] = body.surfaces(t, body.conductivities(t), clock - piece.begin, piece)
        if body.rings.area[0] == 0.0:
            z[0] = t[0]
        body.slope(clock, y, dy)
        zp[self.own] = dy
        return z, zp

    def residual(self, clock: float, z: Array, zp: Array, out: Array) -> None:
        """What is left of every equation."""
        body, piece, rings = self.body, self.body.piece, self.body.rings
        assert piece is not None
        time, t, y = clock - piece.begin, z[self.temperature], z[self.own]
        k = body.conductivities(t)
        heat = body.heating(t, k, (float(z[0]), float(z[-1])), time, piece)
        dy = np.zeros(body.size)
        made = body.growth(t, y, dy)
        dy[body.at] = (heat / (rings.volume * rings.density) + made) / body.scale
        out[self.own] = zp[self.own] - dy
        parts = zip(body.heats, body.share, rings.cut, strict=True)
        content = np.concatenate([h.content(t[cut], share) for h, share, cut in parts])
        out[self.temperature] = content / body.scale - y[body.at]
        g_in = 0.0 if rings.area[0] == 0.0 else float(k[0] / (rings.inward[0] * rings.area[0]))
        g_out = float(k[-1] / (rings.outward[-1] * rings.area[-1]))
        out[0] = z[0] - t[0] if g_in == 0.0 else _face(piece.inner, time, float(z[0]), float(t[0]), g_in)
        out[-1] = _face(piece.outer, time, float(z[-1]), float(t[-1]), g_out)


def _face(side: Side, time: float, surface: float, cell: float, g: float) -> float:
    """What is left of the balance of a face [K]."""
    if side.temperature is not None:
        return surface - side.temperature.at(time)
    return surface - cell - side.flux(time, surface)[0] / g
