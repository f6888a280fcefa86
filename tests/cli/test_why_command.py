"""`thermokit why`: list, causes, one JSON object, result files, exit status."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import WALL, call, one_object

Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    out = tmp_path / "wall.toml"
    out.write_text(WALL, encoding="utf-8")
    return out


def test_the_list(capsys: Capsys) -> None:
    status, out, _ = call(capsys, "why")
    assert status == 0
    for word in ("charge", "blister on opening", "mud-cracking", "also: "):
        assert word in out
    assert max(map(len, out.split("\n"))) <= 100
    assert "blister on opening" not in call(capsys, "why", "--kind", "mould").out
    found = one_object(call(capsys, "why", "--kind", "dip", "--json").out)
    assert {entry["process"] for entry in found["defects"]} == {"dip"}


def test_the_list_of_a_case(file: Path, capsys: Capsys) -> None:
    status, out, _ = call(capsys, "why", file)
    assert status == 0
    assert out.startswith("body\n") and "mud-cracking" not in out


def test_causes_without_a_case(capsys: Capsys) -> None:
    status, out, _ = call(capsys, "why", "blister on opening")
    assert status == 0
    assert out.startswith("blister on opening (charge)")
    assert "Test: " in out and "supervised trial" in " ".join(out.split())


def test_causes_by_the_run_of_a_case_and_by_its_result_file(file: Path, tmp_path: Path, capsys: Capsys) -> None:
    status, out, _ = call(capsys, "why", "scorched", file)
    assert status == 0
    assert "by the run of: " in out
    assert max(map(len, out.split("\n"))) <= 100
    result = tmp_path / "wall.h5"
    assert call(capsys, "run", file, "-o", result).status == 0
    again = call(capsys, "why", "scorched", result)
    assert again.out == out
    found = one_object(call(capsys, "why", "scorched", result, "--json").out)
    assert found["process"] == "body"
    assert {entry["verdict"] for entry in found["causes"]} <= {
        "speaks for it", "speaks against it", "not computed", "compare with a good part",
    }  # fmt: skip
    assert all(entry["test"] for entry in found["causes"])


@pytest.mark.parametrize(
    "args",
    [
        ["xylophone"],
        ["blister", "nothing_there.toml"],
        ["nothing_there.toml"],
        ["blister", "--kind", "chrage"],
        ["blister", "--at", "80 s"],
    ],
)
def test_the_users_mistakes(capsys: Capsys, args: list[str]) -> None:
    status, out, err = call(capsys, "why", *args)
    assert status == 2
    assert err.strip() and "Traceback" not in out + err


def test_a_defect_that_the_kind_cannot_have_is_said_before_the_run(file: Path, capsys: Capsys) -> None:
    status, _, err = call(capsys, "why", "mud-cracking", file)
    assert status == 2
    assert "cold inside" in err
    assert call(capsys, "why", "scorched", file, "--kind", "dip").status == 2
