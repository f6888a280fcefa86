"""What a case is fitted to: channels of a log cut to the run and thinned, and findings of trials, each with its deviation."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case.fit_values import Unknown
from thermokit.case.paths import dimension_of
from thermokit.case.sweep import sweepable
from thermokit.errors import CaseError, DataError, Mistake
from thermokit.logs.logger import Log, Reading, read_log
from thermokit.logs.stamps import DAY, clock_of
from thermokit.logs.text import refuse_device
from thermokit.results.digits import difference_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.case.fit import Fit, FitChannel, Trial

    Array = NDArray[np.float64]

MOST_ROWS = 400  # of a channel: more are averaged in groups
FEWEST_ROWS = 5


@dataclass(frozen=True)
class Measured:
    """A channel beside the run: time [s] in the log, temperature [K], deviation of a row [K], (rows,); at : its place in
    words; group : rows of the log in each of these.
    """

    name: str
    at: str
    time: Array
    temperature: Array
    deviation: Array
    group: int


@dataclass(frozen=True)
class Finding:
    """What a trial found: side 0 measured, +1 at least, -1 at most; value and deviation in ``unit``, that of the outcome."""

    outcome: str
    unit: str
    side: int
    value: float
    deviation: float
    words: str
    settings: dict[str, float]


def log_of(case: Any, log: str | Path | None) -> Log:
    """The log that a case is fitted to: the one named, else that of ``[fit]``. Raises CaseError where neither names one."""
    fit: Fit = case.fit
    if log is None:
        if fit.log is None:
            raise CaseError(
                case.source.file,
                [Mistake("fit.log", "no log is named", 'its file in the command, or log = "run.csv" under [fit]')],
            )
        log = Path(case.source.file).parent / fit.log
        refuse_device(log)
    own = fit.reading
    return read_log(log, Reading(own.delimiter, own.decimal, own.dates, own.clock, own.time_unit, own.time))


def start_of(fit: Fit, log: Log, case: Any) -> tuple[float, Unknown | None]:
    """(time in the log at which the case begins [s], the unknown that it is or None)."""
    given = fit.starts_at
    if isinstance(given, Unknown):
        ends = [x for x in (given.low, given.high) if x is not None]
        return (given.expected if given.expected is not None else sum(ends) / len(ends)), given
    if given is None:
        return float(log.time[0]), None
    if not isinstance(given, str):
        return float(given), None
    clock = clock_of(given)
    if log.clock is None or clock is None:
        raise CaseError(
            case.source.file,
            [Mistake("fit.starts_at", f'"{given}" is a clock, and the log {Path(log.file).name} keeps none',
                     'a time of the log, such as "12 s"')],
        )  # fmt: skip
    return float((clock - log.clock) % DAY), None


def measured(
    channel: FitChannel, log: Log, first: float, last: float, notes: list[str]
) -> Measured:  # fmt: skip
    """A channel between two times of the log [s], thinned; raises DataError where nothing of it falls into the run."""
    found = log.channel(channel.column, channel.unit)
    notes.extend(found.notes)
    inside = (found.time >= first - 1e-9) & (found.time <= last + 1e-9)
    count = int(np.count_nonzero(inside))
    if count < FEWEST_ROWS:
        raise DataError(
            f"{log.file}: {count} readings of {found.name} fall into the run, from {first:.6g} s to {last:.6g} s of the log "
            f"(it holds {found.time[0]:.6g} s to {found.time[-1]:.6g} s); look at starts_at under [fit] and at the durations"
        )
    left = len(inside) - count
    if left:
        notes.append(f"{found.name}: {left} of {len(inside)} readings lie outside the run; not used")
    time, temperature = found.time[inside], found.temperature[inside]
    group = -(-count // MOST_ROWS)
    if group > 1:
        notes.append(f"{found.name}: {count} readings were averaged in groups of {group}")
        at = np.arange(0, count, group)
        members = np.diff(np.append(at, count))
        time, temperature = (np.add.reduceat(x, at) / members for x in (time, temperature))
        deviation = channel.plus_minus / 2.0 / np.sqrt(members)
    else:
        deviation = np.full(count, channel.plus_minus / 2.0)
    return Measured(found.name, channel.at, time, temperature, deviation, group)


def finding(trial: Trial, i: int, unit: str, settings: dict[str, float], case: Any) -> Finding:
    """A trial as numbers in the unit of its outcome. Raises CaseError where its units are others."""
    side, raw, key = 0, trial.measured, "measured"
    if trial.at_least is not None:
        side, raw, key = 1, trial.at_least, "at_least"
    elif trial.at_most is not None:
        side, raw, key = -1, trial.at_most, "at_most"
    value = _number(raw, unit, f"fit.trials.{i}.{key}", case)
    off = _number(trial.plus_minus, difference_unit(unit), f"fit.trials.{i}.plus_minus", case)
    if off <= 0.0:
        raise CaseError(
            case.source.file,
            [Mistake(f"fit.trials.{i}.plus_minus", f"{trial.plus_minus} is not above zero", "an amount")],
        )
    return Finding(trial.outcome, unit, side, value, off / 2.0, trial.words, settings)


def _number(raw: Any, unit: str, where: str, case: Any) -> float:
    """A finding in the unit of an outcome ("1": a bare number)."""
    bare = unit in ("", "1")
    example = "a bare number" if bare else f'a number with its unit, such as "20 {unit}"'
    if isinstance(raw, (int, float)):
        if not bare:
            raise CaseError(
                case.source.file, [Mistake(where, f"{raw} is a bare number; the outcome is in {unit}", example)]
            )
        return float(raw)
    dimension = "fraction" if bare else dimension_of_unit(unit)
    try:
        if dimension is None:
            raise units.UnitError(f"the unit {unit} is not known", example)
        text = str(raw).lstrip("± ")
        return float(units.to_unit(units.parse(text, dimension), "" if bare else unit, dimension))
    except units.UnitError as wrong:
        raise CaseError(
            case.source.file, [Mistake(where, f'"{raw}": {wrong.what}', f"{example} ({wrong.allowed})")]
        ) from None


def dimension_of_unit(unit: str) -> str | None:
    """The dimension that has a unit, None where none has; K is a difference, degC a temperature.

    >>> dimension_of_unit("mm"), dimension_of_unit("K"), dimension_of_unit("degC")
    ('length', 'temperature_difference', 'temperature')
    """
    if unit == "K":
        return "temperature_difference"
    for name in units.DIMENSIONS:
        try:
            units.find_unit(unit, name)
        except units.UnitError:
            continue
        return name
    return None


def settings_words(settings: dict[str, float], case: Any) -> str:
    """Settings of a trial in words, with their units."""
    inputs = sweepable(case)
    return ", ".join(
        f"{path} {units.format_(value, dimension_of(inputs[path].kind), digits=5)}" for path, value in settings.items()
    )
