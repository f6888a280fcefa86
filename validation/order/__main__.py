"""``python -m validation.order [NAME...]``: measure the orders of convergence, print them, write the book; exit 1 when one fails.

With names (parts of a group or a study) only those are measured and printed, and nothing is written.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from validation.order import report  # noqa: E402
from validation.order.families import studies  # noqa: E402
from validation.order.study import measure  # noqa: E402


def main(arguments: list[str] | None = None) -> int:
    """Measure those asked for; 0 when all show their order."""
    parser = argparse.ArgumentParser(prog="python -m validation.order", description=__doc__)
    parser.add_argument("names", nargs="*", help="parts of names of groups or studies; all when left out")
    options = parser.parse_args(arguments)
    begin = time.process_time()
    every = studies()
    chosen = [study for study in every if not options.names or any(name in study.key for name in options.names)]
    if not chosen:
        parser.error("no study has that in its name")
    rows = []
    for study in chosen:
        row = measure(study)
        errors, pairs = " ".join(f"{e:8.1e}" for e in row.errors), " ".join(f"{p:5.2f}" for p in row.pairs)
        print(
            f"{'ok  ' if row.passed else 'LOST'} {row.order:5.2f} of {study.wanted:4.2f}  {errors} | {pairs}  {study.key}",
            flush=True,
        )
        rows.append(row)
    seconds = time.process_time() - begin
    print(f"\n{sum(row.passed for row in rows)} of {len(rows)} show their order, {seconds:.0f} s of CPU")
    if not options.names:
        report.write(rows, seconds)
    return 0 if all(row.passed for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
