"""`thermokit check CASE`: is the case right, and what does it say with every default filled in."""

from __future__ import annotations

from typing import Any

import click


@click.command("check", short_help="Validate a case and print it with all defaults.")
@click.argument("case", metavar="CASE", type=click.Path())
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
@click.option("--paths", is_flag=True, help="List the inputs by their path, for [tolerances] and sweeps.")
def command(case: str, as_json: bool, paths: bool) -> None:
    """Validate CASE and print it as it is understood: every value with its unit, every default filled in.

    All mistakes of the file are listed at once, each with its line; the exit status is then 2.
    """
    from thermokit import units
    from thermokit.case import load_case, numeric_paths, resolved_text, sought_path

    loaded = load_case(case)
    inputs = numeric_paths(loaded)
    begins = _begins(loaded)
    if as_json:
        import json

        report = {
            "title": loaded.title,
            "process": loaded.process,
            "case_sha256": loaded.source.sha256,
            "find": sought_path(loaded),
            "inputs": {path: units.format_(value, dimension) for path, (value, dimension) in inputs.items()},
            "resolved": resolved_text(loaded),
        } | begins
        click.echo(json.dumps(report, indent=2, ensure_ascii=False, allow_nan=False))
    elif paths:
        width = max(map(len, inputs), default=0)
        for path, (value, dimension) in inputs.items():
            click.echo(f"{path:<{width}}  {units.format_(value, dimension)}")
    else:
        click.echo(resolved_text(loaded), nl=False)
        if (earlier := loaded.earlier) is not None:
            for name, held in earlier.taken.items():
                mean = earlier.mean(name) - 273.15
                click.echo(f"# start_from: {name} goes on from {held.name} at {mean:.1f} degC (mean)")


def _begins(case: Any) -> dict[str, Any]:
    """Which earlier run the case begins from, nothing where from none."""
    if case.start_from is None:
        return {}
    from thermokit.processes.start import study

    return study(case)
