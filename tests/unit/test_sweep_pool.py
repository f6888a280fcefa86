"""Processes that solve chunks: one row that kills its process is found, the rest is answered; faults have their reason."""

from __future__ import annotations

import os
import signal
import sys
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from sweep_cases import HEATING, THICKNESS, mean_temperature, sweep

from thermokit.case import parse_case
from thermokit.errors import SolveError
from thermokit.studies import sweep_pool
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.answers_plan import joined, some_rows
from thermokit.studies.sweep_pool import KILLED, Inline, Pool, one_thread_each, solved_chunks

DEADLY, FAULTY = 0.00300001, 0.00400001  # thicknesses that only these tests know


def deadly(plan: Any, values: Any) -> Any:
    """Ends its own process, as the system does when memory runs out, where a row is the deadly one."""
    if np.any(values[THICKNESS] == DEADLY):
        os.kill(os.getpid(), signal.SIGKILL)
    return answers_of(plan, values)


def faulty(plan: Any, values: Any) -> Any:
    if np.any(values[THICKNESS] == FAULTY):
        raise ZeroDivisionError("made for a test")
    return answers_of(plan, values)


class Own(Pool):
    """Processes that run another function."""

    def __init__(self, workers: int, work: Any):
        super().__init__(workers)
        self.work = work

    def submit(self, plan: Any, values: Any) -> Future[Any]:
        before, sweep_pool.solve_chunk = sweep_pool.solve_chunk, self.work
        try:
            return super().submit(plan, values)
        finally:
            sweep_pool.solve_chunk = before


def chunks(special: float, count: int = 40, size: int = 5) -> tuple[Any, dict[str, Any], dict[int, Any]]:
    case = parse_case(sweep(f'"{THICKNESS}" = ["3 mm"]'), "plate.toml")
    values = {THICKNESS: np.linspace(2e-3, 5e-3, count), HEATING: np.linspace(3e3, 6e3, count)}
    plan = plan_of(case, values)
    values[THICKNESS][17] = special
    return plan, values, {i: some_rows(values, slice(i * size, (i + 1) * size)) for i in range(count // size)}


def whole(found: dict[int, Any]) -> Any:
    return joined([found[i] for i in sorted(found)])


def test_the_row_that_kills_its_process_is_found() -> None:
    plan, values, parts = chunks(DEADLY)
    pool = Own(2, deadly)
    try:
        with one_thread_each():
            found = whole(dict(solved_chunks(pool, plan, parts)))
    finally:
        pool.close()
    good = np.arange(40) != 17
    assert list(found.finished) == list(good) and found.status[17] == KILLED
    known = mean_temperature(values[THICKNESS], values[HEATING])
    assert found.outcomes["mean_temperature"][good] == pytest.approx(known[good], abs=1e-6)
    assert np.isnan(found.outcomes["mean_temperature"][17])


def test_a_fault_of_the_program_is_the_reason_of_its_row() -> None:
    plan, values, parts = chunks(FAULTY)

    class Here(Inline):
        def submit(self, plan: Any, values: Any) -> Future[Any]:
            before, sweep_pool.solve_chunk = sweep_pool.solve_chunk, faulty
            try:
                return super().submit(plan, values)
            finally:
                sweep_pool.solve_chunk = before

    found = whole(dict(solved_chunks(Here(), plan, parts)))
    assert found.status[17] == "fault in the program: ZeroDivisionError: made for a test"
    assert found.finished.sum() == 39
    assert len(values[THICKNESS]) == 40


def test_too_many_faults_end_the_sweep(monkeypatch: pytest.MonkeyPatch) -> None:
    plan, _, parts = chunks(FAULTY)

    def always(plan: Any, values: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr(sweep_pool, "solve_chunk", always)
    monkeypatch.setattr(sweep_pool, "MOST_GUILTY", 3)
    with pytest.raises(SolveError, match="more than 3 rows"):
        dict(solved_chunks(Inline(), plan, parts))


def test_processes_end_with_the_pool() -> None:
    plan, _, parts = chunks(2.5e-3)
    pool = Pool(2)
    with one_thread_each():
        assert os.environ["OMP_NUM_THREADS"] == "1"
        dict(solved_chunks(pool, plan, parts))
    processes = list(pool.executor._processes.values())
    assert len(processes) == 2 and all(p.is_alive() for p in processes)
    pool.close()
    assert not any(p.is_alive() for p in processes)
