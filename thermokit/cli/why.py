"""`thermokit why DEFECT [CASE]`: likely causes of a defect, held against the case's own run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from thermokit.studies.why_defects import Defect


@click.command("why", short_help="Likely causes of a defect, and what the case's run says to each.")
@click.argument("defect", metavar="[DEFECT]", required=False)
@click.argument("case_file", metavar="[CASE]", required=False, type=click.Path(path_type=Path))
@click.option("--kind", metavar="KIND", help="Kind of case, where no CASE is given, such as charge.")
@click.option(
    "--at", metavar="VALUE",
    help='Setting at which the part was made, such as "80 s", of a case that leaves it to be found [the recommended one].',
)  # fmt: skip
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(defect: str | None, case_file: Path | None, kind: str | None, at: str | None, as_object: bool) -> int:
    """Likely causes of DEFECT in plain words; with CASE (a case or a result file) the run's own numbers speak for or against
    each, and a test at the machine splits what is left. Without DEFECT, list the defects.

    \b
    Examples:
      thermokit why
      thermokit why "blister on opening" knob.toml --at "45 s"
      thermokit why sag --kind sheet
    """
    from thermokit.cli.progress import Progress
    from thermokit.studies.why import why
    from thermokit.studies.why_words import list_text, why_text

    if defect is not None and case_file is None and Path(defect).suffix.lower() in (".toml", ".h5"):
        case_file, defect = Path(defect), None
    if at is not None and (case_file is None or defect is None):
        raise click.UsageError("--at is a setting of a case: name the defect and the CASE too")
    if case_file is not None and kind is not None:
        raise click.UsageError("--kind goes without a CASE: the case says its kind")
    if defect is None:
        found = _all(case_file, kind)
        if as_object:
            _json({"defects": [{"process": d.kind, "defect": d.name, "also": list(d.also)} for d in found]})
        else:
            click.echo(list_text(found))
        return 0
    with Progress("running") as progress:
        answer = why(defect, case_file, kind=kind, at=at, progress=progress)
    if as_object:
        _json(answer.as_json())
    else:
        click.echo(why_text(answer))
    return 0 if answer.status in ("", "finished") else 1


def _all(case_file: Path | None, kind: str | None) -> tuple[Defect, ...]:
    from thermokit.studies.why import of_case
    from thermokit.studies.why_defects import listed

    if case_file is not None:
        return of_case(case_file)
    if kind is not None:
        from thermokit.case.kinds import case_class

        case_class(kind)
    return listed(kind)


def _json(found: object) -> None:
    import json

    from thermokit.results.plain import plain

    click.echo(json.dumps(plain(found), indent=2, ensure_ascii=False, allow_nan=False))
