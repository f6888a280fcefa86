"""Which wavelengths a pyrometer must look at to read the face of clear sheet, and not its depth or what lies behind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.exchange.bands import Bands

    Array = NDArray[np.float64]

OUTER = 0.1  # of the thickness: what lies within counts as the face
MOST_THROUGH = 0.01  # of what lies behind may shine through
LEAST_FROM_FACE = 0.9  # of what is read must come from the outer tenth

# common practice of the trade: narrow bands at the strongest absorption of a family, by material of the library
NARROW_BANDS = {
    "ldpe": "3.43 um",
    "hdpe": "3.43 um",
    "pp": "3.43 um",
    "pet": "7.9 um",
    "petg": "7.9 um",
    "pmma_cast": "7.9 um",
}


@dataclass(frozen=True)
class PyrometerBand:
    """What a pyrometer sees in one band.

    low, high : of the band [m]; emissivity : to be set on it, 1 - reflectance of the face [-]; sight : depth from within
    which 63 % of what it reads comes [m]; from_face : share of it from the outer tenth of the thickness [-]; through :
    share of what shines from behind that passes [-]; true : whether it reads the face.
    """

    low: float
    high: float
    emissivity: float
    sight: float
    from_face: float
    through: float
    true: bool


def pyrometer_bands(bands: Bands, thickness: float, path: float = 1.0) -> tuple[PyrometerBand, ...]:
    """How each band reads the face of a sheet, those that read it truly first, the shallowest first.

    With T(x) = sum over the band's entries of share exp(-coefficient path x): through = T(thickness), from_face =
    1 - T(thickness/10), sight where T = 1/e (1/coefficient for a single one). True means through < 1 % and from_face at
    least 90 %: then a tenth of the difference between face and depth is the most that the reading is off. The limits
    are a choice, not a standard. A band of the record is wider than a pyrometer's filter: at the peak of the absorption
    a narrow filter sees shallower than the band on average (``NARROW_BANDS``, common practice).

    bands : of one case; thickness [m]; path : 1 for a pyrometer that looks along the normal.

    >>> from thermokit.exchange.bands import grey_bands
    >>> seen = pyrometer_bands(grey_bands(10_000.0, 0.04), 4e-3)[0]
    >>> round(1e3 * seen.sight, 3), seen.emissivity, seen.true  # 1/coefficient in mm
    (0.1, 0.96, True)
    """
    found = []
    for low, high, entries in bands.ranges():
        share, rate = bands.share[entries], bands.coefficient[entries] * path
        through, deeper = _left(share, rate, thickness), _left(share, rate, OUTER * thickness)
        true = through < MOST_THROUGH and 1.0 - deeper >= LEAST_FROM_FACE
        emissivity = 1.0 - float(np.sum(share * bands.reflectance[entries]) / share.sum())
        found.append(PyrometerBand(low, high, emissivity, _sight(share, rate), 1.0 - deeper, through, true))
    return tuple(sorted(found, key=lambda band: (not band.true, band.sight)))


def _left(share: Array, rate: Array, depth: float) -> float:
    """Share of a band's radiation left after a depth."""
    return float(np.sum(share * np.exp(-rate * depth)) / share.sum())


def _sight(share: Array, rate: Array) -> float:
    """Depth at which 1/e is left, by halving a bracket between those of the strongest and the weakest entry."""
    low, high = 1.0 / rate.max(), 1.0 / max(rate.min(), 1e-9)
    for _ in range(100):
        middle = np.sqrt(low * high)
        low, high = (middle, high) if _left(share, rate, middle) > np.exp(-1.0) else (low, middle)
    return float(np.sqrt(low * high))
