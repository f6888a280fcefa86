"""`thermokit run CASE`: run a case, write its result file, print a summary or one JSON object."""

from __future__ import annotations

from pathlib import Path

import click

STOPPED = 130  # exit status after Ctrl-C


@click.command(short_help="Run a case and write its result file.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "-o", "--output", metavar="RESULT.h5", type=click.Path(path_type=Path), help="Where the result goes [CASE.h5]."
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, output: Path | None, as_object: bool) -> int:
    """Run a case and write its result file.

    A case with a duration "find" is found first and then run at the recommended value. After Ctrl-C the file holds
    the rows up to then.
    """
    from thermokit.cli.progress import Progress
    from thermokit.cli.target import check_target
    from thermokit.processes.run import failed
    from thermokit.results.write import write
    from thermokit.studies.run import as_case, run

    case = as_case(case_file)
    target = output if output is not None else case_file.with_suffix(".h5")
    check_target(target, case_file, case.start_from)
    with Progress("running") as progress:
        result = run(case, progress)
    write(result, target)
    if as_object:
        import json

        from thermokit.results.summary import as_json

        click.echo(json.dumps(as_json(result, target), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.results.summary import as_text

        click.echo(as_text(result), nl=False)
        click.echo(f"\nResult file: {target}")
    if result.status == "interrupted":
        return STOPPED  # what was computed until then is in the file
    found = result.study.get("dwell")
    return 1 if failed(result) or (found is not None and found["recommended"] is None) else 0
