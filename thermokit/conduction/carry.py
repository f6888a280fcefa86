"""A body that goes on from where another left off, with its state conserved: temperature, degrees, crystalline share.

Stations that change the body itself (a sheet is drawn thinner, a coat is added, a liner is stripped) end one problem and
begin the next: ``carried`` gives the layers their state, the caller adds, takes away or thins layers in between.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.history import SpanEnd
    from thermokit.conduction.problem import Layer, Number


def carried(layers: Sequence[Layer], end: SpanEnd) -> tuple[Layer, ...]:
    """The layers with the state that they had at the end of a span.

    layers : of the problem that ``end`` comes from, same cells; end : state of the whole body, (cells,).
    """
    out = []
    first = 0
    for layer in layers:
        here = slice(first, first + layer.cells)
        first = here.stop
        reactions = tuple(replace(r, start=end.states[r.state][here]) for r in layer.reactions)
        share = end.states.get("crystalline_share")
        two_curves = layer.medium.crystallising is not None
        out.append(
            replace(
                layer,
                start=end.temperature[here],
                reactions=reactions,
                crystalline_start=share[here] if two_curves and share is not None else None,
            )
        )
    return tuple(out)


def thinned(layer: Layer, ratio: Number) -> Layer:
    """A layer drawn to ``ratio`` times its area: thinner by as much, each cell keeping its mass and its state.

    ratio : areal draw ratio [-], > 0. Raises ValueError for a ratio that is not above zero.
    """
    if np.any(np.asarray(ratio) <= 0.0):
        raise ValueError("an areal draw ratio is above zero")
    return replace(layer, thickness=layer.thickness / ratio)
