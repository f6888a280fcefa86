"""Spherical caps: the hand check of every dome, when it meets its mould, and what pressure presses it into detail.

All functions take numbers or arrays that broadcast. A cap of height H over a ring of radius a belongs to a sphere of
radius (a^2 + H^2)/(2 H); beyond H = a it is more than a hemisphere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

SHAPED_PRESSURE = (7.0 * 6894.757293168361, 8.0 * 6894.757293168361)  # Pa, blows an 8 inch acrylic hemisphere freely
DETAIL_PRESSURE = 50.0 * 6894.757293168361  # Pa, close fitting into a detailed mould: fact of the trade, 50 lbf/in2


def _floats(*values: ArrayLike) -> list[Array]:
    return [np.asarray(value, dtype=float) for value in values]


def cap_radius(ring_radius: ArrayLike, height: ArrayLike) -> Array:
    """Radius of the sphere that a cap belongs to: (a^2 + H^2) / (2 H); lengths in one unit, H > 0.

    >>> float(cap_radius(4.0, 2.0))
    5.0
    """
    a, h = _floats(ring_radius, height)
    return np.asarray((a**2 + h**2) / (2.0 * h))


def cap_area(ring_radius: ArrayLike, height: ArrayLike) -> Array:
    """Area of a cap: pi (a^2 + H^2). Source: Archimedes.

    >>> round(float(cap_area(1.0, 1.0)), 6)  # hemisphere: 2 pi
    6.283185
    """
    a, h = _floats(ring_radius, height)
    return np.asarray(np.pi * (a**2 + h**2))


def cap_volume(ring_radius: ArrayLike, height: ArrayLike) -> Array:
    """Volume under a cap: pi H (3 a^2 + H^2) / 6.

    >>> round(float(cap_volume(1.0, 1.0)), 6)  # hemisphere: 2 pi/3
    2.094395
    """
    a, h = _floats(ring_radius, height)
    return np.asarray(np.pi * h * (3.0 * a**2 + h**2) / 6.0)


def cap_draw_ratio(ring_radius: ArrayLike, height: ArrayLike) -> Array:
    """Areal draw ratio of a cap: its area over that of the flat sheet, 1 + (H/a)^2; the mean thickness is blank over it.

    >>> float(cap_draw_ratio(1.0, 1.0))
    2.0
    """
    a, h = _floats(ring_radius, height)
    return np.asarray(1.0 + (h / a) ** 2)


def cap_height(ring_radius: ArrayLike, draw_ratio: ArrayLike) -> Array:
    """Height of the cap of an areal draw ratio >= 1: a sqrt(A - 1).

    >>> float(cap_height(0.1, 2.0))
    0.1
    """
    a, ratio = _floats(ring_radius, draw_ratio)
    return np.asarray(a * np.sqrt(ratio - 1.0))


def cap_pole_thickness(ring_radius: ArrayLike, height: ArrayLike) -> Array:
    """Thickness left at the pole of a cap over that of the blank, by hand: 1 / (1 + (H/a)^2)^2.

    Exact for a rubber stretched so far that its thickness resists no more (W = G/2 (l1^2 + l2^2)): such a sheet becomes an
    exact spherical cap, stretched alike in all directions, by 1 + (H/a)^2 at the pole and not at all at the ring. A real
    rubber comes out a little less thin at the pole: 0.30 against 0.25 for a hemisphere.
    Source: the equations of ``membrane`` with that energy say that the sheet is a conformal map of the disc onto a surface
    of constant mean curvature; the cap with its stereographic projection is the one. Derived here.

    >>> float(cap_pole_thickness(1.0, 1.0))
    0.25
    """
    return np.asarray(cap_draw_ratio(ring_radius, height) ** -2.0)


def cap_pressure(ring_radius: ArrayLike, height: ArrayLike, blank_thickness: ArrayLike, modulus: ArrayLike) -> Array:
    """Pressure that holds a cap, by hand: the thin wall p = 2 sigma t/r of a bubble equally thick all over [Pa].

    With A = 1 + (H/a)^2, t = h0/A, sigma = G (A - A^-2) (neo-Hookean) and r = (a^2 + H^2)/(2 H)::

        p = 4 G h0 H/(a^2 + H^2) (1 - A^-3)

    ring_radius, height, blank_thickness [m]; modulus : shear modulus [Pa]. Lower than the membrane, whose pole is thinner
    and flatter: by 13 % for H = a/2, by 5 % for a hemisphere.

    >>> float(cap_pressure(1.0, 1.0, 1.0, 1.0))  # 2 (1 - 1/8)
    1.75
    """
    a, h, t, g = _floats(ring_radius, height, blank_thickness, modulus)
    return np.asarray(4.0 * g * t * h / (a**2 + h**2) * (1.0 - cap_draw_ratio(a, h) ** -3.0))


def thin_wall_pressure(stress: ArrayLike, thickness: ArrayLike, radius: ArrayLike, other: ArrayLike = np.inf) -> Array:
    """Pressure that a thin wall of so much stress carries: p = sigma t (1/r1 + 1/r2) [Pa].

    stress [Pa]; thickness, radius, other : of curvature in the two directions [m], infinite where straight; t < r/2.
    Source: Laplace and Young; thin-wall balance.

    >>> float(thin_wall_pressure(1e6, 1e-3, 0.1, 0.1))  # 2 sigma t/R
    20000.0
    """
    s, t, one, two = _floats(stress, thickness, radius, other)
    return np.asarray(s * t * (1.0 / one + 1.0 / two))


def detail_pressure(
    radius: ArrayLike, blank_thickness: ArrayLike, draw_ratio: ArrayLike, modulus: ArrayLike, edge: bool = True
) -> Array:
    """Pressure that presses a hot sheet into a corner of a radius: thin wall of neo-Hookean rubber, not yet cooled [Pa].

    Along an edge the sheet is stretched in one direction only, sigma = G (A^2 - A^-2), p = sigma t/r; in a point where three
    faces meet in all directions, sigma = G (A - A^-2), p = 2 sigma t/r; t = h0/A.

    radius : of the corner [m], at least about twice the thickness left (below it the sheet is no membrane and more is
    needed); blank_thickness [m]; draw_ratio : A, areal, in the corner, >= 1; modulus : shear modulus, hot [Pa].
    A touched mould has chilled the sheet: the real pressure is higher. Source: thin-wall balance, with the rubber stress of
    L. R. G. Treloar, The Physics of Rubber Elasticity, chapter 4.

    >>> round(float(detail_pressure(6e-3, 3e-3, 2.0, 0.4e6)) / 1e5, 2)  # bar: 0.4e6 (4 - 1/4) 1.5/6
    3.75
    """
    r, t, ratio, g = _floats(radius, blank_thickness, draw_ratio, modulus)
    stress = ratio**2 - ratio**-2 if edge else ratio - ratio**-2
    return thin_wall_pressure(g * stress, t / ratio, r, np.inf if edge else r)


def detail_radius(
    pressure: ArrayLike, blank_thickness: ArrayLike, draw_ratio: ArrayLike, modulus: ArrayLike, edge: bool = True
) -> Array:
    """Smallest corner radius that a pressure presses the hot sheet into [m]: ``detail_pressure`` the other way round.

    >>> round(1e3 * float(detail_radius(3.75e5, 3e-3, 2.0, 0.4e6)), 3)
    6.0
    """
    return np.asarray(
        detail_pressure(1.0, blank_thickness, draw_ratio, modulus, edge) / np.asarray(pressure, dtype=float)
    )


def contact_height(ring_radius: ArrayLike, mould_r: ArrayLike, mould_depth: ArrayLike) -> Array:
    """Height of the cap that first touches a female mould: up to it the sheet is blown freely.

    The cap through the ring (a, 0) and a point (r, z) of the mould has its centre at depth c = (r^2 + z^2 - a^2)/(2 z) and
    the height c + sqrt(a^2 + c^2); the lowest over all points is the first contact.

    ring_radius : a; mould_r, mould_depth : (points,) radius and depth z > 0 below the ring of the mould's profile; all in
    one unit. Returns the height, of the shape of ring_radius. A wall that leans in touches at the rim at once: the profile
    near the rim then gives the cap tangent to it.

    >>> import numpy as np
    >>> depth = np.linspace(0.001, 1.0, 1000)
    >>> float(contact_height(1.0, np.append(np.ones(1000), 0.0), np.append(depth, 0.6)))  # flat bottom at 0.6
    0.6
    """
    a = np.asarray(ring_radius, dtype=float)[..., np.newaxis]
    r, z = _floats(mould_r, mould_depth)
    centre = (r**2 + z**2 - a**2) / (2.0 * z)
    return np.asarray(np.min(centre + np.hypot(a, centre), axis=-1))


def tangent_height(ring_radius: ArrayLike, wall_angle: ArrayLike) -> Array:
    """Height of the cap that leaves the ring along a wall leaning at an angle to the ring's plane: a tan(angle/2).

    ring_radius; wall_angle [rad], over 0 to pi/2 (upright: then a hemisphere). Up to that height a cone is not touched.

    >>> round(float(tangent_height(1.0, np.pi / 2)), 12)
    1.0
    """
    a, angle = _floats(ring_radius, wall_angle)
    return np.asarray(a * np.tan(0.5 * angle))
