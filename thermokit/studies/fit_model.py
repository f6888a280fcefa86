"""Residuals of a case against what was measured, in units of their standard deviation, for many points at once.

A point holds the unknown inputs of the case, then lags, offsets and the start of the case in the log where these are fitted
too. Only the inputs take runs (:mod:`fit_bench`); what follows from the others is found from the series of a run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from thermokit.studies.fit_couple import lagged, read_at

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from thermokit.case.fit_values import Unknown
    from thermokit.studies.fit_bench import LoggedRun, TrialRuns
    from thermokit.studies.fit_data import Finding, Measured

    Array = NDArray[np.float64]

Role = Literal["input", "lag", "offset", "start"]
UNREACHED = 6.0  # deviations that an outcome counts which a run does not reach
LOST = 1e4  # deviations of a run that failed
_SIZES = {"lag": 1.0, "offset": 1.0, "start": 1.0}  # s, K, s
_STEPS = {"lag": 0.02, "offset": 0.1, "start": 0.05}


@dataclass(frozen=True)
class Variable:
    """One unknown, on the scale on which it is searched (of its logarithm where ``log``).

    low, high; begin : where it stands now; expected, deviation : what is expected of it, None for nothing; dimension of its
    value; channel : of a lag or offset.
    """

    name: str
    role: Role
    dimension: str
    low: float
    high: float
    begin: float
    log: bool = False
    expected: float | None = None
    deviation: float | None = None
    channel: int = -1

    @property
    def size(self) -> float:
        """A sensible change of it."""
        if self.role != "input":
            return _SIZES[self.role]
        return (self.high - self.low) / 4.0

    def value(self, at: Array | float) -> Array:
        """Its value [SI] at places of the scale."""
        return np.exp(at) if self.log else np.asarray(at, float)


def variable(
    name: str, role: Role, dimension: str, unknown: Unknown, now: float | None, channel: int = -1
) -> Variable:  # fmt: skip
    """A variable for an unknown; now : its value in the case [SI], None where it has none."""

    def scaled(value: float) -> float:
        return float(np.log(value)) if unknown.log else value

    low = -np.inf if unknown.low is None else scaled(unknown.low)
    high = np.inf if unknown.high is None else scaled(unknown.high)
    if role == "lag":
        low = max(low, 0.0)
    expected = None if unknown.expected is None else scaled(unknown.expected)
    deviation = None
    if unknown.plus_minus is not None:
        deviation = (np.log1p(unknown.plus_minus) if unknown.log else unknown.plus_minus) / 2.0
    begin = expected
    if begin is None and now is not None and (now > 0.0 or not unknown.log):
        begin = scaled(now)
    if begin is None or not low <= begin <= high:
        begin = (low + high) / 2.0
    return Variable(name, role, dimension, low, high, begin, unknown.log, expected, deviation, channel)


@dataclass(frozen=True)
class FitModel:
    """What is fitted to what.

    variables : inputs first; channels with lags [s] and offsets [K] where these are known; start [s] in the log; findings of
    trials; weights (channels,) : by which the deviations of a channel are multiplied.
    """

    variables: tuple[Variable, ...]
    channels: tuple[Measured, ...]
    lags: tuple[float, ...]
    offsets: tuple[float, ...]
    start: float
    findings: tuple[Finding, ...]
    run: LoggedRun | None
    trials: TrialRuns | None
    weights: Array

    @property
    def inputs(self) -> int:
        """How many of the variables are inputs of the case."""
        return sum(variable.role == "input" for variable in self.variables)

    def weighed(self, weights: Array) -> FitModel:
        """The same with other weights."""
        return replace(self, weights=weights)

    def outputs(self, inputs: Array) -> Array:
        """What the runs give at places (points, inputs) of the scales: (points, numbers), series and then outcomes."""
        values = np.column_stack([v.value(inputs[:, i]) for i, v in enumerate(self.variables[: self.inputs])] or [
            np.zeros((len(inputs), 0))
        ])  # fmt: skip
        # points that differ in lags and offsets alone share a run
        unique, back = values[:1], np.zeros(len(values), np.intp)
        if values.shape[1]:
            unique, back = np.unique(values, axis=0, return_inverse=True)
        parts = []
        if self.run is not None:
            parts.append(self.run.series(unique).reshape(len(unique), -1))
        if self.trials is not None:
            parts.append(self.trials.values(unique))
        return np.concatenate(parts, axis=1)[np.ravel(back)]

    def residuals(self, points: Array, outputs: Callable[[Array], Array] | None = None) -> Array:
        """(points, rows): channels, findings, expectations; outputs : in place of runs."""
        given = (outputs or self.outputs)(points[:, : self.inputs])
        parts = [self.of_channel(i, points, given) / self.deviations(i) for i in range(len(self.channels))]
        if self.findings:
            parts.append(self.of_findings(given))
        parts.append(self.of_expectations(points))
        return np.concatenate(parts, axis=1)

    def deviations(self, i: int) -> Array:
        """Standard deviations of the rows of a channel as they are weighed [K]."""
        return np.asarray(self.channels[i].deviation * self.weights[i])

    def read(self, i: int, points: Array, outputs: Array, times: Array | None = None) -> Array:
        """What the couple of a channel shows by the model, (points, rows) [K]; times [s] in the log in place of its own."""
        assert self.run is not None
        rows = len(self.run.times)
        series = outputs[:, i * rows : (i + 1) * rows]
        lag = self.of_role("lag", i, points, self.lags[i])
        start = self.of_role("start", -1, points, self.start)
        offset = self.of_role("offset", i, points, self.offsets[i])
        own = self.channels[i].time if times is None else times
        shown = lagged(series, np.maximum(lag, 0.0), self.run.step)
        return read_at(shown, own - start[:, None], self.run.step) + offset[:, None]

    def of_channel(self, i: int, points: Array, outputs: Array) -> Array:
        """Model less reading of a channel [K], (points, rows); 0 where the place is not there, LOST where the run failed."""
        rest = self.read(i, points, outputs) - self.channels[i].temperature
        there = np.isfinite(rest)
        rest = np.where(there, rest, 0.0)
        rest[~there.any(axis=1)] = LOST
        return rest

    def of_findings(self, outputs: Array) -> Array:
        """Residuals of the findings, (points, findings).

        A finding to one side is a reading of which only that is known: with z how many deviations the outcome lies on the
        right side, -2 ln of the normal distribution at z counts in the sum of squares.
        """
        values = outputs[:, -len(self.findings) :]
        return np.column_stack([_found(f, values[:, j]) for j, f in enumerate(self.findings)])

    def of_expectations(self, points: Array) -> Array:
        """How far variables lie from what is expected of them, (points, expectations)."""
        found = [
            (points[:, i] - v.expected) / v.deviation
            for i, v in enumerate(self.variables)
            if v.expected is not None and v.deviation is not None
        ]
        return np.column_stack(found) if found else np.zeros((len(points), 0))

    def of_role(self, role: Role, channel: int, points: Array, known: float) -> Array:
        """A lag, offset or start, (points,): a variable, or what is known."""
        for i, v in enumerate(self.variables):
            if v.role == role and v.channel == channel:
                return points[:, i]
        return np.full(len(points), known)

    def steps(self, sensitivity: Sequence[float] | None = None) -> Array:
        """Steps of differences; sensitivity : of the inputs, as shares of their range."""
        shares = sensitivity if sensitivity is not None else [0.01] * self.inputs
        return np.array([
            shares[i] * (v.high - v.low) if v.role == "input" else _STEPS[v.role] for i, v in enumerate(self.variables)
        ])  # fmt: skip


def _found(finding: Finding, value: Array) -> Array:
    """Residuals of one finding, (points,)."""
    if finding.side == 0:
        rest = (value - finding.value) / finding.deviation
        return np.where(np.isfinite(rest), rest, UNREACHED)
    from scipy.special import log_ndtr

    right = finding.side * (value - finding.value) / finding.deviation
    rest = np.sqrt(-2.0 * log_ndtr(right))
    return np.where(np.isfinite(right), rest, UNREACHED)
