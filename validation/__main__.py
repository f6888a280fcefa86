"""``python -m validation [IDS...]``: run the outside checks and print the table; exit 1 when a number leaves its tolerance.

With all checks it also writes the book, ``validation/README.md``, and the lists of ``validation/not_validated.md``.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

from validation import report
from validation.running import checks, run_all


def _arguments(arguments: list[str] | None) -> tuple[list[int], int, bool]:
    """Numbers of the checks, processes, and whether the book is written."""
    parser = argparse.ArgumentParser(prog="python -m validation", description=__doc__)
    parser.add_argument("ids", nargs="*", help="checks (A02 G10 ...), which write nothing; all when left out")
    parser.add_argument("--no-write", action="store_true", help="run all checks and leave the book as it is")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, metavar="N", help="processes (default: cores)")
    options = parser.parse_args(arguments)
    known = {check.id for check in checks()}
    unknown = [i for i in options.ids if i not in known]
    if unknown:
        parser.error(f"no such check: {', '.join(unknown)}; there are {', '.join(sorted(known))}")
    if options.jobs < 1:
        parser.error("--jobs takes a number from 1 up")
    numbers = [n for n, check in enumerate(checks()) if not options.ids or check.id in options.ids]
    return numbers, options.jobs, not options.ids and not options.no_write


def main(arguments: list[str] | None = None) -> int:
    """Run the checks asked for; 0 when all are within their tolerance."""
    numbers, jobs, write = _arguments(arguments)
    begin = time.perf_counter()
    done = run_all(numbers, jobs)
    every = [(checks()[n], row) for n in numbers for row in done[n].outcome.rows]
    failed = [(check, row) for check, row in every if not row.passed]
    cpu = sum(one.cpu for one in done.values())
    print(report.plain(every))
    print(
        f"\n{len(every) - len(failed)} of {len(every)} numbers of {len(numbers)} checks within tolerance, "
        f"{time.perf_counter() - begin:.1f} s, {cpu:.1f} s of CPU"
    )
    for check, row in failed:
        reason = f"; {row.reason}" if row.reason else ""
        print(
            f"outside: {check.id} {row.name}: found {row.found:.8g}, exact {report.number(row.exact)}, {row.tolerance}{reason}"
        )
    if write:
        from validation.book import pages

        for path in pages.write([(checks()[n], done[n].outcome) for n in numbers]):
            print(f"written: {path}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
