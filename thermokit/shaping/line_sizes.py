"""Sizes along a line: cold from hot, the opening of a die for a wanted size, what a knife leaves on cloth.

Mass is kept: density times what changes is the same before and after. Shrinkage is that of volume alone, alike in all free
directions; what drawing has locked in and gives back later (reversion) comes on top. Numbers or arrays that broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

KNIFE = 0.5  # of the gap, what drag alone carries under a level knife


def shrinkage_by_density(hot: ArrayLike, cold: ArrayLike, free: int = 3) -> Array:
    """Size cold over size hot in each free direction [-]: (density hot/density cold)^(1/free).

    hot, cold : density [kg/m3], both above 0; free : directions that may shrink, 3 for a free body, 2 where the length is
    held (by the haul-off), 1 where only the thickness may (a web held in length and width). Raises ValueError for another
    number of directions.

    >>> round(float(shrinkage_by_density(770.0, 955.0)), 4)  # polyethylene from the melt: 7 % in each direction
    0.9307
    """
    if free not in (1, 2, 3):
        raise ValueError(f"free directions: {free}; allowed 1, 2 or 3")
    return np.asarray((np.asarray(hot, float) / np.asarray(cold, float)) ** (1.0 / free))


def cold_thickness(hot: ArrayLike, density_hot: ArrayLike, density_cold: ArrayLike, free: int = 3) -> Array:
    """Thickness or diameter once cold [m], from the hot one [m]; the rest as in :func:`shrinkage_by_density`."""
    return np.asarray(np.asarray(hot, float) * shrinkage_by_density(density_hot, density_cold, free))


def hot_thickness(cold: ArrayLike, density_hot: ArrayLike, density_cold: ArrayLike, free: int = 3) -> Array:
    """Hot gauge that gives a cold one [m]: :func:`cold_thickness` turned round."""
    return np.asarray(np.asarray(cold, float) / shrinkage_by_density(density_hot, density_cold, free))


def cold_tube(
    outer: ArrayLike, wall: ArrayLike, density_hot: ArrayLike, density_cold: ArrayLike, free: int = 3
) -> tuple[Array, Array]:
    """(outer diameter, wall) of a pipe once cold [m] from those of the hot pipe, mean density over the wall [kg/m3].

    All of the section shrinks alike. A pipe that sets from the outside in is held in diameter by its shell and loses more
    in wall: the two bounds are this and :func:`cold_tube_held`.
    """
    share = shrinkage_by_density(density_hot, density_cold, free)
    return np.asarray(np.asarray(outer, float) * share), np.asarray(np.asarray(wall, float) * share)


def cold_tube_held(
    outer: ArrayLike, wall: ArrayLike, density_hot: ArrayLike, density_cold: ArrayLike
) -> tuple[Array, Array]:
    """(outer diameter, wall) once cold [m] where the shell and the haul-off hold diameter and length: all goes into the wall.

    Section pi (D - s) s falls with the density ratio; D stays.
    """
    d, s = np.asarray(outer, float), np.asarray(wall, float)
    area = (d - s) * s * np.asarray(density_hot, float) / np.asarray(density_cold)
    return d + 0.0 * area, np.asarray(2.0 * area / (d + np.sqrt(d**2 - 4.0 * area)))


def tube_section(outer: ArrayLike, wall: ArrayLike) -> Array:
    """Section of a tube [m2]: pi (D - s) s."""
    d, s = np.asarray(outer, float), np.asarray(wall, float)
    return np.asarray(np.pi * (d - s) * s)


def line_output(section: ArrayLike, speed: ArrayLike, density: ArrayLike) -> Array:
    """Mass a second [kg/s] of a section [m2] at a speed [m/s] and the density there [kg/m3].

    >>> round(3600 * float(line_output(tube_section(0.110, 0.010), 1.0 / 60.0, 955.0)), 0)  # kg/h, 110 x 10 mm at 1 m/min
    180.0
    """
    return np.asarray(np.asarray(section, float) * np.asarray(speed) * np.asarray(density))


def die_gap_of_sheet(
    cold: ArrayLike, draw_down: ArrayLike, density_hot: ArrayLike, density_cold: ArrayLike, free: int = 3
) -> Array:
    """Opening of a slot die, or of the last nip, for a wanted cold thickness [m]: hot gauge x draw-down.

    draw_down : speed of the line over speed at the lips, 1 or more where the width is held. Swelling at the lips is not
    counted: it is part of the draw-down that a trial shows.
    """
    return np.asarray(hot_thickness(cold, density_hot, density_cold, free) * np.asarray(draw_down, float))


def die_of_tube(
    outer: ArrayLike,
    wall: ArrayLike,
    draw_down: ArrayLike,
    balance: ArrayLike,
    density_hot: ArrayLike,
    density_cold: ArrayLike,
) -> tuple[Array, Array]:
    """(bore of the die, pin) [m] for a wanted cold pipe or covering [m].

    draw_down : section of the annulus over section of the melt once drawn, 1 or more; balance : (die/outer)/(pin/inner)
    of the hot tube, 1 where outside and inside are drawn alike, a little above for covering wire. With D, d the hot tube
    outside and inside: pin = d x, die = balance D x, x^2 = draw_down (D^2 - d^2)/(balance^2 D^2 - d^2). NaN where
    the balance leaves no annulus, balance D <= d. Mass kept; the names draw-down ratio and draw balance are usual in the
    trade.
    """
    share = shrinkage_by_density(density_hot, density_cold)
    d = np.asarray(outer, float) / share
    inner = d - 2.0 * np.asarray(wall, float) / share
    b = np.asarray(balance, float)
    annulus = b**2 * d**2 - inner**2
    x = np.sqrt(np.asarray(draw_down) * (d**2 - inner**2) / np.where(annulus > 0.0, annulus, np.nan))
    return np.asarray(b * d * x), np.asarray(inner * x)


def tube_draw_down(die: ArrayLike, pin: ArrayLike, outer: ArrayLike, inner: ArrayLike) -> tuple[Array, Array]:
    """(draw-down, balance) of a tube drawn from an annulus [-]; all diameters [m], tube hot."""
    a, b, c, d = (np.asarray(x, float) for x in (die, pin, outer, inner))
    return np.asarray((a**2 - b**2) / (c**2 - d**2)), np.asarray(a / c / (b / d))


def covered_diameter(conductor: ArrayLike, output: ArrayLike, speed: ArrayLike, density: ArrayLike) -> Array:
    """Diameter of a covered wire [m] from the output of cover [kg/s] and the speed of the line [m/s].

    conductor [m]; density of the cover where the diameter counts, hot or cold [kg/m3]. The conductor keeps its length, so
    that the cover shrinks in thickness alone.

    >>> round(1e3 * float(covered_diameter(1.38e-3, 4.6e-3, 5.0, 940.0)), 2)  # mm
    1.77
    """
    area = np.asarray(output, float) / (np.asarray(speed) * np.asarray(density))
    return np.asarray(np.sqrt(np.asarray(conductor, float) ** 2 + 4.0 * area / np.pi))


def knife_wet(gap: ArrayLike, push: ArrayLike = 0.0) -> Array:
    """Wet thickness that a level knife over a moving cloth leaves [m]: gap/2, plus what a head of paste pushes through.

    Between a fixed level land and a cloth at speed U a Newtonian paste is dragged with flow U gap/2; behind the knife it all
    moves with U. A head adds push = gap^2 dp/(12 mu U L) as a share of the gap (land L, pressure of the bank dp). A wedge
    before the land leaves more (:func:`knife_wet_of_wedge`), a thinning paste other than these. Couette flow, textbooks (Middleman,
    Fundamentals of Polymer Processing, chapter 8; from memory).
    """
    return np.asarray(np.asarray(gap, float) * (KNIFE + np.asarray(push)))


def knife_wet_of_wedge(gap: ArrayLike, entry: ArrayLike) -> Array:
    """The same behind a knife ground to a plane wedge [m]: gap entry/(gap + entry), from half the gap (level) up to the gap.

    entry : opening at the front of the wedge, the gap or more [m]. Reynolds' lubrication, Newtonian, no head; textbooks.

    >>> round(1e3 * float(knife_wet_of_wedge(0.4e-3, 1.2e-3)), 3)  # mm
    0.3
    """
    g, e = np.asarray(gap, float), np.asarray(entry, float)
    return np.asarray(g * e / (g + e))


def knife_push(gap: ArrayLike, pressure: ArrayLike, viscosity: ArrayLike, speed: ArrayLike, land: ArrayLike) -> Array:
    """Share of the gap that the head before the knife adds [-]: gap^2 dp/(12 mu U L); gap and land [m], SI."""
    return np.asarray(
        np.asarray(gap, float) ** 2 * np.asarray(pressure)
        / (12.0 * np.asarray(viscosity) * np.asarray(speed) * np.asarray(land))
    )  # fmt: skip


def add_on(wet: ArrayLike, density: ArrayLike, kept: ArrayLike = 1.0) -> Array:
    """Mass by area that stays on the cloth [kg/m2]; wet thickness [m], density of the paste [kg/m3], share not lost as vapour.

    >>> round(1e3 * float(add_on(knife_wet(0.5e-3), 1250.0)), 1)  # g/m2
    312.5
    """
    return np.asarray(np.asarray(wet, float) * np.asarray(density) * np.asarray(kept))


def knife_gap(mass: ArrayLike, density: ArrayLike, kept: ArrayLike = 1.0) -> Array:
    """Gap of a level knife for a wanted add-on [m]: :func:`add_on` of :func:`knife_wet` turned round; mass [kg/m2]."""
    return np.asarray(np.asarray(mass, float) / (np.asarray(density) * np.asarray(kept) * KNIFE))
