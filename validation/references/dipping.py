"""Dipping: a hot former in still paste, the gel front on a face that keeps its temperature, films that are drawn and drain."""

from __future__ import annotations

import math
from collections.abc import Callable

from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erfcx


class FormerInPaste:
    """A former of one temperature, suddenly in contact with a deep still body.

    u(x, t) = exp(b x/sqrt(a) + b^2 t) erfc(x/(2 sqrt(a t)) + b sqrt(t)), b = sqrt(k rho c)/(M c)
    Source: Carslaw & Jaeger, Conduction of Heat in Solids, section 12 (well-stirred fluid or perfect conductor).
    """

    def __init__(self, capacity: float, conductivity: float, rho_c: float, start: float, paste: float):
        """capacity M c of the former [J/m2/K], conductivity [W/m/K], rho_c [J/m3/K], temperatures [degC]."""
        self.b = math.sqrt(conductivity * rho_c) / capacity
        self.diffusivity = conductivity / rho_c
        self.start, self.paste = start, paste

    def temperature(self, depth: float, time: float) -> float:
        """Temperature [degC] of the paste at a depth [m] from the former, of the former itself at 0."""
        z = depth / (2.0 * math.sqrt(self.diffusivity * time))
        # exp(bx/sqrt(a) + b^2 t) erfc(z + b sqrt t) = exp(-z^2) erfcx(z + b sqrt t)
        u = math.exp(-z * z) * float(erfcx(z + self.b * math.sqrt(time)))
        return self.paste + (self.start - self.paste) * u

    def depth(self, temperature: float, time: float) -> float:
        """Depth [m] of an isotherm, 0 where the former is colder than that."""
        if self.temperature(0.0, time) <= temperature:
            return 0.0
        return float(brentq(lambda x: self.temperature(x, time) - temperature, 0.0, 0.2, xtol=1e-12))


class HeldFace:
    """A deep body whose face is suddenly held at a temperature: u = erfc(x/(2 sqrt(a t))).

    Source: Carslaw & Jaeger, Conduction of Heat in Solids, section 2.4.
    """

    def __init__(self, diffusivity: float, face: float, start: float):
        """diffusivity [m2/s], temperatures [degC]."""
        self.diffusivity, self.face, self.start = diffusivity, face, start

    def temperature(self, depth: float, time: float) -> float:
        """Temperature [degC] at a depth [m]."""
        return self.start + (self.face - self.start) * math.erfc(depth / (2.0 * math.sqrt(self.diffusivity * time)))


def gel_front(
    temperature: Callable[[float, float], float], time: float, rate: float, energy: float, at: float, stays: float
) -> float:
    """Depth [m] at which the integral of k dt has reached -ln(1 - stays), k = rate exp[-E/R (1/T - 1/T_at)].

    temperature (depth, time) [degC]; the gel degree of a first-order law depends on that integral alone.
    """
    goal = -math.log1p(-stays)

    def grown(depth: float) -> float:
        def k(moment: float) -> float:
            kelvin = temperature(depth, moment) + 273.15
            return rate * math.exp(-energy / 8.314462618 * (1.0 / kelvin - 1.0 / (at + 273.15)))

        return float(quad(k, 0.0, time, epsabs=1e-10, epsrel=1e-9, limit=400)[0])

    return float(brentq(lambda x: grown(x) - goal, 1e-6, 0.05, xtol=1e-9))


def landau_levich(viscosity: float, speed: float, tension: float, density: float, g: float) -> float:
    """0.944 l_c Ca^(2/3) [m]. Source: Landau & Levich (1942)."""
    return 0.944 * math.sqrt(tension / (density * g)) * (viscosity * speed / tension) ** (2.0 / 3.0)


def with_gravity(viscosity: float, speed: float, tension: float, density: float, g: float) -> float:
    """H of H sqrt(rho g/gamma) = 0.944 Ca^(2/3) (1 - rho g H^2/(mu U))^(2/3) [m]. Source: White & Tallmadge, after Deen."""
    ca = viscosity * speed / tension
    scale = math.sqrt(density * g / tension)
    most = math.sqrt(viscosity * speed / (density * g))

    def off(h: float) -> float:
        return h * scale - 0.944 * ca ** (2.0 / 3.0) * max(1.0 - (h / most) ** 2, 0.0) ** (2.0 / 3.0)

    return float(brentq(off, 0.0, most, xtol=1e-15))


def jeffreys(viscosity: float, density: float, below: float, time: float, g: float) -> float:
    """sqrt(mu x/(rho g t)) [m]. Source: Jeffreys (1930)."""
    return math.sqrt(viscosity * below / (density * g * time))
