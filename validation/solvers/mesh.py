"""Meshes of the other solvers' own, and what layers remember from leg to leg on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.problem import DepthSource, Layer, Problem, Span
from validation.solvers.data import slowness

Array = NDArray[np.float64]
POWER = {"plane": 0, "cylinder": 1, "sphere": 2}
CRYSTALLINE = "crystalline_share"


@dataclass(frozen=True)
class Profile:
    """A layer at some times: temperature (rows, points) at shares x of its thickness, states (rows, places) at shares xs.

    own : those of the points that are the solver's unknowns (the others are faces between them); weight, weights : share of the
    layer's mass that each unknown and each place stands for.
    """

    x: Array
    temperature: Array
    xs: Array
    states: Mapping[str, Array] = field(default_factory=dict)
    own: slice = field(default_factory=lambda: slice(None))
    weight: Array = field(default_factory=lambda: np.ones(1))
    weights: Array = field(default_factory=lambda: np.ones(1))

    def last(self) -> Profile:
        """The last row, of the unknowns only."""
        states = {name: values[-1:] for name, values in self.states.items()}
        return replace(
            self, x=self.x[self.own], temperature=self.temperature[-1:, self.own], states=states, own=slice(None)
        )

    def temperature_at(self, x: Array) -> Array:
        """Temperatures (rows, x)."""
        return read(self.x, self.temperature, x)

    def state_at(self, name: str, x: Array) -> Array:
        """A state (rows, x)."""
        return read(self.xs, self.states[name], x)


def read(x: Array, rows: Array, at: Array) -> Array:
    """Rows (rows, x) of a profile at other places: a monotone cubic, drawn on in a straight line beyond its ends."""
    from scipy.interpolate import PchipInterpolator

    if len(x) == len(at) and np.array_equal(x, at):
        return rows
    if len(x) < 3:
        return np.stack([np.interp(at, x, row) for row in rows])
    found = np.asarray(PchipInterpolator(x, rows, axis=1)(np.clip(at, x[0], x[-1])))
    for end, near, beyond in ((0, 1, at < x[0]), (-1, -2, at > x[-1])):
        slope = (rows[:, near] - rows[:, end]) / (x[near] - x[end])
        found[:, beyond] = rows[:, [end]] + slope[:, None] * (at[beyond] - x[end])
    return found


def shares(cells: int, one_sided: bool) -> Array:
    """Edges of cells as shares of the thickness: small at both faces, or at the inner one only."""
    s = np.linspace(0.0, 1.0, cells + 1)
    return s**1.6 if one_sided else s - 0.7 / (2.0 * np.pi) * np.sin(2.0 * np.pi * s)


def cells_of(legs: tuple[Problem, ...], most: int) -> dict[str, int]:
    """Cells of every layer: as many as asked for in the slowest, fewer in others, at least a sixth."""
    pace = {la.name: slowness(la) for leg in legs for la in leg.layers}
    slowest = max(pace.values())
    return {name: max(most // 6, 6, int(np.ceil(most * value / slowest))) for name, value in pace.items()}


def remeshed(leg: Problem, cells: Mapping[str, int], thickness: Mapping[str, float]) -> Problem:
    """A leg on meshes of its own, heat in depth moved over by its amount; thickness : of layers that came out otherwise."""
    layers = tuple(
        replace(
            la,
            edges=shares(cells[la.name], la.name.startswith("paste")),
            thickness=thickness.get(la.name, float(la.thickness)),
        )
        for la in leg.layers
    )
    own = leg.with_(layers=layers)
    return own.with_(spans=tuple(_span(span, leg, own) for span in leg.spans))


def _span(span: Span, old: Problem, new: Problem) -> Span:
    def moved(density: Any) -> Array:
        density, first, found = np.ravel(density), 0, []
        for a, b in zip(old.layers, new.layers, strict=True):
            here = density[first : first + a.cells]
            amount = np.concatenate([[0.0], np.cumsum(here * np.diff(a.edges))])
            found.append(np.diff(np.interp(b.edges, a.edges, amount)) / np.diff(b.edges))
            first += a.cells
        return np.concatenate(found)

    if old.shape != "plane" and any(np.ptp(np.ravel(s.density)) > 0.0 for s in span.sources):
        raise ValueError("heat in depth is moved by thickness: plane bodies only")
    sources = tuple(DepthSource(moved(s.density), s.factor) for s in span.sources)
    return replace(span, sources=sources, emission=None if span.emission is None else moved(span.emission))


def start_of(layer: Layer) -> Profile:
    """How a layer begins that was not there before."""
    middle = (np.asarray(layer.edges)[1:] + np.asarray(layer.edges)[:-1]) / 2.0
    values = np.ravel(np.asarray(layer.start, float))
    states = {r.state: np.zeros((1, len(middle))) + np.ravel(np.asarray(r.start, float)) for r in layer.reactions}
    if layer.crystalline_start is not None:
        states[CRYSTALLINE] = np.zeros((1, len(middle))) + np.ravel(np.asarray(layer.crystalline_start, float))
    return Profile(middle, np.zeros((1, len(middle))) + values, middle, states)


class Rings:
    """Cells of a body: a node at the middle of each cell's mass, resistances of half cells in the coordinate r^2/2.

    In a rod or ball T is a straight line in s = r^2/2 next to the axis, and r^p dT/dr = r^(p+1) dT/ds; so the resistance from a
    node to a face is |s_face - s_node|/(k r_face^(p+1)) there, and |x_face - x_node|/k in a plane. Per m2, radian, steradian.
    """

    def __init__(self, problem: Problem):
        self.problem, layers = problem, problem.layers
        self.p = p = POWER[problem.shape]
        counts = [la.cells for la in layers]
        ends = np.cumsum([0, *counts])
        self.cut = [slice(int(a), int(b)) for a, b in pairwise(ends)]
        at = float(problem.inner_radius) if p else 0.0
        parts = [np.array([at])]
        for la in layers:
            parts.append(at + np.asarray(la.edges)[1:] * float(la.thickness))
            at += float(la.thickness)
        self.r = r = np.concatenate(parts)
        self.n = len(r) - 1
        self.volume = np.diff(r ** (p + 1)) / (p + 1)
        if p:
            s = r**2 / 2.0
            node = np.diff(r ** (p + 3)) / (2.0 * (p + 3)) / self.volume
            with np.errstate(divide="ignore", invalid="ignore"):
                self.inward = np.where(r[:-1] > 0.0, (node - s[:-1]) / r[:-1] ** (p + 1), np.inf)
            self.outward = (s[1:] - node) / r[1:] ** (p + 1)
            self.node = np.sqrt(2.0 * node)
        else:
            self.node = (r[1:] + r[:-1]) / 2.0
            self.inward, self.outward = self.node - r[:-1], r[1:] - self.node
        self.area = r**p
        self.joint = np.zeros(self.n - 1)
        for la, cut in zip(layers[:-1], self.cut[:-1], strict=True):
            if la.contact is not None:
                self.joint[cut.stop - 1] = 1.0 / (float(la.contact) * self.area[cut.stop])
        self.density = np.repeat([float(la.medium.density) for la in layers], counts)

    def places(self, i: int) -> Array:
        """Nodes of a layer as shares of its thickness."""
        cut = self.cut[i]
        return np.asarray((self.node[cut] - self.r[cut.start]) / (self.r[cut.stop] - self.r[cut.start]))

    def profiles(
        self, t: Array, k: Array, inner: Array, outer: Array, states: list[dict[str, Array]]
    ) -> dict[str, Profile]:
        """Rows of temperatures t (rows, cells) with conductivities k as profiles by layer, with their faces."""
        found = {}
        last = len(self.cut) - 1
        for i, (la, cut) in enumerate(zip(self.problem.layers, self.cut, strict=True)):
            near = inner if i == 0 else self._face(t, k, cut.start, inwards=False)
            far = outer if i == last else self._face(t, k, cut.stop, inwards=True)
            mass = self.volume[cut] / self.volume[cut].sum()
            x = np.concatenate([[0.0], self.places(i), [1.0]])
            rows = np.column_stack([near, t[:, cut], far])
            found[la.name] = Profile(x, rows, self.places(i), states[i], slice(1, -1), mass, mass)
        return found

    def _face(self, t: Array, k: Array, edge: int, inwards: bool) -> Array:
        """Temperature on one side of the edge between two layers."""
        a, b = self.outward[edge - 1] / k[:, edge - 1], self.inward[edge] / k[:, edge]
        flow = (t[:, edge] - t[:, edge - 1]) / (a + b + self.joint[edge - 1])
        return np.asarray(t[:, edge - 1] + flow * a if inwards else t[:, edge] - flow * b)
