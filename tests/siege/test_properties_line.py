"""Laws that hold for any continuous line, on cases that are made at random."""

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
from .generated_line import FLAT, ROUND, lines, mirrored, station_cut
from .profiles import sieged
from .solving import accuracy_of, case_of, judged_on, met, run_of, side_by_side, warmer
from .writing import amount

USUAL = (288.15, 293.15, 296.15)  # K, of air and water that a case does not give


def of_degree(case: Any) -> float:
    """Error of a degree that goes with a step's error of temperature."""
    return hold.DEGREE_PER_KELVIN * hold.step_error(case)


def outcome(result: Any, name: str) -> float | None:
    """An outcome by its name, None where it is not told."""
    return next((o.value for o in result.outcomes if o.name == name), None)


@sieged(4)
@given(tree=lines())
def test_any_case_is_sound(tree: dict[str, Any]) -> None:
    """Heat balance, finite numbers, degrees in 0 to 1 that never fall, a text that comes back."""
    case = case_of(tree)
    assert parse_case(resolved_text(case)) == case
    result = run_case(case)
    hold.finished(result)
    hold.closes(result)
    hold.all_finite(result)
    hold.degrees_are_shares(result)
    hold.never_falls(result, most=of_degree(case))


@sieged(2)
@given(tree=lines(sources=False))
def test_without_sources_nothing_leaves_what_it_met(tree: dict[str, Any]) -> None:
    """Maximum principle, over draws and coats."""
    case = case_of(tree)
    temperatures = [*met(tree, "line", "stations"), *USUAL]
    history: Any = run_case(case).history
    for rows in (history.temperature, history.inner_face, history.outer_face):
        assert np.nanmax(rows) <= max(temperatures) + hold.step_error(case)
        assert np.nanmin(rows) >= min(temperatures) - hold.step_error(case)


@sieged(2)
@given(tree=lines(), rng=st.randoms(use_true_random=False))
def test_units_do_not_matter(tree: dict[str, Any], rng: Any) -> None:
    """The same case exactly whatever units it is written in, and the same answer to the last bit."""
    one, other = case_of(tree), case_of(tree, lambda a: rng.choice(list(a.texts().values())))
    assert one == other
    hold.same_bits(run_case(one), run_case(other))


@sieged(2)
@given(tree=lines(given=True), which=st.integers(0, 5), tenths=st.integers(1, 9))
def test_a_station_cut_in_two_is_one_station(tree: dict[str, Any], which: int, tenths: int) -> None:
    """An oven of 4 m is two of 2 m, a bath two baths: faces and mean where the line ends, each run within its accuracy."""
    cut = station_cut(tree, which, tenths)
    assume(cut is not None and cut["stations"][0]["kind"] != "nip")
    one, other = run_of(tree), run_of(cut or {})
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    for name in ("inner_face", "outer_face"):
        a, b = getattr(one.history.ends[-1], name), getattr(other.history.ends[-1], name)
        assert abs(a - b) <= 2.0 * accuracy_of(case_of(tree)), (name, a, b)
    assert other.history.time[-1] == pytest.approx(one.history.time[-1], rel=1e-9)


@sieged(2)
@given(tree=lines(products=FLAT, reacts=False))
def test_a_web_turned_over_gives_the_answer_turned_over(tree: dict[str, Any]) -> None:
    """Face and back change places, in layers and at every station."""
    one, other = run_of(tree), run_of(mirrored(tree))
    assume(one.history.temperature.shape == other.history.temperature.shape)
    case = case_of(tree)
    assume(not any("accuracy" in words for run in (one, other) for words in run.warnings))
    for a, b in (("inner_face", "outer_face"), ("outer_face", "inner_face")):
        for end, turned in zip(one.history.ends, other.history.ends, strict=True):
            assert abs(getattr(end, a) - getattr(turned, b)) <= 2.0 * accuracy_of(case), (a, end.name)


@sieged(2)
@given(tree=lines(), share=st.integers(5, 20))
def test_a_batch_is_as_many_runs(tree: dict[str, Any], share: int) -> None:
    """What limits look at, side by side and one by one on the same mesh, within the accuracy of a run."""
    tree = tree | {"limits": {"hottest": "400 degC"}}
    case = case_of(tree)
    factors = np.array([1.0, share / 10.0, 1.3])
    values = {
        "line.speed": case.line.speed * factors,
        "line.air.temperature": case.line.air.temperature + 5.0 * factors,
    }
    edges = settled(case, process_of(case)).edges
    found = side_by_side(case, values, edges)
    for i in range(3):
        own = case.with_values({p: column[i] for p, column in values.items()})
        for name, value in judged_on(own, edges).items():
            kelvin = not any(word in name for word in ("degree", "dose", "share", "held"))
            allowed = accuracy_of(case) * (1.0 if kelvin else max(1.0, abs(value)) / 50.0)
            assert abs(found.quantities[name][i] - value) <= allowed, (name, i, found.quantities[name][i], value)


@sieged(2)
@given(tree=lines())
def test_what_comes_later_does_not_change_what_was(tree: dict[str, Any]) -> None:
    """A span more behind the line: what was stays, to the last bit on the same mesh."""
    stations = [s for s in tree["stations"] if s["kind"] != "wind_up"]
    span = {"kind": "span", "length": amount(500, "length"), "name": "behind"}
    one, other = run_of(tree | {"stations": stations}), run_of(tree | {"stations": [*stations, span]})
    exact = one.history.edges.shape == other.history.edges.shape and np.array_equal(
        one.history.edges, other.history.edges
    )
    allowed = 0.0 if exact else 2.0 * accuracy_of(case_of(tree))
    for end, same in zip(one.history.ends, other.history.ends, strict=False):
        assert abs(end.inner_face - same.inner_face) <= allowed, end.name
        assert abs(end.outer_face - same.outer_face) <= allowed, end.name


@sieged(2)
@given(tree=lines(sources=False, melts=False, given=True), kelvin=st.integers(1, 40))
def test_hotter_stations_never_make_a_colder_line(tree: dict[str, Any], kelvin: int) -> None:
    """All that it meets so much hotter: where the line ends it is no colder, and no less gelled."""
    one, other = run_of(tree), run_of(warmer(tree, kelvin, "stations", "line"))
    case = case_of(tree)
    for name in ("inner_face", "outer_face"):
        a, b = getattr(one.history.ends[-1], name), getattr(other.history.ends[-1], name)
        assert b >= a - 2.0 * accuracy_of(case), (name, a, b)
    for state, value in one.history.ends[-1].states.items():
        if state in hold.GROWING and value.shape == other.history.ends[-1].states[state].shape:
            assert np.nanmin(other.history.ends[-1].states[state] - value, initial=0.0) >= -accuracy_of(case) / 50.0


def simple(tree: dict[str, Any], station: dict[str, Any]) -> dict[str, Any]:
    """The same stuff through one station, with air of its own coefficient."""
    air = {"coefficient": amount(10, "heat_transfer_coefficient"), "emissivity": 0.0}
    return tree | {"line": tree["line"] | {"air": tree["line"]["air"] | air}, "stations": [station]}


@sieged(2)
@given(tree=lines(products=FLAT, reacts=False, coats=False), faster=st.integers(11, 40), hot=st.integers(80, 220))
def test_a_faster_line_is_never_hotter_behind_its_oven(tree: dict[str, Any], faster: int, hot: int) -> None:
    """A cold web in a hot oven: less time in it, and no face is hotter."""
    oven = {"kind": "oven", "length": "3 m", "temperature": f"{hot} degC", "coefficient": "40 W/m2/K"}
    one = simple(tree, oven)
    speed = int(tree["line"]["speed"].split()[0])
    other = one | {"line": one["line"] | {"speed": f"{speed * faster / 10} m/min"}}
    a, b = run_of(one).history.ends[-1], run_of(other).history.ends[-1]
    for name in ("inner_face", "outer_face"):
        assert getattr(b, name) <= getattr(a, name) + 2.0 * accuracy_of(case_of(one)), name


@sieged(2)
@given(tree=lines(products=("pipe",), reacts=False, coats=False, own=True), thicker=st.integers(11, 20))
def test_a_thicker_pipe_never_cools_faster(tree: dict[str, Any], thicker: int) -> None:
    """In a bath, its bore shut: the bore of a thicker wall of the same outside diameter is never colder."""
    layer = tree["line"]["layers"][0] | {"material": "stuff"}
    wall = layer["thickness"].number
    diameter = amount(float(wall) * 8, "length")
    bath = {"kind": "bath", "length": "2 m", "temperature": "15 degC", "state": "stirred"}
    ends = []
    for factor in (10, thicker):
        own = layer | {"thickness": layer["thickness"]._replace(number=wall * factor / 10)}
        line = tree["line"] | {"layers": [own], "diameter": diameter, "bore": {"state": "still"}, "opening": None}
        line.pop("opening")
        ends.append(run_of(simple(tree | {"line": line}, bath)).history.ends[-1])
    assert ends[1].inner_face >= ends[0].inner_face - 2.0 * accuracy_of(case_of(tree))


@sieged(2)
@given(tree=lines(products=ROUND, sources=False, heats=False, reacts=False, melts=False))
def test_behind_the_last_heater_it_only_cools(tree: dict[str, Any]) -> None:
    """Nothing but rooms and baths of one temperature: the hottest place only falls, whatever comes off and on."""
    cold = amount(15, "temperature")
    stations = [
        s | {"temperature": cold} for s in tree["stations"] if s["kind"] in ("bath", "span", "air_knife", "die")
    ]
    assume(stations and tree["line"].get("layers"))
    line = tree["line"] | {"air": tree["line"]["air"] | {"temperature": cold}}
    if "bore" in line:
        line["bore"] = {"state": "still"}
    assume(float(line["start"].number) > 20)
    history: Any = run_of(tree | {"line": line, "stations": stations}).history
    case = case_of(tree)
    hottest = np.nanmax(np.column_stack([history.inner_face, history.temperature, history.outer_face]), axis=1)
    hold.only_falls(hottest, hold.step_error(case))


@sieged(2)
@given(tree=lines(reacts=False, own=True))
def test_mass_by_hand(tree: dict[str, Any]) -> None:
    """Kilograms an hour are density times section times speed, of what it begins with (a wire's conductor apart) and of coats
    at the speed at which they come on."""
    case = case_of(tree)
    told = outcome(run_case(case), "throughput")
    line, density = case.line, case.materials["stuff"].density
    flat = line.product in FLAT
    speed, flow = line.speed, 0.0
    thickness = sum(layer.thickness for layer in line.layers)
    if line.product == "pipe":
        outside, inside = line.diameter / 2.0, line.diameter / 2.0 - thickness
        flow = np.pi * (outside**2 - inside**2) * density * speed
    elif flat:
        assume(line.width is not None and told is not None)
        flow = thickness * line.width * density * speed
    else:
        outside = line.conductor.diameter / 2.0
        for layer in line.layers:
            flow += np.pi * ((outside + layer.thickness) ** 2 - outside**2) * density * speed
            outside += layer.thickness
    for station in case.stations:
        draw = float(getattr(station, "draw", 1.0))
        speed *= draw
        outside = outside / np.sqrt(draw) if not flat else 0.0
        for layer in station.layers if station.kind == "coat" else ():
            section = layer.thickness * line.width if flat else np.pi * ((outside + layer.thickness) ** 2 - outside**2)
            outside = outside + layer.thickness
            flow += section * density * speed
    assert told == pytest.approx(3600.0 * flow, rel=1e-9)


@sieged(1)
@given(
    tree=lines(products=FLAT, melts=False, reacts=False, coats=False), share=st.integers(2, 8), wider=st.integers(1, 9)
)
def test_edges_of_a_window_meet_the_limits(tree: dict[str, Any], share: int, wider: int) -> None:
    """The speed at which a web leaves its oven between two temperatures: edges put back meet them; wider is never narrower."""

    def sought(low: float, high: float) -> Any:
        oven = {"kind": "oven", "length": "3 m", "temperature": "200 degC", "coefficient": "40 W/m2/K", "name": "oven"}
        oven["limits"] = {
            "mean_least": amount(f"{low:.2f}", "temperature"),
            "mean_most": amount(f"{high:.2f}", "temperature"),
        }
        one = simple(tree, oven)
        return case_of(
            one | {"line": one["line"] | {"speed": {"find": ["0.2 m/min", "200 m/min"]}, "start": "25 degC"}}
        )

    low, high = 25.0 + 17.5 * share, 25.0 + 17.5 * share + 10.0
    case = sought(low, high)
    window = window_of(case)
    for edge, by in ((window.earliest, window.earliest_limit), (window.latest, window.latest_limit)):
        if edge is None:
            continue
        for limit in run_case(case.with_values({"line.speed": edge})).limits:
            if limit.name != by and "oven" not in limit.name:
                continue
            assert limit.margin is not None and limit.margin >= -accuracy_of(case), (edge, limit)
            if limit.name == by:
                assert limit.margin <= accuracy_of(case), (edge, limit)
    if window.earliest is not None and window.latest is not None:
        more = window_of(sought(low - wider, high + wider))
        assert more.earliest is not None and more.earliest <= window.earliest * (1.0 + 1e-3)
        assert more.latest is None or more.latest >= window.latest * (1.0 - 1e-3)
