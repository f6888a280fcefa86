"""Fits a case to a log and to trials: what its unknowns are, how sure that is, and what cannot be told apart.

Unknown inputs of the case, lags and offsets of couples, and the time at which the case begins in the log are found by least
squares of the differences, each over its standard deviation (:mod:`fit_search`). Intervals at 95 % follow from the covariance,
and from the profile of the sum of squares where that is curved (:mod:`fit_confidence`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.fit_values import Unknown
from thermokit.case.paths import dimension_of
from thermokit.case.sweep import sweepable
from thermokit.errors import CaseError, Mistake
from thermokit.studies.fit_advice import Advice, advice_of
from thermokit.studies.fit_bench import logged_run, trial_runs
from thermokit.studies.fit_confidence import Confidence, confidence, together
from thermokit.studies.fit_data import Finding, Measured, finding, log_of, measured, start_of
from thermokit.studies.fit_intervals import Interval, intervals
from thermokit.studies.fit_model import FitModel, Variable, variable
from thermokit.studies.fit_nodes import places_of
from thermokit.studies.fit_search import Found, find
from thermokit.studies.fit_tolerances import moved_by_tolerances
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from thermokit.case.fit import Fit

    Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

START = "start of the case in the log"


@dataclass(frozen=True)
class FittedValue:
    """One unknown: value [SI] with the ends of its 95 % interval (None: no end within the bounds), before : in the case.

    moved : path of an input with a tolerance -> how far the value moves [on its scale] for two deviations of it.
    """

    variable: Variable
    value: float
    low: float | None
    high: float | None
    interval: Interval
    before: float | None
    paths: tuple[str, ...] = ()
    moved: Mapping[str, float] = field(default_factory=dict)

    @property
    def by_tolerances(self) -> float:
        """How far it may be off by the tolerances of what was taken as known (two deviations), on its scale."""
        return float(np.sqrt(sum(move**2 for move in self.moved.values())))

    @property
    def at_bound(self) -> bool:
        """Whether it lies at one of its bounds."""
        v = self.variable
        width = v.high - v.low
        place = self.interval.at
        return bool(np.isfinite(width) and min(place - v.low, v.high - place) < 1e-3 * width)


@dataclass(frozen=True)
class FittedChannel:
    """A channel beside the model: readings and what the couple shows by the model [K], (rows,), at times of the case [s];
    weight : by which its deviation was multiplied.
    """

    measured: Measured
    time: Array
    shown: Array
    weight: float

    @property
    def rest(self) -> Array:
        """Reading less model [K]; NaN where the place is not there."""
        return self.measured.temperature - self.shown

    @property
    def scatter(self) -> float:
        """Root of the mean square of what is left [K]."""
        return float(np.sqrt(np.nanmean(self.rest**2)))

    @property
    def worst(self) -> tuple[float, float]:
        """(difference [K], time of the case [s]) where model and reading are furthest apart."""
        i = int(np.nanargmax(np.abs(self.rest)))
        return float(self.rest[i]), float(self.time[i])


@dataclass(frozen=True)
class FittedFinding:
    """A finding beside the model: outcome by the fitted case in its unit (NaN: not reached)."""

    finding: Finding
    outcome: float

    @property
    def kept(self) -> bool:
        """Whether the outcome lies within two deviations of what was measured, or on the right side (or as near)."""
        f = self.finding
        off = (self.outcome - f.value) / f.deviation
        return bool(abs(off) <= 2.0 if f.side == 0 else f.side * off >= -2.0)


@dataclass(frozen=True)
class CaseFit:
    """Everything that ``thermokit fit`` finds.

    case : as it was; values in the order in which they were given; correlation of them; pairs : unknowns that cannot be told
    apart (name, name, correlation); advice : what would tell them apart; others : other values that fit nearly as well;
    squares, rows : sum of squares, number of readings, findings and expectations; log : file, None without one.
    """

    case: Any
    values: tuple[FittedValue, ...]
    channels: tuple[FittedChannel, ...]
    findings: tuple[FittedFinding, ...]
    correlation: Array
    pairs: tuple[tuple[str, str, float], ...]
    advice: Advice
    others: tuple[tuple[float, ...], ...]
    squares: float
    rows: int
    notes: tuple[str, ...]
    log: str | None
    found: Found
    sure: Confidence

    @property
    def sound(self) -> bool:
        """Whether every unknown input has its interval and can be told apart from the others."""
        inputs = [v for v in self.values if v.variable.role == "input"]
        names = {v.variable.name for v in inputs}
        apart = not any(a in names and b in names for a, b, _ in self.pairs)
        return apart and all(v.low is not None and v.high is not None and not v.at_bound for v in inputs)

    @property
    def inputs(self) -> dict[str, float]:
        """Path -> fitted value [SI] of every input, those that share one included."""
        return {path: v.value for v in self.values for path in v.paths}


def fit_case(case: Any, log: str | Path | None = None, progress: Callable[[float], None] | None = None) -> CaseFit:
    """A case (or case file) with ``[fit]`` fitted to its log and its trials.

    log : file in place of that of the case. Raises CaseError, DataError for what is wrong in the case or the log, SolveError
    where no run finishes.
    """
    case = as_case(case)
    if case.fit is None:
        raise CaseError(
            case.source.file,
            [Mistake("fit", "the case does not say what is fitted, and to what", "a table [fit] with unknowns and channels",
                     "`thermokit explain fit` tells what goes into it")],
        )  # fmt: skip
    told = progress or (lambda share: None)
    notes: list[str] = []
    model, file = model_of(case, log, notes)
    told(0.1)
    found = find(model, told)
    sure = confidence(found.best, found.space.size, estimated=found.estimated)
    ends = intervals(found, sure)
    told(0.9)
    names = tuple(v.name for v in found.model.variables)
    pairs = tuple(together(sure, names))
    unknowns = case.fit.unknowns_of(case)
    moved = moved_by_tolerances(found, case)
    values = tuple(
        replace(_value(v, ends[i], case, unknowns), moved={path: float(move[i]) for path, move in moved.items()})
        for i, v in enumerate(found.model.variables)
    )
    advice = advice_of(found, sure, pairs)
    told(1.0)
    if not found.best.converged:
        notes.append("the search was ended before it had settled: look at the values with care")
    return CaseFit(
        case=case, values=values, channels=_channels(found), findings=_findings(found), correlation=sure.correlation(),
        pairs=pairs, advice=advice, others=tuple(_plain(found, one.at) for one in found.others), squares=found.best.squares,
        rows=len(found.best.residuals), notes=tuple(notes), log=file, found=found, sure=sure,
    )  # fmt: skip


def model_of(case: Any, log: str | Path | None, notes: list[str]) -> tuple[FitModel, str | None]:
    """(what is fitted to what, file of the log)."""
    fit: Fit = case.fit
    unknowns = fit.unknowns_of(case)
    inputs = sweepable(case)
    run_values = fit.run_values(case)
    ran = case.with_values(run_values)
    variables = [
        variable(path, "input", dimension_of(inputs[path].kind), unknown, _number(ran.value(path)))
        for path, (unknown, _) in unknowns.items()
    ]
    paths = [group for _, group in unknowns.values()]
    _check_range(case, variables, paths)
    if log is not None and not fit.channels:
        raise CaseError(
            case.source.file,
            [Mistake("fit.channels", "a log is named, and no channel of it", "[[fit.channels]] with column and at")],
        )
    channels: list[Measured] = []
    lags: list[float] = []
    offsets: list[float] = []
    start, run, file = 0.0, None, None
    if fit.channels:
        read = log_of(case, log)
        file = read.file
        notes.extend(read.notes)
        start, unknown_start = start_of(fit, read, case)
        middle = [float(v.value(v.begin)) for v in variables]
        places = [(c.at, f"fit.channels.{i}.at") for i, c in enumerate(fit.channels)]
        run = logged_run(ran, paths, middle, places, 240, min(c.plus_minus for c in fit.channels))
        first, last = _window(start, unknown_start, _end(run, variables, paths))
        channels = [measured(channel, read, first, last, notes) for channel in fit.channels]
        run = replace(run, times=np.linspace(0.0, float(run.times[-1]), _steps(channels) + 1))
        for i, channel in enumerate(fit.channels):
            for role, given, into in (("lag", channel.lag, lags), ("offset", channel.offset, offsets)):
                into.append(0.0 if isinstance(given, Unknown) else float(given))
                if isinstance(given, Unknown):
                    dimension = "time" if role == "lag" else "temperature_difference"
                    variables.append(variable(f"{role} of {channels[i].name}", role, dimension, given, None, i))  # type: ignore[arg-type]
        if unknown_start is not None:
            variables.append(variable(START, "start", "time", unknown_start, None))
    trials, findings = None, []
    if fit.trials:
        low, high = (np.array([v.value(getattr(v, end)) for v in variables[: len(paths)]]) for end in ("low", "high"))
        trials = trial_runs(case, fit.trials, paths, places_of(low, high, 2) if len(paths) else np.zeros((1, 0)))
        findings = [
            finding(trial, i, trials.units[i], fit.trial_values(case, trial), case)
            for i, trial in enumerate(fit.trials)
        ]
    if not variables:
        raise CaseError(case.source.file, [Mistake("fit.unknowns", "nothing is unknown", "an input to be fitted")])
    _check_enough(case, variables, channels, findings)
    model = FitModel(
        tuple(variables), tuple(channels), tuple(lags), tuple(offsets), start, tuple(findings), run, trials,
        np.ones(len(channels)),
    )  # fmt: skip
    return model, file


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None


def _check_range(case: Any, variables: list[Variable], paths: list[tuple[str, ...]]) -> None:
    """Bounds must be values that the case takes, also at the paths that share them."""
    for end in ("low", "high"):
        case.with_values(
            {p: float(v.value(getattr(v, end))) for v, group in zip(variables, paths, strict=True) for p in group}
        )


def _check_enough(case: Any, variables: list[Variable], channels: list[Measured], findings: list[Finding]) -> None:
    """Fewer findings than unknowns tell nothing."""
    wanting = [v for v in variables if v.deviation is None]
    known = sum(len(channel.time) for channel in channels) + len(findings)
    if known < len(wanting):
        names = ", ".join(v.name for v in wanting)
        raise CaseError(
            case.source.file,
            [Mistake("fit.unknowns", f"{len(wanting)} unknowns ({names}) and {known} findings", "as many findings, or more",
                     "fewer unknowns, more trials, or expected and plus_minus for some of them")],
        )  # fmt: skip


def _end(run: Any, variables: list[Variable], paths: list[tuple[str, ...]]) -> float:
    """How long the run is at least, whatever its unknowns are [s]."""
    end = float(run.times[-1])
    for at in ("low", "high"):
        values = {p: float(v.value(getattr(v, at))) for v, group in zip(variables, paths, strict=True) for p in group}
        other = run.case.with_values(values).duration()
        end = min(end, end if other is None else float(other))
    return end


def _window(start: float, unknown: Unknown | None, length: float) -> tuple[float, float]:
    """Times of the log [s] between which readings belong to the run, wherever it begins."""
    if unknown is None:
        return start, start + length
    low = unknown.low if unknown.low is not None else start - 2.0 * (unknown.plus_minus or 0.0)
    return low, low + length


def _steps(channels: list[Measured]) -> int:
    from thermokit.studies.fit_bench import ROWS

    return int(np.clip(2 * max(len(channel.time) for channel in channels), *ROWS))


def _value(v: Variable, ends: Interval, case: Any, unknowns: Any) -> FittedValue:
    """An unknown with its interval in its own unit."""

    def out(at: float | None) -> float | None:
        return None if at is None else float(v.value(at))

    paths = unknowns[v.name][1] if v.role == "input" else ()
    before = _number(case.value(v.name)) if v.role == "input" else None
    return FittedValue(v, float(v.value(ends.at)), out(ends.low), out(ends.high), ends, before, paths)


def _plain(found: Found, at: Array) -> tuple[float, ...]:
    return tuple(float(v.value(x)) for v, x in zip(found.model.variables, at, strict=True))


def _channels(found: Found) -> tuple[FittedChannel, ...]:
    """Channels beside what the model shows of them."""
    model, at = found.model, found.best.at[None]
    outputs = model.outputs(at[:, : model.inputs])
    start = float(model.of_role("start", -1, at, model.start)[0])
    return tuple(
        FittedChannel(c, c.time - start, model.read(i, at, outputs)[0], float(model.weights[i]))
        for i, c in enumerate(model.channels)
    )


def _findings(found: Found) -> tuple[FittedFinding, ...]:
    """Findings beside the outcomes of the fitted case."""
    model = found.model
    if not model.findings:
        return ()
    outputs = model.outputs(found.best.at[None, : model.inputs])[0, -len(model.findings) :]
    return tuple(FittedFinding(f, float(x)) for f, x in zip(model.findings, outputs, strict=True))
