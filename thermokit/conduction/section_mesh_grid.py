"""A graded grid in the section's own directions, thinned where it is finer than it need be."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import SolveError

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_mesh_size import Sizes
    from thermokit.conduction.section_problem import Array, Whole

LONG = 0.02  # of the diagonal: pieces along the grid from this length on have a line of their own
APART = 0.002  # of the diagonal: lines through mere ends of pieces keep this distance
BESIDE = 0.0005  # of the diagonal: a long piece so near to a longer one's line has none of its own
TOO_WIDE = 1.35  # a cell this many times wider than asked for is cut
STRETCHED = 1.5  # a cell longer than this many times its width takes no node inside its long side
ROUNDING = 1e-6
MOST_CELLS = 100_000  # of the grid; meshes have some four times as many nodes
SPARE = 1.15  # an interval takes up to this many times the lines that it needs, so that they can be thinned by halves


@dataclass(frozen=True)
class Breaks:
    """Where grid lines of an axis must run.

    lines : places [m]; moved : (pieces, 4) pieces that lie beside a line, too near for one of their own: the line, their own
    place, and from where to where they run along it; grid points there are moved onto them.
    """

    lines: Array
    moved: Array


def breaks_of(pieces: Pieces, axis: int, diagonal: float) -> Breaks:
    """Grid lines run through long pieces normal to an axis, and through the ends of long pieces along it."""
    a, b = pieces.start, pieces.end
    length = np.hypot(*(b - a).T)
    long = length >= LONG * diagonal
    normal = (a[:, axis] == b[:, axis]) & long
    low, high = np.minimum(a, b)[:, 1 - axis], np.maximum(a, b)[:, 1 - axis]
    own, index = np.unique(a[normal, axis], return_inverse=True)
    total = np.bincount(index.ravel(), length[normal], minlength=len(own))
    kept: list[float] = []
    moved: list[tuple[float, float, float, float]] = []
    for k in np.argsort(-total, kind="stable"):
        place = float(own[k])
        mine = normal & (a[:, axis] == place)
        near = min(kept, key=lambda line: abs(line - place), default=np.inf)
        if abs(near - place) < BESIDE * diagonal:
            theirs = normal & (a[:, axis] == near)
            if not ((low[mine][:, None] < high[theirs]) & (high[mine][:, None] > low[theirs])).any():
                moved += [(near, place, *ends) for ends in zip(low[mine].tolist(), high[mine].tolist(), strict=True)]
                continue
        kept.append(place)
    level = (a[:, 1 - axis] == b[:, 1 - axis]) & long
    used = pieces.points[np.unique(pieces.ends), axis]
    for end in np.unique(np.concatenate([a[level, axis], b[level, axis]])):
        if not kept or np.min(np.abs(np.array(kept) - end)) > APART * diagonal:
            kept.append(float(end))
    kept += [float(end) for end in (used.min(), used.max()) if end not in kept]
    return Breaks(np.unique(np.array(kept)), np.array(moved).reshape(-1, 4))


def directions_of(pieces: Pieces, breaks: tuple[Breaks, Breaks]) -> Whole:
    """(pieces,) 0 for pieces that lie on a line x = const of the grid (or beside it, see Breaks), 1 for y = const, else -1."""
    a, b = pieces.start, pieces.end
    out = np.full(len(a), -1)
    for axis in (0, 1):
        there = np.isin(a[:, axis], breaks[axis].lines)
        for _, place, low, high in breaks[axis].moved:
            between = (pieces.start[:, 1 - axis] >= low) & (pieces.start[:, 1 - axis] <= high)
            there |= (a[:, axis] == place) & between
        out[(a[:, axis] == b[:, axis]) & there] = axis
    return out


def moved_points(points: Array, breaks: tuple[Breaks, Breaks], onto: bool) -> Array:
    """Points on lines moved onto the pieces beside them (onto), or points on such pieces back onto the lines."""
    out = points.copy()
    for axis in (0, 1):
        for line, place, low, high in breaks[axis].moved:
            at, to = (line, place) if onto else (place, line)
            on = (points[:, axis] == at) & (points[:, 1 - axis] >= low) & (points[:, 1 - axis] <= high)
            out[on, axis] = to
    return out


@dataclass(frozen=True)
class Lines:
    """Places of the finest grid lines of an axis [m], and the index of those that bound the coarsest cells."""

    at: Array
    coarse: Whole


def lines_of(axis: int, lines: Array, sizes: Sizes) -> Lines:
    """Grid lines of an axis between those that must be, graded as the smallest demand at each place asks for."""
    at: list[Array] = [lines[:1]]
    coarse = [np.array([0])]
    for low, high in pairwise(lines):
        angle = np.linspace(0.0, np.pi, 129)
        sample = low + (high - low) * (1 - np.cos(angle)) / 2
        slack = 1e-7 * (high - low)
        spacing = sizes.along_axis(axis, np.clip(sample, low + slack, high - slack))
        density = 1.0 / spacing
        cells = np.concatenate([[0.0], np.cumsum(np.diff(sample) * (density[1:] + density[:-1]) / 2)])
        wanted = max(1, int(np.ceil(cells[-1] - ROUNDING)))
        halvings = max(
            n for n in range(5) if n == 0 or (-(-wanted // 2**n) > 1 and -(-wanted // 2**n) * 2**n <= SPARE * wanted)
        )
        roots = -(-wanted // 2**halvings)
        count = roots * 2**halvings
        inner = np.interp(np.arange(1, count) / count * cells[-1], cells, sample)
        before = sum(len(part) for part in at) - 1
        at.append(np.concatenate([inner, [high]]))
        coarse.append(before + 2**halvings * np.arange(1, roots + 1))
    return Lines(np.concatenate(at), np.concatenate(coarse))


def thinned_grid(x: Lines, y: Lines, sizes: Sizes) -> Array:
    """Corners of cells as large as the demands allow, (points, 2) [m].

    Cells are halves of halves of the coarsest; a stretched cell has no node inside its long sides, so that thin walls are
    cut into rectangles.
    """
    whole, count, cells = [], 0, _coarsest(x.coarse, y.coarse)
    while len(cells):
        low = np.column_stack([x.at[cells[:, 0]], y.at[cells[:, 2]]])
        high = np.column_stack([x.at[cells[:, 1]], y.at[cells[:, 3]]])
        both = sizes.around(low, high)
        wide, tall = (high - low).T
        cut_x = (wide > TOO_WIDE * np.minimum(both, sizes.across(0, low, high))) & (np.diff(cells[:, :2])[:, 0] > 1)
        cut_y = (tall > TOO_WIDE * np.minimum(both, sizes.across(1, low, high))) & (np.diff(cells[:, 2:])[:, 0] > 1)
        cut = cut_x | cut_y
        whole.append(cells[~cut])
        count += len(whole[-1])
        cells = _split(cells[cut], cut_x[cut], cut_y[cut])
        if count + len(cells) > MOST_CELLS:
            raise SolveError(
                f"the section could not be meshed: it needs more than {4 * MOST_CELLS} nodes",
                f"its smallest detail asks for triangles of {sizes.smallest * 1e3:.2g} mm; draw it larger or leave it out",
            )
    cells = np.concatenate(whole)
    cells = _without_nodes_in_long_sides(cells, x.at, y.at)
    corners = np.concatenate([cells[:, [0, 2]], cells[:, [1, 2]], cells[:, [0, 3]], cells[:, [1, 3]]])
    corners = np.unique(corners, axis=0)
    return np.column_stack([x.at[corners[:, 0]], y.at[corners[:, 1]]])


def _coarsest(x: Whole, y: Whole) -> Whole:
    """(cells, 4) line indices x low, x high, y low, y high of the coarsest cells."""
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(len(y) - 1), indexing="ij")
    first, second = i.ravel(), j.ravel()
    return np.column_stack([x[first], x[first + 1], y[second], y[second + 1]])


def _split(cells: Whole, cut_x: np.ndarray, cut_y: np.ndarray) -> Whole:
    """Cells halved (by index) in x, in y or in both."""
    whole = [cells[~cut_x & ~cut_y]]
    for first, both, columns in ((cut_x, cut_y, (0, 1)), (cut_y & ~cut_x, np.zeros_like(cut_x), (2, 3))):
        part = cells[first]
        if not len(part):
            continue
        lower, upper = part.copy(), part.copy()
        middle = (part[:, columns[0]] + part[:, columns[1]]) // 2
        lower[:, columns[1]] = middle
        upper[:, columns[0]] = middle
        halves = np.concatenate([lower, upper])
        also = np.concatenate([both[first], both[first]])
        whole.append(_split(halves, np.zeros_like(also), also) if also.any() else halves)
    return np.concatenate(whole)


def _without_nodes_in_long_sides(cells: Whole, x: Array, y: Array) -> Whole:
    """Stretched cells with a node inside a long side, and any cell with more than one inside a side, are halved."""
    while True:
        marked = np.zeros((len(x), len(y)), dtype=np.int32)
        for i, j in ((0, 2), (1, 2), (0, 3), (1, 3)):
            marked[cells[:, i], cells[:, j]] = 1
        sum_x, sum_y = np.cumsum(marked, axis=0), np.cumsum(marked, axis=1)
        i0, i1, j0, j1 = cells.T
        wide, tall = x[i1] - x[i0], y[j1] - y[j0]
        level = np.maximum(sum_x[i1 - 1, j0] - sum_x[i0, j0], sum_x[i1 - 1, j1] - sum_x[i0, j1])
        upright = np.maximum(sum_y[i0, j1 - 1] - sum_y[i0, j0], sum_y[i1, j1 - 1] - sum_y[i1, j0])
        cut_x = ((level > 0) & (wide > STRETCHED * tall)) | (level > 1)
        cut_y = ((upright > 0) & (tall > STRETCHED * wide)) | (upright > 1)
        if not (cut_x.any() or cut_y.any()):
            return cells
        cells = _split(cells, cut_x, cut_y)
