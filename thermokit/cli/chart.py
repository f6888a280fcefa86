"""`thermokit chart CASE`: what is sought against an input, as a chart for the wall."""

from __future__ import annotations

from pathlib import Path

import click

MOST_CURVES = 6


@click.command(short_help="A chart for the wall: what is sought against an input, with its window.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--against", required=True, metavar="PATH=FROM..TO", help="Input along the chart.")
@click.option("--family", metavar="PATH=A,B,C", help="Input that tells the curves apart, and its values.")
@click.option("--points", metavar="N", type=click.IntRange(3, 50), help="Values along each curve [round ones].")
@click.option(
    "-o",
    "--output",
    "files",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="FILE.png, FILE.svg or FILE.pdf; more than once.",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path, against: str, family: str | None, points: int | None, files: tuple[Path, ...], as_object: bool
) -> int:
    """Earliest, recommended and latest value of what the case seeks, against an input: a table, and a chart to print.

    PATH is an input; several joined by + are set alike. The exit status is 1 where no value of the chart has a window.

    \b
    Example:
      thermokit chart tray.toml --against sheet.thickness=2mm..6mm \\
        --family sheet.start=5degC,20degC,35degC -o tray_chart.pdf
    """
    import numpy as np

    from thermokit.cli.decide import check_pictures, range_of, value_at
    from thermokit.cli.progress import Progress
    from thermokit.studies.chart import chart, chart_json, chart_text
    from thermokit.studies.run import as_case
    from thermokit.studies.window_map import axis_of, paths_of

    case = as_case(case_file)
    check_pictures(files, case_file, (".pdf",))
    across = axis_of(case, *range_of(case, against, "--against"))
    of = None
    if family is not None:
        name, sign, listed = (part.strip() for part in family.partition("="))
        texts = [text.strip() for text in listed.split(",") if text.strip()]
        if not sign or not texts or len(texts) > MOST_CURVES:
            example = "sheet.start=5degC,20degC,35degC"
            raise click.BadParameter(
                f"{family!r} is no list of 1 to {MOST_CURVES} values; write PATH=A,B,C, such as {example}",
                param_hint="--family",
            )
        for path in paths_of(case, name)[1:]:
            value_at(case, path, texts[0], "--family")
        values = [value_at(case, paths_of(case, name)[0], text, "--family") for text in texts]
        of = (axis_of(case, name, min(values), max(values)), values)
    with Progress("charting") as progress:
        found = chart(case, across, points, of, progress)
    for file in files:
        from thermokit.figures.chart import draw_chart, save_chart

        save_chart(draw_chart(found), file)
    if as_object:
        import json

        click.echo(json.dumps(chart_json(found, [str(f) for f in files]), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(chart_text(found))
        for file in files:
            click.echo(f"\nwrote {file}")
    return 0 if any(np.isfinite(curve.recommended).any() for curve in found.curves) else 1
