"""A face that moves through still fluid (Sakiadis' flow), the air under a web, and a sheet that cools as one on a conveyor.

f''' + f f''/2 = 0, f(0) = 0, f'(0) = 1, f' far out 0; theta'' + (Pr/2) f theta' = 0. Sources: Sakiadis, AIChE J. 7 (1961) 26;
Tsou, Sparrow & Goldstein, Int. J. Heat Mass Transfer 10 (1967) 219. Web: H''' = (H - 1)/H^3, Eshel & Elrod, J. Basic Eng. 87
(1965) 831.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

FAR = 30.0


@lru_cache
def sakiadis() -> Any:
    """The flow, as scipy gives it: y[0] is f, y[2] at 0 the shear at the wall."""
    from scipy.integrate import solve_ivp
    from scipy.optimize import brentq

    def shot(curvature: float) -> Any:
        return solve_ivp(
            lambda _, y: [y[1], y[2], -0.5 * y[0] * y[2]],
            (0.0, FAR),
            [0.0, 1.0, curvature],
            rtol=1e-11,
            atol=1e-13,
            dense_output=True,
        )

    return shot(float(brentq(lambda c: shot(c).y[1, -1], -0.444, -0.443)))


def moving_face(prandtl: float) -> float:
    """Nu/sqrt(Re) at one place of a moving face: 1/integral of exp[-(Pr/2) integral of f]."""
    import numpy as np

    x = np.concatenate([np.linspace(0.0, 0.5, 20001), np.linspace(0.5, FAR, 60001)[1:]])
    f = sakiadis().sol(x)[0]
    inside = np.concatenate([[0.0], np.cumsum(0.5 * (f[1:] + f[:-1]) * np.diff(x))])
    return float(1.0 / np.trapezoid(np.exp(-prandtl / 2.0 * inside), x))


@lru_cache
def foil_constant() -> float:
    """Curvature far out of H''' = (H - 1)/H^3 that leaves H = 1 as exp(x)."""
    from scipy.integrate import solve_ivp

    start = 1e-6
    grown = solve_ivp(
        lambda _, y: [y[1], y[2], (y[0] - 1.0) / y[0] ** 3],
        (0.0, 200.0),
        [1.0 + start, start, start],
        rtol=1e-11,
        atol=1e-13,
    )
    return float(grown.y[2, -1])


def conveyor(time: float, start: float, air: float, h: float, emissivity: float, areal: float) -> float:
    """Temperature [degC] of a thin sheet that both faces cool by convection and radiation, integrated; areal rho c L [J/m2/K]."""
    from scipy.integrate import solve_ivp

    sigma = 5.670374419e-8

    def slope(_: float, t: Any) -> Any:
        k, a = t + 273.15, air + 273.15
        return -2.0 * (h * (t - air) + emissivity * sigma * (k**4 - a**4)) / areal

    return float(solve_ivp(slope, (0.0, time), [start], rtol=1e-10, atol=1e-10).y[0, -1])


class LineSink:
    """Freezing about a line that draws Q [W/m], solid and liquid alike (k [W/m/K], c [J/m3/K]), latent [J/m3], exactly.

    Solid T = Tm + Q/(4 pi k) [Ei(-e^2) - Ei(-l^2)], liquid T = Ti - (Ti - Tm) Ei(-e^2)/Ei(-l^2), e = r/(2 sqrt(a t)), front
    at l: Q/(4 pi) exp(-l^2) + k (Ti - Tm) exp(-l^2)/Ei(-l^2) = l^2 a latent. Source: Paterson, Proc. Glasgow Math. Assoc. 1
    (1952) 42; Ozisik, Heat Conduction, chapter on phase change (from memory).
    """

    def __init__(self, sink: float, k: float, c: float, latent: float, melt: float, start: float):
        from scipy.optimize import brentq
        from scipy.special import expi

        self.sink, self.k, self.a, self.melt, self.start, self.expi = sink, k, k / c, melt, start, expi

        def miss(x: float) -> float:
            fall = math.exp(-(x**2))
            return sink / (4 * math.pi) * fall + k * (start - melt) * fall / expi(-(x**2)) - x**2 * self.a * latent

        self.root = float(brentq(miss, 1e-3, 5.0, xtol=1e-14))

    def front(self, time: float) -> float:
        """Radius of the front [m]."""
        return 2.0 * self.root * math.sqrt(self.a * time)

    def temperature(self, radius: float, time: float) -> float:
        """Temperature at a radius [m] and time [s], in the scale of melt and start."""
        e = self.expi(-(radius**2) / (4 * self.a * time))
        edge = self.expi(-(self.root**2))
        if radius < self.front(time):
            return float(self.melt + self.sink / (4 * math.pi * self.k) * (e - edge))
        return float(self.start - (self.start - self.melt) * e / edge)
