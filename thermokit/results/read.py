"""Reads a result file back into the Result that was written, or says in plain words why it cannot."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.traps import BROKEN, content, refuse_traps
from thermokit.conduction.history import Ending, Extreme, HeatBalance, History, SpanEnd
from thermokit.errors import DataError
from thermokit.logs.text import refuse_device
from thermokit.results import layout
from thermokit.results.fields import get_fields
from thermokit.results.model import LimitCheck, Outcome, Provenance, Result
from thermokit.results.section_read import section_history
from thermokit.units import from_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from thermokit.conduction.section_history import SectionHistory


def read(path: str | Path) -> Result:
    """Read a result file: temperatures come back in kelvin, a number that was not reached as None.

    Parameters
    ----------
    path : str or Path
        a file written by ``write``

    Returns
    -------
    Result
        equal to the one that was written

    Raises
    ------
    DataError
        no such file, not HDF5, damaged, not a result of thermokit, or written by a newer thermokit

    """
    import h5py

    path = Path(path)
    if not path.exists():
        raise DataError(f"cannot read {path}: there is no such file")
    if path.is_dir():
        raise DataError(f"cannot read {path}: that is a folder; give a result file")
    refuse_device(path)
    try:
        held = content(path)
    except OSError as error:
        raise DataError(f"cannot read {path}: {error.strerror or error}") from None
    if held is None:
        raise DataError(f"cannot read {path}: it is not a result file (not HDF5); `thermokit run` writes one")
    try:
        # From memory: a viewer, in this process or another, may hold the file open with locks that would refuse us.
        with h5py.File(h5py.h5f.open_file_image(held)) as file:
            refuse_traps(file)
            _check_layout(path, file)
            return _result(file)
    except BROKEN as error:
        reason = str(error).splitlines()[0].strip("'\"") if str(error) else type(error).__name__
        raise DataError(
            f"cannot read {path}: the file is damaged or cut short ({reason}); run the case again"
        ) from None


def _check_layout(path: Path, file: Any) -> None:
    """Refuse a file of another kind, or of a later layout than this one."""
    if file.attrs.get("layout") == layout.SWEEP_LAYOUT:
        raise DataError(
            f"cannot read {path} as the result of a run: it is the table of a sweep; `thermokit show` prints it, and "
            "writes it as CSV with --csv"
        )
    if file.attrs.get("layout") not in (layout.LAYOUT, layout.SECTION_LAYOUT):
        raise DataError(f"cannot read {path}: it is an HDF5 file, but not the result of a thermokit run")
    version = int(file.attrs["layout_version"])
    if version > layout.LAYOUT_VERSION:
        raise DataError(
            f"cannot read {path}: it was written by a newer thermokit (layout {version}, this one reads up to "
            f"{layout.LAYOUT_VERSION}); update thermokit"
        )


def _result(file: Any) -> Result:
    """The whole result, from an open file of a known layout."""
    parts = "regions" if file.attrs["layout"] == layout.SECTION_LAYOUT else "layers"
    return Result(
        provenance=_provenance(file),
        history=_history(file),
        shape=str(file.attrs["body_shape"]),
        inner_radius=float(file.attrs["inner_radius_m"]),
        span_names=_texts(file["stations"], "name"),
        layer_names=_texts(file[parts], "name"),
        layer_edges=tuple(float(edge) for edge in file["layers/edge"][()]) if parts == "layers" else (),
        outcomes=tuple(
            Outcome(str(d.attrs["name"]), _number(d), str(d.attrs["unit"]), str(d.attrs["long_name"]))
            for d in _ordered(file["outcomes"], "name")
        ),
        limits=tuple(_limit(d) for d in _ordered(file["limits"], "name")),
        probes={str(d.attrs["probe"]): _values(d) for d in _ordered(file, "probe")},
        warnings=_texts(file["notes"], layout.NOTES[0].name),
        cautions=_texts(file["notes"], layout.NOTES[1].name),
        remarks=_texts(file["notes"], layout.NOTES[2].name) if layout.NOTES[2].name in file["notes"] else (),
        study=json.loads(file["study/json"].asstr()[()]),
        fields=get_fields(file),
    )


def _ordered(group: Any, mark: str) -> Iterator[Any]:
    """Datasets of a group that carry the mark, in the order in which they were given."""
    found = [d for d in group.values() if mark in d.attrs and "order" in d.attrs]
    yield from sorted(found, key=lambda d: int(d.attrs["order"]))


def _values(dataset: Any) -> NDArray[np.float64]:
    """All values of a dataset in SI, degC turned back to kelvin."""
    values = np.asarray(dataset[()], dtype=np.float64)
    if dataset.attrs["units"] == "degC":
        values = from_unit(values, "degC", "temperature")
    return values


def _number(dataset: Any) -> float | None:
    """The number of a dataset as it stands, None where it was not reached."""
    return float(dataset[()]) if int(dataset.attrs["reached"]) else None


def _optional(value: Any) -> float | None:
    """A number, None for NaN."""
    return None if math.isnan(value) else float(value)


def _texts(group: Any, name: str) -> tuple[str, ...]:
    """A list of texts; one that was left out is empty."""
    return tuple(str(text) for text in group[name].asstr()[()]) if name in group else ()


def _limit(dataset: Any) -> LimitCheck:
    facts = dataset.attrs
    return LimitCheck(
        name=str(facts["name"]),
        required=str(facts["required"]),
        found=_number(dataset),
        unit=str(facts["unit"]),
        margin=_optional(facts["margin"]),
        met=bool(facts["met"]),
        where=str(facts["where"]),
        when=_optional(facts["when_s"]),
    )


def _provenance(file: Any) -> Provenance:
    group = file["provenance"]
    return Provenance(
        title=str(file.attrs["title"]),
        process=str(file.attrs["process"]),
        case_text=group["case_text"].asstr()[()],
        resolved_text=group["resolved_text"].asstr()[()],
        case_sha256=str(group.attrs["case_sha256"]),
        version=str(group.attrs["version"]),
        versions=json.loads(group.attrs["versions"]),
    )


def _history(file: Any) -> History | SectionHistory:
    """Rows, balance, extremes and ends, back in kelvin."""
    heat, facts = file["heat_balance"], file.attrs
    balance = HeatBalance(
        **{v.field: float(heat[v.name][()]) for v in layout.HEAT}, unit=str(heat["in"].attrs["units"])
    )
    ending = Ending(
        status=facts["status"],
        time=float(facts["ending_time_s"]),
        depth=_optional(facts["ending_depth_m"]),
        advice=str(facts["ending_advice"]),
    )
    shared: dict[str, Any] = {
        "crossings": {str(d.attrs["name"]): _number(d) for d in _ordered(file["crossings"], "name")},
        "warnings": _texts(file["notes"], layout.SOLVER_NOTES.name),
        "accepted": int(facts["steps_accepted"]),
        "rejected": int(facts["steps_rejected"]),
    }
    if facts["layout"] == layout.SECTION_LAYOUT:
        return section_history(file, shared, balance, ending)
    rows: dict[str, Any] = {v.field: _values(file[v.name]) for v in layout.ROWS}
    return History(
        time=_values(file["time"]),
        span=np.asarray(file["station"][()], dtype=np.int64),
        edges=_values(file["depth_edge"]),
        centres=_values(file["depth"]),
        states={str(d.attrs["state"]): _values(d) for d in _ordered(file, "state")},
        heat=balance,
        hottest=_extreme(file["extremes/hottest"]),
        coldest=_extreme(file["extremes/coldest"]),
        ends=_ends(file["station_ends"]),
        ending=ending,
        **shared,
        **rows,
    )


def _extreme(dataset: Any) -> Extreme:
    value = from_unit(float(dataset[()]), "degC", "temperature")
    return Extreme(value, float(dataset.attrs["time_s"]), float(dataset.attrs["depth_m"]))


def _ends(group: Any) -> tuple[SpanEnd, ...]:
    """One SpanEnd for each station that ended."""
    if "end" not in group:
        return ()
    columns = {name: _values(group[name]) for name in group if name != "end"}
    states = [str(d.attrs["state"]) for d in _ordered(group, "state")]
    ends = []
    for row in range(len(group["end"])):
        extremes = [
            Extreme(*(float(columns[f"{which}_{part.name}"][row]) for part in layout.EXTREME))
            for which in layout.EXTREMES
        ]
        ends.append(
            SpanEnd(
                time=float(columns["time"][row]),
                temperature=columns["temperature"][row],
                inner_face=float(columns["inner_face_temperature"][row]),
                outer_face=float(columns["outer_face_temperature"][row]),
                states={name: columns[name][row] for name in states},
                hottest=extremes[0],
                coldest=extremes[1],
            )
        )
    return tuple(ends)
