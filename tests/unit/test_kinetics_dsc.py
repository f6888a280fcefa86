"""Reading a calorimeter's files: every spelling that is usual, every mistake with file and line, nothing lost in silence."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from made_dsc import EXAMPLE_HOLD, EXAMPLES, exact_runs, write_examples

from thermokit.errors import DataError
from thermokit.kinetics.dsc import Run, read_run
from thermokit.kinetics.dsc_columns import column_of

CASES = Path(__file__).parents[2] / "cases"
ROWS = 60
TIME = np.linspace(0.0, 590.0, ROWS)  # s
CELSIUS = 60.0 + TIME / 6.0  # 10 K/min
FLOW = 0.05 + 1.2 * np.exp(-(((CELSIUS - 110.0) / 12.0) ** 2))  # W/g
DEGREE = 1.0 / (1.0 + np.exp(-(CELSIUS - 110.0) / 6.0))


def text(columns: str, delimiter: str = ";", comma: bool = False, heading: str = "", before: str = "") -> str:
    """A file of the columns t (s), T (degC), q (W/g), a (degree)."""
    values = {"t": TIME, "T": CELSIUS, "q": FLOW, "a": DEGREE}
    words = {"t": "time [s]", "T": "temperature [degC]", "q": "heat flow [W/g]", "a": "conversion"}
    lines = [heading or delimiter.join(words[c] for c in columns)]
    for i in range(ROWS):
        row = [f"{values[c][i]:.5f}" for c in columns]
        lines.append(delimiter.join(row).replace(".", ",") if comma else delimiter.join(row))
    return before + "\n".join(lines) + "\n"


@pytest.fixture
def written(tmp_path: Path) -> Callable[..., Path]:
    def write(content: str | bytes, name: str = "run.csv") -> Path:
        file = tmp_path / name
        file.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return file

    return write


def check(run: Run, flow: bool = True) -> None:
    """The run of the arrays above."""
    assert run.kind == "ramp" and run.heating_rate * 60.0 == pytest.approx(10.0)
    assert run.time == pytest.approx(TIME, abs=1e-3)
    assert run.temperature == pytest.approx(CELSIUS + 273.15, abs=1e-3)
    assert run.signal == pytest.approx(1e3 * FLOW if flow else DEGREE, rel=1e-3, abs=1e-4)
    assert run.measures == ("heat_flow" if flow else "conversion")


# -- what is read --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("delimiter", "comma"), [
    (";", False), (";", True), ("\t", False), ("\t", True), (",", False), ("|", False), ("  ", False), (" ; ", True)
])  # fmt: skip
def test_delimiters_and_decimal_commas(written: Callable[..., Path], delimiter: str, comma: bool) -> None:
    run = read_run(written(text("tTq", delimiter, comma)))
    check(run)
    assert bool([n for n in run.notes if "decimal commas" in n]) == comma


def test_quoted_decimal_commas_between_commas(written: Callable[..., Path]) -> None:
    rows = [f'"{t:.3f}","{c:.4f}","{q:.5f}"'.replace(".", ",") for t, c, q in zip(TIME, CELSIUS, FLOW, strict=True)]
    check(read_run(written("time (s),temperature (degC),heat flow (W/g)\n" + "\n".join(rows))))


@pytest.mark.parametrize("heading", [
    "time [s];temperature [degC];heat flow [W/g]",
    "Time/s;Temp./°C;DSC/(mW/mg)",
    "t (s);T (°C);Heat Flow exo up (W/g)",
    "time_s;temp_C;heat flow [mW/mg]",
    "# time [s];temperature [degC];signal [W/g]",
    '"time [s]";"temperature [degC]";"heat flow [W/g]"',
    "time;temperature;heat flow\ns;°C;W/g",
    "time;temperature;heat flow\n[s];[degC];[W/g]",
])  # fmt: skip
def test_headings(written: Callable[..., Path], heading: str) -> None:
    check(read_run(written(text("tTq", heading=heading))))


def test_units_are_converted(written: Callable[..., Path]) -> None:
    rows = [
        f"{t / 60:.7f};{c * 1.8 + 32:.6f};{q * 8.2:.7f}" for t, c, q in zip(TIME, CELSIUS, FLOW, strict=True)
    ]  # fmt: skip
    file = written("time [min];temperature [degF];heat flow [mW]\n" + "\n".join(rows))
    check(read_run(file, mass="8.2 mg"))
    noted = written("# mass: 8.2 mg\n" + file.read_text(), "noted.csv")
    run = read_run(noted)
    check(run)
    assert "mass 8.2 mg, as the file says" in run.notes


def test_conversion_as_a_share_or_in_per_cent(written: Callable[..., Path]) -> None:
    check(read_run(written(text("tTa"))), flow=False)
    rows = [f"{t};{c};{100 * a}" for t, c, a in zip(TIME, CELSIUS, DEGREE, strict=True)]
    check(read_run(written("time [s];temperature [degC];conversion [%]\n" + "\n".join(rows))), flow=False)


def test_temperature_without_time_takes_a_heating_rate(written: Callable[..., Path]) -> None:
    check(read_run(written(text("Tq")), rate="10 K/min"))
    check(read_run(written(text("Tq", before="# heating rate: 10 K/min\n"))))
    with pytest.raises(DataError, match="temperature without time; give the heating rate: --rate"):
        read_run(written(text("Tq")))


def test_time_without_temperature_takes_that_of_the_hold(written: Callable[..., Path]) -> None:
    for run in (
        read_run(written(text("tq")), at="130 degC"),
        read_run(written(text("tq", before="# temperature = 130 degC\n"))),
    ):
        assert run.kind == "hold" and run.held_at == pytest.approx(403.15) and run.heating_rate == 0.0
    with pytest.raises(DataError, match="time without temperature; give that of the hold: --at"):
        read_run(written(text("tq")))


def test_comments_preamble_and_other_columns(written: Callable[..., Path]) -> None:
    rows = [f"{i};{t};{c};{q};{c - 1}" for i, (t, c, q) in enumerate(zip(TIME, CELSIUS, FLOW, strict=True))]
    content = "Sample: resin of nobody\n\n% made up\nindex;time [s];sample temperature [degC];heat flow [W/g];"
    content += (
        "program temperature [degC]\n# a comment\n" + "\n".join(rows[:30]) + "\n\n# another\n" + "\n".join(rows[30:])
    )
    run = read_run(written(content + "\nend of data\n"))
    check(run)
    assert "columns not used: index, program temperature" in run.notes
    assert [note for note in run.notes if "text after the last row" in note and "line" in note]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(written: Callable[..., Path], encoding: str) -> None:
    content = text("tTq", heading="time [s];temperature [°C];heat flow [W/g]")
    run = read_run(written(content.encode(encoding)))
    check(run)
    assert bool([n for n in run.notes if "not UTF-8" in n]) == (encoding == "cp1252")


@pytest.mark.parametrize(("cell", "value"), [
    ("1.2e-1", 0.12), ("−0.5", -0.5), ("+.5", 0.5), ("1D-1", 0.1), (" 0.3 ", 0.3), ("3.", 3.0)
])  # fmt: skip
def test_numbers(written: Callable[..., Path], cell: str, value: float) -> None:
    lines = text("tTq").splitlines()
    lines[5] = lines[5].rsplit(";", 1)[0] + f";{cell}"
    assert read_run(written("\n".join(lines))).signal[4] == pytest.approx(1e3 * value)


def test_thousands_are_parted_by_the_other_sign(written: Callable[..., Path]) -> None:
    content = text("tTq").replace(";", "\t")
    lines = content.splitlines()
    lines.append("1,200.5\t80.0\t0.05")
    run = read_run(written("\n".join(lines)))
    assert run.time[-1] == pytest.approx(1200.5)


# -- rows out of order, twice, missing -------------------------------------------------------------------------------------


def test_unsorted_rows_are_sorted_and_told(written: Callable[..., Path]) -> None:
    lines = text("tTq").splitlines()
    lines[20], lines[30] = lines[30], lines[20]
    run = read_run(written("\n".join(lines)))
    check(run)
    (note,) = [n for n in run.notes if "goes back" in n]
    assert "lines 22, 31" in note and "sorted by time" in note


def test_repeated_stamps_are_averaged_and_told(written: Callable[..., Path]) -> None:
    lines = text("tTq").splitlines()
    time, celsius, flow = lines[10].split(";")
    lines.insert(11, f"{time};{celsius};{float(flow) + 0.02}")
    run = read_run(written("\n".join(lines)))
    assert run.signal[9] == pytest.approx(1e3 * (FLOW[9] + 0.01), rel=1e-3)
    assert len(run.time) == ROWS
    assert [n for n in run.notes if n.startswith("line 12:") and "averaged" in n]


def test_a_gap_is_told_with_its_place(written: Callable[..., Path]) -> None:
    lines = text("tTq").splitlines()
    del lines[31:41]
    run = read_run(written("\n".join(lines)))
    assert len(run.time) == ROWS - 10
    (note,) = [n for n in run.notes if "gap" in n]
    assert "from 290 to 400 s before line 32" in note and "straight line" in note


@pytest.mark.parametrize("cell", ["", "NaN", "n/a", "---"])
def test_rows_with_an_empty_cell_are_left_out_and_told(written: Callable[..., Path], cell: str) -> None:
    lines = text("tTq").splitlines()
    lines[7] = lines[7].rsplit(";", 1)[0] + f";{cell}"
    run = read_run(written("\n".join(lines)))
    assert len(run.time) == ROWS - 1
    assert [n for n in run.notes if n.startswith("line 8:") and "left out (1 of 60 rows)" in n]


def test_exotherms_downwards_are_turned_round(written: Callable[..., Path]) -> None:
    rows = [f"{t};{c};{-q}" for t, c, q in zip(TIME, CELSIUS, FLOW, strict=True)]
    run = read_run(written("time [s];temperature [degC];heat flow [W/g]\n" + "\n".join(rows)))
    check(run)
    assert [n for n in run.notes if "downwards" in n]


def test_what_stands_before_a_hold_or_a_ramp_is_not_used_but_counted(written: Callable[..., Path]) -> None:
    celsius = np.minimum(60.0 + 2.0 * TIME, 130.0)
    rows = [f"{t};{c};{q}" for t, c, q in zip(TIME, celsius, FLOW[::-1], strict=True)]
    run = read_run(written("time [s];temperature [degC];heat flow [W/g]\n" + "\n".join(rows)))
    assert run.kind == "hold" and run.held_at == pytest.approx(403.15)
    assert np.flatnonzero(~run.counts).tolist() == [0, 1, 2, 3]
    assert [n for n in run.notes if "the first 4 rows stand before the hold at 130 degC" in n]
    celsius = np.maximum(60.0, 60.0 + (TIME - 60.0) / 6.0)
    rows = [f"{t};{c};{q}" for t, c, q in zip(TIME, celsius, FLOW, strict=True)]
    run = read_run(written("time [s];temperature [degC];heat flow [W/g]\n" + "\n".join(rows)))
    assert run.kind == "ramp" and run.heating_rate * 60 == pytest.approx(10.0, rel=1e-3)
    assert 0 < np.count_nonzero(~run.counts) < 8


def test_any_other_programme_is_one(written: Callable[..., Path]) -> None:
    celsius = 80.0 + 40.0 * np.floor(TIME / 200.0)
    rows = [f"{t};{c};{q}" for t, c, q in zip(TIME, celsius, FLOW, strict=True)]
    run = read_run(written("time [s];temperature [degC];heat flow [W/g]\n" + "\n".join(rows)))
    assert run.kind == "programme" and [n for n in run.notes if "not for the lines of Kissinger" in n]


# -- what cannot be read ---------------------------------------------------------------------------------------------------


def spoiled(line: int, cell: str, column: int = 2) -> str:
    lines = text("tTq").splitlines()
    cells = lines[line - 1].split(";")
    cells[column] = cell
    lines[line - 1] = ";".join(cells)
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", ["it is empty"]),
        ("\n\n  \n", ["it is empty"]),
        (b"\x89PNG\x00\x00\x01", ["is no text file"]),
        ("1;2;3\n4;5;6\n", ["no line names the columns", 'time [s];temperature [degC];heat flow [W/g]']),
        (text("tTq", heading="time;temperature;heat flow"), ["line 1: no unit", "time, temperature, heat flow"]),
        (text("tTq", heading="time [s];temperature [degC];heat flow [parsec]"), ["line 1", "none that is known", "heat flow"]),
        (text("tTq", heading="time [s];temperature [degC];pressure [bar]"), ["no line names the columns"]),
        (spoiled(17, "much"), ['line 17: "much" in the column heat flow is no number']),
        (spoiled(9, "0.5 W/g"), ['line 9: "0.5 W/g"']),
        (spoiled(9, "12:30", 0), ['line 9: "12:30" in the column time']),
        (spoiled(9, "1e999"), ['line 9: "1e999"']),
        (spoiled(9, "inf"), ['line 9: "inf"']),
        (spoiled(12, "0.1;5;6"), ["line 12 has 5 cells, the heading names 3"]),
        (spoiled(12, "0,1"), ["side by side: 0,1 in line 12", "in line 2"]),
        (text("tTq", ",", True, heading="time [s],temperature [degC],heat flow [W/g]"), ["6 cells between commas", "decimal"]),
        ("\n".join(text("tTq").splitlines()[:8]), ["7 rows with numbers; a run needs 12"]),
        (text("tTq", heading="time [s];temperature [degC];heat flow [mW]"), ["without the mass", "--mass"]),
        (text("tTq", heading="time [s];temperature [degC];conversion"), ["conversion runs from"]),
        (text("tTq", heading="time [s];temperature [K];heat flow [W/g]").replace(";60.00000", ";-60"), ["below absolute zero"]),
    ],
)  # fmt: skip
def test_mistakes_name_the_file_and_the_line(
    written: Callable[..., Path], content: str | bytes, says: list[str]
) -> None:
    file = written(content)
    with pytest.raises(DataError) as caught:
        read_run(file)
    message = str(caught.value)
    assert str(file) in message
    for words in says:
        assert words in message, message
    assert "Traceback" not in message and len(message) < 1500


def test_conversion_in_per_cent_without_its_unit_is_asked_for(written: Callable[..., Path]) -> None:
    rows = [f"{t};{c};{100 * a}" for t, c, a in zip(TIME, CELSIUS, DEGREE, strict=True)]
    with pytest.raises(DataError, match=r"goes up to .*write its unit: conversion \[%\]"):
        read_run(written("time [s];temperature [degC];conversion\n" + "\n".join(rows)))
    with pytest.raises(DataError, match="does not rise"):
        read_run(written("time [s];temperature [degC];conversion\n"
                         + "\n".join(f"{t};{c};{1 - a}" for t, c, a in zip(TIME, CELSIUS, DEGREE, strict=True))))  # fmt: skip


def test_many_mistakes_are_counted(written: Callable[..., Path]) -> None:
    lines = text("tTq").splitlines()
    for i in range(10, 30):
        lines[i] = lines[i].rsplit(";", 1)[0] + ";x"
    with pytest.raises(DataError, match="and 14 more"):
        read_run(written("\n".join(lines)))


def test_missing_files_and_folders_are_plain_messages(tmp_path: Path) -> None:
    for path in (tmp_path / "nowhere.csv", tmp_path):
        with pytest.raises(DataError, match="cannot be read"):
            read_run(path)


@pytest.mark.parametrize(("option", "value", "says"), [
    ("mass", "8.2", "the unit is missing"), ("mass", "8,2 mg", "decimal comma"), ("mass", "-1 mg", "above zero"),
    ("mass", "8 K", "not of mass"),
])  # fmt: skip
def test_options_in_wrong_units(written: Callable[..., Path], option: str, value: str, says: str) -> None:
    file = written(text("tTq", heading="time [s];temperature [degC];heat flow [mW]"))
    with pytest.raises(DataError, match=says):
        read_run(file, **{option: value})


@pytest.mark.parametrize(("heading", "quantity", "unit"), [
    ("time [min]", "time", "min"), ("t", "time", None), ("T [K]", "temperature", "K"), ("T", "temperature", None),
    ("alpha", "conversion", ""), ("degree of cure [%]", "conversion", "%"), ("Heat Flow (mW)", "heat_flow", "mW"),
    ("mass [mg]", "", None), ("signal [uW]", "heat_flow", "uW"), ("elapsed [h]", "time", "h"),
])  # fmt: skip
def test_what_a_heading_says(heading: str, quantity: str, unit: str | None) -> None:
    found = column_of(heading)
    assert (found.quantity, found.unit) == (quantity, unit)


# -- the example files -----------------------------------------------------------------------------------------------------


def test_the_examples_are_what_their_generator_writes(tmp_path: Path) -> None:
    write_examples(tmp_path)
    made = exact_runs(rows=321)
    for (_, time, temperature, _), name in zip(made.runs, [*EXAMPLES, EXAMPLE_HOLD], strict=True):
        here, again = read_run(CASES / name), read_run(tmp_path / name)
        assert here.notes == ()
        assert here.time == pytest.approx(time, abs=0.06) and here.temperature == pytest.approx(temperature, abs=0.006)
        # the last digit may differ between machines
        assert here.signal == pytest.approx(again.signal, abs=0.11)
        assert "invented" in (CASES / name).read_text(encoding="utf-8").splitlines()[0]
