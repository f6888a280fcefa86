"""Cautions: each printed when it should be, and not when it should not; the text that defers to local codes comes last.

Bounds are those of the trade: 60 degC for metal and 70 degC for plastic, 205 degC and 0.3 of the heat life for PVC, 100 degC for
water, 145 degC for styrene, 60 % of a clamp's rating (common practice, no source).
"""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "files"))
sys.path.insert(0, str(Path(__file__).parent))

import line_cases
from exact_results import sheet_result

from thermokit.case import KINDS, parse_case, template
from thermokit.conduction.history import Extreme
from thermokit.processes import cautions, cautions_kinds, cautions_run, direct_of, process_of
from thermokit.results.model import Axis, Field, LimitCheck, Outcome

ZERO = 273.15
TEXTS = [
    text
    for name, value in vars(cautions).items()
    if name.isupper() and isinstance(value, (str, tuple)) and name != "WARM_WATER"
    for text in ((value,) if isinstance(value, str) else value)
]


def told(text: str, **values: Any) -> list[str]:
    """Cautions of a case as its process gives them; values : path -> value in SI, with __ for the points."""
    case = parse_case(text)
    case = case.with_values({path.replace("__", "."): value for path, value in values.items()})
    process = direct_of(case) or process_of(case)
    found = process.cautions()
    assert found[-1] == cautions.DEFERENCE
    assert len(set(found)) == len(found)
    return found


# -- those of the process ----------------------------------------------------------------------------------------------------

ALWAYS = {
    "body": (cautions.HOT_SURFACE, cautions.DEFERENCE),
    "section": (cautions.HOT_SURFACE,),
    "sheet": (
        cautions.RADIANT, cautions.CUT_OUT, cautions.SAGGING_ON_ELEMENTS, cautions.HOT_SURFACE, cautions.CLAMP, cautions.FUME,
    ),
    "charge": (
        cautions.REACTING, cautions.OPENING, cautions.PRESS, cautions.CURE_FUME, cautions.DUST, cautions.PEROXIDE,
        cautions.CUT_OUT, cautions.HOT_SURFACE,
    ),
    "dip": (cautions.HOT_SURFACE, cautions.PASTE, cautions.OVEN_VAPOUR, cautions.CUT_OUT),
    "mill": (cautions.MILL_NIP, *cautions.OILS_AND_FUME, cautions.CUT_OUT, cautions.DUST),
    "cylinder": (*cautions.CYLINDER, cautions.CUT_OUT, cautions.DUST),
    "mould": (cautions.MELT, cautions.OPEN_MOULD, cautions.HOT_PARTS, cautions.HOT_SURFACE, cautions.CUT_OUT),
    "line": (cautions.NIPS, cautions.HOT_ROLLS, cautions.CUT_OUT, cautions.LINE_FUME),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_those_of_the_process_are_always_told(kind: str) -> None:
    found = told(template(kind))
    for text in ALWAYS[kind]:
        assert text in found, text


def test_every_standard_is_one_of_the_trade_and_is_named() -> None:
    """Numbers as the trade's list of alarms has them; nothing else may stand in a text."""
    named = {hit for text in TEXTS for hit in re.findall(r"(?:ISO|IEC|EN|NFPA)\s[\d-]+\d", text)}
    assert named == set(cautions.STANDARDS)
    for standard in (
        "ISO 13732-1",
        "IEC 60519-1",
        "EN 289",
        "EN 12409",
        "ISO 20430",
        "EN 1114-1",
        "EN 12301",
        "EN 1539",
    ):
        assert standard in named


def test_texts_are_sentences_that_never_advise_defeating_a_guard() -> None:
    for text in TEXTS:
        assert text[0].isupper() and text[-1] == ".", text
        assert "bypass" not in text.lower()


AIR_ONLY = """
process = "sheet"
[sheet]
material = "abs"
thickness = "4 mm"
start = "20 degC"
[[stations]]
kind = "air"
duration = "60 s"
air = { temperature = "80 degC", coefficient = "20 W/m2/K" }
"""


def test_panels_bring_the_cautions_of_fire() -> None:
    found = told(AIR_ONLY)
    assert cautions.RADIANT not in found
    assert cautions.SAGGING_ON_ELEMENTS not in found
    assert cautions.CLAMP in found


def test_glowing_elements_are_not_to_be_looked_into() -> None:
    assert cautions.EYES not in told(template("sheet"))
    assert cautions.EYES in told(template("sheet"), stations__heat__upper__temperature=700.0 + ZERO)


def test_a_charge_that_comes_cold_was_not_preheated() -> None:
    assert cautions.HIGH_FREQUENCY in told(template("charge"), charge__start=95.0 + ZERO)
    assert cautions.HIGH_FREQUENCY not in told(template("charge"), charge__start=23.0 + ZERO)


def test_a_post_bake_wants_ventilation() -> None:
    baked = (
        template("charge")
        + '\n[[stations]]\nkind = "post_bake"\nduration = "1 h"\nair = { temperature = "150 degC" }\n'
    )
    assert cautions.POST_BAKE not in told(template("charge"))
    assert cautions.POST_BAKE in told(baked)


def test_an_oven_above_205_degc_makes_hydrogen_chloride() -> None:
    assert cautions.HYDROGEN_CHLORIDE not in told(template("dip"), stations__fuse__temperature=200.0 + ZERO)
    assert cautions.HYDROGEN_CHLORIDE in told(template("dip"), stations__fuse__temperature=210.0 + ZERO)


@pytest.mark.parametrize(("water", "warns"), [(15.0, False), (30.0, True), (60.0, False)])
def test_legionella_grow_in_warm_water_only(water: float, warns: bool) -> None:
    found = told(template("dip"), stations__quench__temperature=water + ZERO)
    assert (cautions.LEGIONELLA in found) is warns


def test_coolant_above_100_degc_is_under_pressure() -> None:
    assert cautions.STEAM not in told(template("mould"), circuits__cavity__temperature=95.0 + ZERO)
    assert cautions.STEAM in told(template("mould"), circuits__cavity__temperature=120.0 + ZERO)


def test_what_a_line_is_made_of_says_what_to_take_care_of() -> None:
    web, cloth = told(line_cases.WEB), told(line_cases.CLOTH)
    assert cautions.LAMPS in cloth and cautions.EYES in cloth
    assert not {cautions.LAMPS, cautions.EYES, cautions.WATER, cautions.EXTRUDER, cautions.PIPE, cautions.WIRE} & set(
        web
    )
    pipe, wire = told(line_cases.TUBE), told(line_cases.WIRE)
    assert {cautions.EXTRUDER, cautions.START_UP, cautions.PIPE, cautions.WATER} <= set(pipe)
    assert {cautions.EXTRUDER, cautions.START_UP, cautions.WIRE, cautions.WATER} <= set(wire)
    assert cautions.WIRE not in pipe and cautions.PIPE not in wire
    assert cautions.NIPS not in pipe
    assert cautions.OVEN_VAPOUR in cloth and cautions.OVEN_VAPOUR not in pipe


def test_a_body_that_reacts_and_one_that_stays_cool() -> None:
    cool = """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "abs"
thickness = "4 mm"
[[stations]]
duration = "10 s"
inner = { convection = { air = "AIR", coefficient = "10 W/m2/K" } }
"""
    assert cautions.HOT_SURFACE not in told(cool.replace("AIR", "40 degC"))
    assert cautions.HOT_SURFACE in told(cool.replace("AIR", "80 degC"))
    assert cautions.REACTING not in told(cool.replace("AIR", "80 degC"))
    reacts = cool.replace('material = "abs"', 'material = "pf_compound"\nkinetics = ["pf_compound_cure"]')
    names = [path.stem for path in (Path(cautions.__file__).parents[1] / "kinetics" / "data").glob("p*.toml")]
    cure = next(name for name in names if name.startswith("pf"))
    found = told(reacts.replace("pf_compound_cure", cure).replace("AIR", "150 degC"))
    assert {cautions.REACTING, cautions.PEROXIDE} <= set(found)


# -- those that the run calls for --------------------------------------------------------------------------------------------


def ran(
    kind: str = "sheet",
    outcomes: dict[str, float] | None = None,
    limits: tuple[LimitCheck, ...] = (),
    materials: tuple[str, ...] = ("abs",),
    case: dict[str, Any] | None = None,
    hottest: float = 100.0,
    face: float = 40.0,
    **changes: Any,
) -> list[str]:
    """What is called for by a run with these outcomes: hottest place and face at the end [degC] are those given."""
    result = sheet_result()
    last = replace(result.history.ends[-1], inner_face=face + ZERO, outer_face=face + ZERO)
    history = replace(result.history, hottest=Extreme(hottest + ZERO, 0.0, 0.0), ends=(*result.history.ends[:-1], last))
    told_of = tuple(Outcome(name, value, "1", name) for name, value in (outcomes or {}).items())
    result = replace(result, history=history, outcomes=told_of, limits=limits, study={}, fields=())
    result = replace(result, cautions=(cautions.DEFERENCE,), **changes)
    own = SimpleNamespace(**({"process": kind, "title": "a part", "tools": {}, "stations": ()} | (case or {})))
    if kind == "charge" and case is None:
        own.mould = SimpleNamespace(upper=None, lower=None)
    process = SimpleNamespace(case=own, stuff=SimpleNamespace(names=lambda: list(materials)))
    found = cautions_run.complete(process, result).cautions
    assert isinstance(found, tuple) and found[-1] == cautions.DEFERENCE
    return list(found[:-1])


def limit(name: str, found: float, most: float) -> LimitCheck:
    """A limit in degC: at most."""
    return LimitCheck(name, f"at most {most:g} degC", found, "degC", most - found, found <= most)


def says(texts: list[str], *words: str) -> bool:
    """Whether one text holds all the words."""
    return any(all(word in text for word in words) for text in texts)


def test_nothing_is_called_for_where_no_trigger_is_met() -> None:
    assert ran() == []


@pytest.mark.parametrize(("face", "warns"), [(69.0, False), (71.0, True)])
def test_plastic_above_70_degc_at_release(face: float, warns: bool) -> None:
    assert says(ran(face=face), "plastic above 70 degC", "ISO 13732-1", f"{face:.0f} degC") is warns


def test_nobody_holds_the_stock_of_a_mill() -> None:
    rolls = SimpleNamespace(front=30.0 + ZERO, back=30.0 + ZERO)
    assert ran("mill", face=160.0, case={"rolls": rolls}) == []


@pytest.mark.parametrize(("tool", "warns"), [(59.0, False), (61.0, True)])
def test_metal_above_60_degc(tool: float, warns: bool) -> None:
    entry = SimpleNamespace(temperature=tool + ZERO, start=None)
    assert says(ran(case={"tools": {"mould": entry}}), "metal above 60 degC", "ISO 13732-1") is warns
    rolls = SimpleNamespace(front=tool + ZERO, back=20.0 + ZERO)
    assert says(ran("mill", case={"rolls": rolls}), "A roll has", "metal above 60 degC") is warns


@pytest.mark.parametrize(("hottest", "dose", "warns"), [(204.0, 0.29, False), (206.0, 0.1, True), (180.0, 0.31, True)])
def test_pvc_above_205_degc_or_beyond_0_3_of_its_heat_life(hottest: float, dose: float, warns: bool) -> None:
    found = ran("line", {"heat_dose": dose}, materials=("pvc_plasticised",), hottest=hottest)
    assert says(found, "hydrogen chloride", "acetal", "purge") is warns
    assert not says(ran("line", {"heat_dose": dose}, materials=("hdpe",), hottest=hottest), "hydrogen chloride")


def test_a_runaway_says_do_not_run() -> None:
    hot = ran("charge", {"hottest_temperature": 368.0}, (limit("hottest", 368.0, 220.0),))
    assert says(hot, "RUNAWAY", "Do not run", "step-cure", "never stockpile", "Do not open")
    faster = ran(
        "charge", {"hottest_temperature": 210.0, "hottest_if_faster": 240.0}, (limit("hottest", 210.0, 220.0),)
    )
    assert says(faster, "RUNAWAY", "240 degC where it reacts 30 % faster")
    calm = ran("charge", {"hottest_temperature": 190.0, "hottest_if_faster": 195.0}, (limit("hottest", 190.0, 220.0),))
    assert calm == []
    assert says(ran("charge", study={"stop": {"why": "STOP: the press"}}), "EN 289")


@pytest.mark.parametrize(("degree", "core", "warns"), [(0.7, 150.0, True), (0.9, 150.0, False), (0.7, 90.0, False)])
def test_a_hot_middle_that_is_not_cured(degree: float, core: float, warns: bool) -> None:
    found = ran("charge", {"core_degree": degree, "core_at_opening_temperature": core})
    assert says(found, "burst and spit") is warns


@pytest.mark.parametrize(("hottest", "material", "warns"), [(150.0, "up_compound", True), (140.0, "up_compound", False),
                                                            (150.0, "pf_compound", False)])  # fmt: skip
def test_styrene_boils_at_145_degc(hottest: float, material: str, warns: bool) -> None:
    assert says(ran("charge", hottest=hottest, materials=(material,)), "styrene", "pressure") is warns


@pytest.mark.parametrize(("gap", "warns"), [(60.0, False), (40.0, True), (-5.0, True)])
def test_a_sheet_that_sags_to_the_panel(gap: float, warns: bool) -> None:
    assert says(ran(outcomes={"clearance": gap}), "FIRE", "lower panel") is warns


@pytest.mark.parametrize(("panel", "warns"), [(340.0, False), (420.0, True)])
def test_panels_above_what_sets_plastic_on_fire(panel: float, warns: bool) -> None:
    side = SimpleNamespace(temperature=panel + ZERO)
    station = SimpleNamespace(kind="panels", upper=side, lower=None)
    assert says(ran(case={"stations": (station,)}), "takes fire", f"{panel:.0f} degC") is warns
    by_power = SimpleNamespace(kind="panels", upper=SimpleNamespace(temperature=None), lower=None)
    found = ran(outcomes={"upper_hottest_zone": panel}, case={"stations": (by_power,)})
    assert says(found, "takes fire") is warns


@pytest.mark.parametrize(("face", "warns"), [(175.0, False), (190.0, True)])
def test_a_face_above_its_limit_smokes(face: float, warns: bool) -> None:
    found = ran(outcomes={"hottest_face": face}, limits=(limit("hottest_face", face, 182.0),))
    assert says(found, "smokes before it burns", "182 degC") is warns


@pytest.mark.parametrize(("top", "meaning", "warns"), [
    (230.0, "time since it stands", True),
    (200.0, "time since it stands", False),
    (230.0, "time since it happened", False),
])  # fmt: skip
def test_a_line_that_stops(top: float, meaning: str, warns: bool) -> None:
    clock = Axis("time", "s", np.array([0.0, 1.0, 2.0, 3.0]), meaning)
    rises = np.array([180.0, 190.0, top, top])
    fields = (
        Field("event_1_1/value", (clock,), "degC", rises, "stop: lamps"),
        Field("event_1_1/limit", (clock,), "degC", np.full(4, 205.0), "limit of lamps"),
    )
    found = ran("line", fields=fields)
    assert says(found, "LINE STOP", "lamps", "2.0 s", "interlock") is warns


def test_pressure_times_area_in_tonnes() -> None:
    """25 kN are 25/9.80665 t of force."""
    assert says(ran(outcomes={"clamp_force": 25.0, "stored_energy": 3.0}), "25 kN (2.5 t)", "3 kJ")
    assert says(ran(outcomes={"clamp_force": 25.0, "clamp_share": 0.8}), "80 %", "Do not run it so")
    assert not says(ran(outcomes={"clamp_force": 25.0, "clamp_share": 0.5}), "Do not run it so")
    assert not says(ran(), "Pressure times area")
    assert not says(ran("charge", {"clamp_force": 42.0, "clamp_share": 0.2}), "Pressure times area")


@pytest.mark.parametrize(("before", "warns"), [(150.0, True), (90.0, False)])
def test_hot_metal_into_water(before: float, warns: bool) -> None:
    result = sheet_result()
    first = replace(result.history.ends[0], temperature=np.full(24, before + ZERO))
    case = {"stations": (SimpleNamespace(kind="oven"), SimpleNamespace(kind="quench"))}
    cold = replace(result.history.ends[1], inner_face=30.0 + ZERO, outer_face=30.0 + ZERO)
    history = replace(result.history, ends=(first, cold), hottest=Extreme(before + ZERO, 0.0, 0.0))
    assert says(ran("dip", case=case, history=history), "flashes to steam") is warns


def test_a_body_that_warms_itself_is_hot_though_nothing_hot_is_named() -> None:
    assert cautions.HOT_SURFACE in ran("body", hottest=90.0)
    assert cautions.HOT_SURFACE not in ran("body", hottest=50.0)


def test_those_of_the_run_stand_before_those_of_the_process() -> None:
    """A real run: 100 degC on one side of a wall, which leaves with a hot face."""
    from thermokit.processes.run import run_case

    case = parse_case(
        """
process = "body"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "abs"
thickness = "2 mm"
[[stations]]
duration = "60 s"
inner = { temperature = "100 degC" }
"""
    )
    found = run_case(case).cautions
    assert isinstance(found, tuple)
    assert "plastic above 70 degC" in found[0]
    assert found.index(cautions.HOT_SURFACE) > 0
    assert found[-1] == cautions.DEFERENCE
    assert cautions_kinds.told(process_of(case))[-1] == cautions.DEFERENCE
