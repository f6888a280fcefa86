"""Air on a face, with the surroundings that the face sees: transfer, waiting, a hot-air oven."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Radiation

if TYPE_CHECKING:
    from thermokit.case.sheet import AirEntry
    from thermokit.conduction.problem import Number, Varying


def air_face(air: AirEntry, emissivity: Number, surround: Varying | None = None) -> Face:
    """A face in air of a coefficient and temperature that radiates to ``surround`` (the air's temperature if None)."""
    radiation = (Radiation(emissivity, surround if surround is not None else air.temperature),)
    return Face(
        exchange=(Exchange(air.coefficient, air.temperature),),
        radiation=radiation if np.any(np.asarray(emissivity) > 0.0) else (),
    )
