"""Liquid water by the formulations of the IAPWS: density, specific heat, viscosity, conductivity, boiling.

Density and specific heat: region 1 of the industrial formulation, IAPWS R7-97(2012), eq. 7, a Gibbs energy g(p, T) with
pi = p/16.53 MPa and tau = 1386 K/T,

    g/(R T) = sum n (7.1 - pi)^I (tau - 1.222)^J,      rho = p/(R T pi g_pi),      cp = -R tau^2 g_tautau

boiling: region 4, eq. 29 to 31; viscosity: R12-08, eq. 10 to 12; conductivity: R15-11, eq. 15 to 17, both without the
terms that only count near the critical point (0.2 % of the conductivity at 200 degC, nothing that shows below 150 degC).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

GAS_CONSTANT = 461.526  # J/kg/K, R7-97 eq. 1
CRITICAL_TEMPERATURE = 647.096  # K
CRITICAL_DENSITY = 322.0  # kg/m3

# fmt: off
# R7-97, table 2
_I = np.array([0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 8, 8, 21, 23, 29, 30, 31, 32])
_J = np.array([-2, -1, 0, 1, 2, 3, 4, 5, -9, -7, -1, 0, 1, 3, -3, 0, 1, 3, 17, -4, 0, 6, -5, -2, 10, -8, -11, -6, -29,
               -31, -38, -39, -40, -41])
_N = np.array([
    0.14632971213167, -0.84548187169114, -3.756360367204, 0.33855169168385e1, -0.95791963387872, 0.15772038513228,
    -0.16616417199501e-1, 0.81214629983568e-3, 0.28319080123804e-3, -0.60706301565874e-3, -0.18990068218419e-1,
    -0.32529748770505e-1, -0.21841717175414e-1, -0.52838357969930e-4, -0.47184321073267e-3, -0.30001780793026e-3,
    0.47661393906987e-4, -0.44141845330846e-5, -0.72694996297594e-15, -0.31679644845054e-4, -0.28270797985312e-5,
    -0.85205128120103e-9, -0.22425281908000e-5, -0.65171222895601e-6, -0.14341729937924e-12, -0.40516996860117e-6,
    -0.12734301741641e-8, -0.17424871230634e-9, -0.68762131295531e-18, 0.14478307828521e-19, 0.26335781662795e-22,
    -0.11947622640071e-22, 0.18228094581404e-23, -0.93537087292458e-25])
# R7-97, table 34
_BOIL = (0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
         0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3)
# R12-08, tables 1 and 2: H[i, j] stands with (1/T - 1)^i (rho - 1)^j
_H0 = (1.67752, 2.20462, 0.6366564, -0.241605)
_H = np.array([
    [0.520094, 0.222531, -0.281378, 0.161913, -0.0325372, 0.0, 0.0],
    [0.0850895, 0.999115, -0.906851, 0.257399, 0.0, 0.0, 0.0],
    [-1.08374, 1.88797, -0.772479, 0.0, 0.0, 0.0, 0.0],
    [-0.289555, 1.26613, -0.489837, 0.0, 0.0698452, 0.0, -0.00435673],
    [0.0, 0.0, -0.257040, 0.0, 0.0, 0.00872102, 0.0],
    [0.0, 0.120573, 0.0, 0.0, 0.0, 0.0, -0.000593264]])
# R15-11, tables 1 and 2
_L0 = (2.443221e-3, 1.323095e-2, 6.770357e-3, -3.454586e-3, 4.096266e-4)
_L = np.array([
    [1.60397357, -0.646013523, 0.111443906, 0.102997357, -0.0504123634, 0.00609859258],
    [2.33771842, -2.78843778, 1.53616167, -0.463045512, 0.0832827019, -0.00719201245],
    [2.19650529, -4.54580785, 3.55777244, -1.40944978, 0.275418278, -0.0205938816],
    [-1.21051378, 1.60812989, -0.621178141, 0.0716373224, 0.0, 0.0],
    [-2.7203370, 4.57586331, -3.18369245, 1.1168348, -0.19268305, 0.012913842]])
# fmt: on


def density_and_specific_heat(temperature: ArrayLike, pressure: ArrayLike) -> tuple[Array, Array]:
    """(density [kg/m3], specific heat [J/kg/K]) of liquid water.

    temperature [K] from 273.15 to 623.15; pressure [Pa] from boiling to 100 MPa. Outside that the numbers mean nothing.

    >>> rho, cp = density_and_specific_heat(300.0, 3e6)  # R7-97, table 5: v = 0.100215168e-2 m3/kg, cp = 4.17301218 kJ/kg/K
    >>> round(1 / float(rho), 11), round(float(cp), 5)
    (0.00100215168, 4173.01218)
    """
    T, p = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(pressure, float))
    a, b = (7.1 - p / 16.53e6)[..., None], (1386.0 / T - 1.222)[..., None]
    g_pi = -np.sum(_N * _I * a ** (_I - 1.0) * b ** (1.0 * _J), axis=-1)
    g_tautau = np.sum(_N * _J * (_J - 1.0) * a ** (1.0 * _I) * b ** (_J - 2.0), axis=-1)
    rho = 16.53e6 / (GAS_CONSTANT * T * g_pi)
    return np.asarray(rho), np.asarray(-GAS_CONSTANT * (1386.0 / T) ** 2 * g_tautau)


def viscosity(temperature: ArrayLike, density: ArrayLike) -> Array:
    """Dynamic viscosity [Pa s] at a temperature [K] and density [kg/m3].

    >>> round(1e6 * float(viscosity(298.15, 998.0)), 6)  # R12-08, table 4
    889.7351
    """
    T = np.asarray(temperature, float) / CRITICAL_TEMPERATURE
    thin = 100.0 * np.sqrt(T) / sum(h / T**i for i, h in enumerate(_H0))
    return np.asarray(1e-6 * thin * _dense(_H, T, density))


def conductivity(temperature: ArrayLike, density: ArrayLike) -> Array:
    """Conductivity [W/m/K] at a temperature [K] and density [kg/m3].

    >>> round(1e3 * float(conductivity(298.15, 998.0)), 6)  # R15-11, table 4
    607.712868
    """
    T = np.asarray(temperature, float) / CRITICAL_TEMPERATURE
    thin = np.sqrt(T) / sum(c / T**i for i, c in enumerate(_L0))
    return np.asarray(1e-3 * thin * _dense(_L, T, density))


def _dense(table: Array, T: Array, density: ArrayLike) -> Array:
    """exp(rho sum table[i, j] (1/T - 1)^i (rho - 1)^j) with reduced T and rho."""
    rho = np.asarray(density, float) / CRITICAL_DENSITY
    T, rho = np.broadcast_arrays(T, rho)
    warm = (1.0 / T - 1.0)[..., None] ** np.arange(table.shape[0])
    tight = (rho - 1.0)[..., None] ** np.arange(table.shape[1])
    return np.asarray(np.exp(rho * np.sum((warm @ table) * tight, axis=-1)))


def saturation_pressure(temperature: ArrayLike) -> Array:
    """Absolute pressure [Pa] at which water of a temperature [K] boils, 273.15 to 647.096 K; NaN outside.

    >>> round(float(saturation_pressure(500.0)) / 1e6, 8)  # R7-97, table 35
    2.63889776
    """
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _BOIL
    T = np.asarray(temperature, float)
    T = np.where((T >= 273.15) & (T <= CRITICAL_TEMPERATURE), T, np.nan)
    t = T + n9 / (T - n10)
    a, b, c = t**2 + n1 * t + n2, n3 * t**2 + n4 * t + n5, n6 * t**2 + n7 * t + n8
    return np.asarray(1e6 * (2.0 * c / (-b + np.sqrt(b**2 - 4.0 * a * c))) ** 4)


def saturation_temperature(pressure: ArrayLike) -> Array:
    """Temperature [K] at which water boils under an absolute pressure [Pa], 611.213 Pa to 22.064 MPa; NaN outside.

    >>> round(float(saturation_temperature(1e6)), 6)  # R7-97, table 36
    453.035632
    """
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _BOIL
    p = np.asarray(pressure, float) / 1e6
    b = np.where((p >= 611.2e-6) & (p <= 22.064), p, np.nan) ** 0.25
    e, f, g = b**2 + n3 * b + n6, n1 * b**2 + n4 * b + n7, n2 * b**2 + n5 * b + n8
    d = 2.0 * g / (-f - np.sqrt(f**2 - 4.0 * e * g))
    return np.asarray((n10 + d - np.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0)
