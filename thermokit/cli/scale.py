"""`thermokit scale CASE`: how the answer grows with the wall."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="How the answer grows with the wall: exponent, regime, and what t ~ L^2 would say.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "--factor",
    "factors",
    metavar="X",
    multiple=True,
    type=float,
    help="Factor on the size [1.5 and 2]; more than once.",
)
@click.option(
    "--input",
    "inputs",
    metavar="PATH",
    multiple=True,
    help="Input that grows [thickness of the part]; several together.",
)
@click.option("--of", metavar="OUTCOME", help="An outcome instead of what is sought.")
@click.option("--material", metavar="NAME", help="Also: the same part of another material.")
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path,
    factors: tuple[float, ...],
    inputs: tuple[str, ...],
    of: str | None,
    material: str | None,
    as_object: bool,
) -> int:
    """The sought time (or speed, or an outcome) at 1.5 and 2 times the thickness, with the true exponent and its reason.

    The exit status is 1 where the answer is not reached at any other size.

    \b
    Examples:
      thermokit scale tray.toml
      thermokit scale tray.toml --factor 0.5 --factor 3 --material hips
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.scale_up import FACTORS, scale_up

    with Progress("scaling") as progress:
        found = scale_up(case_file, factors or FACTORS, inputs or None, of, material, progress)
    if as_object:
        import json

        from thermokit.studies.scale_up_words import scale_up_json

        click.echo(json.dumps(scale_up_json(found), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.scale_up_words import scale_up_text

        click.echo(scale_up_text(found))
    return 0 if any(row.answer is not None for row in found.sizes if row.factor != 1.0) else 1
