"""How time and memory are measured: process CPU time, contenders in turn, medians; other processes by what they use."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


def interleave(contenders: Mapping[str, Callable[[], Any]], repeats: int) -> dict[str, float]:
    """Median process CPU time [s] of each, one after another in turn, after one turn that does not count.

    Taking turns lets a change of the machine's pace fall on all of them.
    """
    for work in contenders.values():
        work()
    taken: dict[str, list[float]] = {name: [] for name in contenders}
    for _ in range(repeats):
        for name, work in contenders.items():
            begun = time.process_time()
            work()
            taken[name].append(time.process_time() - begun)
    return {name: statistics.median(values) for name, values in taken.items()}


def children(contenders: Mapping[str, Sequence[str]], repeats: int) -> dict[str, tuple[float, float]]:
    """Median (CPU, wall) time [s] of commands in processes of their own, in turn; the first turn does not count."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in contenders}
    for turn in range(repeats + 1):
        for name, command in contenders.items():
            begun = time.perf_counter()
            process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment())
            assert process.stderr is not None
            complaint = process.stderr.read().decode()
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            process.stderr.close()
            if process.returncode:
                raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}: {complaint}")
            if turn:
                taken[name].append((used.ru_utime + used.ru_stime, time.perf_counter() - begun))
    return {
        name: (statistics.median(c for c, _ in values), statistics.median(w for _, w in values))
        for name, values in taken.items()
    }


def environment() -> dict[str, str]:
    """The environment of measured processes: one thread, and this project first on the path."""
    path = os.pathsep.join([str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])])
    return os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONPATH": path}


def peak_memory(name: str, cases: int, rows: bool) -> tuple[float, float]:
    """Largest resident memory [MB] of a process that solves a batch, and of one that only imports what it needs."""
    code = (
        "import json, pathlib, sys; "
        "from validation.speed.problems import batch, output_times; "
        "from thermokit.conduction.batch import solve_batch; "
        "name, cases, rows, work = json.loads(sys.argv[1]); "
        "work and solve_batch(batch(name, cases), cases, output_times(name, cases) if rows else None); "
        # not ru_maxrss: a child inherits that of the process that started it
        "status = pathlib.Path('/proc/self/status').read_text(); "
        "print(status.split('VmHWM:')[1].split()[0])"
    )
    found = []
    for work in (True, False):
        arguments = json.dumps([name, cases, rows, work])
        done = subprocess.run(
            [sys.executable, "-c", code, arguments], capture_output=True, text=True, check=True, env=environment()
        )
        found.append(int(done.stdout) / 1024.0)
    return found[0], found[1]


def once(work: Callable[[], Any]) -> tuple[float, Any]:
    """(process CPU time [s], result) of one run, for what takes too long to repeat."""
    begun = time.process_time()
    result = work()
    return time.process_time() - begun, result
