"""Fields in the file: maps, histories of a tool and tables by shot, each in its group with its axes beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.datasets import keys, put
from thermokit.results.layout import Variable
from thermokit.results.model import Axis, Field

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from thermokit.results.model import Result


def find(result: Result, name: str) -> Field | None:
    """The field of that name (``map/coldest_point``), None where the result has none."""
    return next((field for field in result.fields if field.name == name), None)


def group_of(field: Field) -> str:
    """Group of a field: what stands before the slash of its name."""
    return field.name.partition("/")[0]


def short_name(field: Field) -> str:
    """Name of a field within its group."""
    return field.name.partition("/")[2]


def axis_values(axis: Axis) -> NDArray[Any] | tuple[str, ...]:
    """Values along an axis as they are stored and read back: (n,) of float64 or int64, or n words."""
    values = np.asarray(axis.values)
    if values.dtype.kind in "USO":
        return tuple(str(word) for word in axis.values)
    return _numbers(values)


def _numbers(values: Any) -> NDArray[Any]:
    """Whole numbers stay whole numbers, all others become float64: netCDF knows no other kinds that we need."""
    whole = np.asarray(values).dtype.kind in "iu"
    return np.array(values, dtype=np.int64 if whole else np.float64)


def put_fields(file: Any, fields: Sequence[Field]) -> None:
    """Write the fields, group by group.

    Raises
    ------
    ValueError
        a process or study made fields that contradict each other: two of one name, axes of one name that differ within
        a group, values that do not fit the axes, a group whose name the file uses for something else

    """
    names = [field.name for field in fields]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two fields are called {name}")
    for group_name in dict.fromkeys(map(group_of, fields)):
        members = [(order, field) for order, field in enumerate(fields) if group_of(field) == group_name]
        if not group_name.isidentifier() or group_name in file:
            raise ValueError(f"field {members[0][1].name}: {group_name!r} cannot be the name of a group of fields")
        group = file.create_group(group_name)
        axes = _shared_axes(field for _, field in members)
        axis_keys = keys(axes)
        scales = {name: _put_axis(group, key, axes[name]) for key, name in zip(axis_keys, axes, strict=True)}
        for key, (order, field) in zip(keys((short_name(f) for _, f in members), axis_keys), members, strict=True):
            variable = Variable(key, tuple(axis.name for axis in field.axes), field.unit or "1", field.meaning, "")
            values = _numbers(field.values)
            if values.shape != tuple(len(scales[axis]) for axis in variable.axes):
                raise ValueError(f"field {field.name}: values of shape {values.shape} on axes {variable.axes}")
            facts = {"field": field.name, "unit": field.unit, "order": order}
            put(group, variable, values, [scales[axis] for axis in variable.axes], as_given=True, **facts)


def _shared_axes(fields: Iterable[Field]) -> dict[str, Axis]:
    """The axes of one group by name; those of one name must be equal."""
    found: dict[str, Axis] = {}
    for field in fields:
        for axis in field.axes:
            if not axis.name or not len(axis.values):
                raise ValueError(f"field {field.name}: an axis needs a name and values, not {axis}")
            first = found.setdefault(axis.name, axis)
            if (first.unit, first.meaning) != (axis.unit, axis.meaning) or not np.array_equal(
                axis_values(first), axis_values(axis)
            ):
                raise ValueError(
                    f"field {field.name}: its axis {axis.name!r} differs from that of another field in the group "
                    f"{group_of(field)!r}; axes of one name in one group must be equal: rename the axis or the group"
                )
    return found


def _put_axis(group: Any, key: str, axis: Axis) -> Any:
    """Write an axis as a dimension scale."""
    variable = Variable(key, (key,), axis.unit or "1", axis.meaning, "")
    values = axis_values(axis)
    data = np.array(values, dtype=np.str_) if isinstance(values, tuple) else values
    return put(group, variable, data, as_given=True, axis_name=axis.name, unit=axis.unit)


def get_fields(file: Any) -> tuple[Field, ...]:
    """Read the fields of an open file, in the order in which they were given; an older file has none."""
    import h5py

    groups = [group for group in file.values() if isinstance(group, h5py.Group)]
    found = [item for group in groups for item in group.values() if "field" in item.attrs]
    return tuple(_get_field(dataset) for dataset in sorted(found, key=lambda d: int(d.attrs["order"])))


def _get_field(dataset: Any) -> Field:
    name = str(dataset.attrs["field"])
    if any(len(dimension) != 1 for dimension in dataset.dims):
        raise ValueError(f"field {name} has lost an axis")
    axes = tuple(_get_axis(dimension[0]) for dimension in dataset.dims)
    if dataset.shape != tuple(len(axis.values) for axis in axes):
        raise ValueError(f"field {name} does not fit its axes")
    return Field(name, axes, str(dataset.attrs["unit"]), _numbers(dataset[()]), str(dataset.attrs["long_name"]))


def _get_axis(scale: Any) -> Axis:
    import h5py

    words = h5py.check_string_dtype(scale.dtype) is not None
    values = tuple(str(word) for word in scale.asstr()[()]) if words else _numbers(scale[()])
    return Axis(str(scale.attrs["axis_name"]), str(scale.attrs["unit"]), values, str(scale.attrs["long_name"]))
