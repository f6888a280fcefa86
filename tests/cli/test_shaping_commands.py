"""A sheet that must not be shaped so: `run` and `dwell` say STOP with numbers and end with 1; where it may, force is printed."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, call, one_object

Capsys = pytest.CaptureFixture[str]

DOME = CASES / "how_long_to_hold_a_free_blown_acrylic_hatch_dome.toml"


def written(folder: Path, clamp: str, hold: str) -> Path:
    text = DOME.read_text(encoding="utf-8").split("[tolerances]")[0]
    for old, new in (('clamp = "25 kN"', f'clamp = "{clamp}"'), ('{ find = ["30 s", "30 min"] }', hold)):
        assert old in text
        text = text.replace(old, new)
    file = folder / "dome.toml"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize(("clamp", "status"), [("2 kN", 1), ("20 kN", 0)])
def test_run_and_dwell_stop_at_a_clamp_too_weak(tmp_path: Path, capsys: Capsys, clamp: str, status: int) -> None:
    ran = call(capsys, "run", written(tmp_path, clamp, '"250 s"'), "-o", tmp_path / "dome.h5")
    found = call(capsys, "dwell", written(tmp_path, clamp, '{ find = ["30 s", "30 min"] }'))
    for said in (ran, found):
        assert said.status == status, said.err
        assert ("STOP: the clamp may open" in " ".join(said.out.split())) == bool(status)
        assert "kN" in said.out and "0.177 t" in " ".join(said.out.split())  # 1.73 kN, printed in any case
        assert all(len(line) <= 100 for line in said.out.splitlines())


def test_json_holds_the_stop_and_what_helps(tmp_path: Path, capsys: Capsys) -> None:
    said = call(capsys, "run", written(tmp_path, "2 kN", '"250 s"'), "-o", tmp_path / "dome.h5", "--json")
    found = one_object(said.out)
    assert said.status == 1 and "% of its rating" in found["stop"]["why"]
    assert any("clamp of at least" in remedy for remedy in found["stop"]["remedies"])
