"""Laws that hold for any charge case, on cases that are made at random."""

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
from .generated_charge import charges, layer_cut, mirrored, station_cut
from .profiles import sieged
from .solving import accuracy_of, case_of, judged_on, met, run_of, side_by_side, warmer
from .writing import amount

PRESS = ("close", "cure")


def of_degree(case: Any) -> float:
    """Error of a degree that goes with a step's error of temperature."""
    return hold.DEGREE_PER_KELVIN * hold.step_error(case)


@sieged(5)
@given(tree=charges())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, rows inside the extremes, degrees in 0 to 1 that never fall, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.degrees_are_shares(result)
    hold.never_falls(result, most=of_degree(case))
    hold.extremes_hold_the_rows(result, hold.step_error(case), faces=False)


@sieged(3)
@given(tree=charges(heated=False))
def test_without_heat_of_cure_nothing_leaves_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle; the air of stations that write none is at 23 and 60 degC."""
    case = case_of(tree)
    temperatures = [*met(tree, "charge", "mould", "stations"), 296.15, 333.15]
    hold.stays_within(run_case(case), min(temperatures), max(temperatures), hold.step_error(case))


@sieged(3)
@given(tree=charges(loaded=False))
def test_a_charge_upside_down_gives_the_answer_upside_down(tree: dict[str, Any]) -> None:
    """The halves change places; the same mesh, each run within its step's error, cure by cure."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(mirrored(tree))
    case = case_of(tree)
    assume(one.history.temperature.shape == other.history.temperature.shape)
    hold.rows_agree(
        one.history, other.history, 2.0 * hold.step_error(case), mirrored=True, degrees=2.0 * of_degree(case)
    )


@sieged(3)
@given(tree=charges(heated=False, own=True), which=st.integers(0, 2), tenths=st.integers(1, 9))
def test_a_layer_cut_in_two_is_one_layer(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two of the same stuff that touch perfectly: on their own meshes, each to its accuracy."""
    assume("loose" not in tree["charge"])
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(layer_cut(tree, which, tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    for face in ("inner_face", "outer_face"):
        a, b = getattr(one.history, face)[1:], getattr(other.history, face)[1:]
        np.testing.assert_allclose(b, a, rtol=0, atol=2.0 * accuracy_of(case))


@sieged(3)
@given(tree=charges(tables=False), which=st.integers(0, 5), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two stations alike one after the other, each run within its accuracy."""
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(station_cut(tree, which % len(tree["stations"]), tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    if one.history.temperature.shape == other.history.temperature.shape:
        hold.rows_agree(one.history, other.history, accuracy_of(case), degrees=accuracy_of(case) / 50.0)


@sieged(3)
@given(tree=charges(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""
    one, other = case_of(tree), case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(2)
@given(tree=charges(), factors=st.lists(st.floats(0.7, 1.4), min_size=1, max_size=2))
def test_a_batch_gives_what_single_runs_give(tree: dict[str, Any], factors: list[float]) -> None:
    """The same cases side by side and one by one, on the same mesh: their steps differ, each within its error."""
    case = case_of(tree)
    values = {
        "charge.start": [case.value("charge.start") - 20.0 * (f - 1.0) for f in (1.0, *factors)],
        "stations.0.duration": [case.value("stations.0.duration") / f for f in (1.0, *factors)],
    }
    edges = settled(case, process_of(case)).edges
    found = side_by_side(case, values, edges)
    accuracy = accuracy_of(case)
    for i in range(len(factors) + 1):
        own = case.with_values({p: column[i] for p, column in values.items()})
        for name, value in judged_on(own, edges).items():
            allowed = (
                accuracy
                if any(w in name for w in ("temperature", "hottest", "core", "left", "spread"))
                else accuracy / 50.0
            )
            if name == "over_cure":
                allowed *= max(1.0, abs(value))
            if name == "core_rate":
                allowed *= max(1e-2, abs(value))
            assert abs(found.quantities[name][i] - value) <= allowed, (name, i, found.quantities[name][i], value)


@sieged(3)
@given(tree=charges(after=False))
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any]) -> None:
    """The part is left to cool: rows before that stay, to the last bit on the same mesh."""
    tree = with_rows(tree)
    one = run_of(tree)
    other = run_of(tree | {"stations": [*tree["stations"], {"kind": "cool", "duration": amount(60, "time")}]})
    if one.history.edges.shape == other.history.edges.shape:
        hold.is_prefix(one.history, other.history, 0.0)
    else:
        np.testing.assert_allclose(
            other.history.outer_face[1:], one.history.outer_face[1:], rtol=0, atol=2.0 * accuracy_of(case_of(tree))
        )


@sieged(3)
@given(tree=charges(heated=False), kelvin=st.integers(1, 40))
def test_a_hotter_mould_never_cures_less(tree: dict[str, Any], kelvin: int) -> None:
    """Without heat of cure: all that a charge meets so much hotter, and no place is colder or less cured at any time."""
    tree = with_rows(tree)
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "mould", "stations"))
    assume(one.history.temperature.shape == other.history.temperature.shape)
    case = case_of(tree)
    a: Any = one.history
    b: Any = other.history
    assert np.nanmin(b.temperature - a.temperature) >= -2.0 * hold.step_error(case)
    lost = b.states["cure_degree"] - a.states["cure_degree"]
    assert np.nanmin(lost) >= -2.0 * of_degree(case)


@sieged(3)
@given(tree=charges(heated=False), faster=st.sampled_from([1.1, 2.0, 10.0]))
def test_a_faster_batch_never_cures_less(tree: dict[str, Any], faster: float) -> None:
    """Without heat of cure the temperatures are the same, and every rate is so much higher."""
    tree = with_rows(tree)
    other_tree = tree | {"charge": tree["charge"] | {"rate": tree["charge"].get("rate", 1.0) * faster}}
    one, other = run_of(tree), run_of(other_tree)
    assume(one.history.temperature.shape == other.history.temperature.shape)
    lost = other.history.states["cure_degree"] - one.history.states["cure_degree"]
    assert np.nanmin(lost) >= -2.0 * of_degree(case_of(tree))


def sought(tree: dict[str, Any], degree: float, hottest: float) -> dict[str, Any]:
    """The cure's duration is sought, between the least degree and the hottest place [degC]."""
    at = [s["kind"] for s in tree["stations"]].index("cure")
    stations = list(tree["stations"])
    stations[at] = stations[at] | {"duration": {"find": ["1 s", "2 h"]}}
    limits = {"cure_degree": degree, "hottest": amount(f"{hottest:.1f}", "temperature"), "firm_degree": 0.0}
    return tree | {"stations": stations, "limits": limits}


@sieged(2)
@given(
    tree=charges(tables=False, heated=False, after=False, kinds=("close", "cure")), degree=st.integers(30, 95),
    wider=st.integers(1, 20), hotter=st.integers(1, 30),
)  # fmt: skip
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], degree: int, wider: int, hotter: int) -> None:
    """Edges put back meet their limits with nothing to spare; less asked for is there no later; a hotter mould cures sooner."""
    hot = max(met(tree, "charge", "mould", "stations")) - 273.15 + 10.0
    case = case_of(sought(tree, degree / 100, hot))
    window = window_of(case)
    path = "stations.1.duration"
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        result = run_case(case.with_values({path: edge}))
        for limit in result.limits:
            allowed = accuracy_of(case) / (50.0 if limit.unit == "1" else 1.0)
            assert limit.margin is not None and limit.margin >= -allowed, (edge, limit)
            if limit.name == by:
                assert limit.margin <= allowed, (edge, limit)
    if window.earliest is None:
        return
    more = window_of(case_of(sought(tree, (degree - wider) / 100, hot + wider)))
    assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
    sooner = window_of(case_of(sought(warmer(tree, hotter, "mould", "stations"), degree / 100, hot + hotter)))
    assert sooner.earliest is not None and sooner.earliest <= window.earliest * (1.0 + 1e-3)
