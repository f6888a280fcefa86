"""Values that are more than one number: a time table, a property against temperature, a duration that is sought."""

# ruff: noqa: D102 (the methods are documented once, at ``Kind``)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import UNKNOWN, Kind, Section, known
from thermokit.case.mistakes import At, nearest, shown
from thermokit.case.sought import is_find
from thermokit.case.values import Quantity
from thermokit.conduction.problem import Curve, Series

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number

MOST_NODES = 100_000
_TIME = Quantity("time", low=0.0, high=1e10, example="10 s")
_TEMPERATURE = Quantity("temperature", low=0.0, high=20_273.15, example="20 degC")

_OR_TIMES = "; or a table { time = [...], value = [...] }"
_OR_TEMPERATURES = "; or a table { temperature = [...], value = [...] }"
_OR_FIND = '; or "find", or { find = [low, high] }'


class Inline(dict[str, Any]):
    """A table that is written on one line."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Find(Section):
    """A value to be found, between ``low`` and ``high`` [SI] where the user bounds the search."""

    low: Number | None = None
    high: Number | None = None


def read_columns(raw: dict[str, Any], first: str, kind: Quantity, second: Quantity, at: At) -> Any:
    """The two equally long lists of a table, as (list, list) in SI, or UNKNOWN."""
    names = (first, "value")
    for name in raw:
        if name not in names:
            (at / name).mistake("unknown key", f"{first} and value", nearest(name, names))
    columns = []
    for name, entry in zip(names, (kind, second), strict=True):
        column = raw.get(name)
        if not isinstance(column, list) or not column:
            found = "missing" if column is None else f"{shown(column)} is no list of values"
            (at / name).mistake(found, f"a list, each entry {entry.words()}")
            columns.append([UNKNOWN])
        elif len(column) > MOST_NODES:
            (at / name).mistake(f"{len(column)} entries", f"up to {MOST_NODES}")
            columns.append([UNKNOWN])
        else:
            columns.append([entry.read(value, at / name / str(i)) for i, value in enumerate(column)])
    if not known(*columns[0], *columns[1]) or any(name not in names for name in raw):
        return UNKNOWN
    if len(columns[0]) != len(columns[1]):
        at.mistake(f"{first} has {len(columns[0])} entries, value has {len(columns[1])}", "as many of each")
        return UNKNOWN
    return columns


def table_schema(first: str, kind: Quantity, second: Quantity) -> dict[str, Any]:
    """JSON Schema of a table of two lists."""
    lists = {
        name: {"type": "array", "items": k.schema(), "minItems": 1} for name, k in ((first, kind), ("value", second))
    }
    return {"type": "object", "properties": lists, "required": [first, "value"], "additionalProperties": False}


@dataclass(eq=False, repr=False)
class Varying(Kind):
    """A quantity, constant or as a table against time: ``{ time = [...], value = [...] }``."""

    quantity: Quantity

    def read(self, raw: Any, at: At) -> Any:
        if not isinstance(raw, dict) or is_find(raw):
            return self.quantity.read(raw, at, _OR_TIMES)
        columns = read_columns(raw, "time", _TIME, self.quantity, at)
        if columns is UNKNOWN:
            return UNKNOWN
        times = columns[0]
        for i in range(1, len(times)):
            if times[i] < times[i - 1]:
                (at / "time" / str(i)).mistake(
                    f"{shown(raw['time'][i])} comes before {shown(raw['time'][i - 1])}", "times in ascending order"
                )
                return UNKNOWN
            if i > 1 and times[i] == times[i - 2]:
                (at / "time" / str(i)).mistake(
                    f"{shown(raw['time'][i])} stands there three times", "twice makes a step"
                )
                return UNKNOWN
        return Series(tuple(times), tuple(columns[1]))

    def write(self, value: Any) -> Any:
        if not isinstance(value, Series):
            return self.quantity.write(value)
        return Inline(
            time=[_TIME.write(time) for time in value.time], value=[self.quantity.write(entry) for entry in value.value]
        )

    def words(self) -> str:
        return self.quantity.words() + _OR_TIMES

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.quantity.schema(), table_schema("time", _TIME, self.quantity)]}


@dataclass(eq=False, repr=False)
class Property(Kind):
    """A material property, constant or as a table against temperature: ``{ temperature = [...], value = [...] }``."""

    quantity: Quantity

    def read(self, raw: Any, at: At) -> Any:
        if not isinstance(raw, dict) or is_find(raw):
            return self.quantity.read(raw, at, _OR_TEMPERATURES)
        columns = read_columns(raw, "temperature", _TEMPERATURE, self.quantity, at)
        if columns is UNKNOWN:
            return UNKNOWN
        temperatures = columns[0]
        for i in range(1, len(temperatures)):
            if temperatures[i] <= temperatures[i - 1]:
                (at / "temperature" / str(i)).mistake(
                    f"{shown(raw['temperature'][i])} does not lie above {shown(raw['temperature'][i - 1])}",
                    "temperatures in ascending order, each once",
                )
                return UNKNOWN
        return Curve(np.array(temperatures), np.array(columns[1]))

    def write(self, value: Any) -> Any:
        if not isinstance(value, Curve):
            return self.quantity.write(value)
        return Inline(
            temperature=[_TEMPERATURE.write(node) for node in value.temperature],
            value=[self.quantity.write(entry) for entry in value.value],
        )

    def words(self) -> str:
        return self.quantity.words() + _OR_TEMPERATURES

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.quantity.schema(), table_schema("temperature", _TEMPERATURE, self.quantity)]}


@dataclass(eq=False, repr=False)
class Sought(Kind):
    """A quantity that may be left to ``thermokit dwell``: ``"find"`` or ``{ find = [low, high] }``."""

    quantity: Quantity

    def read(self, raw: Any, at: At) -> Any:
        if raw == "find":
            return Find()
        if not isinstance(raw, dict):
            return self.quantity.read(raw, at, _OR_FIND)
        bounds = raw.get("find")
        if set(raw) != {"find"} or not isinstance(bounds, list) or len(bounds) != 2:
            at.mistake("a table that is not understood", self.words())
            return UNKNOWN
        low, high = (self.quantity.read(bound, at / "find" / str(i)) for i, bound in enumerate(bounds))
        if not known(low, high):
            return UNKNOWN
        if low >= high:
            (at / "find").mistake(
                f"{shown(bounds[0])} is not below {shown(bounds[1])}", "first the low end, then the high"
            )
            return UNKNOWN
        return Find(low=low, high=high)

    def write(self, value: Any) -> Any:
        if not isinstance(value, Find):
            return self.quantity.write(value)
        if value.low is None or value.high is None:
            return "find"
        return Inline(find=[self.quantity.write(value.low), self.quantity.write(value.high)])

    def words(self) -> str:
        return self.quantity.words() + _OR_FIND

    def schema(self) -> dict[str, Any]:
        bounds = {"type": "array", "items": self.quantity.schema(), "minItems": 2, "maxItems": 2}
        table = {"type": "object", "properties": {"find": bounds}, "required": ["find"], "additionalProperties": False}
        return {"anyOf": [self.quantity.schema(), {"const": "find"}, table]}
