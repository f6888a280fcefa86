"""How far the inputs of a case may be off: ``[tolerances]``, by the path of the input."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.case.declare import UNKNOWN, Kind, Section, known
from thermokit.case.mistakes import At, nearest, shown
from thermokit.case.tables import Find, Inline
from thermokit.case.values import Number, Quantity
from thermokit.case.walk import Leaf, is_number, leaves, scalar_kind, zones_advice

if TYPE_CHECKING:
    from thermokit.case.common import Case

DISTRIBUTIONS = ("normal", "uniform", "lognormal")
_KEYS = ("plus_minus", "factor", "distribution")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Tolerance(Section):
    """How far an input may be off.

    plus_minus : normal: two standard deviations (k = 2); uniform: half the width, nothing lies outside; lognormal: the
    factor (``2`` for times or divided by 2) within which 95 of 100 lie, k = 2 in the logarithm. Relative ones are a
    share of the input's value, absolute ones are in SI; dimension : of an absolute amount.
    """

    plus_minus: float
    relative: bool
    distribution: str = "normal"
    dimension: str = "fraction"

    @property
    def two_sigma(self) -> float:
        """Two standard deviations: of the value or its share; for a lognormal one, of the value's logarithm."""
        if self.distribution == "uniform":
            return 2.0 * self.plus_minus / math.sqrt(3.0)  # standard deviation of a uniform one: half width / sqrt 3
        return math.log(self.plus_minus) if self.distribution == "lognormal" else self.plus_minus


@dataclass(eq=False, repr=False)
class Tolerances(Kind):
    """``[tolerances]``: read last, since the paths in it must be inputs of the case."""

    def read(self, raw: Any, at: At) -> Any:
        """Nothing yet: ``resolve`` reads it when the rest of the case is known."""
        return {}

    def resolve(self, raw: Any, case: Case, at: At) -> dict[str, Tolerance]:
        """Path as written -> tolerance, checked against the inputs of the case."""
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return {}
        inputs = by_path(case)
        out: dict[str, Tolerance] = {}
        seen: dict[tuple[str, ...], str] = {}
        for path, steps, entry in _flat(raw, ()):
            place = At(at.report, (*at.path, *steps))
            leaf = inputs.get(path)
            if leaf is None:
                zones = zones_advice(case, path)
                what = "a table of zones stands" if zones else "no number stands"
                place.mistake(
                    f"{what} at this path of the case", "the path of a number", zones or nearest(path, inputs)
                )
                continue
            if leaf.path in seen:
                place.mistake(f"is the same input as {seen[leaf.path]}", "each input once")
            seen[leaf.path] = path
            tolerance = self._one(entry, leaf, place)
            if known(tolerance):
                out[path] = tolerance
        return out

    def _one(self, raw: Any, leaf: Leaf, at: At) -> Any:
        """One tolerance, or UNKNOWN."""
        distribution = "normal"
        if isinstance(raw, dict):
            for name in raw:
                if name not in _KEYS:
                    (at / name).mistake("unknown key", ", ".join(_KEYS), nearest(name, _KEYS))
            distribution = raw.get("distribution", "normal")
            if distribution not in DISTRIBUTIONS:
                advice = nearest(distribution, DISTRIBUTIONS) if isinstance(distribution, str) else ""
                (at / "distribution").mistake(f"{shown(distribution)} is none", " or ".join(DISTRIBUTIONS), advice)
                return UNKNOWN
            wanted, other = ("factor", "plus_minus") if distribution == "lognormal" else ("plus_minus", "factor")
            if wanted not in raw or other in raw:
                at.mistake(f"a {distribution} tolerance is given by {wanted}", '"± 3 %", or factor = 2 when lognormal')
                return UNKNOWN
            if distribution == "lognormal":
                factor = Number(above=1.0, high=1e6).read(raw["factor"], at / "factor")
                return factor if not known(factor) else Tolerance(
                    plus_minus=factor, relative=True, distribution=distribution
                )  # fmt: skip
            raw = raw["plus_minus"]
        if not isinstance(raw, str):
            at.mistake(f"{shown(raw)} is no tolerance", self.words())
            return UNKNOWN
        kind = scalar_kind(leaf.kind)
        dimension = kind.dimension if isinstance(kind, Quantity) else "fraction"
        try:
            amount, relative = units.parse_plus_minus(raw, dimension)
        except units.UnitError as wrong:
            at.mistake(f"{shown(raw)}: {wrong.what}", wrong.allowed)
            return UNKNOWN
        if relative and dimension == "temperature":
            at.mistake(f"{shown(raw)}: a share of a temperature says nothing", 'an amount, such as "± 5 K"')
            return UNKNOWN
        if relative and amount > 1.0:
            at.mistake(f"{shown(raw)} is out of range", "up to 100 %")
            return UNKNOWN
        if dimension == "temperature":
            dimension = "temperature_difference"
        return Tolerance(
            plus_minus=amount, relative=relative, distribution=distribution,
            dimension="fraction" if relative else dimension,
        )  # fmt: skip

    def write(self, value: Any) -> Any:
        """The table as it is written in a file."""
        out: dict[str, Any] = {}
        for path, tolerance in value.items():
            if tolerance.distribution == "lognormal":
                out[path] = Inline(factor=tolerance.plus_minus, distribution="lognormal")
                continue
            text = "± " + _amount(tolerance)
            plain = tolerance.distribution == "normal"
            out[path] = text if plain else Inline(plus_minus=text, distribution=tolerance.distribution)
        return out or None

    def words(self) -> str:
        """What may stand in the table."""
        return (
            'lines such as "sheet.thickness" = "± 4 %" or "stations.heat.upper.temperature" = "± 15 K" (two standard '
            'deviations); or a table { plus_minus = "± 3 %", distribution = "uniform" } (half the width), or '
            '{ factor = 2, distribution = "lognormal" } (times or divided by)'
        )

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the table; which paths there are only the case itself can say."""
        spread = {"enum": list(DISTRIBUTIONS)}
        table = {"plus_minus": {"type": "string"}, "factor": {"type": "number"}, "distribution": spread}
        entry = {"anyOf": [{"type": "string"}, {"type": "object", "properties": table}]}
        return {"type": "object", "additionalProperties": entry}


def _amount(tolerance: Tolerance) -> str:
    """The amount of a tolerance as text that is read back to the same number."""
    if not tolerance.relative:
        return units.format_(tolerance.plus_minus, tolerance.dimension)
    for digits in range(6, 18):
        text = f"{100.0 * tolerance.plus_minus:.{digits}g} %"
        if units.parse(text, "fraction") == tolerance.plus_minus:
            return text
    return f"{math.nextafter(100.0 * tolerance.plus_minus, 0.0)!r} %"


def by_path(case: Case) -> dict[str, Leaf]:
    """The inputs that can carry a tolerance, under every path by which they may be called."""
    out: dict[str, Leaf] = {}
    for leaf in leaves(case):
        if leaf.physical and scalar_kind(leaf.kind) is not None and tolerable(leaf.value):
            out.setdefault(".".join(leaf.path), leaf)
            out[leaf.name] = leaf
    return out


def tolerable(value: Any) -> bool:
    """Whether a value is a number, or will be one once it is found."""
    return is_number(value) or isinstance(value, Find) or value is UNKNOWN


def _flat(raw: dict[str, Any], steps: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...], Any]]:
    """Path, steps in the file and entry: a path may be quoted as one key, or written as dotted keys."""
    for name, entry in raw.items():
        path = (*steps, name)
        is_entry = not isinstance(entry, dict) or "distribution" in entry or "plus_minus" in entry
        if is_entry or len(path) > 12:
            yield ".".join(path), path, entry
        else:
            yield from _flat(entry, path)
