"""A result as a table that any spreadsheet reads: one row a stored time, the unit of each column in its head."""

from __future__ import annotations

import csv
import io
import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory
from thermokit.results.fields import short_name
from thermokit.results.model import layered
from thermokit.units import to_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result


def as_csv(result: Result) -> str:
    """The rows of a result as comma-separated values (RFC 4180), decimal points, temperatures in degC.

    Columns: time, station, both faces, the probes, the temperature at each depth, the states at each depth. A value
    that does not exist (a degree of cure where nothing cures) is an empty field. Of a section: time, station, the probes
    and the hottest place of each region.

    Returns
    -------
    str
        lines end in carriage return and line feed, as the standard asks

    """
    if isinstance(result.history, SectionHistory):
        return _table(_section_columns(result, result.history))
    history = layered(result)
    columns: list[tuple[str, Iterable[str]]] = [
        ("time [s]", map(_field, history.time)),
        ("station", (_station(result, int(span)) for span in history.span)),
        ("inner_face_temperature [degC]", _celsius(history.inner_face)),
        ("outer_face_temperature [degC]", _celsius(history.outer_face)),
    ]
    columns += [(f"{name}_temperature [degC]", _celsius(values)) for name, values in result.probes.items()]
    depths = [f"at {1e3 * depth:.6g} mm" for depth in history.centres]
    columns += [(f"temperature {d} [degC]", _celsius(history.temperature[:, i])) for i, d in enumerate(depths)]
    for name, values in history.states.items():
        columns += [(f"{name} {d} [1]", map(_field, values[:, i])) for i, d in enumerate(depths)]
    return _table(columns)


def _section_columns(result: Result, history: SectionHistory) -> list[tuple[str, Iterable[str]]]:
    """Columns of a section's table."""
    columns: list[tuple[str, Iterable[str]]] = [
        ("time [s]", map(_field, history.time)),
        ("station", (_station(result, int(span)) for span in history.span)),
    ]
    columns += [(f"{name}_temperature [degC]", _celsius(values)) for name, values in result.probes.items()]
    return columns + [(f"{name} hottest [degC]", _celsius(values)) for name, values in history.peaks.items()]


def _table(columns: Sequence[tuple[str, Iterable[str]]]) -> str:
    """Columns as comma-separated values, their heads in the first line."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(inert(head) for head, _ in columns)
    writer.writerows(zip(*(column for _, column in columns), strict=True))
    return text.getvalue()


def fields_as_csv(fields: Sequence[Field]) -> str:
    """Fields on the same axes as comma-separated values: a column for each axis and each field, a line for each place.

    Places run through the last axis first. A value that does not exist is an empty field.

    Parameters
    ----------
    fields : sequence of Field
        one or more, all on equal axes

    Returns
    -------
    str
        lines end in carriage return and line feed

    """
    axes = fields[0].axes
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    heads = [_head(axis.name, axis.unit) for axis in axes] + [_head(short_name(f), f.unit) for f in fields]
    writer.writerow(map(inert, heads))
    places = itertools.product(*([_cell(value) for value in axis.values] for axis in axes))
    columns = [map(_field, np.ravel(field.values)) for field in fields]
    writer.writerows((*place, *values) for place, *values in zip(places, *columns, strict=True))
    return text.getvalue()


def inert(text: str) -> str:
    """A text from a case as a cell that a spreadsheet shows and does not run: ``=...`` and the like get a leading quote.

    >>> inert("=1+1"), inert("core")
    ("'=1+1", 'core')
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _head(name: str, unit: str) -> str:
    return name if unit in ("", "1") else f"{name} [{unit}]"


def _cell(value: Any) -> str:
    return inert(value) if isinstance(value, str) else _field(float(value))


def _station(result: Result, span: int) -> str:
    """Name of a station, or its number from 1 where it has none."""
    name = result.span_names[span] if span < len(result.span_names) else ""
    return inert(name) or str(span + 1)


def _celsius(kelvin: NDArray[np.float64]) -> Iterable[str]:
    return map(_field, to_unit(kelvin, "degC", "temperature"))


def _field(value: float) -> str:
    """Ten significant digits: more would only show the rounding of the conversion to degC."""
    return f"{value:.10g}" if math.isfinite(value) else ""
