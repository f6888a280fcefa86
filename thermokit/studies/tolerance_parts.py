"""Many parts of one case whose inputs are off: margins and outcomes of each, for every kind of case.

A layered body is solved in batches on the mesh that its nominal part settles on (:mod:`thermokit.studies.answers`). A case that
solves itself is asked for its margins; a mould draws them on its single wall, in seconds beyond the time at which each limit
is met: there only the sign is meant.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import CaseError, Mistake
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import settled
from thermokit.results.digits import difference_unit
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.dwell import FINE_MESH, LOOSE
from thermokit.studies.sought import bounds_of
from thermokit.studies.tolerance import drawn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit
    from thermokit.studies.answers_plan import Answers, Plan

DRAWS = 4096
FEWEST = 256
WORK = 1e8  # steps x cells of all draws together: some ten seconds
ON_WALL = 512  # parts, on the single wall of a mould
SLOW = 64  # parts, where each is a run of its own


@dataclass(frozen=True)
class Parts:
    """One case with nothing left to be found, made ready for many parts of it.

    case : with the setting filled in; limits; plan : how rows are solved, None where the case solves itself; path : of the
    setting that such a case is asked by; amounts : whether margins are amounts, else only their sign is meant; most : how
    many parts are worth drawing; note : what must be said of the way they are solved.
    """

    case: Any
    limits: tuple[Limit, ...]
    plan: Plan | None
    direct: Any = None
    path: str = ""
    amounts: bool = True
    most: int = DRAWS
    note: str = ""

    @property
    def together(self) -> bool:
        """Whether many parts are solved at once."""
        return not self.amounts or (self.plan is not None and self.plan.how == "batch")

    def at(self, case: Any, path: str, setting: float | None) -> Parts:
        """The same made ready at another setting, on the same mesh."""
        filled = case.with_values({path: setting})
        plan = replace(self.plan, case=filled) if self.plan is not None else None
        return replace(self, case=filled, plan=plan)

    def margins(self, values: Mapping[str, Array]) -> Array:
        """(limits, n) [SI], NaN where a part could not be solved; values : path -> (n,) [SI]."""
        if self.plan is not None:
            return answers_of(self.plan, values).margins
        count = len(next(iter(values.values())))
        setting = float(self.case.value(self.path))
        settings = np.asarray(values.get(self.path, np.full(count, setting)), float)
        others = {path: column for path, column in values.items() if path != self.path}
        found = self.direct.margins(self.path, settings, others)[1]
        return np.asarray(found, float)

    def answers(self, values: Mapping[str, Array], wanted: Sequence[str] | None = None) -> Answers:
        """Outcomes too, as far as they come without a run for each row (or those that are named)."""
        plan = plan_of(self.case, values, wanted, self.plan.edges if self.plan is not None else None)
        return answers_of(_lighter(plan), values)


def parts_of(case: Any, path: str | None = None, setting: float | None = None, values: Any = None) -> Parts:
    """The case made ready at a setting.

    path, setting : where something is sought, its path and the value that is tried [SI]; values : rows at the ends of what
    will be asked, path -> (n,); left out: the ends of the tolerances. Raises CaseError where nothing limits the part.
    """
    if path is not None and setting is not None:
        case = case.with_values({path: setting})
    direct = direct_of(case)
    process: Any = direct if direct is not None else process_of(case)
    limits = limited(case, process)
    if direct is not None:
        return _direct_parts(case, direct, limits, path)
    ends = values if values is not None else drawn(case, ends_of(len(case.tolerances)))
    edges = settled(case, process).edges if values is None else None  # rows far apart settle on a mesh for all of them
    plan = plan_of(case, ends, [], edges)
    if plan.how == "batch" and path is not None:
        chosen = process.chosen(edges, plan.tolerance, [setting], path)
        plan = replace(plan, places=chosen if chosen is not None else plan.places)
    if plan.how != "batch":
        note = f"each part is a run of its own, since {plan.note}"
        return Parts(case, limits, plan, most=SLOW, note=note)
    plan = _lighter(plan)
    most = DRAWS
    while most > FEWEST and most * plan.work > WORK:
        most //= 2
    return Parts(case, limits, plan, most=most)


def limited(case: Any, process: Any) -> tuple[Limit, ...]:
    """The limits of a case. Raises CaseError where it has none."""
    found: tuple[Limit, ...] = process.limits()
    if not found:
        raise CaseError(
            case.source.file, [Mistake("limits", "nothing limits the part", "at least one limit", "add [limits]")]
        )
    return found


def ends_of(inputs: int) -> Array:
    """Points of the unit cube: the nominal part, and every input at either end of its tolerance (k = 2), (3, inputs)."""
    from scipy.special import ndtr

    return np.repeat([[0.5], [ndtr(-2.0)], [ndtr(2.0)]], inputs, axis=1)


def _lighter(plan: Plan) -> Plan:
    """A mesh and steps that suit tolerances of kelvins rather than tenths."""
    if plan.how != "batch":
        return plan
    edges = tuple(cut[::2] if len(cut) > FINE_MESH and len(cut) % 2 else cut for cut in plan.edges)
    return replace(plan, edges=edges, tolerance=max(plan.tolerance, LOOSE))


def _direct_parts(case: Any, direct: Any, limits: tuple[Limit, ...], path: str | None) -> Parts:
    """A case that solves itself, asked by the setting that is sought or, where nothing is, by its usual one."""
    if path is None:
        path = "cycle.cooling" if case.process == "mould" else next(iter(drawn_paths(case)), "")
    if case.process == "mould":
        note = "what changes is found on the single wall between its channels, brought to the section by one ratio"
        return Parts(case, limits, None, direct, path, amounts=False, most=ON_WALL, note=note)
    note = "each part is a run of its own, on the mesh of a first look"
    return Parts(case, limits, None, direct, path, most=direct.draws or SLOW, note=note)


def drawn_paths(case: Any) -> list[str]:
    """Paths of all inputs with a tolerance."""
    return [path for name, tolerance in case.tolerances.items() for path in tolerance.inputs(name)]


def bounds_at(case: Any, path: str) -> tuple[float, float]:
    """How far a setting that is sought may go [SI]."""
    direct = direct_of(case)
    return bounds_of(case, path, direct.bounds(path) if direct is not None else None)


def unit_of(limit: Limit) -> str:
    """Unit in which a margin is shown."""
    return difference_unit(limit.unit)
