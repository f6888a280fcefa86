"""`thermokit methods CASE`: which method for the part, side by side."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Which method can make the part, side by side, and why the others cannot.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--method", metavar="NAME", help="Write the case by this method, such as vacuum_male; needs -o.")
@click.option(
    "-o",
    "--output",
    metavar="NEW_CASE.toml",
    type=click.Path(path_type=Path),
    help="Where to write it, its hold to be found by `thermokit dwell`; never over CASE.",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, method: str | None, output: Path | None, as_object: bool) -> int:
    """Which method: every way to shape the part of CASE ([part] and [shaping]), with its figures from the model.

    The exit status is 1 where no method can make it as it is asked for.
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.methods import methods

    if method is not None or output is not None:
        _write(case_file, method, output)
        return 0
    with Progress("trying methods") as progress:
        found = methods(case_file, progress)
    if as_object:
        import json

        from thermokit.results.plain import plain

        click.echo(json.dumps(plain(found.as_json()), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.methods_words import methods_text

        click.echo(methods_text(found))
    return 0 if any(row.can for row in found.rows) else 1


def _write(case_file: Path, method: str | None, output: Path | None) -> None:
    """The case by another method, in a file of its own."""
    from thermokit.case import parse_case, resolved_text
    from thermokit.case.mistakes import nearest
    from thermokit.case.shaping import METHODS
    from thermokit.cli.target import check_new_case
    from thermokit.results.whole import write_whole
    from thermokit.studies.methods import part_of
    from thermokit.studies.methods_cases import by_method

    if method is None or output is None:
        raise click.UsageError("--method NAME and -o NEW_CASE.toml go together")
    if method not in METHODS:
        raise click.BadParameter(
            f"{method!r} is none; {nearest(method, METHODS) or 'one of ' + ', '.join(METHODS)}", param_hint="--method"
        )
    check_new_case(output, case_file)
    text = resolved_text(by_method(part_of(case_file), method))
    parse_case(text, str(output))  # what cannot be (a tray that is blown freely) is said before it is written
    write_whole(output, text.encode())
    click.echo(f"New case: {output}")
