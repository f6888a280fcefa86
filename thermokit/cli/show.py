"""``thermokit show``: what a result says, in words, as JSON or as a table."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="show", short_help="Say what a result file holds.")
@click.argument("result_file", metavar="RESULT", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the summary.")
@click.option(
    "--csv",
    "csv_file",
    metavar="FILE",
    help="Write the rows as a table (CSV) to FILE; - writes them to standard output instead of the summary.",
)
def command(result_file: Path, as_json: bool, csv_file: str | None) -> None:
    """Say what the result file RESULT holds: outcomes, limits, heat balance, warnings.

    \b
    Examples:
      thermokit show tray.h5
      thermokit show tray.h5 --csv tray.csv
    """
    from thermokit.results.read import read

    if as_json and csv_file == "-":
        raise click.UsageError("--json and --csv - both want standard output; give --csv a file name")
    result = read(result_file)
    if csv_file is not None:
        from thermokit.results.table import as_csv

        table = as_csv(result)
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
