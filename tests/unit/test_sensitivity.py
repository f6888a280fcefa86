"""Sobol indices: analytic values, failing rows, and another library; what the answer of a case hangs on."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.studies.sensitivity import sensitivity
from thermokit.studies.sensitivity_indices import base_points, indices_of
from thermokit.studies.sensitivity_words import sensitivity_json, sensitivity_text
from validation.families.sensitivity import LUMP
from validation.references import variance

FIXED = LUMP.replace('duration = "find"', 'duration = "65 s"')


@pytest.mark.parametrize(
    ("function", "exact", "inputs"),
    [(variance.ishigami, variance.ishigami_indices, 3), (variance.g_function, variance.g_indices, 8)],
)
def test_analytic_values_lie_in_the_intervals(function, exact, inputs: int) -> None:
    found = indices_of(lambda u: function(u)[None], inputs, 4096, 3)
    first, total = exact()
    assert found.first[0] == pytest.approx(first, abs=0.02)
    assert found.total[0] == pytest.approx(total, abs=0.02)
    slack = 0.005  # an interval of 95 in 100 misses now and then
    for value, ends in ((first, found.first_range), (total, found.total_range)):
        assert (ends[0, 0] - slack <= np.array(value)).all() and (np.array(value) <= ends[1, 0] + slack).all()


def test_published_values_of_ishigami() -> None:
    # Ishigami & Homma (1990), a = 7, b = 0.1, as printed in many places; from memory
    first, total = variance.ishigami_indices()
    assert first == pytest.approx((0.3139, 0.4424, 0.0), abs=5e-5)
    assert total == pytest.approx((0.5576, 0.4424, 0.2437), abs=5e-5)


def test_another_library_gives_the_same() -> None:
    from scipy.stats import sobol_indices

    rows = 256
    points = base_points(3, rows, 5)
    values = variance.ishigami(points) + 1000.0  # a mean that is large against the spread
    ab = values[2 * rows :].reshape(3, 1, rows)
    other = sobol_indices(func={"f_A": values[None, :rows], "f_B": values[None, rows : 2 * rows], "f_AB": ab}, n=rows)
    found = indices_of(lambda u: variance.ishigami(u)[None] + 1000.0, 3, rows, 5, resamples=10)
    assert found.first[0] == pytest.approx(np.ravel(other.first_order), abs=1e-9)
    assert found.total[0] == pytest.approx(np.ravel(other.total_order), abs=1e-9)


def test_rows_that_fail_are_left_out_together() -> None:
    """One part in twenty fails at random: the indices stay, and it is told how many rows remain."""

    def shaky(u: np.ndarray) -> np.ndarray:
        values = variance.ishigami(u)[None].copy()
        values[0, np.random.default_rng(2).random(len(u)) < 0.05] = np.nan
        return values

    found = indices_of(shaky, 3, 4096, 3)
    assert pytest.approx(found.used[0], rel=0.05) == 0.95**5 * 4096
    first, total = variance.ishigami_indices()
    assert found.first[0] == pytest.approx(first, abs=0.04)
    assert found.total[0] == pytest.approx(total, abs=0.04)


def test_what_does_not_change_has_no_shares() -> None:
    found = indices_of(lambda u: np.ones((1, len(u))), 2, 64, 1)
    assert np.isnan(found.first).all() and found.spread[0] == 0.0
    none = indices_of(lambda u: np.full((1, len(u)), np.nan), 2, 64, 1)
    assert np.isnan(none.first).all() and none.used[0] == 0


PAIR = FIXED.replace('"± 30 %"', '"± 6 %"\n"stations.heat.outer.convection.coefficient" = "± 8 %"')


def test_a_lumped_plate() -> None:
    """T depends on h t/(rho c L): relative errors of 3 and 4 % share the variance as 9 to 16, nearly without interplay."""
    found = sensitivity(parse_case(PAIR, "lump.toml"), rows=1024)
    assert found.inputs == ("body.layers.block.thickness", "stations.heat.outer.convection.coefficient")
    assert [o.name for o in found.outputs] == ["mean_temperature", "hottest_temperature"]
    assert found.indices.total[0] == pytest.approx([0.36, 0.64], abs=0.02)
    assert found.indices.first[0] == pytest.approx([0.36, 0.64], abs=0.03)
    assert found.ranked(0) == [1, 0]
    # alone: L from 9.4 to 10.6 mm
    exact = [120.0 - 100.0 * np.exp(-0.0065 / (0.01 * (1.0 + e))) - 60.0 for e in (-0.06, 0.06)]
    assert found.alone[:, 0, 0] == pytest.approx(exact, abs=0.1)
    assert 1e3 * found.ends[:, 0] == pytest.approx([9.4, 10.6])
    text = sensitivity_text(found)
    assert "margin of mean_temperature [K]" in text and "9.4 mm to 10.6 mm" in text
    block = sensitivity_json(found, [])["sensitivity"]
    assert block["outputs"][0]["inputs"][0]["name"].endswith("coefficient")


SWEPT = (
    FIXED.split("[tolerances]")[0]
    + '[sweep.inputs]\n"body.layers.block.thickness" = { from = "8 mm", to = "12 mm", count = 3 }\n'
    + '"stations.heat.outer.convection.coefficient" = { from = "50 W/m2/K", to = "200 W/m2/K", count = 3, spacing = "log" }\n'
)


def test_ranges_of_a_sweep_and_outcomes() -> None:
    found = sensitivity(parse_case(SWEPT, "lump.toml"), wanted=["mean_temperature"], rows=256)
    assert found.over == "sweep"
    assert [(o.name, o.unit, o.margin) for o in found.outputs][-1] == ("mean_temperature", "degC", False)
    assert found.indices.total[-1] == pytest.approx(found.indices.total[0], abs=1e-6), (
        "a margin moves with what it looks at"
    )
    # the middle of 50 and 200 in ratios is 100: T = 120 - 100 exp(-0.65)
    assert found.nominal[-1] == pytest.approx(120.0 - 100.0 * np.exp(-0.65), abs=0.1)


def test_the_window_as_outcome() -> None:
    """Earliest of the lumped plate: t = rho c L/h ln(100/60), straight in L: all variance is the thickness's."""
    found = sensitivity(parse_case(LUMP, "lump.toml"), wanted=["earliest"], rows=32)
    (o,) = [i for i, output in enumerate(found.outputs) if output.name == "earliest"]
    assert found.outputs[o].unit == "s"
    nominal = 1e6 * 0.01 / 100.0 * np.log(100.0 / 60.0)
    assert found.nominal[o] == pytest.approx(nominal, rel=2e-3)
    assert found.alone[:, o, 0] == pytest.approx([0.7 * nominal, 1.3 * nominal], rel=5e-3)


def test_what_cannot_be_answered() -> None:
    for text, words in ((FIXED.split("[tolerances]")[0], "--usual"), (SWEPT.replace('"12 mm"', '"8 mm"'), "empty")):
        with pytest.raises(CaseError) as wrong:
            sensitivity(parse_case(text, "lump.toml"))
        assert words in str(wrong.value)
    with pytest.raises(CaseError) as wrong:
        sensitivity(parse_case(FIXED, "lump.toml"), wanted=["mean_temperatur"])
    assert "mean_temperature" in str(wrong.value)
