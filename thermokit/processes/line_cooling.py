"""One curve of melting for what only cools: what comes as melt and meets nothing hot enough to melt it again.

A polymer melts and crystallises on two curves, which in a batch costs some three times as much as one. What cools from the melt
follows the curve of crystallising alone; where its skin warms up again from inside, in a gap behind a bath, it would go back on
it a little, which it does not in truth. Good for comparisons and first looks.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.course import Course


def one_curve(course: Course) -> Course:
    """The course with the curve of crystallising in place of both, where all of it comes as melt and nothing melts it again;
    else as it is."""
    double = [
        x
        for leg in course.legs
        for x in leg.layers
        if x.medium.melting is not None and x.medium.crystallising is not None
    ]
    if not double or not all(_molten(x) for x in double) or _hottest(course) >= min(_low(x) for x in double):
        return course

    def single(layer: Any) -> Any:
        medium = layer.medium
        if medium.melting is None or medium.crystallising is None:
            return layer
        curve = replace(medium.crystallising, heat=medium.melting.heat)
        return replace(layer, medium=replace(medium, melting=curve, crystallising=None), crystalline_start=None)

    return course.each(lambda leg: leg.with_(layers=tuple(single(x) for x in leg.layers)))


def _molten(layer: Any) -> bool:
    """Whether a layer comes hotter than its range of melting."""
    return bool(np.min(layer.start) >= np.max(layer.medium.melting.high))


def _low(layer: Any) -> float:
    """Where it is all crystalline [K]."""
    return float(np.min(layer.medium.crystallising.low))


def _hottest(course: Course) -> float:
    """Hottest surroundings of any span [K]; infinite where heat is put in."""
    found = [0.0]
    for leg in course.legs:
        for span in leg.spans:
            if span.sources:
                return np.inf
            for face in (span.inner, span.outer):
                if _largest(face.heating) != 0.0:
                    return np.inf
                found += [_largest(x.temperature) for x in face.exchange if _largest(x.coefficient) > 0.0]
                found += [_largest(x.temperature) for x in face.radiation]
    return max(found)


def _largest(value: Any) -> float:
    """The largest of a number, an array or what changes in time; infinite where that cannot be told."""
    return float(np.max(value)) if isinstance(value, (int, float, np.ndarray)) else np.inf
