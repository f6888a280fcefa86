"""Thermal runaway: theta'' + (j/eta) theta' + delta exp(theta) = 0, theta(1) = 0, theta'(0) = 0.

delta = rho H A exp(-E/R Tw) E a^2/(k R Tw^2), theta = (T - Tw) E/(R Tw^2); j = 0 slab, 1 cylinder, 2 sphere.
Source: Frank-Kamenetskii (1938): critical delta 0.88, 2, 3.32.
"""

from __future__ import annotations

import math
from functools import lru_cache

_J = {"plane": 0, "cylinder": 1, "sphere": 2}


@lru_cache(maxsize=4)
def critical(shape: str) -> tuple[float, float]:
    """(critical delta, centre theta there)."""
    from scipy.optimize import minimize_scalar

    out = minimize_scalar(
        lambda c: -delta_of_centre(shape, c), bounds=(0.5, 2.5), method="bounded", options={"xatol": 1e-10}
    )
    return float(-out.fun), float(out.x)


def delta_of_centre(shape: str, centre: float) -> float:
    """Delta that holds the centre at theta = ``centre``.

    Slab: delta = 2 exp(-c) arcosh^2(exp(c/2)); cylinder: delta = 8 b/(1 + b)^2 with b = exp(c/2) - 1;
    sphere: by integration of theta = c + psi(xi), xi = eta sqrt(delta exp c), psi'' + 2 psi'/xi + exp psi = 0.
    """
    if shape == "plane":
        return 2 * math.exp(-centre) * math.acosh(math.exp(centre / 2)) ** 2
    if shape == "cylinder":  # theta = 2 ln[(1 + b)/(1 + b eta^2)], delta = 8 b/(1 + b)^2
        b = math.exp(centre / 2) - 1
        return 8 * b / (1 + b) ** 2
    return delta_by_shooting(shape, centre)


def delta_by_shooting(shape: str, centre: float) -> float:
    """The same for any shape by integrating psi outwards until it has fallen by ``centre`` (the second method)."""
    from scipy.integrate import solve_ivp

    j = _J[shape]
    x0 = 1e-4  # series start: psi = -xi^2/(2(j+1))

    def slope(x: float, y: list[float]) -> list[float]:
        return [y[1], -j / x * y[1] - math.exp(y[0])]

    def reached(x: float, y: list[float]) -> float:
        return y[0] + centre

    reached.terminal = True  # type: ignore[attr-defined]
    y0 = [-(x0**2) / (2 * (j + 1)), -x0 / (j + 1)]
    out = solve_ivp(slope, (x0, 50.0), y0, method="DOP853", rtol=1e-12, atol=1e-13, events=reached)
    return float(out.t_events[0][0] ** 2 * math.exp(-centre))


def centre(shape: str, delta: float) -> float:
    """Centre theta of the steady state below the critical delta (the cooler of the two)."""
    from scipy.optimize import brentq

    top = critical(shape)[1]
    return float(brentq(lambda c: delta_of_centre(shape, c) - delta, 1e-6, top, xtol=1e-12))
