"""``python -m validation.siege fuzz``: wrong files by the thousand, each made from its number, read and judged in one process.

Goes on where it was stopped (``-o FOLDER`` holds ``state.json`` and one file and one report for each find). Memory is measured
along the way and must stay flat. ``--keep`` puts what was measured where the book (``README.md``) is made from.
"""

from __future__ import annotations

import argparse
import contextlib
import ctypes
import gc
import json
import os
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from validation.siege import book
from validation.siege.judge import Said
from validation.siege.trying import Made, attempt, furnish, make

ROOT = Path(__file__).parents[2]
EVERY = 1000  # files between two looks at the memory, and between two savings
WARM = 2000  # files after which all modules are loaded and memory must be flat
MOST_GROWTH = 150.0  # MB of memory in use from there to the end
SLOWEST = 12  # files that are named
MEASURED = Path(__file__).parent / "measured" / "fuzz.json"
ADDRESS_SPACE = 6 * 2**30  # bytes, beyond which an allocation fails rather than the machine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the subcommand."""
    parser.add_argument("--files", type=int, default=1500, help="how many files [1500]")
    parser.add_argument("--seed", type=int, default=1, help="of the files [1]")
    parser.add_argument("--first", type=int, default=0, help="number of the first file [0]")
    parser.add_argument(
        "--run-share", type=float, default=0.03, help="share of the right, quick cases that are solved [0.03]"
    )
    parser.add_argument("--keep", action="store_true", help="keep what was measured, and write the book anew")
    parser.add_argument("-o", "--output", type=Path, help="folder for finds and for going on [nothing is kept]")


def resident() -> float:
    """Memory in use now [MB], without what is waiting to be used again."""
    gc.collect()
    with contextlib.suppress(OSError, AttributeError):  # another C library than GNU's
        ctypes.CDLL(None).malloc_trim(0)
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def siege(
    files: int, seed: int = 1, first: int = 0, run_share: float = 0.03, output: Path | None = None, quiet: bool = False,
    measured: Path | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Try that many files; a summary: counts by how a file was made and what became of it, by kind of case and by command and
    exit status; finds; the slowest files [(s of CPU, number, command)]; memory [(files, MB)]; times [s].

    measured : file that it is kept in at every thousand and at the end.
    """
    state = _state(output, seed)
    begin, cpu = time.monotonic(), time.process_time()
    state["first"] = first
    start = max(first, state["next"])
    held, home = None, Path.cwd()
    with tempfile.TemporaryDirectory(prefix="siege_") as name:
        folder = Path(name).resolve()
        furnish(folder)
        os.chdir(folder)  # what is written by a name alone lands here, and is seen
        before = _listing(folder)
        try:
            for number in range(start, first + files):
                made, random = make(seed, number)
                before_it = time.process_time()
                became, said = attempt(made, folder, random, run_share)
                _counted(state, made, became, said, time.process_time() - before_it)
                for note in said:
                    if note.finds:
                        _found(state, note, number, made.name, made.data, output, quiet)
                _tidied(folder, before, made.name)
                state["next"] = number + 1
                if (number + 1) % EVERY == 0:
                    held = resident()
                    state["memory"].append((number + 1, round(held, 1)))
                    _save(state, output)
                    _keep(state, begin, cpu, measured)
                    if not quiet:
                        done = number + 1 - start
                        rate = done / (time.monotonic() - begin)
                        left = (first + files - number - 1) / rate
                        print(
                            f"{number + 1} files, {held:.0f} MB, {len(state['finds'])} finds, {rate:.0f} a second, "
                            f"{(time.process_time() - cpu) / done * 1e3:.1f} ms of CPU each, about {left / 60:.0f} min left",
                            file=sys.stderr, flush=True,
                        )  # fmt: skip
        finally:
            os.chdir(home)
    _keep(state, begin, cpu, measured)
    state["cpu"] += time.process_time() - cpu
    state["wall"] += time.monotonic() - begin
    _save(state, output)
    return state


def _counted(state: dict[str, Any], made: Made, became: str, said: list[Said], cpu: float) -> None:
    """Put a file to the counts, and to the slowest ones where it is one."""
    state["counts"][f"{made.how} {became}"] += 1
    process = made.seed.raw["process"] if made.seed is not None else "log"
    state["kinds"][f"{process} {became}"] += 1
    for note in said:
        if note.status is not None:
            state["statuses"][f"{note.words[0]} {note.status}"] += 1
    last = said[-1].words[0] if said else "read_log"
    state["slowest"] = sorted([*state["slowest"], [round(cpu, 2), made.number, last]], reverse=True)[:SLOWEST]


def _keep(state: dict[str, Any], begin: float, cpu: float, measured: Path | None) -> None:
    """Write what the book tells of the run."""
    if measured is None:
        return
    import datetime

    import numpy

    memory = state["memory"]
    told = {
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "versions": {"python": sys.version.split()[0], "numpy": numpy.__version__},
        "seed": state["seed"],
        "files": sum(state["counts"].values()),
        "cpu_s": round(state["cpu"] + time.process_time() - cpu),
        "counts": dict(sorted(state["counts"].items())),
        "kinds": dict(sorted(state["kinds"].items())),
        "statuses": dict(sorted(state["statuses"].items())),
        "finds": [
            {"file": find["number"], "words": find["words"][:1], "what": find["what"].strip().splitlines()[-1][:200]}
            for find in state["finds"]
        ],
        "slowest": state["slowest"],
        "memory_mb": {
            "first": memory[0] if memory else None,
            "largest": max(memory, key=lambda look: look[1]) if memory else None,
            "last": memory[-1] if memory else None,
            "grown": round(growth(memory), 1),
        },
    }  # fmt: skip
    measured.parent.mkdir(exist_ok=True)
    part = measured.with_suffix(".part")
    part.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    part.replace(measured)
    if measured == MEASURED:
        book.write()


def growth(memory: list[tuple[int, float]]) -> float:
    """By how much memory in use has grown from the first look after WARM files to the last one [MB]."""
    later = [held for number, held in memory if number >= WARM]
    return later[-1] - later[0] if len(later) > 1 else 0.0


def main(options: argparse.Namespace) -> int:
    """The subcommand; 1 where anything was found."""
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, hard))
    try:
        measured = MEASURED if options.keep else None
        state = siege(options.files, options.seed, options.first, options.run_share, options.output, measured=measured)
    except KeyboardInterrupt:
        print("stopped; the same command goes on", file=sys.stderr)
        return 130
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
    grown = growth(state["memory"])
    total = sum(state["counts"].values())
    print(f"{total} files in {state['wall']:.0f} s, {state['cpu']:.0f} s of CPU")
    for name, count in sorted(state["counts"].items()):
        print(f"  {name}: {count}")
    print(f"memory grew by {grown:.0f} MB after the first {WARM} files (allowed {MOST_GROWTH:.0f} MB)")
    print(f"{len(state['finds'])} finds")
    for find in state["finds"][:20]:
        print(f"  file {find['number']}: {' '.join(find['words'])[:80]}: {find['what'].strip().splitlines()[-1][:160]}")
    return 1 if state["finds"] or grown > MOST_GROWTH else 0


def _state(output: Path | None, seed: int) -> dict[str, Any]:
    """What an earlier call with the same folder and seed has left, else a beginning."""
    state: dict[str, Any] = {
        "seed": seed, "next": 0, "counts": {}, "kinds": {}, "statuses": {}, "finds": [], "slowest": [], "memory": [],
        "cpu": 0.0, "wall": 0.0,
    }  # fmt: skip
    if output is not None:
        output.mkdir(parents=True, exist_ok=True)
        file = output / "state.json"
        if file.exists() and (kept := json.loads(file.read_text(encoding="utf-8")))["seed"] == seed:
            state |= kept
    for name in ("counts", "kinds", "statuses"):
        state[name] = Counter(state[name])
    return state


def _save(state: dict[str, Any], output: Path | None) -> None:
    if output is not None:
        part = output / "state.json.part"
        part.write_text(json.dumps(state), encoding="utf-8")
        part.replace(output / "state.json")


def _found(
    state: dict[str, Any], note: Said, number: int, name: str, data: bytes, output: Path | None, quiet: bool
) -> None:
    """Keep a find: the file as it was made and what is wrong with what was said."""
    what = "\n".join(note.finds).replace(f"{ROOT}/", "")  # the same words on every machine
    state["finds"].append({"number": number, "words": list(note.words), "what": what[:4000]})
    if not quiet:
        print(f"FIND in file {number}: {' '.join(note.words)[:100]}\n{what[-600:]}", file=sys.stderr, flush=True)
    if output is not None:
        (output / f"find_{number:06}_{name}").write_bytes(data)
        report = f"{' '.join(note.words)}\n\n{what}\n\n{note.err[:5000]}"
        (output / f"find_{number:06}.txt").write_text(report, encoding="utf-8", errors="backslashreplace")
        _save(state, output)


def _listing(folder: Path) -> set[str]:
    return {entry.name for entry in os.scandir(folder)}


def _tidied(folder: Path, before: set[str], name: str) -> None:
    """Take away what the commands have written."""
    for entry in os.scandir(folder):
        if entry.name not in before and entry.name != name and not entry.is_dir():
            Path(entry.path).unlink(missing_ok=True)
