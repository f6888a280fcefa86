"""What is wrong with a drawing: outlines that cross, channels that leave their region, names on nothing; each with its place.

A section is fit to be meshed when this finds nothing. Places nearer to each other than a ten-millionth of the section's
diagonal count as one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from thermokit.conduction.section_geometry_cross import crossings_of, self_meeting
from thermokit.conduction.section_geometry_plain import (
    area_of,
    distance_to_segments,
    inside_polygon,
    owner_of,
    points_on_segments,
    size_of,
    tolerance_of,
)
from thermokit.conduction.section_mesh_pieces import pieces_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.section_mesh_pieces import Pieces
    from thermokit.conduction.section_problem import Array, Channel, Edge, Region, Touch

NO_AREA = 1e-10  # of the square of an outline's own diagonal
MOST_CORNERS = 5_000  # of all outlines together: what is looked for between all of them takes some ten seconds
CLEAR = 1e-3  # of a channel's diameter: it keeps at least this distance from everything


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong with the drawing: of what (kind and name), in words, and where [m] (None: nowhere)."""

    kind: Literal["region", "channel", "edge", "touch"]
    name: str
    words: str
    place: tuple[float, float] | None = None

    def __str__(self) -> str:
        where = f" at ({self.place[0] * 1e3:.6g} mm, {self.place[1] * 1e3:.6g} mm)" if self.place else ""
        return f"{self.kind} {self.name!r} {self.words}{where}"


def mistakes_of(
    regions: Sequence[Region],
    channels: Sequence[Channel] = (),
    edges: Sequence[Edge] = (),
    touches: Sequence[Touch] = (),
    axisymmetric: bool = False,
) -> list[Finding]:
    """All that is wrong with a drawing, regions first; what depends on sound regions is looked at only when they are sound."""
    if not regions:
        return [Finding("region", "", "is missing: a section needs at least one region")]
    found = _too_many_corners(regions)
    if found:
        return found
    found = [finding for region in regions for finding in _outline(region, axisymmetric)]
    if found:
        return found
    tolerance = tolerance_of(size_of([region.outline for region in regions]))
    found = _crossing_regions(regions, tolerance)
    if found:
        return found
    pieces = pieces_of(regions, edges)
    found = _channels(channels, regions, tolerance)
    return found + _edges(edges, pieces, tolerance) + _touches(touches, regions, pieces)


def _at(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _too_many_corners(regions: Sequence[Region]) -> list[Finding]:
    """Corners that regions share count once."""
    corners = [len(region.outline) for region in regions]
    if sum(corners) <= MOST_CORNERS:
        return []
    outlines = [np.asarray(region.outline, dtype=float) for region in regions]
    good = [outline for outline in outlines if outline.ndim == 2 and outline.shape[1] == 2]
    count = len(np.unique(np.concatenate(good), axis=0)) if good else 0
    if count <= MOST_CORNERS:
        return []
    most = int(np.argmax(corners))
    words = f"has {corners[most]} corners, the whole section {count}; a section may have {MOST_CORNERS}: put fewer on curves"
    return [Finding("region", regions[most].name, words)]


def _outline(region: Region, axisymmetric: bool) -> list[Finding]:
    outline = np.asarray(region.outline, dtype=float)
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
        return [Finding("region", region.name, f"has {len(outline)} corners; an outline needs at least three")]
    if not np.isfinite(outline).all():
        return [Finding("region", region.name, "has a corner that is not a number")]
    size = size_of([outline])
    tolerance = tolerance_of(size)
    step = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)
    if size == 0.0 or (step <= tolerance).any():
        first = int(np.argmin(step))
        last = first == len(outline) - 1
        words = (
            "repeats its first corner at the end; outlines close by themselves"
            if last
            else f"has the same corner twice, as number {first + 1} and {first + 2},"
        )
        return [Finding("region", region.name, words, _at(outline[first]))]
    if axisymmetric and (outline[:, 0] < -tolerance).any():
        lowest = outline[np.argmin(outline[:, 0])]
        return [Finding("region", region.name, "reaches across the axis, where x must not be below 0,", _at(lowest))]
    met = self_meeting(outline, tolerance)
    if met is not None:
        return [Finding("region", region.name, "has an outline that crosses or touches itself", _at(met))]
    if area_of(outline) <= NO_AREA * size**2:
        return [Finding("region", region.name, "has no area", _at(outline[0]))]
    return []


def _crossing_regions(regions: Sequence[Region], tolerance: float) -> list[Finding]:
    """Pairs of which one lies partly inside and partly outside the other."""
    found = []
    for j, other in enumerate(regions):
        for one in regions[:j]:
            a, b = np.asarray(one.outline, dtype=float), np.asarray(other.outline, dtype=float)
            if (a.max(axis=0) < b.min(axis=0)).any() or (b.max(axis=0) < a.min(axis=0)).any():
                continue
            middle = crossings_of(b, a, tolerance)
            on = np.zeros(len(middle), dtype=bool)
            on[points_on_segments(middle, a, np.roll(a, -1, axis=0), tolerance)[1]] = True
            inside = inside_polygon(middle, a) & ~on
            outside = ~inside & ~on
            if on.all() and abs(area_of(a) - area_of(b)) <= tolerance * size_of([a]):
                found.append(Finding("region", other.name, f"has the same outline as region {one.name!r}", _at(b[0])))
            elif inside.any() and outside.any():
                words = f"lies partly inside and partly outside region {one.name!r}; its outline is inside"
                found.append(Finding("region", other.name, words, _at(middle[np.argmax(inside)])))
    return found


def _channels(channels: Sequence[Channel], regions: Sequence[Region], tolerance: float) -> list[Finding]:
    found = []
    for index, channel in enumerate(channels):
        centre = np.asarray(channel.centre, dtype=float)
        radius = channel.diameter / 2
        if not (np.isfinite(centre).all() and radius > tolerance):
            found.append(Finding("channel", channel.name, "needs a centre and a diameter above 0"))
            continue
        clear = max(tolerance, CLEAR * channel.diameter)
        owner = int(owner_of(centre[None], regions)[0])
        if owner < 0:
            found.append(Finding("channel", channel.name, "has its centre outside all regions", _at(centre)))
            continue
        for region in regions:
            start = np.asarray(region.outline, dtype=float)
            end = np.roll(start, -1, axis=0)
            distance = distance_to_segments(centre[None], start, end)[:, 0]
            if distance.min() < radius + clear:
                nearest = int(np.argmin(distance))
                words = f"crosses or touches the outline of region {region.name!r}"
                place = _nearest(centre, start[nearest], end[nearest])
                found.append(Finding("channel", channel.name, words, _at(place)))
                break
        for other in channels[:index]:
            apart = np.hypot(*(centre - other.centre))
            if apart < radius + other.diameter / 2 + clear:
                middle = (centre + np.asarray(other.centre)) / 2
                found.append(Finding("channel", channel.name, f"overlaps channel {other.name!r}", _at(middle)))
    return found


def _nearest(point: Array, start: Array, end: Array) -> Array:
    way = end - start
    return np.asarray(start + np.clip((point - start) @ way / (way @ way), 0.0, 1.0) * way)


def _edges(edges: Sequence[Edge], pieces: Pieces, tolerance: float) -> list[Finding]:
    found = []
    middle = (pieces.start + pieces.end) / 2
    length = np.hypot(*(pieces.end - pieces.start).T)
    owner = np.full(len(middle), -1)
    for index, edge in enumerate(edges):
        start, end = np.array(edge.start, dtype=float), np.array(edge.end, dtype=float)
        whole = float(np.hypot(*(end - start)))
        if not whole > tolerance:
            found.append(Finding("edge", edge.name, "has no length", _at(start)))
            continue
        on = distance_to_segments(middle, start[None], end[None])[0] <= tolerance
        # a piece that the edge merely crosses has its middle on it by chance, but not its ends
        for of in (pieces.start, pieces.end):
            on &= distance_to_segments(of, start[None], end[None])[0] <= tolerance
        covered = float(length[on].sum())
        if covered <= tolerance:
            words = "lies neither on the outside of the section nor between two regions; it begins"
            found.append(Finding("edge", edge.name, words, _at(start)))
            continue
        if covered < whole - 4 * tolerance:
            place = _first_bare(start, end, pieces.start[on], pieces.end[on], tolerance)
            words = "runs beyond the outlines that it should name; it lies on nothing"
            found.append(Finding("edge", edge.name, words, _at(place)))
        taken = on & (owner >= 0)
        if taken.any():
            first = int(np.argmax(taken))
            found.append(Finding("edge", edge.name, f"overlaps edge {edges[owner[first]].name!r}", _at(middle[first])))
        owner[on] = index
    return found


def _first_bare(start: Array, end: Array, a: Array, b: Array, tolerance: float) -> Array:
    """The first place along an edge that no piece covers."""
    way = (end - start) / np.hypot(*(end - start))
    spans = np.sort(np.column_stack([(a - start) @ way, (b - start) @ way]), axis=1)
    reached = 0.0
    for low, high in spans[np.argsort(spans[:, 0])]:
        if low > reached + 2 * tolerance:
            break
        reached = max(reached, high)
    return np.asarray(start + reached * way)


def _touches(touches: Sequence[Touch], regions: Sequence[Region], pieces: Pieces) -> list[Finding]:
    found = []
    index = {region.name: k for k, region in enumerate(regions)}
    seen: set[frozenset[str]] = set()
    for touch in touches:
        name = " and ".join(touch.between)
        unknown = [one for one in touch.between if one not in index]
        if unknown:
            found.append(Finding("touch", name, f"names {unknown[0]!r}, which is no region"))
            continue
        one, other = (index[n] for n in touch.between)
        pair = frozenset(touch.between)
        if one == other:
            found.append(Finding("touch", name, "names the same region twice"))
        elif pair in seen:
            found.append(Finding("touch", name, "is given twice"))
        elif not (
            ((pieces.left == one) & (pieces.right == other)) | ((pieces.left == other) & (pieces.right == one))
        ).any():
            corner = _at(np.asarray(regions[one].outline, dtype=float)[0])
            found.append(
                Finding("touch", name, "names two regions that have no outline in common; the first begins", corner)
            )
        seen.add(pair)
    return found
