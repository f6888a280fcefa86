"""Kind ``section``: thermokit against CVODE, scikit-fem and FiPy. ``table`` gives the rows, of all cases or of some."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING

from validation.solvers.sections_answer import compared
from validation.solvers.sections_peers import (
    CVODE,
    ELEMENTS,
    GRID,
    VOLUMES,
    Effort,
    by_cvode,
    by_elements,
    by_elements_steady,
    by_grid,
    by_volumes,
    ours_of_section,
    process_of_case,
)

if TYPE_CHECKING:
    from validation.solvers.rows import Row

KIND = "section"


def ring(solvers: Collection[str] = (CVODE, ELEMENTS, GRID), effort: Effort | None = None) -> list[Row]:
    """Two rings about one axis in a warming oven: contact, radiation, tables of time and of temperature."""
    return _rectangles("section_ring", solvers, effort or Effort(), None)


def box(solvers: Collection[str] = (CVODE, ELEMENTS, GRID), effort: Effort | None = None) -> list[Row]:
    """A plastic with latent heat on a block of two metals: three contacts, radiation, convection; its hottest place at 90 degC."""
    return _rectangles("section_layered_box", solvers, effort or Effort(), 90.0 + 273.15)


def _rectangles(name: str, solvers: Collection[str], effort: Effort, level: float | None) -> list[Row]:
    process = process_of_case(name)
    problem = process.problem()
    ours, look = ours_of_section(process)
    accuracy = float(process.case.accuracy.temperature)
    heats = [edge.name for edge in problem.edges]
    found: list[Row] = []
    for solver, solve in ((CVODE, by_cvode), (ELEMENTS, by_elements), (GRID, by_grid)):
        if solver in solvers:
            theirs = solve(problem, look, effort)
            found += compared((KIND, name, solver), ours, theirs, look, accuracy, level, heats=heats)
    return found


def bored_block(solvers: Collection[str] = (CVODE, ELEMENTS, VOLUMES), effort: Effort | None = None) -> list[Row]:
    """A part with latent heat on a block with two channels and an insert, from which it is then taken."""
    name, effort = "section_bored_block", effort or Effort()
    process = process_of_case(name)
    problem = process.problem()
    ours, look = ours_of_section(process)
    accuracy = float(process.case.accuracy.temperature)
    found: list[Row] = []
    for solver, solve in ((CVODE, by_cvode), (ELEMENTS, by_elements), (VOLUMES, by_volumes)):
        if solver in solvers:
            heats = () if solver == VOLUMES else ("c1", "c2", "bottom", "back")
            theirs = solve(problem, look, effort)
            found += compared((KIND, name, solver), ours, theirs, look, accuracy, 110.0 + 273.15, heats=heats)
    return found


def platen(solvers: Collection[str] = (ELEMENTS, VOLUMES), effort: Effort | None = None) -> list[Row]:
    """The steady state of a platen with four heaters under radiation and convection, behind an insulating board."""
    name, effort = "how_even_is_the_face_of_a_platen_with_four_heater_bores", effort or Effort()
    process = process_of_case(name)
    problem = process.problem()
    ours, look = ours_of_section(process)
    accuracy = float(process.case.accuracy.temperature)
    found: list[Row] = []
    if ELEMENTS in solvers:
        theirs = by_elements_steady(problem, look, effort)
        heats = ("face", "left_side", "right_side", "bolster")
        found += compared((KIND, name, ELEMENTS), ours, theirs, look, accuracy, heats=heats, per="W/m")
    if VOLUMES in solvers:
        found += compared((KIND, name, VOLUMES), ours, by_volumes(problem, look, effort, steady=True), look, accuracy)
    return found


CASES: dict[str, Callable[[], list[Row]]] = {"ring": ring, "box": box, "bored block": bored_block, "platen": platen}


def table(cases: Collection[str] = tuple(CASES)) -> list[Row]:
    """All rows of some cases."""
    return [line for name in cases for line in CASES[name]()]
