"""Rows of a study solved side by side: facts, quantities and margins of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.batch_record import STATUS
from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes import process_of
from thermokit.processes.base import ZERO_CELSIUS, facts_of_batch
from thermokit.studies.answers_plan import FINISHED, row_of, rows_in, some_rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.conduction.course import Memory
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit

HELD = 12_000_000  # numbers of all rows in flight (about 100 MB): more rows are solved one lot after another
REASONS = {
    FINISHED: FINISHED,
    "step_too_small": "the time step became too small",
    "not_finite": "a number was not finite",
    "out_of_range": "a temperature left what is possible",
}


@dataclass(frozen=True)
class Solved:
    """Rows that were solved: quantities name -> (n,) in SI, margins (limits, n) in SI, status (n,) in words."""

    quantities: dict[str, Array]
    limits: tuple[Limit, ...]
    margins: Array
    status: Any


def solve_rows(
    case: Any,
    values: Mapping[str, Array],
    edges: Sequence[Array],
    tolerance: float,
    places: Any = None,
    near: Memory | None = None,
) -> Solved:
    """Quantities and margins of every row; values : path -> (n,) [SI]. A lot that would not fit into memory is cut."""
    count = rows_in(values)
    lot = rows_at_once(case, values, edges, places)
    if count <= lot:
        return _solve(case, values, edges, tolerance, places, near)
    parts = [
        _solve(case, some_rows(values, slice(i, i + lot)), edges, tolerance, places, near) for i in range(0, count, lot)
    ]
    first = parts[0]
    return Solved(
        {name: np.concatenate([p.quantities[name] for p in parts]) for name in first.quantities},
        first.limits,
        np.concatenate([p.margins for p in parts], axis=1),
        np.concatenate([p.status for p in parts]),
    )


def rows_at_once(case: Any, values: Mapping[str, Array], edges: Sequence[Array], places: Any) -> int:
    """How many rows are solved in one lot: their ends of stations must fit into memory."""
    process = process_of(case.with_values(row_of(values, 0)), places)
    cells = sum(len(cut) - 1 for cut in edges)
    legs = len(getattr(case, "stations", ())) + 1
    return int(max(1, HELD // (cells * legs * 3 * process.places())))


def _solve(
    case: Any, values: Mapping[str, Array], edges: Sequence[Array], tolerance: float, places: Any, near: Memory | None
) -> Solved:
    count = rows_in(values)
    each = process_of(case.with_values(row_of(values, 0)), places).places()
    # places of a row stand next to each other
    filled = case.with_values({path: np.repeat(column, each) for path, column in values.items()})
    process = process_of(filled, places)
    cases = count * each
    memory = process.memory(edges, cases, tolerance, near)
    travel = follow_batch(process.course(edges), cases, tolerance, memory)
    quantities = process.quantities(facts_of_batch(travel))
    limits = process.limits()
    code = np.reshape(travel.status, (count, each)).max(axis=1)
    status = np.array([REASONS[word] for word in STATUS], dtype=object)[code]
    status = np.where(outside(case.with_values(values), count), OUTSIDE, status)
    failed = status != FINISHED
    margins = np.full((len(limits), count), np.nan)
    for j, limit in enumerate(limits):
        margins[j] = margin_of(limit, quantities, count)
    margins[:, failed] = np.nan
    # broadcast first: a quantity that no row changes comes as one number
    found = {name: np.array(np.broadcast_to(value, (count,)), float) for name, value in quantities.items()}
    for value in found.values():
        value[failed] = np.nan
    return Solved(found, limits, margins, status)


def margin_of(limit: Limit, quantities: Mapping[str, Array], count: int) -> Array:
    """Margin of a limit in every row, (count,) in SI; a bound that stands for every place of a row counts once."""
    bound = np.asarray(limit.bound, float)
    if bound.ndim and bound.size > count:
        bound = bound.reshape(count, -1)[:, 0]
    return np.broadcast_to(replace(limit, bound=bound).margin(quantities[limit.quantity]), (count,))


OUTSIDE = "a place that is followed lies outside the body"


def outside(case: Any, count: int = 1) -> Any:
    """(count,) True where a probe lies outside a body made thinner: what the reading of a case would have refused."""
    depth = case.depth()
    if not case.output.probes or depth is None:
        return np.zeros(count, bool)
    at = np.max([np.broadcast_to(probe.at, (count,)) for probe in case.output.probes], axis=0)
    return at > np.broadcast_to(depth, (count,)) * (1.0 + 1e-9)


def shown(value: Array, unit: str) -> Array:
    """SI values in the unit in which an outcome is told.

    >>> shown(np.array([400.15]), "degC").round(9).tolist(), shown(np.array([0.0021]), "mm").tolist()
    ([127.0], [2.1])
    """
    if unit == "degC":
        return value - ZERO_CELSIUS
    return 1e3 * value if unit == "mm" else value
