"""A slab that takes up a flux in its depth, q0 mu exp(-mu x): steady with cooled faces, and transient between insulated ones."""

from __future__ import annotations

import math


class SteadyAbsorption:
    """T = Ta + b + a x - q0/(k mu) exp(-mu x), both faces with a coefficient h to the air at Ta."""

    def __init__(self, length: float, k: float, mu: float, flux: float, h: float, air: float):
        self.length, self.mu, self.part, self.air = length, mu, flux / (k * mu), air
        # k T'(0) = h (T(0) - Ta) and -k T'(L) = h (T(L) - Ta), in a and b
        end = math.exp(-mu * length)
        first = h * self.part + k * mu * self.part
        last = h * self.part * end - k * mu * self.part * end
        self.slope = (last - first) / (2.0 * k + h * length)
        self.offset = (first + k * self.slope) / h

    def at(self, x: float) -> float:
        """Temperature at a depth [m], in the air's scale."""
        return self.air + self.offset + self.slope * x - self.part * math.exp(-self.mu * x)

    @property
    def hottest_depth(self) -> float:
        """Where it is hottest [m]: a + q0/k exp(-mu x) = 0."""
        return -math.log(-self.slope / (self.part * self.mu)) / self.mu


def insulated(
    x: float,
    time: float,
    length: float,
    k: float,
    heat: float,
    mu: float,
    flux: float,
    start: float,
    both: bool = False,
) -> float:
    """Temperature of an insulated slab under a flux into one face, or the same into both: cosine series.

    heat : rho c [J/m3/K]. T - Ti = Q0 t + sum_n Sn (1 - exp(-l_n t))/l_n cos(n pi x/L), Q0 = q0 (1 - exp(-mu L))/(rho c L),
    Sn = (2 q0/(rho c L)) mu^2 (1 - (-1)^n exp(-mu L))/(mu^2 + (n pi/L)^2), l_n = k/(rho c) (n pi/L)^2.
    """
    if both:
        one, other = (insulated(d, time, length, k, heat, mu, flux, 0.0) for d in (x, length - x))
        return start + one + other
    end, scale = math.exp(-mu * length), flux / (heat * length)
    total = scale * (1.0 - end) * time
    for n in range(1, 4001):
        wave = n * math.pi / length
        rate = k / heat * wave**2
        source = 2.0 * scale * mu**2 * (1.0 - (-1.0) ** n * end) / (mu**2 + wave**2)
        total += source * -math.expm1(-rate * time) / rate * math.cos(wave * x)
    return start + total
