"""Limits on outcomes by their name: ``[limits.core_temperature] at_least = "127 degC"``."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import UNKNOWN, Declaration, Kind, Section, key, known
from thermokit.case.mistakes import At, shown
from thermokit.case.structure import Named, Sub, read_section, section_schema
from thermokit.case.values import Quantity

if TYPE_CHECKING:
    from thermokit.conduction.problem import Number

_RANGES = {
    "temperature": Quantity("temperature", low=0.0, high=20_273.15, example="127 degC"),
    "temperature_difference": Quantity("temperature_difference", low=0.0, high=20_000.0, example="30 K"),
    "fraction": Quantity("fraction", low=0.0, high=1.0),
    "time": Quantity("time", low=0.0, high=1e10, example="60 s"),
}


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Bound(Section):
    """What an outcome must keep to [SI of its dimension]."""

    meaning = "what an outcome must keep to"

    at_least: Number | None = key(
        _RANGES["temperature"], "Lowest value that will do.", default=None, default_words="none"
    )
    at_most: Number | None = key(
        _RANGES["temperature"], "Highest value that will do.", default=None, default_words="none"
    )
    dimension: str = "temperature"

    def kind_of(self, declaration: Declaration) -> Kind:
        """A limit has the dimension of what it limits."""
        return _RANGES[self.dimension]

    def check(self, at: At, given: frozenset[str]) -> None:
        """At least one end, and the lower below the upper."""
        if not given:
            at.mistake("neither at_least nor at_most is given", "one of them or both")
        both = known(self.at_least, self.at_most) and self.at_least is not None and self.at_most is not None
        if both and self.at_least > self.at_most:  # type: ignore[operator]
            (at / "at_least").mistake("lies above at_most", "at_least below at_most")


@dataclass(eq=False, repr=False)
class OutcomeLimits(Named):
    """Limits by outcome; ``outcomes`` are (name, dimension), names ending in _temperature may be a probe's."""

    item: Kind = Sub(Bound)
    word: str = "OUTCOME"
    outcomes: tuple[tuple[str, str], ...] = ()

    def read(self, raw: Any, at: At) -> Any:
        """Name -> Bound; whether a name is an outcome can only be told on the whole case."""
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return UNKNOWN
        known_dimensions = dict(self.outcomes)
        out: dict[str, Bound] = {}
        for name, entry in raw.items():
            dimension = known_dimensions.get(name, "temperature")
            kind = _RANGES[dimension]
            bound = read_section(Bound, entry, at / name, {"at_least": kind, "at_most": kind})
            if known(bound):
                out[name] = replace(bound, dimension=dimension)
        return out

    def words(self) -> str:
        """What may stand here."""
        names = ", ".join(name for name, _ in self.outcomes)
        return f"tables [limits.OUTCOME] with at_least or at_most; outcomes: {names}, and NAME_temperature of a probe"

    def schema(self) -> dict[str, Any]:
        """JSON Schema: the known outcomes, and anything that may be a probe's."""
        properties: Mapping[str, Any] = {
            name: section_schema(Bound)
            | {"properties": {word: _RANGES[dimension].schema() for word in ("at_least", "at_most")}}
            for name, dimension in self.outcomes
        }
        return {"type": "object", "properties": properties, "additionalProperties": section_schema(Bound)}
