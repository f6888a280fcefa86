"""Laws that hold for any body case, on cases that are made at random."""

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
from .generated_body import (
    bodies,
    layer_cut,
    length_of,
    mirrored,
    station_cut,
    with_cells,
    with_rows,
)
from .profiles import sieged
from .solving import KELVIN, accuracy_of, case_of, judged_on, met, run_of, side_by_side, warmer
from .writing import amount, case_text


@sieged(5)
@given(tree=bodies())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, rows inside the extremes, degrees in 0 to 1 that never fall, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    step = hold.step_error(case)
    hold.closes(result)
    hold.degrees_are_shares(result)
    hold.never_falls(result, most=hold.DEGREE_PER_KELVIN * step)
    hold.extremes_hold_the_rows(result, step)
    if result.status == "out_of_range":  # a flux may cool below absolute zero, or heat beyond all that is possible
        assert result.history.ending.advice
        return
    hold.finished(result)
    hold.all_finite(result)


@sieged(3)
@given(tree=bodies(sources=False))
def test_without_sources_nothing_is_colder_or_hotter_than_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle; a step's error is all by which it may be missed."""
    result = run_of(tree)
    hold.finished(result)
    temperatures = met(tree, "body", "stations")
    hold.stays_within(result, min(temperatures), max(temperatures), hold.step_error(case_of(tree)))


@sieged(3)
@given(tree=bodies(sources=False, tables=False, melts=False, uniform=True, above=True, most_stations=1))
def test_when_only_cooling_acts_every_place_falls(tree: dict[str, Any]) -> None:
    """From one temperature, with surroundings that stay as they are and are no warmer: each cell falls all the time."""
    result = run_of(tree)
    history: Any = result.history
    most = hold.step_error(case_of(tree))
    hold.only_falls(history.temperature, most)
    hold.only_falls(history.inner_face, most)
    hold.only_falls(history.outer_face, most)


@sieged(3)
@given(tree=bodies(sources=False, uniform=True, above=True))
def test_whatever_cools_the_hottest_place_falls(tree: dict[str, Any]) -> None:
    """Stations and tables may change as they like: what is nowhere warmer than the start never makes a body hotter."""
    result = run_of(tree)
    history: Any = result.history
    most = hold.step_error(case_of(tree))
    start = float(tree["body"]["start"].number) + KELVIN
    assert history.hottest.value <= start + most
    # between two stations heat flows from inside to a face that is met by warmer air, never beyond what met it
    assert np.all(history.temperature <= start + most)


@sieged(3)
@given(tree=bodies(shapes=("plane",)))
def test_a_body_turned_round_gives_the_answer_turned_round(tree: dict[str, Any]) -> None:
    """The same mesh; steps differ, as their lengths hang on round-off where next to nothing happens: each within its error."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(mirrored(tree))
    assert one.status == other.status
    assume(one.status == "finished")
    hold.rows_agree(one.history, other.history, 2.0 * hold.step_error(case_of(tree)), mirrored=True)


@sieged(3)
@given(tree=bodies(most_layers=3), which=st.integers(0, 2), tenths=st.integers(1, 9), meshed=st.booleans())
def test_a_layer_cut_in_two_is_one_layer(tree: dict[str, Any], which: int, tenths: int, meshed: bool) -> None:
    """Two of the same stuff that touch perfectly. On the same cells the same answer, on their own meshes each its accuracy."""
    tree = with_rows(tree)
    which %= len(tree["body"]["layers"])
    if meshed:
        for i in range(len(tree["body"]["layers"])):
            tree = with_cells(tree, i, 10)
    assume(meshed or "cells" not in tree["body"]["layers"][which])
    one, other = run_of(tree), run_of(layer_cut(tree, which, tenths))
    assert one.status == other.status
    assume(one.status == "finished")
    accuracy = accuracy_of(case_of(tree))
    if meshed:
        hold.rows_agree(one.history, other.history, 2.0 * hold.step_error(case_of(tree)))
        return
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    for face in ("inner_face", "outer_face"):
        np.testing.assert_allclose(
            getattr(other.history, face)[1:], getattr(one.history, face)[1:], rtol=0, atol=2.0 * accuracy
        )
    assert other.history.heat.entered == pytest.approx(one.history.heat.entered, rel=0.02, abs=1e-3 * _held(one))


def _held(result: Any) -> float:
    """Heat turned over in all."""
    heat = result.history.heat
    return float(heat.entered + abs(heat.released) + abs(heat.stored))


@sieged(3)
@given(tree=bodies(tables=False, cells=True), which=st.integers(0, 2), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two stations alike one after the other. The solver starts afresh between them: other steps, each within its error."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(station_cut(tree, which % len(tree["stations"]), tenths))
    assert one.status == other.status
    assume(one.status == "finished")
    hold.rows_agree(one.history, other.history, accuracy_of(case_of(tree)))


@sieged(3)
@given(tree=bodies(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """4 mm, 0.4 cm or 0.004 m; degC, K or degF; s or min: the same case exactly, the same answer to the last bit."""
    one = case_of(tree)
    other = case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    short = {"stations": tree["stations"][:1], "accuracy": {"temperature": "2 K"}}
    hold.same_bits(run_of(tree | short), run_of(tree | short, lambda a: rng.choice(list(a.texts().values()))))


@sieged(2)
@given(tree=bodies(), factors=st.lists(st.floats(0.5, 2.0), min_size=1, max_size=3))
def test_a_batch_gives_what_single_runs_give(tree: dict[str, Any], factors: list[float]) -> None:
    """The same cases side by side and one by one, on the same mesh: their steps differ, each within its error."""
    case = case_of(tree)
    path, thick = "body.layers.0.thickness", "stations.0.duration"
    values = {
        path: [case.value(path) * f for f in (1.0, *factors)],
        thick: [case.value(thick) / f for f in (1.0, *factors)],
    }
    process = process_of(case)
    edges = settled(case, process).edges
    found = side_by_side(case, values, edges)
    accuracy = accuracy_of(case)
    for i in range(len(factors) + 1):
        own = case.with_values({p: column[i] for p, column in values.items()})
        if found.status[i] != "finished":
            assert run_case(own).status != "finished"
            continue
        single = judged_on(own, edges)
        for name, value in single.items():
            allowed = accuracy * (hold.DEGREE_PER_KELVIN if name.endswith(("_degree", "_dose")) else 1.0)
            size = max(1.0, abs(value)) if name.endswith("_dose") else 1.0
            assert abs(found.quantities[name][i] - value) <= allowed * size, (name, i)


@sieged(3)
@given(tree=bodies(cells=True), more=bodies(most_stations=1, tables=False))
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any], more: dict[str, Any]) -> None:
    """A station more at the end: on the same cells the rows before it are the same to the last bit."""
    tree = with_rows(tree)
    station = dict(more["stations"][0])
    if "inner_radius" not in tree["body"] and tree["body"]["shape"] != "plane":
        station.pop("inner", None)
    one = run_of(tree)
    assume(one.status == "finished")
    other = run_of(tree | {"stations": [*tree["stations"], station]})
    hold.is_prefix(one.history, other.history, 0.0)


@sieged(3)
@given(tree=bodies(sources=False, cells=True), kelvin=st.integers(1, 60))
def test_warmer_surroundings_never_make_a_body_colder(tree: dict[str, Any], kelvin: int) -> None:
    """Comparison principle, cell by cell and row by row; each run within its step's error."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "stations"))
    allowed = 2.0 * hold.step_error(case_of(tree))
    a: Any = one.history
    b: Any = other.history
    assert np.min(b.temperature - a.temperature) >= -allowed
    assert np.min(b.inner_face - a.inner_face) >= -allowed and np.min(b.outer_face - a.outer_face) >= -allowed


def sought(tree: dict[str, Any], coldest: float, hottest: float) -> dict[str, Any]:
    """The first station's duration is sought: the coldest place to so many degC at the end, the hottest never beyond."""
    stations = [tree["stations"][0] | {"duration": {"find": ["1 s", "2 h"]}}, *tree["stations"][1:]]
    limits = {
        "coldest_temperature": {"at_least": amount(f"{coldest:.1f}", "temperature")},
        "hottest_temperature": {"at_most": amount(f"{hottest:.1f}", "temperature")},
    }
    return tree | {"stations": stations, "limits": limits}


@sieged(3)
@given(
    tree=bodies(sources=False, tables=False, cells=True, most_layers=2, most_stations=2),
    low=st.floats(0.0, 1.0),
    span=st.floats(0.05, 1.0),
    wider=st.integers(1, 200),
)
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], low: float, span: float, wider: int) -> None:
    """At either edge the limits are met to the accuracy; its own limit is met with nothing to spare; wider limits, no less."""
    temperatures = met(tree, "body", "stations")
    cold, hot = min(temperatures) - KELVIN, max(temperatures) - KELVIN
    least = cold + low * (hot - cold)
    most = min(hot, least + span * (hot - cold) + 1.0)
    case = case_of(sought(tree, least, most))
    window = window_of(case)
    accuracy = accuracy_of(case)
    if window.earliest is not None:
        for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
            if edge is None:
                continue
            result = run_case(case.with_values({"stations.0.duration": edge}))
            for limit in result.limits:
                assert limit.margin is not None and limit.margin >= -accuracy, (edge, limit)
                if limit.name == by:
                    assert limit.margin <= accuracy, (edge, limit)
    more = window_of(case_of(sought(tree, least - wider / 10, most + wider / 10)))
    if window.earliest is None:
        return
    assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
    assert more.latest is None or (window.latest is not None and more.latest >= window.latest * (1.0 - 1e-3))


def test_cases_are_of_all_sorts() -> None:
    """What the strategy makes is worth the name: all shapes, faces, tables, melting and reactions come up."""
    from hypothesis import HealthCheck, Phase, settings

    seen: set[str] = set()

    @settings(max_examples=80, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tree=bodies())
    def look(tree: dict[str, Any]) -> None:
        text = case_text(tree)
        seen.update(
            word for word in ("plane", "cylinder", "sphere", "inner_radius", "melting", "crystallising", "radiation",
                              "heating", "time =", "contact", "kinetics = ", "vitrification", "heat = ", "cells")
            if word in text
        )  # fmt: skip
        assert length_of(tree) > 0.0

    look()
    assert len(seen) == 14, seen
