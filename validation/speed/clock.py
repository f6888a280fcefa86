"""How time and memory are measured: process CPU time, contenders in turn, medians with spread; other processes by what they use."""

from __future__ import annotations

import atexit
import json
import os
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
Work = Callable[[], Any]
#: set on Ctrl-C: thermokit's solvers keep what they have and return, and callbacks of compiled solvers may lose the exception
stopped = threading.Event()
#: a program that is the command `thermokit` and, with "peak" as its first word, prints its largest resident memory [kB] last;
#: not ru_maxrss, because a child inherits that of the process that started it
COMMAND = """
import sys
from thermokit.cli import main
sys.argv[0] = "thermokit"
try:
    main()
except SystemExit as end:
    status = end.code
import pathlib
peak = pathlib.Path("/proc/self/status")
print(peak.read_text().split("VmHWM:")[1].split()[0] if peak.exists() else "nan")
sys.exit(status)
"""


def turns(contenders: Mapping[str, Work], repeats: int, warm: bool = True) -> dict[str, list[float]]:
    """CPU time [s] of this process for each contender in each turn: one after another, so that a change of pace falls on all.

    ``warm`` : one turn first that does not count.
    """
    taken: dict[str, list[float]] = {name: [] for name in contenders}
    for turn in range(repeats + warm):
        for name, work in contenders.items():
            begun = time.process_time()
            work()
            spent = time.process_time() - begun
            look()
            if turn >= warm:
                taken[name].append(spent)
    return taken


def look() -> None:
    """Go on with an interruption that what was measured has swallowed."""
    if stopped.is_set():
        raise KeyboardInterrupt


@contextmanager
def stoppable() -> Iterator[None]:
    """Ctrl-C is remembered (in the main thread, where alone signals can be taken)."""

    def stop(*_: Any) -> None:
        stopped.set()
        raise KeyboardInterrupt

    stopped.clear()
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def ratio(theirs: Sequence[float], ours: Sequence[float], times: float = 1.0) -> list[float]:
    """[median, smallest, largest] of their time over ours, turn by turn."""
    found = sorted(times * a / b for a, b in zip(theirs, ours, strict=True))
    return [statistics.median(found), found[0], found[-1]]


def children(contenders: Mapping[str, Sequence[str]], repeats: int) -> dict[str, list[tuple[float, float]]]:
    """(CPU, wall) time [s] of commands in processes of their own, in turn; the first turn does not count."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in contenders}
    for turn in range(repeats + 1):
        for name, command in contenders.items():
            cpu, wall, _ = child(command)
            if turn:
                taken[name].append((cpu, wall))
    return taken


def child(command: Sequence[str]) -> tuple[float, float, str]:
    """(CPU s, wall s, last line that it printed) of a command; an error where it fails."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, env=environment()
    )
    used: Any = None
    try:
        assert process.stdout is not None and process.stderr is not None
        # what these commands say on stderr is far shorter than a pipe holds, so that one can be read after the other
        said, complaint = process.stdout.read().decode(), process.stderr.read().decode()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    finally:
        if used is None:
            process.kill()
            process.wait()
        for stream in (process.stdout, process.stderr):
            if stream is not None:
                stream.close()
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}: {complaint}")
    return used.ru_utime + used.ru_stime, time.perf_counter() - begun, (said.split("\n")[-2:] or [""])[0]


def middle(values: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Medians of (CPU, wall)."""
    return statistics.median(c for c, _ in values), statistics.median(w for _, w in values)


@cache
def _compiled() -> str:
    """A folder for compiled modules, which lasts as long as this process."""
    folder = tempfile.mkdtemp()
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def environment() -> dict[str, str]:
    """The environment of measured processes: one thread, this project first on the path, compiled modules kept.

    Whoever forbids compiled modules would measure the compiler at every start; an installed program has them.
    """
    path = os.pathsep.join([str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])])
    own = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONPATH": path, "PYTHONPYCACHEPREFIX": _compiled()}
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"} | own


def peak_memory(name: str, cases: int, rows: bool) -> tuple[float, float]:
    """Largest resident memory [MB] of a process that solves a batch, and of one that only imports what it needs."""
    code = (
        "import json, pathlib, sys; "
        "from validation.speed.problems import batch, output_times; "
        "from thermokit.conduction.batch import solve_batch; "
        "name, cases, rows, work = json.loads(sys.argv[1]); "
        "work and solve_batch(batch(name, cases), cases, output_times(name, cases) if rows else None); "
        "status = pathlib.Path('/proc/self/status').read_text(); "
        "print(status.split('VmHWM:')[1].split()[0])"
    )
    found = []
    for work in (True, False):
        arguments = json.dumps([name, cases, rows, work])
        *_, printed = child([sys.executable, "-c", code, arguments])
        found.append(int(printed) / 1024.0)
    return found[0], found[1]


def once(work: Work) -> tuple[float, Any]:
    """(process CPU time [s], result) of one run, for what takes too long to repeat."""
    begun = time.process_time()
    result = work()
    spent = time.process_time() - begun
    look()
    return spent, result
