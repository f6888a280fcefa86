"""View factors against Howell's catalogue, closure, reciprocity and quadrature of the defining integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from thermokit.exchange.view_factors import (
    exchange_factor_grey,
    view_element_corner_rectangle,
    view_element_rectangle,
    view_opposed_rectangles,
    view_perpendicular_rectangles,
)


def element_by_quadrature(width: float, height: float, gap: float, across: float, along: float) -> float:
    """Integral of cos1 cos2 / (pi r^2) over the rectangle, for a parallel element."""
    value, _ = dblquad(
        lambda y, x: gap**2 / (math.pi * ((x - across) ** 2 + (y - along) ** 2 + gap**2) ** 2),
        -width / 2,
        width / 2,
        -height / 2,
        height / 2,
        epsabs=1e-12,
    )
    return value


@pytest.mark.parametrize(
    ("offset", "expected"),
    # Howell B-3 in four pieces, recomputed: centre, middle of the 600 mm edge, corner of a 600 x 400 panel at 150 mm
    [((0.0, 0.0), 0.7523349), ((0.0, 0.2), 0.4310194), ((0.3, 0.2), 0.2305196)],
)
def test_what_a_spot_of_sheet_sees_of_its_panel(offset: tuple[float, float], expected: float) -> None:
    assert view_element_rectangle(0.6, 0.4, 0.15, *offset) == pytest.approx(expected, abs=5e-8)


@pytest.mark.parametrize("offset", [(0.0, 0.0), (0.1, 0.05), (0.3, -0.2), (0.5, 0.1), (-0.45, 0.6)])
def test_an_element_at_any_offset_agrees_with_quadrature(offset: tuple[float, float]) -> None:
    assert view_element_rectangle(0.6, 0.4, 0.15, *offset) == pytest.approx(
        element_by_quadrature(0.6, 0.4, 0.15, *offset), abs=1e-9
    )


def test_element_at_corner_and_centre_of_a_unit_square() -> None:
    assert view_element_corner_rectangle(1.0, 1.0, 1.0) == pytest.approx(0.1385316, abs=5e-8)  # Howell B-3
    assert view_element_rectangle(1.0, 1.0, 1.0) == pytest.approx(0.2394565, abs=5e-8)


def test_an_element_close_to_a_wide_panel_sees_nothing_else() -> None:
    assert view_element_rectangle(1e3, 1e3, 1e-3) == pytest.approx(1.0, abs=1e-9)
    assert view_element_rectangle(1e300, 1e300, 1e-5) == 1.0


@pytest.mark.parametrize(
    ("sides", "published", "digits"),
    [
        ((1.0, 1.0, 1.0), 0.1998, 4),  # Incropera, Table 13.2
        ((0.1, 0.1, 0.05), 0.4153, 4),  # Howell
        ((1.0, 10.0, 1.0), 0.3863825, 7),  # recomputed; Incropera's chart reads 0.39
        ((0.6, 0.4, 0.15), 0.5666666, 7),
    ],
)
def test_opposed_rectangles(sides: tuple[float, float, float], published: float, digits: int) -> None:
    assert round(float(view_opposed_rectangles(*sides)), digits) == published


def test_opposed_rectangles_are_the_mean_of_the_elements() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(24)
    across, along = np.meshgrid(0.3 * nodes, 0.2 * nodes)
    mean = np.sum(np.outer(weights, weights) / 4.0 * view_element_rectangle(0.6, 0.4, 0.15, across, along))
    assert view_opposed_rectangles(0.6, 0.4, 0.15) == pytest.approx(mean, abs=1e-9)


@pytest.mark.parametrize("side", [1e-4, 1e-2])
def test_small_far_plates_tend_to_area_over_pi_gap_squared(side: float) -> None:
    assert view_opposed_rectangles(side, side, 1.0) == pytest.approx(side**2 / math.pi, rel=1e-4)


def test_perpendicular_rectangles() -> None:
    assert view_perpendicular_rectangles(1.0, 1.0, 1.0) == pytest.approx(0.2000438, abs=5e-8)  # Howell C-14
    forth, back = view_perpendicular_rectangles(1.0, 2.0, 1.0), view_perpendicular_rectangles(2.0, 1.0, 1.0)
    assert forth == pytest.approx(0.2328526, abs=5e-8)
    assert forth * 1.0 == pytest.approx(back * 2.0, abs=1e-12)  # reciprocity


@pytest.mark.parametrize("box", [(1.0, 1.0, 1.0), (0.7, 0.5, 0.15), (2.0, 0.3, 1.1)])
def test_a_box_is_closed(box: tuple[float, float, float]) -> None:
    width, height, gap = box
    total = (
        view_opposed_rectangles(width, height, gap)
        + 2.0 * view_perpendicular_rectangles(width, gap, height)
        + 2.0 * view_perpendicular_rectangles(height, gap, width)
    )
    assert total == pytest.approx(1.0, abs=1e-12)


def test_grey_plates_and_a_shield() -> None:
    # Cengel, examples 13-7 and 13-11: 800 K (0.2) and 500 K (0.7); a shield of 0.1 on both faces; sigma as in the book
    black = 5.67e-8 * (800.0**4 - 500.0**4)
    assert exchange_factor_grey(0.2, 0.7) * black == pytest.approx(3625.0, abs=0.5)
    in_series = 1.0 / (1.0 / exchange_factor_grey(0.2, 0.1) + 1.0 / exchange_factor_grey(0.1, 0.7))
    assert in_series * black == pytest.approx(806.0, abs=0.5)
    shield = (800.0**4 - in_series * black / exchange_factor_grey(0.2, 0.1) / 5.67e-8) ** 0.25
    assert shield == pytest.approx(677.4923, abs=1e-4)


def test_exchange_factor_at_its_ends() -> None:
    assert exchange_factor_grey(1.0, 1.0, 0.4) == pytest.approx(0.4)
    assert list(exchange_factor_grey([0.0, 0.9, 0.9], [0.9, 0.0, 0.9], [1.0, 1.0, 0.0])) == [0.0, 0.0, 0.0]
