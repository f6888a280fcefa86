"""Air on a former or its coat: ovens, rooms, drips; the coefficient as given, or by correlation from shape, size and speed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Radiation, Series
from thermokit.exchange.air_film import coefficient_of_air

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number, Varying


def air_face(
    coefficient: Varying, temperature: Varying, emissivity: Number, walls: Varying | None = None, view: Number = 1.0
) -> Face:
    """A face in air that sees walls (of the air's temperature if None) with a share of its view."""
    factor: Any = emissivity * view
    seen = (Radiation(factor, walls if walls is not None else temperature),) if np.any(np.asarray(factor) > 0.0) else ()
    return Face(exchange=(Exchange(coefficient, temperature),), radiation=seen)


def level(value: Any) -> Any:
    """One temperature that stands for a table: the mean of its values."""
    if isinstance(value, Series):
        return sum(np.asarray(v, float) for v in value.value) / len(value.value)
    return value


def coefficient_by_speed(
    shape: str, diameter: Number, length: Number, speed: Number, surface: Any, air: Any, turning: Number = 0.0
) -> Any:
    """Mean coefficient [W/m2/K] on a former: shape and size, speed of the air [m/s], surface and air [K], turns [1/s].

    diameter : of cylinder and sphere; of a plane its length in the stream counts. A turning former adds the speed of its face
    as the root of the sum of squares (estimate).
    """
    face = np.pi * np.asarray(diameter) * np.asarray(turning) if shape != "plane" else 0.0
    moved = np.sqrt(np.asarray(speed) ** 2 + np.asarray(face) ** 2)
    size = length if shape == "plane" else diameter
    found = coefficient_of_air(shape, size, length, moved, level(surface), level(air))
    return float(found) if np.ndim(found) == 0 else found
