"""When does moisture of the air settle on a cold mould? The dew point by the Magnus form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

# over water: e = 6.112 hPa exp(17.62 t/(243.12 + t)), t in degC
_FACTOR, _SLOPE, _OFFSET = 611.2, 17.62, 243.12
ZERO = 273.15
RANGE = (ZERO - 45.0, ZERO + 60.0)  # K


def vapour_pressure(temperature: ArrayLike) -> Array:
    """Pressure of water vapour over a plane face of water [Pa], e = 611.2 Pa exp(17.62 t/(243.12 degC + t)).

    temperature [K], -45 to 60 degC, there within 0.3 %. Constants of Sonntag (1990) as in the World Meteorological
    Organization's Guide to Instruments (WMO-No. 8), annex 4.B (from memory).
    """
    t = np.asarray(temperature, float) - ZERO
    return np.asarray(_FACTOR * np.exp(_SLOPE * t / (_OFFSET + t)))


def dew_point(air: ArrayLike, humidity: ArrayLike) -> Array:
    """Temperature [K] at which air of a temperature [K] and relative humidity (0 to 1, above 0) gives off water.

    Below it a mould face sweats; keep it 2 K or more above (common practice, no source). Valid as
    :func:`vapour_pressure`; below freezing it is the dew point over supercooled water. Raises ValueError for a humidity
    that is not above 0 and up to 1.

    >>> round(float(dew_point(298.15, 0.6)) - 273.15, 1)  # psychrometric tables: 16.7 degC
    16.7
    """
    share = np.asarray(humidity, float)
    if np.any((share <= 0.0) | (share > 1.0)):
        raise ValueError("relative humidity lies above 0 and up to 1")
    x = np.log(share * vapour_pressure(air) / _FACTOR)
    return np.asarray(ZERO + _OFFSET * x / (_SLOPE - x))
