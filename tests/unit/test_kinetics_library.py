"""The kinetics library: complete, sourced, and its tables are what its rates integrate to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from thermokit.errors import DataError
from thermokit.kinetics.guards import falls_below_zero
from thermokit.kinetics.library import KineticsSet, headings, load, names
from thermokit.kinetics.pvc import Fusion

CURE = [name for name in names() if load(name).state == "cure_degree"]
GAS = 8.314462618

# what the data must hold: set -> its law
EXPECTED = {
    "epoxy_powder_calibrated": "two_rate",
    "epoxy_tgddm_dds_1982": "epoxy_amine",
    "mf_calibrated": "two_rate",
    "novolac_epoxy_1997": "nth_order",
    "novolac_hexamine_1997": "nth_order",
    "pf_calibrated": "two_rate",
    "polyester_glass_1991": "two_rate",
    "polyester_smc_1979": "two_rate",
    "pvc_heat_dose": "heat_dose",
    "pvc_paste_fusion": "fusion",
    "pvc_paste_gelation": "gelation",
    "uf_calibrated": "two_rate",
    "up_dough_calibrated": "two_rate",
}
CALIBRATED = [name for name in EXPECTED if name.endswith("_calibrated")]
CONFIDENCES = {
    "published", "handbook", "common-practice", "from-memory", "computed", "estimated", "calibrated-to-practice"
}  # fmt: skip


def test_every_set_is_there_with_its_law() -> None:
    assert {name: load(name).record["rate"]["law"] for name in names()} == EXPECTED
    assert [entry[0] for entry in headings()] == names()
    assert [(e[2], e[3]) for e in headings()] == [(load(n).state, load(n).status) for n in names()]


@pytest.mark.parametrize("name", names())
def test_every_set_says_where_it_comes_from_and_where_it_holds(name: str) -> None:
    found = load(name)
    assert found.confidence in CONFIDENCES
    assert found.source and all(found.source)
    assert found.flags
    assert found.status in ("recommended", "reference")
    assert 273.15 < found.valid_low < found.valid_high < 523.15
    assert found.record["heat"]["confidence"] in CONFIDENCES and found.record["heat"]["sources"]
    assert 0.0 <= found.heat <= 600e3  # neat epoxy-amine, the hottest, gives 400 to 550 kJ/kg
    if found.heat_low is not None and found.heat_high is not None:
        assert found.heat_low <= found.heat <= found.heat_high
    assert len(found.record.get("isothermal", {}).get("rows", [])) or name == "pvc_heat_dose"


@pytest.mark.parametrize("name", CALIBRATED)
def test_calibrated_sets_keep_their_moulded_times_and_practice(name: str) -> None:
    record = load(name).record
    assert len(record["moulded"]["rows"]) == 12
    assert {"start", "contact", "conductivity", "specific_heat", "density", "heat"} <= set(record["moulded"]["basis"])
    assert record["practice"]["text"] and record["practice"]["sources"]


def rate_in_plain_words(rate: dict[str, Any], degree: float, temperature: float) -> float:
    """The published equation, written out again from the record's own numbers."""

    def k(entry: dict[str, str]) -> float:
        energy = float(entry["energy"].removesuffix(" kJ/mol")) * 1e3
        return float(entry["factor"].removesuffix(" 1/s")) * float(np.exp(-energy / GAS / temperature))

    if rate["law"] == "two_rate":
        return (k(rate["rate_1"]) + k(rate["rate_2"]) * degree ** rate["m"]) * (1 - degree) ** rate["n"]
    if rate["law"] == "nth_order":
        return k(rate["rate"]) * (1 - degree) ** rate["n"]
    if degree <= 0.3:
        return (k(rate["rate_1"]) + k(rate["rate_2"]) * degree) * (1 - degree) * (rate["limit"] - degree)
    return k(rate["rate_3"]) * (1 - degree)


@pytest.mark.parametrize("name", CURE)
def test_isothermal_times_are_what_the_rate_integrates_to(name: str) -> None:
    found = load(name)
    start, equation = found.start, dict(found.record["rate"])
    for celsius, half, nine_tenths in found.record["isothermal"]["rows"]:
        at = celsius + 273.15
        for degree, time in ((0.5, half), (0.9, nine_tenths)):
            exact, _ = quad(
                lambda a, t=at: 1.0 / rate_in_plain_words(equation, a, t), start, degree, points=[0.3], limit=400
            )
            assert time == pytest.approx(exact, rel=6e-4)  # the tables hold four digits
    sample = np.array([0.05, 0.2, 0.299, 0.4, 0.8])
    law = found.rate.evaluate(np.full(5, 420.0), (sample,))
    assert law == pytest.approx([rate_in_plain_words(equation, a, 420.0) for a in sample], rel=1e-12)


@pytest.mark.parametrize("name", names())
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_every_set_integrates_over_its_range(name: str, share: float) -> None:
    found = load(name)
    at = np.array([found.valid_low + share * (found.valid_high - found.valid_low)])
    before = (np.array([1.0]),) if isinstance(found.rate, Fusion) else ()
    run = solve_ivp(lambda t, a: found.rate.evaluate(at, (*before, a)), (0.0, 3600.0), [found.start], method="LSODA")
    assert run.success and np.all(np.isfinite(run.y))
    assert run.y[0, -1] > found.start
    if found.state != "heat_dose":
        assert run.y[0, -1] <= 1.0 + 1e-3


def paste(temperature: object, until: float, start: tuple[float, float] = (0.0, 0.0)) -> object:
    """Gel and fusion degree of paste along a temperature (a function of time), by an independent integrator."""
    gel, fusion = load("pvc_paste_gelation").rate, load("pvc_paste_fusion").rate

    def slope(t: float, y: np.ndarray) -> list[float]:
        at, g, f = np.array([temperature(t)]), y[:1], y[1:]  # type: ignore[operator]
        return [float(gel.evaluate(at, (g,))[0]), float(fusion.evaluate(at, (g, f))[0])]

    return solve_ivp(slope, (0.0, until), list(start), method="LSODA", rtol=1e-9, atol=1e-12, dense_output=True)


def test_paste_on_a_ramp_gels_and_fuses_where_the_table_says() -> None:
    for gel, fused in zip(
        load("pvc_paste_gelation").record["ramps"]["rows"],
        load("pvc_paste_fusion").record["ramps"]["rows"],
        strict=True,
    ):
        per_second = gel[0] / 60.0
        run = paste(lambda t, r=per_second: 298.15 + r * t, 195.0 / per_second)
        grid = np.linspace(25.0, 220.0, 4001)
        degrees = run.sol((grid - 25.0) / per_second)  # type: ignore[attr-defined]
        for level, expected in zip((0.05, 0.5, 0.95), gel[1:], strict=True):
            assert np.interp(level, degrees[0], grid) == pytest.approx(expected, abs=0.1)
        for level, expected in zip((0.05, 0.5, 0.9, 0.95), fused[1:], strict=True):
            assert np.interp(level, degrees[1], grid) == pytest.approx(expected, abs=0.1)


def test_paste_held_hot_gels_and_fuses_as_its_tables_say() -> None:
    for celsius, time in load("pvc_paste_gelation").record["isothermal"]["rows"]:
        # closed form: t90 = ln 10 / k
        k = 0.0125 * np.exp(-80e3 / GAS * (1 / (celsius + 273.15) - 1 / 358.15))
        assert time == pytest.approx(np.log(10.0) / k, abs=0.06)
    for celsius, target, *degrees in load("pvc_paste_fusion").record["isothermal"]["rows"]:
        law = load("pvc_paste_fusion").rate
        assert float(law.equilibrium(np.array([celsius + 273.15]))[0]) == pytest.approx(target, abs=6e-4)  # type: ignore[union-attr]
        run = paste(lambda t, c=celsius: c + 273.15, 600.0)
        found = run.sol([30.0, 60.0, 120.0, 300.0, 600.0])[1]  # type: ignore[attr-defined]
        assert found == pytest.approx(degrees, abs=6e-4)


def test_the_heat_dose_counts_what_the_release_table_says() -> None:
    found = load("pvc_heat_dose")
    for celsius, _, _, to_one_percent, relative in found.record["table"]["rows"]:
        rate = float(found.rate.evaluate(np.array([celsius + 273.15]), (np.zeros(1),))[0])
        assert 1.0 / rate / 60.0 == pytest.approx(to_one_percent, rel=1e-3)
        assert rate * 4000.0 == pytest.approx(relative, rel=1e-3)


def test_fusion_reads_the_gel_degree() -> None:
    assert load("pvc_paste_fusion").needs == ("gel_degree",)


def test_too_hot_a_run_is_named() -> None:
    assert load("polyester_glass_1991").warnings_outside(398.15) == []
    assert load("pf_calibrated").warnings_outside(483.15) == [
        "kinetics pf_calibrated: valid 140 to 190 degC, the run reached 210 degC"
    ]


def test_a_run_where_a_set_means_nothing_is_told_not_to_use_its_answer() -> None:
    (said,) = load("polyester_glass_1991").warnings_outside(423.15)
    assert "valid 70 to 125 degC, the run reached 150 degC" in said
    assert "above 130 degC its rates mean nothing: do not use this answer" in said
    assert "mean nothing" not in load("polyester_glass_1991").warnings_outside(273.15 + 128.0)[0]


def test_a_rate_below_zero_is_named_with_its_temperature_and_degree() -> None:
    # its data say: negative below about 7 degC, just under a degree of 0.3
    amine = load("epoxy_tgddm_dds_1982")
    (said,) = amine.warnings_outside(373.15, 273.15)
    assert "below zero up to" in said and "degrees near 0.3" in said and "was at 0 degC" in said
    assert 4.0 <= float(said.split("up to ")[1].split(" degC")[0]) <= 8.0
    assert amine.warnings_outside(373.15, 283.15) == []


@pytest.mark.parametrize("name", CURE)
def test_no_other_set_falls_below_zero(name: str) -> None:
    law = load(name).rate
    found = falls_below_zero(law, 200.0, 600.0)
    # k1 + 0.3 k2 = 0 of the amine's published constants, solved for the temperature
    zero = (80.7e3 - 77.8e3) / GAS / np.log(35016700 / (0.3 * 33566700))
    assert found is None if name != "epoxy_tgddm_dds_1982" else found[0] == pytest.approx(zero, abs=1.0)


def test_gel_degrees_lie_where_practice_has_them() -> None:
    # common practice: phenolic 0.3 to 0.5, polyester 0.05 to 0.1
    for name in ("pf_calibrated", "novolac_hexamine_1997"):
        assert 0.3 <= (load(name).gel_degree or 0.0) <= 0.5
    for name in ("up_dough_calibrated", "polyester_smc_1979", "polyester_glass_1991"):
        assert 0.05 <= (load(name).gel_degree or 0.0) <= 0.1
    assert load("pvc_paste_gelation").gel_degree is None


def firm_urea(thickness: float, mould: float, level: float = 0.85) -> tuple[float, float]:
    """(time at which the coldest place reaches a degree, time at which it is within 10 K of the mould) [s].

    Finite differences over half the slab of the record's own basis, integrated by scipy: nothing of thermokit but the
    record's numbers.
    """
    record = load("uf_calibrated").record
    basis, rate = record["moulded"]["basis"], record["rate"]
    start, contact, k, c, rho, heat = (
        float(basis[name].split()[0])
        for name in ("start", "contact", "conductivity", "specific_heat", "density", "heat")
    )
    cells, hot = 24, mould + 273.15
    dx = thickness / 2 / cells

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        at, degree = y[:cells], y[cells:]
        flux = np.zeros(cells + 1)
        flux[1:cells] = k * (at[:-1] - at[1:]) / dx
        flux[cells] = (at[-1] - hot) / (1 / contact + dx / 2 / k)
        growth = np.array([rate_in_plain_words(rate, a, T) for a, T in zip(np.clip(degree, 0, 1), at, strict=True)])
        return np.concatenate([(flux[:-1] - flux[1:]) / (rho * c * dx) + heat * 1e3 / c * growth, growth])

    begin = np.concatenate([np.full(cells, start + 273.15), np.zeros(cells)])
    run = solve_ivp(slope, (0.0, 60.0), begin, method="LSODA", rtol=1e-6, atol=1e-6, t_eval=np.linspace(0, 60, 601))
    lowest, core = run.y[cells:].min(axis=0), run.y[0]
    return float(np.interp(level, lowest, run.t)), float(run.t[np.argmax(core > hot - 10.0)])


def test_a_thin_urea_piece_is_firm_in_about_half_a_minute() -> None:
    # fact of the trade: at about 135 degC, and heated through in under a third of that
    firm, heated = firm_urea(1.5e-3, 135.0)
    assert 25.0 <= firm <= 35.0
    assert heated < firm / 3.0
    table = {(row[0], row[1]): row[2:4] for row in load("uf_calibrated").record["moulded"]["rows"]}
    assert firm == pytest.approx(table[1.5, 135][0], rel=0.01)
    assert firm_urea(3e-3, 145.0, 0.9)[0] == pytest.approx(table[3, 145][1], rel=0.01)


BRANCHED = """
id = "made_up"
name = "Two branches"
state = "cure_degree"
status = "reference"
confidence = "estimated"
sources = [1]
references = ["none"]
[rate]
law = "by_temperature"
middle = "100 degC"
width = "2 K"
cold = { law = "nth_order", rate = { factor = "0.01 1/s", energy = "0 kJ/mol" }, n = 1 }
[rate.hot]
law = "sum"
first = { law = "nth_order", rate = { factor = "0.02 1/s", energy = "0 kJ/mol" }, n = 1 }
second = { law = "nth_order", rate = { factor = "0.03 1/s", energy = "0 kJ/mol" }, n = 2 }
[valid]
low = "60 degC"
high = "150 degC"
[heat]
value = "0 kJ/kg"
[gel]
degree = 0.5
"""
GLASSY = '[glass]\nstart = "-20 degC"\nfull = "220 degC"\nlambda = 0.5\n[limit]\n'


def made(text: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> KineticsSet:
    """A set read from a file of its own, as if it were in the library."""
    (folder / "made_up.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr("thermokit.kinetics.library.DATA", folder)
    return load("made_up")


def test_a_set_of_two_branches_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = made(BRANCHED, tmp_path, monkeypatch)
    cold, hot = found.rate.evaluate(np.array([300.0, 450.0]), (np.array([0.5, 0.5]),))
    assert cold == pytest.approx(0.01 * 0.5)
    assert hot == pytest.approx(0.02 * 0.5 + 0.03 * 0.25)
    assert found.gel_degree == 0.5 and found.glass is None


@pytest.mark.parametrize("limit", ['by = "vitrification"\nrate = "0.01 1/s"\n', 'by = "diffusion"\nsharpness = 30\n'
                                   'critical = 0.7\nslope = "0.004 1/K"\nat = "100 degC"\n'])  # fmt: skip
def test_a_set_with_a_limit_is_read(limit: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = made(BRANCHED + GLASSY + limit, tmp_path, monkeypatch)
    at, degree = np.array([373.15]), np.array([0.95])
    assert 0.0 <= found.rate.evaluate(at, (degree,))[0] < 1e-3 * (0.015 * 0.05)
    assert found.glass is not None and found.glass.at(np.array([1.0]))[0] == pytest.approx(493.15)


def test_a_limit_by_vitrification_without_a_glass_transition_is_a_plain_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(DataError, match=r"needs \[glass\]"):
        made(BRANCHED + '[limit]\nby = "vitrification"\nrate = "0.01 1/s"\n', tmp_path, monkeypatch)


@pytest.mark.parametrize("wrong", ["pf_calibrate", "", "../uf_calibrated", "x" * 5000])
def test_an_unknown_set_is_a_plain_message(wrong: str) -> None:
    with pytest.raises(DataError, match="no kinetics set") as caught:
        load(wrong)
    if wrong == "pf_calibrate":
        assert "pf_calibrated" in str(caught.value)
