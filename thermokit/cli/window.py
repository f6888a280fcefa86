"""`thermokit window CASE`: a map over two settings."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="A map over two settings: where every limit is met, and the nearest edge.")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path))
@click.option("--across", required=True, metavar="PATH=FROM..TO", help="Setting along the lower side of the map.")
@click.option("--up", required=True, metavar="PATH=FROM..TO", help="Setting along its left side.")
@click.option("--at", metavar="VALUE", help='What is sought counts as set to this, such as "80 s" [as recommended].')
@click.option("--points", metavar="N", type=click.IntRange(5, 400), default=60, show_default=True, help="Each way.")
@click.option(
    "-o",
    "--output",
    "files",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Picture (FILE.png, FILE.svg) or table of all points (FILE.h5); more than once.",
)
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object and nothing else.")
def command(
    case_file: Path, across: str, up: str, at: str | None, points: int, files: tuple[Path, ...], as_object: bool
) -> int:
    """Where in two settings every limit is met, which limit makes each edge, and how far the present setting is from them.

    PATH is an input; several joined by + are set alike, and so is what errs together under that name in [tolerances]. The exit
    status is 1 where no point of the map meets every limit.

    \b
    Example:
      thermokit window tray.toml --across stations.heat.duration=55s..105s \\
        --up stations.heat.upper.temperature+stations.heat.lower.temperature=380degC..460degC -o tray_window.png
    """
    from thermokit.cli.decide import check_pictures, range_of, setting_of
    from thermokit.cli.progress import Progress
    from thermokit.studies.run import as_case
    from thermokit.studies.window_map import axis_of, window_map

    case = as_case(case_file)
    check_pictures(files, case_file, (".h5",))
    axes = [axis_of(case, *range_of(case, text, where)) for text, where in ((across, "--across"), (up, "--up"))]
    setting = None if at is None else setting_of(case, at)
    with Progress("mapping") as progress:
        found = window_map(case, axes[0], axes[1], points, setting, progress)
    for file in files:
        if file.suffix.lower() == ".h5":
            from thermokit.results.sweep_table import image
            from thermokit.results.whole import write_whole
            from thermokit.studies.window_map_words import map_table

            write_whole(file, image(map_table(found)))
        else:
            from thermokit.figures.style import save
            from thermokit.figures.window_map import draw_window_map

            save(draw_window_map(found), file)
    if as_object:
        import json

        from thermokit.studies.window_map_words import map_json

        click.echo(json.dumps(map_json(found, [str(f) for f in files]), ensure_ascii=False, allow_nan=False))
    else:
        from thermokit.studies.window_map_words import map_text

        click.echo(map_text(found))
        for file in files:
            click.echo(f"\nwrote {file}")
    return 0 if found.share > 0.0 else 1
