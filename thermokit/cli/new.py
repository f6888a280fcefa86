"""`thermokit new KIND`: a commented case to start from."""

from __future__ import annotations

import click


@click.command("new", short_help="Write a commented case to start from.")
@click.argument("kind", metavar="KIND")
@click.option("-o", "--output", metavar="FILE", help="Write to FILE; without it, to standard output.")
def command(kind: str, output: str | None) -> None:
    """Write a commented case of KIND (body, sheet, ...) that runs as it stands.

    An existing FILE is never overwritten.
    """
    from pathlib import Path

    from thermokit.case import template
    from thermokit.errors import CaseError, Mistake

    text = template(kind)
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        with Path(output).open("x", encoding="utf-8") as handle:
            handle.write(text)
    except FileExistsError:
        raise CaseError(
            "", [Mistake("--output", f"{output} exists already", "a new file", "give another name")]
        ) from None
    except (OSError, ValueError) as wrong:
        reason = getattr(wrong, "strerror", None) or str(wrong)
        raise CaseError(
            "", [Mistake("--output", f"{output} cannot be written: {reason}", "a file in a folder that exists")]
        ) from None
    click.echo(f"{output} written; try: thermokit check {output}", err=True)
