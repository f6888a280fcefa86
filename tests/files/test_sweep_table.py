"""The table of a sweep on disk: whole, the same to the last byte however often it was stopped, and open to other readers."""

from __future__ import annotations

import csv
import errno
import io
import os
import sys
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from sweep_cases import GRID, HEATING, PLATE, THICKNESS, mean_temperature, sweep

from thermokit.errors import DataError
from thermokit.results.sweep_table import read_table
from thermokit.results.sweep_table_csv import as_csv
from thermokit.studies import sweep as study
from thermokit.studies.sweep_shards import Shards

ROOT = Path(__file__).parents[2]
#: 160 rows in 16 chunks, run one by one so that a chunk takes a noticeable time
SLOW = sweep(GRID, outcomes='["mean_temperature", "hottest_time", "hottest_depth"]')


def written(folder: Path, text: str, name: str = "plate.toml") -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def shards(table: Path) -> int:
    return len(list(table.with_name(table.name + ".parts").glob("*.npz")))


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes]:
    """(case, bytes of its table) of a sweep that nothing disturbed."""
    folder = tmp_path_factory.mktemp("sweep")
    case = written(folder, SLOW)
    study.sweep(case, folder / "whole.h5", workers=1)
    return case, (folder / "whole.h5").read_bytes()


def test_a_finished_table_is_not_run_again(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, whole = uninterrupted
    table = tmp_path / "table.h5"
    table.write_bytes(whole)
    written_at = table.stat().st_mtime_ns
    found, before = study.sweep(case, table)
    assert before and found.rows == 160 and table.stat().st_mtime_ns == written_at


def test_the_table_holds_all_that_was_asked(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    case, whole = uninterrupted
    (tmp_path / "table.h5").write_bytes(whole)
    table = read_table(tmp_path / "table.h5")
    columns = {c.name: c for c in table.columns}
    assert [c.name for c in table.of("input")] == [THICKNESS, HEATING]
    assert columns[THICKNESS].unit == "mm" and columns[HEATING].unit == "kW/m2"
    assert [c.name for c in table.of("outcome")] == ["mean_temperature", "hottest_time", "hottest_depth"]
    known = mean_temperature(1e-3 * columns[THICKNESS].values, 1e3 * columns[HEATING].values)
    assert columns["mean_temperature"].values == pytest.approx(known, abs=1e-6)
    assert columns["margin_of_mean_temperature"].values == pytest.approx(known - 80.0, abs=1e-6)
    assert columns["hottest_time"].values == pytest.approx(120.0)
    assert columns["hottest_depth"].values == pytest.approx(columns[THICKNESS].values), "the heated face"
    assert (table.status == 0).all() and not table.reasons
    assert table.provenance.case_text == case.read_text(encoding="utf-8")
    assert table.facts["grid_shape"] == [16, 10]
    with h5py.File(tmp_path / "table.h5") as file:
        for name, item in file.items():
            if isinstance(item, h5py.Dataset):
                assert "units" in item.attrs and "long_name" in item.attrs, name


def test_other_readers_open_it(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    xarray = pytest.importorskip("xarray")
    pytest.importorskip("h5netcdf")
    (tmp_path / "table.h5").write_bytes(uninterrupted[1])
    with xarray.open_dataset(tmp_path / "table.h5", engine="h5netcdf", decode_timedelta=False) as data:
        assert data.sizes["row"] == 160
        assert data["mean_temperature"].attrs["units"] == "degC" and data["mean_temperature"].dtype == np.float64
        assert data["status"].attrs["flag_meanings"] == "finished no_window failed"
        hot = data.where(data["mean_temperature"] >= 80.0, drop=True)
        assert 0 < hot.sizes["row"] < 160
        grid = data["mean_temperature"].values.reshape(16, 10)
        assert np.all(np.diff(grid, axis=0) < 0.0) and np.all(np.diff(grid, axis=1) > 0.0)


def test_csv_holds_the_same(uninterrupted: tuple[Path, bytes], tmp_path: Path) -> None:
    (tmp_path / "table.h5").write_bytes(uninterrupted[1])
    table = read_table(tmp_path / "table.h5")
    lines = list(csv.reader(io.StringIO(as_csv(table))))
    assert lines[0][:2] == [f"{THICKNESS} [mm]", f"{HEATING} [kW/m2]"] and lines[0][-2:] == ["status", "reason"]
    assert len(lines) == 161
    at = lines[0].index("mean_temperature [degC]")
    read = np.array([float(line[at]) for line in lines[1:]])
    (column,) = [c for c in table.columns if c.name == "mean_temperature"]
    assert read == pytest.approx(column.values, rel=1e-9)
    assert {line[-2] for line in lines[1:]} == {"finished"}


def test_rows_that_fail_keep_their_reasons(tmp_path: Path) -> None:
    case = written(tmp_path, sweep(f'"{HEATING}" = ["5 kW/m2", "5000000 kW/m2", "6 kW/m2"]'))
    table, _ = study.sweep(case, tmp_path / "table.h5")
    again = read_table(tmp_path / "table.h5")
    assert table.reasons == again.reasons == {1: "a temperature left what is possible"}
    assert list(again.status) == [0, 2, 0]
    assert "failed,a temperature left what is possible" in as_csv(again)


def test_rows_without_a_window_say_what_is_missed(tmp_path: Path) -> None:
    text = PLATE.replace('"120 s"', '"find"') + '[limits.outer_face_temperature]\nat_most = "100 degC"\n'
    text += f'[sweep.inputs]\n"{THICKNESS}" = ["1 mm", "8 mm"]\n'
    study.sweep(written(tmp_path, text), tmp_path / "table.h5")
    table = read_table(tmp_path / "table.h5")
    assert list(table.status) == [0, 1]
    assert table.reasons[1].startswith("no window: nearest at")
    flags = {f.name: [f.words[i] if i >= 0 else "" for i in f.values] for f in table.flags}
    assert flags["earliest_limit"] == ["mean_temperature", ""]
    assert flags["latest_limit"] == ["outer_face_temperature", ""]


def test_a_changed_case_is_not_joined_to_old_rows(tmp_path: Path) -> None:
    table = tmp_path / "table.h5"
    Shards(table).begin({"identity": "another"})
    case = written(tmp_path, sweep(GRID))
    with pytest.raises(DataError) as wrong:
        study.sweep(case, table)
    assert "holds finished rows of another case" in str(wrong.value) and "delete that folder" in str(wrong.value)
    study.sweep(case, tmp_path / "other.h5")
    with pytest.raises(DataError, match="holds the sweep of another case"):
        study.sweep(written(tmp_path, sweep(GRID, seed=2), "new.toml"), tmp_path / "other.h5")


def test_a_changed_file_of_rows_is_another_sweep(tmp_path: Path) -> None:
    (tmp_path / "rows.csv").write_text(f"{THICKNESS} [mm]\n3\n4\n")
    case, table = written(tmp_path, sweep("", plan='"file"', file='"rows.csv"')), tmp_path / "table.h5"
    first, _ = study.sweep(case, table)
    assert first.rows == 2 and study.sweep(case, table)[1]
    (tmp_path / "rows.csv").write_text(f"{THICKNESS} [mm]\n3\n5\n")
    with pytest.raises(DataError, match="holds the sweep of another case"):
        study.sweep(case, table)


def test_a_file_that_is_something_else_stays(tmp_path: Path) -> None:
    case = written(tmp_path, sweep(GRID))
    (tmp_path / "notes.h5").write_text("my notes")
    with pytest.raises(DataError, match="is no HDF5 file, or is damaged"):
        study.sweep(case, tmp_path / "notes.h5")
    with h5py.File(tmp_path / "run.h5", "w") as file:
        file.attrs["layout"] = "something"
    with pytest.raises(DataError, match="is no table of a sweep"):
        study.sweep(case, tmp_path / "run.h5")


def test_a_full_disk_keeps_what_is_finished(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from thermokit.studies import sweep_shards

    case, table = written(tmp_path, SLOW), tmp_path / "table.h5"
    monkeypatch.setattr(study, "CHUNKS", 8)
    real, left = sweep_shards.write_whole, [4]

    def filling(path: Path, data: bytes) -> None:
        """Room for the manifest and three chunks; then the system's own error, as `write_whole` meets it."""
        left[0] -= 1
        if left[0] < 0:
            with monkeypatch.context() as patched:
                patched.setattr(os, "write", full)
                real(path, data)
        real(path, data)

    def full(*_: Any) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(sweep_shards, "write_whole", filling)
    with pytest.raises(DataError, match="the disk is full"):
        study.sweep(case, table, workers=1)
    assert shards(table) == 3 and not table.exists()
    monkeypatch.setattr(sweep_shards, "write_whole", real)
    seen: list[Any] = []
    study.sweep(case, table, workers=1, progress=seen.append)
    assert seen[-1].done == 160 and seen[-1].own == 100, "three of eight chunks were there"


def test_a_table_that_is_open_elsewhere_can_be_read_and_replaced(tmp_path: Path) -> None:
    case, table = written(tmp_path, sweep(GRID)), tmp_path / "table.h5"
    study.sweep(case, table)
    with h5py.File(table, "r"):
        _, before = study.sweep(case, table)
        assert before


def test_a_broken_chunk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case, table = written(tmp_path, sweep(GRID)), tmp_path / "table.h5"

    def stop(*_: Any) -> Any:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
        patched.setattr(study, "_table", stop)
        study.sweep(case, table)
    broken = next(iter(sorted(table.with_name("table.h5.parts").glob("*.npz"))))
    broken.write_bytes(b"half of a chunk")
    with pytest.raises(DataError, match="cannot be read; delete it"):
        study.sweep(case, table)
    broken.unlink()
    assert study.sweep(case, table)[0].rows == 160
