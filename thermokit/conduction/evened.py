"""Cells of one stuff mixed until all are alike: the temperature at which the whole holds the heat that its cells held."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.enthalpy import melted_share, sensible_enthalpy
from thermokit.conduction.problem import Curve, Medium

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

HALVINGS = 60  # of the stretch between coldest and hottest cell: below round-off


def mean_of(values: Array, weights: Array) -> Array:
    """Weighted mean over the cells, (cells,) or (cells, cases) -> () or (cases,); weights : (cells,)."""
    return np.asarray(np.tensordot(weights / weights.sum(), values, axes=(0, 0)))


def evened(temperature: Array, weights: Array, medium: Medium) -> Array:
    """Temperature of a body once its cells are mixed, () or (cases,) [K]: h(T) = mean of h(cells).

    temperature : (cells,) or (cells, cases) [K]; weights : masses of the cells, (cells,). h is the sensible heat and, of a
    medium with one curve of melting, the latent heat taken up; of one with two curves the crystalline share is a state of its
    own, to be averaged beside it, and h is the sensible heat alone. Found by halving: h rises with T.

    >>> evened(np.array([300.0, 400.0]), np.array([1.0, 3.0]), Medium(1000.0, 0.2, 1500.0)).tolist()
    375.0
    """
    if not isinstance(medium.specific_heat, Curve) and (medium.melting is None or medium.crystallising is not None):
        return mean_of(temperature, weights)
    goal = mean_of(_content(temperature, medium), weights)
    low, high = temperature.min(axis=0), temperature.max(axis=0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        below = _content(middle, medium) < goal
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2.0)


def _content(temperature: Array, medium: Medium) -> Array:
    """Specific enthalpy, (...) or (..., cases) [J/kg]."""
    cp = medium.specific_heat
    if isinstance(cp, Curve) and cp.value.ndim == 2:
        columns = [
            sensible_enthalpy(temperature[..., i], Curve(cp.temperature, cp.value[:, i]))
            for i in range(cp.value.shape[1])
        ]
        found = np.stack(columns, axis=-1)
    else:
        found = sensible_enthalpy(temperature, cp)  # type: ignore[arg-type]
    if medium.melting is None or medium.crystallising is not None:
        return found
    return np.asarray(found + medium.melting.heat * melted_share(temperature, medium.melting))
