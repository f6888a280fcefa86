"""Temperature of a face: a surface without heat capacity that balances conduction from the cell behind it.

    g (Ts - Tc) = q(Ts) = drive - linear Ts - quartic sigma Ts^4

g : half-cell conductance [W/m2/K], Tc : temperature of the cell behind [K]. The left side rises and the right side falls
with Ts, so there is one root; the difference is convex in Ts > 0, so Newton's method converges from anywhere above zero.
Solved to round-off. With F' = g + linear + 4 quartic sigma Ts^3:

    dTs/dTc = g/F',   dq/dTc = g (g/F' - 1),   dq/dg = (Ts - Tc)(1 - g/F'),   dq/dt = g (d drive/dt - Ts d linear/dt)/F'
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN

if TYPE_CHECKING:
    from thermokit.conduction.pieces import Piece
    from thermokit.conduction.problem import Array


def surface_temperature(g: Array, cell: Array, drive: Array, linear: Array, quartic: Array, guess: Array) -> Array:
    """Surface temperatures of many faces at once, all arguments broadcasting to one shape; ``guess`` in kelvin.

    Where ``quartic`` is zero everywhere it is the closed form. Not-a-number in, not-a-number out.
    """
    base = g * cell + drive
    slope = g + linear
    if not np.any(quartic):
        return np.asarray(base / slope)
    s4 = quartic * STEFAN_BOLTZMANN
    t = np.maximum(guess, 1.0)
    change = np.inf
    for _ in range(60):
        cube = s4 * t**3
        step = (slope * t + cube * t - base) / (slope + 4.0 * cube)
        t = t - step
        last, change = change, float(np.nanmax(np.abs(step), initial=0.0))
        if change <= 1e-11 or (change < 1e-8 and change >= last):
            break
    return t


class ScalarFace:
    """One face of a single run, in plain floats: the fastest that Python can do for one number at a time."""

    def __init__(self, side: int, area: float, guess: float):
        self.side = side
        self.area = area
        self.temperature = guess
        self.g = 0.0
        self.prescribed = False
        self.drive: list[float] = [0.0] * 5
        self.linear: list[float] = [0.0, 0.0]
        self.quartic = 0.0
        self.given: list[float] = [0.0, 0.0]
        self.varies = False

    def enter(self, piece: Piece) -> None:
        """Take the conditions of a piece of time."""
        i = self.side
        self.prescribed = piece.prescribed[i]
        self.drive = piece.drive[i, :, 0].tolist()
        self.linear = piece.linear[i, :, 0].tolist()
        self.quartic = float(piece.quartic[i, 0]) * STEFAN_BOLTZMANN
        self.given = piece.temperature[i, :, 0].tolist()
        self.varies = any(self.drive[1:]) or self.linear[1] != 0.0 or self.given[1] != 0.0

    def flux(self, cell: float, tau: float) -> float:
        """Heat into the body [W/m2] for a cell temperature [K] at a time since the piece began [s]."""
        g = self.g
        if self.prescribed:
            self.temperature = t = self.given[0] + self.given[1] * tau
            return g * (t - cell)
        drive, linear = self.drive[0], self.linear[0]
        if self.varies:
            d = self.drive
            drive = d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4])))
            linear += self.linear[1] * tau
        base = g * cell + drive
        slope = g + linear
        s4 = self.quartic
        if s4 == 0.0:
            self.temperature = t = base / slope if slope > 0.0 else cell
            return g * (t - cell)
        t = self.temperature
        if not t > 1.0:
            t = 300.0
        last = 1e300
        for _ in range(60):
            cube = s4 * t * t * t
            step = (slope * t + cube * t - base) / (slope + 4.0 * cube)
            t -= step
            size = step if step > 0.0 else -step
            if size < 1e-9 or (size < 1e-6 and size >= last):
                break
            last = size
        self.temperature = t
        return g * (t - cell)

    def slopes(self, cell: float, tau: float) -> tuple[float, float, float]:
        """(dq/dTc, dq/dg, dq/dt) at the state of the last :meth:`flux` call."""
        g, t = self.g, self.temperature
        if self.prescribed:
            return -g, t - cell, g * self.given[1]
        linear = self.linear[0] + self.linear[1] * tau
        total = g + linear + 4.0 * self.quartic * t * t * t
        if total <= 0.0:
            return 0.0, 0.0, 0.0
        ratio = g / total
        change = 0.0
        if self.varies:
            d = self.drive
            change = d[1] + tau * (2.0 * d[2] + tau * (3.0 * d[3] + tau * 4.0 * d[4])) - t * self.linear[1]
        return g * (ratio - 1.0), (t - cell) * (1.0 - ratio), ratio * change
