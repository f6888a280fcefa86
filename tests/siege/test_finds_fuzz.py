"""What the siege by files has found: the smallest text that showed each fault, and what must come of it now."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermokit.case import load_case, parse_case, resolved_text
from thermokit.errors import CaseError, DataError
from thermokit.kinetics.dsc import read_run
from thermokit.logs.logger import Reading, read_log
from thermokit.studies.sweep import identity_of_sweep
from validation.siege.judge import call, guarded
from validation.siege.mutate_tables import text_of
from validation.siege.seeds import FITTED, TEXTS

LINE = (TEXTS / "line.toml").read_text(encoding="utf-8")
CYLINDER = (TEXTS / "cylinder.toml").read_text(encoding="utf-8")
WALL = FITTED.split("[fit]")[0]


def refusal(text: str, file: str = "case.toml") -> str:
    with pytest.raises(CaseError) as wrong:
        parse_case(text, file)
    return str(wrong.value)


def quickly(work: Any) -> Any:
    """What a refusal says; it must come within 20 s of CPU, without a warning."""
    finds: list[str] = []
    answer = guarded(work, finds, (DataError,))
    assert not finds
    return answer


class TestNames:
    """A name that was not read stands as UNKNOWN in the check of the whole case."""

    @staticmethod
    def line() -> dict[str, Any]:
        return tomllib.loads(LINE)

    def test_of_a_layer_beside_a_limit_of_a_layer(self) -> None:
        raw = self.line()
        raw["line"]["layers"].append(raw["line"]["layers"][0] | {"name": 3})
        raw.setdefault("limits", {})["held"] = {"layer": "none of them", "above": "100 degC", "longest": "5 s"}
        assert "line.layers.1.name" in refusal(text_of(raw))

    def test_of_a_station_beside_an_event(self) -> None:
        raw = self.line()
        kind = next(event for event in raw["events"] if event["kind"] == "lamps_out")
        lamps = [station for station in raw["stations"] if station["kind"] == "lamps"]
        kind["station"] = "none of them"
        raw["stations"] += [lamps[0] | {"name": "a\nb"}, lamps[0] | {"name": "c"}]
        assert ".name" in refusal(text_of(raw))


def test_a_drawing_that_is_a_link_to_itself(tmp_path: Path) -> None:
    text = (TEXTS.parents[2] / "cases" / "how_evenly_does_a_drawn_dish_cool.toml").read_text(encoding="utf-8")
    (tmp_path / "loop.dxf").symlink_to("loop.dxf")
    file = tmp_path / "case.toml"
    file.write_text(re.sub(r'(?m)^drawing = ".*?"', 'drawing = "loop.dxf"', text), encoding="utf-8")
    said = call(("check", str(file)), ("case.toml",))
    assert said.status == 2 and not said.finds and "drawing" in said.err


class TestNumbersNextToNothing:
    """5e-324 is above nothing, but its quotients leave floating point: overflow of a mass, NaN of a mesh."""

    @pytest.mark.parametrize("size", ["5e-324", "1e-300", "1e-31"])
    def test_are_refused(self, size: str) -> None:
        said = refusal(re.sub(r'(?m)^mass = ".*?"', f'mass = "{size} kg"', CYLINDER))
        assert "too small to compute with" in said and "shot.mass" in said
        said = refusal(WALL.replace('"0.2 W/m/K"', f'"{size} W/m/K"'))
        assert "too small to compute with" in said and "conductivity" in said

    def test_small_ones_that_occur_are_not(self) -> None:
        case: Any = parse_case(WALL.replace('"10 mm"', '"1e-12 m"').replace('at = "5 mm"', 'at = "0 mm"'))
        assert case.body.layers[0].thickness == 1e-12

    def test_nothing_itself_is_out_of_range(self) -> None:
        assert "out of range" in refusal(WALL.replace('"0.2 W/m/K"', '"0 W/m/K"'))

    def test_nor_do_they_come_in_by_a_sweep(self) -> None:
        case = parse_case(WALL)
        with pytest.raises(CaseError, match="out of range"):
            case.with_values({"body.layers.0.thickness": np.array([1e-3, 1e-40])})


def test_one_thermocouple_leaves_out_errors_that_change_the_times(tmp_path: Path) -> None:
    """A cylinder's times follow from the mass of the shot: runs of other lengths stood side by side, or did not fit at all."""
    file = tmp_path / "case.toml"
    longer = re.sub(r'(?m)^length = ".*?"', 'length = "1.6 m"', CYLINDER, count=1)
    for text in (CYLINDER, longer):
        file.write_text(text, encoding="utf-8")
        said = call(("thermocouple", str(file)), ("case.toml",))
        assert said.status == 0 and not said.finds
        assert "errors of times are left out: shot.mass" in " ".join(said.out.split())


class TestLogs:
    """Files of measured values that took hours, all memory, or brought an error of a library."""

    def test_a_cell_longer_than_the_reader_of_csv_takes(self, tmp_path: Path) -> None:
        file = tmp_path / "log.csv"
        file.write_text("time [s];T1 [degC]\n0;20\n1;21\n2;" + "9" * 200_000 + "\n3;22\n", encoding="utf-8")
        for read in (read_log, read_run):
            with pytest.raises(DataError, match="line 4 has 200002 characters"):
                read(file)

    @pytest.mark.parametrize("piece", ["x", "[", "x["])
    def test_a_long_line_is_not_taken_apart_for_hours(self, piece: str, tmp_path: Path) -> None:
        file = tmp_path / "log.csv"
        long = piece * (60_000 // len(piece))
        rows = "".join(f"{i};{20 + i};{i % 7}\n" for i in range(20))
        for text in (f"{long}\ntime [s];T1 [degC];heat flow [W/g]\n{rows}", f"time [s];T1 [degC];{long}\n{rows}"):
            file.write_text(text, encoding="utf-8")
            quickly(lambda: read_log(file))
            quickly(lambda: read_run(file, "8 mg"))

    def test_control_characters_of_a_heading_are_not_passed_on(self, tmp_path: Path) -> None:
        file = tmp_path / "log.csv"
        file.write_text("time [s];\x1b[31mT1\u202e [degC]\n0;20\n1;21\n2;22\n3;23\n", encoding="utf-8")
        log = read_log(file)
        assert log.names[0].isprintable() and "T1" in log.names[0]
        assert any("cannot be seen" in note for note in log.notes)

    def test_a_log_that_can_be_seen_is_left_as_it_is(self, tmp_path: Path) -> None:
        file = tmp_path / "log.csv"
        file.write_text("time [s]\tT\u00a01 [°C]\n0\t20\n1\t21\n2\t22\n3\t23\n", encoding="utf-8")
        log = read_log(file)
        assert log.names == ("T 1",) and not any("cannot be seen" in note for note in log.notes)

    def test_a_device_has_no_end(self) -> None:
        with pytest.raises(DataError, match="larger than 60 MB"):
            read_log("/dev/zero")


class TestRowsOfASweep:
    """``[sweep] file``: a device, and what is no CSV."""

    @staticmethod
    def said(tmp_path: Path, content: bytes) -> str:
        file = tmp_path / "case.toml"
        file.write_text(WALL + '[sweep]\nplan = "file"\nfile = "rows.csv"\n', encoding="utf-8")
        (tmp_path / "rows.csv").write_bytes(content)
        said = call(("sweep", str(file), "--workers", "1"), ("rows.csv",))
        assert said.status == 2 and not said.finds
        return said.err

    def test_a_cell_longer_than_the_reader_of_csv_takes(self, tmp_path: Path) -> None:
        assert "is no CSV file" in self.said(tmp_path, b"body.layers.0.thickness [mm]\n" + b"9" * 200_000)

    def test_a_mark_that_is_never_closed(self, tmp_path: Path) -> None:
        assert "rows.csv" in self.said(tmp_path, b'body.layers.0.thickness [mm]\n"8\n9\n')


def test_a_text_that_a_spreadsheet_would_run_is_a_text() -> None:
    from thermokit.results.table import inert

    assert [inert(text) for text in ("=1+1", "+1", "-a", "@x", "core", "1.5", "")] == [
        "'=1+1", "'+1", "'-a", "'@x", "core", "1.5", ""
    ]  # fmt: skip


def test_a_wanted_outcome_of_runs_that_all_stop(tmp_path: Path) -> None:
    """A body at 20 000 degC: no run comes to its end, so that no outcome is told."""
    text = WALL.replace('start = "20 degC"', 'start = "20000 degC"')
    text = text.replace('air = "150 degC"', 'air = { find = ["120 degC", "220 degC"] }').split("[limits")[0]
    file = tmp_path / "case.toml"
    file.write_text(text + '[wanted]\noutcome = "core_temperature"\nvalue = "40 degC"\n', encoding="utf-8")
    said = call(("run", str(file)), ("case.toml",))
    assert said.status == 1 and not said.finds and "the runs stopped" in said.err


@pytest.mark.parametrize("line", ['[fit.reading]\ntime = ""\n', '[[fit.channels]]\ncolumn = ""\nat = "core"\n'])
def test_an_empty_text_that_was_given_is_written_again(line: str) -> None:
    """Left out it would say something else: the column of times as found, or a mistake."""
    case = parse_case(FITTED + line)
    assert parse_case(resolved_text(case)) == case


@pytest.mark.parametrize("name", ["/dev/zero", "pipe"])
def test_a_sweep_reads_no_file_that_a_title_names(name: str, tmp_path: Path) -> None:
    """What a table of a sweep follows from is read off the keys that name files: any text of the case was tried as one."""
    os.mkfifo(tmp_path / "pipe")
    file = tmp_path / "case.toml"
    wall = re.sub(r'(?m)^title = ".*?"', f'title = "{name}"', WALL)
    file.write_text(wall + '[sweep.inputs]\n"body.layers.0.thickness" = ["8 mm", "9 mm"]\n', encoding="utf-8")
    said = call(("sweep", str(file), "--workers", "1"), ("case.toml",))
    assert said.status == 0 and not said.finds


def test_the_rows_of_a_file_are_part_of_what_a_sweep_follows_from(tmp_path: Path) -> None:
    """The case is the same, the rows are others: another sweep. A drawing's number in the job is no file."""
    file = tmp_path / "case.toml"
    file.write_text(
        WALL + '[job]\ndrawing = "case.toml"\n[sweep]\nplan = "file"\nfile = "rows.csv"\n', encoding="utf-8"
    )
    found = []
    for rows in ("8\n9\n", "8\n10\n"):
        (tmp_path / "rows.csv").write_text("body.layers.0.thickness [mm]\n" + rows, encoding="utf-8")
        found.append(identity_of_sweep(load_case(file)))
    assert found[0] != found[1] and identity_of_sweep(load_case(file)) == found[1]


def test_rows_of_a_section_must_fit_into_memory(tmp_path: Path) -> None:
    """12 500 rows of some thousand nodes, three histories of them at a time, took more than a gigabyte."""
    text = (TEXTS / "section.toml").read_text(encoding="utf-8")
    text = re.sub(r"(?ms)^\[output\]\n.*?(?=^\[)", "", text) + '[output]\nevery = "0.002 s"\n'
    file = tmp_path / "case.toml"
    file.write_text(text, encoding="utf-8")
    said = call(("run", str(file)), ("case.toml",))
    assert said.status == 2 and not said.finds
    assert re.search(r"would keep \d+ rows of some \d+ nodes", said.err) and "fewer rows" in said.err


def test_a_column_of_times_in_kelvin_is_told(tmp_path: Path) -> None:
    file = tmp_path / "run.csv"
    file.write_text("T1 [degC]\tT2 [degC]\n" + "".join(f"{i}\t{20 + i}\n" for i in range(9)), encoding="utf-8")
    with pytest.raises(DataError, match="unit of temperature, not of time"):
        read_log(file, Reading(time="T1"))


def test_a_hold_that_only_the_last_row_reaches(tmp_path: Path) -> None:
    """A stamp without its year put the last row decades after the others."""
    rows = "".join(f"{i}; {20 + 0.7 * i}; 0.1\n" for i in range(30)) + "1e9; 300; 0.1\n"
    file = tmp_path / "run.csv"
    file.write_text("time [s]; temperature [degC]; heat flow [mW]\n" + rows, encoding="utf-8")
    with pytest.raises(DataError, match="only the last 1 rows"):
        read_run(file, mass="8 mg")
