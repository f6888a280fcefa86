"""Draw: volume of the sheet, the textbook cone, known limits, bands and measured maps."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.errors import DataError
from thermokit.shaping.freeze import frozen_draw, wall_thickness
from thermokit.shaping.thinning import (
    BANDS,
    bands,
    box_draw_ratio,
    cone_draw_ratio,
    found_again,
    linear_draw_ratio,
    measured,
)
from validation.references import membranes

# rim 1, depth, angle of the wall [deg], corner radius: deep, upright, shallow (bottom first), leaning
MOULDS = [(1.0, 90, 0.1), (2.0, 90, 0.05), (0.4, 90, 0.05), (0.8, 75, 0.05), (0.3, 70, 0.02), (0.5, 60, 0.02)]


@pytest.mark.parametrize("trough", [False, True], ids=["round", "trough"])
@pytest.mark.parametrize(("depth", "degrees", "corner"), MOULDS)
def test_the_blank_is_found_again_in_the_part(depth: float, degrees: float, corner: float, trough: bool) -> None:
    """Thickness integrated over wall, bottom and fillet gives the blank, by a rule that knows nothing of the stages."""
    angle = math.radians(degrees)
    part = frozen_draw(1.0, depth, angle, corner, trough=trough, points=401)
    foot, half = 1.0 - depth / math.tan(angle), math.tan(angle / 2)
    b = foot - corner * half
    if trough:
        blank, fillet = 1.0, corner * angle
        volume = np.trapezoid(part.wall, part.slant) + np.trapezoid(part.bottom, part.across)
        area = 2.0 * (b + depth / math.sin(angle) - corner * half + fillet) / 2.0
    else:
        blank, fillet = math.pi, 2 * math.pi * corner * (b * angle + corner * (1 - math.cos(angle)))
        volume = np.trapezoid(part.wall * 2 * np.pi * (1 - part.slant * math.cos(angle)), part.slant)
        volume += np.trapezoid(part.bottom * 2 * np.pi * part.across, part.across)
        foot_slant = depth / math.sin(angle) - corner * half
        area = math.pi * b**2 + math.pi * foot_slant * (2 - foot_slant * math.cos(angle)) + fillet
    assert volume + part.corner * fillet == pytest.approx(blank, rel=5e-6)
    assert part.draw_ratio == pytest.approx(area / blank, rel=1e-9)
    assert part.slant[-1] == pytest.approx(depth / math.sin(angle) - corner * half)
    assert part.across[-1] == pytest.approx(b)
    assert part.corner == min(part.wall.min(), part.bottom.min())


@pytest.mark.parametrize("degrees", [30, 60, 75])
def test_wall_of_a_cone_by_the_textbook_and_by_marching(degrees: float) -> None:
    """(1 + cos b)/2 (1 - S sin b/H)^(sec b - 1), as printed for thermoforming into a cone of height H."""
    angle = math.radians(degrees)
    height = math.tan(angle)
    slant = np.array([0.0, 0.3, 0.6]) * height / math.sin(angle)
    printed = 0.5 * (1 + math.cos(angle)) * (1 - slant * math.sin(angle) / height) ** (1 / math.cos(angle) - 1)
    assert wall_thickness(slant, 1.0, angle) == pytest.approx(printed, rel=1e-12)
    assert membranes.cone_wall(0.6, angle) == pytest.approx(printed[2], rel=1e-3)


@pytest.mark.parametrize("trough", [False, True])
def test_an_upright_wall_is_the_limit_of_a_steep_one(trough: bool) -> None:
    upright, steep = (wall_thickness(0.7, 1.0, a, trough=trough) for a in (math.pi / 2, math.pi / 2 - 1e-6))
    assert upright == pytest.approx(float(steep), rel=1e-5)


def test_thickness_in_a_square_edge_goes_with_its_radius() -> None:
    """Arc pi r/2, contact 2 dr: h ~ r^(4/pi - 1), and the same in a round pot when the corner is small."""
    for trough, within in ((True, 1e-9), (False, 0.02)):
        two = [frozen_draw(1.0, 1.0, math.pi / 2, r, trough=trough).corner for r in (0.004, 0.002)]
        assert math.log2(two[0] / two[1]) == pytest.approx(4 / math.pi - 1, rel=within)


@pytest.mark.parametrize(
    ("depth", "degrees", "corner"), [(1.0, 90, 0.0), (1.0, 90, 1.0), (2.0, 60, 0.1), (-1.0, 90, 0.1), (1.0, 100, 0.1)]
)
def test_a_mould_that_is_none_is_refused(depth: float, degrees: float, corner: float) -> None:
    with pytest.raises(DataError, match="draw"):
        frozen_draw(1.0, depth, math.radians(degrees), corner)


def test_draw_ratios() -> None:
    assert box_draw_ratio(0.4, 0.2, np.array([0.0, 0.1])) == pytest.approx([1.0, (0.08 + 2 * 0.06) / 0.08])
    assert cone_draw_ratio(2.0, 2.0, 3.0) == pytest.approx(1 + 2 * 3 / 2)
    assert cone_draw_ratio(2.0, 1.0, 0.0) == pytest.approx(1.0)  # a step of no depth
    assert linear_draw_ratio(0.1, 0.2) == 0.5


@pytest.mark.parametrize("method", list(BANDS))
@pytest.mark.parametrize("depth", [0.02, 0.1, 0.2])
def test_usual_thicknesses_hold_the_blank(method: str, depth: float) -> None:
    """Box 400 x 200, a twentieth of its surface taken as corners."""
    walls = 2 * depth * 0.6
    areas = {"flat": 0.95 * 0.08, "wall": 0.95 * walls, "corner": 0.05 * (0.08 + walls)}
    found = bands(method, areas, 0.08, 3e-3)
    for band in found.values():
        assert 0.0 < band.low <= band.usual <= band.high <= 3e-3 * (1 + 1e-12)
    assert sum(areas[name] * band.usual for name, band in found.items()) == pytest.approx(0.08 * 3e-3, rel=1e-9)
    assert found["corner"].usual < found["flat"].usual


def test_bands_refuse_what_they_do_not_know() -> None:
    for method, areas in (("spun", {"flat": 1.0}), ("male", {"lid": 1.0}), ("male", {}), ("male", {"flat": 0.5})):
        with pytest.raises(DataError):
            bands(method, areas, 1.0, 3e-3)


def test_a_measured_map_passes_through() -> None:
    found = measured(3e-3, {"corner": 1e-3, "flat": 2.4e-3})
    assert found["corner"].draw_ratio == pytest.approx(3.0) and found["flat"].share == pytest.approx(0.8)
    assert found_again(1.0, 3e-3, {"corner": 0.2}, {"corner": 3e-3}) == pytest.approx(0.2)
    with pytest.raises(DataError, match="corner"):
        measured(3e-3, {"corner": 3.3e-3})
    with pytest.raises(DataError, match="same"):
        found_again(1.0, 3e-3, {"flat": 1.0}, {"corner": 1e-3})
