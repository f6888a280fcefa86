"""The rows, mesh and ends of a section in its result file, and the same as an unstructured grid for a VTK reader."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results import layout
from thermokit.results.datasets import keys, put, put_index

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.history import Extreme
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import PlaceOfExtreme
    from thermokit.results.model import Result

VTK_TRIANGLE = 5  # cell type of the VTK file formats
VTKHDF_VERSION = (2, 0)  # of the published VTKHDF format; 2.0 is the first with time steps


def place_facts(extreme: Extreme | PlaceOfExtreme) -> dict[str, Any]:
    """Time and place of an extreme, as attributes."""
    if hasattr(extreme, "depth"):
        return {"time_s": extreme.time, "depth_m": extreme.depth}
    return {"time_s": extreme.time, "x_m": extreme.x, "y_m": extreme.y, "region": extreme.region}


def put_probes(file: Any, result: Result) -> None:
    """The series of the probes, at the root."""
    probe_keys = keys((f"{name}_temperature" for name in result.probes), file)
    for order, (key, (name, values)) in enumerate(zip(probe_keys, result.probes.items(), strict=True)):
        v = layout.Variable(key, ("time",), "degC", f"temperature at the probe {name}", "")
        put(file, v, np.asarray(values, dtype=np.float64), [file["time"]], probe=name, order=order)


def write_section(file: Any, result: Result, history: SectionHistory) -> None:
    """Everything that is a section's own: rows, mesh, regions, faces, ends, and the view for VTK readers."""
    _write_rows(file, history)
    put_probes(file, result)
    _write_mesh(file, history)
    _write_ends(file, history)
    file.attrs["axisymmetric"] = np.int8(history.axisymmetric)
    file.attrs["steady"] = np.int8(history.steady)
    _write_vtk(file, history)


def _write_rows(file: Any, history: SectionHistory) -> None:
    """Scales and what lies at the nodes."""
    mesh = history.mesh
    put(file, layout.TIME, np.asarray(history.time, dtype=np.float64), axis="T")
    for v, count in ((layout.NODE, len(mesh.x)), (layout.CELL, len(mesh.triangles)), (layout.CORNER, 3)):
        put(file, v, np.arange(count, dtype=np.int32))
    for v in (layout.NODE_X, layout.NODE_Y):
        put(file, v, np.asarray(getattr(mesh, v.field), dtype=np.float64), [file["node"]])
    rows = np.asarray(history.temperature, dtype=np.float64)
    put(file, layout.NODE_TEMPERATURE, rows, [file["time"], file["node"]], coordinates="x y")
    put(file, layout.STATION, np.asarray(history.span, dtype=np.int32), [file["time"]])
    for v in (layout.CELL_NODE, layout.CELL_REGION):
        put(file, v, np.asarray(getattr(mesh, v.field), dtype=np.int64), [file[axis] for axis in v.axes])


def _write_mesh(file: Any, history: SectionHistory) -> None:
    """Regions and faces by name, the hottest place of each region, the sides and joints of the mesh."""
    _put_names(file, "region", "name of the region", history.region_names)
    if history.peaks:
        v = layout.Variable("hottest", ("time", "region"), "degC", "hottest place of the region", "")
        values = np.column_stack([history.peaks[name] for name in history.region_names])
        put(file["regions"], v, values, [file["time"], file["region"]])
    _put_names(file, "face", "name of the edge or channel", history.face_names)
    for name, v in layout.MESH_PARTS:
        values = np.asarray(getattr(history.mesh, v.field), dtype=np.int64)
        if not len(values):
            continue  # netCDF has no empty axes
        group = file.require_group(name)
        for axis, count in zip(v.axes, values.shape, strict=True):
            if axis not in group:
                put_index(group, axis, count, f"number of the {axis}, counted from 0")
        put(group, v, values, [group[axis] for axis in v.axes])


def _put_names(file: Any, axis: str, long_name: str, names: Sequence[str]) -> None:
    """Names in a group of their own, their scale at the root, where every group finds it; none, and there is no scale."""
    group = file.create_group(f"{axis}s")
    if names:
        scale = put_index(file, axis, len(names), f"number of the {axis}, counted from 0")
        put(group, layout.Variable("name", (axis,), "1", long_name, ""), np.array(names, dtype=np.str_), [scale])


def _write_ends(file: Any, history: SectionHistory) -> None:
    """The section at the end of each station, the heat by face, hottest and coldest place of the station."""
    group = file.create_group("station_ends")
    if not history.ends:
        return
    ends = put_index(group, "end", len(history.ends), "station that ended, counted from 0")
    put(group, layout.ENDS[0], np.array([end.time for end in history.ends]), [ends])
    v = layout.Variable("temperature", ("end", "node"), "degC", "temperature at the end of the station", "")
    put(group, v, np.array([end.temperature for end in history.ends]), [ends, file["node"]])
    if history.face_names:
        heat = np.array([[end.heat.get(name, 0.0) for name in history.face_names] for end in history.ends])
        v = layout.Variable("heat", ("end", "face"), history.heat.unit, "heat that went in through the face", "")
        put(group, v, heat, [ends, file["face"]])
    for which, meaning in layout.EXTREMES.items():
        for part in layout.PLACE:
            values = np.array([getattr(getattr(end, which), part.field) for end in history.ends], dtype=np.float64)
            long_name = f"{part.long_name} of the {which} place in the station ({meaning})"
            put(group, layout.Variable(f"{which}_{part.name}", ("end",), part.unit, long_name, ""), values, [ends])
        names = np.array([getattr(end, which).region for end in history.ends], dtype=np.str_)
        v = layout.Variable(f"{which}_region", ("end",), "1", f"region of the {which} place in the station", "")
        put(group, v, names, [ends])


def _point_at(group: Any, name: str, source: Any) -> None:
    """A flat dataset that holds nothing of its own but points at another one of the same file.

    Made by the library's plain calls, since its short way writes the time of day into the file: the same result must give the
    same bytes.
    """
    from h5py import h5d, h5p, h5s, h5t

    plan = h5p.create(h5p.DATASET_CREATE)
    plan.set_obj_track_times(False)
    whole = h5s.create_simple((source.size,))
    plan.set_virtual(whole, b".", source.name.encode(), h5s.create_simple(source.shape))
    h5d.create(group.id, name.encode(), h5t.py_create(source.dtype, logical=True), whole, dcpl=plan)


def _write_vtk(file: Any, history: SectionHistory) -> None:
    """The same mesh and temperatures as the VTKHDF format has them: one part, a mesh that stays, a step for each row."""
    import h5py

    mesh = history.mesh
    nodes, cells, rows = len(mesh.x), len(mesh.triangles), len(history.time)
    group = file.create_group("VTKHDF")
    group.attrs["Version"] = np.array(VTKHDF_VERSION, dtype=np.int64)
    group.attrs.create("Type", b"UnstructuredGrid", dtype=h5py.string_dtype("ascii", len(b"UnstructuredGrid")))
    for name, count in (("NumberOfPoints", nodes), ("NumberOfCells", cells), ("NumberOfConnectivityIds", 3 * cells)):
        group[name] = np.array([count], dtype=np.int64)
    points = np.column_stack([mesh.x, mesh.y, np.zeros(nodes)])
    packing: dict[str, Any] = {"compression": "gzip", "shuffle": True}
    group.create_dataset("Points", data=points, **packing)
    group.create_dataset("Connectivity", data=np.asarray(mesh.triangles, dtype=np.int64).ravel(), **packing)
    group.create_dataset("Offsets", data=3 * np.arange(cells + 1, dtype=np.int64), **packing)
    group.create_dataset("Types", data=np.full(cells, VTK_TRIANGLE, dtype=np.uint8), **packing)
    # flat, as the format wants it, without storing the field twice
    _point_at(group.create_group("PointData"), "temperature", file["temperature"])
    _point_at(group.create_group("CellData"), "region", file["cell_region"])
    steps = group.create_group("Steps")
    steps.attrs["NSteps"] = np.int64(rows)
    steps["Values"] = np.asarray(history.time, dtype=np.float64)
    still = np.zeros(rows, dtype=np.int64)
    steps["PartOffsets"] = still
    steps["PointOffsets"] = still
    steps["NumberOfParts"] = np.ones(rows, dtype=np.int64)
    for name in ("CellOffsets", "ConnectivityIdOffsets"):
        steps[name] = still[:, None]
    steps.create_group("PointDataOffsets")["temperature"] = nodes * np.arange(rows, dtype=np.int64)
    steps.create_group("CellDataOffsets")["region"] = still
