"""The section [sweep]: rows of every plan, and refusals that say what to write."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from sweep_cases import GRID, HEATING, START, THICKNESS, sweep

from thermokit.case import parse_case, resolved_text
from thermokit.errors import CaseError, DataError
from thermokit.studies.sweep_rows import count_of, rows_of


def read(text: str) -> Any:
    return parse_case(text, "plate.toml")


def mistakes(text: str) -> str:
    with pytest.raises(CaseError) as wrong:
        read(text)
    return str(wrong.value)


def test_a_grid_has_every_value_with_every_other() -> None:
    case = read(sweep(GRID))
    rows = rows_of(case)
    assert count_of(case) == 160 and {len(column) for column in rows.values()} == {160}
    assert list(rows) == [THICKNESS, HEATING]
    assert rows[THICKNESS][:11] == pytest.approx([2e-3] * 10 + [2e-3 + 4e-3 / 15])
    assert rows[HEATING][:10] == pytest.approx(np.geomspace(2e3, 8e3, 10))
    assert len({(a, b) for a, b in zip(*rows.values(), strict=True)}) == 160
    assert rows[THICKNESS].max() == 6e-3 and rows[HEATING].max() == 8e3, "ends are exact"


def test_a_list_goes_first_with_first() -> None:
    case = read(
        sweep(
            f'"{THICKNESS}" = ["3 mm", "2 mm", "3 mm"]\nbody.start = ["20 degC", "25 degC", "30 degC"]', plan='"list"'
        )
    )
    rows = rows_of(case)
    assert rows[THICKNESS] == pytest.approx([3e-3, 2e-3, 3e-3])
    assert rows[START] == pytest.approx([293.15, 298.15, 303.15])


@pytest.mark.parametrize("plan", ["sobol", "latin_hypercube"])
def test_rows_fill_ranges_evenly(plan: str) -> None:
    thick = f'"{THICKNESS}" = {{ from = "2 mm", to = "6 mm" }}'
    inputs = thick + f'\n"{HEATING}" = {{ from = "1 kW/m2", to = "100 kW/m2", spacing = "log" }}'
    case = read(sweep(inputs, plan=f'"{plan}"', rows=64, seed=3))
    rows = rows_of(case)
    assert count_of(case) == 64 and all(len(column) == 64 for column in rows.values())
    # both plans put one row into each of 64 equal slices of every range (of its logarithm)
    shares = [(rows[THICKNESS] - 2e-3) / 4e-3, np.log10(rows[HEATING] / 1e3) / 2.0]
    for share in shares:
        assert sorted(np.floor(64 * share).astype(int)) == list(range(64))
    again = rows_of(read(sweep(inputs, plan=f'"{plan}"', rows=64, seed=3)))
    other = rows_of(read(sweep(inputs, plan=f'"{plan}"', rows=64, seed=4)))
    assert np.array_equal(rows[THICKNESS], again[THICKNESS]) and not np.array_equal(rows[THICKNESS], other[THICKNESS])


def test_rows_of_a_file(tmp_path: Path) -> None:
    text = sweep("", plan='"file"', file='"rows.csv"')
    (tmp_path / "rows.csv").write_text(f"{THICKNESS} [mm],{START} [degC]\n3,20\n4.5,25\n")
    case = parse_case(text, str(tmp_path / "plate.toml"))
    rows = rows_of(case)
    assert rows[THICKNESS] == pytest.approx([3e-3, 4.5e-3]) and rows[START] == pytest.approx([293.15, 298.15])
    (tmp_path / "rows.csv").write_bytes(f"{THICKNESS} [in];{START} [degF]\r\n1;212\r\n".encode("utf-8-sig"))
    rows = rows_of(case)
    assert rows[THICKNESS] == pytest.approx([0.0254]) and rows[START] == pytest.approx([373.15])


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (f"{THICKNESS} [mm]\n3,5\n", "2 values where the first line names 1"),
        (f"{THICKNESS} [mm];{START} [degC]\n3,5;20\n", "decimal comma: write 3.5"),
        (f"{THICKNESS} [mm]\n3\nthick\n", 'row 2: body.layers.plate.thickness = "thick" is no number'),
        (f"{THICKNESS} [degC]\n3\n", "degC is a unit of temperature"),
        (f"{THICKNESS}\n3\n", "the unit is missing"),
        ("body.layers.plate.thicknes [mm]\n3\n", "did you mean body.layers.plate.thickness"),
        (f"{THICKNESS} [mm],body.layers.0.thickness [mm]\n3,3\n", "stands there twice"),
        (f"{THICKNESS} [mm]\n-3\n", "is out of range"),
        (f"{THICKNESS} [mm]\nnan\n", "not a finite number"),
        (f"{THICKNESS} [mm]\n", "holds no row"),
        ("", "holds no row"),
    ],
)
def test_a_file_that_is_no_good(tmp_path: Path, content: str, words: str) -> None:
    (tmp_path / "rows.csv").write_text(content)
    case = parse_case(sweep("", plan='"file"', file='"rows.csv"'), str(tmp_path / "plate.toml"))
    with pytest.raises((CaseError, DataError)) as wrong:
        rows_of(case)
    assert words in str(wrong.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    case = parse_case(sweep("", plan='"file"', file='"rows.csv"'), str(tmp_path / "plate.toml"))
    with pytest.raises(DataError, match="cannot be read"):
        rows_of(case)


@pytest.mark.parametrize(
    ("inputs", "keys", "words"),
    [
        ('"body.layers.plate.thicknes" = ["3 mm"]', {}, "did you mean body.layers.plate.thickness"),
        (f'"{THICKNESS}" = ["3 degC"]', {}, "degC is a unit of temperature, not of length"),
        (f'"{THICKNESS}" = [3]', {}, "is a bare number"),
        (f'"{THICKNESS}" = ["0 mm"]', {}, "is out of range"),
        (f'"{THICKNESS}" = []', {}, "0 values"),
        (f'"{THICKNESS}" = ["3 mm", "0.3 cm"]', {}, "is already entry 0"),
        (f'"{THICKNESS}" = "3 mm"', {}, "neither a list nor a range"),
        (f'"{THICKNESS}" = {{ from = "3 mm", to = "3 mm", count = 5 }}', {}, "the range is empty"),
        (f'"{THICKNESS}" = {{ from = "3 mm", to = "5 mm" }}', {}, "count: missing"),
        (f'"{THICKNESS}" = {{ from = "3 mm", to = "5 mm", count = 1 }}', {}, "a whole number from 2"),
        (f'"{THICKNESS}" = {{ from = "3 mm", to = "5 mm", counts = 4 }}', {}, "did you mean count"),
        (
            '"body.start" = { from = "20 degC", to = "50 degC", count = 3, spacing = "log" }',
            {},
            "temperatures have no ratios",
        ),
        (f'"{THICKNESS}" = ["3 mm"]\n"body.layers.0.thickness" = ["4 mm"]', {}, "is the same input as"),
        ('"body.layers.plate.material" = ["abs"]', {}, "it makes another case"),
        ('"body.layers.plate.cells" = [10]', {}, "concerns only the mesh"),
        (f'"{THICKNESS}" = ["3 mm"]', {"plan": '"gird"'}, "did you mean grid"),
        (f'"{THICKNESS}" = ["3 mm"]', {"plan": '"sobol"'}, "rows: missing"),
        (f'"{THICKNESS}" = ["3 mm"]', {"plan": '"sobol"', "rows": 8}, "fills a range"),
        (f'"{THICKNESS}" = ["3 mm"]', {"rows": 8}, 'means nothing with plan = "grid"'),
        (f'"{THICKNESS}" = ["3 mm", "4 mm"]\n"body.start" = ["20 degC"]', {"plan": '"list"'}, "as many for each"),
        (f'"{THICKNESS}" = ["3 mm"]', {"plan": '"file"', "file": '"a.csv"'}, "stand beside a file"),
        ("", {"plan": '"file"'}, "file: missing"),
        ("", {}, "no input changes"),
        (f'"{THICKNESS}" = ["3 mm"]', {"file": '"a.csv"'}, 'means nothing with plan = "grid"'),
    ],
)
def test_mistakes_are_told_with_what_to_write(inputs: str, keys: dict[str, Any], words: str) -> None:
    said = mistakes(sweep(inputs, **keys))
    assert words in said and "plate.toml" in said and "line " in said


def test_the_resolved_text_holds_the_sweep() -> None:
    case = read(sweep(GRID, seed=9, outcomes='["mean_temperature"]'))
    again = parse_case(resolved_text(case), "again.toml")
    assert again == case
    for path, column in rows_of(case).items():
        assert np.array_equal(column, rows_of(again)[path])


def test_a_case_with_a_sweep_runs_as_it_stands() -> None:
    from thermokit.studies.run import run

    assert run(read(sweep(GRID))).status == "finished"
