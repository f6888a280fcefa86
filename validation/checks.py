"""The registry of outside checks: what is measured, against what, how far apart it may be (``python -m validation``).

A target is the exact solution, computed by ``validation.references``. Beside it stand the number printed by the source
(with a note where that one is known to be off: a chart reading, a coarse grid, a rounded table) and the number that was
recomputed independently for this list before there was a solver; the references are tested against that one too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from validation import measure

#: kinds of case, in the order of the book
KINDS = ("body", "section", "sheet", "charge", "dip", "mill", "cylinder", "mould", "line")
SHOWN = 300.0  # a number found is shown to about so many parts of its tolerance


@dataclass(frozen=True)
class Tolerance:
    """How far found may be from exact: ``absolute`` in the quantity's unit, or ``share`` of the exact value."""

    absolute: float | None = None
    share: float | None = None

    def allowed(self, exact: float) -> float:
        """Allowed difference in the quantity's unit."""
        return self.absolute if self.absolute is not None else abs(exact) * (self.share or 0.0)

    def __str__(self) -> str:
        return f"{self.absolute:g}" if self.absolute is not None else f"{100 * (self.share or 0.0):g} %"


@dataclass(frozen=True)
class Quantity:
    """One number of a check.

    exact : computes the target; recorded : the same, as recomputed by hand for this list (None: not on the list);
    find : reads it off what the check's ``run`` gave; published : as printed by the source; note : why that differs;
    reason : why found is outside its tolerance, where it is.
    """

    name: str
    unit: str
    exact: Callable[[], float]
    tolerance: Tolerance
    find: Callable[[Any], float]
    recorded: float | None = None
    published: float | None = None
    note: str = ""
    reason: str = ""

    @property
    def words(self) -> str:
        """The tolerance in words."""
        return str(self.tolerance)

    def allowed(self, exact: float) -> float:
        """How far found may be from exact, in the quantity's unit."""
        return self.tolerance.allowed(exact)


@dataclass(frozen=True)
class Bound:
    """A number of a check that must lie within two bounds (facts of the trade, not exact solutions)."""

    name: str
    unit: str
    low: float
    high: float
    find: Callable[[Any], float]
    note: str = ""
    reason: str = ""

    published = None

    @property
    def words(self) -> str:
        """The two bounds in words."""
        return f"{self.low:g} to {self.high:g}"


@dataclass(frozen=True)
class Check:
    """A case with its quantities.

    status : verified (the printed number was seen), from memory (it was not), computed (nobody printed it);
    run : gives what ``find`` reads; statement : what is solved, in words, where no case file says it; parts : the kinds of
    case that use what is checked, apart from those whose case files the check runs (these are recorded as it runs).
    """

    id: str
    title: str
    source: str
    status: str
    run: Callable[[], Any]
    quantities: tuple[Quantity | Bound, ...]
    statement: str = ""
    parts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One line of the table; ``found`` is rounded to what is shown, ``step``; allowed : how far it may be from exact."""

    name: str
    unit: str
    published: float | None
    exact: float | None
    found: float
    step: float
    allowed: float
    tolerance: str
    passed: bool
    note: str = ""
    reason: str = ""

    @property
    def deviation(self) -> float:
        """Found minus exact (NaN where there is no exact value)."""
        return math.nan if self.exact is None else self.found - self.exact


@dataclass(frozen=True)
class Outcome:
    """What a check gave: its rows, and the case files that it ran, each as (kind, file, changes in words)."""

    rows: tuple[Row, ...]
    cases: tuple[measure.Used, ...] = ()


def width_of(quantity: Quantity | Bound, exact: float | None) -> float:
    """How far found may be from exact; of bounds, half their distance."""
    if isinstance(quantity, Bound):
        return (quantity.high - quantity.low) / 2.0
    return quantity.allowed(0.0 if exact is None else exact)


def step_of(quantity: Quantity | Bound, exact: float | None) -> float:
    """To what a number found is shown: a power of ten below a three-hundredth of what is allowed.

    More would be round-off and the digits of one machine; less would hide how much of the tolerance is used.
    """
    width = width_of(quantity, exact)
    return 10.0 ** math.floor(math.log10(width / SHOWN)) if width > 0.0 else 1e-6


def row(quantity: Quantity | Bound, exact: float | None, found: float, passed: bool) -> Row:
    """A line of the table from its numbers."""
    step = step_of(quantity, exact)
    return Row(
        name=quantity.name,
        unit=quantity.unit,
        published=quantity.published,
        exact=exact,
        found=rounded(found, step),
        step=step,
        allowed=width_of(quantity, exact),
        tolerance=quantity.words,
        passed=passed,
        note=quantity.note,
        reason=quantity.reason,
    )


def rounded(value: float, step: float) -> float:
    """To a multiple of a power of ten; -0 is 0."""
    return round(value, -round(math.log10(step))) + 0.0 if math.isfinite(value) else value


def judge(quantity: Quantity | Bound, outcome: Any) -> Row:
    """Measure one quantity on what the check's run gave."""
    found = float(quantity.find(outcome))
    if isinstance(quantity, Bound):
        return row(quantity, None, found, quantity.low <= found <= quantity.high)
    exact = quantity.exact()
    return row(quantity, exact, found, abs(found - exact) <= quantity.allowed(exact))


def perform(check: Check) -> Outcome:
    """Run a check and measure all of its quantities."""
    measure.used.clear()
    outcome = check.run()
    rows = tuple(judge(quantity, outcome) for quantity in check.quantities)
    return Outcome(rows, tuple(dict.fromkeys(measure.used)))


def _stated(check: Check, statements: Mapping[str, tuple[str, tuple[str, ...]]]) -> Check:
    """The check with its statement and parts, where it runs no case file that says them."""
    words, parts = statements.get(check.title, (check.statement, check.parts))
    return replace(check, statement=words, parts=parts)


def registry() -> tuple[Check, ...]:
    """Every check, in the order of their numbers."""
    from validation.families import (
        air,
        convective,
        cooling,
        curing,
        decay,
        dipping,
        exotherm,
        line,
        line_laws,
        network,
        phase,
        radiation,
        sections,
        sections_in_time,
        sensitivity,
        shaping,
        sheet,
        statements,
        steady_states,
        thick,
        thin,
        water,
        water_mould,
    )

    rooms = (
        decay,
        convective,
        thick,
        steady_states,
        thin,
        phase,
        radiation,
        cooling,
        curing,
        exotherm,
        shaping,
        sheet,
        network,
        line,
        line_laws,
        dipping,
        air,
        water,
        water_mould,
        sections,
        sections_in_time,
        sensitivity,
    )
    checks = [_stated(check, statements.OF_TITLE) for room in rooms for check in room.CHECKS]
    return tuple(sorted(checks, key=lambda check: check.id))
