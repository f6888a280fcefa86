"""Arrays of a batch: cells folded about the middle of the body, cases in lanes.

Cell i and cell n-1-i share a row: an array (n, cases) becomes (rows, 2, lanes), so that both faces lie in row 0 and an
elimination runs from both ends at once, on long contiguous rows. An odd body has its middle cell in both columns, as two
halves that are held together by a conductance far above all others.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array


def fold(x: Array) -> Array:
    """(n, c) -> (rows, 2, c) with rows = ceil(n/2); column 0 runs from the inner face, column 1 from the outer."""
    rows = (len(x) + 1) // 2
    return np.ascontiguousarray(np.stack([x[:rows], x[::-1][:rows]], axis=1))


def unfold(x: Array, n: int) -> Array:
    """(rows, 2, c) -> (n, c): the inverse of :func:`fold`."""
    return np.concatenate([x[:, 0], x[: n // 2, 1][::-1]])


class LaneArray:
    """A quantity that may differ between cases, laid out for the lanes in flight.

    source : (..., 1) where all cases share it, else (..., cases); ``now`` : (..., 1) or (..., lanes).
    """

    def __init__(self, source: Array, lanes: int):
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


def rate_of_cases(rate: Any, cases: Array, total: int) -> Any:
    """A rate law with parameters (total,) cut to those of ``cases``; a law without such parameters is returned as it is."""
    if not is_dataclass(rate) or isinstance(rate, type):
        return rate
    changes = {
        f.name: getattr(rate, f.name)[cases]
        for f in fields(rate)
        if np.ndim(getattr(rate, f.name)) == 1 and len(getattr(rate, f.name)) == total
    }
    return replace(rate, **changes) if changes else rate
