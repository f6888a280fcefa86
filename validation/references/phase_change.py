"""Freezing of thick bodies: Stefan, Neumann, and the similarity solution for latent heat spread over a range.

Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., section 11.2; three zones after Tien & Geiger (1967).
"""

from __future__ import annotations

import math


def stefan_root(stefan: float) -> float:
    """Root of sqrt(pi) lam exp(lam^2) erf(lam) = Ste; the front stands at 2 lam sqrt(at)."""
    from scipy.optimize import brentq

    def miss(lam: float) -> float:
        return math.sqrt(math.pi) * lam * math.exp(lam**2) * math.erf(lam) - stefan

    return float(brentq(miss, 1e-9, 5.0, xtol=1e-15))


def stefan_front(t: float, a: float, stefan: float) -> float:
    """Depth of the front [m]."""
    return 2 * stefan_root(stefan) * math.sqrt(a * t)


def stefan_wall_flux(t: float, a: float, k: float, stefan: float, difference: float) -> float:
    """Flux into the wall [W/m2]: k dT / (sqrt(pi a t) erf(lam))."""
    return k * difference / (math.sqrt(math.pi * a * t) * math.erf(stefan_root(stefan)))


class Neumann:
    """Two-phase freezing: solid (k, rho c) grows from a wall at ``wall`` into liquid that starts at ``start``."""

    def __init__(
        self, k_s: float, c_s: float, k_l: float, c_l: float, latent: float, wall: float, melt: float, start: float
    ):
        """c_s, c_l: volumetric heat capacities, latent: volumetric [J/m3]; temperatures in any one scale."""
        from scipy.optimize import brentq

        self.a_s, self.a_l = k_s / c_s, k_l / c_l
        self.wall, self.melt, self.start = wall, melt, start
        nu = math.sqrt(self.a_s / self.a_l)

        def miss(lam: float) -> float:
            solid = k_s * (melt - wall) * math.exp(-(lam**2)) / (math.erf(lam) * math.sqrt(math.pi * self.a_s))
            liquid = (
                k_l
                * (start - melt)
                * math.exp(-((lam * nu) ** 2))
                / (math.erfc(lam * nu) * math.sqrt(math.pi * self.a_l))
            )
            return solid - liquid - latent * lam * math.sqrt(self.a_s)

        self.root = float(brentq(miss, 1e-6, 3.0, xtol=1e-15))
        self._nu = nu

    def front(self, t: float) -> float:
        """Depth of the front [m]."""
        return 2 * self.root * math.sqrt(self.a_s * t)

    def temperature(self, x: float, t: float) -> float:
        """Temperature at depth x."""
        if x <= self.front(t):
            return self.wall + (self.melt - self.wall) * math.erf(x / (2 * math.sqrt(self.a_s * t))) / math.erf(
                self.root
            )
        far = math.erfc(x / (2 * math.sqrt(self.a_l * t))) / math.erfc(self.root * self._nu)
        return self.start - (self.start - self.melt) * far


class SpreadLatentHeat:
    """Cooling of a thick body with heat capacity ``inside`` between ``low`` and ``high`` and ``outside`` elsewhere."""

    def __init__(self, k: float, outside: float, inside: float, wall: float, low: float, high: float, start: float):
        """Volumetric heat capacities [J/m3/K]; one conductivity. Solves the two isotherms' similarity coordinates."""
        from scipy.optimize import brentq
        from scipy.special import erfinv

        a1, a2 = math.sqrt(k / outside), math.sqrt(k / inside)
        self._a1, self._a2 = a1, a2
        self.wall, self.low, self.high, self.start = wall, low, high, start
        erf, exp = math.erf, math.exp

        def gradient_below(p: float) -> float:  # at the isotherm ``low``, from the wall's side
            return (low - wall) * exp(-((p / a1) ** 2)) / (a1 * erf(p / a1))

        def between(p: float, q: float, here: float) -> float:
            return (high - low) * exp(-((here / a2) ** 2)) / (a2 * (erf(q / a2) - erf(p / a2)))

        def gradient_above(q: float) -> float:
            return (start - high) * exp(-((q / a1) ** 2)) / (a1 * math.erfc(q / a1))

        def second(p: float) -> float:
            """Isotherm ``high`` for a given ``low``, from the flux at ``low``; infinite where there is none."""
            reach = erf(p / a2) + (high - low) * exp(-((p / a2) ** 2)) / (a2 * gradient_below(p))
            return a2 * float(erfinv(reach)) if reach < 1 else math.inf

        def miss(p: float) -> float:
            q = second(p)
            return -1.0 if math.isinf(q) else between(p, q, q) - gradient_above(q)

        grid = [0.01 * i * a2 for i in range(1, 300)]
        signs = [miss(p) > 0 for p in grid]
        first = signs.index(True)
        last = first + signs[first:].index(False)
        # from a small p (``high`` close to ``low``, steep between them) to where the flux at ``high`` is too small
        self._p = float(brentq(miss, grid[last - 1], grid[last], xtol=1e-18))
        self._q = second(self._p)

    def depths(self, t: float) -> tuple[float, float]:
        """Depths [m] of the isotherms ``low`` and ``high``."""
        return 2 * self._p * math.sqrt(t), 2 * self._q * math.sqrt(t)

    def temperature(self, x: float, t: float) -> float:
        """Temperature at depth x."""
        eta = x / (2 * math.sqrt(t))
        p, q, a1, a2 = self._p, self._q, self._a1, self._a2
        if eta <= p:
            return self.wall + (self.low - self.wall) * math.erf(eta / a1) / math.erf(p / a1)
        if eta <= q:
            share = (math.erf(eta / a2) - math.erf(p / a2)) / (math.erf(q / a2) - math.erf(p / a2))
            return self.low + (self.high - self.low) * share
        return self.start - (self.start - self.high) * math.erfc(eta / a1) / math.erfc(q / a1)
