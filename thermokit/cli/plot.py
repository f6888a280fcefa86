"""``thermokit plot``: pictures of a result, as many as it holds something for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

    from thermokit.results.model import Result

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
    from thermokit.figures.style import save
    from thermokit.results.read import read

    result = read(result_file)
    drawings = _drawings(result)
    if kind != "all" and kind not in drawings:
        raise DataError(f"{result_file} holds nothing to draw for {kind}; it has: {', '.join(drawings)}")
    base = output if output is not None else result_file.with_suffix(".png")
    for name in drawings if kind == "all" else [kind]:
        plain_name = kind != "all" and output is not None
        target = base if plain_name else base.with_name(f"{base.stem}_{name}{base.suffix}")
        save(drawings[name](result), target)
        click.echo(f"wrote {target}")


def _drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """What can be drawn of a result, by kind."""
    from thermokit.figures.cure import drawings as of_charge
    from thermokit.figures.dip import drawings as of_dip
    from thermokit.figures.history import draw_history
    from thermokit.figures.line import drawings as of_line
    from thermokit.figures.mould import drawings as of_mould
    from thermokit.figures.profile import draw_profile
    from thermokit.figures.section import drawings as of_section
    from thermokit.figures.shaping import drawings as of_shaping
    from thermokit.figures.sheet_map import draw_sheet_map, has_sheet_map
    from thermokit.figures.shots import draw_shots, has_shots
    from thermokit.figures.zones import draw_zones, has_zones

    if section := of_section(result):
        return of_mould(result, section)
    found: dict[str, Callable[[Result], Figure]] = {"history": draw_history, "profile": draw_profile}
    if has_sheet_map(result):
        found["map"] = draw_sheet_map
    if has_shots(result):
        found["shots"] = draw_shots
    if has_zones(result):
        found["zones"] = draw_zones
    return found | of_charge(result) | of_dip(result) | of_shaping(result) | of_line(result)
