"""``thermokit show``: what a result says, in words, as JSON or as a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from thermokit.results.model import Field, Result


@click.command(name="show", short_help="Say what a result file holds.")
@click.argument("result_file", metavar="RESULT", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the summary.")
@click.option(
    "--csv",
    "csv_file",
    metavar="FILE",
    help="Write the rows as a table (CSV) to FILE; - writes them to standard output instead of the summary.",
)
@click.option(
    "--field",
    metavar="NAME",
    help="Write a map or table that is not in the rows, as CSV: one field, such as map/coldest_point, or all of a group, "
    "such as shots; to the file of --csv, or to standard output.",
)
def command(result_file: Path, as_json: bool, csv_file: str | None, field: str | None) -> None:
    """Say what the result file RESULT holds: outcomes, limits, heat balance, warnings.

    \b
    Examples:
      thermokit show tray.h5
      thermokit show tray.h5 --csv tray.csv
      thermokit show tray.h5 --field map/coldest_point --csv map.csv
    """
    from thermokit.results.read import read

    if field is not None and csv_file is None:
        csv_file = "-"
    if as_json and csv_file == "-":
        raise click.UsageError("--json and --csv - both want standard output; give --csv a file name")
    result = read(result_file)
    if csv_file is not None:
        from thermokit.results.table import as_csv, fields_as_csv

        table = as_csv(result) if field is None else fields_as_csv(_chosen(result, field))
        if csv_file == "-":
            click.echo(table, nl=False)
            return
        from thermokit.results.whole import write_whole

        write_whole(csv_file, table.encode())
        click.echo(f"wrote {csv_file}", err=as_json)
    if as_json:
        import json

        from thermokit.results.summary import as_json as json_of

        click.echo(json.dumps(json_of(result, result_file), indent=2, ensure_ascii=False, allow_nan=False))
    elif csv_file is None:
        from thermokit.results.summary import as_text

        click.echo(as_text(result), nl=False)


def _chosen(result: Result, name: str) -> list[Field]:
    """The field of that name, or all fields of that group."""
    from thermokit.errors import DataError
    from thermokit.results.fields import group_of

    chosen = [field for field in result.fields if name in (field.name, group_of(field))]
    if not chosen:
        held = ", ".join(field.name for field in result.fields)
        raise DataError(f"the result holds no field {name}; " + (f"it holds: {held}" if held else "it holds none"))
    axes = [[axis.name for axis in field.axes] for field in chosen]
    if any(other != axes[0] for other in axes):
        held = ", ".join(field.name for field in chosen)
        raise DataError(f"the fields of {name} have different axes: give one name out of {held}")
    return chosen
