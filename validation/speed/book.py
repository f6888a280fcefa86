"""``python -m validation.speed [PARTS...]``: measure, store, and make the page with its pictures.

Each part is stored as soon as it is done, so that Ctrl-C and a partial run leave what other parts measured.
"""

from __future__ import annotations

import argparse
import sys
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from validation.speed import clock, store, tables
from validation.speed.machine import Witness

HOME = Path(__file__).parent


@dataclass(frozen=True)
class Part:
    """A part: ``module:function`` that measures it, about how long that takes on a quiet machine [s], what it is.

    The function is given whether it is to be quick, and ``more``.
    """

    place: str
    seconds: float
    words: str
    more: tuple[str, ...] = ()

    def measure(self, quick: bool) -> dict[str, Any]:
        """What it finds: tables, curves."""
        module, function = self.place.split(":")
        found: dict[str, Any] = getattr(import_module(f"validation.speed.{module}"), function)(quick, *self.more)
        return found


PARTS = {
    "singles": Part("singles:measure", 120, "one run of P1 to P3 beside all peers"),
    **{
        f"curves_{name}": Part("curves:measure", seconds, f"work and precision of {name}", (name,))
        for name, seconds in (("P1", 70), ("P2", 180), ("P3", 110))
    },
    "sweeps": Part("sweeps:measure", 190, "10 000 and 100 cases of P1 to P3 beside CVODE and VODE"),
    "errors": Part("sweeps:errors", 30, "errors and energy of 60 cases"),
    "mould": Part("mould_section:measure", 170, "the mould section beside FiPy and scikit-fem"),
    "mould_curves": Part("mould_curves:measure", 300, "work and precision of the mould section"),
    "commands": Part("commands:kinds", 95, "one whole command for each kind of case"),
    "starts": Part("commands:starts", 10, "starts of the command"),
    "memory": Part("commands:memory", 45, "memory of batches"),
    "rows": Part("rows:measure", 100, "a sweep through its files, and windows of many rows"),
    "processes": Part("processes:measure", 35, "batches and shortcuts of the processes"),
}


def parts_of(name: str) -> list[str]:
    """The parts that a word stands for: `curves` for curves_P1 and so on, `mould` for mould and mould_curves."""
    return [part for part in PARTS if part == name or part.startswith(f"{name}_")]


def say(words: str) -> None:
    """Progress."""
    print(words, file=sys.stderr, flush=True)


def show(found: dict[str, Any]) -> None:
    """Print a part's tables; its curves are on the page."""
    for table in found.get("tables", {}).values():
        print(tables.markdown(table), end="\n\n", flush=True)


def interrupted(name: str, done: list[str], folder: Path | None) -> tuple[list[str], int]:
    """Say what an interruption leaves."""
    say(f"stopped in {name}; {'done' if folder is None else 'kept'}: {', '.join(done) or 'nothing'}")
    return done, 130


def run(parts: dict[str, Part], quick: bool, folder: Path | None) -> tuple[list[str], int]:
    """(parts that were measured, exit status): stores each that is done; 1 when one failed, 130 on Ctrl-C."""
    done: list[str] = []
    status = 0
    for number, (name, part) in enumerate(parts.items(), 1):
        about = "" if quick else f", about {part.seconds / 60:.1f} min on a quiet machine"
        say(f"[{number}/{len(parts)}] {name}: {part.words}{about}")
        begun = time.perf_counter()
        try:
            witness = Witness()
            with clock.stoppable():
                found = part.measure(quick)
                clock.look()
            found["machine"] = witness.says() | {"quick": quick}
            if folder is not None:
                store.keep(folder, name, found)
        except KeyboardInterrupt:
            return interrupted(name, done, folder)
        except Exception:
            if clock.stopped.is_set():  # the interruption was swallowed, and what it left unfinished failed
                return interrupted(name, done, folder)
            # one part that fails (a peer that is not installed) must not cost what the others would find
            traceback.print_exc()
            say(f"{name} failed; the others go on")
            status = 1
            continue
        done.append(name)
        show(found)
        say(f"    {time.perf_counter() - begun:.0f} s")
    return done, status


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure what is asked for; 0 when all of it could be."""
    reader = argparse.ArgumentParser(
        prog="python -m validation.speed",
        description="Measure thermokit beside general-purpose solvers, print ratios with their spread, write the page.",
        epilog="parts, with their minutes on a quiet machine: "
        + "; ".join(f"{name} ({part.seconds / 60:.1f}): {part.words}" for name, part in PARTS.items()),
    )
    reader.add_argument(
        "parts", nargs="*", metavar="PART", help="all when left out; `curves` and `mould` stand for all that begin so"
    )
    reader.add_argument(
        "--quick", action="store_true", help="tiny settings: does it work? nothing is kept without --into"
    )
    reader.add_argument(
        "--render", action="store_true", help="make page and pictures from what is stored, measure nothing"
    )
    reader.add_argument(
        "--into", type=Path, metavar="FOLDER", help="keep numbers, page and pictures there, not in the tree"
    )
    asked = reader.parse_args(arguments)
    unknown = [name for name in asked.parts if not parts_of(name)]
    if unknown:
        reader.error(f"no such part: {', '.join(unknown)}; there are {', '.join(PARTS)}")
    if asked.render and asked.parts:
        reader.error("--render makes the whole page: leave the parts out")
    target = asked.into or (None if asked.quick else HOME)
    status = 0
    if not asked.render:
        chosen = {part for name in asked.parts for part in parts_of(name)} or set(PARTS)
        parts = {name: part for name, part in PARTS.items() if name in chosen}
        done, status = run(parts, asked.quick, None if target is None else target / "measured")
        if not done:
            return status
    if target is not None or asked.render:
        from validation.speed.page import render

        render(target or HOME)
        say(f"page and pictures: {target or HOME}")
    return status
