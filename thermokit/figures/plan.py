"""A plan of the sheet: a temperature over its length and width in true proportion, legible without colour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.page import NOT_MET, height
from thermokit.figures.style import LABEL_POINTS
from thermokit.figures.words import NO_BREAK, UNITS, quantity
from thermokit.results.digits import difference_unit, number

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.patheffects import AbstractPathEffect
    from matplotlib.text import Text
    from numpy.typing import NDArray

    from thermokit.results.model import Field

    Array = NDArray[np.float64]

_HATCH = {"least": "\\\\\\", "most": "///"}
_SMALLEST = 0.05  # [K] below which a map counts as even


@dataclass(frozen=True)
class Bound:
    """A limit on a map: ``least`` or ``most``, the value in the unit of the map, how it is written."""

    which: str
    value: float
    words: str

    def broken(self, values: Array) -> NDArray[np.bool_]:
        """Where the map breaks the limit, same shape."""
        with np.errstate(invalid="ignore"):
            return values < self.value if self.which == "least" else values > self.value


def heat_colours(darkest: float = 0.28) -> Colormap:
    """Dark to light, even in lightness for every reader; so light at its dark end that black lines stand out.

    darkest : where it begins on the scale from darkest (0) to lightest (1)
    """
    import matplotlib
    from matplotlib.colors import LinearSegmentedColormap

    scale = matplotlib.colormaps["cividis"]
    return LinearSegmentedColormap.from_list("heat", scale(np.linspace(darkest, 1.0, 128)))


def level_lines(*maps: Array) -> Array:
    """Round temperatures for contour lines, eleven at most over all these maps; two at least, that hold all values."""
    from matplotlib.ticker import MaxNLocator

    every = np.concatenate([np.ravel(values) for values in maps]) if maps else np.zeros(0)
    every = every[np.isfinite(every)]
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    if high - low < _SMALLEST:
        middle = round((low + high) / 2)
        return np.array([middle - 1.0, middle + 1.0])
    return np.asarray(MaxNLocator(nbins=11, steps=[1, 2, 5, 10]).tick_values(low, high))


def cell_edges(centres: Array, single: float = 1.0) -> Array:
    """Edges of cells about these centres, (n,) to (n + 1,): halfway between them; one cell alone is ``single`` wide.

    >>> cell_edges(np.array([-20.0, 0.0, 20.0]))
    array([-30., -10.,  10.,  30.])
    """
    if len(centres) == 1:
        return np.array([centres[0] - single / 2, centres[0] + single / 2])
    middles = (centres[1:] + centres[:-1]) / 2
    return np.concatenate([[2 * centres[0] - middles[0]], middles, [2 * centres[-1] - middles[-1]]])


@dataclass(frozen=True)
class Plan:
    """Places of a map: centres of its spots across the width (rows,) and along the length (columns,), with unit."""

    across: Array
    along: Array
    unit: str

    @classmethod
    def of(cls, field: Field) -> Plan:
        """Plan of a field whose axes are across (y) and along (x)."""
        y, x = field.axes
        return cls(np.asarray(y.values, dtype=np.float64), np.asarray(x.values, dtype=np.float64), x.unit)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, right, upper and lower edge; a single row or column of spots is as wide as the others are apart."""
        apart = [float(places[1] - places[0]) for places in (self.along, self.across) if len(places) > 1]
        x, y = (cell_edges(places, apart[0] if apart else 1.0) for places in (self.along, self.across))
        return float(x[0]), float(x[-1]), float(y[0]), float(y[-1])

    @property
    def proportion(self) -> float:
        """Width of the sheet over its length."""
        left, right, upper, lower = self.box
        return abs((lower - upper) / (right - left))

    def padded(self, values: Array) -> tuple[Array, Array, Array]:
        """Along, across and values, with the slope carried on from the outermost spots to the edges of the sheet.

        Nowhere beyond the range of the spots: what is drawn is not colder or hotter than what was found.
        """
        left, right, upper, lower = self.box
        x = np.concatenate([[left], self.along, [right]])
        y = np.concatenate([[upper], self.across, [lower]])
        wide = _to_edges(_to_edges(values).T).T
        if np.isfinite(values).any():
            wide = np.clip(wide, np.nanmin(values), np.nanmax(values))
        return x, y, wide


def _to_edges(values: Array) -> Array:
    """One row more at either end, half a row away, (n, m) to (n + 2, m)."""
    if len(values) == 1:
        return np.repeat(values, 3, axis=0)
    first = values[0] + (values[0] - values[1]) / 2
    last = values[-1] + (values[-1] - values[-2]) / 2
    first, last = (np.where(np.isfinite(new), new, old) for new, old in ((first, values[0]), (last, values[-1])))
    return np.concatenate([[first], values, [last]])


def draw_plan(
    panel: Axes, bar: Axes, plan: Plan, values: Array, levels: Array, unit: str, bounds: Sequence[Bound] = ()
) -> None:
    """Draw one map: bands between round temperatures, their lines labelled; what breaks a limit thickly edged, hatched.

    Parameters
    ----------
    panel, bar : Axes
        of the map and of its colour bar
    plan : Plan
        places of the spots
    values : (rows, columns) array
        in ``unit``; NaN where there is nothing (left white and crossed)
    levels : (n,) array
        where the bands meet, from :func:`level_lines`
    unit : str
        of the values, for the colour bar
    bounds : sequence of Bound
        limits that hold for this map

    """
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import FuncFormatter

    left, right, upper, lower = plan.box
    halo: list[AbstractPathEffect] = [withStroke(linewidth=2.2, foreground="white")]
    panel.set_xlim(left, right)
    panel.set_ylim(lower, upper)  # row 1 of the zones, y = 0, lies at the top as in the case file
    panel.set_aspect("equal", anchor="W")
    panel.grid(visible=False)
    for side in ("top", "right"):
        panel.spines[side].set_visible(True)
    panel.patch.set(facecolor="white", edgecolor="0.6", hatch="xxx")
    written = _written(levels)
    x, y, padded = plan.padded(values)
    masked = np.ma.masked_invalid(padded)
    colours = heat_colours()
    filled = panel.contourf(x, y, masked, levels=levels, cmap=colours, extend="both")
    if _uneven(values):
        lines = panel.contour(x, y, masked, levels=levels, colors="0.1", linewidths=0.7, linestyles="solid")
        labels = panel.clabel(lines, fmt=written, fontsize=8, inline=False)
        for text in _thinned(panel, list(labels)):
            text.set(path_effects=halo, zorder=4)
    # limits without the slope to the edges: hatched is what the spots break, no more
    flat = np.ma.masked_invalid(np.pad(values, 1, mode="edge"))
    for bound in bounds:
        _draw_bound(panel, x, y, flat, bound)
        if levels[0] < bound.value < levels[-1]:
            bar.axhline(bound.value, color="black", linewidth=2.4)
    written_there = FuncFormatter(lambda value, _: written(value))
    panel.figure.colorbar(filled, cax=bar, ticks=_ticks(bar, levels), format=written_there, extendfrac=0)
    name: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points", "ha": "left", "va": "top"}
    bar.annotate(UNITS.get(unit, unit), (0.0, 0.0), xytext=(14, -6), fontsize=LABEL_POINTS, **name)
    bar.tick_params(labelsize=8, length=2)
    bar.grid(visible=False)


def _draw_bound(panel: Axes, x: Array, y: Array, masked: Any, bound: Bound) -> None:
    """Hatch what breaks the limit and draw its edge thickly; nothing where it is kept everywhere."""
    from matplotlib.patheffects import withStroke

    broken = bound.broken(np.ma.filled(masked, np.nan))
    if not broken.any():
        return
    far = 1e6
    band = (-far, bound.value) if bound.which == "least" else (bound.value, far)
    hatched = panel.contourf(x, y, masked, levels=band, colors="none", hatches=[_HATCH[bound.which]])
    hatched.set(edgecolor="0.15", linewidth=0)
    if not broken.all():
        edge = panel.contour(x, y, masked, levels=[bound.value], colors="black", linewidths=2.4)
        edge.set_path_effects([withStroke(linewidth=4.2, foreground="white")])


def _thinned(panel: Axes, labels: list[Text]) -> list[Text]:
    """Labels of lines without those that would lie on one another or be cut at the edge of the panel."""
    points = 72 / panel.figure.dpi
    box = panel.transAxes.transform([[0, 0], [1, 1]]) * points
    kept: list[Text] = []
    places: list[Array] = []
    for text in labels:
        place = panel.transData.transform(text.get_position()) * points
        inside = ((place - box[0] > 8) & (box[1] - place > 8)).all()
        if inside and all(np.abs(place - other).max() > 17 for other in places):
            kept.append(text)
            places.append(place)
        else:
            text.remove()
    return kept


def _ticks(bar: Axes, levels: Array) -> Array:
    """Levels that get a number on the colour bar: as many as there is room for."""
    return levels[:: max(-(-len(levels) * 11 // int(72 * height(bar))), 1)]


def _written(levels: Array) -> Callable[[float], str]:
    """How a level is written: with as many decimals as these levels need."""
    decimals = 0 if np.allclose(levels, np.round(levels), atol=1e-6) else 1
    return lambda value: f"{value + 0.0:.{decimals}f}".replace("-", "\N{MINUS SIGN}")


def _uneven(values: Array) -> bool:
    """Whether a map has values, and they differ enough to draw lines between them."""
    finite = values[np.isfinite(values)]
    return bool(finite.size) and float(np.ptp(finite)) >= _SMALLEST


def mark_spot(panel: Axes, plan: Plan, values: Array, which: str) -> None:
    """Mark the ``coldest`` or ``hottest`` spot of a map with a triangle, down or up."""
    if not _uneven(values):
        return
    row, column = worst_spot(values, which)
    panel.plot(
        [plan.along[column]],
        [plan.across[row]],
        marker="v" if which == "coldest" else "^",
        markersize=9,
        color="white",
        markeredgecolor="black",
        markeredgewidth=1.3,
        linestyle="none",
        clip_on=False,
        zorder=6,
    )


def worst_spot(values: Array, which: str) -> tuple[int, int]:
    """Row and column of the ``coldest`` or ``hottest`` spot, the first of equals."""
    flat = int(np.nanargmin(values) if which == "coldest" else np.nanargmax(values))
    row, column = np.unravel_index(flat, values.shape)
    return int(row), int(column)


def place_words(plan: Plan, values: Array, which: str, unit: str) -> str:
    """The coldest or hottest spot in words: how much, and where; of a difference the smallest or largest."""
    row, column = worst_spot(values, which)
    place = f"x {number(float(plan.along[column]), digits=3)}, y {number(float(plan.across[row]), digits=3)}"
    word = {"coldest": "smallest", "hottest": "largest"}[which] if unit == "K" else which
    found = quantity(float(values[row, column]), unit)
    return f"{word} {found} at {place}{NO_BREAK}{plan.unit}".replace("-", "\N{MINUS SIGN}")


def spread_words(values: Array, unit: str) -> str:
    """How far the values of a map lie apart, in words.

    >>> spread_words(np.array([[130.0, 142.5]]), "degC")
    'spread 12.5\\xa0K'
    """
    if not np.isfinite(values).any():
        return "no values"
    return f"spread {quantity(float(np.nanmax(values) - np.nanmin(values)), difference_unit(unit))}"


def bound_words(bound: Bound, values: Array) -> str:
    """Whether a map keeps a limit, in words: where not, on what share of the sheet."""
    finite = np.isfinite(values)
    share = float(bound.broken(values)[finite].mean()) if finite.any() else 0.0
    if share == 0:
        return f"{bound.words}: met everywhere"
    return (
        f"{bound.words}: {NOT_MET} on {'all' if share == 1 else f'{max(100 * share, 1):.0f}{NO_BREAK}%'} of the sheet"
    )


def name_axes(panel: Axes, unit: str) -> None:
    """What the axes of a plan count."""
    panel.set_xlabel(f"along the length [{unit}]", fontsize=LABEL_POINTS, labelpad=2)
    panel.set_ylabel(
        f"{'across the width' if height(panel) > 1.6 else 'width'} [{unit}]", fontsize=LABEL_POINTS, labelpad=2
    )
    panel.tick_params(labelsize=8, length=2)
