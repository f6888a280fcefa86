"""The plan of the sheet: maps, their symmetry, the clamp frame, and windows that hold at every spot and in every region."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sheets import ABS, K, air, case, checks, edges_of, fields, panels, placed, tool, touch, transfer, values

from thermokit.conduction.follow_batch import follow_batch
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.base import facts_of_batch
from thermokit.processes.run import run_case
from thermokit.studies.dwell import Dwell, dwell, run_at

PANEL = placed(temperature="450 degC")
TABLE = [["450 degC", "400 degC", "440 degC"], ["430 degC", "410 degC", "380 degC"]]


def mapped(upper: Any = PANEL, lower: Any = PANEL, duration: Any = "60 s", spots: Any = (4, 3), sheet: Any = None,
           after: Any = (), limits: Any = None, **more: Any) -> Any:  # fmt: skip
    blank = {"length": "600 mm", "width": "400 mm", "spots": list(spots), **(sheet or {})}
    return case(panels(upper, lower, duration), *after, sheet=blank, limits=limits, **more)


def every_spot(given: Any, found: Dwell, duration: float) -> dict[str, np.ndarray]:
    """All spots followed by themselves: coldest point, hottest at any time, mean and difference at the end of heating [K]."""
    process = process_of(given.with_values({found.path: duration}), "all")
    travel = follow_batch(process.course(found.edges), process.places(), 0.01)
    facts = facts_of_batch(travel)
    end = facts.stations[process.touch]
    widths = np.diff(facts.edges, axis=0)
    return {
        "coldest": end.min(axis=0), "hottest": facts.hottest, "spread": end.max(axis=0) - end.min(axis=0),
        "mean": (end[1:-1] * widths).sum(axis=0) / widths.sum(axis=0),
    }  # fmt: skip


# -- maps ------------------------------------------------------------------------------------------------------------


def test_corners_are_coldest_and_the_middle_is_hottest() -> None:
    result = run_case(mapped(spots=(5, 3)))
    table = fields(result)
    for name in ("coldest_point", "mean_temperature", "upper_face", "lower_face", "hottest_face"):
        field = table[f"map/{name}"]
        assert field.shape == (3, 5)
        assert field.argmax() == 7
        assert set(np.flatnonzero(field <= field.min() + 1e-6)) == {0, 4, 10, 14}
    found = values(result)
    assert found["coldest_point"] == pytest.approx(table["map/coldest_point"].min())
    assert found["hottest_face"] == pytest.approx(table["map/hottest_face"].max())
    assert found["map_spread"] == pytest.approx(np.ptp(table["map/mean_temperature"]))
    assert found["middle"] == pytest.approx(table["map/coldest_point"][1, 2], abs=0.1)  # the row is that of mid-sheet


def test_equal_panels_make_an_even_map() -> None:
    table = fields(run_case(mapped(placed(temperature=[["450 degC", "430 degC"] * 2, ["450 degC", "430 degC"] * 2]))))
    means = table["map/mean_temperature"]
    assert means == pytest.approx(means[::-1], abs=1e-8)
    assert np.abs(means - means[:, ::-1]).max() > 0.5  # columns of zones are not mirrored
    means = fields(run_case(mapped()))["map/mean_temperature"]
    for mirror in (means[::-1], means[:, ::-1]):
        assert means == pytest.approx(mirror, abs=1e-8)


def test_zones_lie_where_the_map_shows_them() -> None:
    """First row at low y, first column at low x: the map turned with its table."""
    warm = [["500 degC", "400 degC", "400 degC"], ["400 degC", "400 degC", "400 degC"]]
    one = fields(run_case(mapped(placed(temperature=warm))))["map/mean_temperature"]
    assert one.argmax() % 4 < 2
    assert one[0].mean() > one[2].mean()
    turned = fields(run_case(mapped(placed(temperature=[row[::-1] for row in warm[::-1]]))))["map/mean_temperature"]
    assert turned[::-1, ::-1] == pytest.approx(one, abs=1e-8)


def test_an_offset_panel_leaves_the_other_side_cold() -> None:
    means = fields(run_case(mapped(placed(temperature="450 degC", offset=["100 mm", "0 mm"]))))["map/mean_temperature"]
    assert np.all(means[:, 3] > means[:, 0] + 2.0)
    assert means == pytest.approx(means[::-1], abs=1e-8)


@pytest.mark.parametrize("spots", [(1, 1), (1, 5), (6, 1)])
def test_maps_of_few_spots(spots: tuple[int, int]) -> None:
    result = run_case(mapped(spots=spots))
    table = fields(result)
    if spots == (1, 1):
        assert not any(name.startswith("map/") for name in table)
    else:
        assert table["map/coldest_point"].shape == spots[::-1]
        assert table["map/coldest_point"].min() == pytest.approx(values(result)["coldest_point"])


def test_a_spot_of_the_map_is_a_run_of_its_own() -> None:
    """Every spot in the map, and by itself."""
    given = mapped(placed(temperature=TABLE), after=[transfer()])
    cut = edges_of(given, 12)
    whole = process_of(given, "all")
    together = follow_batch(whole.course(cut), 12, 0.01)
    for spot in (0, 5, 11):
        alone = follow_batch(process_of(given, ((spot, 0),)).course(cut), 1, 0.01)
        assert together.end_temperature[:, :, spot] == pytest.approx(alone.end_temperature[:, :, 0], abs=1e-8)


# -- the clamp frame -------------------------------------------------------------------------------------------------


def test_the_frame_cools_the_border_only() -> None:
    """Nothing but the frame: a border spot falls as exp(-2 a t/p^2), p its pitch across the border; corners by both."""
    still = {**transfer("300 s"), "air": air(25.0, 0.0), "emissivity": 0.0}
    given = case(
        still, sheet={"length": "600 mm", "width": "400 mm", "spots": [5, 4], "start": "150 degC",
                      "frame": {"temperature": "60 degC"}, "thickness": "2 mm"}, accuracy={"temperature": "0.02 K"},
    )  # fmt: skip
    means = fields(run_case(given))["map/mean_temperature"]
    a = ABS[1] / ABS[0] / ABS[2]
    along, across = 2 * a * 300.0 / 0.12**2, 2 * a * 300.0 / 0.1**2
    wanted = np.full((4, 5), 0.0)
    wanted[:, [0, -1]] += along
    wanted[[0, -1]] += across
    assert means == pytest.approx(60.0 + 90.0 * np.exp(-wanted), abs=0.03)
    assert np.ptp(means[1:-1, 1:-1]) < 1e-9


def test_the_frame_makes_the_border_of_a_heated_map_colder() -> None:
    free = fields(run_case(mapped(spots=(6, 4))))["map/mean_temperature"]
    held = fields(run_case(mapped(spots=(6, 4), sheet={"frame": {"temperature": "60 degC"}})))["map/mean_temperature"]
    assert held[1:-1, 1:-1] == pytest.approx(free[1:-1, 1:-1], abs=0.05)
    border = np.ones((4, 6), bool)
    border[1:-1, 1:-1] = False
    assert np.all(free[border] - held[border] > 0.02)


# -- windows ---------------------------------------------------------------------------------------------------------

BIG = (100.0, (800.0, 600.0))
WIDE = placed(*BIG, temperature="450 degC")
UNLIKE = placed(*BIG, temperature=TABLE)
WINDOWS: list[tuple[str, Any]] = [
    ("zones", mapped(UNLIKE, WIDE, "find", limits={"coldest_point": "115 degC", "hottest_face": "200 degC"})),
    (
        "one side",
        mapped(
            WIDE, None, "find", sheet={"thickness": "2 mm"},
            limits={"coldest_point": "115 degC", "hottest_face": "190 degC"},
        ),
    ),
    ("spread", mapped(UNLIKE, WIDE, "find", limits={"coldest_point": "75 degC", "map_spread": "12 K"})),
    (
        "difference",
        mapped(
            UNLIKE, WIDE, "find",
            limits={"coldest_point": "80 degC", "hottest_face": "230 degC", "face_core_difference": "51 K"},
        ),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "given"), WINDOWS)
def test_no_spot_breaks_a_limit_inside_the_window_and_one_does_outside(name: str, given: Any) -> None:
    found = dwell(given)
    assert found.earliest is not None
    assert found.latest is not None
    limits = {limit.name: float(limit.bound) for limit in process_of(given).limits()}

    def margins(duration: float) -> dict[str, float]:
        spot = every_spot(given, found, duration)
        all_of = {
            "coldest_point": spot["coldest"].min() - limits["coldest_point"],
            "hottest_face": limits["hottest_face"] - spot["hottest"].max(),
            "map_spread": limits.get("map_spread", np.inf) - np.ptp(spot["mean"]),
            "face_core_difference": limits.get("face_core_difference", np.inf) - spot["spread"].max(),
        }
        return {key: float(value) for key, value in all_of.items()}

    for share in (0.005, 0.5, 0.995):
        inside = margins(found.earliest + share * (found.latest - found.earliest))
        assert min(inside.values()) > -0.02, inside
    assert found.earliest_limit is not None
    assert found.latest_limit is not None
    assert margins(0.98 * found.earliest)[found.earliest_limit] < 0.0
    assert margins(1.02 * found.latest)[found.latest_limit] < 0.0
    assert abs(margins(found.earliest)[found.earliest_limit]) < 0.03
    assert abs(margins(found.latest)[found.latest_limit]) < 0.03


def test_the_worst_spot_is_named() -> None:
    given = WINDOWS[0][1]
    found = dwell(given)
    result = run_at(given, found)
    held = checks(result)
    assert all(check.met for check in result.limits)
    assert held["coldest_point"].where.endswith("across from the middle of the sheet")
    spot = every_spot(given, found, found.recommended or 0.0)
    at = int(spot["coldest"].argmin())
    process = process_of(given, "all")
    assert (
        f"{1e3 * process.at.x[at]:+.0f} mm along and {1e3 * process.at.y[at]:+.0f} mm across"
        in held["coldest_point"].where
    )


def test_a_window_over_spots_and_regions() -> None:
    """Heating sought with a tool behind, two regions: every pair of spot and region keeps the limits at the found dwell."""
    regions = [{"name": "flat", "draw_ratio": 1.2}, {"name": "corner", "draw_ratio": 2.5}]
    limits = {"coldest_point": "115 degC", "hottest_face": "200 degC", "release_difference": "18 K"}
    given = mapped(
        UNLIKE, WIDE, "find", (3, 2), after=[tool("45 s", lower=touch(250.0), air=air(25.0, 40.0), regions=regions)],
        tools={"mould": {"temperature": "50 degC"}}, limits=limits,
    )  # fmt: skip
    found = dwell(given)
    assert found.earliest is not None
    assert found.latest is not None
    for duration, good in ((found.recommended, True), (0.98 * found.earliest, False), (1.02 * found.latest, False)):
        here = given.with_values({found.path: duration})
        process = process_of(here, tuple((spot, region) for spot in range(6) for region in range(2)))
        facts = facts_of_batch(follow_batch(process.course(found.edges), 12, 0.01))
        met = (
            facts.stations[0].min() - K >= 115.0
            and facts.hottest.max() - K <= 200.0
            and np.abs(facts.final[-1] - facts.final[0]).max() <= 18.0
        )
        assert met == good


def test_a_run_is_judged_in_every_region_of_every_spot() -> None:
    """Thin region named first: the map is that of the thickest, limits look at all, the table has the worst of each."""
    regions = [{"name": "corner", "draw_ratio": 2.5}, {"name": "flat", "draw_ratio": 1.2}]
    station = tool("6 s", lower=touch(900.0), air=air(25.0, 10.0), regions=regions)
    given = mapped(
        WIDE, WIDE, "50 s", (3, 2), after=[station], tools={"mould": {"temperature": "40 degC"}},
        limits={"release_temperature": "300 degC", "release_difference": "200 K"},
    )  # fmt: skip
    result = run_case(given)
    process = process_of(given, tuple((spot, region) for region in (1, 0) for spot in range(6)))
    facts = facts_of_batch(follow_batch(process.course(edges_of(given, 48)), 12, 0.01))
    released = facts.final.max(axis=0).reshape(2, 6) - K
    apart = np.abs(facts.final[-1] - facts.final[0]).reshape(2, 6)
    table, held = fields(result), checks(result)
    assert table["map/release_temperature"].ravel() == pytest.approx(released[0], abs=0.1)
    assert table["regions/release_temperature"] == pytest.approx(released.max(axis=1)[::-1], abs=0.1)
    assert table["regions/thickness"] == pytest.approx([4.0 / 2.5, 4.0 / 1.2])
    assert held["release_temperature"].found == pytest.approx(released.max(), abs=0.1)
    assert held["release_difference"].found == pytest.approx(apart.max(), abs=0.1)
    worst = ("flat", "corner")[int(apart.argmax()) // 6]
    assert f"region {worst}" in held["release_difference"].where


def test_a_map_needs_a_size() -> None:
    with pytest.raises(CaseError, match="the size of the sheet is missing"):
        case(panels(PANEL, PANEL), sheet={"spots": [3, 2]})
