"""Thickness of sheet drawn into a plain female mould: what touches the mould keeps its thickness, the rest draws on.

The classical geometric model: the free part is everywhere equally thick and its meridian is an arc of a circle (a cap, later
the fillet between wall and bottom); where it touches it freezes at once. Then the volume of the free part obeys::

    d(h A) = -h dC          A : area of the free part, C : area in contact, h : thickness of the free part

First the cap bulges freely; then it slides down the wall (or meets the bottom first, where the mould is shallow); at last
the fillet shrinks to the corner's radius. On the wall of a cone that leans at the angle b to the ring's plane this gives::

    h/h0 = (1 + cos b)/2 (R_s/R)^(1/cos b - 1)

with the radius R_s of the cone where it is touched: the known result of J. G. Williams, J. Strain Analysis 5 (1970) 49, as
textbooks give it (cone of height H, slant S: R_s/R = (H - S sin b)/H).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FrozenDraw:
    """Thickness over that of the blank, from rim to corner to middle; lengths in the unit of the mould.

    slant, wall : (points,) distance along the wall from the rim, thickness there; across, bottom : (points,) distance from
    the middle, thickness there; corner : thickness of the fillet; free : of the cap when it first touched; draw_ratio :
    area of the part over that of the blank.
    """

    slant: Array
    wall: Array
    across: Array
    bottom: Array
    corner: float
    free: float
    draw_ratio: float


@dataclass(frozen=True)
class _Mould:
    """Rim radius a (or half the width of a trough), depth, angle of the wall, whether it is a trough."""

    a: float
    depth: float
    angle: float
    trough: bool

    @property
    def foot(self) -> float:
        """Radius of the sharp corner between wall and bottom."""
        return float(self.a - self.depth / np.tan(self.angle))

    def fillet(self, b: float, rho: float, turn: float) -> float:
        """Area of an arc of radius rho that leaves the bottom at b and turns by an angle (a trough: its length)."""
        if self.trough:
            return rho * turn
        return float(2.0 * np.pi * rho * (b * turn + rho * (1.0 - np.cos(turn))))

    def strip(self, radius: float, width: float) -> float:
        """Area of a narrow strip at a radius."""
        return width if self.trough else 2.0 * np.pi * radius * width

    def hinged(self, b: float) -> tuple[float, float]:
        """Radius and turn of the arc from the rim to the bottom, tangent to it at b."""
        rho = ((self.a - b) ** 2 + self.depth**2) / (2.0 * self.depth)
        return rho, float(np.arctan2(self.a - b, rho - self.depth))


def frozen_draw(
    rim: float, depth: float, wall_angle: float, corner_radius: float, *, trough: bool = False, points: int = 101
) -> FrozenDraw:
    """Thickness of a pot, tray or trough drawn into a female mould by air or vacuum, without plug.

    rim : radius of the mould at the ring, for a trough half its width; depth : of the mould; wall_angle : between wall and
    the ring's plane [rad], over 0 to pi/2 (upright); corner_radius : of the fillet between wall and bottom, over 0; one unit of
    length. trough : long and straight (the middle of a box's long side) instead of round.
    Raises DataError where the mould is no such shape.
    Source: Williams (1970) for the wall of a cone; bottom and corner by the same balance, derived here.

    >>> pot = frozen_draw(1.0, 1.0, np.pi / 2, 0.1)
    >>> round(pot.free, 3)  # a hemisphere when it first touches: half the blank is left
    0.5
    """
    mould = _Mould(rim, depth, wall_angle, trough)
    half = float(np.tan(0.5 * wall_angle))
    if not (0.0 < rim < np.inf and 0.0 < depth < np.inf and 0.0 < wall_angle <= 0.5 * np.pi + 1e-12):
        raise DataError("draw: rim radius and depth must be more than 0, the wall's angle over 0 to 90 degrees")
    largest = min(mould.foot / half, depth / (1.0 - np.cos(wall_angle)))
    if not 0.0 < corner_radius < largest:
        raise DataError(
            f"draw: corner radius {corner_radius:g} does not fit; a mould of this depth and wall needs a flat bottom, and takes "
            f"corners over 0 and below {max(largest, 0.0):g}"
        )
    if depth >= rim * half:
        touched = _slide(mould, half, points)
    else:
        touched = _bottom_first(mould, half, points)
    free, slant, wall, across, bottom, rho, thickness = touched
    # the fillet shrinks: contact grows on the wall and on the bottom
    radii = np.geomspace(rho, corner_radius, points)

    def shrink(log_rho: float) -> float:
        r = float(np.exp(log_rho))
        b = mould.foot - r * half
        area = mould.fillet(b, r, wall_angle)
        contact = mould.strip(b, half) + mould.strip(mould.foot + r * half * np.cos(wall_angle), half)
        if trough:
            area_slope = wall_angle
        else:
            area_slope = 2.0 * np.pi * (b * wall_angle + r * (2.0 * (1.0 - np.cos(wall_angle)) - half * wall_angle))
        return float(-(area_slope - contact) * r / area)

    shares = _grown(shrink, np.log(radii)) * thickness
    met = (mould.foot + radii * half * np.cos(wall_angle), mould.foot - radii * half)
    along = (rim - met[0]) / np.cos(wall_angle) if np.cos(wall_angle) > 1e-9 else depth - radii * half
    part = _part_area(mould, half, corner_radius)
    return FrozenDraw(
        slant=np.append(slant, along),
        wall=np.append(wall, shares),
        across=np.append(across, met[1]),
        bottom=np.append(bottom, shares),
        corner=float(shares[-1]),
        free=free,
        draw_ratio=part / (2.0 * rim if trough else np.pi * rim**2),
    )


def wall_thickness(slant: Array | float, rim: float, wall_angle: float, *, trough: bool = False) -> Array:
    """Thickness over that of the blank on the wall of a cone or wedge, at distances along it from the rim.

    Cone: (1 + cos b)/2 (1 - s cos b/R)^(1/cos b - 1); upright: exp(-s/R)/2. Wedge: sin b/b (1 - s cos b/R)^(tan b/b - 1);
    upright: 2/pi exp(-2 s/(pi R)). Holds until the cap touches the bottom.

    slant, rim : s, R in one unit; wall_angle : b [rad], over 0 to pi/2.
    Source: Williams (1970) as in textbooks (cone); the wedge by the same balance.

    >>> round(float(wall_thickness(1.0, 1.0, np.pi / 2)), 6)  # exp(-1)/2
    0.18394
    """
    s = np.asarray(slant, dtype=float) / rim
    cos, sin = np.cos(wall_angle), np.sin(wall_angle)
    first = sin / wall_angle if trough else 0.5 * (1.0 + cos)
    # the exponent times cos b stays finite for an upright wall
    power = sin / wall_angle - cos if trough else 1.0 - cos
    log = -s if cos < 1e-9 else np.log1p(-s * cos) / cos
    return np.asarray(first * np.exp(power * log))


_Touched = tuple[float, "Array", "Array", "Array", "Array", float, float]


def _slide(mould: _Mould, half: float, points: int) -> _Touched:
    """The cap meets the wall at the rim and slides down until it touches the bottom in the middle."""
    cos, sin = np.cos(mould.angle), np.sin(mould.angle)
    # depth of its lowest point: s sin b + (a - s cos b) tan(b/2) = depth
    end = max((mould.depth - mould.a * half) / (sin - cos * half), 0.0)
    slant = np.linspace(0.0, end, points if end > 0.0 else 1)
    wall = wall_thickness(slant, mould.a, mould.angle, trough=mould.trough)
    none = np.zeros(0)
    return float(wall[0]), slant, wall, none, none, mould.foot / half, float(wall[-1])


def _bottom_first(mould: _Mould, half: float, points: int) -> _Touched:
    """The cap touches the bottom first and spreads over it, hinged at the rim, until it lies along the wall."""
    rho, turn = mould.hinged(0.0)
    blank = mould.a if mould.trough else np.pi * mould.a**2
    free = blank / mould.fillet(0.0, rho, turn)
    across = np.linspace(0.0, mould.a - mould.depth / half, points)

    def spread(b: float) -> float:
        rho, turn = mould.hinged(b)
        step = 1e-4 * mould.a
        area_slope = (
            mould.fillet(b + step, *mould.hinged(b + step)) - mould.fillet(b - step, *mould.hinged(b - step))
        ) / (2.0 * step)
        return -(area_slope + mould.strip(b, 1.0)) / mould.fillet(b, rho, turn)

    bottom = free * _grown(spread, across)
    rest = mould.depth / (1.0 - np.cos(mould.angle))
    none = np.zeros(0)
    return free, none, none, across, bottom, float(rest), float(bottom[-1])


def _grown(slope: Callable[[float], float], at: Array) -> Array:
    """exp of the integral of a slope from the first place to each, by three-point Gauss between them."""
    nodes, weights = np.polynomial.legendre.leggauss(3)
    middle, reach = 0.5 * (at[1:] + at[:-1]), 0.5 * np.diff(at)
    steps = [
        r * sum(w * slope(float(m + r * x)) for x, w in zip(nodes, weights, strict=True))
        for m, r in zip(middle, reach, strict=True)
    ]
    return np.asarray(np.exp(np.concatenate([[0.0], np.cumsum(steps)])))


def _part_area(mould: _Mould, half: float, corner: float) -> float:
    """Area of the finished part (a trough: length of its section)."""
    b, top = mould.foot - corner * half, mould.foot + corner * half * np.cos(mould.angle)
    straight = mould.depth / np.sin(mould.angle) - corner * half
    fillet = mould.fillet(b, corner, mould.angle)
    if mould.trough:
        return float(2.0 * (b + straight + fillet))
    return float(np.pi * (b**2 + (mould.a + top) * straight) + fillet)
