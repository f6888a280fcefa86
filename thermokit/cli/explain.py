"""`thermokit explain [KEY]`: what a key of the case file means, or all of them."""

from __future__ import annotations

import click


@click.command("explain", short_help="Tell what a key of the case file means.")
@click.argument("key", metavar="[KEY]", required=False)
@click.option("--schema", is_flag=True, help="Print the JSON Schema of case files; KEY may then be a kind of case.")
def command(key: str | None, schema: bool) -> None:
    """Tell what KEY means, what may stand there and what its default is; without KEY, print the whole reference.

    KEY is a path such as stations.outer.convection, or the end of one such as thickness.
    """
    from thermokit.case import explain, json_schema, reference_page

    if schema:
        import json

        click.echo(json.dumps(json_schema(key), indent=2, ensure_ascii=False))
    elif key is None:
        click.echo(reference_page(), nl=False)
    else:
        click.echo(explain(key))
