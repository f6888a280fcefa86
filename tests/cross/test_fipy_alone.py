"""The second engine by itself: exact solutions on its own mesh, its order, its manners as a guest in the process."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from cross_bodies import STEEL, K, air, even, melting_slab

from thermokit.conduction import fipy_stage
from thermokit.conduction.energy_curve import EnergyCurve
from thermokit.conduction.fipy_engine import estimate_error, solve_fipy
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Span, Transition
from thermokit.errors import SolveError


def test_linear_body_matches_the_matrix_exponential() -> None:
    """T' = M T + b on the finite volumes of a plane, solved exactly by scipy's expm."""
    from scipy.linalg import expm

    n, length, h, t_air = 8, 4e-3, 300.0, 100.0 + K
    layer = Layer(Medium(1000.0, 0.4, 2000.0), length, even(n), 20.0 + K)
    problem = Problem((layer,), (Span(20.0, Face(temperature=t_air), air(h, 100.0)),))
    dx = length / n
    m = np.zeros((n, n))
    link = 0.4 / dx
    for i in range(n - 1):
        m[i, i] -= link
        m[i, i + 1] += link
        m[i + 1, i + 1] -= link
        m[i + 1, i] += link
    m[0, 0] -= 2 * link
    m[-1, -1] -= 1.0 / (1.0 / (2 * link) + 1.0 / h)
    # all surroundings are equal, so T - t_air decays by the matrix alone
    exact = t_air + expm(m / (1000.0 * 2000.0 * dx) * 20.0) @ np.full(n, 20.0 - 100.0)
    errors = []
    for steps in (20, 40):
        found = solve_fipy(problem, np.array([20.0]), steps)
        errors.append(np.abs(found.temperature[0] - exact).max())
    assert errors[1] < 0.01
    assert errors[0] / errors[1] > 3.0  # order 2
    estimated = estimate_error(problem, np.array([20.0]), 20)
    actual = np.abs(estimated.history.temperature[0] - exact).max()
    assert actual < estimated.largest < 6.0 * actual


@pytest.mark.parametrize(("shape", "power"), [("cylinder", 1), ("sphere", 2)])
def test_steady_shell(shape: str, power: int) -> None:
    """Shells in the steady state: linear in ln r and in 1/r (Carslaw and Jaeger 1959, sections 7.2 and 9.2)."""
    problem = Problem(
        (Layer(STEEL, 0.02, even(10), 20.0 + K),),
        (Span(1e5, Face(temperature=100.0 + K), Face(temperature=20.0 + K)),),
        shape=shape,  # type: ignore[arg-type]
        inner_radius=0.01,
    )
    found = solve_fipy(problem, np.array([1e5]), 10)
    r = 0.01 + (even(10)[1:] + even(10)[:-1]) / 2 * 0.02
    f = np.log if power == 1 else lambda x: -1.0 / x
    exact = 100.0 + (20.0 - 100.0) * (f(r) - f(0.01)) / (f(0.03) - f(0.01))
    assert np.allclose(found.temperature[0] - K, exact, atol=1e-6)


def test_narrow_melting_keeps_its_heat() -> None:
    """An insulated slab heated at a known rate: rise = heat/(rho cp) less the latent heat, whatever the steps."""
    problem = melting_slab(109.5, 110.5, None)
    layer = replace(problem.layers[0], heat=5e6)
    problem = problem.with_(layers=(layer,), spans=(Span(100.0),))
    found = solve_fipy(problem, np.array([100.0]), 5)
    exact = 30.0 + (5e6 * 100.0 / 900.0 - 150e3) / 2200.0
    assert np.allclose(found.temperature[0] - K, exact, atol=1e-3)


def test_energy_curve_is_its_own_inverse() -> None:
    curve = EnergyCurve(Medium(1.0, 1.0, 2000.0, Transition(1e5, 430.0, 440.0), Transition(1e5, 380.0, 400.0, 390.0)))
    t = np.linspace(350.0, 460.0, 111)
    for share in (0.0, 0.3, 1.0):
        x = np.full(len(t), share)
        back, _ = curve.temperature(curve.energy(t, x), x)
        assert np.allclose(back, t, atol=1e-9)


def test_a_step_that_does_not_converge_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fipy_stage, "SWEEPS", 1)
    with pytest.raises(SolveError, match="FiPy did not converge at 0 s"):
        solve_fipy(melting_slab(), np.array([60.0]), 4)


def test_import_is_shielded() -> None:
    """FiPy would stop at these arguments; the environment and the arguments are as before afterwards."""
    code = (
        "import os, sys; before = dict(os.environ); "
        "from thermokit.conduction.fipy_stage import load_fipy; fipy = load_fipy(); "
        "assert sys.argv[1:] == ['--petsc', '--inline'], sys.argv; "
        "assert dict(os.environ) == before; "
        "assert fipy.solvers.solver_suite == 'scipy', fipy.solvers.solver_suite; "
        "assert 'environ' not in fipy._fipy_environment"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "--petsc", "--inline"],
        capture_output=True,
        text=True,
        env={"FIPY_SOLVERS": "trilinos", "PYTHONPATH": ":".join(p for p in sys.path if p), "PATH": ""},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == "", done.stderr
