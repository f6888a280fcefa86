"""The temperature at a place of a section in every row, also where regions come and go."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_mesh_places import interpolation
from thermokit.errors import DataError

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory


def series(history: SectionHistory, place: tuple[float, float]) -> Array:
    """Temperature at a place [K], (rows,): linear over triangles; of the first region that is there, NaN where none is.

    Raises DataError for a place outside every region.
    """
    found = np.full(len(history.time), np.nan)
    points = np.array([place])
    nodes, weights = interpolation(history.mesh, points)
    found = np.asarray(history.temperature[:, nodes[0]] @ weights[0])
    for region in range(len(history.region_names)):
        missing = np.isnan(found)
        if not missing.any():
            break
        try:
            nodes, weights = interpolation(history.mesh, points, region)
        except DataError:
            continue
        found[missing] = history.temperature[missing][:, nodes[0]] @ weights[0]
    return found
