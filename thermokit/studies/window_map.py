"""Where in two settings are all limits met? A map of every limit's margin, the present setting on it, and the nearest edges.

A layered body is solved at every point of the map in one batch where that is quick; else on a coarse map first, then at every
point beside an edge, the rest interpolated. Where each point is a run of its own, a coarse map is interpolated, and said so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case import sought_path
from thermokit.case.paths import dimension_of
from thermokit.case.sweep import sweepable
from thermokit.case.tables import Find
from thermokit.case.walk import is_number
from thermokit.errors import CaseError, Mistake
from thermokit.studies.run import as_case
from thermokit.studies.sought import SHOWN
from thermokit.studies.tolerance_parts import Parts, parts_of
from thermokit.studies.tolerance_study import recommended
from thermokit.studies.window_map_edges import Edge, Room, edges_along, nearest_edge, roomiest

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit

POINTS = 60
MOST_POINTS = 400
WORK = 3e7  # steps x cells: some seconds, below which every point is solved
COARSE = 21  # points of a coarse map, each way
SLOW = 9  # where each is a run of its own
WALL = 17  # on the single wall of a mould
LONG = 2.0  # m, from where on lengths are shown in metres
LINE, AGAIN = 97, 17  # points of a line through the present setting, and inside each bracket about an edge


@dataclass(frozen=True)
class Axis:
    """One setting of the map: its name as it was asked for, the paths that are set alike, its range [SI], its dimension."""

    name: str
    paths: tuple[str, ...]
    low: float
    high: float
    dimension: str

    @property
    def unit(self) -> str:
        """The unit that is shown."""
        if self.dimension == "length" and self.high < LONG:
            return units.DIMENSIONS["length"].shop
        return SHOWN.get(self.dimension, units.DIMENSIONS[self.dimension].shop)

    def shown(self, value: Any) -> Any:
        """SI values in the unit that is shown."""
        return units.to_unit(value, self.unit, self.dimension)

    def text(self, value: float) -> str:
        """A value in words."""
        return f"{float(self.shown(value)):.4g} {self.unit}".rstrip()

    def change(self, size: float) -> str:
        """A difference of two values in words, with its sign."""
        step = float(self.shown(self.low + size)) - float(self.shown(self.low))
        unit = "K" if self.dimension == "temperature" else self.unit
        return f"{step:+.3g} {unit}".rstrip()


@dataclass(frozen=True)
class WindowMap:
    """The map, in SI.

    across, up : its settings; x (columns,), y (rows,); margins (limits, rows, columns), NaN where a run did not finish; solved
    (rows, columns) True where a run stands behind a point; present : the setting of the case on it, None where it has none
    or lies outside; inside : whether every limit is met there; edges : along each setting both ways; nearest : in any direction;
    room : the setting with most room about it; share : of the map on which every limit is met; held : what was sought but is no
    axis, with the value at which it was held; notes.
    """

    case: Any
    across: Axis
    up: Axis
    x: Array
    y: Array
    limits: tuple[Limit, ...]
    margins: Array
    solved: Any
    present: tuple[float, float] | None
    inside: bool
    edges: tuple[Edge, ...]
    nearest: Edge | None
    room: Room | None
    share: float
    amounts: bool = True
    held: tuple[str, float] | None = None
    notes: tuple[str, ...] = ()

    @property
    def met(self) -> Any:
        """(rows, columns) whether every limit is met."""
        return np.nan_to_num(self.margins, nan=-np.inf).min(axis=0) >= 0.0


def axis_of(case: Any, name: str, low: float, high: float) -> Axis:
    """The setting of a name: a path, several joined by ``+``, or what errs together in the case's tolerances. Raises CaseError."""
    paths = paths_of(case, name)
    kinds = {dimension_of(sweepable(case)[path].kind) for path in paths}
    if len(kinds) > 1:
        raise CaseError(
            case.source.file, [Mistake(name, "are inputs of different kinds", "inputs of one kind, set alike")]
        )
    return Axis(name, paths, low, high, kinds.pop())


def paths_of(case: Any, name: str) -> tuple[str, ...]:
    """The paths that a name of the command line means."""
    tolerance = case.tolerances.get(name)
    if tolerance is not None and tolerance.paths:
        return tuple(tolerance.paths)
    return tuple(part.strip() for part in name.split("+"))


def window_map(
    case: Any,
    across: Axis,
    up: Axis,
    points: int = POINTS,
    setting: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> WindowMap:
    """The map of two settings of a case with limits.

    Parameters
    ----------
    case : Case or path
        a validated case; what it leaves to be found may be one of the settings, else it is held at its recommended value
    across, up : Axis
        see :func:`axis_of`
    points : int
        of the map, each way
    setting : float, optional
        value of what is sought [SI] that counts as the present one, or at which it is held
    progress : callable, optional
        told the share that is done

    Raises
    ------
    CaseError
        both settings are the same input; nothing limits the part

    """
    case = as_case(case)
    told = progress or (lambda share: None)
    if set(across.paths) & set(up.paths):
        raise CaseError(case.source.file, [Mistake("--up", f"{up.name} is across too", "two different settings")])
    path = sought_path(case)
    base = case
    if path is not None:
        if setting is None:
            setting = recommended(case, path)
        base = case.with_values({path: setting})
    told(0.1)
    parts = parts_of(base, None, None, _rows(across, up, *_mesh(_ends(across), _ends(up))))
    x, y = (np.linspace(axis.low, axis.high, points) for axis in (across, up))
    margins, solved, notes = _solved(parts, across, up, x, y, told)
    told(0.9)
    present = _present(base, across, up)
    shown = present if present is not None and _on(across, present[0]) and _on(up, present[1]) else None
    edges: tuple[Edge, ...] = ()
    inside = False
    if shown is not None:
        lines = [_line(parts, across, up, margins, x, y, shown, along) for along in (0, 1)]
        here = [float(np.interp(shown[0], lines[0][0], row)) for row in lines[0][1]]
        inside = bool(np.all(np.nan_to_num(here, nan=-1.0) >= 0.0))
        edges = tuple(e for along in (0, 1) for e in edges_along(*lines[along], shown, along, parts.limits))
    if parts.note:
        notes.append(parts.note)
    fixed = path if path is not None and path not in (*across.paths, *up.paths) else None
    return WindowMap(
        case=base,
        across=across,
        up=up,
        x=x,
        y=y,
        limits=parts.limits,
        margins=margins,
        solved=solved,
        present=shown,
        inside=inside,
        edges=edges,
        nearest=None if shown is None else nearest_edge(x, y, margins, shown, parts.limits),
        room=roomiest(x, y, margins),
        share=float((np.nan_to_num(margins, nan=-np.inf).min(axis=0) >= 0.0).mean()),
        amounts=parts.amounts,
        held=None if fixed is None or setting is None else (fixed, float(setting)),
        notes=tuple(notes),
    )


def _ends(axis: Axis) -> Array:
    return np.array([axis.low, axis.high])


def _mesh(x: Array, y: Array) -> tuple[Array, Array]:
    """Every x with every y, (rows x columns,) each, row by row."""
    grid = np.meshgrid(x, y)
    return grid[0].ravel(), grid[1].ravel()


def _rows(across: Axis, up: Axis, x: Array, y: Array) -> dict[str, Array]:
    """Values of the inputs, path -> (n,)."""
    return dict.fromkeys(across.paths, x) | dict.fromkeys(up.paths, y)


def _on(axis: Axis, value: float) -> bool:
    return axis.low <= value <= axis.high


def _present(case: Any, across: Axis, up: Axis) -> tuple[float, float] | None:
    """The setting of the case, None where it has none: a table stands there, or inputs that are set alike differ."""
    found = []
    for axis in (across, up):
        values = [case.value(path) for path in axis.paths]
        if any(isinstance(v, Find) or not is_number(v) or np.ndim(v) for v in values) or len(set(values)) > 1:
            return None
        found.append(float(values[0]))
    return found[0], found[1]


def _solved(
    parts: Parts, across: Axis, up: Axis, x: Array, y: Array, told: Callable[[float], None]
) -> tuple[Array, Any, list[str]]:
    """(margins (limits, rows, columns), which points were solved, what must be said)."""
    shape = (len(parts.limits), len(y), len(x))
    batch = parts.plan is not None and parts.plan.how == "batch"
    if batch and parts.plan is not None and parts.plan.work * x.size * y.size <= WORK:
        margins = parts.margins(_rows(across, up, *_mesh(x, y))).reshape(shape)
        return margins, np.ones(shape[1:], bool), []
    count = min(COARSE if batch else SLOW if parts.amounts else WALL, x.size, y.size)
    cx, cy = (np.linspace(axis.low, axis.high, count) for axis in (across, up))
    coarse = parts.margins(_rows(across, up, *_mesh(cx, cy))).reshape(len(parts.limits), count, count)
    told(0.5)
    margins = np.array([_interpolated(cx, cy, row, x, y) for row in coarse])
    solved = np.zeros(shape[1:], bool)
    if not batch:
        runs = f"{count} × {count} points were solved; what lies between them is interpolated"
        return margins, solved, [runs]
    near = _beside_edges(margins)
    gx, gy = np.meshgrid(x, y)
    margins[:, near] = parts.margins(_rows(across, up, gx[near], gy[near]))
    solved[near] = True
    count = count * count + int(near.sum())
    note = f"{count} of {near.size} points were solved, all beside an edge among them; the rest is interpolated"
    return margins, solved, [note]


def _interpolated(cx: Array, cy: Array, values: Array, x: Array, y: Array) -> Array:
    """A coarse map brought to finer points, (rows, columns); straight where a run failed, NaN beside it."""
    from scipy.interpolate import RectBivariateSpline, RegularGridInterpolator

    degree = min(3, len(cx) - 1, len(cy) - 1)
    if np.isfinite(values).all() and degree > 1:
        return np.asarray(RectBivariateSpline(cy, cx, values, kx=degree, ky=degree)(y, x))
    gx, gy = np.meshgrid(x, y)
    return np.asarray(RegularGridInterpolator((cy, cx), values)(np.stack([gy, gx], axis=-1)))


def _beside_edges(margins: Array) -> Any:
    """(rows, columns) True at the corners of every cell in which a limit changes, and of the cells round it."""
    from scipy.ndimage import binary_dilation

    met = margins >= 0.0
    out = np.zeros(met.shape[1:], bool)
    for one in met:
        across, up = one[:, 1:] != one[:, :-1], one[1:] != one[:-1]
        out[:, 1:] |= across
        out[:, :-1] |= across
        out[1:] |= up
        out[:-1] |= up
    return binary_dilation(out | np.isnan(margins).any(axis=0), iterations=2)


def _line(
    parts: Parts, across: Axis, up: Axis, margins: Array, x: Array, y: Array, present: tuple[float, float], along: int
) -> tuple[Array, Array]:
    """(values of one setting through the present one [SI], margins (limits, values)), solved anew where a batch does it."""
    axis, other = ((across, up), (up, across))[along]
    if parts.plan is None or parts.plan.how != "batch":
        at = np.unique(np.append(x if along == 0 else y, present[along]))
        place = np.full_like(at, present[1 - along])
        gx, gy = (at, place) if along == 0 else (place, at)
        from scipy.interpolate import RegularGridInterpolator

        found = [RegularGridInterpolator((y, x), row)(np.stack([gy, gx], axis=-1)) for row in margins]
        return at, np.array(found)

    def ask(at: Array) -> Array:
        rows = dict.fromkeys(axis.paths, at) | dict.fromkeys(other.paths, np.full_like(at, present[1 - along]))
        return parts.margins(rows)

    at = np.unique(np.append(np.linspace(axis.low, axis.high, LINE), present[along]))
    found_at = ask(at)
    met = found_at >= 0.0
    change = np.flatnonzero(np.any(met[:, 1:] != met[:, :-1], axis=0))
    if change.size:
        more = np.concatenate([np.linspace(at[i], at[i + 1], AGAIN + 2)[1:-1] for i in change])
        found_at = np.concatenate([found_at, ask(more)], axis=1)
        at = np.concatenate([at, more])
        order = np.argsort(at, kind="stable")
        at, found_at = at[order], found_at[:, order]
    return at, found_at
