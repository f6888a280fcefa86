"""Bodies that change on their way: the joined history against the same body in one piece, exact touch, one and many."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from course_bodies import CUT, STEEL, air, formed, sheet, tool
from scipy.special import erf, erfcx

from tests.balance.bodies import FACES, body
from thermokit.conduction.course import Course, LayerState, as_course
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.mesh import difference, settle
from thermokit.conduction.problem import Face, Layer, Medium, Problem, Series, Span
from thermokit.conduction.single import solve
from thermokit.conduction.watch import Watch

TOLERANCE = 0.01
SAME = 1e-6  # K: the solver restarts at every span anyway, so only round-off is left
SPANS = (Span(40.0, Face(), FACES["all"]), Span(30.0, FACES["convection"], Face()), Span(20.0, Face(heating=-900.0)))
WATCHES = (
    Watch("warm", "coldest", 320.0),
    Watch("deep", 4.1e-3, 330.0),
    Watch("face", "outer_face", 380.0),
    Watch("never", "hottest", 900.0),
    Watch("cool again", "inner_face", 330.0, rising=False),
)


def named(problem: Problem) -> Problem:
    """The same with names by which layers can be followed."""
    layers = tuple(replace(layer, name=f"layer {i}") for i, layer in enumerate(problem.layers))
    return replace(problem, layers=layers)


def same_extremes(mine: Any, theirs: Any) -> None:
    """An insulated face is as hot as the cell beneath it: which of the two is named is left to round-off."""
    for extreme in ("hottest", "coldest"):
        a, b = getattr(mine, extreme), getattr(theirs, extreme)
        assert (a.value, a.time) == pytest.approx((b.value, b.time), abs=SAME), extreme
        assert a.depth == pytest.approx(b.depth, abs=2e-4), extreme  # half a cell


# -- a course that changes nothing --------------------------------------------------------------------------------------


@pytest.mark.parametrize("medium", ["plain", "melting", "two curves", "reacting", "reacting and melting"])
@pytest.mark.parametrize("name", ["plane", "solid cylinder", "hollow cylinder", "solid sphere", "hollow sphere"])
def test_legs_that_change_nothing_are_one_run(name: str, medium: str) -> None:
    """Rows, ends, heat, extremes and crossings, with a source of heat that runs on the clock of the whole way."""
    whole = named(body(name.split()[-1], medium, SPANS, not name.startswith("solid")))  # type: ignore[arg-type]
    heated = replace(whole.layers[0], heat=Series((0.0, 50.0, 50.0, 90.0), (1e5, 3e5, 0.0, 2e5)))
    whole = replace(whole, layers=(heated, whole.layers[1]))
    course = Course(tuple(replace(whole, spans=(span,)) for span in SPANS))
    times = np.array([0.0, 1.0, 25.0, 40.0, 41.0, 70.0, 80.0, 90.0])
    own = solve(whole, times, TOLERANCE, WATCHES)
    travel = follow(course, times, TOLERANCE, WATCHES)
    found = travel.history
    assert found.time.tolist() == times.tolist()
    assert found.span.tolist() == own.span.tolist()
    assert found.edges == pytest.approx(own.edges, rel=1e-12)
    assert (found.accepted, found.rejected) == (own.accepted, own.rejected)
    for column in ("temperature", "inner_face", "outer_face"):
        assert getattr(found, column) == pytest.approx(getattr(own, column), abs=SAME), column
    assert list(found.states) == list(own.states)
    for state, values in own.states.items():
        assert found.states[state] == pytest.approx(values, abs=SAME, nan_ok=True), state
    for mine, theirs in zip(found.ends, own.ends, strict=True):
        assert mine.time == pytest.approx(theirs.time)
        assert mine.temperature == pytest.approx(theirs.temperature, abs=SAME)
        assert (mine.inner_face, mine.outer_face) == pytest.approx((theirs.inner_face, theirs.outer_face), abs=SAME)
        same_extremes(mine, theirs)
    same_extremes(found, own)
    assert found.crossings == pytest.approx(own.crossings, abs=1e-6)
    assert found.crossings["never"] is None
    for part in ("entered", "left", "stored", "released"):
        assert getattr(found.heat, part) == pytest.approx(getattr(own.heat, part), rel=1e-7, abs=1e-3), part
    assert found.heat.mismatch <= 1e-12
    assert found.heat.unit == own.heat.unit
    assert found.ending == replace(own.ending, time=pytest.approx(own.ending.time))
    assert travel.companions == {}


def test_a_single_leg_is_the_plain_run() -> None:
    """Nothing in between: the very same numbers, layers without names too."""
    problem = body("plane", "reacting", SPANS)
    own = solve(problem, None, TOLERANCE, WATCHES)
    found = follow(as_course(problem), None, TOLERANCE, WATCHES).history
    assert np.array_equal(found.temperature, own.temperature)
    assert np.array_equal(found.outer_face, own.outer_face)
    assert found.heat == own.heat
    assert found.hottest == own.hottest
    assert found.crossings == own.crossings


def test_rows_between_legs_are_kept_once() -> None:
    """Rows at and beside a leg's end: the one at the end belongs to the leg that ends, and times come back as asked."""
    lengths = [0.1, 0.2, 0.3, 1e-4, 2e4, 1e-4, 7.0]
    spans = [Span(d, air(20.0, 400.0)) for d in lengths]
    course = Course(tuple(Problem((sheet(),), (span,)) for span in spans))
    ends = np.cumsum(lengths)
    times = np.sort(np.concatenate([[0.0], ends, ends[:-1] * (1.0 + 1e-10), ends * (1.0 - 1e-10)]))
    found = follow(course, times).history
    assert found.time.tolist() == times.tolist()
    assert found.span.tolist() == np.searchsorted(ends * (1.0 + 1e-13), times).clip(0, 6).tolist()
    default = follow(course).history
    assert set(ends) <= set(default.time.tolist())
    assert np.all(np.diff(default.time) > 0.0)


def test_a_leg_without_length_changes_nothing() -> None:
    course = formed()
    still = replace(course.legs[0], spans=(Span(0.0, name="nothing"),))
    longer = replace(course, legs=(course.legs[0], still, *course.legs[1:]), areas=(1.0, *course.areas))
    times = np.array([10.0, 65.0, 70.0, 95.0])
    a, b = follow(course, times).history, follow(longer, times).history
    assert b.temperature == pytest.approx(a.temperature, abs=SAME)
    assert (a.hottest, a.coldest) == (b.hottest, b.coldest)
    assert [end.time for end in b.ends] == [60.0, 65.0, 65.0, 85.0, 95.0]
    first = follow(replace(longer, legs=(still, *course.legs)), times).history
    assert first.hottest == a.hottest
    assert first.coldest.value == a.coldest.value
    touch = Problem((sheet(), tool(700.0)), (Span(0.0),))
    nothing = follow(Course((touch,), ("sheet",)), np.array([0.0])).history
    assert (nothing.hottest.value, nothing.coldest.value) == pytest.approx((300.0, 300.0))


# -- touch --------------------------------------------------------------------------------------------------------------

FINE = np.concatenate([[0.0], np.geomspace(1e-4, 1.0, 90)])  # fine at the inner side
HOT, COLD, BEFORE = 460.0, 310.0, 2.0
SOFT, METAL = Medium(950.0, 0.25, 2100.0), Medium(2700.0, 150.0, 900.0)


def touching(contact: float, body_inside: bool) -> Course:
    """An insulated hot sheet that is laid on a cold tool, both thick beside the way that heat goes in a second."""
    cuts = (1.0 - FINE[::-1], FINE)
    if body_inside:
        own, other = Layer(SOFT, 0.02, cuts[0], HOT, name="sheet"), Layer(METAL, 0.1, cuts[1], COLD, name="tool")
        both = (replace(own, contact=contact), other)
    else:
        own, other = Layer(SOFT, 0.02, cuts[1], HOT, name="sheet"), Layer(METAL, 0.1, cuts[0], COLD, name="tool")
        both = (replace(other, contact=contact), own)
    return Course((Problem((own,), (Span(BEFORE),)), Problem(both, (Span(1.0),))), ("sheet",))


@pytest.mark.parametrize("body_inside", [True, False])
@pytest.mark.parametrize("contact", [1e9, 2e4, 800.0])
def test_touch_temperature(contact: float, body_inside: bool) -> None:
    """Two half-spaces of effusivities e = sqrt(k rho c) brought together over a conductance h.

    Laplace transform of the two faces' responses (1/(e sqrt s)): the jump is D0 exp(n^2 t) erfc(n sqrt t), n = h (1/e1 +
    1/e2), so the face of body 1 is T1 + (T2 - T1) e2/(e1 + e2) (1 - exp(n^2 t) erfc(n sqrt t)); h without end: the touch
    temperature (e1 T1 + e2 T2)/(e1 + e2) (Carslaw and Jaeger 1959, section 2.15), inside Ts + (T1 - Ts) erf(x/2 sqrt(a t)).
    """
    after = np.array([0.02, 0.1, 0.4, 1.0])
    found = follow(touching(contact, body_inside), BEFORE + after, 1e-3)
    e1, e2 = (np.sqrt(m.conductivity * m.density * m.specific_heat) for m in (SOFT, METAL))
    n = contact * (1.0 / e1 + 1.0 / e2)
    exact = HOT + (COLD - HOT) * e2 / (e1 + e2) * (1.0 - erfcx(n * np.sqrt(after)))
    face, far = found.history.outer_face, found.history.inner_face
    if not body_inside:
        face, far = far, face
    assert face == pytest.approx(exact, abs=0.05)
    assert far == pytest.approx([HOT] * 4, abs=1e-3)
    if contact > 1e6:
        touch = (e1 * HOT + e2 * COLD) / (e1 + e2)
        assert face == pytest.approx([touch] * 4, abs=0.05)
        x = found.history.centres
        x = found.history.edges[-1] - x if body_inside else x
        inside = touch + (HOT - touch) * erf(x / (2.0 * np.sqrt(0.25 / (950.0 * 2100.0) * 1.0)))
        assert found.history.temperature[-1] == pytest.approx(inside, abs=0.1)


# -- what is shown ------------------------------------------------------------------------------------------------------


def test_layers_that_are_not_there_have_no_rows() -> None:
    """A skin that is laid on later and stripped off again; the face is that of what is there."""
    skin = Layer(Medium(900.0, 0.2, 2000.0), 1e-3, np.linspace(0.0, 1.0, 5), 350.0, name="skin")
    cold = air(40.0, 300.0)
    legs = (
        Problem((sheet(),), (Span(5.0, cold, cold),)),
        Problem((sheet(), skin), (Span(5.0, cold, cold),)),
        Problem((sheet(),), (Span(5.0, cold, cold),)),
    )
    times = np.array([2.0, 5.0, 6.0, 10.0, 10.01, 15.0])
    found = follow(Course(legs, ("sheet", "skin")), times).history
    n = len(CUT) - 1
    assert found.temperature.shape == (6, n + 4)
    assert np.isnan(found.temperature[:, n:]).any(axis=1).tolist() == [True, True, False, False, True, True]
    assert not np.isnan(found.temperature[:, :n]).any()
    assert np.isnan(found.ends[0].temperature[n:]).all()
    assert np.isfinite(found.ends[1].temperature).all()
    assert np.isfinite(found.outer_face).all()
    assert found.hottest.value == pytest.approx(350.0, abs=0.01)
    assert found.hottest.time == pytest.approx(5.0)
    assert 3e-3 < found.hottest.depth < 4e-3
    # the sheet goes on from where the skin left it
    assert found.temperature[4, n - 1] == pytest.approx(found.temperature[3, n - 1], abs=0.5)
    assert found.temperature[3, n - 1] > found.temperature[3, 0] + 5.0


@pytest.mark.parametrize("on_top", [False, True])
def test_a_tool_stays_out_of_the_facts(on_top: bool) -> None:
    """A tool hotter and colder than the sheet ever is; its rows stand beside, only while it is there."""
    for start, which in ((700.0, "hottest"), (150.0, "coldest")):
        course = formed(start=start, contact=5.0, on_top=on_top)
        times = np.array([10.0, 60.0, 66.0, 85.0, 90.0])
        travel = follow(course, times)
        found, own = travel.history, travel.companions["tool"]
        for extreme in (
            found.hottest,
            found.coldest,
            *(e.hottest for e in found.ends),
            *(e.coldest for e in found.ends),
        ):
            assert 290.0 < extreme.value < 500.0
            assert 0.0 <= extreme.depth <= 3e-3
        assert own.time.tolist() == [66.0, 85.0]
        assert own.depth == pytest.approx([1e-3, 3e-3, 5e-3, 7e-3, 9e-3])
        assert own.start == pytest.approx([start] * 5)
        assert own.end == pytest.approx(own.temperature[-1])
        assert abs(own.end[0] - start) > 20.0, which
        assert found.temperature.shape[1] == len(CUT) - 1
        batch = follow_batch(course, 2)
        assert batch.hottest == pytest.approx([found.hottest.value] * 2, abs=0.1)
        assert batch.coldest == pytest.approx([found.coldest.value] * 2, abs=0.1)


def test_a_tool_by_itself_is_followed() -> None:
    """Between shots: there is nothing to show and nothing is hottest, but the tool goes on cooling."""
    alone = Problem((tool(),), (Span(60.0, air(500.0, 290.0)),))
    for course in (Course((alone,)), Course((*formed().legs, alone), ("sheet",))):
        travel = follow(course, np.array([60.0]))
        assert travel.history.ending.status == "finished"
        assert travel.memory["tool"].temperature.max() < 305.0
    assert np.isnan(follow(Course((*formed().legs, alone), ("sheet",)), np.array([100.0])).history.temperature).all()
    assert follow_batch(Course((*formed().legs, alone), ("sheet",)), 2).hottest == pytest.approx(
        [follow(formed()).history.hottest.value] * 2, abs=0.1
    )


def test_depths_are_those_of_the_body_as_it_was() -> None:
    """The outer face of a drawn sheet stays at 3 mm, wherever tools lie."""
    for on_top in (False, True):
        course = formed(ratio=3.0, on_top=on_top)
        last = Problem(course.legs[2].layers, (Span(10.0, Face(), air(400.0, 600.0)),))
        history = follow(replace(course, legs=(*course.legs[:2], last)), None, 1e-3).history
        assert history.edges == pytest.approx(3e-3 * CUT)
        assert history.hottest.depth == pytest.approx(3e-3, rel=1e-12)
        assert history.ends[-1].hottest.depth == pytest.approx(3e-3, rel=1e-12)


def test_the_hottest_moment_may_lie_in_any_leg() -> None:
    """On the clock of the whole way, one run and many."""
    for heated in range(3):
        legs = list(formed(heat=30.0).legs)
        hot = air(800.0, 700.0)
        spans = (*legs[heated].spans[:-1], replace(legs[heated].spans[-1], inner=hot))
        legs[heated] = replace(legs[heated], spans=spans)
        course = Course(tuple(legs), ("sheet",))
        single, many = follow(course).history.hottest, follow_batch(course, 2)
        assert single.time == pytest.approx([35.0, 55.0, 65.0][heated])
        assert single.depth == 0.0
        assert many.hottest == pytest.approx([single.value] * 2, abs=0.05)
        assert many.hottest_time == pytest.approx([single.time] * 2)


@pytest.mark.parametrize("on_top", [False, True])
def test_a_watched_depth_moves_with_the_sheet(on_top: bool) -> None:
    """On a hot tool beside it, and drawn to a third of its thickness: the place that was 0.4 mm from the tool's side."""
    course = formed(ratio=3.0, start=700.0, contact=2000.0, on_top=on_top)
    at = 0.4e-3 if on_top else 2.6e-3
    rows = np.linspace(65.0, 85.0, 400)
    history = follow(course, rows, 1e-3, (Watch("hot", at, 480.0), Watch("oven", at, 350.0))).history
    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    values = np.array([np.interp(at, depth, row) for row in profile])
    when = history.crossings["hot"]
    assert when is not None
    assert values[rows <= when].max() < 480.0 < values[rows > when][0]
    assert history.crossings["oven"] is not None
    assert history.crossings["oven"] < 60.0


def test_a_covered_face_cannot_be_watched() -> None:
    with pytest.raises(ValueError, match="outer_face is covered"):
        follow(formed(), watches=(Watch("late", "outer_face", 400.0),))
    assert follow(formed(), watches=(Watch("early", "inner_face", 320.0),)).history.crossings["early"] is not None


def test_names_that_cannot_be_followed() -> None:
    twice = Problem((sheet(), sheet()), (Span(1.0),))
    with pytest.raises(ValueError, match="followed by name"):
        Course((twice,))
    assert [layer.name for layer in as_course(twice).legs[0].layers] == ["sheet 1", "sheet 2"]
    coarse = Problem((sheet(cut=np.linspace(0.0, 1.0, 4)),), (Span(1.0),))
    with pytest.raises(ValueError, match="'sheet' has"):
        Course((Problem((sheet(),), (Span(1.0),)), coarse))


# -- memory -------------------------------------------------------------------------------------------------------------


def test_a_tool_remembers_the_shot_before() -> None:
    """Two shots one after the other are one course with two sheets."""
    course = formed("two curves", reacts=True)
    again = course.each(
        lambda leg: replace(
            leg, layers=tuple(replace(x, name="second") if x.name == "sheet" else x for x in leg.layers)
        )
    )
    both = Course(course.legs + again.legs, ("second",))
    times = np.array([10.0, 70.0, 95.0])
    first = follow(course, times)
    second = follow(course, times, memory={"tool": first.memory["tool"]})
    whole = follow(both, 95.0 + times)
    assert second.history.temperature == pytest.approx(whole.history.temperature, abs=SAME)
    assert second.companions["tool"].temperature == pytest.approx(whole.companions["tool"].temperature[-1:], abs=SAME)
    assert second.companions["tool"].start == pytest.approx(first.companions["tool"].end)
    for name, values in whole.history.states.items():
        assert second.history.states[name] == pytest.approx(values, abs=SAME, nan_ok=True)
    # the second shot meets a tool that the first one left colder, and ends colder
    assert second.companions["tool"].start.max() < 320.0
    assert second.history.ends[2].temperature.mean() < first.history.ends[2].temperature.mean() - 0.3
    many = follow_batch(course, 3)
    known = follow_batch(course, 3, memory={"tool": many.memory["tool"]})
    assert known.memory["tool"].temperature[:, 1] == pytest.approx(second.memory["tool"].temperature, abs=0.1)


def test_all_layers_can_go_on_from_memory() -> None:
    """Stopped after the oven and taken up again from what was remembered, degrees and crystalline share with it."""
    course = formed("two curves", reacts=True)
    start = follow(Course(course.legs[:1], course.body))
    rest = follow(Course(course.legs[1:], course.body), np.array([2.0, 20.0, 30.0]), memory=start.memory)
    whole = follow(course, np.array([67.0, 85.0, 95.0]))
    assert rest.history.temperature == pytest.approx(whole.history.temperature, abs=SAME)
    for name, values in whole.history.states.items():
        assert rest.history.states[name] == pytest.approx(values, abs=SAME), name
    assert 0.1 < whole.history.states["crystalline_share"].min() < 0.5


# -- runs that do not get to the end --------------------------------------------------------------------------------------


def test_a_single_run_that_fails_says_where() -> None:
    """In the sheet: its depth as it was first; in the tool: its name."""
    for on_top in (False, True):
        course = formed(on_top=on_top)
        cold = Face(heating=-3e7)
        for at_sheet in (True, False):
            inner = at_sheet != on_top
            span = replace(course.legs[1].spans[0], **{"inner" if inner else "outer": cold})  # type: ignore[arg-type]
            legs = (course.legs[0], replace(course.legs[1], spans=(span,)), course.legs[2])
            travel = follow(replace(course, legs=legs), np.array([10.0, 64.0, 65.5, 90.0]))
            ending = travel.history.ending
            assert ending.status == "out_of_range"
            assert 65.0 < ending.time < 85.0
            assert len(travel.runs) == 2
            assert len(travel.history.ends) == 2
            assert travel.history.time.tolist()[:2] == [10.0, 64.0]
            assert "tool" not in travel.memory
            assert "absolute zero" in ending.advice
            if at_sheet:
                assert ending.depth == pytest.approx(3e-3 if on_top else 0.0, abs=3e-4)
                assert "tool" not in ending.advice
            else:
                assert ending.depth is None
                assert ending.advice.startswith("in tool: ")


def test_a_run_that_is_interrupted_keeps_its_rows() -> None:
    def stop(share: float) -> None:
        told.append(share)
        if share > 0.7:  # in the second leg, which goes from 0.68 to 0.89
            raise KeyboardInterrupt

    told: list[float] = []
    times = np.arange(0.0, 95.5, 0.5)
    travel = follow(formed("two curves", reacts=True), times, 1e-5, progress=stop)
    found = travel.history
    assert told == sorted(told)
    assert found.ending.status == "interrupted"
    assert len(travel.legs) == len(travel.runs) == 2
    assert len(found.ends) == 2
    assert 65.0 < found.ending.time < 85.0
    assert found.time.tolist() == times[times <= found.ending.time].tolist()
    assert len(found.temperature) == len(found.time) == len(found.span) == len(found.states["cure_degree"])
    assert found.time[-1] > 65.0
    whole = follow(formed("two curves", reacts=True), times, 1e-5).history
    assert np.array_equal(whole.temperature[: len(found.time)], found.temperature)
    assert travel.companions["tool"].time.tolist() == found.time[found.time > 65.0].tolist()


def test_steel_is_quicker_than_the_sheet() -> None:
    """The tool of these tests is what it is meant to be: nearly of one temperature beside the sheet."""
    assert STEEL.conductivity / 10e-3 > 10.0 * 0.3 / 3e-3


def test_meshes_are_compared_where_a_layer_is() -> None:
    """A layer that is not there yet does not hide what the others are off."""
    cold = air(40.0, 300.0)

    def build(cut: np.ndarray) -> Course:
        skin = Layer(Medium(900.0, 0.2, 2000.0), 1e-3, np.linspace(0.0, 1.0, 3), 350.0, name="skin")
        legs = (
            Problem((sheet(cut=cut),), (Span(5.0, air(300.0, 400.0), cold),)),
            Problem((sheet(cut=cut), skin), (Span(5.0),)),
        )
        return Course(legs, ("sheet", "skin"))

    times = np.array([1.0, 5.0])
    coarse, fine = (follow(build(np.linspace(0.0, 1.0, n + 1)), times, 1e-3).history for n in (4, 8))
    size, when, depth = difference(coarse, fine)
    means = fine.temperature[:, :8].reshape(2, 4, 2).mean(axis=2)
    gaps = np.column_stack([fine.inner_face - coarse.inner_face, means - coarse.temperature[:, :4]])
    assert size == pytest.approx(np.abs(gaps).max())
    assert size > 0.5
    assert (when, depth) == (1.0, 0.0)
    off = fine.temperature.copy()
    off[1, 4:6] += 7.0
    size, when, depth = difference(coarse, replace(fine, temperature=off))
    assert (size, when, depth) == pytest.approx((7.0, 5.0, 2.5 / 4.0 * 3e-3), abs=0.3)
    settled = settle(lambda cuts: build(cuts[0]), [1.0], [None], 0.5, times)
    assert settled.met
    assert len(settled.edges[0]) > 9
    assert settled.space_error is not None
    assert 0.0 < settled.space_error <= 0.25


def test_what_layers_remember_is_asked_for_every_mesh() -> None:
    asked: list[int] = []

    def memory(cuts: Any) -> Any:
        asked.append(len(cuts[1]) - 1)
        return {"tool": LayerState(np.full(asked[-1], 420.0), {}, None)}

    def build(cuts: Any) -> Course:
        own = sheet(cut=cuts[0], start=330.0)
        return Course((Problem((own, tool(cut=cuts[1])), (Span(5.0),)),), ("sheet",))

    found = settle(build, [10.0, 1.0], [None, None], 0.2, np.array([2.0, 5.0]), memory=memory)
    assert asked[:2] == [4, 8]
    assert len(found.edges[1]) - 1 == asked[-1]
    assert found.travel.companions["tool"].start == pytest.approx([420.0] * asked[-1])
    assert found.history.outer_face[-1] > 360.0
