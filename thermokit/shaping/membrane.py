"""Inflation of a flat round sheet of rubber, clamped at a ring: the exact large-strain membrane, without dimensions.

Lengths are counted in ring radii R, thickness in blanks h0, pressure as P = p R / (G h0), volume in R^3. With the place s
in the blank (0 at the pole, 1 at the ring), the stretches l1 along the meridian and l2 = r/s along the hoop, the slope b
of the meridian and W the strain energy over G (J. E. Adkins and R. S. Rivlin, Phil. Trans. A 244 (1952) 505)::

    d(s W1)/ds = W2 cos b,    db/ds = l1 (P - T2 sin b / r) / T1,    dr/ds = l1 cos b,    dz/ds = l1 sin b
    Wi = dW/dli,    T1 = W1/l2,    T2 = W2/l1

The equations do not change when s is stretched and P shrunk by one factor. So for a given pole stretch ONE integration
from the pole outwards suffices: where l2 has fallen to 1 is the ring, and its place gives the scale. Nothing is iterated,
and the limit point (most pressure that the sheet can carry) is passed like any other. Up or down makes no difference: a
bubble drawn by vacuum is the same dome.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError, SolveError
from thermokit.shaping.rubber import Rubber, Slopes

if TYPE_CHECKING:
    from typing import Any, Protocol

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

    class Law(Protocol):
        """What the membrane asks of a rubber law."""

        def slopes(self, first: float, second: float) -> Slopes:
            """Derivatives of W / G by the stretches in the sheet."""


FLATTEST, FULLEST = 1.0 + 1e-6, 8.0  # pole stretch that is solved for
LOWEST, TALLEST = 0.002, 2.0  # height over ring radius
_START = 1e-3  # where the series at the pole hands over, in units of about one ring radius
_FARTHEST = 1e3  # in the same units


@dataclass(frozen=True, eq=False)
class Shape:
    """An inflated sheet of ring radius 1: what one pole stretch gives.

    pressure : P = p R/(G h0); height, area, volume : of the dome over the ring's plane; slope : of the meridian at the
    ring [rad], above pi/2 where the dome bulges over it; place, r, z, along, hoop : (points,) from pole to ring: place in
    the blank, radius, height over the ring, stretches along the meridian and the hoop.
    """

    pole_stretch: float
    pressure: float
    height: float
    area: float
    volume: float
    slope: float
    place: Array
    r: Array
    z: Array
    along: Array
    hoop: Array

    @property
    def thickness(self) -> Array:
        """Thickness over that of the blank, (points,), from pole to ring: 1/(l1 l2), as no volume is lost."""
        return np.asarray(1.0 / (self.along * self.hoop))


def inflate(law: Law, pole_stretch: float, points: int = 101) -> Shape:
    """The inflated sheet whose pole is stretched so much: pressure, height, profile and thickness.

    Exact but for the integration (relative 1e-9); see the module for the equations.

    law : a Rubber; pole_stretch : 1.000001 to 8 (thickness left at the pole is its -2nd power); points : along the meridian.
    Raises DataError outside that range, SolveError where the ring is not met (a law that does not stiffen).
    Source: J. E. Adkins and R. S. Rivlin (1952); parametrised by the pole as in L. J. Hart-Smith and J. D. C. Crisp, Int. J.
    Engng Sci. 5 (1967) 1.

    >>> from thermokit.shaping.rubber import neo_hookean
    >>> shape = inflate(neo_hookean(), 2.0)
    >>> round(float(shape.thickness[0]), 9)  # 1/2^2
    0.25
    """
    from scipy.integrate import solve_ivp

    if not FLATTEST <= pole_stretch <= FULLEST:
        raise DataError(f"pole stretch {pole_stretch:g} is outside {FLATTEST:g} to {FULLEST:g}; nothing is known of it")
    tension = law.slopes(pole_stretch, pole_stretch).first / pole_stretch
    # the pressure of a spherical cap with that pole (see caps.cap_pole_thickness): brings the ring near to 1
    trial = 4.0 * math.sqrt(pole_stretch - 1.0) / pole_stretch * tension

    def slope(s: float, y: Array) -> list[float]:
        along, hoop, b = (float(x) for x in y[:3])  # plain numbers are faster
        w = law.slopes(along, hoop)
        cos, sin = math.cos(b), math.sin(b)
        hoop_slope = along * cos - hoop  # times s
        return [
            (w.second * cos - w.first - w.first_second * hoop_slope) / (s * w.first_first),
            hoop_slope / s,
            along * (trial - w.second / along * sin / (hoop * s)) * hoop / w.first,
            along * sin,
            2.0 * math.pi * hoop * s * along,
            math.pi * (hoop * s) ** 2 * along * sin,
        ]

    def ring(_s: float, y: Array) -> float:
        return float(y[1]) - 1.0

    ring.terminal, ring.direction = True, -1.0  # type: ignore[attr-defined]
    found: Any = solve_ivp(
        slope,
        (_START, _FARTHEST),
        _near_pole(law, pole_stretch, trial),
        method="DOP853",
        events=ring,
        rtol=1e-10,
        atol=1e-13,
        dense_output=True,
    )
    if not found.t_events[0].size:
        raise SolveError(
            f"the sheet does not come back to its ring at a pole stretch of {pole_stretch:g}",
            "the rubber law does not carry so large a stretch: ask for a lower dome",
        )
    scale, end = float(found.t_events[0][0]), found.y_events[0][0]
    place = np.linspace(0.0, 1.0, points)
    along, hoop, _, z = found.sol(np.maximum(place * scale, _START))[:4]
    # inside the first step the series holds
    inner = np.minimum(place * scale / _START, 1.0) ** 2
    along, hoop = pole_stretch + (along - pole_stretch) * inner, pole_stretch + (hoop - pole_stretch) * inner
    z = z * inner
    return Shape(
        pole_stretch=pole_stretch,
        pressure=trial * scale,
        height=float(end[3]) / scale,
        area=float(end[4]) / scale**2,
        volume=float(end[5]) / scale**3,
        slope=float(end[2]),
        place=place,
        r=place * hoop,
        z=(float(end[3]) - z) / scale,
        along=along,
        hoop=hoop,
    )


def _near_pole(law: Law, stretch: float, pressure: float) -> list[float]:
    """State at the small place where integration begins, by the series l1 = l0 + a s^2, l2 = l0 + e s^2, b = c s.

    Put into the equations it gives 3 e = a - l0 c^2/2 and a (3 W11 - W12) + e (3 W12 - W11) = -W1 c^2/2.
    """
    w = law.slopes(stretch, stretch)
    c = 0.5 * pressure * stretch**2 / w.first
    matrix = [[-1.0, 3.0], [3.0 * w.first_first - w.first_second, 3.0 * w.first_second - w.first_first]]
    a, e = np.linalg.solve(matrix, [-0.5 * stretch * c**2, -0.5 * w.first * c**2])
    s = _START
    return [
        stretch + float(a) * s**2,
        stretch + float(e) * s**2,
        c * s,
        0.5 * stretch * c * s**2,
        math.pi * (stretch * s) ** 2,
        0.25 * math.pi * stretch**3 * c * s**4,
    ]


@dataclass(frozen=True, eq=False)
class Inflation:
    """Pressure against height of a rubber law, tabulated once for all sizes, from flat to twice the ring radius.

    pole_stretch, pressure, height, volume : (nodes,), without dimensions as in Shape; limit : the Shape at the limit
    point, the first greatest pressure, None where pressure only rises. Between nodes the table is good to about 1e-5.
    """

    law: Rubber
    pole_stretch: Array
    pressure: Array
    height: Array
    volume: Array
    limit: Shape | None

    def pressure_at(self, height: ArrayLike) -> Array:
        """Pressure P = p R/(G h0) that holds heights over ring radius, 0 to 2; any shape; NaN outside."""
        h = np.asarray(height, dtype=float)
        # P goes with the cube of a small height, and P/h^3 with its square
        cube = _read(self.height[1:] ** 2, self.pressure[1:] / self.height[1:] ** 3, np.minimum(h, TALLEST) ** 2)
        return np.where((h >= 0.0) & (h <= TALLEST), cube * h**3, np.nan)

    def pole_stretch_at(self, height: ArrayLike) -> Array:
        """Stretch of the pole at heights over ring radius, 0 to 2; its -2nd power is the thickness left; NaN outside."""
        return self._over_height(self.pole_stretch, height)

    def volume_at(self, height: ArrayLike) -> Array:
        """Volume over the ring's plane in R^3 at heights over ring radius, 0 to 2; NaN outside."""
        return self._over_height(self.volume, height)

    def height_at(self, pressure: ArrayLike) -> Array:
        """Height over ring radius under held pressures P, by the stable branch; NaN past the limit point (it bursts)."""
        sought = np.asarray(pressure, dtype=float)
        heights, pressures = self.height[1:], self.pressure[1:]
        if self.limit is None:
            return _within(sought, pressures[-1], _small(heights, pressures, sought))
        under = heights < 0.999 * self.limit.height
        heights, pressures = (
            np.append(heights[under], self.limit.height),
            np.append(pressures[under], self.limit.pressure),
        )
        top = self.limit.pressure
        # at the limit point the height goes with the square root of what is wanting in pressure
        wanting = np.sqrt(np.maximum(1.0 - np.minimum(sought, top) / top, 0.0))
        near = _read(np.sqrt(1.0 - pressures / top)[::-1], heights[::-1], wanting)
        return _within(sought, top, np.where(sought < 0.3 * top, _small(heights, pressures, sought), near))

    def _over_height(self, values: Array, height: ArrayLike) -> Array:
        h = np.asarray(height, dtype=float)
        return np.where((h >= 0.0) & (h <= TALLEST), _read(self.height, values, np.clip(h, 0.0, TALLEST)), np.nan)


def _read(x: Array, y: Array, at: Array) -> Array:
    """A curve through nodes, read at places."""
    from scipy.interpolate import CubicSpline

    return np.asarray(CubicSpline(x, y)(at))


def _small(heights: Array, pressures: Array, sought: Array) -> Array:
    """Heights by the cube root of pressure, which is smooth at the flat sheet."""
    root = np.cbrt(np.clip(sought, 0.0, pressures[-1]))
    return _read(np.cbrt(pressures) ** 2, heights / np.cbrt(pressures), root**2) * root


def _within(sought: Array, top: float, values: Array) -> Array:
    return np.where((sought >= 0.0) & (sought <= top), values, np.nan)


def inflation(law: Rubber, nodes: int = 41) -> Inflation:
    """The whole curve of pressure against height of a rubber law, to read many sizes and pressures from at once.

    nodes : of the table, at nearly even heights from 0 to 2 ring radii. Takes some tenths of a second: keep what it gives.
    """
    top = at_height(law, TALLEST).pole_stretch
    rows = [(1.0, 0.0, 0.0, 0.0)]
    for share in np.linspace(0.0, 1.0, nodes)[1:]:
        shape = inflate(law, 1.0 + (top - 1.0) * float(share) ** 2, 2)
        rows.append((shape.pole_stretch, shape.pressure, shape.height, shape.volume))
    stretch, pressure, height, volume = np.array(rows).T
    height[-1] = TALLEST  # as sought, to rounding
    return Inflation(law, stretch, pressure, height, volume, limit_point(law))


def at_height(law: Law, height: float, points: int = 101) -> Shape:
    """The inflated sheet of a height over ring radius, 0.002 to 2.

    Raises DataError outside that range.
    """
    from scipy.optimize import brentq

    if not LOWEST <= height <= TALLEST:
        raise DataError(f"dome height over ring radius is {height:g}; allowed: {LOWEST:g} to {TALLEST:g}")
    # the spherical cap has 1 + h^2; rubbers lie well within a tenth of that rise and five times it
    rise = height**2
    low, high = max(1.0 + 0.1 * rise, FLATTEST), min(1.0 + 5.0 * rise, FULLEST)
    stretch = brentq(lambda x: inflate(law, x, 2).height - height, low, high, xtol=1e-12, rtol=1e-11)
    return inflate(law, float(stretch), points)


def limit_point(law: Law, points: int = 101) -> Shape | None:
    """The first greatest pressure: past it a dome under held pressure grows until it bursts; None where there is none.

    Looked for up to a pole stretch of 8. Laws that stiffen enough (Mooney-Rivlin with C2/C1 above about 0.06) have none:
    pressure rises with height all the way.

    >>> from thermokit.shaping.rubber import mooney_rivlin
    >>> limit_point(mooney_rivlin(1.0)) is None
    True
    """
    from scipy.optimize import minimize_scalar

    grid = 1.0 + np.geomspace(0.05, FULLEST - 1.0, 36)
    pressures = np.array([inflate(law, float(x), 2).pressure for x in grid])
    falls = np.flatnonzero(np.diff(pressures) < 0.0)
    if not falls.size:
        return None
    top = int(falls[0])
    found = minimize_scalar(
        lambda x: -inflate(law, float(x), 2).pressure,
        bounds=(float(grid[max(top - 1, 0)]), float(grid[top + 1])),
        method="bounded",
        options={"xatol": 1e-7},
    )
    return inflate(law, float(found.x), points)
