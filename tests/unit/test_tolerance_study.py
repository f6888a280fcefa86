"""Parts that come out right: closed forms of share, causes and worst parts; the tray whose panels err together."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from thermokit.case import parse_case
from thermokit.case.tolerances import Tolerance
from thermokit.errors import CaseError
from thermokit.studies.tolerance import SEED
from thermokit.studies.tolerance_causes import causes_of, corners
from thermokit.studies.tolerance_study import scatter
from thermokit.studies.tolerance_words import scatter_json, scatter_text, sentence
from validation.families.sensitivity import LUMP
from validation.references.variance import lumped_share

CASES = Path(__file__).parents[2] / "cases"
PHI = NormalDist().cdf
TRAY = (CASES / "how_long_to_heat_a_4mm_abs_tray.toml").read_text(encoding="utf-8")
TOGETHER = TRAY.replace(
    '"stations.heat.upper.temperature" = "± 15 K"\n"stations.heat.lower.temperature" = "± 15 K"',
    '"panels" = { paths = ["stations.heat.upper.temperature", "stations.heat.lower.temperature"], plus_minus = "± 15 K" }',
)
FIXED = LUMP.replace('duration = "find"', 'duration = "65 s"')


def test_share_of_lumped_plates() -> None:
    """Thickness normal: the share is a difference of two values of the normal distribution."""
    found = scatter(parse_case(FIXED, "lump.toml"))
    exact = lumped_share(65.0, 60.0, 80.0, 0.15)
    assert found.inside == pytest.approx(exact, abs=max(3.0 * found.error, 0.004))
    assert found.setting is None and found.best is None and found.shares is None
    broken = {b.limit: b.share for b in found.broken}
    # thicker than 100 * 65 / (1e6 ln(100/60)) stays colder than 60 degC
    too_thick = 1.0 - PHI((100.0 * 65.0 / (1e6 * math.log(100.0 / 60.0)) / 0.01 - 1.0) / 0.15)
    assert broken["mean_temperature"] == pytest.approx(too_thick, abs=0.004)
    assert [b.words for b in found.broken] == ["too cold", "too hot"]


def test_the_standard_error_is_that_of_repeated_draws() -> None:
    case = parse_case(FIXED, "lump.toml")
    runs = [scatter(case, draws=256, seed=1000 * (k + 1)) for k in range(12)]
    shares = np.array([run.inside for run in runs])
    told = float(np.mean([run.error for run in runs]))
    assert shares.std(ddof=1) == pytest.approx(told, rel=0.8), "of the right size"
    exact = lumped_share(65.0, 60.0, 80.0, 0.15)
    assert abs(shares.mean() - exact) < 4.0 * told / math.sqrt(len(runs)) + 0.002


def test_the_error_falls_with_the_draws() -> None:
    found = scatter(parse_case(FIXED, "lump.toml"), draws=4096)
    assert [n for n, _, _ in found.steps] == [512, 1024, 2048, 4096]
    assert found.steps[-1][1:] == (found.inside, found.error)
    assert found.error < 0.005


@pytest.fixture(scope="module")
def tray() -> dict[float, float]:
    case = parse_case(TOGETHER, "tray.toml")
    return {t: scatter(case, setting=t).inside for t in (74.0, 77.0, 80.0, 84.0)}


def test_the_tray_whose_panels_err_together(tray: dict[float, float]) -> None:
    # a rough computation by other means, in whole parts in a hundred
    for t, share in ((74.0, 0.81), (77.0, 0.875), (80.0, 0.83), (84.0, 0.64)):
        assert tray[t] == pytest.approx(share, abs=0.012), t


def test_best_setting_and_words() -> None:
    found = scatter(parse_case(TOGETHER, "tray.toml"), setting=80.0, draws=1024)
    assert found.best == pytest.approx(77.0, abs=1.0)
    assert found.causes.names[found.causes.ranked()[0]] == "panels", "panel temperature dominates"
    told = sentence(found)
    assert told.startswith("At 80.0 s coldest_point is 15")
    assert "too hot: hottest_face" in told and "a shorter one is safer" in told
    assert "Nearest edge: hottest_face (+6." in told and "Not covered: moisture" in told
    text = scatter_text(found)
    assert "1024 parts drawn" in text and "Worst credible part" in text and "panels" in text
    block = scatter_json(found, [])["tolerance"]
    assert block["breaking"]["hottest_face"]["words"] == "too hot"
    assert block["causes"][0]["paths"] == ["stations.heat.upper.temperature", "stations.heat.lower.temperature"]
    assert block["inside"] == found.inside and block["seed"] == SEED


def test_the_same_seed_gives_the_same_parts() -> None:
    case = parse_case(FIXED, "lump.toml")
    one, other = (scatter(case, draws=128, seed=7) for _ in range(2))
    assert np.array_equal(one.margins, other.margins)
    assert not np.array_equal(one.margins, scatter(case, draws=128, seed=8).margins)


def test_causes_of_a_sum_add_in_squares() -> None:
    """3 a + 4 b + a parabola in c: shares of the variance 9/25.5, 16/25.5 and half a square's, by hand."""
    normal = Tolerance(plus_minus=2.0, relative=False)
    tolerances = {"a": normal, "b": normal, "c": normal}
    from scipy.special import ndtri
    from scipy.stats import qmc

    uniform = qmc.Sobol(3, seed=1).random(4096)
    z = ndtri(np.clip(uniform, 1e-9, 1 - 1e-9)).T
    margins = np.array([3.0 * z[0] - 4.0 * z[1] + 0.5 * z[2] ** 2 + 2.0, 1.0 + 0.0 * z[0]])
    found = causes_of(tolerances, uniform, margins)
    assert found.shares[0] == pytest.approx([9 / 25.5, 16 / 25.5, 0.5 / 25.5], abs=0.01)
    assert found.rest[0] == pytest.approx(0.0, abs=0.01)
    assert np.isnan(found.rest[1]), "a margin that does not vary has no causes"
    assert found.ranked()[0] == 1
    # worst part: two standard deviations against the slope (3, -4)/5
    credible, corner = corners(found, tolerances)
    assert ndtri(credible[0, :2]) == pytest.approx([-1.2, 1.6], abs=0.02)
    assert ndtri(corner[0, :2]) == pytest.approx([-2.0, 2.0], abs=1e-6)


def test_a_part_that_cannot_be_solved_counts_as_bad() -> None:
    normal = Tolerance(plus_minus=2.0, relative=False)
    uniform = np.random.default_rng(1).random((200, 1))
    margins = uniform.T.copy()
    margins[0, :50] = np.nan
    found = causes_of({"a": normal}, uniform, margins)
    assert np.isfinite(found.shares).all()


@pytest.mark.parametrize(
    ("text", "setting", "words"),
    [
        (FIXED.split("[tolerances]")[0], None, "--usual"),
        (FIXED, 60.0, "nothing is sought"),
        (LUMP.split("[limits.mean")[0] + "[tolerances]\n" + LUMP.split("[tolerances]")[1], 60.0, "limit"),
        (LUMP, -3.0, "out of range"),
    ],
)
def test_what_cannot_be_answered(text: str, setting: float | None, words: str) -> None:
    with pytest.raises(CaseError) as wrong:
        scatter(parse_case(text, "lump.toml"), draws=64, setting=setting)
    assert words in str(wrong.value)
