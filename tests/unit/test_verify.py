"""`thermokit verify`: what agrees, what does not and why; planted faults must be found where they were planted."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from thermokit.case import parse_case
from thermokit.cli import verify as cli
from thermokit.conduction import fipy_engine, follow, mesh
from thermokit.conduction.history import Ending
from thermokit.conduction.problem import Layer, Medium, Problem, Reaction, Span, Transition
from thermokit.conduction.single import solve
from thermokit.errors import SolveError
from thermokit.studies.comparison import largest, share_of_kelvin
from thermokit.studies.verify import verify
from thermokit.studies.verify_words import verify_text

CASE = """
title = "A wall"
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
name = "wall"
material = "stuff"
thickness = "4 mm"
{cells}
[materials.stuff]
conductivity = "0.2 W/m/K"
density = "1000 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
name = "heat"
duration = {duration}
[stations.outer]
convection = {{ coefficient = "60 W/m2/K", air = "120 degC" }}
[accuracy]
temperature = "{accuracy}"
[output]
every = "5 s"
{more}
"""


def case(cells: int | None = None, accuracy: str = "0.2 K", duration: str = '"40 s"', more: str = "") -> Any:
    text = CASE.format(cells=f"cells = {cells}" if cells else "", accuracy=accuracy, duration=duration, more=more)
    return parse_case(text, "wall.toml")


def engine(monkeypatch: pytest.MonkeyPatch, plant: dict[str, float] | None = None, own_error: float = 0.01) -> None:
    """A second engine that is quick: our own, tight, with a fault planted in row 3, cell 2 or at the outer face."""

    def estimate(problem: Problem, times: np.ndarray, steps: int) -> Any:
        found = solve(problem, times, 1e-4)
        temperature, outer = found.temperature.copy(), found.outer_face.copy()
        if plant:
            temperature[3, 2] += plant.get("cell", 0.0)
            outer[3] += plant.get("outer", 0.0)
        history = SimpleNamespace(
            temperature=temperature, inner_face=found.inner_face, outer_face=outer, states=found.states, sweeps=10**6
        )
        return SimpleNamespace(history=history, largest=own_error, states=dict.fromkeys(found.states, own_error / 30))

    monkeypatch.setattr(fipy_engine, "estimate_error", estimate)


def by_what(found: Any) -> dict[str, Any]:
    return {c.what: c for c in found.comparisons}


def test_with_the_second_engine_itself() -> None:
    found = verify(case(cells=8, accuracy="1 K"))
    assert found.agrees
    assert [c.what for c in found.comparisons] == ["halved mesh", "halved error", "FiPy, same mesh"]
    for c in found.comparisons:
        assert 0.0 < c.largest <= c.allowed == pytest.approx(1.0 + c.estimated_error)
        assert 0.0 < c.time <= 40.0
        assert 0.0 <= c.depth <= 4e-3
    assert by_what(found)["FiPy, same mesh"].estimated_error < 1.0
    assert "Every comparison agrees" in verify_text(found)


def test_a_mesh_that_is_chosen_agrees(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch)
    told: list[float] = []
    found = verify(case(), told.append)
    assert found.agrees
    assert found.advice == ()
    assert found.path is None
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_a_mesh_that_is_too_coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch)
    found = verify(case(cells=2))
    assert not found.agrees
    assert [c.what for c in found.comparisons if not c.agrees] == ["halved mesh"]
    assert "the mesh is too coarse" in found.advice[0]
    assert "cells" in found.advice[0]
    assert "NOT VERIFIED: 1 of 3" in verify_text(found)


def test_the_error_of_the_halved_mesh_is_that_of_order_two(monkeypatch: pytest.MonkeyPatch) -> None:
    """A method of order 2: the change from halving is three times the error that is left."""
    engine(monkeypatch)
    for cells in (8, 16):
        c = by_what(verify(case(cells=cells, accuracy="0.01 K")))["halved mesh"]
        assert c.largest / c.estimated_error == pytest.approx(3.0, rel=0.15)


def test_steps_that_are_too_long(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch, own_error=100.0)
    monkeypatch.setattr(mesh, "TIME_SHARE", 400.0)
    found = verify(case(cells=10, accuracy="0.01 K"))
    assert not by_what(found)["halved error"].agrees
    assert any("time steps are too long" in text for text in found.advice)


@pytest.mark.parametrize(("place", "depth"), [("cell", 1.0e-3), ("outer", 4.0e-3)])
def test_a_fault_of_one_engine_is_found_in_its_place(monkeypatch: pytest.MonkeyPatch, place: str, depth: float) -> None:
    engine(monkeypatch, {place: -3.0}, own_error=0.1)
    found = verify(case(cells=10))
    c = by_what(found)["FiPy, same mesh"]
    assert not c.agrees
    assert c.largest == pytest.approx(3.0, abs=0.3)
    assert c.time == pytest.approx(20.0)  # rows 5, 10, 15, 20
    assert c.depth == pytest.approx(depth)
    assert c.allowed == pytest.approx(0.3)
    assert "disagree" in found.advice[-1]


def test_an_engine_that_is_further_off_than_the_accuracy_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch, own_error=5.0)
    found = verify(case(cells=20))
    assert by_what(found)["FiPy, same mesh"].agrees
    assert "further off than the accuracy" in by_what(found)["FiPy, same mesh"].note
    assert "further off" in verify_text(found)


def test_command(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    engine(monkeypatch)
    file = tmp_path / "wall.toml"
    file.write_text(case(cells=20).source.text, encoding="utf-8")
    printed = CliRunner().invoke(cli.command, [str(file)], standalone_mode=False)
    assert printed.return_value == 0
    assert "halved mesh" in printed.stdout
    told = CliRunner().invoke(cli.command, [str(file), "--json"], standalone_mode=False)
    block = json.loads(told.stdout)["verify"]
    assert block["agrees"] is True
    assert set(block["comparisons"][0]) >= {"what", "largest", "unit", "time", "depth", "estimated_error", "agrees"}
    assert block["units"] == {"time": "s", "depth": "m", "accuracy": "K"}


def test_a_second_engine_that_fails_is_never_silent(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def fails(*_: Any) -> Any:
        raise SolveError("FiPy did not converge at 3 s, with a step of 1e-05 s", "give it more steps")

    monkeypatch.setattr(fipy_engine, "estimate_error", fails)
    file = tmp_path / "wall.toml"
    file.write_text(case(cells=20).source.text, encoding="utf-8")
    printed = CliRunner().invoke(cli.command, [str(file)], standalone_mode=False)
    assert printed.return_value == 1
    assert "FiPy failed: FiPy did not converge at 3 s" in printed.stdout
    told = CliRunner().invoke(cli.command, [str(file), "--json"], standalone_mode=False)
    last = json.loads(told.stdout)["verify"]["comparisons"][-1]
    assert last["largest"] is None
    assert last["agrees"] is False
    assert "did not converge" in last["note"]


def test_what_is_sought_is_found_first(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch)
    more = '[limits.mean_temperature]\nat_least = "60 degC"\nat_most = "80 degC"'
    found = verify(case(cells=10, duration='{ find = ["10 s", "1000 s"] }', more=more))
    assert found.path == "stations.heat.duration"
    assert found.agrees
    assert found.value is not None
    assert found.as_json()["verify"]["at"]["value"] == found.value
    assert max(c.time for c in found.comparisons) <= found.value


def test_without_a_window_the_nearest_miss_is_verified(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch)
    more = '[limits.mean_temperature]\nat_least = "60 degC"\n[limits.hottest_temperature]\nat_most = "50 degC"'
    found = verify(case(cells=10, duration='{ find = ["10 s", "1000 s"] }', more=more))
    assert found.value is not None
    assert 10.0 <= found.value <= 1000.0
    assert "nearest miss" in verify_text(found)


def test_a_run_that_does_not_finish(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: Any, **__: Any) -> Any:
        found = solve(Problem((Layer(Medium(1e3, 1.0, 1e3), 1e-3, mesh.equal_edges(4), 300.0),), (Span(1.0),)))
        return replace(found, ending=Ending("step_too_small", 0.5, 1e-4, "look for a jump"))

    monkeypatch.setattr(follow, "solve", stopped)
    with pytest.raises(SolveError, match=r"stopped at 0.5 s, 0.1 mm deep: step too small\n  look for a jump"):
        verify(case(cells=4))


def test_nothing_is_changed_and_the_second_time_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    engine(monkeypatch)
    wall = case(cells=10)
    assert verify(wall) == verify(wall)


def test_what_a_kelvin_means() -> None:
    """A triangle of width w has its steepest slope 2/w, a uniform range 1/w."""

    def problem(*curves: Transition | None) -> Problem:
        medium = Medium(1.0, 1.0, 1.0, *curves)
        return Problem((Layer(medium, 1.0, mesh.equal_edges(1), 300.0),), ())

    assert share_of_kelvin(problem(Transition(1.0, 400.0, 410.0)))["crystalline_share"] == pytest.approx(0.1)
    both = problem(Transition(1.0, 400.0, 410.0), Transition(1.0, 380.0, 385.0, 382.0))
    assert share_of_kelvin(both)["crystalline_share"] == pytest.approx(0.4)
    reaction = Reaction("cure_degree", None)  # type: ignore[arg-type]
    layer = Layer(Medium(1.0, 1.0, 1.0), 1.0, mesh.equal_edges(1), 300.0, reactions=(reaction,))
    # first order, half-way: d(degree)/dT = (1 - a) ln(1/(1 - a)) E/(R T^2)
    slope = 0.5 * np.log(2.0) * 100e3 / (8.314 * 400.0**2)
    assert share_of_kelvin(Problem((layer,), ()))["cure_degree"] == pytest.approx(slope, rel=0.2)


def test_largest_takes_what_is_nowhere_a_number_as_equal() -> None:
    a = np.array([[1.0, np.nan, 3.0]])
    assert largest(a, np.array([[1.5, np.nan, 3.0]])) == (0.5, 0, 0)
    assert largest(a, np.array([[1.0, 2.0, 3.0]])) == (np.inf, 0, 1)
