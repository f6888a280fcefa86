"""The dip examples: a heavy and a light former, a cloth-lined article, a cold dip, a mixed rack.

Bounds from outside the solver: the exact temperature beside a cooling former with the gelation law integrated in time, film
formulas, heat balances, and facts of the trade (half an hour at 170 degC for a cloth-lined article: common practice).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from cases.plausible import case_file
from thermokit.case import load_case
from thermokit.studies.dwell import Dwell, dwell, run_at
from thermokit.studies.run import run
from validation.references import dipping

GELATION = (0.0125, 80e3, 85.0, 0.4)  # of the library's set: rate [1/s], energy [J/mol], at [degC]; degree that stays
PASTE = (0.1513, 1180.5 * 1600.0)  # conductivity [W/m/K], heat [J/m3/K] of the library's paste between 24 and 100 degC


@cache
def found(start: str) -> tuple[Dwell, Any]:
    case = replace(load_case(case_file(start)), tolerances={})
    answer = dwell(case)
    return answer, run_at(case, answer)


@cache
def ran(start: str) -> Any:
    return run(case_file(start))


def outcome(result: Any, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    return float(value)


def front(capacity: float, start: float, dwell: float) -> float:
    """Exact gel front [mm] on a plane former of so much heat [J/m2/K]."""
    beside = dipping.FormerInPaste(capacity, *PASTE, start, 24.0)
    return 1e3 * dipping.gel_front(beside.temperature, dwell, *GELATION)


TUBE = "how_thick_a_wall_does_a_thin"
ROD = "how_long_must_a_hot_steel_rod"


def test_a_thin_tube_stalls_and_says_why() -> None:
    """1.2 mm aluminium: 2700 x 920 x 1.14 mm = 2.8 kJ/m2/K of its face; the paste lies around it, so a plane gels more."""
    result = ran(TUBE)
    assert result.status == "finished"
    plane = front(2830.0, outcome(result, "former_at_dip"), 120.0)
    assert 0.75 * plane < outcome(result, "gelled") < plane
    assert any("has stalled" in text and "little heat left" in text for text in result.remarks)
    assert 60.0 < outcome(result, "stall_time") < 240.0
    assert outcome(result, "former_after_dip") < 75.0  # below the onset of gelling


@pytest.mark.long
def test_a_solid_rod_has_heat_to_spare_and_says_so() -> None:
    """12 mm steel rod: 7850 x 490 x 6 mm = 23 kJ/m2/K on its face."""
    answer, result = found(ROD)
    assert (answer.earliest_limit, answer.latest_limit) == ("wall_least", "wall_most")
    assert answer.recommended is not None
    start = outcome(result, "former_at_dip")
    exact = front(23.1e3, start, answer.recommended)
    assert 0.85 * exact < outcome(result, "gelled") < 1.05 * exact  # a rod's paste lies around it: a little less
    assert any("the dwell sets the wall" in text for text in result.remarks)
    assert any("the interface limits it" in text for text in result.remarks)
    assert answer.hand is not None
    assert "erfc(lambda)" in answer.hand.formula


@pytest.mark.long
def test_rod_and_tube_differ_visibly() -> None:
    """The same dip of 60 s: the rod keeps its heat and gels half as much again; the fusing of the tube takes a third."""
    walls = {}
    for start in (ROD, TUBE):
        case = load_case(case_file(start)).with_values({"stations.dip.duration": 60.0})
        walls[start] = outcome(run(case), "gelled")
    assert walls[ROD] > 1.5 * walls[TUBE]


@pytest.mark.long
def test_a_cloth_lined_article_takes_about_half_an_hour() -> None:
    answer, result = found("how_long_in_the_oven_for_a_cloth")
    assert answer.earliest is not None
    assert 20 * 60.0 < answer.earliest < 45 * 60.0
    assert answer.earliest_limit == "fusion_degree"
    assert "fabric" in next(limit for limit in result.limits if limit.name == "fusion_degree").where
    assert result.layer_names == ("shell", "fabric", "coat_1", "coat_2")


def test_a_cold_dip_takes_what_clings() -> None:
    """Twice the film that is drawn at 6 mm/s and drains for 40 s, 90 mm below the top: White and Tallmadge, Jeffreys."""
    result = ran("what_wall_does_a_cold")
    assert outcome(result, "gelled_1") == 0.0
    clings = outcome(result, "clinging_1")
    running = 1e3 * dipping.jeffreys(1.5, 1180.5, 0.09, 40.0, 9.80665)
    assert 3.0 / (1180.5 * 9.80665) * 1e3 < clings <= running * 1.001
    assert outcome(result, "wall") == pytest.approx(2.0 * clings, rel=1e-3)
    assert outcome(result, "wall_top") < outcome(result, "wall") < outcome(result, "wall_bottom")
    assert outcome(result, "cap_wall") == pytest.approx(outcome(result, "wall"), rel=1e-3)
    assert outcome(result, "bath") < 24.0  # cold formers bring no heat
    assert outcome(result, "fusion_degree") > 0.9


@pytest.mark.long
def test_a_mixed_rack_shares_the_air_of_its_oven() -> None:
    answer, result = found("how_long_to_fuse_a_mixed")
    assert answer.earliest_limit == "fusion_degree"
    fields = {f.name: f for f in result.fields}
    faces = np.asarray(fields["oven_fuse/faces"].values)
    names = fields["oven_fuse/faces"].axes[1].values
    assert len(names) == 5
    # half-way through, the more heat a former has, the further it lags
    middle = faces[int(np.searchsorted(fields["oven_fuse/air"].axes[0].values, 250.0))]
    order = [names[i] for i in np.argsort(middle)]
    assert order[0] == "solid rods"
    assert order[-1] == "aluminium tubes"
    heat = dict(zip(fields["oven_fuse/heat"].axes[0].values, np.asarray(fields["oven_fuse/heat"].values), strict=True))
    assert heat["heaters"] > 0.0 > heat["formers"]
    assert abs(heat["astray"]) < 0.02 * abs(heat["formers"])
    air, time = np.asarray(fields["oven_fuse/air"].values), np.asarray(fields["oven_fuse/air"].axes[0].values)
    assert air[(time > 360.0) & (time < 385.0)].min() < air[(time > 300.0) & (time < 359.0)].min() - 5.0  # the door
