"""`thermokit methods`: the table, the reasons, one JSON object, exit status; figures from the model by other methods."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, WALL, call, one_object

from thermokit.case import load_case, parse_case, resolved_text, sought_path
from thermokit.case.shaping import METHODS
from thermokit.studies.methods import DEEPEST, NEEDS, PAYS, cannot
from thermokit.studies.methods_cases import USUAL, by_method

Capsys = pytest.CaptureFixture[str]

DOME = CASES / "how_long_to_hold_a_free_blown_acrylic_hatch_dome.toml"
BAIT = CASES / "how_long_to_press_a_bait_tray_in_rigid_pvc.toml"


def written(folder: Path, file: Path, *pairs: tuple[str, str]) -> Path:
    """An example with changes."""
    text = file.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    out = folder / "part.toml"
    out.write_text(text, encoding="utf-8")
    return out


def changed(folder: Path, file: Path, *pairs: tuple[str, str]) -> Any:
    return load_case(written(folder, file, *pairs))


def test_every_method_has_what_the_study_needs() -> None:
    assert set(DEEPEST) == set(NEEDS) == set(PAYS) == set(USUAL) == set(METHODS)


def test_words(capsys: Capsys) -> None:
    said = call(capsys, "methods", DOME)
    assert said.status == 0 and said.err == ""
    assert all(len(line) <= 100 for line in said.out.splitlines())
    (line,) = [line for line in said.out.splitlines() if line.startswith("free blowing *")]
    assert "pole" in line and line.rstrip().endswith("none")
    assert "Cannot, as asked for" in said.out and "both must stay clear" in said.out
    assert "never unclamp" in said.out and "supervised trial" in said.out


def test_json_of_a_tray_with_everything_at_hand(tmp_path: Path, capsys: Capsys) -> None:
    file = written(tmp_path, BAIT, ('tooling = ["matched"]\n', ""))
    said = call(capsys, "methods", file, "--json")
    found = one_object(said.out)
    assert said.status == 0
    rows = {row["name"]: row for row in found["methods"]}
    assert list(rows) == list(METHODS)
    assert rows["free_blowing"]["reasons"] and not rows["free_blowing"]["figures"]
    held = {name: row["figures"]["holding_time"]["value"] for name, row in rows.items() if row["figures"]}
    # two cooled faces are quicker than one and a rubber nose, and that than ribs in the air
    assert held["matched_press"] < held["rubber_nose"] < held["skeleton_press"]
    assert held["matched_press"] < held["vacuum_male"]
    assert rows["matched_press"]["as_in_case"] and rows["matched_press"]["figures"]["cycle_time"]["value"] < 20.0
    for name, row in rows.items():
        if row["figures"]:
            assert row["can"] == (not row["reasons"]), name
            assert 0.1 < row["figures"]["thinnest_place"]["value"] <= 0.8
    # 0.85 bar on 180 x 120 mm
    assert rows["vacuum_female"]["figures"]["clamp_force"]["value"] == pytest.approx(85.0 * 0.18 * 0.12, rel=1e-6)


@pytest.mark.parametrize(
    ("file", "pairs", "method", "words"),
    [
        (BAIT, [], "free_blowing", "domes only"),
        (BAIT, [("quantity", "undercut = true\nquantity")], "vacuum_male", "undercut"),
        (BAIT, [("quantity", 'clear_face = "upper"\nquantity')], "matched_press", "both faces"),
        (BAIT, [("quantity", 'detail = "1 mm"\nquantity')], "skeleton_press", "detail of 1 mm"),
        (BAIT, [('depth = "25 mm"', 'depth = "90 mm"')], "vacuum_female", "depth over width 0.75"),
        (BAIT, [], "vacuum_plug", "no plug"),
        (DOME, [('height = "120 mm"', 'height = "320 mm"')], "free_blowing", "0.8, usual up to 0.75"),
    ],
)
def test_why_a_method_cannot(tmp_path: Path, file: Path, pairs: Any, method: str, words: str) -> None:
    assert words in "; ".join(cannot(changed(tmp_path, file, *pairs), method))


def test_a_single_tool_is_put_on_the_face_that_need_not_stay_clear(tmp_path: Path) -> None:
    for clear, touched in (("lower", "upper"), ("upper", "lower")):
        given = changed(tmp_path, BAIT, ("quantity", f'clear_face = "{clear}"\nquantity'))
        assert list(by_method(given, "vacuum_female").stations[-1].touches) == [touched]


@pytest.mark.long
def test_a_tool_with_a_body_is_told_as_its_shots_leave_it(capsys: Capsys) -> None:
    said = call(capsys, "methods", CASES / "how_long_to_cool_a_vacuum_formed_seed_tray.toml", "--json")
    rows = {row["name"]: row for row in one_object(said.out)["methods"]}
    # between its water of 30 degC and the release temperature
    assert 30.0 < rows["vacuum_female"]["tools"]["mould"]["value"] < 60.0
    assert [name for name, row in rows.items() if row["can"]] == ["blow_into_mould", "vacuum_female"]


@pytest.mark.parametrize("file", [DOME, BAIT])
def test_the_case_by_another_method_is_a_whole_case(file: Path) -> None:
    given = load_case(file)
    for method in METHODS[1:] if file == BAIT else METHODS:
        other = by_method(given, method)
        assert parse_case(resolved_text(other)) == other, method
        assert sought_path(other) is not None


def test_a_case_by_another_method_is_written_and_answered(tmp_path: Path, capsys: Capsys) -> None:
    new = tmp_path / "male.toml"
    said = call(capsys, "methods", BAIT, "--method", "vacuum_male", "-o", new)
    assert said.status == 0 and f"New case: {new}" in said.out
    assert call(capsys, "dwell", new).status == 0
    for wrong in (["--method", "vacuum_mail", "-o", new], ["--method", "drape"], ["--method", "drape", "-o", BAIT]):
        assert call(capsys, "methods", BAIT, *wrong).status == 2
    assert call(capsys, "methods", BAIT, "--method", "free_blowing", "-o", tmp_path / "x.toml").status == 2
    assert not (tmp_path / "x.toml").exists()


def test_a_part_that_nothing_makes(tmp_path: Path, capsys: Capsys) -> None:
    file = written(tmp_path, BAIT, ("quantity", 'clear_face = "both"\nquantity'))
    said = call(capsys, "methods", file)
    assert said.status == 1 and "No method can make this part" in said.out


def test_a_case_without_a_part(tmp_path: Path, capsys: Capsys) -> None:
    file = tmp_path / "wall.toml"
    file.write_text(WALL, encoding="utf-8")
    said = call(capsys, "methods", file)
    assert said.status == 2 and "[part]" in said.err
