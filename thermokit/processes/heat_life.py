"""How much of a compound's heat life a run uses up: the stabiliser counted down, whatever the process."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.media import HEAT_DOSE
from thermokit.results.model import Outcome

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.processes.base import Facts, Process

RESERVE = 0.5  # share of the heat life to keep in hand; common practice, no source


def used(facts: Facts) -> float | None:
    """Share of the heat life that is used up at the place that has used most, None where none is followed."""
    dose = facts.states.get(HEAT_DOSE)
    if dose is None or not np.any(np.isfinite(dose)):
        return None
    return float(np.nanmax(dose))


def outcomes(process: Process, facts: Facts, told: Sequence[Outcome]) -> list[Outcome]:
    """Heat life used and left at the end of a run, where it is that of a compound by recipe; told : outcomes so far.

    What is left is told as a share and as the time that the compound would still stand at the temperature its heat life
    is known for (of several compounds the shortest).
    """
    share, compounds = used(facts), process.stuff.compounds()
    if share is None or not compounds or _own_dose(process.case):
        return []
    words = "share of the heat life used up at the place that has used most, at the end"
    first = [] if any(own.name == HEAT_DOSE for own in told) else [Outcome(HEAT_DOSE, share, "1", words)]
    left = max(0.0, 1.0 - share)
    lives = [compound.heat_life for compound in compounds.values()]
    life = min(lives, key=lambda own: float(np.ravel(own.time)[0]))
    at = float(np.ravel(life.temperature)[0]) - 273.15
    return [
        *first,
        Outcome(
            "heat_life_left", left, "1", f"share that is left; {RESERVE:g} is to be kept in hand (common practice)"
        ),
        Outcome(
            "heat_life_left_time",
            left * float(np.ravel(life.time)[0]),
            "s",
            f"time that it would still stand at {at:.0f} degC",
        ),
    ]


def warnings(process: Process, facts: Facts) -> list[str]:
    """Said where the reserve, or the heat life itself, is used up."""
    share = used(facts)
    if share is None or not process.stuff.compounds() or _own_dose(process.case) or share <= 1.0 - RESERVE:
        return []
    if share >= 1.0:
        return [
            f"heat life: used up {share:.2f} times over: it turns brown to black and gives off hydrogen chloride; more "
            "stabiliser, less heat, or a shorter way"
        ]
    return [f"heat life: {100 * share:.0f} % used up, more than the {100 * (1 - RESERVE):.0f} % that leave a reserve"]


def _own_dose(case: Any) -> bool:
    """Whether the case follows a dose of its own ([sheet.dose], [charge.dose]) in place of the compound's."""
    return any(getattr(getattr(case, part, None), "dose", None) is not None for part in ("sheet", "charge"))
