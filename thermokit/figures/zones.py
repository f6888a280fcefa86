"""Evening out the zones: settings of both panels before and after, and the sheet that each of them gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.page import NOT_MET, Page, height, width, write_above
from thermokit.figures.plan import (
    Plan,
    draw_plan,
    heat_colours,
    level_lines,
    mark_spot,
    name_axes,
    place_words,
    spread_words,
)
from thermokit.figures.style import LABEL_POINTS, house_style
from thermokit.figures.words import NO_BREAK, UNITS
from thermokit.results.bounds import bounds
from thermokit.results.fields import find

if TYPE_CHECKING:
    from collections.abc import Iterable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

_SIDES, _TIMES = ("upper", "lower"), ("before", "after")
_KEY = (
    "Zones as in the case file: row, column. In the middle of a zone: its setting; below it, after: change against "
    "before. Hatched: dead zone. Maps: lines of equal temperature; triangles: coldest (down) and hottest spot (up)."
)


def has_zones(result: Result) -> bool:
    """Whether the result holds what this figure draws."""
    return bool(_settings(result))


def draw_zones(result: Result) -> Figure:
    """Draw the settings of the upper and the lower zones as numbered cells, before (left) and after (right).

    Dead zones (no value, or marked in ``zones/upper_dead``) are hatched. Beneath, where the result holds it, the mean
    temperature of the sheet with the one and the other, on one scale.
    """
    settings, maps = _settings(result), _maps(result)
    rows, columns = np.shape(next(iter(settings.values())).values)
    plan = Plan.of(next(iter(maps.values()))) if maps else None
    proportion = plan.proportion if plan else float(np.clip(rows / columns, 0.3, 1.5))
    sides = [side for side in _SIDES if any((side, time) in settings for time in _TIMES)]
    page = Page.of(2 * (len(sides) + bool(maps)), proportion, result.provenance.title, _KEY, columns=2)
    texts = {key: page.lines(f"{key[0]} zones {key[1]}: {_spanned(field)}", []) for key, field in settings.items()}
    texts |= {
        ("map", time): page.lines(f"sheet {time}: {_spread(field)}", _map_words(result, field))
        for time, field in maps.items()
    }
    order = [*((side, time) for side in sides for time in _TIMES), *(("map", time) for time in _TIMES if maps)]
    page = page.with_lines([len(texts.get(key, ())) for key in order])
    with house_style():
        figure = page.figure()
        for (side, time), field in settings.items():
            panel = page.panel(figure, 2 * sides.index(side) + _TIMES.index(time))
            before = settings.get((side, "before")) if time == "after" else None
            _draw_cells(panel, field, before, _dead(result, side, field), _range(settings.values()))
            write_above(panel, texts[side, time])
        levels = level_lines(*map(_values, maps.values()))
        for time, field in maps.items():
            number = 2 * len(sides) + _TIMES.index(time)
            panel = page.panel(figure, number)
            _draw_map(panel, page.bar(figure, number), field, levels)
            write_above(panel, texts["map", time])
    return figure


def _settings(result: Result) -> dict[tuple[str, str], Field]:
    """Settings that the result holds, by side and time."""
    found = {(side, time): find(result, f"zones/{side}_{time}") for side in _SIDES for time in _TIMES}
    return {key: field for key, field in found.items() if field is not None}


def _maps(result: Result) -> dict[str, Field]:
    """Maps of the sheet that the result holds, by time."""
    found = {time: find(result, f"zones/map_{time}") for time in _TIMES}
    return {time: field for time, field in found.items() if field is not None}


def _values(field: Field) -> Array:
    return np.asarray(field.values, dtype=np.float64)


def _unit(field: Field) -> str:
    return UNITS.get(field.unit, field.unit)


def _spanned(field: Field) -> str:
    """Lowest and highest setting of a panel, in words."""
    values = _values(field)[np.isfinite(_values(field))]
    if not values.size:
        return "all dead"
    low, high = (_figure(float(end), field) for end in (values.min(), values.max()))
    return f"{low}{NO_BREAK}{_unit(field)}" if low == high else f"{low} to {high}{NO_BREAK}{_unit(field)}"


def _dead(result: Result, side: str, field: Field) -> NDArray[np.bool_]:
    """Which zones are dead, (rows, columns)."""
    marked = find(result, f"zones/{side}_dead")
    dead = ~np.isfinite(_values(field))
    return dead | (_values(marked) != 0) if marked is not None else dead


def _range(fields: Iterable[Field]) -> tuple[float, float]:
    """Lowest and highest setting of all, a little apart even where they are all the same."""
    every = np.concatenate([np.ravel(_values(field)) for field in fields])
    every = every[np.isfinite(every)]
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    return (low, high) if high > low else (low - 1, high + 1)


def _draw_cells(
    panel: Axes, field: Field, before: Field | None, dead: NDArray[np.bool_], ends: tuple[float, float]
) -> None:
    """Draw the zones as cells, shaded by setting, with number, setting and change written in."""
    from matplotlib.patches import Rectangle

    values = _values(field)
    rows, columns = values.shape
    panel.set_xlim(0.5, columns + 0.5)
    panel.set_ylim(rows + 0.5, 0.5)
    panel.grid(visible=False)
    for side in ("top", "right"):
        panel.spines[side].set_visible(True)
    colours = heat_colours(0.5)
    wide, high = 72 * width(panel) / columns, 72 * height(panel) / rows
    size = float(np.clip(min(wide / 3.2, high / 3.4), 4.0, 11.0))
    change = values - _values(before) if before is not None and np.shape(before.values) == values.shape else None
    for row, column in np.ndindex(rows, columns):
        shade = (values[row, column] - ends[0]) / (ends[1] - ends[0])
        look: dict[str, Any] = {"facecolor": colours(shade), "edgecolor": "0.2", "linewidth": 0.8}
        if dead[row, column]:
            look = {"facecolor": "white", "edgecolor": "0.2", "linewidth": 0.8, "hatch": "xxxx"}
        panel.add_patch(Rectangle((column + 0.5, row + 0.5), 1, 1, **look))
        if not dead[row, column] and size >= 8:
            _write(panel, (column + 0.5, row + 0.5), (3, -3), f"{row + 1},{column + 1}", size * 0.62, "left")
        place = (column + 1.0, row + 1.0)
        if dead[row, column]:
            _write(
                panel,
                place,
                (0, 0),
                "dead",
                size * 0.85,
                "center",
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
            )
            continue
        _write(panel, place, (0, 0), _figure(float(values[row, column]), field), size, "center", weight="bold")
        if change is not None and np.isfinite(change[row, column]):
            step = round(float(change[row, column]))
            words = f"{step:+d}".replace("-", "\N{MINUS SIGN}") if step else "0"
            _write(panel, place, (0, -1.15 * size), words, size * 0.75, "center")
    panel.set_xticks(range(1, columns + 1))
    panel.set_yticks(range(1, rows + 1))
    panel.tick_params(labelsize=8, length=0)
    panel.set_xlabel("column, along the length", fontsize=LABEL_POINTS, labelpad=2)
    panel.set_ylabel("row, across the width", fontsize=LABEL_POINTS, labelpad=2)


def _write(
    panel: Axes,
    place: tuple[float, float],
    offset: tuple[float, float],
    words: str,
    size: float,
    side: str,
    **look: Any,
) -> None:
    """Write words at a place, shifted by an offset [points]: centred on it, or hanging from it to the right."""
    down = "top" if side == "left" else "center"
    panel.annotate(
        words,
        place,
        xytext=offset,
        textcoords="offset points",
        ha=side,
        va=down,
        fontsize=size,
        **look,
    )


def _figure(value: float, field: Field) -> str:
    """A setting as it is written in its cell: whole, unless the settings of its panel are finer."""
    finite = _values(field)[np.isfinite(_values(field))]
    whole = np.allclose(finite, np.round(finite), atol=0.05)
    return f"{value:.{0 if whole or finite.max() >= 100 else 1}f}"


def _spread(field: Field) -> str:
    return spread_words(_values(field), field.unit)


def _map_words(result: Result, field: Field) -> list[str]:
    """What stands above a map of the sheet."""
    values, plan = _values(field), Plan.of(field)
    words = [field.meaning]
    if np.isfinite(values).any():
        words += [place_words(plan, values, which, field.unit) for which in ("coldest", "hottest")]
        found = float(np.nanmax(values) - np.nanmin(values))
        for limit in result.limits:
            for which, value in bounds(limit) if limit.name == "map_spread" and limit.unit == "K" else []:
                kept = found >= value if which == "least" else found <= value
                words.append(f"spread at {which} {value:g}{NO_BREAK}K: {'met' if kept else NOT_MET}")
    return words


def _draw_map(panel: Axes, bar: Axes, field: Field, levels: Array) -> None:
    """The sheet with these settings."""
    values, plan = _values(field), Plan.of(field)
    draw_plan(panel, bar, plan, values, levels, field.unit)
    for which in ("coldest", "hottest"):
        mark_spot(panel, plan, values, which)
    name_axes(panel, plan.unit)
