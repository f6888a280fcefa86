"""Fitted constants: recovered within their own confidence, which covers as often as it says; what cannot be told is said."""

from __future__ import annotations

import io
import json
import math
import sys
import tomllib
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from made_dsc import EXAMPLE_HOLD, EXAMPLES, GAS, MIDDLE, RESIN, Exact, Resin, exact_runs, noise

from thermokit.case import parse_case
from thermokit.errors import DataError, SolveError
from thermokit.figures.kinetics_fit import draw_fit
from thermokit.figures.style import drawn
from thermokit.kinetics.dsc import read_run
from thermokit.studies.kinetics_confidence import memory_length, noise_behind
from thermokit.studies.kinetics_fit import KineticsFit, fit_kinetics
from thermokit.studies.kinetics_words import block, doubts, fit_json, fit_text

CASES = Path(__file__).parents[2] / "cases"
NAMES = ("k1", "factor_1", "energy_1", "k2", "factor_2", "energy_2", "m", "n")


def truth(resin: Resin, reference: float) -> dict[str, float]:
    """The constants that runs of a resin were made with; rate constants at a reference temperature."""
    colder = (1.0 / reference - 1.0 / MIDDLE) / GAS
    return {
        "k1": resin.k1 * math.exp(-resin.energy_1 * colder),
        "factor_1": resin.factor(1),
        "energy_1": resin.energy_1,
        "k2": resin.k2 * math.exp(-resin.energy_2 * colder),
        "factor_2": resin.factor(2),
        "energy_2": resin.energy_2,
        "m": resin.m,
        "n": resin.n,
    }


def covered(fit: KineticsFit, resin: Resin) -> dict[str, bool]:
    """Whether each 95 % interval holds the true constant."""
    true = truth(resin, fit.fitted.reference)
    return {name: ends[0] <= true[name] <= ends[1] for name, ends in fit.fitted.ends.items()}


@cache
def exact(rows: int = 240, held: bool = True, resin: Resin = RESIN) -> Exact:
    return exact_runs(resin, rows, held)


@cache
def example() -> KineticsFit:
    """The fit of the files in ``cases/``."""
    return fit_kinetics([read_run(CASES / name) for name in [*EXAMPLES, EXAMPLE_HOLD]])


# -- recovery and coverage -------------------------------------------------------------------------------------------------


def test_without_noise_the_constants_come_back() -> None:
    fit = fit_kinetics(exact().noisy(np.random.default_rng(0), 1e-3))
    true = truth(RESIN, fit.fitted.reference)
    for name, value in fit.fitted.values.items():
        assert value == pytest.approx(true[name], rel=5e-3), name
    assert fit.heat == pytest.approx(RESIN.heat, rel=1e-3)
    assert fit.simpler is None


def test_the_examples_give_back_the_constants_they_were_made_with() -> None:
    """One data set: all eight intervals of 95 % hold in two cases of three or so; each holds at 99.9 %."""
    fit = example()
    true = truth(RESIN, fit.fitted.reference)
    for name, (low, high) in fit.fitted.ends.items():
        middle, half = (low + high) / 2, (high - low) / 2
        assert abs(true[name] - middle) <= 1.7 * half, name  # 3.3 standard errors
    assert fit.heat == pytest.approx(RESIN.heat, rel=5e-3)
    assert fit.kissinger is not None and 68e3 < fit.kissinger.energy < 88e3
    assert fit.valid[0] - 273.15 == pytest.approx(110, abs=10) and 215 < fit.valid[1] - 273.15 < 250


def coverage(sets: int, size: float, memory: float, conversion: bool) -> tuple[dict[str, int], dict[str, float]]:
    """(how often each 95 % interval held, claimed over true standard error) over synthetic data sets."""
    runs = exact(held=not conversion)
    hits = dict.fromkeys(NAMES, 0)
    found: dict[str, list[float]] = {name: [] for name in NAMES}
    claimed: dict[str, list[float]] = {name: [] for name in NAMES}
    for i in range(sets):
        fit = fit_kinetics(runs.noisy(np.random.default_rng([7, i]), size, memory, conversion))
        true = truth(RESIN, fit.fitted.reference)  # the reference may differ by a kelvin from set to set
        for name, held in covered(fit, RESIN).items():
            hits[name] += held
            of = math.log if name[0] in "kf" else float
            found[name].append(of(fit.fitted.values[name]) - of(true[name]))
            low, high = fit.fitted.ends[name]
            claimed[name].append((of(high) - of(low)) / 2 / 1.96)
    return hits, {name: float(np.mean(claimed[name]) / np.std(found[name], ddof=1)) for name in NAMES}


@pytest.mark.long
@pytest.mark.parametrize(("size", "memory", "conversion"), [(8.0, 0.0, False), (8.0, 0.7, False), (0.01, 0.0, True)])
def test_intervals_of_95_per_cent_hold_as_often_as_they_say(size: float, memory: float, conversion: bool) -> None:
    """50 data sets: white noise, noise that remembers itself, and conversions.

    Of 50 intervals that hold with probability 0.95, fewer than 42 hold in 1 case of 1000 (binomial). The eight constants of
    a set hang together, so that their mean is no surer than about two of them: 0.89 and more. The scatter of 50 is known to
    10 % (one standard deviation): claimed errors lie within three of that of the true ones.
    """
    hits, ratios = coverage(50, size, memory, conversion)
    assert min(hits.values()) >= 42, hits
    assert 0.89 <= sum(hits.values()) / (50 * len(hits)) <= 0.995, hits
    assert all(0.7 < ratio < 1.4 for ratio in ratios.values()), ratios


@pytest.mark.parametrize("memory", [0.0, 0.6, 0.85])
def test_the_noise_behind_residuals_is_found_through_the_fit(memory: float) -> None:
    """A line and a slow curve are fitted to noise of known memory: what is left shows less of both, what is found does not."""
    rows, found, seen = 200, [], []
    slow = np.stack(
        [np.linspace(-1, 1, rows), np.cos(np.linspace(0, 3, rows)), np.sin(np.linspace(0, 7, rows))], axis=1
    )
    linear, jacobian = np.linalg.qr(slow)[0][:, :1], np.linalg.qr(slow)[0][:, 1:]
    for seed in range(40):
        left = []
        for r in range(3):
            e = noise(np.random.default_rng([seed, r]), rows, 2.0, memory)
            left.append(e - linear @ (linear.T @ e))
        shared = sum(jacobian.T @ e for e in left) / 3.0
        left = [e - jacobian @ shared for e in left]
        behind = noise_behind(left, [jacobian] * 3, [linear] * 3)
        found.append((behind.memory.mean(), behind.size.mean()))
        seen.append(np.mean([np.std(e) for e in left]))
    # 120 runs: the memory is known to sqrt(1 - memory^2)/sqrt(120 * 200), and more where it is clipped at 0
    assert np.mean([m for m, _ in found]) == pytest.approx(memory, abs=0.035)
    assert np.mean([s for _, s in found]) == pytest.approx(2.0, rel=0.04)
    assert np.mean(seen) < 2.0


def test_the_length_of_a_memory_is_its_closed_form() -> None:
    # (1 + 0.8)/(1 - 0.8) = 9 rows
    lengths = [memory_length(noise(np.random.default_rng(i), 3000, 1.0, 0.8)) for i in range(10)]
    assert np.mean(lengths) == pytest.approx(9.0, rel=0.15)
    assert memory_length(np.zeros(50)) == 1.0


# -- simpler laws ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("resin", "form", "says"), [
    (Resin(k1=0.0, start=1e-4), "autocatalytic", "k1 = 0 fits as well"),
    (Resin(k1=4e-3, k2=0.0, n=1.3), "nth_order", "a single rate of order n fits as well"),
    (Resin(energy_1=75e3, energy_2=75e3), "one_energy", "one energy for both rates fits as well"),
])  # fmt: skip
def test_a_simpler_law_that_fits_as_well_is_offered(resin: Resin, form: str, says: str) -> None:
    fit = fit_kinetics(exact(240, False, resin).noisy(np.random.default_rng(5), 4.0))
    assert fit.simpler is not None and fit.simpler.form == form
    assert [text for text in doubts(fit) if says in text]
    said = fit_text(fit, "resin")
    assert "take the simpler set" in " ".join(said.split()) and "[kinetics.resin_simpler]" in said
    true = truth(resin, fit.simpler.reference)
    for name, (low, high) in fit.simpler.ends.items():
        middle, half = (low + high) / 2, (high - low) / 2
        assert abs(true[name] - middle) <= 2.0 * half, name


@pytest.mark.parametrize("form", ["one_energy", "autocatalytic", "nth_order"])
def test_a_form_that_is_asked_for_is_fitted(form: str) -> None:
    resin = {
        "one_energy": Resin(energy_1=70e3, energy_2=70e3),
        "autocatalytic": Resin(k1=0.0, start=1e-4),
        "nth_order": Resin(k1=4e-3, k2=0.0, n=1.3),
    }[form]
    fit = fit_kinetics(exact(240, False, resin).noisy(np.random.default_rng(6), 4.0), form)
    assert fit.fitted.form == form
    true = truth(resin, fit.fitted.reference)
    for name, value in fit.fitted.values.items():
        assert value == pytest.approx(true[name], rel=0.15 if name.startswith("factor") else 0.02), name


def test_what_hangs_together_is_said() -> None:
    """Two ramps that hardly differ tell little: energies and factors then make up for each other."""
    runs = exact(240, False).noisy(np.random.default_rng(1), 15.0)
    few = [runs[1], replace(runs[2], name="other")]
    fit = fit_kinetics(few)
    wide = fit.fitted.ends["energy_1"][1] - fit.fitted.ends["energy_1"][0]
    assert wide > 5e3
    assert [n for n in fit.notes if "two heating rates" in n]
    assert fit.kissinger is not None and fit.kissinger.error is None
    assert fit_json(fit, "x")["kissinger"]["standard_error"] is None


# -- what cannot be fitted ---------------------------------------------------------------------------------------------------


def test_runs_that_tell_no_energy_are_refused() -> None:
    runs = exact().noisy(np.random.default_rng(0), 4.0)
    with pytest.raises(DataError, match="one run cannot tell an activation energy"):
        fit_kinetics(runs[:1])
    with pytest.raises(DataError, match="no file"):
        fit_kinetics([])
    with pytest.raises(DataError, match="all at one heating rate"):
        fit_kinetics([runs[0], replace(runs[0], name="again")])
    with pytest.raises(DataError, match="all at one temperature"):
        fit_kinetics([runs[4], replace(runs[4], name="again")])


def test_runs_that_no_law_follows_are_no_answer() -> None:
    """Ramps whose rates were mixed up: the slow one is said to be the fast one."""
    runs = exact(240, False).noisy(np.random.default_rng(0), 4.0)
    mixed = []
    for run, factor in zip(runs, (30.0, 1.0, 1.0, 0.02), strict=True):
        mixed.append(replace(run, time=run.time * factor, heating_rate=run.heating_rate / factor))
    with pytest.raises(SolveError, match="follows these runs"):
        fit_kinetics(mixed)


def test_a_second_reaction_is_told_as_a_misfit() -> None:
    """A shoulder of a third of the heat, 45 K later, is no two-rate law."""
    runs = []
    for (_, time, temperature, degree), run in zip(exact(240, False).runs, exact(240, False).noisy(
        np.random.default_rng(0), 4.0), strict=True):  # fmt: skip
        late = np.interp(temperature - 45.0, temperature, RESIN.rate(temperature, degree), left=0.0)
        runs.append(replace(run, time=time, signal=run.signal + RESIN.heat / 3 * late))
    fit = fit_kinetics(runs)
    assert [n for n in fit.notes if "the fitted set misses it by up to" in n]


def test_a_hold_that_lost_heat_is_told() -> None:
    # what a vitrified hold shows: less heat than the ramps
    runs = exact().noisy(np.random.default_rng(0), 2.0)
    hold = runs[4]
    level = float(np.median(hold.signal[-20:]))
    runs[4] = replace(hold, signal=level + 0.7 * (hold.signal - level))
    assert [n for n in fit_kinetics(runs).notes if "of the heat of the ramps: it vitrified" in n]


# -- blocks, JSON, words, picture ----------------------------------------------------------------------------------------


CASE = """\
process = "body"
[body]
shape = "plane"
start = "130 degC"
[[body.layers]]
material = "resin"
thickness = "1 mm"
cells = 2
kinetics = "{name}"
[materials.resin]
conductivity = "0.2 W/m/K"
density = "1200 kg/m3"
specific_heat = "1500 J/kg/K"
[[stations]]
duration = "20 min"
[stations.inner]
temperature = "130 degC"
[stations.outer]
temperature = "130 degC"

"""


@pytest.mark.parametrize("form", ["two_rate", "one_energy", "autocatalytic", "nth_order"])
@pytest.mark.parametrize("conversion", [False, True])
def test_the_block_is_read_back_by_a_case(form: str, conversion: bool) -> None:
    resin = Resin(k1=4e-3, k2=0.0, n=1.3) if form == "nth_order" else RESIN
    size = 0.005 if conversion else 4.0
    fit = fit_kinetics(exact(240, False, resin).noisy(np.random.default_rng(2), size, conversion=conversion), form)
    case = parse_case(CASE.format(name="winch") + block(fit, "winch"), "winch.toml")
    own = case.kinetics["winch"]
    # the rate is that of the fit, at the reference temperature and 25 K off it, to the digits written
    degree = np.array([0.2, 0.5, 0.8])
    for at in (fit.fitted.reference, fit.fitted.reference - 25.0):
        values, colder = fit.fitted.values, 1.0 / at - 1.0 / fit.fitted.reference
        k1, k2 = (
            values.get(f"k{i}", 0.0) * math.exp(-values.get(f"energy_{i}", 0.0) * colder / GAS) for i in ("1", "2")
        )
        expected = (k1 + k2 * degree ** values.get("m", 1.0)) * (1 - degree) ** values["n"]
        assert own.law.evaluate(np.full(3, at), (degree,)) == pytest.approx(expected, rel=2e-3)
    assert own.heat == (0.0 if conversion else pytest.approx(fit.heat, rel=1e-3))
    assert own.start == (1e-4 if form == "autocatalytic" else 0.0)
    assert own.valid.low < fit.fitted.reference < own.valid.high


def test_a_case_with_the_block_cures_as_the_hold_did() -> None:
    from thermokit.studies.run import run

    result = run(parse_case(CASE.format(name="winch") + block(example(), "winch"), "winch.toml"))
    (_, time, _, degree) = exact().runs[4]
    at = float(np.interp(1200.0, time, degree))
    assert float(result.history.states["cure_degree"][-1, 0]) == pytest.approx(at, abs=0.01)


def test_json_holds_the_same_and_no_nan() -> None:
    found = json.loads(json.dumps(fit_json(example(), "winch"), allow_nan=False))
    assert [r["kind"] for r in found["runs"]] == ["ramp"] * 4 + ["hold"]
    assert [r["heating_rate"]["value"] for r in found["runs"][:4]] == pytest.approx([2.5, 5, 10, 20], rel=1e-3)
    assert found["set"]["form"] == "two_rate" and found["simpler"] is None and found["recommended"] == "two_rate"
    energy = found["set"]["constants"]["energy_1"]
    assert energy["low"] < energy["value"] < energy["high"] and energy["unit"] == "kJ/mol"
    assert tomllib.loads(found["set"]["block"])["kinetics"]["winch"]["state"] == "cure"
    assert found["kissinger"]["low"] < found["kissinger"]["energy"] < found["kissinger"]["high"]
    assert "Vyazovkin" in found["isoconversional"]["method"] and found["isoconversional"]["from"] == "from the ramps"
    assert "tangential" in found["baseline"]


def test_words_name_methods_units_and_confidence() -> None:
    said = fit_text(example(), "winch")
    for words in (
        "linear tangential", "Kissinger (1957)", "ASTM E698", "Vyazovkin", "95 % from", "kJ/mol", "1/s", "kJ/kg",
        "held at 130 degC", "[kinetics.winch]",
    ):  # fmt: skip
        assert words in said
    assert max(map(len, said.splitlines())) <= 120


def texts(figure: Any) -> list[str]:
    tree = ET.fromstring(drawn(figure, "svg"))
    return [" ".join("".join(e.itertext()).split()) for e in tree.iter() if e.tag.endswith("}text")]


def test_the_picture_names_its_axes_with_units_and_is_the_same_twice() -> None:
    figure = draw_fit(example())
    found = texts(figure)
    for words in (
        "temperature [°C]", "time [min]", "heat flow, baseline off [W/g]", "difference [W/g]", "degree of cure [1]",
        "activation energy [kJ/mol]", "1000/peak temperature [1/K]", "10 K/min", "held at 130 °C",
    ):  # fmt: skip
        assert words in found, found
    assert [text for text in found if text.startswith("Kissinger: ")]
    assert drawn(figure, "svg") == drawn(draw_fit(example()), "svg")


def test_the_picture_has_ink_and_tells_curves_apart_in_grey() -> None:
    from matplotlib.image import imread

    figure = draw_fit(example())
    picture = imread(io.BytesIO(drawn(figure, "png")))[..., :3]
    assert 0.003 < (picture < 0.6).all(axis=2).mean() < 0.3
    curves = [line for line in figure.axes[0].get_lines() if line.get_linestyle() != "None" and len(line.get_xdata())]
    looks = {(str(line.get_linestyle()), str(line._unscaled_dash_pattern)) for line in curves}
    assert len(looks) == 4, "four ramps, four dash patterns"


@pytest.mark.parametrize("which", ["conversion", "mixed", "no ramps"])
def test_other_mixtures_are_drawn(which: str) -> None:
    rng = np.random.default_rng(3)
    if which == "no ramps":
        warm = Exact(RESIN, tuple(
            (f"{c}", np.linspace(0, 3600, 200), np.full(200, c + 273.15),
             RESIN.degrees(np.linspace(0, 3600, 200), np.full(200, c + 273.15)))
            for c in (120.0, 130.0, 140.0)
        ))  # fmt: skip
        runs = warm.noisy(rng, 3.0)
    else:
        runs = exact(240, which == "mixed").noisy(rng, 0.004, conversion=True)
        if which == "mixed":
            runs[:2] = exact().noisy(rng, 4.0)[:2]
    fit = fit_kinetics(runs)
    found = texts(draw_fit(fit))
    assert "activation energy [kJ/mol]" in found
    if which == "no ramps":
        assert fit.kissinger is None and [t for t in found if "no line" in t]
        assert "no line of Kissinger or Ozawa" in fit_text(fit, "x")
        # the coolest hold ends at degree 0.81, so the level at its end is no baseline: that is said, and the fit has its own
        assert [n for n in fit.notes if "it comes out too high at high degrees" in n]
        assert all(70e3 < e < 95e3 for e in fit.isoconversional.energy[:3])
        assert sum(covered(fit, RESIN).values()) >= 6
