"""Which value of an input gives a wanted outcome: ``[wanted]`` beside an input that is left to be found.

The outcome is followed over the bounds of the input in batches, f(x) = outcome(x) - wanted; where its sign changes the bracket is
cut down and closed by a straight line. ``at_least`` and ``at_most`` are bounds like limits and give a window; ``value`` gives
the single setting at which the outcome has it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.processes import direct_of
from thermokit.processes.base import Limit
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.found import Dwell, Margin
from thermokit.studies.sought import bounds_of, noted_input, scale_of
from thermokit.studies.window import Window, find_window, wants_high

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array
    from thermokit.studies.answers_plan import Plan

POINTS, INSIDE, ROUNDS = 33, 7, 2  # settings of the first look, inside each bracket in each refinement
SLOW, SLOW_INSIDE = 7, 1  # where each setting is a run of its own
SLOW_ROUNDS = 3
BROKEN = 0.02  # K or 1, beyond which a limit counts as broken: the wanted outcome may be a limit itself


@dataclass(frozen=True)
class WantedLimit(Limit):
    """A bound on an outcome, in the unit in which that is told."""

    outcome_unit: str = ""

    @property
    def unit(self) -> str:
        """Unit of the outcome."""
        return self.outcome_unit or "1"

    @property
    def margin_unit(self) -> str:
        """Unit of a difference of the outcome."""
        return "K" if self.unit == "degC" else self.unit

    def shown(self, value: float) -> float:
        """As it is."""
        return value


@dataclass
class Wish:
    """An outcome against an input: what is wanted of it, and every setting looked at so far.

    case : with the input filled in; bounds : value, at_least, at_most as far as they are given; even : settings are equally
    spaced, not by equal ratios.
    """

    case: Any
    path: str
    outcome: str
    bounds: dict[str, float]
    unit: str
    plan: Plan
    even: bool
    seen: dict[float, float] = field(default_factory=dict)

    def outcomes(self, settings: Array) -> Array:
        """The outcome at settings [SI], NaN where it is not reached or the run fails."""
        new = np.array(sorted({float(x) for x in settings} - set(self.seen)))
        if new.size:
            found = answers_of(self.plan, {self.path: new})
            self.seen |= dict(zip(new.tolist(), found.outcomes[self.outcome].tolist(), strict=True))
        return np.array([self.seen[float(x)] for x in settings])

    def limits(self) -> tuple[Limit, ...]:
        """The bounds as limits; of a single value both sides of it."""
        sides = {"at_least": True, "at_most": False}
        return tuple(
            WantedLimit(self.outcome, self.outcome, sides[word], bound, "fraction", outcome_unit=self.unit)
            for word, bound in self.bounds.items()
            if word in sides
        )

    def margins(self, settings: Array) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings))."""
        values, limits = self.outcomes(settings), self.limits()
        return limits, np.array([limit.margin(values) for limit in limits])


def inverse(case: Any, path: str, told: Callable[[float], None] = lambda share: None) -> Dwell:
    """The setting at a path with which the outcome of ``[wanted]`` is as wanted; as the answer of a dwell search.

    Raises CaseError on an outcome that the case has not, and on a value in another unit.
    """
    window, wish, other = _found(case, path, told)
    text = scale_of(case, path).text
    notes = [f"{wish.outcome} is as wanted at {', '.join(text(x) for x in other)} too"] if other else []
    missed = None if window.open else _missed(wish, text)
    nearest = None if window.open else _nearest(wish)[0]
    return _answer(case, path, window, wish.plan, missed, nearest, notes)


def limits_inverse(case: Any, path: str, told: Callable[[float], None] = lambda share: None) -> Dwell:
    """The setting at a path that meets the limits, where every setting is a run of its own (a mould)."""
    asked = ByRuns(case, path, _plan(case, path, []))
    told(0.3)
    if not asked.plan.limits:
        raise CaseError(
            case.source.file,
            [Mistake("limits", "a value is sought, and nothing limits it", "at least one limit", "add [limits]")],
        )
    window = find_window(asked, *bounds_of(case, path), SLOW, SLOW_INSIDE)
    at, margins = window.nearest_miss()
    missed = None
    if not window.open:
        limit, margin = min(margins, key=lambda pair: pair[1])
        amount = f"{-margin:.2g} {limit.margin_unit}".removesuffix(" 1")
        missed = f"no window: the nearest miss is at {scale_of(case, path).plain(at)}, where {limit.name} is missed by {amount}"
    notes = ["tolerances are not drawn: each setting is a run of its own"] if case.tolerances else []
    return _answer(case, path, window, asked.plan, missed, at, notes)


def limits_window(case: Any, path: str) -> Window:
    """The window alone, where every setting is a run of its own."""
    return find_window(ByRuns(case, path, _plan(case, path, [])), *bounds_of(case, path), SLOW, SLOW_INSIDE)


@dataclass(frozen=True)
class ByRuns:
    """The limits of a case against an input, run by run."""

    case: Any
    path: str
    plan: Plan

    def margins(self, settings: Array) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings))."""
        direct: Any = direct_of(self.plan.case)
        return direct.limits(), answers_of(self.plan, {self.path: np.asarray(settings, float)}).margins


def _plan(case: Any, path: str, wanted: list[str]) -> Plan:
    """How settings between the bounds are solved; the case with the middle of them filled in."""
    low, high = bounds_of(case, path, _usual(case, path))
    even = noted_input(case, path) is not None
    middle = (low + high) / 2.0 if even else float(np.sqrt(low * high))
    base = replace(case.with_values({path: middle}), wanted=None)
    return plan_of(base, {path: np.array([low, middle, high])}, wanted)


def _answer(
    case: Any, path: str, window: Window, plan: Plan, missed: str | None, nearest: float | None, notes: list[str]
) -> Dwell:
    """A window as the answer of a dwell search, with the margins of the limits where it is recommended."""
    low, high = bounds_of(case, path, _usual(case, path))
    recommended = window.middle
    margins: tuple[Margin, ...] = ()
    if recommended is not None:
        final = answers_of(plan, {path: np.array([recommended])})
        pairs = zip(final.limits, final.margin_units, final.margins[:, 0], strict=True)
        margins = tuple(Margin(name, float(m), unit) for name, unit, m in pairs)
    broken = [m.limit for m in margins if m.value < -BROKEN]
    if broken:
        notes = [*notes, f"what is wanted breaks limits: {', '.join(broken)}"]
    return Dwell(
        station=path.split(".")[1] if path.endswith(".duration") else path,
        path=path,
        earliest=window.earliest,
        latest=window.latest,
        recommended=recommended,
        earliest_limit=window.earliest_limit,
        latest_limit=window.latest_limit,
        margins=margins,
        opens_with=missed,
        hand=None,
        shifts=(),
        shares=None,
        low=low,
        high=high,
        nearest=float(recommended if recommended is not None else nearest if nearest is not None else low),
        edges=plan.edges,
        scale=scale_of(case, path),
        notes=tuple(notes),
    )


def wanted_window(case: Any, path: str) -> Window:
    """The window alone."""
    return _found(case, path, lambda share: None)[0]


def _usual(case: Any, path: str) -> tuple[float, float] | None:
    direct = direct_of(case)
    return None if direct is None else direct.bounds(path)


def _found(case: Any, path: str, told: Callable[[float], None]) -> tuple[Window, Wish, tuple[float, ...]]:
    """(window, the wish with what was computed, other settings at which the wanted value is had)."""
    low, high = bounds_of(case, path, _usual(case, path))
    even = noted_input(case, path) is not None
    plan = _plan(case, path, [case.wanted.outcome])
    told(0.3)
    unit = next((o.unit for o in plan.told if o.name == case.wanted.outcome), None)
    if unit is None:  # the runs at the bounds and between them stopped before their end: nothing is told of them
        raise SolveError(
            f"{case.wanted.outcome} could not be had at {case.source.file or 'this case'}'s bounds of {path}: the runs stopped",
            "`thermokit run` with a value in place of what is sought says why",
        )
    try:
        bounds = case.wanted.bounds(unit)
    except units.UnitError as wrong:
        raise CaseError(case.source.file, [Mistake("wanted", wrong.what, wrong.allowed)]) from None
    wish = Wish(plan.case, path, case.wanted.outcome, bounds, unit, plan, even)
    slow = plan.one_by_one
    points, inside, rounds = (SLOW, SLOW_INSIDE, SLOW_ROUNDS) if slow else (POINTS, INSIDE, ROUNDS)
    if "value" not in bounds:
        return find_window(wish, low, high, points, inside), wish, ()
    settings = np.linspace(low, high, points) if even else np.geomspace(low, high, points)
    goal = bounds["value"]
    wish.outcomes(settings)
    for i in range(rounds):
        for a, b in _brackets(wish, goal):
            wish.outcomes(np.linspace(a, b, inside + 2)[1:-1])
        told(0.5 + 0.4 * (i + 1) / rounds)
    at = _crossings(wish, goal)
    settings = np.array(sorted(wish.seen))
    off = wish.outcomes(settings) - goal
    shown = (Limit(wish.outcome, wish.outcome, True, goal, "fraction"),)
    if not at:
        return Window(None, None, None, None, shown, settings, off[None]), wish, ()
    best = at[-1] if wants_high(path) else at[0]
    name = f"{wish.outcome} = {goal:.6g}" + ("" if unit in ("", "1") else f" {unit}")
    return (
        Window(best, best, name, name, shown, settings, off[None]), wish, tuple(x for x in at if x != best)
    )  # fmt: skip


def _brackets(wish: Wish, goal: float) -> list[tuple[float, float]]:
    """Neighbouring settings between which the outcome passes the wanted value."""
    settings = sorted(wish.seen)
    off = [wish.seen[x] - goal for x in settings]
    return [
        (settings[i], settings[i + 1])
        for i in range(len(settings) - 1)
        if np.isfinite(off[i]) and np.isfinite(off[i + 1]) and (off[i] <= 0.0) != (off[i + 1] <= 0.0)
    ]


def _crossings(wish: Wish, goal: float) -> list[float]:
    """Settings at which the outcome has the wanted value, by straight lines inside the last brackets."""
    out = []
    for a, b in _brackets(wish, goal):
        ya, yb = wish.seen[a] - goal, wish.seen[b] - goal
        out.append(a + (b - a) * ya / (ya - yb))
    return out


def _nearest(wish: Wish) -> tuple[float, float]:
    """(setting, outcome) that comes nearest to what is wanted."""
    goals = list(wish.bounds.values())
    known = [(x, y) for x, y in wish.seen.items() if np.isfinite(y)]
    if not known:
        return min(wish.seen), float("nan")
    return min(known, key=lambda pair: min(abs(pair[1] - goal) for goal in goals))


def _missed(wish: Wish, text: Callable[[float], str]) -> str:
    """Why there is no such setting, in words."""
    x, y = _nearest(wish)
    unit = "" if wish.unit in ("", "1") else f" {wish.unit}"
    if not np.isfinite(y):
        return f"{wish.outcome} is not reached at any setting between {text(min(wish.seen))} and {text(max(wish.seen))}"
    ends = [v for v in wish.seen.values() if np.isfinite(v)]
    return (
        f"no such setting: between {text(min(wish.seen))} and {text(max(wish.seen))} {wish.outcome} goes from "
        f"{min(ends):.4g} to {max(ends):.4g}{unit}; nearest at {text(x)}, where it is {y:.4g}{unit}"
    )
