"""`thermokit sensitivity CASE`: which input the answer hangs on."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Which input the answer hangs on: Sobol indices over the tolerances.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--of", "wanted", metavar="OUTCOME", multiple=True, help="An outcome beside the margins; more than once.")
@click.option("--at", metavar="VALUE", help='Setting at which inputs are varied, such as "80 s" [the best one].')
@click.option("--over", type=click.Choice(["tolerances", "sweep"]), help="Vary over tolerances, or ranges of [sweep].")
@click.option("--usual", is_flag=True, help="Add the tolerances usual in the shop (common practice, no source).")
@click.option(
    "--rows", metavar="N", type=click.IntRange(8, 2**16), help="Base rows, each some runs [as many as take 10 s]."
)
@click.option("--seed", metavar="N", type=click.IntRange(0, 2**31 - 1), help="Seed of the rows [always the same].")
@click.option(
    "-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="Draw it, in FILE.png or FILE.svg."
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path,
    wanted: tuple[str, ...],
    at: str | None,
    over: str | None,
    usual: bool,
    rows: int | None,
    seed: int | None,
    output: Path | None,
    as_object: bool,
) -> int:
    """Share out the variance of each margin (and of outcomes) among the inputs, with intervals of confidence.

    \b
    Examples:
      thermokit sensitivity tray.toml -o tray_sensitivity.png
      thermokit sensitivity tray.toml --of earliest --of mean_temperature
    """
    from thermokit.cli.decide import check_pictures, setting_of
    from thermokit.cli.progress import Progress
    from thermokit.studies.run import as_case
    from thermokit.studies.sensitivity import sensitivity
    from thermokit.studies.tolerance import SEED

    case = as_case(case_file)
    check_pictures([output] if output is not None else [], case_file)
    setting = None if at is None else setting_of(case, at)
    with Progress("varying inputs") as progress:
        found = sensitivity(case, wanted, rows, SEED if seed is None else seed, setting, usual, over, progress)
    files = []
    if output is not None:
        from thermokit.figures.sensitivity import draw_sensitivity
        from thermokit.figures.style import save

        save(draw_sensitivity(found), output)
        files.append(str(output))
    if as_object:
        import json

        from thermokit.studies.sensitivity_words import sensitivity_json

        click.echo(json.dumps(sensitivity_json(found, files), ensure_ascii=False, allow_nan=False))
        return 0
    from thermokit.studies.sensitivity_words import sensitivity_text

    click.echo(sensitivity_text(found))
    for file in files:
        click.echo(f"\nwrote {file}")
    return 0
