"""Inputs of a case by their path: ``stations.heat.duration``, ``body.layers.0.thickness``, ``sheet.thickness``.

A path follows the keys of the file; an entry of a list is named by its name or its number from 0.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from thermokit.case.declare import Kind, Section, declarations
from thermokit.case.mistakes import nearest, shown
from thermokit.case.structure import ListOf, Named, OneOf, Sub
from thermokit.case.tables import Find, Property, Sought, Varying
from thermokit.case.values import Quantity, Whole
from thermokit.case.walk import Leaf, entry_name, is_number, leaves, scalar_kind, zones_advice
from thermokit.case.zoned import Zoned
from thermokit.conduction.problem import Curve, Series
from thermokit.errors import CaseError, Mistake


class Place(NamedTuple):
    """The end of a path: what may stand there, what does, and the case with something else in its place."""

    kind: Kind
    value: Any
    replaced: Callable[[Any], Any]


def value(case: Any, path: str) -> Any:
    """What stands at a path: SI number, Series, Curve, Find, text, or None where the key was left out.

    Raises CaseError with the nearest paths where the case has no such path.
    """
    return _find(case, path).value


def with_values(case: Any, values: Mapping[str, Any]) -> Any:
    """The same case with other values at some paths.

    values : path -> SI number, or a one-dimensional array with one value a run; a time table (Series), property table
    (Curve) or table of zones (tuple of rows) where the key allows one. A number may also stand in for a table, for
    ``"find"`` or for a key left out.
    Raises CaseError on a path that the case has not, and on values out of range, all together. What is contradictory
    only as a whole (a probe outside a body made thinner) is not checked again.
    """
    mistakes: list[Mistake] = []
    for path, new in values.items():
        try:
            place = _find(case, path)
        except CaseError as wrong:
            mistakes.extend(wrong.mistakes)
            continue
        found = _accepted(place.kind, new, path)
        if isinstance(found, Mistake):
            mistakes.append(found)
        else:
            case = place.replaced(found)
    if mistakes:
        raise CaseError(case.source.file, mistakes)
    note = getattr(case, "sought_input", None)
    if note is not None and any(note.is_at(path) for path in values):
        case = dataclasses.replace(case, sought_input=None)
    return case


def numeric_paths(case: Any) -> dict[str, tuple[Any, str]]:
    """Every number of a case that is an input of its physics: path -> (SI value, dimension).

    Lists' entries stand under their name. Dimension of a bare number: ``fraction``. Tables, ``"find"`` and keys left
    out are no numbers; what only concerns output and meshes is left out.
    """
    out: dict[str, tuple[Any, str]] = {}
    note = getattr(case, "sought_input", None)
    for leaf in leaves(case):
        if note is not None and leaf.path == note.path:
            continue
        if leaf.physical and scalar_kind(leaf.kind) is not None and is_number(leaf.value):
            out[leaf.name] = (leaf.value, dimension_of(leaf.kind))
    return out


def dimension_of(kind: Kind) -> str:
    """The dimension of the numbers at a key."""
    scalar = scalar_kind(kind)
    return scalar.dimension if isinstance(scalar, Quantity) else "fraction"


def sought_path(case: Any) -> str | None:
    """The path of the value that is to be found, None where nothing is."""
    note = getattr(case, "sought_input", None)
    if note is not None:
        return str(note.name)
    return next((leaf.name for leaf in leaves(case) if isinstance(leaf.value, Find)), None)


def _accepted(kind: Kind, new: Any, path: str) -> Any:
    """The new value as it goes into the case, or the Mistake it is."""
    scalar = scalar_kind(kind)
    if scalar is None:
        return Mistake(path, "takes no number", kind.words())
    if isinstance(kind, Zoned) and isinstance(new, tuple):
        return new if kind.holds_table(new) else Mistake(path, "is no such table of zones", kind.words())
    if isinstance(new, (Series, Curve, Find)):
        return new if _fits(kind, new) else Mistake(path, f"takes no such {type(new).__name__}", kind.words())
    try:
        numbers = np.asarray(new, dtype=np.float64)
    except (ValueError, TypeError):
        return Mistake(path, f"{shown(new) if isinstance(new, str) else type(new).__name__} is no number", kind.words())
    if numbers.ndim > 1 or not scalar.holds(numbers):
        return Mistake(path, f"{_few(numbers)} is out of range", kind.words())
    if numbers.ndim == 1:
        return numbers
    return int(new) if isinstance(scalar, Whole) else float(new)


def _fits(kind: Kind, new: Series | Curve | Find) -> bool:
    """Whether a key takes such a table, and every value of it; the values may be arrays with one a run."""
    if isinstance(new, Find):
        return isinstance(kind, Sought)
    if isinstance(new, Series):
        if not (isinstance(kind, Varying) or (isinstance(kind, Zoned) and kind.times)):
            return False
        return all(kind.quantity.holds(entry) for entry in new.value)
    return isinstance(kind, Property) and kind.quantity.holds(new.value)


def _few(numbers: Any) -> str:
    """One number, or the ends of an array."""
    if numbers.size == 0:
        return "an empty array"
    if numbers.ndim == 0:
        return f"{float(numbers):g} (SI)"
    return f"an array from {float(numbers.min()):g} to {float(numbers.max()):g} (SI)"


def _find(case: Any, path: str) -> Place:
    place = _below(Sub(type(case)), case, path, lambda new: new)
    if place is not None:
        return place
    settable = [leaf.name for leaf in leaves(case) if scalar_kind(leaf.kind) is not None]
    plain = zones_advice(case, path) or nearest(path, settable) or _same_ending(path, settable)
    raise CaseError(case.source.file, [Mistake(path[:100], "the case has no such input", "", plain)])


def _same_ending(path: str, settable: list[str]) -> str:
    """Advice naming the inputs that end in the same key."""
    ending = path.rsplit(".", 1)[-1]
    found = [name for name in settable if name.rsplit(".", 1)[-1] == ending]
    return "did you mean " + " or ".join(found[:3]) + "?" if found else "`thermokit check` lists what the case holds"


def _below(kind: Kind, value: Any, rest: str, replaced: Callable[[Any], Any]) -> Place | None:
    """The end of what is left of a path, None where it leads nowhere."""
    if not rest:
        return None if isinstance(kind, (Sub, OneOf, ListOf, Named)) else Place(kind, value, replaced)
    if isinstance(value, Section) and isinstance(kind, (Sub, OneOf)):
        for word, entry in declarations(type(value)).items():
            if (left := _after(rest, word)) is not None:

                def put(new: Any, field: str = entry.field) -> Any:
                    return replaced(dataclasses.replace(value, **{field: new}))

                return _below(value.kind_of(entry), getattr(value, entry.field), left, put)
    elif isinstance(kind, ListOf) and isinstance(value, tuple):
        for wanted in (entry_name, lambda entry: ""):
            for i, entry in enumerate(value):
                own = wanted(entry) or (str(i) if wanted is not entry_name else "")
                if own and (left := _after(rest, own)) is not None:

                    def put_entry(new: Any, i: int = i) -> Any:
                        return replaced((*value[:i], new, *value[i + 1 :]))

                    return _below(kind.item, entry, left, put_entry)
        if kind.single and len(value) == 1:
            return _below(kind.item, value[0], rest, lambda new: replaced((new,)))
    elif isinstance(kind, Named) and isinstance(value, Mapping):
        # names of the user's own may hold dots: the longest that fits
        for name in sorted(value, key=len, reverse=True):
            if (left := _after(rest, name)) is not None:

                def put_named(new: Any, name: str = name) -> Any:
                    return replaced({**value, name: new})

                return _below(kind.item, value[name], left, put_named)
    return None


def _after(path: str, step: str) -> str | None:
    """What is left of a path after its first step, None where it begins otherwise."""
    if path == step:
        return ""
    return path[len(step) + 1 :] if path.startswith(f"{step}.") else None


__all__ = ["Leaf", "Place", "dimension_of", "numeric_paths", "sought_path", "value", "with_values"]
