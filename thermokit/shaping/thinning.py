"""How thin a drawn part gets and where: areal draw ratio of plain shapes, bands by region and method, a measured map.

``freeze`` computes plain female draws; for what it does not hold (male moulds, plugs, pre-blown bubbles, boxes with corners)
the bands here say what is usual.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

LEAST_CORNER = 0.25  # of the blank, that a corner should keep: common practice

# method -> region -> lowest and highest thickness over the mean of the part; common practice, no source
BANDS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "female": {"flat": (0.6, 1.0), "wall": (0.8, 1.5), "corner": (0.3, 0.6)},
    "male": {"flat": (1.2, 1.8), "wall": (0.6, 1.0), "corner": (0.5, 0.9)},
    "plug": {"flat": (0.9, 1.4), "wall": (0.7, 1.1), "corner": (0.5, 0.8)},
    "bubble": {"flat": (0.8, 1.2), "wall": (0.8, 1.2), "corner": (0.5, 0.8)},
}


def box_draw_ratio(length: ArrayLike, width: ArrayLike, depth: ArrayLike) -> Array:
    """Areal draw ratio of an open box with upright walls: 1 + 2 D (L + W)/(L W); lengths in one unit.

    >>> float(box_draw_ratio(1.0, 1.0, 0.5))  # a cube cut in half: 3
    3.0
    """
    long, wide, deep = (np.asarray(x, dtype=float) for x in (length, width, depth))
    return np.asarray(1.0 + 2.0 * deep * (long + wide) / (long * wide))


def cone_draw_ratio(rim: ArrayLike, foot: ArrayLike, depth: ArrayLike) -> Array:
    """Areal draw ratio of a round pot, rim and foot given as radii: [(R + r) sqrt(D^2 + (R - r)^2) + r^2]/R^2.

    r = R is a cylinder, 1 + 2 D/R; r = 0 a pointed cone.

    >>> float(cone_draw_ratio(1.0, 1.0, 1.0)), float(cone_draw_ratio(3.0, 0.0, 4.0))  # cylinder 3, cone 5/3
    (3.0, 1.6666666666666667)
    """
    r1, r2, deep = (np.asarray(x, dtype=float) for x in (rim, foot, depth))
    return np.asarray(((r1 + r2) * np.hypot(deep, r1 - r2) + r2**2) / r1**2)


def linear_draw_ratio(depth: ArrayLike, width: ArrayLike) -> Array:
    """Depth over the smaller width of the opening, the draw as the shop says it [-].

    Usual: at most about 0.5 to 0.75 for a plain female draw, 1 for a male, 1.5 with plug or bubble (common practice).
    """
    return np.asarray(np.asarray(depth, dtype=float) / np.asarray(width, dtype=float))


@dataclass(frozen=True)
class Band:
    """Thickness of a region [m]: lowest, usual, highest; no more than the blank's."""

    low: float
    usual: float
    high: float


def bands(method: str, areas: Mapping[str, float], blank_area: float, blank_thickness: float) -> dict[str, Band]:
    """Usual thickness of flat, wall and corner of a part, by how it is drawn.

    Each region has a usual range over the part's mean thickness h0 A0/A; the usual values are brought to the volume of the
    blank, sum A_i h_i = A0 h0, and the ranges with them.

    method : female, male, plug or bubble; areas : of regions ``flat``, ``wall``, ``corner`` of the part [m2], those that it
    has; blank_area : inside the clamp [m2]; blank_thickness [m].
    Source: common practice, no source; a measured map (``measured``) is better.
    Raises DataError where method or region is none of these, or the part is smaller than the blank.

    >>> tray = bands("female", {"flat": 0.09, "wall": 0.05, "corner": 0.01}, 0.1, 3e-3)
    >>> round(sum(a * tray[n].usual for n, a in {"flat": 0.09, "wall": 0.05, "corner": 0.01}.items()) / 0.1 * 1e3, 9)
    3.0
    """
    if method not in BANDS:
        raise DataError(f"draw by {method!r} is not known; allowed: {', '.join(BANDS)}")
    known = BANDS[method]
    odd = [name for name in areas if name not in known]
    if odd or not areas or min(areas.values()) <= 0.0:
        raise DataError(
            f"regions of a draw are {', '.join(known)}, each with an area above 0; got {', '.join(areas) or 'none'}"
        )
    whole = sum(areas.values())
    if whole < blank_area:
        raise DataError(f"the part's area {whole:g} m2 is less than the blank's {blank_area:g} m2: nothing is drawn")
    mean = blank_thickness * blank_area / whole
    middles = {name: 0.5 * sum(known[name]) for name in areas}
    level = whole / sum(area * middles[name] for name, area in areas.items())
    # what would be thicker than the blank is as thick as it; the rest takes up what that leaves
    full = {name for name in areas if middles[name] * level * mean > blank_thickness}
    rest = {name: area for name, area in areas.items() if name not in full}
    if full and rest:
        left = mean * whole - blank_thickness * sum(areas[name] for name in full)
        level = left / mean / sum(area * middles[name] for name, area in rest.items())
    found = {}
    for name in areas:
        usual = blank_thickness if name in full else middles[name] * level * mean
        low, high = (min(edge / middles[name] * usual, blank_thickness) for edge in known[name])
        found[name] = Band(low, usual, high)
    return found


@dataclass(frozen=True)
class MeasuredRegion:
    """A region as measured: thickness left over that of the blank, and the areal draw ratio that belongs to it."""

    share: float
    draw_ratio: float


def measured(blank_thickness: float, thickness: Mapping[str, float]) -> dict[str, MeasuredRegion]:
    """A measured map of a part as draw ratios: h0/h by region, for the solver and for limits.

    blank_thickness [m]; thickness : by region [m], as gauged or cut; cast sheet may be up to 6 % thicker than the blank.
    Raises DataError where a thickness is not above 0 or thicker than that.

    >>> measured(3e-3, {"corner": 1e-3})["corner"].draw_ratio
    3.0
    """
    wrong = [name for name, h in thickness.items() if not 0.0 < h <= 1.06 * blank_thickness]
    if wrong:
        raise DataError(
            f"measured thickness of {', '.join(wrong)} must lie above 0 and at most 6 % over the blank's "
            f"{1e3 * blank_thickness:.3g} mm"
        )
    return {name: MeasuredRegion(h / blank_thickness, blank_thickness / h) for name, h in thickness.items()}


def found_again(
    blank_area: float, blank_thickness: float, areas: Mapping[str, float], thickness: Mapping[str, float]
) -> float:
    """Share of the blank's volume that a measured map accounts for: 1 where nothing was missed or drawn out of the clamp.

    blank_area [m2], blank_thickness [m]; areas [m2] and thickness [m] by region, of the same regions.

    >>> found_again(0.1, 3e-3, {"flat": 0.1, "wall": 0.05}, {"flat": 2e-3, "wall": 2e-3})
    1.0
    """
    if areas.keys() != thickness.keys():
        raise DataError(
            f"areas are given for {', '.join(areas)}, thicknesses for {', '.join(thickness)}: name the same"
        )
    return sum(area * thickness[name] for name, area in areas.items()) / (blank_area * blank_thickness)
