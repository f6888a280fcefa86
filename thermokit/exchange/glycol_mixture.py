"""Mixtures of water and ethylene glycol: density, specific heat, conductivity, viscosity, freezing, at any share.

    f(T, c) = sum a_ij (c - c0)^i (T - T0)^j,      c0 = 30.8462 % by mass, T0 = 31.728 degC

for density [kg/m3], specific heat [J/kg/K], conductivity [W/m/K] and ln(viscosity [mPa s]), i + j up to 5. Source: Melinder,
Properties of Secondary Working Fluids for Indirect Systems (IIR, 2010), coefficients as handed on by an open library of
fluid properties; the book itself was not seen. Shares 0 to 60 %; its measurements end at about 40 degC (from memory), the
polynomials are used up to 100 degC, where they lie within a few per cent of other tables.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

SHARES = (0.0, 0.6)  # by mass
HOTTEST = 373.15  # K
_SHARE, _TEMPERATURE = 30.8462, 273.15 + 31.728  # % by mass, K: where all but the first coefficient drop out
_POWERS = tuple((i, j) for i, most in enumerate((4, 4, 4, 3, 2, 1)) for j in range(most))  # of share and temperature

# fmt: off
# freezing [degC] (first of each power of the share), density, specific heat, conductivity, ln(viscosity)
_TABLE = np.array([
    [-15.25, 1034, 3737, 0.472, 0.4705],
    [0, -0.4781, 2.93, 0.0008903, -0.0255],
    [0, -0.002692, -0.004675, -0.000001058, 0.0001782],
    [0, 0.000004725, -0.00001389, -0.000000002789, -0.0000007669],
    [-0.808, 1.311, -17.99, -0.004286, 0.02471],
    [0, -0.006876, 0.1046, -0.00001473, -0.0001171],
    [0, 0.00004805, -0.0004147, 0.0000001059, 0.000001052],
    [0, 0.0000000169, 0.0000001847, -0.0000000001142, -0.00000001634],
    [-0.01334, 0.0000749, -0.09933, 0.00001747, 0.000003328],
    [0, 0.00007855, 0.0003516, 0.00000006814, 0.000001086],
    [0, -0.0000003995, 0.000005109, -0.000000003612, 0.00000001051],
    [0, 0.000000004982, -0.00000007138, 0.000000000002365, -0.0000000006475],
    [-0.00007293, -0.0001062, 0.00261, 0.00000003017, 0.000001659],
    [0, 0.000001229, -0.000001189, -0.000000002412, 0.000000003157],
    [0, -0.00000001153, -0.0000001643, 0.00000000004004, 0.0000000004063],
    [0.000001006, -0.0000009623, 0.00001537, -0.000000001322, 0.00000003089],
    [0, -0.00000007211, -0.0000004272, 0.00000000002555, 0.0000000001831],
    [0.00000000114, 0.00000004891, -0.000001618, 0.00000000002678, -0.000000001865]])
# fmt: on


def freezing_temperature(share: ArrayLike) -> Array:
    """Temperature [K] at which ice begins to form in a mixture; share of glycol by mass, 0 to 0.6."""
    c = 100.0 * np.asarray(share, float) - _SHARE
    rows = [row for row, (_, j) in enumerate(_POWERS) if j == 0]
    return np.asarray(273.15 + sum(_TABLE[row, 0] * c**i for i, row in enumerate(rows)))


def mixture(temperature: ArrayLike, share: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """(density [kg/m3], specific heat [J/kg/K], conductivity [W/m/K], viscosity [Pa s]); temperature [K], share by mass.

    From freezing to 373.15 K; what lies outside is an extrapolation of the polynomial and is not to be used.
    """
    T, c = np.broadcast_arrays(np.asarray(temperature, float) - _TEMPERATURE, 100.0 * np.asarray(share, float) - _SHARE)
    terms = np.stack([c**i * T**j for i, j in _POWERS], axis=-1)
    density, heat, conductivity, log_viscosity = np.moveaxis(terms @ _TABLE[:, 1:], -1, 0)
    return density, heat, conductivity, np.asarray(1e-3 * np.exp(log_viscosity))
