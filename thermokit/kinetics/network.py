"""What a degree of cure means for the network: its glass transition and the degree at which it gels.

Temperatures and degrees are arrays of any one shape [K, -]; parameters are numbers, or arrays (cases,) that broadcast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array


@dataclass(frozen=True, eq=False)
class GlassTransition:
    """Glass transition against degree of cure: Tg = start + (full - start) ratio a/(1 - (1 - ratio) a).

    start : of the fresh resin [K]; full : fully cured [K]; ratio : the DiBenedetto parameter lambda [-], above 0; it is
    the step of specific heat at the transition when fully cured over that when fresh, 0.3 to 0.7 for most resins. Degrees
    outside 0 to 1 count as 0 and 1.
    Source: DiBenedetto, Journal of Polymer Science B 25 (1987) 1949, in the form of Pascault and Williams, ibid. 28 (1990) 85.

    >>> glass = GlassTransition(253.15, 493.15, 0.5)  # -20 and 220 degC
    >>> round(float(glass.at(np.array(0.75))) - 273.15, 5)  # -20 + 240 * 0.375/0.625
    124.0
    """

    start: Number
    full: Number
    ratio: Number

    def at(self, degree: Array) -> Array:
        """Glass transition [K] at a degree of cure."""
        a = np.clip(degree, 0.0, 1.0)
        return np.asarray(self.start + (self.full - self.start) * self.ratio * a / (1.0 - (1.0 - self.ratio) * a))

    def slope(self, degree: Array) -> Array:
        """d(Tg)/d(degree) [K], 0 outside 0 to 1."""
        a = np.clip(degree, 0.0, 1.0)
        slope = (self.full - self.start) * self.ratio / np.square(1.0 - (1.0 - self.ratio) * a)
        return np.where((degree < 0.0) | (degree > 1.0), 0.0, slope)

    def degree(self, temperature: Array) -> Array:
        """The degree at which the glass transition reaches a temperature [K]; 0 below ``start``, 1 above ``full``.

        >>> glass = GlassTransition(253.15, 493.15, 0.5)
        >>> round(float(glass.degree(np.array(393.15))), 7)  # 120 degC
        0.7368421
        """
        y = np.clip((temperature - self.start) / (self.full - self.start), 0.0, 1.0)
        return np.asarray(y / (self.ratio + (1.0 - self.ratio) * y))


def gel_degree_flory_stockmayer(first: int, second: int, balance: float = 1.0) -> float:
    """Degree of the minor group at which a step-growth network of A_f and B_g units gels.

    a = 1/sqrt(balance (f - 1)(g - 1)), with the balance of groups (minor over major, 0 to 1]. Above 1 it never gels.
    first, second : reactive groups of a unit (f, g), 2 or more, one of them 3 or more.
    Source: Flory, Principles of Polymer Chemistry (1953), chapter IX; Stockmayer, Journal of Polymer Science 9 (1952) 69.

    >>> round(gel_degree_flory_stockmayer(2, 4), 7)  # diepoxide and a diamine of four hydrogens: 1/sqrt(3)
    0.5773503
    """
    if min(first, second) < 2 or max(first, second) < 3:
        raise ValueError("a network needs units of 2 and more groups, one kind with 3 or more")
    if not 0.0 < balance <= 1.0:
        raise ValueError("the balance of groups is the minor over the major: above 0, up to 1")
    return 1.0 / math.sqrt(balance * (first - 1) * (second - 1))
