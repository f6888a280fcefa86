"""A thick reacting laminate under a temperature cycle, by a second code: finite differences on nodes and LSODA.

Source of the data: Bogetti & Gillespie, J. Composite Materials 25 (1991) 239; the cycle is this project's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Peak:
    """Highest centre temperature [degC], its time [s], and the centre's degree then."""

    temperature: float
    time: float
    degree: float


def peak(thickness: float, end: float, nodes: int = 101) -> Peak:
    """Peak of the centre of a laminate of total ``thickness`` [m]; faces ramp 2.5 K/min from 25 to 90 degC and hold.

    rho c dT/dt = k d2T/dx2 + rho H da/dt, da/dt = A exp(-E/RT) a^m (1 - a)^n, on half the laminate.
    """
    from scipy.integrate import solve_ivp
    from scipy.interpolate import CubicSpline
    from scipy.optimize import minimize_scalar

    k, rho, c, heat = 0.2163, 1890.0, 1260.0, 77500.0
    factor, energy, m, n, gas = 3.7e22 / 60, 1.674e5, 0.524, 1.476, 8.314
    h = thickness / 2 / (nodes - 1)
    a = k / (rho * c)

    def face(t: float) -> float:
        return 298.15 + min(t / 1560.0, 1.0) * 65.0

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        temp = y[0::2].copy()
        temp[-1] = face(t)
        degree = np.clip(y[1::2], 1e-12, 1.0)
        rate = factor * np.exp(-energy / (gas * temp)) * degree**m * (1 - degree) ** n
        second = np.empty(nodes)
        second[0] = 2 * (temp[1] - temp[0]) / h**2
        second[1:-1] = (temp[2:] - 2 * temp[1:-1] + temp[:-2]) / h**2
        second[-1] = 0.0
        out = np.empty_like(y)
        out[0::2] = a * second + heat / c * rate
        out[-2] = 65.0 / 1560.0 if t < 1560.0 else 0.0
        out[1::2] = rate
        return out

    y = np.empty(2 * nodes)
    y[0::2], y[1::2] = 298.15, 1e-4
    times, centre, degree = [np.array([0.0])], [np.array([298.15])], [np.array([1e-4])]
    for low, high in ((0.0, 1560.0), (1560.0, end)):
        grid = np.linspace(low, high, math.ceil((high - low) / 2.0) + 1)
        out = solve_ivp(slope, (low, high), y, method="LSODA", t_eval=grid, rtol=1e-8, atol=1e-9, lband=2, uband=2)
        y = out.y[:, -1]
        times.append(out.t[1:])
        centre.append(out.y[0, 1:])
        degree.append(out.y[1, 1:])
    t, temp, deg = np.concatenate(times), np.concatenate(centre), np.concatenate(degree)
    i = int(np.argmax(temp))
    spline = CubicSpline(t, temp)
    best = minimize_scalar(lambda s: -spline(s), bounds=(t[max(i - 2, 0)], t[min(i + 2, len(t) - 1)]), method="bounded")
    return Peak(float(-best.fun) - 273.15, float(best.x), float(CubicSpline(t, deg)(best.x)))
