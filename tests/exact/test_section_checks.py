"""The exact solutions of sections by a second method each: conditions they must meet, limits, other libraries' formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest

from validation.references import convective_series, sections, water
from validation.references.sections_boxes import graded, steady, wood_and_aluminium


def test_plate_meets_its_conditions() -> None:
    """NAFEMS T4's series: bottom at 100, k dT/dn = -h T on both convective sides, no flux at x = 0, Laplace inside."""
    width, height, k, h, d = 0.6, 1.0, 52.0, 750.0, 1e-4

    def t(x: float, y: float) -> float:
        return sections.plate_with_convection(x, y, width, height, k, h, 100.0, 2000)

    assert t(0.2, 0.0) == pytest.approx(100.0, abs=0.2)
    for x, y in ((0.1, 0.3), (0.4, 0.7)):
        curve = t(x + 0.01, y) + t(x - 0.01, y) + t(x, y + 0.01) + t(x, y - 0.01) - 4 * t(x, y)
        assert abs(curve) < 1e-4 * t(x, y)
    assert k * (t(width, 0.3) - t(width - d, 0.3)) / d == pytest.approx(-h * t(width, 0.3), rel=2e-3)
    assert k * (t(0.2, height) - t(0.2, height - d)) / d == pytest.approx(-h * t(0.2, height), rel=2e-3)
    assert t(d, 0.3) - t(0.0, 0.3) == pytest.approx(0.0, abs=1e-5)


def test_column_with_convection_loses_what_passes_its_side() -> None:
    """The heat is the integral of the coefficient over the side's own temperatures."""
    x = (np.arange(2000) + 0.5) / 2000
    side = np.array([sections.column_with_convection(float(p), 10.0, 500.0, 300.0, 4001) for p in x])
    heat = 10.0 * float(np.mean(side - 300.0))
    assert sections.column_with_convection(None, 10.0, 500.0, 300.0) == pytest.approx(heat, rel=2e-5)


def test_half_column_at_its_middle() -> None:
    """Four such columns round a point of all sides: the mean of the sides, 20/4, by symmetry (x = 1, y = 1 of a square of 2)."""
    assert sections.half_column(1.0, 1.0) == pytest.approx(5.0, abs=1e-12)


@pytest.mark.parametrize(("shape", "thin"), [("planes", 8 / math.pi), ("square", 1.0787)])
def test_thin_cylinders(shape: str, thin: float) -> None:
    """Thin wires: 2 pi/ln(8 z/(pi D)) midway between planes, and 2 pi/ln(1.0787 w/D) in a square (the conformal radius of a square
    of side 1 is 0.53935: 8 sqrt(pi)/Gamma(1/4)^2 halved).
    """
    d = 0.01
    if shape == "planes":
        assert sections.cylinder_between_planes(d, 1.0) == pytest.approx(2 * math.pi / math.log(thin / d), rel=1e-5)
        return
    radius = 4 * math.sqrt(math.pi) / math.gamma(0.25) ** 2
    assert 2 * radius == pytest.approx(thin, abs=1e-4)
    assert sections.cylinder_in_square(d, 1.0) == pytest.approx(2 * math.pi / math.log(2 * radius / d), rel=1e-5)


def test_rows_far_apart_are_single_cylinders() -> None:
    """A row with a wide pitch and a depth that is small beside it: the single cylinder under a plane, S = 2 pi/acosh(2 z/D)."""
    assert water.row_shape_factor(1.0, 2.0, 400.0) == pytest.approx(sections.cylinder_under_plane(1.0, 2.0), rel=2e-4)
    assert sections.two_cylinders(1.0, 1.0, 4.0) == pytest.approx(
        sections.cylinder_under_plane(1.0, 2.0) / 2, rel=1e-12
    )


def test_shape_factors_of_a_library() -> None:
    """The library ht has the same closed forms."""
    ht = pytest.importorskip("ht")
    assert sections.cylinder_under_plane(1.0, 2.0) == pytest.approx(ht.S_isothermal_pipe_to_plane(1.0, 2.0), rel=1e-12)
    theirs = ht.S_isothermal_pipe_to_isothermal_pipe(1.0, 1.0, 3.0)
    assert sections.two_cylinders(1.0, 1.0, 3.0) == pytest.approx(theirs, rel=1e-12)


def test_boxes_in_series() -> None:
    """Layers across the heat's way: 1/h + sum of d/k + 1/h, exactly; and case 2 of ISO 10211 hardly moves with the grid."""
    x, y = graded((0.0, 0.3), 4), graded((0.0, 0.1, 0.3), 4)
    k = np.where((y[1:] + y[:-1]) / 2 < 0.1, 2.0, 5.0)[None, :] * np.ones((len(x) - 1, 1))
    found = steady(x, y, k, (10.0, 100.0), (40.0, 0.0))
    flux = 100.0 / (0.1 + 0.05 + 0.04 + 0.025)
    assert found.at(0.0, 0.0) == pytest.approx(100.0 - 0.1 * flux, abs=1e-9)
    assert found.at(0.3, 0.1) == pytest.approx(100.0 - 0.15 * flux, abs=1e-9)
    (coarse, less), (fine, heat) = wood_and_aluminium(30), wood_and_aluminium()
    assert less == pytest.approx(heat, abs=0.01)
    for place in ((0.0, 0.0475), (0.015, 0.0415), (0.0, 0.0)):
        assert coarse.at(*place) == pytest.approx(fine.at(*place), abs=0.01)


def test_mean_of_a_rectangle() -> None:
    """Ends that have not met yet each take 2 sqrt(a t/pi) of the length; of a square both means are alike."""
    a, k = 1e-7, 0.2
    time = sections.rectangle_mean_time(0.003, 0.12, k, a, math.inf, 0.25)
    slab = convective_series.mean_ratio("plane", math.inf, a * time / 0.0015**2)
    assert slab * (1.0 - 4.0 * math.sqrt(a * time / math.pi) / 0.12) == pytest.approx(0.25, rel=1e-6)
    square = convective_series.fourier_to_reach("plane", math.inf, 0.5, "mean") * 0.0015**2 / a
    assert sections.rectangle_mean_time(0.003, 0.003, k, a, math.inf, 0.25) == pytest.approx(square, rel=1e-9)
