"""`thermokit compare CASE…`: designs side by side, or one case as it is and as changed."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Designs side by side, or one with other values: what differs first.")
@click.argument("case_files", metavar="CASE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--set",
    "sets",
    metavar="PATH=VALUE",
    multiple=True,
    help="Compare the one CASE with itself where this key is written otherwise; may be given again. A path that comes a second "
    "time begins another design; * stands for every entry.",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_files: tuple[Path, ...], sets: tuple[str, ...], as_object: bool) -> int:
    """Up to six designs side by side: window, limits and outcomes by their names, what differs most first.

    The exit status is 1 where a design has no answer.

    \b
    Examples:
      thermokit compare tray.toml tray_with_insert.toml
      thermokit compare tray.toml --set "circuits.*.depth=20 mm"
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.compare import compare

    with Progress("comparing") as progress:
        found = compare(case_files, sets, progress)
    if as_object:
        import json

        from thermokit.results.plain import plain

        click.echo(json.dumps(plain(found.as_json()), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.compare_words import comparison_text

        click.echo(comparison_text(found))
    return 0 if all(design.answered for design in found.designs) else 1
