"""Temperature from face to face in degC: the cell centres with both faces added, as the figures draw it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.units import to_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.history import History

    Array = NDArray[np.float64]


def celsius(kelvin: Array | float) -> Array:
    """Temperatures [K] in degC, same shape."""
    return np.asarray(to_unit(np.asarray(kelvin, dtype=np.float64), "degC", "temperature"))


def across(history: History) -> tuple[Array, Array]:
    """Places from face to face, (cells + 2,) [m], and the temperature there, (rows, cells + 2) [degC]."""
    places = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    return places, celsius(np.column_stack([history.inner_face, history.temperature, history.outer_face]))


def at_depth(history: History, depth: float) -> Array:
    """Temperature [degC] at a depth [m] in every row, (rows,): linear between cell centres and faces."""
    places, temperature = across(history)
    return np.array([np.interp(depth, places, row) for row in temperature])
