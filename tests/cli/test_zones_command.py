"""`thermokit zones`: exit status, the new case, the result file and its picture, one JSON object, plain refusals."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, call, one_object

from thermokit.case import load_case
from thermokit.results.fields import find
from thermokit.results.read import read

Capsys = pytest.CaptureFixture[str]

EXAMPLE = CASES / "how_to_set_the_zones_of_an_oven_with_a_dead_zone.toml"


def written(folder: Path, *pairs: tuple[str, str]) -> Path:
    """The example with fewer spots, and other changes."""
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in (("spots = [15, 10]", "spots = [8, 6]"), *pairs):
        assert old in text, old
        text = text.replace(old, new)
    file = folder / "lid.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_words_new_case_and_result(tmp_path: Path, capsys: Capsys) -> None:
    file, new, kept = written(tmp_path), tmp_path / "new.toml", tmp_path / "lid.h5"
    said = call(capsys, "zones", file, "-o", new, "--result", kept)
    assert said.status == 0 and said.err == ""
    assert "Target 152.0 degC" in said.out and "dead" in said.out
    assert f"New case: {new}" in said.out and f"Result file: {kept}" in said.out
    assert "Nothing is written" not in said.out

    # all of the user's text is still there but the settings
    ours, theirs = (f.read_text(encoding="utf-8").splitlines() for f in (new, file))
    gone = [line for line in theirs if line not in ours]
    assert len(gone) == 5 and all("degC" in line for line in gone), "four rows of the table, and the one value"
    assert [line for line in ours if "operator's side" in line and "410" not in line]
    # a rerun of the written case says the same
    report = one_object(call(capsys, "run", new, "-o", tmp_path / "again.h5", "--json").out)
    stored = one_object(call(capsys, "show", kept, "--json").out)
    assert report["outcomes"] == stored["outcomes"]
    assert report["outcomes"]["map_spread"]["value"] == pytest.approx(stored["zones"]["spread_after"], abs=1e-9)
    assert next(c for c in report["limits"] if c["name"] == "map_spread")["met"]

    result = read(kept)
    for name in ("upper_before", "upper_after", "lower_before", "lower_after", "map_before", "map_after"):
        assert find(result, f"zones/{name}") is not None, name
    assert result.provenance.case_text == new.read_text(encoding="utf-8")
    drawn = call(capsys, "plot", kept, "--kind", "zones", "-o", tmp_path / "zones.png")
    assert drawn.status == 0 and (tmp_path / "zones.png").stat().st_size > 10_000
    assert "Zones" in call(capsys, "show", kept).out


def test_json(tmp_path: Path, capsys: Capsys) -> None:
    said = call(capsys, "zones", written(tmp_path), "--json")
    report = one_object(said.out)
    assert said.status == 0 and report["process"] == "sheet" and report["result"] is None
    zones: dict[str, Any] = report["zones"]
    assert zones["reached"] is True and zones["case"] is None and zones["dwell"] is None
    assert zones["target"] == {"value": pytest.approx(152.0), "unit": "degC"}
    assert zones["spread_after"] < zones["spread_before"] and zones["unit"] == "K"
    assert zones["after"]["mean"]["value"] == pytest.approx(152.0, abs=1.0)
    assert {"spread", "standard_deviation", "face_difference", "mean", "coldest", "hottest"} == set(zones["before"])
    upper, lower = zones["panels"]
    assert (upper["station"], upper["side"], lower["side"], upper["unit"]) == ("heat", "upper", "lower", "degC")
    assert upper["before"][0] == [pytest.approx(410.0)] * 6 and len(upper["after"]) == 4
    assert upper["after"][1][1] is None, "dead"
    assert {"row": 2, "column": 2, "bound": "dead"} in upper["at_bound"]
    assert zones["limited_by"] and set(zones["without"]) >= {"dead zones"}


def test_a_target_out_of_reach(tmp_path: Path, capsys: Capsys) -> None:
    file = written(tmp_path, ('target = "152 degC"', 'target = "190 degC"'), ('"550 degC"', '"420 degC"'))
    said = call(capsys, "zones", file, "-o", tmp_path / "new.toml")
    assert said.status == 1
    assert "cannot be reached with these bounds: the best that can be had" in " ".join(said.out.split())
    assert load_case(tmp_path / "new.toml").value("stations.heat.lower.temperature")[0][0] == pytest.approx(693.15)
    told = call(capsys, "zones", file, "--json")
    assert told.status == 1 and one_object(told.out)["zones"]["reached"] is False


def test_says_when_the_text_cannot_be_kept(tmp_path: Path, capsys: Capsys) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    begin, end = text.index("[stations.lower]"), text.index("[stations.air]")
    inline = (
        'lower = { temperature = "400 degC", rows = 1, columns = 2, size = ["700 mm", "500 mm"], gap = "130 mm" }\n'
    )
    text = (text[:begin] + text[end:]).replace("[stations.upper]", f"{inline}[stations.upper]")
    file = written(tmp_path)
    file.write_text(text.replace("spots = [15, 10]", "spots = [6, 4]"), encoding="utf-8")
    said = call(capsys, "zones", file, "-o", tmp_path / "new.toml")
    assert said.status == 0 and "could not be edited" in said.out
    assert load_case(tmp_path / "new.toml").stations[0].lower.shape == (1, 2)


def test_where_it_must_not_write(tmp_path: Path, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at before anything is computed."""
    file = written(tmp_path)
    text = file.read_text(encoding="utf-8")

    def computed(*_: Any) -> None:
        raise AssertionError("computed")

    monkeypatch.setattr("thermokit.studies.zones.zones", computed)
    for options, words in (
        (["-o", file], "that is the case itself"),
        (["-o", tmp_path / "new.h5"], "ends in .toml"),
        (["-o", tmp_path / "nowhere" / "new.toml"], "no such folder"),
        (["--result", file], "name of a case file"),
        (["--result", tmp_path / "nowhere" / "a.h5"], "no such folder"),
    ):
        said = call(capsys, "zones", file, *options)
        assert said.status == 2 and words in said.err and said.out == "", options
    assert file.read_text(encoding="utf-8") == text


def test_cases_that_have_no_zones(tmp_path: Path, capsys: Capsys) -> None:
    for case, words in (
        (CASES / "how_long_to_heat_a_4mm_abs_tray.toml", "there is no map of the sheet to even out"),
        (CASES / "how_long_to_anneal_a_50mm_net_float.toml", '"body" has no heater zones'),
        (tmp_path / "none.toml", "no such file"),
    ):
        said = call(capsys, "zones", case)
        assert said.status == 2 and words in said.err and said.out == ""
