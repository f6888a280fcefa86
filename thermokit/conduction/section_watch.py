"""Thresholds of a section that are located inside a step: when does the hottest place of the part fall to 90 degC?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_mesh_places import interpolation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_problem import SectionMesh, SectionProblem

    Whole = NDArray[np.intp]


@dataclass(frozen=True)
class SectionWatch:
    """A threshold [K] on ``hottest`` or ``coldest`` of a region ("" for the whole section), or on a point (x, y) [m].

    ``rising`` True waits for the value to reach the threshold from below. The first crossing counts; a run that begins beyond
    the threshold crosses at its start. Nothing is seen while the region is absent.
    """

    name: str
    place: str | tuple[float, float]
    threshold: float
    rising: bool = True
    region: str = ""


class Watcher:
    """A watch made ready for a mesh: its value from the temperatures of all nodes."""

    def __init__(self, watch: SectionWatch, problem: SectionProblem, mesh: SectionMesh):
        self.watch = watch
        self.sign = 1.0 if watch.rising else -1.0
        self.found: float | None = None
        names = [region.name for region in problem.regions]
        if watch.region and watch.region not in names:
            raise ValueError(f"watch {watch.name!r}: no region is named {watch.region!r}; there are {', '.join(names)}")
        if isinstance(watch.place, str):
            if watch.place not in ("hottest", "coldest"):
                raise ValueError(f"watch {watch.name!r}: {watch.place!r} is not hottest, coldest or a point")
            cells = mesh.region == names.index(watch.region) if watch.region else np.ones(len(mesh.region), bool)
            self.nodes = np.unique(mesh.triangles[cells]).astype(np.intp)
            self.weights = None
        else:
            region = names.index(watch.region) if watch.region else None
            nodes, weights = interpolation(mesh, np.array([watch.place], float), region)
            self.nodes, self.weights = nodes[0].astype(np.intp), weights[0]

    def value(self, temperature: Array, active: Array) -> float:
        """The watched temperature [K]; not-a-number while nothing of it is there."""
        if self.weights is not None:
            return float(self.weights @ temperature[self.nodes]) if active[self.nodes].all() else float("nan")
        there = self.nodes[active[self.nodes]]
        if not len(there):
            return float("nan")
        part = temperature[there]
        return float(part.max() if self.watch.place == "hottest" else part.min())

    def beyond(self, value: float) -> bool:
        """Whether the threshold is reached."""
        return self.sign * (value - self.watch.threshold) >= 0.0
