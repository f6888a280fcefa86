"""`thermokit dwell CASE`: earliest, latest and recommended dwell, and why."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="How long: earliest, latest and recommended, and why.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="RESULT.h5",
    type=click.Path(path_type=Path),
    help="Keep the run at the recommended dwell.",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, output: Path | None, as_object: bool) -> int:
    """How long: earliest, latest and recommended dwell of the station with duration = "find", and why."""
    from thermokit.cli.progress import Progress
    from thermokit.cli.target import check_target
    from thermokit.processes.run import failed
    from thermokit.studies.dwell import dwell, run_at
    from thermokit.studies.run import as_case

    case = as_case(case_file)
    if output is not None:
        check_target(output, case_file, case.start_from)
    with Progress("searching") as progress:
        found = dwell(case, progress)
        result = run_at(case, found)
    if output is not None:
        from thermokit.results.write import write

        write(result, output)
    if as_object:
        import json

        from thermokit.results.summary import as_json

        click.echo(json.dumps(as_json(result, output), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.dwell_words import dwell_text

        click.echo(dwell_text(found, result))
        if output is not None:
            click.echo(f"\nResult file: {output}")
    return 1 if failed(result) or found.recommended is None else 0
