"""`thermokit cost CASE`."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Energy and cost of a part: heat into it, what is drawn, machine and hands.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, as_object: bool) -> int:
    """Energy of a part, and its cost by the tariffs of [cost]: heat into it, what heaters draw, losses, pumps, machine time.

    What the case leaves to be found is set to the middle of its window.
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.cost import cost
    from thermokit.studies.cost_words import cost_json, cost_text

    with Progress("working it out") as progress:
        found = cost(case_file, progress)
    if as_object:
        import json

        click.echo(json.dumps(cost_json(found), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(cost_text(found))
    return 0
