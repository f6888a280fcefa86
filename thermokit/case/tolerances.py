"""How far the inputs of a case may be off: ``[tolerances]``, by the path of the input."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.case.declare import UNKNOWN, Kind, Section, known
from thermokit.case.mistakes import At, Report, nearest, shown
from thermokit.case.tables import Find, Inline
from thermokit.case.values import Number, Quantity
from thermokit.case.walk import Leaf, is_number, leaves, scalar_kind, zones_advice

if TYPE_CHECKING:
    from thermokit.case.common import Case

DISTRIBUTIONS = ("normal", "uniform", "lognormal")
MEASURED = "measured"  # a list of values in place of a distribution
USUAL = "usual"
MOST_MEASURED = 100_000
_KEYS = ("plus_minus", "factor", "distribution", "paths", MEASURED)
_ENTRY = ("plus_minus", "distribution", "paths", MEASURED)  # what tells an entry from a step of a path


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Tolerance(Section):
    """How far an input may be off.

    plus_minus : normal: two standard deviations (k = 2); uniform: half the width, nothing lies outside; lognormal: the
    factor (``2`` for times or divided by 2) within which 95 of 100 lie, k = 2 in the logarithm. Relative ones are a
    share of the input's value, absolute ones are in SI; dimension : of an absolute amount. paths : the inputs that share
    one error, empty where it is that of the one input by whose path it is called; measured : values of the input [SI] that
    were measured, drawn as they are.
    """

    plus_minus: float
    relative: bool
    distribution: str = "normal"
    dimension: str = "fraction"
    paths: tuple[str, ...] = ()
    measured: tuple[float, ...] = ()

    def inputs(self, name: str) -> tuple[str, ...]:
        """The paths of the inputs that have this error, called by that name in the case."""
        return self.paths or (name,)

    @property
    def two_sigma(self) -> float:
        """Two standard deviations: of the value or its share; for a lognormal one, of the value's logarithm."""
        if self.distribution == "uniform":
            return 2.0 * self.plus_minus / math.sqrt(3.0)  # standard deviation of a uniform one: half width / sqrt 3
        if self.measured:
            mean = math.fsum(self.measured) / len(self.measured)
            return 2.0 * math.sqrt(math.fsum((v - mean) ** 2 for v in self.measured) / len(self.measured))
        return math.log(self.plus_minus) if self.distribution == "lognormal" else self.plus_minus


@dataclass(eq=False, repr=False)
class Tolerances(Kind):
    """``[tolerances]``: read last, since the paths in it must be inputs of the case."""

    def read(self, raw: Any, at: At) -> Any:
        """Nothing yet: ``resolve`` reads it when the rest of the case is known."""
        return {}

    def resolve(self, raw: Any, case: Case, at: At) -> dict[str, Tolerance]:
        """Path as written, or name of several inputs -> tolerance, checked against the inputs of the case."""
        if raw == USUAL:
            raw = {USUAL: True}
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return {}
        usual = raw.get(USUAL, False)
        if not isinstance(usual, bool):
            (at / USUAL).mistake(f"{shown(usual)} is neither true nor false", "true: those usual in the shop as well")
        out: dict[str, Tolerance] = {}
        inputs = by_path(case)
        seen: dict[tuple[str, ...], str] = {}
        for name, steps, entry in _flat({word: e for word, e in raw.items() if word != USUAL}, ()):
            place = At(at.report, (*at.path, *steps))
            together = isinstance(entry, dict) and "paths" in entry
            found = (
                self._together(name, entry, case, inputs, place) if together else self._input(name, case, inputs, place)
            )
            if not found:
                continue
            if any(leaf.path in seen for leaf in found):
                first = next(seen[leaf.path] for leaf in found if leaf.path in seen)
                place.mistake(f"is the same input as {first}", "each input once")
            seen |= {leaf.path: name for leaf in found}
            tolerance = self._one(entry, found[0], place)
            if known(tolerance):
                out[name] = replace(tolerance, paths=tuple(entry["paths"])) if together else tolerance
        return out | usual_of(case, seen) if usual is True else out

    def _input(self, path: str, case: Case, inputs: dict[str, Leaf], at: At) -> list[Leaf]:
        """The input at a path, none where there was a mistake."""
        leaf = inputs.get(path)
        if leaf is not None:
            return [leaf]
        zones = zones_advice(case, path)
        what = "a table of zones stands" if zones else "no number stands"
        at.mistake(f"{what} at this path of the case", "the path of a number", zones or nearest(path, inputs))
        return []

    def _together(self, name: str, entry: dict[str, Any], case: Case, inputs: dict[str, Leaf], at: At) -> list[Leaf]:
        """The inputs that share one error, none where there was a mistake."""
        paths = entry["paths"]
        if not isinstance(paths, list) or not paths or not all(isinstance(path, str) for path in paths):
            (at / "paths").mistake(f"{shown(paths)} is no list of paths", 'such as ["sheet.start", "line.start"]')
            return []
        if name in inputs:
            at.mistake("is the path of an input", 'a name of your own for what errs together, such as "panels"')
            return []
        found = [self._input(path, case, inputs, at / "paths" / str(i)) for i, path in enumerate(paths)]
        if not all(found):
            return []
        leaves_ = [leaf for one in found for leaf in one]
        if len({leaf.path for leaf in leaves_}) < len(leaves_):
            (at / "paths").mistake("names an input twice", "each input once")
            return []
        kinds = {_dimension(leaf) for leaf in leaves_}
        if len(kinds) > 1:
            (at / "paths").mistake(
                f"are a {' and a '.join(sorted(kinds))}", "inputs of one kind, which can share an error"
            )
            return []
        return leaves_

    def _one(self, raw: Any, leaf: Leaf, at: At) -> Any:
        """One tolerance, or UNKNOWN."""
        distribution = "normal"
        if isinstance(raw, dict):
            for name in raw:
                if name not in _KEYS:
                    (at / name).mistake("unknown key", ", ".join(_KEYS), nearest(name, _KEYS))
            if MEASURED in raw:
                return self._measured(raw, leaf, at)
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
        dimension = _dimension(leaf)
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

    def _measured(self, raw: dict[str, Any], leaf: Leaf, at: At) -> Any:
        """A list of measured values, or UNKNOWN."""
        wrong = [name for name in raw if name not in (MEASURED, "paths")]
        for name in wrong:
            (at / name).mistake("goes not with a list of measured values", "the list alone: it is drawn as it is")
        entries, kind = raw[MEASURED], scalar_kind(leaf.kind)
        assert kind is not None
        if not isinstance(entries, list) or not 2 <= len(entries) <= MOST_MEASURED:
            (at / MEASURED).mistake(f"{shown(entries)} is no list of measured values", f"2 to {MOST_MEASURED} values")
            return UNKNOWN
        if not is_number(leaf.value):
            at.mistake("is measured and sought at once", "a plus-minus amount for what is sought")
            return UNKNOWN
        values = [kind.read(entry, at / MEASURED / str(i)) for i, entry in enumerate(entries)]
        if wrong or not known(*values):
            return UNKNOWN
        return Tolerance(
            plus_minus=0.0, relative=False, distribution=MEASURED, dimension=_dimension(leaf),
            measured=tuple(float(v) for v in values),
        )  # fmt: skip

    def write(self, value: Any) -> Any:
        """The table as it is written in a file."""
        return {name: _written(tolerance) for name, tolerance in value.items()} or None

    def words(self) -> str:
        """What may stand in the table."""
        return (
            'lines such as "sheet.thickness" = "± 4 %" or "stations.heat.upper.temperature" = "± 15 K" (two standard '
            'deviations); or a table { plus_minus = "± 3 %", distribution = "uniform" } (half the width), or '
            '{ factor = 2, distribution = "lognormal" } (times or divided by), or { measured = ["3.9 mm", "4.1 mm"] }; inputs that '
            'err together: "panels" = { paths = ["...", "..."], plus_minus = "± 15 K" }; usual = true adds those usual in the shop'
        )

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the table; which paths there are only the case itself can say."""
        spread = {"enum": list(DISTRIBUTIONS)}
        values = {"type": "array", "items": {"anyOf": [{"type": "string"}, {"type": "number"}]}, "minItems": 2}
        paths = {"type": "array", "items": {"type": "string"}, "minItems": 1}
        table = {
            "plus_minus": {"type": "string"}, "factor": {"type": "number"}, "distribution": spread, "paths": paths,
            MEASURED: values,
        }  # fmt: skip
        entry = {"anyOf": [{"type": "string"}, {"type": "object", "properties": table}]}
        whole = {"type": "object", "properties": {USUAL: {"type": "boolean"}}, "additionalProperties": entry}
        return {"anyOf": [whole, {"const": USUAL}]}


def usual_of(case: Case, taken: dict[tuple[str, ...], str] | None = None) -> dict[str, Tolerance]:
    """Tolerances usual in the shop for the inputs of this case; taken : paths that have one already."""
    from thermokit.case.tolerances_usual import usual

    kept = dict(taken or {})
    inputs, kind = by_path(case), Tolerances()
    out: dict[str, Tolerance] = {}
    for name, paths, entry in usual(case, [leaf for leaf in inputs.values() if leaf.path not in kept]):
        tolerance = kind._one(entry, inputs[paths[0]], At(Report()))
        assert known(tolerance), (name, entry)
        out[name] = tolerance if name == paths[0] else replace(tolerance, paths=paths)
    return out


def _dimension(leaf: Leaf) -> str:
    """The dimension of an input; a bare number is a ``fraction``."""
    kind = scalar_kind(leaf.kind)
    return kind.dimension if isinstance(kind, Quantity) else "fraction"


def _written(tolerance: Tolerance) -> Any:
    """A tolerance as it is written in a file."""
    entry: dict[str, Any] = {}
    if tolerance.paths:
        entry["paths"] = list(tolerance.paths)
    if tolerance.measured:
        bare = tolerance.dimension == "fraction"
        return Inline(
            entry, measured=[v if bare else units.format_(v, tolerance.dimension) for v in tolerance.measured]
        )
    if tolerance.distribution == "lognormal":
        return Inline(entry, factor=tolerance.plus_minus, distribution="lognormal")
    entry["plus_minus"] = text = "± " + _amount(tolerance)
    if tolerance.distribution != "normal":
        entry["distribution"] = tolerance.distribution
    return text if set(entry) == {"plus_minus"} else Inline(entry)


def _amount(tolerance: Tolerance) -> str:
    """The amount of a tolerance as text that is read back to the same number."""
    if not tolerance.relative:
        return units.format_(tolerance.plus_minus, tolerance.dimension)
    for digits in range(6, 18):
        text = f"{100.0 * tolerance.plus_minus:.{digits}g} %"
        if units.parse(text, "fraction") == tolerance.plus_minus:
            return text
    return f"{math.nextafter(100.0 * tolerance.plus_minus, 0.0)!r} %"


def by_path(case: Section) -> dict[str, Leaf]:
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
        is_entry = not isinstance(entry, dict) or bool(set(entry) & set(_ENTRY))
        if is_entry or len(path) > 12:
            yield ".".join(path), path, entry
        else:
            yield from _flat(entry, path)
