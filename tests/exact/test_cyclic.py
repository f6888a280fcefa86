"""Repeated shots against closed forms: the geometric series of a lumped tool, the modes of a slab, the heat of one shot."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from thermokit.conduction.cyclic import follow_shots, settled_profile, shots_until_settled
from thermokit.conduction.mesh import equal_edges
from thermokit.conduction.problem import Exchange, Face, Layer, Medium, Problem, Span
from thermokit.conduction.single import solve
from thermokit.conduction.slow_map import linear_map

METAL = Medium(2000.0, 1e6, 1000.0)  # conducts so well that one cell is the whole tool
PLASTIC = Medium(1050.0, 0.18, 1900.0)


# -- one cell: C dT/dt = q - h (T - Ta), so that x_k = x* + m^k (x_0 - x*) ---------------------------------------------

THICKNESS, FLUX, HEATED, ALONE, HEATED_FOR, ALONE_FOR, AIR, FIRST = 0.01, 4000.0, 30.0, 90.0, 20.0, 40.0, 300.0, 290.0
CAPACITY = 2000.0 * 1000.0 * THICKNESS


def lump(start: np.ndarray) -> Problem:
    tool = Layer(METAL, THICKNESS, equal_edges(1), start, name="tool")
    heated = Span(HEATED_FOR, Face(exchange=(Exchange(HEATED, AIR),), heating=FLUX))
    return Problem((tool,), (heated, Span(ALONE_FOR, Face(exchange=(Exchange(ALONE, AIR),)))))


def lump_shot(start: np.ndarray) -> np.ndarray:
    return solve(lump(start), np.zeros(1), 1e-4).ends[-1].temperature


def closed_form() -> tuple[float, float]:
    """(share m of a deviation left after a shot, settled temperature)."""
    m1, m2 = math.exp(-HEATED * HEATED_FOR / CAPACITY), math.exp(-ALONE * ALONE_FOR / CAPACITY)
    # after heating: m1 x + (1 - m1)(Ta + q/h), then back towards Ta
    return m1 * m2, AIR + m2 * (1.0 - m1) * FLUX / HEATED / (1.0 - m1 * m2)


def test_the_slope_of_a_lump_is_the_product_of_its_exponentials() -> None:
    assert linear_map([lump(np.array([FIRST]))], ["tool"])[0, 0] == pytest.approx(closed_form()[0], rel=1e-6)


def test_a_lump_settles_where_the_geometric_series_ends() -> None:
    start = np.array([FIRST])
    found = settled_profile(lump_shot, start, linear_map([lump(start)], ["tool"]))
    assert found.reached and found.evaluations <= 2
    assert found.profile[0] == pytest.approx(closed_form()[1], abs=1e-3)


def test_shots_of_a_lump_are_the_geometric_series() -> None:
    m, end = closed_form()
    shots = follow_shots(lump_shot, np.array([FIRST]), 30)
    assert shots[:, 0] == pytest.approx(end + m ** np.arange(31) * (FIRST - end), abs=2e-3)


@pytest.mark.parametrize("within", [5.0, 0.5, 0.05])
def test_shots_until_a_lump_has_settled(within: float) -> None:
    m, end = closed_form()
    count = math.ceil(math.log(within / abs(FIRST - end)) / math.log(m))
    assert shots_until_settled(np.array([[m]]), np.array([FIRST]), np.array([end]), within) == count


# -- a slab: the slowest mode of one face in air, the other insulated, fades with exp(-beta^2 a t/L^2) ----------------


@pytest.mark.parametrize(("biot", "beta"), [(0.1, 0.3111), (1.0, 0.8603), (10.0, 1.4289)])
def test_the_slowest_mode_of_a_slab(biot: float, beta: float) -> None:
    """First roots of beta tan(beta) = Bi, Carslaw & Jaeger, Conduction of Heat in Solids (1959), Appendix IV, Table I."""
    length, wood = 0.02, Medium(700.0, 0.2, 1500.0)
    diffusivity = 0.2 / (700.0 * 1500.0)
    tool = Layer(wood, length, equal_edges(80), 300.0, name="tool")
    duration = 0.5 * length**2 / diffusivity
    span = Span(duration, Face(exchange=(Exchange(biot * 0.2 / length, 300.0),)))
    slowest = np.abs(np.linalg.eigvals(linear_map([Problem((tool,), (span,))], ["tool"]))).max()
    assert -math.log(slowest) / 0.5 == pytest.approx(beta**2, rel=1e-3)


# -- the first law: in the settled state a tool gives away in a shot what it takes in ----------------------------------


def test_heat_of_a_settled_shot() -> None:
    """The sheet's loss of heat, rho c L (mean before - mean after), leaves through the tool's back and open face."""
    wood = Medium(700.0, 0.2, 1500.0)
    back = Face(exchange=(Exchange(20.0, 290.0),))

    def legs(start: np.ndarray) -> tuple[Problem, Problem]:
        tool = Layer(wood, 0.01, equal_edges(12), start, name="tool")
        sheet = Layer(PLASTIC, 0.002, equal_edges(10), 420.0, contact=300.0, name="sheet")
        return (
            Problem((sheet, tool), (Span(30.0, Face(), back),)),
            Problem((tool,), (Span(60.0, Face(exchange=(Exchange(15.0, 295.0),)), back),)),
        )

    heats: list[float] = []

    def shot(start: np.ndarray) -> np.ndarray:
        first, second = legs(start)
        on = solve(first, np.zeros(1), 1e-3)
        alone = replace(second.layers[0], start=on.ends[-1].temperature[-12:])
        off = solve(second.with_(layers=(alone,)), np.zeros(1), 1e-3)
        given = 1050.0 * 1900.0 * 0.002 * (420.0 - on.ends[-1].temperature[:10].mean())
        lost = on.heat.left - on.heat.entered + off.heat.left - off.heat.entered
        heats[:] = [given, lost]
        return off.ends[-1].temperature

    start = np.full(12, 295.0)
    shot(start)
    assert abs(heats[1] / heats[0] - 1.0) > 0.2  # a cold tool keeps heat
    found = settled_profile(shot, start, linear_map(legs(start), ["tool"]), 1e-3)
    shot(found.profile)
    assert found.reached
    assert heats[1] == pytest.approx(heats[0], rel=1e-4)
