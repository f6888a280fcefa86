"""Puts one variable into an HDF5 group as netCDF-4 readers expect it: unit, meaning, a scale on every axis."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.layout import Variable
from thermokit.units import to_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def put(
    group: Any,
    variable: Variable,
    values: Any,
    scales: Sequence[Any] = (),
    *,
    as_given: bool = False,
    **attributes: Any,
) -> Any:
    """Add a variable to a group: unit, meaning, a scale on every axis; compressed unless it is one number.

    Temperatures are turned from kelvin to degC, unless they are stored ``as_given``: in the variable's unit already.
    """
    import h5py

    data, kind = np.asarray(values), None
    if data.dtype.kind in "US" or isinstance(values, str):
        data, kind = np.asarray(values, dtype=object), h5py.string_dtype()
    elif variable.unit == "degC" and not as_given:
        data = to_unit(data, "degC", "temperature")
    packing = {"compression": "gzip", "shuffle": True} if data.size and data.ndim else {}
    dataset = group.create_dataset(variable.name, data=data, dtype=kind, **packing)
    dataset.attrs["units"] = variable.unit
    dataset.attrs["long_name"] = variable.long_name
    for name, value in attributes.items():
        dataset.attrs[name] = value
    if variable.axes == (variable.name,):
        dataset.make_scale(variable.name)
    for axis, scale in enumerate(scales):
        dataset.dims[axis].attach_scale(scale)
    return dataset


def put_index(group: Any, name: str, count: int, long_name: str) -> Any:
    """Add the dimension scale of a list: 0, 1, 2, ..."""
    return put(group, Variable(name, (name,), "1", long_name, ""), np.arange(count, dtype=np.int32))


def keys(names: Iterable[str], taken: Iterable[str] = ()) -> list[str]:
    """Names that HDF5 takes, all different, as near as can be to those given.

    >>> keys(["core", "a/b", "core"])
    ['core', 'a_b', 'core_2']
    """
    used, out = set(taken), []
    for name in names:
        stem = name.replace("/", "_").strip(".") or "unnamed"
        key, count = stem, 1
        while key in used:
            count += 1
            key = f"{stem}_{count}"
        used.add(key)
        out.append(key)
    return out


def put_number(group: Any, key: str, value: float | None, unit: str, long_name: str, facts: dict[str, Any]) -> None:
    """Add one number; where there is none, NaN and the flag ``reached`` 0."""
    dataset = group.create_dataset(key, data=nan_for_none(value))
    dataset.attrs["units"] = unit or "1"
    dataset.attrs["long_name"] = long_name
    dataset.attrs["reached"] = np.int8(value is not None)
    for name, given in facts.items():
        dataset.attrs[name] = given


def put_texts(group: Any, axis: str, name: str, long_name: str, texts: Sequence[str]) -> None:
    """Add a list of texts with its scale; an empty list leaves nothing, for netCDF has no empty axes."""
    if texts:
        scale = put_index(group, axis, len(texts), f"number of the {name}, counted from 0")
        variable = Variable(name, (axis,), "1", long_name, "")
        put(group, variable, np.array(texts, dtype=np.str_), [scale])


def nan_for_none(value: float | None) -> float:
    """A number for the file: NaN stands for none."""
    return math.nan if value is None else float(value)
