"""``[fit]`` of a case: read in SI, written back, and every mistake told with its place."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from fit_cases import AIR, CHANNELS, COEFFICIENT, UNKNOWNS, WALL, write_case, write_log

from thermokit.case import parse_case, resolved_text
from thermokit.case.fit_values import Unknown
from thermokit.errors import CaseError, DataError
from thermokit.studies.fit import fit_case
from thermokit.studies.fit_model import variable

WHOLE = f"""
[fit]
log = "log.csv"
starts_at = {{ from = "0 s", to = "1 min" }}
[fit.run]
"body.start" = "25 degC"
[fit.reading]
dates = "day first"
time_unit = "min"
[fit.unknowns]
"{AIR}" = {{ from = "80 degC", to = "160 degC", expected = "120 degC", plus_minus = "± 15 K" }}
"{COEFFICIENT}" = {{ from = "5 W/m2/K", to = "80 W/m2/K", spacing = "log" }}
"body.layers.lid.thickness" = {{ from = "5 mm", to = "7 mm", also = ["body.layers.back.thickness"] }}
[[fit.channels]]
column = "T1"
at = "inner_face"
unit = "degF"
plus_minus = "2 K"
lag = {{ from = "0 s", to = "5 s" }}
offset = "1 K"
[[fit.trials]]
at = {{ "stations.oven.duration" = "5 min" }}
outcome = "core_temperature"
at_least = "60 degC"
plus_minus = "2 K"
"""


def mistakes(text: str) -> str:
    with pytest.raises(CaseError) as wrong:
        parse_case(WALL + text)
    return str(wrong.value)


def test_it_is_read_in_si_and_written_back() -> None:
    case = parse_case(WALL + WHOLE)
    fit = case.fit
    unknowns = fit.unknowns_of(case)
    assert unknowns[AIR] == (Unknown(353.15, 433.15, False, 393.15, 15.0), (AIR,))
    assert unknowns[COEFFICIENT][0] == Unknown(5.0, 80.0, True)
    assert unknowns["body.layers.lid.thickness"][1] == ("body.layers.lid.thickness", "body.layers.back.thickness")
    assert fit.starts_at == Unknown(0.0, 60.0)
    assert fit.run_values(case) == {"body.start": pytest.approx(298.15)}
    assert fit.channels[0].offset == 1.0
    assert fit.channels[0].lag == Unknown(0.0, 5.0)
    assert fit.trial_values(case, fit.trials[0]) == {"stations.oven.duration": 300.0}
    again = parse_case(resolved_text(case))
    assert again == case


def test_defaults_of_a_channel() -> None:
    case = parse_case(WALL + '[[fit.channels]]\ncolumn = "T1"\nat = "core"\n')
    channel = case.fit.channels[0]
    assert channel.plus_minus == 1.0
    assert channel.lag == 0.0
    assert channel.offset == Unknown(None, None, False, 0.0, 1.5)
    assert case.fit.starts_at is None


def test_scales_of_unknowns() -> None:
    of_log = variable("x", "input", "fraction", Unknown(1.0, 100.0, True, 10.0, 1.0), None)
    assert (of_log.low, of_log.high) == pytest.approx((0.0, math.log(100.0)))
    assert of_log.deviation == pytest.approx(math.log(2.0) / 2.0)  # ± 100 % of a factor: times or divided by two
    assert float(of_log.value(of_log.begin)) == pytest.approx(10.0)
    plain = variable("x", "input", "time", Unknown(1.0, 3.0), 7.0)
    assert plain.begin == 2.0  # what stands in the case lies outside: the middle


def air(table: str) -> str:
    """The air as an unknown, with a table of its own."""
    return f'[fit.unknowns]\n"{AIR}" = {{ {table} }}\n' + CHANNELS


ONE = f'[fit.unknowns]\n"{AIR}" = {{ from = "80 degC", to = "160 degC" }}\n'
TRIAL = '[[fit.trials]]\noutcome = "core_temperature"\n'
WRONG = {
    "unknown path": (air('from = "1 degC", to = "2 degC"').replace(".air", ".airs"), "did you mean"),
    "no bounds": (air('from = "80 degC"'), "to: missing"),
    "turned round": (air('from = "90 degC", to = "80 degC"'), "first the low end"),
    "log of a temperature": (air('from = "80 degC", to = "90 degC", spacing = "log"'), "temperatures have no ratios"),
    "unit": (air('from = "80 mm", to = "90 degC"'), "unit of length"),
    "half an expectation": (air('from = "80 degC", to = "90 degC", expected = "85 degC"'), "together"),
    "expected outside": (air('from = "80 degC", to = "90 degC", expected = "95 degC", plus_minus = "1 K"'), "lies outside"),
    "number": (f'[fit.unknowns]\n"{AIR}" = "85 degC"\n' + CHANNELS, "cannot stand here"),
    "twice": (air('from = "80 degC", to = "90 degC", also = ["' + AIR + '"]'), "an unknown already"),
    "key": (air('from = "80 degC", upto = "90 degC"'), "unknown key"),
    "known and unknown": (UNKNOWNS + f'[fit.run]\n"{AIR}" = "90 degC"\n' + CHANNELS, "is an unknown of the fit"),
    "nothing measured": ("[fit]\n" + UNKNOWNS, "nothing was measured"),
    "clock": ('[fit]\nstarts_at = "25:99"\n' + CHANNELS, "is no clock"),
    "unit of channel": ('[[fit.channels]]\ncolumn = "a"\nat = "core"\nunit = "mV"\n', "not one of the choices"),
    "no deviation": (TRIAL + 'measured = "60 degC"\n', "plus_minus: missing"),
    "nothing found": (TRIAL + 'plus_minus = "2 K"\n', "nothing was found"),
    "both sides": (TRIAL + 'at_least = "60 degC"\nat_most = "70 degC"\nplus_minus = "2 K"\n', "side by side"),
    "four unknowns": (
        "[fit.unknowns]\n" + "".join(f'"{path}" = {{ from = "{a}", to = "{b}" }}\n' for path, a, b in (
            (AIR, "80 degC", "90 degC"), (COEFFICIENT, "5 W/m2/K", "9 W/m2/K"), ("body.start", "1 degC", "9 degC"),
            ("body.layers.lid.thickness", "5 mm", "7 mm"))) + CHANNELS, "up to 3",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "words"), WRONG.values(), ids=WRONG.keys())
def test_mistakes_are_told(text: str, words: str) -> None:
    told = mistakes(text)
    assert words in told
    assert "fit" in told


STUDY = {
    "no fit": ("", "a table [fit]"),
    "no log": (UNKNOWNS + CHANNELS, "no log is named"),
    "outcome": (ONE + TRIAL.replace("core_", "cor_") + 'measured = "60 degC"\nplus_minus = "2 K"\n', "no outcome of this case"),
    "unit of outcome": (ONE + TRIAL + 'measured = "60 mm"\nplus_minus = "2 K"\n', "unit of length"),
    "bare": (ONE + TRIAL + 'measured = 60\nplus_minus = "2 K"\n', "bare number"),
    "too few": (UNKNOWNS + TRIAL + 'measured = "60 degC"\nplus_minus = "2 K"\n', "2 unknowns"),
    "clock without one": ('[fit]\nlog = "log.csv"\nstarts_at = "14:00:00"\n' + UNKNOWNS + CHANNELS, "keeps none"),
    "place": ('[fit]\nlog = "log.csv"\n' + UNKNOWNS + CHANNELS.replace('"inner_face"', '"iner_face"'), "did you mean inner_face"),
    "nothing unknown": ('[fit]\nlog = "log.csv"\n' + CHANNELS, "nothing is unknown"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "words"), STUDY.values(), ids=STUDY.keys())
def test_mistakes_of_the_whole_are_told(tmp_path: Path, text: str, words: str) -> None:
    times = range(0, 1200, 100)
    write_log(tmp_path, times, {"face": [20.0 + t / 20 for t in times], "core": [20.0 + t / 30 for t in times]})
    with pytest.raises(CaseError) as wrong:
        fit_case(write_case(tmp_path, text))
    assert words in str(wrong.value)


def test_a_log_that_misses_the_run_is_refused(tmp_path: Path) -> None:
    times = range(0, 1200, 100)
    write_log(tmp_path, times, {"face": [20.0] * 12, "core": [20.0] * 12})
    with pytest.raises(DataError, match="fall into the run"):
        fit_case(write_case(tmp_path, '[fit]\nlog = "log.csv"\nstarts_at = "1 h"\n' + UNKNOWNS + CHANNELS))


def test_what_is_sought_must_be_given(tmp_path: Path) -> None:
    text = (
        WALL.replace('duration = "20 min"', 'duration = "find"') + '[limits.hottest_temperature]\nat_most = "99 degC"\n'
    )
    times = range(0, 1200, 100)
    write_log(tmp_path, times, {"face": [20.0 + t / 20 for t in times], "core": [20.0 + t / 30 for t in times]})
    file = tmp_path / "sought.toml"
    file.write_text(text + '[fit]\nlog = "log.csv"\n' + UNKNOWNS + CHANNELS, encoding="utf-8")
    with pytest.raises(CaseError, match=r"under \[fit.run\]"):
        fit_case(file)
    whole = text + '[fit]\nlog = "log.csv"\n[fit.run]\n"stations.oven.duration" = "19 min"\n' + UNKNOWNS + CHANNELS
    file.write_text(whole, encoding="utf-8")
    assert len(fit_case(file).channels) == 2
