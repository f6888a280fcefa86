"""A solid cylinder with a coat, exactly: Bessel functions in the Laplace domain, inverted numerically.

Core A I0(q1 r), coat B I0(q2 r) + C K0(q2 r), q = sqrt(s rho c/k), above the start temperature; temperature and flux are equal
at the joint, -k dT/dr = h (T - T_air) at the face. Source: Carslaw & Jaeger, Conduction of Heat in Solids, section 13.8 (composite
cylinders); inversion after Talbot (1979) by mpmath.
"""

from __future__ import annotations

from typing import Any


class CoatedRod:
    """Core of radius ``inner`` and coat up to ``outer`` [m], (k [W/m/K], rho c [J/m3/K]) of each, start [degC], h and air."""

    def __init__(
        self,
        inner: float,
        outer: float,
        core: tuple[float, float],
        coat: tuple[float, float],
        start: float,
        h: float,
        air: float,
    ):
        self.inner, self.outer, self.core, self.coat = inner, outer, core, coat
        self.start, self.h, self.air = start, h, air

    def temperature(self, radius: float, time: float) -> float:
        """Temperature [degC] at a radius [m] and time [s]."""
        import mpmath

        with mpmath.workdps(25):
            return self.start + float(
                mpmath.invertlaplace(lambda s: self._transform(radius, s, mpmath), time, method="talbot")
            )

    def _transform(self, radius: float, s: Any, mp: Any) -> Any:
        (k1, c1), (k2, c2) = self.core, self.coat
        q1, q2 = mp.sqrt(s * c1 / k1), mp.sqrt(s * c2 / k2)
        a, b = q2 * self.inner, q2 * self.outer
        m = mp.matrix(3, 3)
        right = mp.matrix(3, 1)
        m[0, 0], m[0, 1], m[0, 2] = mp.besseli(0, q1 * self.inner), -mp.besseli(0, a), -mp.besselk(0, a)
        m[1, 0] = k1 * q1 * mp.besseli(1, q1 * self.inner)
        m[1, 1], m[1, 2] = -k2 * q2 * mp.besseli(1, a), k2 * q2 * mp.besselk(1, a)
        m[2, 1] = k2 * q2 * mp.besseli(1, b) + self.h * mp.besseli(0, b)
        m[2, 2] = -k2 * q2 * mp.besselk(1, b) + self.h * mp.besselk(0, b)
        right[2] = self.h * (self.air - self.start) / s
        found = mp.lu_solve(m, right)
        if radius <= self.inner:
            return found[0] * mp.besseli(0, q1 * radius)
        return found[1] * mp.besseli(0, q2 * radius) + found[2] * mp.besselk(0, q2 * radius)
