"""Heat transfer coefficients outside and the constant of a drawn-out film, written out again from their sources."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np


def plate_laminar(reynolds: float, prandtl: float) -> float:
    """Mean Nu of a laminar plate, 0.664 Re^(1/2) Pr^(1/3). Source: Pohlhausen (1921)."""
    return 0.664 * math.sqrt(reynolds) * math.cbrt(prandtl)


def plate(reynolds: float, prandtl: float) -> float:
    """Mean Nu of a plate, turbulent from Re 5e5: (0.037 Re^0.8 - 871) Pr^(1/3). Source: Incropera et al., eq. 7.38."""
    if reynolds <= 5e5:
        return plate_laminar(reynolds, prandtl)
    return (0.037 * reynolds**0.8 - 871.0) * math.cbrt(prandtl)


def cylinder(reynolds: float, prandtl: float) -> float:
    """Mean Nu of a cylinder in cross flow. Source: Churchill & Bernstein (1977)."""
    below = (1.0 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
    rest = (1.0 + (reynolds / 282000.0) ** (5 / 8)) ** (4 / 5)
    return 0.3 + 0.62 * math.sqrt(reynolds) * prandtl ** (1 / 3) / below * rest


def cylinder_zukauskas(reynolds: float, prandtl: float, prandtl_wall: float) -> float:
    """The same for Re 1e3 to 2e5, Pr to 10: 0.26 Re^0.6 Pr^0.37 (Pr/Pr_wall)^(1/4). Source: Zukauskas (1972)."""
    return 0.26 * reynolds**0.6 * prandtl**0.37 * (prandtl / prandtl_wall) ** 0.25


def sphere(reynolds: float, prandtl: float, viscosity_ratio: float) -> float:
    """Mean Nu of a sphere. Source: Whitaker (1972)."""
    mixed = 0.4 * math.sqrt(reynolds) + 0.06 * reynolds ** (2 / 3)
    return 2.0 + mixed * prandtl**0.4 * viscosity_ratio**0.25


def upright_plate(rayleigh: float, prandtl: float) -> float:
    """Mean Nu of an upright plate, any Ra. Source: Churchill & Chu (1975)."""
    below = (1.0 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    return (0.825 + 0.387 * rayleigh ** (1 / 6) / below) ** 2


@lru_cache(maxsize=1)
def landau_levich_constant() -> float:
    """c of h = c l_c Ca^(2/3) from the film's own equation, H''' = (1 - H)/H^3, H = 1 far up: c = 2^(-1/2) 3^(2/3) H''.

    H'' is the curvature far down, where the film joins the meniscus, whose own is sqrt(2)/l_c at its top. The departure from
    H = 1 grows downwards as exp(x). Source: Landau & Levich (1942), as derived in any text on coating.
    """
    from scipy.integrate import solve_ivp

    small = 1e-7

    def slope(_: float, y: np.ndarray) -> list[float]:
        return [y[1], y[2], (y[0] - 1.0) / y[0] ** 3]

    def high(_: float, y: np.ndarray) -> float:
        return float(y[0] - 1e10)

    high.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(
        slope, (0.0, 1e8), [1.0 + small, small, small], method="DOP853", rtol=1e-12, atol=1e-13, events=high
    )
    return float(3 ** (2 / 3) * run.y[2, -1] / math.sqrt(2.0))
