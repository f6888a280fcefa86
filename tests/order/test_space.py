"""Measured order of convergence in space, at least 1.9, for every shape and face condition, against exact solutions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermokit.conduction.problem import (
    STEFAN_BOLTZMANN,
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Span,
)
from thermokit.conduction.single import solve

from .modes import HELD, Stack, mode

BASE = 300.0  # K: the medium
CELLS = (10, 20, 40, 80)
TIGHT = 1e-6  # K: so that the error in time is far below that in space

ROUND, HOLLOW = (0.0, 1.0), (0.4, 1.4)
SPANS = {"plane": ROUND, "cylinder": ROUND, "hollow cylinder": HOLLOW, "sphere": ROUND, "hollow sphere": HOLLOW}


def slope(cells: tuple[int, ...], errors: list[float]) -> float:
    """Order fitted through the errors."""
    return -float(np.polyfit(np.log(cells), np.log(errors), 1)[0])


def face(coefficient: float) -> Face:
    """A face to a medium at BASE; convection and contact add up, so a coefficient is split between the two."""
    if math.isinf(coefficient):
        return Face(temperature=BASE)
    if coefficient == 0.0:
        return Face()
    return Face(exchange=(Exchange(0.7 * coefficient, BASE + 30.0), Exchange(0.3 * coefficient, BASE - 70.0)))


def body(stack: Stack, cells: int, duration: float, start, inner: Face, outer: Face) -> Problem:
    """The stack with ``cells`` equal cells a layer."""
    edges = np.linspace(0.0, 1.0, cells + 1)
    layers = []
    for i, (k, c) in enumerate(zip(stack.k, stack.rho_c, strict=True)):
        a, b = stack.edges[i], stack.edges[i + 1]
        x = a + (b - a) * edges
        contact = stack.contact[i] if i < len(stack.contact) and math.isfinite(stack.contact[i]) else None
        middle = 0.5 * (x[1:] + x[:-1])
        layers.append(Layer(Medium(c, k, 1.0), b - a, edges, start(middle), contact))
    return Problem(tuple(layers), (Span(duration, inner, outer),), stack.shape, stack.edges[0])


def mode_errors(stack: Stack, number: int = 1, inner: Face | None = None, outer: Face | None = None) -> list[float]:
    """Largest error of cells and faces after the mode has fallen to about a third, for each number of cells."""
    lam, phi = mode(stack, number)
    duration = 1.0 / lam**2
    errors = []
    for cells in CELLS:
        problem = body(
            stack,
            cells,
            duration,
            lambda r: BASE + 100.0 * phi(r),
            inner or face(stack.inner),
            outer or face(stack.outer),
        )
        history = solve(problem, np.array([duration]), TIGHT)
        r = stack.edges[0] + history.centres
        decay = 100.0 * math.exp(-(lam**2) * duration)
        error = np.max(np.abs(history.temperature[-1] - BASE - decay * phi(r)))
        if math.isfinite(stack.outer):
            exact = BASE + decay * phi(np.array([stack.edges[-1]]))[0]
            error = max(error, abs(history.outer_face[-1] - exact))
        errors.append(float(error))
    return errors


@pytest.mark.parametrize("outer", [HELD, 3.0], ids=["held", "convection and contact"])
@pytest.mark.parametrize("name", SPANS)
def test_solid_or_hollow(name: str, outer: float) -> None:
    """Inner face insulated (or the axis), outer face held or in exchange."""
    assert slope(CELLS, mode_errors(Stack(name.split()[-1], SPANS[name], outer=outer), 2)) >= 1.9


@pytest.mark.parametrize("outer", [HELD, 3.0], ids=["held", "convection and contact"])
@pytest.mark.parametrize("inner", [HELD, 2.0], ids=["inner held", "inner convection"])
@pytest.mark.parametrize("name", ["plane", "hollow cylinder", "hollow sphere"])
def test_inner_face(name: str, inner: float, outer: float) -> None:
    assert slope(CELLS, mode_errors(Stack(name.split()[-1], SPANS[name], inner=inner, outer=outer), 1)) >= 1.9


@pytest.mark.parametrize("contact", [math.inf, 4.0], ids=["perfect contact", "contact conductance"])
@pytest.mark.parametrize("name", SPANS)
def test_layers(name: str, contact: float) -> None:
    """Three layers, conductivities 25 apart, the second joint perfect."""
    a, b = SPANS[name]
    edges = (a, a + 0.3 * (b - a), a + 0.7 * (b - a), b)
    stack = Stack(name.split()[-1], edges, (5.0, 0.2, 1.0), (2.0, 1.0, 3.0), (contact, math.inf), outer=6.0)
    assert slope(CELLS, mode_errors(stack, 2)) >= 1.9


@pytest.mark.parametrize("name", SPANS)
def test_prescribed_flux(name: str) -> None:
    """A mode on top of the exact quasi-steady rise under a flux q into the outer face, inner face insulated.

    plane q x^2/2L + q t/L; round c (r^2/2 - a^2 ln r) + 2 c t and c (r^2/2 + a^3/r) + 3 c t, with the slope q at R.
    """
    shape, (a, b) = name.split()[-1], SPANS[name]
    stack = Stack(shape, (a, b), outer=0.0)
    lam, phi = mode(stack, 2)
    q, t = 40.0, 1.0 / lam**2
    dimension = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]

    def parabola(r: np.ndarray) -> np.ndarray:
        if shape == "cylinder" and a:
            return r**2 / 2 - a**2 * np.log(r)
        if shape == "sphere" and a:
            return r**2 / 2 + a**3 / r
        return r**2 / 2

    c = q / (b - a**dimension / b ** (dimension - 1))
    errors = []
    for cells in CELLS:
        problem = body(stack, cells, t, lambda r: BASE + 50 * phi(r) + c * parabola(r), Face(), Face(heating=q))
        history = solve(problem, np.array([t]), TIGHT)
        fall = math.exp(-(lam**2) * t)

        def exact(r: np.ndarray, fall: float = fall) -> np.ndarray:
            return BASE + 50 * fall * phi(r) + c * (parabola(r) + dimension * t)

        error = np.max(np.abs(history.temperature[-1] - exact(a + history.centres)))
        errors.append(max(error, abs(history.outer_face[-1] - exact(np.array([b]))[0])))
    assert slope(CELLS, errors) >= 1.9


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
def test_radiation_steady_with_variable_conductivity(shape: str) -> None:
    """Uniform heat leaves by radiation: T_s from q R/d = e s (T_s^4 - T_0^4), inside by Kirchhoff's transform.

    k = k0 (1 + b (T - T_s)): T - T_s = [sqrt(1 + 2 b F) - 1]/b, F = q (R^2 - r^2)/(2 d k0).
    """
    d = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
    radius, heat, emissivity, surround, k0, beta = 0.01, 8e5, 0.9, 300.0, 0.25, 0.001
    surface = (heat * radius / (d * emissivity * STEFAN_BOLTZMANN) + surround**4) ** 0.25
    errors = []
    top = surface + 400.0
    curve = Curve(np.array([surface - 200.0, top]), k0 * (1 + beta * (np.array([-200.0, 400.0]))))

    def exact(r: np.ndarray) -> np.ndarray:
        f = heat * (radius**2 - r**2) / (2 * d * k0)
        return surface + (np.sqrt(1 + 2 * beta * f) - 1) / beta

    assert exact(np.array([0.0]))[0] < top
    for cells in CELLS:
        edges = np.linspace(0, 1, cells + 1)
        layer = Layer(Medium(1000.0, curve, 1000.0), radius, edges, surface, heat=heat)
        face = Face(radiation=(Radiation(0.6, surround), Radiation(emissivity - 0.6, surround)))
        problem = Problem((layer,), (Span(40000.0, Face(), face),), shape)
        history = solve(problem, np.array([40000.0]), 1e-4)
        errors.append(float(np.max(np.abs(history.temperature[-1] - exact(history.centres)))))
        assert history.outer_face[-1] == pytest.approx(surface, abs=1e-6)  # the balance of the face is exact
    assert slope(CELLS, errors) >= 1.9


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
def test_radiation_transient(shape: str) -> None:
    """Heating by radiation, against the same body on 640 cells."""

    def run(cells: int):
        layer = Layer(Medium(1200.0, 0.2, 1500.0), 0.004, np.linspace(0, 1, cells + 1), 300.0)
        face = Face(radiation=(Radiation(0.8, 700.0),), exchange=(Exchange(10.0, 350.0),))
        return solve(Problem((layer,), (Span(60.0, Face(), face),), shape), np.array([60.0]), 1e-4)

    fine = run(640)
    errors = []
    for cells in CELLS:
        h = run(cells)
        group = 640 // cells
        # the fine body's value at a coarse centre: an edge of two fine cells, whose mean is exact to second order
        mine = np.arange(cells) * group + group // 2
        there = 0.5 * (fine.temperature[-1, mine] + fine.temperature[-1, mine - 1])
        errors.append(
            max(float(np.max(np.abs(h.temperature[-1] - there))), abs(h.outer_face[-1] - fine.outer_face[-1]))
        )
    assert slope(CELLS, errors) >= 1.9
