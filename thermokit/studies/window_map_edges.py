"""How far is a setting from the edges of a map: along each of its two settings, in any direction, and where is most room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit


@dataclass(frozen=True)
class Edge:
    """Where a limit ends or begins to be met: its name, the place on the map [SI], the way there (dx, dy) [SI].

    along : 0 across, 1 up, None in any direction; size : of the way as a share of the map's sides; limit None : the map ends
    there before any limit does.
    """

    limit: str | None
    place: tuple[float, float]
    way: tuple[float, float]
    along: int | None
    size: float


@dataclass(frozen=True)
class Room:
    """The setting from which the nearest edge is farthest: its place [SI], that distance as a share of the map's sides."""

    place: tuple[float, float]
    size: float


def edges_along(
    at: Array, margins: Array, present: tuple[float, float], along: int, limits: Sequence[Limit]
) -> tuple[Edge, Edge]:
    """(the edge downwards, the edge upwards) from the present value of one setting.

    at (n,) ascending and margins (limits, n) on a line through the present setting, which is one of its values. From inside
    the window an edge is where the first limit breaks; from outside it, where the last broken one is met.
    """
    found = []
    span = float(at[-1] - at[0])
    start = int(np.argmin(np.abs(at - present[along])))
    worst = np.nan_to_num(margins, nan=-np.inf)
    inside = bool((worst[:, start] >= 0.0).all())
    for step in (-1, 1):
        i, hit = start, None
        while 0 <= i + step < len(at):
            there = bool((worst[:, i + step] >= 0.0).all())
            if there != inside:
                hit = _crossing(at, margins, i, i + step, inside)
                break
            i += step
        value, j = hit if hit is not None else (float(at[-1] if step > 0 else at[0]), None)
        way = value - present[along]
        place = (value, present[1]) if along == 0 else (present[0], value)
        name = limits[j].name if j is not None else None
        found.append(Edge(name, place, (way, 0.0) if along == 0 else (0.0, way), along, abs(way) / span))
    return found[0], found[1]


def _crossing(at: Array, margins: Array, i: int, k: int, inside: bool) -> tuple[float, int]:
    """(value, limit) of the edge between two neighbouring values: the first that breaks on the way out, the last met coming in."""
    best: tuple[float, int] | None = None
    for j, row in enumerate(margins):
        a, b = float(row[i]), float(row[k])
        if (a >= 0.0) == (b >= 0.0):
            continue
        share = a / (a - b) if np.isfinite(a) and np.isfinite(b) and a != b else 1.0
        if best is None or (share < best[0]) == inside:
            best = (share, j)
    assert best is not None
    return float(at[i] + best[0] * (at[k] - at[i])), best[1]


def nearest_edge(
    x: Array, y: Array, margins: Array, present: tuple[float, float], limits: Sequence[Limit]
) -> Edge | None:
    """The nearest point of the island's edge, distances measured as shares of the map's sides; None without an edge on it.

    Points of the edge lie on the lines of the map: where one limit passes nothing and all others are met.
    """
    sides = float(x[-1] - x[0]), float(y[-1] - y[0])
    places, names = _edge_points(x, y, margins)
    if not len(places):
        return None
    way = places - np.array(present)
    size = np.hypot(way[:, 0] / sides[0], way[:, 1] / sides[1])
    i = int(np.argmin(size))
    place = float(places[i, 0]), float(places[i, 1])
    return Edge(limits[names[i]].name, place, (float(way[i, 0]), float(way[i, 1])), None, float(size[i]))


def _edge_points(x: Array, y: Array, margins: Array) -> tuple[Array, list[int]]:
    """(places (n, 2), limit of each) at which the island ends, by straight lines between neighbouring points."""
    places: list[Array] = []
    names: list[int] = []
    gx, gy = np.meshgrid(x, y)
    for axis in (1, 2):
        low = np.s_[:, :, :-1] if axis == 2 else np.s_[:, :-1, :]
        high = np.s_[:, :, 1:] if axis == 2 else np.s_[:, 1:, :]
        a, b = margins[low], margins[high]
        own_x, own_y = gx[None], gy[None]
        ax, bx, ay, by = own_x[low][0], own_x[high][0], own_y[low][0], own_y[high][0]
        for j in range(len(margins)):
            with np.errstate(invalid="ignore", divide="ignore"):
                share = a[j] / (a[j] - b[j])
                others = a + share * (b - a)
            others[j] = 0.0
            changes = (a[j] >= 0.0) != (b[j] >= 0.0)
            good = changes & np.isfinite(share) & (np.nan_to_num(others, nan=-1.0) >= -1e-12).all(axis=0)
            s, x0, y0 = share[good], ax[good], ay[good]
            places.append(np.stack([x0 + s * (bx[good] - x0), y0 + s * (by[good] - y0)], axis=1))
            names += [j] * int(good.sum())
    return np.concatenate(places), names


def roomiest(x: Array, y: Array, margins: Array) -> Room | None:
    """The setting with most room about it; None where no limit is met anywhere. Beyond the map there is no room."""
    from scipy.ndimage import distance_transform_edt

    met = np.nan_to_num(margins, nan=-np.inf).min(axis=0) >= 0.0
    if not met.any():
        return None
    padded = np.pad(met, 1)
    step = 1.0 / (len(y) - 1), 1.0 / (len(x) - 1)
    distance = distance_transform_edt(padded, sampling=step)[1:-1, 1:-1]
    best = distance >= distance.max() * (1.0 - 1e-9)
    rows, columns = np.nonzero(best)
    # several as good: the one in their middle
    k = int(np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean())))
    return Room((float(x[columns[k]]), float(y[rows[k]])), float(distance.max() - 0.5 * min(step)))
