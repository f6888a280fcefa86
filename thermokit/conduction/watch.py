"""Thresholds to be located inside a step: when does the coldest point reach 127 degC?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

PLACES = ("coldest", "hottest", "inner_face", "outer_face")


@dataclass(frozen=True)
class Watch:
    """A threshold [K] on a place: ``coldest``, ``hottest``, ``inner_face``, ``outer_face`` or a depth [m].

    ``rising`` True waits for the value to reach the threshold from below. The first crossing of the whole run counts;
    a run that begins beyond the threshold crosses at its start.
    """

    name: str
    place: str | float
    threshold: float
    rising: bool = True

    def value(self, depth: Array, profile: Array) -> Array:
        """The watched temperature, (rows,) [K]; depth (points,) [m] and profile (rows, points) hold faces and cells."""
        if self.place == "coldest":
            return np.asarray(profile.min(axis=1))
        if self.place == "hottest":
            return np.asarray(profile.max(axis=1))
        if self.place == "inner_face":
            return profile[:, 0]
        if self.place == "outer_face":
            return profile[:, -1]
        return along(depth, profile, float(self.place))


def along(depth: Array, profile: Array, at: float) -> Array:
    """Linear through faces and cell centres: (rows,) at a depth [m] of profile (rows, points)."""
    i = int(np.clip(np.searchsorted(depth, at) - 1, 0, len(depth) - 2))
    share = (at - depth[i]) / (depth[i + 1] - depth[i])
    return np.asarray(profile[:, i] + share * (profile[:, i + 1] - profile[:, i]))
