"""Plane sections by series, collocation and line sources: columns, a plate with convection, cylinders in squares and strips."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from validation.references import convective_series


def half_column(x: float, y: float, terms: int = 199) -> float:
    """ISO 10211 case 1: 0 <= x <= 1, 0 <= y <= 2, 20 at the top, 0 at x = 0 and y = 0, x = 1 insulated.

    T = 20 sum over odd n of 4/(n pi) sin(n pi x/2) sinh(n pi y/2)/sinh(n pi).
    """
    n = np.arange(1, terms + 1, 2) * math.pi
    growth = np.exp(n * (y - 2) / 2) * (1 - np.exp(-n * y)) / (1 - np.exp(-2 * n))
    return float(np.sum(80 / n * np.sin(n * x / 2) * growth))


def plate_with_convection(
    x: float, y: float, width: float, height: float, k: float, h: float, bottom: float, terms: int = 300
) -> float:
    """Temperature over the air of a plate held at ``bottom`` at y = 0, insulated at x = 0, with h at x = width and y = height.

    T = sum C cos(l x) Y(y) with l tan(l width) = h/k and Y of the same condition at the top.
    """
    low = np.arange(terms) * math.pi / width
    high = low + math.pi / 2 / width
    for _ in range(100):
        middle = (low + high) / 2
        less = middle * np.abs(np.sin(middle * width)) < h / k * np.abs(np.cos(middle * width))
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    root = (low + high) / 2
    share = np.sin(root * width) / root / (width / 2 + np.sin(2 * root * width) / (4 * root))
    m = h / k / root  # Y = [m sinh + cosh](l (height - y)) over the same at y = 0
    away = np.exp(-root * y) * (1 + m + (1 - m) * np.exp(-2 * root * (height - y)))
    return float(np.sum(bottom * share * np.cos(root * x) * away / (1 + m + (1 - m) * np.exp(-2 * root * height))))


def column_with_convection(x: float | None, biot: float, hot: float, air: float, terms: int = 40_001) -> float:
    """A square column of side 1, k = 1, three sides hot, the fourth with a coefficient ``biot`` to air: temperature of that side at
    x from its end, or (x None) the heat that it gives off.

    T - hot = sum over odd n of A sin(n pi x) sinh(n pi (1 - y))/sinh(n pi), A from the convective side term by term.
    """
    n = np.arange(1, terms + 1, 2) * math.pi
    slope = n / np.tanh(n)
    step = 4 / n * (hot - air)
    if x is None:
        # all that a side of the hot sides' temperature would give off, less what its own cooling takes away
        return biot * (hot - air) - float(np.sum(biot**2 * step / (biot + slope) * 2 / n))
    return hot - float(np.sum(step * biot / (biot + slope) * np.sin(n * x)))


def cylinder_under_plane(diameter: float, depth: float) -> float:
    """Shape factor 2 pi/acosh(2 z/D) (Incropera et al., table 4.1)."""
    return 2 * math.pi / math.acosh(2 * depth / diameter)


def two_cylinders(first: float, second: float, apart: float) -> float:
    """Shape factor 2 pi/acosh((4 w^2 - D1^2 - D2^2)/(2 D1 D2)) (Incropera et al., table 4.1)."""
    return 2 * math.pi / math.acosh((4 * apart**2 - first**2 - second**2) / (2 * first * second))


@lru_cache
def cylinder_in_square(diameter: float, width: float, terms: int = 24) -> float:
    """Shape factor of a cylinder in the middle of a square of side ``width``.

    A ln(r/a) + sum c_j (r^4j - a^8j r^-4j) cos 4j angle is 0 on the cylinder; A and c_j from collocation on an eighth of the side.
    """
    a, half = diameter / 2, width / 2
    angle = math.pi / 4 * (1 - np.cos(math.pi * (np.arange(8 * terms) + 0.5) / (8 * terms))) / 2
    r = half / np.cos(angle) / a
    j = 4 * np.arange(1, terms + 1)
    largest = math.sqrt(2) * half / a
    waves = ((r[:, None] / largest) ** j - (r[:, None] * largest) ** -j) * np.cos(j * angle[:, None])
    found = np.linalg.lstsq(np.column_stack([np.log(r), waves]), np.ones(len(r)), rcond=None)[0]
    return float(2 * math.pi * found[0])


@lru_cache
def cylinder_between_planes(diameter: float, depth: float, sources: int = 60) -> float:
    """Shape factor of a cylinder midway between two planes of one temperature, ``depth`` from its axis to each.

    exp(pi z/(2 depth)) maps the strip to a half plane; line sources with their images on a circle inside the cylinder, their
    strengths from the temperature of as many points of its wall.
    """
    angle = 2 * math.pi * (np.arange(sources) + 0.5) / sources
    ring = diameter / 2 * np.exp(1j * angle) + 1j * depth
    inside = 0.6 * diameter / 2 * np.exp(1j * angle) + 1j * depth
    wall, source = (np.exp(math.pi * z / (2 * depth)) for z in (ring, inside))
    green = np.log(np.abs((wall[:, None] - source.conj()) / (wall[:, None] - source)))
    strength = np.linalg.lstsq(green, np.ones(sources), rcond=None)[0]
    return float(2 * math.pi * strength.sum())


def rectangle_mean_time(width: float, length: float, k: float, a: float, contact: float, wanted: float) -> float:
    """Time [s] at which the mean of a rectangle with the same contact all round has fallen to ``wanted`` of its start.

    The product of the means of two slabs (Carslaw & Jaeger, section 1.15).
    """
    low, high = 0.0, width**2 / a
    for _ in range(60):
        time = (low + high) / 2
        share = 1.0
        for whole in (width, length):
            biot = contact * whole / 2 / k
            share *= convective_series.mean_ratio("plane", biot, a * time / (whole / 2) ** 2)
        low, high = (time, high) if share > wanted else (low, time)
    return high


def corner(x: float, y: float, a: float, t: float) -> float:
    """A quarter space from 1 with both faces at 0: product of two error functions (Carslaw & Jaeger, section 1.15)."""
    reach = 2 * math.sqrt(a * t)
    return math.erf(x / reach) * math.erf(y / reach)
