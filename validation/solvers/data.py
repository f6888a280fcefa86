"""A leg of a layered case read anew: time tables, faces, sources and heat content, as plain numbers for the other solvers.

Only the data of a :class:`thermokit.conduction.problem.Problem` are read (numbers, tables, parameters). Tables are cut, heat
contents summed up and faces evaluated here, by other means than in ``thermokit.conduction``.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.problem import Curve, Face, Layer, Medium, Problem, Series, Span

Array = NDArray[np.float64]

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
STEP = 0.02  # K, between nodes of a heat content


@dataclass(frozen=True)
class Ramp:
    """A value that runs in a straight line within a piece of time: at its beginning, and its rise in a second."""

    value: float
    rise: float

    def at(self, t: float) -> float:
        """Value at t [s] since the piece began."""
        return self.value + self.rise * t


def ramp(value: Any, a: float, b: float) -> Ramp:
    """A number or time table between a and b [s], where no node of it lies between them."""
    if not isinstance(value, Series):
        return Ramp(float(value), 0.0)
    times, values = np.asarray(value.time, float), np.asarray(value.value, float)
    near, far = a + 0.25 * (b - a), a + 0.75 * (b - a)  # inside, so that a jump at either end is on its right side
    u, v = (float(x) for x in np.interp([near, far], times, values))
    return Ramp(1.5 * u - 0.5 * v, 2.0 * (v - u) / (b - a))


@dataclass(frozen=True)
class Side:
    """A face within a piece of time: prescribed temperature [K], or exchange, radiation and heating added up."""

    temperature: Ramp | None
    exchange: tuple[tuple[Ramp, Ramp], ...]
    radiation: tuple[tuple[float, Ramp], ...]
    heating: Ramp

    def flux(self, t: float, surface: float) -> tuple[float, float]:
        """(heat into the body [W/m2], how it falls with the temperature of the surface [W/m2/K])."""
        heat, slope = self.heating.at(t), 0.0
        for coefficient, seen in self.exchange:
            h = coefficient.at(t)
            heat, slope = heat + h * (seen.at(t) - surface), slope + h
        for factor, walls in self.radiation:
            heat += factor * SIGMA * (walls.at(t) ** 4 - surface**4)
            slope += 4.0 * factor * SIGMA * surface**3
        return heat, slope

    def surface(self, t: float, cell: float, g: float) -> float:
        """Temperature of a face with half a cell of conductance g [W/m2/K] behind it: g (Ts - cell) = flux."""
        if self.temperature is not None:
            return self.temperature.at(t)
        guess = cell
        for _ in range(40):
            heat, slope = self.flux(t, guess)
            change = (heat - g * (guess - cell)) / (g + slope)
            guess += change
            if abs(change) < 1e-9:
                break
        return guess


@dataclass(frozen=True)
class Piece:
    """A piece of a span in which every table is a straight line; begin and end on the clock of the leg [s].

    heat : of each layer [W/m3]; sources : (density of each cell [W/m3], factor); emission : of each cell [1/m] or None.
    """

    begin: float
    end: float
    inner: Side
    outer: Side
    heat: tuple[Ramp, ...]
    sources: tuple[tuple[Array, Ramp], ...]
    emission: Array | None


def _side(face: Face, a: float, b: float) -> Side:
    return Side(
        None if face.temperature is None else ramp(face.temperature, a, b),
        tuple((ramp(e.coefficient, a, b), ramp(e.temperature, a, b)) for e in face.exchange),
        tuple((float(r.factor), ramp(r.temperature, a, b)) for r in face.radiation),
        ramp(face.heating, a, b),
    )


def _tables(span: Span) -> list[Any]:
    found: list[Any] = [source.factor for source in span.sources]
    for face in (span.inner, span.outer):
        found += [face.temperature, face.heating, *(r.temperature for r in face.radiation)]
        found += [value for e in face.exchange for value in (e.coefficient, e.temperature)]
    return found


def pieces(problem: Problem) -> list[Piece]:
    """The spans of a leg, cut wherever a table has a node."""
    found, begun = [], 0.0
    for span in problem.spans:
        length = float(span.duration)
        nodes = {0.0, length}
        for table, offset in [(v, 0.0) for v in _tables(span)] + [(la.heat, begun) for la in problem.layers]:
            if isinstance(table, Series):
                nodes |= {float(t) - offset for t in table.time if 1e-9 * length < float(t) - offset < length}
        cuts = sorted(nodes)
        cuts = [c for i, c in enumerate(cuts) if i == 0 or c - cuts[i - 1] > 1e-9 * length]
        for a, b in pairwise(cuts):
            found.append(
                Piece(
                    begun + a,
                    begun + b,
                    _side(span.inner, a, b),
                    _side(span.outer, a, b),
                    tuple(ramp(la.heat, begun + a, begun + b) for la in problem.layers),
                    tuple((np.ravel(s.density), ramp(s.factor, a, b)) for s in span.sources),
                    None if span.emission is None else np.ravel(span.emission),
                )
            )
        begun += length
    return found


class Heat:
    """Heat content of a medium [J/kg] against temperature [K], sensible and latent, and back.

    Where it crystallises on a cooler curve than it melts on, the crystalline share is kept between the two, and moves with the
    temperature on either: h = max(min(h_rest, h_cool), h_melt) with h_rest = sensible + latent (1 - share).
    """

    def __init__(self, medium: Medium):
        cp = medium.specific_heat
        self.plain = not isinstance(cp, Curve) and medium.melting is None
        self.cp = float(np.mean(cp.value)) if isinstance(cp, Curve) else float(cp)
        self.latent = 0.0 if medium.melting is None else float(medium.melting.heat)
        self.two = medium.crystallising is not None
        if self.plain:
            return
        bends = [float(t) for t in cp.temperature] if isinstance(cp, Curve) else []
        for change in (medium.melting, medium.crystallising):
            if change is not None:
                bends += [float(t) for t in (change.low, change.high, change.peak) if t is not None]
        fine = np.arange(min(bends) - 2.0, max(bends) + 2.0, STEP)
        self.t = t = np.unique(np.concatenate([[1.0], fine, bends, [5000.0]]))
        c = np.interp(t, cp.temperature, cp.value) if isinstance(cp, Curve) else np.full(len(t), float(cp))
        self.sensible = np.concatenate([[0.0], np.cumsum(np.diff(t) * (c[1:] + c[:-1]) / 2.0)])
        self.melt = self.sensible + self.latent * molten(t, medium.melting)
        self.cool = self.sensible + self.latent * molten(t, medium.crystallising) if self.two else self.melt

    def start_share(self, temperature: Array) -> Array:
        """Crystalline share of what was heated to a temperature."""
        return np.asarray(1.0 - (np.interp(temperature, self.t, self.melt - self.sensible)) / self.latent)

    def content(self, temperature: Array, share: Array | None = None) -> Array:
        """Heat content [J/kg]; share : crystalline, as it rests."""
        if self.plain:
            return self.cp * temperature
        melt = np.interp(temperature, self.t, self.melt)
        if not self.two or share is None:
            return np.asarray(melt)
        rest = np.interp(temperature, self.t, self.sensible) + self.latent * (1.0 - share)
        return np.asarray(np.maximum(np.minimum(rest, np.interp(temperature, self.t, self.cool)), melt))

    def temperature(self, content: Array, share: Array | None = None) -> Array:
        """Temperature [K]."""
        if self.plain:
            return content / self.cp
        melt = np.interp(content, self.melt, self.t)
        if not self.two or share is None:
            return np.asarray(melt)
        rest = np.interp(content - self.latent * (1.0 - share), self.sensible, self.t)
        return np.asarray(np.minimum(np.maximum(rest, np.interp(content, self.cool, self.t)), melt))

    def share_after(self, content: Array, share: Array) -> Array:
        """Crystalline share of what has come to a heat content on its way from a share."""
        sensible = np.interp(self.temperature(content, share), self.t, self.sensible)
        return np.asarray(np.clip(1.0 - (content - sensible) / self.latent, 0.0, 1.0))


def molten(t: Array, change: Any) -> Array:
    """Share of a latent heat that is taken up below t: even from low to high, or rising to a peak and falling from it."""
    if change is None:
        return np.zeros_like(t)
    low, high = float(change.low), float(change.high)
    if change.peak is None:
        return np.asarray(np.clip((t - low) / (high - low), 0.0, 1.0))
    peak = float(change.peak)
    up = np.clip(t, low, peak) - low
    down = high - np.clip(t, peak, high)
    out = np.zeros_like(t)
    if peak > low:
        out = out + up**2 / ((high - low) * (peak - low))
    if high > peak:
        out = out + ((high - peak) ** 2 - down**2) / ((high - low) * (high - peak))
    return np.asarray(out)


def conductivity(medium: Medium, temperature: Array) -> Array:
    """Conductivity [W/m/K] at temperatures."""
    k = medium.conductivity
    if isinstance(k, Curve):
        return np.asarray(np.interp(temperature, k.temperature, k.value))
    return np.full(np.shape(temperature), float(k))


def slowness(layer: Layer) -> float:
    """Time [s] by which a layer answers, to the power of a half: thickness over the root of its diffusivity at 100 degC."""
    t = np.array([373.15])
    cp = layer.medium.specific_heat
    c = float(np.interp(373.15, cp.temperature, cp.value)) if isinstance(cp, Curve) else float(cp)
    return float(layer.thickness / np.sqrt(conductivity(layer.medium, t)[0] / (float(layer.medium.density) * c)))
