"""Evening out heater zones: the fit on problems of known optimum, then the real model against what must hold outside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog, lsq_linear
from zone_cases import FINE, OVEN, POWER, changed

from thermokit.case import parse_case
from thermokit.errors import CaseError, SolveError
from thermokit.studies.run import run
from thermokit.studies.zone_fit import fit, value
from thermokit.studies.zone_settings import unknowns
from thermokit.studies.zone_sheet import ZoneModel
from thermokit.studies.zones import Zones, _sheet, zones
from thermokit.studies.zones_words import limited_by, zones_text


@cache
def evened(text: str) -> Zones:
    return zones(parse_case(text))


def after(found: Zones, side: str) -> Any:
    return next(panel.after for panel in found.panels if panel.side == side)


# -- the fit: problems whose optimum is known --------------------------------------------------------------------------


@dataclass
class Straight:
    """even = a u + b, other = c u + d."""

    a: Any
    b: Any
    c: Any
    d: Any
    low: Any
    high: Any

    def at(self, settings: Any) -> Any:
        return settings

    def room(self, state: Any) -> Any:
        return state, self.low, self.high

    def moved(self, state: Any, way: Any) -> Any:
        return state + way

    def residuals(self, state: Any) -> Any:
        return self.a @ state + self.b, self.c @ state + self.d

    def slopes(self, state: Any) -> Any:
        return self.a, self.c


def straight(seed: int, spots: int = 40, n: int = 6, wide: float = 5.0) -> Straight:
    draw = np.random.default_rng(seed)
    a, b = draw.normal(size=(spots, n)), 3.0 * draw.normal(size=spots)
    c, d = 0.3 * draw.normal(size=(2 * n, n)), draw.normal(size=2 * n)
    return Straight(a, b, c, d, np.full(n, -wide), np.full(n, wide))


def never(before: Any, now: Any) -> bool:
    return False


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("wide", [5.0, 0.2])
def test_squares_about_the_mean_are_bounded_least_squares(seed: int, wide: float) -> None:
    """p = 2: what scipy.optimize.lsq_linear finds for the values less their mean."""
    model = straight(seed, wide=wide)
    rows = np.vstack([model.a - model.a.mean(axis=0), model.c])
    right = -np.concatenate([model.b - model.b.mean(), model.d])
    exact = lsq_linear(rows, right, (model.low, model.high), method="bvls").x
    found = fit(model, np.zeros(6), never, power=2.0)
    assert found.state == pytest.approx(exact, abs=1e-3)
    assert np.any(np.abs(exact) == 0.2) == (wide == 0.2), "in one of the two problems bounds are felt"


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("wide", [5.0, 0.2])
def test_spread_is_near_the_smallest(seed: int, wide: float) -> None:
    """p = 8 against the smallest spread by linear programming: max <= M_p N^(1/p), and M_p <= max at its optimum."""
    model = straight(seed, wide=wide)
    model = replace(model, c=1e-4 * np.eye(6), d=np.zeros(6))
    ones = np.ones((len(model.b), 1))
    # least t with c - t <= a u + b <= c + t
    limits = np.block([[model.a, -ones, -ones], [-model.a, ones, -ones]])
    found = linprog(
        [0.0] * 7 + [1.0], limits, np.concatenate([-model.b, model.b]), bounds=[(-wide, wide)] * 6 + [(None, None)] * 2
    )
    ours = fit(model, np.zeros(6), never).state
    spread = np.ptp(model.a @ ours + model.b)
    assert 2.0 * found.x[-1] <= spread * (1 + 1e-9)
    assert spread <= 2.0 * found.x[-1] * len(model.b) ** (1 / 8)
    assert np.all(np.abs(ours) <= wide)


def test_value_and_its_rise() -> None:
    even, other = np.array([1.0, -2.0, 4.0, 0.5]), np.array([0.3])
    whole, rise, _ = value((even, other))
    for i in range(4):
        step = np.zeros(4)
        step[i] = 1e-6
        slope = (value((even + step, other))[0] - value((even - step, other))[0]) / 2e-6
        assert rise[i] == pytest.approx(slope, rel=1e-6, abs=1e-7)
    assert value((even + 7.0, other))[0] == pytest.approx(whole), "only evenness counts"
    assert value((np.ones(4), other))[0] == pytest.approx(0.09)


def test_fit_goes_round_a_bend() -> None:
    """even = exp(u) - (1, 2, 3), one of them bounded: e^u = (1, 2, 3) + c; the last may only reach 2.5, so c = -1/2."""

    class Bent(Straight):
        def residuals(self, state: Any) -> Any:
            return np.exp(state) - [1.0, 2.0, 3.0], 1e-6 * state

        def slopes(self, state: Any) -> Any:
            return np.diag(np.exp(state)), 1e-6 * np.eye(3)

    n = np.zeros(3)
    model = Bent(n, n, n, n, np.full(3, -3.0), np.array([3.0, 3.0, np.log(2.5)]))
    found = fit(model, np.array([-2.0, 0.0, 0.9]), never)
    even = np.exp(found.state) - [1.0, 2.0, 3.0]
    assert np.ptp(even) == pytest.approx(0.0, abs=0.02)
    assert found.state[2] <= np.log(2.5)


# -- the model ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        OVEN,
        POWER,
        changed(OVEN, ('gap = "150 mm"', 'gap = "150 mm"\ndead = [[1, 1]]\ninstalled = "14 kW/m2"')),
        changed(
            OVEN, ('gap = "150 mm"', 'gap = "150 mm"\ninitial = "100 degC"\ntime_constant = "40 s"\ntrim = "20 K"')
        ),
    ],
    ids=["temperature", "power", "controlled, dead", "warm-up, trim"],
)
def test_slopes_are_those_of_the_model(text: str) -> None:
    """Against differences of the real model, zone by zone."""
    case = parse_case(text)
    touch = len(case.stations) - 1
    wanted = unknowns(case, touch)
    start = wanted.vector([panel.present for panel in wanted.panels])
    model = ZoneModel(_sheet(case, touch), wanted, 423.15, start)
    state = model.at(start)
    even, other = model.slopes(state)
    for i in range(0, len(start), 3):
        way = np.zeros(len(start))
        way[i] = -12.0
        there = model.residuals(model.at(model.moved(state, way)))
        for slopes, now, before in zip((even, other), there, model.residuals(state), strict=True):
            assert slopes[:, i] == pytest.approx((now - before) / -12.0, abs=0.05 * np.abs(slopes[:, i]).max() + 1e-5)


def test_mirrored_zones_share_an_unknown() -> None:
    def count(symmetry: str, dead: str = "dead = []") -> int:
        text = changed(FINE, ('"none"', f'"{symmetry}"'), ("rows = 4", f"{dead}\nrows = 4"))
        return len(unknowns(parse_case(text), 1).low)

    assert [count(s) for s in ("none", "length", "width", "both")] == [48, 24, 24, 12]
    # [1, 1] has no partner left across, but those along and opposite; [2, 3] and its three images all gone
    assert count("none", "dead = [[1, 1]]") == 46
    assert count("both", "dead = [[1, 1]]") == 12
    assert count("both", "dead = [[2, 3], [3, 3], [2, 4], [3, 4]]") == 10


def test_what_zones_send_out_and_back() -> None:
    wanted = unknowns(parse_case(changed(OVEN, ("rows = 2", 'trim = "30 K"\nrows = 2'))), 1)
    settings = np.linspace(300.0, 900.0, 12)
    sent = wanted.drive(settings)
    assert wanted.settings(sent) == pytest.approx(settings)
    assert sent / sent[0] == pytest.approx(((settings + 30.0) / 330.0) ** 4)
    assert wanted.low == pytest.approx(473.15 - 30.0), "bounds are those of the face"


# -- what must hold of the answer --------------------------------------------------------------------------------------


def test_wide_near_panels_stay_as_they_are() -> None:
    """Every spot sees nothing but panel: there is no spread to even out, and at the target nothing to shift."""
    text = changed(FINE, ('"150 mm"', '"4 mm"'), ('["700 mm", "500 mm"]', '["1400 mm", "1100 mm"]'))
    text = changed(text, ('"90 s"', '"find"'), ("[12, 8]", "[6, 4]"), ("rows = 4", "emissivity = 1.0\nrows = 4"))
    found = evened(text)
    assert found.dwell is not None and found.path == "stations.heat.duration"
    assert found.plans[0].spread < 0.5
    assert found.plans[0].mean.mean() == pytest.approx(423.15, abs=0.3), "so the dwell is found"
    for panel in found.panels:
        assert panel.after == pytest.approx(panel.before, abs=2.0)


def test_corners_need_about_twice_the_emission() -> None:
    """A panel 700 x 500 mm at 150 mm fills 0.82 of what the middle sees, 0.42 of the corner (view factors in closed form):
    corners need about x2; their zones more, since each of them warms its neighbours' part too."""
    found = evened(changed(FINE, ('"none"', '"both"'), ('"600 degC"', '"900 degC"')))
    assert found.reached
    sent = (after(found, "upper") + 273.15) ** 4
    assert sent[0, 0] / sent[1:3, 1:5].mean() >= 0.82 / 0.42
    assert found.plans[1].spread < found.plans[0].spread / 3.0
    for panel in found.panels:
        assert np.array_equal(panel.after, panel.after[::-1]) and np.array_equal(panel.after, panel.after[:, ::-1])
    assert np.array_equal(after(found, "upper"), after(found, "lower")), "both sides are alike"


def test_unasked_symmetry_comes_by_itself() -> None:
    found = evened(OVEN)
    for panel in found.panels:
        assert panel.after == pytest.approx(panel.after[::-1, ::-1], abs=1.0), "to the rounding"


@pytest.mark.parametrize(
    "text",
    [
        OVEN,
        POWER,
        changed(OVEN, ("rows = 2", "dead = [[1, 2]]\nrows = 2"), ('"600 degC"', '"480 degC"')),
        changed(OVEN, ('specific_heat = "1900 J/kg/K"', 'specific_heat = "1900 J/kg/K"'), ('"150 degC"', '"301 degF"')),
    ],
    ids=["temperature", "power", "dead", "degF"],
)
def test_a_rerun_of_the_written_case_says_the_same(text: str) -> None:
    found = evened(text)
    again = run(parse_case(found.case.source.text))
    spread = {o.name: o.value for o in again.outcomes}["map_spread"]
    assert spread == pytest.approx(found.plans[1].spread, abs=1e-9)
    uneven = [plan.spread / (plan.mean.mean() - 293.15) for plan in found.plans]
    assert uneven[1] < uneven[0], "for the rise over the stock: a hotter sheet has more to be uneven in"
    before = {o.name: o.value for o in run(parse_case(text)).outcomes}["map_spread"]
    assert before == pytest.approx(found.plans[0].spread, abs=1e-9)
    assert found.reached == (abs(found.plans[1].mean.mean() - found.target) <= 1.0)
    for panel in found.panels:
        alive = np.isfinite(panel.after)
        assert np.all(panel.after[alive] >= panel.lowest) and np.all(panel.after[alive] <= panel.highest)


def test_a_dead_zone_stays_dead_and_its_neighbours_make_up_for_it() -> None:
    dead = changed(FINE, ("[stations.upper]", "[stations.upper]\ndead = [[2, 2]]"))
    found, whole = evened(dead), evened(FINE)
    assert np.isnan(after(found, "upper")[1, 1]) and found.panels[0].at_bound[1][1] == "dead"
    raw = found.case.value("stations.heat.upper.temperature")
    assert raw[1][1] == pytest.approx(693.15), "its setting stays what it was"
    neighbours = [(0, 1), (1, 0), (1, 2)]
    rise = [after(found, "upper")[z] - after(whole, "upper")[z] for z in neighbours]
    assert min(rise) > 0.0 and max(rise) > 10.0, "round it"
    assert after(found, "lower")[1, 1] > after(whole, "lower")[1, 1] + 20.0, "and beneath it"
    assert {t.without for t in found.trials} == {"dead zones"}
    trial = found.trials[0]
    assert trial.spread == pytest.approx(whole.plans[1].spread, abs=0.5), "the mended oven is the whole one"


def test_controlled_zones_without_power_enough_are_those_at_full_power() -> None:
    """Two ways to one optimum: shares of 14 kW/m2, and temperatures that 14 kW/m2 cannot always hold."""
    held = changed(OVEN, ('gap = "150 mm"', 'gap = "150 mm"\ninstalled = "14 kW/m2"'), ('"200 degC"', '"20 degC"'))
    by_power, by_temperature = evened(POWER), evened(held)
    assert by_temperature.plans[1].spread == pytest.approx(by_power.plans[1].spread, abs=0.3)
    assert by_temperature.plans[1].mean == pytest.approx(by_power.plans[1].mean, abs=0.5)
    full = np.array(by_temperature.panels[0].at_bound) == "full"
    assert np.array_equal(full, np.array(by_power.panels[0].at_bound) == "highest")
    assert full.any() and not full.all()
    assert any("all their power on" in text for text in limited_by(by_temperature))
    (trial,) = by_power.trials
    assert trial.without == "bounds" and trial.spread < by_power.plans[1].spread


def test_one_sided() -> None:
    begin, end = OVEN.index("[stations.lower]"), OVEN.index("[stations.air]")
    found = evened(changed(OVEN[:begin] + OVEN[end:], ('"90 s"', '"200 s"'), ('"none"', '"length"')))
    assert [panel.side for panel in found.panels] == ["upper"]
    assert found.reached and found.plans[1].spread < found.plans[0].spread
    assert np.array_equal(after(found, "upper"), after(found, "upper")[:, ::-1])
    assert abs(found.missed) < 0.5, "the difference of the faces, about which one panel can do nothing, does not pull"


@pytest.mark.parametrize(
    ("target", "highest", "word", "side"),
    [("260 degC", "430 degC", "highest", "below"), ("30 degC", "430 degC", "lowest", "above")],
)
def test_a_target_that_no_setting_reaches(target: str, highest: str, word: str, side: str) -> None:
    found = evened(changed(OVEN, ('"150 degC"', f'"{target}"'), ('"600 degC"', f'"{highest}"')))
    assert not found.reached
    assert all(panel.count(word) == 6 for panel in found.panels), "all there is, or as little as there is"
    said = " ".join(limited_by(found))
    best = found.plans[1].mean.mean() - 273.15
    assert f"cannot be reached with these bounds: the best that can be had is a mean of {best:.1f} degC" in said
    assert f"{abs(found.missed):.1f} K {side} it" in said
    assert f"All 6 zones of the upper panel of heat stand at the {word}" in said
    assert found.result.study["zones"]["reached"] is False


def test_words_fit_the_page_and_say_what_matters() -> None:
    found = evened(changed(FINE, ("[stations.upper]", "[stations.upper]\ndead = [[2, 2]]")))
    text = zones_text(found)
    assert max(map(len, text.splitlines())) <= 100
    assert "dead" in text and "Target 150.0 degC" in text and "-o NEW_CASE.toml" in text
    assert f"spread{found.plans[0].spread:>26.1f}{found.plans[1].spread:>10.1f}  K" in text
    assert "supervised trial" in text


def test_a_panel_of_many_columns_is_printed_in_pieces() -> None:
    text = changed(OVEN, ("columns = 3", "columns = 20"), ('"none"', '"both"'), ("rows = 2", "rows = 1"))
    lines = zones_text(evened(text)).splitlines()
    assert max(map(len, lines)) <= 100
    assert sum(line.strip() == "before" for line in lines) == 4, "two pieces for each panel"


def test_fields_are_those_of_the_figure() -> None:
    from thermokit.figures.zones import draw_zones, has_zones
    from thermokit.results.fields import find

    uneven = changed(OVEN, ("[stations.lower]", "[stations.lower]\n# other zones"))
    found = evened(uneven.replace("rows = 2", "rows = 1", 1))
    assert has_zones(found.result)
    for name in ("upper_before", "upper_after", "lower_before", "lower_after", "map_before", "map_after"):
        assert find(found.result, f"zones/{name}") is not None, name
    kept, own = find(found.result, "zones/map_after"), find(found.result, "map/mean_temperature")
    assert kept is not None and own is not None
    assert kept.values == pytest.approx(own.values)
    import matplotlib.pyplot as plt

    plt.close(draw_zones(found.result))


# -- a dwell that is sought --------------------------------------------------------------------------------------------

LIMITS = '[limits]\ncoldest_point = "127 degC"\nhottest_face = "182 degC"\n'


def test_a_dwell_is_found_first() -> None:
    found = evened(changed(OVEN, ('"90 s"', '{ find = ["20 s", "300 s"] }'), ("[zones]", f"{LIMITS}[zones]")))
    assert found.plans[0].mean.mean() == pytest.approx(423.15, abs=0.1)
    before, now = found.windows
    assert before is not None and not before.open, "corners and middle are too far apart"
    assert now is not None and now.open and now.earliest is not None
    assert f"from {now.earliest:.1f} s (coldest_point)" in zones_text(found)
    assert 'find = ["20 s", "300 s"]' in found.case.source.text, "and stays to be found"


def test_a_dwell_that_brings_the_sheet_nowhere() -> None:
    with pytest.raises(SolveError, match=r"no dwell from 5 to 20 s brings the mean over the sheet to 150\.0 degC"):
        zones(parse_case(changed(OVEN, ('"90 s"', '{ find = ["5 s", "20 s"] }'))))


def test_a_dwell_on_the_tool_does_not_matter() -> None:
    tool = """[[stations]]
name = "form"
kind = "tool"
duration = { find = ["2 s", "200 s"] }
lower = { tool = "mould", contact = "250 W/m2/K" }
air = { temperature = "25 degC", coefficient = "20 W/m2/K" }
[tools.mould]
temperature = "60 degC"
[limits]
release_temperature = "85 degC"
"""
    found = evened(changed(OVEN, ("[zones]", f"{tool}[zones]")))
    assert found.dwell is None and found.path is None
    assert found.plans[1].mean == pytest.approx(evened(OVEN).plans[1].mean, abs=0.1), "the tool comes later"
    assert found.windows[1] is not None and found.result.status == "finished"


# -- what is wrong -----------------------------------------------------------------------------------------------------

EXCHANGE = changed(
    OVEN,
    ('rows = 2\ncolumns = 3\nsize = ["700 mm", "500 mm"]\ngap = "150 mm"', "exchange = 0.6"),
    (OVEN[OVEN.index("[zones]") :], ""),
)
SIZELESS = changed(
    EXCHANGE,
    ("exchange = 0.6", 'size = ["700 mm", "500 mm"]\ngap = "9 mm"'),
    ('length = "600 mm"\nwidth = "400 mm"\nspots = [6, 4]\n', ""),
)
TIMES = changed(
    OVEN,
    ('temperature = "420 degC"', 'temperature = { time = ["0 s", "9 s"], value = ["400 degC", "420 degC"] }'),
    ("rows = 2\ncolumns = 3\n", ""),
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (EXCHANGE, "there is no map of the sheet to even out"),
        (SIZELESS, "there is no map of the sheet"),
        (OVEN[: OVEN.index("[zones]")] + LIMITS, "missing: it says how cold and how hot a zone may be set"),
        (OVEN.replace("rows = 2\ncolumns = 3\n", ""), "no panel is cut into zones"),
        (OVEN.replace('target = "150 degC"\n', ""), "neither the case nor the material gives both forming limits"),
        (TIMES, "no panel heats the sheet whose zones could be set"),
        (OVEN.replace('duration = "4 s"', 'duration = "find"'), "a dwell may be sought between panels"),
        (OVEN.replace("rows = 2\ncolumns = 3", "rows = 1\ncolumns = 2\ndead = [[1, 1], [1, 2]]"), "0 settings would be sought"),
        (OVEN.replace("rows = 2\ncolumns = 3", "rows = 40\ncolumns = 40"), "3200 settings would be sought"),
    ],
)  # fmt: skip
def test_cases_without_an_answer(text: str, words: str) -> None:
    case = parse_case(text, "lid.toml")
    with pytest.raises(CaseError, match=words) as said:
        zones(case)
    assert str(said.value).startswith("lid.toml: 1 mistake")
    assert "allowed:" in str(said.value)


def test_other_kinds_have_no_zones() -> None:
    body = '[body]\nshape = "plane"\nstart = "20 degC"\n[[body.layers]]\nmaterial = "abs"\nthickness = "1 mm"\n'
    with pytest.raises(CaseError, match='"body" has no heater zones'):
        zones(parse_case(f'process = "body"\n{body}[[stations]]\nduration = "1 s"\n'))
