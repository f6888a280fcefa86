"""A calorimeter's run from its file: heating ramp or hold, with times, temperatures, and heat flow or conversion.

The text is read by ``dsc_text.py``. Here rows are put in order, repeated ones averaged, gaps told, missing columns made
from what is known (heating rate, temperature of a hold, mass), and exotherms turned upwards. Whatever is done is told in
``notes``; what cannot be done is a DataError that names the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError
from thermokit.kinetics.dsc_text import Table, read_table
from thermokit.logs.text import MOST_SHOWN, shown_lines
from thermokit.units import UnitError, parse

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FEWEST = 12  # rows below which a run says nothing about its shape
ZERO_CELSIUS = 273.15
_GAP = 6.0  # times the usual distance of rows
_HELD = 1.5  # K within which a temperature counts as held
_STRAIGHT = 0.02  # share of the range by which a ramp may stray from its line
_RAMPED = 0.6  # share of the time that a ramp's straight part must fill


@dataclass(frozen=True)
class Run:
    """One run of a calorimeter, in SI.

    name : of the file; kind : ``ramp``, ``hold`` or ``programme`` (anything else); time [s] from 0 and temperature [K] :
    (rows,); signal : (rows,) heat flow [W/kg], exotherms positive, or degree of cure [-]; measures : ``heat_flow`` or
    ``conversion``; counts : (rows,) whether a row's signal is used (not while a hold is still being reached);
    heating_rate : of a ramp [K/s], else 0; notes : what was done to the file's rows.
    """

    name: str
    kind: str
    time: Array
    temperature: Array
    signal: Array
    measures: str
    counts: NDArray[np.bool_]
    heating_rate: float
    notes: tuple[str, ...] = ()

    @property
    def held_at(self) -> float:
        """Temperature of a hold [K]."""
        return float(np.median(self.temperature[self.counts]))

    @property
    def words(self) -> str:
        """What the run is, in a few words."""
        if self.kind == "ramp":
            return f"{self.heating_rate * 60.0:.3g} K/min"
        return f"held at {self.held_at - ZERO_CELSIUS:.4g} degC" if self.kind == "hold" else "a programme"


def read_run(path: str | Path, mass: str | None = None, rate: str | None = None, at: str | None = None) -> Run:
    """The run that a file holds.

    mass : of the sample, with its unit, for heat flow in W; rate : heating rate, for files without time; at : temperature
    of a hold, for files without temperature. Each may also stand in the file as a comment (``# mass: 8.2 mg``, ``# heating
    rate: 10 K/min``, ``# temperature: 120 degC``).

    Raises DataError, with file and line, for what cannot be read.
    """
    path = Path(path)
    table = read_table(path)
    given = {"mass": mass, "rate": rate, "at": at}
    rows = np.arange(len(table.lines))
    columns = _whole_rows(table, rows)
    if len(next(iter(columns.values()), [])) < FEWEST:
        raise DataError(
            f"{path}: {len(next(iter(columns.values()), []))} rows with numbers; a run needs {FEWEST} and more"
        )
    measures = "heat_flow" if "heat_flow" in columns else "conversion"
    signal = _per_mass(table, columns.pop(measures), measures, given["mass"])
    columns["signal"] = signal
    ordered = _ordered(table, columns, "time" if "time" in columns else "temperature")
    time, temperature, signal = _completed(table, ordered, given)
    if np.min(temperature) <= 0.0:
        raise DataError(f"{path}: a temperature below absolute zero: is the unit of that column right?")
    kind, heating, counts = _kind(table, time, temperature)
    signal = _upright(table, time, signal, counts, kind) if measures == "heat_flow" else _degree(table, signal)
    return Run(
        path.stem, kind, time - time[0], temperature, signal, measures, counts, heating, tuple(table.notes)
    )  # fmt: skip


def _whole_rows(table: Table, rows: NDArray[np.intp]) -> dict[str, Array]:
    """The columns without rows in which a cell is empty; those are told."""
    whole = np.all([np.isfinite(values) for values in table.columns.values()], axis=0)
    if not np.all(whole):
        empty = [int(line) for line in table.lines[~whole]]
        table.notes.append(
            f"{shown_lines(empty)}: a cell without a number; left out ({len(empty)} of {len(rows)} rows)"
        )
    table.lines = table.lines[whole]
    return {name: values[whole] for name, values in table.columns.items()}


def _fact(table: Table, given: str | None, keys: tuple[str, ...], dimension: str, option: str) -> float | None:
    """A value that the command or a comment of the file gives, in SI; None where neither does."""
    text = given
    for key in keys:
        if text is None and key in table.facts:
            text = table.facts[key]
            table.notes.append(f"{key} {text}, as the file says")
    if text is None:
        return None
    try:
        value = parse(text, dimension)
    except UnitError as wrong:
        where = f"--{option}" if given is not None else "a comment"
        raise DataError(f"{table.file}: {where}: {wrong}") from None
    if not value > 0.0:
        raise DataError(f"{table.file}: {option} {text} must be above zero")
    return value


def _per_mass(table: Table, signal: Array, measures: str, given: str | None) -> Array:
    """Heat flow for each kilogram."""
    if measures != "heat_flow" or table.per_mass:
        return signal
    mass = _fact(table, given, ("mass", "sample mass"), "mass", "mass")
    if mass is None:
        raise DataError(
            f'{table.file}: heat flow stands there without the mass; give --mass "8.2 mg" or a comment "# mass: 8.2 mg"'
        )
    return signal / mass


def _ordered(table: Table, columns: dict[str, Array], by: str) -> dict[str, Array]:
    """Rows in ascending order, repeated ones averaged; both are told, with their lines."""
    key, lines = columns[by], table.lines
    back = np.flatnonzero(np.diff(key) < 0.0)
    unit = ("s", 0.0) if by == "time" else ("degC", ZERO_CELSIUS)
    if len(back):
        found = [int(lines[i + 1]) for i in back]
        table.notes.append(f"{shown_lines(found)}: {by} goes back; all rows were sorted by {by}")
    order = np.argsort(key, kind="stable")
    columns = {name: values[order] for name, values in columns.items()}
    lines = lines[order]
    values, first, count = np.unique(columns[by], return_index=True, return_counts=True)
    if len(values) < len(key):
        again = [int(lines[i + 1]) for i, many in zip(first, count, strict=True) if many > 1]
        table.notes.append(f"{shown_lines(again)}: a {by} that stands there twice; such rows were averaged")
        columns = {name: np.add.reduceat(entry, first) / count for name, entry in columns.items()}
        lines = lines[first]
    if len(values) < FEWEST:
        raise DataError(f"{table.file}: {len(values)} rows with a {by} of their own; a run needs {FEWEST} and more")
    step = np.diff(values)
    gaps = np.flatnonzero(step > _GAP * float(np.median(step)))
    for i in gaps[:MOST_SHOWN]:
        low, high = values[i] - unit[1], values[i + 1] - unit[1]
        table.notes.append(
            f"gap from {low:.6g} to {high:.6g} {unit[0]} before line {int(lines[i + 1])}: bridged by a straight line"
        )
    if len(gaps) > MOST_SHOWN:
        table.notes.append(f"and {len(gaps) - MOST_SHOWN} more gaps like these")
    table.lines = lines
    return columns


def _completed(table: Table, columns: dict[str, Array], given: dict[str, str | None]) -> tuple[Array, Array, Array]:
    """(time, temperature, signal); a column that is missing is made from the heating rate or the temperature of the hold."""
    signal = columns["signal"]
    if "time" in columns and "temperature" in columns:
        return columns["time"], columns["temperature"], signal
    rate = _fact(table, given["rate"], ("heating rate", "rate"), "heating_rate", "rate")
    if "time" not in columns:
        if rate is None:
            raise DataError(
                f'{table.file}: temperature without time; give the heating rate: --rate "10 K/min" or a comment '
                '"# heating rate: 10 K/min"'
            )
        temperature = columns["temperature"]
        return (temperature - temperature[0]) / rate, temperature, signal
    at = _fact(table, given["at"], ("temperature", "hold temperature", "isothermal temperature"), "temperature", "at")
    if at is None:
        raise DataError(
            f'{table.file}: time without temperature; give that of the hold: --at "120 degC" or a comment "# temperature: '
            '120 degC"'
        )
    return columns["time"], np.full(len(signal), at), signal


def _kind(table: Table, time: Array, temperature: Array) -> tuple[str, float, NDArray[np.bool_]]:
    """(kind, heating rate [K/s], rows that count)."""
    everything = np.ones(len(time), dtype=bool)
    late = time >= time[0] + 0.4 * (time[-1] - time[0])
    at = float(np.median(temperature[late]))
    if np.max(np.abs(temperature[late] - at)) <= _HELD:
        held = np.abs(temperature - at) <= _HELD
        begin = int(np.argmax(held))
        counts = everything & (np.arange(len(time)) >= begin)
        if np.count_nonzero(counts) < FEWEST:
            raise DataError(
                f"{table.file}: a hold at {at - ZERO_CELSIUS:.4g} degC that only the last {np.count_nonzero(counts)} rows "
                f"reach; a run needs {FEWEST} and more there (are the times right?)"
            )
        if begin:
            table.notes.append(
                f"the first {begin} rows stand before the hold at {at - ZERO_CELSIUS:.4g} degC is reached: their cure is "
                "counted, their signal is not used"
            )
        return "hold", 0.0, counts
    share = (time - time[0]) / (time[-1] - time[0])
    middle = (share > 0.3) & (share < 0.9)
    slope, start = np.polyfit(time[middle], temperature[middle], 1)
    stray = np.abs(temperature - start - slope * time)
    allowed = max(1.0, _STRAIGHT * float(np.ptp(temperature)))
    off = np.flatnonzero(stray > allowed)
    begin = int(off[off < np.argmax(share > 0.3)].max(initial=-1)) + 1
    end = int(off[off > np.argmax(share > 0.3)].min(initial=len(time)))
    if slope > 0.0 and share[end - 1] - share[begin] >= _RAMPED:
        rows = np.arange(len(time))
        counts = (rows >= begin) & (rows < end)
        if not np.all(counts):
            table.notes.append(
                f"the first {begin} and the last {len(time) - end} rows stray more than {allowed:.2g} K from the ramp: "
                "their cure is counted, their signal is not used"
            )
            return "ramp", float(slope), counts
        return "ramp", float(np.polyfit(time, temperature, 1)[0]), counts
    table.notes.append(
        "neither a hold nor a straight ramp: used for the constants, not for the lines of Kissinger and Ozawa"
    )
    return "programme", 0.0, everything


def _upright(table: Table, time: Array, signal: Array, counts: NDArray[np.bool_], kind: str) -> Array:
    """Heat flow with the exotherm upwards: cure gives heat off."""
    t, y = time[counts], signal[counts]
    edge = max(2, len(y) // 20)
    late = float(np.mean(y[-edge:]))
    early = float(np.mean(y[:edge])) if kind != "hold" else late
    above = y - (early + (late - early) * (t - t[0]) / (t[-1] - t[0]))
    if float(np.trapezoid(above, t)) >= 0.0:
        return signal
    table.notes.append("heat flow is written with exotherms downwards: turned round")
    return -signal


def _degree(table: Table, signal: Array) -> Array:
    """Conversion as a degree between about 0 and 1."""
    if np.max(signal) > 1.5:
        raise DataError(
            f"{table.file}: conversion goes up to {np.max(signal):.4g}; write its unit: conversion [%], or numbers from 0 to 1"
        )
    if np.max(signal) > 1.15 or np.min(signal) < -0.15:
        raise DataError(
            f"{table.file}: conversion runs from {np.min(signal):.3g} to {np.max(signal):.3g}; a degree lies between 0 and 1"
        )
    edge = max(2, len(signal) // 20)
    if np.mean(signal[-edge:]) <= np.mean(signal[:edge]):
        raise DataError(f"{table.file}: conversion does not rise")
    return signal
