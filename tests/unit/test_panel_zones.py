"""Zones over a sheet: closed forms against rays thrown at random, the enclosure against its limits, closure, reciprocity."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from thermokit.exchange.gap_walls import element_views, exchange_area, rectangles, walls_of
from thermokit.exchange.panel_reach import PanelReach, panel_reach
from thermokit.exchange.panel_zones import ZonedPanel, mean_zone_views, spot_grid, zone_views
from thermokit.exchange.view_factors import exchange_factor_grey, view_element_rectangle, view_opposed_rectangles

SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018
PANEL = ZonedPanel(0.7, 0.5, 0.15, rows=2, columns=3, offset=(0.04, -0.03))
SHEET = (0.6, 0.4)


def lambert(rng: np.random.Generator, count: int) -> np.ndarray:
    """Directions of diffuse radiation leaving a plane, (count, 3), z away from it: sin^2 of the angle is uniform."""
    sine, turn = np.sqrt(rng.random(count)), 2.0 * np.pi * rng.random(count)
    return np.column_stack([sine * np.cos(turn), sine * np.sin(turn), np.sqrt(1.0 - sine**2)])


def within(found: np.ndarray, wanted: np.ndarray, count: int) -> None:
    """Shares counted over so many rays, within four and a half of their standard errors."""
    error = np.sqrt(np.maximum(wanted, 1.0 / count) / count)
    assert np.all(np.abs(found - wanted) <= 4.5 * error), np.max(np.abs(found - wanted) / error)


def zone_of(x: np.ndarray, y: np.ndarray, panel: ZonedPanel) -> np.ndarray:
    """Number of the zone over a place of the panel's plane, -1 beside the panel."""
    column = np.floor((x - panel.offset[0]) / panel.length * panel.columns + 0.5 * panel.columns).astype(int)
    row = np.floor((y - panel.offset[1]) / panel.width * panel.rows + 0.5 * panel.rows).astype(int)
    inside = (column >= 0) & (column < panel.columns) & (row >= 0) & (row < panel.rows)
    return np.where(inside, row * panel.columns + column, -1)


@pytest.mark.parametrize(
    ("gap", "middle", "corner"),
    # hand values for the corner of a 600 x 400 blank under a 700 x 500 panel, of which the middle sees most
    [(0.15, 0.82, 0.42), (0.10, 0.91, 0.53)],
)
def test_middle_and_corner_of_a_blank_under_its_panel(gap: float, middle: float, corner: float) -> None:
    seen = zone_views(ZonedPanel(0.7, 0.5, gap, 4, 6), [0.0, 0.3], [0.0, 0.2]).sum(axis=1)
    assert [round(float(f), 2) for f in seen] == [middle, corner]


@pytest.mark.parametrize("spot", [(0.0, 0.0), (0.28, 0.19), (0.5, -0.4)])
def test_zones_add_up_to_the_panel_and_each_is_the_integral_over_it(spot: tuple[float, float]) -> None:
    views = zone_views(PANEL, *spot)[0]
    whole = view_element_rectangle(0.7, 0.5, 0.15, spot[0] - 0.04, spot[1] + 0.03)
    assert views.sum() == pytest.approx(float(whole), abs=1e-14)
    edge_x, edge_y = PANEL.edges()
    z = PANEL.gap
    want = [
        dblquad(
            lambda y, x: z**2 / (math.pi * ((x - spot[0]) ** 2 + (y - spot[1]) ** 2 + z**2) ** 2),
            edge_x[column], edge_x[column + 1], edge_y[row], edge_y[row + 1], epsabs=1e-10,
        )[0]
        for row in range(2)
        for column in range(3)
    ]  # fmt: skip
    assert views == pytest.approx(want, abs=1e-9)


def test_views_of_a_spot_by_rays() -> None:
    count, spot = 400_000, (0.2, -0.1)
    d = lambert(np.random.default_rng(3), count)
    hit = zone_of(spot[0] + d[:, 0] / d[:, 2] * PANEL.gap, spot[1] + d[:, 1] / d[:, 2] * PANEL.gap, PANEL)
    found = np.bincount(hit[hit >= 0], minlength=PANEL.zones) / count
    within(found, zone_views(PANEL, *spot)[0], count)


def test_what_the_sheet_catches_of_each_zone_by_rays() -> None:
    rng, count = np.random.default_rng(5), 100_000
    caught = mean_zone_views(PANEL, [-0.3, 0.3], [-0.2, 0.2])[0] * SHEET[0] * SHEET[1] / PANEL.zone_area
    edge_x, edge_y = PANEL.edges()
    for zone in range(PANEL.zones):
        row, column = divmod(zone, PANEL.columns)
        d = lambert(rng, count)
        x = rng.uniform(edge_x[column], edge_x[column + 1], count) + d[:, 0] / d[:, 2] * PANEL.gap
        y = rng.uniform(edge_y[row], edge_y[row + 1], count) + d[:, 1] / d[:, 2] * PANEL.gap
        found = np.mean((np.abs(x) < 0.3) & (np.abs(y) < 0.2))
        within(np.array([found]), caught[zone : zone + 1], count)


def test_mean_views_are_the_means_of_the_spots() -> None:
    x, y, _ = spot_grid(0.1, 0.08, 240, 240)
    mean = zone_views(PANEL, x + 0.25, y - 0.1).mean(axis=0)
    assert mean_zone_views(PANEL, [0.2, 0.3], [-0.14, -0.06])[0] == pytest.approx(mean, abs=4e-7)
    squarely = mean_zone_views(ZonedPanel(0.6, 0.4, 0.15), [-0.3, 0.3], [-0.2, 0.2])[0, 0]
    assert squarely == pytest.approx(float(view_opposed_rectangles(0.6, 0.4, 0.15)), abs=1e-13)  # Howell C-11


@pytest.mark.parametrize("gap", [1e-4, 0.02, 0.15, 3.0])
def test_mean_views_keep_reciprocity_at_any_gap(gap: float) -> None:
    """Sheet to zone, and zone to sheet with the two exchanged: areas times views agree."""
    panel = ZonedPanel(0.7, 0.5, gap, 2, 3)
    forth = mean_zone_views(panel, [-0.3, 0.3], [-0.2, 0.2])[0] * 0.24
    back = mean_zone_views(ZonedPanel(0.6, 0.4, gap), *panel.edges())[:, 0] * panel.zone_area
    assert forth == pytest.approx(back, abs=1e-12)


def reach(
    walls: float = 0.0,
    panel_emissivity: float | np.ndarray = 0.85,
    sheet_emissivity: float = 0.9,
    spots: tuple[int, int] = (12, 8),
) -> tuple[PanelReach, float]:
    x, y, area = spot_grid(*SHEET, *spots)
    return panel_reach(PANEL, x, y, panel_emissivity, sheet_emissivity, walls, SHEET), area


@pytest.mark.parametrize("walls", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("emissivities", [(1.0, 1.0), (0.85, 0.9), (0.1, 0.2)])
def test_all_that_falls_on_a_spot_comes_from_somewhere(walls: float, emissivities: tuple[float, float]) -> None:
    r, _ = reach(walls, *emissivities)
    assert r.panel.sum(axis=1) + r.surround + r.sheet == pytest.approx(1.0, abs=1e-13)
    assert r.loss.sum(axis=1) + r.loss_sheet + r.loss_surround == pytest.approx(0.0, abs=1e-13)
    assert r.loss == pytest.approx(r.loss.T, abs=1e-13)
    assert np.all(r.panel >= 0.0) and np.all(r.surround >= -1e-15) and np.all(r.loss_sheet <= 0.0)
    same = np.full(PANEL.zones, 500.0)
    assert r.net_flux(same, 500.0, 500.0) == pytest.approx(0.0, abs=1e-9)
    assert r.zone_loss(same, 500.0, 500.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("walls", [0.0, 0.7, 1.0])
def test_what_zones_give_the_sheet_is_what_the_sheet_takes_from_them(walls: float) -> None:
    emissivity = np.array([0.9, 0.8, 0.7, 0.9, 0.5, 0.95])
    r, area = reach(walls, emissivity, 0.8, spots=(120, 80))
    taken = area * r.sheet_emissivity * r.panel.sum(axis=0)
    assert -PANEL.zone_area * r.loss_sheet == pytest.approx(taken, rel=1e-4)  # the spots' sum is a quadrature


def test_black_surfaces_see_each_other_and_no_more() -> None:
    r, _ = reach(0.0, 1.0, 1.0)
    assert r.panel == pytest.approx(r.views, abs=1e-15)
    assert r.surround == pytest.approx(1.0 - r.views.sum(axis=1), abs=1e-14)
    assert r.sheet == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(("one", "two"), [(0.9, 0.9), (0.2, 0.7), (1.0, 0.3)])
def test_wide_plates_exchange_as_the_textbooks_say(one: float, two: float) -> None:
    r = panel_reach(ZonedPanel(1e3, 1e3, 1e-3, 2, 2), 100.0, 100.0, one, two)
    assert r.factor[0] == pytest.approx(float(exchange_factor_grey(one, two)), abs=1e-5)
    if (one, two) == (0.2, 0.7):  # Cengel, example 13-7: 3625 W/m2 with sigma = 5.67e-8
        flux = r.net_flux(np.full(4, 800.0), 500.0, 300.0)[0]
        assert flux * 5.67e-8 / SIGMA == pytest.approx(3625.4, abs=0.5)


def test_two_plates_and_cold_openings_as_a_triangle_of_resistances() -> None:
    """Equal plates with black surroundings: the network of three nodes, view factor C-11 (means over the sheet)."""
    e1, e2, f = 0.8, 0.6, float(view_opposed_rectangles(0.6, 0.4, 0.15))
    x, y, _ = spot_grid(0.6, 0.4, 80, 60)
    r = panel_reach(ZonedPanel(0.6, 0.4, 0.15), x, y, e1, e2)
    # J = e E + (1 - e)(F J_other + (1 - F) E_0), with E_0 = 0, E_1 = 1, E_2 = 0
    j1 = e1 / (1.0 - (1.0 - e1) * (1.0 - e2) * f * f)
    # the network takes the radiosity of the sheet for even; here it is higher in the middle
    assert r.panel.sum(axis=1).mean() == pytest.approx(f * j1, rel=5e-3)
    assert r.loss[0, 0] == pytest.approx(e1 * (1.0 - (1.0 - e2) * f * f * j1), rel=0.01)


def follow(walls: float, count: int, seed: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Rays from zone 0 of a panel as large as its sheet until they are absorbed: shares by zone, by third of the sheet, rest.

    The gap is a box; all surfaces reflect diffusely.
    """
    panel, e_panel, e_sheet, (length, width, gap) = FOLLOWED, 0.7, 0.6, (0.6, 0.4, 0.15)
    rng = np.random.default_rng(seed)
    edge_x, edge_y = panel.edges()
    place = np.column_stack([rng.uniform(*edge_x[:2], count), rng.uniform(*edge_y[:2], count), np.full(count, gap)])
    normal = np.tile([0.0, 0.0, -1.0], (count, 1))
    by_zone, by_third, rest = np.zeros(panel.zones), np.zeros(3), 0
    while len(place):
        local = lambert(rng, len(place))
        first = np.where(np.abs(normal[:, :1]) > 0.5, [[0.0, 1.0, 0.0]], [[1.0, 0.0, 0.0]])
        second = np.cross(normal, first)
        d = local[:, :1] * first + local[:, 1:2] * second + local[:, 2:] * normal
        low, high = np.array([-length / 2, -width / 2, 0.0]), np.array([length / 2, width / 2, gap])
        with np.errstate(divide="ignore", invalid="ignore"):
            flight = np.where(d > 0, (high - place) / d, np.where(d < 0, (low - place) / d, np.inf))
        flight[np.abs(normal) > 0.5] = np.where(
            flight[np.abs(normal) > 0.5] < 1e-12, np.inf, flight[np.abs(normal) > 0.5]
        )
        wall = np.argmin(flight, axis=1)
        rows = np.arange(len(place))
        place = place + flight[rows, wall][:, None] * d
        up = d[rows, wall] > 0
        at_panel, at_sheet = (wall == 2) & up, (wall == 2) & ~up
        absorbed = rng.random(len(place)) < np.where(at_panel, e_panel, np.where(at_sheet, e_sheet, 1.0 - walls))
        hit = place[absorbed & at_panel]
        by_zone += np.bincount(np.clip(zone_of(hit[:, 0], hit[:, 1], panel), 0, None), minlength=panel.zones)
        third = np.clip(((place[absorbed & at_sheet, 0] / length + 0.5) * 3).astype(int), 0, 2)
        by_third += np.bincount(third, minlength=3)
        rest += int(np.sum(absorbed & (wall != 2)))
        place[rows, wall] = np.where(up, high[wall], low[wall])
        normal = np.zeros_like(place)
        normal[rows, wall] = np.where(up, -1.0, 1.0)
        place, normal = place[~absorbed], normal[~absorbed]
    return by_zone / count, by_third / count, rest / count


FOLLOWED = ZonedPanel(0.6, 0.4, 0.15, 2, 3)


def expected(walls: float) -> tuple[np.ndarray, np.ndarray, float]:
    """The same shares from the enclosure: what zone 0 sends to zones, to thirds of the sheet, to the walls."""
    x, y, area = spot_grid(0.6, 0.4, 90, 60)
    r = panel_reach(FOLLOWED, x, y, 0.7, 0.6, walls)
    sent = 0.7 * FOLLOWED.zone_area  # of each unit of E_0
    to_zones = -r.loss[0] * FOLLOWED.zone_area / sent
    to_zones[0] += 1.0  # what comes back to itself is no loss
    thirds = [0.6 * area * r.panel[(x > low) & (x < low + 0.2), 0].sum() / sent for low in (-0.3, -0.1, 0.1)]
    return to_zones, np.array(thirds), float(-r.loss_surround[0] * FOLLOWED.zone_area / sent)


def test_reflections_to_and_fro_by_rays() -> None:
    count = 200_000
    found, wanted = follow(0.0, count, 11), expected(0.0)
    within(found[0], wanted[0], count)
    within(found[1], wanted[1], count)
    within(np.array([found[2]]), np.array([wanted[2]]), count)


def test_reflecting_walls_by_rays() -> None:
    """Zones and pieces of wall send evenly over their area, which the rays do not: a hundredth of what is sent."""
    count = 200_000
    found, wanted = follow(0.9, count, 13), expected(0.9)
    assert found[0] == pytest.approx(wanted[0], abs=0.015)
    assert found[1] == pytest.approx(wanted[1], abs=0.006)
    assert found[2] == pytest.approx(wanted[2], abs=0.004)


@pytest.mark.parametrize("offset", [(0.0, 0.0), (0.3, -0.1)])
def test_the_box_round_panel_and_sheet_is_closed(offset: tuple[float, float]) -> None:
    """Every piece of wall, every spot and zone sees in all 1, also where panel and sheet leave parts of the ends free."""
    panel = ZonedPanel(0.7, 0.3, 0.15, 2, 3, offset)
    walls = walls_of(panel, *SHEET)
    parts = [
        rectangles(2, 0.0, np.array([-0.3, 0.3]), np.array([-0.2, 0.2])),
        rectangles(2, 0.15, *panel.edges()),
        *walls,
    ]
    for one in parts:
        seen = sum(exchange_area(one, two).sum(axis=1) for two in parts)
        assert seen == pytest.approx(one.area, rel=1e-12)
    ends = sum(wall.area.sum() for wall in walls if wall.axis == 2)
    spans = [
        max(0.3, offset[0] + 0.35) - min(-0.3, offset[0] - 0.35),
        max(0.2, offset[1] + 0.15) - min(-0.2, offset[1] - 0.15),
    ]
    assert ends == pytest.approx(2 * spans[0] * spans[1] - 0.24 - 0.21, rel=1e-12)
    x, y, _ = spot_grid(*SHEET, 7, 5)
    beside = sum(element_views(x, y, wall).sum(axis=1) for wall in walls)
    assert zone_views(panel, x, y).sum(axis=1) + beside == pytest.approx(1.0, abs=1e-12)


def test_views_at_right_angles_by_quadrature() -> None:
    """Of an element (Howell B-4) by its integral, of two rectangles (C-15) by the mean over elements."""
    wall = rectangles(0, 0.5, np.array([-0.1, 0.6]), np.array([0.05, 0.3]))
    d, y = 0.3, 0.2
    want = dblquad(
        lambda z, s: d * z / (math.pi * (d * d + (s - y) ** 2 + z * z) ** 2), -0.1, 0.6, 0.05, 0.3, epsabs=1e-12
    )[0]
    assert element_views(np.array([0.2]), np.array([y]), wall)[0, 0] == pytest.approx(want, abs=1e-10)
    nodes, weights = np.polynomial.legendre.leggauss(24)
    along, across = np.meshgrid(0.15 + 0.25 * nodes, 0.1 + 0.3 * nodes)
    elements = element_views(along.ravel(), across.ravel(), wall)[:, 0] @ np.outer(weights, weights).ravel() / 4.0
    floor = rectangles(2, 0.0, np.array([-0.1, 0.4]), np.array([-0.2, 0.4]))
    assert exchange_area(floor, wall)[0, 0] == pytest.approx(elements * 0.3, abs=1e-11)
    assert exchange_area(wall, floor)[0, 0] == pytest.approx(elements * 0.3, abs=1e-11)


def test_more_of_the_radiation_reaches_the_corner_between_reflecting_walls() -> None:
    """Reflectors are what evens out a blank (hand rule): nearer to one, the better they reflect."""
    shares = []
    for walls in (0.0, 0.5, 0.9, 1.0):
        r = panel_reach(ZonedPanel(0.7, 0.5, 0.15), [0.0, 0.3], [0.0, 0.2], 0.9, 0.9, walls, SHEET)
        shares.append(float(r.factor[1] / r.factor[0]))
    assert shares == sorted(shares) and shares[0] < 0.55 and shares[-1] > 0.85


def test_one_temperature_stands_for_the_zones_a_spot_sees() -> None:
    r, _ = reach(0.3)
    zones = np.array([700.0, 650.0, 600.0, 720.0, 680.0, 500.0])
    seen = r.seen_temperature(zones)
    by_one = r.factor * SIGMA * (seen**4 - 400.0**4) + r.surround_factor * SIGMA * (330.0**4 - 400.0**4)
    assert by_one == pytest.approx(r.net_flux(zones, 400.0, 330.0), rel=1e-12)
    assert r.seen_temperature(np.vstack([zones, zones]))[1] == pytest.approx(seen, rel=1e-15)
    assert r.seen_temperature(np.full(6, 640.0)) == pytest.approx(640.0, rel=1e-14)


def test_a_sheet_of_unknown_size_is_as_large_as_its_panel() -> None:
    panel = ZonedPanel(0.7, 0.5, 0.15)
    unknown, known = panel_reach(panel, 0.0, 0.0, 0.8, 0.7), panel_reach(panel, 0.0, 0.0, 0.8, 0.7, 0.0, (0.7, 0.5))
    assert unknown.panel == pytest.approx(known.panel, abs=1e-15)
    # the middle gets more than the mean, less than wide plates would
    assert 0.9 * unknown.views[0, 0] * 0.56 < unknown.factor[0] < float(exchange_factor_grey(0.8, 0.7))
