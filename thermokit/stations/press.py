"""A charge in the press: its sides against the mould or in the air, halves with bodies, and how it lies before pressing.

Everything counts for 1 m2 of the projected area. A loose charge of thickness t that covers the share c of that area, with
conductivity k, holds the same mass as the pressed one of thickness L. Followed by its mass it is a layer of the pressed
thickness and density whose conductivity is

    k_eff = k c L / t

and whose faces exchange c times what a whole face would. That is exact for heat that runs through the thickness only: the
conductance of the heap is c k/t, and so is k_eff/L. So no layer changes its mesh or its mass when the press closes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Curve, Exchange, Face, Layer, Medium, Radiation, Series

if TYPE_CHECKING:
    from thermokit.case.charge_mould import HalfEntry
    from thermokit.conduction.problem import Array, Number, Varying


def pressed_face(contact: Varying, temperature: Varying, cover: Number = 1.0) -> Face:
    """A side that touches a half of the mould, or a fixture, of a given temperature with a share of its area."""
    return Face(exchange=(Exchange(times(contact, cover), temperature),))


def free_face(air: Any, emissivity: Number, cover: Number = 1.0) -> Face:
    """A side in the air: convection, and radiation to surroundings of the same temperature."""
    radiates = bool(np.any(np.asarray(emissivity) > 0.0))
    return Face(
        exchange=(Exchange(times(air.coefficient, cover), air.temperature),),
        radiation=(Radiation(np.asarray(emissivity) * cover, air.temperature),) if radiates else (),
    )


def half_layer(name: str, half: HalfEntry, stuff: Any, edges: Array) -> Layer:
    """A half of the mould with a body, as a layer that stays out of the charge's extremes."""
    assert half.material is not None and half.thickness is not None and half.start is not None
    return Layer(stuff.medium(half.material), half.thickness, edges, half.start, name=name, counts=False)


def platen_face(half: HalfEntry, own: Varying | None, begun: Number) -> Face:
    """The back of a half with a body; own : temperature of its platen in this station, None for that of the mould."""
    assert half.platen is not None
    temperature = own if own is not None else from_station(half.platen.temperature, begun)
    return Face(exchange=(Exchange(half.platen.coefficient, temperature),))


def from_station(value: Varying, begun: Number) -> Varying:
    """A value whose table runs from the start of the case, as one that runs from a station's start [s].

    >>> from_station(Series((0.0, 60.0), (400.0, 440.0)), 20.0)
    Series(time=(-20.0, 40.0), value=(400.0, 440.0))
    """
    if not isinstance(value, Series):
        return value
    return Series(tuple(time - begun for time in value.time), value.value)


def times(value: Varying, factor: Number) -> Varying:
    """A value that may change in time, times a number."""
    if isinstance(value, Series):
        return Series(value.time, tuple(entry * factor for entry in value.value))
    return value * factor


def loose_medium(medium: Medium, conductivity: Number | None, cover: Number, share: Number) -> Medium:
    """A loose charge on the pressed thickness: see above.

    conductivity : of what lies there [W/m/K], None for that of the pressed charge; share : pressed over loose thickness [-].
    """
    own = medium.conductivity if conductivity is None else conductivity
    return replace(medium, conductivity=scaled(own, np.asarray(cover) * share))


def scaled(value: Number | Curve, factor: Any) -> Number | Curve:
    """A property times a number or one number a case."""
    if not isinstance(value, Curve):
        return value * (float(factor) if np.ndim(factor) == 0 else factor)
    if np.ndim(factor) == 0:
        return Curve(value.temperature, value.value * float(factor))
    table = value.value if value.value.ndim == 2 else value.value[:, None]
    return Curve(value.temperature, table * factor)


def between(fresh: Number | Curve, cured: Number | None, degree: float) -> Number | Curve:
    """A property between its fresh and its cured value: fresh + (cured - fresh) degree; cured None: it does not change.

    >>> between(0.2, 0.3, 0.5)
    0.25
    """
    if cured is None or degree == 0.0:
        return fresh
    if not isinstance(fresh, Curve):
        return fresh + (cured - fresh) * degree
    part = scaled(fresh, 1.0 - degree)
    assert isinstance(part, Curve)
    if np.ndim(cured) == 0:
        return Curve(part.temperature, part.value + cured * degree)
    table = part.value if part.value.ndim == 2 else part.value[:, None]
    return Curve(part.temperature, table + np.asarray(cured) * degree)
