"""`thermokit fit CASE LOG.csv`: what a logged run and trials say about the unknown inputs of a case."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Fit a case to a logger's file and to trials by stopwatch.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.argument("log", metavar="[LOG.csv]", required=False, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="FITTED.toml",
    type=click.Path(path_type=Path),
    help="Write the case with the fitted values, its comments kept; never over CASE.",
)
@click.option(
    "--plot",
    "picture",
    metavar="PICTURE",
    type=click.Path(path_type=Path),
    help="Draw the log beside the case, what is left, and how sure the values are (.png, .svg).",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, log: Path | None, output: Path | None, picture: Path | None, as_object: bool) -> int:
    """Fit up to three unknown inputs of CASE to a logger's file, to trials by stopwatch, or to both, as [fit] says.

    [fit] names the unknowns with their bounds, the channels of the log with their places, and trials. Lags and offsets of
    couples and the start of the case in the log can be unknown too. The exit status is 1 where an unknown input is not told
    by what was measured, or two of them cannot be told apart; what is printed and written is then the best that can be had.

    \b
    Examples:
      thermokit fit tray.toml tray_run.csv --plot fit.png -o tray_fitted.toml
      thermokit explain fit
    """
    from thermokit.cli.progress import Progress
    from thermokit.cli.target import check_new_case
    from thermokit.errors import DataError
    from thermokit.studies.fit import fit_case
    from thermokit.studies.run import as_case

    case = as_case(case_file)
    if output is not None:
        check_new_case(output, case_file)
    if picture is not None:
        if picture.suffix.lower() not in (".png", ".svg"):
            raise click.BadParameter(f"{picture} must end in .png or .svg", param_hint="--plot")
        if picture.is_dir() or not picture.parent.is_dir():
            raise DataError(f"cannot write {picture}: there is no such folder; make it first, or name another one")
    with Progress("fitting") as progress:
        found = fit_case(case, log, progress)
    as_edited = True
    if output is not None:
        from thermokit.results.whole import write_whole
        from thermokit.studies.fit_rewrite import fitted_case, is_as_written

        new = fitted_case(found)
        as_edited = is_as_written(found, new)
        write_whole(output, new.source.text.encode("utf-8"))
    if picture is not None:
        from thermokit.figures.fit import draw_fit
        from thermokit.figures.style import save

        save(draw_fit(found), picture)
    if as_object:
        import json

        from thermokit.studies.fit_words import fit_json

        content = fit_json(found) | {"case": None if output is None else str(output)}
        click.echo(json.dumps(content, ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.fit_words import fit_text

        click.echo(fit_text(found))
        if not as_edited:
            click.echo("\nThe text of the case could not be edited: the new case is written with all its defaults.")
        for words, file in (("New case", output), ("Picture", picture)):
            if file is not None:
                click.echo(f"\n{words}: {file}")
    return 0 if found.sound else 1
