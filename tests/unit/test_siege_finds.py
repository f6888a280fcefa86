"""Faults found by changing cases at random and by asking what a user may ask, each with the smallest case that showed it."""

from __future__ import annotations

import re
import sys
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "cli"))

from begun_cases import AIR, BAND, PLANE, begun_from
from calling import CASES, call, one_object
from moulds import SMALL, changed
from sections import block, steady_bar
from sweep_cases import GRID, sweep

from thermokit.case import parse_case, resolved_text
from thermokit.errors import CaseError
from thermokit.processes.base import Limit
from thermokit.processes.mould import MouldProcess
from thermokit.processes.run import run_case
from thermokit.studies.sweep import sweep as run_sweep
from thermokit.studies.window import Asked, find_window

Capsys = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("table")
    run_sweep(parse_case(sweep(GRID)), folder / "table.h5", 1)
    return folder / "table.h5"


class TestTableOfASweep:
    """What `thermokit sweep` wrote, given to the other commands."""

    def test_show_prints_its_summary(self, table: Path, capsys: Capsys) -> None:
        said = call(capsys, "show", table)
        assert said.status == 0 and "160 rows, 160 finished" in said.out and "nothing was run" not in said.out
        assert one_object(call(capsys, "show", table, "--json").out)["sweep"]["rows"] == 160

    def test_show_writes_it_as_csv(self, table: Path, capsys: Capsys, tmp_path: Path) -> None:
        said = call(capsys, "show", table, "--csv", "-")
        assert said.status == 0 and len(said.out.splitlines()) == 161
        call(capsys, "show", table, "--csv", tmp_path / "rows.csv")
        assert len((tmp_path / "rows.csv").read_text().splitlines()) == 161

    def test_what_it_cannot_be_used_for(self, table: Path, capsys: Capsys) -> None:
        said = call(capsys, "show", table, "--field", "map")
        assert said.status == 2 and "holds no fields" in said.err
        said = call(capsys, "plot", table)
        assert said.status == 2 and "it is the table of a sweep" in said.err
        with pytest.raises(CaseError, match="is the table of a sweep"):
            parse_case(begun_from(BAND.format(**PLANE), "table.h5") + AIR, str(table.parent / "x.toml"))


def test_a_body_cannot_go_on_from_a_section(tmp_path: Path, capsys: Capsys) -> None:
    (tmp_path / "block.toml").write_text(block(), encoding="utf-8")
    assert call(capsys, "run", tmp_path / "block.toml", "-o", tmp_path / "block.h5").status == 0
    with pytest.raises(CaseError, match="is the result of a section or a mould"):
        parse_case(begun_from(BAND.format(**PLANE), "block.h5") + AIR, str(tmp_path / "x.toml"))


def test_a_face_with_nothing_in_it_is_written_so_that_it_can_be_read() -> None:
    text = steady_bar().split("faces.outer")[0] + "[stations.faces.outer]\n"
    case = parse_case(text)
    assert "None" not in resolved_text(case)
    assert parse_case(resolved_text(case)) == case


class _Without(Asked):
    """Two limits: one never met before 4 (its margin is minus infinity there), one that ends at 8."""

    def margins(self, settings: np.ndarray) -> tuple[tuple[Limit, ...], np.ndarray]:
        limits = (Limit("first", "first", True, 0.0), Limit("second", "second", True, 0.0))
        return limits, np.array([np.where(settings < 4.0, -np.inf, 1.0), 8.0 - settings])


def test_margins_without_end_make_an_edge_and_no_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = find_window(_Without(), 1.0, 16.0)
        nowhere = find_window(_Without(), 1.0, 3.0)
    assert found.earliest is not None and found.earliest_limit == "first" and found.latest_limit == "second"
    assert found.earliest == pytest.approx(4.0, rel=1e-3) and found.latest == pytest.approx(8.0, rel=1e-6)
    assert not nowhere.open, "a limit that is missed without end is missed"


def _mould(text: str) -> Any:
    return parse_case(text)


class TestInsertsOfAMould:
    """An insert is given by its corners; the part may be changed after the case was read."""

    INSERT = (
        '[[mould.inserts]]\nname = "block"\nmaterial = "aluminium_plate"\n'
        'corner = ["20 mm", "3 mm"]\nsize = ["20 mm", "5 mm"]\n[[circuits]]'
    )

    @pytest.fixture
    def text(self) -> str:
        return SMALL.replace("[[circuits]]", self.INSERT, 1)

    def test_one_that_no_longer_fits_says_why(self, text: str) -> None:
        thicker = _mould(text).with_values({"part.thickness": 0.004})
        with pytest.raises(CaseError, match="an insert does not follow the part") as caught:
            _ = MouldProcess(thicker).shape
        assert str(caught.value.mistakes[0].where) == "mould.inserts.0"

    def test_one_left_behind_the_face_is_told(self, text: str) -> None:
        # of a wall of 2 mm in place of 3 mm the insert at y = 3 mm stands 1 mm behind the face
        found = run_case(parse_case(text.replace('thickness = "3 mm"', 'thickness = "2 mm"')))
        assert any("insert block stands 1 mm behind the part's face" in words for words in found.warnings)
        assert not any("insert block" in words for words in run_case(parse_case(text)).warnings)


def test_gate_words_say_which_gate_would_do() -> None:
    """A gate of half the wall freezes early; a slab at rest takes time as the square of its thickness (Fourier)."""
    text = changed(SMALL, ('"0.3 K"', '"1 K"'), ("[cycle]", '[feed]\ngate_thickness = "1.5 mm"\n[cycle]'))
    text += 'crystallising = { heat = "90 kJ/kg", from = "85 degC", peak = "116 degC", to = "128 degC" }\n'
    text += 'melting = { heat = "90 kJ/kg", from = "120 degC", peak = "163 degC", to = "170 degC" }\n'
    process = MouldProcess(_mould(text))
    result = process.result(None, {})
    (said,) = [words for words in result.remarks if words.startswith("Last to set")]
    gate, held = process.feed.gate, process.hold
    assert f"packing ends after {min(gate, held):.1f} s, as the gate freezes" in said
    told = re.search(r"40 % after ([\d.]+) s; a gate of ([\d.]+) mm", said)
    assert told is not None
    due, size = float(told[1]), float(told[2])
    assert due > gate and size == pytest.approx(1.5 * np.sqrt(due / gate), abs=0.06)
    assert "weigh parts against the hold" in said


class TestAHoldLongerThanCooling:
    """A hold of 40 s on a wall of 3 mm, which is cold enough long before it ends."""

    @pytest.fixture
    def process(self) -> MouldProcess:
        return MouldProcess(_mould(changed(SMALL, ('"0.3 K"', '"1 K"'), ('hold = "3 s"', 'hold = "40 s"'))))

    def test_the_hold_rules_and_the_wall_is_its_own_second_opinion(self, process: MouldProcess) -> None:
        said = process.result(None, {}).remarks
        assert any(words.startswith("The hold rules the cycle") for words in said)
        assert not any(words.startswith("Cooling rules") for words in said)
        assert not any("first 0 shots" in words for words in said)
        (second,) = [words for words in said if words.startswith("Second opinion")]
        told = re.search(r"alone may open ([\d.]+) s .* the section ([\d.]+) s", second)
        assert told is not None and float(told[1]) == pytest.approx(float(told[2]), rel=0.1)

    def test_the_ratio_is_that_of_wall_and_section_not_of_the_hold(self, process: MouldProcess) -> None:
        # the wall alone and a section of the same wall: but for the row of channels they are alike
        assert process.ratio == pytest.approx(1.0, abs=0.1)


def test_speeds_at_which_a_line_cannot_be_solved_are_no_warning_of_numpy() -> None:
    """A sheet that begins at 0 K: of the speeds that are tried around the case's some are not solved, and have no heat dose."""
    text = (CASES / "how_cold_does_a_calendered_sheet_reach_its_wind_up.toml").read_text(encoding="utf-8")
    text = re.sub(r'(?m)^start = "[^"]*"', 'start = "-273.15 degC"', text)
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        assert run_case(parse_case(text)).status == "finished"
