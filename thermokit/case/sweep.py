"""Which rows a sweep runs: ``[sweep]``, inputs by their path with the values that they take, and how these are combined."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import UNKNOWN, Kind, Section, key, known
from thermokit.case.mistakes import At, Report, nearest, shown
from thermokit.case.structure import ListOf
from thermokit.case.tables import Inline
from thermokit.case.values import Choice, Quantity, Text, Whole
from thermokit.case.walk import Leaf, leaves, scalar_kind, zones_advice

if TYPE_CHECKING:
    from thermokit.case.common import Case
    from thermokit.conduction.problem import Array

PLANS = ("grid", "list", "sobol", "latin_hypercube", "file")
SPREAD = ("sobol", "latin_hypercube")  # plans that fill ranges with rows
SPACINGS = ("linear", "log")
MOST_VALUES = 100_000  # of one input
DEEPEST = 12  # steps of a path
_RANGE = ("from", "to", "count", "spacing")


@dataclass(frozen=True)
class Range:
    """From ``low`` to ``high`` [SI], ``count`` values (0 where the plan says how many), equally spaced or by equal ratios."""

    low: float
    high: float
    count: int
    log: bool

    def at(self, share: Array) -> Array:
        """Values at shares of the range from 0 to 1 [SI]."""
        if self.log:
            return np.asarray(self.low * (self.high / self.low) ** share)
        return np.asarray(self.low + (self.high - self.low) * share)


@dataclass(eq=False, repr=False)
class Inputs(Kind):
    """Path -> values, as they stand in the file: what they mean only the whole case can say."""

    def read(self, raw: Any, at: At) -> Any:
        """Path -> list or range as given."""
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return UNKNOWN
        out: dict[str, Any] = {}
        for steps, entry in _flat(raw, ()):
            path = ".".join(steps)
            if not isinstance(entry, (list, dict)):
                _at(at, steps).mistake(f"{shown(entry)} is neither a list nor a range", self.words())
            elif path in out:
                _at(at, steps).mistake("stands there twice", "each input once")
            else:
                out[path] = Inline(entry) if isinstance(entry, dict) else tuple(entry)
        return out

    def write(self, value: Any) -> Any:
        """The table as it is written in a file."""
        return {path: list(entry) if isinstance(entry, tuple) else entry for path, entry in value.items()} or None

    def words(self) -> str:
        """What may stand in the table."""
        return (
            'lines such as "sheet.thickness" = ["3 mm", "4 mm"], or '
            '"sheet.thickness" = { from = "3 mm", to = "6 mm", count = 7, spacing = "linear" } (or "log")'
        )

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the table; which paths there are only the case itself can say."""
        value = {"anyOf": [{"type": "string"}, {"type": "number"}]}
        spacing = {"enum": list(SPACINGS)}
        whole = {"type": "integer", "minimum": 2, "maximum": MOST_VALUES}
        table = {"from": value, "to": value, "count": whole, "spacing": spacing}
        span = {"type": "object", "properties": table, "required": ["from", "to"], "additionalProperties": False}
        return {
            "type": "object",
            "additionalProperties": {"anyOf": [{"type": "array", "items": value, "minItems": 1}, span]},
        }


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Sweep(Section):
    """The rows of a sweep."""

    meaning = "which rows `thermokit sweep` runs"

    inputs: Mapping[str, Any] = key(
        Inputs(), "Inputs that change, by their path: the values that each takes.", default={}
    )
    plan: str = key(
        Choice(PLANS),
        "How values are combined: every one with every other (grid), first with first (list), ranges filled evenly by rows "
        "(sobol, latin_hypercube), or rows read from a CSV file (file).",
        default="grid",
    )  # fmt: skip
    rows: int | None = key(
        Whole(1, 10**12), "How many rows fill the ranges (sobol, latin_hypercube).", default=None,
        default_words="as the values of the inputs give",
    )  # fmt: skip
    seed: int = key(
        Whole(0, 2**31 - 1), "Seed of the draws (sobol, latin_hypercube): the same seed, the same rows.", default=1
    )
    file: str | None = key(
        Text(1000),
        "CSV file by its path from the case's folder: a first line such as sheet.thickness [mm],sheet.start [degC], then a "
        "line of numbers for each row.",
        default=None,
        default_words="no file",
    )  # fmt: skip
    outcomes: tuple[str, ...] | None = key(
        ListOf(Text(200), least=1, most=1000),
        'Names of the outcomes to keep, as `thermokit run` tells them, or ["all"]. Some take a run for each row.',
        default=None,
        default_words="all that come without a run for each row",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """What each plan needs, and what it has no use for."""
        if not known(self.plan):
            return
        if self.plan in SPREAD and "rows" not in given:
            (at / "rows").mistake("missing", f'how many rows plan = "{self.plan}" is to fill, such as 256')
        if self.plan not in SPREAD and "rows" in given:
            (at / "rows").mistake(f'means nothing with plan = "{self.plan}"', "plan " + " or ".join(SPREAD))
        if self.plan == "file":
            if "file" not in given:
                (at / "file").mistake("missing", 'the CSV file of the rows, such as "rows.csv"')
            if "inputs" in given and known(self.inputs) and self.inputs:
                (at / "inputs").mistake("stand beside a file of rows", "the one or the other")
        elif "file" in given:
            (at / "file").mistake(f'means nothing with plan = "{self.plan}"', 'plan = "file"')
        elif "inputs" not in given or (known(self.inputs) and not self.inputs):
            (at / "inputs").mistake("no input changes", Inputs().words())

    def check_inputs(self, case: Case, at: At) -> None:
        """Paths and values, held against the inputs of the case; called when the rest of the case has been read."""
        if not known(self.inputs, self.plan):
            return
        found = _resolved(self, case, at / "inputs")
        if found is not None and self.plan == "list":
            sizes = {
                path: len(entry) if isinstance(entry, np.ndarray) else entry.count for path, entry in found.items()
            }
            if len(set(sizes.values())) > 1:
                words = ", ".join(f"{path} has {size}" for path, size in sizes.items())
                (at / "inputs").mistake(f"{words} values", "as many for each, since the first goes with the first")

    def columns(self, case: Case) -> dict[str, Array | Range]:
        """Path as the user wrote it -> values or range, in SI. The case must have been read without a mistake."""
        return _resolved(self, case, At(Report())) or {}


def sweepable(case: Section) -> dict[str, Leaf]:
    """The inputs that a sweep may change, under every path by which they may be called."""
    out: dict[str, Leaf] = {}
    for leaf in leaves(case):
        if leaf.physical and scalar_kind(leaf.kind) is not None:
            out.setdefault(".".join(leaf.path), leaf)
            out[leaf.name] = leaf
    return out


def input_at(case: Case, path: str, at: At, inputs: Mapping[str, Leaf]) -> Leaf | None:
    """The input at a path; where there is none, a mistake that names the nearest."""
    leaf = inputs.get(path)
    if leaf is not None:
        return leaf
    other = next((own for own in leaves(case) if path in (own.name, ".".join(own.path))), None)
    zones = zones_advice(case, path)
    if zones:
        at.mistake("a table of zones stands at this path of the case", "the path of a number", zones)
    elif other is not None and scalar_kind(other.kind) is not None:
        at.mistake("concerns only the mesh or what is kept, not the part", "an input of the physics")
    elif other is not None:
        at.mistake("is no number: it makes another case", "the path of a number", "sweep each such case by itself")
    else:
        ending = path.rsplit(".", 1)[-1]
        like = [name for name in inputs if name.rsplit(".", 1)[-1] == ending][:3]
        advice = nearest(path, inputs) or (f"did you mean {' or '.join(like)}?" if like else "")
        at.mistake(
            "the case has no such input", "the path of a number", advice or "`thermokit check` lists what it holds"
        )
    return None


def _resolved(sweep: Sweep, case: Case, at: At) -> dict[str, Array | Range] | None:
    """Path -> values or range in SI; None where there was a mistake."""
    inputs = sweepable(case)
    out: dict[str, Array | Range] = {}
    seen: dict[tuple[str, ...], str] = {}
    good = True
    for path, entry in sweep.inputs.items():
        here = At(at.report, (*at.path, path))
        leaf = input_at(case, path, here, inputs)
        if leaf is None:
            good = False
            continue
        if leaf.path in seen:
            here.mistake(f"is the same input as {seen[leaf.path]}", "each input once")
            good = False
        seen[leaf.path] = path
        kind = scalar_kind(leaf.kind)
        read = _list if isinstance(entry, tuple) else _range
        found = read(entry, kind, sweep.plan, here)
        if found is None:
            good = False
        else:
            out[path] = found
    return out if good else None


def _list(entry: tuple[Any, ...], kind: Any, plan: str, at: At) -> Array | None:
    """A list of values in SI."""
    if plan in SPREAD:
        at.mistake(f'is a list; plan = "{plan}" fills a range', '{ from = "...", to = "..." }')
        return None
    if not 1 <= len(entry) <= MOST_VALUES:
        at.mistake(f"{len(entry)} values", f"from 1 to {MOST_VALUES} values")
        return None
    values = [kind.read(raw, at / str(i)) for i, raw in enumerate(entry)]
    if not known(*values):
        return None
    first: dict[float, int] = {}
    for i, value in enumerate(values):
        if plan == "grid" and value in first:
            (at / str(i)).mistake(f"{shown(entry[i])} is already entry {first[value]}", "each value once")
            return None
        first.setdefault(value, i)
    return np.array(values, float)


def _range(entry: Mapping[str, Any], kind: Any, plan: str, at: At) -> Array | Range | None:
    """A range in SI."""
    wrong = [name for name in entry if name not in _RANGE]
    for name in wrong:
        (at / name).mistake("unknown key", ", ".join(_RANGE), nearest(name, _RANGE))
    missing = [name for name in ("from", "to") if name not in entry]
    for name in missing:
        (at / name).mistake("missing", kind.words())
    ends: list[Any] = [kind.read(entry[name], at / name) if name in entry else UNKNOWN for name in ("from", "to")]
    low, high = ends
    spacing = entry.get("spacing", "linear")
    if spacing not in SPACINGS:
        advice = nearest(spacing, SPACINGS) if isinstance(spacing, str) else ""
        (at / "spacing").mistake(f"{shown(spacing)} is none", " or ".join(SPACINGS), advice)
        return None
    count: Any = 0
    if plan in SPREAD:
        if "count" in entry:
            (at / "count").mistake(f'means nothing with plan = "{plan}"', "rows says how many")
            return None
    elif "count" in entry:
        count = Whole(2, MOST_VALUES).read(entry["count"], at / "count")
    else:
        (at / "count").mistake("missing", "how many values, ends included")
        return None
    if wrong or missing or not known(low, high, count):
        return None
    if low == high:
        at.mistake(f"the range is empty: from and to are both {shown(entry['from'])}", "two different ends")
        return None
    temperature = isinstance(kind, Quantity) and kind.dimension == "temperature"
    if spacing == "log" and (temperature or min(low, high) <= 0.0):
        words = "temperatures have no ratios" if temperature else "both ends must lie above 0"
        (at / "spacing").mistake(f"log does not go here: {words}", '"linear"')
        return None
    span = Range(float(low), float(high), int(count), spacing == "log")
    if plan in SPREAD:
        return span
    if isinstance(kind, Whole):
        at.mistake("is a range of whole numbers", "a list of them")
        return None
    values = span.at(np.linspace(0.0, 1.0, span.count))
    values[-1] = span.high
    return values


def _flat(raw: Mapping[str, Any], steps: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Steps in the file and entry: a path may be quoted as one key, or written as dotted keys."""
    for name, entry in raw.items():
        path = (*steps, name)
        if isinstance(entry, dict) and not set(entry) & set(_RANGE) and entry and len(path) <= DEEPEST:
            yield from _flat(entry, path)
        else:
            yield path, entry


def _at(at: At, steps: tuple[str, ...]) -> At:
    return At(at.report, (*at.path, *steps))
