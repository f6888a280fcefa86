"""``thermokit kinetics``: exit statuses, plain messages, one JSON object, files that are written whole and never overwritten."""

from __future__ import annotations

import shutil
import sys
import tomllib
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, call, one_object, program

Capsys = pytest.CaptureFixture[str]
RUNS = sorted(CASES.glob("dsc_winch_block_resin_*K_min.csv"))
HOLD = CASES / "dsc_winch_block_resin_held_at_130C.csv"


def test_fit_prints_energies_the_set_and_a_block(capsys: Capsys) -> None:
    found = call(capsys, "kinetics", "fit", *RUNS, HOLD, "--name", "winch_resin")
    assert found.status == 0 and found.err == ""
    for words in ("Kissinger", "E698", "Vyazovkin", "95 % from", "[kinetics.winch_resin]", "kJ/kg"):
        assert words in found.out
    block = found.out[found.out.index("[kinetics.winch_resin]") :]
    assert tomllib.loads(block)["kinetics"]["winch_resin"]["state"] == "cure"


def test_json_is_one_object(capsys: Capsys) -> None:
    found = call(capsys, "kinetics", "fit", *RUNS, "--json")
    assert found.status == 0
    report = one_object(found.out)
    assert report["set"]["form"] == "two_rate"
    assert [r["name"] for r in report["runs"]] == [
        f"dsc_winch_block_resin_{b}K_min" for b in ("2_5", "5", "10", "20")
    ], "by heating rate"


def test_picture_and_block_are_written_and_the_block_runs(capsys: Capsys, tmp_path: Path) -> None:
    picture, block = tmp_path / "fit.png", tmp_path / "resin.toml"
    found = call(capsys, "kinetics", "fit", *RUNS, "--plot", picture, "-o", block, "--name", "resin")
    assert found.status == 0
    assert f"wrote {picture}" in found.out and f"wrote {block}" in found.out
    assert picture.read_bytes()[:4] == b"\x89PNG"
    case = tmp_path / "case.toml"
    case.write_text(
        'process = "body"\n[body]\nshape = "plane"\nstart = "130 degC"\n[[body.layers]]\nmaterial = "epoxy_compound"\n'
        'thickness = "1 mm"\nkinetics = "resin"\n[[stations]]\nduration = "10 min"\n[stations.outer]\n'
        'temperature = "130 degC"\n' + block.read_text(encoding="utf-8"),
        encoding="utf-8",
    )
    checked = call(capsys, "check", case)
    assert checked.status == 0, checked.err
    # the same command may renew its own block
    assert call(capsys, "kinetics", "fit", *RUNS, "-o", block).status == 0


def test_a_foreign_file_is_not_overwritten(capsys: Capsys, tmp_path: Path) -> None:
    mine = tmp_path / "case.toml"
    mine.write_text("mine = true\n")
    found = call(capsys, "kinetics", "fit", *RUNS, "-o", mine)
    assert found.status == 2 and "is no block of this command" in found.err
    assert mine.read_text() == "mine = true\n"
    picture = tmp_path / "run.png"
    shutil.copy(RUNS[0], picture)
    before = picture.read_bytes()
    assert call(capsys, "kinetics", "fit", picture, RUNS[1], "--plot", picture).status == 2
    assert picture.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["kinetics", "fit"], "Missing argument"),
        (["kinetics", "fit", "nowhere.csv", RUNS[0]], "nowhere.csv: cannot be read: no such file"),
        (["kinetics", "fit", RUNS[0]], "one run cannot tell an activation energy"),
        (["kinetics", "fit", RUNS[0], RUNS[0]], "stands there twice"),
        (["kinetics", "fit", *RUNS, "--name", "a b"], "letters, digits"),
        (["kinetics", "fit", *RUNS, "--form", "three_rate"], "two_rate"),
        (["kinetics", "fit", *RUNS, "--plot", "x.pdf"], "must end in .png or .svg"),
        (["kinetics", "fit", *RUNS, "-o", "block.txt"], "must end in .toml"),
        (["kinetics", "fit", *RUNS, "--plot", "no_such_folder/x.png"], "no such folder"),
        (["kinetics", "fit", *RUNS, "--mass", "1 mg", "--mass", "2 mg"], "given 2 times for 4 files"),
        (["kinetics", "fit", CASES / "how_long_to_heat_a_4mm_abs_tray.toml", RUNS[0]], "no line names the columns"),
        (["kinetics", "fix"], "No such command"),
        (["kinetics", "show", "nope"], "no kinetics set"),
    ],
)  # fmt: skip
def test_the_users_mistakes_are_one_plain_message(capsys: Capsys, arguments: list[object], says: str) -> None:
    found = call(capsys, *arguments)
    assert found.status == 2
    assert says in found.err, found.err
    assert found.out == ""
    assert len(found.err.splitlines()) <= 8


def test_a_wrong_cell_names_its_file_and_line(capsys: Capsys, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    lines = RUNS[0].read_text(encoding="utf-8").splitlines()
    lines[40] = lines[40].rsplit(";", 1)[0] + ";about 3"
    bad.write_text("\n".join(lines), encoding="utf-8")
    found = call(capsys, "kinetics", "fit", bad, RUNS[1], "--json")
    assert found.status == 2 and found.out == ""
    assert "bad.csv" in found.err and "line 41" in found.err and "about 3" in found.err


def test_runs_that_no_law_follows_end_with_status_1(capsys: Capsys, tmp_path: Path) -> None:
    """The heating rates are mixed up: the files say four times the time that passed, or a fiftieth."""
    files = []
    for run, factor in zip(RUNS, (30.0, 1.0, 1.0, 0.02), strict=True):
        lines = run.read_text(encoding="utf-8").splitlines()
        rows = [line.split(";") for line in lines[3:]]
        file = tmp_path / run.name
        file.write_text(
            "\n".join([lines[2], *(";".join([f"{float(r[0]) * factor:.3f}", *r[1:]]) for r in rows)]), encoding="utf-8"
        )
        files.append(file)
    found = call(capsys, "kinetics", "fit", *files)
    assert found.status == 1
    assert "follows these runs" in found.err and "look at the runs" in found.err


def test_notes_tell_what_was_done(capsys: Capsys, tmp_path: Path) -> None:
    lines = RUNS[2].read_text(encoding="utf-8").splitlines()
    lines[50], lines[60] = lines[60], lines[50]
    lines = [*lines[:100], *lines[115:]]
    untidy = tmp_path / "untidy.csv"
    untidy.write_text(
        "\n".join(line.replace(".", ",") if i > 2 else line for i, line in enumerate(lines)), encoding="utf-8"
    )
    found = call(capsys, "kinetics", "fit", untidy, *RUNS[:2], "--json")
    assert found.status == 0
    notes = " ".join(one_object(found.out)["notes"])
    for words in ("untidy: decimal commas", "goes back", "gap from"):
        assert words in notes


def test_list_and_show_are_those_of_the_library(capsys: Capsys) -> None:
    assert call(capsys, "kinetics", "list").out == call(capsys, "materials", "--kinetics").out
    shown = call(capsys, "kinetics", "show", "uf_calibrated")
    assert shown.out == call(capsys, "materials", "--kinetics", "uf_calibrated").out
    assert "firm" in shown.out and "0.85" in shown.out
    assert "fit" in call(capsys, "kinetics", "--help").out


def test_the_program_fits_from_another_folder(tmp_path: Path) -> None:
    done = program("kinetics", "fit", *RUNS, "--json", "-o", tmp_path / "b.toml")
    assert done.returncode == 0, done.stderr
    assert one_object(done.stdout)["recommended"] == "two_rate"
    assert (tmp_path / "b.toml").read_text(encoding="utf-8").startswith("# Kinetics fitted by thermokit")
