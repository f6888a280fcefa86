"""How the section solver behaves: rows, switches, watches, what it refuses, and how it ends."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_grids import at, box, convection, grid, held, sides_of, spaced
from thermokit.conduction.problem import Exchange, Face, Medium, Radiation, Series
from thermokit.conduction.section_cycle import settled
from thermokit.conduction.section_march import SectionRun, march
from thermokit.conduction.section_problem import Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_solve import solve_section
from thermokit.conduction.section_step import Stepper
from thermokit.conduction.section_watch import SectionWatch
from thermokit.errors import SolveError

MEDIUM = Medium(1000.0, 1.0, 1000.0)


def plate(*spans: SectionSpan, medium: Medium = MEDIUM, heat=0.0) -> SectionProblem:
    return SectionProblem(
        (Region("plate", box(0, 0.02, 0, 0.01), medium, 300.0, heat),), spans, edges=sides_of(0, 0.02, 0, 0.01)
    )


def meshed(case: SectionProblem):
    return grid(case, spaced(0, 0.02, cells=8), spaced(0, 0.01, cells=4))


HOT = SectionSpan(30.0, {"left": convection(500.0, 400.0)})
COLD = SectionSpan(20.0, {"left": convection(500.0, 280.0)})


def test_rows_and_ends():
    case = plate(HOT, COLD)
    history = march(case, meshed(case))
    assert history.time[0] == 0.0 and history.time[-1] == 50.0 and 30.0 in history.time
    assert history.span[history.time <= 30.0].max() == 0 and history.span[history.time > 30.0].min() == 1
    assert [end.time for end in history.ends] == [30.0, 50.0]
    assert np.array_equal(history.temperature[-1], history.ends[1].temperature)
    assert history.ending.status == "finished" and history.ending.time == 50.0
    assert history.hottest.time == 30.0 and history.hottest.region == "plate"


def test_rows_do_not_change_the_run():
    case = plate(HOT, COLD)
    mesh = meshed(case)
    few, many = march(case, mesh, np.array([50.0])), march(case, mesh, np.linspace(0.0, 50.0, 301))
    assert np.array_equal(few.temperature[-1], many.temperature[-1])
    assert few.heat == many.heat and few.accepted == many.accepted
    assert np.array_equal(march(case, mesh, np.array([50.0])).temperature, few.temperature)


def test_rows_inside_steps_follow_the_solution():
    """Rows read off long steps against rows of short ones."""
    case = plate(HOT)
    mesh, rows = meshed(case), np.linspace(1.0, 30.0, 40)
    loose, tight = march(case, mesh, rows, 0.05), march(case, mesh, rows, 1e-4)
    assert loose.accepted < 60
    assert np.abs(loose.temperature - tight.temperature).max() < 0.1


def test_a_cut_span_is_the_same_span():
    """Knots of a table that does not bend change nothing but where steps end."""
    straight = plate(
        SectionSpan(30.0, {"left": Face(exchange=(Exchange(500.0, Series((0.0, 30.0), (400.0, 430.0))),))})
    )
    knots = Series((0.0, 7.0, 19.3, 30.0), (400.0, 407.0, 419.3, 430.0))
    bent = plate(SectionSpan(30.0, {"left": Face(exchange=(Exchange(500.0, knots),))}))
    mesh = meshed(straight)
    a, b = (march(case, mesh, np.array([30.0]), 1e-3).temperature for case in (straight, bent))
    assert np.abs(a - b).max() < 3e-3


def test_a_coefficient_that_varies():
    """h that rises in a straight line on a body of one temperature: ln of the deviation falls with its square (by hand)."""
    copper = Medium(1000.0, 1e5, 1000.0)
    case = plate(
        SectionSpan(100.0, {"left": Face(exchange=(Exchange(Series((0.0, 100.0), (0.0, 400.0)), 400.0),))}),
        medium=copper,
    )
    history = march(case, meshed(case), np.array([50.0, 100.0]), 1e-3)
    for row, t in enumerate((50.0, 100.0)):
        exact = 400.0 - 100.0 * np.exp(-4.0 * t**2 / 2 / (1e6 * 0.02))
        assert history.temperature[row].mean() == pytest.approx(exact, abs=0.02)
    assert history.heat.mismatch < 1e-6


def test_heat_inside_by_the_clock_of_the_run():
    """A source that is on from 10 to 30 s of the run, across a switch: 1e6 W/m3 for 20 s into 1e6 J/m3/K."""
    heat = Series((10.0, 10.0, 30.0, 30.0), (0.0, 1e6, 1e6, 0.0))
    case = plate(SectionSpan(20.0), SectionSpan(20.0), heat=heat)
    history = march(case, meshed(case), np.array([10.0, 20.0, 30.0, 40.0]))
    assert history.temperature.mean(axis=1) == pytest.approx([300.0, 310.0, 320.0, 320.0], abs=1e-9)
    assert history.heat.entered == pytest.approx(1e6 * 20.0 * 2e-4, rel=1e-12)


def test_a_touch_that_changes():
    """Two halves that touch badly in the first span and well in the second."""
    case = SectionProblem(
        (
            Region("a", box(0, 0.01, 0, 0.01), MEDIUM, 300.0),
            Region("b", box(0.01, 0.02, 0, 0.01), MEDIUM, 400.0),
        ),
        (SectionSpan(50.0), SectionSpan(5000.0, touches={("b", "a"): 1e4})),
        touches=(Touch(("a", "b"), 0.0),),
    )
    mesh = grid(case, spaced(0, 0.01, 0.02, cells=6), spaced(0, 0.01, cells=3))
    history = march(case, mesh, np.array([50.0, 5050.0]))
    assert at(mesh, history.temperature[0], 0.01, 0.0, 0) == pytest.approx(300.0)
    assert at(mesh, history.temperature[0], 0.01, 0.0, 1) == pytest.approx(400.0)
    assert history.temperature[1] == pytest.approx(350.0, abs=1e-3)


def test_watches():
    case = plate(HOT, COLD)
    mesh = meshed(case)
    rows = np.linspace(0.0, 50.0, 2001)
    watches = (
        SectionWatch("hot", "hottest", 350.0),
        SectionWatch("point", (0.003, 0.004), 320.0),
        SectionWatch("cold", "coldest", 290.0, rising=False, region="plate"),
        SectionWatch("begun", "coldest", 300.0),
        SectionWatch("never", "hottest", 500.0),
    )
    history = march(case, mesh, rows, watches=watches)
    peak = history.peaks["plate"]
    assert history.crossings["hot"] == pytest.approx(rows[np.argmax(peak >= 350.0)], abs=0.05)
    assert 0.0 < history.crossings["point"] < 50.0
    assert history.crossings["begun"] == 0.0 and history.crossings["never"] is None
    for wrong in (SectionWatch("w", "middle", 1.0), SectionWatch("w", "hottest", 1.0, region="other")):
        with pytest.raises(ValueError, match="watch 'w'"):
            march(case, mesh, watches=(wrong,))


def test_a_face_of_no_edge():
    case = plate(SectionSpan(1.0, {"botom": held(300.0)}))
    with pytest.raises(ValueError, match=r"botom.*left, right, bottom, top"):
        march(case, meshed(case))


def test_begun_from_temperatures():
    case = plate(HOT)
    mesh = meshed(case)
    half = march(plate(SectionSpan(12.0, HOT.faces)), mesh, np.array([12.0]), 1e-3).temperature[0]
    rest = march(plate(SectionSpan(18.0, HOT.faces)), mesh, np.array([18.0]), 1e-3, start=half).temperature[0]
    assert rest == pytest.approx(march(case, mesh, np.array([30.0]), 1e-3).temperature[0], abs=5e-3)


@pytest.mark.parametrize(
    ("face", "status"),
    [
        (Face(heating=1e9), "out_of_range"),
        (Face(heating=float("nan")), "not_finite"),
        (Face(heating=-1e7, radiation=(Radiation(0.9, 300.0),)), "out_of_range"),
    ],
)
def test_a_run_that_cannot_go_on_says_so(face, status):
    air = convection(10.0, 300.0)
    case = plate(SectionSpan(5.0, {"right": air}), SectionSpan(100.0, {"left": face, "right": air}))
    history = march(case, meshed(case), np.array([0.0, 5.0, 105.0]))
    assert history.ending.status == status
    assert 5.0 <= history.ending.time < 105.0 and history.ending.advice
    assert history.time.tolist() == [0.0, 5.0] and len(history.ends) == 1
    with pytest.raises(SolveError, match="cannot be computed"):
        settled(case, meshed(case))


def test_a_cycle_that_never_settles():
    case = plate(SectionSpan(10.0, {"left": Face(heating=100.0)}), SectionSpan(5.0))
    with pytest.raises(SolveError, match="never settles"):
        settled(case, meshed(case))


def test_ctrl_c_keeps_what_was_computed():
    case = plate(HOT, COLD)

    def stop(share: float) -> None:
        if share > 0.7:
            raise KeyboardInterrupt

    history = march(case, meshed(case), progress=stop)
    assert history.ending.status == "interrupted" and 30.0 < history.ending.time < 50.0
    assert len(history.ends) == 1 and history.time[-1] <= history.ending.time


def test_few_step_lengths():
    """Factors are made once for each length and serve again, also for another run with the same matrices."""
    case = plate(HOT, COLD, HOT, COLD)
    run = SectionRun(case, meshed(case))
    run.shot(run.begin())
    systems = {id(run.stepper(i).system) for i in range(4)}
    assert len(systems) == 1
    assert len(run.stepper(0).system.factors) < 25


def test_steps_are_renewed_where_newton_fails(monkeypatch):
    """A stage that is not found makes the step shorter, not wrong."""
    case = plate(SectionSpan(30.0, {"left": Face(radiation=(Radiation(0.9, 900.0),))}))
    mesh = meshed(case)
    sound = march(case, mesh, np.array([30.0]))
    stage, calls = Stepper._stage, []

    def sometimes(self, *arguments):
        calls.append(1)
        return (None, None) if len(calls) in (5, 9, 10) else stage(self, *arguments)

    monkeypatch.setattr(Stepper, "_stage", sometimes)
    shaken = march(case, mesh, np.array([30.0]))
    assert shaken.ending.status == "finished" and shaken.rejected >= 3
    assert shaken.temperature == pytest.approx(sound.temperature, abs=0.05)


def test_solved_to_an_accuracy():
    """The plate that convects: the first mesh that is good enough, and a warning where none may be had."""
    case = plate(HOT, COLD)
    found = solve_section(case, 0.2, np.array([10.0, 30.0, 50.0]))
    assert found.reached and not found.history.warnings
    short = solve_section(case, 0.003, np.array([30.0, 50.0]), most_nodes=200)
    assert not short.reached and "asked for" in short.history.warnings[0]
    still = solve_section(
        plate(SectionSpan(1.0, {"left": held(300.0), "top": convection(50.0, 400.0)})), 0.1, kind="steady"
    )
    assert still.reached and still.history.steady and still.time_error == 0.0
