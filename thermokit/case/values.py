"""Single values that may stand at a key: a quantity with its unit, a bare number, a word, a name of the library."""

# ruff: noqa: D102 (the methods are documented once, at ``Kind``)

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermokit import units
from thermokit.case.declare import UNKNOWN, Kind
from thermokit.case.mistakes import At, nearest, shown
from thermokit.case.sought import is_find, read_sought

SMALLEST = 1e-30  # in SI, of what must be above nothing: products and quotients of smaller numbers leave floating point
NUMBER_PATTERN = r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*"


@dataclass(eq=False, repr=False)
class Quantity(Kind):
    """A number with a unit; SI inside.

    dimension : a key of ``units.DIMENSIONS``; low, high : range in SI, ends included; above : an end that is excluded;
    example : for messages and the reference page.
    """

    dimension: str
    low: float | None = None
    high: float | None = None
    above: float | None = None
    example: str = ""

    @property
    def bare(self) -> bool:
        """Whether a bare number is right: a share has no unit."""
        return self.dimension == "fraction"

    def read(self, raw: Any, at: At, also: str = "") -> Any:
        """The value in SI; ``also`` names in messages what else the key takes."""
        if is_find(raw):
            return read_sought(raw, self, at)
        if self.bare and isinstance(raw, (int, float)) and not isinstance(raw, bool):
            value = _finite(raw)
        elif isinstance(raw, str):
            try:
                value = units.parse(raw, self.dimension)
            except units.UnitError as wrong:
                at.mistake(f"{shown(raw)}: {wrong.what}", wrong.allowed + also)
                return UNKNOWN
        elif isinstance(raw, (int, float)) and not isinstance(raw, bool):
            unit = units.DIMENSIONS[self.dimension].shop
            at.mistake(
                f"{shown(raw)} is a bare number; it needs its unit, as a string",
                self.words() + also,
                f'for instance "{shown(raw)} {unit}" if {unit} is meant',
            )
            return UNKNOWN
        else:
            at.mistake(f"{shown(raw)} is no {self.noun}", self.words() + also)
            return UNKNOWN
        if value is None or not self.holds(value):
            small = value is not None and 0.0 < value < SMALLEST and self.above == 0.0
            at.mistake(f"{shown(raw)} is {'too small to compute with' if small else 'out of range'}", self.words())
            return UNKNOWN
        return value

    @property
    def noun(self) -> str:
        """The dimension as a word."""
        return "share" if self.bare else self.dimension.replace("_", " ")

    def holds(self, value: Any) -> bool:
        """Whether a number, or every number of an array, is finite and in range."""
        numbers = np.asarray(value, dtype=np.float64)
        if numbers.size == 0 or not np.all(np.isfinite(numbers)):
            return False
        least, most = float(numbers.min()), float(numbers.max())
        if self.above is not None and (least <= self.above or (self.above == 0.0 and least < SMALLEST)):
            return False
        return (self.low is None or least >= self.low) and (self.high is None or most <= self.high)

    def write(self, value: Any) -> Any:
        if np.ndim(value):
            raise ValueError("a case whose values are arrays over runs has no text of its own")
        return float(value) if self.bare else units.format_(float(value), self.dimension)

    def range_words(self) -> str:
        """The range in words, in the shop's unit."""

        def text(value: float) -> str:
            # ends beyond what a shop measures read better in SI
            plain = self.dimension == "temperature" or value == 0.0 or 1e-3 <= abs(value) < 1e3
            si = units.DIMENSIONS[self.dimension].si
            return units.format_(value, self.dimension, None if plain else si, digits=6)

        parts = []
        if self.above is not None:
            parts.append(f"above {text(self.above)}")
        if self.low is not None:
            parts.append(f"from {text(self.low)}")
        if self.high is not None:
            parts.append(f"up to {text(self.high)}")
        return " ".join(parts)

    def words(self) -> str:
        limits = self.range_words()
        if self.bare:
            return f"a number {limits}, or a share in %".replace(" ,", ",")
        example = f'"{self.example}"' if self.example else f'"20 {units.DIMENSIONS[self.dimension].shop}"'
        text = f"a {self.noun} with its unit, such as {example}; units: {units.allowed_units(self.dimension)}"
        return f"{text}; range: {limits}" if limits else text

    def schema(self) -> dict[str, Any]:
        text: dict[str, Any] = {
            "type": "string",
            "pattern": NUMBER_PATTERN + ("%$" if self.bare else r"(1/|[^\s0-9,.]).*$"),
        }
        if not self.bare:
            return text | {"examples": [self.example]} if self.example else text
        number: dict[str, Any] = {"type": "number"}
        for name, bound in (("minimum", self.low), ("exclusiveMinimum", self.above), ("maximum", self.high)):
            if bound is not None:
                number[name] = bound
        return {"anyOf": [number, text]}


def share(*, low: float = 0.0, high: float = 1.0, above: float | None = None) -> Quantity:
    """A share: a bare number between 0 and 1, or a percentage."""
    return Quantity("fraction", low=None if above is not None else low, high=high, above=above)


def _finite(raw: float | int) -> float | None:
    """A TOML number as a float, None when it is not finite or beyond floating point."""
    try:
        value = float(raw)
    except OverflowError:
        return None
    return value if math.isfinite(value) else None


@dataclass(eq=False, repr=False)
class Number(Kind):
    """A bare number without a unit."""

    low: float | None = None
    high: float | None = None
    above: float | None = None

    def read(self, raw: Any, at: At) -> Any:
        if is_find(raw):
            return read_sought(raw, self, at)
        if isinstance(raw, bool) or not isinstance(raw, (int, float)):
            at.mistake(f"{shown(raw)} is not a number", self.words())
            return UNKNOWN
        value = _finite(raw)
        if value is None or not self.holds(value):
            at.mistake(f"{shown(raw)} is out of range", self.words())
            return UNKNOWN
        return value

    def holds(self, value: Any) -> bool:
        """Whether a number, or every number of an array, is finite and in range."""
        return Quantity("fraction", self.low, self.high, self.above).holds(value)

    def write(self, value: Any) -> Any:
        if np.ndim(value):
            raise ValueError("a case whose values are arrays over runs has no text of its own")
        return float(value)

    def words(self) -> str:
        limits = Quantity("fraction", self.low, self.high, self.above).range_words()
        return f"a number without a unit, {limits}" if limits else "a number without a unit"

    def schema(self) -> dict[str, Any]:
        bounds = {"minimum": self.low, "maximum": self.high, "exclusiveMinimum": self.above}
        return {"type": "number"} | {name: bound for name, bound in bounds.items() if bound is not None}


@dataclass(eq=False, repr=False)
class Whole(Kind):
    """A whole number."""

    low: int
    high: int

    def read(self, raw: Any, at: At) -> Any:
        if is_find(raw):
            at.mistake("a whole number cannot be found", self.words(), "`thermokit sweep` tries several")
            return UNKNOWN
        if isinstance(raw, float) and raw.is_integer():
            raw = int(raw)
        if isinstance(raw, bool) or not isinstance(raw, int) or not self.holds(raw):
            at.mistake(f"{shown(raw)} cannot stand here", self.words())
            return UNKNOWN
        return raw

    def holds(self, value: Any) -> bool:
        """Whether this is one whole number in range."""
        return np.ndim(value) == 0 and bool(self.low <= value <= self.high and value == int(value))

    def write(self, value: Any) -> Any:
        return int(value)

    def words(self) -> str:
        return f"a whole number from {self.low} to {self.high}"

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(eq=False, repr=False)
class Choice(Kind):
    """One of a few words."""

    options: tuple[str, ...]

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, str) and raw in self.options:
            return raw
        advice = nearest(raw, self.options) if isinstance(raw, str) else ""
        at.mistake(f"{shown(raw)} is not one of the choices", self.words(), advice)
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return str(value)

    def words(self) -> str:
        return " or ".join(f'"{option}"' for option in self.options)

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.options)}


@dataclass(eq=False, repr=False)
class Flag(Kind):
    """Yes or no."""

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, bool):
            return raw
        at.mistake(f"{shown(raw)} is neither true nor false", self.words())
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return bool(value)

    def words(self) -> str:
        return "true or false"

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(eq=False, repr=False)
class Text(Kind):
    """Words of the user's own, on one line."""

    most: int = 200

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, str) and len(raw) <= self.most and raw.isprintable():
            return raw
        at.mistake(f"{shown(raw)} cannot stand here", self.words())
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return str(value) or None

    def words(self) -> str:
        return f"a text of up to {self.most} characters on one line"

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "maxLength": self.most}


@dataclass(eq=False, repr=False)
class LibraryName(Kind):
    """Name of a record of the library or of the case's own ``[room.*]``; checked with the whole case."""

    room: str  # "materials" or "kinetics"

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, str) and raw and len(raw) <= 200:
            return raw
        at.mistake(f"{shown(raw)} is no name", self.words())
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return str(value)

    def names(self) -> list[str]:
        """What the library holds."""
        if self.room == "materials":
            from thermokit.materials import library

            return library.names()
        from thermokit.kinetics import library as kinetics_library

        return kinetics_library.names()

    def words(self) -> str:
        return f"a name of the {self.room} library, or one of the case's own [{self.room}.*]"

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1}
