"""`thermokit setting CASE or RESULT`: one page for the setter."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from thermokit.results.model import Result
    from thermokit.studies.tolerance_study import Scatter

SUFFIXES = (".html", ".pdf")


@click.command(short_help="A setting sheet: one page with settings, window, limits, checks and cautions.")
@click.argument("source", metavar="CASE|RESULT", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="FILE.html or FILE.pdf [.html beside the case or result].",
)
@click.option("--fahrenheit", is_flag=True, help="Temperatures in degF beside degC.")
@click.option(
    "--causes", is_flag=True, help="With what the scatter of parts comes from, of a case with tolerances; takes longer."
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the page.")
def command(source: Path, output: Path | None, fahrenheit: bool, causes: bool, paper: str) -> int:
    """One page for the setter, from a result file, or from a case that is run first.

    Job, settings, window, limits and who chose them, margins, start-up, cautions, and blank boxes for what is measured on the
    first pieces. [job] in the case says job number, part, grade, lot and so on. The exit status is 1 where the sheet says that
    the case must not be run so.

    \b
    Examples:
      thermokit setting tray.h5
      thermokit setting tray.toml -o tray.pdf --fahrenheit
    """
    target = output if output is not None else source.with_suffix(".html")
    if target.suffix.lower() not in SUFFIXES:
        raise click.BadParameter(f"{target} must end in .html or .pdf", param_hint="-o")
    from thermokit.cli.target import check_target
    from thermokit.results.whole import write_whole
    from thermokit.sheets.content import sheet_of

    check_target(target, source)
    result = _result(source)
    sheet = sheet_of(result, fahrenheit, _scatter(result, source) if causes else None)
    if target.suffix.lower() == ".pdf":
        from thermokit.sheets.pdf import document

        write_whole(target, document(sheet, paper))
    else:
        from thermokit.sheets.html import page

        write_whole(target, page(sheet, paper).encode())
    click.echo(f"wrote {target}")
    return 1 if sheet.stop else 0


def _result(source: Path) -> Result:
    """The result in a file, or that of a case."""
    if source.suffix.lower() != ".toml":
        from thermokit.results.read import read

        return read(source)
    from thermokit.cli.progress import Progress
    from thermokit.studies.run import as_case, run

    case = as_case(source)
    with Progress("running") as progress:
        return run(case, progress)


def _scatter(result: Result, source: Path) -> Scatter:
    """Parts drawn over the tolerances of the case that a result came from."""
    from thermokit.case import parse_case
    from thermokit.cli.progress import Progress
    from thermokit.studies.tolerance_study import scatter

    case = parse_case(result.provenance.case_text, str(source))
    with Progress("drawing parts") as progress:
        return scatter(case, progress=progress)
