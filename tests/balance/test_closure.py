"""The heat balance closes to round-off and its parts are the true integrals, for every shape, face and medium."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from thermokit.conduction.batch import STATUS, solve_batch
from thermokit.conduction.problem import (
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Series,
    Span,
    Transition,
)
from thermokit.conduction.single import solve

from .bodies import CP, FACES, MEDIA, MELTING, body

SHAPES = ("plane", "cylinder", "sphere")
WHOLE = {"plane": 1.0, "cylinder": 2 * math.pi, "sphere": 4 * math.pi}
POWER = {"plane": 0, "cylinder": 1, "sphere": 2}


def spans(face: str) -> tuple[Span, ...]:
    """Heated from outside, then cooled from both."""
    cold = Face(exchange=FACES["convection"].exchange[:0], heating=-1500.0)
    return (Span(40.0, Face(), FACES[face]), Span(30.0, cold, Face()))


def volumes(problem: Problem, edges: np.ndarray) -> np.ndarray:
    """Cell volumes per m2, per m or of the sphere."""
    n = POWER[problem.shape] + 1
    r = edges + (problem.inner_radius if problem.shape != "plane" else 0.0)
    return WHOLE[problem.shape] * np.diff(r**n) / n


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize("name", ["plane", "hollow cylinder", "solid cylinder", "hollow sphere", "solid sphere"])
def test_closes(name: str, medium: str, face: str) -> None:
    shape = name.split()[-1]
    history = solve(body(shape, medium, spans(face), name.startswith("hollow")), np.array([40.0, 70.0]), 0.3)
    heat = history.heat
    assert history.ending.status == "finished"
    assert heat.mismatch <= 1e-12
    turned = heat.entered + abs(heat.released) + abs(heat.stored)
    assert abs(heat.entered - heat.left + heat.released - heat.stored) <= 1e-12 * turned
    assert heat.unit == {"plane": "J/m2", "cylinder": "J/m", "sphere": "J"}[shape]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("medium", ["plain", "variable", "melting", "reacting"])
def test_stored_is_the_enthalpy_of_the_temperatures(shape: str, medium: str) -> None:
    """Stored heat against rho V (integral of cp + latent share), by quadrature from the temperatures alone."""
    problem = body(shape, medium, spans("all"))
    h = solve(problem, np.array([0.0, 70.0]), 0.1)

    def cp(t: float) -> float:
        curve = MEDIA[medium].specific_heat
        return float(np.interp(t, curve.temperature, curve.value)) if curve is CP else float(curve)

    def latent(t: float) -> float:
        """Triangle from low over peak to high."""
        if medium != "melting":
            return 0.0
        low, peak, high = MELTING.low, MELTING.peak, MELTING.high
        top = 2 * MELTING.heat / (high - low)
        return top * float(np.interp(t, [low, peak, high], [0.0, 1.0, 0.0]))

    kinks = [300.0, 340.0, 350.0, 380.0, 400.0, 410.0, 450.0]

    def enthalpy(t: float) -> float:
        marks = [300.0, *(x for x in kinks if 300.0 < x < t), t]
        return sum(quad(lambda s: cp(s) + latent(s), a, b, epsabs=1e-9)[0] for a, b in pairwise(marks))

    volume = volumes(problem, h.edges)
    inner, outer = problem.layers
    n = inner.cells
    stored = 7800.0 * 460.0 * float(volume[:n] @ (h.temperature[-1, :n] - 300.0))
    stored += outer.medium.density * float(volume[n:] @ [enthalpy(t) for t in h.temperature[-1, n:]])
    # a table of temperature against energy, 4096 intervals, lies this close to the curve it was made from
    assert h.heat.stored == pytest.approx(stored, rel=2e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_released_is_the_heat_of_the_degrees(shape: str) -> None:
    problem = body(shape, "reacting", spans("held"))
    h = solve(problem, np.array([0.0, 70.0]), 0.1)
    n = problem.layers[0].cells
    grown = h.states["cure_degree"][-1, n:] - 1e-3
    released = 1600.0 * 300e3 * float(volumes(problem, h.edges)[n:] @ grown)
    assert np.max(grown) > 0.01
    assert h.heat.released == pytest.approx(released, rel=1e-12)
    assert np.all(np.isnan(h.states["cure_degree"][:, :n]))


@pytest.mark.parametrize("shape", SHAPES)
def test_prescribed_heat_is_taken_up_exactly(shape: str) -> None:
    """A flux that ramps and jumps, and an internal source with a table: entered = the integrals, to round-off."""
    flux = Series((0.0, 10.0, 10.0, 25.0), (0.0, 4000.0, 1000.0, 2500.0))  # held at 2500 from 25 s
    source = Series((0.0, 20.0, 20.0), (0.0, 6e5, 1e5))
    layer = Layer(Medium(1200.0, 0.3, 1500.0), 0.003, np.linspace(0, 1, 9), 300.0, heat=source)
    problem = Problem((layer,), (Span(40.0, Face(), Face(heating=flux)),), shape, 0.0 if shape == "plane" else 0.002)
    heat = solve(problem, np.array([40.0])).heat
    outer = 0.003 if shape == "plane" else 0.005
    area = WHOLE[shape] * outer ** POWER[shape]
    volume = float(np.sum(volumes(problem, np.array([0.0, 0.003]))))
    through_face = 0.5 * 10 * 4000 + 15 * 1750 + 15 * 2500
    inside = 0.5 * 20 * 6e5 + 20 * 1e5
    assert heat.entered == pytest.approx(area * through_face + volume * inside, rel=1e-12)
    assert heat.left == pytest.approx(0.0, abs=1e-12 * heat.entered)


@pytest.mark.parametrize("cells", [1, 2, 3])
def test_few_cells(cells: int) -> None:
    """Bodies of one, two and three cells run and close."""
    layer = Layer(Medium(1200.0, 0.3, 1500.0), 0.003, np.linspace(0, 1, cells + 1), 300.0)
    h = solve(Problem((layer,), (Span(20.0, Face(), FACES["convection"]),)), np.array([20.0]))
    assert h.ending.status == "finished"
    assert h.heat.mismatch <= 1e-12
    assert 300.0 < h.temperature[-1, 0] < 480.0


BEYOND = {
    "uniform": (Transition(200e3, 395.0, 396.0), None),
    "triangle": (Transition(200e3, 380.0, 410.0, 400.0), None),
    "wide": (Transition(5e3, 320.0, 440.0), None),
    "two curves": (Transition(180e3, 390.0, 410.0), Transition(180e3, 350.0, 370.0)),
}


@pytest.mark.parametrize("specific_heat", [2300.0, Curve(np.array([340.0, 405.0]), np.array([2300.0, 2300.0]))])
@pytest.mark.parametrize("kind", BEYOND)
def test_sensible_heat_beyond_the_latent_heat(kind: str, specific_heat: float | Curve) -> None:
    """A well-conducting insulated body with internal heat: before and after the range the rise is heat/(rho c).

    To 315 K without latent heat, then through all of it and on to 500 K: rise = (heat - rho L)/(rho c).
    """
    melting, crystallising = BEYOND[kind]
    rho, c, power = 950.0, 2300.0, 1e7
    medium = Medium(rho, 100.0, specific_heat, melting, crystallising)
    layer = Layer(medium, 0.001, np.linspace(0, 1, 5), 300.0, heat=power)
    before = 15.0 * rho * c / power
    after = (200.0 * rho * c + rho * melting.heat) / power
    h = solve(Problem((layer,), (Span(after),)), np.array([before, after]), 0.01)
    np.testing.assert_allclose(h.temperature[0], 315.0, rtol=0, atol=1e-6)
    np.testing.assert_allclose(h.temperature[1], 500.0, rtol=0, atol=1e-6)


def test_a_light_layer_behind_a_weak_contact() -> None:
    """Rows whose sizes differ by ten powers of ten: pivoting in the state's own units lost a thousandth of the heat here."""
    heavy = Layer(Medium(69e3, 455.0, 609.0), 0.344, np.linspace(0.0, 1.0, 49), 940.0, contact=1.6e-3, heat=-2.2e5)
    light = Layer(Medium(9.6, 19.0, 2659.0, Transition(2.1, 364.07, 364.09)), 4e-4, np.linspace(0.0, 1.0, 38), 940.0)
    hot = Face(exchange=(Exchange(1e7, 2215.0),), radiation=(Radiation(0.27, 2685.0),))
    problem = Problem((heavy, light), (Span(12.0, hot, Face(heating=3203.0)),), "sphere", 0.0043)
    assert solve(problem, np.array([12.0]), 0.2).heat.mismatch <= 1e-9


def test_a_run_that_leaves_what_is_possible_says_so() -> None:
    """Cooling by a fixed flux has no end: below absolute zero the run stops, single and batched."""
    layer = Layer(Medium(1000.0, 0.2, 1500.0), 0.002, np.linspace(0.0, 1.0, 9), 300.0)
    problem = Problem((layer,), (Span(1e4, Face(heating=-1e4), Face()),))
    history = solve(problem, None, 0.1)
    assert history.ending.status == "out_of_range"
    assert "absolute zero" in history.ending.advice
    assert STATUS[solve_batch(problem, 3, None, 0.1).status[1]] == "out_of_range"
