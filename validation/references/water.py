"""Water in channels: the correlations written out again, a row of channels by sources inside them, laminar flow by eigenvalues."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

#: liquid water at 101325 Pa, degC -> density [kg/m3], specific heat [J/kg/K], viscosity [Pa s], conductivity [W/m/K]:
#: IAPWS-95, R12-08 and R15-11, computed with an open library of fluid properties
AT_ONE_ATMOSPHERE = {
    10: (999.7025, 4195.159, 1.3059e-3, 0.5787774),
    20: (998.2072, 4184.051, 1.001596e-3, 0.5980124),
    40: (992.2164, 4179.415, 0.6527287e-3, 0.6284857),
    60: (983.1958, 4184.953, 0.4660351e-3, 0.6510003),
    80: (971.7904, 4196.753, 0.3540507e-3, 0.6669943),
}


def dittus_boelter(reynolds: float, prandtl: float, exponent: float) -> float:
    """Nu = 0.023 Re^(4/5) Pr^n."""
    return 0.023 * reynolds**0.8 * prandtl**exponent


def petukhov(reynolds: float) -> float:
    """f = 1/(0.790 ln Re - 1.64)^2."""
    return 1.0 / (0.790 * math.log(reynolds) - 1.64) ** 2


def gnielinski(reynolds: float, prandtl: float, friction: float) -> float:
    """Nu of turbulent flow in a long tube."""
    eighth = friction / 8.0
    return eighth * (reynolds - 1000) * prandtl / (1 + 12.7 * math.sqrt(eighth) * (prandtl ** (2 / 3) - 1))


def colebrook(reynolds: float, roughness: float) -> float:
    """Colebrook's equation, by bisection in 1/sqrt(f)."""
    low, high = 1.0, 50.0
    for _ in range(200):
        x = (low + high) / 2
        too_large = x + 2 * math.log10(roughness / 3.7 + 2.51 * x / reynolds) > 0
        low, high = (low, x) if too_large else (x, high)
    return low**-2


@lru_cache
def row_shape_factor(diameter: float, depth: float, pitch: float, sources: int = 60) -> float:
    """Heat of one channel of a row under a face of one temperature, over k dT, per metre.

    Line sources with mirror images on a circle inside each channel, ln|sin(pi (c - c_j)/w)/sin(pi (c - c_j*)/w)|; their
    strengths from the wall temperature at as many points.
    """
    angle = 2 * np.pi * (np.arange(sources) + 0.5) / sources
    axis = -1j * depth
    wall = axis + diameter / 2 * np.exp(1j * angle)
    inside = axis + 0.6 * diameter / 2 * np.exp(1j * angle)
    scale = np.pi / pitch
    green = np.log(np.abs(np.sin(scale * (wall[:, None] - inside)) / np.sin(scale * (wall[:, None] - inside.conj()))))
    strength = np.linalg.lstsq(green, np.full(sources, -1.0), rcond=None)[0]
    return float(2 * np.pi * strength.sum())


@lru_cache
def graetz_mean(graetz_inverse: float, points: int = 500) -> float:
    """Mean Nu of developed laminar flow in a tube of one wall temperature, at (x/D)/(Re Pr).

    (1 - r^2) dT/dX = (1/r) d/dr(r dT/dr), X = 2 (x/D)/(Re Pr) with r in radii: finite volumes and their eigenvalues.
    """
    edges = np.linspace(0.0, 1.0, points + 1)
    centres = (edges[1:] + edges[:-1]) / 2
    weight = (edges[1:] ** 2 - edges[:-1] ** 2) / 2 - (edges[1:] ** 4 - edges[:-1] ** 4) / 4
    joint = edges[1:-1] / np.diff(centres)
    stiff = np.zeros((points, points))
    i = np.arange(points - 1)
    stiff[i, i] += joint
    stiff[i + 1, i + 1] += joint
    stiff[i, i + 1] = stiff[i + 1, i] = -joint
    stiff[-1, -1] += 1.0 / (1.0 - centres[-1])
    root = np.sqrt(weight)
    rates, modes = np.linalg.eigh(stiff / root[:, None] / root)
    start = modes.T @ root
    left = float(np.sum(start**2 * np.exp(-rates * 2.0 * graetz_inverse))) / weight.sum()
    return -math.log(left) / (4.0 * graetz_inverse)
