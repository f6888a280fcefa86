"""The table of all solvers: run, printed, and written into ``validation/solvers/README.md`` when every kind is asked for."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict
from functools import lru_cache, partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from thermokit.results.whole import write_whole
from validation.solvers.cases import ENTRIES, KINDS, Entry
from validation.solvers.elements import Elements
from validation.solvers.lines import Cvode
from validation.solvers.lines_dae import Ida
from validation.solvers.rows import Row
from validation.solvers.table import compared
from validation.solvers.volumes import Engine, Plain
from validation.solvers.way import Ours, Solver, ours
from validation.solvers.words import printed, written

README = Path(__file__).parent / "README.md"
ALWAYS: tuple[Callable[[], Solver], ...] = (Cvode, Elements, Engine)
BESIDE: dict[str, Callable[[], Solver]] = {"IDA": Ida, "FiPy (plain)": Plain}
# kinds with a module of their own, whose ``table`` gives the lines of some of its ``CASES``
MODULES = {"section": "sections", "mould": "mould"}
SECTIONS = tuple(MODULES)


@lru_cache(maxsize=2)
def own_of(entry: Entry, rows: int) -> Ours:
    """What thermokit makes of a case, at about so many rows."""
    return ours(entry.load(), rows)


def rows_of(entry: Entry, solver: Solver) -> list[Row]:
    """Lines of one case and one other solver."""
    return compared(entry.kind, entry.title, own_of(entry, solver.rows), solver, entry.answer)


def solvers_of(entry: Entry) -> list[Solver]:
    """The three that every case has, and those beside them."""
    return [made() for made in (*ALWAYS, *(BESIDE[name] for name in entry.also))]


def kinds() -> tuple[str, ...]:
    """Kinds of case that there are lines for."""
    return (*KINDS, *(kind for kind in SECTIONS if find_spec(f"validation.solvers.{MODULES[kind]}") is not None))


def main(arguments: list[str] | None = None) -> int:
    """Run the kinds asked for; 0 when all lines are within what is allowed."""
    parser = argparse.ArgumentParser(prog="python -m validation.solvers", description=__doc__)
    parser.add_argument("kinds", nargs="*", metavar="KIND", help=f"{', '.join(kinds())}; all when left out")
    parser.add_argument("--keep", metavar="FILE", help="rows as JSON, to be gone on from where a run was stopped")
    parser.add_argument("--solver", action="append", default=[], metavar="NAME", help="layered kinds by this one only")
    options = parser.parse_args(arguments)
    for kind in options.kinds:
        if kind not in kinds():
            parser.error(f"no such kind: {kind}; there are {', '.join(kinds())}")
    asked = options.kinds or list(kinds())
    kept = Path(options.keep) if options.keep else None
    done: dict[str, list[Row]] = {}
    if kept is not None and kept.exists():
        done = {key: [Row(**row) for row in rows] for key, rows in json.loads(kept.read_text(encoding="utf-8")).items()}
    begun = time.process_time()
    found: list[Row] = []
    for key, make in _jobs(asked, options.solver):
        if key not in done:
            done[key] = make()
            if kept is not None:
                write_whole(kept, json.dumps({k: [asdict(r) for r in rows] for k, rows in done.items()}).encode())
        print(printed(done[key], head=not found), flush=True)
        found += done[key]
    print(f"\n{sum(row.passed for row in found)} of {len(found)} within what is allowed")
    print(f"{time.process_time() - begun:.0f} s of CPU")
    if not options.kinds and not options.solver:
        write_whole(README, written(found).encode())
    return 0 if all(row.passed for row in found) else 1


def _jobs(asked: Sequence[str], names: Sequence[str]) -> list[tuple[str, Callable[[], list[Row]]]]:
    """(name, what gives its lines) of every case and solver of the kinds asked for."""
    jobs: list[tuple[str, Callable[[], list[Row]]]] = []
    for kind in asked:
        if kind in SECTIONS:
            if not names:
                module = import_module(f"validation.solvers.{MODULES[kind]}")
                jobs += [(f"{kind}: {name}", partial(module.table, (name,))) for name in module.CASES]
            continue
        for entry in (e for e in ENTRIES if e.kind == kind):
            for solver in solvers_of(entry):
                if not names or solver.name in names:
                    jobs.append((f"{kind}: {entry.title}: {solver.name}", partial(rows_of, entry, solver)))
    return jobs
