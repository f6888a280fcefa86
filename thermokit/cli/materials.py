"""``thermokit materials``: what the library holds, one material or kinetics set of it, and ``mix`` for compounds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click


class _WithMix(click.Command):
    """The command, whose first word ``mix`` stands for a command of its own: a name never is one of the library's."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        if args[:1] == ["mix"]:
            from thermokit.cli.mix import command as mix

            return mix.make_context(f"{info_name} mix", args[1:], parent, **extra)
        return super().make_context(info_name, args, parent, **extra)


@click.command(
    name="materials", cls=_WithMix, short_help="List the materials and kinetics, or show one with its sources."
)
@click.argument("name", metavar="[NAME]", required=False)
@click.option("--kinetics", is_flag=True, help="Kinetics of cure, gelation and fusion instead of materials.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON and nothing else.")
@click.option(
    "--plot",
    "picture",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw the material's properties to FILE, ending in .png or .svg.",
)
def command(name: str | None, kinetics: bool, as_json: bool, picture: Path | None) -> None:
    """List the library, or show NAME: properties, transitions, limits, each with range, source and confidence.

    `thermokit materials mix` makes a PVC compound from parts per hundred resin: see `thermokit materials mix --help`.

    \b
    Examples:
      thermokit materials
      thermokit materials abs --plot abs.png
      thermokit materials --kinetics pf_calibrated
      thermokit materials mix --resin 100 --plasticiser dop=60 --batch "25 kg"
    """
    if picture is not None and (name is None or kinetics):
        raise click.UsageError("--plot draws one material: give its name, without --kinetics")
    if name is None:
        _list(kinetics, as_json)
    elif kinetics:
        _show_kinetics(name, as_json)
    else:
        _show_material(name, as_json, picture)


def _list(kinetics: bool, as_json: bool) -> None:
    """All names, one a line."""
    if kinetics:
        from thermokit.kinetics.library import headings as kinetics_headings

        keys: tuple[str, ...] = ("id", "name", "state", "status")
        rows: list[tuple[str, ...]] = [*kinetics_headings()]
    else:
        from thermokit.materials.library import headings

        keys = ("id", "name", "family")
        rows = [*headings()]
    if as_json:
        _print_json([dict(zip(keys, row, strict=True)) for row in rows])
        return
    widths = [max(len(row[i]) for row in rows) for i in range(len(keys))]
    for row in rows:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def _show_kinetics(name: str, as_json: bool) -> None:
    """One kinetics set."""
    from thermokit.kinetics.library import load

    record = load(name).record
    if as_json:
        _print_json(record)
        return
    from thermokit.kinetics.describe import describe_kinetics

    click.echo(describe_kinetics(record), nl=False)


def _show_material(name: str, as_json: bool, picture: Path | None) -> None:
    """One material, and its picture where one is asked for."""
    from thermokit.materials.library import load

    material = load(name)
    if as_json:
        _print_json(material.record)
    else:
        from thermokit.materials.describe import describe_material

        click.echo(describe_material(material.record), nl=False)
    if picture is not None:
        from thermokit.figures.materials import draw_material
        from thermokit.figures.style import save

        save(draw_material(material), picture)
        click.echo(f"wrote {picture}", err=True)


def _print_json(content: object) -> None:
    """One JSON value on standard output."""
    import json

    click.echo(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))
