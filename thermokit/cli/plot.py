"""``thermokit plot``: pictures of a result, temperature against time and temperature against depth."""

from __future__ import annotations

from pathlib import Path

import click

SUFFIXES = (".png", ".svg")


@click.command(name="plot", short_help="Draw a result: temperature against time, and against depth.")
@click.argument("result_file", metavar="RESULT", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Name of the picture, ending in .png or .svg; left out, beside the result. Two pictures get _history and "
    "_profile put into the name.",
)
@click.option(
    "--kind",
    type=click.Choice(["history", "profile", "both"]),
    default="both",
    show_default=True,
    help="history: temperature against time; profile: temperature against depth.",
)
def command(result_file: Path, output: Path | None, kind: str) -> None:
    """Draw the result file RESULT.

    \b
    Examples:
      thermokit plot tray.h5
      thermokit plot tray.h5 --kind profile -o tray.svg
    """
    if output is not None and output.suffix.lower() not in SUFFIXES:
        raise click.BadParameter(f"{output} must end in .png or .svg", param_hint="-o")
    from thermokit.figures.history import draw_history
    from thermokit.figures.profile import draw_profile
    from thermokit.figures.style import save
    from thermokit.results.read import read

    result = read(result_file)
    base = output if output is not None else result_file.with_suffix(".png")
    drawings = {"history": draw_history, "profile": draw_profile}
    for name in drawings if kind == "both" else [kind]:
        plain_name = kind != "both" and output is not None
        target = base if plain_name else base.with_name(f"{base.stem}_{name}{base.suffix}")
        save(drawings[name](result), target)
        click.echo(f"wrote {target}")
