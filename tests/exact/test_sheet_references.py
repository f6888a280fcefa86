"""The staged slab, the exact solution that sheets are held against: one stage cut in two, and a general integrator."""

from __future__ import annotations

import pytest

from tests.unit.sheets import Lines
from validation.references import convective_series
from validation.references.staged_slab import Stage, StagedSlab

K_STUFF, RHO, CP = 0.19, 1180.0, 1470.0
A = K_STUFF / (RHO * CP)


@pytest.mark.parametrize("s", [0.0, 0.5, 1.0])
def test_a_stage_cut_in_two_is_the_robin_series(s: float) -> None:
    cut = StagedSlab(K_STUFF, A, 20.0, (Stage(60.0, 30.0, 180.0, 0.003), Stage(140.0, 30.0, 180.0, 0.003)))
    series = convective_series.ratio("plane", 30.0 * 0.0015 / K_STUFF, A * 200.0 / 0.0015**2, s)
    assert cut.at(200.0, s) == pytest.approx(180.0 - 160.0 * series, abs=1e-4)
    assert cut.at(60.0, s) == pytest.approx(cut.at(60.0 + 1e-6, s), abs=1e-2)


def test_stages_by_another_method() -> None:
    """Heated, carried over, drawn from 3 to 2 mm and cooled hard: nodes and LSODA, the profile moved by hand."""
    stages = (Stage(150.0, 30.0, 180.0, 0.003), Stage(6.0, 12.0, 25.0, 0.003), Stage(8.0, 500.0, 40.0, 0.002))
    exact = StagedSlab(K_STUFF, A, 20.0, stages)
    profile, time = 20.0, 0.0
    for stage in stages:
        lines = Lines(stage.thickness, (RHO, K_STUFF, CP), profile, 201)

        def face(t: float, own: float, stage: Stage = stage) -> float:
            return stage.coefficient * (stage.temperature - own)

        profile = lines.run([stage.duration], face, face)[-1]
        time += stage.duration
        assert [exact.at(time, 0.0), exact.at(time, 1.0)] == pytest.approx([profile[100], profile[-1]], abs=5e-3)
        mean = (profile[:-1] + profile[1:]).mean() / 2
        assert exact.mean(time) == pytest.approx(mean, abs=5e-3)
    assert exact.time_to(2, exact.at(time - 4.0, 0.0), 0.0) == pytest.approx(4.0)
