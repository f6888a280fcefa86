"""Slugs and melts that cool between walls of even temperature: plug flow, Graetz in a tube, Graetz between plates.

Tube: (r R')' + l^2 r (1 - r^2) R = 0, R'(0) = 0, R(1) = 0: R = exp(-l r^2/2) M(1/2 - l/4, 1, l r^2). Plates, y from the middle
over half the gap: Y'' + l^2 (1 - y^2) Y = 0. Source: Graetz (1885); Sellars, Tribus & Klein, Trans. ASME 78 (1956) 441; Shah &
London, Laminar Flow Forced Convection in Ducts (1978). Digits of Nu far down a tube: OEIS A282581.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

TERMS = 8


def slug_mean(shape: str, fourier: float) -> float:
    """Mean excess over its start of a plane slug (half thickness) or a round one (radius), wall held, at a t/half^2."""
    if shape == "plane":
        squares = [((2 * n + 1) * math.pi / 2) ** 2 for n in range(400)]
        return sum(2 / z * math.exp(-z * fourier) for z in squares)
    from scipy.special import jn_zeros

    return float(sum(4 / z**2 * math.exp(-(z**2) * fourier) for z in jn_zeros(0, 400)))


@lru_cache
def tube_modes() -> tuple[tuple[float, float], ...]:
    """(l, G) of the tube, G = -C R'(1)/2: flux at the wall."""
    import mpmath as mp

    def mode(n: int) -> tuple[float, float]:
        def shape(r: Any, root: Any) -> Any:
            return mp.exp(-root * r**2 / 2) * mp.hyp1f1(mp.mpf(1) / 2 - root / 4, 1, root * r**2)

        found = mp.findroot(lambda x: shape(mp.mpf(1), x), 4 * n + mp.mpf(8) / 3)
        cuts = [mp.mpf(i) / (n + 2) for i in range(n + 3)]
        top = mp.quad(lambda r: r * (1 - r**2) * shape(r, found), cuts)
        bottom = mp.quad(lambda r: r * (1 - r**2) * shape(r, found) ** 2, cuts)
        return float(found), float(-top / bottom * mp.diff(lambda r: shape(r, found), 1) / 2)

    with mp.workdps(30):
        return tuple(mode(n) for n in range(TERMS))


def tube_nusselt_far() -> float:
    """Nusselt number far down a tube: l0^2/2."""
    return tube_modes()[0][0] ** 2 / 2


def tube_mean(place: float) -> float:
    """Excess of the mixed mean over its start at x/(D Re Pr)."""
    return sum(8 * g / z**2 * math.exp(-2 * z**2 * place) for z, g in tube_modes())


def tube_nusselt_mean(place: float) -> float:
    """Mean Nusselt number from the entrance, by the logarithmic mean difference: -ln(mean)/(4 place)."""
    return -math.log(tube_mean(place)) / (4 * place)


@lru_cache
def plates_nusselt_far() -> float:
    """Nusselt number, by the hydraulic diameter, far down between plates: 8 l0^2/3."""
    import mpmath as mp

    with mp.workdps(30):

        def wall(x: Any) -> Any:
            return mp.exp(-x / 2) * mp.hyp1f1(mp.mpf(1) / 4 - x / 4, mp.mpf(1) / 2, x)

        root = mp.findroot(wall, mp.mpf("1.68"))
        return float(8 * root**2 / 3)
