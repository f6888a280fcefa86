"""Layered plane bodies, exactly: the Laplace transform of each layer, one small system, inverted numerically.

Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., chapter 12; inversion after Talbot (1979) by mpmath.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Sheet:
    """One layer: thickness [m], k [W/m/K], rho c [J/m3/K], start [degC], contact conductance to the next [W/m2/K]."""

    thickness: float
    k: float
    rho_c: float
    start: float
    contact: float | None = None


@dataclass(frozen=True)
class Side:
    """A face: insulated (coefficient 0), convective (h, temperature) or held (coefficient None)."""

    coefficient: float | None = 0.0
    temperature: float = 0.0


def temperature(sheets: tuple[Sheet, ...], inner: Side, outer: Side, layer: int, x: float, t: float) -> float:
    """Temperature [degC] of layer ``layer`` at depth x within it [m] and time t [s].

    In each layer T(s) = start/s + A cosh(qx) + B sinh(qx), q = sqrt(s rho c/k); faces and joints give the 2N equations.
    """
    import mpmath

    with mpmath.workdps(25):
        value = mpmath.invertlaplace(
            lambda s: _transform(sheets, inner, outer, layer, x, s, mpmath), t, method="talbot"
        )
        return float(value)


def _transform(sheets: tuple[Sheet, ...], inner: Side, outer: Side, layer: int, x: float, s: Any, mp: Any) -> Any:
    n = len(sheets)
    q = [mp.sqrt(s * sh.rho_c / sh.k) for sh in sheets]
    m = mp.matrix(2 * n, 2 * n)
    b = mp.matrix(2 * n, 1)

    first = sheets[0]
    if inner.coefficient is None:
        m[0, 0] = 1
        b[0] = (inner.temperature - first.start) / s
    else:  # -k dT/dx = h (T_medium - T) at x = 0
        m[0, 0] = inner.coefficient
        m[0, 1] = -first.k * q[0]
        b[0] = inner.coefficient * (inner.temperature - first.start) / s

    row = 1
    for i in range(n - 1):
        here, there = sheets[i], sheets[i + 1]
        ch, sh_ = mp.cosh(q[i] * here.thickness), mp.sinh(q[i] * here.thickness)
        # flux out of the layer here = flux into the next
        m[row, 2 * i], m[row, 2 * i + 1] = here.k * q[i] * sh_, here.k * q[i] * ch
        m[row, 2 * i + 3] = -there.k * q[i + 1]
        row += 1
        # T_here - T_there = flux / contact
        resistance = 0 if here.contact is None else 1 / mp.mpf(here.contact)
        m[row, 2 * i] = ch + resistance * here.k * q[i] * sh_
        m[row, 2 * i + 1] = sh_ + resistance * here.k * q[i] * ch
        m[row, 2 * i + 2] = -1
        b[row] = (there.start - here.start) / s
        row += 1

    last = sheets[-1]
    ch, sh_ = mp.cosh(q[-1] * last.thickness), mp.sinh(q[-1] * last.thickness)
    if outer.coefficient is None:
        m[row, 2 * n - 2], m[row, 2 * n - 1] = ch, sh_
        b[row] = (outer.temperature - last.start) / s
    else:  # k dT/dx = h (T_medium - T)
        m[row, 2 * n - 2] = last.k * q[-1] * sh_ + outer.coefficient * ch
        m[row, 2 * n - 1] = last.k * q[-1] * ch + outer.coefficient * sh_
        b[row] = outer.coefficient * (outer.temperature - last.start) / s

    solution = mp.lu_solve(m, b)
    a, c = solution[2 * layer], solution[2 * layer + 1]
    return sheets[layer].start / s + a * mp.cosh(q[layer] * x) + c * mp.sinh(q[layer] * x)
