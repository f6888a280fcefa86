"""Shots one after another: every shot against a general integrator, the settled state against brute force and its heat."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from sheets import ABS, BLANK, K, air, body, case, edges_of, fields, panels, placed, stuff, tool, touch, values

from thermokit.conduction.course import LayerState
from thermokit.conduction.follow import follow
from thermokit.conduction.problem import Exchange, Face, Problem, Span
from thermokit.conduction.single import solve
from thermokit.errors import SolveError
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.processes.sheet_shots import settled_tools
from thermokit.stations.tools import tool_layer
from thermokit.studies.dwell import dwell

HOT = {"start": "150 degC", "thickness": "2.5 mm"}
LIMITS = {"release_temperature": "85 degC"}
LUMP = {"lump": stuff(2700.0, 1e5, 900.0)}  # conducts so well that it has one temperature
ON, WAIT, CONTACT, FAN, WATER, OPEN = 20.0, 40.0, 250.0, 40.0, 120.0, 8.0


def shots(
    count: int = 60, side: str = "lower", material: str = "lump", duration: Any = f"{ON} s", settled: bool = True,
    back: Any = None, **more: Any,
) -> Any:  # fmt: skip
    """The tray of 2.5 mm on a tool of 12 mm with water behind it, 20 s on it and 40 s until the next sheet."""
    cooled = {
        "back": {"coefficient": f"{WATER} W/m2/K", "temperature": "15 degC"} if back is None else back,
        "open": {"coefficient": f"{OPEN} W/m2/K", "temperature": "25 degC"},
    }
    station = tool(duration, air=air(25.0, FAN), **{side: touch(CONTACT)})
    own = {**body(12.0, 25.0), "material": material, **{name: value for name, value in cooled.items() if value}}
    repeated = {"count": count, "between": f"{WAIT} s", "settled": settled}
    return case(station, sheet=HOT, limits=LIMITS, tools={"mould": own}, shots=repeated, materials=LUMP, **more)


@cache
def integrated(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(tool at touch, tool at release, hottest plane at release) of each shot [K]: sheet by lines, the tool one node behind it."""
    density, k, heat = ABS
    nodes, thickness = 61, 0.0025
    dx = thickness / (nodes - 1)
    width = np.full(nodes, dx)
    width[[0, -1]] = dx / 2
    capacity = np.append(density * heat * width, 2700.0 * 900.0 * 0.012)

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        flux = np.empty(nodes + 2)
        flux[0] = FAN * (25.0 + K - y[0])
        flux[1:-2] = -k * np.diff(y[:-1]) / dx
        flux[-2], flux[-1] = CONTACT * (y[-2] - y[-1]), WATER * (y[-1] - 15.0 - K)
        return -np.diff(flux) / capacity

    own, rows = 25.0 + K, []
    rate = (WATER + OPEN) / capacity[-1]
    rest = (WATER * 15.0 + OPEN * 25.0) / (WATER + OPEN) + K
    for _ in range(count):
        start = np.append(np.full(nodes, 150.0 + K), own)
        end = solve_ivp(slope, (0, ON), start, "LSODA", rtol=1e-8, atol=1e-6, lband=1, uband=1).y[:, -1]
        rows.append((own, end[-1], end[:-1].max()))
        own = rest + (end[-1] - rest) * np.exp(-rate * WAIT)
    return tuple(np.array(column) for column in zip(*rows, strict=True))  # type: ignore[return-value]


# -- shot by shot ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_every_shot_is_as_integrated(side: str) -> None:
    result = run_case(shots(side=side, accuracy={"temperature": "0.02 K"}))
    touch_at, release_at, hottest = integrated(60)
    table, found = fields(result), values(result)
    assert table["shots/touch_temperature"] + K == pytest.approx(touch_at, abs=0.05)
    assert table["shots/release_temperature"] + K == pytest.approx(release_at, abs=0.05)
    assert table["shots/hottest_at_release"] + K == pytest.approx(hottest, abs=0.1)  # middle of a cell, not the face
    assert found["settled_mould_temperature"] + K == pytest.approx(touch_at[-1], abs=0.05)
    counted = int(np.flatnonzero(np.abs(touch_at - touch_at[-1]) > 0.5)[-1]) + 1
    assert found["shots_until_settled"] == pytest.approx(counted, abs=1)
    assert counted > 3


def test_answers_are_those_of_the_settled_or_of_the_first_shot() -> None:
    _, _, hottest = integrated(60)
    for settled, wanted in ((True, hottest[-1]), (False, hottest[0])):
        found = values(run_case(shots(settled=settled, accuracy={"temperature": "0.02 K"})))
        assert found["release_temperature"] + K == pytest.approx(wanted, abs=0.05)


def test_shots_that_are_not_enough_are_told() -> None:
    words = {o.name: o.meaning for o in run_case(shots(count=2)).outcomes}["shots_until_settled"]
    assert words.endswith("more than the 2 that are made")


# -- the settled state -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("material", ["metal", "hardwood"])
def test_the_settled_state_is_where_brute_force_ends(material: str) -> None:
    """A coarse mesh, every shot followed until nothing moves; the tool then waits as its own problem says."""
    back = {"coefficient": "120 W/m2/K", "temperature": "15 degC"}
    given = shots(material=material, back=back)
    process, cut = process_of(given), edges_of(given, 6)
    found = settled_tools(process, cut, None, 0.02)
    course = process.course(cut)
    layer = tool_layer("mould", given.tools["mould"], process.stuff, cut[1])
    wait = Span(WAIT, Face(exchange=(Exchange(OPEN, 25.0 + K),)), Face(exchange=(Exchange(120.0, 15.0 + K),)))
    state = np.full(6, 25.0 + K)
    for _ in range(400):
        on = (
            follow(course, np.zeros(0), 0.02, memory={"mould": LayerState(state, {}, None)}).memory["mould"].temperature
        )
        after = solve(Problem((replace(layer, start=on),), (wait,)), np.zeros(1), 0.02).ends[-1].temperature
        moved, state = np.abs(after - state).max(), after
        if moved < 1e-4:
            break
    assert found.memory["mould"].temperature == pytest.approx(state, abs=0.05)
    assert found.evaluations <= 6


def test_what_the_sheet_gives_is_what_air_and_water_take() -> None:
    """Over one settled cycle: rho cp L (start - end) of the sheet = fan + water while it lies there + water and air after it."""
    given = shots(material="metal", back={"coefficient": "120 W/m2/K", "temperature": "15 degC"})
    process, cut = process_of(given), edges_of(given, 24)
    memory = process.memory(cut, None, 1e-3)
    rows = np.linspace(0.0, ON, 801)
    travel = follow(process.course(cut), rows, 1e-3, memory=memory)
    (run,) = travel.runs
    width = np.diff(cut[0]) * 0.0025
    density, _, heat = ABS
    given_off = density * heat * float((width * (150.0 + K - travel.memory["sheet"].temperature)).sum())
    fan = np.trapezoid(FAN * (run.inner_face - 25.0 - K), rows)
    water = np.trapezoid(120.0 * (run.outer_face - 15.0 - K), rows)
    layer = tool_layer("mould", given.tools["mould"], process.stuff, cut[1])
    alone = replace(layer, start=travel.memory["mould"].temperature)
    wait = Span(WAIT, Face(exchange=(Exchange(OPEN, 25.0 + K),)), Face(exchange=(Exchange(120.0, 15.0 + K),)))
    after = solve(Problem((alone,), (wait,)), np.linspace(0.0, WAIT, 801), 1e-3)
    water += np.trapezoid(120.0 * (after.outer_face - 15.0 - K), after.time)
    open_air = np.trapezoid(OPEN * (after.inner_face - 25.0 - K), after.time)
    assert given_off == pytest.approx(fan + water + open_air, rel=1e-3)
    assert after.ends[-1].temperature == pytest.approx(memory["mould"].temperature, abs=0.02)


@pytest.mark.parametrize("back", [{}, {"coefficient": "120 W/m2/K", "temperature": "15 degC"}])
def test_shots_of_any_length_settle_together_as_alone(back: Any) -> None:
    """Durations from a tenth of a second to ten hours, in one batch."""
    given = shots(material="metal", back=back)
    process, cut = process_of(given), edges_of(given, 6)
    lengths = np.geomspace(0.1, 36_000.0, 9)
    many = process_of(given.with_values({"stations.form.duration": lengths}))
    together = settled_tools(many, cut, 9, 0.02)
    assert np.all(together.reached)
    assert together.evaluations <= 6
    for i, length in enumerate(lengths):
        alone = settled_tools(process_of(given.with_values({"stations.form.duration": float(length)})), cut, None, 0.02)
        assert together.memory["mould"].temperature[:, i] == pytest.approx(alone.memory["mould"].temperature, abs=0.05)
    assert process.memory(cut, None, 0.02)["mould"].temperature.shape == (6,)


def test_a_dwell_on_a_warm_tool() -> None:
    """Cooling at the settled state takes longer than at the first shot, and has no end: longer is cooler."""
    more: Any = {"material": "metal", "back": {}, "accuracy": {"temperature": "0.5 K"}}
    search = {"find": ["5 s", "3000 s"]}
    found, first = (dwell(shots(duration=search, settled=settled, **more)) for settled in (True, False))
    assert found.earliest is not None
    assert first.earliest is not None
    assert found.earliest > 1.5 * first.earliest
    assert found.latest is None
    at = run_case(shots(duration=f"{found.earliest} s", **more))
    assert values(at)["release_temperature"] == pytest.approx(85.0, abs=0.5)


def test_tools_under_a_map_are_warmed_by_their_own_spot() -> None:
    given = case(
        panels(placed(temperature="420 degC"), placed(temperature="420 degC"), "60 s"),
        tool("20 s", lower=touch(CONTACT), air=air(25.0, FAN)), sheet=BLANK,
        tools={"mould": body(12.0, 25.0, back={"coefficient": "120 W/m2/K", "temperature": "15 degC"})},
        shots={"count": 5, "between": "40 s"},
    )  # fmt: skip
    cut = edges_of(given, 6)
    whole = process_of(given, "all")
    together = whole.memory(cut, whole.places(), 0.02)["mould"].temperature
    for spot in (0, 1):
        one = process_of(given, ((spot, 0),))
        alone = one.memory(cut, 1, 0.02)["mould"].temperature[:, 0]
        assert together[:, spot] == pytest.approx(alone, abs=0.02)
    assert together[0, 0] < together[0, 1] - 0.1  # a corner of the sheet comes colder than its long side


# -- nothing that settles --------------------------------------------------------------------------------------------


def lasting(settled: bool) -> Any:
    station = tool("20 s", lower=touch(1e-12), air=air(25.0, FAN))
    repeated = {"count": 3, "between": "40 s", "settled": settled}
    return case(station, sheet=HOT, limits=LIMITS, tools={"mould": body()}, shots=repeated)


def test_tools_that_never_settle_are_said_plainly() -> None:
    with pytest.raises(SolveError, match="never settle") as caught:
        run_case(lasting(True))
    assert "settled = false" in caught.value.advice


def test_the_first_shot_of_such_tools_can_be_had() -> None:
    found = values(run_case(lasting(False)))
    assert found["settled_mould_temperature"] is None
    assert found["shots_until_settled"] is None
    assert found["release_temperature"] > 85.0


def test_two_tools_have_shots_of_their_own() -> None:
    cooled = {"back": {"coefficient": "120 W/m2/K", "temperature": "15 degC"}}
    given = case(
        tool("20 s", upper=touch(150.0, "plug"), lower=touch(CONTACT)), sheet=HOT, limits=LIMITS,
        tools={"mould": body(12.0, 25.0, **cooled), "plug": body(30.0, 40.0, **cooled)},
        shots={"count": 4, "between": "40 s"},
    )  # fmt: skip
    result = run_case(given)
    table = fields(result)
    assert table["shots/touch_temperature_mould"][0] == pytest.approx(25.0)
    assert table["shots/touch_temperature_plug"][0] == pytest.approx(40.0)
    for name in ("mould", "plug"):
        assert values(result)[f"settled_{name}_temperature"] is not None
        assert f"tool/{name}_temperature" in table
