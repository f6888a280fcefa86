"""Air on a face, with the surroundings that the face sees: transfer, waiting, a hot-air oven."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Radiation
from thermokit.stations.tools import scaled

if TYPE_CHECKING:
    from thermokit.case.sheet import AirEntry
    from thermokit.conduction.problem import Number, Varying


def air_face(air: AirEntry, emissivity: Number, surround: Varying | None = None, jet: Number = 1.0) -> Face:
    """A face in air of a coefficient and temperature that radiates to ``surround`` (the air's temperature if None).

    jet : coefficient over that of the air, where a jet meets the face.
    """
    coefficient = air.coefficient if np.ndim(jet) == 0 and jet == 1.0 else scaled(air.coefficient, jet)
    radiation = (Radiation(emissivity, surround if surround is not None else air.temperature),)
    return Face(
        exchange=(Exchange(coefficient, air.temperature),),
        radiation=radiation if np.any(np.asarray(emissivity) > 0.0) else (),
    )
