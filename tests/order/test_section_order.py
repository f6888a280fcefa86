"""Measured order of the section solver, at least 1.9: in space on skewed triangles, plane and axisymmetric, and in time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.special import j0, j1

from tests.unit.section_grids import box, convection, grid, sides_of, spaced
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Exchange, Face, Medium, Radiation, Series
from thermokit.conduction.section_march import SectionRun, march
from thermokit.conduction.section_problem import Region, SectionProblem, SectionSpan

BASE = 300.0  # K
K, RHO_C, H = 2.0, 1.0e6, 6.0
MEDIUM = Medium(1000.0, K, RHO_C / 1000.0)


def slope(sizes, errors) -> float:
    """Order fitted through the errors."""
    return -float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def body(duration: float, faces, axisymmetric: bool = False) -> SectionProblem:
    return SectionProblem(
        (Region("body", box(0, 1, 0, 1), MEDIUM, BASE),),
        (SectionSpan(duration, faces),),
        edges=sides_of(0, 1, 0, 1),
        axisymmetric=axisymmetric,
    )


def cosine(h: float) -> float:
    """First root of z tan z = h/k (Carslaw & Jaeger 3.10)."""
    return float(brentq(lambda z: z * math.tan(z) - h / K, 1e-6, math.pi / 2 - 1e-9))


def bessel(h: float) -> float:
    """First root of z J1(z) = h/k J0(z) (Carslaw & Jaeger 7.7)."""
    return float(brentq(lambda z: z * j1(z) - h / K * j0(z), 1e-6, 2.404))


@pytest.mark.parametrize("skew", [0.0, 0.2])
@pytest.mark.parametrize("axisymmetric", [False, True])
def test_space(axisymmetric, skew):
    """A decaying mode: cos or J0 of x times cos of y, with convection at x = 1 and y = 1; error as the mean square over nodes."""
    lx, ly = (bessel(H) if axisymmetric else cosine(H)), cosine(0.5 * H)
    across = j0 if axisymmetric else np.cos
    duration = 0.5 * RHO_C / (K * (lx**2 + ly**2))
    errors, worst, sizes = [], [], (8, 16, 32)
    for n in sizes:
        case = body(duration, {"right": convection(H, BASE), "top": convection(0.5 * H, BASE)}, axisymmetric)
        mesh = grid(case, spaced(0, 1, cells=n), spaced(0, 1, cells=n), skew)
        shape = across(lx * mesh.x) * np.cos(ly * mesh.y)
        history = march(case, mesh, np.array([duration]), 1e-4, BASE + 100.0 * shape)
        off = history.temperature[0] - BASE - 100.0 * math.exp(-0.5) * shape
        errors.append(float(np.sqrt(np.mean(off**2))))
        worst.append(float(np.abs(off).max()))
    assert slope(sizes, errors) > 1.9, errors
    assert slope(sizes, worst) > (1.9 if not skew else 1.75), worst  # on skewed meshes the worst place wanders


def test_time():
    """From a smooth start, against the matrix exponential of the same matrices."""
    case = body(1e5, {"right": convection(H, BASE)})
    mesh = grid(case, spaced(0, 1, cells=6), spaced(0, 1, cells=5), 0.2)
    run = SectionRun(case, mesh)
    start = BASE + 100.0 * np.cos(2.0 * mesh.x) * np.cos(mesh.y)
    system = run.stepper(0).system
    matrix = (system.base.toarray() + np.diag(system.lin)) / run.energy.capacity[:, None]
    exact = expm(-1e5 * matrix) @ (start - BASE) + BASE
    errors, levels = [], (3, 4, 5)
    for level in levels:
        state, _ = run.shot(run.begin(start), [[level] * 2**level])
        errors.append(float(np.abs(run.temperature(state) - exact).max()))
    assert slope([2**level for level in levels], errors) > 1.9, errors


def test_time_with_air_that_warms():
    """A body of one temperature in air that rises from BASE: T = BASE + b (t - tau (1 - exp(-t/tau)))."""
    thin = Medium(1000.0, 1e4, 1000.0)
    tau, rise, duration = 1e6 / (2 * 50.0), 0.01, 2e4
    air = Face(exchange=(Exchange(50.0, Series((0.0, duration), (BASE, BASE + rise * duration))),))
    case = SectionProblem(
        (Region("body", box(0, 1, 0, 1), thin, BASE),),
        (SectionSpan(duration, {"left": air, "right": air}),),
        edges=sides_of(0, 1, 0, 1),
    )
    run = SectionRun(case, grid(case, spaced(0, 1, cells=2), spaced(0, 1, cells=2)))
    exact = BASE + rise * (duration - tau * (1.0 - math.exp(-duration / tau)))
    errors, levels = [], (2, 3, 4)
    for level in levels:
        state, _ = run.shot(run.begin(), [[level] * 2**level])
        errors.append(abs(float(run.temperature(state).mean()) - exact))
    # the sides run ahead of the middle by a hair (Bi = 50 1/1e4): that part does not depend on the step
    assert slope([4, 8], -np.diff(errors)) > 1.9, errors


def test_time_with_radiation():
    """T^-3 grows in a straight line when a thin body radiates to 0 K."""
    thin = Medium(2700.0, 2e5, 900.0)
    case = SectionProblem(
        (Region("sheet", box(0, 0.001, 0, 0.001), thin, 500.0),),
        (SectionSpan(200.0, {"left": Face(radiation=(Radiation(0.9, 0.0),))}),),
        edges=sides_of(0, 0.001, 0, 0.001),
    )
    run = SectionRun(case, grid(case, spaced(0, 0.001, cells=2), spaced(0, 0.001, cells=2)), tolerance=1e-6)
    exact = (500.0**-3 + 3 * 0.9 * STEFAN_BOLTZMANN * 200.0 / (2700.0 * 900.0 * 0.001)) ** (-1 / 3)
    errors, levels = [], (2, 3, 4)
    for level in levels:
        state, _ = run.shot(run.begin(), [[level] * 2**level])
        errors.append(abs(float(run.temperature(state).mean()) - exact))
    assert slope([2**level for level in levels], errors) > 1.9, errors


def test_a_jump_does_not_ring():
    """Air that jumps by 100 K at a face with next to no resistance: nothing goes beyond it by more than the error allowed."""
    case = body(1e7, {"right": convection(1e5, BASE - 100.0)})
    mesh = grid(case, spaced(0, 1, cells=20), spaced(0, 1, cells=2))
    for tolerance in (1.0, 0.03):
        history = march(case, mesh, tolerance=tolerance)
        assert history.coldest.value > BASE - 100.0 - tolerance
        assert history.hottest.value < BASE + tolerance
