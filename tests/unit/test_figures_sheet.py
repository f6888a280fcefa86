"""Figures of the sheet map, the shots and the zones: made, labelled, true in proportion, legible without colour."""

from __future__ import annotations

import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parents[1] / "files"))

from exact_results import sheet_result
from field_results import (
    RELEASE,
    SHOT_OUTCOMES,
    full_result,
    map_fields,
    map_limits,
    shot_fields,
    tool_field,
    zone_fields,
)
from test_figures import pixels, texts

from thermokit.cli import plot
from thermokit.figures.history import draw_history
from thermokit.figures.plan import Bound, Plan, bound_words, cell_edges, heat_colours, level_lines, worst_spot
from thermokit.figures.sheet_map import draw_sheet_map, has_sheet_map
from thermokit.figures.shots import draw_shots, has_shots
from thermokit.figures.style import drawn
from thermokit.figures.zones import draw_zones, has_zones
from thermokit.results.model import Outcome
from thermokit.results.write import write

DRAWINGS = [draw_sheet_map, draw_shots, draw_zones]


def said(figure):
    return " | ".join(texts(figure))


def mapped(**changes):
    fields = map_fields(**changes)
    return full_result(fields=fields, limits=map_limits(fields=fields))


# -- all of them -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("draw", DRAWINGS)
def test_drawn_not_blank_and_nothing_cut_off(draw):
    picture = pixels(draw(full_result()))
    ink = (picture < 0.6).all(axis=2)
    assert 0.005 < ink.mean() < 0.35
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    assert rows[-1] - rows[0] > 0.8 * picture.shape[0] and columns[-1] - columns[0] > 0.8 * picture.shape[1]
    assert rows[0] > 3 and rows[-1] < picture.shape[0] - 3
    assert columns[0] > 3 and columns[-1] < picture.shape[1] - 3


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_result_same_picture(draw, kind):
    assert drawn(draw(full_result()), kind) == drawn(draw(full_result()), kind)


def test_figures_know_what_they_can_draw():
    whole, bare = full_result(), sheet_result()
    assert [has(whole) for has in (has_sheet_map, has_shots, has_zones)] == [True] * 3
    assert [has(bare) for has in (has_sheet_map, has_shots, has_zones)] == [False] * 3
    by_region = replace(map_fields()[0], axes=map_fields()[0].axes[:1], values=np.zeros(20))
    assert not has_sheet_map(full_result(fields=(by_region,)))


def test_fills_stay_even_in_grey():
    """Luminance (Rec. 709 weights, linear light after the sRGB curve) rises along the scale, and black shows on all of it."""
    colours = heat_colours()(np.linspace(0, 1, 64))[:, :3]
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(luminance) > 0).all()
    assert luminance[0] > 0.08  # contrast to black above 2.6 : 1
    assert luminance[-1] > 6 * luminance[0]


# -- the sheet map -----------------------------------------------------------------------------------------------------


def test_map_says_what_where_and_how_uneven():
    found = said(draw_sheet_map(mapped(cold=14.0)))
    cold, mean, hot = (field.values for field in map_fields(cold=14.0)[:3])
    for name, values in (("coldest point", cold), ("mean", mean), ("hottest face", hot)):
        assert f"{name}: spread {np.ptp(values):.1f} K" in found
    assert f"coldest {cold.min():.1f} °C at x 130, y −190 mm" in found
    assert (
        "along the length [mm]" in found
        and "across the width [mm]" in found
        and "°C" in texts(draw_sheet_map(mapped()))
    )
    share = 100 * (hot > 182).mean()
    assert f"at most 182 °C: NOT MET on {share:.0f} % of the sheet" in found
    assert "spread at most 10 K: NOT MET" in found
    assert "coldest point through the thickness when the sheet reaches the tool" in found
    assert "upper less lower face" in found


def test_map_of_the_release_has_its_own_limit():
    release = replace(map_fields(lift=-70)[0], name="map/release_temperature", meaning="hottest plane at release")
    result = full_result(fields=(*map_fields(), release), limits=(RELEASE,))
    figure = draw_sheet_map(result)
    assert "at release: spread" in said(figure) and "at most 85 °C: met everywhere" in said(figure)
    assert len(figure.axes) == 10


def test_map_without_broken_limits_shows_no_hatching():
    kept = full_result(fields=map_fields(), limits=map_limits(least=60, most=250, spread=90))
    found = said(draw_sheet_map(kept))
    assert found.count("met everywhere") == 2 and "NOT MET" not in found
    assert hatched(draw_sheet_map(kept)) == 0
    assert hatched(draw_sheet_map(mapped(lift=-14))) == 1, "too cold at the rim, and nowhere too hot"


def hatched(figure):
    """How many maps have a hatched part."""
    return sum(any(getattr(c, "hatches", [None])[0] for c in axes.collections) for axes in figure.axes)


def test_map_is_true_in_proportion_and_its_first_row_on_top():
    figure = draw_sheet_map(mapped(length=700.0, width=300.0))
    wide, high = figure.get_size_inches()
    for axes in figure.axes[0:8:2]:
        box = axes.get_position()
        assert (box.height * high) / (box.width * wide) == pytest.approx(3 / 7)
        assert axes.get_xlim() == (-350, 350) and axes.get_ylim() == (150, -150)


def test_limits_thick_where_they_break_and_marked_on_the_colour_bar():
    figure = draw_sheet_map(mapped(cold=14.0))
    hot, bar = figure.axes[4:6]
    edges = [c for c in hot.collections if list(getattr(c, "levels", [])) == [182.0]]
    assert len(edges) == 1 and max(edges[0].get_linewidths()) > 2
    assert [line.get_ydata()[0] for line in bar.lines] == [182.0]


@pytest.mark.parametrize(
    "changes",
    [
        {"length": 300.0, "width": 700.0},
        {"length": 2400.0, "width": 300.0},
        {"columns": 1, "rows": 1},
        {"columns": 1},
        {"rows": 1},
        {"columns": 2, "rows": 2},
        {"lift": -60},
        {"columns": 200, "rows": 3},
    ],
    ids=str,
)
def test_odd_maps_are_drawn_and_stay_on_the_page(changes, recwarn):
    figure = draw_sheet_map(mapped(**changes))
    assert [str(w.message) for w in recwarn] == []
    columns = np.flatnonzero((pixels(figure) < 0.6).all(axis=2).any(axis=0))
    assert columns[-1] < pixels(figure).shape[1] - 3
    for axes in figure.axes:
        box = axes.get_position()
        assert 0 < box.x0 < box.x1 < 1 and 0 < box.y0 < box.y1 < 1


def test_maps_with_holes_without_values_and_all_even(recwarn):
    field = map_fields()[0]
    holes = field.values.copy()
    holes[2:5, 3:6] = np.nan
    for values in (holes, field.values * np.nan, field.values * 0 + 140.0):
        result = full_result(fields=(replace(field, values=values),), limits=map_limits())
        ET.fromstring(drawn(draw_sheet_map(result), "svg"))
    assert [str(w.message) for w in recwarn] == []


def test_what_is_drawn_between_spot_and_edge_is_within_the_spots():
    field = map_fields()[0]
    x, y, values = Plan.of(field).padded(field.values)
    np.testing.assert_allclose([x[0], x[-1], y[0], y[-1]], [-300, 300, -200, 200], atol=1e-9)
    assert values.shape == (22, 32) and values[1:-1, 1:-1].tolist() == field.values.tolist()
    assert values.min() == field.values.min() and values.max() == field.values.max()


@pytest.mark.parametrize("low, high", [(121.3, 149.9), (140.0, 140.6), (20.0, 900.0), (139.99, 140.0)])
def test_levels_are_round_few_and_hold_all(low, high):
    levels = level_lines(np.array([[low, high]]))
    assert levels[0] <= low and levels[-1] >= high
    assert 2 <= len(levels) <= 14
    np.testing.assert_allclose(levels, np.round(levels, 1), atol=1e-9)


def test_shares_of_a_limit():
    values = np.array([[120.0, 130.0, 140.0, np.nan]])
    bound = Bound("least", 127.0, "at least 127 °C")
    assert bound.broken(values).tolist() == [[True, False, False, False]]
    assert (
        bound_words(bound, values).replace("\N{NO-BREAK SPACE}", " ") == "at least 127 °C: NOT MET on 33 % of the sheet"
    )
    assert bound_words(replace(bound, value=110.0), values).endswith("met everywhere")
    assert "on all of" in bound_words(replace(bound, value=150.0), values)
    assert worst_spot(values, "coldest") == (0, 0) and worst_spot(values, "hottest") == (0, 2)
    assert cell_edges(np.array([-10.0, 10.0])).tolist() == [-20, 0, 20]


# -- shots -------------------------------------------------------------------------------------------------------------


def test_shots_say_when_and_where_the_tool_settles():
    found = said(draw_shots(full_result()))
    for words in (
        "number of the shot",
        "tool face [°C]",
        "sheet [°C]",
        "settled after 21 shots",
        "tool settled at 68.0 °C",
        "tool face at release",
        "hottest plane of the sheet",
    ):
        assert words in found
    assert "release temperature: at most 85 °C, NOT MET" in " ".join(texts(draw_shots(full_result())))
    main = draw_shots(full_result()).axes[0]
    assert any(set(line.get_ydata()) == {68.0} for line in main.lines), "the settled value is a line"
    assert any(set(line.get_xdata()) == {21.5} for line in main.lines), "and an upright parts warming up from it"


def test_number_of_shots_may_come_from_a_study():
    result = full_result(outcomes=(), study={"shots": {"shots_until_settled": 12}})
    assert "settled after 12 shots" in said(draw_shots(result))


def test_thousands_of_settled_shots_do_not_hide_the_warming_up():
    long = draw_shots(full_result(fields=shot_fields(count=3000)))
    assert long.axes[0].get_xlim()[1] < 100
    assert "on to shot 3000" in said(long)
    unknown = draw_shots(full_result(fields=shot_fields(count=3000), outcomes=()))
    assert unknown.axes[0].get_xlim()[1] < 100 and ", on to shot 3000" in said(unknown)
    drifting = shot_fields(count=3000)
    drifting = (replace(drifting[0], values=drifting[0].values + np.arange(3000) / 100), *drifting[1:])
    assert draw_shots(full_result(fields=drifting)).axes[0].get_xlim()[1] > 2999, "what goes on moving is shown"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fields": shot_fields(count=8, hot=False)}, "not yet settled: that takes 21 shots"),
        ({"fields": shot_fields(count=1)}, "shot 1: 25.0 °C"),
        ({"outcomes": (Outcome("shots_until_settled", None, "1", ""),)}, "tool face at release"),
        ({"outcomes": (replace(SHOT_OUTCOMES[1], value=0.0),)}, "settled from the first shot"),
        ({"outcomes": (), "limits": ()}, "hottest plane of the sheet"),
        ({"limits": (replace(RELEASE, required="at most 185 degF"),)}, "tool face at release"),
    ],
)
def test_odd_shots_are_drawn(changes, words, recwarn):
    assert words in said(draw_shots(full_result(**changes)))
    assert [str(w.message) for w in recwarn] == []


def test_two_tools_are_named_and_told_apart_without_colour():
    two = [
        replace(field, name=f"{field.name}_{tool}", values=field.values + shift)
        for tool, shift in (("mould", 0), ("counter_block", -4))
        for field in shot_fields(hot=False)
    ]
    settled = [replace(SHOT_OUTCOMES[0], name=f"settled_{tool}_temperature") for tool in ("mould", "counter_block")]
    figure = draw_shots(full_result(fields=tuple(two), outcomes=tuple(settled)))
    assert "mould settled at 68.0 °C" in said(figure)
    assert "counter block face as the" in said(figure) and "mould face at release" in said(figure)
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) == 50]
    assert len({(line.get_marker(), str(line._dash_pattern)) for line in lines}) == 4


# -- zones -------------------------------------------------------------------------------------------------------------


def test_zones_are_numbered_with_setting_change_and_dead_ones():
    figure, bare = draw_zones(full_result()), draw_zones(full_result(fields=zone_fields(plan=False)))
    found, cells = texts(figure), texts(bare)
    # the settings as they were made: 400 before; after, at a corner, 400 + 55 (0.75^2 + (5/6)^2 - 0.5) = 441.6
    assert cells.count("400") == 23 and cells.count("380") == 24
    assert found.count("442") == 4 and found.count("+42") == 8
    assert found.count("dead") == 2 and found.count("1,3") == 2, "the dead zone has no number of its own"
    assert "upper zones before: 400 °C" in found and "upper zones after: 377 to 442 °C" in found
    hatched_cells = [patch for axes in figure.axes for patch in axes.patches if patch.get_hatch()]
    assert len(hatched_cells) == 2
    before, after = (field.values for field in zone_fields()[-2:])
    assert f"sheet before: spread {np.ptp(before):.1f} K" in found
    assert f"sheet after: spread {np.ptp(after):.1f} K" in found
    assert "spread at most 10 K: NOT MET" in found and "spread at most 10 K: met" in found


def test_maps_before_and_after_share_one_scale():
    figure = draw_zones(full_result())
    bars = figure.axes[-3::2]
    assert bars[0].get_ylim() == bars[1].get_ylim()


@pytest.mark.parametrize(
    "changes",
    [
        {"rows": 1, "columns": 1, "dead": None, "plan": False},
        {"rows": 1, "columns": 1, "dead": (0, 0)},
        {"rows": 10, "columns": 15, "unit": "%"},
        {"rows": 6, "columns": 2, "lower": False, "dead": (5, 1)},
        {"unit": "%", "plan": False},
    ],
    ids=str,
)
def test_odd_zones_are_drawn(changes, recwarn):
    figure = draw_zones(full_result(fields=zone_fields(**changes)))
    assert pixels(figure).min() < 0.5
    assert [str(w.message) for w in recwarn] == []


def test_only_one_time_and_zones_marked_dead():
    fields = {field.name: field for field in zone_fields(lower=False, dead=None, plan=False)}
    marked = replace(fields["zones/upper_after"], name="zones/upper_dead", values=np.eye(4, 6))
    found = texts(draw_zones(full_result(fields=(fields["zones/upper_after"], marked))))
    assert found.count("dead") == 4
    assert not any("before:" in text for text in found)


# -- history and command -----------------------------------------------------------------------------------------------


def test_history_shows_the_face_of_each_tool():
    two = (tool_field(), replace(tool_field(), name="tool/counter_block_temperature", values=tool_field().values - 9))
    figure = draw_history(full_result(fields=two))
    assert "mould face" in texts(figure) and "counter block face" in texts(figure)
    thin = [line for line in figure.axes[0].lines if line.get_linewidth() == 1.0 and len(line.get_xdata()) == 141]
    assert len({str(line._dash_pattern) for line in thin}) == 2
    np.testing.assert_array_equal(thin[0].get_ydata(), tool_field().values[:, 0])  # nearest to the sheet
    down = tool_field().axes[1]
    upper = replace(tool_field(), axes=(tool_field().axes[0], replace(down, meaning="depth from its upper side")))
    figure = draw_history(full_result(fields=(replace(upper, values=upper.values[:, ::-1]),)))
    thin = [line for line in figure.axes[0].lines if line.get_linewidth() == 1.0 and len(line.get_xdata()) == 141]
    np.testing.assert_array_equal(thin[0].get_ydata(), tool_field().values[:, 0])
    assert said(draw_history(full_result(fields=map_fields()))) == said(draw_history(full_result(fields=())))


def run_plot(tmp_path, monkeypatch, result, *arguments):
    monkeypatch.chdir(tmp_path)
    write(result, tmp_path / "tray.h5")
    return CliRunner().invoke(plot.command, ["tray.h5", *arguments])


def test_plot_draws_all_that_the_file_allows(tmp_path, monkeypatch):
    done = run_plot(tmp_path, monkeypatch, full_result())
    assert done.output.split() == [
        word for kind in ("history", "profile", "map", "shots", "zones") for word in ("wrote", f"tray_{kind}.png")
    ]
    assert (tmp_path / "tray_zones.png").read_bytes().startswith(b"\x89PNG")


def test_plot_of_one_kind(tmp_path, monkeypatch):
    done = run_plot(tmp_path, monkeypatch, full_result(fields=map_fields()), "--kind", "map", "-o", "x.svg")
    assert done.output == "wrote x.svg\n"
    done = run_plot(tmp_path, monkeypatch, full_result(fields=map_fields()), "--kind", "zones")
    assert str(done.exception) == "tray.h5 holds nothing to draw for zones; it has: history, profile, map"
