"""Heat of sections closes; what is absent leaves and comes back; cycles settle where the true sequence of shots does."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.section_grids import at, box, convection, grid, held, sides_of, spaced
from thermokit.conduction.problem import Curve, Face, Medium, Radiation, Series, Transition
from thermokit.conduction.section_cycle import settled, shot_after_shot
from thermokit.conduction.section_march import SectionRun, march
from thermokit.conduction.section_problem import Edge, Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_watch import SectionWatch

STEEL = Medium(7800.0, 29.0, 460.0)
PLASTIC = Medium(1050.0, 0.19, 2000.0)
LATENT = Medium(
    900.0, Curve(np.array([300.0, 400.0]), np.array([0.28, 0.2])), 2100.0, Transition(90e3, 400.0, 440.0, 430.0)
)
TWO = Medium(900.0, 0.22, 2100.0, Transition(90e3, 410.0, 440.0, 432.0), Transition(90e3, 370.0, 400.0, 385.0))


def mould(part: Medium = PLASTIC, cooling=None, axisymmetric: bool = False) -> SectionProblem:
    """A small mould under half a wall that is ejected: 20 s shut, 5 s open."""
    x0 = 0.01 if axisymmetric else 0.0
    cold = cooling or convection(3000.0, 298.0)
    air = convection(10.0, 298.0)
    return SectionProblem(
        (
            Region("mould", box(x0, x0 + 0.04, -0.02, 0), STEEL, 298.0),
            Region("part", box(x0 + 0.01, x0 + 0.04, 0, 0.0015), part, 500.0),
        ),
        (
            SectionSpan(20.0, {"bottom": cold, "rim": air}),
            SectionSpan(5.0, {"bottom": cold, "rim": air, "cavity": air}, frozenset({"part"})),
        ),
        edges=(
            Edge("bottom", (x0, -0.02), (x0 + 0.04, -0.02)),
            Edge("rim", (x0, 0.0), (x0 + 0.01, 0.0)),
            Edge("cavity", (x0 + 0.01, 0.0), (x0 + 0.04, 0.0)),
        ),
        touches=(Touch(("part", "mould"), 2000.0),),
        axisymmetric=axisymmetric,
    )


def meshed(case: SectionProblem):
    x0 = case.regions[0].outline[:, 0].min()
    across = np.unique(np.concatenate([-0.02 * np.linspace(0, 1, 9) ** 1.5, [0.0], np.linspace(0, 0.0015, 9)]))
    return grid(case, spaced(x0, x0 + 0.01, x0 + 0.04, cells=(4, 12)), across)


VARYING = Face(temperature=Series((0.0, 5.0, 5.0, 12.0), (298.0, 310.0, 300.0, 290.0)))
RADIATING = Face(radiation=(Radiation(0.9, Series((0.0, 20.0), (300.0, 600.0))),), heating=2000.0)


@pytest.mark.parametrize(
    ("part", "cooling", "bound"),
    [
        (PLASTIC, None, 1e-10),
        (PLASTIC, VARYING, 1e-10),
        (PLASTIC, RADIATING, 1e-6),
        (LATENT, None, 1e-6),
        (TWO, VARYING, 1e-6),
    ],
    ids=["linear", "held, varying", "radiating", "latent", "two curves"],
)
@pytest.mark.parametrize("axisymmetric", [False, True])
def test_heat_closes(part, cooling, bound, axisymmetric):
    case = mould(part, cooling, axisymmetric)
    history = march(case, mesh := meshed(case), np.array([0.0, 20.0, 25.0]))
    assert history.ending.status == "finished"
    assert history.heat.mismatch < bound
    through = sum(sum(end.heat.values()) for end in history.ends)
    assert through == pytest.approx(history.heat.entered - history.heat.left, rel=1e-9)
    assert history.heat.unit == ("J" if axisymmetric else "J/m")
    # what is stored, from the temperatures, where the heat content is a straight line
    if part is PLASTIC:
        run = SectionRun(case, mesh)
        rise = 0.0
        for a, b in ((0, 1), (1, 2)):
            there = np.isfinite(history.temperature[b])
            begin = history.temperature[0] if a == 0 else history.temperature[1]
            if a == 0 and cooling is VARYING:
                begin = np.where(mesh.y < -0.02 + 1e-9, 298.0, begin)
            rise += float((run.energy.capacity * (history.temperature[b] - begin))[there].sum())
        if cooling is VARYING:  # the held side jumps back to 298 K when the second span begins, within ``begin``
            return
        assert history.heat.stored == pytest.approx(rise, rel=1e-9)


def test_a_part_that_is_away_is_not_there():
    case = mould()
    mesh = meshed(case)
    history = march(case, mesh, np.array([0.0, 10.0, 20.0, 22.0, 25.0]))
    part = np.unique(mesh.triangles[mesh.region == 1])
    assert np.isfinite(history.temperature[:3]).all()
    assert np.isnan(history.temperature[3:, part]).all()
    assert np.isnan(history.peaks["part"][3:]).all() and np.isfinite(history.peaks["mould"]).all()
    assert history.span.tolist() == [0, 0, 0, 1, 1]
    assert history.ends[0].heat["cavity"] == 0.0 and history.ends[1].heat["cavity"] < 0.0
    assert history.hottest.value == 500.0 and history.hottest.region == "part"
    assert history.ends[1].hottest.region == "mould"


def test_a_part_that_comes_back_begins_with_its_start():
    case = mould()
    again = SectionProblem(
        case.regions, (*case.spans, *case.spans), edges=case.edges, touches=case.touches, axisymmetric=case.axisymmetric
    )
    mesh = meshed(case)
    once = march(case, mesh, np.array([25.0]))
    twice = march(again, mesh, np.array([25.0, 45.0, 50.0]))
    start = np.where(np.isnan(once.temperature[0]), 500.0, once.temperature[0])
    second = march(case, mesh, np.array([20.0, 25.0]), start=start)
    assert twice.temperature[0] == pytest.approx(once.temperature[0], nan_ok=True)
    assert twice.temperature[1:] == pytest.approx(second.temperature, nan_ok=True)


@pytest.mark.parametrize("part", [PLASTIC, LATENT, TWO], ids=["linear", "latent", "two curves"])
def test_the_settled_cycle_is_that_of_many_shots(part):
    case = mould(part, convection(8000.0, 298.0))
    mesh = meshed(case)
    watch = SectionWatch("out", "hottest", 380.0, rising=False, region="part")
    cycle = settled(case, mesh, 0.01, np.array([20.0, 25.0]), (watch,), within=0.01)
    shots = shot_after_shot(case, mesh, 12, np.array([20.0, 25.0]), (watch,))
    assert shots.moved[-1] < 1e-3
    assert cycle.reached and cycle.evaluations <= 3
    assert cycle.history.temperature == pytest.approx(shots.history.temperature, abs=0.02, nan_ok=True)
    assert cycle.history.crossings["out"] == pytest.approx(shots.crossings["out"][-1], abs=0.01)
    assert -cycle.history.heat.stored - sum(shots.heat["bottom"]) > 0.0  # the mould had to warm up first
    if part is not PLASTIC:
        return
    # counted shots: the deviation of the true sequence falls below 0.01 K there, to a shot
    u = SectionRun(case, mesh).starts
    kept = np.unique(mesh.triangles[mesh.region == 0])
    count = 0
    while np.abs(u - cycle.start)[kept].max() > 0.01:
        u = shot_after_shot(case, mesh, 1, np.zeros(0), start=u).start
        count += 1
    assert cycle.shots == pytest.approx(count, abs=1)


def test_a_settled_cycle_gives_off_what_the_part_brings():
    """Once settled the mould keeps nothing: heat through its faces is what the part lost."""
    case = mould()
    mesh = meshed(case)
    cycle = settled(case, mesh, 0.001)
    run = SectionRun(case, mesh)
    part = np.unique(mesh.triangles[mesh.region == 1])
    end = cycle.history.ends[0].temperature
    lost = float((run.energy.capacity * (500.0 - end))[part].sum())
    through = sum(sum(end.heat.values()) for end in cycle.history.ends)
    assert -through == pytest.approx(lost, rel=1e-3)


def test_symmetry():
    """What is alike from both sides stays alike."""
    case = SectionProblem(
        (Region("slab", box(-0.01, 0.01, -0.01, 0.01), LATENT, 350.0),),
        (SectionSpan(30.0, {"left": held(480.0), "right": held(480.0)}),),
        edges=sides_of(-0.01, 0.01, -0.01, 0.01),
    )
    mesh = grid(case, spaced(-0.01, 0.01, cells=20), spaced(-0.01, 0.01, cells=4))
    t = march(case, mesh, np.array([30.0])).temperature[0]
    for x in (0.002, 0.005, 0.008):
        assert at(mesh, t, x, 0.0) == pytest.approx(at(mesh, t, -x, 0.0), abs=0.05)
