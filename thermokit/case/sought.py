"""An input of any kind that is left to be found: ``"find"``, or ``{ find = [low, high] }``.

A duration, a speed or a length of a line is declared ``Sought`` and holds a ``Find``. Any other number takes the middle of its
bounds, so that whatever reads the case sees a plain number, and the case notes the path and the bounds (``Case.sought_input``).
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import UNKNOWN, known
from thermokit.case.mistakes import dotted, shown

if TYPE_CHECKING:
    from thermokit.case.mistakes import At

FIND = "find"
#: tables that say what is done with a case, not what the case is
NO_INPUTS = ("sweep", "fit", "tolerances", "output", "accuracy", "wanted", "cost")
#: bounds [SI] where the case gives none: only where every shop means about the same
USUAL = {"time": (0.1, 36_000.0), "speed": (0.1 / 60.0, 300.0 / 60.0)}


@dataclass(frozen=True)
class SoughtInput:
    """The one input that is left to be found: its path (name and steps), bounds [SI], and the unit in which they are written."""

    name: str
    path: tuple[str, ...]
    low: float
    high: float
    unit: str = ""

    def is_at(self, path: str) -> bool:
        """Whether this is the input of that path."""
        return path in (self.name, ".".join(self.path))


def is_find(raw: Any) -> bool:
    """Whether a value of the file leaves the input to be found.

    >>> is_find("find"), is_find({"find": ["1 mm", "3 mm"]}), is_find("3 mm")
    (True, True, False)
    """
    return (isinstance(raw, str) and raw == FIND) or (isinstance(raw, dict) and FIND in raw)


def read_sought(raw: Any, kind: Any, at: At) -> Any:
    """A number to go on with, the middle of the bounds; the bounds are noted in the report. UNKNOWN where it cannot be."""
    if (at.path and at.path[0] in NO_INPUTS) or FIND in at.path:
        at.mistake("nothing can be found here", kind.words())
        return UNKNOWN
    bounds = raw.get(FIND) if isinstance(raw, dict) else None
    if isinstance(raw, dict):
        if set(raw) != {FIND} or not isinstance(bounds, list) or len(bounds) != 2:
            at.mistake("a table that is not understood", _bounded(kind))
            return UNKNOWN
        low, high = (kind.read(bound, at / FIND / str(i)) for i, bound in enumerate(bounds))
        if not known(low, high):
            return UNKNOWN
        if not low < high:
            (at / FIND).mistake(
                f"{shown(bounds[0])} is not below {shown(bounds[1])}", "first the low end, then the high"
            )
            return UNKNOWN
    elif getattr(kind, "dimension", "") in USUAL:
        low, high = USUAL[kind.dimension]
    else:
        at.mistake('"find" needs bounds here: nothing says how far to look', _bounded(kind))
        return UNKNOWN
    unit = _unit(bounds[0]) if bounds and isinstance(bounds[0], str) else ""
    at.report.sought.append(SoughtInput("", at.path, float(low), float(high), unit))
    temperature = getattr(kind, "dimension", "") == "temperature"
    return (low + high) / 2.0 if temperature or low <= 0.0 else math.sqrt(low * high)


def noted(case: Any, at: At) -> Any:
    """The case with what is sought noted; a mistake where that is more than one input, or no number of the case."""
    from thermokit.case.tables import Find
    from thermokit.case.walk import leaves, scalar_kind

    found: list[SoughtInput] = at.report.sought
    if not found and (not known(case.wanted) or case.wanted is None):
        return case
    all_leaves = list(leaves(case))
    declared = [leaf.path for leaf in all_leaves if isinstance(leaf.value, Find)]
    if not found and not declared and not at.report.found:
        (at / "wanted").mistake("nothing is sought in this case", "one input with { find = [low, high] }")
    if not found:
        return case
    for other in [*declared, *(one.path for one in found)][1:]:
        first = dotted((declared or [found[0].path])[0])
        _at(at, other).mistake(f'"find" stands here and at {first}', "one value can be found at a time")
    own = next((leaf for leaf in all_leaves if leaf.path == found[0].path), None)
    if own is None or not own.physical or scalar_kind(own.kind) is None:
        _at(at, found[0].path).mistake('"find" stands where no single number of the case is', "one number, or a table")
        return case
    return dataclasses.replace(case, sought_input=dataclasses.replace(found[0], name=own.name))


def written(case: Any, table: dict[str, Any]) -> dict[str, Any]:
    """The table of a case as it is written, with what is sought in the place of the number that stands in for it."""
    note: SoughtInput | None = case.sought_input
    if note is None:
        return table
    from thermokit.case.tables import Inline
    from thermokit.case.walk import leaves, scalar_kind

    kind = next((scalar_kind(leaf.kind) for leaf in leaves(case) if leaf.path == note.path), None)
    place: Any = table
    for step in note.path[:-1]:
        place = place[int(step) if isinstance(place, list) else step]
    last = note.path[-1]
    assert kind is not None
    ends = [kind.write(end) for end in (note.low, note.high)]
    if note.unit and getattr(kind, "dimension", "fraction") != "fraction":
        from thermokit.units import format_

        ends = [format_(end, kind.dimension, note.unit) for end in (note.low, note.high)]  # type: ignore[union-attr]
    place[int(last) if isinstance(place, list) else last] = Inline(find=ends)
    return table


def findable(schema: Any, number: str) -> Any:
    """A JSON Schema in which every quantity (text whose pattern begins with ``number``) and number may be left to be found."""
    if isinstance(schema, list):
        return [findable(entry, number) for entry in schema]
    if not isinstance(schema, dict):
        return schema
    inner = {name: findable(entry, number) for name, entry in schema.items()}
    text = isinstance(schema.get("pattern"), str) and schema["pattern"].startswith(number)
    if text or schema.get("type") == "number":
        beside = {name: inner.pop(name) for name in ("description", "default") if name in inner}
        return {"anyOf": [inner, {"$ref": "#/$defs/sought"}], **beside}
    return inner


#: JSON Schema of what leaves a value to be found
SOUGHT_SCHEMA = {
    "anyOf": [
        {"const": FIND},
        {
            "type": "object",
            "properties": {FIND: {"type": "array", "minItems": 2, "maxItems": 2}},
            "required": [FIND],
            "additionalProperties": False,
        },
    ]
}


def _bounded(kind: Any) -> str:
    """What to write, in words."""
    return f"{{ find = [low, high] }}, each end {kind.words()}"


def _unit(text: str) -> str:
    """The unit that stands in a text, as it is written.

    >>> _unit("180 degC"), _unit("3mm"), _unit("0.5")
    ('degC', 'mm', '')
    """
    return text.strip().lstrip("+-0123456789.eE").strip()


def _at(at: At, path: tuple[str, ...]) -> At:
    for step in path:
        at = at / step
    return at
