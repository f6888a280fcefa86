"""A former through ovens and paste: the wall and what clings, several dips, one run as many, places, ovens under load."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import base_edges
from thermokit.exchange.drag_out import thickness_drained, thickness_drawn
from thermokit.processes.base import facts_of_batch
from thermokit.processes.dip import DipProcess
from thermokit.processes.media import slowness
from thermokit.stations.dip import gel_front
from thermokit.studies.run import run
from validation.references import dipping

TEXT = (Path(__file__).parent / "case_texts" / "dip.toml").read_text(encoding="utf-8")

PLAIN = """
title = "plain"
process = "dip"
[former]
shape = "plane"
start = "150 degC"
[[former.layers]]
name = "metal"
material = "steel_mild"
thickness = "3 mm"
[paste]
temperature = "24 degC"
[[stations]]
name = "dip"
kind = "dip"
duration = "20 s"
[[stations]]
name = "hang"
kind = "air"
duration = "20 s"
[[stations]]
name = "dip again"
kind = "dip"
duration = "15 s"
[[stations]]
name = "fuse"
kind = "oven"
duration = "5 min"
temperature = "190 degC"
coefficient = "30 W/m2/K"
[[stations]]
name = "dip once more"
kind = "dip"
duration = "15 s"
[[stations]]
name = "end"
kind = "oven"
duration = "5 min"
temperature = "190 degC"
coefficient = "30 W/m2/K"
[accuracy]
temperature = "1 K"
"""


def edges_of(process: DipProcess) -> list[Any]:
    rows = process.layers()
    return base_edges([slowness(m, t) for _, t, m, _ in rows], [c for *_, c in rows])


@cache
def everything() -> Any:
    return run(parse_case(TEXT))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


# -- the gel front ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stays", [0.1, 0.4, 0.9])
def test_front_between_cells(stays: float) -> None:
    """1 - g = exp(-k(x) t) with k falling as exp(-x/l): ln(-ln(1 - g)) is a straight line, so the front is exact."""
    edges = np.linspace(0.0, 8e-3, 17)
    centres = (edges[1:] + edges[:-1]) / 2
    grown = 50.0 * np.exp(-centres / 0.9e-3)
    exact = 0.9e-3 * np.log(50.0 / -np.log(1.0 - stays))
    found = gel_front(edges, -np.expm1(-grown)[:, None], stays)
    assert found[0] == pytest.approx(exact, rel=1e-9)


def test_front_at_the_ends() -> None:
    edges = np.linspace(0.0, 8e-3, 9)
    assert gel_front(edges, np.zeros((8, 1)), 0.4)[0] == 0.0
    assert gel_front(edges, np.ones((8, 1)), 0.4)[0] == pytest.approx(8e-3)
    lone = np.zeros((8, 2))
    lone[3, 1] = 1.0  # what has gelled away from the former does not stay on it
    assert gel_front(edges, lone, 0.4)[1] == 0.0


# -- courses that change ------------------------------------------------------------------------------------------------


def test_three_dips_one_as_many() -> None:
    """A batch of formers that differ gives each what it has alone: walls, temperatures, degrees."""
    case = parse_case(PLAIN)
    process = DipProcess(case)
    edges = edges_of(process)
    walls = np.array([2e-3, 3e-3, 5e-3])
    many = DipProcess(case.with_values({"former.layers.metal.thickness": walls}))
    batch = follow_batch(many.course(edges), 3, 0.01)
    assert np.all(batch.status == 0)
    for i, wall in enumerate(walls):
        own = DipProcess(case.with_values({"former.layers.metal.thickness": float(wall)}))
        alone = follow(own.course(edges), np.array([0.0, 20.0, 675.0]), 0.01).history
        assert alone.edges == pytest.approx(batch.edges[:, i], rel=2e-3)
        assert alone.ends[-1].temperature == pytest.approx(batch.end_temperature[-1][:, i], abs=0.1)
        for name, value in alone.ends[-1].states.items():
            assert value == pytest.approx(batch.end_states[name][-1][:, i], abs=3e-3, nan_ok=True)


def test_heat_and_degree_of_what_is_taken_along() -> None:
    """The coat begins with the heat and the gel that this part of the paste had: sums over cells, by volume."""
    case = parse_case(PLAIN.replace('shape = "plane"', 'shape = "cylinder"\ninner_radius = "5 mm"'))
    process = DipProcess(case)
    course = process.course(edges_of(process))
    travel = follow(course, tolerance=0.01)
    before, after = travel.runs[0].ends[-1], travel.legs[1]
    paste, coat = travel.legs[0].layers[-1], after.layers[-1]
    inner = 5e-3 + 3e-3
    old = inner + paste.edges * paste.thickness
    new = inner + coat.edges * coat.thickness
    count = len(paste.edges) - 1

    def within(values: np.ndarray) -> float:
        """Integral of the old cells up to the coat's outer edge; the cell that is cut counts by its share."""
        upper = np.minimum(old[1:], new[-1])
        return float((values * np.maximum(upper**2 - old[:-1] ** 2, 0.0)).sum())

    for value, start in (
        (before.temperature[-count:], coat.start),
        (before.states["gel_degree"][-count:], coat.reactions[0].start),
    ):
        kept = float((np.asarray(start) * np.diff(new**2)).sum())
        assert kept == pytest.approx(within(value), rel=2e-3)


def test_what_clings_comes_on_top_of_the_gel() -> None:
    case = parse_case(PLAIN)
    drawn = case.with_values({"stations.dip.withdrawal": 5e-3})
    a, b = (run(c) for c in (case, drawn))
    film = float(thickness_drawn(2.0, 5e-3, 0.033, 1180.5))
    assert outcome(b, "drawn_1") == pytest.approx(1e3 * film, rel=1e-4)
    first = [r.layer_edges[2] - r.layer_edges[1] for r in (a, b)]
    assert first[1] - first[0] == pytest.approx(film, rel=0.02)


def test_a_cold_former_takes_what_clings_and_drains() -> None:
    text = PLAIN.replace('start = "150 degC"', 'start = "24 degC"\nlength = "300 mm"')
    text = text.partition('[[stations]]\nname = "dip again"')[0].replace('kind = "air"', 'kind = "drain"')
    text = text.replace('duration = "20 s"\n[[stations]]', 'duration = "20 s"\nwithdrawal = "8 mm/s"\n[[stations]]', 1)
    result = run(parse_case(text))
    drawn = thickness_drawn(2.0, 8e-3, 0.033, 1180.5)
    left = 1e3 * float(thickness_drained(drawn, 2.0, 1180.5, 0.15, 20.0))
    assert outcome(result, "gelled") == 0.0
    assert outcome(result, "wall") == pytest.approx(left, rel=1e-3)
    assert any("brings no heat" in text for text in result.remarks)


# -- everything at once -------------------------------------------------------------------------------------------------


def test_every_key_runs() -> None:
    result = everything()
    assert result.status == "finished"
    assert result.history.heat.mismatch < 1e-9
    names = {o.name for o in result.outcomes}
    assert {"wall", "wall_top", "wall_bottom", "former_at_dip", "gelled", "fusion_degree", "heat_dose", "bath"} <= names
    assert outcome(result, "wall_top") < outcome(result, "wall") < outcome(result, "wall_bottom")
    assert {f.name for f in result.fields} >= {"dip_1/wall", "oven_fuse/air", "oven_fuse/heat", "places/wall"}
    assert result.layer_names == ("core", "sleeve", "fabric", "coat_1")
    total = outcome(result, "gelled") + outcome(result, "clinging")
    assert outcome(result, "wall") == pytest.approx(total, rel=0.01)


def test_the_oven_accounts_for_its_heat() -> None:
    """What heaters give goes into walls, doors, formers and the oven itself; the formers' own account says the same."""
    (heat,) = [f for f in everything().fields if f.name == "oven_fuse/heat"]
    parts = dict(zip(heat.axes[0].values, np.asarray(heat.values), strict=True))
    assert sum(v for n, v in parts.items() if n != "astray") == pytest.approx(0.0, abs=1e-3 * parts["heaters"])
    assert abs(parts["astray"]) < 0.02 * abs(parts["formers"])


def test_where_limits_look() -> None:
    by_name = {limit.name: limit for limit in everything().limits}
    assert "(top)" in by_name["wall_least"].where
    assert "(bottom)" in by_name["wall_most"].where
    assert by_name["bath"].met
    assert {"held", "former_least", "former_most", "strip_least", "strip_most", "skin"} <= set(by_name)


@pytest.mark.long
def test_more_load_takes_longer() -> None:
    few = parse_case(TEXT)
    many = parse_case(TEXT.replace("count = 4", "count = 400"))
    assert outcome(run(many), "interface") < outcome(run(few), "interface") - 2.0


@pytest.mark.long
def test_an_oven_that_never_gets_there_says_so() -> None:
    result = run(parse_case(TEXT.replace("count = 4", "count = 4000")))
    assert any("not at its set temperature of 195 degC with this load" in text for text in result.warnings)


# -- warnings -----------------------------------------------------------------------------------------------------------


def test_withdrawal_beyond_the_theory() -> None:
    case = parse_case(PLAIN).with_values({"stations.dip.withdrawal": 0.2})
    assert any("withdrawal faster than the theory's range" in text for text in run(case).warnings)


def test_a_former_below_the_gel_point() -> None:
    case = parse_case(PLAIN).with_values({"former.start": 340.0})
    assert any("colder than the gel point" in text and "nothing stays on it" in text for text in run(case).warnings)


def test_facts_of_a_batch_hold_the_wall() -> None:
    case = parse_case(PLAIN)
    process = DipProcess(case.with_values({"stations.dip.duration": np.array([5.0, 20.0, 60.0])}))
    facts = facts_of_batch(follow_batch(process.course(edges_of(DipProcess(case))), 3, 0.05))
    first, last = process.edge("coat_1")
    assert np.all(np.diff(facts.edges[last] - facts.edges[first]) > 1e-4)  # a longer dwell, a thicker first coat
    assert process.quantities(facts)["wall"] == pytest.approx(facts.edges[-1] - facts.edges[process.edge("coat_1")[0]])


# -- against what was computed otherwise --------------------------------------------------------------------------------


@pytest.mark.parametrize("preheat", [160.0, 200.0])
def test_gel_on_hot_porcelain(preheat: float) -> None:
    """4 mm porcelain, 8.7 kJ/m2/K: a little less than on a former of that heat that conducts perfectly, which is exact."""
    text = PLAIN.replace('material = "steel_mild"', 'material = "porcelain_former"').replace("3 mm", "4 mm")
    text = text.partition('[[stations]]\nname = "dip again"')[0].replace("150 degC", f"{preheat} degC")
    case = parse_case(text).with_values({"stations.dip.duration": np.array([30.0, 60.0])})
    process = DipProcess(case)
    facts = facts_of_batch(follow_batch(process.course(edges_of(process)), 2, 0.05))
    beside = dipping.FormerInPaste(4e-3 * 2350.0 * 930.0, 0.1513, 1180.5 * 1600.0, preheat, 24.0)
    perfect = [dipping.gel_front(beside.temperature, t, 0.0125, 80e3, 85.0, 0.4) for t in (30.0, 60.0)]
    share = process.quantities(facts)["wall"] / np.array(perfect)
    assert np.all((share > 0.8) & (share < 1.0))


@pytest.mark.parametrize(
    ("film", "former", "thickness", "minutes"),
    [(0.3, "porcelain_former", 4.0, 8.0), (0.3, "aluminium_wrought", 1.0, 3.6), (2.0, "porcelain_former", 4.0, 13.4)],
)
def test_minutes_until_fused(film: float, former: str, thickness: float, minutes: float) -> None:
    """Air of 190 degC at 30 W/m2/K with radiation of the walls, from 60 degC, until the coldest layer is fused to 0.9: to a
    sixth as a table has it, which is nearer to black walls; what the paste's own emissivity gives is held tightly against an
    integration by lines in ``tests/cross/test_dip_lines.py``."""
    text = PLAIN.replace('material = "steel_mild"', f'material = "{former}"').replace("3 mm", f"{thickness} mm")
    text = text.partition('[[stations]]\nname = "hang"')[0].replace("150 degC", "60 degC").replace("24 degC", "60 degC")
    text += '[[stations]]\nname = "fuse"\nkind = "oven"\nduration = "1 min"\ntemperature = "190 degC"\n'
    text += 'coefficient = "30 W/m2/K"\n'
    times = 60.0 * minutes * np.array([5.0 / 6.0, 7.0 / 6.0])
    case = parse_case(text).with_values({"stations.dip.duration": 0.01, "stations.fuse.duration": times})
    process = DipProcess(case)
    process.clinging = lambda dip: 1e-3 * film  # type: ignore[method-assign]
    facts = facts_of_batch(follow_batch(process.course(edges_of(process)), 2, 0.05))
    before, after = process.quantities(facts)["fusion_degree"]
    assert before < 0.9 < after
