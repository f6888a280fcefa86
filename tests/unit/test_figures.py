"""Figures: made, not blank, labelled with units, the same twice, tellable apart without colour."""

from __future__ import annotations

import io
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "files"))

from exact_results import ball_result, sheet_result

from thermokit.errors import DataError
from thermokit.figures.history import draw_history, merged
from thermokit.figures.limits import temperature_limits
from thermokit.figures.profile import draw_profile, telling_rows
from thermokit.figures.style import drawn, save, spread
from thermokit.results.bounds import bounds
from thermokit.results.model import LimitCheck

DRAWINGS = [draw_history, draw_profile]


def texts(figure):
    """All texts of a figure, as an SVG reader sees them."""
    tree = ET.fromstring(drawn(figure, "svg"))
    return [" ".join("".join(e.itertext()).split()) for e in tree.iter() if e.tag.endswith("}text")]


def pixels(figure):
    from matplotlib.image import imread

    return imread(io.BytesIO(drawn(figure, "png")))[..., :3]


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("made", [sheet_result, ball_result])
def test_drawn_and_not_blank(draw, made):
    picture = pixels(draw(made()))
    ink = (picture < 0.6).all(axis=2)
    assert 0.005 < ink.mean() < 0.3
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    assert rows[-1] - rows[0] > 0.8 * picture.shape[0], "the ink covers the height"
    assert columns[-1] - columns[0] > 0.8 * picture.shape[1], "the ink covers the width"
    assert columns[-1] < picture.shape[1] - 3, "no label is cut off at the right"


@pytest.mark.parametrize(
    ("draw", "made", "wanted"),
    [
        (draw_history, sheet_result, ["time [s]", "temperature [°C]", "heat", "transfer"]),
        (draw_history, ball_result, ["time [min]", "temperature [°C]", "degree [1]", "mould"]),
        (draw_profile, sheet_result, ["depth from the upper face [mm]", "temperature [°C]", "lower face"]),
        (draw_profile, ball_result, ["radius [mm]", "temperature [°C]", "cure degree [1]", "core", "skin"]),
    ],
)
def test_axes_carry_units_and_names(draw, made, wanted):
    found = texts(draw(made()))
    for text in wanted:
        assert text in found


@pytest.mark.parametrize("draw", DRAWINGS)
def test_limits_on_temperature_are_named_with_their_verdict(draw):
    found = " ".join(texts(draw(sheet_result())))
    assert "coldest point: at least 127 °C, met" in found
    assert "hottest face: at most 182 °C, met" in found
    assert "face core difference" not in found, "a difference has no place on a temperature axis"


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_result_same_picture(draw, kind):
    assert drawn(draw(sheet_result()), kind) == drawn(draw(sheet_result()), kind)


def test_no_date_and_no_clock_in_svg():
    assert b"<dc:date>" not in drawn(draw_history(sheet_result()), "svg")


@pytest.mark.parametrize("draw", DRAWINGS)
def test_curves_differ_without_colour(draw):
    lines = [line for line in draw(ball_result()).axes[0].lines if line.get_label().startswith("_child")]
    looks = [
        (line.get_linestyle(), line.get_marker(), str(line._dash_pattern))
        for line in lines
        if len(line.get_xdata()) > 5
    ]
    assert len(looks) >= 3
    assert len(set(looks)) == len(looks)


def odd_results():
    r = sheet_result()
    h = r.history
    first = {name: getattr(h, name)[:1] for name in ("time", "span", "temperature", "inner_face", "outer_face")}
    yield "one row", replace(r, history=replace(h, **first, ends=()), probes={})
    broken = h.temperature.copy()
    broken[40:] = np.nan
    yield "not finite", replace(r, history=replace(h, temperature=broken))
    yield (
        "all the same",
        replace(
            r,
            history=replace(
                h,
                temperature=h.temperature * 0 + 300,
                inner_face=h.inner_face * 0 + 300,
                outer_face=h.outer_face * 0 + 300,
            ),
            limits=(),
            probes={},
        ),
    )
    many = tuple(replace(h.ends[0], time=t) for t in (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 66.0, 67.0, 68.0, 70.0))
    span = np.searchsorted([end.time for end in many[:-1]], h.time - 1e-9)
    yield (
        "many stations",
        replace(
            r, history=replace(h, ends=many, span=span), span_names=tuple(f"station number {i}" for i in range(10))
        ),
    )
    title = "Costs $5 & <more> \x07 漢字 " + "word " * 80
    yield "odd title", replace(r, provenance=replace(r.provenance, title=title), span_names=("$x$", ""))
    yield "many probes", replace(r, probes={f"couple {i}": r.probes["core"] - 4 * i for i in range(14)})


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize(("name", "result"), list(odd_results()), ids=lambda v: v if isinstance(v, str) else "")
def test_odd_results_are_drawn(draw, name, result, recwarn):
    ET.fromstring(drawn(draw(result), "svg"))
    assert [str(w.message) for w in recwarn] == []


def test_drawing_leaves_the_users_settings_alone(tmp_path):
    import matplotlib

    before = dict(matplotlib.rcParams)
    save(draw_history(sheet_result()), tmp_path / "a.png")
    assert dict(matplotlib.rcParams) == before


def test_save_refuses_other_endings(tmp_path):
    with pytest.raises(DataError, match=r"\.png or \.svg"):
        save(draw_profile(sheet_result()), tmp_path / "a.jpg")


def test_rows_start_ends_and_between():
    r = sheet_result()
    rows = telling_rows(r)
    assert rows[0] == 0
    assert {60, 70} <= set(rows)
    assert len(rows) == 7
    asked = draw_profile(r, times=[10.2, 30.0])
    assert {"10 s", "30 s"} <= set(texts(asked))


def test_curves_on_one_another_are_drawn_once():
    ramp = np.linspace(0.0, 100.0, 11)
    found = merged([("a", ramp), ("b", ramp + 0.1), ("c", ramp + 5)])
    assert [name for name, _ in found] == ["a and b", "c"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("at least 127 degC", [("least", 127.0)]),
        ("at most -12.5 degC", [("most", -12.5)]),
        ("at least 127 degC and at most 1.5e2 degC", [("least", 127.0), ("most", 150.0)]),
        ("at most 15 K", []),
        ("dry", []),
    ],
)
def test_numbers_in_the_words_of_a_limit(words, expected):
    limit = LimitCheck("x", words, None, "degC", None, True)
    assert bounds(limit) == expected
    assert [(w, v) for w, v, _ in temperature_limits(sheet_result(limits=(limit,)))] == expected


def test_labels_never_overlap():
    rng = np.random.default_rng(8)
    for _ in range(50):
        count = int(rng.integers(1, 12))
        wanted, heights = sorted(rng.uniform(0, 300, count)), rng.uniform(8, 25, count)
        places = spread(wanted, heights, 320.0)
        gaps = np.diff(places) - (heights[1:] + heights[:-1]) / 2
        assert (gaps > -1e-9).all()
        assert places[0] - heights[0] / 2 > -1e-9


def test_a_layer_that_is_not_there_yet_does_not_hide_the_others():
    """Lowest and highest over the depth, by hand, with a coat that comes later and a row of which nothing is known."""
    from thermokit.figures.history import _ends

    low, high = _ends(np.array([[1.0, 3.0, np.nan], [np.nan, np.nan, np.nan], [2.0, 5.0, 0.5]]))
    assert low.tolist() == [1.0, pytest.approx(np.nan, nan_ok=True), 0.5]
    assert high.tolist() == [3.0, pytest.approx(np.nan, nan_ok=True), 5.0]
