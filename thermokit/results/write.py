"""Writes a result to one HDF5 file that any HDF5 or netCDF-4 reader opens as it stands.

The image is built in memory and only then put on disk: a full disk would crash the HDF5 library in the middle of a
file, and a kill would leave half of one.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory
from thermokit.results import layout
from thermokit.results.datasets import keys, nan_for_none, put, put_index, put_number, put_texts
from thermokit.results.fields import put_fields
from thermokit.results.model import layered
from thermokit.results.plain import plain
from thermokit.results.section_write import place_facts, put_probes, write_section
from thermokit.results.whole import name_in_memory, write_whole
from thermokit.units import to_unit

if TYPE_CHECKING:
    from pathlib import Path

    from thermokit.conduction.history import Extreme
    from thermokit.conduction.section_problem import PlaceOfExtreme
    from thermokit.results.model import Result


def write(result: Result, path: str | Path) -> None:
    """Write a result file, whole or not at all.

    Parameters
    ----------
    result : Result
        what to write; temperatures go from kelvin to degC
    path : str or Path
        name of the file; an old one of that name is replaced only when the new one is whole

    Raises
    ------
    DataError
        the folder cannot be written or the disk is full

    """
    write_whole(path, image(result))


def image(result: Result) -> bytes:
    """Bytes of the result file, built in memory: the same result gives the same bytes."""
    import h5py

    with h5py.File(name_in_memory(), "w", driver="core", backing_store=False) as file:
        if isinstance(result.history, SectionHistory):
            write_section(file, result, result.history)
        else:
            _write_rows(file, result)
            _write_ends(file, result)
            _write_body(file, result)
        _write_facts(file, result)
        _write_judgement(file, result)
        put_texts(file.create_group("stations"), "station", "name", "name of the station", result.span_names)
        _write_notes(file, result)
        _write_provenance(file, result)
        put_fields(file, result.fields)
        file.flush()
        content: bytes = file.id.get_file_image()
    return content


def _write_rows(file: Any, result: Result) -> None:
    """Scales, temperatures, states and probes, at the root."""
    history = layered(result)
    scales = {
        v.name: put(file, v, np.asarray(getattr(history, v.field), dtype=np.float64), axis=axis)
        for v, axis in ((layout.TIME, "T"), (layout.DEPTH, "Z"), (layout.EDGE, "Z"))
    }
    extra: dict[str, Any] = {}
    if result.shape != "plane":
        radius = layout.Variable("radius", ("depth",), "m", f"radius of the cell centre in the {result.shape}", "")
        put(file, radius, result.inner_radius + np.asarray(history.centres), [scales["depth"]])
        extra = {"coordinates": "radius"}  # readers then carry the radius along with every field
    for v in layout.ROWS:
        values = np.asarray(getattr(history, v.field), dtype=np.float64)
        put(file, v, values, [scales[a] for a in v.axes], **(extra if "depth" in v.axes else {}))
    put(file, layout.STATION, np.asarray(history.span, dtype=np.int32), [scales["time"]])
    for order, (name, values) in enumerate(history.states.items()):
        v = layout.Variable(name, ("time", "depth"), "1", name.replace("_", " "), "")
        data = np.asarray(values, dtype=np.float64)
        put(file, v, data, [scales["time"], scales["depth"]], state=name, order=order, **extra)
    put_probes(file, result)


def _write_facts(file: Any, result: Result) -> None:
    """What the file as a whole is, as attributes of its root."""
    section = isinstance(result.history, SectionHistory)
    file.attrs.update(
        {
            "Conventions": layout.CONVENTIONS,
            "title": result.provenance.title,
            "source": f"thermokit {result.provenance.version}",
            "process": result.provenance.process,
            "layout": layout.SECTION_LAYOUT if section else layout.LAYOUT,
            "layout_version": layout.LAYOUT_VERSION,
            "body_shape": result.shape,
            "inner_radius_m": float(result.inner_radius),
        }
    )
    ending = result.history.ending
    file.attrs.update(
        {
            "status": ending.status,
            "ending_time_s": float(ending.time),
            "ending_depth_m": nan_for_none(ending.depth),
            "ending_advice": ending.advice,
            "steps_accepted": result.history.accepted,
            "steps_rejected": result.history.rejected,
        }
    )


def _write_judgement(file: Any, result: Result) -> None:
    """Outcomes, limits, heat balance, extremes and crossings, each in its group."""
    group = file.create_group("outcomes")
    for order, (key, o) in enumerate(zip(keys(o.name for o in result.outcomes), result.outcomes, strict=True)):
        put_number(group, key, o.value, o.unit, o.meaning, {"name": o.name, "unit": o.unit, "order": order})
    group = file.create_group("limits")
    for order, (key, c) in enumerate(zip(keys(c.name for c in result.limits), result.limits, strict=True)):
        facts = {
            "name": c.name,
            "unit": c.unit,
            "order": order,
            "required": c.required,
            "margin": nan_for_none(c.margin),
        }
        facts |= {"met": np.int8(c.met), "where": c.where, "when_s": nan_for_none(c.when)}
        put_number(group, key, c.found, c.unit, f"found, for the limit {c.name}", facts)
    group, heat = file.create_group("heat_balance"), result.history.heat
    for v in layout.HEAT:
        put_number(group, v.name, getattr(heat, v.field), v.unit or heat.unit, v.long_name, {})
    group = file.create_group("extremes")
    for name, meaning in layout.EXTREMES.items():
        extreme: Extreme | PlaceOfExtreme = getattr(result.history, name)
        value = to_unit(extreme.value, "degC", "temperature")
        put_number(group, name, value, "degC", meaning, place_facts(extreme))
    crossings = result.history.crossings
    group = file.create_group("crossings")
    for order, (key, (name, time)) in enumerate(zip(keys(crossings), crossings.items(), strict=True)):
        put_number(group, key, time, "s", f"time at which {name} was crossed", {"name": name, "order": order})


def _write_ends(file: Any, result: Result) -> None:
    """The body at the end of each station, with the hottest and coldest point of that station."""
    history = layered(result)
    group = file.create_group("station_ends")
    if not history.ends:
        return
    scales = {
        "end": put_index(group, "end", len(history.ends), "station that ended, counted from 0"),
        "depth": file["depth"],
    }
    for v in layout.ENDS:
        values = np.array([getattr(end, v.field) for end in history.ends], dtype=np.float64)
        put(group, v, values, [scales[a] for a in v.axes])
    for order, name in enumerate(history.ends[0].states):
        values = np.array([end.states[name] for end in history.ends], dtype=np.float64)
        v = layout.Variable(name, ("end", "depth"), "1", f"{name.replace('_', ' ')} at the end of the station", "")
        put(group, v, values, [scales["end"], scales["depth"]], state=name, order=order)
    for which, meaning in layout.EXTREMES.items():
        for part in layout.EXTREME:
            values = np.array([getattr(getattr(end, which), part.field) for end in history.ends], dtype=np.float64)
            long_name = f"{part.long_name} of the {which} point in the station ({meaning})"
            v = layout.Variable(f"{which}_{part.name}", ("end",), part.unit, long_name, "")
            put(group, v, values, [scales["end"]])


def _write_body(file: Any, result: Result) -> None:
    """Names and edges of the layers."""
    group = file.create_group("layers")
    put_texts(group, "layer", "name", "name of the layer", result.layer_names)
    scale = put_index(group, "layer_edge", len(result.layer_edges), "edge of a layer, counted from the inner face")
    v = layout.Variable("edge", ("layer_edge",), "m", "depth of the layer's edge from the inner face", "")
    put(group, v, np.array(result.layer_edges, dtype=np.float64), [scale])


def _write_notes(file: Any, result: Result) -> None:
    """Warnings and cautions, one a row."""
    group = file.create_group("notes")
    for v in layout.NOTES:
        put_texts(group, f"{v.name}_number", v.name, v.long_name, getattr(result, v.field))
    v = layout.SOLVER_NOTES
    put_texts(group, f"{v.name}_number", v.name, v.long_name, result.history.warnings)


def _write_provenance(file: Any, result: Result) -> None:
    """The case as given and as resolved, its SHA-256, the versions used; and what a study adds."""
    provenance = result.provenance
    group = file.create_group("provenance")
    for v in layout.PROVENANCE:
        put(group, v, getattr(provenance, v.field))
    group.attrs["case_sha256"] = provenance.case_sha256
    group.attrs["version"] = provenance.version
    group.attrs["layout_version"] = layout.LAYOUT_VERSION
    group.attrs["versions"] = json.dumps(provenance.versions, sort_keys=True)
    text = json.dumps(plain(result.study), ensure_ascii=False, allow_nan=False)
    put(file.create_group("study"), layout.Variable("json", (), "1", "what a study adds, as JSON text", ""), text)
