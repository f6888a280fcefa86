"""`thermokit schema [KIND]`: the JSON Schema of case files, for editors and for programs that write cases."""

from __future__ import annotations

import click


@click.command("schema", short_help="Print the JSON Schema of case files.")
@click.argument("kind", metavar="[KIND]", required=False)
def command(kind: str | None) -> None:
    """Print the JSON Schema (draft 2020-12) of cases of KIND, or of all kinds.

    What only shows on the whole case (contradictions, names, ranges of values with a unit) is left to `thermokit check`.

    \b
    Examples:
      thermokit schema sheet > sheet.schema.json
      thermokit schema > case.schema.json
    """
    import json

    from thermokit.case import json_schema

    click.echo(json.dumps(json_schema(kind), indent=2, ensure_ascii=False))
