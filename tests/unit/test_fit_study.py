"""Fits of a case give back what a log was made with, say how sure that is, and say what cannot be told apart.

Logs are made by the solver of single runs; lags by a solver of ordinary differential equations (scipy), noise by numpy.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fit_cases import AIR, CHANNELS, COEFFICIENT, UNKNOWNS, run_of, write_case, write_log

from thermokit.studies.fit import CaseFit, fit_case
from thermokit.studies.fit_rewrite import fitted_case
from thermokit.studies.fit_words import fit_text

TRUE = {AIR: 273.15 + 112.0, COEFFICIENT: 34.0}
TIMES = np.arange(0.0, 1200.1, 10.0)
FIT = '[fit]\nlog = "log.csv"\n'


def value(fit: CaseFit, name: str) -> Any:
    return next(v for v in fit.values if v.variable.name == name)


def holds(v: Any, truth: float) -> bool:
    return v.low is not None and v.high is not None and v.low <= truth <= v.high


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return run_of(tmp_path_factory.mktemp("clean"), TRUE, TIMES)


def noisy(clean: dict[str, Any], seed: int, size: float = 0.5) -> dict[str, Any]:
    random = np.random.default_rng(seed)
    return {name: column + size * random.normal(size=len(column)) for name, column in clean.items()}


def test_two_inputs_are_found_again(tmp_path: Path, clean: dict[str, Any]) -> None:
    write_log(tmp_path, TIMES, noisy(clean, 1))
    found = fit_case(write_case(tmp_path, FIT + UNKNOWNS + CHANNELS))
    for path, truth in TRUE.items():
        assert holds(value(found, path), truth), path
    assert value(found, AIR).value == pytest.approx(TRUE[AIR], abs=1.0)
    assert value(found, COEFFICIENT).value == pytest.approx(34.0, rel=0.03)
    # noise of 0.5 K with 0.5 K stated: two deviations are 1 K
    assert found.squares / (found.rows - 2) == pytest.approx(1.0, abs=0.25)  # chi square of 240: 0.82 to 1.18
    assert found.sound
    assert [c.weight for c in found.channels] == pytest.approx([1.0, 1.0], abs=0.3)


def test_lag_offset_and_start_are_found_again(tmp_path: Path, clean: dict[str, Any]) -> None:
    from scipy.integrate import solve_ivp

    lag, offset, begin = 25.0, 1.2, 40.0
    often = np.arange(0.0, 1200.1, 1.0)
    whole = run_of(tmp_path, TRUE, often)["face"]
    face = solve_ivp(
        lambda t, y: (np.interp(t, often, whole) - y) / lag, (0.0, 1200.0), whole[:1], t_eval=TIMES,
        max_step=1.0, rtol=1e-8,
    ).y[0]  # fmt: skip
    columns = noisy({"face": face + offset, "core": clean["core"]}, 2, 0.2)
    write_log(tmp_path, TIMES, columns, begin)
    text = f"""[fit]
log = "log.csv"
starts_at = {{ from = "0 s", to = "120 s" }}
[fit.unknowns]
"{AIR}" = {{ from = "80 degC", to = "160 degC" }}
[fit.run]
"{COEFFICIENT}" = "34 W/m2/K"
[[fit.channels]]
column = "face"
at = "inner_face"
plus_minus = "0.4 K"
lag = {{ from = "0 s", to = "90 s" }}
[[fit.channels]]
column = "core"
at = "core"
plus_minus = "0.4 K"
offset = "0 K"
"""
    found = fit_case(write_case(tmp_path, text))
    assert holds(value(found, AIR), TRUE[AIR])
    assert holds(value(found, "lag of face"), lag)
    assert holds(value(found, "offset of face"), offset)
    assert holds(value(found, "start of the case in the log"), begin)
    assert value(found, "lag of face").value == pytest.approx(lag, abs=3.0)


def test_two_that_act_alike_are_told_with_what_would_help(tmp_path: Path, clean: dict[str, Any]) -> None:
    """Heat taken up early by a face depends on conductivity times heat capacity alone: one couple there, cut short."""
    early = TIMES <= 150.0
    write_log(tmp_path, TIMES[early], {"face": noisy(clean, 3)["face"][early]})
    text = f"""[fit]
log = "log.csv"
[fit.run]
"{AIR}" = "112 degC"
"{COEFFICIENT}" = "34 W/m2/K"
[fit.unknowns]
"materials.stuff.conductivity" = {{ from = "0.05 W/m/K", to = "0.8 W/m/K", spacing = "log" }}
"materials.stuff.specific_heat" = {{ from = "400 J/kg/K", to = "6000 J/kg/K", spacing = "log" }}
[[fit.channels]]
column = "face"
at = "inner_face"
offset = "0 K"
"""
    found = fit_case(write_case(tmp_path, text))
    one, two = "materials.stuff.conductivity", "materials.stuff.specific_heat"
    assert [pair[:2] for pair in found.pairs] == [(one, two)]
    assert found.pairs[0][2] < -0.98
    assert not found.sound
    # what is told is their product: 0.2 x 1500
    assert value(found, one).value * value(found, two).value == pytest.approx(300.0, rel=0.05)
    trade = found.advice.trades[0]
    assert trade.second == pytest.approx(-trade.first, rel=0.1)  # of the logarithms
    assert found.advice.couple is not None
    words = fit_text(found)
    assert "cannot be told apart" in words
    assert "A couple at" in words
    assert "known (measured by itself)" in words


def test_an_input_that_nothing_depends_on_is_told(tmp_path: Path, clean: dict[str, Any]) -> None:
    early = TIMES <= 60.0  # the far face has not been reached yet
    write_log(tmp_path, TIMES[early], {"face": noisy(clean, 4)["face"][early]})
    text = f"""[fit]
log = "log.csv"
[fit.run]
"{AIR}" = "112 degC"
"{COEFFICIENT}" = "34 W/m2/K"
[fit.unknowns]
"body.layers.back.thickness" = {{ from = "3 mm", to = "8 mm" }}
[[fit.channels]]
column = "face"
at = "inner_face"
offset = "0 K"
"""
    found = fit_case(write_case(tmp_path, text))
    assert not found.sound
    v = found.values[0]
    assert v.low is None
    assert v.high is None
    assert "not told" in fit_text(found)


def test_an_expectation_holds_what_the_log_does_not_tell(tmp_path: Path, clean: dict[str, Any]) -> None:
    early = TIMES <= 60.0
    write_log(tmp_path, TIMES[early], {"face": noisy(clean, 4)["face"][early]})
    text = f"""[fit]
log = "log.csv"
[fit.run]
"{AIR}" = "112 degC"
"{COEFFICIENT}" = "34 W/m2/K"
[fit.unknowns]
"body.layers.back.thickness" = {{ from = "3 mm", to = "8 mm", expected = "4.5 mm", plus_minus = "± 0.4 mm" }}
[[fit.channels]]
column = "face"
at = "inner_face"
"""
    v = fit_case(write_case(tmp_path, text)).values[0]
    assert v.value == pytest.approx(0.0045, abs=1e-5)
    # two deviations are 0.4 mm; 95 % of a normal distribution lie within 1.96
    assert v.high - v.value == pytest.approx(0.0002 * 1.96, rel=0.02)


def test_tolerances_of_what_is_known_move_the_answer(tmp_path: Path, clean: dict[str, Any]) -> None:
    """A coefficient and the capacity: at the very first the face rises by h dT sqrt(t/(k rho c)); a capacity higher by a
    share asks for a coefficient higher by about half of it."""
    early = TIMES <= 100.0
    write_log(tmp_path, TIMES[early], {"face": noisy(clean, 5, 0.1)["face"][early]})
    text = f"""[fit]
log = "log.csv"
[fit.run]
"{AIR}" = "112 degC"
[fit.unknowns]
"{COEFFICIENT}" = {{ from = "10 W/m2/K", to = "80 W/m2/K" }}
[[fit.channels]]
column = "face"
at = "inner_face"
offset = "0 K"
[tolerances]
"materials.stuff.specific_heat" = "± 8 %"
"""
    found = fit_case(write_case(tmp_path, text))
    v = value(found, COEFFICIENT)
    assert v.moved["materials.stuff.specific_heat"] == pytest.approx(0.04 * 34.0, rel=0.05)
    assert "tolerances of the other inputs move it by" in fit_text(found)


def test_what_hangs_together_counts_for_less(tmp_path: Path, clean: dict[str, Any]) -> None:
    """Noise that remembers itself over some rows widens the intervals, which then hold; e_i = 0.9 e_(i-1) + w_i in one channel."""
    held = 0
    for seed in range(10):
        random = np.random.default_rng(seed)
        slow = np.zeros(len(TIMES))
        for i in range(1, len(TIMES)):
            slow[i] = 0.9 * slow[i - 1] + random.normal() * 0.5
        write_log(tmp_path, TIMES, {"face": clean["face"] + slow, "core": clean["core"]})
        found = fit_case(write_case(tmp_path, FIT + UNKNOWNS + CHANNELS))
        # of the face alone: length (1 + 0.9)/(1 - 0.9) = 19 rows, size 0.5/sqrt(1 - 0.81) = 1.15 K over 0.5 K: 10 times
        assert 1.5 < found.channels[0].weight < 30.0
        held += holds(value(found, AIR), TRUE[AIR])
    assert held >= 8  # of 10 at 95 %: fewer in one of 90 such tests


def test_a_channel_that_is_not_followed_is_told(tmp_path: Path, clean: dict[str, Any]) -> None:
    write_log(tmp_path, TIMES, {"face": clean["face"] + 15.0 * np.sin(TIMES / 60.0), "core": clean["core"]})
    words = fit_text(fit_case(write_case(tmp_path, FIT + UNKNOWNS + CHANNELS)))
    assert "face is not followed within what was stated" in words
    assert "What is left hangs together" in words


def trial(time: int, found: str) -> str:
    return f'[[fit.trials]]\nat = {{ "stations.oven.duration" = "{time} s" }}\noutcome = "core_temperature"\n{found}\n'


def test_trials_measured_at_some_times(tmp_path: Path) -> None:
    at = np.array([200.0, 500.0, 900.0])
    core = run_of(tmp_path, {COEFFICIENT: 34.0}, at)["core"]
    text = f'[fit.unknowns]\n"{COEFFICIENT}" = {{ from = "8 W/m2/K", to = "80 W/m2/K", spacing = "log" }}\n'
    text += "".join(
        trial(int(t), f'measured = "{value:.2f} degC"\nplus_minus = "1 K"') for t, value in zip(at, core, strict=True)
    )
    found = fit_case(write_case(tmp_path, text))
    assert value(found, COEFFICIENT).value == pytest.approx(34.0, rel=0.02)
    assert holds(value(found, COEFFICIENT), 34.0)
    assert all(f.kept for f in found.findings)


def test_findings_to_one_side_bracket_an_input(tmp_path: Path) -> None:
    """Below 60 degC at 300 s and above at 420 s: the coefficient lies between those which reach it just then."""
    from scipy.optimize import brentq

    folder = tmp_path / "made"
    folder.mkdir()

    def core(h: float, t: float) -> float:
        return float(run_of(folder, {COEFFICIENT: h}, np.array([t]))["core"][0])

    low, high = (brentq(lambda h, t=t: core(h, t) - 60.0, 10.0, 200.0, rtol=1e-3) for t in (420.0, 300.0))
    text = f'[fit.unknowns]\n"{COEFFICIENT}" = {{ from = "8 W/m2/K", to = "200 W/m2/K", spacing = "log" }}\n'
    text += trial(300, 'at_most = "60 degC"\nplus_minus = "2 K"\nwords = "not yet through"')
    text += trial(420, 'at_least = "60 degC"\nplus_minus = "2 K"')
    found = fit_case(write_case(tmp_path, text))
    v = value(found, COEFFICIENT)
    assert low < v.value < high
    assert v.low is not None
    assert v.high is not None
    assert v.low < low * 1.02  # no sharper than the findings
    assert v.high > high * 0.98
    assert "not yet through" in fit_text(found)


def test_the_new_case_keeps_its_comments_and_fits(tmp_path: Path, clean: dict[str, Any]) -> None:
    write_log(tmp_path, TIMES, noisy(clean, 7))
    text = FIT + UNKNOWNS + CHANNELS + "# the last word\n"
    found = fit_case(write_case(tmp_path, text))
    new = fitted_case(found)
    assert "# the last word" in new.source.text
    assert new.source.text.count("# fitted to log.csv") == 2
    for v in found.values:
        written = float(new.value(v.variable.name))
        assert v.low is not None
        assert v.high is not None
        assert v.low <= written <= v.high
    assert new.value("body.start") == found.case.value("body.start")


def coverage(folder: Path, clean: dict[str, Any], seeds: range) -> float:
    """Share of intervals that hold the truth, fits of two inputs to logs with noise of their own."""
    held = 0
    for seed in seeds:
        write_log(folder, TIMES[::4], {name: c[::4] for name, c in noisy(clean, 100 + seed).items()})
        found = fit_case(write_case(folder, FIT + UNKNOWNS + CHANNELS))
        held += sum(holds(value(found, path), truth) for path, truth in TRUE.items())
    return held / (2 * len(seeds))


def test_intervals_of_cases_hold(tmp_path: Path, clean: dict[str, Any]) -> None:
    assert coverage(tmp_path, clean, range(8)) >= 0.75  # 16 intervals at 95 %: fewer than 12 in one of 10^4


@pytest.mark.long
def test_intervals_of_many_cases_hold(tmp_path: Path, clean: dict[str, Any]) -> None:
    # 100 intervals in 50 pairs: 0.95 less 3.3 deviations of a binomial of 50; they may be wider than they say
    assert coverage(tmp_path, clean, range(50)) >= 0.95 - 3.3 * np.sqrt(0.95 * 0.05 / 50)
