"""`thermokit bottleneck CASE`."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Which station rules the cycle, what can be taken off, and what a second is worth.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, as_object: bool) -> int:
    """The cycle as stations in order: which time rules, how far each can be shortened before a limit, the gain per second.

    What the case leaves to be found is set to the middle of its window.
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.bottleneck import bottleneck
    from thermokit.studies.cost_words import bottleneck_json, bottleneck_text

    with Progress("working it out") as progress:
        found = bottleneck(case_file, progress)
    if as_object:
        import json

        click.echo(json.dumps(bottleneck_json(found), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(bottleneck_text(found))
    return 0
