"""Commands on a section: run, show, plot, dwell, verify, and what a user's mistake looks like."""

from __future__ import annotations

from pathlib import Path

import pytest
from calling import call, one_object

from thermokit.case import template

UNIT = Path(__file__).parents[1] / "unit"
CASE = UNIT / "case_texts" / "section.toml"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A block that cools as one lump."""
    import sys

    sys.path.insert(0, str(UNIT))
    try:
        from sections import block
    finally:
        sys.path.remove(str(UNIT))
    file = tmp_path / "block.toml"
    limits = '[limits.mean_temperature]\nat_most = "60 degC"\nat_least = "40 degC"\n'
    file.write_text(block('{ find = ["50 s", "2000 s"] }') + limits, encoding="utf-8")
    return file


def test_run_show_and_plot(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mould.h5"
    done = call(capsys, "run", CASE, "-o", file, "--json")
    assert done.status == 0
    told = one_object(done.out)
    assert told["process"] == "section"
    assert told["outcomes"]["c1_heat"]["unit"] == "J/m"
    assert told["outcomes"]["part_hottest_final_temperature"]["value"] > 90.0
    assert one_object(call(capsys, "show", file, "--json").out) == told
    table = call(capsys, "show", file, "--csv", "-").out
    assert table.startswith("time [s],station,middle_temperature [degC]")
    drawn = call(capsys, "plot", file, "-o", tmp_path / "m.svg")
    assert drawn.status == 0
    assert {p.name for p in tmp_path.glob("*.svg")} == {"m_section.svg", "m_edges.svg", "m_history.svg"}
    refused = call(capsys, "plot", file, "--kind", "profile")
    assert refused.status == 2
    assert "it has: section, edges, history" in refused.err


def test_dwell(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = one_object(call(capsys, "dwell", small, "--json").out)
    assert told["dwell"]["unit"] == "s"
    assert told["dwell"]["earliest"] < told["dwell"]["recommended"] < told["dwell"]["latest"]
    assert "mean_temperature is met" in call(capsys, "dwell", small).out
    run = one_object(call(capsys, "run", small, "--json").out)  # finds first
    assert run["dwell"]["recommended"] == pytest.approx(told["dwell"]["recommended"])


def test_verify(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = call(capsys, "verify", small, "--json")
    told = one_object(done.out)["verify"]
    assert done.status == 0
    assert told["agrees"]
    assert told["at"]["unit"] == "s"
    assert [c["what"] for c in told["comparisons"]] == ["halved mesh", "halved error", "FiPy, same mesh"]
    assert all(c["place"].startswith("bar, x") for c in told["comparisons"])


def test_a_mistake_is_one_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "wrong.toml"
    file.write_text(template("section").replace('["30 mm", "25 mm"]', '["30 mm", "38 mm"]'), encoding="utf-8")
    done = call(capsys, "run", file)
    assert done.status == 2
    assert "section.channels.0" in done.err
    assert "(30 mm, 40 mm)" in done.err


def test_zones_and_others_say_no(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = call(capsys, "zones", CASE)
    assert done.status == 2
    assert "Traceback" not in done.err
