"""Thin walls that lie askew of the grid (drafted ribs, bowls): cut across into quadrilaterals, with rows along the wall.

Two pieces of a region's outline that face each other across a small thickness make a strip between them. Its first and last
lines across go from corner to corner where corners are near, so that the strips of a curved wall join.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import distance_to_segments, near_lots

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_mesh_size import Sizes
    from thermokit.conduction.section_problem import Array, Whole

THIN = 1.0 / 15.0  # of the diagonal: thicker walls make no strips
FACING = -0.94  # cosine between the directions of the two outlines: they may converge by some 20 degrees
SHORTEST = 0.15  # of the thickness: shorter overlaps make no strips
TANGENT_CELLS = 1.25  # thickness over the spacing along the wall
SQUARED = 1.5  # of the thickness: so far from its ends the lines across a strip stand square to it
JOINING = 4.0  # of the thickness: shorter overlaps along the grid are links of curved walls
SNAP = 0.4  # of the thickness: a line across that ends so near to a corner ends in it
ROW_GROWTH = 0.25  # spacing of rows gained per distance from a face
KEEP_OFF = 0.15  # of the thickness: grid points keep this distance from the lines across
UNEVEN = 2.0  # thickest over thinnest of one strip


@dataclass(frozen=True)
class Strips:
    """Strips of walls, each between a first and a second piece.

    first, second : (strips,) pieces; share : (strips, 2, 2) where the strip begins and ends, as shares along the first piece
    (row 0) and along the second one (row 1); thickness, spacing along the wall : (strips,) [m].
    """

    first: Whole
    second: Whole
    share: Array
    thickness: Array
    spacing: Array

    def corners(self, pieces: Pieces) -> Array:
        """(strips, 4, 2) on the first piece from begin to end, then on the second from end to begin [m]."""
        out = []
        for row, of in ((0, self.first), (1, self.second)):
            a, way = pieces.start[of], (pieces.end - pieces.start)[of]
            out.append(a[:, None] + self.share[:, row, :, None] * way[:, None])
        return np.concatenate([out[0], out[1][:, ::-1]], axis=1)

    def ends(self, pieces: Pieces) -> Whole:
        """(strips, 2, 2) points in which the first and last line across begin and end; -1, -2 where they end in none."""
        out = np.full((len(self.first), 2, 2), -1)
        out[..., 1] = -2
        for row, of in ((0, self.first), (1, self.second)):
            for end in (0, 1):
                there = self.share[:, row] == end
                out[..., row] = np.where(there, pieces.ends[of, end, None], out[..., row])
        return out


def strips_of(pieces: Pieces, along: Whole, centres: Array, radii: Array, coarseness: float, diagonal: float) -> Strips:
    """Pairs of pieces that face each other across a thin wall, not both along the grid."""
    # each side with material, run so that the material is on the left
    piece = np.concatenate([np.nonzero(pieces.left >= 0)[0], np.nonzero(pieces.right >= 0)[0]])
    turned = np.arange(len(piece)) >= int((pieces.left >= 0).sum())
    region = np.where(turned, pieces.right[piece], pieces.left[piece])
    a = np.where(turned[:, None], pieces.end[piece], pieces.start[piece])
    b = np.where(turned[:, None], pieces.start[piece], pieces.end[piece])
    length = np.hypot(*(b - a).T)
    way = (b - a) / length[:, None]
    opposite = way @ way.T < FACING
    oblique = along[piece] < 0
    pairs = opposite & (region[:, None] == region)
    one, other = np.nonzero(np.triu(pairs, 1))
    axis = way[one] - way[other]
    axis /= np.hypot(*axis.T)[:, None]
    up = np.column_stack([-axis[:, 1], axis[:, 0]])  # from the first side into the material
    origin = a[one]

    def at(points: Array) -> tuple[Array, Array]:
        d = points - origin
        return np.einsum("ij,ij->i", d, axis), np.einsum("ij,ij->i", d, up)

    (s_a, _), (s_b, h_b), (s_c, h_c), (s_d, h_d) = at(a[one]), at(b[one]), at(b[other]), at(a[other])
    low, high = np.maximum(s_a, s_c), np.minimum(s_b, s_d)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope_one, slope_other = h_b / (s_b - s_a), (h_d - h_c) / (s_d - s_c)
        gap_low = h_c + slope_other * (low - s_c) - slope_one * (low - s_a)
        gap_high = h_c + slope_other * (high - s_c) - slope_one * (high - s_a)
        thick = (gap_low + gap_high) / 2
        askew = oblique[one] | oblique[other]
        fit = (
            (high - low > SHORTEST * thick)
            & (askew | (high - low < JOINING * thick))
            & (np.minimum(gap_low, gap_high) > 0.0)
        )
        fit &= (thick < THIN * diagonal) & (np.maximum(gap_low, gap_high) < UNEVEN * np.minimum(gap_low, gap_high))
    one, other, low, high = one[fit], other[fit], low[fit], high[fit]
    s_a, s_b, s_c, s_d, thick = s_a[fit], s_b[fit], s_c[fit], s_d[fit], thick[fit]
    spacing = coarseness * thick / TANGENT_CELLS
    share = np.empty((len(one), 2, 4))
    long = high - low > 2 * SQUARED * thick + thick
    run_out = np.where(long, SQUARED * thick, 0.0)
    for row, (begin, end, index) in enumerate(((s_a, s_b, one), (s_c, s_d, other))):
        for column, place in enumerate((low, low + run_out, high - run_out, high)):
            along_it = (place - begin) / (end - begin)
            near = np.minimum(SNAP * thick / length[index], 0.49) if column in (0, 3) else 0.0
            snapped = np.where(along_it < near, 0.0, np.where(along_it > 1 - near, 1.0, along_it))
            # the second side runs against the first: its share counts from its own start, like that of its piece
            backward = turned[index] if row == 0 else ~turned[index]
            share[:, row, column] = np.where(backward, 1.0 - snapped, snapped)
    whole = np.abs(share[:, 0, 3] - share[:, 0, 0]) * length[one] > 1e-6 * thick
    whole &= np.abs(share[:, 1, 3] - share[:, 1, 0]) * length[other] > 1e-6 * thick
    kept = np.nonzero(whole)[0]
    strips = Strips(piece[one], piece[other], share[:, :, [0, 3]], thick, spacing)
    kept = kept[_clear_view(_chosen(strips, kept), pieces, centres, radii)]
    kept = kept[_joined(_chosen(strips, kept), pieces, askew[fit][kept])]
    # slanting lines across at the ends of a long strip, square ones between
    parts = [(kept[~long[kept]], [0, 3])] + [(kept[long[kept]], columns) for columns in ([0, 1], [1, 2], [2, 3])]
    index = np.concatenate([part for part, _ in parts])
    strips = _chosen(strips, index)
    return replace(strips, share=np.concatenate([share[part][:, :, columns] for part, columns in parts]))


def _joined(strips: Strips, pieces: Pieces, askew: np.ndarray) -> np.ndarray:
    """(strips,) True for those that lie askew, and those along the grid that share a line across with one: links of a curved
    wall."""
    ends = strips.ends(pieces)
    _, line = np.unique(np.sort(ends.reshape(-1, 2), axis=1), axis=0, return_inverse=True)
    line = np.where((ends >= 0).all(axis=2), line.reshape(-1, 2), -1)
    kept = askew.copy()
    while True:
        more = ~kept & (np.isin(line, line[kept]) & (line >= 0)).any(axis=1)
        if not more.any():
            return kept
        kept |= more


def _chosen(strips: Strips, which: Whole) -> Strips:
    return Strips(
        strips.first[which], strips.second[which], strips.share[which], strips.thickness[which], strips.spacing[which]
    )


def _clear_view(strips: Strips, pieces: Pieces, centres: Array, radii: Array) -> np.ndarray:
    """(strips,) True where neither another piece nor a channel lies between the two sides."""
    corners = strips.corners(pieces)
    clear = np.ones(len(corners), dtype=bool)
    if not len(corners):
        return clear
    for share in (0.1, 0.5, 0.9):
        p = corners[:, 0] + share * (corners[:, 1] - corners[:, 0])
        q = corners[:, 3] + share * (corners[:, 2] - corners[:, 3])
        slack = 1e-9 * float(np.hypot(*(pieces.end - pieces.start).T).max())
        for lot, near in near_lots(p, q, pieces.start, pieces.end, slack):
            a, way = pieces.start[near], (pieces.end - pieces.start)[near]
            d = (q - p)[lot, None]
            offset = a[None] - p[lot, None]
            cross = d[..., 0] * way[:, 1] - d[..., 1] * way[:, 0]
            safe = np.where(np.abs(cross) < 1e-300, 1.0, cross)
            at = (offset[..., 0] * way[:, 1] - offset[..., 1] * way[:, 0]) / safe
            beside = (offset[..., 0] * d[..., 1] - offset[..., 1] * d[..., 0]) / safe
            hit = (at > 1e-6) & (at < 1 - 1e-6) & (beside > -1e-9) & (beside < 1 + 1e-9) & (np.abs(cross) >= 1e-300)
            hit &= (near != strips.first[lot, None]) & (near != strips.second[lot, None])
            clear[lot] &= ~hit.any(axis=1)
        if len(centres):
            room = distance_to_segments(centres, p, q) < radii + np.hypot(*(q - p).T)[:, None] / 2
            clear &= ~room.any(axis=1)
    middle = corners.mean(axis=1)
    for k in np.nonzero(clear)[0]:  # corners of other outlines inside
        near = np.hypot(*(pieces.points - middle[k]).T) < np.hypot(*(corners[k] - middle[k]).T).max()
        inside = in_quadrilaterals(pieces.points[near], corners[k : k + 1], -1e-6)
        clear[k] = not inside.any()
    return clear


def in_quadrilaterals(points: Array, corners: Array, margin: float) -> np.ndarray:
    """(points,) True inside any of the convex quadrilaterals (counter-clockwise), widened by a share of their own sides."""
    inside = np.zeros(len(points), dtype=bool)
    for quad in corners:
        low, high = quad.min(axis=0), quad.max(axis=0)
        room = abs(margin) * float(np.max(high - low))
        near = np.nonzero(((points >= low - room) & (points <= high + room)).all(axis=1))[0]
        held = np.ones(len(near), dtype=bool)
        for p, q in zip(quad, np.roll(quad, -1, axis=0), strict=True):
            d = points[near] - p
            side = (q - p)[0] * d[:, 1] - (q - p)[1] * d[:, 0]
            held &= side >= -margin * float((q - p) @ (q - p))
        inside[near[held]] = True
    return inside


def rows_across(cells: float, graded: float) -> Array:
    """Places of the rows across a wall as shares of its thickness, finer towards its faces; the ends 0 and 1 included."""
    at = np.linspace(0.0, 1.0, 2001)
    most = 1.0 / cells
    density = 1.0 / np.minimum(most / graded + ROW_GROWTH * np.minimum(at, 1.0 - at), most)
    total = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(at))])
    count = max(2, int(np.ceil(total[-1] - 1e-3)))
    return np.asarray(np.interp(np.arange(count + 1) / count * total[-1], total, at))


def apart(points: Array, distance: float) -> Array:
    """Points of which none is nearer than a distance to one before it (strips share their lines across)."""
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(distance, output_type="ndarray")
    kept = np.ones(len(points), dtype=bool)
    kept[pairs.max(axis=1)] = False
    return points[kept]


@dataclass(frozen=True)
class Laid:
    """What strips put into a mesh: shares of nodes on each piece, where they leave the choice, and inner points.

    shares : piece -> shares along it of nodes; covered : piece -> list of (low, high) shares with no other nodes; inner :
    (points, 2) [m]; corners : (strips, 4, 2) [m], where no grid point stays.
    """

    shares: dict[int, Array]
    covered: dict[int, list[tuple[float, float]]]
    inner: Array
    corners: Array
    thickness: Array

    def clear(self, points: Array) -> Array:
        """Points that lie in no strip and keep off their first and last lines across."""
        if not len(self.corners):
            return points
        points = points[~in_quadrilaterals(points, self.corners, 1e-9)]
        for p, q in ((1, 2), (3, 0)):
            near = distance_to_segments(points, self.corners[:, p], self.corners[:, q])
            points = points[(near > KEEP_OFF * self.thickness[:, None]).all(axis=0)]
        return points

    def free(self, piece: int) -> list[tuple[float, float]]:
        """Stretches of a piece (low, high as shares) that no strip covers."""
        out, reached = [], 0.0
        for low, high in sorted(self.covered.get(piece, [])):
            if low > reached + 1e-9:
                out.append((reached, low))
            reached = max(reached, high)
        if reached < 1.0 - 1e-9:
            out.append((reached, 1.0))
        return out


def laid(strips: Strips, pieces: Pieces, sizes: Sizes, rows: Array) -> Laid:
    """Nodes of strips: columns spaced as asked for on both sides, rows at the given shares of the thickness."""
    corners = strips.corners(pieces)
    shares: dict[int, list[Array]] = {}
    covered: dict[int, list[tuple[float, float]]] = {}
    inner: list[Array] = []
    sample = np.linspace(0.0, 1.0, 33)
    ends = strips.ends(pieces)
    between = {(a, b): index for index, (a, b) in enumerate(pieces.ends.tolist())}
    for k, (first, second) in enumerate(zip(strips.first.tolist(), strips.second.tolist(), strict=True)):
        low, high = corners[k, [0, 3]], corners[k, [1, 2]]
        density = np.zeros(len(sample))
        for side in (0, 1):
            line = low[side] + sample[:, None] * (high - low)[side]
            length = np.hypot(*(high - low)[side])
            density = np.maximum(density, length / np.minimum(sizes.at(line), strips.spacing[k]))
        total = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(sample))])
        count = max(1, int(np.ceil(total[-1] - 1e-3)))
        at = np.interp(np.arange(count + 1) / count * total[-1], total, sample)
        for row, index in ((0, first), (1, second)):
            begin, end = strips.share[k, row]
            shares.setdefault(index, []).append(begin + at * (end - begin))
            covered.setdefault(index, []).append((float(min(begin, end)), float(max(begin, end))))
        bottom = low[0] + at[:, None] * (high[0] - low[0])
        top = low[1] + at[:, None] * (high[1] - low[1])
        own = np.ones(count + 1, dtype=bool)
        for column, (a, b) in zip((0, -1), ends[k].tolist(), strict=True):
            for pair, at_rows in (((a, b), rows), ((b, a), 1.0 - rows[::-1])):
                if pair in between:  # the wall ends here: its last line across is a piece of the outline
                    shares.setdefault(between[pair], []).append(at_rows)
                    covered.setdefault(between[pair], []).append((0.0, 1.0))
                    own[column] = False
        lines = (bottom[:, None] + rows[1:-1, None] * (top - bottom)[:, None])[own].reshape(-1, 2)
        # a line across may run along a step of the outline
        off = distance_to_segments(lines, pieces.start, pieces.end).min(axis=0)
        inner.append(lines[off > 0.4 * float(np.diff(rows).min()) * strips.thickness[k]])
    every = np.concatenate(inner) if inner else np.empty((0, 2))
    if len(every):
        thinnest = float(np.hypot(*(corners[:, 0] - corners[:, 3]).T).min())
        every = apart(every, 0.3 * float(np.diff(rows).min()) * thinnest)
    return Laid(
        {index: np.unique(np.concatenate(parts)) for index, parts in shares.items()},
        covered,
        every,
        corners,
        strips.thickness,
    )
