"""How large the triangles of a section may be: thin walls, contact faces, channels and corners ask for small ones.

Two kinds of demand. A straight piece along the grid asks for a spacing normal to itself, on each of its sides, which grows
with distance. All else (round channels, oblique pieces, corners where faces change) asks for a spacing in both directions
that grows with distance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import distance_to_segments, lots_of
from thermokit.conduction.section_mesh_heat import coefficients_of, conductivity_of, depths_of_heat
from thermokit.conduction.section_mesh_strips import TANGENT_CELLS, in_quadrilaterals
from thermokit.conduction.section_mesh_walls import thickness_of

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_problem import Array, SectionProblem, Whole

# shares measured on a mould section with five channels; each halves the spacing when doubled
WALL_CELLS = 8.0  # cells through a wall with something on both faces
HALF_WALL_CELLS = 6.0  # the same where one face is insulated
FEWEST_CELLS = 4.0  # the same where heat passes the wall within a span
FACE_GRADING = 2.0  # spacing in the middle of a wall over that at a face that takes heat
DEPTH_SHARE = 3.5  # depth that heat reaches in the shortest span over the first spacing
FILM_SHARE = 7.0  # conductivity over coefficient of a face, over the first spacing
OBLIQUE_SHARE = 5.0  # thickness over the spacing along oblique faces
CORNER_SHARE = 2.5  # thickness over the spacing where faces change
AROUND = 12.0  # pieces around a channel
SECTION_SHARE = 18.0  # diagonal of the section over the largest spacing
SMALLEST = 2000.0  # diagonal over the smallest spacing that is asked for anywhere
REENTRANT = 1.15  # of a straight angle: corners of material wider than this are sharp
NORMAL_GROWTH = 0.25  # spacing gained per distance from a face along the grid
GROWTH = 0.25  # the same from anything else


@dataclass(frozen=True)
class Normal:
    """Spacing normal to pieces along the grid: those that lie at ``at`` on one axis and run from low to high on the other.

    toward : +1 or -1, the side; spacing : at the piece, it grows up to most; reach : how far the demand goes [m] (the
    thickness there).
    """

    at: Array
    low: Array
    high: Array
    toward: Array
    spacing: Array
    most: Array
    reach: Array

    def asked(self, gap: Array, asks: np.ndarray) -> Array:
        """(..., pieces) spacing at distances from the pieces, infinite where a piece does not ask."""
        grown = np.minimum(self.spacing + NORMAL_GROWTH * np.maximum(gap, 0.0), self.most)
        return np.where(asks, grown, np.inf)


@dataclass(frozen=True)
class Sizes:
    """All demands [m]: ``normal`` by axis (0: spacing in x, of upright pieces); points with a spacing; circles with one."""

    largest: float
    normal: tuple[Normal, Normal]
    points: Array
    point_spacing: Array
    centres: Array
    radii: Array
    circle_spacing: Array

    @property
    def smallest(self) -> float:
        """The smallest spacing that is asked for anywhere [m]."""
        every = (*(n.spacing for n in self.normal), self.point_spacing, self.circle_spacing)
        return min(float(np.min(asked, initial=self.largest)) for asked in every)

    def around(self, low: Array, high: Array) -> Array:
        """(boxes,) spacing in both directions that is asked for in boxes from low to high, (boxes, 2)."""
        out = np.full(len(low), self.largest)
        if len(self.points):
            for lot in lots_of(low + high, 1 + min(len(low) * len(self.points) // 300_000, len(low) // 64)):
                who = self._who_may_ask(low[lot].min(axis=0), high[lot].max(axis=0))
                for some in np.array_split(lot, 1 + len(lot) * len(who) // 1_000_000) if len(who) else []:
                    gap = np.maximum(low[some, None] - self.points[who], self.points[who] - high[some, None])
                    np.maximum(gap, 0.0, out=gap)
                    asked = self.point_spacing[who] + GROWTH * np.hypot(gap[..., 0], gap[..., 1])
                    out[some] = np.minimum(out[some], asked.min(axis=1))
        if len(self.radii):
            gap = np.maximum(np.maximum(low[:, None] - self.centres, self.centres - high[:, None]), 0.0)
            from_wall = np.maximum(np.hypot(gap[..., 0], gap[..., 1]) - self.radii, 0.0)
            out = np.minimum(out, (self.circle_spacing + GROWTH * from_wall).min(axis=1))
        return out

    def _who_may_ask(self, low: Array, high: Array) -> Whole:
        """The points of which one may ask for the smallest spacing somewhere in a box: no other asks for less all over it."""
        from_low, from_high = self.points - low, high - self.points
        nearest = np.hypot(*np.maximum(np.maximum(-from_low, -from_high), 0.0).T)
        farthest = np.hypot(*np.maximum(np.abs(from_low), np.abs(from_high)).T)
        enough = min(self.largest, float((self.point_spacing + GROWTH * farthest).min()))
        return np.nonzero(self.point_spacing + GROWTH * nearest <= enough)[0]

    def at(self, points: Array) -> Array:
        """(points,) spacing in both directions that is asked for at points."""
        return self.around(points, points)

    def across(self, axis: int, low: Array, high: Array) -> Array:
        """(boxes,) spacing along an axis that pieces normal to it ask for in boxes; infinite where none does."""
        demand = self.normal[axis]
        out = np.full(len(low), np.inf)
        if not len(demand.at):
            return out
        other = 1 - axis
        for lot in np.array_split(np.arange(len(low)), 1 + len(low) * len(demand.at) // 1_000_000):
            up = low[lot, axis, None] - demand.at
            down = demand.at - high[lot, axis, None]
            gap = np.where(demand.toward > 0, up, down)
            slack = 1e-9 * self.largest
            beside = (low[lot, other, None] < demand.high - slack) & (high[lot, other, None] > demand.low + slack)
            asks = beside & (gap >= -slack) & (gap < demand.reach)
            out[lot] = demand.asked(gap, asks).min(axis=1)
        return out

    def along_axis(self, axis: int, at: Array) -> Array:
        """(places,) the smallest spacing that is asked for at places of an axis, wherever on the other one."""
        out = np.full(len(at), self.largest)
        if len(self.points):
            asked = self.point_spacing + GROWTH * np.abs(at[:, None] - self.points[:, axis])
            out = np.minimum(out, asked.min(axis=1))
        if len(self.radii):
            gap = np.maximum(np.abs(at[:, None] - self.centres[:, axis]) - self.radii, 0.0)
            out = np.minimum(out, (self.circle_spacing + GROWTH * gap).min(axis=1))
        demand = self.normal[axis]
        if len(demand.at):
            gap = (at[:, None] - demand.at) * demand.toward
            asks = (gap >= -1e-9 * self.largest) & (gap < demand.reach)
            out = np.minimum(out, demand.asked(gap, asks).min(axis=1))
        return out


def sizes_of(
    pieces: Pieces,
    along: Whole,
    problem: SectionProblem,
    coarseness: float,
    diagonal: float,
    strips: Array,
) -> Sizes:
    """Demands of a section.

    along : (pieces,) 0 upright, 1 level, -1 oblique, pieces cut where grid lines cross them; coarseness multiplies all; strips :
    corners of strips, which see to the spacing across walls themselves.
    """
    channels = problem.channels
    depth = depths_of_heat(problem)
    largest = coarseness * diagonal / SECTION_SHARE
    smallest = coarseness * diagonal / SMALLEST
    centres = np.array([c.centre for c in channels], dtype=float).reshape(-1, 2)
    radii = np.array([c.diameter / 2 for c in channels], dtype=float)
    rays = [thickness_of(pieces, side, centres, radii) for side in (0, 1)]  # left, right
    thickness = np.stack([ray[0] for ray in rays])
    takes = (pieces.face >= 0) | ((pieces.left >= 0) & (pieces.right >= 0))
    met = np.stack([ray[1] for ray in rays])
    opposite = np.where(met < len(takes), takes[np.minimum(met, len(takes) - 1)], True)
    full = np.where(takes & opposite, WALL_CELLS, HALF_WALL_CELLS)
    region = np.stack([pieces.left, pieces.right])
    reached = np.where(region >= 0, depth[region], np.inf)
    with np.errstate(invalid="ignore"):
        # a wall through which heat passes within a span is nearly straight in temperature
        slow = np.where(np.isfinite(reached), thickness / reached, 0.0)
    cells = np.clip(full * slow, FEWEST_CELLS, full)
    reached = reached / DEPTH_SHARE
    with np.errstate(divide="ignore"):
        film = np.array([conductivity_of(r) for r in problem.regions])[region] / coefficients_of(pieces, problem)
    reached = np.maximum(reached, film / FILM_SHARE)  # a face that hardly takes heat needs no fine spacing

    normal = []
    for axis in (0, 1):
        parts: list[list[Array]] = [[], [], [], [], [], [], []]
        for side in (0, 1):
            chosen = np.nonzero((along == axis) & (region[side] >= 0))[0]
            a, b = pieces.start[chosen], pieces.end[chosen]
            way = (b - a)[:, 1 - axis]
            # to the left of a piece that runs up (+y) is -x; to the left of one that runs right (+x) is +y
            toward = np.sign(way) * (-1.0 if axis == 0 else 1.0) * (1.0 if side == 0 else -1.0)
            thick = thickness[side, chosen]
            most = np.maximum(coarseness * thick / cells[side, chosen], smallest)
            depth_there = coarseness * reached[side, chosen]
            film_there = coarseness * film[side, chosen] / FILM_SHARE
            graded = np.minimum(np.clip(film_there, most / FACE_GRADING, most), depth_there)
            spacing = np.where(takes[chosen], np.maximum(graded, smallest / 2), most)
            values = (
                a[:, axis],
                np.minimum(a, b)[:, 1 - axis],
                np.maximum(a, b)[:, 1 - axis],
                toward,
                spacing,
                most,
                thick * (1 + 1e-6),
            )
            for part, value in zip(parts, values, strict=True):
                part.append(value)
        normal.append(Normal(*(np.concatenate(part) for part in parts)))

    length = np.hypot(*(pieces.end - pieces.start).T)
    thin = np.where(region >= 0, thickness, np.inf).min(axis=0)
    way = (pieces.end - pieces.start) / length[:, None]
    middle, left = (pieces.start + pieces.end) / 2, np.column_stack([-way[:, 1], way[:, 0]])
    asked = np.full(len(thin), np.inf)
    for side, sign in ((0, 1.0), (1, -1.0)):
        step = np.minimum(np.where(np.isfinite(thickness[side]), thickness[side], length), length)[:, None]
        in_strip = in_quadrilaterals(middle + sign * 1e-3 * step * left, strips, 1e-9)
        across = np.minimum(thickness[side] / OBLIQUE_SHARE, reached[side])
        ask = np.where(in_strip, thickness[side] / TANGENT_CELLS, across)
        asked = np.where(region[side] >= 0, np.minimum(asked, ask), asked)
    points, spacings = [], []
    for index in np.nonzero(along < 0)[0]:
        wish = max(coarseness * asked[index], smallest)
        wish = min(wish, length[index], largest)
        count = int(np.ceil(length[index] / wish - 1e-6))
        share = (np.arange(count) + 0.5) / count
        points.append(pieces.start[index] + share[:, None] * (pieces.end - pieces.start)[index])
        spacings.append(np.full(count, wish))
    corner, wish = _corners(pieces, thin)
    points.append(pieces.points[corner])
    spacings.append(np.maximum(coarseness * wish / CORNER_SHARE, smallest * 4))

    clear = np.full(len(channels), np.inf)
    if len(channels):
        clear = distance_to_segments(centres, pieces.start, pieces.end).min(axis=0) - radii
        gaps = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1)) - radii[:, None] - radii
        np.fill_diagonal(gaps, np.inf)
        clear = np.minimum(clear, gaps.min(axis=1) / 2)  # each has half of what is between two
    circle = np.maximum(coarseness * np.minimum(2 * np.pi * radii / AROUND, np.maximum(clear, 0.0) / 1.5), smallest)
    return Sizes(
        largest,
        (normal[0], normal[1]),
        np.concatenate(points),
        np.concatenate(spacings),
        centres,
        radii,
        circle,
    )


def _corners(pieces: Pieces, thin: Array) -> tuple[Whole, Array]:
    """Corners where the solution may be sharp (three or more pieces meet, a face changes its name, a corner that is
    re-entrant on a side with material), and the thickness there."""
    wish = np.full(len(pieces.points), np.inf)
    np.minimum.at(wish, pieces.ends.ravel(), np.repeat(thin, 2))
    count = np.bincount(pieces.ends.ravel(), minlength=len(pieces.points))
    order = np.argsort(pieces.ends.ravel(), kind="stable")  # the two pieces at a corner of two stand side by side
    first = np.searchsorted(pieces.ends.ravel()[order], np.nonzero(count == 2)[0])
    one, other = order[first], order[first + 1]
    at_start = (one % 2 == 0, other % 2 == 0)
    one, other = one // 2, other // 2
    ways = pieces.end - pieces.start
    u, v = (ways[k] * np.where(out, 1.0, -1.0)[:, None] for k, out in zip((one, other), at_start, strict=True))
    turn = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)) % (2 * np.pi)  # from u to v
    between = np.where(at_start[0], pieces.left[one], pieces.right[one])
    beyond = np.where(at_start[0], pieces.right[one], pieces.left[one])
    sharp = count > 2
    sharp[count == 2] = (
        (pieces.face[one] != pieces.face[other])
        | ((between >= 0) & (turn > REENTRANT * np.pi))
        | ((beyond >= 0) & (turn < (2 - REENTRANT) * np.pi))
    )
    chosen = np.nonzero(sharp & (count > 0))[0]
    return chosen, wish[chosen]
