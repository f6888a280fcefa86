"""How thick walls are: rays from pieces of outline across the material to what lies opposite."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry_plain import lots_of

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_problem import Array, Whole

FEW = 200  # pieces, up to which all are held against all
LOT = 64  # neighbouring rays that are looked at together


def thickness_of(pieces: Pieces, side: int, centres: Array, radii: Array) -> tuple[Array, Whole]:
    """(pieces,) how thick the region on a side is, along rays normal to each piece from three places on it [m]; and what the
    shortest of them meets: a piece, or pieces + a circle. A piece that shares a corner is not met: a wedge is no wall."""
    a, b = pieces.start, pieces.end
    way = b - a
    length = np.hypot(*way.T)
    out_of = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, None] * (1.0 if side == 0 else -1.0)
    best, met = np.full(len(a), np.inf), np.zeros(len(a), dtype=np.int64)
    for share in (0.5, 0.02, 0.98):
        distance, what = _first_hit(a + share * way, out_of, pieces.ends, a, b, centres, radii)
        nearer = distance < best * (1 - 1e-9)
        best, met = np.where(nearer, distance, best), np.where(nearer, what, met)
    return best, met


def _first_hit(
    origin: Array, direction: Array, ends: Whole, a: Array, b: Array, centres: Array, radii: Array
) -> tuple[Array, Whole]:
    """(rays,) distance along each ray to the first segment or circle (the one that it starts on and its neighbours left out), and
    which."""
    out = np.full(len(origin), np.inf)
    what = np.zeros(len(origin), dtype=np.int64)
    low, high = np.minimum(a, b), np.maximum(a, b)
    size = float(np.max(high.max(axis=0) - low.min(axis=0)))
    left = np.arange(len(origin))
    # what is near first: rays that meet something nearer than this have met what they meet
    for near in (size / 64.0, size / 8.0, np.inf) if len(a) > FEW else (np.inf,):
        for lot in lots_of(
            origin[left], 1 + max(len(left) * len(a) // 1_000_000, len(left) // LOT if near < np.inf else 0)
        ):
            rays = left[lot]
            if not len(rays):
                continue
            least, most = origin[rays].min(axis=0) - near, origin[rays].max(axis=0) + near
            those = np.nonzero(((low <= most) & (high >= least)).all(axis=1))[0]
            reach = _reach(origin[rays], direction[rays], ends[rays], a[those], b[those], ends[those], centres, radii)
            if not reach.shape[1]:
                continue
            nearest = np.argmin(reach, axis=1)
            out[rays] = reach[np.arange(len(rays)), nearest]
            what[rays] = np.concatenate([those, len(a) + np.arange(len(radii))])[nearest]
        left = left[out[left] >= near]
    return out, what


def _reach(
    origin: Array, direction: Array, own: Whole, a: Array, b: Array, ends: Whole, centres: Array, radii: Array
) -> Array:
    """(rays, segments + circles) distance along each ray to each, infinite where it does not meet it or starts on it or next
    to it."""
    d, o = direction[:, None], origin[:, None]
    way, offset = b - a, a - o
    cross = d[..., 0] * way[:, 1] - d[..., 1] * way[:, 0]
    parallel = np.abs(cross) < 1e-12 * np.hypot(*way.T)
    safe = np.where(parallel, 1.0, cross)
    distance = (offset[..., 0] * way[:, 1] - offset[..., 1] * way[:, 0]) / safe
    share = (offset[..., 0] * d[..., 1] - offset[..., 1] * d[..., 0]) / safe
    hit = ~parallel & (share >= -1e-9) & (share <= 1 + 1e-9) & (distance > 0.0)
    for end in (0, 1):
        hit &= (own[:, end, None] != ends[:, 0]) & (own[:, end, None] != ends[:, 1])
    reach = np.where(hit, distance, np.inf)
    if not len(radii):
        return reach
    to = centres - o
    forward = to[..., 0] * d[..., 0] + to[..., 1] * d[..., 1]
    off = np.abs(to[..., 0] * d[..., 1] - to[..., 1] * d[..., 0])
    met = (off < radii) & (forward > 0.0)
    entry = forward - np.sqrt(np.maximum(radii**2 - off**2, 0.0))
    return np.concatenate([reach, np.where(met, entry, np.inf)], axis=1)
