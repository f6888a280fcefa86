"""How a case is fitted to what was measured: ``[fit]``, a log's channels, unknowns by path, and single trials."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import UNKNOWN, Section, key, known
from thermokit.case.fit_values import Begin, ByPath, Finding, Open, Unknown, deeper, read_unknown
from thermokit.case.mistakes import At, Report, nearest, shown
from thermokit.case.structure import ListOf, Sub
from thermokit.case.sweep import input_at, sweepable
from thermokit.case.tables import Find
from thermokit.case.values import Choice, Quantity, Text
from thermokit.case.walk import is_number, scalar_kind
from thermokit.logs.stamps import CLOCKS, DATES
from thermokit.logs.table import NAMES

if TYPE_CHECKING:
    from thermokit.case.common import Case
    from thermokit.case.walk import Leaf

MOST_UNKNOWNS = 3
#: of a type K couple of tolerance class 1 (IEC 60584-1: 1.5 K up to 375 degC; from memory), two standard deviations
COUPLE = 1.5
NOISE = 1.0  # K, of a reading, two standard deviations; common practice for a logger, no source


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LogReading(Section):
    """How to read what a log's file leaves open."""

    meaning = "how to read a log's file where it can be read in two ways"

    delimiter: str | None = key(
        Choice(tuple(NAMES)), "What parts the columns.", default=None, default_words="as found", physical=False
    )
    decimal: str | None = key(
        Choice(("point", "comma")),
        "What stands before decimals.",
        default=None,
        default_words="as found",
        physical=False,
    )
    dates: str | None = key(
        Choice(DATES), "Order of dates.", default=None, default_words="as found", physical=False
    )  # fmt: skip
    clock: str | None = key(
        Choice(CLOCKS), "What times of two parts are.", default=None, default_words="as found", physical=False
    )
    time_unit: str | None = key(
        Choice(("s", "ms", "min", "h", "day")), "Unit of times that are bare numbers.", default=None,
        default_words="as the heading says", physical=False,
    )  # fmt: skip
    time: str | None = key(
        Text(200), "Heading of the column of times.", default=None, default_words="as found", physical=False
    )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FitChannel(Section):
    """A channel of the log and the place that it measured."""

    meaning = "a channel of the log, and where its couple sat"

    column: str = key(Text(200), "Heading of its column in the log, or its number from 1.", physical=False)
    at: str = key(
        Text(200),
        "Where it measured: a face as results call it (upper_face, inner_face, ...), the name of a probe, a depth from the "
        'inner (upper) face ("2 mm"), two layers with a stroke ("paint|sheet") for where they meet, or a tool.',
        physical=False,
    )
    unit: str | None = key(
        Choice(("degC", "degF", "K")), "Unit, where the log names none.", default=None,
        default_words="as the log says", physical=False,
    )  # fmt: skip
    plus_minus: float = key(
        Quantity("temperature_difference", above=0.0, high=500.0, example="1 K"),
        "How far a reading may be off by itself (two standard deviations).", default=NOISE, physical=False,
    )  # fmt: skip
    lag: Any = key(
        Open(Quantity("time", low=0.0, high=1e5, example="2 s")), "Time constant of the couple (first order).",
        default=0.0, physical=False,
    )  # fmt: skip
    offset: Any = key(
        Open(Quantity("temperature_difference", low=-500.0, high=500.0, example="0 K")),
        "By how much all its readings lie too high.", default=Unknown(None, None, False, 0.0, COUPLE),
        default_words='fitted, expected at 0 K, plus_minus "1.5 K" (a couple of class 1)', physical=False,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Trial(Section):
    """One finding of a trial: measured, or only that something was above or below a value."""

    meaning = "a trial by stopwatch: an outcome at some setting, measured, or only at least or at most a value"

    at: Mapping[str, Any] = key(
        ByPath(),
        "The settings of the trial, by their path.",
        default={},
        default_words="as the case says",
        physical=False,
    )
    outcome: str = key(Text(200), "Name of the outcome, as `thermokit run` tells it.", physical=False)
    measured: Any = key(
        Finding(), "What was measured.", default=None, default_words="a finding to one side", physical=False
    )
    plus_minus: Any = key(
        Finding(), "How far it may be off (two standard deviations), with its unit.", default=None,
        default_words="must be given", physical=False,
    )  # fmt: skip
    at_least: Any = key(Finding(), "The outcome was at least this.", default=None, default_words="none", physical=False)
    at_most: Any = key(Finding(), "The outcome was at most this.", default=None, default_words="none", physical=False)
    words: str = key(Text(200), "What was seen, in words.", default="", physical=False)

    def check(self, at: At, given: frozenset[str]) -> None:
        """One of measured, at_least and at_most, and how far it may be off."""
        found = [name for name in ("measured", "at_least", "at_most") if name in given]
        if len(found) != 1:
            what = "nothing was found" if not found else " and ".join(found) + " stand side by side"
            at.mistake(what, "one of measured, at_least, at_most; another trial for the other")
        if "plus_minus" not in given:
            (at / "plus_minus").mistake(
                "missing", 'how far the value may be off (two standard deviations), such as "0.1 mm"'
            )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Fit(Section):
    """What a case is fitted to."""

    meaning = "what `thermokit fit` fits, and to what"

    log: str | None = key(
        Text(1000), "The log's file by its path from the case's folder; the command may name another.", default=None,
        default_words="as the command names it", physical=False,
    )  # fmt: skip
    starts_at: Any = key(
        Begin(Quantity("time", low=-1e9, high=1e9, example="12 s")),
        "When the case begins in the log: in the log's own seconds where it writes elapsed time in bare numbers, else from "
        "its first row.", default=None, default_words="with the log's first row", physical=False,
    )  # fmt: skip
    unknowns: Mapping[str, Any] = key(
        ByPath(tables=True),
        'Up to three inputs to be fitted, by path: bounds (from, to), spacing = "log" for factors, what is expected of them '
        "(expected, plus_minus: two standard deviations), and other inputs that have the same value (also).",
        default={}, default_words="none", physical=False,
    )  # fmt: skip
    run: Mapping[str, Any] = key(
        ByPath(), "Inputs of the run that was logged, where they differ from the case, by path.", default={},
        default_words="as the case says", physical=False,
    )  # fmt: skip
    reading: LogReading = key(
        Sub(LogReading), "How to read the log's file.", default=LogReading(), default_words="as found", physical=False
    )
    channels: tuple[FitChannel, ...] = key(
        ListOf(Sub(FitChannel), most=64), "The channels.", default=(), default_words="none", physical=False
    )
    trials: tuple[Trial, ...] = key(
        ListOf(Sub(Trial), most=1000), "Single findings.", default=(), default_words="none", physical=False
    )

    def check(self, at: At, given: frozenset[str]) -> None:
        """Something is unknown, and something was measured."""
        if known(self.channels, self.trials) and not self.channels and not self.trials:
            at.mistake("nothing was measured", "[[fit.channels]] of a log, or [[fit.trials]]")

    def check_inputs(self, case: Case, at: At) -> None:
        """Paths and values, held against the inputs of the case; called when the rest of the case has been read."""
        if not known(self.unknowns, self.run, self.trials):
            return
        unknowns = _unknowns(self, case, at / "unknowns")
        taken = {path for _, paths in unknowns.values() for path in paths}
        _values(self.run, case, at / "run", taken)
        for i, trial in enumerate(self.trials):
            if known(trial) and known(trial.at):
                _values(trial.at, case, at / "trials" / i / "at", taken)

    def unknowns_of(self, case: Case) -> dict[str, tuple[Unknown, tuple[str, ...]]]:
        """Path -> (unknown, all paths that have its value). The case must have been read without a mistake."""
        return _unknowns(self, case, At(Report()))

    def run_values(self, case: Case) -> dict[str, float]:
        """Path -> value [SI] of the run that was logged."""
        return _values(self.run, case, At(Report()), set())

    def trial_values(self, case: Case, trial: Trial) -> dict[str, float]:
        """Path -> value [SI] of a trial."""
        return _values(trial.at, case, At(Report()), set())


def _unknowns(fit: Fit, case: Case, at: At) -> dict[str, tuple[Unknown, tuple[str, ...]]]:
    """Path -> (unknown, all paths that have its value)."""
    inputs = sweepable(case)
    out: dict[str, tuple[Unknown, tuple[str, ...]]] = {}
    if len(fit.unknowns) > MOST_UNKNOWNS:
        at.mistake(f"{len(fit.unknowns)} unknowns", f"up to {MOST_UNKNOWNS}: one log seldom tells more apart")
    seen: dict[tuple[str, ...], str] = {}
    for path, raw in fit.unknowns.items():
        here = At(at.report, (*at.path, path))
        leaf = _number(case, path, here, inputs)
        others = raw.get("also", [])
        if not isinstance(others, list) or not all(isinstance(other, str) for other in others):
            (here / "also").mistake(
                f"{shown(others)} is no list of paths", 'such as ["stations.heat.lower.temperature"]'
            )
            continue
        more = [_number(case, other, here / "also" / i, inputs) for i, other in enumerate(others)]
        if leaf is None or any(other is None for other in more):
            continue
        kind = scalar_kind(leaf.kind)
        found = read_unknown(raw, kind, here, bounded=True, also=("also",))
        for place in (leaf, *more):
            assert place is not None
            if place.path in seen:
                here.mistake(f"{place.name} is an unknown already, as {seen[place.path]}", "each input once")
            seen[place.path] = path
        if known(found):
            out[path] = (found, (path, *others))
    return out


def _number(case: Case, path: str, at: At, inputs: Mapping[str, Leaf]) -> Leaf | None:
    """The input at a path that stands as one number in the case."""
    leaf = input_at(case, path, at, inputs)
    if leaf is None:
        return None
    if (
        not is_number(leaf.value)
        and not isinstance(leaf.value, Find)
        and leaf.value is not UNKNOWN
        and leaf.value is not None
    ):
        at.mistake("is a time or property table in this case", "an input that is one number")
        return None
    return leaf


def _values(raw: Mapping[str, Any], case: Case, at: At, taken: set[str]) -> dict[str, float]:
    """Path -> value [SI]; taken : paths that are unknowns, which have none."""
    inputs = sweepable(case)
    out: dict[str, float] = {}
    for path, entry in raw.items():
        here = deeper(at, (path,))
        leaf = input_at(case, path, here, inputs)
        if leaf is None:
            continue
        if path in taken:
            here.mistake("is an unknown of the fit", f"a value, or an unknown, not both; {nearest(path, taken)}")
        kind = scalar_kind(leaf.kind)
        assert kind is not None
        value = kind.read(entry, here)
        if known(value):
            out[path] = value
    return out
