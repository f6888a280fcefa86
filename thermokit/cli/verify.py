"""`thermokit verify CASE`: the case solved again, finer and with a second engine, and how far the answers are apart."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("verify", short_help="Solve a case again, finer and with a second engine.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, as_object: bool) -> int:
    """Solve CASE again on a halved mesh, with a halved error and with FiPy; print the largest differences.

    Each stands beside the estimated error of what the case is held against. Exit status 0: all agree within the case's
    accuracy and that error; 1: one does not, or a run failed. It takes about ten seconds, a section a minute.
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.verify import verify

    progress = Progress("verifying")
    found = verify(case_file, progress)
    progress.done()
    if as_object:
        import json

        click.echo(json.dumps(found.as_json(), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.verify_words import verify_text

        click.echo(verify_text(found))
    return 0 if found.agrees else 1
