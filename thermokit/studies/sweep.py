"""Run a case for many values of its inputs, and keep one table of inputs, outcomes, margins and status.

Rows are cut into chunks of some seconds of work, solved by as many processes as there are cores (or by a cluster), and kept
one by one as small whole files: a sweep that was stopped in whatever way goes on where it was, and its finished table is
the same to the last byte as that of one that was not. How rows are solved: :mod:`thermokit.studies.answers`.
"""

from __future__ import annotations

import hashlib
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case.paths import dimension_of
from thermokit.case.walk import leaves
from thermokit.errors import DataError
from thermokit.logs.text import contents, refuse_device
from thermokit.processes.run import provenance
from thermokit.results.sweep_table import NO_WINDOW, Column, Flag, SweepTable, identity_of, image, read_table
from thermokit.results.whole import write_whole
from thermokit.studies.answers import answers_of, joined, plan_of
from thermokit.studies.answers_plan import FINISHED, some_rows
from thermokit.studies.run import as_case
from thermokit.studies.sweep_pool import cores, one_thread_each, pool_of, solved_chunks
from thermokit.studies.sweep_rows import MOST_BYTES, MOST_ROWS, corners_of, count_of, no_sweep, rows_of
from thermokit.studies.sweep_shards import Shards

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.conduction.problem import Array
    from thermokit.results.model import Provenance
    from thermokit.studies.answers_plan import Answers, Plan

CHUNK_WORK = 3e7  # steps x cells of a chunk solved side by side: a few seconds
CHUNK_STEPS = 2e4  # steps of a chunk solved one by one: some seconds
CHUNKS = 16  # at least, where there are rows enough, so that every process has its share
FEWEST = 64  # rows that are worth a chunk where they are solved side by side
SMALL_WORK = 3e7  # below which no other process is begun
TRIAL = 256  # rows by which a rate is measured
READ = ("sweep.file", "start_from", "drawing")  # keys that name a file from which rows follow


@dataclass(frozen=True)
class Counts:
    """How far a sweep is: rows done and in all, rows done by this command, seconds since it began."""

    done: int
    rows: int
    own: int
    seconds: float

    @property
    def rate(self) -> float:
        """Rows a second of this command."""
        return self.own / self.seconds if self.seconds > 0.0 else 0.0

    @property
    def left(self) -> float:
        """Seconds that the rest will take; infinite where nothing is known."""
        return (self.rows - self.done) / self.rate if self.own else float("inf")


def sweep(
    case: Any,
    target: Path,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Callable[[Counts], None] | None = None,
) -> tuple[SweepTable, bool]:
    """(the table, True where it was finished before) of a case with ``[sweep]``, written to ``target``.

    workers : processes, as many as cores when None; scheduler : address of a cluster's scheduler in their place. A script
    that calls this with more than one process must be guarded by ``if __name__ == "__main__"``.

    Raises CaseError or DataError where the case, its rows, the file or the folder beside it are no good, SolveError where
    rows end in a way that is a fault of the program. After Ctrl-C (KeyboardInterrupt) finished rows are kept.
    """
    case = as_case(case)
    if case.sweep is None:
        raise no_sweep(case)
    own = provenance(case)
    identity = identity_of_sweep(case)
    shards = Shards(target)
    held = identity_of(target)
    if held == identity:
        shards.remove()
        return read_table(target), True
    if held is not None:
        raise DataError(
            f"{target} holds the sweep of another case (or its rows were changed); give the table another name with -o, or "
            "delete that file"
        )
    count = count_of(case)
    if count > MOST_ROWS:
        raise _too_many(case, count)
    values = rows_of(case)
    plan = plan_of(case, values, case.sweep.outcomes)
    size = chunk_of(plan, count)
    begins = list(range(0, count, size))
    facts = {
        "identity": identity,
        "rows": count,
        "rows_in_chunk": size,
        "cells": [len(edges) - 1 for edges in plan.edges],
        "outcomes": list(plan.wanted),
        "versions": own.versions,
    }
    try:
        shards.begin(facts)
        there = shards.present(len(begins))
        chunks = {i: some_rows(values, slice(first, first + size)) for i, first in enumerate(begins) if i not in there}
        _solve(plan, chunks, shards, count, (workers or cores(), scheduler), progress)
        table = _table(own, identity, case, plan, values, shards, begins)
        write_whole(target, image(table))
        shards.remove()
    finally:
        shards.end()
    return table, False


def _solve(
    plan: Plan,
    chunks: Mapping[int, Mapping[str, Array]],
    shards: Shards,
    count: int,
    where: tuple[int, str | None],
    progress: Callable[[Counts], None] | None,
) -> None:
    """Solve the chunks that are missing, and keep each as it comes."""
    if not chunks:
        return
    missing = sum(len(next(iter(chunk.values()))) for chunk in chunks.values())
    done, begun = count - missing, time.monotonic()
    small = plan.how == "batch" and not plan.one_by_one and plan.work * missing < SMALL_WORK
    pool = pool_of(min(where[0], len(chunks)), where[1], small)
    try:
        with one_thread_each():
            for number, found in solved_chunks(pool, plan, chunks):
                shards.keep(number, found)
                done += len(found.status)
                if progress is not None:
                    progress(Counts(done, count, done - (count - missing), time.monotonic() - begun))
    finally:
        pool.close()


def chunk_of(plan: Plan, rows: int) -> int:
    """Rows in a chunk: some seconds of work. The same for every machine and number of processes, as the table must be."""
    if plan.how == "direct":
        return 1
    if plan.one_by_one:
        cells = max(1, sum(len(edges) - 1 for edges in plan.edges))
        most = CHUNK_STEPS / max(1.0, plan.work / cells)
        return int(np.clip(min(most, rows / CHUNKS), 1, rows))
    most = CHUNK_WORK / max(plan.work, 1.0)
    return int(np.clip(min(most, max(rows / CHUNKS, FEWEST)), 1, rows))


def identity_of_sweep(case: Any) -> str:
    """SHA-256 of all that the rows of a sweep follow from: the case, the files that it names, the version."""
    from thermokit import __version__

    parts = [case.source.sha256, __version__]
    folder = Path(case.source.file).parent
    for leaf in leaves(case):
        if leaf.name in READ and isinstance(leaf.value, str):
            refuse_device(folder / leaf.value)
            parts.append(f"{leaf.name} {hashlib.sha256(contents(folder / leaf.value, MOST_BYTES)).hexdigest()}")
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _too_many(case: Any, count: int) -> DataError:
    """Refusal of a sweep that is too large, with what it would take by a measured rate."""
    corners = corners_of(case)
    plan = plan_of(case, corners, case.sweep.outcomes)
    rate = measured_rate(plan, corners)
    hours = count / rate / cores() / 3600.0
    held = 8.0 * count * (len(corners) + len(plan.wanted) + len(plan.limits)) / 1e9
    return DataError(
        f"the sweep has {count:.3g} rows: it would take about {_hours(hours)} on {cores()} cores and {held:.3g} GB; up to "
        f'{MOST_ROWS} rows go into one table. Give fewer values, or fill the ranges evenly with plan = "sobol" and rows = 4096'
    )


def measured_rate(plan: Plan, values: Mapping[str, Array]) -> float:
    """Rows a second on one core, by solving some."""
    few = 2 if plan.one_by_one else TRIAL
    some = {path: np.resize(column, few) for path, column in values.items()}
    begun = time.perf_counter()
    answers_of(plan, some)
    return few / max(time.perf_counter() - begun, 1e-9)


def _hours(hours: float) -> str:
    if hours > 48.0:
        return f"{hours / 24.0:.3g} days"
    return f"{hours:.3g} hours" if hours >= 1.0 else f"{60.0 * hours:.2g} minutes"


def _table(
    own: Provenance,
    identity: str,
    case: Any,
    plan: Plan,
    values: Mapping[str, Array],
    shards: Shards,
    begins: list[int],
) -> SweepTable:
    """All chunks as one table."""
    count = len(next(iter(values.values())))
    ends = [*begins[1:], count]
    found = joined([shards.read(i, plan, end - first) for i, (first, end) in enumerate(zip(begins, ends, strict=True))])
    columns = [_input(case, path, column) for path, column in values.items()]
    columns += [
        Column(name, found.units[name], found.meanings[name], "outcome", column)
        for name, column in found.outcomes.items()
    ]
    columns += [
        Column(f"margin_of_{name}", unit, f"margin of the limit {name}, positive where it is met", "margin", column)
        for name, unit, column in zip(found.limits, found.margin_units, found.margins, strict=True)
    ]
    flags = [
        Flag(
            name,
            f"the limit that makes the {name.removesuffix('_limit')} edge of the window",
            found.limits,
            _index(words, found),
        )
        for name, words in found.words.items()
    ]
    reasons = {int(i): str(found.status[i]) for i in np.flatnonzero(found.status != FINISHED)}
    status = np.zeros(count, np.int8)
    for i, words in reasons.items():
        status[i] = 1 if words.startswith(NO_WINDOW) else 2
    facts: dict[str, Any] = {
        "plan": case.sweep.plan,
        "seed": case.sweep.seed,
        "inputs": list(values),
        "order": [column.name for column in columns],
        "cells": [len(edges) - 1 for edges in plan.edges],
        "one_by_one": plan.how != "batch",
        "note": plan.note,
        "not_told": [o.name for o in plan.told if o.name not in plan.wanted],
    }
    if case.sweep.plan == "grid":
        facts["grid_shape"] = [len(entry) for entry in case.sweep.columns(case).values()]
    return SweepTable(own, identity, tuple(columns), tuple(flags), status, reasons, facts)


def _index(words: Any, found: Answers) -> Any:
    """Names of limits as their index, -1 where there is none."""
    of = {name: i for i, name in enumerate(found.limits)}
    return np.array([of.get(word, -1) for word in words], dtype=np.int8)


def _input(case: Any, path: str, column: Array) -> Column:
    """An input in the shop's unit."""
    from thermokit.case.sweep import sweepable

    dimension = dimension_of(sweepable(case)[path].kind)
    unit = units.DIMENSIONS[dimension].shop
    return Column(
        path, unit or "1", f"input {path}", "input", np.asarray(units.to_unit(column, unit, dimension), float)
    )
