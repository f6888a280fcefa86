"""Thick (semi-infinite) bodies at short times: erfc solutions.

Source: Incropera et al., section 5.7; Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., sections 2.4 to 2.9.
"""

from __future__ import annotations

import math


def step_temperature(x: float, t: float, a: float, start: float, face: float) -> float:
    """Temperature at depth x after the face was put at ``face``: face + (start - face) erf(x / 2 sqrt(at))."""
    return face + (start - face) * math.erf(x / (2 * math.sqrt(a * t)))


def step_flux(x: float, t: float, a: float, k: float, start: float, flux: float) -> float:
    """Temperature at depth x under a constant flux into the face.

    start + (q/k) [2 sqrt(at/pi) exp(-x^2/4at) - x erfc(x/2 sqrt(at))]
    """
    root = math.sqrt(a * t)
    return start + flux / k * (
        2 * root / math.sqrt(math.pi) * math.exp(-(x**2) / (4 * a * t)) - x * math.erfc(x / (2 * root))
    )


def convection(x: float, t: float, a: float, k: float, h: float, start: float, air: float) -> float:
    """Temperature at depth x of a body whose face meets ``air`` through the coefficient h.

    (T - Ti)/(Ta - Ti) = erfc(u) - exp(hx/k + h^2 a t/k^2) erfc(u + h sqrt(at)/k), u = x/2 sqrt(at)
    """
    from scipy.special import erfcx

    root = math.sqrt(a * t)
    u = x / (2 * root)
    v = h * root / k
    # exp(2uv + v^2) erfc(u + v) = exp(-u^2) erfcx(u + v): no overflow
    return start + (air - start) * (math.erfc(u) - math.exp(-(u**2)) * float(erfcx(u + v)))


def depth_of_isotherm(level: float, t: float, a: float, k: float, h: float, start: float, air: float) -> float:
    """Depth [m] at which ``convection`` gives ``level``."""
    from scipy.optimize import brentq

    far = 20 * math.sqrt(a * t)
    return float(brentq(lambda x: convection(x, t, a, k, h, start, air) - level, 0.0, far, xtol=1e-14))


def effusivity(k: float, rho: float, c: float) -> float:
    """Effusivity sqrt(k rho c) [W s^0.5/m2/K]."""
    return math.sqrt(k * rho * c)


def contact_temperature(e1: float, t1: float, e2: float, t2: float) -> float:
    """Temperature of the touching faces of two thick bodies: (e1 T1 + e2 T2)/(e1 + e2)."""
    return (e1 * t1 + e2 * t2) / (e1 + e2)


def contact_flux(e1: float, t1: float, e2: float, t2: float, t: float) -> float:
    """Flux [W/m2] from body 1 into body 2 at time t after perfect contact: e1 (T1 - Ti)/sqrt(pi t)."""
    return e1 * (t1 - contact_temperature(e1, t1, e2, t2)) / math.sqrt(math.pi * t)
