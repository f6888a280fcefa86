"""``python -m validation.siege kills``: commands that write files, killed at random instants of their lives (Linux).

Half of the kills come after a share of the CPU time that the undisturbed command takes, which is even over its life however
busy the machine is; half come at a change of a file in the folder (made, written to, closed, renamed), drawn among all that the
undisturbed command makes. SIGKILL, SIGTERM and SIGINT take turns; every other SIGINT goes to all processes of the command, as
Ctrl-C in a terminal does, and some come twice. After each kill everything in the folder is judged, the same command is killed
again in the same folder, and last of all it is left to finish: what it writes must then be the same to the last byte as what
the undisturbed one wrote.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from validation.siege.kills_judge import broken, faults, left_over
from validation.siege.kills_watch import Changes, gone, until_change, until_cpu
from validation.siege.kills_works import WORKS, Work
from validation.siege.seeds import ROOT

SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT)
EARLIER = b"earlier\n"  # stands under the final names before; what is in it must not matter
MOST_WAIT = 300.0  # s that an undisturbed command, or one that was told to stop, may take
NICE = 5  # by which a command stands back behind the one that kills it, so that a kill comes in time
SWITCH = 2e-4  # s after which another thread of this process has its turn, likewise
LEFT = 20.0  # s in which the processes of a killed command are gone
TRIES = 6  # draws for a kill that came after the end of the command
# a traceback that names none of these is of the interpreter, which was not yet in the program and cannot be spoken for
OURS = (b"in main", b"/cli/", b"Exception ignored", b"validation/", b"spawn")
# Python loses a Ctrl-C that comes while it lets a lock of its imports go: it says so, and the command goes on
SWALLOWED = b"Exception ignored in: <function _get_module_lock"
MEASURED = Path(__file__).parent / "measured" / "kills.json"


@dataclass
class Found:
    """What came of the kills of one command."""

    name: str
    asked: int
    kills: Counter[str] = field(default_factory=Counter)
    finds: list[str] = field(default_factory=list)
    early: int = 0  # SIGINTs that found Python still loading the package
    unfinished: int = 0  # kills that left an unfinished file
    new: int = 0  # kills after which all final names held the new files already
    processes: int = 0  # processes begun


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the subcommand."""
    parser.add_argument("--instants", type=int, default=200, help="how many kills [200]")
    parser.add_argument("--seed", type=int, default=1, help="of the instants [1]")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="commands at a time [cores]")
    parser.add_argument("--only", action="append", help="commands whose name begins so [all]")
    parser.add_argument("--no-write", action="store_true", help="leave the measured table as it is")


def shares(instants: int, works: tuple[Work, ...] = WORKS) -> list[int]:
    """Kills of each command: by its weight, all of them together as many as asked for."""
    whole = sum(work.share for work in works)
    exact = [instants * work.share / whole for work in works]
    given = [int(one) for one in exact]
    for i in sorted(range(len(works)), key=lambda i: given[i] - exact[i])[: instants - sum(given)]:
        given[i] += 1
    return given


def siege(instants: int, seed: int = 1, only: tuple[str, ...] = (), jobs: int = 1, quiet: bool = True) -> list[Found]:
    """Kill the commands that many times, and what came of it."""
    works = tuple(work for work in WORKS if not only or work.name.startswith(only))
    found = []
    sys.setswitchinterval(SWITCH)
    if (
        signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    ):  # begun in the background of a shell: what we begin must not inherit it
        signal.signal(signal.SIGINT, signal.default_int_handler)
    with ThreadPoolExecutor(jobs) as pool:
        for one in pool.map(
            lambda pair: besieged(pair[0], pair[1], seed), zip(works, shares(instants, works), strict=True)
        ):
            found.append(one)
            if not quiet:
                words = "".join(f"\n  {find}" for find in one.finds)
                print(
                    f"{sum(one.kills.values()):4} {one.name}: {len(one.finds)} finds{words}",
                    file=sys.stderr,
                    flush=True,
                )
    return found


def besieged(work: Work, count: int, seed: int) -> Found:
    """One command killed that many times in one folder, then left to finish."""
    found = Found(work.name, count)
    if count:
        with tempfile.TemporaryDirectory(prefix="kills_") as name:
            _Siege(work, Path(name).resolve(), Random(f"{seed}:{work.name}"), found).go()
    return found


class _Siege:
    """A folder in which one command is killed."""

    def __init__(self, work: Work, home: Path, random: Random, found: Found):
        self.work, self.random, self.found = work, random, found
        self.base = home / "work"
        self.base.mkdir()
        work.furnish(self.base)
        self.folder = self.base / work.where
        self.errors = home / "stderr"

    def go(self) -> None:
        """The undisturbed command, the kills, and the command once more."""
        for name in self.work.writes:
            (self.folder / name).unlink(missing_ok=True)
        self.known = {
            p.relative_to(self.folder).as_posix(): p.read_bytes() for p in self.folder.rglob("*") if p.is_file()
        }
        self._undisturbed()
        self.allowed: dict[str, tuple[bytes | None, ...]] = {
            name: (data, EARLIER if self.work.over else None) for name, data in self.right.items()
        }
        self._before()
        for number in range(self.found.asked):
            how = self._killed(SIGNALS[number % 3], number)
            if how is None:
                self.found.finds.append(f"kill {number}: no draw of {TRIES} came before the end")
                continue
            self.found.kills[how] += 1
        if self._is_done():
            self._before()
        kept = self._chunks()
        status, said = self._finished(self._begun())
        if status != self.status or b"Traceback" in said:
            self._find("the command that was left to finish", f"exit status {status}: {said[-500:]!r}")
        for fault in faults(self.folder, self.known, {n: (d,) for n, d in self.right.items()}, False):
            self._find("the command that was left to finish", fault)
        for path in left_over(self.folder):
            self._find("the command that was left to finish", f"{path.name} is still there")
        if self._chunks() and kept:
            self._find("the command that was left to finish", "the folder of chunks is still there")

    def _undisturbed(self) -> None:
        """What the command writes, how much CPU it takes and how many changes of files it makes."""
        changes, count = Changes(self.folder), 0
        process = self._begun()
        while process.returncode is None:
            count += changes.wait(0.05)
            pid, status, usage = os.wait4(process.pid, os.WNOHANG)
            if pid:
                process.returncode = os.waitstatus_to_exitcode(status)
                self.cpu = usage.ru_utime + usage.ru_stime
        count += changes.wait(0.0)
        changes.close()
        self.changes, self.status = count, process.returncode
        assert self.status in (0, 1), f"{self.work.name}: exit status {self.status}: {self.errors.read_bytes()!r}"
        self.right = {name: (self.folder / name).read_bytes() for name in self.work.writes}
        wrong = [broken(self.folder / name) for name in self.work.writes]
        wrong += faults(self.folder, self.known, {n: (d,) for n, d in self.right.items()}, False)
        assert not any(wrong), f"{self.work.name}: {wrong}"

    def _before(self) -> None:
        """The folder as it is before the command is run."""
        for name in self.work.writes:
            if self.work.over:
                (self.folder / name).write_bytes(EARLIER)
            else:
                (self.folder / name).unlink(missing_ok=True)

    def _begun(self) -> subprocess.Popen[bytes]:
        self.found.processes += 1
        threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
        path = str(self.base if self.work.where != "." else ROOT)
        with self.errors.open("wb") as errors:
            process = subprocess.Popen(
                [sys.executable, "-m", self.work.module, *self.work.words],
                cwd=self.base, env=os.environ | threads | {"PYTHONPATH": path}, start_new_session=True,
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=errors,
            )  # fmt: skip
        self.session = process.pid
        os.setpriority(os.PRIO_PROCESS, process.pid, os.getpriority(os.PRIO_PROCESS, 0) + NICE)
        return process

    def _finished(self, process: subprocess.Popen[bytes]) -> tuple[int | None, bytes]:
        """Exit status and what was said; None where it does not end."""
        try:
            process.wait(MOST_WAIT)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            return None, self.errors.read_bytes()
        return process.returncode, self.errors.read_bytes()

    def _killed(self, number: signal.Signals, turn: int) -> str | None:
        """One kill and its judgement: the signal and what the instant was drawn over; None where none came in time."""
        for _ in range(TRIES):
            if self._is_done():
                self._before()
            kept = self._chunks()
            drawn = "life" if self.random.random() < 0.5 else "writing"
            # what is kept of a sweep shortens the next life of its command
            left = 1.0 if not kept else self.random.random()
            changes = Changes(self.folder)
            for folder in {Path(name).parent for name in kept}:
                changes.add(folder)
            process = self._begun()
            if drawn == "life":
                alive = until_cpu(process, self.random.random() * self.cpu * left)
            else:
                alive = until_change(process, changes, 1 + int(self.random.random() * self.changes * left))
                if alive and self.random.random() < 0.5:
                    time.sleep(self.random.random() * 0.005)
            changes.close()
            group = number == signal.SIGINT and turn % 2 == 0
            if alive:
                (os.killpg if group else os.kill)(process.pid, number)
                if number == signal.SIGINT and turn % 4 == 1:
                    time.sleep(self.random.random() * 0.05)
                    process.send_signal(number)
            status, said = self._finished(process)
            what = f"kill {turn} ({number.name}{' to all' if group else ''} over {drawn})"
            if not alive or status == self.status:  # the signal found it at its end
                self._judged(what, number, status, said, kept, killed=False)
                continue
            self._judged(what, number, status, said, kept, killed=True)
            return f"{number.name} {drawn}"
        return None

    def _judged(
        self, what: str, number: signal.Signals, status: int | None, said: bytes, kept: dict[str, int], killed: bool
    ) -> None:
        right = {signal.SIGINT: (130, -2)}.get(number, (-number,))
        traceback = b"Traceback" in said or b"Exception ignored" in said
        early = killed and traceback and number == signal.SIGINT and not any(word in said for word in OURS)
        early = early or (number == signal.SIGINT and said.startswith(SWALLOWED) and said.count(b"Traceback") == 1)
        if status is None:
            self._find(what, "it does not end")
        elif killed and status not in (*right, *([1] if early else ())):
            self._find(what, f"exit status {status}: {said[-300:]!r}")
        if early:
            self.found.early += 1
        elif traceback:
            self._find(what, f"a traceback: {said[-1500:].decode(errors='replace')}")
        if orphans := gone(self.session, LEFT):
            self._find(what, f"processes live on: {orphans}")
        for fault in faults(self.folder, self.known, self.allowed, number == signal.SIGINT):
            self._find(what, fault)
        after = self._chunks()
        if any(after.get(name) != stamp for name, stamp in kept.items()) and not (self.folder / "out.h5").exists():
            self._find(what, "chunks that were finished are gone or were written again")
        if killed:
            self.found.unfinished += bool(left_over(self.folder))
            self.found.new += self._is_done()

    def _is_done(self) -> bool:
        """Whether all final names hold the new files."""
        return all((self.folder / n).exists() and (self.folder / n).read_bytes() == d for n, d in self.right.items())

    def _chunks(self) -> dict[str, int]:
        """Finished chunks of a sweep, with the time at which each was written [ns]."""
        return {str(path): path.stat().st_mtime_ns for path in self.folder.glob("*.parts/*.npz")}

    def _find(self, what: str, fault: str) -> None:
        self.found.finds.append(f"{self.work.name}, {what}: {fault}")


def table(found: list[Found]) -> dict[str, Any]:
    """The measured table: a line for each command."""
    rows = [
        {
            "command": one.name,
            "kills": sum(one.kills.values()),
            **{s.name: sum(n for how, n in one.kills.items() if how.startswith(s.name)) for s in SIGNALS},
            "while writing": sum(n for how, n in one.kills.items() if how.endswith("writing")),
            "unfinished file left": one.unfinished,
            "new files whole already": one.new,
            "before the program began": one.early,
            "processes": one.processes,
            "finds": len(one.finds),
        }
        for one in found
        if one.asked
    ]
    return {"rows": rows, "kills": sum(row["kills"] for row in rows), "finds": [f for one in found for f in one.finds]}


def main(options: argparse.Namespace) -> int:
    """The subcommand; 1 where anything was found."""
    if not Path("/proc/self/stat").exists():
        print("kills are watched through /proc and inotify, which only Linux has", file=sys.stderr)
        return 2
    found = siege(options.instants, options.seed, tuple(options.only or ()), options.jobs, quiet=False)
    measured = table(found) | {"seed": options.seed}
    heads = list(measured["rows"][0])
    print(" | ".join(heads))
    for row in measured["rows"]:
        print(" | ".join(str(row[head]) for head in heads))
    print(f"{measured['kills']} kills, {len(measured['finds'])} finds")
    for find in measured["finds"]:
        print(f"  {find}")
    if not options.no_write and not options.only:
        from thermokit.results.whole import write_whole

        MEASURED.parent.mkdir(exist_ok=True)
        write_whole(MEASURED, (json.dumps(measured, indent=1, ensure_ascii=False) + "\n").encode())
    return 1 if measured["finds"] else 0
