"""In the paste and out of it: how deep the gel has grown, what clings to it, and the coat that the former takes along."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import LayerState
from thermokit.conduction.problem import Curve, Medium
from thermokit.conduction.remap import remapped

if TYPE_CHECKING:
    from thermokit.conduction.course import Memory
    from thermokit.conduction.problem import Array, Number, Problem

POWER = {"plane": 1, "cylinder": 2, "sphere": 3}  # of the distance, by which volume grows
LEAST_COAT = 2e-6  # m, so that a coat is always a layer; thinner than any film that clings
FIBRE = 0.24  # W/m/K, of cotton across the fibre; from memory


def gel_front(edges: Array, degree: Array, stays: Number) -> Array:
    """Depth of paste that has gelled to a degree, (cases,) [m] from its inner side.

    edges : of the paste's cells, (cells + 1,) or (cells + 1, cases) [m]; degree : gel degree by cell, (cells, cases), falling
    outwards; stays : degree from which paste stays on the former. Between cell centres ln(-ln(1 - degree)), which follows the
    temperature nearly in a straight line, is interpolated; so the front moves smoothly through the mesh.
    """
    x = np.broadcast_to(edges if np.ndim(edges) == 2 else np.asarray(edges)[:, None], (len(edges), degree.shape[1]))
    centre = (x[1:] + x[:-1]) / 2.0 - x[0]
    if len(degree) < 2:
        return np.asarray(np.where(degree[0] >= stays, x[-1] - x[0], 0.0))
    y = _straight(degree)
    goal = _straight(np.broadcast_to(np.asarray(stays, float), (degree.shape[1],)))
    inside = np.cumprod(y >= goal, axis=0).sum(axis=0)
    j = np.clip(inside - 1, 0, len(degree) - 2)[None]
    x0, x1 = (np.take_along_axis(centre, k, axis=0)[0] for k in (j, j + 1))
    y0, y1 = (np.take_along_axis(y, k, axis=0)[0] for k in (j, j + 1))
    slope = np.minimum((y1 - y0) / (x1 - x0), -1e-300)
    front = np.clip(x0 + (goal - y0) / slope, 0.0, x[-1] - x[0])
    return np.asarray(np.where(inside == len(degree), x[-1] - x[0], front))


def _straight(degree: Array) -> Array:
    return np.asarray(np.log(-np.log1p(-np.clip(degree, 1e-14, 1.0 - 1e-14))))


@dataclass(frozen=True)
class Withdrawal:
    """Drawn out of the paste: what becomes of the body when the leg in the paste has ended, a ``Change`` of the course.

    paste, coat : names of the layer of paste and of the coat that it leaves; shares : edges of the coat's cells as shares of
    its thickness; stays : gel degree from which paste stays; clinging : liquid paste that comes out on top of the gel [m].
    """

    paste: str
    coat: str
    shares: Array
    stays: Number
    clinging: Number

    def __call__(
        self, memory: Memory, before: Problem, legs: tuple[Problem, ...]
    ) -> tuple[Memory, tuple[Problem, ...]]:
        """The coat in the place of the paste, with the state that its paste had."""
        state = memory[self.paste]
        flat = state.temperature.ndim == 1
        edges = paste_edges(before, self.paste)
        kept = np.clip(self.gelled(state, edges) + self.clinging, LEAST_COAT, edges[-1] - edges[0])
        onto = edges[0] + np.asarray(self.shares)[:, None] * kept

        def moved(values: Array) -> Array:
            own = values[:, None] if flat else values
            new = remapped(own, edges, onto, POWER[before.shape], part=True)
            return new[:, 0] if flat else new

        thickness: Any = float(kept[0]) if np.size(kept) == 1 else kept
        coat = LayerState(
            moved(state.temperature), {name: moved(degree) for name, degree in state.degrees.items()}, None
        )

        def with_coat(leg: Problem) -> Problem:
            return leg.with_(
                layers=tuple(replace(x, thickness=thickness) if x.name == self.coat else x for x in leg.layers)
            )

        return {**memory, self.coat: coat}, tuple(with_coat(leg) for leg in legs)

    def gelled(self, state: LayerState, edges: Array) -> Array:
        """Depth that has gelled, (cases,) [m]."""
        degree = state.degrees["gel_degree"]
        return gel_front(edges, degree[:, None] if degree.ndim == 1 else degree, self.stays)


def paste_edges(problem: Problem, name: str) -> Array:
    """Edges of a layer's cells from the middle of the body (from the inner face of a plane), (cells + 1, 1 or cases) [m]."""
    first: Any = 0.0 if problem.shape == "plane" else problem.inner_radius
    for layer in problem.layers:
        if layer.name == name:
            thickness = np.atleast_1d(np.asarray(layer.thickness, float))
            return np.asarray(np.atleast_1d(first) + np.asarray(layer.edges)[:, None] * thickness)
        first = first + layer.thickness
    raise KeyError(name)


def soaked(fabric: Medium, paste: Medium, porosity: Number, share: Number) -> Medium:
    """Fabric whose pores hold paste to a share: masses and heats add up, conductivity goes from dry to full.

    k = k_dry + share (k_full - k_dry), k_full = k_fibre^(1 - porosity) k_paste^porosity, the geometric mean (estimate).
    """
    added = porosity * share * paste.density
    density = fabric.density + added

    def mixed(own: Any, other: Any, weight: Any) -> Any:
        nodes = np.unique(
            np.concatenate([v.temperature for v in (own, other) if isinstance(v, Curve)] or [np.zeros(0)])
        )
        if not len(nodes):
            return own + weight * (other - own)
        a, b = (
            np.interp(nodes, v.temperature, v.value) if isinstance(v, Curve) else np.full(len(nodes), float(v))
            for v in (own, other)
        )
        if np.ndim(weight):
            return Curve(nodes, a[:, None] + np.asarray(weight)[None] * (b - a)[:, None])
        return Curve(nodes, a + weight * (b - a))

    def full(value: Any) -> Any:
        return FIBRE ** (1.0 - _one(porosity)) * value ** _one(porosity)

    k = paste.conductivity
    wet = Curve(k.temperature, np.asarray(full(k.value))) if isinstance(k, Curve) else full(k)
    return Medium(
        density,
        mixed(fabric.conductivity, wet, share),
        mixed(fabric.specific_heat, paste.specific_heat, added / density),
    )


def _one(value: Number) -> float:
    """A number that may hold cases, of the first: only a mixing exponent, where cases hardly differ."""
    return float(np.ravel(value)[0])


@dataclass(frozen=True)
class Soaking:
    """Paste filling a fabric as it goes into the bath: its temperature is that of the mixture, a ``Change`` of the course.

    dry, wet : the fabric before and after; temperature : of the paste [K].
    """

    fabric: str
    dry: Medium
    wet: Medium
    paste: Medium
    temperature: Number

    def __call__(
        self, memory: Memory, before: Problem, legs: tuple[Problem, ...]
    ) -> tuple[Memory, tuple[Problem, ...]]:
        """The fabric at the temperature of the mixture; its reactions begin here."""
        state = memory.get(self.fabric)
        if state is None:
            return memory, legs
        own = self.dry.density * _heat(self.dry.specific_heat, state.temperature)
        added = (self.wet.density - self.dry.density) * _heat(self.paste.specific_heat, state.temperature)
        mean = (own * state.temperature + added * self.temperature) / (own + added)
        return {**memory, self.fabric: LayerState(mean, {}, None)}, legs


def _heat(specific_heat: Any, temperature: Array) -> Any:
    if not isinstance(specific_heat, Curve):
        return specific_heat
    values = specific_heat.value if specific_heat.value.ndim == 1 else specific_heat.value[:, 0]
    return np.interp(temperature, specific_heat.temperature, values)
