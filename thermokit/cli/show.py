"""``thermokit show``: what a result says, in words, as JSON or as a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from thermokit.results.model import Field, Result
    from thermokit.results.sweep_table import SweepTable


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
@click.option(
    "--vtk",
    "vtk_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write a layered result as a grid of time and depth (VTK) to FILE; a section's RESULT opens in a VTK reader as it is.",
)
def command(result_file: Path, as_json: bool, csv_file: str | None, field: str | None, vtk_file: Path | None) -> None:
    """Say what the result file RESULT holds: outcomes, limits, heat balance, warnings; of the table of a sweep its summary.

    \b
    Examples:
      thermokit show tray.h5
      thermokit show tray.h5 --csv tray.csv
      thermokit show tray.h5 --field map/coldest_point --csv map.csv
    """
    from thermokit.results.read import read
    from thermokit.results.sweep_table import is_table, read_table

    if field is not None and csv_file is None:
        csv_file = "-"
    if as_json and csv_file == "-":
        raise click.UsageError("--json and --csv - both want standard output; give --csv a file name")
    if is_table(result_file):
        if vtk_file is not None:
            raise click.UsageError(
                f"{result_file} is the table of a sweep, which is no grid; leave --vtk out, or use --csv"
            )
        _show_table(read_table(result_file), result_file, as_json, csv_file, field)
        return
    result = read(result_file)
    if vtk_file is not None:
        _write_vtk(result, result_file, vtk_file, as_json or csv_file == "-")
    if csv_file is not None:
        from thermokit.results.table import as_csv, fields_as_csv

        _write(as_csv(result) if field is None else fields_as_csv(_chosen(result, field)), csv_file, as_json)
        if csv_file == "-":
            return
    if as_json:
        import json

        from thermokit.results.summary import as_json as json_of

        click.echo(json.dumps(json_of(result, result_file), indent=2, ensure_ascii=False, allow_nan=False))
    elif csv_file is None and vtk_file is None:
        from thermokit.results.summary import as_text

        click.echo(as_text(result), nl=False)


def _write(table: str, csv_file: str, as_json: bool) -> None:
    """A table to standard output (-) or to a file."""
    if csv_file == "-":
        click.echo(table, nl=False)
        return
    from thermokit.results.whole import write_whole

    write_whole(csv_file, table.encode())
    click.echo(f"wrote {csv_file}", err=as_json)


def _write_vtk(result: Result, result_file: Path, vtk_file: Path, quiet: bool) -> None:
    """A layered result as a VTK grid."""
    from thermokit.errors import DataError
    from thermokit.results.model import SECTION
    from thermokit.results.vtk_layered import as_vtk
    from thermokit.results.whole import write_whole

    if result.shape == SECTION:
        raise DataError(
            f"{result_file} is the result of a section: it opens in a VTK reader as it is (VTKHDF), leave --vtk out"
        )
    if vtk_file.suffix.lower() != ".vtk":
        raise DataError(f"cannot write {vtk_file}: VTK readers go by the end of the name; give --vtk NAME.vtk")
    write_whole(vtk_file, as_vtk(result))
    click.echo(f"wrote {vtk_file}", err=quiet)


def _show_table(table: SweepTable, file: Path, as_json: bool, csv_file: str | None, field: str | None) -> None:
    """The table of a sweep, as `thermokit sweep` tells it."""
    from thermokit.errors import DataError
    from thermokit.studies.sweep_words import sweep_json, sweep_text

    if field is not None:
        raise DataError(f"{file} is the table of a sweep, which holds no fields; leave --field out, or use --csv")
    if csv_file is not None:
        from thermokit.results.sweep_table_csv import as_csv

        _write(as_csv(table), csv_file, as_json)
    if as_json:
        import json

        click.echo(json.dumps(sweep_json(table, file, True), indent=2, ensure_ascii=False, allow_nan=False))
    elif csv_file is None:
        click.echo(sweep_text(table, file, False))


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
