"""`thermokit sweep CASE`: run a case for many values of its inputs, and keep one table."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from thermokit.studies.sweep import Counts

STOPPED = 130  # exit status after Ctrl-C
EVERY = 60.0  # s between lines where nobody watches


@click.command(short_help="Many rows of a case in one table; goes on where it was stopped.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "-o", "--output", metavar="TABLE.h5", type=click.Path(path_type=Path), help="Where the table goes [CASE_sweep.h5]."
)
@click.option("--workers", metavar="N", type=click.IntRange(1, 10_000), help="Processes [as many as there are cores].")
@click.option("--scheduler", metavar="ADDRESS", help="Run on the cluster of this scheduler (tcp://host:8786).")
@click.option("--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Write the table as CSV too.")
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path,
    output: Path | None,
    workers: int | None,
    scheduler: str | None,
    csv_file: Path | None,
    as_object: bool,
) -> int:
    """Run a case for the rows of its [sweep] and write one table of inputs, outcomes, margins and status.

    Finished rows are kept in a folder beside the table until it is whole: the same command goes on after Ctrl-C, a lost
    process or a power cut. A finished table is not run again. The exit status is 1 where no row finished.
    """
    from thermokit.cli.target import check_target
    from thermokit.studies.run import as_case
    from thermokit.studies.sweep import sweep

    case = as_case(case_file)
    target = output if output is not None else case_file.with_name(f"{case_file.stem}_sweep.h5")
    for file in (target, csv_file):
        if file is not None:
            check_target(file, case_file, case.start_from)
    line = _Line()
    try:
        table, before = sweep(case, target, workers, scheduler, line)
    except KeyboardInterrupt:
        line.end()
        click.echo(f"stopped; {line.kept()}the same command goes on", err=True)
        return STOPPED
    finally:
        line.end()
    if csv_file is not None:
        from thermokit.results.sweep_table_csv import as_csv
        from thermokit.results.whole import write_whole

        write_whole(csv_file, as_csv(table).encode())
    if as_object:
        import json

        from thermokit.studies.sweep_words import sweep_json

        click.echo(json.dumps(sweep_json(table, target, before), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.sweep_words import sweep_text

        click.echo(sweep_text(table, target, before))
        if csv_file is not None:
            click.echo(f"CSV: {csv_file}")
    return 0 if (table.status == 0).any() else 1


class _Line:
    """Progress on standard error: a line that is written over where someone is watching, one a minute elsewhere."""

    def __init__(self) -> None:
        self.watched = sys.stderr.isatty()
        self.last = time.monotonic()
        self.shown = False
        self.counts: Counts | None = None

    def __call__(self, counts: Counts) -> None:
        """Tell how far it is."""
        self.counts = counts
        now = time.monotonic()
        if now - self.last < (0.2 if self.watched else EVERY) or counts.done == counts.rows:
            return
        self.last = now
        share = 100.0 * counts.done / counts.rows
        rows = f"{counts.done} of {counts.rows} rows, {counts.rate:.3g} rows/s"
        text = f"sweep: {share:.0f} %, {rows}, about {_time(counts.left)} left"
        if self.watched:
            click.echo(f"\r{text}   ", err=True, nl=False)
            self.shown = True
        else:
            click.echo(text, err=True)

    def kept(self) -> str:
        """What is safe, in words."""
        return "" if self.counts is None else f"{self.counts.done} of {self.counts.rows} rows are kept; "

    def end(self) -> None:
        """Clear the line."""
        if self.shown:
            click.echo("\r" + " " * 90 + "\r", err=True, nl=False)
            self.shown = False


def _time(seconds: float) -> str:
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"
