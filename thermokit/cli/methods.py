"""`thermokit methods CASE`: which method for the part, side by side."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Which method can make the part, side by side, and why the others cannot.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, as_object: bool) -> int:
    """Which method: every way to shape the part of CASE ([part] and [shaping]), with its figures from the model.

    The exit status is 1 where no method can make it as it is asked for.
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.methods import methods

    with Progress("trying methods") as progress:
        found = methods(case_file, progress)
    if as_object:
        import json

        from thermokit.results.plain import plain

        click.echo(json.dumps(plain(found.as_json()), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.methods_words import methods_text

        click.echo(methods_text(found))
    return 0 if any(row.can for row in found.rows) else 1
