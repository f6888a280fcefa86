"""Laws that hold for any sheet case, on cases that are made at random."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from thermokit.case import parse_case, resolved_text
from thermokit.processes import process_of
from thermokit.processes.run import run_case, settled
from thermokit.studies.dwell import window_of

from . import properties as hold
from .generated_body import with_rows
from .generated_sheet import mirrored, sheets, station_cut
from .profiles import sieged
from .solving import accuracy_of, case_of, judged_on, met, run_of, side_by_side, warmer
from .writing import amount


@sieged(5)
@given(tree=sheets())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, rows inside the extremes, doses and sag that never fall, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    step = hold.step_error(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.never_falls(result, most=hold.DEGREE_PER_KELVIN * step)
    hold.extremes_hold_the_rows(result, step, faces=False)


@sieged(3)
@given(tree=sheets(power=False))
def test_nothing_is_colder_or_hotter_than_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle: panels, air, walls, tools and the start hold the sheet; a step's error is all that may miss it."""
    case = case_of(tree)
    temperatures = met(tree, "sheet", "stations", "tools")
    hold.stays_within(run_case(case), min(temperatures), max(temperatures), hold.step_error(case))


@sieged(3)
@given(tree=sheets())
def test_a_sheet_turned_over_gives_the_answer_turned_over(tree: dict[str, Any]) -> None:
    """What is above changes places with what is below; the same mesh, and each run within its step's error."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(mirrored(tree))
    hold.rows_agree(one.history, other.history, 2.0 * hold.step_error(case_of(tree)), mirrored=True)
    values = {o.name: o.value for o in other.outcomes}
    for outcome in one.outcomes:
        if outcome.name in ("coldest_point", "hottest_face", "mean_temperature", "map_spread", "release_temperature"):
            there = values[outcome.name]
            assert (outcome.value is None) == (there is None)
            if outcome.value is not None and there is not None:
                assert abs(outcome.value - there) <= 2.0 * accuracy_of(case_of(tree)), outcome


@sieged(3)
@given(tree=sheets(tables=False), which=st.integers(0, 3), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two stations alike one after the other; each run within its accuracy, as their meshes may differ."""
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(station_cut(tree, which % len(tree["stations"]), tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    if one.history.temperature.shape == other.history.temperature.shape:
        hold.rows_agree(one.history, other.history, accuracy_of(case))
    for face in ("inner_face", "outer_face"):
        a, b = getattr(one.history, face)[1:], getattr(other.history, face)[1:]
        np.testing.assert_allclose(b, a, rtol=0, atol=2.0 * accuracy_of(case))


@sieged(3)
@given(tree=sheets(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""

    def choose(a: Any) -> Any:
        return rng.choice(list(a.texts().values()))

    one, other = case_of(tree), case_of(tree, choose)
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(2)
@given(tree=sheets(), factors=st.lists(st.floats(0.6, 1.6), min_size=1, max_size=2))
def test_a_batch_gives_what_single_runs_give(tree: dict[str, Any], factors: list[float]) -> None:
    """The same cases side by side and one by one, on the same mesh: their steps differ, each within its error."""
    assume("shots" not in tree)
    case = case_of(tree)
    values = {
        "sheet.thickness": [case.value("sheet.thickness") * f for f in (1.0, *factors)],
        "stations.0.duration": [case.value("stations.0.duration") / f for f in (1.0, *factors)],
    }
    process = process_of(case)
    edges = settled(case, process).edges
    everywhere = process.everywhere()
    places = None if everywhere.places() == 1 else everywhere.choice
    found = side_by_side(case, values, edges, places)
    for i in range(len(factors) + 1):
        own = case.with_values({p: column[i] for p, column in values.items()})
        single = judged_on(own, edges)
        for name, value in single.items():
            size = max(1.0, abs(value)) / 50.0 if name in ("heat_dose", "sag_number", "sag_index") else 1.0
            assert abs(found.quantities[name][i] - value) <= accuracy_of(case) * size, (name, i)


@sieged(3)
@given(tree=sheets(), more=sheets(tables=False, tools=False, most_stations=1))
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any], more: dict[str, Any]) -> None:
    """A station more at the end: rows before it stay, to the accuracy where the mesh became another one."""
    tree = with_rows(tree)
    air = {"kind": "air", "duration": amount(7, "time"), "air": more["stations"][0]["air"]}
    assume("shots" not in tree)
    one = run_of(tree)
    other = run_of(tree | {"stations": [*tree["stations"], air]})
    if len(one.history.centres) == len(other.history.centres):
        hold.is_prefix(one.history, other.history, 0.0)
    else:
        np.testing.assert_allclose(
            other.history.outer_face[1:], one.history.outer_face[1:], rtol=0, atol=2.0 * accuracy_of(case_of(tree))
        )


@sieged(3)
@given(tree=sheets(power=False), kelvin=st.integers(1, 60))
def test_hotter_surroundings_never_make_a_sheet_colder(tree: dict[str, Any], kelvin: int) -> None:
    """Panels, air, walls, frame and tools so much hotter: no row is colder anywhere, to the errors of both runs."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "stations", "tools"))
    case = case_of(tree)
    a: Any = one.history
    b: Any = other.history
    allowed = 2.0 * accuracy_of(case)
    assert np.min(b.inner_face[1:] - a.inner_face[1:]) >= -allowed
    assert np.min(b.outer_face[1:] - a.outer_face[1:]) >= -allowed
    if a.temperature.shape == b.temperature.shape:
        assert np.nanmin(b.temperature - a.temperature) >= -2.0 * hold.step_error(case)


def sought(tree: dict[str, Any], coldest: float, hottest: float) -> dict[str, Any]:
    """The first station's duration is sought, between two limits [degC]."""
    stations = [tree["stations"][0] | {"duration": {"find": ["1 s", "1 h"]}}, *tree["stations"][1:]]
    limits = {
        "coldest_point": amount(f"{coldest:.1f}", "temperature"), "hottest_face": amount(f"{hottest:.1f}", "temperature")
    }  # fmt: skip
    return tree | {"stations": stations, "limits": limits}


@sieged(2)
@given(
    tree=sheets(tables=False, tools=False, followed=False, most_stations=2),
    coldest=st.integers(60, 250), span=st.integers(10, 150), wider=st.integers(1, 30), hotter=st.integers(1, 60),
)  # fmt: skip
def test_edges_of_a_window_meet_the_limits(
    tree: dict[str, Any], coldest: int, span: int, wider: int, hotter: int
) -> None:
    """Edges put back meet their limits with nothing to spare; wider limits give no narrower window; hotter panels none later."""
    tree = tree | {"sheet": {k: v for k, v in tree["sheet"].items() if k not in ("spots", "frame", "length", "width")}}
    assume(not any("size" in station.get(side, {}) for station in tree["stations"] for side in ("upper", "lower")))
    case = case_of(sought(tree, coldest, coldest + span))
    window = window_of(case)
    accuracy = accuracy_of(case)
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        result = run_case(case.with_values({"stations.0.duration": edge}))
        for limit in result.limits:
            assert limit.margin is not None and limit.margin >= -accuracy, (edge, limit)
            if limit.name == by:
                assert limit.margin <= accuracy, (edge, limit)
    if window.earliest is None:
        return
    more = window_of(case_of(sought(tree, coldest - wider, coldest + span + wider)))
    assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
    assert more.latest is None or (window.latest is not None and more.latest >= window.latest * (1.0 - 1e-3))
    if all("temperature" in station[s] for station in tree["stations"] for s in ("upper", "lower") if s in station):
        hot = window_of(case_of(sought(warmer(tree, hotter, "stations"), coldest, 1000.0)))
        plain = window_of(case_of(sought(tree, coldest, 1000.0)))
        assert plain.earliest is not None and hot.earliest is not None
        assert hot.earliest <= plain.earliest * (1.0 + 1e-3)
