"""The mesh of a section: triangles that fit its outlines and channels, fine where heat needs it.

A graded grid in the section's own directions (its longest edges) is thinned where it is finer than need be, joined with points
on oblique outlines and circles, and connected by Delaunay's rule, which gives matrices without negative couplings in each
material. The mesh at twice the fineness is the same with every triangle cut in four.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_geometry import mistakes_of
from thermokit.conduction.section_geometry_plain import size_of
from thermokit.conduction.section_mesh_grid import (
    MOST_CELLS,
    Breaks,
    breaks_of,
    directions_of,
    lines_of,
    moved_points,
    thinned_grid,
)
from thermokit.conduction.section_mesh_nodes import with_doubled_nodes
from thermokit.conduction.section_mesh_pieces import Pieces, counter_clockwise, pieces_of
from thermokit.conduction.section_mesh_size import FACE_GRADING, SECTION_SHARE, WALL_CELLS, sizes_of
from thermokit.conduction.section_mesh_sound import areas_of, flaw_of
from thermokit.conduction.section_mesh_strips import laid, rows_across, strips_of
from thermokit.conduction.section_mesh_triangles import cloud_of, conforming, owners, refined
from thermokit.errors import DataError, SolveError

if TYPE_CHECKING:
    from thermokit.conduction.section_mesh_size import Sizes
    from thermokit.conduction.section_mesh_triangles import Cloud
    from thermokit.conduction.section_problem import Array, SectionMesh, SectionProblem, Whole

BASE = 0.5  # fineness of the mesh that is built; finer ones are cut from it
MOST_NODES = 4 * MOST_CELLS
# with walls that lie askew cut into strips; without; with an even grid that has no lines through outlines
WAYS = ("strips", "grid", "even")


def mesh_section(problem: SectionProblem, fineness: float = 1.0) -> SectionMesh:
    """Triangles that fit a section: its outlines, inserts and channels (polygons with nodes on their circles).

    fineness : 1 is the spacing that holds a cooling time to about 0.01 s and a mould to about 0.02 K (a mould section with five
    channels, 100 mm of part 1.5 mm thick); 2 halves every spacing. Meshes at 0.5, 1, 2, 4 ... are cut from one
    another, each triangle in four, and so are 0.7, 1.4, 2.8 ...; errors then fall by four from one to the next. Below 0.5
    the mesh is built coarser and belongs to no family.

    Channels have at least 24 nodes at fineness 1, walls some 12 to 20 cells through their thickness, fewer where heat passes a
    wall within a span. A turned section has the same mesh, turned.

    Raises DataError where the drawing is wrong (what, and where), SolveError where no mesh holds all that is drawn.
    """
    findings = mistakes_of(problem.regions, problem.channels, problem.edges, problem.touches, problem.axisymmetric)
    if findings:
        raise DataError("; ".join(str(finding) for finding in findings))
    if not (np.isfinite(fineness) and fineness > 0.0):
        raise DataError(f"fineness must be a number above 0, not {fineness!r}")
    halvings = max(0, int(np.floor(np.log2(fineness / BASE) + 1e-9)))
    coarseness = BASE * 2**halvings / fineness
    angle = direction_of(problem)
    turned = turned_by(problem, -angle)
    pieces = pieces_of(turned.regions, turned.edges)
    flaws: list[tuple[str, Array]] = []
    for way in WAYS:
        triangles, region, cloud, sizes = _triangles(turned, pieces, coarseness, way)
        flaw = flaw_of(triangles, region, cloud, pieces, problem.regions)
        if flaw is None:
            break
        flaws.append(flaw)
    else:
        raise _not_meshed(*flaws[0], angle)
    points = cloud.points
    if len(points) * 4**halvings > MOST_NODES:
        raise SolveError(
            f"the section could not be meshed: it needs more than {MOST_NODES} nodes",
            "leave small details out, or ask for a lower accuracy",
        )
    for _ in range(halvings):
        points, triangles, region, cloud = refined(points, triangles, region, cloud, len(pieces.ends), sizes)
        area = areas_of(points, triangles)
        if area.min() <= 0.0:  # a node moved onto its circle has crossed what is next to it
            raise _not_meshed(
                "a channel is too near to what is next to it", points[triangles[np.argmin(area)][0]], angle
            )
    return with_doubled_nodes(turned_points(points, angle), triangles, region, cloud, pieces, problem)


def _not_meshed(words: str, place: Array, angle: float) -> SolveError:
    x, y = turned_points(place[None], angle)[0] * 1e3
    return SolveError(
        f"the section could not be meshed: {words}, at ({x:.6g} mm, {y:.6g} mm)",
        "look there for very small steps or very sharp corners; draw them larger or leave them out",
    )


def _triangles(
    problem: SectionProblem, pieces: Pieces, coarseness: float, way: str
) -> tuple[Whole, Whole, Cloud, Sizes]:
    """Triangles of the material and their regions, in the section's own frame; see WAYS."""
    outlines = [counter_clockwise(np.asarray(r.outline, dtype=float)) for r in problem.regions]
    diagonal = size_of(outlines)
    breaks: tuple[Breaks, Breaks]
    if way == "even":
        low, high = pieces.start.min(axis=0), pieces.start.max(axis=0)
        none = np.empty((0, 4))
        breaks = (Breaks(np.array([low[0], high[0]]), none), Breaks(np.array([low[1], high[1]]), none))
    else:
        breaks = (breaks_of(pieces, 0, diagonal), breaks_of(pieces, 1, diagonal))
    along = directions_of(pieces, breaks)
    centres = np.array([c.centre for c in problem.channels], dtype=float).reshape(-1, 2)
    radii = np.array([c.diameter / 2 for c in problem.channels], dtype=float)
    strips = strips_of(pieces, along, centres, radii, coarseness, diagonal if way == "strips" else 0.0)
    cut = cut_at(pieces, breaks, diagonal / SECTION_SHARE)
    sizes = sizes_of(cut, directions_of(cut, breaks), problem, coarseness, diagonal, strips.corners(pieces))
    grid = thinned_grid(lines_of(0, breaks[0].lines, sizes), lines_of(1, breaks[1].lines, sizes), sizes)
    grid = moved_points(grid, breaks, onto=True)
    rows = rows_across(WALL_CELLS / coarseness, FACE_GRADING)
    cloud = cloud_of(pieces, along, sizes, grid, laid(strips, pieces, sizes, rows))
    cloud, triangles = conforming(cloud, pieces, sizes)
    region = owners(cloud, triangles, pieces, outlines)
    return triangles[region >= 0], region[region >= 0], cloud, sizes


def direction_of(problem: SectionProblem) -> float:
    """Direction [rad, 0 to pi/2] in which most of the outlines' length runs, or stands at right angles to it."""
    ways = np.concatenate([np.roll(r.outline, -1, axis=0) - np.asarray(r.outline) for r in problem.regions])
    length = np.hypot(*ways.T)
    angle = np.arctan2(ways[:, 1], ways[:, 0]) % (np.pi / 2)
    angle[np.pi / 2 - angle < 1e-9] = 0.0
    order = np.argsort(angle, kind="stable")
    group = np.empty(len(angle), dtype=np.int64)
    group[order] = np.concatenate([[0], np.cumsum(np.diff(angle[order]) > 1e-7)])
    total = np.bincount(group, length)
    # of equals the one that is drawn first, so that a turned section turns its mesh
    best = group[np.argmax(total[group] > (1 - 1e-9) * total.max())]
    out = float(np.average(angle[group == best], weights=length[group == best]))
    return 0.0 if out < 1e-9 else out


def turned_points(points: Array, angle: float) -> Array:
    """Points turned about the origin, counter-clockwise [rad]; at 0 they are left as they are to the last digit."""
    if angle == 0.0:
        return points
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


def turned_by(problem: SectionProblem, angle: float) -> SectionProblem:
    """The section turned about the origin."""
    if angle == 0.0:
        return problem

    def turn(point: tuple[float, float]) -> tuple[float, float]:
        x, y = turned_points(np.array([point]), angle)[0]
        return float(x), float(y)

    return replace(
        problem,
        regions=tuple(replace(r, outline=turned_points(np.asarray(r.outline, float), angle)) for r in problem.regions),
        channels=tuple(replace(c, centre=turn(c.centre)) for c in problem.channels),
        edges=tuple(replace(e, start=turn(e.start), end=turn(e.end)) for e in problem.edges),
    )


def cut_at(pieces: Pieces, breaks: tuple[Breaks, Breaks], longest: float) -> Pieces:
    """Pieces cut where grid lines through ``breaks`` cross those along the grid, and none longer than ``longest``, so that each
    has one thickness; pieces beside a line are laid onto it."""
    points, count = [pieces.points], len(pieces.points)
    ends, old = [], []
    along: Whole = directions_of(pieces, breaks)
    for index, (a, b) in enumerate(pieces.ends.tolist()):
        start, way = pieces.points[a], pieces.points[b] - pieces.points[a]
        marks = np.array([0.0, 1.0])
        if along[index] >= 0:
            other = 1 - int(along[index])
            share = (breaks[other].lines - start[other]) / way[other]
            marks = np.unique(np.concatenate([marks, share[(share > 1e-7) & (share < 1 - 1e-7)]]))
        parts = np.ceil(np.diff(marks) * np.hypot(*way) / longest - 1e-6).astype(int)
        steps = zip(marks, np.diff(marks), parts, strict=False)
        share = np.concatenate([low + step * np.arange(n) / n for low, step, n in steps])[1:]
        inner = start + share[:, None] * way
        if along[index] >= 0:
            inner[:, along[index]] = start[along[index]]  # to the last digit
        chain = np.concatenate([[a], count + np.arange(len(inner)), [b]])
        points.append(inner)
        count += len(inner)
        ends.append(np.column_stack([chain[:-1], chain[1:]]))
        old.append(np.full(len(chain) - 1, index))
    every = moved_points(np.concatenate(points), breaks, onto=False)
    cut, of = np.concatenate(ends), np.concatenate(old)
    some = (every[cut[:, 0]] != every[cut[:, 1]]).any(
        axis=1
    )  # a step between a line and a piece beside it has no length left
    cut, of = cut[some], of[some]
    return Pieces(every, cut, pieces.left[of], pieces.right[of], pieces.face[of])
