"""`thermokit compare`: table, one JSON object, exit status."""

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


def path_of(file: Path) -> str:
    """Some duration of the case."""
    from thermokit.case import load_case, numeric_paths

    return next(path for path in numeric_paths(load_case(file)) if path.endswith("duration"))


def test_table(file: Path, capsys: Capsys) -> None:
    status, out, _ = call(capsys, "compare", file, "--set", f"{path_of(file)}=5 s")
    assert status == 0
    assert "Inputs that differ" in out
    assert max(map(len, out.split("\n"))) <= 100
    assert "supervised trial" in out


def test_one_json_object(file: Path, capsys: Capsys) -> None:
    called = call(capsys, "compare", file, file, "--json")
    status, found = called.status, one_object(called.out)
    assert status == 0
    assert [design["letter"] for design in found["designs"]] == ["A", "B"]
    assert not any(row["differs"] for row in found["rows"])
    assert found["inputs"] == {}


@pytest.mark.parametrize(
    "args",
    [
        ["--set", "no.such=1"],
        ["--set", "nonsense"],
        [],
        ["nothing_there.toml"],
    ],
)
def test_the_users_mistakes(file: Path, capsys: Capsys, args: list[str]) -> None:
    status, out, err = call(capsys, "compare", file, *args)
    assert status == 2
    assert "Traceback" not in out + err
    assert err.strip()
