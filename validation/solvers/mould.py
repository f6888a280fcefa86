"""Kind ``mould``: thermokit against CVODE, scikit-fem and FiPy, in the first shot, several shots in a row and the settled shot.

The others are given the outlines, media, contacts and films of a shot; sides, channels and joints they find for themselves, and
everything that is solved is their own. The settled shot is found by marching shot after shot until nothing moves any more.
``table`` gives the rows, of all cases or of some.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING, Any

from validation.solvers.sections_answer import Pair, compared, look_at, read_history, with_track
from validation.solvers.sections_peers import (
    CVODE,
    ELEMENTS,
    VOLUMES,
    Effort,
    by_cvode,
    by_elements,
    by_volumes,
    mesh_of,
    process_of_case,
)

if TYPE_CHECKING:
    from thermokit.conduction.section_problem import SectionProblem
    from validation.solvers.rows import Row
    from validation.solvers.sections_shape import Look

KIND = "mould"
PLAIN, CUP = "mould_plain_wall", "mould_crystalline_cup"
LID, BOSS = "how_long_must_a_flat_pp_bin_lid_cool", "does_an_aluminium_insert_cool_a_boss_in_time"
SMALLER = Effort(elements=0.25, steps=4, linear=0.5)  # for moulds of many nodes and latent heat
MOST_SHOTS, STILL = 400, 2e-4  # K from shot to shot, at which a marched mould counts as settled
SETTLED = 0.02  # K, to which thermokit settles a shot


def first_shot(
    name: str, solvers: Collection[str], effort: Effort, changes: dict[str, float] | None = None
) -> list[Row]:
    """The first shot into a mould at its start, with the films that thermokit guesses for it."""
    process = process_of_case(name, tuple((changes or {}).items()))
    problem = process.problem()
    ours, look = _ours(process, problem)
    accuracy, level = float(process.case.accuracy.temperature), _level(process)
    found: list[Row] = []
    for solver, solve in ((CVODE, by_cvode), (ELEMENTS, by_elements), (VOLUMES, by_volumes)):
        if solver in solvers:
            theirs = solve(problem, look, effort)
            heats = [channel.name for channel in problem.channels] if solver != VOLUMES else []
            found += compared((KIND, f"{name}, first shot", solver), ours, theirs, look, accuracy, level, heats=heats)
    return found


def third_shot(name: str, solvers: Collection[str], effort: Effort) -> list[Row]:
    """Three shots in a row from the mould's start; the third is compared."""
    process = process_of_case(name)
    problem = process.problem()
    ours, look = _ours(process, problem, shots=3)
    accuracy, level = float(process.case.accuracy.temperature), _level(process)
    found: list[Row] = []
    for solver, solve in ((CVODE, by_cvode), (ELEMENTS, by_elements)):
        if solver in solvers:
            theirs = solve(problem, look, effort, shots=3)
            heats = [channel.name for channel in problem.channels]
            found += compared((KIND, f"{name}, third shot", solver), ours, theirs, look, accuracy, level, heats=heats)
    return found


def settled_shot(name: str, effort: Effort, solver: str = ELEMENTS) -> list[Row]:
    """The settled shot, which thermokit finds in two or three shots and the other by marching shot after shot.

    The cooling time is the one that ``thermokit run`` judges by.
    """
    from dataclasses import replace

    from thermokit.conduction.section_cycle import settled

    process = process_of_case(name)
    shot = process._shot()
    look = _look(process, shot.problem)
    rows = with_track(shot.problem, look.times)
    pair = []
    for finer in (2.0, 1.0):
        mesh = mesh_of(shot.problem, process.solver.fineness * finer)
        cycle = settled(shot.problem, mesh, SETTLED / finer, rows, step_tolerance=process.solver.step / finer)
        pair.append(read_history(cycle.history, shot.problem, look))
    ours = Pair(pair[0], replace(pair[1], crossed=process.crossing_of_part(shot.facts)))
    solve = by_cvode if solver == CVODE else by_elements
    more: dict[str, Any] = {} if solver == CVODE else {"still": STILL}
    theirs = solve(shot.problem, look, effort, shots=MOST_SHOTS, **more)
    accuracy, level = float(process.case.accuracy.temperature), _level(process)
    heats = [channel.name for channel in shot.problem.channels]
    return compared((KIND, f"{name}, settled", solver), ours, theirs, look, accuracy, level, heats=heats)


def _level(process: Any) -> float:
    """The temperature below which the hottest place of the part must fall [K]."""
    return float(next(limit.bound for limit in process.limits() if limit.name == "ejection_centre"))


def _look(process: Any, problem: SectionProblem) -> Look:
    """Where and when; hold and cooling are one station for the part, in whose first quarter nothing is promised."""
    closed = float(problem.spans[0].duration) + float(problem.spans[1].duration)
    return look_at(problem, mesh_of(problem, process.solver.fineness), 0.25 * closed)


def _ours(process: Any, problem: SectionProblem, shots: int = 1) -> tuple[Pair, Look]:
    """(thermokit at the accuracy of the case and on twice as fine a mesh with half the error, where and when it is compared)."""
    from thermokit.conduction.section_cycle import shot_after_shot
    from thermokit.conduction.section_march import march

    look = _look(process, problem)
    rows = with_track(problem, look.times)
    pair = []
    for finer in (2.0, 1.0):
        mesh, step = mesh_of(problem, process.solver.fineness * finer), process.solver.step / finer
        if shots == 1:
            history = march(problem, mesh, rows, step)
        else:
            history = shot_after_shot(problem, mesh, shots, rows, step_tolerance=step).history
        pair.append(read_history(history, problem, look))
    return Pair(pair[0], pair[1]), look


def plain_first(solvers: Collection[str] = (CVODE, ELEMENTS, VOLUMES), effort: Effort | None = None) -> list[Row]:
    """A plain wall of constant properties, water of two temperatures: the first shot."""
    return first_shot(PLAIN, solvers, effort or Effort())


def plain_third(solvers: Collection[str] = (CVODE, ELEMENTS), effort: Effort | None = None) -> list[Row]:
    """The same, the third shot of three."""
    return third_shot(PLAIN, solvers, effort or Effort())


def plain_settled(effort: Effort | None = None) -> list[Row]:
    """The same, settled."""
    return settled_shot(PLAIN, effort or Effort())


def cup_first(solvers: Collection[str] = (CVODE, ELEMENTS, VOLUMES), effort: Effort | None = None) -> list[Row]:
    """A crystalline plastic with a rib, an aluminium insert with a contact round it: the first shot."""
    return first_shot(CUP, solvers, effort or SMALLER)


def cup_third(solvers: Collection[str] = (CVODE,), effort: Effort | None = None) -> list[Row]:
    """The same, the third shot of three."""
    return third_shot(CUP, solvers, effort or SMALLER)


def lid_first(solvers: Collection[str] = (CVODE,), effort: Effort | None = None) -> list[Row]:
    """The example of a polypropylene bin lid, let cool for 20 s: the first shot."""
    return first_shot(LID, solvers, effort or SMALLER, {"cycle.cooling": 20.0})


def boss_first(solvers: Collection[str] = (CVODE,), effort: Effort | None = None) -> list[Row]:
    """The example of an ABS boss with an aluminium insert: the first shot."""
    return first_shot(BOSS, solvers, effort or SMALLER)


CASES: dict[str, Callable[[], list[Row]]] = {
    "plain first": plain_first,
    "plain third": plain_third,
    "plain settled": plain_settled,
    "cup first": cup_first,
    "cup third": cup_third,
    "lid first": lid_first,
    "boss first": boss_first,
}


def table(cases: Collection[str] = tuple(CASES)) -> list[Row]:
    """All rows of some cases."""
    return [line for name in cases for line in CASES[name]()]
