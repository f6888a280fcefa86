"""A layered result as a grid of time and depth that a VTK reader opens; a section's result file is one already.

The file is that of the published legacy VTK format (version 3.0, binary): a rectilinear grid with time [s] along x and depth [mm]
along y, faces and cell centres; point data ``temperature_degC`` and the degrees of cure, gelation and the like. A cell's degree
stands on the face next to it too. What does not exist is NaN.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.results.model import layered
from thermokit.results.objects import word_of
from thermokit.units import to_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.results.model import Result

TITLE = 255  # characters that the format has room for


def as_vtk(result: Result) -> bytes:
    """Bytes of the file.

    Raises DataError for a section, whose own result file holds a grid that VTK readers open (VTKHDF).
    """
    history = layered(result)
    depth = 1e3 * np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    shown = {"temperature_degC": to_unit(profile, "degC", "temperature")}
    for name, values in history.states.items():
        shown[word_of(name)] = np.column_stack([values[:, :1], values, values[:, -1:]])
    title = f"{result.provenance.title or 'thermokit'}: x time [s], y depth from the inner face [mm]"
    plain = title.encode("ascii", "replace").decode().replace("\n", " ")[:TITLE]
    parts = [
        f"# vtk DataFile Version 3.0\n{plain}\nBINARY\nDATASET RECTILINEAR_GRID\n".encode(),
        f"DIMENSIONS {len(history.time)} {len(depth)} 1\n".encode(),
    ]
    for axis, along in (("X", np.asarray(history.time, float)), ("Y", depth), ("Z", np.zeros(1))):
        parts += [f"{axis}_COORDINATES {len(along)} double\n".encode(), _numbers(along)]
    parts.append(f"POINT_DATA {len(history.time) * len(depth)}\n".encode())
    for name, values in shown.items():
        parts += [f"SCALARS {name} double 1\nLOOKUP_TABLE default\n".encode(), _numbers(values.T)]  # time runs first
    return b"".join(parts)


def _numbers(values: NDArray[np.float64]) -> bytes:
    """Numbers as the format has them: big end first, then a new line."""
    return np.ascontiguousarray(values, dtype=">f8").tobytes() + b"\n"
