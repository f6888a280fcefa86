"""Every command, good and bad input: exit status, one plain message, one JSON object, files that open elsewhere."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, CLOSED, ROOT, SOUGHT, WALL, call, one_object, program

from thermokit.cli import COMMANDS

Capsys = pytest.CaptureFixture[str]

#: "Commands" of the case file's contract: what `run --json` holds, and what kind of value
KEYS = {
    "title": str, "process": str, "case_sha256": str, "version": str, "status": str, "outcomes": dict, "limits": list,
    "heat_balance": dict, "warnings": list, "remarks": list, "cautions": list, "result": (str, type(None)),
}  # fmt: skip
LIMIT_KEYS = {"name", "required", "found", "unit", "margin", "met", "where", "when"}
DWELL_KEYS = {
    "station", "earliest", "latest", "recommended", "unit", "earliest_limit", "latest_limit", "margins", "opens_with",
    "hand",
}  # fmt: skip


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    file = tmp_path / "wall.toml"
    file.write_text(WALL, encoding="utf-8")
    return file


def written(folder: Path, text: str, name: str = "case.toml") -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def check_report(report: dict) -> None:
    assert {k: type(report[k]) for k in KEYS if not isinstance(report[k], KEYS[k])} == {}
    for name, outcome in report["outcomes"].items():
        assert set(outcome) == {"value", "unit", "meaning"}, name
        assert name == name.lower() and " " not in name
    assert all(set(limit) == LIMIT_KEYS and isinstance(limit["met"], bool) for limit in report["limits"])
    assert set(report["heat_balance"]) == {"in", "out", "stored", "released", "unit", "mismatch"}
    assert "supervised trial" in report["cautions"][-1]


# -- run, show, plot ---------------------------------------------------------------------------------------------------


def test_run_show_plot_and_table(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    target = tmp_path / "out.h5"
    ran = call(capsys, "run", wall, "-o", target)
    assert ran.status == 0 and ran.err == ""
    assert ran.out.startswith("Wall ± 1\n") and ran.out.endswith(f"\n\nResult file: {target}\n")
    assert "\n\n\n" not in ran.out
    assert "NOT MET" in ran.out or "met" in ran.out

    shown = call(capsys, "show", target)
    assert shown.status == 0 and ran.out.startswith(shown.out)

    table = tmp_path / "out.csv"
    assert call(capsys, "show", target, "--csv", table).status == 0
    piped = call(capsys, "show", target, "--csv", "-")
    assert piped.out == table.read_bytes().decode() and piped.err == ""
    head, *rows = piped.out.splitlines()
    assert head.startswith("time [s],station,") and "core_temperature [degC]" in head
    assert float(rows[-1].split(",")[0]) == 60.0

    drawn = call(capsys, "plot", target)
    assert drawn.status == 0
    for name in ("out_history.png", "out_profile.png"):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
    assert call(capsys, "plot", target, "--kind", "profile", "-o", tmp_path / "p.svg").status == 0
    assert "<svg" in (tmp_path / "p.svg").read_text(encoding="utf-8")
    assert not list(tmp_path.glob(".*")), "nothing half-written is left"


def test_result_opens_in_xarray(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    xarray = pytest.importorskip("xarray")
    target = tmp_path / "out.h5"
    call(capsys, "run", wall, "-o", target)
    with xarray.open_dataset(target, engine="h5netcdf") as data:
        assert data.temperature.dims == ("time", "depth")
        assert data.temperature.units == "degC" and data.time.units == "s" and data.depth.units == "m"
        assert data.core_temperature.dims == ("time",)
        assert data.time[-1] == 60.0
        assert all("units" in data[name].attrs for name in data.variables)
        np.testing.assert_allclose(data.temperature[0], 20.0, atol=1e-9)


def test_run_json(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    target = tmp_path / "out.h5"
    ran = call(capsys, "run", wall, "-o", target, "--json")
    assert ran.status == 0 and ran.err == ""
    report = one_object(ran.out)
    check_report(report)
    assert report["status"] == "finished" and report["result"] == str(target)
    shown = one_object(call(capsys, "show", target, "--json").out)
    assert shown == report
    import hashlib

    assert report["case_sha256"] == hashlib.sha256(wall.read_bytes()).hexdigest()


def test_run_writes_beside_the_case(wall: Path, capsys: Capsys) -> None:
    assert call(capsys, "run", wall).status == 0
    assert wall.with_suffix(".h5").exists()


def test_run_finds_first(tmp_path: Path, capsys: Capsys) -> None:
    file = written(tmp_path, SOUGHT)
    ran = call(capsys, "run", file, "--json")
    assert ran.status == 0
    report = one_object(ran.out)
    check_report(report)
    assert set(report["dwell"]) >= DWELL_KEYS
    # it was run at the recommended value
    (limit,) = report["limits"]
    assert limit["met"] and limit["when"] == pytest.approx(report["dwell"]["recommended"])
    assert report["dwell"]["latest"] is None, "nothing limits it"
    assert call(capsys, "show", file.with_suffix(".h5"), "--json").out  # the study is in the file
    assert one_object(call(capsys, "show", file.with_suffix(".h5"), "--json").out)["dwell"] == report["dwell"]


# -- dwell -------------------------------------------------------------------------------------------------------------


def test_dwell_json(capsys: Capsys, tmp_path: Path) -> None:
    target = tmp_path / "tray.h5"
    found = call(capsys, "dwell", CASES / "how_long_to_heat_a_4mm_abs_tray.toml", "--json", "-o", target)
    assert found.status == 0 and found.err == "" and target.exists()
    report = one_object(found.out)
    check_report(report)
    dwell = report["dwell"]
    assert set(dwell) >= DWELL_KEYS
    assert dwell["station"] == "heat" and dwell["unit"] == "s" and dwell["opens_with"] is None
    assert dwell["earliest"] < dwell["recommended"] < dwell["latest"]
    assert set(dwell["hand"]) == {"value", "unit", "formula", "why_different"}
    assert {m["unit"] for m in dwell["margins"]} == {"K", "s"}
    assert all(set(m) == {"limit", "value", "unit"} for m in dwell["margins"])


def test_dwell_in_words(tmp_path: Path, capsys: Capsys) -> None:
    found = call(capsys, "dwell", written(tmp_path, SOUGHT))
    assert found.status == 0 and found.err == ""
    for word in ("earliest", "latest", "RECOMMENDED", "Cautions", "supervised trial"):
        assert word in found.out
    assert not (tmp_path / "case.h5").exists(), "without -o no file is written"


def test_dwell_without_a_window(tmp_path: Path, capsys: Capsys) -> None:
    file = written(tmp_path, CLOSED)
    found = call(capsys, "dwell", file)
    assert found.status == 1
    assert "NO WINDOW" in found.out
    told = call(capsys, "dwell", file, "--json")
    assert told.status == 1
    dwell = one_object(told.out)["dwell"]
    assert dwell["earliest"] is None and dwell["latest"] is None and dwell["recommended"] is None
    assert dwell["opens_with"].startswith("no window") and any(c.isdigit() for c in dwell["opens_with"])
    # run says the same, and keeps the nearest miss
    ran = call(capsys, "run", file, "--json")
    assert ran.status == 1
    assert not all(limit["met"] for limit in one_object(ran.out)["limits"])


def test_dwell_with_nothing_to_find(wall: Path, capsys: Capsys) -> None:
    said = call(capsys, "dwell", wall)
    assert said.status == 2 and said.out == ""
    assert "dwell" in said.err and "find" in said.err
    assert one_message(said.err)


def test_dwell_with_nothing_that_limits(tmp_path: Path, capsys: Capsys) -> None:
    said = call(capsys, "dwell", written(tmp_path, SOUGHT.split("[limits")[0]))
    assert said.status == 2 and "limit" in said.err


# -- mistakes ----------------------------------------------------------------------------------------------------------


def one_message(text: str) -> bool:
    """A message of a few plain lines."""
    return 0 < len(text.strip().splitlines()) <= 12


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["runn"], "did you mean 'run'"),
        (["frobnicate"], "commands: run, dwell"),
        (["--nope"], "No such option"),
        (["run"], "CASE"),
        (["run", "a", "b"], "unexpected"),
        (["run", "none.toml"], "no such file"),
        (["dwell", "none.toml"], "no such file"),
        (["check", "none.toml"], "no such file"),
        (["run", "."], "directory"),
        (["show", "none.h5"], "no such file"),
        (["plot", "none.h5"], "no such file"),
        (["show", "."], "folder"),
        (["show", "README.md"], "not a result file"),
        (["plot", "README.md"], "not a result file"),
        (["new", "shet"], "did you mean sheet"),
        (["explain", "thiknes"], "did you mean"),
        (["materials", "abss"], "abs"),
        (["materials", "--kinetics", "nope"], "it holds"),
        (["materials", "--plot", "x.png"], "give its name"),
    ],
    ids=" ".join,
)
def test_mistakes_end_with_two(
    arguments: list[str], words: str, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    said = call(capsys, *arguments)
    assert said.status == 2 and said.out == ""
    assert words in said.err and one_message(said.err)


def test_all_mistakes_of_a_case_at_once(tmp_path: Path, capsys: Capsys) -> None:
    text = WALL.replace('"10 mm"', '"10,5 mm"').replace('"60 s"', '"60 mm"').replace('"stuff"', '"stuf"')
    text = text.replace("title =", "titel =")
    for command in ("check", "run", "dwell"):
        said = call(capsys, command, written(tmp_path, text))
        assert said.status == 2 and said.out == ""
        assert "case.toml: 4 mistakes" in said.err
        for word in ("decimal comma", "did you mean title", "did you mean stuff", "stations.0.duration", "line "):
            assert word in said.err, word
    assert not (tmp_path / "case.h5").exists()


@pytest.mark.parametrize("command", ["run", "dwell"])
def test_a_target_that_cannot_be_written_is_said_before_anything_is_computed(
    command: str, tmp_path: Path, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    def computed(*_: object, **__: object) -> None:
        raise AssertionError("computed before the target was looked at")

    monkeypatch.setattr("thermokit.studies.dwell.dwell", computed)
    monkeypatch.setattr("thermokit.processes.run.run_case", computed)
    case = written(tmp_path, SOUGHT)
    before = case.read_text(encoding="utf-8")
    for target, words in [
        (tmp_path / "none" / "x.h5", "no such folder"),
        (tmp_path, "that is a folder"),
        (case, "name of a case file"),
        (tmp_path / "other.toml", "name of a case file"),
    ]:
        said = call(capsys, command, case, "-o", target)
        assert said.status == 2 and words in said.err, target
    assert case.read_text(encoding="utf-8") == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    said = call(capsys, "run", wall, "-o", locked / "x.h5")
    assert said.status == 2 and "may not write" in said.err


def test_an_old_result_is_kept_when_the_case_is_wrong(wall: Path, tmp_path: Path, capsys: Capsys) -> None:
    target = tmp_path / "out.h5"
    target.write_bytes(b"old")
    assert call(capsys, "run", written(tmp_path, "x = 1", "bad.toml"), "-o", target).status == 2
    assert target.read_bytes() == b"old"


def test_a_run_that_does_not_finish_ends_with_one(wall: Path, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    from thermokit.conduction import follow
    from thermokit.conduction.history import Ending

    solve = follow.solve

    def gives_up(*arguments: Any, **options: Any) -> Any:
        return replace(
            solve(*arguments, **options), ending=Ending("step_too_small", 31.0, 0.004, "look at the heat"), ends=()
        )

    monkeypatch.setattr(follow, "solve", gives_up)
    ran = call(capsys, "run", wall, "--json")
    assert ran.status == 1
    report = one_object(ran.out)
    check_report(report)
    assert report["status"] == "step_too_small" and report["outcomes"] == {}
    assert any("did not finish" in warning and "look at the heat" in warning for warning in report["warnings"])
    (limit,) = report["limits"]
    assert limit["found"] is None and limit["met"] is False
    # the file says so too
    assert one_object(call(capsys, "show", wall.with_suffix(".h5"), "--json").out) == report


# -- the other commands ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_help(command: str, capsys: Capsys) -> None:
    said = call(capsys, command, "--help")
    assert said.status == 0 and said.err == ""
    assert said.out.startswith(f"Usage: thermokit {command}")


def test_the_whole_help(capsys: Capsys) -> None:
    said = call(capsys, "--help")
    assert said.status == 0
    assert all(f"  {command} " in said.out for command in COMMANDS)
    assert call(capsys, "-h").out == said.out
    version = call(capsys, "--version")
    assert version.status == 0 and version.out.startswith("thermokit ")
    bare = call(capsys)
    assert bare.status == 2 and "Usage" in bare.err + bare.out


def test_new_check_run(tmp_path: Path, capsys: Capsys) -> None:
    file = tmp_path / "mine.toml"
    assert call(capsys, "new", "body", "-o", file).status == 0
    checked = call(capsys, "check", file)
    assert checked.status == 0 and checked.err == ""
    again = written(tmp_path, checked.out, "resolved.toml")
    assert call(capsys, "check", again).out == checked.out
    one = one_object(call(capsys, "run", file, "--json").out)["outcomes"]
    other = one_object(call(capsys, "run", again, "--json").out)["outcomes"]
    assert one == other, "the resolved case is the same case, and a run is a pure function of it"


def test_explain_and_materials(tmp_path: Path, capsys: Capsys) -> None:
    assert "thickness" in call(capsys, "explain", "thickness").out
    assert "abs" in call(capsys, "materials").out
    said = call(capsys, "materials", "abs", "--plot", tmp_path / "abs.svg")
    assert said.status == 0 and (tmp_path / "abs.svg").exists()
    assert "from" in said.out and "CAUTION" in said.out
    assert one_object(call(capsys, "materials", "abs", "--json").out)["id"] == "abs"
    assert "pf_calibrated" in call(capsys, "materials", "--kinetics").out


# -- as a program: pipes, colours, odd terminals, Ctrl-C ---------------------------------------------------------------


def test_program_in_a_pipe(wall: Path, tmp_path: Path) -> None:
    plain = program("run", wall, "-o", tmp_path / "a.h5", "--json")
    assert plain.returncode == 0 and plain.stderr == ""
    check_report(one_object(plain.stdout))
    # colours forced or forbidden, a terminal or none: the same clean text
    for extra in ({"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}, {"TERM": "dumb"}, {"PYTHONIOENCODING": "ascii"}):
        said = program("run", wall, "-o", tmp_path / "a.h5", "--json", env=os.environ | extra)
        assert said.returncode == 0 and "\x1b" not in said.stdout + said.stderr
        assert one_object(said.stdout)["outcomes"] == one_object(plain.stdout)["outcomes"]


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell with pipes")
def test_a_reader_that_goes_away(wall: Path, tmp_path: Path) -> None:
    assert program("run", wall, "-o", tmp_path / "a.h5").returncode == 0
    line = f"{sys.executable} -m thermokit show {tmp_path / 'a.h5'} --csv - | head -1; exit ${{PIPESTATUS[0]}}"
    said = subprocess.run(["bash", "-c", line], cwd=ROOT, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    assert said.returncode == 0 and said.stderr == ""
    assert len(said.stdout.splitlines()) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="SIGINT cannot be sent to a child there")
def test_ctrl_c_keeps_what_was_computed(tmp_path: Path) -> None:
    text = WALL.replace("cells = 20", "cells = 3000").replace('"60 s"', '"4 h"')
    # slow: melting all the way, and many rows
    text = text.replace(
        '"1500 J/kg/K"', '"1500 J/kg/K"\nmelting = { heat = "180 kJ/kg", from = "30 degC", to = "32 degC" }'
    )
    target = tmp_path / "long.h5"
    words = [sys.executable, "-m", "thermokit", "run", written(tmp_path, text), "-o", target, "--json"]
    for wait in (2.0, 8.0, 30.0):  # s; on a slow machine the first may come before the run has begun
        child = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        time.sleep(wait)
        assert child.poll() is None, "the run must be long enough to be stopped"
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=60)
        if out:
            break
    assert child.returncode == 130
    assert "Traceback" not in err
    report = one_object(out)
    assert report["status"] == "interrupted"
    assert any("rows up to here are kept" in warning for warning in report["warnings"])
    shown = program("show", target, "--json")
    assert shown.returncode == 0 and one_object(shown.stdout)["status"] == "interrupted"
    assert program("plot", target, "--kind", "history", "-o", tmp_path / "long.png").returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="SIGINT cannot be sent to a child there")
def test_ctrl_c_in_a_search(tmp_path: Path) -> None:
    text = SOUGHT.replace("cells = 20", "cells = 5000")
    words = [sys.executable, "-m", "thermokit", "dwell", written(tmp_path, text)]
    child = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(1.5)
    assert child.poll() is None
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=60)
    assert (child.returncode, out) == (130, "")
    assert "stopped" in err and "Traceback" not in err
