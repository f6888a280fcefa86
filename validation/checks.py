"""The registry of outside checks: what is measured, against what, how far apart it may be (``python -m validation``).

A target is the exact solution, computed by ``validation.references``. Beside it stand the number printed by the source
(with a note where that one is known to be off: a chart reading, a coarse grid, a rounded table) and the number that was
recomputed independently for this list before there was a solver; the references are tested against that one too.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


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
    find : reads it off what the check's ``run`` gave; published : as printed by the source; note : why that differs.
    """

    name: str
    unit: str
    exact: Callable[[], float]
    tolerance: Tolerance
    find: Callable[[Any], float]
    recorded: float | None = None
    published: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Bound:
    """A number of a check that must lie within two bounds (facts of the trade, not exact solutions)."""

    name: str
    unit: str
    low: float
    high: float
    find: Callable[[Any], float]
    note: str = ""


@dataclass(frozen=True)
class Check:
    """A case with its quantities.

    status : verified (the printed number was seen), from memory (it was not), computed (nobody printed it);
    run : gives what ``find`` reads; long : takes more than about a second.
    """

    id: str
    title: str
    source: str
    status: str
    run: Callable[[], Any]
    quantities: tuple[Quantity | Bound, ...]
    long: bool = False


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    id: str
    name: str
    unit: str
    published: float | None
    exact: float | None
    found: float
    tolerance: str
    passed: bool
    note: str

    @property
    def difference(self) -> float:
        """Found minus exact (NaN where there is no exact value)."""
        return math.nan if self.exact is None else self.found - self.exact


def judge(check: Check, quantity: Quantity | Bound, outcome: Any) -> Row:
    """Measure one quantity on what the check's run gave."""
    found = float(quantity.find(outcome))
    if isinstance(quantity, Bound):
        passed = quantity.low <= found <= quantity.high
        band = f"{quantity.low:g} to {quantity.high:g}"
        return Row(check.id, quantity.name, quantity.unit, None, None, found, band, passed, quantity.note)
    exact = quantity.exact()
    passed = abs(found - exact) <= quantity.tolerance.allowed(exact)
    return Row(
        check.id,
        quantity.name,
        quantity.unit,
        quantity.published,
        exact,
        found,
        str(quantity.tolerance),
        passed,
        quantity.note,
    )


def registry() -> tuple[Check, ...]:
    """Every check, in the order of their numbers."""
    from validation.families import (
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
        water,
        water_mould,
        sections,
        sections_in_time,
        sensitivity,
    )
    checks = [check for room in rooms for check in room.CHECKS]
    return tuple(sorted(checks, key=lambda check: check.id))
