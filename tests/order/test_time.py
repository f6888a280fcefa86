"""Measured order of convergence in time: Rodas4P is declared to be of order 4."""

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
    Reaction,
    Series,
    Span,
)
from thermokit.conduction.single import integrate_fixed

STEPS = (4, 8, 16, 32)
QUARTERS = np.linspace(0.0, 1.0, 5)


def slope(steps: tuple[int, ...], errors: list[float]) -> float:
    return -float(np.polyfit(np.log(steps), np.log(errors), 1)[0])


def test_conduction_against_the_exact_semi_discrete_mode() -> None:
    """On equal cells, insulated, cos(m pi (i + 1/2)/n) decays with 4 a/h^2 sin^2(m pi/2n), exactly."""
    n, m = 24, 2
    shape = np.cos(m * math.pi * (np.arange(n) + 0.5) / n)
    rate = 4 * n**2 * math.sin(m * math.pi / (2 * n)) ** 2
    t = 2.0 / rate
    layer = Layer(Medium(1.0, 1.0, 1.0), 1.0, np.linspace(0, 1, n + 1), 300.0 + 100.0 * shape)
    problem = Problem((layer,), (Span(t),))
    errors = []
    for steps in STEPS:
        history = integrate_fixed(problem, steps, np.array([t]))
        errors.append(float(np.max(np.abs(history.temperature[-1] - 300.0 - 100.0 * math.exp(-2.0) * shape))))
    assert slope(STEPS, errors) >= 3.9


def test_moving_air_on_a_thin_body() -> None:
    """A body of one temperature in air that grows warmer steadily: T = T0 + b (t - tau + tau exp(-t/tau))."""
    size, h, rise, t = 0.01, 100.0, 2.0, 300.0
    tau = 1e6 * size / h
    air = Series((0.0, t), (300.0, 300.0 + rise * t))
    layer = Layer(Medium(1000.0, 1e9, 1000.0), size, QUARTERS, 300.0)
    problem = Problem((layer,), (Span(t, Face(), Face(exchange=(Exchange(h, air),))),))
    exact = 300.0 + rise * (t - tau + tau * math.exp(-t / tau))
    errors = [abs(integrate_fixed(problem, n, np.array([t])).temperature[-1, 0] - exact) for n in STEPS]
    assert slope(STEPS, errors) >= 3.9


def test_radiation_of_a_thin_body() -> None:
    """A body of one temperature (it conducts so well): closed form (Bejan & Kraus, eq. 3.283)."""
    from scipy.optimize import brentq

    from validation.references.lumped import radiation_time

    size, rho_c, factor, cold, hot = 0.001, 2.43e6, 0.9, 300.0, 900.0
    t = radiation_time(factor, STEFAN_BOLTZMANN, rho_c, size, hot, 500.0, cold)
    layer = Layer(Medium(2700.0, 1e6, 900.0), size, QUARTERS, hot)
    problem = Problem((layer,), (Span(t, Face(), Face(radiation=(Radiation(factor, cold),))),))
    exact = brentq(
        lambda x: radiation_time(factor, STEFAN_BOLTZMANN, rho_c, size, hot, x, cold) - t, 310, 890, xtol=1e-12
    )
    errors = [abs(integrate_fixed(problem, n, np.array([t])).temperature[-1, 0] - exact) for n in STEPS]
    assert slope(STEPS, errors) >= 3.9


class FirstOrder:
    """d(degree)/dt = A exp(-E/RT) (1 - degree): a rate of the tests' own, with its exact derivatives."""

    def __init__(self, factor: float, energy_over_r: float):
        self.factor, self.energy = factor, energy_over_r

    def evaluate(self, temperature, degrees):
        return self.factor * np.exp(-self.energy / temperature) * (1 - degrees[-1])

    def linearise(self, temperature, degrees):
        k = self.factor * np.exp(-self.energy / temperature)
        left = 1 - degrees[-1]
        return k * left, k * left * self.energy / temperature**2, (-k,)


def test_reaction_that_keeps_its_heat() -> None:
    """Insulated first-order cure, H/c = 150 K: time to a degree by quadrature, the degree at that time here."""
    from validation.references.cure_laws import R, adiabatic_time

    rate = FirstOrder(2e8, 8e4 / R)

    def law(temperature: float, a: float) -> float:
        return rate.factor * math.exp(-rate.energy / temperature) * (1 - a)

    t = adiabatic_time(law, 353.15, 150.0, 0.6)
    reaction = Reaction("cure_degree", rate, 300e3, 0.0)
    layer = Layer(Medium(1200.0, 0.2, 2000.0), 0.001, QUARTERS, 353.15, reactions=(reaction,))
    problem = Problem((layer,), (Span(t),))
    steps = (40, 80, 160, 320)
    degree, warmth = [], []
    for n in steps:
        history = integrate_fixed(problem, n, np.array([t]))
        degree.append(abs(history.states["cure_degree"][-1, 0] - 0.6))
        warmth.append(abs(history.temperature[-1, 0] - 353.15 - 90.0))
    assert slope(steps, degree) >= 3.9
    assert slope(steps, warmth) >= 3.9


@pytest.mark.parametrize("shape", ["cylinder", "sphere"])
def test_round_bodies_against_the_matrix_exponential(shape: str) -> None:
    """Two layers with contact and convection: the discrete equations written out anew and solved by expm."""
    from scipy.linalg import expm

    n, r0 = 8, 0.002
    edges = np.linspace(0.0, 1.0, n + 1)
    k, rho_c, contact, h, air = (20.0, 0.3), (3e6, 2e6), 500.0, 80.0, 350.0
    layers = (
        Layer(Medium(3000.0, k[0], 1000.0), 0.003, edges, 300.0, contact),
        Layer(Medium(2000.0, k[1], 1000.0), 0.004, edges, 420.0),
    )
    t = 60.0
    problem = Problem(layers, (Span(t, Face(), Face(exchange=(Exchange(h, air),))),), shape, r0)
    faces = np.concatenate([r0 + 0.003 * edges, r0 + 0.003 + 0.004 * edges[1:]])
    centres = 0.5 * (faces[1:] + faces[:-1])
    kk, cc = np.repeat(k, n), np.repeat(rho_c, n)
    full, power = (2 * math.pi, 2) if shape == "cylinder" else (4 * math.pi, 3)
    volume = full * np.diff(faces**power) / power
    area = full * faces ** (power - 1)

    def resistance(a: float, b: float, kx: float) -> float:
        return math.log(b / a) / (full * kx) if shape == "cylinder" else (1 / a - 1 / b) / (full * kx)

    size = 2 * n
    matrix, source = np.zeros((size, size)), np.zeros(size)
    for i in range(size - 1):
        total = resistance(centres[i], faces[i + 1], kk[i]) + resistance(faces[i + 1], centres[i + 1], kk[i + 1])
        if i == n - 1:
            total += 1 / (contact * area[i + 1])
        for row, other in ((i, i + 1), (i + 1, i)):
            matrix[row, row] -= 1 / total / (cc[row] * volume[row])
            matrix[row, other] += 1 / total / (cc[row] * volume[row])
    outward = 1 / (resistance(centres[-1], faces[-1], kk[-1]) + 1 / (h * area[-1])) / (cc[-1] * volume[-1])
    matrix[-1, -1] -= outward
    source[-1] = outward * air
    steady = -np.linalg.solve(matrix, source)
    start = np.repeat([300.0, 420.0], n)
    exact = steady + expm(matrix * t) @ (start - steady)
    steps = (16, 32, 64, 128)
    errors = [float(np.max(np.abs(integrate_fixed(problem, s, np.array([t])).temperature[-1] - exact))) for s in steps]
    assert errors[-1] < 1e-6
    assert slope(steps, errors) >= 3.9


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
def test_variable_conductivity_radiation_and_moving_air(shape: str) -> None:
    """All whose derivative the method needs exactly, against the same mesh with 2048 steps (order, not truth)."""
    curve = Curve(np.array([250.0, 900.0]), np.array([0.1, 0.6]))
    edges = np.linspace(0.0, 1.0, 9)
    layers = (
        Layer(Medium(1200.0, curve, 1500.0), 0.003, edges, 300.0, contact=400.0),
        Layer(Medium(1500.0, 0.4, 1000.0), 0.002, edges, 300.0, heat=Series((0.0, 60.0), (0.0, 2e6))),
    )
    face = Face(
        exchange=(Exchange(Series((0.0, 60.0), (10.0, 80.0)), Series((0.0, 60.0), (300.0, 500.0))),),
        radiation=(Radiation(0.8, Series((0.0, 60.0), (400.0, 800.0))),),
    )
    problem = Problem(layers, (Span(60.0, face, face),), shape, 0.0 if shape == "plane" else 0.004)

    def run(steps: int) -> np.ndarray:
        history = integrate_fixed(problem, steps, np.array([60.0]))
        return np.concatenate([history.temperature[-1], [history.inner_face[-1], history.outer_face[-1]]])

    fine = run(2048)
    steps = (96, 192, 384)  # fewer are still on the way from 3.3 to 4: the start is stiff
    assert slope(steps, [float(np.max(np.abs(run(n) - fine))) for n in steps]) >= 3.8
