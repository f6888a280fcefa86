"""A section made of boxes in its steady state: bilinear finite elements on a rectangular grid, refined at its corners."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np


@dataclass(frozen=True)
class Boxes:
    """x, y : (n,), (m,) lines of the grid; t : (n, m) temperatures."""

    x: np.ndarray
    y: np.ndarray
    t: np.ndarray

    def at(self, x: float, y: float) -> float:
        """Temperature of the node at a place."""
        return float(self.t[int(np.argmin(np.abs(self.x - x))), int(np.argmin(np.abs(self.y - y)))])


def graded(stops: tuple[float, ...], cells: int, power: float = 2.5) -> np.ndarray:
    """Lines between stops, closer and closer towards each of them."""
    s = np.linspace(0.0, 1.0, cells + 1)
    s = np.where(s < 0.5, (2 * s) ** power / 2, 1 - (2 * (1 - s)) ** power / 2)
    parts = [a + (b - a) * s[:-1] for a, b in pairwise(stops)]
    return np.concatenate([*parts, [stops[-1]]])


def steady(x: np.ndarray, y: np.ndarray, k: np.ndarray, bottom: tuple[float, float], top: tuple[float, float]) -> Boxes:
    """k : (n - 1, m - 1) of the cells; bottom, top : (coefficient, air temperature); left and right are insulated."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import spsolve

    n, m = len(x), len(y)
    number = np.arange(n * m).reshape(n, m)
    corners = np.stack([number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], axis=-1).reshape(-1, 4)
    ratio = (np.diff(y) / np.diff(x)[:, None]).reshape(-1, 1, 1)
    across = np.array([[2, -2, -1, 1], [-2, 2, 1, -1], [-1, 1, 2, -2], [1, -1, -2, 2]]) / 6
    along = np.array([[2, 1, -1, -2], [1, 2, -2, -1], [-1, -2, 2, 1], [-2, -1, 1, 2]]) / 6
    local = k.reshape(-1, 1, 1) * (ratio * across + along / ratio)
    rows, columns, values = [np.repeat(corners, 4, axis=1).ravel()], [np.tile(corners, (1, 4)).ravel()], [local.ravel()]
    load = np.zeros(n * m)
    for line, (h, air) in ((number[:, 0], bottom), (number[:, -1], top)):
        pair, length = np.stack([line[:-1], line[1:]], axis=1), np.diff(x)
        rows.append(np.repeat(pair, 2, axis=1).ravel())
        columns.append(np.tile(pair, (1, 2)).ravel())
        values.append((h * length[:, None] * np.array([2, 1, 1, 2]) / 6).ravel())
        np.add.at(load, pair, (h * air * length / 2)[:, None])
    flat = [np.concatenate(part) for part in (values, rows, columns)]
    matrix = coo_matrix((flat[0], (flat[1], flat[2])), shape=(n * m, n * m)).tocsc()
    return Boxes(x, y, spsolve(matrix, load).reshape(n, m))


@lru_cache
def wood_and_aluminium(cells: int = 60) -> tuple[Boxes, float]:
    """ISO 10211 case 2 (lengths in mm there): (temperatures [degC], heat from below [W/m])."""
    mm = 1e-3
    x = graded((0.0, 1.5 * mm, 15 * mm, 500 * mm), cells)
    y = graded((0.0, 1.5 * mm, 35 * mm, 36.5 * mm, 41.5 * mm, 47.5 * mm), cells)
    cx, cy = ((x[1:] + x[:-1]) / 2 / mm)[:, None], ((y[1:] + y[:-1]) / 2 / mm)[None, :]
    k = np.full((len(x) - 1, len(y) - 1), 0.029)
    k[np.broadcast_to(cy > 41.5, k.shape)] = 1.15
    k[(cx < 15) & (cy > 36.5) & (cy < 41.5)] = 0.12
    k[(cy < 1.5) | ((cx < 1.5) & (cy < 36.5)) | ((cx < 15) & (cy > 35) & (cy < 36.5))] = 230.0
    found = steady(x, y, k, (1 / 0.11, 20.0), (1 / 0.06, 0.0))
    face = (found.t[1:, 0] + found.t[:-1, 0]) / 2
    return found, float(np.sum((20.0 - face) * np.diff(x)) / 0.11)
