"""A shaped sheet: regions, faces by region, pressure and clamp, working time, marks, limits; against closed forms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from shaped import DOME, HOT, RHO_CP, THIN, TRAY, acrylic, blown, pressed, shaped, station
from sheets import checks, edges_of, fields, many, touch, transfer, values

from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes import process_of
from thermokit.processes.base import facts_of_batch
from thermokit.processes.run import failed, run_case
from thermokit.processes.sheet_places import MIDDLE
from thermokit.studies.window import Question, find_window

INCH, PSI = 0.0254, 6894.757293168361


def lumped(time: float, thickness: float, *sides: tuple[float, float], start: float = HOT) -> float:
    """Temperature of thin sheet [degC] after a time [s] between sides (coefficient, temperature); thickness [mm]."""
    whole = sum(h for h, _ in sides)
    end = sum(h * t for h, t in sides) / whole
    return end + (start - end) * math.exp(-whole * time / (RHO_CP * thickness * 1e-3))


# -- domes -------------------------------------------------------------------------------------------------------------


def test_eight_inch_hemisphere_blows_at_seven_to_eight_psi() -> None:
    """Fact of the trade. The library's modulus was set by it (1/4 inch taken), so this holds the whole line together only."""
    part = {"shape": "dome", "ring": f"{8 * INCH} m", "height": f"{4 * INCH} m"}
    found = values(run_case(acrylic("free_blowing", [station()], part)))
    assert 7.0 < found["blowing_pressure"] * 1e5 / PSI < 8.0
    # a hemisphere of any rubber carries pressure in proportion to thickness over radius
    thick = values(run_case(acrylic("free_blowing", [station()], part, thickness=12.7)))
    assert thick["blowing_pressure"] == pytest.approx(2 * found["blowing_pressure"], rel=1e-9)


def test_dome_thins_as_a_rubber_and_keeps_its_volume() -> None:
    result = run_case(blown(part=DOME | {"height": "100 mm"}))
    found, field = values(result), fields(result)
    # hemisphere of neo-Hookean rubber: 0.30 of the blank at the pole, 0.25 by the hand formula of the cap, always above it
    assert 0.25 * THIN < found["thinnest_place"] < 0.33 * THIN
    r, z, t = (field[f"shaping/meridian_{w}"] if w != "r" else None for w in ("r", "height", "thickness"))
    r = next(f for f in result.fields if f.name == "shaping/meridian_height").axes[0].values
    strip = 2 * np.pi * (r[1:] + r[:-1]) / 2 * np.hypot(np.diff(r), np.diff(z)) * (t[1:] + t[:-1]) / 2
    assert strip.sum() == pytest.approx(np.pi * 100.0**2 * THIN, rel=2e-3)
    # Archimedes: the cap of that height has twice the area of its ring; a rubber dome is a little fuller
    assert found["mean_thickness"] == pytest.approx(THIN / 2, rel=0.08)


def test_thin_regions_cool_by_their_own_thickness() -> None:
    result = run_case(blown())
    field = fields(result)
    for thickness, release in zip(field["shaping/thickness"], field["regions/release_temperature"], strict=True):
        assert release == pytest.approx(lumped(20.0, thickness, (80.0, 25.0)), abs=0.4)
    assert values(result)["crown_difference"] == pytest.approx(np.ptp(field["regions/release_temperature"]), abs=0.3)


def test_a_jet_cools_the_crown_on_the_side_that_it_meets() -> None:
    field = fields(run_case(blown({"jet": 3.0})))
    thickness, release = field["shaping/thickness"], field["regions/release_temperature"]
    assert release[0] == pytest.approx(lumped(20.0, thickness[0], (40.0, 25.0), (120.0, 25.0)), abs=0.4)
    assert release[2] == pytest.approx(lumped(20.0, thickness[2], (80.0, 25.0)), abs=0.4)


def test_crown_difference_is_a_limit_where_it_is_asked_for() -> None:
    check = checks(run_case(blown({"crown_difference": "5 K", "jet": 3.0})))["crown_difference"]
    assert not check.met and check.found > 5.0


# -- pressure and clamp ------------------------------------------------------------------------------------------------


def test_pressure_times_area_against_the_rating() -> None:
    result = run_case(acrylic("free_blowing", [station()], DOME, {"clamp": "25 kN", "volume": "10 L"}))
    found = values(result)
    force = found["shaping_pressure"] * 1e5 * np.pi * 0.1**2
    assert found["clamp_force"] * 1e3 == pytest.approx(force, rel=1e-9)
    assert found["clamp_share"] == pytest.approx(force / 25e3, rel=1e-9)
    assert not failed(result) and any("of the clamp's rating" in text for text in result.remarks)
    # work of the air that expands without heat: integral of (p - p0) dV, p V^1.4 constant, until it has p0
    volume = 10e-3 + np.pi * 0.06 * (3 * 0.1**2 + 0.06**2) / 6
    p0, p = 101325.0, 101325.0 + found["shaping_pressure"] * 1e5
    last = volume * (p / p0) ** (1 / 1.4)
    whole = quad(lambda v: p * (volume / v) ** 1.4, volume, last)[0]
    assert found["stored_energy"] * 1e3 == pytest.approx(whole, rel=0.03)  # the dome is a little fuller than the cap


def test_what_a_tool_must_pull_is_held_against_the_clamp() -> None:
    tools = {"mould": {"temperature": "60 degC"}}
    made = [station("tool", upper=touch(150.0, share=0.1))]
    result = run_case(
        acrylic("skeleton_press", made, TRAY, {"clamp": "20 kN", "modulus": "0.5 MPa"}, thickness=3.0, tools=tools)
    )
    # rubber stretched along the four walls: U G (A^2 - A^-2) h0/A, A the blank over the wall's thickness
    wall = dict(zip(("flat", "wall", "rib"), fields(result)["shaping/thickness"], strict=True))["wall"]
    ratio = 3.0 / wall
    force = 2 * (0.2 + 0.1) * 0.5e6 * (ratio**2 - ratio**-2) * wall * 1e-3
    assert values(result)["clamp_force"] * 1e3 == pytest.approx(force, rel=1e-6)
    assert any("kN" in text and "clamp's rating" in text for text in result.remarks)
    weak = run_case(
        acrylic("skeleton_press", made, TRAY, {"clamp": "0.5 kN", "modulus": "0.5 MPa"}, thickness=3.0, tools=tools)
    )
    assert failed(weak)


def test_its_own_weight_draws_no_tray() -> None:
    tools = {"mould": {"temperature": "60 degC"}}
    made = [station("tool", lower=touch(150.0, share=0.1))]
    drawn = run_case(acrylic("drape", made, TRAY, thickness=3.0, tools=tools))
    # 1150 kg/m3 x 9.81 x 3 mm is some 34 Pa
    (text,) = [text for text in drawn.remarks if "own weight" in text]
    assert "34 Pa" in text or "35 Pa" in text
    bent = run_case(
        acrylic("drape", made, {"shape": "panel", "length": "200 mm", "width": "100 mm"}, thickness=3.0, tools=tools)
    )
    assert not any("own weight" in text for text in bent.remarks)
    assert any("what opens the frame" in text for text in bent.remarks)


@pytest.mark.parametrize(("share", "stops"), [(0.59, False), (0.61, True)])
def test_more_than_sixty_percent_of_the_rating_stops(share: float, stops: bool) -> None:
    force = values(run_case(acrylic("free_blowing", [station()], DOME)))["clamp_force"]
    result = run_case(acrylic("free_blowing", [station()], DOME, {"clamp": f"{force / share} kN"}))
    assert failed(result) == stops == ("stop" in result.study)
    if stops:
        assert "STOP: the clamp may open" in result.study["stop"]["why"] and "61 %" in result.study["stop"]["why"]


def test_without_a_rating_force_is_still_printed() -> None:
    result = run_case(acrylic("free_blowing", [station()], DOME))
    assert any("kN" in text and "rating of the clamp is not given" in text for text in result.remarks)
    assert any("never unclamp" in text for text in result.cautions)
    assert any("relief valve" in text and "screen" in text for text in result.cautions)


def test_past_the_limit_point_the_dome_bursts() -> None:
    most = values(run_case(acrylic("free_blowing", [station()], DOME)))["bursting_pressure"]
    shaping = {"stop": "pressure", "pressure": f"{1.05 * most} bar"}
    result = run_case(acrylic("free_blowing", [station()], DOME, shaping))
    assert failed(result) and "limit point" in result.study["stop"]["why"]
    assert "stop by height" in " ".join(result.study["stop"]["remedies"])
    # well below it stands, at the height that its pressure gives and not at the trip's
    quiet = run_case(acrylic("free_blowing", [station()], DOME, shaping | {"pressure": f"{0.5 * most} bar"}))
    assert not failed(quiet)
    assert values(quiet)["blowing_pressure"] == pytest.approx(0.5 * most, rel=0.02)


def test_a_draw_beyond_what_the_sheet_gives_stops() -> None:
    deep = TRAY | {"depth": "90 mm", "corner": "5 mm"}
    result = run_case(pressed("vacuum_female", {"greatest_draw": 5.0}, deep, share=None))
    assert failed(result) and "it tears" in result.study["stop"]["why"]
    assert not checks(result)["least_thickness"].met


# -- faces by region ---------------------------------------------------------------------------------------------------


def test_ribs_touch_and_the_web_hangs_in_the_air() -> None:
    field = fields(run_case(pressed()))
    thickness, release = field["shaping/thickness"], field["regions/release_temperature"]
    for i, side in enumerate([(40.0, 25.0), (40.0, 25.0), (150.0, 60.0)]):
        assert release[i] == pytest.approx(lumped(20.0, thickness[i], side, (40.0, 25.0)), abs=1.0)
    assert list(field["shaping/touched"]) == [0.0, 0.0, 1.0]


def test_all_places_of_a_batch_are_those_of_single_runs() -> None:
    given = pressed()
    places = tuple((MIDDLE, i) for i in range(3))
    whole, singles = many(given, {"sheet.thickness": [0.8e-3, 1.3e-3]}, places)
    edges = edges_of(given)
    together = facts_of_batch(follow_batch(whole.course(edges), 6, 1e-3))
    for i, one in enumerate(singles):
        apart = facts_of_batch(follow_batch(one.course(edges), 3, 1e-3))
        np.testing.assert_allclose(together.final[:, 3 * i : 3 * i + 3], apart.final, atol=0.05)


def test_contact_grows_with_pressure() -> None:
    plain = shaped("blow_into_mould", [station("tool", upper=touch(150.0 * 3.5**0.95))], DOME,
                   tools={"mould": {"temperature": "60 degC"}})  # fmt: skip
    grown = shaped("blow_into_mould", [station("tool", upper=touch(150.0))], DOME,
                   {"pressure": "3.5 bar", "contact_pressure": "1 bar"}, tools={"mould": {"temperature": "60 degC"}})  # fmt: skip
    np.testing.assert_allclose(
        fields(run_case(grown))["regions/release_temperature"],
        fields(run_case(plain))["regions/release_temperature"],
        atol=1e-6,
    )


def test_trapped_air_delays_the_pole_and_is_said() -> None:
    def made(vents: bool) -> Any:
        return run_case(shaped("blow_into_mould", [station("tool", duration="5 s", upper=touch(150.0))], DOME,
                               {"vents": vents}, tools={"mould": {"temperature": "60 degC"}}))  # fmt: skip

    with_vents, without = made(True), made(False)
    hot = [fields(result)["regions/release_temperature"] for result in (with_vents, without)]
    assert hot[1][0] > hot[0][0] + 10.0 and hot[1][2] == pytest.approx(hot[0][2], abs=1e-6)
    assert any("no vents" in text and "0.5 mm" in text for text in without.remarks)


def test_the_crown_arrives_at_the_mould_after_the_rim() -> None:
    result = run_case(shaped("blow_into_mould", [station("tool", duration="6 s", upper=touch(150.0))], DOME,
                             {"fills_in": "4 s"}, tools={"mould": {"temperature": "60 degC"}}))  # fmt: skip
    field = fields(result)
    thickness, release = field["shaping/thickness"], field["regions/release_temperature"]
    on = [(150.0, 60.0), (40.0, 25.0)]
    for i, late in ((0, 4.0), (1, 2.0), (2, 0.0)):  # crown, middle, ring: in the air until they arrive
        before = lumped(late, thickness[i], (80.0, 25.0))
        assert release[i] == pytest.approx(lumped(6.0 - late, thickness[i], *on, start=before), abs=1.0)


def test_trapped_air_keeps_the_crown_away_three_times_as_long() -> None:
    def at(vents: bool, fills: float) -> Any:
        given = shaped("blow_into_mould", [station("tool", duration="5 s", upper=touch(150.0))], DOME,
                       {"fills_in": f"{fills} s", "vents": vents}, tools={"mould": {"temperature": "60 degC"}})  # fmt: skip
        return fields(run_case(given))["regions/release_temperature"]

    # it has not arrived at all: as in the air
    trapped = at(False, 2.0)[0]
    thickness = fields(run_case(blown()))["shaping/thickness"][0]
    assert trapped == pytest.approx(lumped(5.0, thickness, (80.0, 25.0)), abs=0.5)
    assert at(True, 2.0)[0] < trapped - 10.0


def test_a_clear_face_must_not_be_touched_hot() -> None:
    tools = {"mould": {"temperature": "60 degC"}}
    made = [station("tool", upper=touch(150.0, share=0.1))]
    touched = run_case(acrylic("skeleton_press", made, TRAY | {"clear_face": "upper"}, tools=tools))
    check = checks(touched)["clear_face"]
    assert not check.met and "at most 100" in check.required  # glass transition of cast acrylic 110 degC, less 10 K
    assert check.found == pytest.approx(160.0, abs=1e-6)
    free = run_case(acrylic("skeleton_press", made, TRAY | {"clear_face": "lower"}, tools=tools))
    assert "clear_face" not in checks(free)
    assert any("upper face" in text and "MARKED, 50 K above" in text for text in free.remarks)


def snap(bubble: str) -> Any:
    stations = [
        station(name="bubble", duration=bubble),
        station("tool", "skeleton", "60 s", lower=touch(150.0, share=0.1)),
    ]
    return acrylic("snap_back", stations, DOME, {"at": "bubble", "depth": "70 mm"}, thickness=3.0,
                   tools={"mould": {"temperature": "60 degC"}})  # fmt: skip


def test_the_vacuum_is_released_while_the_coldest_layer_is_rubbery() -> None:
    early, late = (checks(run_case(snap(time)))["vacuum_release"] for time in ("5 s", "40 s"))
    assert early.met and not late.met
    assert "at least 130" in early.required  # 110 degC and 20 K
    assert early.when == pytest.approx(5.0)


def test_a_bubble_that_snaps_back_thickens_again() -> None:
    result = run_case(snap("5 s"))
    deep = run_case(acrylic("free_blowing", [station()], DOME | {"height": "70 mm"}, thickness=3.0))
    flat = run_case(acrylic("free_blowing", [station()], DOME, thickness=3.0))
    assert values(result)["thinnest_place"] == pytest.approx(values(flat)["thinnest_place"], rel=1e-9)
    assert values(result)["thinnest_place"] > values(deep)["thinnest_place"]
    assert result.history.heat.mismatch < 1e-9


def test_a_tool_hotter_than_the_release_temperature_never_releases() -> None:
    for given in (
        pressed("matched_press", share=None, tools={"mould": {"temperature": "120 degC"}}),
        pressed(tools={"mould": {"temperature": "130 degC"}}),
    ):
        result = run_case(given)
        assert any("however long" in text and "cool the tool" in text for text in result.warnings), result.warnings


def matched(material: str) -> Any:
    """Two tools of a library material, with bodies."""
    body = {"material": material, "thickness": "30 mm", "start": "30 degC"}
    return pressed("matched_press", share=None, tools={"mould": body})


def test_wooden_tools_cool_slower_than_metal_ones_and_touch_hotter() -> None:
    found = {name: values(run_case(matched(name))) for name in ("aluminium_cast", "phenolic_laminate", "hardwood")}
    released = [found[name]["upper_face_at_release"] for name in ("aluminium_cast", "phenolic_laminate", "hardwood")]
    assert released == sorted(released) and released[-1] > released[0] + 3.0
    touch_ = [found[name]["upper_touch_temperature"] for name in ("aluminium_cast", "phenolic_laminate", "hardwood")]
    # (e1 T1 + e2 T2)/(e1 + e2): sheet sqrt(2 x 1.5e6), aluminium about sqrt(160 x 2.4e6) with data of handbooks
    sheet, metal = math.sqrt(2.0 * RHO_CP), math.sqrt(160.0 * 2700.0 * 900.0)
    assert touch_[0] == pytest.approx((sheet * HOT + metal * 30.0) / (sheet + metal), abs=2.0)
    assert touch_ == sorted(touch_)


# -- times and sizes -----------------------------------------------------------------------------------------------------


def test_working_time_of_thin_sheet_in_the_air() -> None:
    given = blown(stations=[transfer("3 s"), station()], sheet={"emissivity": 1e-6})
    # t = rho cp L/(2 h) ln[(T0 - Ta)/(T - Ta)]
    by_hand = RHO_CP * THIN * 1e-3 / 20.0 * math.log((HOT - 25.0) / (127.0 - 25.0))
    found = values(run_case(given))
    assert found["working_time"] == pytest.approx(by_hand, rel=0.01)
    late = run_case(blown(stations=[transfer("30 s"), station()], sheet={"emissivity": 1e-6}))
    assert any("LATE" in text for text in late.remarks)


def test_when_it_has_set_and_how_far_faces_and_core_are_apart() -> None:
    # a plate far into its cooling, both faces alike: hottest less coldest = h L (T - Ta)/(4 k) of the parabola, nearly
    given = acrylic(
        "free_blowing", [station(duration="800 s", coefficient=20.0)], DOME | {"height": "2 mm"}, thickness=6.0
    )
    found = values(run_case(given))
    flux = 20.0 * (110.0 - 25.0) * 0.93  # the face is a little colder than the middle
    assert found["face_core_at_setting"] == pytest.approx(flux * 6e-3 / (4 * 0.20), rel=0.12)
    # rho cp L/(2 h) (1 + h L/(6 k)) ln[...] for the mean, which is q L/(12 k) below the middle that sets last
    mean = 110.0 - flux * 6e-3 / (12 * 0.20)
    lump = 1175.0 * 2000.0 * 6e-3 / 40.0 * math.log((160.0 - 25.0) / (mean - 25.0))
    assert found["setting_time"] == pytest.approx(lump * (1 + 20.0 * 6e-3 / (6 * 0.20)), rel=0.1)


def test_blank_and_cold_size() -> None:
    found = values(run_case(acrylic("free_blowing", [station(duration="600 s")], DOME, {"margin": "30 mm"})))
    assert found["blank_diameter"] == pytest.approx((200 + 2 * 30) / 0.98, rel=1e-9)  # cast acrylic shrinks by 2 %
    slipped = values(run_case(pressed(shaping={"slip": 0.5, "margin": "0 mm"})))
    # what slips in is half of the area that the walls add, spread over the rim
    fed = 0.5 * 2 * 30 * (200 + 100) / (2 * (200 + 100))
    assert slipped["blank_length"] == pytest.approx(200 + 2 * fed, rel=1e-9)
    # linear expansion of acrylic 5e-5 to 9e-5 1/K (handbooks) from release to 23 degC
    hot = values(run_case(acrylic("free_blowing", [station(duration="120 s")], DOME)))
    rise = hot["upper_face_at_release"] - 23.0
    assert 5e-5 * rise < hot["contraction"] / 100.0 < 9e-5 * 1.3 * rise


def test_a_measured_map_goes_before_the_bands() -> None:
    result = run_case(pressed("vacuum_female", {"measured": {"corner": "0.4 mm", "wall": "0.7 mm"}}, share=None))
    thickness = dict(zip(("flat", "wall", "corner"), fields(result)["shaping/thickness"], strict=True))
    assert (thickness["wall"], thickness["corner"]) == (pytest.approx(0.7), pytest.approx(0.4))
    assert any("the corner keeps 40 % of the blank" in text for text in result.remarks)


def test_hold_is_found_for_the_thickest_region() -> None:
    given = blown(stations=[station(duration={"find": ["1 s", "300 s"]})])
    window = find_window(Question(given, "stations.hold.duration", edges_of(given), 0.01), 1.0, 300.0)
    thickest = max(fields(run_case(blown()))["shaping/thickness"])
    by_hand = RHO_CP * thickest * 1e-3 / 80.0 * math.log((HOT - 25.0) / (90.0 - 25.0))
    assert window.earliest == pytest.approx(by_hand, rel=0.03)
    assert window.earliest_limit == "release_temperature"


def test_regions_are_annealed_after_the_release_without_being_drawn_again() -> None:
    after = station(name="anneal", duration="2 h", air={"temperature": "80 degC", "coefficient": "20 W/m2/K"})
    given = blown({"at": "hold", "release": "hold"}, stations=[station(duration="60 s"), after])
    result, plain = run_case(given), run_case(blown(stations=[station(duration="60 s")]))
    assert values(result)["release_time"] == 60.0
    for name in ("shaping/thickness", "regions/release_temperature"):
        np.testing.assert_allclose(fields(result)[name], fields(plain)[name], atol=0.05)
    assert result.history.outer_face[-1] == pytest.approx(353.15, abs=0.1)


def test_the_oven_is_found_for_a_shaped_sheet() -> None:
    oven = {"name": "oven", "kind": "air", "duration": {"find": ["10 s", "2000 s"]}, "emissivity": 0.0,
            "air": {"temperature": "160 degC", "coefficient": "40 W/m2/K"}}  # fmt: skip
    given = blown(stations=[oven, station(duration="300 s")], shaping={"at": "hold"}, sheet={"start": "20 degC"})
    window = find_window(Question(given, "stations.oven.duration", edges_of(given), 0.01), 10.0, 2000.0)
    by_hand = RHO_CP * THIN * 1e-3 / 80.0 * math.log((160.0 - 20.0) / (160.0 - 127.0))
    assert window.earliest == pytest.approx(by_hand, rel=0.02)
    assert window.earliest_limit == "coldest_point"


def test_without_shaping_nothing_changes() -> None:
    given = blown().with_values({})
    assert process_of(given).plan is not None
    from sheets import case

    assert process_of(case(station())).plan is None


# -- annealing and drying --------------------------------------------------------------------------------------------------


def test_slow_cooling_stands_in_the_exact_parabola() -> None:
    slow = station(name="cool", duration="4000 s", coefficient=1e5, ends_at="50 degC", air={
        "temperature": "90 degC", "coefficient": "1e5 W/m2/K"})  # fmt: skip
    from sheets import case

    found = values(
        run_case(case(slow, sheet={"thickness": "20 mm", "start": "90 degC"}, limits={"coldest_point": "20 degC"}))
    )
    # q L^2/(8 a), Carslaw and Jaeger
    a = 0.18 / (1050.0 * 1900.0)
    assert found["face_core_difference"] == pytest.approx(40.0 / 4000.0 * 0.02**2 / (8 * a), rel=5e-3)


@pytest.mark.parametrize(("hours", "word"), [(5, "enough"), (2, "TOO SHORT")])
def test_drying_is_held_against_the_record(hours: int, word: str) -> None:
    from sheets import case

    sheet = {"material": "pmma_cast", "thickness": "3 mm"}
    dryer = station(name="dry", duration=f"{hours} h", air={"temperature": "80 degC", "coefficient": "15 W/m2/K"})
    result = run_case(case(dryer, sheet=sheet, limits={"coldest_point": "60 degC"}))
    assert any("drying temperature" in text and word in text for text in result.remarks)
    assert any("moisture" in text for text in result.warnings) == (word == "TOO SHORT")
