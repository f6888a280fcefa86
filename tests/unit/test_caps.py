"""Spherical caps against integration and the dome; corners and contact by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.shaping import caps
from thermokit.shaping.membrane import at_height
from thermokit.shaping.rubber import neo_hookean


@pytest.mark.parametrize("height", [0.1, 0.7, 1.0, 1.8])
def test_area_and_volume_agree_with_quadrature(height: float) -> None:
    radius = float(caps.cap_radius(1.0, height))
    edge = np.arccos((radius - height) / radius)
    area = quad(lambda angle: 2 * np.pi * radius**2 * np.sin(angle), 0, edge)[0]
    volume = quad(lambda angle: np.pi * (radius * np.sin(angle)) ** 2 * radius * np.sin(angle), 0, edge)[0]
    assert caps.cap_area(1.0, height) == pytest.approx(area)
    assert caps.cap_volume(1.0, height) == pytest.approx(volume)
    assert caps.cap_draw_ratio(1.0, height) == pytest.approx(area / np.pi)
    assert caps.cap_height(1.0, area / np.pi) == pytest.approx(height)


@pytest.mark.parametrize(("height", "within", "too_low"), [(0.5, 0.06, 0.14), (1.0, 0.09, 0.06), (1.5, 0.05, 0.06)])
def test_the_dome_lies_near_its_cap(height: float, within: float, too_low: float) -> None:
    """Hand check: area, volume and pressure of the neo-Hookean dome against the evenly thick bubble."""
    shape = at_height(neo_hookean(), height, 2)
    assert shape.area == pytest.approx(float(caps.cap_area(1.0, height)), rel=within)
    assert shape.volume == pytest.approx(float(caps.cap_volume(1.0, height)), rel=within)
    by_hand = float(caps.cap_pressure(1.0, height, 1.0, 1.0))
    assert (1.0 - too_low) * shape.pressure < by_hand < shape.pressure


def test_pressure_of_the_cap_is_that_of_the_thin_wall() -> None:
    """Equibiaxial neo-Hookean stress G (l^2 - l^-4) of a bubble of one stretch, sqrt of the draw ratio."""
    stretch = float(caps.cap_draw_ratio(0.2, 0.15)) ** 0.5
    radius = caps.cap_radius(0.2, 0.15)
    stress = 4e5 * float(neo_hookean().stress(stretch, stretch))
    by_wall = caps.thin_wall_pressure(stress, 3e-3 / stretch**2, radius, radius)
    assert caps.cap_pressure(0.2, 0.15, 3e-3, 4e5) == pytest.approx(float(by_wall))


@pytest.mark.parametrize("edge", [True, False])
def test_detail_there_and_back(edge: bool) -> None:
    draws = np.array([1.5, 2.0, 3.0])
    radius = caps.detail_radius(3.4e5, 3e-3, draws, 4e5, edge)
    assert caps.detail_pressure(radius, 3e-3, draws, 4e5, edge) == pytest.approx([3.4e5] * 3)


def test_first_contact() -> None:
    """Cylinder: bottom when shallow, wall (a hemisphere) when deep; cone: the tangent cap; a boss in the middle."""
    depth = np.linspace(1e-3, 2.0, 4001)
    wall, floor = np.ones_like(depth), np.linspace(0.0, 1.0, 201)
    for deep, expected in ((0.4, 0.4), (2.0, 1.0)):
        upright = depth <= deep
        r = np.concatenate([wall[upright], floor])
        z = np.concatenate([depth[upright], np.full_like(floor, deep)])
        assert caps.contact_height(1.0, r, z) == pytest.approx(expected, abs=2e-3)
    cone = np.linspace(1e-5, 0.8, 4001)
    touched = caps.contact_height(1.0, 1.0 - cone / np.tan(np.radians(60)), cone)
    assert touched == pytest.approx(float(caps.tangent_height(1.0, np.radians(60))), rel=1e-4)
    assert caps.contact_height(1.0, np.array([0.0]), np.array([0.3])) == pytest.approx(0.3)
    assert caps.contact_height(np.array([1.0, 2.0]), np.array([0.0]), np.array([0.3])).shape == (2,)
