"""Run checks in several processes: the same numbers, however many there are."""

from __future__ import annotations

import multiprocessing
import os
import sys
import time
import traceback
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import cache

from validation.checks import Check, Outcome, Quantity, perform, registry, row

#: dear ones first, so that none is left over at the end; what is not named here costs less than a second
DEAR = ("B12", "A18", "F01", "C01", "F02", "A12", "B02", "C02", "G07", "T01", "S01", "N03")


@cache
def checks() -> tuple[Check, ...]:
    """The registry, made once in each process."""
    return registry()


@dataclass(frozen=True)
class Done:
    """A check that was run: its outcome, what went wrong, CPU seconds."""

    outcome: Outcome
    trouble: str
    cpu: float


def run(number: int) -> Done:
    """Run one check of the registry; one that cannot be run fails with the reason."""
    check, begin = checks()[number], time.process_time()
    try:
        return Done(perform(check), "", time.process_time() - begin)
    except Exception:
        rows = []
        for quantity in check.quantities:
            exact = quantity.exact() if isinstance(quantity, Quantity) else None
            rows.append(row(quantity, exact, float("nan"), False))
        return Done(Outcome(tuple(rows)), traceback.format_exc(), time.process_time() - begin)


def run_all(numbers: list[int], jobs: int) -> dict[int, Done]:
    """Run checks in so many processes, each with one thread, so that the numbers do not depend on how many there are."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    every = checks()
    order = sorted(numbers, key=lambda n: (DEAR.index(every[n].id) if every[n].id in DEAR else len(DEAR), n))
    done: dict[int, Done] = {}
    with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn")) as pool:
        waiting = {pool.submit(run, n): n for n in order}
        for future in as_completed(waiting):
            n = waiting[future]
            done[n] = future.result()
            print(f"{len(done):4d}/{len(numbers)}  {every[n].id}  {every[n].title}", file=sys.stderr, flush=True)
            if done[n].trouble:
                print(done[n].trouble, file=sys.stderr, flush=True)
    return {n: done[n] for n in sorted(done)}
