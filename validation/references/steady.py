"""Steady states in closed form: resistances in series, internal heat, k(T), radiation."""

from __future__ import annotations

import math


def chip_temperature(
    heat: float, above: float, joint: float, plate: float, k: float, below: float, air: float
) -> float:
    """Temperature of a heated film cooled upwards by ``above`` and downwards through joint + plate + ``below``.

    heat [W/m2]; above, below: coefficients [W/m2/K]; joint: resistance [m2 K/W]; plate: thickness [m].
    Source: Incropera et al., Example 3.2.
    """
    down = 1 / (joint + plate / k + 1 / below)
    return air + heat / (above + down)


def tube_heat_per_metre(k: float, inner_radius: float, outer_radius: float, difference: float) -> float:
    """Heat through a tube wall per metre, 2 pi k dT / ln(ro/ri) [W/m]. Source: Geankoplis, Example 4.2-1."""
    return 2 * math.pi * k * difference / math.log(outer_radius / inner_radius)


def heated_round(shape: str, r: float, radius: float, heat: float, k: float, h: float, air: float) -> float:
    """Solid cylinder (d = 2) or sphere (3) with uniform heat [W/m3]: Ta + qR/(dh) + q(R^2 - r^2)/(2dk)."""
    d = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
    return air + heat * radius / (d * h) + heat * (radius**2 - r**2) / (2 * d * k)


def heated_slab_variable_k(x: float, length: float, heat: float, k_ref: float, beta: float) -> float:
    """Slab with heat, insulated at 0, T = 0 at ``length``, k = k_ref (1 + beta T): Kirchhoff's transform.

    T = [sqrt(1 + beta q (L^2 - x^2)/k_ref) - 1]/beta. Source: Arpaci, Conduction Heat Transfer (1966), Example 3-8.

    >>> round(heated_slab_variable_k(0, 10, 5, 2, 0.01), 5)
    87.08287
    """
    return (math.sqrt(1 + beta * heat * (length**2 - x**2) / k_ref) - 1) / beta


def radiating_end(length: float, k: float, hot: float, surround: float, emissivity: float, sigma: float) -> float:
    """End temperature [K] of a bar held at ``hot`` [K] that radiates at its end: k (T_hot - T)/L = e s (T^4 - T_s^4).

    Source: NAFEMS T2, The Standard NAFEMS Benchmarks, Rev. 3 (1990): 927.0 K.
    """
    from scipy.optimize import brentq

    def miss(t: float) -> float:
        return k * (hot - t) / length - emissivity * sigma * (t**4 - surround**4)

    return float(brentq(miss, surround, hot, xtol=1e-12))
