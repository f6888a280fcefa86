"""Runs of a case for many values of its unknowns at once: temperatures at places over time, and outcomes of trials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.conduction.follow_batch import follow_batch
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import run_case, settled
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.answers_plan import FINISHED
from thermokit.studies.fit_places import Place, place_of, series_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.fit import Trial
    from thermokit.conduction.problem import Array
    from thermokit.studies.answers_plan import Plan

ROWS = (600, 1200)  # least and most steps of a series: a face rises with the root of time at first
SHARE = 0.1  # of the accuracy, to which a step is solved: differences of runs are taken
FINER = 0.1  # of what a reading may be off, to which the mesh is made, where the case asks for less
FINEST = 0.02  # K


@dataclass(frozen=True)
class LoggedRun:
    """The run that was logged: a case whose numbers are all given, and what is looked at in it.

    paths : of each unknown, those that have its value; places, or names of probes for a case that solves itself; times
    (rows,) [s] at equal steps from 0; edges, tolerance : of the mesh and the steps.
    """

    case: Any
    paths: tuple[tuple[str, ...], ...]
    places: tuple[Place, ...]
    times: Array
    edges: tuple[Array, ...]
    tolerance: float

    @property
    def step(self) -> float:
        """Between rows [s]."""
        return float(self.times[1])

    def series(self, values: Array, places: Sequence[Place] | None = None) -> Array:
        """Temperatures (points, places, rows) [K] for values (points, unknowns) [SI]; NaN where a run failed."""
        places = self.places if places is None else places
        columns = {path: values[:, i] for i, paths in enumerate(self.paths) for path in paths}
        if not self.edges:
            return np.stack(
                [self._whole({p: float(c[j]) for p, c in columns.items()}, places) for j in range(len(values))]
            )
        try:
            return self._batch({path: column.copy() for path, column in columns.items()}, len(values), places)
        except (TypeError, ValueError, IndexError):
            # an input that must be one number: runs one by one
            rows = [self._batch({p: float(c[j]) for p, c in columns.items()}, 1, places) for j in range(len(values))]
            return np.concatenate(rows)

    def _batch(self, columns: dict[str, Any], count: int, places: Sequence[Place]) -> Array:
        """All points as one batch."""
        process = process_of(self.case.with_values(columns))
        each = process.places()
        if each > 1:  # the first of them is the one that is told
            columns = {path: np.repeat(column, each) for path, column in columns.items()}
            process = process_of(self.case.with_values(columns))
        cases = count * each
        course = process.course(self.edges)
        memory = process.memory(self.edges, cases, self.tolerance)
        travel = follow_batch(course, cases, self.tolerance, memory, times=self.times)
        return series_at(list(places), course, travel, self.times)[::each]

    def _whole(self, values: dict[str, float], places: Sequence[Place]) -> Array:
        """One run of a case that solves itself, its probes at the rows."""
        try:
            result = run_case(self.case.with_values(values))
        except SolveError:
            return np.full((len(places), len(self.times)), np.nan)
        if result.status != FINISHED:
            return np.full((len(places), len(self.times)), np.nan)
        when = result.history.time
        return np.stack([np.interp(self.times, when, result.probes[place.words]) for place in places])


def logged_run(
    case: Any,
    paths: Sequence[tuple[str, ...]],
    middle: Sequence[float],
    places: Sequence[tuple[str, str]],
    rows: int,
    plus_minus: float = 1.0,
) -> LoggedRun:
    """A case made ready to be run for many values.

    middle : values [SI] with which the mesh is found; places : (text, path for mistakes); rows : readings of a channel;
    plus_minus : how far the best reading may be off [K].
    Raises CaseError where something is still to be found, or a place is not in the case.
    """
    known = case.with_values({path: value for group, value in zip(paths, middle, strict=True) for path in group})
    path = sought_path(known)
    if path is not None:
        raise CaseError(
            case.source.file,
            [Mistake(path, 'is "find" in a case that is held against a log', "its value in the logged run",
                     f'write "{path}" = "..." under [fit.run]')],
        )  # fmt: skip
    accuracy = min(float(known.accuracy.temperature), max(FINER * plus_minus, FINEST))
    known = known.with_values({"accuracy.temperature": accuracy})
    end = known.duration()
    steps = int(np.clip(2 * rows, *ROWS))
    if direct_of(known) is not None:
        probes = [probe.name for probe in known.output.probes]
        wrong = [
            Mistake(where, f'"{text}" is no probe', f"of a {known.process}: a probe of [[output.probes]], {', '.join(probes)}")
            for text, where in places if text not in probes
        ]  # fmt: skip
        if wrong:
            raise CaseError(case.source.file, wrong)
        if end is None:
            raise CaseError(
                case.source.file,
                [
                    Mistake(
                        "fit.channels", f"a {known.process} has no duration of its own", "[[fit.trials]] for this case"
                    )
                ],
            )
        own = tuple(Place("depth", text) for text, _ in places)
        return LoggedRun(known, tuple(paths), own, np.linspace(0.0, float(end), steps + 1), (), 0.0)
    process = process_of(known)
    solved = settled(known, process)
    if solved.history.ending.status != FINISHED:
        ending = solved.history.ending
        raise SolveError(
            f"the case does not finish at its first values: {ending.status.replace('_', ' ')}", ending.advice
        )
    end = float(solved.history.time[-1]) if end is None else float(end)
    course = process.course(solved.edges)
    found = [place_of(text, known, course, where) for text, where in places]
    tolerance = SHARE * float(known.accuracy.temperature)
    return LoggedRun(
        known, tuple(paths), tuple(found), np.linspace(0.0, end, steps + 1), tuple(solved.edges), tolerance
    )


@dataclass(frozen=True)
class TrialRuns:
    """Outcomes of trials at values of the unknowns.

    settings : path -> (trials,) [SI] of all paths that any trial sets; outcomes : name of each trial's.
    """

    plan: Plan
    paths: tuple[tuple[str, ...], ...]
    settings: dict[str, Array]
    outcomes: tuple[str, ...]
    units: tuple[str, ...]

    def values(self, values: Array) -> Array:
        """Outcomes (points, trials) in their units, NaN where not reached, for values (points, unknowns) [SI]."""
        points, trials = len(values), len(self.outcomes)
        columns = {path: np.tile(column, points) for path, column in self.settings.items()}
        for i, group in enumerate(self.paths):
            for path in group:
                columns[path] = np.repeat(values[:, i], trials)
        found = answers_of(self.plan, columns)
        out = np.empty((points, trials))
        for j, name in enumerate(self.outcomes):
            out[:, j] = found.outcomes[name].reshape(points, trials)[:, j]
        return out


def trial_runs(
    case: Any, trials: Sequence[Trial], paths: Sequence[tuple[str, ...]], corners: Array
) -> TrialRuns:  # fmt: skip
    """The runs of trials, made ready; corners (points, unknowns) [SI] : between which the unknowns lie.

    Raises CaseError where an outcome is not known, or a value is still to be found in a trial.
    """
    fit = case.fit
    given = [fit.trial_values(case, trial) for trial in trials]
    every = list(dict.fromkeys(path for values in given for path in values))
    wrong = []
    for path in every:
        own = case.value(path)
        if not isinstance(own, (int, float)):
            wrong += [
                Mistake(f"fit.trials.{i}.at", f"does not set {path}, which other trials set", "its value in every trial")
                for i, values in enumerate(given) if path not in values
            ]  # fmt: skip
    if wrong:
        raise CaseError(case.source.file, wrong)
    settings = {path: np.array([values.get(path, _own(case, path)) for values in given]) for path in every}
    if not settings and not paths:
        raise CaseError(case.source.file, [Mistake("fit.unknowns", "nothing is unknown", "an input to be fitted")])
    columns = {path: np.tile(column, len(corners)) for path, column in settings.items()}
    for i, group in enumerate(paths):
        for path in group:
            columns[path] = np.repeat(corners[:, i], len(trials))
    names = list(dict.fromkeys(trial.outcome for trial in trials))
    plan = plan_of(case, columns, names)
    told = {outcome.name: outcome for outcome in plan.told}
    return TrialRuns(
        plan, tuple(paths), settings, tuple(trial.outcome for trial in trials),
        tuple(told[trial.outcome].unit for trial in trials),
    )  # fmt: skip


def _own(case: Any, path: str) -> float:
    own = case.value(path)
    return float(own) if isinstance(own, (int, float)) else np.nan
