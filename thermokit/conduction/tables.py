"""Tables laid end to end, so that one gather reads the maps of all cells, whatever they are made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array


@dataclass(frozen=True)
class Tables:
    """Concatenated tables of all media: value = intercept[i] + slope[i] * coordinate, i = clip(floor(coordinate)).

    intercept, slope : (entries,); first, last : lowest and highest entry of each cell, (cells,) or (cells, cases).
    """

    intercept: Array
    slope: Array
    first: np.ndarray[Any, Any]
    last: np.ndarray[Any, Any]

    @property
    def single(self) -> bool:
        """True where one table serves every cell and case, so that a clipped gather is enough."""
        return bool(np.all(self.first == 0) and np.all(self.last == len(self.slope) - 1))

    @property
    def floor_counts(self) -> bool:
        """True where a coordinate may fall below its table into another: every table but the first and the last."""
        return not bool(np.all((self.first == 0) | (self.first == len(self.slope) - 1)))

    @property
    def straight(self) -> bool:
        """True where every table has one interval: the map is a straight line in each cell."""
        return bool(np.all(self.first == self.last))

    def __call__(self, coordinate: Array) -> tuple[Array, Array]:
        """(value, slope) at coordinates (cells,) or (cells, cases)."""
        with np.errstate(invalid="ignore"):
            i = np.clip(coordinate.astype(np.intp), self.first, self.last)
        slope = self.slope[i]
        return self.intercept[i] + slope * coordinate, slope


def concatenated(tables: list[Array]) -> tuple[Array, Array, list[int], list[int]]:
    """(intercept, slope, first entry, last entry of each) of node values laid one behind the other."""
    intercept, slope, first, last = [], [], [], []
    base = 0
    for nodes in tables:
        entries = len(nodes) - 1
        rise = np.diff(nodes)
        intercept.append(nodes[:-1] - rise * (base + np.arange(entries)))
        slope.append(rise)
        first.append(base)
        last.append(base + entries - 1)
        base += entries
    return np.concatenate(intercept), np.concatenate(slope), first, last


def coordinate_of(tables: Tables, temperature: Array) -> Array:
    """Energy coordinate at which ``tables`` give a temperature, (cells,) or (cells, cases): the exact inverse."""
    shape = np.broadcast_shapes(tables.first.shape, temperature.shape)
    first, last = np.broadcast_to(tables.first, shape), np.broadcast_to(tables.last, shape)
    t = np.broadcast_to(temperature, shape)
    out = np.empty(shape)
    for key in np.unique(first):
        here = first == key
        out[here] = _invert_many(tables, int(key), int(last[here][0]), t[here])
    return out


def _invert_many(tables: Tables, first: int, last: int, temperature: Array) -> Array:
    entries = np.arange(first, last + 1)
    starts = tables.intercept[entries] + tables.slope[entries] * entries
    i = first + np.clip(np.searchsorted(starts, temperature, side="right") - 1, 0, last - first)
    return np.asarray((temperature - tables.intercept[i]) / tables.slope[i])
