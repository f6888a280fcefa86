"""View factors between rectangles, and the exchange factor of two grey surfaces.

A view factor is the share of the diffuse radiation leaving one surface that reaches another. The forms are those of
D. C. Hamilton and W. R. Morgan, Radiant-interchange configuration factors, NACA TN 2836 (1952), gathered by
J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors (entries B-3, C-11, C-14). All functions take
numbers or arrays that broadcast; lengths in any one unit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


def view_element_corner_rectangle(width: ArrayLike, height: ArrayLike, gap: ArrayLike) -> Array:
    """View factor from a small element to a parallel rectangle, its normal through a corner of the rectangle.

    F = [A/sqrt(1+A^2) atan(B/sqrt(1+A^2)) + B/sqrt(1+B^2) atan(A/sqrt(1+B^2))] / (2 pi), A = width/gap, B = height/gap.

    width, height : of the rectangle, either sign (the factor is odd in each: so pieces are added and taken away);
    gap : distance of the element, > 0. Returns [-].
    Source: Hamilton and Morgan (1952), configuration P-1; Howell, entry B-3.

    >>> round(float(view_element_corner_rectangle(1.0, 1.0, 1.0)), 7)  # Howell B-3
    0.1385316
    """
    a = np.asarray(width, dtype=float) / np.asarray(gap, dtype=float)
    b = np.asarray(height, dtype=float) / np.asarray(gap, dtype=float)
    # hypot does not overflow for a very wide panel or a very small gap
    root_a, root_b = np.hypot(1.0, a), np.hypot(1.0, b)
    total = a / root_a * np.arctan(b / root_a) + b / root_b * np.arctan(a / root_b)
    return np.asarray(total / (2.0 * np.pi))


def view_element_rectangle(
    width: ArrayLike, height: ArrayLike, gap: ArrayLike, across: ArrayLike = 0.0, along: ArrayLike = 0.0
) -> Array:
    """View factor from a small element to a parallel rectangle at any offset: what a spot of sheet sees of a panel.

    The rectangle is cut into four by the element's normal; each piece is a corner rectangle, and pieces that the normal
    misses count as negative.

    width, height : of the rectangle, > 0; gap : distance, > 0; across, along : offset of the element from the middle of
    the rectangle in the direction of width and of height. Returns [-], from 0 to 1.
    Source: Hamilton and Morgan (1952), P-1, with the additivity of view factors.

    >>> round(float(view_element_rectangle(0.6, 0.4, 0.15)), 4)  # under the middle of a 600 x 400 panel
    0.7523
    """
    half_width, half_height = 0.5 * np.asarray(width, dtype=float), 0.5 * np.asarray(height, dtype=float)
    x, y = np.asarray(across, dtype=float), np.asarray(along, dtype=float)
    total = sum(
        view_element_corner_rectangle(half_width + sign_x * x, half_height + sign_y * y, gap)
        for sign_x in (1.0, -1.0)
        for sign_y in (1.0, -1.0)
    )
    return np.asarray(np.clip(total, 0.0, 1.0))


def view_opposed_rectangles(width: ArrayLike, height: ArrayLike, gap: ArrayLike) -> Array:
    """View factor between two equal rectangles that face each other squarely: the mean over a sheet under its panel.

    With X = width/gap and Y = height/gap::

        F = 2/(pi X Y) { ln sqrt[(1+X^2)(1+Y^2)/(1+X^2+Y^2)] + X sqrt(1+Y^2) atan[X/sqrt(1+Y^2)]
                         + Y sqrt(1+X^2) atan[Y/sqrt(1+X^2)] - X atan X - Y atan Y }

    width, height, gap > 0. Returns [-], to 1e-13 absolute (the terms cancel where a side is small against the gap).
    Source: Howell, entry C-11.

    >>> round(float(view_opposed_rectangles(0.1, 0.1, 0.05)), 4)  # Howell C-11
    0.4153
    """
    x = np.asarray(width, dtype=float) / np.asarray(gap, dtype=float)
    y = np.asarray(height, dtype=float) / np.asarray(gap, dtype=float)
    root_x, root_y = np.hypot(1.0, x), np.hypot(1.0, y)
    # ln[(1+x2)(1+y2)/(1+x2+y2)] = ln[1 + (x y)^2/(1+x2+y2)]
    total = (
        0.5 * np.log1p((x * y / np.hypot(root_x, y)) ** 2)
        + x * (root_y * np.arctan(x / root_y) - np.arctan(x))
        + y * (root_x * np.arctan(y / root_x) - np.arctan(y))
    )
    return np.asarray(np.clip(2.0 * total / (np.pi * x * y), 0.0, 1.0))


def view_perpendicular_rectangles(depth: ArrayLike, height: ArrayLike, edge: ArrayLike) -> Array:
    """View factor from a rectangle to another that stands on it at right angles along a common edge.

    With W = depth/edge (of the rectangle that sends) and H = height/edge (of the one that receives)::

        F = 1/(pi W) { W atan(1/W) + H atan(1/H) - sqrt(H^2+W^2) atan[1/sqrt(H^2+W^2)]
            + 1/4 ln( (1+W^2)(1+H^2)/(1+W^2+H^2)
                      [W^2(1+W^2+H^2)/((1+W^2)(W^2+H^2))]^(W^2) [H^2(1+H^2+W^2)/((1+H^2)(H^2+W^2))]^(H^2) ) }

    depth, height, edge > 0. Returns [-].
    Source: Howell, entry C-14.

    >>> round(float(view_perpendicular_rectangles(1.0, 1.0, 1.0)), 5)  # two walls of a cube
    0.20004
    """
    w = np.asarray(depth, dtype=float) / np.asarray(edge, dtype=float)
    h = np.asarray(height, dtype=float) / np.asarray(edge, dtype=float)
    w2, h2 = w * w, h * h
    both = w2 + h2
    root = np.sqrt(both)
    logs = (
        np.log((1.0 + w2) * (1.0 + h2) / (1.0 + both))
        + w2 * np.log(w2 * (1.0 + both) / ((1.0 + w2) * both))
        + h2 * np.log(h2 * (1.0 + both) / ((1.0 + h2) * both))
    )
    total = w * np.arctan(1.0 / w) + h * np.arctan(1.0 / h) - root * np.arctan(1.0 / root) + 0.25 * logs
    return np.asarray(np.clip(total / (np.pi * w), 0.0, 1.0))


def exchange_factor_grey(emissivity_1: ArrayLike, emissivity_2: ArrayLike, view: ArrayLike = 1.0) -> Array:
    """Exchange factor of two grey surfaces of equal area: flux = factor * sigma * (T1^4 - T2^4).

    factor = 1 / [(1 - e1)/e1 + 1/F + (1 - e2)/e2]; nothing else is seen, or what is seen beside is counted on its own.

    emissivity_1, emissivity_2 : over 0 to 1; view : F from 1 to 2, over 0 to 1 (1 for wide parallel plates).
    Returns [-]; 0 where an emissivity or the view is 0.
    Source: two-surface enclosure, e.g. Cengel, Heat and Mass Transfer, chapter 13; A. K. Oppenheim (1956).

    >>> factor = exchange_factor_grey(0.2, 0.7)
    >>> round(float(factor) * 5.67e-8 * (800.0**4 - 500.0**4))  # Cengel example 13-7: 3625 W/m2
    3625
    """
    e1, e2, seen = (np.asarray(value, dtype=float) for value in (emissivity_1, emissivity_2, view))
    # the resistances multiplied out: no division by an emissivity or view of zero
    product = e1 * e2 * seen
    resistance = (1.0 - e1) * e2 * seen + e1 * e2 + (1.0 - e2) * e1 * seen
    safe = np.where(product > 0.0, resistance, 1.0)
    return np.asarray(np.where(product > 0.0, product / safe, 0.0))
