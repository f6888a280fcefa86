"""Arrays of a batch: cells folded about the middle of the body, cases in lanes.

Cell i and cell n-1-i share a row: an array (n, cases) becomes (rows, 2, lanes), so that both faces lie in row 0 and an
elimination runs from both ends at once, on long contiguous rows. An odd body has its middle cell in both columns, as two
halves that are held together by a conductance far above all others.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.tables import Tables, coordinate_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[Any]  # numbers, flags and indices of lanes alike


def fold(x: Any) -> Any:
    """(n, c) -> (rows, 2, c) with rows = ceil(n/2); column 0 runs from the inner face, column 1 from the outer."""
    rows = (len(x) + 1) // 2
    return np.ascontiguousarray(np.stack([x[:rows], x[::-1][:rows]], axis=1))


def unfold(x: Array, n: int) -> Array:
    """(rows, 2, c) -> (n, c): the inverse of :func:`fold`."""
    return np.concatenate([x[:, 0], x[: n // 2, 1][::-1]])


def of_lanes(x: Any, lanes: Array) -> Any:
    """Some lanes of an array whose last axis is the lane, or 1 where all lanes share it."""
    return x[..., lanes] if x.shape[-1] > 1 else x


class LaneArray:
    """A quantity that may differ between cases, laid out for the lanes in flight.

    source : (..., 1) where all cases share it, else (..., cases); ``now`` : (..., 1) or (..., lanes).
    """

    def __init__(self, source: Any, lanes: int):
        self.source = source
        self.shared = source.shape[-1] == 1
        self.now = source if self.shared else np.zeros((*source.shape[:-1], lanes), source.dtype)

    def load(self, lanes: Array, cases: Array) -> None:
        """Take the values of ``cases`` into ``lanes``."""
        if not self.shared:
            self.now[..., lanes] = self.source[..., cases]

    def keep(self, lanes: Array) -> None:
        """Only these lanes go on."""
        if not self.shared:
            self.now = np.ascontiguousarray(self.now[..., lanes])

    def of(self, lanes: Array) -> Any:
        """The values of some lanes."""
        return self.now if self.shared else self.now[..., lanes]


class LaneTables:
    """Tables of the rod (:class:`thermokit.conduction.rod.Tables`) on the folded grid, for the lanes in flight."""

    def __init__(self, tables: Tables, lanes: int):
        self.intercept, self.slope = tables.intercept, tables.slope
        self.first, self.last = LaneArray(fold(tables.first), lanes), LaneArray(fold(tables.last), lanes)
        self.single = tables.single
        self.straight, self.floor_counts = tables.straight, tables.floor_counts

    def load(self, lanes: Array, cases: Array) -> None:
        """Take the tables of ``cases`` into ``lanes``."""
        self.first.load(lanes, cases)
        self.last.load(lanes, cases)

    def keep(self, lanes: Array) -> None:
        """Only these lanes go on."""
        self.first.keep(lanes)
        self.last.keep(lanes)

    def read(self, y: Array, index: Any, value: Array, slope: Array) -> None:
        """Value and slope at coordinates y into given arrays; ``index`` is work space and y is used up."""
        if self.straight:
            slope[...] = self.slope[self.first.now]
            np.multiply(slope, y, out=value)
            value += self.intercept[self.first.now]
            return
        np.copyto(index, y, casting="unsafe")
        if not self.single:
            if self.floor_counts:
                np.maximum(index, self.first.now, out=index)
            np.minimum(index, self.last.now, out=index)
        self.slope.take(index, out=slope, mode="clip")
        self.intercept.take(index, out=value, mode="clip")
        np.multiply(y, slope, out=y)
        value += y

    def at(self, y: Array, lanes: Array | None = None) -> tuple[Array, Array]:
        """(value, slope) at coordinates y of all lanes, or of some."""
        if self.single:
            i = y.astype(np.intp)
            slope = self.slope.take(i, mode="clip")
            value = slope * y
            value += self.intercept.take(i, mode="clip")
            return value, slope
        first = self.first.now if lanes is None else self.first.of(lanes)
        last = self.last.now if lanes is None else self.last.of(lanes)
        i = np.clip(y.astype(np.intp), first, last)
        slope = self.slope[i]
        return self.intercept[i] + slope * y, slope

    def inverse(self, value: Array, where: Array, lanes: Array | None = None) -> Array:
        """Coordinates at which the tables give the values that a mask picks, (picked,)."""
        first = self.first.now if lanes is None else self.first.of(lanes)
        last = self.last.now if lanes is None else self.last.of(lanes)
        first, last = (np.broadcast_to(x, value.shape)[where] for x in (first, last))
        return coordinate_of(Tables(self.intercept, self.slope, first, last), value[where])


def rate_of_cases(rate: Any, cases: Array, total: int) -> Any:
    """A rate law with parameters (total,) cut to those of ``cases``; a law without such parameters is returned as it is.

    A law may hold another (a limit around a rate, two branches): those are cut likewise.
    """
    if not is_dataclass(rate) or isinstance(rate, type):
        return rate
    changes = {}
    for f in fields(rate):
        value = getattr(rate, f.name)
        if np.ndim(value) == 1 and len(value) == total:
            changes[f.name] = value[cases]
        elif is_dataclass(value) and (cut := rate_of_cases(value, cases, total)) is not value:
            changes[f.name] = cut
    return replace(rate, **changes) if changes else rate
