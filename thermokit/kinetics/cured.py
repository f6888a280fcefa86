"""Properties that change with the degree of cure, and what that does to the heat of reaction.

The solver takes properties against temperature. A process that knows both states gives each station's layers the
properties of the degree at which the station begins (loading and closing fresh, post-bake cured), or runs the case with
either and shows both; the difference in specific heat then belongs to the heat of reaction (``reaction_heat_at``), so
that no energy is lost between the two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Number = float | Array


def property_at_degree(fresh: Number, cured: Number, degree: Number) -> Array:
    """A property between its fresh and its cured value: fresh + (cured - fresh) degree.

    For specific heat it is the mixture of the two by mass; for conductivity it is common practice. Degrees outside 0 to 1
    count as 0 and 1. fresh, cured : any one unit; returns the same.

    >>> float(property_at_degree(0.2, 0.3, 0.5))
    0.25
    """
    return np.asarray(fresh + (np.asarray(cured) - fresh) * np.clip(degree, 0.0, 1.0))


def reaction_heat_at(
    temperature: Number, heat: Number, reference: Number, fresh_specific_heat: Number, cured_specific_heat: Number
) -> Array:
    """Heat released at full degree where cure runs at another temperature: heat + (c_fresh - c_cured)(T - reference).

    Kirchhoff's law: what reacts hot has taken up heat with the fresh specific heat, and cools with the cured one.
    temperature, reference [K]; heat [J/kg] measured at the reference; specific heats [J/kg/K]; returns [J/kg].

    >>> float(reaction_heat_at(420.0, 300e3, 400.0, 1900.0, 1800.0))  # 300 kJ/kg + 100 J/kg/K * 20 K
    302000.0
    """
    change = np.asarray(fresh_specific_heat) - cured_specific_heat
    return np.asarray(heat + change * (np.asarray(temperature) - reference))
