"""``thermokit plot``: pictures of a result, as many as it holds something for."""

from __future__ import annotations

from pathlib import Path

import click

SUFFIXES = (".png", ".svg")
KINDS = (
    "history",
    "profile",
    "map",
    "shots",
    "zones",
    "cure",
    "opening",
    "wall",
    "oven",
    "shaping",
    "section",
    "edges",
    "faces",
    "cycle",
    "along",
    "events",
)


@click.command(name="plot", short_help="Draw a result: temperature against time, depth, shots, over the sheet.")
@click.argument("result_file", metavar="RESULT", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Name of the picture, ending in .png or .svg; left out, beside the result. With all, the kind of each picture is "
    "put into the name: _history, _profile, ...",
)
@click.option(
    "--kind",
    type=click.Choice(["all", *KINDS]),
    default="all",
    show_default=True,
    help="history: temperature against time; profile: against depth; map: over the plan of the sheet; shots: tool from "
    "shot to shot; zones: settings evened out; cure, opening: a charge in the press; wall, oven: a dip; shaping: a shaped "
    "sheet by region; section, edges: over a section and along its edges; faces, cycle: a mould along the part and over a shot; "
    "along, events: a line. all: each that there is.",
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
    from thermokit.errors import DataError
    from thermokit.figures.drawings import drawings_of
    from thermokit.figures.style import save
    from thermokit.results.read import read

    result = read(result_file)
    drawings = drawings_of(result)
    if kind != "all" and kind not in drawings:
        raise DataError(f"{result_file} holds nothing to draw for {kind}; it has: {', '.join(drawings)}")
    base = output if output is not None else result_file.with_suffix(".png")
    for name in drawings if kind == "all" else [kind]:
        plain_name = kind != "all" and output is not None
        target = base if plain_name else base.with_name(f"{base.stem}_{name}{base.suffix}")
        save(drawings[name](result), target)
        click.echo(f"wrote {target}")
