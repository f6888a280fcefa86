"""Two solutions of one case held against each other: where they are furthest apart, and whether that is allowed.

Both must have come to their end, with the same rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.course import as_course
from thermokit.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.course import Course, Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Problem, Span

    Fields = dict[str, Array]

TEMPERATURE = "temperature"
# 1/K, how fast a degree moves with temperature: ln 2 / 2 x E/(R T^2) of a first-order reaction half-way,
# with E = 100 kJ/mol at T = 400 K, rounded
DEGREE_PER_KELVIN = 0.03
FAR = "what it is held against is itself further off than the accuracy asked for"


@dataclass(frozen=True)
class Comparison:
    """The run held against another solution of the same case.

    what : that solution in words; quantity : ``temperature`` or a state; largest : the largest difference, in ``unit``,
    at time [s] and depth [m] of the body (None in a layer that is not part of it: ``note`` says which); estimated_error :
    of the other solution; allowed : what the difference may be (accuracy and estimated error); agrees; note : what else
    must be said; place : in words, where it is not a depth (in a section). Numbers are None where the other solution failed.
    """

    what: str
    quantity: str
    unit: str
    largest: float | None
    time: float | None
    depth: float | None
    estimated_error: float | None
    allowed: float | None
    agrees: bool
    note: str = ""
    place: str = ""


def share_of_kelvin(problem: Course | Problem) -> dict[str, float]:
    """What a state may be off where the temperature is off by 1 K, state -> [1/K].

    0.03 for degrees of reaction; for the crystalline share the steepest of its curves (two over the width of a triangle
    in temperature, one over that of a uniform range), at least 0.03.
    """
    layers = [layer for leg in as_course(problem).legs for layer in leg.layers]
    out = {reaction.state: DEGREE_PER_KELVIN for layer in layers for reaction in layer.reactions}
    steepest = [DEGREE_PER_KELVIN]
    for layer in layers:
        for curve in (layer.medium.melting, layer.medium.crystallising):
            if curve is not None:
                width = float(curve.high) - float(curve.low)
                steepest.append((1.0 if curve.peak is None else 2.0) / width)
    return out | {"crystalline_share": max(steepest)}


@dataclass(frozen=True)
class Measure:
    """What counts as agreement: accuracy [K], and what 1 K means for each state [1/K]."""

    accuracy: float
    kelvin: dict[str, float]

    def enough(self, name: str) -> float:
        """The accuracy of a quantity."""
        return self.accuracy * (1.0 if name == TEMPERATURE else self.kelvin.get(name, DEGREE_PER_KELVIN))


@dataclass(frozen=True)
class Scale:
    """Where the rows and cells of a run lie in what the user asked about.

    begun : time [s] at which the run's clock stood at 0; depth : [m] of the inner face, the cells, the outer face, None
    for those of another layer, which ``words`` places.
    """

    begun: float
    depth: tuple[float | None, ...]
    words: tuple[str, ...]


def own_scale(history: History) -> Scale:
    """That of a run by itself."""
    depth = (0.0, *history.centres.tolist(), float(history.edges[-1]))
    return Scale(0.0, depth, ("",) * len(depth))


def fields_of(history: History, edges: Array | None = None) -> Fields:
    """Temperature (rows, faces and cells) [K], states (rows, cells); on coarser ``edges``, means over their cells.

    NaN where a layer is not there.
    """
    cells = {TEMPERATURE: history.temperature, **history.states}
    if edges is not None:
        widths = np.diff(history.edges)
        cells_there = len(edges) - 1
        first = np.searchsorted(history.centres, edges[:-1])
        if len(widths) == 2 * cells_there:  # every cell cut in two, though a layer came out a little thicker
            first = 2 * np.arange(cells_there)
        total = np.add.reduceat(widths, first)
        cells = {name: np.add.reduceat(values * widths, first, axis=1) / total for name, values in cells.items()}
    cells[TEMPERATURE] = np.column_stack([history.inner_face, cells[TEMPERATURE], history.outer_face])
    return cells


def largest(a: Array, b: Array) -> tuple[float, int, int]:
    """(largest difference, its row, its place); where both are NaN they agree, where one is they differ without end."""
    gap = np.abs(a - b)
    gap = np.where(np.isnan(a) & np.isnan(b), 0.0, np.where(np.isnan(gap), np.inf, gap))
    row, place = np.unravel_index(int(np.argmax(gap)), gap.shape)
    return float(gap[row, place]), int(row), int(place)


def compared(
    what: str,
    own: History,
    other: Fields,
    error: dict[str, float],
    measure: Measure,
    strict: bool,
    scale: Scale | None = None,
) -> list[Comparison]:
    """One comparison for the temperature and one for each state; rows at the very start do not count.

    strict : what it is held against must itself be within the accuracy.
    """
    late = own.time > 0.0
    scale = scale or own_scale(own)
    found = []
    for name, values in fields_of(own).items():
        size, row, place = largest(values[late], other[name][late])
        place += name != TEMPERATURE  # states have no faces
        enough = measure.enough(name)
        far = error[name] > enough
        allowed = enough + error[name]
        notes = [scale.words[place], FAR if far else ""]
        found.append(
            Comparison(
                what=what,
                quantity=name,
                unit="K" if name == TEMPERATURE else "1",
                largest=size,
                time=scale.begun + float(own.time[late][row]),
                depth=scale.depth[place],
                estimated_error=error[name],
                allowed=allowed,
                agrees=size <= allowed and not (strict and far),
                note="; ".join(note for note in notes if note),
            )
        )
    return found


def with_ends(rows: Array, spans: Sequence[Span]) -> Array:
    """Rows and the end of every span, each once."""
    ends = np.cumsum([float(span.duration) for span in spans])
    times = np.unique(np.concatenate([rows, ends]))
    return np.asarray(times[np.concatenate([np.diff(times) > 1e-9 * ends[-1], [True]])])


def followed(course: Course, rows: Array, tolerance: float, memory: Memory) -> Travel:
    """A course to its end; raises SolveError where it does not get there."""
    from thermokit.conduction.follow import follow

    travel = follow(course, rows, tolerance, memory=memory)
    finished(travel.history)
    return travel


def finished(history: History) -> None:
    """Raises what a run that did not finish means."""
    ending = history.ending
    if ending.status == "interrupted":
        raise KeyboardInterrupt
    if ending.status != "finished":
        place = "" if ending.depth is None else f", {1e3 * ending.depth:.3g} mm deep"
        words = ending.status.replace("_", " ")
        raise SolveError(f"the run stopped at {ending.time:.4g} s{place}: {words}", ending.advice)
