"""One line of the table in which thermokit stands beside general-purpose solvers.

Both answers have an error of their own, found by halving mesh and steps. The difference that is allowed is what the two errors
allow together; it is never fitted to the difference that was found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One quantity of one case by thermokit and by one other solver.

    kind : of case; ours, theirs : values in ``unit``; difference : ours minus theirs; own_error : the other solver's own,
    from halving its mesh and steps; allowed : largest difference that both errors allow; reason : where they differ, why.
    """

    kind: str
    case: str
    solver: str
    quantity: str
    unit: str
    ours: float
    theirs: float
    difference: float
    own_error: float
    allowed: float
    passed: bool
    reason: str = ""


def row(
    kind: str,
    case: str,
    solver: str,
    quantity: str,
    unit: str,
    ours: float,
    theirs: float,
    own_error: float,
    allowed: float,
    reason: str = "",
) -> Row:
    """A row with its difference and its judgement; what is not a finite number fails."""
    ours, theirs, own_error, allowed = (float(value) for value in (ours, theirs, own_error, allowed))
    difference = ours - theirs
    passed = math.isfinite(difference) and math.isfinite(allowed) and abs(difference) <= allowed
    return Row(kind, case, solver, quantity, unit, ours, theirs, difference, own_error, allowed, passed, reason)
