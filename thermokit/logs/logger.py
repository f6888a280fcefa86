"""A logger's file as times and channels: where its table begins and ends, which column is the time, what was not measured.

Everything that was guessed, left out or put in order is told in ``notes``; what could be meant in two ways is a DataError
that says what to write in the case, under ``[fit.reading]`` or at the channel.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError
from thermokit.logs.columns import is_gap, is_gap_number, temperature_unit, without_unit
from thermokit.logs.stamps import StampError, Times, looks_like_stamp, numbers_as_times, plain_numbers, stamps_as_times
from thermokit.logs.table import Grid, find_grid
from thermokit.logs.text import decimal_comma, number, read_lines, shown_lines
from thermokit.units import from_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

GAP = 6.0  # times the usual distance of rows


@dataclass(frozen=True)
class Reading:
    """How to read what a file leaves open; None: as it is found.

    delimiter : ``tab``, ``semicolon``, ``comma``, ``bar``, ``space``; decimal : ``point`` or ``comma``; dates : one of
    ``stamps.DATES``; clock : one of ``stamps.CLOCKS``; time_unit : of a column of bare numbers; time : name of the time's
    column.
    """

    delimiter: str | None = None
    decimal: str | None = None
    dates: str | None = None
    clock: str | None = None
    time_unit: str | None = None
    time: str | None = None


@dataclass(frozen=True)
class Channel:
    """A channel in SI: time [s] as in the log, ascending, each once; temperature [K]; notes on it."""

    name: str
    time: Array
    temperature: Array
    notes: tuple[str, ...] = ()


@dataclass
class Log:
    """A log as it stands in its file.

    time (rows,) [s], ascending: as written where it is elapsed time in bare numbers, else from the file's first row; names,
    units (None: none given) and values (rows, channels) of the channels, in their units, NaN where nothing was measured;
    lines (rows,) of the file; clock : seconds of the day at 0 s, None where not known; notes : what was done.
    """

    file: str
    time: Array
    names: tuple[str, ...]
    units: tuple[str | None, ...]
    values: Array
    lines: Array
    clock: float | None = None
    notes: list[str] = field(default_factory=list)

    def place_of(self, column: str) -> int:
        """Number of the channel of that name, or of that number counted from 1. Raises DataError where there is none."""
        plain = " ".join(column.split()).lower()
        lower = [name.lower() for name in self.names]
        if lower.count(plain) > 1:
            raise DataError(f"{self.file}: {lower.count(plain)} columns are called {column}; give each its own name")
        if plain in lower:
            return lower.index(plain)
        if plain.isdecimal() and 1 <= int(plain) <= len(self.names):
            return int(plain) - 1
        raise DataError(
            f"{self.file}: no channel is called {column!r}; the file has {', '.join(self.names) or 'none'} (or give its number, "
            "from 1, times not counted)"
        )

    def channel(self, column: str, unit: str | None = None) -> Channel:
        """A channel as temperatures; unit : where the file names none.

        Raises DataError where it is no temperature, has no unit, or holds nothing.
        """
        i = self.place_of(column)
        own, name = self.units[i], self.names[i]
        notes = []
        if own is None and unit is None:
            raise DataError(
                f'{self.file}: no unit stands with the channel {name}; write unit = "degC" (or degF, K) at this channel in '
                "the case, or in the heading of the file"
            )
        if own is not None and unit is not None and temperature_unit(unit) != own:
            raise DataError(f"{self.file}: the channel {name} is in {own}, the case says {unit}; take one of them out")
        used = own or temperature_unit(unit or "") or unit or ""
        if used not in ("degC", "degF", "K"):
            couple = (
                "; a couple's mV need its type and its cold junction: let the logger give degC" if "V" in used else ""
            )
            raise DataError(f"{self.file}: the channel {name} is in {used}, which is no temperature{couple}")
        there = np.isfinite(self.values[:, i])
        if np.count_nonzero(there) < 2:
            raise DataError(f"{self.file}: the channel {name} holds {np.count_nonzero(there)} readings")
        kelvin = np.asarray(from_unit(self.values[there, i], used, "temperature"))
        if float(kelvin.min()) <= 0.0:
            line = int(self.lines[there][int(np.argmin(kelvin))])
            raise DataError(f"{self.file}: line {line}: {name} lies below absolute zero: is {used} right?")
        time = self.time[there]
        step = np.diff(time)
        holes = np.flatnonzero(step > GAP * float(np.median(step)))
        for j in holes[:3]:
            notes.append(f"{name}: nothing between {time[j]:.6g} s and {time[j + 1]:.6g} s of the log; not bridged")
        if len(holes) > 3:
            notes.append(f"{name}: and {len(holes) - 3} more such gaps")
        return Channel(name, time, kelvin, tuple(notes))


def read_log(path: str | Path, reading: Reading | None = None) -> Log:
    """The log in a file.

    Raises DataError, naming file and line, for what cannot be read, or not in one way only.
    """
    path, reading = Path(path), reading or Reading()
    lines, notes = read_lines(path)
    grid = find_grid(lines, path, reading.delimiter, notes)
    comma = _comma(grid, path, reading, notes)
    times, used = _times(grid, comma, path, reading, notes)
    kept = [i for i in range(len(grid.columns)) if i not in used]
    if not kept:
        raise DataError(f"{path}: beside the times no column is left")
    values, units = _values(grid, kept, comma, path, notes)
    lines_ = np.array([line for line, _ in grid.rows], float)
    names = tuple(grid.columns[i].name for i in kept)
    log = Log(str(path), times.seconds, names, units, values, lines_, times.clock, [*notes, *times.notes])
    return _ordered(log)


def _comma(grid: Grid, path: Path, reading: Reading, notes: list[str]) -> bool:
    """Whether decimals stand behind commas."""
    if reading.decimal is not None:
        return reading.decimal == "comma"
    cells = (
        (line, without_unit(cell)[0]) for line, row in grid.rows for cell in row if "," in cell or "." in cell
        if not looks_like_stamp(cell)
    )  # fmt: skip
    return decimal_comma(cells, path, notes, '; or write decimal = "point" or "comma" under [fit.reading]')


def _times(grid: Grid, comma: bool, path: Path, reading: Reading, notes: list[str]) -> tuple[Times, list[int]]:
    """(times of the rows, columns that they came from)."""
    used = _time_columns(grid, path, reading, notes)
    cells = [" ".join(row[i].strip() for i in used if i < len(row)) for _, row in grid.rows]
    heading = " and ".join(grid.columns[i].name for i in used)
    try:
        if any(looks_like_stamp(cell) for cell in cells):
            times = stamps_as_times(cells, heading, reading.dates, reading.clock)
        else:
            values = plain_numbers(cells, comma)
            if not np.any(np.isfinite(values)):
                raise StampError(f"the column {heading} holds no times")
            unit = reading.time_unit or grid.columns[used[0]].unit
            times = numbers_as_times(values, unit, heading)
    except StampError as wrong:
        raise DataError(f"{path}: {wrong}") from None
    lost = np.flatnonzero(~np.isfinite(times.seconds))
    if len(lost):
        told = shown_lines([grid.rows[int(i)][0] for i in lost])
        notes.append(f"{told}: no time that can be read; left out")
        grid.rows[:] = [row for row, seconds in zip(grid.rows, times.seconds, strict=True) if np.isfinite(seconds)]
    return Times(times.seconds[np.isfinite(times.seconds)], times.clock, times.notes), used


def _time_columns(grid: Grid, path: Path, reading: Reading, notes: list[str]) -> list[int]:
    """The column of the times; two where date and clock have one each."""
    names = [column.name.lower() for column in grid.columns]
    if reading.time is not None:
        wanted = " ".join(reading.time.lower().split())
        if wanted not in names:
            raise DataError(
                f"{path}: no column is called {reading.time!r} (time under [fit.reading]): {', '.join(names)}"
            )
        return [names.index(wanted)]
    stamped = [i for i in range(len(names)) if _share(grid, i, looks_like_stamp) > 0.5]
    if stamped:
        first, *others = stamped
        sample = next(row[first] for _, row in grid.rows if first < len(row) and looks_like_stamp(row[first]))
        if others and ":" not in sample:  # a date, with its clock beside it
            return [first, others[0]]
        if others:
            named = [grid.columns[i].name for i in stamped]
            elapsed = [i for i in stamped if "elapsed" in grid.columns[i].name.lower()]
            if not elapsed and len({_sample(grid, i) for i in stamped}) > 1 and ":" not in _sample(grid, others[0]):
                return [others[0], first]  # clock first, then its date
            chosen = elapsed[0] if elapsed else first
            notes.append(f"times are taken from {grid.columns[chosen].name}, of {', '.join(named)}")
            return [chosen]
        return [first]
    timed = [i for i, column in enumerate(grid.columns) if column.time]
    if timed:
        return [timed[0]]
    if not grid.named:
        notes.append("no heading: the first column is taken as the time")
        return [0]
    raise DataError(
        f'{path}: no column is a time, of {", ".join(column.name for column in grid.columns)}; write time = "NAME" and '
        'time_unit = "s" under [fit.reading]'
    )


def _sample(grid: Grid, i: int) -> str:
    return next((row[i] for _, row in grid.rows if i < len(row) and looks_like_stamp(row[i])), "")


def _share(grid: Grid, i: int, test: object) -> float:
    """Share of the cells of a column that pass a test; empty ones do not count."""
    cells = [row[i] for _, row in grid.rows if i < len(row) and row[i].strip()]
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0  # type: ignore[operator]


def _values(
    grid: Grid, kept: Sequence[int], comma: bool, path: Path, notes: list[str]
) -> tuple[Array, tuple[str | None, ...]]:
    """Numbers of the channels, and their units."""
    values = np.full((len(grid.rows), len(kept)), np.nan)
    units: list[str | None] = [grid.columns[i].unit for i in kept]
    gaps: dict[str, list[int]] = {}
    wrong: dict[str, list[int]] = {}
    for c, i in enumerate(kept):
        name = grid.columns[i].name
        of_cells: set[str] = set()
        for r, (line, row) in enumerate(grid.rows):
            text, unit = without_unit(row[i]) if i < len(row) else ("", None)
            if is_gap(text):
                gaps.setdefault(name, []).append(line)
                continue
            value = number(text, comma)
            if value is None:
                wrong.setdefault(name, []).append(line)
            elif is_gap_number(value):
                gaps.setdefault(name, []).append(line)
            else:
                values[r, c] = value
                of_cells |= {unit} if unit else set()
        if len(of_cells) == 1 and units[c] is None:
            units[c] = of_cells.pop()
        elif len(of_cells) > 1 or (of_cells and of_cells != {units[c]}):
            raise DataError(
                f"{path}: the column {name} holds several units: {', '.join(sorted({*of_cells, units[c] or ''}))}"
            )
    for name, lines in gaps.items():
        notes.append(f"{name}: nothing measured in {shown_lines(lines)} (blank, OL, 9999 and the like); left out")
    for name, lines in wrong.items():
        notes.append(f"{name}: no number in {shown_lines(lines)}; left out")
    return values, tuple(units)


def _ordered(log: Log) -> Log:
    """Rows in ascending order, those with one stamp averaged; both are told, with their lines."""
    back = np.flatnonzero(np.diff(log.time) < 0.0)
    if len(back):
        log.notes.append(f"{shown_lines([int(log.lines[i + 1]) for i in back])}: time goes back; all rows were sorted")
    order = np.argsort(log.time, kind="stable")
    time, values, lines = log.time[order], log.values[order], log.lines[order]
    first, count = np.unique(time, return_index=True, return_counts=True)[1:]
    if len(first) < len(time):
        again = [int(lines[i + 1]) for i, many in zip(first, count, strict=True) if many > 1]
        log.notes.append(f"{shown_lines(again)}: a time that stands there more than once; such rows were averaged")
        there = np.isfinite(values)
        total = np.add.reduceat(np.where(there, values, 0.0), first)
        measured = np.add.reduceat(there.astype(float), first)
        values = np.where(measured > 0.0, total / np.maximum(measured, 1.0), np.nan)
        time, lines = time[first], lines[first]
    if len(time) < 3:
        raise DataError(f"{log.file}: {len(time)} rows with a time of their own; a log needs more")
    log.time, log.values, log.lines = time, values, lines
    return log
