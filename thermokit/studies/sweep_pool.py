"""Chunks of rows solved by processes: of this machine, or of a cluster; one that kills its process is cut down to the row.

Whoever uses it sees futures; the same code serves `concurrent.futures` and a cluster's executor. Only the caller writes.
"""

from __future__ import annotations

import os
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from thermokit.errors import DataError, SolveError, ThermokitError
from thermokit.studies.answers import answers_of, joined
from thermokit.studies.answers_plan import rows_in, some_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from thermokit.conduction.problem import Array
    from thermokit.studies.answers_plan import Answers, Plan

KILLED = "the process that ran it was killed (too little memory?)"
MOST_GUILTY = 1000  # rows that may end their process or fail in an unforeseen way before the sweep is given up
PATIENCE = 10  # s for a scheduler to answer
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def solve_chunk(plan: Plan, values: Mapping[str, Array]) -> Answers:
    """What a worker does: a chunk of rows."""
    return answers_of(plan, values)


def begin_worker() -> None:
    """Lives and dies with the driver; Ctrl-C is the driver's business."""
    import multiprocessing
    import signal
    import threading
    from multiprocessing.connection import wait as wait_for

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait_for([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def gone(error: BaseException) -> bool:
    """Whether an error says that a process was killed, here or in a cluster."""
    return type(error).__name__ in ("BrokenProcessPool", "BrokenExecutor", "KilledWorker")


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Processes begun in here use one thread each: there are as many of them as there are cores."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def without_ctrl_c() -> Iterator[None]:
    """Processes begun in here see no Ctrl-C, not even while they start; the one that came for us meanwhile comes at the end."""
    import signal

    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # it lets Ctrl-C through again where its own process has yet to begin
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Pool:
    """Processes of this machine."""

    def __init__(self, workers: int):
        self.workers = workers
        self.executor: Any = None

    def submit(self, plan: Plan, values: Mapping[str, Array]) -> Future[Answers]:
        """A chunk for the next free process."""
        if self.executor is None:
            import multiprocessing

            context = multiprocessing.get_context("spawn")
            self.executor = ProcessPoolExecutor(self.workers, mp_context=context, initializer=begin_worker)
        with without_ctrl_c():  # a process is begun when there is work for it
            found: Future[Answers] = self.executor.submit(solve_chunk, plan, values)
        return found

    def renew(self) -> None:
        """Other processes in place of those that are gone."""
        self.close()

    def close(self) -> None:
        """End all processes, whatever they are at."""
        if self.executor is None:
            return
        processes = list((getattr(self.executor, "_processes", None) or {}).values())
        self.executor.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        for process in processes:
            process.join(5.0)
        self.executor = None


class Cluster:
    """Processes behind a scheduler of ``distributed``."""

    def __init__(self, address: str):
        try:
            import distributed
        except ImportError:
            raise DataError(
                "--scheduler needs the package distributed; install thermokit with its extra: pip install 'thermokit[cluster]'"
            ) from None
        try:
            made: Any = distributed.Client  # it has no types
            self.client = made(address, timeout=PATIENCE, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as wrong:
            words = str(wrong).split("\n")[0][:200]
            raise DataError(
                f"no scheduler answers at {address} ({words}); give its address, such as tcp://host:8786"
            ) from None
        self.executor: Any = self.client.get_executor(pure=False)
        self.workers = max(1, sum(self.client.nthreads().values()))

    def submit(self, plan: Plan, values: Mapping[str, Array]) -> Future[Answers]:
        """A chunk for the next free process."""
        found: Future[Answers] = self.executor.submit(solve_chunk, plan, values)
        return found

    def renew(self) -> None:
        """The scheduler sees to that."""

    def close(self) -> None:
        """Let the cluster go on without us: what is still waiting there is dropped with its client."""
        self.executor.shutdown(wait=False)
        self.client.close()


class Inline:
    """This very process: for few rows."""

    workers = 1

    def submit(self, plan: Plan, values: Mapping[str, Array]) -> Future[Answers]:
        """Solved at once."""
        done: Future[Answers] = Future()
        try:
            done.set_result(solve_chunk(plan, values))
        except Exception as wrong:
            done.set_exception(wrong)
        return done

    def renew(self) -> None:
        """Nothing to renew."""

    def close(self) -> None:
        """Nothing to close."""


@dataclass
class _Work:
    """What is in flight, and what looks guilty of a killed process."""

    flying: dict[Any, int] = field(default_factory=dict)
    suspects: list[int] = field(default_factory=list)
    guilty: int = 0


def solved_chunks(
    pool: Any, plan: Plan, chunks: Mapping[int, Mapping[str, Array]], ahead: int = 2
) -> Iterator[tuple[int, Answers]]:
    """(number, answers) of every chunk, as they come. A row that cannot be solved has its reason, and the rest goes on.

    ahead : chunks that wait for each process, so that none is idle.
    """
    work, waiting = _Work(), list(chunks)
    while waiting or work.flying or work.suspects:
        if work.suspects:  # one at a time, so that the guilty one is known
            number = work.suspects.pop(0)
            yield number, _alone(pool, plan, chunks[number], work)
            continue
        try:
            while waiting and len(work.flying) < ahead * pool.workers:
                work.flying[pool.submit(plan, chunks[waiting[0]])] = waiting[0]
                waiting.pop(0)
            done, _ = wait(work.flying, return_when=FIRST_COMPLETED)
        except Exception as wrong:
            if not gone(wrong):
                raise
            done = set(work.flying)
            if not done:
                pool.renew()
        for future in sorted(done, key=lambda f: work.flying[f]):
            number = work.flying.pop(future)
            error = future.exception()
            if error is None:
                yield number, future.result()
            elif isinstance(error, ThermokitError):
                raise error
            else:
                work.suspects.append(number)
                if gone(error):
                    # all that are in flight are lost with it, and each may be the guilty one
                    work.suspects += [other for f, other in work.flying.items() if not _saved(f)]
                    kept = [(other, f.result()) for f, other in work.flying.items() if _saved(f)]
                    work.flying.clear()
                    pool.renew()
                    yield from kept
                    work.suspects = sorted(set(work.suspects))
                    break


def _saved(future: Any) -> bool:
    return bool(future.done() and future.exception() is None)


def _alone(pool: Any, plan: Plan, values: Mapping[str, Array], work: _Work) -> Answers:
    """A chunk solved with nothing else in flight; where it fails, halves of it, down to the row."""
    try:
        found: Answers = pool.submit(plan, values).result()
        return found
    except ThermokitError:
        raise
    except Exception as wrong:
        error = wrong
    if gone(error):
        pool.renew()
    count = rows_in(values)
    if count == 1:
        work.guilty += 1
        words = KILLED if gone(error) else f"fault in the program: {type(error).__name__}: {error}"[:300]
        if work.guilty > MOST_GUILTY:
            raise SolveError(f"more than {MOST_GUILTY} rows end like this: {words}", "what was finished is kept")
        return failed_row(plan, words)
    half = count // 2
    parts = [some_rows(values, slice(0, half)), some_rows(values, slice(half, count))]
    return joined([_alone(pool, plan, part, work) for part in parts])


def failed_row(plan: Plan, words: str) -> Answers:
    """One row that has nothing but its reason."""
    from thermokit.studies.answers import blank

    out = blank(plan, 1)
    out.status[0] = words
    return out


def pool_of(workers: int, scheduler: str | None, small: bool) -> Any:
    """Where chunks are solved; ``small`` : not worth a process of its own."""
    if scheduler is not None:
        return Cluster(scheduler)
    return Inline() if small or workers == 1 else Pool(workers)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return max(1, os.cpu_count() or 1)
