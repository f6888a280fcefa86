"""`verify` of a body that changes on its way: every leg against the second engine, faults named where they were planted."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from thermokit import processes
from thermokit.case import parse_case
from thermokit.conduction import fipy_engine
from thermokit.conduction.course import Course, LayerState, Memory, thinned
from thermokit.conduction.problem import Layer, Medium, Problem, Reaction, Span
from thermokit.conduction.single import solve
from thermokit.errors import SolveError
from thermokit.kinetics.rates import TwoRate
from thermokit.processes.body import BodyProcess
from thermokit.studies.comparison import fields_of
from thermokit.studies.verify import verify
from thermokit.studies.verify_words import verify_text

CASE = """
title = "A wall laid on a tool"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "wall"
material = "stuff"
thickness = "4 mm"
cells = 10
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = "40 s"
[stations.inner]
convection = { coefficient = "60 W/m2/K", air = "120 degC" }
[stations.outer]
convection = { coefficient = "40 W/m2/K", air = "120 degC" }
[[stations]]
name = "press"
duration = "30 s"
[stations.inner]
convection = { coefficient = "20 W/m2/K", air = "25 degC" }
[stations.outer]
convection = { coefficient = "300 W/m2/K", air = "15 degC" }
[[stations]]
name = "cool"
duration = "10 s"
[stations.inner]
convection = { coefficient = "20 W/m2/K", air = "25 degC" }
[accuracy]
temperature = "1 K"
[output]
every = "5 s"
"""
STEEL = Medium(7850.0, 40.0, 480.0)
LAW = TwoRate(1e4, 65e3, 5e5, 60e3, 0.7, 1.3)


class Pressed(BodyProcess):
    """The wall by itself, then drawn to half its thickness on a tool that remembers the shot before, then off it."""

    asked: list[tuple[int, Any, float]] = []
    steel, cells = STEEL, 4

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        return [*super().layers(), ("tool", 8e-3, self.steel, self.cells)]

    def course(self, edges: Sequence[Any]) -> Course:
        whole = self.problem(edges[:1])
        wall = replace(whole.layers[0], reactions=(Reaction("cure_degree", LAW, 1e4, 1e-3),))
        drawn = thinned(wall, 2.0)
        tool = Layer(self.steel, 8e-3, edges[1], 310.0, name="tool", counts=False)
        bodies = ((wall,), (replace(drawn, contact=500.0), tool), (drawn,))
        legs = tuple(Problem(layers, (span,)) for layers, span in zip(bodies, whole.spans, strict=True))
        return Course(legs, ("wall",), (1.0, 2.0, 2.0))

    def memory(self, edges: Sequence[Any], cases: int | None, tolerance: float, near: Memory | None = None) -> Memory:
        self.asked.append((len(edges[1]) - 1, cases, tolerance))
        return {"tool": LayerState(np.linspace(330.0, 320.0, len(edges[1]) - 1), {}, None)}


@pytest.fixture(autouse=True)
def pressed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "process_of", lambda case, places=None: Pressed(case))
    monkeypatch.setattr(Pressed, "asked", [])


def case(accuracy: str = "1 K") -> Any:
    return parse_case(CASE.replace('"1 K"', f'"{accuracy}"'), "wall.toml")


def engine(
    monkeypatch: pytest.MonkeyPatch, plant: Any = None, own_error: float = 0.01, sweeps: int = 10**6
) -> list[Any]:
    """Our own solver, tight, in FiPy's place; ``plant(number of the leg, its solution)`` changes what it says."""
    asked: list[Any] = []

    def estimate(problem: Problem, times: np.ndarray, steps: int) -> Any:
        number = {40.0: 0, 30.0: 1, 10.0: 2}[float(problem.spans[0].duration)]
        asked.append((number, problem, times, steps))
        found = solve(problem, times, 1e-4)
        history = SimpleNamespace(
            temperature=found.temperature.copy(), inner_face=found.inner_face, outer_face=found.outer_face.copy(),
            states={k: v.copy() for k, v in found.states.items()}, sweeps=sweeps,
        )  # fmt: skip
        error = own_error
        if plant is not None:
            error = plant(number, history) or own_error
        return SimpleNamespace(history=history, largest=error, states=dict.fromkeys(found.states, error / 30.0))

    monkeypatch.setattr(fipy_engine, "estimate_error", estimate)
    return asked


def against_fipy(found: Any) -> dict[str, Any]:
    return {c.quantity: c for c in found.comparisons if c.what.startswith("FiPy") and c.largest is not None}


def test_with_the_second_engine_itself() -> None:
    found = verify(case("3 K"))
    assert found.agrees
    expected = [
        (w, q) for w in ("halved mesh", "halved error", "FiPy, same mesh") for q in ("temperature", "cure_degree")
    ]
    assert [(c.what, c.quantity) for c in found.comparisons] == expected
    for c in found.comparisons:
        assert 0.0 <= c.largest <= c.allowed
        assert 0.0 < c.time <= 80.0
    assert found.cells == 14
    assert "Every comparison agrees" in verify_text(found)


def test_the_whole_way_is_followed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the tool remembers is found anew on each mesh and with each error."""
    engine(monkeypatch)
    found = verify(case())
    assert found.agrees
    # the run itself, the run with the rows that are compared, halved and quartered mesh, half and quarter error
    share = 0.2
    assert Pressed.asked == [
        (4, None, share), (4, None, share), (8, None, share), (16, None, share), (4, None, share / 2), (4, None, share / 4)
    ]  # fmt: skip
    assert verify(case()) == found


def test_legs_start_as_ours_did(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each leg on its own clock, from our own state; the budget of steps is shared by the spans of all."""
    asked = engine(monkeypatch)
    verify(case())
    assert [a[0] for a in asked] == [0, 1, 2]
    wall, tool = asked[1][1].layers
    assert wall.start.shape == (10,)
    assert wall.thickness == pytest.approx(2e-3)
    assert tool.start == pytest.approx([330.0, 326.6667, 323.3333, 320.0])
    assert wall.reactions[0].start.min() > 1e-3
    ends = solve(asked[0][1], np.array([40.0]), 0.2).ends[-1]
    assert wall.start == pytest.approx(ends.temperature, abs=1e-6)
    for _, problem, times, steps in asked:
        assert times[-1] == pytest.approx(problem.spans[0].duration, abs=1e-12)
        assert times[0] > 0.0
        assert steps == 10


@pytest.mark.parametrize(
    ("leg", "row", "cell", "time", "depth"),
    [(0, -1, 4, 40.0, 1.8e-3), (1, 1, 9, 50.0, 3.8e-3), (2, 0, 0, 75.0, 0.2e-3)],
)
def test_a_fault_is_found_in_its_leg(
    monkeypatch: pytest.MonkeyPatch, leg: int, row: int, cell: int, time: float, depth: float
) -> None:
    """Its time on the clock of the case, its depth in the wall as it was before it was drawn."""

    def plant(number: int, history: Any) -> None:
        if number == leg:
            history.temperature[row, cell] += 9.0

    asked = engine(monkeypatch, plant)
    found = verify(case())
    assert not found.agrees
    c = against_fipy(found)["temperature"]
    assert [x.quantity for x in found.comparisons if not x.agrees] == ["temperature"]
    assert c.largest == pytest.approx(9.0, abs=0.5)
    times = next(t for number, _, t, _ in asked if number == leg)
    assert c.time == pytest.approx((0.0, 40.0, 70.0)[leg] + times[row])
    assert c.time == pytest.approx(time, abs=6.0)
    assert c.depth == pytest.approx(depth)
    assert c.note == ""
    assert "disagree" in found.advice[-1]
    # the fault of one leg is not carried into the next
    clean = engine(monkeypatch)
    verify(case())
    for before, after in zip(asked, clean, strict=True):
        assert before[1].layers[0].start == pytest.approx(after[1].layers[0].start)


def test_a_fault_in_the_tool_is_told_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def plant(number: int, history: Any) -> None:
        if number == 1:
            history.temperature[0, 11] += 9.0  # the second of four cells of 2 mm

    engine(monkeypatch, plant)
    found = verify(case())
    c = against_fipy(found)["temperature"]
    assert not c.agrees
    assert c.depth is None
    assert c.note == "in tool, 3 mm from its inner side"
    entry = next(e for e in found.as_json()["verify"]["comparisons"] if not e["agrees"])
    assert entry["depth"] is None
    assert json.dumps(found.as_json(), allow_nan=False)
    text = verify_text(found)
    assert "outside of it" in text
    assert "in tool, 3 mm from its inner side" in text
    assert "DOES NOT AGREE" in text


def test_the_outer_face_of_the_tool_is_not_that_of_the_wall(monkeypatch: pytest.MonkeyPatch) -> None:
    def plant(number: int, history: Any) -> None:
        if number == 1:
            history.outer_face[0] += 9.0

    engine(monkeypatch, plant)
    c = against_fipy(verify(case()))["temperature"]
    assert c.depth is None
    assert c.note == "in tool, 8 mm from its inner side"


def test_each_quantity_has_its_own_worst_leg(monkeypatch: pytest.MonkeyPatch) -> None:
    """The share of what is allowed counts: a difference within a leg's own large error is not the worst."""

    def plant(number: int, history: Any) -> float | None:
        if number == 0:
            history.states["cure_degree"][-1, 3] += 0.02  # 0.03 and a little is allowed
        if number == 1:
            history.temperature[0, 2] += 5.0  # 1 K and its own error of 20 K is allowed
            return 20.0
        if number == 2:
            history.temperature[0, 6] += 0.9
        return None

    engine(monkeypatch, plant)
    found = against_fipy(verify(case()))
    assert found["temperature"].time == pytest.approx(75.0, abs=6.0)
    assert found["temperature"].largest == pytest.approx(0.9, abs=0.3)
    assert found["temperature"].agrees
    assert found["temperature"].note == "in 1 other part of the way FiPy is further off than the accuracy asked for"
    assert found["cure_degree"].time == pytest.approx(40.0)
    assert found["cure_degree"].depth == pytest.approx(1.4e-3)


def test_a_leg_that_fails_is_told_beside_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    def plant(number: int, history: Any) -> None:
        if number == 1:
            raise SolveError("FiPy did not converge at 3 s", "give it more steps")

    engine(monkeypatch, plant)
    found = verify(case())
    assert not found.agrees
    last = found.comparisons[-1]
    assert last.largest is None
    assert last.note.startswith("FiPy failed (press): FiPy did not converge at 3 s")
    others = against_fipy(found)
    assert others["temperature"].agrees
    assert others["cure_degree"].agrees
    assert "(press)" in found.advice[-1]
    assert "failed" in verify_text(found)


@pytest.mark.parametrize(("sweeps", "refined"), [(10, [0, 1, 2]), (45, [0, 1]), (60, [1]), (200, [])])
def test_the_budget_of_sweeps_is_shared(monkeypatch: pytest.MonkeyPatch, sweeps: int, refined: list[int]) -> None:
    """Errors of 4, 9 and 2.25 K at 1 K ask for 2, 3 and 1.5 times the steps, each three times their work; 700 sweeps."""
    errors = {0: 4.0, 1: 9.0, 2: 2.25}
    asked = engine(monkeypatch, lambda number, history: errors[number], sweeps=sweeps)
    verify(case())
    again = asked[3:]
    assert sorted(a[0] for a in again) == sorted(refined)
    for number, _, _, steps in again:
        assert steps == int(np.ceil(1.1 * np.sqrt(errors[number]) * 10))


def test_the_mesh_of_the_tool_counts_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tool of one cell that should have many: the wall that lies on it differs when the mesh is halved."""
    engine(monkeypatch)
    slow = replace(STEEL, conductivity=0.15)
    monkeypatch.setattr(Pressed, "steel", slow)
    monkeypatch.setattr(Pressed, "cells", 1)
    found = verify(case("0.2 K"))
    assert "halved mesh" in [c.what for c in found.comparisons if not c.agrees]


def test_cells_cut_in_two_are_paired_whatever_their_depth() -> None:
    """A coat that came out a little thicker on the finer mesh: its cells are still halves of those of the coarser one."""
    layer = Layer(STEEL, 1e-3, np.linspace(0.0, 1.0, 9), np.arange(300.0, 308.0))
    fine = solve(Problem((layer,), (Span(1e-9),)), np.array([1e-9]))
    for stretch in (1.0, 1.2, 0.8):
        found = fields_of(fine, stretch * 1e-3 * np.linspace(0.0, 1.0, 5))["temperature"]
        assert found[0, 1:-1] == pytest.approx([300.5, 302.5, 304.5, 306.5], abs=0.01)
