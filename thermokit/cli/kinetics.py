"""``thermokit kinetics``: constants of cure from a calorimeter's runs, and the library's sets."""

from __future__ import annotations

import re
from pathlib import Path

import click

FORMS = ("two_rate", "one_energy", "autocatalytic", "nth_order")
FIRST_WORDS = "# Kinetics fitted by thermokit"


@click.group(name="kinetics", short_help="Fit kinetics to DSC runs, list the library's sets.")
def command() -> None:
    """Kinetics of cure: fit them to a calorimeter's runs, or look at the sets of the library."""


@command.command(short_help="Activation energies and a fitted set from DSC files.")
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--name", default="fitted", show_default=True, help="NAME of the [kinetics.NAME] block.")
@click.option("--form", type=click.Choice(FORMS), default="two_rate", show_default=True, help="Form of the rate law.")
@click.option(
    "--mass", "masses", multiple=True, help='Of the sample, such as "8.2 mg", for heat flow in W: once, or once a FILE.'
)
@click.option("--rate", "rates", multiple=True, help='Heating rate, such as "10 K/min", of files without time.')
@click.option("--at", "holds", multiple=True, help='Temperature of the hold, such as "120 degC", of files without it.')
@click.option(
    "--plot",
    "picture",
    metavar="PICTURE",
    type=click.Path(path_type=Path),
    help="Draw measured against fitted (.png, .svg).",
)
@click.option(
    "-o", "--output", metavar="BLOCK.toml", type=click.Path(path_type=Path), help="Write the block to paste to a file."
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def fit(
    files: tuple[Path, ...],
    name: str,
    form: str,
    masses: tuple[str, ...],
    rates: tuple[str, ...],
    holds: tuple[str, ...],
    picture: Path | None,
    output: Path | None,
    as_object: bool,
) -> int:
    """Fit kinetics to runs of a calorimeter: ramps at several heating rates, holds at temperatures, or both.

    Each FILE is text with columns for time and/or temperature and for heat flow or conversion, their units in the heading:
    "time [s];temperature [degC];heat flow [W/g]". Delimiters, decimal commas and comments are recognised. It gives the
    energies of Kissinger and Ozawa, energy against conversion, a two-rate set with 95 % confidence, and a block for a case.

    \b
    Examples:
      thermokit kinetics fit ramp5.csv ramp10.csv ramp20.csv hold130.csv
      thermokit kinetics fit *.txt --mass "8.2 mg" --name resin --plot fit.png -o resin.toml
    """
    from thermokit.kinetics.dsc import read_run

    _check_name(name)
    _check_targets(files, picture, output)
    given = [
        _for_each(values, option, len(files))
        for values, option in ((masses, "--mass"), (rates, "--rate"), (holds, "--at"))
    ]
    _check_twice(files)
    runs = [read_run(path, *values) for path, *values in zip(files, *given, strict=True)]

    from thermokit.cli.progress import Progress
    from thermokit.studies.kinetics_fit import fit_kinetics
    from thermokit.studies.kinetics_words import block, fit_json, fit_text

    with Progress("fitting") as progress:
        found = fit_kinetics(runs, form, progress)
    if picture is not None:
        from thermokit.figures.kinetics_fit import draw_fit
        from thermokit.figures.style import save

        save(draw_fit(found), picture)
    if output is not None:
        from thermokit.results.whole import write_whole

        text = (
            f"{FIRST_WORDS}: paste one block into a case, and name it at the layer that cures.\n\n{block(found, name)}"
        )
        if found.simpler is not None:
            text += f"\n# fits as well, with fewer constants\n{block(found, f'{name}_simpler', simpler=True)}"
        write_whole(output, text.encode("utf-8"))
    if as_object:
        import json

        click.echo(json.dumps(fit_json(found, name), ensure_ascii=False, allow_nan=False))
        return 0
    click.echo(fit_text(found, name))
    for target in (picture, output):
        if target is not None:
            click.echo(f"wrote {target}")
    return 0


@command.command(name="list", short_help="The sets of the library.")
@click.option("--json", "as_object", is_flag=True, help="Print JSON and nothing else.")
@click.pass_context
def list_sets(context: click.Context, as_object: bool) -> None:
    """List the library's sets: the same as `thermokit materials --kinetics`."""
    from thermokit.cli.materials import command as materials

    context.invoke(materials, name=None, kinetics=True, as_json=as_object, picture=None)


@command.command(short_help="One set of the library, with sources and confidence.")
@click.argument("name")
@click.option("--json", "as_object", is_flag=True, help="Print JSON and nothing else.")
@click.pass_context
def show(context: click.Context, name: str, as_object: bool) -> None:
    """Show one set of the library: the same as `thermokit materials --kinetics NAME`."""
    from thermokit.cli.materials import command as materials

    context.invoke(materials, name=name, kinetics=True, as_json=as_object, picture=None)


def _check_name(name: str) -> None:
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,60}", name):
        raise click.BadParameter(f"{name[:40]!r}: letters, digits, - and _ only", param_hint="--name")


def _check_twice(files: tuple[Path, ...]) -> None:
    """A file that stands twice would count twice."""
    from thermokit.errors import DataError

    seen: set[Path] = set()
    for path in files:
        if path.resolve() in seen:
            raise DataError(f"{path} stands there twice: it would count twice")
        seen.add(path.resolve())


def _check_targets(files: tuple[Path, ...], picture: Path | None, output: Path | None) -> None:
    """Files to be written are looked at before anything is computed; nobody's data or case is overwritten."""
    from thermokit.errors import DataError

    if picture is not None and picture.suffix.lower() not in (".png", ".svg"):
        raise click.BadParameter(f"{picture} must end in .png or .svg", param_hint="--plot")
    if output is not None and output.suffix.lower() != ".toml":
        raise click.BadParameter(f"{output} must end in .toml", param_hint="-o")
    for target in (picture, output):
        if target is None:
            continue
        if any(target.exists() and path.exists() and target.samefile(path) for path in files):
            raise DataError(f"cannot write {target}: that is one of the runs")
        if target.is_dir() or not target.parent.is_dir():
            raise DataError(f"cannot write {target}: there is no such folder; make it first, or name another one")
    if output is not None and output.is_file() and not _ours(output):
        raise DataError(
            f"cannot write {output}: a file of that name is there, and is no block of this command; name another"
        )


def _ours(path: Path) -> bool:
    """Whether a file was written by this command."""
    try:
        with path.open(encoding="utf-8") as file:
            return file.read(len(FIRST_WORDS)) == FIRST_WORDS
    except (OSError, UnicodeDecodeError):
        return False


def _for_each(values: tuple[str, ...], option: str, files: int) -> list[str | None]:
    """An option given once stands for all files, else once for each, in their order."""
    if len(values) in (0, 1):
        return [values[0] if values else None] * files
    if len(values) != files:
        raise click.UsageError(
            f"{option} is given {len(values)} times for {files} files: give it once, or once for each"
        )
    return list(values)
