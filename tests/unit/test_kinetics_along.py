"""The degree along measured temperatures, and degrees from heat flow, against CVODE (SUNDIALS) and the rate law itself."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from made_dsc import GAS, HELD, MIDDLE, RAMPS, RESIN, Resin, hold, ramp

from thermokit.errors import DataError
from thermokit.kinetics.along import Constants, degrees_along, track
from thermokit.kinetics.conversion import cured, peak_of, smoothed
from thermokit.kinetics.dsc import Run
from thermokit.kinetics.rates import TwoRate

RESINS = {
    "two rates": RESIN,
    "slow start": Resin(k1=2e-6, k2=8e-3, m=1.3, n=1.0),
    "order n": Resin(k1=4e-3, k2=0.0, n=2.0),
    "ends": Resin(k1=1e-3, energy_1=80e3, k2=6e-3, energy_2=70e3, m=0.3, n=0.7),
    "seeded": Resin(k1=0.0, k2=8e-3, m=0.6, n=1.4, start=1e-4),
}
RUNS = {**{f"{b:g} K/min": ramp(b, 300) for b in RAMPS}, "hold": hold(HELD, 300, 60.0)}


def by_cvode(resin: Resin, time: np.ndarray, temperature: np.ndarray) -> np.ndarray:
    """Degrees at the times, by SUNDIALS at tight tolerance."""
    from sksundae.cvode import CVODE

    def slope(t: float, y: np.ndarray, into: np.ndarray) -> None:
        into[:] = resin.rate(np.interp(t, time, temperature), np.asarray(y))

    # max_step: the temperature is only known piece by piece
    solver = CVODE(slope, rtol=1e-10, atol=1e-12, max_step=float(time[-1]) / 300, max_num_steps=100_000)
    return np.asarray(solver.solve(time, np.array([resin.start])).y[:, 0])


def constants(resins: list[Resin]) -> Constants:
    """Constants of several resins as sets."""
    with np.errstate(divide="ignore"):
        columns = [
            np.array([np.log(r.k1) for r in resins]), np.array([r.energy_1 for r in resins]),
            np.array([np.log(r.k2) for r in resins]), np.array([r.energy_2 for r in resins]),
            np.array([r.m for r in resins]), np.array([r.n for r in resins]), np.array([r.start for r in resins]),
        ]  # fmt: skip
    return Constants(*columns, MIDDLE)


@pytest.mark.parametrize("resin", RESINS.values(), ids=RESINS.keys())
def test_runs_in_one_pass_follow_cvode(resin: Resin) -> None:
    exact = [by_cvode(resin, time, temperature) for time, temperature in RUNS.values()]
    # steps are laid by a degree that is known to some per cent, as from a measurement
    tracks = [
        track(time, temperature, 0.95 * degree + 0.05 * time / time[-1], time)
        for (time, temperature), degree in zip(RUNS.values(), exact, strict=True)
    ]
    for (_, temperature), true, (degree, rate) in zip(
        RUNS.values(), exact, degrees_along(constants([resin, RESIN]), tracks), strict=True
    ):
        assert degree[:, 0] == pytest.approx(true, abs=5e-4)
        # where a law with an order below 1 comes to its end, its rate breaks off within one step
        before, top = true < 0.995, resin.rate(temperature, true).max()
        assert rate[before, 0] == pytest.approx(resin.rate(temperature, true)[before], abs=2e-3 * top)


def test_the_constants_mean_what_the_rate_law_means() -> None:
    law = TwoRate(RESIN.factor(1), RESIN.energy_1, RESIN.factor(2), RESIN.energy_2, RESIN.m, RESIN.n)
    time, temperature = RUNS["10 K/min"]
    ((degree, rate),) = degrees_along(constants([RESIN]), [track(time, temperature, np.linspace(0, 1, 300), time)])
    assert rate[:, 0] == pytest.approx(law.evaluate(temperature, (degree[:, 0],)), rel=1e-9)
    assert RESIN.factor(2) == pytest.approx(RESIN.k2 * np.exp(RESIN.energy_2 / GAS / MIDDLE))


def heat_run(resin: Resin, kind: str, drift: float = 0.0) -> tuple[Run, np.ndarray]:
    """A run of heat flow without noise, on a sloping baseline, and its exact degrees by CVODE."""
    time, temperature = RUNS[kind]
    exact = by_cvode(resin, time, temperature)
    signal = resin.heat * resin.rate(temperature, exact) + 35.0 + drift * time / time[-1]
    counts = np.ones(len(time), dtype=bool)
    rate = (temperature[-1] - temperature[0]) / time[-1]
    return Run(kind, "hold" if kind == "hold" else "ramp", time, temperature, signal, "heat_flow", counts, rate), exact


@pytest.mark.parametrize("kind", ["2.5 K/min", "5 K/min", "10 K/min"])
@pytest.mark.parametrize("drift", [0.0, 30.0, -30.0])
def test_heat_and_degree_by_integration_are_those_of_cvode(kind: str, drift: float) -> None:
    """These ramps end within 0.2 % of full cure; the baseline is straight, as the method takes it to be."""
    run, exact = heat_run(RESIN, kind, drift)
    found = cured(run)
    assert exact[-1] > 0.998
    assert found.heat == pytest.approx(RESIN.heat, rel=0.01)
    assert found.degree == pytest.approx(exact, abs=0.01)


def test_a_hold_that_does_not_cure_to_the_end_counts_by_the_heat_of_the_ramps() -> None:
    time, temperature = hold(HELD, 300, 90.0)
    exact = by_cvode(RESIN, time, temperature)
    signal = RESIN.heat * RESIN.rate(temperature, exact) + 35.0
    run = Run("hold", "hold", time, temperature, signal, "heat_flow", np.ones(300, dtype=bool), 0.0)
    # what its end level takes off: the rate that is left there, over the whole time
    lost = RESIN.rate(temperature[-1:], exact[-1:])[0] * time[-1]
    assert cured(run, RESIN.heat).degree[-1] == pytest.approx(exact[-1] - lost, abs=0.01)
    assert cured(run).degree[-1] == pytest.approx(1.0)


def test_the_peak_is_where_the_rate_is_highest() -> None:
    for kind in ("2.5 K/min", "20 K/min"):
        run, _ = heat_run(RESIN, kind)
        fine = np.linspace(run.temperature[0], run.temperature[-1], 20001)
        time = np.interp(fine, run.temperature, run.time)
        exact = fine[np.argmax(RESIN.rate(fine, RESIN.degrees(time, fine)))]
        assert peak_of(cured(run))[0] == pytest.approx(exact, abs=0.15)
        conversion = Run(kind, "ramp", run.time, run.temperature, by_cvode(RESIN, run.time, run.temperature),
                         "conversion", run.counts, run.heating_rate)  # fmt: skip
        assert peak_of(cured(conversion))[0] == pytest.approx(exact, abs=0.3)


def test_the_error_of_a_peak_is_that_of_repeated_noise() -> None:
    run, _ = heat_run(RESIN, "5 K/min")
    found, claimed = [], []
    for seed in range(60):
        noisy = run.signal + np.random.default_rng(seed).normal(size=len(run.signal)) * 8.0
        at, error = peak_of(cured(Run(run.name, run.kind, run.time, run.temperature, noisy, run.measures, run.counts,
                                      run.heating_rate)))  # fmt: skip
        found.append(at)
        claimed.append(error)
    # 60 draws: the scatter is known to 9 % (one standard deviation)
    assert np.mean(claimed) / np.std(found) == pytest.approx(1.0, abs=0.4)


def test_smoothing_keeps_a_straight_line() -> None:
    line = np.linspace(1.0, 3.0, 50)
    assert smoothed(line, 9) == pytest.approx(line)
    assert smoothed(line, 1) is line


def test_a_run_without_an_exotherm_is_a_plain_message() -> None:
    time, temperature = RUNS["5 K/min"]
    flat = np.random.default_rng(2).normal(size=len(time)) + 40.0
    run = Run("blank", "ramp", time, temperature, flat, "heat_flow", np.ones(len(time), dtype=bool), 5 / 60)
    with pytest.raises(DataError, match="no exotherm stands out of the noise"):
        cured(run)
