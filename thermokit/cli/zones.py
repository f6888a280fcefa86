"""`thermokit zones CASE`: settings of the heater zones that even out the sheet."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="How to set the zones of the panels, so that the sheet is even.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    metavar="NEW_CASE.toml",
    type=click.Path(path_type=Path),
    help="Write the case with the new settings; never over CASE.",
)
@click.option(
    "--result", "kept", metavar="RESULT.h5", type=click.Path(path_type=Path), help="Keep the run at the new settings."
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(case_file: Path, output: Path | None, kept: Path | None, as_object: bool) -> int:
    """How to set the zones of the panels: the smallest spread over the sheet, at the target, within [zones].

    The exit status is 1 where the target cannot be reached; what is printed and written is then the best that can be had.
    """
    from thermokit.case.rewrite import is_as_written
    from thermokit.cli.progress import Progress
    from thermokit.cli.target import check_new_case, check_target
    from thermokit.studies.run import as_case
    from thermokit.studies.zones import zones

    case = as_case(case_file)
    if output is not None:
        check_new_case(output, case_file)
    if kept is not None:
        check_target(kept, case_file)
    with Progress("evening out") as progress:
        found = zones(case, progress)
    if output is not None:
        from thermokit.results.whole import write_whole

        write_whole(output, found.case.source.text.encode())
    if kept is not None:
        from thermokit.results.write import write

        write(found.result, kept)
    if as_object:
        import json

        from thermokit.results.summary import as_json

        content = as_json(found.result, kept)
        content["zones"]["case"] = None if output is None else str(output)
        click.echo(json.dumps(content, ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.zones_words import zones_text

        click.echo(zones_text(found, output))
        if output is not None and not is_as_written(case, found.case):
            click.echo("\nThe text of the case could not be edited: the new case is written with all its defaults.")
        for words, file in (("New case", output), ("Result file", kept)):
            if file is not None:
                click.echo(f"\n{words}: {file}")
    return 0 if found.reached else 1
