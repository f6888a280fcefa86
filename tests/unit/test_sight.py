"""What a face sees of its panels: against the enclosure itself, hand balances, and each case of a batch by itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sheets import BLANK, SIGMA, K, air, case, flat, many, panels, placed, plain, values

from thermokit.conduction.problem import Series
from thermokit.errors import CaseError
from thermokit.exchange.panel_reach import PanelReach, panel_reach
from thermokit.exchange.panel_zones import ZonedPanel
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.stations.sight import Sight, sight

TABLE = [["420 degC", "400 degC", "390 degC"], ["430 degC", "410 degC", "380 degC"]]
SHARES = [[0.6, 0.5, 0.4], [0.7, 0.55, 0.3]]
ZONED = placed(temperature=TABLE)
POWERED = placed(power=SHARES, installed="25 kW/m2")
HELD = placed(temperature=TABLE, installed="10 kW/m2")
MAINS = {"rated": "400 V", "actual": "380 V"}
WARMING = {"initial": "25 degC", "time_constant": "120 s"}
SERIES = {"temperature": {"time": ["0 s", "30 s"], "value": ["300 degC", "420 degC"]}}
UPPER = "stations.heat.upper"


def heated(upper: Any, blank: Any = BLANK, **more: Any) -> Any:
    return case(panels(upper, plain(), **more), sheet=blank)


def seen(given: Any, side: str = "upper", places: Any = "all") -> Sight:
    return sight(given.stations[0], side, process_of(given, places).view())


def enclosure(given: Any, walls: float = 0.0) -> PanelReach:
    """The enclosure of the upper panel, called directly with what the case says."""
    panel = given.stations[0].upper
    zoned = ZonedPanel(*panel.size, panel.gap, *panel.shape, panel.offset)
    at = process_of(given, "all").at
    return panel_reach(zoned, at.x, at.y, panel.emissivity, 0.93, walls, (0.6, 0.4))


def typical(given: Any) -> float:
    """Half-way between the stock at 20 degC and the middle of 127 and 182 degC."""
    return (20.0 + (127.0 + 182.0) / 2) / 2 + K


# -- what falls on the sheet -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("walls", [0.0, 0.7])
@pytest.mark.parametrize("face", [300.0, 420.0])
def test_the_face_of_every_spot_takes_what_the_enclosure_gives(walls: float, face: float) -> None:
    oven = {"surround": "90 degC", "reflectance": walls}
    given = heated(placed(temperature=TABLE, offset=["30 mm", "-20 mm"], emissivity=0.85), oven=oven)
    zones = np.array([420.0, 400.0, 390.0, 430.0, 410.0, 380.0]) + K
    wanted = enclosure(given, walls).net_flux(zones, face, 90.0 + K)
    radiation = process_of(given, "all").course([np.array([0.0, 1.0])]).spans[0].inner.radiation
    flux = sum(np.asarray(r.factor) * SIGMA * (np.asarray(r.temperature) ** 4 - face**4) for r in radiation)
    assert flux == pytest.approx(wanted, rel=1e-12)


def test_a_given_exchange_factor_is_all_there_is() -> None:
    given = heated(plain(400.0, 0.55, trim="10 K"))
    one = seen(given)
    assert (one.panel, one.hot, one.rest, one.view) == (0.55, pytest.approx(410.0 + K), 0.0, None)
    (radiation,) = process_of(given).course([np.array([0.0, 1.0])]).spans[0].inner.radiation
    assert radiation.factor == pytest.approx(0.55)  # the sheet's emissivity is in it already


def test_size_and_gap_over_a_sheet_of_unknown_size_is_the_two_surface_formula() -> None:
    """1/[(1 - e1)/e1 + 1/F + (1 - e2)/e2] with F of Howell B-3 and e1 (1 - F) to the rest, case by case."""
    given = heated(placed(temperature="420 degC"), blank={})
    gaps, emissivities = np.array([0.15, 0.10, 0.3]), np.array([0.9, 0.7, 0.8])
    whole, _ = many(given, {f"{UPPER}.gap": gaps, f"{UPPER}.emissivity": emissivities})
    radiation = whole.course([np.array([0.0, 1.0])]).spans[0].inner.radiation
    a, b = 0.35 / gaps, 0.25 / gaps
    u, v = np.sqrt(1 + a * a), np.sqrt(1 + b * b)
    view = 4.0 * (a / u * np.arctan(b / u) + b / v * np.arctan(a / v)) / (2 * np.pi)
    assert radiation[0].factor == pytest.approx(1 / (0.07 / 0.93 + 1 / view + (1 - emissivities) / emissivities))
    assert radiation[1].factor == pytest.approx(0.93 * (1 - view))


@pytest.mark.parametrize(("gap", "middle", "corner"), [(150.0, 0.82, 0.42), (100.0, 0.91, 0.53)])
def test_middle_and_corner_of_the_potting_tray(gap: float, middle: float, corner: float) -> None:
    """Hand values of a 600 x 400 blank under 700 x 500 mm; its corner itself is what a very fine map comes to."""
    given = heated(placed(gap, temperature="420 degC"), blank={**BLANK, "spots": [199, 199]})
    places = process_of(given, tuple((spot, 0) for spot in (199 * 99 + 99, 0)))
    view = sight(given.stations[0], "upper", places.view()).view
    assert view == pytest.approx([middle, corner], abs=0.01)


def test_a_side_without_a_panel_sees_the_oven() -> None:
    oven = {"surround": "90 degC", "behind": 0.4}
    given = case(panels(plain(), oven=oven), sheet=BLANK)
    course = process_of(given).course([np.array([0.0, 1.0])])
    (radiation,) = course.spans[0].outer.radiation
    assert (radiation.factor, radiation.temperature) == (pytest.approx(0.93), pytest.approx(90.0 + K))


# -- power -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dead", [[], [[1, 2]]])
def test_power_leaves_the_zones_that_are_set_by_it(dead: Any) -> None:
    """share x 25 kW/m2 x (380/400)^2 x (1 - 0.1) = radiation of the enclosure + h (T - air), zone by zone."""
    given = heated({**POWERED, "back_loss": 0.1, "dead": dead}, mains=MAINS)
    one = seen(given)
    power = np.ravel(SHARES) * 25e3 * 0.95**2 * 0.9
    if dead:
        power[1] = 0.0
    loss = enclosure(given).zone_loss(one.zones, typical(given), 60.0 + K) + 8.0 * (one.zones - 60.0 - K)
    assert loss == pytest.approx(power, rel=1e-9, abs=1e-5)
    if dead:
        assert 350.0 < one.zones[1] < np.delete(one.zones, 1).min()


def test_power_of_a_panel_of_given_exchange_by_hand() -> None:
    given = heated({"power": 0.5, "installed": "20 kW/m2", "exchange": 0.6})
    hot = float(seen(given).hot)  # type: ignore[arg-type]
    off = 0.6 * SIGMA * (hot**4 - typical(given) ** 4) + 8.0 * (hot - 60.0 - K)
    assert off == pytest.approx(10e3, rel=1e-9)


@pytest.mark.parametrize("upper", [POWERED, {"power": 0.6, "installed": "25 kW/m2", "exchange": 0.6}])
def test_an_open_loop_panel_loses_power_with_the_square_of_the_mains(upper: Any) -> None:
    full, low = (seen(heated(upper, mains={"rated": "400 V", "actual": f"{v} V"})) for v in (400, 340))
    assert low.power / full.power == pytest.approx(np.full(len(full.power), (340 / 400) ** 2), rel=1e-7)
    assert np.all(low.zones < full.zones - 20.0)


@pytest.mark.parametrize("upper", [HELD, plain(420.0, 0.6, installed="10 kW/m2")])
def test_a_controlled_panel_holds_until_its_power_runs_out(upper: Any) -> None:
    needed = float(np.max(seen(heated(upper, mains={"rated": "400 V", "actual": "4000 V"})).power))
    enough = 400.0 * np.sqrt(needed / 10e3)
    for volts, holds in ((1.001 * enough, True), (0.9 * enough, False)):
        one = seen(heated(upper, mains={"rated": "400 V", "actual": f"{volts} V"}))
        asked = np.ravel([420.0, 400.0, 390.0, 430.0, 410.0, 380.0] if upper is HELD else [420.0]) + K
        if holds:
            assert one.zones == pytest.approx(asked, abs=1e-6)
            assert np.all(one.held)
        else:
            assert not np.all(one.held)
            assert np.all(one.zones[~one.held] < asked[~one.held] - 1.0)
            assert one.power[~one.held] == pytest.approx(np.full(np.sum(~one.held), 10e3 * (volts / 400) ** 2))


def test_what_the_panels_draw() -> None:
    """Mean share x 25 kW/m2 x (380/400)^2 x 0.7 x 0.5 m each, for 60 s; the sheet takes up less than that."""
    found = values(run_case(case(panels({**POWERED, "back_loss": 0.1}, POWERED, mains=MAINS), sheet=BLANK)))
    drawn = np.mean(SHARES) * 25.0 * 0.95**2 * 0.35
    assert [found["heat_upper_power"], found["heat_lower_power"]] == pytest.approx([drawn, drawn])
    assert found["heater_energy"] == pytest.approx(2 * drawn * 60.0 / 3600.0)
    assert found["heater_power"] == pytest.approx(2 * drawn)
    assert 0.1 < found["heat_taken"] / found["heater_energy"] < 0.7


def test_a_panel_that_cannot_hold_is_told_of() -> None:
    warned = run_case(heated(plain(420.0, 0.6, installed="8 kW/m2"), blank={}, duration="1 s")).warnings
    assert any("1 of 1 zones of the upper panel cannot hold" in text for text in warned)


def test_a_table_of_times_has_no_power_that_bounds_it() -> None:
    with pytest.raises(CaseError, match=r"upper\.installed: stands together with a table of times"):
        heated({**SERIES, "exchange": 0.6, "installed": "10 kW/m2"})


# -- in time ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("upper", [placed(temperature="420 degC"), plain(420.0), ZONED, POWERED])
@pytest.mark.parametrize("initial", [25.0, 550.0, 400.0])
def test_warm_up_and_after_glow(upper: Any, initial: float) -> None:
    """Zones go as T + (T0 - T) exp(-t/120 s); the table lies within 0.2 K, or 0.05 % of the step, of what is then seen."""
    given = heated({**upper, "initial": f"{initial} degC", "time_constant": "120 s"})
    one, rest = seen(given), seen(heated(upper))
    assert isinstance(one.hot, Series)
    t = np.linspace(0.0, 900.0, 301)
    zones = rest.zones + (initial + K - rest.zones) * np.exp(-t[:, None] / 120.0)
    if "exchange" in upper:
        wanted = zones
    else:
        wanted = enclosure(given).seen_temperature(zones)
    table = flat(one.hot, wanted.shape[1])
    nodes = len(table) // 2
    curve = np.column_stack([np.interp(t, table[:nodes, i], table[nodes:, i]) for i in range(wanted.shape[1])])
    step = np.abs(initial + K - rest.zones).max()
    assert (
        np.abs(curve - wanted).max() <= max(0.2, 5e-4 * step) + 0.05
    )  # seen temperatures of zones are not quite linear


# -- many at once ----------------------------------------------------------------------------------------------------

GIVEN = {"power": 0.6, "installed": "25 kW/m2", "exchange": 0.6}
BATCHES = [
    ("zones", ZONED, {"trim": [0.0, -10.0, 15.0]}),
    ("zones", ZONED, {"gap": [0.15, 0.1, 0.2]}),
    ("zones", ZONED, {"emissivity": [0.9, 0.8, 0.7]}),
    ("zones", ZONED, {"size.0": [0.7, 0.8, 0.9], "offset.1": [0.0, 0.02, 0.02]}),
    ("zones", ZONED, {"trim": [0.0, -10.0, 15.0], "gap": [0.15, 0.1, 0.15]}),
    ("panel", plain(), {"temperature": [600.0, 650.0, 700.0], "exchange": [0.5, 0.6, 0.7]}),
    ("one zone", placed(temperature="420 degC"), {"temperature": [600.0, 650.0, 700.0]}),
    *[
        (name, upper, change)
        for name, upper in (("power", POWERED), ("power", GIVEN), ("held", HELD), ("held", plain(installed="9 kW/m2")))
        for change in (
            {"installed": [20e3, 15e3, 7e3]},
            {"back_loss": [0.0, 0.1, 0.3]},
            {"mains": [380.0, 400.0, 300.0]},
            {"air": [290.0, 330.0, 380.0]},
            {"sheet.start": [285.0, 300.0, 320.0]},
            {"limits.coldest_point": [390.0, 400.0, 420.0]},
            {"gap": [0.15, 0.1, 0.15], "installed": [20e3, 15e3, 9e3]},
        )
        if not ("gap" in change and "exchange" in upper)
    ],
    *[
        ("warming", {**upper, **WARMING}, change)
        for upper in (ZONED, POWERED, HELD, GIVEN, plain(), plain(installed="9 kW/m2"))
        for change in (
            {"initial": [290.0, 680.0, 750.0]},
            {"time_constant": [60.0, 120.0, 90.0]},
            {"time_constant": [60.0, 120.0, 90.0], "initial": [290.0, 680.0, 750.0], "gap": [0.15, 0.1, 0.2]},
            {"trim": [0.0, 10.0, -250.0]},
        )
        if not ("gap" in change and "exchange" in upper) and not ("trim" in change and "power" in upper)
    ],
    ("table", placed(**SERIES), {"trim": [0.0, 10.0, -20.0]}),
    ("table", placed(**SERIES), {"gap": [0.15, 0.1, 0.2]}),
    ("sheet", ZONED, {"sheet.emissivity": [0.9, 0.8, 0.7]}),
    ("sheet", ZONED, {"sheet.length": [0.6, 0.5, 0.4], "sheet.width": [0.4, 0.4, 0.3]}),
    ("oven", ZONED, {"oven.surround": [300.0, 350.0, 400.0], "oven.reflectance": [0.0, 0.3, 0.6]}),
]


def path(key: str) -> str:
    """The whole path of an input that is changed."""
    known = {"mains": "stations.heat.mains.actual", "air": "stations.heat.air.temperature"}
    first = key.split(".")[0]
    if key in known or first in ("sheet", "limits"):
        return known.get(key, key)
    return f"stations.heat.{key}" if first == "oven" else f"{UPPER}.{key}"


@pytest.mark.parametrize("places", [None, "all"])
@pytest.mark.parametrize(("name", "upper", "change"), BATCHES)
def test_each_case_of_a_batch_is_seen_as_by_itself(name: str, upper: Any, change: Any, places: Any) -> None:
    more: dict[str, Any] = {"oven": {"surround": "80 degC", "reflectance": 0.2}, "air": air()}
    if "installed" in upper:
        more["mains"] = MAINS
    given = heated(upper, **more)
    whole, singles = many(given, {path(key): value for key, value in change.items()}, places)
    m = singles[0].places()
    together = sight(whole.case.stations[0], "upper", whole.view())
    for i, process in enumerate(singles):
        alone = sight(process.case.stations[0], "upper", process.view())
        for entry in ("panel", "hot", "rest", "around", "view", "back"):
            if getattr(alone, entry) is None:
                assert getattr(together, entry) is None
                continue
            own, other = flat(getattr(together, entry), m * len(singles)), flat(getattr(alone, entry), m)
            assert own[..., i * m : (i + 1) * m] == pytest.approx(other, rel=1e-12, abs=1e-12), entry
