"""A run cut in two, the state carried from one problem to the next, is the run in one piece."""

from __future__ import annotations

import numpy as np
import pytest

from tests.balance.bodies import FACES, MEDIA
from thermokit.conduction.course import recalled, remembered, thinned
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Reaction, Span
from thermokit.conduction.single import solve
from thermokit.kinetics.rates import TwoRate

EDGES = np.linspace(0.0, 1.0, 13)
LAW = TwoRate(1e4, 65e3, 5e5, 60e3, 0.7, 1.3)


@pytest.mark.parametrize("medium", ["plain", "melting", "two curves"])
def test_a_run_cut_in_two_is_one_run(medium: str) -> None:
    """Temperatures, degrees, crystalline share and stored heat, within what two restarts of the stepper may differ."""
    layers = (
        Layer(MEDIA[medium], 0.002, EDGES, 300.0, reactions=(Reaction("cure_degree", LAW, 2e5, 1e-3),), name="one"),
        Layer(MEDIA[medium], 0.001, EDGES, 320.0, name="other"),
    )
    first, second = Span(40.0, Face(), FACES["all"]), Span(60.0, FACES["convection"], Face())
    whole = solve(Problem(layers, (first, second)), np.array([100.0]), 1e-4)
    half = solve(Problem(layers, (first,)), np.array([40.0]), 1e-4)
    end, after = half.ends[-1], Problem(layers, (second,))
    memory = remembered(Problem(layers, (first,)), end.temperature, end.states)
    rest = solve(recalled(after, memory), np.array([60.0]), 1e-4)
    assert rest.temperature[-1] == pytest.approx(whole.temperature[-1], abs=1e-3)
    for name, value in whole.states.items():
        assert rest.states[name][-1] == pytest.approx(value[-1], abs=1e-4, nan_ok=True)
    stored = half.heat.stored + rest.heat.stored
    assert stored == pytest.approx(whole.heat.stored, rel=1e-5)


def test_a_drawn_layer_keeps_mass_and_heat() -> None:
    """Drawn to twice the area it holds half the heat per m2: rho cp L dT of the thinner layer, by hand."""
    profile = np.linspace(400.0, 430.0, 12)
    layer = Layer(Medium(1000.0, 0.2, 1500.0), 0.004, EDGES, profile)
    cold = Face(temperature=300.0)
    heats = [
        solve(Problem((drawn,), (Span(2000.0, cold, cold),)), np.array([2000.0])).heat.stored
        for drawn in (layer, thinned(layer, 2.0))
    ]
    assert heats[0] == pytest.approx(-1000.0 * 1500.0 * 0.004 * 115.0, rel=1e-4)
    assert heats[1] == pytest.approx(heats[0] / 2, rel=1e-4)
    with pytest.raises(ValueError, match="above zero"):
        thinned(layer, 0.0)
