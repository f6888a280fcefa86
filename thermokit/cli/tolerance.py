"""`thermokit tolerance CASE`: how many parts in a hundred come out right, why the others do not, and the best setting."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="How many parts come out right, why the others do not, and the best setting.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "--at", metavar="VALUE", help='Setting at which parts are drawn, such as "80 s" [that with the best share].'
)
@click.option("--usual", is_flag=True, help="Add the tolerances usual in the shop (common practice, no source).")
@click.option(
    "--draws", metavar="N", type=click.IntRange(2, 2**20), help="Parts that are drawn [4096, fewer where slow]."
)
@click.option("--seed", metavar="N", type=click.IntRange(0, 2**31 - 1), help="Seed of the draws [always the same].")
@click.option(
    "-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="Draw it, in FILE.png or FILE.svg."
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path,
    at: str | None,
    usual: bool,
    draws: int | None,
    seed: int | None,
    output: Path | None,
    as_object: bool,
) -> int:
    """Draw parts whose inputs are off by the [tolerances] of the case, and tell how many meet every limit.

    \b
    Examples:
      thermokit tolerance tray.toml
      thermokit tolerance tray.toml --at "80 s" -o tray_parts.png
    """
    from thermokit.cli.decide import check_pictures, setting_of
    from thermokit.cli.progress import Progress
    from thermokit.studies.run import as_case
    from thermokit.studies.tolerance import SEED
    from thermokit.studies.tolerance_study import scatter

    case = as_case(case_file)
    check_pictures([output] if output is not None else [], case_file)
    setting = None if at is None else setting_of(case, at)
    with Progress("drawing parts") as progress:
        found = scatter(case, draws, SEED if seed is None else seed, setting, usual, progress)
    files = []
    if output is not None:
        from thermokit.figures.style import save
        from thermokit.figures.tolerance import draw_tolerance

        save(draw_tolerance(found), output)
        files.append(str(output))
    if as_object:
        import json

        from thermokit.studies.tolerance_words import scatter_json

        click.echo(json.dumps(scatter_json(found, files), ensure_ascii=False, allow_nan=False))
        return 0
    from thermokit.studies.tolerance_words import scatter_text

    click.echo(scatter_text(found))
    for file in files:
        click.echo(f"\nwrote {file}")
    return 0
