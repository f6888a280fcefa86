"""Places of a couple in a batch against the rows of a single run; runs at a few points that stand for all others."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fit_cases import write_case

from thermokit.case import load_case
from thermokit.conduction.follow import follow
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.run import settled
from thermokit.studies.fit_bench import logged_run
from thermokit.studies.fit_nodes import Box, nodes, places_of
from thermokit.studies.fit_places import place_of

CASES = Path(__file__).parents[2] / "cases"


def test_places_of_a_wall_are_those_of_a_single_run(tmp_path: Path) -> None:
    case = load_case(write_case(tmp_path, ""))
    path = "stations.oven.inner.convection.coefficient"
    texts = ["inner_face", "outer_face", "core", "5 mm", "7.5 mm", "lid|back", "lid", "back@0 mm"]
    bench = logged_run(case, [(path,)], [25.0], [(text, "here") for text in texts], 200)
    found = bench.series(np.array([[25.0], [40.0]]))
    for j, h in enumerate((25.0, 40.0)):
        process = process_of(case.with_values({path: h}))
        history = follow(process.course(bench.edges), bench.times, bench.tolerance).history
        depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
        # at the very beginning couples show the wall as it was, 20 degC, not what the oven does to the face at once
        inner, outer = (np.append(293.15, face[1:]) for face in (history.inner_face, history.outer_face))
        whole = np.column_stack([inner, history.temperature, outer])

        def at(x: float, depth=depth, whole=whole):
            return np.array([np.interp(x, depth, row) for row in whole])

        lid = slice(0, int(np.count_nonzero(history.centres < 0.006)))
        widths = np.diff(history.edges)[lid]
        expected = [
            inner, outer, at(0.005), at(0.005), at(0.0075), at(0.006),
            (history.temperature[:, lid] * widths).sum(axis=1) / widths.sum(), None,
        ]  # fmt: skip
        for i, values in enumerate(expected):
            if values is not None:
                assert found[j, i] == pytest.approx(values, abs=0.02), texts[i]


def test_a_tool_is_there_while_it_touches() -> None:
    case = load_case(CASES / "how_long_to_cool_a_potting_tray_on_its_aluminium_tool.toml")
    given = {"stations.cool.duration": 60.0} if "cool" in [s.name for s in case.stations] else {}
    from thermokit.case import sought_path

    path = sought_path(case)
    if path is not None:
        given = {path: 60.0}
    case = case.with_values(given)
    tools = [name for name, tool in case.tools.items() if tool.material is not None]
    assert tools
    spare = "sheet.thickness"
    texts = [tools[0], "lower_face", "upper_face"]
    bench = logged_run(case, [(spare,)], [float(case.value(spare))], [(text, "here") for text in texts], 200)
    found = bench.series(np.array([[float(case.value(spare))]]))[0]
    process = process_of(case)
    memory = process.memory(bench.edges, None, bench.tolerance) or None
    travel = follow(process.course(bench.edges), bench.times, bench.tolerance, memory=memory)
    tool = travel.companions[tools[0]]
    for place, single in ((1, travel.history.outer_face), (2, travel.history.inner_face)):
        there = np.isfinite(single) & (bench.times > 0.0)
        assert found[place][there] == pytest.approx(single[there], abs=0.1)
    mean = tool.temperature.mean(axis=1)
    here = np.isin(np.round(bench.times, 9), np.round(tool.time, 9))
    assert np.count_nonzero(here) > 50
    if tool.temperature.shape[1] == 1:
        assert found[0][here] == pytest.approx(mean, abs=0.05)
    absent = bench.times < tool.time[0] - bench.step
    assert np.isnan(found[0][absent]).all()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lid|lid", "no place"),
        ("12 mm", "outside the body"),
        ("scin", "no place"),
        ("back@9 mm", "no place"),
        ("", "no place"),
    ],
)
def test_what_is_no_place_is_refused(tmp_path: Path, text: str, words: str) -> None:
    case = load_case(write_case(tmp_path, ""))
    process = process_of(case)
    course = process.course(settled(case, process).edges)
    with pytest.raises(CaseError) as wrong:
        place_of(text, case, course, "fit.channels.0.at")
    assert words in str(wrong.value)
    assert "fit.channels.0.at" in str(wrong.value)
    assert "upper_face" in str(wrong.value)


@pytest.mark.parametrize(("unknowns", "count"), [(1, 9), (2, 7), (3, 5)])
def test_a_polynomial_is_found_again(unknowns: int, count: int) -> None:
    """n points a side hold a polynomial of degree n - 1 in each unknown."""
    random = np.random.default_rng(5)
    low, high = np.array([1.0, -2.0, 10.0])[:unknowns], np.array([3.0, 5.0, 11.0])[:unknowns]
    powers = random.normal(size=(4, unknowns))

    def function(at):
        share = (at - low) / (high - low)
        return np.stack([np.prod(1.0 + power * share ** (count - 1), axis=1) for power in powers], axis=1)

    box = Box(low, high, count, function(places_of(low, high, count)))
    tried = low + random.random((50, unknowns)) * (high - low)
    assert box.at(tried) == pytest.approx(function(tried), rel=1e-9, abs=1e-9)
    assert box.at(places_of(low, high, count)) == pytest.approx(box.values, abs=1e-12)


def test_an_exponential_is_followed_closely() -> None:
    """On nine points exp(x) on -1..1 is missed by less than 2/(9! 2^8) x e, its bound for such points, times four."""
    places = places_of(np.array([-1.0]), np.array([1.0]), 9)
    box = Box(np.array([-1.0]), np.array([1.0]), 9, np.exp(places))
    at = np.linspace(-1.0, 1.0, 201)[:, None]
    assert np.max(np.abs(box.at(at) - np.exp(at))) < 4.0 * np.e / (362880.0 * 256.0)
    assert nodes(1).tolist() == [-1.0]
    assert box.sound
    assert not Box(box.low, box.high, 9, np.where(np.arange(9)[:, None] == 3, np.nan, box.values)).sound
