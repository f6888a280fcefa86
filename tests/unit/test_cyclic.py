"""Repeated shots of a hot sheet on a tool: the slope against differences of the solver, the settled state against shot by shot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from thermokit.conduction.batch import solve_batch
from thermokit.conduction.cyclic import follow_shots, settled_many, settled_profile, shots_until_settled
from thermokit.conduction.mesh import equal_edges, graded_edges
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
from thermokit.conduction.slow_map import linear_map

COLD = 298.15
ABS = Medium(1050.0, 0.18, 1900.0)
PP = Medium(
    850.0,
    Curve(np.array([293.0, 373.0, 503.0]), np.array([0.22, 0.20, 0.18])),
    Curve(np.array([293.0, 373.0, 503.0]), np.array([1680.0, 2120.0, 2820.0])),
    Transition(95e3, 393.0, 443.0, 436.0),
    Transition(95e3, 358.0, 401.0, 389.0),
)
ALUMINIUM = Medium(2700.0, 150.0, 900.0)
HARDWOOD = Medium(
    690.0,
    Curve(np.array([293.0, 373.0]), np.array([0.170, 0.186])),
    Curve(np.array([293.0, 373.0]), np.array([1630.0, 1960.0])),
)
RESIN = Medium(1640.0, 0.86, Curve(np.array([293.0, 373.0]), np.array([1050.0, 1250.0])))
AIR = Face(exchange=(Exchange(8.0, COLD),))
FAN = Face(exchange=(Exchange(40.0, COLD),), radiation=(Radiation(0.6, COLD),))
DRAUGHT = Face(exchange=(Exchange(40.0, COLD),))
WATER = Face(exchange=(Exchange(800.0, 288.15),))


@dataclass(frozen=True)
class Moulding:
    """A sheet on a tool, then the tool alone; leaves may be arrays of cases."""

    sheet: Medium = ABS
    hot: Any = 423.15
    tool: Medium = ALUMINIUM
    thickness: float = 0.015
    cells: int = 8
    back: Face = AIR
    open: Face = AIR
    contact: Any = 250.0
    on: Any = 20.0
    between: Any = 40.0

    @property
    def cold(self) -> np.ndarray:
        return np.full(self.cells, COLD)

    def legs(self, start: np.ndarray) -> tuple[Problem, Problem]:
        sheet = Layer(self.sheet, 0.003, equal_edges(10), self.hot, contact=self.contact, name="sheet")
        tool = Layer(self.tool, self.thickness, graded_edges(self.cells), start, name="tool")
        above = Face(exchange=(Exchange(10.0, COLD),), radiation=(Radiation(0.9, COLD),))
        return (
            Problem((sheet, tool), (Span(self.on, above, self.back),)),
            Problem((tool,), (Span(self.between, self.open, self.back),)),
        )

    def shot(self, tolerance: float = 0.01) -> Callable[[np.ndarray], np.ndarray]:
        def one(start: np.ndarray) -> np.ndarray:
            on, alone = self.legs(start)
            end = solve(on, np.zeros(1), tolerance).ends[-1].temperature[-self.cells :]
            layers = (replace(alone.layers[0], start=end),)
            return solve(alone.with_(layers=layers), np.zeros(1), tolerance).ends[-1].temperature

        return one

    def shots(self, cases: int) -> Callable[[np.ndarray], np.ndarray]:
        """All cases at once."""

        def many(start: np.ndarray) -> np.ndarray:
            on, alone = self.legs(start)
            end = solve_batch(on, cases, tolerance=0.01).end_temperature[-1][-self.cells :]
            layers = (replace(alone.layers[0], start=end),)
            return solve_batch(alone.with_(layers=layers), cases, tolerance=0.01).end_temperature[-1]

        return many

    def slope(self) -> np.ndarray:
        return linear_map(self.legs(self.cold), ["tool"])


#: from a tool that settles in a few shots to one that needs more than a hundred
MOULDINGS = {
    "aluminium, water-cooled": Moulding(back=WATER),
    "aluminium, insulated back": Moulding(back=Face(), open=FAN, thickness=0.025),
    "hardwood, insulated back": Moulding(tool=HARDWOOD, back=Face(), open=FAN, between=120.0, thickness=0.02),
    "resin": Moulding(tool=RESIN, open=FAN, thickness=0.02),
    "two curves on resin": Moulding(sheet=PP, hot=463.15, tool=RESIN, open=FAN, thickness=0.02),
    "two curves on aluminium": Moulding(sheet=PP, hot=463.15, open=FAN),
}


# -- the slope ---------------------------------------------------------------------------------------------------------


def differences(shot: Callable[[np.ndarray], np.ndarray], start: np.ndarray, by: float = 1.0) -> np.ndarray:
    """dP/dx by central differences of the solver."""
    columns = [(shot(start + by * e) - shot(start - by * e)) / (2.0 * by) for e in np.eye(len(start))]
    return np.stack(columns, axis=1)


def test_the_slope_is_that_of_the_solver_where_all_is_constant() -> None:
    moulding = Moulding(cells=5, back=WATER)
    sheet_in_air = replace(moulding.legs(moulding.cold)[0].spans[0], inner=AIR)
    legs = moulding.legs(moulding.cold)
    legs = (legs[0].with_(spans=(sheet_in_air,)), legs[1])

    def shot(start: np.ndarray) -> np.ndarray:
        on = legs[0].with_(layers=(legs[0].layers[0], replace(legs[0].layers[1], start=start)))
        end = solve(on, np.zeros(1), 1e-4).ends[-1].temperature[-5:]
        alone = legs[1].with_(layers=(replace(legs[1].layers[0], start=end),))
        return solve(alone, np.zeros(1), 1e-4).ends[-1].temperature

    assert linear_map(legs, ["tool"]) == pytest.approx(differences(shot, moulding.cold, 10.0), abs=1e-5)


@pytest.mark.parametrize("name", MOULDINGS)
def test_the_slope_is_near_that_of_the_solver_elsewhere(name: str) -> None:
    moulding = MOULDINGS[name]
    seen = differences(moulding.shot(1e-4), moulding.cold + 20.0)
    slowest = [np.abs(np.linalg.eigvals(m)).max() for m in (moulding.slope(), seen)]
    assert moulding.slope() == pytest.approx(seen, abs=0.02)
    assert slowest[0] == pytest.approx(slowest[1], abs=0.015)


def test_layers_are_followed_by_name_and_come_in_the_order_asked_for() -> None:
    """Two tools close on a sheet twice and are then open, each by itself: legs in sequence, not one body."""
    upper = Layer(Medium(1640.0, 0.86, 1100.0), 0.01, equal_edges(3), 320.0, contact=200.0, name="upper")
    lower = Layer(ALUMINIUM, 0.01, equal_edges(2), 300.0, name="lower")
    sheet = Layer(ABS, 0.002, equal_edges(6), 400.0, contact=400.0, name="sheet")
    pressed = Problem((upper, sheet, lower), (Span(10.0, AIR, WATER), Span(5.0, AIR, AIR)))
    held = pressed.with_(spans=(Span(8.0, AIR, AIR),))
    apart = [Problem((layer,), (Span(20.0, AIR, DRAUGHT),)) for layer in (upper, lower)]

    def shot(start: np.ndarray) -> np.ndarray:
        layers = (replace(upper, start=start[:3]), sheet, replace(lower, start=start[3:]))
        first = solve(pressed.with_(layers=layers), np.zeros(1), 1e-4).ends[-1].temperature
        layers = tuple(replace(layer, start=part) for layer, part in zip(layers, np.split(first, [3, 9]), strict=True))
        second = solve(held.with_(layers=layers), np.zeros(1), 1e-4).ends[-1].temperature
        ends = []
        for problem, part in zip(apart, (second[:3], second[9:]), strict=True):
            alone = problem.with_(layers=(replace(problem.layers[0], start=part),))
            ends.append(solve(alone, np.zeros(1), 1e-4).ends[-1].temperature)
        return np.concatenate(ends)

    start = np.concatenate([np.full(3, 320.0), np.full(2, 300.0)])
    seen = differences(shot, start, 10.0)
    found = linear_map([pressed, held, *apart], ["upper", "lower"])
    assert found == pytest.approx(seen, abs=1e-5)
    turned = linear_map([pressed, held, *apart], ["lower", "upper"])
    assert turned == pytest.approx(np.roll(seen, (2, 2), (0, 1)), abs=1e-5)


def test_a_held_face_and_one_that_changes_in_time() -> None:
    """A prescribed temperature is a face that conducts for ever; a coefficient that rises counts with its mean."""
    tool = Layer(ALUMINIUM, 0.01, equal_edges(3), 320.0, name="tool")
    held = Problem((tool,), (Span(2.0, Face(temperature=300.0), AIR),))
    rising = Face(exchange=(Exchange(Series((0.0, 40.0), (0.0, 100.0)), COLD),))
    for problem, within in ((held, 1e-5), (Problem((tool,), (Span(40.0, rising),)), 1e-3)):

        def shot(start: np.ndarray, problem: Problem = problem) -> np.ndarray:
            body = problem.with_(layers=(replace(tool, start=start),))
            return solve(body, np.zeros(1), 1e-4).ends[-1].temperature

        seen = differences(shot, np.full(3, 320.0), 10.0)
        assert linear_map([problem], ["tool"]) == pytest.approx(seen, abs=within)


def test_heat_given_off_from_the_depth_is_in_the_slope() -> None:
    """A thin film that gives off kappa sigma T^4: C dT/dt = -4 kappa sigma T^3 dT over its thickness."""
    film = Layer(Medium(1000.0, 50.0, 1000.0), 0.001, equal_edges(1), 400.0, name="film")
    span = Span(100.0, emission=np.array([200.0]))
    found = linear_map([Problem((film,), (span,))], ["film"])[0, 0]
    assert found == pytest.approx(np.exp(-4.0 * 200.0 * 5.670374419e-8 * 400.0**3 * 100.0 / 1e6), rel=1e-9)


@pytest.mark.parametrize("shape", ["cylinder", "sphere"])
def test_round_bodies_keep_an_even_change_where_nothing_leaves(shape: Any) -> None:
    rod = Layer(RESIN, 0.02, equal_edges(4), 300.0, name="tool")
    found = linear_map([Problem((rod,), (Span(60.0),), shape)], ["tool"])
    assert found.sum(axis=1) == pytest.approx(np.ones(4))
    assert found.min() > 0.0


def test_many_slopes_are_those_of_each() -> None:
    cases = 3
    moulding = replace(
        MOULDINGS["two curves on resin"],
        on=np.array([10.0, 20.0, 40.0]),
        hot=np.array([440.0, 450.0, 460.0]),
        contact=np.array([100.0, 200.0, 500.0]),
    )
    together = linear_map(moulding.legs(np.full((moulding.cells, cases), COLD)), ["tool"], cases)
    assert together.shape == (moulding.cells, moulding.cells, cases)
    for case in range(cases):
        of_case = {name: getattr(moulding, name)[case] for name in ("on", "hot", "contact")}
        alone = replace(moulding, **of_case).slope()
        assert together[:, :, case] == pytest.approx(alone, abs=1e-12)


def test_slopes_say_what_they_cannot_follow() -> None:
    moulding = Moulding()
    first, second = moulding.legs(moulding.cold)
    with pytest.raises(ValueError, match="no leg has a layer named 'mould'"):
        linear_map((first, second), ["mould"])
    coarser = second.with_(layers=(replace(second.layers[0], edges=equal_edges(4)),))
    with pytest.raises(ValueError, match="'tool' has 8 cells in one leg, 4 in another"):
        linear_map((first, coarser), ["tool"])


# -- the settled state -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MOULDINGS)
def test_it_settles_where_shot_by_shot_does(name: str) -> None:
    moulding = MOULDINGS[name]
    shot, slope = moulding.shot(), moulding.slope()
    found = settled_profile(shot, moulding.cold, slope)
    assert found.reached and found.error <= 0.01
    assert found.evaluations <= 6
    shots = follow_shots(shot, moulding.cold, 600, 1e-5)
    assert found.profile == pytest.approx(shots[-1], abs=0.01)
    for within in (5.0, 0.5):
        seen = int(np.argmax(np.abs(shots - shots[-1]).max(axis=1) <= within))
        count = shots_until_settled(found.slope, moulding.cold, found.profile, within)
        assert count == pytest.approx(seen, rel=0.05, abs=1)


def test_from_a_hot_tool_it_settles_in_the_same_state() -> None:
    moulding = MOULDINGS["resin"]
    shot, slope = moulding.shot(), moulding.slope()
    cold = settled_profile(shot, moulding.cold, slope)
    hot = settled_profile(shot, moulding.cold + 90.0, slope)
    assert cold.reached and hot.reached
    assert cold.profile == pytest.approx(hot.profile, abs=0.01)


def test_many_cases_settle_as_each_alone() -> None:
    cases = 12
    moulding = replace(
        MOULDINGS["resin"],
        on=np.linspace(8.0, 60.0, cases),
        between=np.linspace(120.0, 10.0, cases),
        hot=np.tile([410.0, 420.0, 430.0], 4),
    )
    starts = np.full((moulding.cells, cases), COLD)
    slopes = linear_map(moulding.legs(starts), ["tool"], cases)
    found = settled_many(moulding.shots(cases), starts, slopes)
    assert found.reached.all() and found.evaluations <= 6
    common = settled_many(moulding.shots(cases), starts, slopes.mean(axis=2))
    assert common.reached.all()
    assert common.profile == pytest.approx(found.profile, abs=0.02)
    for case in (0, 7, 11):
        of_case = {name: getattr(moulding, name)[case] for name in ("on", "between", "hot")}
        one = replace(moulding, **of_case)
        alone = settled_profile(one.shot(), one.cold, one.slope())
        assert found.profile[:, case] == pytest.approx(alone.profile, abs=0.02)


# -- maps without a solver behind them ---------------------------------------------------------------------------------


def fading(n: int, share: float) -> np.ndarray:
    """A slope as conduction gives it: each cell takes up the mean of all, and all lose a little."""
    return share * (0.5 * np.eye(n) + 0.5 / n)


def test_a_straight_map_takes_two_shots() -> None:
    slope, end = fading(5, 0.995), np.linspace(350.0, 320.0, 5)
    found = settled_profile(lambda x: end + slope @ (x - end), np.full(5, 300.0), slope)
    assert found.reached and found.evaluations == 2
    assert found.profile == pytest.approx(end, abs=1e-8)


@pytest.mark.parametrize("share", [0.2, 0.9, 0.98, 0.998])
def test_a_slope_that_is_wrong_costs_shots_but_no_accuracy(share: float) -> None:
    """The true slope keeps 0.99 of an even deviation; the error said is that of the slope seen, not of the one given."""
    slope, end = fading(5, 0.99), np.linspace(350.0, 320.0, 5)
    found = settled_profile(lambda x: end + slope @ (x - end), np.full(5, 300.0), fading(5, share), most=20)
    assert found.reached
    assert found.profile == pytest.approx(end, abs=0.01)
    assert np.abs(np.linalg.eigvals(found.slope)).max() == pytest.approx(0.99, abs=0.002)


def radiating(x: np.ndarray) -> np.ndarray:
    """A lump that each shot warms by 30 K and that then loses heat to cold walls by radiation alone, exactly:

    dT/dt = -r T^4, so that T = (T_0^-3 + 3 r t)^(-1/3).
    """
    return ((x + 30.0) ** -3 + 3.0e-10) ** (-1.0 / 3.0)


@pytest.mark.parametrize("slope", [0.0, 0.5, 0.95])
def test_a_bent_map(slope: float) -> None:
    found = settled_profile(radiating, np.array([300.0]), np.array([[slope]]), most=20)
    shots = follow_shots(radiating, np.array([300.0]), 2000, 0.0)
    assert found.reached
    assert found.profile == pytest.approx(shots[-1], abs=0.01)


def released_at_360(x: np.ndarray) -> np.ndarray:
    """A lump under a sheet that stays until it is at 360 K: longer on a hotter tool, never on one as hot as that."""
    if x[0] >= 360.0:
        return np.full(1, np.nan)
    time = 20.0 * np.log((420.0 - x) / (360.0 - x)) + 10.0
    return 300.0 + (x + 7.0 - 300.0) * np.exp(-time / 300.0)


def test_a_step_beyond_what_can_be_computed_is_taken_back() -> None:
    """With a slope of 0.99 the first step would end far above 360 K."""
    start, slope = np.array([300.0]), np.array([[0.99]])
    assert np.isnan(released_at_360(start - (start - released_at_360(start)) / 0.01))
    found = settled_profile(released_at_360, start, slope, most=20)
    assert found.reached
    assert found.profile == pytest.approx(follow_shots(released_at_360, start, 500, 0.0)[-1], abs=0.01)


def test_a_case_that_cannot_be_computed_harms_no_other() -> None:
    slope, end = fading(3, 0.9), np.full((3, 4), 350.0)

    def shot(x: np.ndarray) -> np.ndarray:
        out = end + slope @ (x - end)
        out[:, 2] = np.nan
        return out

    found = settled_many(shot, np.full((3, 4), 300.0), slope)
    assert found.reached.tolist() == [True, True, False, True]
    assert found.profile[:, [0, 1, 3]] == pytest.approx(np.full((3, 3), 350.0))
    assert np.isinf(found.error[2]) and np.all(found.profile[:, 2] == 300.0)


def test_too_few_shots_are_said() -> None:
    found = settled_profile(radiating, np.array([300.0]), np.array([[0.0]]), most=2)
    assert not found.reached
    assert found.error > 0.01 and found.evaluations == 2


def test_a_state_that_shots_run_away_from_is_not_settled() -> None:
    """x -> 350 + 1.2 (x - 350) has a fixed point, which no tool would ever come to."""
    found = settled_profile(lambda x: 350.0 + 1.2 * (x - 350.0), np.array([300.0]), np.array([[0.5]]))
    assert found.profile == pytest.approx([350.0], abs=0.01)
    assert not found.reached


def test_a_deviation_that_stays_for_ever_is_refused() -> None:
    with pytest.raises(ValueError, match="stays for ever"):
        settled_profile(lambda x: x + 1.0, np.zeros(2), np.eye(2))
    with pytest.raises(ValueError, match="do not fade"):
        shots_until_settled(np.eye(1), np.zeros(1), np.ones(1), 0.1)


# -- shot by shot ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("within", [40.0, 20.0, 3.0, 0.01])
def test_shots_until_settled_by_counting(within: float) -> None:
    slope = fading(4, 0.97) + 0.01 * np.triu(np.ones((4, 4)), 1)
    start, end = np.array([300.0, 290.0, 310.0, 300.0]), np.full(4, 340.0)
    deviation, count = start - end, 0
    while np.abs(deviation).max() > within:
        deviation, count = slope @ deviation, count + 1
    assert shots_until_settled(slope, start, end, within) == count


def test_shots_that_stand_still_are_not_run() -> None:
    calls = []

    def shot(x: np.ndarray) -> np.ndarray:
        calls.append(x)
        return 0.5 * x

    out = follow_shots(shot, np.full((2, 3), 1.0), 50, 1e-3)
    assert out.shape == (51, 2, 3)
    assert out[:5, 0, 0].tolist() == [1.0, 0.5, 0.25, 0.125, 0.0625]
    assert len(calls) == 10  # 2^-10 is the first change below 1e-3
    assert np.all(out[10:] == 2.0**-10)
    calls.clear()
    follow_shots(shot, np.ones(1), 50, 0.0)
    assert len(calls) == 50
