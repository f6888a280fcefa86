"""The exact solutions against each other and against the numbers recomputed for the list: a second method for each."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from validation.checks import Quantity, registry
from validation.references import (
    convective_series,
    cure_laws,
    laminate,
    lumped,
    phase_change,
    plane_series,
    runaway,
    steady,
    thick_body,
)
from validation.references.layered_laplace import Sheet, Side, temperature

RECORDED = [
    pytest.param(quantity, id=f"{check.id} {quantity.name}")
    for check in registry()
    for quantity in check.quantities
    if isinstance(quantity, Quantity) and quantity.recorded is not None
]


@pytest.mark.parametrize("quantity", RECORDED)
def test_reference_agrees_with_the_recomputed_number(quantity: Quantity) -> None:
    """To the digits printed (7), or to a hundredth of the tolerance, whichever is wider."""
    exact = quantity.exact()
    digits = 1e-6 * abs(exact) + 1e-12
    assert exact == pytest.approx(quantity.recorded, rel=0, abs=max(digits, 0.1 * quantity.tolerance.allowed(exact)))


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
@pytest.mark.parametrize("biot", [0.01, 1.0, 100.0, math.inf])
def test_series_start_uniform_and_lose_heat_at_the_surface(shape: str, biot: float) -> None:
    """The series is 1 everywhere at the start; its mean falls by d * Bi * surface (what leaves is what is lost)."""
    assert convective_series.ratio(shape, biot, 1e-3, 0.3) == pytest.approx(1.0, abs=1e-6)
    if math.isfinite(biot):
        dimension = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
        lost = quad(lambda fo: convective_series.ratio(shape, biot, fo, 1.0), 0.1, 0.4, epsabs=1e-12)[0]
        fall = convective_series.mean_ratio(shape, biot, 0.1) - convective_series.mean_ratio(shape, biot, 0.4)
        assert fall == pytest.approx(dimension * biot * lost, rel=1e-8)


def test_laplace_inversion_gives_the_slab_series() -> None:
    """One layer, convection: the transform against the eigenvalue series."""
    sheet = (Sheet(0.01, 0.5, 2e6, 100.0),)
    for t, x in ((20.0, 0.0), (100.0, 0.004), (300.0, 0.01)):
        series = 20 + 80 * convective_series.ratio("plane", 200 * 0.01 / 0.5, 0.25e-6 * t / 1e-4, x / 0.01)
        assert temperature(sheet, Side(), Side(200.0, 20.0), 0, x, t) == pytest.approx(series, abs=1e-8)


def test_laplace_inversion_gives_the_two_wall_series() -> None:
    sheet = (Sheet(0.001, 0.2, 2e6, 230.0), Sheet(0.002, 0.2, 2e6, 230.0))  # cut in two: the joint must not show
    exact = plane_series.two_walls(0.0015, 10, 0.003, 1e-7, 230, 30, 70)
    assert temperature(sheet, Side(None, 30.0), Side(None, 70.0), 1, 0.0005, 10.0) == pytest.approx(exact, abs=1e-8)


def test_sinusoidal_face_obeys_the_equation() -> None:
    """Central differences of the series: dT/dt = a d2T/dx2 inside, and the two faces."""
    a, omega = 1.1e-5, math.pi / 40

    def t(x: float, time: float) -> float:
        return plane_series.sinusoidal_face(x, time, 0.1, a, 100, omega)

    h, dt = 1e-4, 1e-2
    second = (t(0.08 + h, 32) - 2 * t(0.08, 32) + t(0.08 - h, 32)) / h**2
    assert (t(0.08, 32 + dt) - t(0.08, 32 - dt)) / (2 * dt) == pytest.approx(a * second, rel=1e-4)
    assert t(0.1, 32) == pytest.approx(100 * math.sin(omega * 32))
    assert t(0.0, 32) == 0.0


def test_constant_flux_sheet_at_short_times_is_a_thick_body() -> None:
    sheet = 20 + plane_series.constant_flux(0.003, 2.0, 0.003, 0.2, 1.5e6, 5000)
    assert sheet == pytest.approx(thick_body.step_flux(0.0, 2.0, 0.2 / 1.5e6, 0.2, 20, 5000), abs=1e-6)


def test_convection_on_a_thick_body_tends_to_a_step() -> None:
    held = thick_body.step_temperature(0.01, 60, 1e-6, 20, 100)
    assert thick_body.convection(0.01, 60, 1e-6, 0.5, 1e7, 20, 100) == pytest.approx(held, abs=1e-3)
    # and the flux at the face is h (air - face)
    h, k, dx = 50.0, 0.5, 1e-7
    face, near = (thick_body.convection(x, 60, 1e-6, k, h, 20, 100) for x in (0.0, dx))
    assert k * (face - near) / dx == pytest.approx(h * (100 - face), rel=1e-4)


def test_spread_latent_heat_keeps_its_heat() -> None:
    """What left through the wall, 2 t q(t) by similarity, is the enthalpy that the body lost, by quadrature."""
    k, c, inside, t = 0.35, 950 * 2300.0, 950 * 12300.0, 20.0
    body = phase_change.SpreadLatentHeat(k, c, inside, 40, 110, 130, 200)

    def lost(x: float) -> float:
        temperature = body.temperature(x, t)
        return c * (200 - temperature) + (inside - c) * (130 - min(max(temperature, 110), 130))

    marks = [0.0, *body.depths(t), 0.02]
    enthalpy = sum(quad(lost, a, b, epsrel=1e-10)[0] for a, b in pairwise(marks))
    flux = k * (body.temperature(1e-7, t) - 40) / 1e-7
    assert enthalpy == pytest.approx(2 * t * flux, rel=1e-6)


def test_spread_latent_heat_tends_to_the_sharp_front() -> None:
    """A range of 8 K, and of 4 K: half as far from Neumann's front with equal properties."""
    k, c, latent = 0.35, 950 * 2300.0, 950 * 200e3
    sharp = phase_change.Neumann(k, c, k, c, latent, 40, 120, 200).front(20)
    gaps = []
    for width in (8.0, 4.0):
        body = phase_change.SpreadLatentHeat(k, c, c + latent / width, 40, 120 - width / 2, 120 + width / 2, 200)
        gaps.append(abs(sum(body.depths(20)) / 2 - sharp))
    assert gaps[0] < 0.02 * sharp
    assert gaps[1] < 0.6 * gaps[0]


def test_stefan_is_neumann_with_a_melt_at_its_melting_point() -> None:
    c = 950 * 2300.0
    neumann = phase_change.Neumann(0.35, c, 0.35, c, 950 * 200e3, 30, 130, 130)
    assert neumann.root == pytest.approx(phase_change.stefan_root(1.15), rel=1e-9)


STEFAN_ROOTS = {0.05: 0.1568209, 0.1: 0.2200163, 0.5: 0.4647859, 1.0: 0.6200626, 2.0: 0.8006014, 5.0: 1.059687}


@pytest.mark.parametrize(("stefan", "root"), STEFAN_ROOTS.items())
def test_stefan_roots(stefan: float, root: float) -> None:
    """C01's table, recomputed in 30 digits for the list."""
    assert phase_change.stefan_root(stefan) == pytest.approx(root, rel=1e-6)


def test_panel_of_the_list_was_counted_from_273() -> None:
    """A20: the list's own numbers take 0 degC as 273 K and sigma as 5.67e-8; with these the quadrature gives them."""
    panel = lumped.Panel(0.003, 2770 * 875, 0.8, 5.67e-8)
    reached = panel.time(298, 423, 40, 448)
    end = panel.temperature(298, reached + 300, 40, 448)
    assert reached == pytest.approx(123.0751, abs=1e-4)
    assert end - 273 == pytest.approx(174.7544, abs=1e-4)
    assert reached + 300 + panel.time(end, 310, 10, 298) == pytest.approx(986.3303, abs=1e-4)


def test_radiation_times_by_quadrature() -> None:
    sigma, c = 5.670374419e-8, 2.43e6 * 0.0005
    alone = quad(lambda t: c / (0.9 * sigma * (t**4 - 300**4)), 350, 450)[0]
    both = quad(lambda t: c / (10 * t + 0.9 * sigma * t**4), 350, 450)[0]
    assert lumped.radiation_time(0.9, sigma, 2.43e6, 0.0005, 450, 350, 300) == pytest.approx(alone, rel=1e-10)
    assert lumped.radiation_convection_time_to_zero(0.9, sigma, 10, 2.43e6, 0.0005, 450, 350) == pytest.approx(
        both, rel=1e-10
    )


@pytest.mark.parametrize("shape", ["plane", "cylinder", "sphere"])
def test_runaway_by_shooting(shape: str) -> None:
    delta, centre = runaway.critical(shape)
    assert runaway.delta_by_shooting(shape, centre) == pytest.approx(delta, rel=1e-8)
    assert runaway.delta_by_shooting(shape, 0.5) == pytest.approx(runaway.delta_of_centre(shape, 0.5), rel=1e-8)


def test_critical_centres_of_frank_kamenetskii() -> None:
    """Centre theta at the critical size: 1.19, 1.39, 1.61 as published; recomputed 1.186842, 1.386294, 1.607457."""
    recorded = {"plane": 1.186842, "cylinder": 1.386294, "sphere": 1.607457}
    for shape, value in recorded.items():
        assert runaway.critical(shape)[1] == pytest.approx(value, abs=1e-6)


def test_cure_laws_by_integration() -> None:
    def grow(rate, start: float, t: float) -> float:
        return float(solve_ivp(lambda _, a: rate(a), (0, t), [start], rtol=1e-11, atol=1e-13, method="LSODA").y[0, -1])

    assert grow(lambda a: 0.005 * (1 - a) ** 1.5, 0.0, 300) == pytest.approx(
        cure_laws.nth_order(0.005, 1.5, 300), rel=1e-8
    )
    assert grow(lambda a: (2e-4 + 6e-3 * a) * (1 - a), 0.0, 400) == pytest.approx(
        cure_laws.autocatalytic(2e-4, 6e-3, 400), rel=1e-8
    )
    t = cure_laws.power_law_time(0.01, 0.524, 1e-4, 0.7)
    assert grow(lambda a: 0.01 * a**0.524 * (1 - a) ** 1.476, 1e-4, t) == pytest.approx(0.7, rel=1e-7)


def test_adiabatic_time_by_integration() -> None:
    def rate(t: float, a: float) -> float:
        return cure_laws.arrhenius(2e8, 8e4, t) * (1 - a)

    t = cure_laws.adiabatic_time(rate, 353.15, 150, 0.5)
    out = solve_ivp(lambda _, a: rate(353.15 + 150 * a[0], a[0]), (0, t), [0.0], rtol=1e-11, atol=1e-13, method="LSODA")
    assert out.y[0, -1] == pytest.approx(0.5, rel=1e-7)


def test_glass_transition_and_gel_point() -> None:
    """G12: DiBenedetto's equation and Flory and Stockmayer's gel degree, exact numbers of the list."""
    for degree, value in ((0.25, 14.28571), (0.5, 60.0), (0.75, 124.0), (0.9, 176.3636)):
        assert cure_laws.glass_transition(degree, -20, 220, 0.5) == pytest.approx(value, abs=1e-4)
    degree = cure_laws.degree_of_glass_transition(120, -20, 220, 0.5)
    assert degree == pytest.approx(0.7368421, abs=1e-6)
    assert cure_laws.glass_transition(degree, -20, 220, 0.5) == pytest.approx(120)
    assert cure_laws.gel_degree(2, 4) == pytest.approx(0.5773503, abs=1e-6)
    assert cure_laws.gel_degree(3, 2) == pytest.approx(0.7071068, abs=1e-6)


def test_laminate_does_not_depend_on_its_nodes() -> None:
    coarse, fine = laminate.peak(0.0254, 6500, 61), laminate.peak(0.0254, 6500, 161)
    assert coarse.temperature == pytest.approx(fine.temperature, abs=0.02)
    assert coarse.time == pytest.approx(fine.time, abs=2.0)


def test_steady_forms() -> None:
    """The heat that a heated body makes is what its surface gives off; the radiating end balances."""
    h, q, radius = 60.0, 2e6, 0.006
    for shape, share in (("cylinder", 2), ("sphere", 3)):
        surface = steady.heated_round(shape, radius, radius, q, 0.25, h, 30)
        assert h * (surface - 30) == pytest.approx(q * radius / share)
    # with sigma = 5.67e-8, as NAFEMS prints it: 926.9707 K
    assert steady.radiating_end(0.1, 55.563, 1000, 300, 0.98, 5.67e-8) == pytest.approx(926.9707, abs=1e-4)
    x = np.linspace(0, 10, 5)
    t = np.array([steady.heated_slab_variable_k(v, 10, 5, 2, 0.01) for v in x])
    assert t[-1] == pytest.approx(0.0, abs=1e-12)
