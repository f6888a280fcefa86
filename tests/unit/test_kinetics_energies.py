"""Energies without a rate law: published relations with exact answers, and runs made with a known energy."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).parent))

from made_dsc import GAS, HELD, RAMPS, Resin, hold, ramp

from thermokit.kinetics.conversion import Cure
from thermokit.kinetics.dsc import Run
from thermokit.kinetics.isoconversional import kissinger, ozawa, vyazovkin

ENERGY, FACTOR = 80e3, 2.0e8  # J/mol, 1/s: the first-order reaction of the published check
RATES = [b / 60.0 for b in (2.0, 5.0, 10.0, 20.0)]  # K/s


def peak(rate: float) -> float:
    """E b/(R T^2) = A exp(-E/(R T)): Kissinger (1957), exact for first order."""
    return float(brentq(lambda t: ENERGY * rate / (GAS * t * t) - FACTOR * math.exp(-ENERGY / GAS / t), 300.0, 600.0))


def at_degree(rate: float, degree: float) -> float:
    """Temperature at which a first-order reaction on a ramp reaches a degree: -ln(1-a) = integral of k dT / b."""

    def miss(t: float) -> float:
        dose = quad(lambda u: FACTOR * math.exp(-ENERGY / GAS / u) / rate, 200.0, t, epsrel=1e-12, limit=300)[0]
        return dose + math.log(1.0 - degree)

    return float(brentq(miss, 300.0, 600.0, xtol=1e-10))


def test_the_peaks_are_those_of_the_published_check() -> None:
    assert [peak(b) - 273.15 for b in RATES] == pytest.approx([108.2026, 121.4643, 132.1006, 143.302], abs=1e-3)


def test_kissinger_is_exact_for_first_order() -> None:
    line = kissinger(RATES, [peak(b) for b in RATES])
    assert line.energy == pytest.approx(ENERGY, rel=1e-9)
    assert line.factor == pytest.approx(FACTOR, rel=1e-6)
    assert line.error == pytest.approx(0.0, abs=1e-3)


def test_ozawa_is_what_e698_gives() -> None:
    # unrefined: -2.19 R d log10(b)/d(1/T), recomputed by hand for the same peaks: 82.38557 kJ/mol
    peaks = [peak(b) for b in RATES]
    assert ozawa(RATES, peaks, refined=False).energy == pytest.approx(82.38557e3, rel=2e-6)
    # refined, it is exact at one degree; those of the peaks differ a little. 0.5 % is the tolerance of the check
    assert ozawa(RATES, peaks).energy == pytest.approx(ENERGY, rel=5e-3)


@pytest.mark.parametrize("degree", [0.1, 0.5, 0.9])
def test_ozawa_refined_is_exact_at_a_degree(degree: float) -> None:
    temperatures = [at_degree(b, degree) for b in RATES]
    assert ozawa(RATES, temperatures).energy == pytest.approx(ENERGY, rel=5e-4)
    assert ozawa(RATES, temperatures, refined=False).energy == pytest.approx(ENERGY, rel=0.04)


def test_the_error_is_that_of_a_straight_line() -> None:
    from scipy.stats import linregress

    peaks = [peak(b) + e for b, e in zip(RATES, (0.3, -0.2, 0.1, -0.4), strict=True)]
    for line, y in (
        (kissinger(RATES, peaks), np.log(np.array(RATES) / np.array(peaks) ** 2)),
        (ozawa(RATES, peaks, refined=False), np.log10(RATES)),
    ):
        reference = linregress(1.0 / np.array(peaks), y)
        assert line.slope == pytest.approx(reference.slope, rel=1e-9)
        assert line.error == pytest.approx(line.energy * reference.stderr / abs(reference.slope), rel=1e-9)


def test_two_rates_give_an_energy_without_an_error_and_one_gives_none() -> None:
    line = kissinger(RATES[:2], [peak(b) for b in RATES[:2]])
    assert line.energy == pytest.approx(ENERGY, rel=1e-9) and line.error is None
    with pytest.raises(ValueError, match="two places"):
        kissinger(RATES[:1], [400.0])


def cure_of(resin: Resin, name: str, time: np.ndarray, temperature: np.ndarray) -> Cure:
    """A run whose degrees are exact."""
    degree = resin.degrees(time, temperature)
    rate = resin.rate(temperature, degree)
    kind = "ramp" if np.ptp(temperature) > 1.0 else "hold"
    run = Run(name, kind, time, temperature, degree, "conversion", np.ones(len(time), dtype=bool), 0.0)
    return Cure(run, degree, rate, np.zeros(len(time)), None, 0, len(time) - 1)


@pytest.mark.parametrize("held", [False, True])
def test_one_energy_is_found_at_every_degree(held: bool) -> None:
    """With the same energy in both rates every degree has that energy, whatever the programme."""
    resin = Resin(energy_1=75e3, energy_2=75e3)
    cures = [cure_of(resin, f"{b}", *ramp(b, 600)) for b in RAMPS]
    if held:
        cures = [*cures[1:3], cure_of(resin, "hold", *hold(HELD, 600, 120.0))]
    found = vyazovkin(cures)
    inside = found.degree <= 0.9
    assert found.energy[inside] == pytest.approx(np.full(inside.sum(), 75e3), rel=0.012)
    assert np.all(found.error[inside] < 1500.0)


def test_two_energies_show_between_their_values_falling() -> None:
    """k1 of 88 kJ/mol opens the reaction, k2 of 68 carries it: the energy falls from towards the one to the other."""
    found = vyazovkin([cure_of(Resin(), f"{b}", *ramp(b, 600)) for b in RAMPS])
    energies = found.energy[found.degree <= 0.9]
    assert np.all((energies > 68e3) & (energies < 88e3))
    assert energies[0] > energies[9] > energies[-1]


def test_the_energy_by_degrees_of_first_order_agrees_with_ozawas() -> None:
    """Two methods that share nothing but the data."""
    order = Resin(k1=FACTOR * math.exp(-ENERGY / GAS / 415.0), energy_1=ENERGY, k2=0.0, n=1.0)
    cures = [cure_of(order, f"{b}", *ramp(b, 800)) for b in RAMPS]
    found = vyazovkin(cures, np.array([0.2, 0.5, 0.8]))
    for degree, energy in zip(found.degree, found.energy, strict=True):
        temperatures = [float(np.interp(degree, c.degree, c.run.temperature)) for c in cures]
        assert energy == pytest.approx(ozawa([b / 60 for b in RAMPS], temperatures).energy, rel=0.01)
        assert energy == pytest.approx(ENERGY, rel=0.005)
