"""The one or two small figures of a sheet, drawn into axes that are handed in: half a page wide, told apart without colour.

Curves differ in dashes, their names stand at their ends; limits are lines, hatched on the side that is not allowed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory
from thermokit.figures.field import across, at_depth, celsius
from thermokit.figures.history import merged
from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.style import LINES, last_finite, spread
from thermokit.figures.words import face_names, length_unit, spoken, time_unit
from thermokit.results.digits import number
from thermokit.results.fields import find, group_of, short_name
from thermokit.sheets.page import Picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from thermokit.results.model import Result

    Array = NDArray[np.float64]
    Curves = list[tuple[str, Array]]

POINTS = 7.0  # size of all letters
_LINE = 8.6  # height of a line of names
_WIDE = 19  # letters in a line of names
MOST = 2


def pictures(result: Result) -> tuple[Picture, ...]:
    """The most telling figures of a result, at most two."""
    if isinstance(result.history, SectionHistory):
        found = [_faces_by_shot(result), _section_field(result), _section_time(result)]
    else:
        found = [_along(result) or _history(result), _wall(result), _degrees(result), _map(result), _profile(result)]
    return tuple([picture for picture in found if picture is not None][:MOST])


def _history(result: Result) -> Picture | None:
    """Faces and half depth against time, with the limits and the stations."""
    history: Any = result.history
    if len(history.time) < 2:
        return None
    scale, unit = time_unit(float(history.time[-1]))

    def draw(axes: Axes) -> None:
        inner, outer = face_names(result)
        half = at_depth(history, float(history.edges[-1]) / 2)
        curves = [(inner, celsius(history.inner_face)), (outer, celsius(history.outer_face)), ("half depth", half)]
        probes = [(f"{spoken(name)}", celsius(values)) for name, values in result.probes.items()]
        limits = temperature_limits(result)
        _, everywhere = across(history)
        axes.set_xlim(0.0, float(history.time[-1]) / scale)
        temperature_range(axes, [everywhere], limits)
        _limits(axes, result)
        _curves(axes, history.time / scale, merged(curves + probes[:2]), "°C", [float(v) for _, v, _ in limits], result)
        for end in history.ends[:-1]:
            axes.axvline(end.time / scale, color="0.35", linewidth=0.7, linestyle=(0, (1, 2)))
        _axes(axes, f"time [{unit}]", "temperature [°C]")

    return Picture("history", "Temperature against time; hatched: not allowed; uprights: ends of stations", draw)


def _along(result: Result) -> Picture | None:
    """A line: face, mean and back against the distance."""
    fields = {name: find(result, f"track/{name}") for name in ("distance", "face", "mean", "back")}
    if any(field is None for field in fields.values()):
        return None
    values = {name: np.asarray(field.values, float) for name, field in fields.items() if field is not None}
    ends = find(result, "line/end")

    def draw(axes: Axes) -> None:
        metres = values["distance"]
        named = [(_of(fields[name]), values[name]) for name in ("face", "mean", "back")]
        axes.set_xlim(float(metres[0]), float(metres[-1]))
        temperature_range(axes, [v for _, v in named], [])
        _curves(axes, metres, named, "°C", [], result)
        for end in np.asarray(ends.values, float)[:-1] if ends is not None else ():
            axes.axvline(end, color="0.35", linewidth=0.7, linestyle=(0, (1, 2)))
        _axes(axes, "along the line [m]", "temperature [°C]")

    return Picture("along", "Temperature along the line; uprights: ends of stations", draw)


def _of(field: Any) -> str:
    """What a field along the line is called, without the words that all have."""
    return str(field.meaning).removesuffix(" along the line")


def _wall(result: Result) -> Picture | None:
    """A dip: gelled wall against the dwell."""
    walls = [f for f in result.fields if group_of(f).startswith("dip") and f.unit == "mm" and len(f.axes) == 1]
    walls = [f for f in walls if f.axes[0].unit == "s" and np.nanmax(f.values, initial=0.0) > 0.0]
    if not walls:
        return None
    field = walls[0]
    dwell, wall = np.asarray(field.axes[0].values, float), np.asarray(field.values, float)

    def draw(axes: Axes) -> None:
        axes.set_xlim(float(dwell[0]), float(dwell[-1]))
        axes.set_ylim(0.0, 1.08 * float(np.nanmax(wall)))
        _curves(axes, dwell, [("gelled wall", wall)], "mm", [], result)
        _axes(axes, "dwell in the paste [s]", "wall [mm]")

    return Picture("wall", "Gelled wall against the dwell in the paste", draw)


def _degrees(result: Result) -> Picture | None:
    """Lowest and highest degree of cure, gelation or fusion against time."""
    history: Any = result.history
    states = {name: np.asarray(v, float) for name, v in history.states.items() if np.isfinite(v).any()}
    states = {name: v for name, v in states.items() if re.search(r"cure|gel|fus", name) and np.nanmax(v) <= 1.0 + 1e-6}
    if not states or len(history.time) < 2:
        return None
    scale, unit = time_unit(float(history.time[-1]))

    def draw(axes: Axes) -> None:
        named: Curves = []
        for name, values in list(states.items())[:2]:
            there = values[:, np.isfinite(values).any(axis=0)]
            with np.errstate(all="ignore"):
                low = np.where(np.isnan(there), np.inf, there).min(axis=1)
                high = np.where(np.isnan(there), -np.inf, there).max(axis=1)
            low, high = (np.where(np.isfinite(v), v, np.nan) for v in (low, high))
            named += merged([(f"{spoken(name)}, lowest", low), ("highest", high)])
        axes.set_xlim(0.0, float(history.time[-1]) / scale)
        axes.set_ylim(-0.03, 1.05)
        _curves(axes, history.time / scale, named, "", [], result)
        _axes(axes, f"time [{unit}]", "degree")

    return Picture("degrees", "Degree against time, where it is lowest and highest", draw)


def _map(result: Result) -> Picture | None:
    """A sheet: mean through the thickness, or what else is mapped first, over its plan."""
    maps = [f for f in result.fields if group_of(f) == "map" and f.unit == "degC" and len(f.axes) == 2]
    field = next((f for f in maps if "mean" in f.name), maps[0] if maps else None)
    if field is None or any(a.unit not in ("mm", "m") for a in field.axes):
        return None
    along, up = field.axes
    values = np.asarray(field.values, float)
    if up.name == "x":  # the length of the sheet lies along the page
        along, up, values = up, along, values.T
    x, y = np.asarray(along.values, float), np.asarray(up.values, float)
    if min(values.shape) < 2:
        return None

    def draw(axes: Axes) -> None:
        ends = [(float(v[0] - (v[1] - v[0]) / 2), float(v[-1] + (v[-1] - v[-2]) / 2)) for v in (x, y)]
        drawn = axes.imshow(
            values.T, origin="lower", extent=(*ends[0], *ends[1]), cmap="cividis", aspect="equal", rasterized=True
        )
        for i in np.unique(np.linspace(0, len(x) - 1, min(len(x), 4)).round().astype(int)):
            for j in np.unique(np.linspace(0, len(y) - 1, min(len(y), 3)).round().astype(int)):
                box = {"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
                axes.text(x[i], y[j], f"{values[i, j]:.0f}", ha="center", va="center", fontsize=POINTS - 0.5, bbox=box)
        axes.grid(visible=False)
        _bar(axes, drawn)
        _axes(axes, f"{spoken(along.name)} [{along.unit}]", f"{spoken(up.name)} [{up.unit}]")

    return Picture("map", f"Over the sheet [°C]: {spoken(short_name(field))}", draw, wide=True)


def _profile(result: Result) -> Picture | None:
    """Temperature through the depth at the ends of the last stations."""
    history: Any = result.history
    ends = list(history.ends)[-3:]
    if not ends:
        return None
    names = list(result.span_names)[len(history.ends) - len(ends) : len(history.ends)]

    def draw(axes: Axes) -> None:
        to_length, unit = length_unit(float(history.edges[-1]))
        depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]]) / to_length
        named = []
        for name, end in zip(names, ends, strict=True):
            profile = np.concatenate([[end.inner_face], np.asarray(end.temperature, float), [end.outer_face]])
            named.append((f"end of {spoken(name)}", celsius(profile)))
        axes.set_xlim(0.0, float(depth[-1]))
        temperature_range(axes, [v for _, v in named], [])
        _curves(axes, depth, named, "°C", [], result, last=False)
        for edge in result.layer_edges[1:-1]:
            axes.axvline(edge / to_length, color="0.35", linewidth=0.7, linestyle=(0, (1, 2)))
        _axes(axes, f"depth from the {face_names(result)[0]} [{unit}]", "temperature [°C]")

    return Picture("profile", "Temperature through the depth; uprights: between layers", draw)


def _faces_by_shot(result: Result) -> Picture | None:
    """A mould: faces from shot to shot."""
    fields = [f for f in result.fields if group_of(f) == "mould_shots" and f.unit == "degC"]
    if not fields:
        return None

    def draw(axes: Axes) -> None:
        shots = np.asarray(fields[0].axes[0].values, float)
        named = [(spoken(short_name(f)), np.asarray(f.values, float)) for f in fields]
        axes.set_xlim(float(shots[0]), max(float(shots[-1]), float(shots[0]) + 1.0))
        temperature_range(axes, [v for _, v in named], [])
        _curves(axes, shots, merged(named), "°C", [], result)
        _axes(axes, "shot", "mould face [°C]")

    return Picture("shots", "Mould faces when the melt comes, from shot to shot", draw)


def _section_field(result: Result) -> Picture | None:
    """Isotherms over a section at its end."""
    history: Any = result.history
    whole = np.flatnonzero(np.isfinite(history.temperature).all(axis=1))
    row = int(whole[-1]) if whole.size else len(history.time) - 1  # the last one in which every region was there
    mesh, temperature = history.mesh, celsius(np.asarray(history.temperature[row], float))
    triangles = np.asarray(mesh.triangles)
    there = np.isfinite(temperature[triangles]).all(axis=1)
    if not there.any():
        return None

    def draw(axes: Axes) -> None:
        from matplotlib.tri import Triangulation

        x, y = 1e3 * np.asarray(mesh.x, float), 1e3 * np.asarray(mesh.y, float)
        grid = Triangulation(x, y, triangles, mask=~there)
        low, high = float(np.nanmin(temperature)), float(np.nanmax(temperature))
        levels = np.linspace(low, high if high > low else low + 1.0, 12)
        filled = np.where(np.isfinite(temperature), temperature, low)
        drawn = axes.tripcolor(grid, filled, cmap="cividis", shading="gouraud", rasterized=True)
        axes.tricontour(grid, filled, levels=levels[1:-1], colors="white", linewidths=0.4)
        axes.set_aspect("equal", adjustable="datalim" if np.ptp(x) > 4 * np.ptp(y) else "box")
        axes.grid(visible=False)
        _bar(axes, drawn)
        _axes(axes, "x [mm]", "y [mm]")

    when = "" if history.steady else f", {number(float(history.time[row]), 's', 3)} s"
    return Picture("section", f"Temperature over the section [°C]{when}", draw, wide=True)


def _section_time(result: Result) -> Picture | None:
    """Hottest and coldest place of a section against time."""
    history: Any = result.history
    if len(history.time) < 2:
        return None
    scale, unit = time_unit(float(history.time[-1]))

    def draw(axes: Axes) -> None:
        values = celsius(np.asarray(history.temperature, float))
        named = [("hottest place", np.nanmax(values, axis=1)), ("coldest place", np.nanmin(values, axis=1))]
        limits = temperature_limits(result)
        axes.set_xlim(0.0, float(history.time[-1]) / scale)
        temperature_range(axes, [v for _, v in named], limits)
        _limits(axes, result)
        _curves(axes, np.asarray(history.time) / scale, named, "°C", [float(v) for _, v, _ in limits], result)
        _axes(axes, f"time [{unit}]", "temperature [°C]")

    return Picture("time", "Hottest and coldest place against time", draw)


def _limits(axes: Axes, result: Result) -> None:
    draw_limits(axes, temperature_limits(result))


def _curves(
    axes: Axes, at: Array, curves: Curves, unit: str, limits: Sequence[float], result: Result, last: bool = True
) -> None:
    """Curves in black and grey dashes, each named at its end with its last value; limits named by their value."""
    names: list[tuple[float, str]] = []
    for i, (name, values) in enumerate(curves):
        dashes, marker = LINES[i % len(LINES)]
        every = max(len(at) // 5, 1)
        axes.plot(
            at, values, color=("0.0", "0.3", "0.15")[i % 3], linestyle=dashes, linewidth=1.1, marker=marker,
            markersize=2.6, markevery=(min(i * every // 3, len(at) - 1), every),
        )  # fmt: skip
        end = last_finite(values)
        told = f" {number(end, 'degC' if unit == '°C' else '', 3)} {unit}".rstrip() if last else ""
        names.append((end, f"{name}{told}"))
    if unit == "°C":
        names += [(value, f"{word} {value:g} °C") for word, value, _ in _bounds(result, limits)]
    _name_ends(axes, names)


def _bounds(result: Result, limits: Sequence[float]) -> list[tuple[str, float, str]]:
    """Limits by their value, those of one value once."""
    seen: dict[tuple[str, float], tuple[str, float, str]] = {}
    for which, value, words in temperature_limits(result):
        if value in limits:
            seen.setdefault((which, value), ("≥" if which == "least" else "≤", value, words))
    return list(seen.values())


def _name_ends(axes: Axes, names: Sequence[tuple[float, str]]) -> None:
    """Names at the right of the axes, at the height of what they name, none upon another."""
    import textwrap

    figure: Any = axes.figure
    high = axes.get_position().height * figure.get_figheight() * 72
    low, top = axes.get_ylim()
    ordered = sorted(
        (((y - low) / (top - low) * high, textwrap.wrap(text, _WIDE)) for y, text in names), key=lambda n: n[0]
    )
    places = spread([y for y, _ in ordered], [_LINE * len(lines) + 1.0 for _, lines in ordered], high)
    for (anchor, lines), place in zip(ordered, places, strict=True):
        axes.annotate(
            "\n".join(lines), xy=(1.0, min(max(anchor / high, 0.0), 1.0)), xycoords="axes fraction",
            xytext=(1.05, place / high), textcoords="axes fraction", va="center", fontsize=POINTS, linespacing=1.05,
            annotation_clip=False, arrowprops={"arrowstyle": "-", "color": "0.5", "linewidth": 0.5, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip


def _bar(axes: Axes, drawn: Any) -> None:
    """A colour bar beside a map."""
    figure: Any = axes.figure
    bar = figure.colorbar(drawn, ax=axes, fraction=0.05, pad=0.03)
    bar.ax.tick_params(labelsize=POINTS)
    bar.outline.set_linewidth(0.4)


def _axes(axes: Axes, along: str, up: str) -> None:
    """Names of the axes, in small letters."""
    axes.set_xlabel(along, fontsize=POINTS, labelpad=2)
    axes.set_ylabel(up, fontsize=POINTS, labelpad=2)
    axes.tick_params(labelsize=POINTS, length=2, pad=2)
