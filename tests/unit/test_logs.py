"""Loggers' files: the same two channels written in the ways in which loggers write them, and what must be refused.

Expected values are the numbers that each text was made of; clocks and day numbers by Python's own calendar.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from thermokit.errors import DataError
from thermokit.logs.logger import Log, Reading, read_log

SECONDS = np.arange(0.0, 60.0, 5.0)
SKIN = 21.0 + 1.5 * SECONDS  # degC
CORE = 21.0 + 0.5 * SECONDS


def rows(
    stamp, skin=lambda v: f"{v:.2f}", core=lambda v: f"{v:.2f}", mark: str = ",", seconds=SECONDS
) -> str:  # fmt: skip
    """The rows of the two channels."""
    return "".join(f"{stamp(t)}{mark}{skin(21.0 + 1.5 * t)}{mark}{core(21.0 + 0.5 * t)}\n" for t in seconds)


def plain(t: float) -> str:
    return f"{t:g}"


def comma(v: float) -> str:
    return f"{v:.2f}".replace(".", ",")


def begun(text: str) -> datetime:
    return datetime.fromisoformat(text)


def stamps(begin: str, form: str):
    """Stamps of a form from a date and time on."""
    return lambda t: (begun(begin) + timedelta(seconds=float(t))).strftime(form)


def day_number(t: float) -> str:
    since = begun("2024-03-05 14:00:00") + timedelta(seconds=float(t)) - datetime(1899, 12, 30)
    return f"{since.total_seconds() / 86400.0:.9f}"


def elapsed(t: float) -> str:
    return f"{int(t) // 3600:02d}:{int(t) // 60 % 60:02d}:{int(t) % 60:02d}"


VARIANTS = {
    "plain": ("time [s],skin [degC],core [degC]\n" + rows(plain)).encode(),
    "semicolons and decimal commas": ("Zeit [s];skin [°C];core [°C]\n" + rows(plain, comma, comma, ";")).encode(),
    "tabs, Western Windows": ("time (s)\tskin (°C)\tcore (°C)\n" + rows(plain, mark="\t")).encode("cp1252"),
    "mark of UTF-8": ("time_s,skin_degC,core_degC\n" + rows(plain)).encode("utf-8-sig"),
    "UTF-16": ("time [s];skin [degC];core [degC]\n" + rows(plain, mark=";")).encode("utf-16"),
    "UTF-16 without mark": ("time [s];skin [degC];core [degC]\n" + rows(plain, mark=";")).encode("utf-16-le"),
    "sep line": ("sep=;\ntime [min];skin [degC];core [degC]\n" + rows(lambda t: f"{t / 60:.9f}", mark=";")).encode(),
    "preamble and units row": (
        "Logger,SN 1234\nRun,tray 7\nChannels,2\n\nTime,skin,core\nhh:mm:ss,°C,°C\n" + rows(elapsed)
    ).encode(),
    "footer and empty lines": (
        "time [s]|skin [degC]|core [degC]\n\n" + rows(plain, mark="|") + "\nEnd of log\nChecksum: A4\n"
    ).encode(),
    "elapsed hours": ("Elapsed time,skin [degC],core [degC]\n" + rows(elapsed)).encode(),
    "iso stamps": (
        "timestamp,skin [degC],core [degC]\n" + rows(stamps("2024-03-05 14:00:00", "%Y-%m-%dT%H:%M:%S"))
    ).encode(),
    "am and pm": ("Time,skin (C),core (C)\n" + rows(stamps("2024-03-05 11:59:40", "%I:%M:%S %p"))).encode(),
    "past midnight": (
        "clock,skin [K],core [K]\n"
        + rows(stamps("2024-03-05 23:59:40", "%H:%M:%S"), lambda v: f"{v + 273.15:.2f}", lambda v: f"{v + 273.15:.2f}")
    ).encode(),
    "date and clock apart": (
        "Date;Time;skin [degC];core [degC]\n" + rows(stamps("2024-03-25 14:00:00", "%d/%m/%Y;%H:%M:%S"), mark=";")
    ).encode(),
    "one day, order of no matter": (
        "Date/Time,skin [degC],core [degC]\n" + rows(stamps("2024-03-05 14:00:00", "%d/%m/%Y %H:%M:%S"))
    ).encode(),
    "points in dates": (
        "Datum;skin [degC];core [degC]\n" + rows(stamps("2024-03-05 23:59:30", "%d.%m.%Y %H:%M:%S"), mark=";")
    ).encode(),
    "month in words": (
        "Date Time,skin [degC],core [degC]\n" + rows(stamps("2024-03-05 23:59:30", "%d-%b-%Y %H:%M:%S"))
    ).encode(),
    "day numbers": ("Date,skin [degC],core [degC]\n" + rows(day_number)).encode(),
    "units in the cells": (
        "Elapsed,skin,core\n" + rows(elapsed, lambda v: f"{v:.2f} °C", lambda v: f"{v:.2f} °C")
    ).encode(),
    "fahrenheit": (
        "time [s],skin [degF],core [°F]\n"
        + rows(plain, lambda v: f"{1.8 * v + 32:.3f}", lambda v: f"{1.8 * v + 32:.3f}")
    ).encode(),
    "spaces": ("time [s]  skin [degC]  core [degC]\n" + rows(plain, mark="   ")).encode(),
    "quoted, delimiter at the end": (
        '"time [s]";"skin [degC]";"core [degC]";\n'
        + "".join(
            f'"{line}"\n'.replace(";", '";"').replace('"\n', '";\n') for line in rows(plain, mark=";").splitlines()
        )
    ).encode(),
}


def read(tmp_path: Path, content: bytes | str, reading: Reading | None = None) -> Log:
    file = tmp_path / "log.csv"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_log(file, reading)


@pytest.mark.parametrize("content", VARIANTS.values(), ids=VARIANTS.keys())
def test_every_way_of_writing_gives_the_same(tmp_path: Path, content: bytes) -> None:
    log = read(tmp_path, content)
    for name, expected in (("skin", SKIN), ("core", CORE)):
        channel = log.channel(name)
        assert channel.time == pytest.approx(SECONDS, abs=2e-4)
        assert channel.temperature == pytest.approx(expected + 273.15, abs=0.011)
    assert log.notes  # what was guessed is told


@pytest.mark.parametrize(
    ("variant", "words"),
    [
        ("semicolons and decimal commas", "decimal commas"),
        ("tabs, Western Windows", "Western Windows"),
        ("preamble and units row", "lines 1, 2, 3: text before the table"),
        ("footer and empty lines", "text after the last row"),
        ("past midnight", "past midnight"),
        ("day numbers", "day numbers of a spreadsheet"),
        ("points in dates", "day first"),
    ],
)
def test_guesses_are_told(tmp_path: Path, variant: str, words: str) -> None:
    assert any(words in note for note in read(tmp_path, VARIANTS[variant]).notes)


def test_clock_of_the_first_row(tmp_path: Path) -> None:
    assert read(tmp_path, VARIANTS["iso stamps"]).clock == 14 * 3600.0
    assert read(tmp_path, VARIANTS["am and pm"]).clock == 11 * 3600.0 + 59 * 60 + 40
    assert read(tmp_path, VARIANTS["day numbers"]).clock == pytest.approx(14 * 3600.0, abs=1e-3)
    assert read(tmp_path, VARIANTS["plain"]).clock is None


def test_what_was_not_measured_is_a_gap(tmp_path: Path) -> None:
    text = "time [s],T1 [degC],T2 [degC]\n0,20,30\n5,OL,31\n10,21,9999\n15,,32\n20,22,---\n25,22.5,33\n30,9.9E+37,34\n"
    log = read(tmp_path, text)
    assert log.channel("T1").time.tolist() == [0.0, 10.0, 20.0, 25.0]
    assert log.channel("T2").temperature.tolist() == pytest.approx([303.15, 304.15, 305.15, 306.15, 307.15])
    assert any("T1" in note and "lines 3, 5, 8" in note for note in log.notes)


def test_unsorted_and_repeated_rows(tmp_path: Path) -> None:
    text = "time [s],T1 [degC]\n0,20\n10,22\n5,21\n10,24\n15,25\n"
    log = read(tmp_path, text)
    assert log.time.tolist() == [0.0, 5.0, 10.0, 15.0]
    assert log.channel("T1").temperature == pytest.approx(np.array([20.0, 21.0, 23.0, 25.0]) + 273.15)
    assert any("goes back" in note and "line 4" in note for note in log.notes)
    assert any("averaged" in note for note in log.notes)


def test_a_hole_is_told_and_not_bridged(tmp_path: Path) -> None:
    text = "time [s],T1 [degC]\n" + "".join(f"{t},20\n" for t in [*range(10), *range(60, 70)])
    channel = read(tmp_path, text).channel("T1")
    assert len(channel.time) == 20
    assert "nothing between 9 s and 60 s" in channel.notes[0]


def test_remarks_between_rows_are_left_out(tmp_path: Path) -> None:
    log = read(tmp_path, "time [s],T1 [degC]\n0,20\n5,21\nlogger paused\n10,22\n15,23\n")
    assert len(log.time) == 4
    assert any("line 4: no row of the table" in note for note in log.notes)


def test_clocks_with_decimals_and_beyond_a_day(tmp_path: Path) -> None:
    log = read(tmp_path, "Time,T1 [degC]\n14:00:00.5,20\n14:00:01.0,21\n14:00:01.5,22\n")
    assert log.time == pytest.approx([0.0, 0.5, 1.0])
    log = read(tmp_path, "elapsed,T1 [degC]\n23:59:00,20\n24:00:00,21\n25:30:00,22\n")
    assert log.time == pytest.approx([0.0, 60.0, 5460.0])


def test_a_channel_by_its_number(tmp_path: Path) -> None:
    log = read(tmp_path, VARIANTS["plain"])
    assert log.channel("2").name == "core"


def test_without_a_heading(tmp_path: Path) -> None:
    log = read(tmp_path, "0;20,5\n5;21,5\n10;22,5\n", Reading(time_unit="s"))
    assert log.channel("1", "degC").temperature == pytest.approx(np.array([20.5, 21.5, 22.5]) + 273.15)


AMBIGUOUS = {
    "day or month first": (
        "Date,T1 [degC]\n05/03/2024 23:59:50,20\n06/03/2024 00:00:00,21\n06/03/2024 00:00:10,22\n",
        'dates = "day first"',
        Reading(dates="day first"),
        20.0,
    ),
    "hours or minutes first": (
        "Time,T1 [degC]\n10:00,20\n10:05,21\n10:10,22\n", 'clock = "hh:mm"', Reading(clock="mm:ss"), 10.0,
    ),
    "no unit of time": ("time,T1 [degC]\n0,20\n5,21\n10,22\n", 'time_unit = "s"', Reading(time_unit="min"), 600.0),
}  # fmt: skip


@pytest.mark.parametrize(("text", "advice", "reading", "last"), AMBIGUOUS.values(), ids=AMBIGUOUS.keys())
def test_what_has_two_meanings_is_refused_and_then_told(
    tmp_path: Path, text: str, advice: str, reading: Reading, last: float
) -> None:
    with pytest.raises(DataError, match=r"fit\.reading") as wrong:
        read(tmp_path, text)
    assert advice in str(wrong.value)
    assert read(tmp_path, text, reading).time[-1] == pytest.approx(last)


def test_a_month_cannot_be_above_twelve(tmp_path: Path) -> None:
    log = read(tmp_path, "Date,T1 [degC]\n30/01/2024 23:59:50,20\n31/01/2024 00:00:00,21\n31/01/2024 00:00:10,22\n")
    assert log.time.tolist() == [0.0, 10.0, 20.0]


REFUSED = {
    "commas for columns and decimals": ("time [s],T1 [degC]\n0,20,5\n5,21,5\n10,22,5\n", "decimal commas too"),
    "commas and points": ("time [s];T1 [degC]\n0;20,5\n5;21.5\n10;22,5\n", "side by side"),
    "no table": ("nothing\nto see\nhere\n", "no table"),
    "no times": ("skin [degC],core [degC]\n20,21\n22,23\n24,25\n", "no column is a time"),
    "no date": ("Date,T1 [degC]\n32/13/2024 10:00:00,20\n32/13/2024 10:00:05,21\n33/13/2024 10:00:10,22\n", "do not exist"),
    "several units": ("time [s],T1\n0,20 °C\n5,70 °F\n10,22 °C\n", "several units"),
    "two rows": ("time [s],T1 [degC]\n0,20\n5,21\n", "no table"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "words"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_read_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(DataError, match=r"log\.csv") as wrong:
        read(tmp_path, text)
    assert words in str(wrong.value)


CHANNELS = {
    "millivolts": ("time [s],T1 [mV]\n0,0.8\n5,0.9\n10,1.0\n", "T1", None, "cold junction"),
    "no unit": ("time [s],T1\n0,20\n5,21\n10,22\n", "T1", None, 'unit = "degC"'),
    "other unit": ("time [s],T1 [degF]\n0,70\n5,71\n10,72\n", "T1", "degC", "take one of them out"),
    "no such": ("time [s],T1 [degC]\n0,70\n5,71\n10,72\n", "T9", None, "no channel is called"),
    "two of the name": ("time [s],T1 [degC],T1 [degC]\n0,20,20\n5,21,21\n10,22,22\n", "T1", None, "2 columns are called"),
    "all open": ("time [s],T1 [degC]\n0,OL\n5,OL\n10,OL\n", "T1", None, "holds 0 readings"),
    "too cold": ("time [s],T1 [K]\n0,20\n5,-3\n10,22\n", "T1", None, "absolute zero"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "name", "unit", "words"), CHANNELS.values(), ids=CHANNELS.keys())
def test_channels_that_are_no_temperatures(
    tmp_path: Path, text: str, name: str, unit: str | None, words: str
) -> None:  # fmt: skip
    log = read(tmp_path, text)
    with pytest.raises(DataError) as wrong:
        log.channel(name, unit)
    assert words in str(wrong.value)


def test_no_file_no_text_no_end(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(DataError, match="empty"):
        read(tmp_path, b"")
    with pytest.raises(DataError, match="no text"):
        read(tmp_path, b"\x00\x01\x02" * 50)


def test_a_long_log_is_read_quickly(tmp_path: Path) -> None:
    import time

    text = "time [s];T1 [degC];T2 [degC]\n" + "".join(f"{t};{20 + math.sin(t):.2f};21\n" for t in range(20_000))
    begin = time.process_time()
    assert len(read(tmp_path, text).time) == 20_000
    assert time.process_time() - begin < 10.0
