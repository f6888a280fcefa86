"""``python -m validation [IDS...] [--write]``: run the outside checks, print the table, exit 1 when one fails."""

from __future__ import annotations

import argparse
import sys
import time
import traceback

from validation import report
from validation.checks import Check, Quantity, Row, judge, registry


def run(check: Check) -> list[Row]:
    """The lines of a check; a check that cannot be run fails with the reason."""
    try:
        outcome = check.run()
        return [judge(check, quantity, outcome) for quantity in check.quantities]
    except Exception:
        traceback.print_exc()
        lines = []
        for quantity in check.quantities:
            exact = quantity.exact() if isinstance(quantity, Quantity) else None
            lines.append(
                Row(check.id, quantity.name, quantity.unit, None, exact, float("nan"), "could not run", False, "")
            )
        return lines


def main(arguments: list[str] | None = None) -> int:
    """Run the checks asked for; 0 when all are within their tolerance."""
    parser = argparse.ArgumentParser(prog="python -m validation", description=__doc__)
    parser.add_argument("ids", nargs="*", help="numbers of checks (A02 G10 ...); all when left out")
    parser.add_argument("--write", action="store_true", help="write the table into validation/README.md (all checks)")
    options = parser.parse_args(arguments)
    known = {check.id for check in registry()}
    unknown = [i for i in options.ids if i not in known]
    if unknown:
        parser.error(f"no such check: {', '.join(unknown)}; there are {', '.join(sorted(known))}")
    if options.write and options.ids:
        parser.error("--write needs all checks: leave the numbers out")

    checks = [check for check in registry() if not options.ids or check.id in options.ids]
    begin = time.process_time()
    rows = {check: run(check) for check in checks}
    every = [row for check in checks for row in rows[check]]
    failed = [row for row in every if not row.passed]
    print(report.plain(every))
    print(f"\n{len(every) - len(failed)} of {len(every)} within tolerance, {time.process_time() - begin:.1f} s of CPU")
    for row in failed:
        print(f"outside: {row.id} {row.name}: found {row.found:.8g}, exact {report.number(row.exact)}, {row.tolerance}")
    if options.write:
        report.write(checks, rows)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
