"""Setting sheets: what stands on them, nothing that the case says can break them, one page, legible without colour."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "files"))

from exact_results import ball_result, sheet_result

from thermokit.case import load_case, parse_case, resolved_text
from thermokit.case.kinds import KINDS, template
from thermokit.errors import CaseError
from thermokit.sheets import html, inputs, kinds, limits
from thermokit.sheets.canvas import Measure
from thermokit.sheets.content import sheet_of
from thermokit.sheets.pdf import document
from thermokit.sheets.words import NO_BREAK, Words

TEXTS = Path(__file__).parent / "case_texts"
CASES = Path(__file__).parents[2] / "cases"
VOID = {"meta", "br", "link", "img", "hr", "input"}
DWELL = {
    "station": "heat", "earliest": 70.0, "latest": 86.0, "recommended": 77.0, "unit": "s", "earliest_limit": "coldest_point",
    "latest_limit": "hottest_face", "margins": [], "opens_with": None, "hand": None,
    "shifts": [
        {"change": "stock 15 K colder", "earliest": 78.0, "latest": 94.0, "unit": "s"},
        {"change": "sheet 0.5 mm thicker", "earliest": 80.0, "latest": 96.0, "unit": "s"},
        {"change": "panels 90 K colder", "earliest": None, "latest": None, "unit": "s"},
    ],
    "parts": {"inside": 0.89, "breaking": {"coldest_point": 0.05, "hottest_face": 0.06}, "draws": 512, "seed": 1},
}  # fmt: skip
TRAY = """
title = "A tray"
process = "sheet"
[sheet]
material = "abs"
thickness = "4 mm"
start = "20 degC"
[[stations]]
name = "heat"
kind = "panels"
duration = "find"
upper = { temperature = "420 degC", exchange = 0.6 }
lower = { temperature = "420 degC", exchange = 0.6 }
air = { temperature = "60 degC", coefficient = "8 W/m2/K" }
[limits]
coldest_point = "127 degC"
[job]
number = "J-17"
grade = "<script>alert(1)</script> & more"
lot = "7"
[job.sources]
"sheet.thickness" = "measured"
"sheet" = "assumed"
"""


class Reader(HTMLParser):
    """Reads a page: every tag must be closed in its turn; keeps ids, what points at them, and all attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.pointers: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.tags: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)
        self._keep(attrs)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)
        self._keep(attrs)

    def _keep(self, attrs):
        for name, value in attrs:
            self.attributes.append((name, value or ""))
            if name == "id":
                self.ids.append(value)
            if name.endswith("href"):
                self.pointers.append(value)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-1:]}"
        self.open.pop()

    def handle_data(self, data):
        self.text += data


def read(text):
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == [], "every tag is closed"
    return reader


def tray_result(**changes):
    """The exact sheet, under the case of a tray, with a window."""
    case = parse_case(TRAY)
    filled = case.with_values({"stations.heat.duration": 77.0})
    result = sheet_result(study={"dwell": DWELL}, **changes)
    told = replace(result.provenance, title="A tray", case_text=TRAY, resolved_text=resolved_text(filled))
    return replace(result, provenance=told, limits=result.limits[:2])


# -- what stands on it -------------------------------------------------------------------------------------------------


def test_settings_window_margin_and_causes():
    sheet = sheet_of(tray_result())
    assert (sheet.main.label, sheet.main.value) == ("Heat duration", f"77{NO_BREAK}s")
    assert [(e.label, e.value, e.note) for e in sheet.window] == [
        ("Earliest", f"70{NO_BREAK}s", "coldest point"),
        ("Latest", f"86{NO_BREAK}s", "hottest face"),
    ]
    assert "16" in sheet.margin[0] and "21 %" in sheet.margin[0], "86 - 70 s, 16/77"
    assert "89 parts in 100" in sheet.margin[1] and "5 break coldest point" in sheet.margin[1]
    assert [row[0].replace(NO_BREAK, " ") for row in sheet.causes.rows] == [
        "panels 90 K colder", "sheet 0.5 mm thicker", "stock 15 K colder",
    ], "the largest first: no window, 10 s, 8 s"  # fmt: skip
    (block,) = sheet.settings
    assert block.head == "Heat (panels)"
    assert {e.label: e.value for e in block.entries} == {
        "duration": f"77{NO_BREAK}s", "upper temperature": f"420{NO_BREAK}°C", "lower temperature": f"420{NO_BREAK}°C",
    }  # fmt: skip
    assert sheet.stop == ()


def test_job_and_sources():
    sheet = sheet_of(tray_result())
    job = {e.label: e.value for e in sheet.job}
    assert job["Job"] == "J-17" and job["Lot"] == "7" and job["Drawing"] == ""
    rests = {e.label: e.note for e in sheet.inputs}
    assert rests["thickness"] == "measured", "its own path"
    assert rests["material"] == "assumed" and rests["start"] == "assumed", "of the table that it stands in"
    assert rests["heat air temperature"] == ""


def test_who_chose_a_limit():
    sheet = sheet_of(tray_result())
    assert {row[0]: row[-1] for row in sheet.limits.rows} == {
        "Coldest point": "case",
        "Hottest face": "material record",
    }
    check = sheet_result().limits[0]
    for name, required, process, who in (
        ("hot_spot", "at most 8 K", "mould", "common practice"),
        ("ejection_centre", "at most 95 degC", "mould", "material record"),
        ("cure_degree", "at least 0.85", "charge", "common practice"),
        ("cure_degree", "at least 0.9", "charge", "material record"),
        ("firm_degree", "at least 0.8", "charge", "common practice"),
        ("face_most at sizing die", "at most 110 degC", "line", ""),
    ):
        assert limits.chosen_by(replace(check, name=name, required=required), {}, process) == who, name
    given = {"stations": [{"limits": {"face_most": "110 degC"}}]}
    assert limits.chosen_by(replace(check, name="face_most at sizing die"), given, "line") == "case"


def test_what_a_table_has_is_measured_but_not_told_twice():
    """Faces at the ends of a line's stations stand in the table of its stations, and are measured on the first metres."""
    result = tray_result()
    line = replace(result, outcomes=(replace(result.outcomes[0], name="haul_off_face", value=36.8),))
    line = replace(line, provenance=replace(line.provenance, process="line"))
    sheet = sheet_of(line)
    assert sheet.expected == ()
    assert sheet.checks[0].label == "Haul off: face or skin at its end" and sheet.checks[0].value.startswith("36.8")


def test_broken_limits_unfinished_runs_and_stops_forbid():
    result = tray_result()
    broken = replace(result, limits=(replace(result.limits[0], met=False, margin=-3.0), result.limits[1]))
    assert any("not met: coldest point" in text for text in sheet_of(broken).stop)
    page = read(html.page(sheet_of(broken)))
    assert "DO NOT RUN" in page.text and "NOT MET" in page.text
    assert "DO NOT RUN" not in read(html.page(sheet_of(result))).text
    stop = {"why": "it runs away above 220 degC", "remedies": ["a thinner section"]}
    stopped = sheet_of(replace(result, study={"stop": stop})).stop
    assert stopped == (f"it runs away above 220{NO_BREAK}°C", "a thinner section")
    none = sheet_of(replace(result, study={"dwell": DWELL | {"recommended": None, "opens_with": "no window: at 80 s"}}))
    assert none.stop == ("No window: at 80 s",) and none.main is None and none.window == ()


def test_first_off_checks_are_blank_boxes_beside_what_is_foretold():
    result = tray_result()
    outcome = replace(result.outcomes[0], name="upper_face", value=169.44, unit="degC")
    sheet = sheet_of(replace(result, outcomes=(outcome,)))
    assert (sheet.checks[0].label, sheet.checks[0].value) == ("Upper face at the end of heating", f"169.4{NO_BREAK}°C")
    page = html.page(sheet)
    row = page[page.index("Upper face at the end of heating") :]
    assert row.split("</tr>")[0].endswith("<td></td>"), "room to write"
    assert "half depth" not in read(page).text.partition("Starting values")[0].partition("temperature [")[0], (
        "what the run does not tell is left out"
    )


def test_nothing_is_invented_for_a_result_without_a_case():
    sheet = sheet_of(ball_result())
    assert sheet.settings == () and sheet.main is None
    assert read(html.page(sheet)).text


# -- words -------------------------------------------------------------------------------------------------------------


def test_degrees_fahrenheit():
    """F = 1.8 C + 32: 100 degC is 212 degF, 20 degC is 68 degF, a difference of 10 K is 18 degF."""
    words = Words(fahrenheit=True)
    assert words.quantity(100.0, "degC") == f"100.0{NO_BREAK}°C (212.0{NO_BREAK}°F)"
    assert words.quantity(10.0, "K") == f"10.0{NO_BREAK}K (18.0{NO_BREAK}°F)"
    assert (
        words.sentence("from 20 degC, 10 K more")
        == f"from 20{NO_BREAK}°C (68.0{NO_BREAK}°F), 10{NO_BREAK}K (18.0{NO_BREAK}°F) more"
    )
    assert words.sentence("8 W/m2/K at -40 degC") == f"8 W/m2/K at -40{NO_BREAK}°C (-40.0{NO_BREAK}°F)"
    assert "°F" in read(html.page(sheet_of(tray_result(), fahrenheit=True))).text
    assert "°F" not in read(html.page(sheet_of(tray_result()))).text


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("300 bar", "300 bar"), ("0.009499999 L", "0.0095 L"), ("1200 W/m2/K", "1200 W/m²/K"), ("4 h with fan", "4 h with fan"),
        (["1 mm", "2 mm"], "1 mm, 2 mm"),
        ({"time": ["0 s", "60 s"], "value": ["150 degC", "180 degC"]}, "150 °C at 0 s, 180 °C at 60 s"),
        ("12 rev/min", "12 rev/min"), ("0.5 1/s", "0.5 1/s"), ("4 % loose", "4 % loose"), ("<b>", "<b>"),
    ],
)  # fmt: skip
def test_values_of_the_case(raw, shown):
    assert Words().given(raw).replace(NO_BREAK, " ") == shown


def test_settings_in_the_units_of_the_machine():
    """0.36 m/min is 6 mm/s (360 mm in 60 s); 0.05 turns a second are 3 a minute."""
    table = {"stations": [{"name": "dip", "kind": "dip", "withdrawal": "0.36 m/min", "turning": "0.05 Hz"}]}
    (block,) = inputs.blocks(table, (("stations", "*", "withdrawal|turning"),), Words())
    assert [e.value.replace(NO_BREAK, " ") for e in block.entries] == ["6 mm/s", "3 rev/min"]


# -- the page ----------------------------------------------------------------------------------------------------------


def test_page_is_whole_and_needs_nothing_else():
    text = html.page(sheet_of(tray_result()))
    page = read(text)
    assert "http:" not in text and "https:" not in text and "//" not in text.replace("</", "")
    assert ("content", html.POLICY) in page.attributes and "default-src 'none'" in html.POLICY
    assert not {"script", "link", "iframe", "object"} & page.tags
    assert not [name for name, _ in page.attributes if name.startswith("on")]
    assert len(page.ids) == len(set(page.ids)) and page.ids, "ids of two figures do not meet"
    assert all(p.startswith(("#", "data:")) for p in page.pointers)
    targets = {p[1:] for p in page.pointers if p.startswith("#")} | set(re.findall(r"url\(#([^)]+)\)", text))
    assert targets and targets <= set(page.ids)


def test_what_the_case_says_stays_text():
    bad = '<script>alert("x")</script><img src=x onerror=alert(1)>'
    result = tray_result()
    result = replace(
        result, provenance=replace(result.provenance, title=bad), remarks=(bad,), warnings=(bad,), cautions=(bad,)
    )
    text = html.page(sheet_of(result))
    page = read(text)
    assert "script" not in page.tags and "img" not in page.tags and "<script" not in text
    assert page.text.count(bad) >= 4 and "<script>alert(1)</script> & more" in page.text
    assert document(sheet_of(result)).startswith(b"%PDF")


def contrast(a, b):
    """Contrast of two colours #rrggbb (WCAG 2.1: relative luminance and contrast ratio)."""

    def luminance(colour):
        shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0), "the formula: black on white is 21"
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005), (
        "and #777 on white just fails, as is well known"
    )
    for ink in (html.INK, html.SOFT):
        for paper in (html.PAPER, html.SHADE):
            assert contrast(ink, paper) >= 4.5
    text = html.page(sheet_of(tray_result()))
    style = text[text.index("<style>") : text.index("</style>")]
    assert set(re.findall(r"#[0-9a-f]{6}", style)) <= {html.INK, html.SOFT, html.PAPER, html.SHADE}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pdf_is_one_page(paper):
    result = tray_result()
    many = tuple(f"caution {i}: " + "something to take care of, told at some length. " * 2 for i in range(14))
    for sheet in (sheet_of(result), sheet_of(replace(result, cautions=many, remarks=many[:6]))):
        data = document(sheet, paper)
        assert data.startswith(b"%PDF") and len(re.findall(rb"/Type /Page\b(?!s)", data)) == 1
        wide, high = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}[paper]  # ISO 216; 8.5 x 11 inch
        box = [float(x) for x in re.search(rb"/MediaBox \[([^\]]+)\]", data)[1].split()]
        assert box[2:] == pytest.approx([wide, high], abs=0.1)


def test_nothing_is_cut_off_a_sheet_that_is_too_long():
    """Two hundred cautions do not fit on A4 in any letters that can be read: the page grows rather than lose one."""
    result = tray_result()
    many = tuple(f"caution {i}: " + "something to take care of, told at some length. " * 2 for i in range(200))
    data = document(sheet_of(replace(result, cautions=many)))
    box = [float(x) for x in re.search(rb"/MediaBox \[([^\]]+)\]", data)[1].split()]
    assert box[2] == pytest.approx(595.3, abs=0.1) and box[3] > 842.0
    assert len(re.findall(rb"/Type /Page\b(?!s)", data)) == 1


def test_lines_fit_their_width():
    measure = Measure()
    text = "a line of ordinary words and an_unbroken_word_that_is_far_wider_than_the_column " * 3
    lines = measure.lines(text.strip(), 8.0, 90.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", ""), "no letter is lost"
    assert max(measure.width(line, 8.0) for line in lines) <= 90.0


# -- every kind --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_paths_of_a_kind_lead_to_keys_of_its_case(kind):
    """Each pattern of a listing names keys that the kind of case declares: none is a slip of the pen."""
    from thermokit.case.kinds import case_class
    from thermokit.case.walk import declared_paths

    declared = {path for path, _, _ in declared_paths(case_class(kind))}
    listing = kinds.listing(kind)
    for pattern in (*listing.settings, *listing.stock):
        words = [step.split("|") for step in pattern if step != "*"]
        for last in words[-1]:
            assert any(
                path[-1] == last or (last in path and pattern[-1] == "*") for path in declared if path[0] in words[0]
            ), (kind, pattern, last)


@pytest.mark.parametrize("kind", KINDS)
def test_settings_of_a_template(kind):
    """What `thermokit new KIND` writes has settings, and stock, on its sheet."""
    table = inputs.table_of(resolved_text(parse_case(template(kind))))
    listing = kinds.listing(kind)
    assert inputs.blocks(table, listing.settings, Words()), kind
    assert inputs.inputs(table, listing.stock, Words()), kind


@pytest.mark.parametrize("kind", KINDS)
def test_outcomes_are_asked_for_once(kind):
    names = [wanted.name for wanted in kinds.listing(kind).expected]
    assert len(names) == len(set(names))
    assert all(re.compile(name) for name in names)


def test_zones_are_a_table_and_dead_ones_are_named():
    table = inputs.table_of((TEXTS / "sheet_zones.toml").read_text(encoding="utf-8"))
    assert inputs.plans(table), "a plan of zones"
    oven = inputs.table_of(resolved_text(load_case(CASES / "how_to_set_the_zones_of_an_oven_with_a_dead_zone.toml")))
    assert inputs.dead_zones(oven) == [("Heat upper", "row 2, column 2")]


# -- [job] -------------------------------------------------------------------------------------------------------------


def test_job_is_read_and_written():
    case = parse_case(TRAY)
    assert case.job.number == "J-17" and case.job.sources == {"sheet.thickness": "measured", "sheet": "assumed"}
    assert parse_case(resolved_text(case)) == case


def test_mistakes_in_job_are_told():
    text = TRAY + '"sheet.thicknes" = "measured"\nsheet.start = "gues"\n'
    with pytest.raises(CaseError) as wrong:
        parse_case(text.replace('"sheet" = "assumed"\n', ""))
    told = str(wrong.value)
    assert "job.sources.sheet.thicknes: the case has no such input" in told and "did you mean sheet.thickness" in told
    assert '"gues" is not one of the choices' in told and "measured" in told


def test_a_hold_that_the_run_works_out_stands_among_the_settings() -> None:
    """A mould case without a hold: what the gate asks for is a setting too; one that is given stands there once."""
    from dataclasses import replace

    from thermokit.results.model import Outcome
    from thermokit.sheets.content import _settings
    from thermokit.sheets.kinds import listing
    from thermokit.sheets.page import Block, Entry
    from thermokit.sheets.words import Words

    made: Any = SimpleNamespace(outcomes=(Outcome("hold_time", 4.21, "s", "hold"),))
    cycle = Block("Cycle", (Entry("fill", "1.5 s"),))
    (filled,) = _settings((cycle,), made, listing("mould"), Words(False))
    assert [(e.label, e.value.replace("\u00a0", " ")) for e in filled.entries] == [
        ("fill", "1.5 s"),
        ("hold", "4.21 s"),
    ]
    given = replace(cycle, entries=(Entry("hold", "5 s"),))
    assert _settings((given,), made, listing("mould"), Words(False)) == (given,)
