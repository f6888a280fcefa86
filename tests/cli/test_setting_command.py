"""`thermokit setting`: from a case, from a result, both kinds of page, exit status, plain refusals, speed."""

from __future__ import annotations

import resource
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import SOUGHT, WALL, call, program

Capsys = pytest.CaptureFixture[str]
JOB = '[job]\nnumber = "J-4"\ngrade = "stuff <b>7</b>"\nsources = { "body.layers.layer_1.thickness" = "measured" }\n'


def written(folder: Path, text: str) -> Path:
    file = folder / "wall.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_from_a_case_and_from_its_result_alike(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, SOUGHT + JOB)
    said = call(capsys, "setting", case)
    assert said.status == 0 and said.err == "" and said.out == f"wrote {tmp_path / 'wall.html'}\n"
    page = (tmp_path / "wall.html").read_text(encoding="utf-8")
    assert "Setting sheet: Wall ± 1" in page and "J-4" in page and "stuff &lt;b&gt;7&lt;/b&gt;" in page
    assert "Heat duration" in page and "measured" in page and "core temperature" in page

    assert call(capsys, "run", case, "-o", tmp_path / "wall.h5").status == 0
    assert call(capsys, "setting", tmp_path / "wall.h5", "-o", tmp_path / "again.html").status == 0
    assert (tmp_path / "again.html").read_text(encoding="utf-8") == page
    assert not list(tmp_path.glob(".*")), "nothing half-written is left"


def test_pdf_in_degrees_fahrenheit_on_letter(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, WALL.replace('"40 degC"', '"30 degC"'))
    target = tmp_path / "wall.pdf"
    said = call(capsys, "setting", case, "-o", target, "--fahrenheit", "--paper", "letter")
    assert target.read_bytes().startswith(b"%PDF")
    assert said.status in (0, 1), "whether the limit is met is not what is tested here"


def test_a_broken_limit_is_told_and_fails(tmp_path: Path, capsys: Capsys) -> None:
    """The core of a cold wall cannot be hotter than the air around it."""
    case = written(tmp_path, WALL.replace('"40 degC"', '"160 degC"'))
    said = call(capsys, "setting", case)
    assert said.status == 1
    assert "DO NOT RUN WITH THESE SETTINGS" in (tmp_path / "wall.html").read_text(encoding="utf-8")


def test_refusals(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, WALL)
    said = call(capsys, "setting", case, "-o", tmp_path / "wall.docx")
    assert said.status == 2 and "must end in .html or .pdf" in said.err
    said = call(capsys, "setting", tmp_path / "none.h5")
    assert said.status == 2 and "no such file" in said.err
    said = call(capsys, "setting", case, "-o", tmp_path / "nowhere" / "wall.html")
    assert said.status == 2 and "no such folder" in said.err
    case.write_text(WALL + '[job]\nnumbr = "7"\n', encoding="utf-8")
    said = call(capsys, "setting", case)
    assert said.status == 2 and "job.numbr" in said.err and "number" in said.err


def test_a_finished_result_takes_less_than_two_seconds(tmp_path: Path, capsys: Capsys) -> None:
    """Start-up included; seconds of the processor, since others may be at work on the machine."""
    case = written(tmp_path, WALL)
    call(capsys, "run", case, "-o", tmp_path / "wall.h5")
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    program("setting", tmp_path / "wall.h5")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert (tmp_path / "wall.html").exists()
    assert after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime < 2.0
