"""What any solver says of a section, in one form, and how two solvers' answers are held against each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from validation.solvers.rows import Row, row
from validation.solvers.sections_data import pieces
from validation.solvers.sections_shape import Look, Shape, places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Answer:
    """One solver's answer.

    temperature : (rows, places) [K], NaN where the region is away; hottest, coldest : (rows,) anywhere [K]; peak : (rows,) hottest
    place of the watched region; heat : face -> heat that went into the section by it over the whole run [J/m, or W/m where
    steady; J of the ring]; track : (times, hottest place of the watched region) as the solver went along;
    crossed : the time at which it fell through the level that is asked for [s], where the solver itself tells it.
    """

    temperature: Array
    hottest: Array
    coldest: Array
    peak: Array
    heat: Mapping[str, float]
    track: tuple[Array, Array] = field(default_factory=lambda: (np.zeros(0), np.zeros(0)))
    crossed: float | None = None

    def crossing(self, level: float) -> float:
        """Time at which the watched region's hottest place falls through a level [K], by a cubic through the track; NaN: never."""
        from scipy.interpolate import PchipInterpolator

        if self.crossed is not None:
            return self.crossed
        time, peak = self.track
        below = np.flatnonzero((peak[1:] <= level) & (peak[:-1] > level))
        if not len(below):
            return float("nan")
        i = int(below[0])
        near = slice(max(i - 3, 0), i + 5)
        line = PchipInterpolator(time[near], peak[near] - level)
        inside = [float(x) for x in np.atleast_1d(line.roots(extrapolate=False)) if time[i] <= x <= time[i + 1]]
        return inside[0]


@dataclass(frozen=True)
class Pair:
    """One solver's answer on its finer mesh with its shorter steps, and that on the coarser mesh with steps twice as long.

    The finer one is off by no more than what the two are apart, for any method of order one or better.
    """

    fine: Answer
    coarse: Answer

    @property
    def own(self) -> Array:
        """(rows, 1) [K], how far apart the two are at the worst place (at one place the difference may happen to vanish)."""
        return np.asarray(np.nanmax(np.abs(self.fine.temperature - self.coarse.temperature), axis=1, keepdims=True))


def compared(
    named: tuple[str, str, str],
    ours: Pair,
    theirs: Pair,
    look: Look,
    accuracy: float,
    level: float | None = None,
    heats: Sequence[str] = (),
    per: str = "J/m",
    reason: str = "",
) -> list[Row]:
    """Rows of the table.

    named : kind, case, solver; ours : thermokit at the accuracy of the case (``coarse``: what is compared) and at half its mesh
    and error; accuracy : of the case [K], which is what it promises of temperatures beyond the first quarter of a station. Of what
    is earlier, of heat and of its steady rate it promises nothing: there its own error counts, 4/3 of what halving changes
    (order 2). level : temperature of which the crossing is compared [K].
    """

    def line(quantity: str, unit: str, a: float, b: float, own: float, allowed: float) -> Row:
        return row(*named, quantity, unit, a, b, own, allowed, reason)

    asked, mine = ours.coarse, 4.0 / 3.0 * ours.own[:, 0]
    found = []
    if not np.array_equal(np.isnan(asked.temperature), np.isnan(theirs.fine.temperature)):
        found.append(line("places that are there", "", 1.0, 0.0, 0.0, 0.0))
    for early, told in ((False, ""), (True, " early in a station")):
        rows = np.flatnonzero(look.early == early)
        if not len(rows):
            continue
        promised = mine if early else np.full(len(mine), accuracy)
        gap = np.abs(asked.temperature - theirs.fine.temperature)[rows] - (theirs.own[:, 0] + promised)[rows, None]
        gap = np.where(np.isfinite(gap), gap, -np.inf)
        i, at_place = (int(k) for k in np.unravel_index(int(np.argmax(gap)), gap.shape))
        at_row = int(rows[i])
        places_there = int(np.isfinite(gap).any(axis=0).sum())
        what = f"{places_there} places at {len(rows)} times{told}, the worst"
        values = [x.temperature[at_row, at_place] - 273.15 for x in (asked, theirs.fine)]
        own = float(theirs.own[at_row, 0])
        found.append(line(what, "degC", values[0], values[1], own, float(promised[at_row]) + own))
    late = np.flatnonzero(~look.early)
    for name in ("hottest", "coldest"):
        series = [getattr(x, name)[late] for x in (asked, theirs.fine, theirs.coarse)]
        i = int(np.argmax(np.abs(series[0] - series[1])))
        off = float(np.abs(series[1] - series[2]).max())
        found.append(line(f"{name} place", "degC", series[0][i] - 273.15, series[1][i] - 273.15, off, accuracy + off))
    for name in heats:
        values = [x.heat[name] for x in (asked, ours.fine, theirs.fine, theirs.coarse)]
        off = abs(values[2] - values[3])
        allowed = off + 4.0 / 3.0 * abs(values[0] - values[1])
        found.append(line(f"heat in through {name}", per, values[0], values[2], off, allowed))
    if level is not None:
        times = [x.crossing(level) for x in (asked, theirs.fine, theirs.coarse)]
    if level is not None and np.any(np.isfinite(times)):  # nobody reaches it: nothing to compare
        slope = _slope(theirs.fine, times[1])
        off = abs(times[1] - times[2])
        what = f"hottest place of the part below {level - 273.15:g} degC"
        found.append(line(what, "s", times[0], times[1], off, accuracy / slope + off))
    return found


def _slope(answer: Answer, time: float) -> float:
    """How fast the watched peak falls at a time [K/s]."""
    t, peak = answer.track
    i = int(np.clip(np.searchsorted(t, time), 1, len(t) - 1))
    return float(abs((peak[i] - peak[i - 1]) / (t[i] - t[i - 1])))


def look_at(problem: SectionProblem, mesh: SectionMesh, promised_from: float = 0.0) -> Look:
    """Where and when answers are compared; all times are ends of steps of ``sections_quadratic.steps_of``.

    mesh : thermokit's own; promised_from : [s], before which all is early besides the first quarter of every span.
    """
    where, which = places(problem, mesh)
    times, early = [], []
    for piece in pieces(problem):
        mine = piece.begun + piece.length * np.array([15, 31, 47, 63]) / 63.0
        times.append(mine)
        early.append(mine < max(piece.span_begun + 0.25 * float(piece.span.duration), promised_from))
    return Look(where, which, np.concatenate(times), np.concatenate(early))


def look_at_steady(problem: SectionProblem, mesh: SectionMesh) -> Look:
    """The same for a steady state."""
    return Look(*places(problem, mesh), np.zeros(1), np.zeros(1, bool))


def read_history(history: SectionHistory, problem: SectionProblem, look: Look, watched: int = 0) -> Answer:
    """Thermokit's own answer in this form."""
    shape = Shape(problem, history.mesh)
    full = history.temperature
    values = read_nodes(shape, full, look)
    own = np.unique(shape.triangles[shape.region == watched])
    peak = full[:, own].max(axis=1)
    if history.steady:
        chosen = np.array([0])
    else:
        chosen = np.array([int(np.argmin(np.abs(history.time - time))) for time in look.times])
    heat = {name: float(sum(end.heat.get(name, 0.0) for end in history.ends)) for name in problem.face_names}
    there = np.flatnonzero(np.isfinite(peak))
    return Answer(
        values[chosen], np.nanmax(full[chosen], axis=1), np.nanmin(full[chosen], axis=1), peak[chosen], heat,
        (history.time[there], peak[there]),
    )  # fmt: skip


def read_nodes(shape: Shape, full: Array, look: Look) -> Array:
    """(rows, places) of values at nodes (rows, nodes)."""
    values = np.empty((len(full), len(look.where)))
    for number in np.unique(look.which):
        mine = np.flatnonzero(look.which == number)
        cells, shares = shape.locate(look.where[mine], int(number))
        values[:, mine] = np.einsum("rpc,pc->rp", full[:, shape.triangles[cells]], shares)
    return values


def with_track(problem: SectionProblem, times: Array) -> Array:
    """The times that are compared, and many more by which the hottest place is followed."""
    more = [piece.begun + piece.length * np.linspace(0.0, 1.0, 81) ** 2 for piece in pieces(problem)]
    every = np.unique(np.concatenate([times, *more]))
    close = np.abs(every[:, None] - times[None]).min(axis=1) < 1e-7
    return np.unique(np.concatenate([times, every[~close]]))
