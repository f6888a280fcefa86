"""What is printed: the JSON object, the summary in words, the CSV table; and the commands show and plot."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from exact_results import ball_result, sheet_result

from thermokit.cli import plot, show
from thermokit.results.model import LimitCheck, Outcome
from thermokit.results.summary import as_json, as_text
from thermokit.results.table import as_csv
from thermokit.results.write import write

# the keys of the contract, in its order
FACTS = ["title", "process", "case_sha256", "version", "status"]
KEYS = [*FACTS, "outcomes", "limits", "heat_balance", "warnings", "cautions", "remarks", "result"]


def test_json_has_the_keys_of_the_contract():
    r = sheet_result()
    found = json.loads(json.dumps(as_json(r, "tray.h5"), allow_nan=False))
    assert list(found) == [*KEYS, "dwell"]
    assert found["outcomes"]["time_to_forming"] == {
        "value": 41.25,
        "unit": "s",
        "meaning": "time at which the coldest point reaches 127 degC",
    }
    assert found["outcomes"]["time_to_burning"]["value"] is None
    assert set(found["limits"][0]) == {"name", "required", "found", "unit", "margin", "met", "where", "when"}
    assert found["limits"][2]["met"] is False
    assert set(found["heat_balance"]) == {"in", "out", "stored", "released", "unit", "mismatch"}
    assert found["warnings"] == [*r.warnings, "the solver's own"]
    assert found["result"] == "tray.h5"


def test_json_never_holds_nan():
    r = sheet_result(
        outcomes=(Outcome("peak", float("nan"), "degC", ""), Outcome("far", float("inf"), "s", "")),
        limits=(LimitCheck("x", "at least 1 s", np.float64("nan"), "s", None, np.bool_(False)),),
        study={"dwell": {"latest": np.float64("nan")}},
    )
    r = replace(r, history=replace(r.history, heat=replace(r.history.heat, mismatch=float("nan"))))
    found = json.loads(json.dumps(as_json(r, None), allow_nan=False))
    assert found["outcomes"]["peak"]["value"] is None
    assert found["dwell"]["latest"] is None
    assert found["heat_balance"]["mismatch"] is None


def test_summary_says_what_it_must():
    text = as_text(sheet_result())
    lines = text.splitlines()
    assert lines[0] == "How long to heat a 4 mm ABS tray"
    assert "process: sheet; finished at 70 s" in text
    for words in ("41.25 s", "not reached", "1 of 3 NOT MET", "margin -9.0 K", "mismatch 3.0e-13", "measure them hot"):
        assert words in text
    assert "MJ/m2" in text
    dwell = lines[lines.index("Dwell") + 1 :]
    assert [line.split() for line in dwell[:3]] == [["station", "heat"], ["earliest", "41.25", "s"], ["latest", "none"]]
    assert max(map(len, lines)) <= 100
    assert "\x1b" not in text


def test_summary_keeps_its_width_with_long_words():
    long = "a" * 150
    r = sheet_result(
        outcomes=(Outcome(long, 1.0, "s", "word " * 60), Outcome("b" * 60, None, "s", "")),
        limits=(LimitCheck(long, "at most 3 s", 1.0, "s", 2.0, True, "where " * 40, 1.0),),
        warnings=("warn " * 50,),
    )
    assert max(map(len, as_text(r).splitlines())) <= 100


@pytest.mark.parametrize("status", ["step_too_small", "not_finite", "interrupted"])
def test_unfinished_run_is_never_silent(status):
    r = sheet_result()
    ending = replace(r.history.ending, status=status, time=12.5, depth=1e-3, advice="try a finer mesh")
    r = replace(r, history=replace(r.history, ending=ending))
    assert "the run did not finish" in as_text(r)
    warning = as_json(r, None)["warnings"][-1]
    for words in ("12.5 s", "1 mm from the inner face", "try a finer mesh"):
        assert words in warning


def test_large_mismatch_is_shouted():
    r = sheet_result()
    bad = replace(r, history=replace(r.history, heat=replace(r.history.heat, mismatch=2e-5)))
    assert "MORE than" in as_text(bad)
    assert "MORE than" not in as_text(r)


def test_csv_is_rfc_4180_with_units_in_its_head():
    r = ball_result(span_names=('press, "hot"',), probes={"core": np.full(61, 300.0)})
    text = as_csv(r)
    assert text.count("\r\n") == 62
    assert "\n" not in text.replace("\r\n", "")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[0][:5] == [
        "time [s]",
        "station",
        "inner_face_temperature [degC]",
        "outer_face_temperature [degC]",
        "core_temperature [degC]",
    ]
    assert rows[0][5] == "temperature at 0.25 mm [degC]"
    assert "cure_degree at 9.75 mm [1]" in rows[0]
    assert {len(row) for row in rows} == {5 + 20 + 20}
    assert rows[1][1] == 'press, "hot"'
    assert float(rows[3][4]) == pytest.approx(26.85, abs=1e-7)
    assert rows[3][rows[0].index("cure_degree at 0.25 mm [1]")] == ""
    column = rows[0].index("temperature at 5.25 mm [degC]")
    found = [float(row[column]) for row in rows[1:]]
    np.testing.assert_allclose(found, r.history.temperature[:, 10] - 273.15, rtol=1e-9)


@pytest.fixture
def stored(tmp_path):
    write(sheet_result(), tmp_path / "tray.h5")
    return tmp_path / "tray.h5"


def test_show(stored):
    done = CliRunner().invoke(show.command, [str(stored)])
    assert done.exit_code == 0
    assert done.output == as_text(sheet_result())
    done = CliRunner().invoke(show.command, [str(stored), "--json"])
    assert json.loads(done.output) == as_json(sheet_result(), stored)


def test_show_csv(stored, tmp_path):
    done = CliRunner().invoke(show.command, [str(stored), "--csv", "-"])
    assert done.stdout_bytes.decode() == as_csv(sheet_result())
    done = CliRunner().invoke(show.command, [str(stored), "--csv", str(tmp_path / "t.csv")])
    assert done.exit_code == 0
    assert (tmp_path / "t.csv").read_bytes().decode() == as_csv(sheet_result())
    done = CliRunner().invoke(show.command, [str(stored), "--csv", "-", "--json"])
    assert done.exit_code == 2


@pytest.mark.parametrize(
    ("arguments", "names"),
    [
        ([], ["tray_history.png", "tray_profile.png"]),
        (["-o", "x.svg"], ["x_history.svg", "x_profile.svg"]),
        (["-o", "x.png", "--kind", "profile"], ["x.png"]),
        (["--kind", "history"], ["tray_history.png"]),
    ],
)
def test_plot_names_its_files(arguments, names, stored, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(plot.command, ["tray.h5", *arguments])
    assert done.exit_code == 0, done.output
    assert done.output.splitlines() == [f"wrote {name}" for name in names]
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["tray.h5", *names])


def test_plot_refuses_other_endings(stored):
    done = CliRunner().invoke(plot.command, [str(stored), "-o", "x.jpg"])
    assert done.exit_code == 2
    assert ".png or .svg" in done.output
