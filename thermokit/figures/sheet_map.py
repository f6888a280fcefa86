"""The sheet map: coldest point, mean, hottest face and release over the plan of the sheet, with the limits where they break."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.figures.page import NOT_MET, Page, write_above
from thermokit.figures.plan import (
    Bound,
    Plan,
    bound_words,
    draw_plan,
    level_lines,
    mark_spot,
    name_axes,
    place_words,
    spread_words,
)
from thermokit.figures.style import house_style
from thermokit.figures.words import NO_BREAK, UNITS
from thermokit.results.bounds import bounds
from thermokit.results.fields import find

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

# what is drawn, in this order: field, name of its panel, limit that holds for it, spots that are marked
_PANELS = (
    ("map/coldest_point", "coldest point", "coldest_point", ("coldest",)),
    ("map/mean_temperature", "mean", "map_spread", ("coldest", "hottest")),
    ("map/hottest_face", "hottest face", "hottest_face", ("hottest",)),
    ("map/release_temperature", "at release", "release_temperature", ("hottest",)),
)
_KEY = (
    "Plan of the sheet in true proportion, the first row of zones at the top. Lines: equal temperature. "
    "Thick line and hatching: beyond a limit. Triangles: coldest (down) and hottest spot (up)."
)


@dataclass(frozen=True)
class _Panel:
    """One map: what it shows, the spots to mark, and the limits that hold for it (drawn, or said in words only)."""

    field: Field
    name: str
    marked: tuple[str, ...]
    drawn: tuple[Bound, ...] = ()
    said: str = ""

    @property
    def values(self) -> Array:
        return np.asarray(self.field.values, dtype=np.float64)

    @property
    def head(self) -> str:
        return f"{self.name}: {spread_words(self.values, self.field.unit)}"

    def paragraphs(self, plan: Plan) -> list[str]:
        """What stands under its head."""
        values, unit = self.values, self.field.unit
        words = [self.field.meaning]
        if np.isfinite(values).any():
            words += [place_words(plan, values, which, unit) for which in self.marked]
        return [*words, *(bound_words(bound, values) for bound in self.drawn), self.said]


def has_sheet_map(result: Result) -> bool:
    """Whether the result holds what this figure draws."""
    return any(_on_plan(find(result, name)) for name, *_ in _PANELS)


def _on_plan(field: Field | None) -> bool:
    """Whether a field is there, over length and width."""
    return field is not None and len(field.axes) == 2


def draw_sheet_map(result: Result) -> Figure:
    """Draw the plan of the sheet once for each of coldest point, mean, hottest face, release and the faces' difference.

    Each panel has a scale of its own, labelled contour lines, its worst spots marked and its spread above it; what breaks
    a limit is hatched within a thick line.
    """
    panels = _panels(result)
    plan = Plan.of(panels[0].field)
    page = Page.of(len(panels), plan.proportion, result.provenance.title, _KEY)
    texts = [page.lines(panel.head, panel.paragraphs(plan)) for panel in panels]
    page = page.with_lines([len(text) for text in texts])
    with house_style():
        figure = page.figure()
        for number, (panel, lines) in enumerate(zip(panels, texts, strict=True)):
            axes, bar = page.panel(figure, number), page.bar(figure, number)
            levels = level_lines(panel.values)
            draw_plan(axes, bar, plan, panel.values, levels, panel.field.unit, panel.drawn)
            for which in panel.marked:
                mark_spot(axes, plan, panel.values, which)
            write_above(axes, lines)
            name_axes(axes, plan.unit)
    return figure


def _panels(result: Result) -> list[_Panel]:
    """The panels that the result's fields allow."""
    panels = []
    for name, head, limit, marked in _PANELS:
        field = find(result, name)
        if field is None or not _on_plan(field):
            continue
        panels.append(_Panel(field, head, marked, *_limits(result, limit, field)))
    upper, lower = find(result, "map/upper_face"), find(result, "map/lower_face")
    if upper is not None and lower is not None:
        difference = np.asarray(upper.values) - np.asarray(lower.values)
        words = "above 0: upper face hotter" + _moment(upper)
        field = replace(upper, unit="K", values=difference, meaning=words)
        panels.append(_Panel(field, "upper less lower face", ("coldest", "hottest")))
    return panels


def _moment(field: Field) -> str:
    """At which moment a field was taken, as its meaning says it."""
    _, found, words = field.meaning.partition(" when ")
    return f", when {words}" if found else ""


def _limits(result: Result, name: str, field: Field) -> tuple[tuple[Bound, ...], str]:
    """Limits of that name: those in the unit of the field to be drawn, one on the spread in words."""
    drawn, said = [], []
    for limit in result.limits:
        if limit.name != name:
            continue
        for which, value in bounds(limit):
            words = f"at {which} {value:g}{NO_BREAK}{UNITS.get(limit.unit, limit.unit)}"
            if limit.unit == field.unit:
                drawn.append(Bound(which, value, words))
            else:
                said.append(f"spread {words}: {'met' if limit.met else NOT_MET}")
    return tuple(drawn), "; ".join(said)
