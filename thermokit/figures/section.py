"""A section in three pictures: isotherms over it, temperature along its named edges, and what its probes went through."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.figures.field import celsius
from thermokit.figures.history import draw_curves, merged, stations_of
from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import NO_BREAK, quantity, spoken, time_unit
from thermokit.results.digits import number
from thermokit.results.model import section_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.conduction.section_history import SectionHistory
    from thermokit.results.model import Result

    Array = NDArray[np.float64]

MM = 1e3
WIDTH = 9.0  # of the figure [inch]
CAPTION = 105  # letters of a line of a caption
MOST_HEIGHT = 7.5  # of one panel [inch]
MOST_FACES = 12  # curves along edges; more would not be told apart
FILLED = 24  # steps of the colours
LINES = 7  # isotherms of each region, about
SMALL = 0.06  # of the picture, a side of a region below which its isotherms carry no numbers


def drawings(result: Result) -> dict[str, Callable[[Result], Figure]]:
    """What can be drawn of a section, by kind; empty for a layered body. Raises DataError where it holds no row."""
    from thermokit.conduction.section_history import SectionHistory

    history = result.history
    if not isinstance(history, SectionHistory):
        return {}
    if not len(history.time):
        raise DataError("the run stopped before its first row: there is nothing to draw")
    found: dict[str, Callable[[Result], Figure]] = {"section": draw_section}
    if history.face_names:
        found["edges"] = draw_edges
    if not history.steady:
        found["history"] = draw_section_history
    return found


@dataclass(frozen=True)
class _Piece:
    """A region as it is drawn: x, y [mm], triangles of its own nodes, temperature [degC], its outline as pairs of points."""

    name: str
    x: Array
    y: Array
    triangles: Any
    values: Array
    outline: Any


def draw_section(result: Result) -> Figure:
    """Draw the temperature over the section at the end, in true proportion: colours, and labelled isotherms of each region.

    Where a region is absent at the end, the section is also drawn as it was when the last of them was there.
    """
    history = section_of(result)
    rows = _rows(history)
    panels = [(row, _pieces(history, row)) for row in rows]
    wide, tall = (float(np.ptp(MM * axis)) for axis in (history.mesh.x, history.mesh.y))
    height = min(max(0.72 * WIDTH * tall / wide, 1.6), MOST_HEIGHT)
    top, between = 0.9, 1.1
    whole = top + len(panels) * (height + between)
    with house_style():
        from matplotlib.figure import Figure

        figure = Figure(figsize=(WIDTH, whole))
        figure.text(
            0.085, 1 - 0.12 / whole, spoken(result.provenance.title)[:100], va="top", fontsize=11.5, weight="bold"
        )
        for i, (row, pieces) in enumerate(panels):
            base = whole - top - i * (height + between) - height
            axes = figure.add_axes((0.085, base / whole, 0.75, height / whole))
            mesh = _draw_pieces(axes, pieces)
            _name_faces(axes, history, pieces)
            caption = fill(_caption(result, history, row, pieces), CAPTION)
            axes.set_title(caption, loc="left", fontsize=9)
            axes.set_xlabel("radius [mm]" if history.axisymmetric else "x [mm]")
            axes.set_ylabel("y [mm]")
            bar = figure.add_axes((0.87, base / whole, 0.022, height / whole))
            figure.colorbar(mesh, cax=bar, label="temperature [°C]")
    return figure


def _rows(history: SectionHistory) -> list[int]:
    """The last row; before it the last one in which every region was there, where one is absent at the end."""
    last = len(history.time) - 1
    full = np.flatnonzero(np.isfinite(history.temperature).all(axis=1))
    if np.isfinite(history.temperature[last]).all() or not full.size:
        return [last]
    return [int(full[-1]), last]


def _pieces(history: SectionHistory, row: int) -> list[_Piece]:
    """The regions that are there in a row."""
    mesh, found = history.mesh, []
    temperature = celsius(history.temperature[row])
    for i, name in enumerate(history.region_names):
        chosen = mesh.triangles[mesh.region == i]
        nodes, own = np.unique(chosen, return_inverse=True)
        if not len(nodes) or not np.isfinite(temperature[nodes]).all():
            continue
        own = own.reshape(chosen.shape)
        pairs = np.sort(np.concatenate([own[:, [0, 1]], own[:, [1, 2]], own[:, [2, 0]]]), axis=1)
        rim, count = np.unique(pairs, axis=0, return_counts=True)
        x, y = MM * mesh.x[nodes], MM * mesh.y[nodes]
        outline = np.stack([np.column_stack([x[rim[count == 1, k]], y[rim[count == 1, k]]]) for k in (0, 1)], axis=1)
        found.append(_Piece(name, x, y, own, temperature[nodes], outline))
    return found


def _draw_pieces(axes: Axes, pieces: list[_Piece]) -> Any:
    """Colours on one scale; isotherms of each region on round numbers of its own; outlines; hottest and coldest place."""
    from matplotlib.collections import LineCollection
    from matplotlib.ticker import MaxNLocator
    from matplotlib.tri import Triangulation

    every = np.concatenate([piece.values for piece in pieces])
    low, high = float(every.min()), float(every.max())
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    filled: Any = None
    levels = np.linspace(low, high, FILLED + 1)
    wide = max(float(max(p.x.max() for p in pieces) - min(p.x.min() for p in pieces)), 1e-9)
    for piece in pieces:
        mesh = Triangulation(piece.x, piece.y, piece.triangles)
        inside = np.clip(piece.values, low, high)
        filled = axes.tricontourf(mesh, inside, levels=levels, cmap="cividis", zorder=1)
        spread = float(np.ptp(piece.values))
        if spread > 1e-6:
            least, most = float(piece.values.min()), float(piece.values.max())
            small = min(np.ptp(piece.x), np.ptp(piece.y)) <= SMALL * wide
            own = [v for v in MaxNLocator(3 if small else LINES).tick_values(least, most) if least < v < most]
            if own:
                lines = axes.tricontour(mesh, piece.values, levels=own, colors="black", linewidths=0.7, zorder=2)
                if not small:
                    labels = axes.clabel(lines, fontsize=7.5, fmt=lambda v: f"{v:g}")
                    for label in labels:
                        label.set_bbox({"facecolor": "white", "alpha": 0.75, "pad": 0.6, "edgecolor": "none"})
        axes.add_collection(LineCollection(list(piece.outline), colors="black", linewidths=1.3, zorder=3))
    hottest = max(pieces, key=lambda p: p.values.max())
    coldest = min(pieces, key=lambda p: p.values.min())
    for piece, find, marker in ((hottest, np.argmax, "^"), (coldest, np.argmin, "v")):
        at = int(find(piece.values))
        axes.plot(
            [piece.x[at]], [piece.y[at]], marker=marker, markersize=9, color="white", markeredgecolor="black",
            linestyle="none", clip_on=False, zorder=5,
        )  # fmt: skip
    axes.set_aspect("equal", adjustable="box")
    axes.grid(visible=False)
    axes.margins(0.02)
    return filled


def _name_faces(axes: Axes, history: SectionHistory, pieces: list[_Piece]) -> None:
    """Write the name of each face beside the middle of its sides."""
    mesh, there = history.mesh, {piece.name for piece in pieces}
    shown = [name in there for name in history.region_names]
    for i, name in enumerate(history.face_names):
        own = (mesh.side_face == i) & np.array([shown[r] for r in mesh.side_region], dtype=bool)
        nodes = mesh.sides[own]
        if not len(nodes):
            continue
        x, y = (MM * axis[nodes].mean(axis=1) for axis in (mesh.x, mesh.y))
        middle = (float(x.min() + x.max()) / 2, float(y.min() + y.max()) / 2)
        # a name on the rim stands inside it, clear of the numbers of the axes
        across = _side(middle[0], MM * mesh.x, ("left", "right"))
        upright = _side(middle[1], MM * mesh.y, ("bottom", "top"))
        axes.annotate(
            spoken(name), middle, ha=across, va=upright, fontsize=7.5, zorder=6,
            xytext=({"left": 4, "right": -4}.get(across, 0), {"bottom": 4, "top": -4}.get(upright, 0)),
            textcoords="offset points",
            bbox={"facecolor": "white", "alpha": 0.85, "pad": 1.0, "edgecolor": "0.6", "linewidth": 0.4},
        )  # fmt: skip


def _side(value: float, axis: Array, ends: tuple[str, str]) -> str:
    """How a text is set that stands at a value: from the end of the axis that it lies on, else in the middle."""
    low, high = float(axis.min()), float(axis.max())
    near = 0.02 * (high - low)
    return ends[0] if value - low <= near else ends[1] if high - value <= near else "center"


def _caption(result: Result, history: SectionHistory, row: int, pieces: list[_Piece]) -> str:
    """When it is, and what each region spans."""
    if history.steady:
        when = "steady state"
    else:
        scale, unit = time_unit(float(history.time[-1]))
        span = int(history.span[row])
        station = result.span_names[span] if span < len(result.span_names) else ""
        when = f"at {number(float(history.time[row]) / scale)}{NO_BREAK}{unit}" + (
            f" ({spoken(station)})" if station else ""
        )
    each = [
        f"{spoken(p.name)} {number(float(p.values.min()), 'degC')} to {quantity(float(p.values.max()), 'degC')}"
        for p in pieces[:3]
    ]
    more = f" and {len(pieces) - 3} more" if len(pieces) > 3 else ""
    return f"{when}: {', '.join(each)}{more}; triangles: hottest (up) and coldest place (down)"


def draw_edges(result: Result) -> Figure:
    """Draw the temperature along each named edge against the distance from its start, at the end; channels go once round."""
    from thermokit.case import parse_case
    from thermokit.conduction.section_mesh_places import face_path
    from thermokit.processes import direct_of

    history = section_of(result)
    direct = direct_of(parse_case(result.provenance.resolved_text))
    assert direct is not None
    problem = direct.problem()
    last = celsius(history.temperature[-1])
    curves: list[tuple[str, Array, Array]] = []
    for name in history.face_names[:MOST_FACES]:
        nodes, distance = face_path(history.mesh, problem, name)
        if len(nodes) and np.isfinite(last[nodes]).any():
            curves.append((name, MM * distance, last[nodes]))
    left = len(history.face_names) - MOST_FACES
    when = "in the steady state" if history.steady else f"at {number(float(history.time[-1]))} s"
    with house_style():
        title = f"{result.provenance.title}: along its edges, {when}" + (f" ({left} more)" if left > 0 else "")
        figure, axes = new_figure(title, 2 * len(curves) + 2, 0.2, [1.0])
        main = axes[0]
        temperature_range(main, [values for *_, values in curves] or [last], [])
        labels = []
        for i, ((name, distance, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
            look = curve_look(i, colour)
            every = max(len(values) // 8, 1)
            main.plot(distance, values, markevery=((i * every) // len(curves), every), zorder=2.5, **look)
            text = f"{spoken(name)}\n{number(float(values.min()), 'degC')} to {quantity(float(values.max()), 'degC')}"
            labels.append(Label(last_finite(values), text, look, tie=float(np.nanmean(values))))
        main.set_xlim(0.0, max((float(distance.max()) for _, distance, _ in curves), default=1.0))
        label_column(main, labels)
        main.set_ylabel("temperature [°C]")
        main.set_xlabel("distance along the edge, or round the channel [mm]")
    return figure


def draw_section_history(result: Result) -> Figure:
    """Draw temperature against time: the probes, and the hottest place of each region, with the limits and the stations."""
    history = section_of(result)
    scale, unit = time_unit(float(history.time[-1]))
    time = history.time / scale
    curves = [(f"probe {spoken(name)}", celsius(values)) for name, values in result.probes.items()]
    curves += [(f"{spoken(name)}, hottest", celsius(values)) for name, values in history.peaks.items()]
    curves = merged(curves)
    limits = temperature_limits(result)
    stations = stations_of(result, scale)
    with house_style():
        figure, axes = new_figure(
            result.provenance.title, 2 * (len(curves) + len(limits)) + 2, stations.headroom, [1.0]
        )
        main = axes[0]
        main.set_xlim(stations.edges[0], stations.edges[-1])
        temperature_range(main, [values for _, values in curves], limits)
        label_column(main, [*draw_limits(main, limits), *draw_curves(main, time, _finite_ends(curves))])
        main.set_ylabel("temperature [°C]")
        main.set_xlabel(f"time [{unit}]")
        stations.draw(axes)
    return figure


def _finite_ends(curves: list[tuple[str, Array]]) -> list[tuple[str, Array]]:
    """The curves that have a value somewhere."""
    return [(name, values) for name, values in curves if np.isfinite(values).any()]
