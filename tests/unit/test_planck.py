"""Planck fractions against the textbooks' tables, against quadrature, and at their ends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.conduction import problem
from thermokit.exchange import planck
from thermokit.exchange.planck import band_fraction, emissive_power, peak_wavelength, planck_fraction


def by_quadrature(product: float) -> float:
    """15/pi^4 times the integral of x^3/(exp x - 1) above C2/(lambda T), product = lambda T [m K]."""
    low = 0.014387768775039337 / product  # CODATA 2018: h c/k, exact in the SI
    value, _ = quad(
        lambda x: x**3 / math.expm1(x) if x < 700.0 else 0.0, low, low + 60.0, epsabs=0.0, epsrel=1e-13, limit=400
    )
    return 15.0 / math.pi**4 * value


# Incropera, table 12.1, and Cengel, table 12-2, as printed: lambda T [um K], share, last digit
TABLE = [(1000, 0.000321, 1e-6), (2400, 0.140256, 2e-6), (3000, 0.273232, 3e-6), (5600, 0.701046, 3e-5)]
TABLE += [(6000, 0.738, 5e-4), (8000, 0.856, 5e-4), (20000, 0.986, 5e-4)]


@pytest.mark.parametrize(("product", "printed", "digit"), TABLE)
def test_fractions_of_the_printed_tables(product: float, printed: float, digit: float) -> None:
    assert planck_fraction(product * 1e-6, 1.0) == pytest.approx(printed, abs=digit)


@pytest.mark.parametrize("product", [300, 800, 1500, 2898, 5000, 9000, 9591, 9592, 12000, 30000, 1e5, 1e7])
def test_fractions_by_quadrature(product: float) -> None:
    # 9591.8 um K is where the sum over exponentials and the power series meet
    assert planck_fraction(product * 1e-6, 1.0) == pytest.approx(by_quadrature(product * 1e-6), abs=2e-13)


def test_ends_and_shapes() -> None:
    assert planck_fraction([0.0, np.inf], 500.0).tolist() == [0.0, 1.0]
    assert planck_fraction(np.ones((3, 1)) * 1e-6, np.array([300.0, 900.0])).shape == (3, 2)
    waves = np.geomspace(1e-8, 1e-2, 2000)
    share = planck_fraction(waves, 693.15)
    # at the ends rounding alone decides
    assert np.all(np.diff(share) > -1e-15) and share[0] == 0.0 and share[-1] == pytest.approx(1.0, abs=1e-7)


def test_bands_that_join_add_up() -> None:
    edges = np.array([0.0, 0.8, 1.6, 2.2, 3.2, 5.5, 20.0, np.inf]) * 1e-6
    shares = band_fraction(edges[:-1, None], edges[1:, None], np.array([300.0, 693.15, 2500.0]))
    assert shares.sum(axis=0) == pytest.approx(1.0, abs=1e-15)
    # a panel of 700 degC between 2 and 4 um
    want = by_quadrature(4e-6 * 973.15) - by_quadrature(2e-6 * 973.15)
    assert band_fraction(2e-6, 4e-6, 973.15) == pytest.approx(want, abs=1e-13)


def test_the_peak_is_where_the_spectrum_is_highest() -> None:
    from scipy.optimize import minimize_scalar

    c2 = 0.014387768775039337
    found = minimize_scalar(lambda w: -(w**-5) / math.expm1(c2 / (w * 1e-6 * 693.15)), bounds=(1, 20), method="bounded")
    assert 1e6 * peak_wavelength(693.15) == pytest.approx(found.x, rel=1e-5)
    assert 1e6 * peak_wavelength(1.0) == pytest.approx(2897.771955, abs=1e-6)  # CODATA 2018


def test_the_constants_are_those_of_codata() -> None:
    h, c, k = 6.62607015e-34, 299792458.0, 1.380649e-23  # exact in the SI
    c2, sigma = planck.SECOND_RADIATION_CONSTANT, planck.STEFAN_BOLTZMANN
    assert c2 == pytest.approx(h * c / k, rel=1e-15)
    assert sigma == pytest.approx(2 * math.pi**5 * k**4 / (15 * h**3 * c**2), rel=1e-10)
    assert sigma == problem.STEFAN_BOLTZMANN
    assert emissive_power(1000.0) == pytest.approx(56703.74419)
