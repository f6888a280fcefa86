"""Heat content of a case's own material straight from what the file says, sharing nothing with the solver's tables."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def enthalpy(temperature: NDArray[np.float64], stuff: Any, crystalline: Any = None) -> NDArray[np.float64]:
    """Specific enthalpy from 250 K [J/kg]: integral of the specific heat (trapezoids between its nodes) and latent heat.

    crystalline : share of a material that melts and crystallises on two curves; else by the density of its melting range.
    """
    cp = stuff.specific_heat
    nodes, values = ([250.0], [float(cp)]) if np.ndim(getattr(cp, "value", 0.0)) == 0 else (cp.temperature, cp.value)
    at = np.asarray(nodes, float)
    value = np.asarray(values, float)
    top = np.asarray(temperature, float)
    found = np.zeros_like(top)
    marks = np.concatenate([[-np.inf], at, [np.inf]])
    for low, high in pairwise(marks):
        a, b = np.clip(250.0, low, high), np.clip(top, low, high)
        found = found + (b - a) * np.interp((a + b) / 2.0, at, value)
    melting = stuff.melting
    if melting is None:
        return found
    if crystalline is not None:
        return found + float(melting.heat) * (1.0 - crystalline)
    low, high = float(melting.low), float(melting.high)
    t = np.clip(top, low, high)
    if melting.peak is None:
        share = (t - low) / (high - low)
    else:
        peak = float(melting.peak)
        up = (np.minimum(t, peak) - low) ** 2 / max((peak - low) * (high - low), 1e-300)
        whole = (high - peak) / (high - low)
        down = whole - (high - np.maximum(t, peak)) ** 2 / max((high - peak) * (high - low), 1e-300)
        share = np.where(t <= peak, up, up + down)
    return found + float(melting.heat) * share
