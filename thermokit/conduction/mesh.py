"""Meshes: equal cells, graded cells, and a mesh that meets a stated accuracy, by measurement.

Where the user gives no cells, a coarse mesh graded towards the faces of each layer is halved until two solutions on it
and on its halves agree: for a method of second order the finer one is then within a third of their difference. Where heat of
melting is taken up or given off the order is the first at best (the front goes from cell to cell), and the error may be all
of the difference.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.course import as_course, cells_of
from thermokit.conduction.follow import follow

if TYPE_CHECKING:
    from thermokit.conduction.course import Course, Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Problem
    from thermokit.conduction.watch import Watch

FIRST_CELLS = 24  # cells of the slowest layer before the first halving
RATIO = 1.12  # growth from cell to cell there; larger ratios leave the middle too coarse
MOST_CELLS = 1600
MOST_KEPT = 20_000_000  # temperatures of all rows of a run: with states and slopes some 1.5 GB
TIME_SHARE = 0.2  # of the accuracy, the local error allowed to a time step
SPACE_SHARE = 0.5  # of the accuracy, the error allowed to the mesh


def equal_edges(cells: int) -> Array:
    """Edges of equal cells as shares of the thickness, (cells + 1,)."""
    return np.linspace(0.0, 1.0, cells + 1)


def graded_edges(cells: int, ratio: float = RATIO) -> Array:
    """Edges of cells that grow by ``ratio`` from both faces to the middle, (cells + 1,).

    >>> graded_edges(4, 2.0).round(4).tolist()
    [0.0, 0.1667, 0.5, 0.8333, 1.0]
    """
    width = ratio ** np.minimum(np.arange(cells), np.arange(cells)[::-1])
    edges = np.concatenate([[0.0], np.cumsum(width)])
    return np.asarray(edges / edges[-1])


def halved(edges: Array) -> Array:
    """The mesh with every cell cut in two, (2 cells + 1,)."""
    out = np.empty(2 * len(edges) - 1)
    out[::2] = edges
    out[1::2] = (edges[1:] + edges[:-1]) / 2
    return out


def first_edges(slowness: Sequence[float]) -> list[Array]:
    """A coarse graded mesh for each layer; slowness = thickness/sqrt(diffusivity) [s^(1/2)], (layers,).

    A layer that conducts within a small part of the time of the slowest needs few cells.
    """
    slowest = max(slowness)
    counts = [int(np.clip(2 * np.ceil(FIRST_CELLS / 2 * s / slowest), 4, FIRST_CELLS)) for s in slowness]
    return [graded_edges(n) for n in counts]


def base_edges(slowness: Sequence[float], given: Sequence[int | None]) -> list[Array]:
    """The mesh that most bodies end on: equal cells where they are given, else the coarse mesh halved once."""
    first = first_edges(slowness)
    return [equal_edges(n) if n is not None else halved(e) for n, e in zip(given, first, strict=True)]


@dataclass(frozen=True)
class Settled:
    """A run on a mesh that meets the accuracy.

    edges : one array a layer; travel : the course as it was followed; space_error : estimated largest error from the
    mesh [K] at the rows of the body (None where every layer's cells were given); met : False where the accuracy would
    need more than MOST_CELLS cells, or more than MOST_KEPT temperatures to be kept; where : time [s] and depth [m] of the
    largest error.
    """

    edges: tuple[Array, ...]
    travel: Travel
    tolerance: float
    space_error: float | None
    met: bool
    where: tuple[float, float] | None

    @property
    def history(self) -> History:
        """History of the body."""
        return self.travel.history


def settle(
    build: Callable[[Sequence[Array]], Course | Problem],
    slowness: Sequence[float],
    given: Sequence[int | None],
    accuracy: float,
    times: Array | None = None,
    watches: Sequence[Watch] = (),
    progress: Callable[[float], None] | None = None,
    memory: Callable[[Sequence[Array]], Memory] | None = None,
) -> Settled:
    """Solve on a mesh that meets an accuracy [K].

    build : the course on given edges; slowness : see :func:`first_edges`; given : cells that the user asked for, None for
    those that are to be found; memory : what its layers remember from before, on given edges. Rows at the very start do
    not count: a jump of a face has no mesh fine enough at t = 0.
    """
    tolerance = TIME_SHARE * accuracy

    def followed(cut: Sequence[Array], last: bool = True) -> Travel:
        before = memory(cut) if memory is not None else None
        return follow(
            as_course(build(cut)), times, tolerance, watches if last else (), progress if last else None, before
        )

    edges = [equal_edges(n) if n is not None else e for n, e in zip(given, first_edges(slowness), strict=True)]
    if all(n is not None for n in given):
        return Settled(tuple(edges), followed(edges), tolerance, None, True, None)
    coarse = followed(edges, last=False)
    if coarse.history.ending.status != "finished":
        return Settled(tuple(edges), coarse, tolerance, None, False, None)
    while True:
        finer = [e if n is not None else halved(e) for n, e in zip(given, edges, strict=True)]
        finest = followed(finer)
        if finest.history.ending.status != "finished":
            return Settled(tuple(finer), finest, tolerance, None, False, None)
        error, when, where = difference(coarse.history, finest.history)
        error /= 1.0 if _melts(finest) else 3.0
        cells = sum(len(e) - 1 for e in finer)
        kept = 2 * cells * len(finest.history.time)  # by a mesh that is halved once more
        if error <= SPACE_SHARE * accuracy or 2 * cells > MOST_CELLS or kept > MOST_KEPT:
            return Settled(tuple(finer), finest, tolerance, error, error <= SPACE_SHARE * accuracy, (when, where))
        coarse, edges = finest, finer


def _melts(travel: Travel) -> bool:
    """Whether anything came into a range in which it melts or crystallises."""
    for leg, run in zip(travel.legs, travel.runs, strict=True):
        for layer, cells in cells_of(leg):
            t = run.temperature[:, cells]
            for change in (layer.medium.melting, layer.medium.crystallising):
                if change is not None and np.any(t > change.low) and np.any(t < change.high):
                    return True
    return False


def difference(coarse: History, fine: History) -> tuple[float, float, float]:
    """(largest difference [K], time [s], depth [m]) of two runs with the same rows, the second on a mesh that holds the first.

    A cell is held against the mean of the cells inside it, weighted by their widths; faces against faces.
    """
    rows = coarse.time > 0.0
    widths = np.diff(fine.edges)
    owner = np.clip(np.searchsorted(coarse.edges, fine.centres) - 1, 0, len(coarse.centres) - 1)
    if len(fine.centres) == 2 * len(coarse.centres):  # every cell cut in two, though a layer came out a little thicker
        owner = np.arange(len(fine.centres)) // 2
    first = np.searchsorted(owner, np.arange(len(coarse.centres)))
    # cell by cell: a layer that is not there yet must not blot out the others
    mean = np.add.reduceat(fine.temperature * widths, first, axis=1) / np.add.reduceat(widths, first)
    gaps = np.column_stack(
        [fine.inner_face - coarse.inner_face, mean - coarse.temperature, fine.outer_face - coarse.outer_face]
    )[rows]
    if not gaps.size:
        return 0.0, 0.0, 0.0
    size = np.nan_to_num(np.abs(gaps))
    row, place = np.unravel_index(int(np.argmax(size)), size.shape)
    depth = np.concatenate([[0.0], coarse.centres, [coarse.edges[-1]]])
    return float(size[row, place]), float(coarse.time[rows][row]), float(depth[place])
