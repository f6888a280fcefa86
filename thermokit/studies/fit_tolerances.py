"""How far fitted values may be off because inputs that were taken as known are not: the tolerances of the case.

With J the Jacobian of the unknowns and j that of a known input, a change d of it moves the least squares by
-(J'J)^-1 J'j d. Tolerances are independent, so that the moves add by their squares; two standard deviations, as they are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.studies.fit_search import Found

    Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

SHARE = 0.25  # of two standard deviations by which an input is moved for its derivative


def moved_by_tolerances(found: Found, case: Any) -> dict[str, Array]:
    """Path of a known input with a tolerance -> move (variables,) of the unknowns, on their scales, for two deviations of it."""
    model = found.model
    if model.run is None and model.trials is None:
        return {}
    unknown = {path for group in _paths(found) for path in group}
    amounts = {}
    for path, tolerance in case.tolerances.items():
        base = (model.run.case if model.run is not None else case).value(path)
        if path in unknown or not isinstance(base, (int, float)) or path in _settings(found):
            continue
        amounts[path] = tolerance.two_sigma * (abs(float(base)) if tolerance.relative else 1.0)
    out = {}
    for path, amount in amounts.items():
        column = _derivative(found, case, path, amount)
        if column is not None:
            size = found.space.size
            move, *_ = np.linalg.lstsq(found.best.jacobian * size, -column * amount, rcond=1e-8)
            out[path] = move * size
    return out


def _paths(found: Found) -> tuple[tuple[str, ...], ...]:
    model = found.model
    held = model.run if model.run is not None else model.trials
    return held.paths if held is not None else ()


def _settings(found: Found) -> tuple[str, ...]:
    """Paths that trials set: their tolerance is that of the trial."""
    return tuple(found.model.trials.settings) if found.model.trials is not None else ()


def _derivative(found: Found, case: Any, path: str, amount: float) -> Array | None:
    """Derivative of the residuals by a known input, (rows,); None where the runs fail."""
    rests = []
    for sign in (-1.0, 1.0):
        model = found.model
        if model.run is not None:
            moved = float(model.run.case.value(path)) + sign * SHARE * amount
            model = replace(model, run=replace(model.run, case=model.run.case.with_values({path: moved})))
        if model.trials is not None:
            plan = model.trials.plan
            moved = float(case.value(path)) + sign * SHARE * amount
            model = replace(
                model, trials=replace(model.trials, plan=replace(plan, case=plan.case.with_values({path: moved})))
            )
        rests.append(model.residuals(found.best.at[None])[0])
    column = (rests[1] - rests[0]) / (2.0 * SHARE * amount)
    return np.asarray(column) if np.all(np.isfinite(column)) else None
