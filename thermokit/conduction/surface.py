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
    from collections.abc import Callable

    from thermokit.conduction.pieces import Piece
    from thermokit.conduction.problem import Array

    Flux = Callable[[float, float, float], float]
    Slopes = Callable[[float, float, float], tuple[float, float, float]]

# Newton's error after a step of size s is at most 1.5/T s^2, so that below this step it is round-off
SETTLED = 1e-4
MOST = 60
STIFF = 1e6  # W/m2/K, half cells that conduct so well that the face is as warm as the cell to many digits


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
    for _ in range(MOST):
        cube = s4 * t**3
        step = (slope * t + cube * t - base) / (slope + 4.0 * cube)
        t = t - step
        if not np.any(np.abs(step) > SETTLED):
            break
    return t


def scalar_face(piece: Piece, side: int) -> tuple[Flux, Slopes]:
    """One face of a single run on a piece of time, in plain floats: the fastest that Python does for one number.

    Returns flux(cell, tau, g) -> heat into the body [W/m2] and slopes(cell, tau, g) -> (dq/dTc, dq/dg, dq/dt) at the
    state of the last call of flux; tau is the time since the piece began [s].
    """
    if piece.prescribed[side]:
        return _prescribed(*piece.temperature[side, :, 0].tolist())
    drive = piece.drive[side, :, 0].tolist()
    linear, bend = piece.linear[side, :, 0].tolist()
    s4 = float(piece.quartic[side, 0]) * STEFAN_BOLTZMANN
    if any(drive[1:]) or bend:
        return _varying(drive, linear, bend, s4)
    return _radiating(drive[0], linear, s4) if s4 else _linear(drive[0], linear)


def _prescribed(start: float, rise: float) -> tuple[Flux, Slopes]:
    def flux(cell: float, tau: float, g: float) -> float:
        return g * (start + rise * tau - cell)

    def slopes(cell: float, tau: float, g: float) -> tuple[float, float, float]:
        return -g, start + rise * tau - cell, g * rise

    return flux, slopes


def _linear(drive: float, linear: float) -> tuple[Flux, Slopes]:
    """Convection, contact and heating, constant in time: q = g (drive - linear Tc)/(g + linear)."""

    def flux(cell: float, tau: float, g: float) -> float:
        return g * (drive - linear * cell) / (g + linear)

    def slopes(cell: float, tau: float, g: float) -> tuple[float, float, float]:
        share = linear / (g + linear)
        return -g * share, (drive - linear * cell) / (g + linear) * share, 0.0

    return flux, slopes


def _settled(guess: float, base: float, slope: float, s4: float) -> float:
    """Root of slope t + s4 t^4 = base by Newton's method from a guess [K]; not-a-number in, not-a-number out."""
    x = guess if guess > 1.0 else 300.0
    for _ in range(MOST):
        cube = s4 * x * x * x
        step = ((slope + cube) * x - base) / (slope + 4.0 * cube)
        x -= step
        if not (step > SETTLED or step < -SETTLED):
            break
    return x


def _radiating(drive: float, linear: float, s4: float) -> tuple[Flux, Slopes]:
    """The same with radiation; the last surface temperature is the next guess."""
    t = 300.0

    def flux(cell: float, tau: float, g: float) -> float:
        nonlocal t
        t = _settled(t, g * cell + drive, g + linear, s4)
        # of two equal expressions the one that does not lose digits
        return g * (t - cell) if g < STIFF else drive - (linear + s4 * t * t * t) * t

    def slopes(cell: float, tau: float, g: float) -> tuple[float, float, float]:
        ratio = g / (g + linear + 4.0 * s4 * t * t * t)
        return g * (ratio - 1.0), (t - cell) * (1.0 - ratio), 0.0

    return flux, slopes


def _varying(d: list[float], linear: float, bend: float, s4: float) -> tuple[Flux, Slopes]:
    """Conditions that change in time: drive is a polynomial of degree 4, linear one of degree 1."""
    t = 300.0

    def flux(cell: float, tau: float, g: float) -> float:
        nonlocal t
        drive = d[0] + tau * (d[1] + tau * (d[2] + tau * (d[3] + tau * d[4])))
        exchange = linear + bend * tau
        t = _settled(t, g * cell + drive, g + exchange, s4)
        return g * (t - cell) if g < STIFF else drive - (exchange + s4 * t * t * t) * t

    def slopes(cell: float, tau: float, g: float) -> tuple[float, float, float]:
        ratio = g / (g + linear + bend * tau + 4.0 * s4 * t * t * t)
        change = d[1] + tau * (2.0 * d[2] + tau * (3.0 * d[3] + tau * 4.0 * d[4])) - t * bend
        return g * (ratio - 1.0), (t - cell) * (1.0 - ratio), ratio * change

    return flux, slopes
