"""Rectilinear meshes of sections made of boxes, for tests that need to know their mesh, and what such sections are made of."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from thermokit.conduction.problem import Exchange, Face
from thermokit.conduction.section_problem import Edge, SectionMesh, SectionProblem


def box(x0: float, x1: float, y0: float, y1: float) -> np.ndarray:
    """Outline of a rectangle [m]."""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def sides_of(x0: float, x1: float, y0: float, y1: float) -> tuple[Edge, ...]:
    """left, right, bottom and top of a rectangle."""
    return (
        Edge("left", (x0, y0), (x0, y1)),
        Edge("right", (x1, y0), (x1, y1)),
        Edge("bottom", (x0, y0), (x1, y0)),
        Edge("top", (x0, y1), (x1, y1)),
    )


def convection(h: float, air: float) -> Face:
    return Face(exchange=(Exchange(h, air),))


def held(temperature) -> Face:
    return Face(temperature=temperature)


def grid(problem: SectionProblem, xs: np.ndarray, ys: np.ndarray, skew: float = 0.0) -> SectionMesh:
    """Cells of a rectilinear grid cut in two triangles, each in the region that holds its centre (the last that does).

    skew : share of the spacing by which inner nodes are moved about, so that nothing profits from right angles.
    """
    xs, ys = np.asarray(xs, float), np.asarray(ys, float)
    names = [region.name for region in problem.regions]
    of_cell = np.full((len(xs) - 1, len(ys) - 1), -1)
    cx, cy = (xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2
    for r, region in enumerate(problem.regions):
        low, high = region.outline.min(axis=0), region.outline.max(axis=0)
        inside = (cx > low[0]) & (cx < high[0]), (cy > low[1]) & (cy < high[1])
        of_cell[np.ix_(*inside)] = r
    apart = {frozenset(touch.between) for touch in problem.touches}

    def separated(a: int, b: int) -> bool:
        pair = frozenset((names[a], names[b]))
        return pair in apart or bool(pair & problem.removable)

    group = list(range(len(names)))
    for a in range(len(names)):
        for b in range(a):
            if not separated(a, b):
                group = [group[b] if g == group[a] else g for g in group]
    shift = np.random.default_rng(1).uniform(-skew, skew, (2, len(xs), len(ys)))
    shift[:, 0] = shift[:, -1] = 0.0
    shift[:, :, 0] = shift[:, :, -1] = 0.0
    number: dict[tuple[int, int, int], int] = {}
    place: list[tuple[float, float]] = []

    def node(i: int, j: int, r: int) -> int:
        key = (i, j, group[r])
        if key not in number:
            number[key] = len(place)
            dx = shift[0, i, j] * (xs[1] - xs[0]) if skew else 0.0
            dy = shift[1, i, j] * (ys[1] - ys[0]) if skew else 0.0
            place.append((xs[i] + dx, ys[j] + dy))
        return number[key]

    triangles, region, sides, side_region, side_face, joints, joint_regions, joint_face = ([] for _ in range(8))
    for i in range(len(xs) - 1):
        for j in range(len(ys) - 1):
            r = int(of_cell[i, j])
            if r < 0:
                continue
            a, b, c, d = node(i, j, r), node(i + 1, j, r), node(i + 1, j + 1, r), node(i, j + 1, r)
            triangles += [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
            region += [r, r]
            ends = (
                ((i, j), (i + 1, j)),
                ((i + 1, j), (i + 1, j + 1)),
                ((i + 1, j + 1), (i, j + 1)),
                ((i, j + 1), (i, j)),
            )
            for (p, q), (di, dj) in zip(ends, ((0, -1), (1, 0), (0, 1), (-1, 0)), strict=True):
                ni, nj = i + di, j + dj
                other = int(of_cell[ni, nj]) if 0 <= ni < len(xs) - 1 and 0 <= nj < len(ys) - 1 else -1
                if other == r or (other >= 0 and not separated(r, other)):
                    continue
                pair = (node(*p, r), node(*q, r))
                face = _face(problem, (xs[p[0]], ys[p[1]]), (xs[q[0]], ys[q[1]]))
                if other < 0:
                    sides.append(pair)
                    side_region.append(r)
                    side_face.append(face)
                elif r < other:
                    joints.append((*pair, node(*p, other), node(*q, other)))
                    joint_regions.append((r, other))
                    joint_face.append(face)
    points = np.array(place)
    return SectionMesh(
        points[:, 0],
        points[:, 1],
        np.array(triangles),
        np.array(region),
        np.array(sides, int).reshape(-1, 2),
        np.array(side_region, int),
        np.array(side_face, int),
        np.array(joints, int).reshape(-1, 4),
        np.array(joint_regions, int).reshape(-1, 2),
        np.array(joint_face, int),
    )


def _face(problem: SectionProblem, p: tuple[float, float], q: tuple[float, float]) -> int:
    for f, edge in enumerate(problem.edges):
        a, b = np.array(edge.start), np.array(edge.end)
        along = (b - a) / np.hypot(*(b - a))
        for point in (p, q):
            way = np.array(point) - a
            if abs(along[0] * way[1] - along[1] * way[0]) > 1e-9 or not -1e-9 < way @ along < np.hypot(*(b - a)) + 1e-9:
                break
        else:
            return f
    return -1


def spaced(*stops: float, cells: int | tuple[int, ...]) -> np.ndarray:
    """Equal cells between stops."""
    counts = (cells,) * (len(stops) - 1) if isinstance(cells, int) else cells
    parts = [np.linspace(a, b, n + 1)[:-1] for (a, b), n in zip(pairwise(stops), counts, strict=True)]
    return np.concatenate([*parts, [stops[-1]]])


def at(mesh: SectionMesh, values: np.ndarray, x: float, y: float, region: int | None = None) -> float:
    """Value at the node that lies at a point [m]."""
    near = np.hypot(mesh.x - x, mesh.y - y)
    if region is not None:
        mine = np.unique(mesh.triangles[mesh.region == region])
        node = mine[np.argmin(near[mine])]
    else:
        node = int(np.argmin(near))
    assert near[node] < 1e-9, "no node lies there"
    return float(values[node])
