"""Convection correlations against the open library ht, which wrote the same papers down independently, and their ranges."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.exchange import convection as c
from thermokit.exchange.air_film import air_properties, coefficient_of_air, outside_of_air

ht = pytest.importorskip("ht")

REYNOLDS = [5.0, 300.0, 6071.0, 5e4, 4e5]
RAYLEIGH = [1e2, 1e5, 1e8, 1e11]


@pytest.mark.parametrize("re", REYNOLDS)
@pytest.mark.parametrize("pr", [0.69, 0.71, 5.0])
def test_cylinders_in_cross_flow(re: float, pr: float) -> None:
    assert c.nusselt_cylinder_churchill_bernstein(re, pr) == pytest.approx(
        ht.conv_external.Nu_cylinder_Churchill_Bernstein(re, pr), rel=1e-9
    )
    assert c.nusselt_cylinder_zukauskas(re, pr, pr * 1.1) == pytest.approx(
        ht.conv_external.Nu_cylinder_Zukauskas(re, pr, pr * 1.1), rel=0.05
    )


@pytest.mark.parametrize("ra", RAYLEIGH)
def test_natural_convection(ra: float) -> None:
    pr = 0.7
    plate = ht.conv_free_immersed.Nu_vertical_plate_Churchill(pr, ra / pr)
    assert c.nusselt_vertical_plate_churchill_chu(ra, pr) == pytest.approx(plate, rel=1e-9)
    cylinder = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(pr, ra / pr)
    assert c.nusselt_horizontal_cylinder_churchill_chu(ra, pr) == pytest.approx(cylinder, rel=1e-9)
    if ra <= 1e5:  # beyond, ht adds Churchill's turbulent factor, which ours leaves out
        sphere = ht.conv_free_immersed.Nu_sphere_Churchill(pr, ra / pr)
        assert c.nusselt_sphere_churchill(ra, pr) == pytest.approx(sphere, rel=1e-3)


@pytest.mark.parametrize("re", [10.0, 1e3, 5e4])
def test_spheres(re: float) -> None:
    """ht's Whitaker is that of a packed bed or cylinder; here the equation by hand for one number, and the limit at rest."""
    pr = 0.71
    by_hand = 2.0 + (0.4 * re**0.5 + 0.06 * re ** (2.0 / 3.0)) * pr**0.4
    assert c.nusselt_sphere_whitaker(re, pr) == pytest.approx(by_hand, rel=1e-12)
    assert c.nusselt_sphere_whitaker(0.0, pr) == pytest.approx(2.0)


def test_plates_go_over_from_laminar_to_mixed() -> None:
    """Both equations are published for Re = 5e5; there they are within a tenth of each other."""
    assert c.nusselt_plate(5e5, 0.7) == pytest.approx(0.664 * 5e5**0.5 * 0.7 ** (1 / 3), rel=1e-12)
    assert c.nusselt_plate(1e6, 0.7) == pytest.approx((0.037 * 1e6**0.8 - 871.0) * 0.7 ** (1 / 3), rel=1e-12)
    assert c.nusselt_plate(5.001e5, 0.7) == pytest.approx(float(c.nusselt_plate(5e5, 0.7)), rel=0.12)


def test_outside_is_said() -> None:
    assert c.outside("nusselt_cylinder_churchill_bernstein", 6000.0) == ""
    assert "outside its range" in c.outside("nusselt_sphere_whitaker", np.array([1.0, 100.0]))
    assert outside_of_air("cylinder", 0.02, 0.0, 350.0) == ""
    assert "Re" in outside_of_air("sphere", 2.0, 50.0, 350.0)
    assert outside_of_air("plane", 0.2, 3.0, 350.0) == ""


def test_air() -> None:
    """Dry air at 300 K, Incropera et al., table A.4: k 26.3e-3, nu 15.89e-6, Pr 0.707."""
    at = air_properties(300.0)
    assert float(at["conductivity"]) == pytest.approx(26.3e-3, rel=0.01)
    assert float(at["viscosity"]) == pytest.approx(15.89e-6, rel=0.02)
    assert float(at["prandtl"]) == pytest.approx(0.707, rel=0.01)
    assert float(at["expansion"]) == pytest.approx(1.0 / 300.0, rel=0.01)


def test_coefficients_lie_where_ovens_are() -> None:
    """Still air 3 to 10, a fan of 2 to 10 m/s on former-sized bodies 10 to 100 W/m2/K: common practice, no source."""
    for shape in ("plane", "cylinder", "sphere"):
        still = float(coefficient_of_air(shape, 0.05, 0.2, 0.0, 330.0, 440.0))
        assert 3.0 < still < 13.0
        fan = coefficient_of_air(shape, 0.05, 0.2, np.array([2.0, 10.0]), 330.0, 440.0)
        assert np.all((fan > 10.0) & (fan < 110.0))
        assert fan[1] > fan[0] > still
