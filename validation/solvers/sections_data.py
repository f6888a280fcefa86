"""What a section's problem says, evaluated without any code of thermokit's: heat content, conductivity, faces, time tables.

Only the numbers are read from the problem (:mod:`thermokit.conduction.section_problem`). Heat content is integrated exactly where
specific heat is linear between its nodes and latent heat a triangle or even; there are no tables in between.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Face, Medium, Transition
    from thermokit.conduction.section_problem import SectionProblem, SectionSpan

    Array = NDArray[np.float64]

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
HELD = 1e7  # W/m2/K, by which a face is held at a temperature
PERFECT = 1e7  # W/m2/K, between nodes that are doubled though their regions touch perfectly


class Stuff:
    """A medium: heat content h [J/m3] above 0 K of its scale, its slope [J/m3/K] and conductivity [W/m/K] at temperatures [K]."""

    def __init__(self, medium: Medium):
        if medium.crystallising is not None:
            raise ValueError("a medium with two curves is not followed here")
        self.density = float(medium.density)
        self.cp = _nodes(medium.specific_heat)
        self.k = _nodes(medium.conductivity)
        self.melting = medium.melting
        self.straight = len(self.cp[0]) == 1 and self.melting is None
        self.even = len(self.k[0]) == 1

    def heat(self, t: Array) -> Array:
        """Heat content [J/m3]."""
        nodes, values = self.cp
        if len(nodes) == 1:
            sensible = values[0] * t
        else:
            below = np.concatenate([[0.0], np.cumsum(np.diff(nodes) * (values[1:] + values[:-1]) / 2.0)])
            i = np.clip(np.searchsorted(nodes, t, side="right") - 1, 0, len(nodes) - 2)
            held = np.clip(t, nodes[0], nodes[-1])
            rise = (values[i + 1] - values[i]) / (nodes[i + 1] - nodes[i])
            sensible = below[i] + (values[i] + rise * (held - nodes[i]) / 2.0) * (held - nodes[i])
            sensible = (
                sensible + np.minimum(t - nodes[0], 0.0) * values[0] + np.maximum(t - nodes[-1], 0.0) * values[-1]
            )
        if self.melting is not None:
            sensible = sensible + float(self.melting.heat) * molten(t, self.melting)
        return np.asarray(self.density * sensible)

    def capacity(self, t: Array) -> Array:
        """d(heat)/dT [J/m3/K]."""
        c = np.interp(t, *self.cp)
        if self.melting is not None:
            c = c + float(self.melting.heat) * melting_density(t, self.melting)
        return np.asarray(self.density * c)

    def conductivity(self, t: Array) -> Array:
        """[W/m/K]."""
        return np.asarray(np.interp(t, *self.k))


def molten(t: Array, melting: Transition) -> Array:
    """Molten share, 0 to 1: the area of the triangle (or of the even band) below a temperature."""
    low, high = float(melting.low), float(melting.high)
    inside = np.clip(t, low, high)
    if melting.peak is None:
        return np.asarray((inside - low) / (high - low))
    peak = float(melting.peak)
    rising = (inside - low) ** 2 / ((high - low) * max(peak - low, 1e-12))
    falling = 1.0 - (high - inside) ** 2 / ((high - low) * max(high - peak, 1e-12))
    return np.asarray(np.where(inside < peak, rising, falling))


def melting_density(t: Array, melting: Transition) -> Array:
    """Slope of the molten share [1/K]."""
    low, high = float(melting.low), float(melting.high)
    within = (t > low) & (t < high)
    if melting.peak is None:
        return np.where(within, 1.0 / (high - low), 0.0)
    top = 2.0 / (high - low)
    return np.where(within, np.interp(t, [low, float(melting.peak), high], [0.0, top, 0.0]), 0.0)


def _nodes(value: Any) -> tuple[Array, Array]:
    if hasattr(value, "temperature"):
        return np.asarray(value.temperature, float), np.asarray(value.value, float)
    return np.array([300.0]), np.array([float(value)])


def at(value: Any, time: float) -> float:
    """A number, or a time table read at a time; ends held."""
    if hasattr(value, "time"):
        return float(np.interp(time, np.asarray(value.time, float), np.asarray(value.value, float)))
    return float(value)


def is_heated(value: Any) -> bool:
    """Whether a source is anything but nought at all times."""
    return bool(np.any(value.value if hasattr(value, "value") else value))


def flux(face: Face, time: float, t: Array) -> tuple[Array, Array]:
    """(heat into the body [W/m2], its slope against the face's temperature) at face temperatures [K]."""
    if face.temperature is not None:
        return HELD * (at(face.temperature, time) - t), np.full_like(t, -HELD)
    q, slope = np.full_like(t, at(face.heating, time)), np.zeros_like(t)
    for term in face.exchange:
        h = at(term.coefficient, time)
        q, slope = q + h * (at(term.temperature, time) - t), slope - h
    for seen in face.radiation:
        s = SIGMA * float(seen.factor)
        q, slope = q + s * (at(seen.temperature, time) ** 4 - t**4), slope - 4.0 * s * t**3
    return q, slope


def touching(problem: SectionProblem, span: SectionSpan, pair: frozenset[str], time: float) -> float:
    """Conductance between two regions [W/m2/K]."""
    table: dict[frozenset[str], Any] = {frozenset(touch.between): touch.conductance for touch in problem.touches}
    own = {frozenset(key): value for key, value in span.touches.items()}
    if pair not in table:
        return PERFECT
    return at(own.get(pair, table[pair]), time)


@dataclass(frozen=True)
class Piece:
    """A stretch of one span without a bend of any table: its span, when the span and the piece begin, and its length [s]."""

    span: SectionSpan
    span_begun: float
    begun: float
    length: float

    def local(self, time: float) -> float:
        """Time since the span began, a hair inside the piece so that jumps at its ends are read on its own side."""
        a = self.begun - self.span_begun
        edge = 1e-9 * self.length
        return min(max(time - self.span_begun, a + edge), a + self.length - edge)


def pieces(problem: SectionProblem) -> list[Piece]:
    """All spans in order, cut at every bend of a time table."""
    out, begun = [], 0.0
    for span in problem.spans:
        length = float(span.duration)
        bends = {0.0, length}
        for value in (*_tables(span.faces), *span.touches.values(), *(touch.conductance for touch in problem.touches)):
            bends |= {float(x) for x in getattr(value, "time", ()) if 0.0 < float(x) < length}
        for region in problem.regions:
            bends |= {x - begun for x in map(float, getattr(region.heat, "time", ())) if 0.0 < x - begun < length}
        ends = sorted(bends)
        out += [Piece(span, begun, begun + a, b - a) for a, b in pairwise(ends)]
        begun += length
    return out


def _tables(faces: Mapping[str, Face]) -> Iterator[Any]:
    for face in faces.values():
        yield from (face.temperature, face.heating)
        for term in face.exchange:
            yield from (term.coefficient, term.temperature)
        for seen in face.radiation:
            yield seen.temperature
