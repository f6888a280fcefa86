"""Whether a mesh is what was drawn: every outline and circle held, areas right, triangles fair. Says where not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_mesh_triangles import keys_of, sides_of

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_mesh_triangles import Cloud
    from thermokit.conduction.section_problem import Array, Region, Whole

AREA = 1e-9  # relative
WIDEST = np.deg2rad(172.0)  # corner of a triangle
NARROWEST = 1e-5  # rad: needles do no harm, until digits are lost


def flaw_of(
    triangles: Whole, region: Whole, cloud: Cloud, pieces: Pieces, regions: tuple[Region, ...]
) -> tuple[str, Array] | None:
    """(words, place) of the first thing that is wrong with a mesh, None where all is right.

    triangles : of the material only, (cells, 3), with region (cells,).
    """
    points = cloud.points
    corner = points[triangles]
    area = areas_of(points, triangles)
    if (area <= 0.0).any():
        worst = int(np.argmin(area))
        return f"a triangle of region {regions[region[worst]].name!r} has no area", corner[worst].mean(axis=0)
    angle = _angles(corner, area)
    for bad, words in ((angle.max(axis=1) > WIDEST, "flat"), (angle.min(axis=1) < NARROWEST, "narrow")):
        if bad.any():
            worst = int(np.argmax(bad))
            return f"a triangle of region {regions[region[worst]].name!r} is too {words}", corner[worst].mean(axis=0)
    keys = keys_of(sides_of(triangles), len(points))
    names = [region.name for region in regions]
    unheld = ~np.isin(keys_of(cloud.segments, len(points)), keys)
    if unheld.any():
        ends = points[cloud.segments[np.argmax(unheld)]]
        return "a piece of an outline or channel is not held", ends.mean(axis=0)
    # every side with one triangle, or with two regions, is a piece that was drawn
    order = np.argsort(keys, kind="stable")
    cell = np.tile(np.arange(len(triangles)), 3)[order]
    ascending = keys[order]
    new = np.concatenate([[True], ascending[1:] != ascending[:-1]])
    first, count = np.nonzero(new)[0], np.diff(np.concatenate([np.nonzero(new)[0], [len(keys)]]))
    if (count > 2).any():
        return "triangles overlap", points[ascending[first[np.argmax(count > 2)]] // len(points)]
    second = np.minimum(first + 1, len(keys) - 1)
    border = (count == 1) | (region[cell[first]] != region[cell[second]])
    stray = border & ~np.isin(ascending[first], keys_of(cloud.segments, len(points)))
    if stray.any():
        return "a border lies where none was drawn", points[ascending[first[np.argmax(stray)]] // len(points)]
    for index, name in enumerate(names):
        drawn = drawn_area(index, cloud, pieces)
        found = float(area[region == index].sum())
        if abs(found - drawn) > AREA * abs(drawn):
            place = corner[region == index].mean(axis=(0, 1)) if (region == index).any() else points[0]
            return f"region {name!r} has an area of {found * 1e6:.6g} mm2 instead of {drawn * 1e6:.6g} mm2", place
    return None


def areas_of(points: Array, triangles: Whole) -> Array:
    """(cells,) area of triangles [m2], positive where they run counter-clockwise."""
    a, b, c = points[triangles].transpose(1, 0, 2)
    u, v = b - a, c - a
    return np.asarray((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2)


def drawn_area(index: int, cloud: Cloud, pieces: Pieces) -> float:
    """Area [m2] of a region without its inserts and the polygons of its channels, from its outlines alone."""
    a, b = pieces.start, pieces.end
    origin = a.mean(axis=0)
    swept = ((a - origin)[:, 0] * (b - origin)[:, 1] - (a - origin)[:, 1] * (b - origin)[:, 0]) / 2
    area = float(swept[pieces.left == index].sum() - swept[pieces.right == index].sum())
    for channel in range(len(pieces.ends), int(cloud.of.max(initial=-1)) + 1):
        ends = cloud.points[cloud.segments[cloud.of == channel]]
        middle = ends.mean(axis=(0, 1))
        if _holds(pieces, index, middle):
            p, q = ends[:, 0] - middle, ends[:, 1] - middle
            area -= float(abs(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])) / 2)
    return area


def _holds(pieces: Pieces, index: int, point: Array) -> bool:
    """Whether a region owns a point: its border is crossed an odd number of times by a ray to the right."""
    border = (pieces.left == index) | (pieces.right == index)
    a, b = pieces.start[border], pieces.end[border]
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossed = ((a[:, 1] > point[1]) != (b[:, 1] > point[1])) & (
        point[0] < a[:, 0] + (b[:, 0] - a[:, 0]) / rise * (point[1] - a[:, 1])
    )
    return bool(crossed.sum() % 2)


def _angles(corner: Array, area: Array) -> Array:
    """(cells, 3) angle at each corner [rad]."""
    u, v = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    return np.asarray(np.arctan2(2 * area[:, None], (u * v).sum(axis=-1)))
