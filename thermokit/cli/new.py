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
    import os

    from thermokit.case import template
    from thermokit.errors import CaseError, Mistake
    from thermokit.results.whole import write_whole

    text = template(kind)
    if output is None:
        click.echo(text, nl=False)
        return
    if os.path.lexists(output):
        raise CaseError("", [Mistake("--output", f"{output} exists already", "a new file", "give another name")])
    write_whole(output, text.encode())
    click.echo(f"{output} written; try: thermokit check {output}", err=True)
