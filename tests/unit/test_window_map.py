"""The map over two settings: edges and distances against closed forms, what is interpolated, and refusals."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from thermokit.case import load_case, parse_case
from thermokit.errors import CaseError
from thermokit.processes.base import Limit
from thermokit.results.sweep_table import image, read_table
from thermokit.studies import window_map as study
from thermokit.studies.window_map import axis_of, window_map
from thermokit.studies.window_map_edges import edges_along, nearest_edge, roomiest
from thermokit.studies.window_map_words import map_json, map_table, map_text
from validation.families.sensitivity import LUMP

CASES = Path(__file__).parents[2] / "cases"
HEAT, THICK = "stations.heat.duration", "body.layers.block.thickness"
FIXED = LUMP.split("[tolerances]")[0].replace('duration = "find"', 'duration = "65 s"')
LIMITS = (Limit("least", "least", True, 0.0), Limit("most", "most", False, 0.0))


def lumped(t: float, thickness: float) -> float:
    """T [degC] of the plate: 120 - 100 exp(-h t/(rho c L))."""
    return 120.0 - 100.0 * np.exp(-100.0 * t / (1e6 * thickness))


@pytest.fixture(scope="module")
def found() -> study.WindowMap:
    case = parse_case(FIXED, "lump.toml")
    return window_map(case, axis_of(case, HEAT, 40.0, 100.0), axis_of(case, THICK, 0.008, 0.014), points=31)


def test_every_point_is_the_closed_form(found: study.WindowMap) -> None:
    x, y = np.meshgrid(found.x, found.y)
    exact = lumped(x, y)
    assert found.margins[0] == pytest.approx(exact - 60.0, abs=0.1)
    assert found.margins[1] == pytest.approx(80.0 - exact, abs=0.1)
    assert found.solved.all() and not found.notes
    assert found.share == pytest.approx(float(((exact >= 60.0) & (exact <= 80.0)).mean()), abs=0.005)


def test_distances_to_the_edges(found: study.WindowMap) -> None:
    """At 65 s and 10 mm: T = 60 at t = 1e4 L ln(100/60), 80 at 1e4 L ln(100/40)."""
    assert found.present == (65.0, 0.01) and found.inside
    t60, t80 = (1e4 * 0.01 * np.log(100.0 / (120.0 - T)) for T in (60.0, 80.0))
    left, right, below, above = found.edges
    assert (left.limit, right.limit) == ("mean_temperature", "hottest_temperature")
    assert left.way[0] == pytest.approx(t60 - 65.0, abs=0.05)
    assert right.way[0] == pytest.approx(t80 - 65.0, abs=0.05)
    # thicker is colder
    assert (below.limit, above.limit) == (None, "mean_temperature")
    assert above.place[1] == pytest.approx(0.01 * 65.0 / t60, rel=1e-3)
    # to the line of 60 degC, t = t60 L/10 mm: its distance with both settings as shares of 60 s and 6 mm
    a, b = 60.0, -t60 / 0.01 * 0.006  # t - t60/10mm * L in shares of the sides
    distance = abs(65.0 - t60) / np.hypot(a, b)
    assert found.nearest is not None and found.nearest.limit == "mean_temperature"
    assert found.nearest.size == pytest.approx(distance, abs=0.02)


def test_words_json_and_table(found: study.WindowMap, tmp_path: Path) -> None:
    text = map_text(found)
    assert "Present setting: 65 s, 10 mm; inside" in text
    assert "mean_temperature breaks" in text and "at least 60 degC" in text
    block = map_json(found, [])["window_map"]
    assert block["across"]["unit"] == "s" and block["up"]["values"][0] == pytest.approx(8.0)
    assert np.shape(block["limits"][0]["margins"]) == (31, 31)
    assert block["present"]["edges"][2]["limit"] is None
    file = tmp_path / "map.h5"
    file.write_bytes(image(map_table(found)))
    table = read_table(file)
    assert table.rows == 31 * 31
    columns = {c.name: c for c in table.columns}
    assert columns[THICK].unit == "mm"
    assert columns["margin_of_mean_temperature"].values == pytest.approx(found.margins[0].ravel())


def test_a_coarse_map_is_refined_beside_its_edges(found: study.WindowMap, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study, "WORK", 0.0)
    case = parse_case(FIXED, "lump.toml")
    other = window_map(case, found.across, found.up, points=31)
    assert 0 < other.solved.sum() < other.solved.size
    assert "interpolated" in other.notes[0]
    assert other.margins == pytest.approx(found.margins, abs=0.1)
    beside = np.abs(found.margins).min(axis=0) < 0.5
    assert other.solved[beside].all()


def test_what_is_sought_is_held_or_mapped() -> None:
    case = parse_case(LUMP.split("[tolerances]")[0], "lump.toml")
    up = axis_of(case, THICK, 0.008, 0.012)
    across = axis_of(case, "stations.heat.outer.convection.coefficient", 60.0, 160.0)
    held = window_map(case, across, up, points=9, setting=70.0)
    assert held.held == (HEAT, 70.0)
    mapped = window_map(case, axis_of(case, HEAT, 40.0, 100.0), up, points=9)
    t60, t80 = (1e4 * 0.01 * np.log(100.0 / (120.0 - T)) for T in (60.0, 80.0))
    assert mapped.held is None and mapped.present[0] == pytest.approx((t60 + t80) / 2.0, rel=2e-3)


def test_a_mould_is_interpolated_and_says_so() -> None:
    case = load_case(CASES / "how_long_must_a_flat_pp_bin_lid_cool.toml")
    across, up = axis_of(case, "cycle.cooling", 6.0, 30.0), axis_of(case, "part.thickness", 2.0e-3, 3.0e-3)
    got = window_map(case, across, up, points=12, setting=15.0)
    assert not got.solved.any() and not got.amounts
    assert any("12 × 12 points" in note for note in got.notes)
    # thicker takes longer, about with its square: the edge moves right as it goes up
    edge = [float(np.interp(0.0, row, got.x)) for row in got.margins[0]]
    assert np.all(np.diff(edge) > 0.0)
    assert 1.5 < (edge[-1] + 4.0) / (edge[0] + 4.0) < 2.25, "with some seconds of hold before the cooling"


def test_edges_of_straight_margins() -> None:
    """Met from 2 to 7: from 4 the ways are -2 and +3; from 1 the way in is +1."""
    at = np.linspace(0.0, 10.0, 41)
    margins = np.array([at - 2.0, 7.0 - at])
    low, high = edges_along(at, margins, (4.0, 5.0), 0, LIMITS)
    assert (low.limit, low.way[0]) == ("least", pytest.approx(-2.0))
    assert (high.limit, high.way[0]) == ("most", pytest.approx(3.0))
    outside = edges_along(at, margins, (1.0, 5.0), 0, LIMITS)
    assert outside[0].limit is None
    assert (outside[1].limit, outside[1].way[0]) == ("least", pytest.approx(1.0))


def test_nearest_edge_and_room_of_a_triangle() -> None:
    """x >= 0.2, x + y <= 1 on the unit square, from (0.5, 0.25): to the slanted edge 0.25/sqrt 2."""
    x = y = np.linspace(0.0, 1.0, 201)
    gx, gy = np.meshgrid(x, y)
    margins = np.array([gx - 0.2, 1.0 - gx - gy])
    edge = nearest_edge(x, y, margins, (0.5, 0.25), LIMITS)
    assert edge is not None and edge.limit == "most"
    assert edge.size == pytest.approx(0.25 / np.sqrt(2.0), abs=0.003)
    # most room: the inner circle of the right triangle with legs 0.8 has the radius 0.8 (1 - 1/sqrt 2)
    room = roomiest(x, y, margins)
    radius = 0.8 * (1.0 - 1.0 / np.sqrt(2.0))
    assert room is not None
    assert room.size == pytest.approx(radius, abs=0.01)
    assert room.place == pytest.approx((0.2 + radius, radius), abs=0.01)


def test_runs_that_failed_are_outside() -> None:
    x = y = np.linspace(0.0, 1.0, 11)
    margins = np.full((2, 11, 11), np.nan)
    assert nearest_edge(x, y, margins, (0.5, 0.5), LIMITS) is None
    assert roomiest(x, y, margins) is None


def test_refusals() -> None:
    case = parse_case(FIXED, "lump.toml")
    axis = axis_of(case, HEAT, 40.0, 100.0)
    with pytest.raises(CaseError, match="two different settings"):
        window_map(case, axis, axis_of(case, HEAT, 50.0, 60.0), points=5)
    with pytest.raises(CaseError, match="one kind"):
        axis_of(case, f"{HEAT}+{THICK}", 1.0, 2.0)
    bare = parse_case(FIXED.split("[limits")[0], "lump.toml")
    with pytest.raises(CaseError, match="limit"):
        window_map(bare, axis, axis_of(bare, THICK, 0.008, 0.012), points=5)
