"""A mould section with five channels, shot after shot, against quadratic elements (59 000 unknowns, steps of 0.025 s).

Mould 120 x 60 mm, five channels of 10 mm, half a part of 1.5 mm, 20 s shut and 5 s open. The reference was computed with
isoparametric quadratic finite elements; coarser runs of it agree to all but the last digit given here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.section_grids import box, convection
from thermokit.conduction.problem import ZERO_CELSIUS, Medium
from thermokit.conduction.section_cycle import Cycle, settled
from thermokit.conduction.section_mesh import mesh_section, turned_by
from thermokit.conduction.section_mesh_places import interpolation
from thermokit.conduction.section_problem import Channel, Edge, Region, SectionProblem, SectionSpan, Touch
from thermokit.conduction.section_solve import solve_section
from thermokit.conduction.section_watch import SectionWatch

COOL = SectionWatch("cool", "hottest", ZERO_CELSIUS + 90.0, rising=False, region="part")
TIME, HOTTEST = 17.7446, 80.3906
POINTS = np.array([(60, 0), (50, 0), (60, -30), (60, -60), (0, -60)]) * 1e-3
TEMPERATURES = [34.9447, 35.0020, 26.6787, 26.7830, 27.0839]
CHANNELS = [10248.4, 10366.7, 10429.6, 10366.7, 10248.4]
AIR, SLOWEST, SPREAD = 226.85, 0.813, 2.534


def mould(depth: float = 0.06) -> SectionProblem:
    warm = ZERO_CELSIUS + 25.0
    channels = tuple(Channel(f"c{i}", (0.02 * i, -0.015), 0.01) for i in range(1, 6))
    edges = (
        Edge("left", (0, -depth), (0, 0)),
        Edge("right", (0.12, -depth), (0.12, 0)),
        Edge("bottom", (0, -depth), (0.12, -depth)),
        Edge("rim", (0, 0), (0.01, 0)),
        Edge("other rim", (0.11, 0), (0.12, 0)),
        Edge("cavity", (0.01, 0), (0.11, 0)),
    )
    always = {edge.name: convection(10.0, warm) for edge in edges[:5]}
    always |= {channel.name: convection(5000.0, warm) for channel in channels}
    return SectionProblem(
        (
            Region("mould", box(0, 0.12, -depth, 0), Medium(7800.0, 29.0, 460.0), warm),
            Region("part", box(0.01, 0.11, 0, 0.0015), Medium(1050.0, 0.19, 2000.0), ZERO_CELSIUS + 230.0),
        ),
        (
            SectionSpan(20.0, always),
            SectionSpan(5.0, {**always, "cavity": convection(10.0, warm)}, frozenset({"part"})),
        ),
        channels,
        edges,
        (Touch(("mould", "part"), 2000.0),),
    )


def judge(cycle: Cycle, points: np.ndarray, time: float, kelvin: float, heat: float) -> None:
    """Hold a cycle against the reference."""
    history = cycle.history
    end = history.ends[0].temperature - ZERO_CELSIUS
    nodes, weights = interpolation(history.mesh, points, 0)
    assert history.crossings["cool"] == pytest.approx(TIME, abs=time)
    assert np.nanmax(end) == pytest.approx(HOTTEST, abs=2.0 * kelvin)
    assert (weights * end[nodes]).sum(axis=1) == pytest.approx(TEMPERATURES, abs=kelvin)
    through = {name: -sum(end.heat[name] for end in history.ends) for name in history.face_names}
    assert [through[f"c{i}"] for i in range(1, 6)] == pytest.approx(CHANNELS, rel=heat)
    assert sum(q for name, q in through.items() if name[:1] != "c" or name == "cavity") == pytest.approx(AIR, abs=1.5)
    assert history.heat.mismatch < 1e-10


def test_settled_cycle():
    problem = mould()
    cycle = settled(problem, mesh_section(problem), watches=(COOL,), within=0.1)
    assert cycle.reached and cycle.evaluations <= 3
    judge(cycle, POINTS, 0.01, 0.02, 5e-4)
    assert cycle.slowest == pytest.approx(SLOWEST, abs=1e-3)
    assert cycle.shots == 17  # brute force to 0.1 K, of the same reference
    mesh = cycle.history.mesh
    steel = np.unique(mesh.triangles[mesh.region == 0])
    face = steel[(mesh.y[steel] == 0.0) & (mesh.x[steel] > 0.01 - 1e-9) & (mesh.x[steel] < 0.11 + 1e-9)]
    assert np.ptp(cycle.history.ends[0].temperature[face]) == pytest.approx(SPREAD, abs=0.05)


def test_a_deep_block_settles_slowly():
    """250 mm of steel, of the same reference: 293 shots of brute force to 0.1 K, slowest factor 0.990, and 2 fine cycles here."""
    problem = mould(0.25)
    cycle = settled(problem, mesh_section(problem), 0.001, within=0.1)
    assert cycle.reached and cycle.evaluations <= 3
    assert cycle.slowest == pytest.approx(0.990, abs=1e-3)
    assert cycle.shots == pytest.approx(293, abs=2)


def test_turned_by_27_degrees():
    """The same section standing askew: nothing may depend on the axes."""
    angle = math.radians(27.0)
    problem = turned_by(mould(), angle)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    judge(settled(problem, mesh_section(problem), watches=(COOL,)), POINTS @ turn, 0.01, 0.02, 5e-4)


def test_to_an_accuracy():
    """Mesh and steps chosen by themselves; what is off is no more than what is told."""
    found = solve_section(mould(), 0.1, watches=(COOL,), kind="settled")
    assert found.reached and found.space_error + found.time_error <= 0.1
    assert found.history.warnings == ()
    judge(found.cycle, POINTS, 0.02, 0.06, 2e-3)
    end = found.history.ends[0].temperature - ZERO_CELSIUS
    assert abs(np.nanmax(end) - HOTTEST) < 0.1
