"""What may stand in ``[fit]`` beside plain quantities: unknowns with bounds and expectation, values by path, findings."""

# ruff: noqa: D102 (the methods are documented once, at ``Kind``)

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from thermokit import units
from thermokit.case.declare import UNKNOWN, Kind, known
from thermokit.case.mistakes import At, nearest, shown
from thermokit.case.tables import Inline
from thermokit.case.values import Quantity
from thermokit.logs.stamps import clock_of

KEYS = ("from", "to", "spacing", "expected", "plus_minus")
SPACINGS = ("linear", "log")
DEEPEST = 12  # steps of a path


@dataclass(frozen=True)
class Unknown:
    """A value to be fitted [SI]: bounds (None: open), the scale on which it is searched, and what is expected of it.

    plus_minus : two standard deviations about ``expected`` (of its logarithm where ``log``), None where nothing is expected.
    """

    low: float | None
    high: float | None
    log: bool = False
    expected: float | None = None
    plus_minus: float | None = None


def read_unknown(raw: Mapping[str, Any], kind: Any, at: At, bounded: bool, also: tuple[str, ...] = ()) -> Any:
    """An unknown from its table, or UNKNOWN; bounded : both ends must stand there."""
    allowed = (*KEYS, *also)
    wrong = [name for name in raw if name not in allowed]
    for name in wrong:
        (at / name).mistake("unknown key", ", ".join(allowed), nearest(name, allowed))
    values = {name: kind.read(raw[name], at / name) for name in ("from", "to", "expected") if name in raw}
    for name in ("from", "to"):
        if bounded and name not in raw:
            (at / name).mistake("missing", kind.words())
            wrong.append(name)
    spacing = raw.get("spacing", "linear")
    if spacing not in SPACINGS:
        (at / "spacing").mistake(f"{shown(spacing)} is none", " or ".join(SPACINGS))
        wrong.append("spacing")
    if wrong or not known(*values.values()):
        return UNKNOWN
    low, high = values.get("from"), values.get("to")
    if low is not None and high is not None and low >= high:
        (at / "from").mistake(
            f"{shown(raw['from'])} is not below {shown(raw['to'])}", "first the low end, then the high"
        )
        return UNKNOWN
    log = spacing == "log"
    if log and (getattr(kind, "dimension", "") == "temperature" or low is None or low <= 0.0):
        words = "temperatures have no ratios" if low is None or low > 0.0 else "both ends must lie above 0"
        (at / "spacing").mistake(f"log does not go here: {words}", '"linear"')
        return UNKNOWN
    return _expected(raw, kind, at, Unknown(low, high, log, values.get("expected")))


def _expected(raw: Mapping[str, Any], kind: Any, at: At, found: Unknown) -> Any:
    """An unknown with what is expected of it."""
    if ("expected" in raw) != ("plus_minus" in raw):
        missing = "plus_minus" if "expected" in raw else "expected"
        (at / missing).mistake(
            "missing", "expected and plus_minus together: where the value is thought to lie, and how far off"
        )
        return UNKNOWN
    if "expected" not in raw:
        if found.low is None or found.high is None:
            at.mistake("neither bounds nor an expectation", "from and to, or expected and plus_minus, or both")
            return UNKNOWN
        return found
    assert found.expected is not None
    dimension = kind.dimension if isinstance(kind, Quantity) else "fraction"
    try:
        amount, relative = units.parse_plus_minus(str(raw["plus_minus"]), dimension)
    except units.UnitError as wrong:
        (at / "plus_minus").mistake(f"{shown(raw['plus_minus'])}: {wrong.what}", wrong.allowed)
        return UNKNOWN
    if found.log:
        share = amount if relative else amount / abs(found.expected) if found.expected else 0.0
        amount = share
    elif relative:
        if dimension == "temperature":
            (at / "plus_minus").mistake("a share of a temperature means nothing", '"± 15 K"')
            return UNKNOWN
        amount = amount * abs(found.expected)
    if amount <= 0.0:
        (at / "plus_minus").mistake(f"{shown(raw['plus_minus'])} leaves nothing open", "an amount above zero")
        return UNKNOWN
    outside = (found.low is not None and found.expected < found.low) or (
        found.high is not None and found.expected > found.high
    )
    if outside:
        (at / "expected").mistake("lies outside from and to", "a value between them")
        return UNKNOWN
    return Unknown(found.low, found.high, found.log, found.expected, amount)


def write_unknown(value: Unknown, kind: Any) -> Any:
    """The table from which an unknown is read back."""
    out: dict[str, Any] = {}
    for name, number in (("from", value.low), ("to", value.high), ("expected", value.expected)):
        if number is not None:
            out[name] = kind.write(number)
    if value.log:
        out["spacing"] = "log"
    if value.plus_minus is not None:
        dimension = kind.dimension if isinstance(kind, Quantity) else "fraction"
        if value.log:
            out["plus_minus"] = f"{100.0 * value.plus_minus!r} %"
        else:
            of = "temperature_difference" if dimension == "temperature" else dimension
            out["plus_minus"] = units.format_(value.plus_minus, of)
    return Inline(out)


@dataclass(eq=False, repr=False)
class Open(Kind):
    """A quantity that is known, or an unknown of the fit: ``"2 s"``, ``{ from = "0 s", to = "10 s" }``."""

    quantity: Quantity

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, dict):
            return read_unknown(raw, self.quantity, at, bounded=False)
        return self.quantity.read(raw, at, ', or a table such as { from = "...", to = "..." } where it is to be fitted')

    def write(self, value: Any) -> Any:
        return write_unknown(value, self.quantity) if isinstance(value, Unknown) else self.quantity.write(value)

    def words(self) -> str:
        return (
            f"{self.quantity.words()}; or, where it is to be fitted, a table with from and to, with expected and plus_minus "
            "(two standard deviations), or with all four"
        )

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.quantity.schema(), {"type": "object"}]}


@dataclass(eq=False, repr=False)
class Begin(Open):
    """When the case begins in its log: a time of the log, a clock, or an unknown."""

    def read(self, raw: Any, at: At) -> Any:
        if isinstance(raw, str) and ":" in raw:
            if clock_of(raw) is None:
                at.mistake(f"{shown(raw)} is no clock", 'a clock such as "14:03:20", or a time of the log')
                return UNKNOWN
            return raw
        return super().read(raw, at)

    def write(self, value: Any) -> Any:
        return value if isinstance(value, str) else super().write(value)

    def words(self) -> str:
        return f'{super().words()}; or a clock such as "14:03:20" where the log keeps one'


@dataclass(eq=False, repr=False)
class Finding(Kind):
    """What was measured: a number, or a text with its unit, that of an outcome, which only a run knows."""

    def read(self, raw: Any, at: At) -> Any:
        good = isinstance(raw, (int, float)) and not isinstance(raw, bool) and raw == raw and abs(raw) < 1e300
        if good or (isinstance(raw, str) and raw.strip() and len(raw) <= 60 and raw.isprintable()):
            return raw
        at.mistake(f"{shown(raw)} cannot stand here", self.words())
        return UNKNOWN

    def write(self, value: Any) -> Any:
        return value

    def words(self) -> str:
        return (
            'a number with the unit of the outcome, such as "1.3 mm" or "168 degC", or a bare one where it has no unit'
        )

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [{"type": "string"}, {"type": "number"}]}


@dataclass(eq=False, repr=False)
class ByPath(Kind):
    """Path -> what is given for the input there, as it stands in the file: what it means only the whole case can say.

    tables : entries are tables (unknowns), else single values.
    """

    tables: bool = False

    def read(self, raw: Any, at: At) -> Any:
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return UNKNOWN
        out: dict[str, Any] = {}
        for steps, entry in flat(raw, ()):
            path = ".".join(steps)
            if path in out:
                deeper(at, steps).mistake("stands there twice", "each input once")
            elif isinstance(entry, dict) != self.tables:
                deeper(at, steps).mistake(f"{shown(entry)} cannot stand here", self.words())
            else:
                out[path] = Inline(entry) if self.tables else entry
        return out

    def write(self, value: Any) -> Any:
        return dict(value) or None

    def words(self) -> str:
        if self.tables:
            return 'lines such as "stations.heat.upper.temperature" = { from = "380 degC", to = "460 degC" }'
        return 'lines such as "stations.heat.duration" = "80 s"'

    def schema(self) -> dict[str, Any]:
        entry: dict[str, Any] = {"type": "object"} if self.tables else Finding().schema()
        return {"type": "object", "additionalProperties": entry}


def flat(raw: Mapping[str, Any], steps: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Steps in the file and entry: a path may be quoted as one key, or written as dotted keys."""
    for name, entry in raw.items():
        path = (*steps, name)
        if isinstance(entry, dict) and entry and not set(entry) & {*KEYS, "also"} and len(path) <= DEEPEST:
            yield from flat(entry, path)
        else:
            yield path, entry


def deeper(at: At, steps: tuple[str, ...]) -> At:
    """The place some steps further in."""
    return At(at.report, (*at.path, *steps))
