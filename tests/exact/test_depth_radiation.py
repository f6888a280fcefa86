"""Heat given off from the depth, -emission sigma T^4 in every cell, against the exact cooling of a body of one temperature.

rho cp dT/dt = -e sigma T^4 has the solution T = (T0^-3 + 3 e sigma t/(rho cp))^(-1/3), by separation of variables.
"""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.fipy_engine import solve_fipy
from thermokit.conduction.problem import STEFAN_BOLTZMANN, DepthSource, Layer, Medium, Problem, Series, Span
from thermokit.conduction.single import solve

DENSITY, HEAT, EMISSION, START = 1200.0, 1500.0, 400.0, 450.0
TIMES = np.array([20.0, 60.0, 120.0])


def exact(time: np.ndarray, emission: float = EMISSION) -> np.ndarray:
    return (START**-3 + 3.0 * emission * STEFAN_BOLTZMANN * time / (DENSITY * HEAT)) ** (-1.0 / 3.0)


def slab(emission: np.ndarray, start: float = START, **span: object) -> Problem:
    layer = Layer(Medium(DENSITY, 0.2, HEAT), 2e-3, np.linspace(0.0, 1.0, 8), start)
    return Problem((layer,), (Span(120.0, emission=emission, **span),))  # type: ignore[arg-type]


def test_single_run_follows_the_exact_cooling() -> None:
    history = solve(slab(np.full(7, EMISSION)), TIMES, 1e-4)
    assert history.temperature == pytest.approx(np.repeat(exact(TIMES)[:, None], 7, axis=1), abs=2e-3)
    assert history.heat.mismatch < 1e-12
    assert history.heat.left == pytest.approx(DENSITY * HEAT * 2e-3 * (START - exact(TIMES)[-1]), rel=1e-5)


def test_batch_follows_the_exact_cooling_of_every_case() -> None:
    emissions = np.array([100.0, 400.0, 1500.0])
    batch = solve_batch(slab(np.tile(emissions, (7, 1))), 3, TIMES, tolerance=1e-4)
    for i, emission in enumerate(emissions):
        assert batch.temperature[:, :, i] == pytest.approx(
            np.repeat(exact(TIMES, emission)[:, None], 7, axis=1), abs=4e-3
        )
    assert np.all(batch.mismatch < 1e-12)


def test_batch_and_single_run_agree_with_uneven_emission_and_two_sources_that_change() -> None:
    emission = np.linspace(0.0, 900.0, 7)
    upper = DepthSource(np.linspace(2e6, 0.5e6, 7), Series((0.0, 60.0), (0.2, 1.0)))
    lower = DepthSource(np.linspace(0.1e6, 1e6, 7), Series((30.0, 30.0), (1.0, 0.5)))
    problem = slab(emission, 300.0, sources=(upper, lower))
    history = solve(problem, TIMES, 1e-3)
    batch = solve_batch(problem, 1, TIMES, tolerance=1e-3)
    assert batch.temperature[..., 0] == pytest.approx(history.temperature, abs=5e-3)
    assert history.heat.mismatch < 1e-12
    assert batch.mismatch[0] < 1e-12
    second = solve_fipy(problem, TIMES, 200)
    assert second.temperature == pytest.approx(history.temperature, abs=0.05)


def test_layers_that_do_not_count_stay_out_of_the_extremes() -> None:
    sheet = Layer(Medium(1000.0, 0.2, 1500.0), 2e-3, np.linspace(0.0, 1.0, 5), 400.0, contact=200.0, name="sheet")
    tool = Layer(Medium(2700.0, 150.0, 900.0), 10e-3, np.linspace(0.0, 1.0, 5), 300.0, name="tool", counts=False)
    problem = Problem((sheet, tool), (Span(5.0),))
    history = solve(problem)
    batch = solve_batch(problem, 1)
    assert history.coldest.value > 330.0 > history.temperature.min()
    assert history.coldest.depth <= 2e-3
    assert history.ends[0].coldest.value > 330.0
    # the coldest place is the sheet's own face on the tool: half cell, contact and half cell in series pass the same heat
    before, after = history.ends[0].temperature[3:5]
    flux = (after - before) / (0.25e-3 / 0.2 + 1.0 / 200.0 + 1.25e-3 / 150.0)
    assert batch.coldest[0] == pytest.approx(before + flux * 0.25e-3 / 0.2, abs=0.1)
