"""Triangles between given points that hold every piece of outline and every circle (conforming Delaunay)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import area_of, distance_to_segments, inside_polygon, lots_of

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_mesh_size import Sizes
    from thermokit.conduction.section_mesh_strips import Laid
    from thermokit.conduction.section_problem import Array, Whole

KEEP_OFF = 0.6  # of the local spacing: inner points keep this distance from oblique pieces and circles
NEAR_NODE = 0.45  # of the local spacing: grid points on a piece keep this distance from its ends
SHEAR = 1e-6  # of the coordinates: makes the diagonals of rectangles all run one way
ROUNDS = 12  # of halving what is missing
GROWN = 4  # a cloud that halving makes so many times larger has needles that it will not hold
SMALL = 5_000  # points, up to which a cloud may grow as it likes
LOT = 256  # points of a grid that are looked at together


@dataclass(frozen=True)
class Cloud:
    """Points of a mesh, and the segments that its triangles must hold.

    points : (points, 2) [m], those on outlines and circles first; segments : (segments, 2) points; of : (segments,) the
    piece it belongs to, or pieces + index of a channel.
    """

    points: Array
    segments: Whole
    of: Whole


def cloud_of(pieces: Pieces, along: Whole, sizes: Sizes, grid: Array, strips: Laid) -> Cloud:
    """Points on outlines and circles, spaced as asked for, those of strips, and the grid points that are clear of them."""
    points: list[Array] = [pieces.points]
    count = len(pieces.points)
    segments, of = [], []
    for index, (a, b) in enumerate(pieces.ends):
        start, way = pieces.points[a], pieces.points[b] - pieces.points[a]
        share = [strips.shares[index]] if index in strips.shares else []
        for low, high in strips.free(index):
            p, q = start + low * way, start + high * way
            if along[index] >= 0:
                axis = 1 - int(along[index])
                on = grid[grid[:, 1 - axis] == start[1 - axis], axis]
                inside = _clear_of_ends((np.unique(on) - p[axis]) / (q - p)[axis])
            else:
                inside = _spaced(p, q, sizes)
            share.append(np.concatenate([[low], low + (high - low) * inside, [high]]))
        every = np.unique(np.round(np.concatenate(share), 12))
        inner = start + every[(every > 1e-9) & (every < 1 - 1e-9), None] * way
        if along[index] >= 0:
            inner[:, along[index]] = start[along[index]]  # to the last digit
        chain = np.concatenate([[a], count + np.arange(len(inner)), [b]])
        points.append(inner)
        count += len(inner)
        segments.append(np.column_stack([chain[:-1], chain[1:]]))
        of.append(np.full(len(chain) - 1, index))
    for index, (centre, radius) in enumerate(zip(sizes.centres, sizes.radii, strict=True)):
        around = 4 * int(np.ceil(2 * np.pi * radius / sizes.circle_spacing[index] / 4 - 1e-6))
        angle = 2 * np.pi * np.arange(around) / around
        points.append(centre + radius * np.column_stack([np.cos(angle), np.sin(angle)]))
        chain = count + np.arange(around)
        count += around
        segments.append(np.column_stack([chain, np.roll(chain, -1)]))
        of.append(np.full(around, len(pieces.ends) + index))
    bound = np.concatenate(points)
    held = Cloud(bound, np.concatenate(segments), np.concatenate(of))
    inner = _clear(strips.clear(grid), held, pieces, along, sizes)
    return Cloud(np.concatenate([bound, strips.inner, inner]), held.segments, held.of)


def _clear_of_ends(share: Array) -> Array:
    """Shares of grid points along a stretch, ascending, inside it and not crowding its ends."""
    share = np.asarray(np.sort(share))
    if len(share) < 2:
        return np.asarray(share[(share > NEAR_NODE) & (share < 1 - NEAR_NODE)])
    gaps = np.diff(share)
    first = gaps[np.clip(np.searchsorted(share, 0.0), 0, len(gaps) - 1)]
    last = gaps[np.clip(np.searchsorted(share, 1.0) - 1, 0, len(gaps) - 1)]
    return np.asarray(share[(share > NEAR_NODE * first) & (share < 1 - NEAR_NODE * last)])


def _spaced(start: Array, end: Array, sizes: Sizes) -> Array:
    """Shares of inner points along an oblique stretch, spaced as asked for."""
    length = float(np.hypot(*(end - start)))
    share = np.linspace(0.0, 1.0, 65)
    density = length / sizes.at(start + share[:, None] * (end - start))
    cells = np.concatenate([[0.0], np.cumsum(np.diff(share) * (density[1:] + density[:-1]) / 2)])
    count = max(1, int(np.ceil(cells[-1] - 1e-6)))
    return np.asarray(np.interp(np.arange(1, count) / count * cells[-1], cells, share))


def _clear(grid: Array, held: Cloud, pieces: Pieces, along: Whole, sizes: Sizes) -> Array:
    """Grid points inside the material and clear of what is held: outside the circle over every segment, and off oblique
    pieces and channels by a share of the spacing there."""
    outline = np.nonzero(held.of < len(pieces.ends))[0]
    low, high = pieces.points[pieces.ends].min(axis=(0, 1)), pieces.points[pieces.ends].max(axis=(0, 1))
    kept = grid[((grid >= low) & (grid <= high)).all(axis=1)]
    kept = kept[inside_pieces(kept, pieces)]
    for centre, radius, spacing in zip(sizes.centres, sizes.radii, sizes.circle_spacing, strict=True):
        kept = kept[np.hypot(*(kept - centre).T) > radius + KEEP_OFF * spacing]
    a, b = held.points[held.segments[outline, 0]], held.points[held.segments[outline, 1]]
    oblique = along[held.of[outline]] < 0
    length = np.hypot(*(b - a).T)
    clear = np.ones(len(kept), dtype=bool)
    slack = 1e-9 * sizes.largest
    # no segment minds a point that is farther from it than its own length
    low, high = np.minimum(a, b) - length[:, None] - slack, np.maximum(a, b) + length[:, None] + slack
    for lot in lots_of(kept, 1 + len(kept) // LOT):
        p = kept[lot]
        near = np.nonzero(
            ((low <= p.max(axis=0, initial=-np.inf)) & (high >= p.min(axis=0, initial=np.inf))).all(axis=1)
        )[0]
        from_a, from_b = p[:, None] - a[near], p[:, None] - b[near]
        dot = from_a[..., 0] * from_b[..., 0] + from_a[..., 1] * from_b[..., 1]
        bad = dot < -slack * length[near]
        on = distance_to_segments(p, a[near], b[near]).T
        bad |= on <= slack
        bad |= oblique[near] & (on < KEEP_OFF * length[near])
        clear[lot] = ~bad.any(axis=1)
    return np.asarray(kept[clear])


def inside_pieces(points: Array, pieces: Pieces) -> np.ndarray:
    """(points,) True inside the material of any region, channels not counted: outside pieces crossed an odd number of times."""
    outer = (pieces.left < 0) | (pieces.right < 0)
    a, b = pieces.start[outer], pieces.end[outer]
    slope = (b[:, 0] - a[:, 0]) / np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    inside = np.zeros(len(points), dtype=bool)
    for lot in np.array_split(np.arange(len(points)), 1 + len(points) * len(a) // 1_000_000):
        x, y = points[lot, 0, None], points[lot, 1, None]
        crossed = ((a[:, 1] > y) != (b[:, 1] > y)) & (x < a[:, 0] + slope * (y - a[:, 1]))
        inside[lot] = crossed.sum(axis=1) % 2 == 1
    return inside


def conforming(cloud: Cloud, pieces: Pieces, sizes: Sizes) -> tuple[Cloud, Whole]:
    """(cloud, triangles): Delaunay triangles of the cloud, segments that they do not hold halved until they do.

    triangles : (cells, 3) counter-clockwise, outside and holes included. After ROUNDS some may still be missing.
    """
    most = GROWN * max(len(cloud.points), SMALL)
    for _ in range(ROUNDS):
        triangles = delaunay(cloud.points)
        missing = _missing(cloud.segments, triangles, len(cloud.points))
        if not len(missing) or len(cloud.points) > most:
            break
        cloud = halved_segments(cloud, missing, len(pieces.ends), sizes)
    else:
        triangles = delaunay(cloud.points)
    return cloud, triangles


def delaunay(points: Array) -> Whole:
    """(cells, 3) Delaunay triangles, counter-clockwise; a ring of far points keeps slivers off the outside."""
    from scipy.spatial import Delaunay

    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    size = float(np.max(points.max(axis=0) - points.min(axis=0)))
    angle = 2 * np.pi * (np.arange(12) + 0.37) / 12
    far = 2.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    unit = np.concatenate([(points - middle) / size, far])
    unit = unit + SHEAR * np.column_stack([unit[:, 1], np.zeros(len(unit))])
    triangles = Delaunay(unit).simplices.astype(np.int64)
    triangles = triangles[(triangles < len(points)).all(axis=1)]
    x, y = points[triangles].transpose(2, 0, 1)
    turned = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0]) < 0.0
    triangles[turned] = triangles[turned][:, [0, 2, 1]]
    return triangles


def keys_of(pairs: Whole, count: int) -> Whole:
    """(pairs,) one whole number for each pair of points, whichever way round."""
    return np.asarray(pairs.min(axis=1) * count + pairs.max(axis=1))


def sides_of(triangles: Whole) -> Whole:
    """(3 cells, 2) sides of triangles in order 01, 12, 20 of all first, then all second ..."""
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def _missing(segments: Whole, triangles: Whole, count: int) -> Whole:
    return np.nonzero(~np.isin(keys_of(segments, count), keys_of(sides_of(triangles), count)))[0]


def halved_segments(cloud: Cloud, which: Whole, pieces: int, sizes: Sizes) -> Cloud:
    """The cloud with some segments halved, new points of channels on their circles."""
    ends = cloud.segments[which]
    middle = on_circles((cloud.points[ends[:, 0]] + cloud.points[ends[:, 1]]) / 2, cloud.of[which] - pieces, sizes)
    new = len(cloud.points) + np.arange(len(which))
    rest = np.ones(len(cloud.segments), dtype=bool)
    rest[which] = False
    segments = np.concatenate(
        [cloud.segments[rest], np.column_stack([ends[:, 0], new]), np.column_stack([new, ends[:, 1]])]
    )
    of = np.concatenate([cloud.of[rest], cloud.of[which], cloud.of[which]])
    return Cloud(np.concatenate([cloud.points, middle]), segments, of)


def on_circles(points: Array, channel: Whole, sizes: Sizes) -> Array:
    """Points moved onto the circle of their channel (index below 0: left where they are)."""
    out = points.copy()
    on = channel >= 0
    centre = sizes.centres[channel[on]]
    ray = points[on] - centre
    out[on] = centre + sizes.radii[channel[on], None] * ray / np.hypot(*ray.T)[:, None]
    return out


def owners(cloud: Cloud, triangles: Whole, pieces: Pieces, outlines: list[Array]) -> Whole:
    """(cells,) region of each triangle (the smallest that holds it), -1 outside and in channels; outlines of the regions."""
    middle = cloud.points[triangles].mean(axis=1)
    out = np.full(len(triangles), -1)
    for index in np.argsort([-area_of(o) for o in outlines], kind="stable"):
        out[inside_polygon(middle, outlines[index])] = index
    channel = np.full(len(cloud.points), -1)
    round_ones = cloud.of >= len(pieces.ends)
    channel[cloud.segments[round_ones].ravel()] = np.repeat(cloud.of[round_ones], 2)
    held = channel[triangles]
    out[(held[:, 0] >= 0) & (held == held[:, :1]).all(axis=1)] = -1
    return out


def refined(
    points: Array, triangles: Whole, region: Whole, cloud: Cloud, pieces: int, sizes: Sizes
) -> tuple[Array, Whole, Whole, Cloud]:
    """Every triangle cut in four equal ones, new points of channels moved onto their circles."""
    count = len(points)
    sides = sides_of(triangles)
    keys, index = np.unique(keys_of(sides, count), return_inverse=True)
    ends = np.column_stack([keys // count, keys % count])
    middle = (points[ends[:, 0]] + points[ends[:, 1]]) / 2
    place = np.searchsorted(keys, keys_of(cloud.segments, count))
    channel = np.full(len(keys), -1)
    channel[place] = np.where(cloud.of >= pieces, cloud.of - pieces, -1)
    middle = on_circles(middle, channel, sizes)
    p, q, r = (count + index.ravel()).reshape(3, -1)
    a, b, c = triangles.T
    new = np.concatenate([np.column_stack(t) for t in ((a, p, r), (p, b, q), (r, q, c), (p, q, r))])
    halves = np.concatenate(
        [
            np.column_stack([cloud.segments[:, 0], count + place]),
            np.column_stack([count + place, cloud.segments[:, 1]]),
        ]
    )
    everywhere = np.concatenate([points, middle])
    return everywhere, new, np.tile(region, 4), Cloud(everywhere, halves, np.tile(cloud.of, 2))
