"""From a defect to its causes: names found, verdicts by hand-made results and by a run whose answer is known."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "files"))

from exact_results import sheet_result

from thermokit.case import KINDS
from thermokit.errors import CaseError, DataError
from thermokit.results.model import LimitCheck, Outcome
from thermokit.studies.why import of_case, why
from thermokit.studies.why_defects import Cause, defects, likeness, listed, nearest
from thermokit.studies.why_evidence import AGAINST, COMPARE, FOR, UNKNOWN, Case, evidence
from thermokit.studies.why_words import list_text, why_text

#: what people say -> (kind of case, how the list calls it begins)
SAID = [
    ("blister on opening", "charge", "blister on opening"),
    ("blisters when I open the press", "charge", "blister on opening"),
    ("puffed part", "charge", "blister on opening"),
    ("exotherm cracks", "charge", "cracks, char"),
    ("part is not cured", "charge", "undercure"),
    ("knit lines", "charge", "precure"),
    ("webbing", "sheet", "uneven heat"),
    ("sheet sags", "sheet", "sag, curtain"),
    ("moisture bubbles", "sheet", "blister"),
    ("tray warps", "sheet", "sticks on a male tool"),
    ("the corner tears", "sheet", "thin corner"),
    ("pin holes", "dip", "blister, pinhole"),
    ("wall is too thin", "dip", "wall too thin"),
    ("yellow", "dip", "yellowing"),
    ("sink marks", "mould", "sink mark"),
    ("sweating mold", "mould", "condensation"),
    ("weight scatter", "mould", "short pack"),
    ("oval pipe", "line", "oval pipe"),
    ("shrink-back", "line", "void at the conductor"),
    ("strike through", "line", "strike-through"),
    ("reel blocking", "line", "blocks on the reel"),
    ("grainy band", "mill", "grainy or weak band"),
    ("black specks", "cylinder", "degraded"),
    ("cement joint boils", "body", "bubbles in a cement joint"),
]


@pytest.mark.parametrize(("words", "kind", "begins"), SAID)
def test_what_people_say_is_found(words: str, kind: str, begins: str) -> None:
    assert nearest(words, listed(kind))[0].name.startswith(begins)


def test_without_a_kind_all_kinds_are_searched() -> None:
    assert nearest("blister on opening", listed())[0].kind == "charge"
    assert nearest("mud-cracking", listed())[0].kind == "dip"
    assert {own.kind for own in nearest("blister", listed())} >= {"charge", "dip"}


def test_nonsense_is_told_with_the_list() -> None:
    with pytest.raises(DataError, match=r"no defect is called like 'xylophone'.*blister on opening"):
        nearest("xylophone", listed("charge"))


def test_likeness_is_1_for_the_name_itself_whatever_the_case_and_spelling() -> None:
    own = defects("mould")[-1]
    assert likeness(own.name.upper(), own) == 1.0
    assert likeness("condensation on the mold", own) == 1.0


# -- the lists ---------------------------------------------------------------------------------------------------------------


def names_in_use(kind: str) -> str:
    """Source of the processes of a kind: the names of its outcomes and limits stand in it."""
    room = Path(__file__).parents[2] / "thermokit"
    files = [*(room / "processes").glob("*.py"), *(room / "case").glob(f"{kind}*.py"), room / "studies/why_evidence.py"]
    return "\n".join(file.read_text(encoding="utf-8") for file in files)


@pytest.mark.parametrize("kind", KINDS)
def test_every_cause_can_be_tested_and_asks_for_what_there_is(kind: str) -> None:
    """Each cause has a test and a cure; what it looks at is spelt as in the processes; a bound has a side."""
    source = names_in_use(kind)
    assert defects(kind)
    for own in defects(kind):
        assert own.causes and own.also
        for cause in own.causes:
            assert cause.says and cause.test and cause.then, own.name
            assert cause.bad in ("", "above", "below")
            if cause.limit is not None or cause.limit_of:
                assert cause.bad and cause.quantity, cause
            for name in (*cause.check, *cause.quantity, cause.over, cause.less, cause.limit_of):
                for part in re.split(r"[*{}]+|settled_", name.replace(" at *", "")):
                    stem = part.strip("_")
                    if stem and stem not in ("clamp", "temperature"):
                        assert re.search(rf"\b\w*{stem}\w*\b", source), f"{own.name}: {name}"


def test_names_are_each_their_own() -> None:
    for kind in KINDS:
        names = [own.name for own in defects(kind)]
        assert len(set(names)) == len(names)


def test_a_line_has_the_defects_of_its_product_only() -> None:
    pipe = {own.name for own in listed("line", "pipe")}
    assert "oval pipe, dents from saw clamp or haul-off" in pipe
    assert "strike-through" not in pipe
    assert "strike-through" in {own.name for own in listed("line", "cloth")}


# -- verdicts ----------------------------------------------------------------------------------------------------------------

CHARGE = 'process = "charge"\n'


def run_of(outcomes: dict[str, tuple[float, str]], limits: tuple[LimitCheck, ...] = (), resolved: str = CHARGE) -> Any:
    """A result with these outcomes: name -> (value, unit)."""
    result = sheet_result()
    told = tuple(Outcome(name, value, unit, f"meaning of {name}") for name, (value, unit) in outcomes.items())
    process = resolved.split('"')[1]
    own = replace(result.provenance, process=process, resolved_text=resolved)
    return replace(result, provenance=own, outcomes=told, limits=limits, study={}, fields=())


def cause(**keys: Any) -> Cause:
    """A cause with a test."""
    return Cause("it is so", "try it", "change it", **keys)


@pytest.mark.parametrize(
    ("value", "verdict", "close"), [(0.70, FOR, False), (0.88, AGAINST, True), (0.97, AGAINST, False)]
)
def test_an_outcome_against_the_usual_limit(value: float, verdict: str, close: bool) -> None:
    found = evidence(
        cause(quantity=("core_degree",), limit=0.85, bad="below"), Case(run_of({"core_degree": (value, "1")}))
    )
    assert (found.verdict, found.close) == (verdict, close)
    assert found.margin == pytest.approx(value - 0.85)
    assert "at least 0.85" in found.limit and "no source" in found.limit


def test_a_limit_that_is_a_guess_says_so() -> None:
    own = cause(quantity=("core_degree",), limit=0.85, bad="below", assumed=True)
    assert "assumed" in evidence(own, Case(run_of({"core_degree": (0.7, "1")}))).limit


def test_the_limit_of_the_case_goes_before_the_usual_one() -> None:
    check = LimitCheck("core_rate", "at most 0.02 1/s", 0.015, "1/s", 0.005, True, "core")
    run = Case(run_of({"core_rate": (0.015, "1/s")}, (check,)))
    found = evidence(cause(check=("core_rate",), quantity=("core_rate",), limit=0.01, bad="above"), run)
    assert (found.verdict, found.limit) == (AGAINST, "at most 0.02 1/s")
    assert (
        evidence(
            cause(quantity=("core_rate",), limit=0.01, bad="above"), Case(run_of({"core_rate": (0.015, "1/s")}))
        ).verdict
        == FOR
    )


def test_of_several_limits_the_broken_one_speaks() -> None:
    met = LimitCheck("mean_least at span", "at least 110 degC", 130.0, "degC", 20.0, True)
    broken = LimitCheck("face_least at nip", "at least 110 degC", 100.0, "degC", -10.0, False)
    found = evidence(cause(check=("mean_least at *", "face_least at *")), Case(run_of({}, (met, broken))))
    assert (found.verdict, found.name, found.margin) == (FOR, "face_least at nip", -10.0)


def test_a_side_leaves_the_limits_of_the_other_side_out() -> None:
    most = LimitCheck("core_temperature", "at most 85 degC", 90.0, "degC", -5.0, False)
    assert evidence(cause(check=("*_temperature",), bad="below"), Case(run_of({}, (most,)))).verdict == UNKNOWN


def test_ratios_differences_and_bounds_of_other_limits() -> None:
    run = Case(run_of({"gel_lag": (80.0, "s"), "core_gel_time": (100.0, "s"), "lower_face": (180.0, "degC"),
                       "upper_face": (165.0, "degC"), "hottest_if_faster": (230.0, "degC")},
                      (LimitCheck("hottest", "at most 220 degC", 210.0, "degC", 10.0, True),)))  # fmt: skip
    ratio = evidence(cause(quantity=("gel_lag",), over="core_gel_time", limit=0.7, bad="above"), run)
    assert (ratio.verdict, ratio.value, ratio.unit) == (FOR, pytest.approx(0.8), "1")
    less = evidence(cause(quantity=("lower_face",), less="upper_face", limit=10.0, bad="above"), run)
    assert (less.verdict, less.value, less.unit) == (FOR, pytest.approx(15.0), "K")
    other = evidence(cause(quantity=("hottest_if_faster",), limit_of="hottest", bad="above"), run)
    assert (other.verdict, other.margin) == (FOR, pytest.approx(-10.0))
    assert "at most 220 degC" in other.limit


def test_what_has_no_limit_is_compared_and_what_is_not_there_is_not_computed() -> None:
    run = Case(run_of({"bore_freezes": (38.0, "s")}))
    assert evidence(cause(quantity=("bore_freezes",)), run).verdict == COMPARE
    assert evidence(cause(quantity=("clearance",), limit=50.0, bad="below"), run).verdict == UNKNOWN
    assert evidence(cause(), run).verdict == UNKNOWN


def test_an_oven_that_is_taken_as_even_says_nothing_about_the_real_one() -> None:
    own = cause(check=("map_spread",), quantity=("map_spread",), limit=10.0, bad="above")
    even = (LimitCheck("map_spread", "at most 10 K", 0.0, "K", 10.0, True),)
    assert evidence(own, Case(run_of({"map_spread": (0.0, "K")}, even))).verdict == UNKNOWN
    assert evidence(own, Case(run_of({"map_spread": (4.0, "K")}))).verdict == AGAINST


def test_numbers_that_only_a_diagnosis_asks_for() -> None:
    """A wire: conductor preheated to 100 degC; the haul-off is named by its kind."""
    wire = """process = "line"
[line]
product = "wire"
[[stations]]
name = "wheel"
kind = "preheat"
temperature = "100 degC"
[[stations]]
name = "first capstan"
kind = "haul_off"
"""
    run = Case(run_of({"first_capstan_back": (72.0, "degC"), "trough_back": (99.0, "degC")}, (), wire))
    assert run.product == "wire"
    assert run.named("conductor_at_contact")[0].value == pytest.approx(100.0)
    assert [o.name for o in run.named("{haul_off}_back")] == ["first_capstan_back"]
    found = why("marked on the capstan", run.result)
    assert found.findings[0].evidence.verdict == FOR
    assert found.findings[0].evidence.value == 72.0


def test_causes_are_told_with_the_likeliest_first_and_in_words() -> None:
    firm = LimitCheck("firm_degree", "at least 0.8", 0.72, "1", -0.08, False, "hot places")
    result = run_of({"core_at_opening_temperature": (140.0, "degC"), "core_rate": (0.002, "1/s")}, (firm,))
    found = why("blister on opening", result)
    verdicts = [finding.evidence.verdict for finding in found.findings]
    assert verdicts == sorted(verdicts, key=[FOR, COMPARE, UNKNOWN, AGAINST].index)
    text = why_text(found)
    assert "SPEAKS FOR IT: firm_degree 0.72, at least 0.8, margin -0.08" in text
    assert "speaks against it: core_rate 0.002 1/s" in text
    assert "not computed" in text and "Test: " in text
    assert max(map(len, text.split("\n"))) <= 100
    told = found.as_json()
    assert told["cautions"] == list(result.cautions)
    assert told["causes"][0] | {"verdict": FOR, "value": 0.72, "margin": -0.08} == told["causes"][0]


def test_without_a_case_causes_and_tests_alone() -> None:
    found = why("blister on opening")
    assert {finding.evidence.verdict for finding in found.findings} == {UNKNOWN}
    assert "supervised trial" in why_text(found).replace("\n    ", " ")
    with pytest.raises(CaseError):
        why("blister", kind="chrage")


def test_the_list_in_words() -> None:
    text = list_text(listed())
    for kind in KINDS:
        assert f"\n{kind}\n" in f"\n{text}\n"
    assert "mud-cracking" in text and "[pipe]" in text


WALL = """
process = "body"
title = "A slab that is heated from both sides"
[body]
shape = "plane"
start = "20 degC"
[[body.layers]]
material = "abs"
thickness = "10 mm"
[[stations]]
name = "heat"
duration = "DURATION"
inner = { temperature = "150 degC" }
outer = { temperature = "150 degC" }
[limits]
coldest_temperature = { at_least = "120 degC" }
"""


@pytest.mark.parametrize(("duration", "verdict"), [("20 s", FOR), ("1200 s", AGAINST)])
def test_a_run_whose_answer_is_known(tmp_path: Path, duration: str, verdict: str) -> None:
    """A 10 mm slab of a diffusivity of about 1e-7 m2/s: its time L2/(pi2 a) is about 100 s, so that 20 s leave the middle cold
    and 1200 s (twelve times as long) do not."""
    file = tmp_path / "slab.toml"
    file.write_text(WALL.replace("DURATION", duration), encoding="utf-8")
    found = why("cold core", file)
    first = next(x for x in found.findings if x.evidence.name == "coldest_temperature")
    assert first.evidence.verdict == verdict
    assert found.defect.name.startswith("cold inside")
    assert "the slab" not in found.title and found.title.startswith("A slab")
    assert of_case(file) == defects("body")


def test_the_setting_at_which_the_part_was_made(tmp_path: Path) -> None:
    file = tmp_path / "slab.toml"
    file.write_text(WALL.replace("DURATION", "find"), encoding="utf-8")
    assert why("cold core", file, at="20 s").findings[0].evidence.verdict == FOR
    with pytest.raises(CaseError, match="nothing is sought"):
        why("cold core", _written(tmp_path, "20 s"), at="20 s")


def _written(folder: Path, duration: str) -> Path:
    file = folder / "fixed.toml"
    file.write_text(WALL.replace("DURATION", duration), encoding="utf-8")
    return file
