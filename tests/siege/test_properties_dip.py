"""Laws that hold for any dipped former, on cases that are made at random."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from thermokit.case import parse_case, resolved_text
from thermokit.conduction.follow import follow
from thermokit.processes import process_of
from thermokit.processes.run import run_case, settled
from thermokit.studies.answers_batch import solve_rows
from thermokit.studies.dwell import window_of

from . import properties as hold
from .generated_body import with_rows
from .generated_dip import dips, layer_cut, station_cut
from .profiles import sieged
from .solving import KELVIN, accuracy_of, case_of, judged_on, met, run_of, warmer
from .writing import amount

WALL = 2e-6  # m, least coat; and the error of a wall that goes with 0.1 K of the paste near its gel point
ROOM = 23.0 + KELVIN


def outcome(result: Any, name: str) -> float:
    """An outcome by its name."""
    return float(next(o.value for o in result.outcomes if o.name == name))


def of_degree(case: Any) -> float:
    """Error of a degree that goes with a step's error of temperature."""
    return hold.DEGREE_PER_KELVIN * hold.step_error(case)


@sieged(2)
@given(tree=dips(given=False))
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, degrees in 0 to 1, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.degrees_are_shares(result)
    for name, state in result.history.states.items():
        if name in hold.GROWING:  # a coat that comes on shows where there was none: only what was there counts
            change = np.diff(state, axis=0)
            size = max(1.0, float(np.nanmax(np.abs(state), initial=0.0)))
            assert np.nanmin(change, initial=0.0) >= -of_degree(case) * size, name


@sieged(2)
@given(tree=dips())
def test_nothing_leaves_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle: paste gives off no heat by itself."""
    case = case_of(tree)
    temperatures = [*met(tree, "former", "paste", "stations"), ROOM]
    history: Any = run_case(case).history
    for rows in (history.temperature, history.inner_face, history.outer_face):
        assert np.nanmax(rows) <= max(temperatures) + hold.step_error(case)
        assert np.nanmin(rows) >= min(temperatures) - hold.step_error(case)


@sieged(2)
@given(tree=dips(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""
    one, other = case_of(tree), case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(2)
@given(tree=dips(dipped=1, fabric=False))
def test_mass_of_the_coat_by_hand(tree: dict[str, Any]) -> None:
    """What is weighed is density times the ring (shell, plate) between former and face; it does not change once it is on."""
    case = case_of(tree)
    result = run_case(case)
    process: Any = process_of(case)
    radius, wall = float(process.outer_radius), outcome(result, "wall") / 1e3
    n = {"plane": 1, "cylinder": 2, "sphere": 3, "capped": 2}[case.former.shape]
    volume = wall if n == 1 else ((radius + wall) ** n - radius**n) / (n * radius ** (n - 1))
    grams = 1e3 * float(process.paste_medium.density) * volume
    assert outcome(result, "coat_mass") == pytest.approx(grams, rel=1e-9)
    assert outcome(result, "article_mass") == pytest.approx(grams * case.former.area, rel=1e-9)
    total = result.history.edges[-1] - float(sum(process.walls))
    assert total == pytest.approx(wall, rel=1e-6, abs=WALL)


@sieged(2)
@given(tree=dips(dipped=1, places=False), speed=st.integers(1, 400), drain=st.integers(1, 300))
def test_what_clings_comes_on_top_of_the_gel(tree: dict[str, Any], speed: int, drain: int) -> None:
    """The wall of one that is drawn out is the gel of one drawn out slowly and the film; draining takes of the film alone.

    The film by the law for a plate with gravity never passes sqrt(mu U/(rho g)) of its viscosity (index 1, no yield stress).
    """
    paste = {k: v for k, v in tree["paste"].items() if k not in ("index", "yield_stress")} | {"depth": "60 mm"}
    at = next(i for i, s in enumerate(tree["stations"]) if s["kind"] == "dip")
    stations = [s for s in tree["stations"] if s["kind"] != "drain"]
    stations = stations if stations[-1]["kind"] != "dip" else [*stations, {"kind": "air", "duration": "5 s"}]
    drawn = [*stations[:at], stations[at] | {"withdrawal": f"{speed / 10} mm/s"}, *stations[at + 1 :]]
    drained = [*drawn[: at + 1], {"kind": "drain", "duration": f"{drain} s"}, *drawn[at + 1 :]]
    edges = None
    walls = []
    for own in (stations, drawn, drained):
        process: Any = process_of(case_of(tree | {"paste": paste, "stations": own}))
        edges = settled(process.case, process).edges if edges is None else edges
        followed = follow(process.course(edges), None, hold.step_error(process.case)).history
        first, last = process.edge("coat_1")
        walls.append(float(followed.edges[last] - followed.edges[first]))
    film, left = float(process.drawn(0)), float(process.clinging(0))
    gravity = 9.80665
    most = np.sqrt(process.case.paste.viscosity * speed / 1e4 / (float(process.paste_medium.density) * gravity))
    assert 0.0 < left <= film <= most
    gel = walls[0] if walls[0] > 1.001 * WALL else 0.0  # a coat is never thinner than so
    for wall, liquid in ((walls[1], film), (walls[2], left)):
        assert abs(wall - gel - liquid) <= WALL, (walls, film, left)


@sieged(2)
@given(tree=dips(tables=False), which=st.integers(0, 5), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """Two stations alike one after the other, each run within its accuracy."""
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(station_cut(tree, which, tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    if one.history.temperature.shape == other.history.temperature.shape:
        for face in ("inner_face", "outer_face"):
            a, b = getattr(one.history, face), getattr(other.history, face)
            np.testing.assert_allclose(b, a, rtol=0, atol=accuracy_of(case))
    assert outcome(other, "wall") == pytest.approx(outcome(one, "wall"), abs=0.02 + 0.02 * outcome(one, "wall"))


@sieged(2)
@given(tree=dips(fabric=False, dipped=1), tenths=st.integers(1, 9))
def test_a_layer_cut_in_two_is_one_layer(tree: dict[str, Any], tenths: int) -> None:
    """Two of the same stuff that touch perfectly: each run on its own mesh, within its accuracy."""
    assume(not any("mass" in layer for layer in tree["former"]["layers"]))
    tree = with_rows(tree)
    case = case_of(tree)
    one, other = run_case(case), run_of(layer_cut(tree, tenths))
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    a, b = one.history.outer_face[1:], other.history.outer_face[1:]
    np.testing.assert_allclose(b, a, rtol=0, atol=2.0 * accuracy_of(case))


@sieged(2)
@given(tree=dips(), share=st.integers(5, 20))
def test_a_batch_is_as_many_runs(tree: dict[str, Any], share: int) -> None:
    """What limits look at, side by side and one by one on the same mesh, place by place, within the accuracy of a run."""
    batch_is_runs(tree, share)


@sieged(1)
@given(tree=dips(ovens=True, dipped=1, places=False, fabric=False), share=st.integers(5, 20))
def test_a_rack_in_a_batch_is_as_many_runs(tree: dict[str, Any], share: int) -> None:
    """The same of formers that share the air of an oven with others: every row has an oven of its own."""
    batch_is_runs(tree, share)


def batch_is_runs(tree: dict[str, Any], share: int) -> None:
    """Three rows, together and each by itself."""
    case = case_of(tree)
    factors = np.array([1.0, share / 10.0, 1.3])
    last = len(case.stations) - 1 - (case.stations[-1].kind == "strip")
    values = {
        "former.start": case.former.start + np.array([0.0, 5.0, -5.0]),
        "stations.0.duration": case.stations[0].duration * factors,
        f"stations.{last}.duration": case.stations[last].duration * factors[[0, 2, 1]],
        "paste.temperature": case.paste.temperature + np.array([0.0, 3.0, -3.0]),
    }
    process: Any = process_of(case)
    edges = settled(case, process).edges
    found = solve_rows(case, values, edges, hold.step_error(case), process.everywhere().choice)
    for i in range(3):
        own = case.with_values({p: column[i] for p, column in values.items()})
        for name, value in judged_on(own, edges).items():
            if "wall" in name:
                allowed = WALL + 0.02 * abs(value)
            elif name in ("skin", "former_least", "former_most", "strip_least", "strip_most", "bath"):
                allowed = accuracy_of(case)
            else:
                allowed = accuracy_of(case) / 50.0 * max(1.0, abs(value))
            assert abs(found.quantities[name][i] - value) <= allowed, (name, i, found.quantities[name][i], value)


@sieged(1)
@given(tree=dips(tables=False, dipped=1, fabric=False), kelvin=st.integers(1, 30))
def test_hotter_ovens_and_rooms_never_fuse_less(tree: dict[str, Any], kelvin: int) -> None:
    """All that a former meets so much hotter, paste and all: no thinner wall, no less fusion."""
    one = run_of(tree)
    other = run_of(warmer(tree, kelvin, "stations", "former", "paste"))
    case = case_of(tree)
    assert outcome(other, "wall") >= outcome(one, "wall") * 0.98 - 2e3 * WALL
    same = {o.name for o in one.outcomes} & {o.name for o in other.outcomes}
    if (
        "oven" in [s["kind"] for s in tree["stations"]][-3:]
        and abs(outcome(other, "wall") - outcome(one, "wall")) < 1e-3
    ):
        for name in {"fusion_degree", "heat_dose"} & same:  # a thicker wall fuses later: only where it is the same
            assert outcome(other, name) >= outcome(one, name) - accuracy_of(case) / 50.0 * max(1.0, outcome(one, name))


@sieged(1)
@given(tree=dips(strip=False))
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any]) -> None:
    """It hangs in the air for another minute: rows before that stay, to the last bit on the same mesh."""
    tree = with_rows(tree)
    air = {"coefficient": amount(10, "heat_transfer_coefficient")}
    one = run_of(tree)
    other = run_of(
        tree | {"stations": [*tree["stations"], {"kind": "air", "duration": amount(60, "time"), "air": air}]}
    )
    if one.history.edges.shape == other.history.edges.shape and np.array_equal(one.history.edges, other.history.edges):
        a, b = (hold.at_times(run.history, one.history.time) for run in (one, other))
        np.testing.assert_allclose(b, a, rtol=0, atol=0.0)


@sieged(1)
@given(tree=dips(tables=False, dipped=1, fabric=False, places=False), wall=st.integers(2, 20), wider=st.integers(1, 9))
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], wall: int, wider: int) -> None:
    """Dwell in the paste: edges put back meet their limits with nothing to spare; wider limits never narrow the window."""
    at = next(i for i, s in enumerate(tree["stations"]) if s["kind"] == "dip")
    stations = [*tree["stations"]]
    stations[at] = stations[at] | {"duration": {"find": ["2 s", "150 s"]}}
    rest = {
        "fusion_degree": 0.0,
        "heat_dose": 1e6,
        "skin": "400 degC",
        "strip_least": "-50 degC",
        "strip_most": "400 degC",
    }
    rest = {k: v for k, v in rest.items() if not k.startswith("strip") or stations[-1]["kind"] == "strip"}
    if "bath" in tree["paste"]:
        rest["bath"] = "400 degC"

    def sought(least: float, most: float) -> Any:
        walls = {"wall_least": f"{least:.3f} mm", "wall_most": f"{most:.3f} mm"}
        return case_of(tree | {"stations": stations, "limits": rest | walls})

    case = sought(wall / 10, wall / 5)
    window = window_of(case)
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        for limit in run_case(case.with_values({f"stations.{at}.duration": edge})).limits:
            if limit.name.startswith("wall"):
                allowed = 2e3 * WALL + 0.02 * wall / 5  # mm
                assert limit.margin is not None and limit.margin >= -allowed, (edge, limit)
                assert limit.name != by or limit.margin <= allowed, (edge, limit)
    if window.earliest is not None:
        more = window_of(sought(wall / 10 * (10 - wider) / 10, wall / 5))
        assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
