"""Bodies, faces and a rate of the tests' own, from which the balance tests are combined."""

from __future__ import annotations

import numpy as np

from thermokit.conduction.problem import (
    Curve,
    Exchange,
    Face,
    Layer,
    Medium,
    Problem,
    Radiation,
    Reaction,
    Series,
    Shape,
    Span,
    Transition,
)

CELLS = np.linspace(0.0, 1.0, 13)
INNER_RADIUS = 0.004


class Autocatalytic:
    """d(degree)/dt = (k1 + k2 degree)(1 - degree), ki = A_i exp(-E_i/T)."""

    def evaluate(self, temperature, degrees):
        k1, k2 = 1e4 * np.exp(-7800.0 / temperature), 5e5 * np.exp(-7200.0 / temperature)
        return (k1 + k2 * degrees[-1]) * (1 - degrees[-1])

    def linearise(self, temperature, degrees):
        a = degrees[-1]
        k1, k2 = 1e4 * np.exp(-7800.0 / temperature), 5e5 * np.exp(-7200.0 / temperature)
        by_temperature = (k1 * 7800.0 + k2 * a * 7200.0) * (1 - a) / temperature**2
        return (k1 + k2 * a) * (1 - a), by_temperature, (k2 * (1 - a) - (k1 + k2 * a),)


MELTING = Transition(180e3, 380.0, 410.0, 400.0)
COOLER = Transition(180e3, 350.0, 385.0, 370.0)
CP = Curve(np.array([300.0, 340.0, 350.0, 450.0]), np.array([1400.0, 1600.0, 2000.0, 2400.0]))
K = Curve(np.array([300.0, 400.0, 500.0]), np.array([0.2, 0.25, 0.22]))

MEDIA = {
    "plain": Medium(1200.0, 0.2, 1500.0),
    "variable": Medium(1200.0, K, CP),
    "melting": Medium(950.0, K, CP, MELTING),
    "one kelvin": Medium(950.0, 0.3, 2000.0, Transition(200e3, 395.0, 396.0)),
    "two curves": Medium(950.0, 0.3, CP, MELTING, COOLER),
    "reacting": Medium(1600.0, 0.5, 1600.0),
    "reacting and melting": Medium(1600.0, K, CP, MELTING),
}

FACES = {
    "held": Face(temperature=470.0),
    "convection": Face(exchange=(Exchange(60.0, 480.0),)),
    "flux": Face(heating=3000.0),
    "contact": Face(exchange=(Exchange(500.0, 460.0),)),
    "radiation": Face(radiation=(Radiation(0.6, 650.0), Radiation(0.2, 300.0))),
    "all": Face(
        exchange=(Exchange(Series((0.0, 20.0), (10.0, 60.0)), 480.0), Exchange(100.0, 440.0)),
        radiation=(Radiation(0.5, Series((0.0, 30.0, 30.0, 60.0), (600.0, 650.0, 500.0, 500.0))),),
        heating=Series((0.0, 10.0, 10.0, 40.0), (0.0, 2000.0, -500.0, 1000.0)),
    ),
}


def body(shape: Shape, medium: str, spans: tuple[Span, ...], hollow: bool = True, start: float = 300.0) -> Problem:
    """Two layers with a contact: a metal one inside, the medium outside."""
    reactions = ()
    if medium.startswith("reacting"):
        reactions = (Reaction("cure_degree", Autocatalytic(), 300e3, 1e-3),)
    layers = (
        Layer(Medium(7800.0, 30.0, 460.0), 0.002, CELLS, start, contact=800.0, heat=2e5),
        Layer(MEDIA[medium], 0.004, CELLS, start, reactions=reactions),
    )
    return Problem(layers, spans, shape, INNER_RADIUS if hollow and shape != "plane" else 0.0)
