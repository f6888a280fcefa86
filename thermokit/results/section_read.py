"""Reads the rows, mesh and ends of a section back out of its result file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory, SectionSpanEnd
from thermokit.conduction.section_problem import PlaceOfExtreme, SectionMesh
from thermokit.results import layout
from thermokit.units import from_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.history import Ending, HeatBalance


def section_history(file: Any, shared: dict[str, Any], heat: HeatBalance, ending: Ending) -> SectionHistory:
    """The history of a section; ``shared`` : what it has in common with that of a layered body."""
    regions, faces = texts(file["regions"], "name"), texts(file["faces"], "name")
    peaks = {}
    if "hottest" in file["regions"]:
        values = celsius_back(file["regions/hottest"])
        peaks = {name: values[:, i] for i, name in enumerate(regions)}
    return SectionHistory(
        mesh=_mesh(file),
        time=np.asarray(file["time"][()], dtype=np.float64),
        span=np.asarray(file["station"][()], dtype=np.int64),
        temperature=celsius_back(file["temperature"]),
        heat=heat,
        hottest=_place(file["extremes/hottest"]),
        coldest=_place(file["extremes/coldest"]),
        ends=_ends(file["station_ends"], faces),
        ending=ending,
        region_names=regions,
        face_names=faces,
        axisymmetric=bool(file.attrs["axisymmetric"]),
        steady=bool(file.attrs["steady"]),
        peaks=peaks,
        **shared,
    )


def celsius_back(dataset: Any) -> NDArray[np.float64]:
    """Temperatures of a dataset [K]."""
    return np.asarray(from_unit(np.asarray(dataset[()], dtype=np.float64), "degC", "temperature"))


def texts(group: Any, name: str) -> tuple[str, ...]:
    """A list of texts; one that was left out is empty."""
    return tuple(str(text) for text in group[name].asstr()[()]) if name in group else ()


def _mesh(file: Any) -> SectionMesh:
    fields: dict[str, Any] = {
        "x": np.asarray(file["x"][()], dtype=np.float64),
        "y": np.asarray(file["y"][()], dtype=np.float64),
        "triangles": np.asarray(file["cell_node"][()], dtype=np.int64),
        "region": np.asarray(file["cell_region"][()], dtype=np.int64),
    }
    widths = {"end": 2, "four": 4, "two": 2}
    for group, v in layout.MESH_PARTS:
        path = f"{group}/{v.name}"
        shape = tuple(widths.get(axis, 0) for axis in v.axes)
        fields[v.field] = np.asarray(file[path][()], np.int64) if path in file else np.zeros(shape, np.int64)
    return SectionMesh(**fields)


def _place(dataset: Any) -> PlaceOfExtreme:
    facts = dataset.attrs
    value = from_unit(float(dataset[()]), "degC", "temperature")
    return PlaceOfExtreme(value, float(facts["time_s"]), float(facts["x_m"]), float(facts["y_m"]), str(facts["region"]))


def _ends(group: Any, faces: tuple[str, ...]) -> tuple[SectionSpanEnd, ...]:
    """One end for each station that ended."""
    if "end" not in group:
        return ()
    temperature = celsius_back(group["temperature"])
    heat = np.asarray(group["heat"][()]) if "heat" in group else np.zeros((len(temperature), 0))
    places: dict[str, list[PlaceOfExtreme]] = {}
    for which in layout.EXTREMES:
        value = celsius_back(group[f"{which}_temperature"])
        time, x, y = (np.asarray(group[f"{which}_{name}"][()], float) for name in ("time", "x", "y"))
        names = texts(group, f"{which}_region")
        places[which] = [
            PlaceOfExtreme(float(v), float(t), float(a), float(b), name)
            for v, t, a, b, name in zip(value, time, x, y, names, strict=True)
        ]
    return tuple(
        SectionSpanEnd(
            time=float(time),
            temperature=temperature[i],
            heat={name: float(amount) for name, amount in zip(faces, heat[i], strict=True)},
            hottest=places["hottest"][i],
            coldest=places["coldest"][i],
        )
        for i, time in enumerate(np.asarray(group["time"][()], float))
    )
