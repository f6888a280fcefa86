"""Round membranes under pressure: the flat limit, elements by least energy, and the caps that are exact.

Lengths in ring radii, pressure as P = p R/(G h0), G the shear modulus and h0 the thickness of the flat sheet.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq


def hencky_first_coefficient(poisson: float) -> float:
    """b0 of Hencky's series for the clamped round membrane of small strain: 4 N(0)/(E h p^2 a^2)^(1/3).

    With n = N/(E h p^2 a^2)^(1/3) and x = r/a: x n'' + 3 n' = -x/(8 n^2), n'(1) + (1 - nu) n(1) = 0.
    Source: H. Hencky, Z. Math. Phys. 63 (1915) 311; W. B. Fichter, NASA TP-3658 (1997) prints 1.6827, 1.7244 and 1.7769 for
    nu = 0.2, 0.3, 0.4 (from memory).
    """
    return 4.0 * _hencky(poisson)[0]


def hencky_height(poisson: float) -> float:
    """Height of that membrane over a (p a/(E h))^(1/3): the integral of x/(2 n) from 0 to 1."""
    return _hencky(poisson)[1]


@cache
def _hencky(poisson: float) -> tuple[float, float]:
    def solved(start: float) -> np.ndarray:
        # n = start - x^2/(64 start^2) near the middle; the third state is the height
        x0 = 1e-4
        first = [start - x0**2 / (64 * start**2), -x0 / (32 * start**2), x0**2 / (4 * start)]
        found = solve_ivp(
            lambda x, y: [y[1], -1 / (8 * y[0] ** 2) - 3 * y[1] / x, x / (2 * y[0])],
            (x0, 1.0),
            first,
            method="DOP853",
            rtol=1e-12,
            atol=1e-14,
        )
        return found.y[:, -1]

    def edge(start: float) -> float:
        n, slope, _ = solved(start)
        return slope + (1 - poisson) * n

    start = brentq(edge, 0.35, 1.0, xtol=1e-14)
    return start, float(solved(start)[2])


def small_strain_pressure(height: float) -> float:
    """P of a slightly inflated incompressible membrane (nu = 1/2, E = 3 G): 3 (height/c)^3."""
    return 3.0 * (height / hencky_height(0.5)) ** 3


def cap_pressure(pole_stretch: float) -> float:
    """P of a membrane whose energy is G/2 (l1^2 + l2^2), an exact spherical cap: 4 sqrt(l - 1)/l at the pole stretch l."""
    return 4.0 * math.sqrt(pole_stretch - 1.0) / pole_stretch


def cap_height(pole_stretch: float) -> float:
    """Height of that cap: sqrt(l - 1)."""
    return math.sqrt(pole_stretch - 1.0)


def cap_stretch(pole_stretch: float, place: float) -> float:
    """Its stretch, the same along and across, at a place of the blank (stereographic): l/(1 + (l - 1) s^2)."""
    return pole_stretch / (1.0 + (pole_stretch - 1.0) * place**2)


@cache
def energy_pressure(height: float, ratio: float) -> tuple[float, float]:
    """(P, pole stretch) of a Mooney-Rivlin membrane of so much height, C2/C1 = ratio, by least potential energy.

    Straight elements between rings of the blank, U - p V stationary at a held height of the pole, with 40 and 80 elements
    and Richardson's extrapolation: nothing in common with integrating the equations of equilibrium.
    """
    coarse, fine = (np.array(_by_energy(height, ratio, n)) for n in (40, 80))
    pressure, stretch = (4 * fine - coarse) / 3
    return float(pressure), float(stretch)


def _by_energy(height: float, ratio: float, elements: int) -> tuple[float, float]:
    place = np.linspace(0.0, 1.0, elements + 1)
    middle, width = 0.5 * (place[1:] + place[:-1]), np.diff(place)

    def potential(r1, z1, r2, z2, pressure):
        along2 = ((r2 - r1) ** 2 + (z2 - z1) ** 2) / width**2
        across2 = ((r1 + r2) / (2 * middle)) ** 2
        through2 = 1 / (along2 * across2)
        first = along2 + across2 + through2 - 3
        second = 1 / along2 + 1 / across2 + 1 / through2 - 3
        energy = 0.5 * (first + ratio * second) / (1 + ratio)
        return 2 * middle * width * energy - pressure * (r1**2 + r1 * r2 + r2**2) * (z1 - z2) / 3

    def gradient(r, z, pressure):
        """Slope of U - p V by every r, then by every z."""
        ends = [r[:-1], z[:-1], r[1:], z[1:]]
        slopes = []
        for i in range(4):  # complex step: exact to rounding
            shifted = [end + 1e-30j if i == j else end for j, end in enumerate(ends)]
            slopes.append(potential(*shifted, pressure).imag / 1e-30)
        none = [0.0]
        by_r = np.concatenate([slopes[0], none]) + np.concatenate([none, slopes[2]])
        by_z = np.concatenate([slopes[1], none]) + np.concatenate([none, slopes[3]])
        return np.concatenate([by_r, by_z])

    def curvature(r, z, pressure):
        """Its slope in turn, by every r and z and by p; a ring meets its two neighbours only, so every third moves at once."""
        count, step = len(r), 1e-6
        found = np.zeros((2 * count, 2 * count + 1))
        rings = np.arange(count)
        for colour in range(3):
            moved = rings % 3 == colour
            near = rings + (colour - rings + 1) % 3 - 1  # the moved one at or beside each ring
            inside = (near >= 0) & (near < count)
            for block, (dr, dz) in enumerate(((step * moved, 0.0), (0.0, step * moved))):
                change = gradient(r + dr, z + dz, pressure) - gradient(r - dr, z - dz, pressure)
                for row in (0, count):
                    rows = rings[inside] + row
                    found[rows, near[inside] + block * count] = change[rows] / (2 * step)
        found[:, -1] = gradient(r, z, pressure + 0.5) - gradient(r, z, pressure - 0.5)  # linear in p
        return found

    # from the exact cap of a small height, and on in steps
    stops = np.append(np.arange(min(height, 0.5), height, 0.05), height)
    pole = 1 + stops[0] ** 2
    flat = 1 + (pole - 1) * place**2
    r, z = place * pole / flat, stops[0] * (1 - place**2) / flat
    pressure, count = cap_pressure(pole), elements + 1
    balanced = np.r_[1 : count - 1, count : 2 * count - 1]  # forces: all but those at the axis (r) and at the ring
    free = np.r_[1 : count - 1, count + 1 : 2 * count - 1, 2 * count]  # moved: the same but the pole's height, and p
    for stop in stops:
        z *= stop / z[0]
        for _ in range(40):
            change = np.zeros(2 * count + 1)
            slopes = curvature(r, z, pressure)[np.ix_(balanced, free)]
            change[free] = np.linalg.solve(slopes, -gradient(r, z, pressure)[balanced])
            r, z, pressure = r + change[:count], z + change[count:-1], pressure + change[-1]
            if np.abs(change).max() < 1e-9:
                break
        else:
            raise ArithmeticError(f"no equilibrium of {elements} elements found at a height of {stop:g}")
    one, two = r[1] / place[1], r[2] / place[2]
    # stretch of the pole: of the first element, with the parabola taken off by the second
    return float(pressure), float(one + (one - two) / 3)


def cone_wall(share: float, angle: float) -> float:
    """Thickness over the blank's on the wall of a cone drawn with freezing on touch, by marching the sheet's volume.

    share : of the cone's height that is passed; angle : of the wall to the ring's plane [rad].
    The textbook form is (1 + cos b)/2 (1 - share)^(1/cos b - 1); here the balance is marched in small steps instead.
    """
    steps = 20000
    sphere = 2 * math.pi * (1 - math.cos(angle))  # area of the cap over the square of its radius
    volume = math.pi
    for i in range(steps):
        rim = 1 - share * (i + 0.5) / steps
        thickness = volume / (sphere * (rim / math.sin(angle)) ** 2)
        volume -= thickness * 2 * math.pi * rim * (share / steps) / math.cos(angle)
    radius = (1 - share) / math.sin(angle)
    return volume / (sphere * radius**2)
