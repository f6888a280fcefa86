"""A calender's nip by quadrature, and friction heat in a sheared layer.

dp/drho = sgn |rho^2 - l^2|^n/(1 + rho^2)^(2n + 1) from the entrance, where p = 0, to rho = l, where it is again. Sources: Gaskell,
J. Appl. Mech. 17 (1950) 334; Middleman, Fundamentals of Polymer Processing (1977), chapter 7; Brinkman, Appl. Sci. Res. A 2
(1951) 120; Nahme, Ing.-Arch. 11 (1940) 191.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any


def _pull(rho: float, end: float, n: float) -> float:
    d = rho * rho - end * end
    return math.copysign(abs(d) ** n, d) / (1.0 + rho * rho) ** (2 * n + 1)


@lru_cache
def exit_place(n: float = 1.0, entering: float = math.inf) -> float:
    """Where the sheet leaves, rho = l; ``entering`` gauge over gap."""
    from scipy.integrate import quad
    from scipy.optimize import brentq

    begin = -math.sqrt(entering - 1.0) if math.isfinite(entering) else -math.inf

    def left(x: float) -> float:
        return float(quad(_pull, begin, -x, args=(x, n))[0] + quad(_pull, -x, x, args=(x, n))[0])

    return float(brentq(left, 1e-3, 0.9, xtol=1e-13))


def force() -> float:
    """Force by width over mu U R/H0, H0 half the gap; Newtonian, deep bank: -6 integral of rho dp."""
    from scipy.integrate import quad

    end = exit_place()
    return float(-6.0 * quad(lambda r: r * _pull(r, end, 1.0), -math.inf, end)[0])


def power() -> float:
    """Power of both bowls by width over 3 mu U^2 sqrt(2 R/H0)."""
    from scipy.integrate import quad

    end = exit_place()
    return float(2.0 * quad(lambda r: (r * r - end * end) ** 2 / (1.0 + r * r) ** 3, -math.inf, end)[0])


@lru_cache
def nahme(number: float) -> tuple[float, float]:
    """(hottest place b (T - Tw), shear stress over that at the walls' temperature) of a layer with Na, by collocation."""
    import numpy as np
    from scipy.integrate import solve_bvp

    def slope(_: Any, y: Any, p: Any) -> Any:
        return np.vstack([y[1], -number * p[0] ** 2 * np.exp(y[0]), p[0] * np.exp(y[0])])

    def ends(a: Any, b: Any, p: Any) -> Any:
        return np.array([a[0], b[0], a[2], b[2] - 1.0])

    s = np.linspace(0.0, 1.0, 101)
    peak = math.log1p(number / 8)
    guess = np.vstack([4 * peak * s * (1 - s), 4 * peak * (1 - 2 * s), s])
    found = solve_bvp(slope, ends, s, guess, p=[1.0 / (1.0 + peak)], tol=1e-9, max_nodes=50_000)
    return float(found.sol(0.5)[0]), float(found.p[0])
