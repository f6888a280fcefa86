"""The wall between two cooled halves: settled shots against a linear reference, limits, batches, what never gets cold."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from thermokit.conduction.problem import Curve, Medium, Transition
from thermokit.exchange.channel_row import channel_row
from thermokit.processes.mould_cycle import hottest_place, settled_cycle
from thermokit.processes.mould_wall import CAVITY, CORE, MouldSide, MouldWall, cases_of, cooling_time_by_hand, one_of
from validation.references.plane_series import cooling_time_one_term
from validation.references.water_wall import Cycle, Tool

ZERO = 273.15
STEEL = MouldSide(30.0, 7800.0, 460.0, 0.010, 0.015, 0.035, 5000.0, ZERO + 20.0, 2000.0, 1000.0, block=0.06)
POLYMER = Medium(900.0, 0.2, 2200.0)
WALL = MouldWall(POLYMER, 0.003, ZERO + 230.0, ZERO + 90.0, 4.0, 6.0, STEEL, replace(STEEL, coolant=ZERO + 35.0))


def tool(side: MouldSide) -> Tool:
    steel, film = (float(r) for r in side.resistance())
    return Tool(
        steel * side.conductivity, side.conductivity, side.density * side.specific_heat, 1.0 / film, side.coolant,
        side.air_coefficient, side.air, side.contact, side.contact_after,
    )  # fmt: skip


def reference(wall: MouldWall) -> Cycle:
    part = wall.part
    return Cycle(
        wall.thickness,
        part.conductivity,
        part.density * part.specific_heat,
        wall.melt,
        tool(wall.cavity),
        tool(wall.core),
    )


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"thickness": 0.0015, "hold": 1.0, "open": 3.0},
        {"cavity": replace(STEEL, conductivity=200.0, density=8800.0, specific_heat=400.0, contact_after=500.0)},
        {"core": replace(STEEL, coefficient=300.0, coolant=ZERO + 40.0), "thickness": 0.005},
    ],
)  # fmt: skip
def test_settled_shot_against_a_linear_reference(changes: dict[str, object]) -> None:
    """Cooling time, faces at the touch and at opening, mean of the part: fine cells and eigenvalues, one solve."""
    wall = replace(WALL, **changes)
    found = settled_cycle(wall)
    assert found.reached.all()
    exact = reference(wall)
    n = exact.n
    at_opening = exact.settled(wall.hold, float(found.cooling[0]), wall.open)
    part = at_opening[n : 2 * n]
    assert part.max() == pytest.approx(wall.ejection, abs=0.4)  # 0.3 % of the fall from the melt
    assert found.mean[0] == pytest.approx(part.mean(), abs=0.3)
    assert found.cavity.at_touch[0] == pytest.approx(exact.touch[n - 1], abs=0.1)
    assert found.core.at_touch[0] == pytest.approx(exact.touch[2 * n], abs=0.1)
    assert found.cavity.at_opening[0] == pytest.approx(at_opening[n - 1], abs=0.2)
    heat = wall.part.density * wall.part.specific_heat * wall.thickness * (wall.melt - part.mean())
    assert found.heat[0] == pytest.approx(heat, rel=2e-3)
    assert found.mismatch[0] < 2e-3


def test_steady_resistance_of_a_side_is_that_of_the_row() -> None:
    steel, film = STEEL.resistance()
    row = channel_row(30.0, 0.010, 0.015, 0.035, 5000.0, block=0.06)
    assert float(steel + film) == pytest.approx(float(row.resistance))
    # thin channels far below: z + p/(2 pi) ln(p/(pi D)), the hand formula of a row for large z/p
    thin = 0.015 + 0.035 / (2 * np.pi) * np.log(35 / (np.pi * 10))
    assert float(steel) * 30.0 == pytest.approx(thin, rel=0.03)


def test_perfect_walls_are_the_fourier_series() -> None:
    """3 mm, a = 1e-7 m2/s, 230 to 90 degC between walls of 50 degC: 15.91834 s for the middle, 11.80044 s for the mean."""
    side = replace(
        STEEL, conductivity=1e5, coefficient=1e6, coolant=ZERO + 50.0, contact=1e6, contact_after=1e6, air=ZERO + 50.0
    )
    wall = MouldWall(Medium(1000.0, 0.2, 2000.0), 0.003, ZERO + 230.0, ZERO + 90.0, 0.2, 10.0, side, side)
    assert float(settled_cycle(wall).shut[0]) == pytest.approx(15.91834, rel=5e-3)
    assert float(settled_cycle(replace(wall, criterion="mean")).shut[0]) == pytest.approx(11.80044, rel=5e-3)
    # through a contact of 1000 W/m2/K: 20.22601 s (Robin series)
    poor = replace(side, contact=1000.0, contact_after=1000.0)
    assert float(settled_cycle(replace(wall, cavity=poor, core=poor)).shut[0]) == pytest.approx(20.22601, rel=5e-3)


def test_hand_formula() -> None:
    for mean in (False, True):
        own = cooling_time_by_hand(0.002, 0.9e-7, 280.0, 90.0, 130.0, "mean" if mean else "hottest")
        assert float(own) == pytest.approx(cooling_time_one_term(0.002, 0.9e-7, 280.0, 90.0, 130.0, mean))
    # barely cooled, or colder than the wall: one term says nothing
    assert np.isnan(cooling_time_by_hand(0.003, 1e-7, 230.0, 50.0, np.array([200.0, 45.0]), "mean")).all()
    assert np.isnan(cooling_time_by_hand(0.003, 1e-7, 230.0, 50.0, 225.0))
    found = settled_cycle(WALL)
    assert 0.5 < float(found.by_hand[0] / found.shut[0]) < 1.0  # it knows of no contact


def test_alike_halves_share_the_heat() -> None:
    wall = replace(WALL, core=WALL.cavity)
    found = settled_cycle(wall)
    assert found.cavity.heat[0] == pytest.approx(found.core.heat[0], rel=1e-3)
    assert found.cavity.mean[0] == pytest.approx(found.core.mean[0], abs=0.02)
    assert found.profile[:, 0] == pytest.approx(found.profile[::-1, 0], abs=0.02)


def test_faces_swing_and_settle() -> None:
    found = settled_cycle(WALL)
    for side in (found.cavity, found.core):
        assert side.lowest[0] <= side.at_touch[0] < side.mean[0] < side.highest[0]
        assert side.swing[0] == pytest.approx(side.highest[0] - side.lowest[0])
    assert found.core.mean[0] > found.cavity.mean[0]  # warmer water
    assert 1 <= found.shots_to_settle() < 20
    slow = settled_cycle(replace(WALL, cavity=replace(STEEL, coefficient=200.0)))
    assert slow.shots_to_settle() > found.shots_to_settle()


def test_thicker_walls_and_warmer_water_take_longer() -> None:
    base = float(settled_cycle(WALL).shut[0])
    thicker = float(settled_cycle(replace(WALL, thickness=0.006)).shut[0])
    assert 2.9 < thicker / base < 4.0  # below 4: contact counts for less
    warmer = replace(WALL, cavity=replace(STEEL, coolant=ZERO + 30.0), core=replace(STEEL, coolant=ZERO + 45.0))
    assert float(settled_cycle(warmer).shut[0]) > base
    scaled = replace(WALL, cavity=replace(STEEL, coefficient=800.0))
    assert float(settled_cycle(scaled).shut[0]) > base


def test_cases_side_by_side() -> None:
    rng = np.random.default_rng(7)
    n = 12
    wall = replace(
        WALL,
        thickness=rng.uniform(0.0015, 0.005, n),
        melt=rng.uniform(480.0, 520.0, n),
        cavity=replace(STEEL, coefficient=rng.uniform(800.0, 9000.0, n), depth=rng.uniform(0.012, 0.025, n)),
        core=replace(STEEL, contact_after=rng.uniform(400.0, 2000.0, n)),
    )
    assert cases_of(wall) == n
    many = settled_cycle(wall)
    assert many.reached.all()
    for i in range(0, n, 4):
        one = settled_cycle(one_of(wall, i))
        assert many.shut[i] == pytest.approx(float(one.shut[0]), rel=1e-3)
        assert many.cavity.mean[i] == pytest.approx(float(one.cavity.mean[0]), abs=0.05)


def test_a_given_cooling_time() -> None:
    free = settled_cycle(WALL)
    given = settled_cycle(replace(WALL, cooling=np.array([float(free.cooling[0]), 25.0])))
    assert given.hottest[0] == pytest.approx(WALL.ejection, abs=0.1)
    assert given.shut[1] == pytest.approx(29.0)
    assert given.hottest[1] < given.hottest[0]
    assert given.earliest[1] == pytest.approx(float(free.shut[0]), rel=0.02)  # it hardly depends on the cycle


def test_cold_before_the_hold_is_over() -> None:
    found = settled_cycle(replace(WALL, hold=40.0))
    assert found.reached.all() and found.cooling[0] == 0.0
    assert found.earliest[0] < 20.0


def test_water_too_warm_for_it() -> None:
    found = settled_cycle(replace(WALL, ejection=np.array([ZERO + 30.0, ZERO + 90.0])))
    assert found.reached.tolist() == [False, True]
    assert np.isnan(found.shut[0]) and np.isfinite(found.shut[1])


def test_latent_heat_and_tables() -> None:
    """Latent heat lasts as its share of the heat; tables that hold one value change nothing."""
    T = np.array([250.0, 600.0])
    tables = Medium(900.0, Curve(T, np.array([0.2, 0.2])), Curve(T, np.array([2200.0, 2200.0])))
    base = settled_cycle(WALL)
    assert float(settled_cycle(replace(WALL, part=tables)).shut[0]) == pytest.approx(float(base.shut[0]), rel=1e-3)
    latent = Medium(900.0, 0.2, 2200.0, Transition(90e3, 420.0, 440.0), Transition(90e3, 370.0, 400.0))
    found = settled_cycle(replace(WALL, part=latent))
    assert found.reached.all()
    assert found.heat[0] - base.heat[0] == pytest.approx(900.0 * 0.003 * 90e3, rel=0.05)
    assert 1.2 < float(found.shut[0] / base.shut[0]) < 1.6


def test_hottest_place_of_a_parabola() -> None:
    x = (np.arange(9) + 0.5) / 9
    profile = 100.0 - 300.0 * (x - 0.47) ** 2
    assert float(hottest_place(profile[None, :, None], x)[0, 0]) == pytest.approx(100.0)
    rising = np.linspace(0.0, 1.0, 9)
    assert float(hottest_place(rising[None, :, None], x)[0, 0]) == pytest.approx(1.0)


def test_layers_stand_with_their_faces_to_the_part() -> None:
    cavity, core = STEEL.layer(CAVITY), STEEL.layer(CORE)
    assert np.diff(cavity.edges)[-1] == pytest.approx(np.diff(core.edges)[0])
    assert np.diff(cavity.edges)[0] > np.diff(cavity.edges)[-1]


def test_one_wall_takes_a_fraction_of_a_second() -> None:
    settled_cycle(WALL)
    begun = time.process_time()
    settled_cycle(WALL)
    assert time.process_time() - begun < 1.0
