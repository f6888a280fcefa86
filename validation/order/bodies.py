"""Layered bodies of the studies: stacks in their own units (k = rho c = 1 unless said), meshes, faces towards 300 K."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from validation.order.modes import Stack

Array = NDArray[np.float64]

BASE = 300.0  # K: the medium
TIGHT = 1e-6  # K: so that the error in time is far below that in space
CELLS = (10, 20, 40, 80)

SOLID, HOLLOW = (0.0, 1.0), (0.4, 1.4)
SPANS = {"plane": SOLID, "cylinder": SOLID, "hollow cylinder": HOLLOW, "sphere": SOLID, "hollow sphere": HOLLOW}
WORDS = {
    "plane": "slab",
    "cylinder": "solid cylinder",
    "hollow cylinder": "hollow cylinder",
    "sphere": "solid sphere",
    "hollow sphere": "hollow sphere",
}
DIMENSION = {"plane": 1, "cylinder": 2, "sphere": 3}

Mesh = Callable[[int], Array]


def equal(cells: int) -> Array:
    """Edges of equal cells."""
    return np.linspace(0.0, 1.0, cells + 1)


def face(coefficient: float) -> Face:
    """A face to a medium at BASE; convection and contact add up, so a coefficient is split between the two."""
    if math.isinf(coefficient):
        return Face(temperature=BASE)
    if coefficient == 0.0:
        return Face()
    return Face(exchange=(Exchange(0.7 * coefficient, BASE + 30.0), Exchange(0.3 * coefficient, BASE - 70.0)))


def body(
    stack: Stack,
    cells: int,
    duration: float,
    start: Callable[[Array], Array],
    inner: Face,
    outer: Face,
    mesh: Mesh = equal,
) -> Problem:
    """The stack with so many cells a layer, its start taken at the centres."""
    edges = mesh(cells)
    layers = []
    for i, (k, c) in enumerate(zip(stack.k, stack.rho_c, strict=True)):
        a, b = stack.edges[i], stack.edges[i + 1]
        x = a + (b - a) * edges
        contact = stack.contact[i] if i < len(stack.contact) and math.isfinite(stack.contact[i]) else None
        layers.append(Layer(Medium(c, k, 1.0), b - a, edges, start(0.5 * (x[1:] + x[:-1])), contact, name=str(i)))
    return Problem(tuple(layers), (Span(duration, inner, outer),), stack.shape, stack.edges[0])  # type: ignore[arg-type]
