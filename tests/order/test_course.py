"""Measured order of convergence through a change of the body: drawn thinner, laid on a tool."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.conduction.course import Course
from thermokit.conduction.follow import follow
from thermokit.conduction.problem import Curve, Exchange, Face, Layer, Medium, Problem, Radiation, Span

from .modes import Stack, mode
from .test_space import BASE, CELLS, TIGHT, body, face, slope


@pytest.mark.parametrize("number", [1, 2])
def test_drawing_a_mode(number: int) -> None:
    """Two layers with a contact, both drawn: thickness/r, exchange and contact r times as large is the same body on a
    scale of 1/r, so the mode keeps its shape over the mass and fades r^2 times as fast (dimensional analysis)."""
    ratio = 1.8
    stack = Stack("plane", (0.0, 0.4, 1.0), (0.3, 1.0), (1.0, 2.0), (1.5,), outer=4.0)
    thin = Stack("plane", (0.0, 0.4 / ratio, 1.0 / ratio), (0.3, 1.0), (1.0, 2.0), (1.5 * ratio,), outer=4.0 * ratio)
    lam, phi = mode(stack, number)
    first, second = 0.6 / lam**2, 0.5 / (lam * ratio) ** 2
    errors = []
    for cells in CELLS:
        legs = []
        for own, duration in ((stack, first), (thin, second)):
            leg = body(own, cells, duration, lambda r: BASE + 100.0 * phi(r), face(0.0), face(own.outer))
            layers = tuple(Layer(**{**vars(layer), "name": str(i)}) for i, layer in enumerate(leg.layers))
            legs.append(leg.with_(layers=layers))
        history = follow(Course(tuple(legs)), np.array([first, first + second]), TIGHT).history
        gaps = []
        for row, share in ((0, math.exp(-0.6)), (1, math.exp(-1.1))):
            wanted = BASE + 100.0 * share * phi(np.append(history.centres, 1.0))
            gaps += [history.temperature[row] - wanted[:-1], history.outer_face[row] - wanted[-1:]]
        errors.append(float(np.max(np.abs(np.concatenate(gaps)))))
    assert slope(CELLS, errors) >= 1.9


@pytest.mark.parametrize("contact", [None, 600.0])
def test_sheet_drawn_onto_a_tool(contact: float | None) -> None:
    """Heated by radiation, drawn, laid on a tool: against the same on 640 cells a layer, a while after the touch."""
    k = Curve(np.array([300.0, 500.0]), np.array([0.18, 0.26]))

    def run(cells: int):
        cut = np.linspace(0.0, 1.0, cells + 1)
        panel = Face(radiation=(Radiation(0.8, 700.0),), exchange=(Exchange(10.0, 350.0),))
        cool = Face(exchange=(Exchange(15.0, 300.0),))
        flat = Layer(Medium(1200.0, k, 1500.0), 0.004, cut, 300.0, name="sheet")
        drawn = Layer(Medium(1200.0, k, 1500.0), 0.002, cut, 300.0, contact=contact, name="sheet")
        tool = Layer(Medium(2000.0, 1.5, 900.0), 0.006, cut, 320.0, name="tool", counts=False)
        legs = (
            Problem((flat,), (Span(40.0, panel, panel),)),
            Problem((drawn, tool), (Span(25.0, cool, Face(exchange=(Exchange(300.0, 300.0),))),)),
            Problem((drawn,), (Span(4.0, cool, cool),)),
        )
        # far below the differences of the meshes, far above what it costs to go lower
        return follow(Course(legs, ("sheet",), (1.0, 2.0, 2.0)), np.array([65.0, 69.0]), 1e-4)

    fine = run(640)
    errors = []
    for cells in CELLS:
        found = run(cells)
        group = 640 // cells
        # the fine body's value at a coarse centre: an edge of two fine cells, whose mean is exact to second order
        mine = np.arange(cells) * group + group // 2
        gaps = []
        for a, b in (
            (found.history.temperature[0], fine.history.temperature[0]),
            (found.history.temperature[1], fine.history.temperature[1]),
            (found.companions["tool"].end, fine.companions["tool"].end),
        ):
            gaps.append(float(np.max(np.abs(a - 0.5 * (b[mine] + b[mine - 1])))))
        for a, b in (
            (found.history.outer_face, fine.history.outer_face),  # at the joint, then free
            (found.history.inner_face, fine.history.inner_face),
        ):
            gaps.append(float(np.max(np.abs(a - b))))
        errors.append(max(gaps))
    assert errors[-1] < 0.05
    assert slope(CELLS, errors) >= 1.85
