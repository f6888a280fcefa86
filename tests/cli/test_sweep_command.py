"""`thermokit sweep`: words, one JSON object, CSV, exit status, and refusals before anything is run."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from calling import CASES, call, one_object
from sweep_cases import GRID, HEATING, PLATE, THICKNESS, mean_temperature, sweep

from thermokit.results.sweep_table import read_table

Capsys = pytest.CaptureFixture[str]


def written(folder: Path, text: str) -> Path:
    file = folder / "plate.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_words_and_csv(tmp_path: Path, capsys: Capsys) -> None:
    case, table, sheet = written(tmp_path, sweep(GRID)), tmp_path / "table.h5", tmp_path / "table.csv"
    said = call(capsys, "sweep", case, "-o", table, "--csv", sheet)
    assert said.status == 0 and said.err == ""
    assert "Plate heated at a steady rate: 160 rows, 160 finished" in said.out
    assert f"Table: {table}" in said.out and f"CSV: {sheet}" in said.out
    assert "hottest_time" in said.out.split("Not told")[1], "what takes a run for each row is named"
    cold, hot = mean_temperature(6e-3, 2e3), mean_temperature(2e-3, 8e3)
    (line,) = [row for row in said.out.splitlines() if row.startswith("mean_temperature")]
    assert line.split()[1:3] == [f"{cold:.1f}", f"{hot:.1f}"]
    assert len(sheet.read_text(encoding="utf-8").splitlines()) == 161
    again = call(capsys, "sweep", case, "-o", table)
    assert again.status == 0 and "finished before; nothing was run" in again.out


def test_one_json_object_and_a_name_of_its_own(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, sweep(f'"{HEATING}" = ["3 kW/m2", "5000000 kW/m2"]'))
    said = call(capsys, "sweep", case, "--json")
    told = one_object(said.out)
    assert said.status == 0 and told["status"] == "finished"
    block = told["sweep"]
    assert (block["rows"], block["finished"], block["failed"], block["no_window"]) == (2, 1, 1, 0)
    assert block["reasons"] == [{"row": 1, "reason": "a temperature left what is possible"}]
    assert block["inputs"][HEATING] == {"smallest": 3.0, "largest": 5e6, "unit": "kW/m2", "meaning": f"input {HEATING}"}
    assert block["outcomes"]["mean_temperature"]["largest"] == pytest.approx(mean_temperature(4e-3, 3e3), abs=1e-6)
    assert Path(block["table"]) == tmp_path / "plate_sweep.h5" and Path(block["table"]).is_file()


def test_each_row_is_what_run_tells(tmp_path: Path, capsys: Capsys) -> None:
    text = sweep(f'"{THICKNESS}" = ["3 mm", "5 mm"]', outcomes='["all"]').replace("cells = 12\n", "")
    call(capsys, "sweep", written(tmp_path, text), "-o", tmp_path / "table.h5")
    table = read_table(tmp_path / "table.h5")
    for i, thickness in enumerate(("3 mm", "5 mm")):
        (tmp_path / "one.toml").write_text(PLATE.replace("cells = 12\n", "").replace('"4 mm"', f'"{thickness}"'))
        told = one_object(call(capsys, "run", tmp_path / "one.toml", "-o", tmp_path / "one.h5", "--json").out)
        assert {c.name for c in table.of("outcome")} == set(told["outcomes"])
        for column in table.of("outcome"):
            own = told["outcomes"][column.name]
            assert column.unit == own["unit"]
            assert column.values[i] == pytest.approx(own["value"], abs=0.1), "within the accuracy of both"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (PLATE, "the case says nothing of a sweep"),
        (sweep('"body.layers.plate.thicknes" = ["3 mm"]'), "did you mean body.layers.plate.thickness"),
        (sweep(f'"{THICKNESS}" = ["3 mm"]', outcomes='["mean_temprature"]'), "did you mean mean_temperature"),
    ],
)
def test_refusals(tmp_path: Path, capsys: Capsys, text: str, words: str) -> None:
    said = call(capsys, "sweep", written(tmp_path, text), "-o", tmp_path / "table.h5")
    assert said.status == 2 and words in said.err and "Traceback" not in said.err
    assert not list(tmp_path.glob("table*"))


def test_a_thousand_million_rows_are_refused_with_what_they_would_take(tmp_path: Path, capsys: Capsys) -> None:
    spans = "\n".join(
        f'"{path}" = {{ from = "{low}", to = "{high}", count = 1000 }}'
        for path, low, high in ((THICKNESS, "2 mm", "6 mm"), (HEATING, "2 kW/m2", "8 kW/m2"), ("body.start", "10 degC", "30 degC"))
    )  # fmt: skip
    said = call(capsys, "sweep", written(tmp_path, sweep(spans)), "-o", tmp_path / "table.h5")
    assert said.status == 2
    assert "the sweep has 1e+09 rows: it would take about" in said.err
    assert " GB; up to 2000000 rows" in said.err and 'plan = "sobol"' in said.err


def test_names_that_are_no_good_are_refused_before_anything_is_run(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, sweep(GRID))
    for option, name, words in (
        ("-o", case, "that is the name of a case file"),
        ("-o", tmp_path, "that is a folder"),
        ("-o", tmp_path / "nowhere" / "table.h5", "there is no such folder"),
        ("--csv", tmp_path, "that is a folder"),
    ):
        said = call(capsys, "sweep", case, option, name)
        assert said.status == 2 and words in said.err
    assert call(capsys, "sweep", case, "--workers", "0").status == 2


def test_no_row_finished_is_a_failure(tmp_path: Path, capsys: Capsys) -> None:
    case = written(tmp_path, sweep(f'"{HEATING}" = ["5000000 kW/m2", "6000000 kW/m2"]'))
    said = call(capsys, "sweep", case, "-o", tmp_path / "table.h5")
    assert said.status == 1
    assert "row 0: a temperature left what is possible" in said.out


def test_a_scheduler_that_does_not_answer(tmp_path: Path, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    from thermokit.studies import sweep_pool

    monkeypatch.setattr(sweep_pool, "PATIENCE", 1)
    case = written(tmp_path, sweep(GRID))
    said = call(capsys, "sweep", case, "-o", tmp_path / "table.h5", "--scheduler", "tcp://127.0.0.1:9")
    assert said.status == 2 and "no scheduler answers at tcp://127.0.0.1:9" in said.err


def example(name: str) -> Any:
    (file,) = CASES.glob(f"{name}*.toml")
    return file


def test_the_example_of_dwell_against_thickness(tmp_path: Path, capsys: Capsys) -> None:
    """A thicker sheet takes longer, between in proportion to the thickness (heat taken up) and to its square (heat led in)."""
    said = call(capsys, "sweep", example("how_does_the_dwell"), "-o", tmp_path / "table.h5")
    assert said.status == 0
    table = read_table(tmp_path / "table.h5")
    columns = {c.name: c.values for c in table.columns}
    shape = table.facts["grid_shape"]
    thick, earliest, latest = (columns[n].reshape(shape) for n in ("sheet.thickness", "earliest", "latest"))
    there = np.isfinite(earliest)
    assert there[0].all() and not there[-1].all(), "thin sheet has a window at any stock, thick sheet not"
    for j in range(shape[1]):
        own = earliest[there[:, j], j]
        power = np.diff(np.log(own)) / np.diff(np.log(thick[there[:, j], j]))
        assert np.all((power > 1.0) & (power < 2.0))
    assert np.all(latest[there] > earliest[there])
    # colder stock takes longer: start is the second input, rising
    both = there[:, 1:] & there[:, :-1]
    assert np.all(np.diff(earliest, axis=1)[both] < 0.0)
    assert all(words.startswith("no window") for words in table.reasons.values())


def test_the_example_of_a_cure_over_its_ranges(tmp_path: Path, capsys: Capsys) -> None:
    """A hotter mould and a thinner part are further on in the same time."""
    said = call(capsys, "sweep", example("how_far_is_a_phenolic"), "-o", tmp_path / "table.h5")
    assert said.status == 0
    columns = {c.name: c.values for c in read_table(tmp_path / "table.h5").columns if c.role != "margin"}
    degree = columns["cure_degree"]
    assert np.all((degree > 0.0) & (degree <= 1.0))
    order = {name: np.corrcoef(np.argsort(np.argsort(columns[name])), np.argsort(np.argsort(degree)))[0, 1]
             for name in columns if "." in name}  # fmt: skip
    assert order["mould.upper.temperature"] > 0.2 and order["mould.lower.temperature"] > 0.2
    assert order["charge.start"] > 0.02 and order["charge.thickness"] < -0.05
