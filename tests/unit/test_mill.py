"""The mill: a band between roll and air against closed forms, friction by hand, folding, limits, mistakes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from thermokit.case import parse_case
from thermokit.errors import CaseError
from thermokit.processes import process_of
from thermokit.processes.mill import friction_power, nip_length
from thermokit.processes.run import run_case
from thermokit.results.model import Result
from thermokit.studies.dwell import dwell

TEXT = (Path(__file__).parent / "case_texts" / "mill.toml").read_text(encoding="utf-8")
NO_HEAT = 'heat = { viscosity = "15000 Pa s", reference = "160 degC", softening = "0.025 1/K" }\n'


def case(*changes: tuple[str, str]) -> object:
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return parse_case(text)


def outcome(result: Result, name: str) -> float:
    (value,) = [o.value for o in result.outcomes if o.name == name]
    assert value is not None
    return value


def test_settles_at_the_resistances_between_roll_and_air() -> None:
    """Without friction: heat from the roll through contact and band into air and back roll, in series (exact)."""
    result = run_case(case((NO_HEAT, ""), ("8 min", "3 h"), ("folds = 6", "folds = 0")))
    share = 2.0 * math.sqrt(0.15 * 2.5e-3) / (math.pi * 0.3)
    out = 12.0 + 2200.0 * share
    mean_out = (12.0 * 35.0 + 2200.0 * share * 155.0) / out
    flux = (160.0 - mean_out) / (1.0 / 450.0 + 2.5e-3 / 0.17 + 1.0 / out)
    assert outcome(result, "roll_face") == pytest.approx(160.0 - flux / 450.0, abs=0.02)
    assert outcome(result, "open_face") == pytest.approx(mean_out + flux / out, abs=0.02)
    assert result.history.heat.mismatch < 1e-9


def test_measured_power_goes_into_the_band() -> None:
    """Power over the mass of the band; in the end roll, air and back roll take away what the power brings."""
    result = run_case(case((NO_HEAT, 'power = "3 kW"\n'), ("8 min", "3 h"), ("folds = 6", "folds = 0")))
    mass = math.pi * 0.3 * 0.55 * 2.5e-3 * 1290.0
    assert outcome(result, "friction_heat") == pytest.approx(3000.0 / mass, rel=1e-9)
    assert outcome(result, "friction_power") == pytest.approx(3.0, rel=1e-9)
    end = result.history.ends[0]
    share = 2.0 * math.sqrt(0.15 * 2.5e-3) / (math.pi * 0.3)
    taken = 450.0 * (end.inner_face - 433.15) + 12.0 * (end.outer_face - 308.15)
    taken += 2200.0 * share * (end.outer_face - 428.15)
    assert taken * math.pi * 0.3 * 0.55 == pytest.approx(3000.0, rel=2e-3)


def test_friction_by_hand() -> None:
    """eta (dv/gap)^2 over the share of a turn in the nip: 15 kPa s, 18 m/min, 1.25, 2.5 mm, 300 mm."""
    length = 2.0 * math.sqrt(0.15 * 2.5e-3)
    assert float(nip_length(0.3, 2.5e-3)) == pytest.approx(length)
    by_hand = 15e3 * (0.3 * 0.25 / 2.5e-3) ** 2 * length / (math.pi * 0.3)
    assert float(friction_power(15e3, 0.3, 1.25, 2.5e-3, 0.3)) == pytest.approx(by_hand)
    # no difference in speed, no friction; twice the difference, four times the heat
    assert float(friction_power(15e3, 0.3, 1.0, 2.5e-3, 0.3)) == 0.0
    assert float(friction_power(15e3, 0.3, 1.5, 2.5e-3, 0.3)) == pytest.approx(4.0 * by_hand)


def test_friction_falls_as_the_compound_softens() -> None:
    result = run_case(case())
    mean = outcome(result, "mean_temperature")
    at_reference = float(friction_power(15e3, 0.3, 1.25, 2.5e-3, 0.3)) / 1290.0
    assert outcome(result, "friction_heat") == pytest.approx(at_reference * math.exp(-0.025 * (mean - 160.0)), rel=1e-6)


def test_folding_evens_the_band_and_keeps_its_heat() -> None:
    from thermokit.conduction.follow import follow

    process = process_of(case(("folds = 6", "folds = 1"), ("8 min", "60 s")))
    edges = [np.linspace(0.0, 1.0, 21)]
    travel = follow(process.course(edges))
    first, second = travel.runs[0].ends[-1], travel.legs[1].layers[0]
    assert np.ptp(first.temperature) > 5.0
    assert np.asarray(second.start) == pytest.approx(np.full(20, first.temperature.mean()), abs=1e-9)
    gel = next(r for r in second.reactions if r.state == "gel_degree")
    assert np.asarray(gel.start) == pytest.approx(np.full(20, first.states["gel_degree"].mean()), abs=1e-12)


def test_gels_in_the_time_of_its_rate() -> None:
    """A thin band in good contact is soon at the roll's temperature: then t = ln[1/(1 - 0.95)]/k (first order)."""
    changes = (
        (NO_HEAT, ""), ('"2.5 mm"', '"0.3 mm"'), ('contact = "450', 'contact = "20000'),
        ('nip_contact = "2200', 'nip_contact = "0'),
        ('duration = "8 min"', 'duration = "find"'), ("folds = 6", "folds = 0"), ("gel_degree = 0.9", "gel_degree = 0.95"),
        ('coefficient = "12', 'coefficient = "0'), ('start = "60 degC"', 'start = "160 degC"'),
    )  # fmt: skip
    found = dwell(case(*changes))
    k = 2e10 * math.exp(-105e3 / 8.314462618 / 433.15)
    assert found.earliest == pytest.approx(math.log(20.0) / k, rel=2e-3)
    assert found.earliest_limit == "gel_degree"
    assert found.hand is not None and found.hand.value == pytest.approx(found.earliest, rel=0.1)


def test_limits_look_at_sheet_off_and_heat_dose_at_the_end() -> None:
    result = run_case(case())
    met = {limit.name: limit for limit in result.limits}
    assert set(met) == {"gel_degree", "hottest", "heat_dose", "spread"}
    assert met["gel_degree"].when == pytest.approx(480.0)
    assert met["heat_dose"].when == pytest.approx(540.0)
    assert any("common practice" in remark for remark in result.remarks)
    assert any("nip" in caution for caution in result.cautions)


OFF_FIRST = (
    '[[stations]]\nname = "off"',
    '[[stations]]\nname = "again"\nkind = "air"\nduration = "1 s"\n'
    'air = { temperature = "20 degC", coefficient = "9 W/m2/K" }\n\n[[stations]]\nname = "off"',
)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ((('kind = "mill"\nduration = "8 min"\nfolds = 6', 'kind = "air"\nduration = "8 min"'),), "not on the mill yet"),
        ((OFF_FIRST, ('kind = "air"\nduration = "60 s"', 'kind = "mill"\nduration = "60 s"')),
         "off the mill already"),
        (((NO_HEAT, NO_HEAT + 'power = "2 kW"\n'),), "stands together with heat"),
        (((NO_HEAT, 'power = "2 kW"\n'), ('width = "550 mm"\n', "")), "power is spread over the band"),
        ((("friction = 1.25", "friction = 0.8"),), "friction"),
        ((("folds = 6", "folds = 600"),), "folds"),
        ((('softening = "0.025 1/K"', 'softening = "0.5 1/K"'),), "as it is fed the compound would be"),
        ((('reference = "160 degC"', 'reference = "10136.575 K"'),), "rolls.heat.reference"),
    ],
    ids=["air_first", "back_on", "twice", "no_width", "slower", "folds", "stiff", "reference"],
)  # fmt: skip
def test_mistakes(changes: tuple[tuple[str, str], ...], words: str) -> None:
    with pytest.raises(CaseError) as met:
        case(*changes)
    assert words in str(met.value)
