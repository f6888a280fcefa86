"""Answers as data sets of xarray: arrays with named axes, units as attributes; the same words as in files and in JSON.

xarray is no part of what thermokit needs; without it, ``to_xarray`` says so and everything else works.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory
from thermokit.errors import DataError
from thermokit.results.model import Axis, Field
from thermokit.units import to_unit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from thermokit.results.model import Result

TIME = "time from the start of the case"


class Tabled:
    """An answer whose numbers can be had as a data set."""

    def fields(self) -> tuple[Field, ...]:
        """The numbers, each with its axes and its unit."""
        raise NotImplementedError

    def facts(self) -> dict[str, Any]:
        """Plain words and numbers that go with them, as attributes of the data set."""
        return {}

    def to_xarray(self) -> Any:
        """The numbers as an ``xarray.Dataset``; DataError where xarray is not installed."""
        return dataset_of(self.fields(), self.facts())


def scalar(name: str, value: float | None, unit: str, meaning: str) -> Field:
    """One number as a field without axes; None becomes NaN."""
    return Field(name, (), unit, np.array(np.nan if value is None else value, float), meaning)


def dataset_of(fields: Sequence[Field], facts: Mapping[str, Any] | None = None) -> Any:
    """Fields as an ``xarray.Dataset``.

    A field ``map/coldest_point`` becomes the variable ``map_coldest_point``; an axis keeps its name where all fields agree on
    its values, else it takes that of the group before it.

    Raises
    ------
    DataError
        xarray is not installed

    """
    xarray = _xarray()
    agreed: dict[str, list[Axis]] = {}
    for field in fields:
        for axis in field.axes:
            known = agreed.setdefault(axis.name, [])
            if not any(_same(axis, other) for other in known):
                known.append(axis)
    names = [word_of(field.name) for field in fields]
    variables: dict[str, Any] = {}
    coordinates: dict[str, Any] = {}
    for field, name in zip(fields, names, strict=True):
        dims = []
        for axis in field.axes:
            alone = len(agreed[axis.name]) == 1 and word_of(axis.name) not in names
            own = word_of(axis.name if alone else f"{field.name.partition('/')[0]}_{axis.name}")
            own = own if own not in names else f"{own}_axis"
            coordinates[own] = (own, _values(axis.values), _attributes(axis.unit, axis.meaning))
            dims.append(own)
        variables[name] = (tuple(dims), np.asarray(field.values), _attributes(field.unit, field.meaning))
    return xarray.Dataset(variables, coordinates, {k: v for k, v in (facts or {}).items() if v is not None})


def result_fields(result: Result) -> tuple[Field, ...]:
    """Rows of a run, its outcomes and margins, and the fields it left: temperatures in degC.

    Variables have the names of the result file: ``temperature(time, depth)`` or ``temperature(time, node)``, ``outcomes_NAME``,
    ``margins_NAME``.
    """
    history = result.history
    time = Axis("time", "s", history.time, TIME)
    found: list[Field] = []

    def celsius(name: str, axes: tuple[Axis, ...], kelvin: Any, meaning: str) -> None:
        found.append(Field(name, axes, "degC", to_unit(np.asarray(kelvin), "degC", "temperature"), meaning))

    if isinstance(history, SectionHistory):
        found += _section(history, time)
    else:
        depth = Axis("depth", "m", history.centres, "depth of the cell from the inner face")
        celsius("temperature", (time, depth), history.temperature, "temperature")
        celsius("inner_face_temperature", (time,), history.inner_face, "temperature of the inner face")
        celsius("outer_face_temperature", (time,), history.outer_face, "temperature of the outer face")
        found += [Field(name, (time, depth), "1", values, name) for name, values in history.states.items()]
    for name, values in result.probes.items():
        celsius(f"{name}_temperature", (time,), values, f"temperature at {name}")
    found += [scalar(f"outcomes/{o.name}", o.value, o.unit, o.meaning) for o in result.outcomes]
    for check in result.limits:
        unit = "K" if check.unit == "degC" else check.unit
        found.append(scalar(f"margins/{check.name}", check.margin, unit, f"margin to {check.required}"))
    return (*found, *result.fields)


def result_facts(result: Result) -> dict[str, Any]:
    """Where a run comes from and how it ended."""
    own = result.provenance
    return {
        "title": own.title,
        "process": own.process,
        "status": result.status,
        "case_sha256": own.case_sha256,
        "thermokit_version": own.version,
    }


def result_dataset(result: Result) -> Any:
    """A run as an ``xarray.Dataset``; DataError where xarray is not installed."""
    return dataset_of(result_fields(result), result_facts(result))


def word_of(name: str) -> str:
    """A name as a variable may be called: letters, digits and what joins them.

    >>> word_of("map/coldest_point"), word_of("sheet.thickness"), word_of("core (top)")
    ('map_coldest_point', 'sheet.thickness', 'core_top')
    """
    return re.sub(r"[^\w.\-]+", "_", name).strip("_") or "value"


def _section(history: SectionHistory, time: Axis) -> list[Field]:
    """Rows of a section: its nodes with their places, the hottest place of each region."""
    mesh = history.mesh
    node = Axis("node", "", np.arange(len(mesh.x), dtype=np.int64), "number of the node")
    celsius = to_unit(np.asarray(history.temperature), "degC", "temperature")
    found = [
        Field("temperature", (time, node), "degC", celsius, "temperature"),
        Field("x", (node,), "m", mesh.x, "place of the node, across"),
        Field("y", (node,), "m", mesh.y, "place of the node, up"),
    ]
    for name, values in history.peaks.items():
        hottest = to_unit(np.asarray(values), "degC", "temperature")
        found.append(Field(f"{name}_hottest", (time,), "degC", hottest, f"hottest place of {name}"))
    return found


def _xarray() -> Any:
    try:
        import xarray
    except ImportError:
        raise DataError(
            "a data set needs xarray, which is not installed: `pip install xarray`; numbers are in the answer itself without it"
        ) from None
    return xarray


def _attributes(unit: str, meaning: str) -> dict[str, str]:
    return {"units": unit or "1", "long_name": meaning}


def _values(values: Any) -> NDArray[Any]:
    found = np.asarray(values)
    return np.asarray([str(v) for v in found], dtype=object) if found.dtype.kind in "USO" else found


def _same(a: Axis, b: Axis) -> bool:
    """Whether two axes stand for the same places."""
    one, other = _values(a.values), _values(b.values)
    return a.unit == b.unit and one.shape == other.shape and bool(np.all(one == other))
