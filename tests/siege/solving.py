"""Trees to results, in the ways that properties compare."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import parse_case
from thermokit.conduction.follow import follow
from thermokit.processes import process_of
from thermokit.processes.run import run_case
from thermokit.studies.answers_batch import Solved, solve_rows

from .properties import step_error
from .writing import Amount, case_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.results.model import Result

KELVIN = 273.15


def case_of(tree: dict[str, Any], choose: Callable[[Amount], Any] | None = None) -> Any:
    """The case of a tree, read from its text."""
    return parse_case(case_text(tree, choose), "generated.toml")


def run_of(tree: dict[str, Any], choose: Callable[[Amount], Any] | None = None) -> Result:
    """The result of a tree."""
    return run_case(case_of(tree, choose))


def accuracy_of(case: Any) -> float:
    """Largest error of temperature that a case asks for [K]."""
    return float(case.accuracy.temperature)


def side_by_side(case: Any, values: Mapping[str, Any], edges: Any, places: Any = None) -> Solved:
    """Rows of a batch on the mesh of a single run, with the step errors of a single run."""
    columns = {path: np.asarray(column, float) for path, column in values.items()}
    return solve_rows(case, columns, edges, step_error(case), places)


def judged_on(case: Any, edges: Any) -> dict[str, float]:
    """What limits look at, of a single run on a given mesh: name -> value in SI."""
    process = process_of(case)
    step = step_error(case)
    travel = follow(process.course(edges), None, step, memory=process.memory(edges, None, step))
    assert travel.history.ending.status == "finished", travel.history.ending
    facts = process.facts(travel, edges, step)
    return {name: float(np.ravel(value)[0]) for name, value in process.quantities(facts).items()}


def _temperatures(value: Any) -> list[float]:
    if isinstance(value, Amount):
        return [float(value.number) + KELVIN] if value.dimension == "temperature" else []
    if isinstance(value, dict):
        return [t for v in value.values() for t in _temperatures(v)]
    return [t for v in value for t in _temperatures(v)] if isinstance(value, list) else []


def met(tree: dict[str, Any], *sections: str) -> list[float]:
    """Every temperature that is written in some sections [K]: of start and of all that a body meets, tables and all."""
    return [t for name in sections for t in _temperatures(tree.get(name, {}))]


def warmer(tree: dict[str, Any], kelvin: int, *sections: str) -> dict[str, Any]:
    """Every temperature of some sections so much higher."""

    def moved(value: Any) -> Any:
        if isinstance(value, Amount):
            return Amount(value.number + kelvin, value.dimension) if value.dimension == "temperature" else value
        if isinstance(value, dict):
            return {k: moved(v) for k, v in value.items()}
        return [moved(v) for v in value] if isinstance(value, list) else value

    return tree | {name: moved(tree[name]) for name in sections if name in tree}
