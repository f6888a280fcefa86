"""`thermokit thermocouple CASE`: where to put one couple."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Where one thermocouple tells most, and when.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "--of", metavar="NAME", help="Limit or outcome it is to tell about [the margin most likely to be broken]."
)
@click.option("--noise", default="0.5 K", show_default=True, help="One standard deviation of a reading.")
@click.option("--offset", default="0.75 K", show_default=True, help="The same of the couple's own offset.")
@click.option("--place", default="0.1 mm", show_default=True, help="The same of the depth at which it lies.")
@click.option("--usual", is_flag=True, help="Add the tolerances usual in the shop (common practice, no source).")
@click.option("--at", metavar="VALUE", help='What is sought counts as set to this, such as "80 s" [as recommended].')
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path, of: str | None, noise: str, offset: str, place: str, usual: bool, at: str | None, as_object: bool
) -> int:
    """Depth (or place in a section) and stretch of time at which one couple tells most about what decides.

    It weighs how each error in [tolerances] shows there against how it moves the deciding margin.

    \b
    Examples:
      thermokit thermocouple tray.toml
      thermokit thermocouple tray.toml --of coldest_point --noise "0.2 K"
    """
    from thermokit.cli.decide import setting_of
    from thermokit.cli.progress import Progress
    from thermokit.studies.run import as_case
    from thermokit.studies.thermocouple import thermocouple
    from thermokit.studies.thermocouple_words import thermocouple_json, thermocouple_text

    case = as_case(case_file)
    setting = None if at is None else setting_of(case, at)
    kelvin = [
        _read(text, "temperature_difference", where) for text, where in ((noise, "--noise"), (offset, "--offset"))
    ]
    if not kelvin[0] > 0.0:
        raise click.BadParameter(
            "a reading without any scatter tells everything; give some, such as 0.1 K", param_hint="--noise"
        )
    depth = _read(place, "length", "--place")
    with Progress("placing") as progress:
        found = thermocouple(case, of, kelvin[0], kelvin[1], depth, usual, setting, progress)
    if as_object:
        import json

        click.echo(json.dumps(thermocouple_json(found), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(thermocouple_text(found))
    return 0


def _read(text: str, dimension: str, where: str) -> float:
    """A value that is not below zero [SI]."""
    from thermokit.units import UnitError, parse

    try:
        value = parse(text, dimension)
    except UnitError as wrong:
        raise click.BadParameter(f"{text!r}: {wrong.what}; allowed: {wrong.allowed}", param_hint=where) from None
    if not 0.0 <= value < float("inf"):
        raise click.BadParameter(f"{text!r} is out of range; a value from 0 on", param_hint=where)
    return value
