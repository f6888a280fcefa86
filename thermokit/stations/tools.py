"""Tools that touch a sheet: as a face of given temperature, or as a body that takes part in the run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Radiation, Series, Span

if TYPE_CHECKING:
    from thermokit.case.sheet_stations import AirEntry, Touch
    from thermokit.case.tools import ToolEntry
    from thermokit.conduction.problem import Array, Number, Varying


def tool_layer(name: str, tool: ToolEntry, stuff: Any, edges: Array) -> Layer:
    """A tool with a body as a layer that stays out of the sheet's extremes."""
    assert tool.material is not None and tool.thickness is not None and tool.start is not None
    return Layer(stuff.medium(tool.material), tool.thickness, edges, tool.start, name=name, counts=False)


def open_face(side: Any) -> Face:
    """The cooled back of a tool, or its face while nothing is on it; insulated where nothing is given."""
    if side is None:
        return Face()
    return Face(exchange=(Exchange(side.coefficient, side.temperature),))


def touch_face(touch: Touch, tool: ToolEntry, air: AirEntry | None, emissivity: Number) -> Face:
    """A face that touches a tool of given temperature with a share of its area, the rest in the air.

    q = share contact (T_tool - T) + (1 - share) [h (T_air - T) + emissivity sigma (T_air^4 - T^4)]
    """
    assert tool.temperature is not None
    exchange = [Exchange(scaled(touch.contact, touch.share), tool.temperature)]
    if isinstance(touch.share, Series):  # it arrives at the tool at some time; until then it is in the air
        assert air is not None
        away = Series(touch.share.time, tuple(1.0 - share for share in touch.share.value))
        return Face(exchange=(*exchange, Exchange(scaled(air.coefficient, away), air.temperature)))
    free = 1.0 - np.asarray(touch.share)
    if air is None or not np.any(free > 0.0):
        return Face(exchange=tuple(exchange))
    exchange.append(Exchange(scaled(air.coefficient, free), air.temperature))
    return Face(exchange=tuple(exchange), radiation=(Radiation(emissivity * free, air.temperature),))


def idle(layer: Layer, tool: ToolEntry, upper: bool, duration: Number) -> Problem:
    """A tool alone between two shots: its back cooled, its face open; ``upper`` : its back is its inner face."""
    back, face = open_face(tool.back), open_face(tool.open)
    inner, outer = (back, face) if upper else (face, back)
    return Problem((layer,), (Span(duration, inner, outer, name="between"),))


def scaled(value: Varying, share: Any) -> Varying:
    """A value that may change in time, times a share; or one value times a share that changes in time."""
    if isinstance(share, Series):
        assert not isinstance(value, Series)
        return Series(share.time, tuple(value * s for s in share.value))
    if isinstance(value, Series):
        return Series(value.time, tuple(v * share for v in value.value))
    scaled: Varying = value * share
    return scaled
