"""Which pictures a result can be drawn as, and drawing one of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermokit.errors import DataError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from matplotlib.figure import Figure

    from thermokit.results.model import Result


def draw(result: Result, kind: str | None = None, file: str | Path | None = None) -> Figure:
    """One picture of a result, as ``thermokit plot`` draws it; saved to ``file`` (.png, .svg) where one is named.

    kind : history, profile, map, ...; left out, the first that there is. Raises DataError where the result holds nothing for it.
    """
    drawings = drawings_of(result)
    if kind is not None and kind not in drawings:
        raise DataError(f"the result holds nothing to draw for {kind}; it has: {', '.join(drawings)}")
    figure = drawings[kind if kind is not None else next(iter(drawings))](result)
    if file is not None:
        from pathlib import Path

        from thermokit.figures.style import save

        if Path(file).suffix.lower() not in (".png", ".svg"):
            raise DataError(f"cannot draw to {file}: the name must end in .png or .svg")
        save(figure, Path(file))
    return figure


def drawings_of(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """What can be drawn of a result, by kind."""
    from thermokit.figures.cure import drawings as of_charge
    from thermokit.figures.dip import drawings as of_dip
    from thermokit.figures.history import draw_history
    from thermokit.figures.line import drawings as of_line
    from thermokit.figures.mould import drawings as of_mould
    from thermokit.figures.profile import draw_profile
    from thermokit.figures.section import drawings as of_section
    from thermokit.figures.shaping import drawings as of_shaping
    from thermokit.figures.sheet_map import draw_sheet_map, has_sheet_map
    from thermokit.figures.shots import draw_shots, has_shots
    from thermokit.figures.zones import draw_zones, has_zones

    if section := of_section(result):
        return of_mould(result, section)
    found: dict[str, Callable[[Result], Figure]] = {"history": draw_history, "profile": draw_profile}
    if has_sheet_map(result):
        found["map"] = draw_sheet_map
    if has_shots(result):
        found["shots"] = draw_shots
    if has_zones(result):
        found["zones"] = draw_zones
    return found | of_charge(result) | of_dip(result) | of_shaping(result) | of_line(result)
