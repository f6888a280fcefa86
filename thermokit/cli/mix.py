"""``thermokit materials mix``: a PVC compound from parts per hundred resin, its properties and its weigh sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.materials.mix import Compound

_PARTS = "[KIND=]PARTS"


def _part(role: str, words: str) -> Callable[[Any], Any]:
    """One option for an ingredient; it may be given several times."""
    return click.option(f"--{role.replace('_', '-')}", role, metavar=_PARTS, multiple=True, help=words)


@click.command("mix", short_help="A PVC compound from parts per hundred resin.")
@click.argument("case", metavar="[CASE]", type=click.Path(path_type=Path), required=False)
@click.option("--resin", metavar="PARTS", help="Resin, 100 as a rule; everything else is counted per hundred of it.")
@click.option("--copolymer", is_flag=True, help="The resin is a copolymer (some 5 % vinyl acetate): it gels cooler.")
@_part("plasticiser", "dop (the default), dehp, dinp, didp, bbp, doa, polymeric, epoxidised_oil.")
@_part("stabiliser", "calcium_zinc (the default), tin, lead.")
@_part("lubricant", "stearic_acid.")
@_part("filler", "chalk.")
@_part("pigment", "titanium_dioxide (the default), carbon_black.")
@_part("impact_modifier", "acrylic (stands for MBS too).")
@click.option("--batch", metavar="MASS", help='Weigh sheet of a batch, such as "25 kg".')
@click.option(
    "--scale", metavar="MASS", help='Step of the scale, such as "5 g"  [about a ten-thousandth of the batch].'
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def command(case: Path | None, batch: str | None, scale: str | None, as_json: bool, **recipe: Any) -> None:
    """Properties of a PVC compound from its parts, with spread and sources, and the weigh sheet of a batch.

    With CASE the recipes that stand in it, [materials.NAME.recipe]. An ingredient of several kinds is given several times.

    \b
    Examples:
      thermokit materials mix --resin 100 --plasticiser dop=60 --stabiliser 2.5 --batch "25 kg"
      thermokit materials mix --resin 100 --plasticiser dinp=45 --plasticiser epoxidised_oil=5 --filler chalk=20
      thermokit materials mix CASE --batch "25 kg"
    """
    from thermokit.materials.weigh import weigh_sheet

    compounds = _of_options(recipe) if case is None else _of_case(case, recipe)
    mass = _mass(batch, "--batch")
    step = _mass(scale, "--scale")
    if step is not None and mass is None:
        raise click.UsageError("--scale belongs to a weigh sheet: give --batch too")
    sheets = {
        name: weigh_sheet(compound, mass, step) if mass is not None else () for name, compound in compounds.items()
    }
    if as_json:
        import json

        from thermokit.materials.mix_words import as_record

        records = {name: as_record(compound, sheets[name], mass) for name, compound in compounds.items()}
        content = records[""] if case is None else {"materials": records}
        click.echo(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))
        return
    from thermokit.materials.mix_words import describe

    texts = [describe(compound, sheets[name], mass, name) for name, compound in compounds.items()]
    click.echo("\n".join(texts), nl=False)


def _of_options(recipe: dict[str, Any]) -> dict[str, Compound]:
    """The compound of the command line."""
    from thermokit.errors import DataError
    from thermokit.materials.mix import KINDS, compound

    if recipe["resin"] is None:
        if any(recipe[role] for role in KINDS):
            raise DataError("a recipe without resin: parts are counted per hundred of it; give --resin 100")
        raise click.UsageError("give a recipe, such as --resin 100 --plasticiser dop=60, or a CASE that has one")
    parts: dict[str, dict[str, float]] = {}
    for role, kinds in KINDS.items():
        for text in recipe[role]:
            kind, _, amount = text.rpartition("=")
            kind = kind.strip() or kinds[0]
            if kind in parts.setdefault(role, {}):
                raise DataError(f"--{role.replace('_', '-')} {kind} is given twice: give all its parts at once")
            parts[role][kind] = _number(amount, f"--{role.replace('_', '-')}")
    return {"": compound(parts, _number(recipe["resin"], "--resin"), recipe["copolymer"])}


def _of_case(case: Path, recipe: dict[str, Any]) -> dict[str, Compound]:
    """The compounds of the recipes in a case."""
    from thermokit.case import load_case
    from thermokit.errors import DataError

    if any(recipe.values()):
        raise click.UsageError("a CASE has its own recipe: give no ingredients beside it")
    found = {name: own.recipe.compound for name, own in load_case(case).materials.items() if own.recipe is not None}
    if not found:
        raise DataError(f"{case}: no material of it is given by a recipe ([materials.NAME.recipe])")
    return found


def _number(text: str, option: str) -> float:
    """Parts as a number."""
    from math import isfinite

    from thermokit.errors import DataError

    try:
        value = float(text)
    except ValueError:
        comma = "; a decimal point, not a comma" if "," in text else ""
        raise DataError(f"{option}: {text[:40]!r} is no number of parts, such as 60 or dop=60{comma}") from None
    if not isfinite(value) or value < 0.0:
        raise DataError(f"{option}: {text[:40]!r} parts; a number from 0 up is needed")
    return value


def _mass(text: str | None, option: str) -> float | None:
    """A mass [kg]."""
    from thermokit.errors import DataError
    from thermokit.units import UnitError, parse

    if text is None:
        return None
    try:
        return parse(text, "mass")
    except UnitError as wrong:
        raise DataError(f'{option}: {text[:40]!r}: {wrong.what}; a mass with its unit, such as "25 kg"') from None
