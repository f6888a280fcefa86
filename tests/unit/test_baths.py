"""Water and air about a line: the moving face against its similarity equations, printed numbers, limits, the bore."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.exchange import baths
from thermokit.exchange.convection import nusselt_plate
from validation.references.line_moving import moving_face, sakiadis


def test_similarity_solution_has_the_printed_numbers() -> None:
    """Tsou, Sparrow & Goldstein (1967): 0.3492, 1.6801, 5.545 at Pr 0.7, 10, 100; Sakiadis' wall shear 0.4437 (from memory)."""
    assert sakiadis().y[2, 0] == pytest.approx(-0.4437, abs=1e-4)
    for pr, printed in ((0.7, 0.3492), (10.0, 1.6801), (100.0, 5.545)):
        assert moving_face(pr) == pytest.approx(printed, rel=3e-4)


@pytest.mark.parametrize("prandtl", [0.7, 1.0, 2.2, 5.0, 7.0, 10.0, 100.0, 1000.0])
def test_moving_face_is_the_similarity_solution(prandtl: float) -> None:
    """The mean over a length is twice the value at its end."""
    assert baths.nusselt_moving_face(1e4, prandtl) == pytest.approx(2.0 * 100.0 * moving_face(prandtl), rel=1e-3)


def test_turbulent_face_is_that_of_a_plate() -> None:
    assert baths.nusselt_moving_face(1e7, 6.0) == pytest.approx(float(nusselt_plate(1e7, 6.0)))
    re = np.geomspace(1.0, 1e8, 4000)
    found = baths.nusselt_moving_face(re, 6.0)
    assert np.all(np.diff(found) > 0.0)
    assert np.max(found[1:] / found[:-1]) < 1.01  # no step where it changes over


@pytest.mark.parametrize(
    ("what", "found"),
    [
        ("still bath", baths.coefficient_in_water("cylinder", 0.032, 3.0, 0.02, 313.15, 288.15)),
        ("still bath", baths.coefficient_in_water("cylinder", 0.110, 3.0, 0.02, 328.15, 288.15)),
        ("stirred bath", baths.coefficient_in_water("cylinder", 0.032, 3.0, 0.02, 313.15, 288.15, across=0.1)),
        ("stirred bath", baths.coefficient_in_water("cylinder", 0.032, 3.0, 0.02, 313.15, 288.15, across=0.3)),
        ("wire trough", baths.coefficient_in_water("cylinder", 0.003, 1.0, 1.5, 313.15, 288.15)),
        ("wire trough", baths.coefficient_in_water("cylinder", 0.003, 1.0, 5.0, 313.15, 288.15)),
        ("bore, blown", baths.coefficient_of_blown_bore(0.09, 12.0, 150.0 / 3600.0, 350.0)),
        ("bore, water", baths.coefficient_of_water_in_bore(0.03, 12.0, 0.2e-3, 300.0)),
        ("bore, closed", baths.coefficient_of_closed_bore(0.09, 400.0)),
        ("wet sizing sleeve", baths.conductance_of_sleeve(0.3e-3, 5000.0, 10e-3)),
    ],
)
def test_correlations_lie_in_the_ranges_of_the_trade(what: str, found: Any) -> None:
    low, _, high = baths.RANGES[what]
    assert low <= float(found) <= high


def test_still_bath_is_natural_convection_by_ht() -> None:
    """The library ht: Churchill and Chu's horizontal cylinder, arguments Pr and Gr."""
    ht = pytest.importorskip("ht")
    at = baths.water_properties(300.65)
    grashof = 9.80665 * at["expansion"] * 25.0 * 0.05**3 / at["viscosity"] ** 2
    expected = ht.Nu_horizontal_cylinder_Churchill_Chu(float(at["prandtl"]), float(grashof)) * at["conductivity"] / 0.05
    found = baths.coefficient_in_water("cylinder", 0.05, 1e3, 1e-9, 313.15, 288.15)
    assert found == pytest.approx(float(expected), rel=2e-3)


@pytest.mark.parametrize("temperature", [283.15, 300.0, 350.0])
def test_water_by_coolprop(temperature: float) -> None:
    share = 1e-3
    properties = pytest.importorskip("CoolProp.CoolProp")
    at = baths.water_properties(temperature)
    rho, viscosity, k, cp = (properties.PropsSI(x, "T", temperature, "P", 2e5, "Water") for x in "DVLC")
    assert at["density"] == pytest.approx(rho, rel=share)
    assert at["viscosity"] == pytest.approx(viscosity / rho, rel=share)
    assert at["diffusivity"] == pytest.approx(k / rho / cp, rel=share)
    beta = properties.PropsSI("ISOBARIC_EXPANSION_COEFFICIENT", "T", temperature, "P", 2e5, "Water")
    assert at["expansion"] == pytest.approx(beta, rel=0.02)


def test_faster_lines_and_streams_cool_better() -> None:
    speed = np.geomspace(1e-3, 20.0, 300)
    for h in (
        baths.coefficient_in_water("cylinder", 0.003, 2.0, speed, 320.0, 288.0),
        baths.coefficient_in_water("plane", 0.5, 2.0, speed, 320.0, 288.0),
        baths.coefficient_in_air("cylinder", 0.003, 0.3, speed, 450.0, 296.0),
        baths.coefficient_in_water("cylinder", 0.11, 3.0, 0.02, 320.0, 288.0, across=speed),
    ):
        assert np.all(np.diff(h) > 0.0)


def test_thin_wire_in_air_is_that_of_a_thread() -> None:
    """0.1 mm at 1 m/s: the layer is much thicker than the wire, Kase and Matsuo's thread governs."""
    h = baths.coefficient_in_air("cylinder", 1e-4, 0.3, 1.0, 400.0, 300.0)
    thread = 0.42 * (1.0 * 1e-4 / 2.09e-5) ** 0.334 * 0.030 / 1e-4
    assert thread < h < 1.5 * thread


def test_sleeve_is_what_stands_in_series() -> None:
    assert baths.conductance_of_sleeve(0.0, 500.0) == pytest.approx(500.0)
    assert 1.0 / baths.conductance_of_sleeve(0.31e-3, 1e12) == pytest.approx(5e-4, rel=1e-6)


def test_closed_bore_holds_next_to_nothing() -> None:
    """Ideal gas: 101325 Pa/(287 x 400 K) x 1014 J/kg/K x section, over that of the wall."""
    air = 101325.0 / (287.0 * 400.0) * 1014.0 * np.pi / 4 * 0.09**2
    wall = 950.0 * 2300.0 * np.pi * 0.1 * 0.01
    assert baths.closed_bore_share(0.09, 0.01, 950.0, 2300.0, 400.0) == pytest.approx(air / wall, rel=0.01)


def test_slug_in_a_tube_is_the_first_root_of_j0_squared() -> None:
    from scipy.special import jn_zeros

    k = baths.air_properties(400.0)["conductivity"]
    assert baths.coefficient_of_closed_bore(0.1, 400.0) * 0.1 / k == pytest.approx(jn_zeros(0, 1)[0] ** 2, rel=1e-4)


def test_rises_of_water_and_air() -> None:
    assert baths.water_rise(4184.0 * 0.99, 1e-6 * 0.99 / 0.9982) == pytest.approx(1000.0, rel=2e-3)
    assert baths.air_rise(1000.0, 1.0 / 1.204) == pytest.approx(1000.0 / 1006.0, rel=5e-3)


def test_mean_over_a_bath_is_that_of_its_places() -> None:
    """Laminar: h at one place falls as 1/sqrt(x), its mean over the length is twice that at the end."""
    pr, re = 7.0, 4e4
    here = moving_face(pr)
    at_place = quad(lambda x: here * np.sqrt(re * x) / x, 0.0, 1.0)[0]
    assert baths.nusselt_moving_face(re, pr) == pytest.approx(at_place, rel=1e-3)
