"""`thermokit show --vtk`: a layered result as a grid; what it cannot do is said plainly."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import WALL, call, one_object

Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def result(tmp_path: Path, capsys: Capsys) -> Path:
    case = tmp_path / "wall.toml"
    case.write_text(WALL, encoding="utf-8")
    assert call(capsys, "run", case, "-o", tmp_path / "wall.h5").status == 0
    return tmp_path / "wall.h5"


def test_a_grid_is_written(result: Path, capsys: Capsys) -> None:
    target = result.with_suffix(".vtk")
    status, out, _ = call(capsys, "show", result, "--vtk", target)
    assert (status, out.strip()) == (0, f"wrote {target}")
    assert target.read_bytes().startswith(b"# vtk DataFile Version 3.0\n")
    told = call(capsys, "show", result, "--vtk", target, "--json")
    assert one_object(told.out)["status"] == "finished"


def test_all_forms_at_once(result: Path, capsys: Capsys) -> None:
    """CSV to standard output stays pure when a grid is written too."""
    status, out, err = call(capsys, "show", result, "--vtk", result.with_suffix(".vtk"), "--csv", "-")
    assert status == 0
    assert out.startswith("time [s]") and "wrote" not in out and "wrote" in err


@pytest.mark.parametrize("name", ["grid.png", "no_such_folder/grid.vtk", "wall.h5"])
def test_a_name_that_is_no_good(result: Path, capsys: Capsys, name: str) -> None:
    before = result.read_bytes()
    status, out, err = call(capsys, "show", result, "--vtk", result.parent / name)
    assert status == 2
    assert err.strip() and "Traceback" not in out + err
    assert result.read_bytes() == before
