"""Laws that hold for any band on a mill, on cases that are made at random."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from thermokit.case import parse_case, resolved_text
from thermokit.processes import process_of
from thermokit.processes.run import run_case, settled
from thermokit.studies.dwell import window_of

from . import properties as hold
from .enthalpy_by_hand import enthalpy
from .generated_body import with_rows
from .generated_mill import mills, station_cut
from .profiles import sieged
from .solving import accuracy_of, case_of, judged_on, met, run_of, side_by_side, warmer
from .writing import amount

PLACES = ("band", "rolls", "stations")


def of_degree(case: Any) -> float:
    """Error of a degree that goes with a step's error of temperature."""
    return hold.DEGREE_PER_KELVIN * hold.step_error(case)


@sieged(5)
@given(tree=mills())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, rows inside the extremes, degrees in 0 to 1, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.degrees_are_shares(result)
    hold.extremes_hold_the_rows(result, hold.step_error(case))


@sieged(3)
@given(tree=mills(folds=0))
def test_degrees_never_fall_without_folds(tree: dict[str, Any]) -> None:
    """Folding evens a degree out, so that only a band that is not folded has rows that never fall."""
    case = case_of(tree)
    hold.never_falls(run_case(case), most=of_degree(case))


@sieged(4)
@given(tree=mills(own=True))
def test_heat_by_hand(tree: dict[str, Any]) -> None:
    """What rolls and air gave, and friction and gelling made, is the rise of the band's heat content, folds and all.

    Content by cells from the case's own tables. Round-off apart, what the solver's tables leave their curves (1e-4 K).
    """
    case = case_of(tree)
    result = run_case(case)
    history: Any = result.history
    stuff = case.materials["stuff"]
    share = history.states.get("crystalline_share", [None, None])
    width = np.diff(history.edges) * float(stuff.density)
    begin, end = (enthalpy(history.temperature[row], stuff, share[row]) @ width for row in (0, -1))
    heat = history.heat
    turned = heat.entered + heat.left + abs(heat.released)
    by_kelvin = float(width.sum() * np.max(enthalpy(np.array([300.0, 700.0]), stuff)[1]) / 400.0)
    folds = 1 + sum(getattr(s, "folds", 0) for s in case.stations)
    assert abs(heat.entered - heat.left + heat.released - (end - begin)) <= 1e-9 * turned + 2e-4 * folds * by_kelvin


@sieged(3)
@given(tree=mills(friction=False, reacts=False))
def test_without_friction_nothing_leaves_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle, through folds."""
    case = case_of(tree)
    temperatures = met(tree, *PLACES)
    hold.stays_within(run_case(case), min(temperatures), max(temperatures), hold.step_error(case))


@sieged(2)
@given(tree=mills(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""
    one, other = case_of(tree), case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(3)
@given(tree=mills(tables=False, folds=0), which=st.integers(0, 3), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two stations alike one after the other, each run within its accuracy."""
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(station_cut(tree, which % len(tree["stations"]), tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    if one.history.temperature.shape == other.history.temperature.shape:
        hold.rows_agree(one.history, other.history, accuracy_of(case))


@sieged(2)
@given(tree=mills(folds=2), share=st.integers(5, 20))
def test_a_batch_is_as_many_runs(tree: dict[str, Any], share: int) -> None:
    """What limits look at, side by side and one by one on the same mesh, folded or not, within the accuracy of a run."""
    case = case_of(tree)
    factors = np.array([1.0, share / 10.0, 1.3])
    values = {
        "band.thickness": case.band.thickness * factors[[0, 0, 2]],
        "stations.0.duration": case.stations[0].duration * factors,
        "rolls.front": case.rolls.front + np.array([0.0, -5.0, 10.0]),
    }
    edges = settled(case, process_of(case)).edges
    found = side_by_side(case, values, edges)
    for i in range(3):
        own = case.with_values({p: column[i] for p, column in values.items()})
        for name, value in judged_on(own, edges).items():
            kelvin = name in ("hottest", "spread", "mean_temperature")
            allowed = accuracy_of(case) * (1.0 if kelvin else max(1.0, abs(value)) / 50.0)
            assert abs(found.quantities[name][i] - value) <= allowed, (name, i, found.quantities[name][i], value)


@sieged(3)
@given(tree=mills(friction=False), kelvin=st.integers(1, 40))
def test_a_hotter_mill_never_gels_less(tree: dict[str, Any], kelvin: int) -> None:
    """All that the band meets so much hotter, nothing makes heat: no place is colder or less gelled at any time."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "rolls", "stations"))
    assume(one.history.temperature.shape == other.history.temperature.shape)
    case = case_of(tree)
    a: Any = one.history
    b: Any = other.history
    assert np.nanmin(b.temperature - a.temperature) >= -2.0 * hold.step_error(case)
    for name in a.states:
        allowed = 2.0 * of_degree(case) * max(1.0, float(np.nanmax(a.states[name])))
        if name in hold.GROWING:
            assert np.nanmin(b.states[name] - a.states[name]) >= -allowed, name


@sieged(3)
@given(tree=mills(off=False))
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any]) -> None:
    """The sheet is left in the air: rows before that stay, to the last bit on the same mesh."""
    tree = with_rows(tree)
    air = {"temperature": amount(25, "temperature"), "coefficient": amount(10, "heat_transfer_coefficient")}
    one = run_of(tree)
    other = run_of(
        tree | {"stations": [*tree["stations"], {"kind": "air", "duration": amount(30, "time"), "air": air}]}
    )
    if one.history.edges.shape == other.history.edges.shape:
        hold.is_prefix(one.history, other.history, 0.0)
    else:
        np.testing.assert_allclose(
            other.history.outer_face[1:], one.history.outer_face[1:], rtol=0, atol=2.0 * accuracy_of(case_of(tree))
        )


@sieged(1)
@given(
    tree=mills(tables=False, friction=False, off=False, melts=False), degree=st.integers(30, 95), wider=st.integers(1, 20)
)  # fmt: skip
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], degree: int, wider: int) -> None:
    """Edges put back meet their limits with nothing to spare; less asked for is there no later."""
    assume("kinetics" in tree and tree["rolls"]["front"].number > tree["band"]["start"].number)

    def sought(least: float) -> Any:
        stations = [tree["stations"][0] | {"duration": {"find": ["1 s", "2 h"]}}, *tree["stations"][1:]]
        return case_of(tree | {"stations": stations, "limits": {"gel_degree": least}})

    case = sought(degree / 100)
    window = window_of(case)
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        result = run_case(case.with_values({"stations.0.duration": edge}))
        for limit in result.limits:
            allowed = accuracy_of(case) / (50.0 if limit.unit == "1" else 1.0)
            assert limit.margin is not None and limit.margin >= -allowed, (edge, limit)
            if limit.name == by:
                assert limit.margin <= allowed, (edge, limit)
    if window.earliest is not None:
        more = window_of(sought((degree - wider) / 100))
        assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)


@sieged(3)
@given(tree=mills(friction=True))
def test_friction_by_hand(tree: dict[str, Any]) -> None:
    """Power as measured goes into the mass of the band, evenly: heat made is power over the area of the roll, by time."""
    tree = tree | {"rolls": {k: v for k, v in tree["rolls"].items() if k != "heat"} | {"power": "2.5 kW"}}
    tree.pop("kinetics", None)
    tree["band"] = {k: v for k, v in tree["band"].items() if k != "kinetics"}
    case = case_of(tree)
    milled = sum(s.duration for s in case.stations if s.kind == "mill")
    area = np.pi * case.rolls.diameter * case.band.width
    assert run_case(case).history.heat.released == pytest.approx(2500.0 * milled / area, rel=1e-9)
