"""What a run says to a cause: the number, its limit, and whether it speaks for the cause or against it."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.errors import ThermokitError

if TYPE_CHECKING:
    from thermokit.results.model import LimitCheck, Outcome, Result
    from thermokit.studies.why_defects import Cause

FOR, AGAINST, UNKNOWN, COMPARE = "speaks for it", "speaks against it", "not computed", "compare with a good part"
#: margins by unit that are within what a shop can hold, so that they hardly speak against a cause: common practice, no source
CLOSE = {"degC": 5.0, "K": 2.0, "1": 0.05, "mm": 0.1}
CLOSE_SHARE = 0.05  # of the limit, for any other unit


@dataclass(frozen=True)
class Evidence:
    """What the run says to one cause.

    name : outcome or limit; value, limit, margin in ``unit`` (margin > 0: on the side that speaks against the cause), None where
    there is none; verdict : FOR, AGAINST, UNKNOWN or COMPARE; close : it speaks against, but by less than a shop can hold.
    """

    name: str = ""
    value: float | None = None
    unit: str = ""
    limit: str = ""
    margin: float | None = None
    verdict: str = UNKNOWN
    close: bool = False
    meaning: str = ""


class Case:
    """A run with its case as it was resolved: outcomes by name, also those that only a diagnosis asks for."""

    def __init__(self, result: Result):
        self.result = result
        self.table: dict[str, Any] = tomllib.loads(result.provenance.resolved_text)

    @property
    def product(self) -> str | None:
        """Of a line, what runs; None of anything else."""
        return (self.table.get("line") or {}).get("product")

    def named(self, pattern: str) -> list[Outcome]:
        """Outcomes of that name, * for anything and {KIND} for the stations of a kind, that have a value."""
        from thermokit.results.model import Outcome

        patterns = [pattern]
        if (kind := re.search(r"\{(\w+)\}", pattern)) is not None:
            patterns = [pattern.replace(kind.group(), name) for name in self.stations(kind.group(1))]
        own = _OWN.get(pattern)
        if own is not None:
            value = own[0](self)
            return [] if value is None else [Outcome(pattern, value, own[1], own[2])]
        held = [o for o in self.result.outcomes if o.value is not None and not _evened_out(o.name, o.value)]
        return [o for o in held if any(fnmatchcase(o.name, p) for p in patterns)]

    def stations(self, *kinds: str) -> list[str]:
        """Names of the stations of some kinds, as they stand in outcomes."""
        return [_word(str(s.get("name"))) for s in self.table.get("stations", []) if s.get("kind") in kinds]

    def checks(self, patterns: tuple[str, ...]) -> list[LimitCheck]:
        """Limits of those names that could be held against something."""
        found = [c for c in self.result.limits if any(fnmatchcase(c.name, p) for p in patterns)]
        return [c for c in found if c.margin is not None and not _evened_out(c.name, c.found)]


def _evened_out(name: str, value: float | None) -> bool:
    """Whether a spread is nought because the case takes the panels as even: it then says nothing about the real ones."""
    return name == "map_spread" and abs(value or 0.0) < 1e-9


def evidence(cause: Cause, case: Case) -> Evidence:
    """What the run says to a cause: by a limit of the case where there is one, else by an outcome against the usual limit."""
    wanted = {"above": "at most", "below": "at least"}.get(cause.bad, "at")
    checks = [c for c in case.checks(cause.check) if c.required.startswith(wanted)]
    if checks:
        return _by_check(min(checks, key=lambda c: (c.met, _scaled(c))))
    return _by_outcome(cause, case)


def _scaled(check: LimitCheck) -> float:
    """A margin in parts of what is close in its unit, so that several can be set in order."""
    return float(check.margin or 0.0) / CLOSE.get(check.unit, 1.0)


def _by_check(check: LimitCheck) -> Evidence:
    assert check.margin is not None
    close = bool(check.met and check.margin < CLOSE.get(check.unit, CLOSE_SHARE * abs(check.found or 0.0)))
    verdict = AGAINST if check.met else FOR
    return Evidence(check.name, check.found, check.unit, check.required, check.margin, verdict, close, check.where)


def _by_outcome(cause: Cause, case: Case) -> Evidence:
    """The worst outcome that the cause names, by itself, over another, or less another."""
    found = [o for pattern in cause.quantity for o in case.named(pattern)]
    if not found:
        return Evidence()
    pick = min if cause.bad == "below" else max
    worst = pick(found, key=lambda o: float(o.value or 0.0))
    name, value, unit, meaning = worst.name, float(worst.value or 0.0), worst.unit, worst.meaning
    for other, sign in ((cause.over, "/"), (cause.less, "-")):
        if not other:
            continue
        against = case.named(other)
        if not against or (sign == "/" and not against[0].value):
            return Evidence(name, value, unit, meaning=meaning)
        base = float(against[0].value or 0.0)
        name = f"{name} {sign} {against[0].name}"
        value, unit = (value / base, "1") if sign == "/" else (value - base, "K" if unit == "degC" else unit)
    bound = cause.limit if not cause.limit_of else _bound(case, cause.limit_of)
    if bound is None or not cause.bad:
        return Evidence(name, value, unit, verdict=COMPARE, meaning=meaning)
    above = cause.bad == "above"
    margin = bound - value if above else value - bound
    shown = f"{'at most' if above else 'at least'} {bound:.6g}{'' if unit == '1' else ' ' + unit}"
    source = "assumed, hold it against a good part" if cause.assumed else "common practice, no source"
    source = "of the case" if cause.limit_of else source
    close = 0.0 <= margin < CLOSE.get(unit, CLOSE_SHARE * abs(bound))
    verdict = AGAINST if margin >= 0.0 else FOR
    return Evidence(name, value, unit, f"{shown} ({source})", margin, verdict, close, meaning)


def _bound(case: Case, name: str) -> float | None:
    """What a limit of the case asks for, in its unit."""
    for check in case.checks((name,)):
        if check.found is not None and check.margin is not None:
            return check.found + (check.margin if check.required.startswith("at most") else -check.margin)
    return None


# -- numbers that only a diagnosis asks for ----------------------------------------------------------------------------------


def _field(case: Case, name: str) -> Any:
    return next((field for field in case.result.fields if field.name == name), None)


def _time_in_air(case: Case) -> float | None:
    """From the first coat of a line to its first water [s]."""
    ends, kinds = _field(case, "line/time"), [s.get("kind") for s in case.table.get("stations", [])]
    if ends is None or "coat" not in kinds or "bath" not in kinds[kinds.index("coat") :]:
        return None
    values = np.asarray(ends.values, float)
    coat = kinds.index("coat")
    bath = kinds.index("bath", coat)
    return float(values[bath - 1] - values[coat])


def _conductor(case: Case) -> float | None:
    """Temperature to which a conductor is brought before it is covered [degC]."""
    texts = [s.get("temperature") for s in case.table.get("stations", []) if s.get("kind") == "preheat"]
    try:
        return units.parse(str(texts[-1]), "temperature") - 273.15 if texts else None
    except ThermokitError:
        return None


def _over_freezing(case: Case) -> float | None:
    """Mean of the wall over the temperature at which it freezes, when the skin does [K]."""
    freezes, mean = _field(case, "freezing/temperature"), case.named("mean_when_skin_freezes")
    return None if freezes is None or not mean else float(mean[0].value or 0.0) - float(np.ravel(freezes.values)[0])


def _after_a_stop(case: Case) -> float | None:
    """Hottest that what stands on a stopped line gets [degC], None where no stop was followed."""
    stands = "time since it stands"
    found = [f for f in case.result.fields if f.name.endswith("/value") and f.axes[0].meaning == stands]
    return max((float(np.max(f.values)) for f in found), default=None)


_OWN: dict[str, tuple[Any, str, str]] = {
    "time_in_air": (_time_in_air, "s", "from the die to the first water"),
    "conductor_at_contact": (_conductor, "degC", "conductor where it meets the melt"),
    "mean_over_freezing": (_over_freezing, "K", "mean of the wall over its freezing point when the skin freezes"),
    "hottest_after_a_stop": (_after_a_stop, "degC", "hottest that what stands on the stopped line gets"),
}


def _word(name: str) -> str:
    """A station's name as it stands in names of outcomes."""
    return "".join(c if c.isalnum() else "_" for c in name.lower()).strip("_")
