"""Up to six designs side by side: the same criteria for each, what differs most first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.studies.compare_changes import changed, changes_of
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.results.model import Result

MOST = 6  # designs that fit side by side
ALIKE = 0.01  # share of a value, beyond which two designs differ
SCALE = {"degC": 20.0, "K": 10.0}  # K that weigh as much as a value twice as large; common sense, no source
TIMES, TIME_WEIGHT = ("s", "1/h"), 4.0  # what a shop earns or loses by stands before the rest
LETTERS = "ABCDEF"
UNSHOWN = ("title", "process", "output", "accuracy", "start_from")  # keys that are no part of a design


@dataclass(frozen=True)
class Design:
    """One design: its letter, case, the changes that made it (path -> value), its result (None where it failed), why it failed."""

    letter: str
    case: Any
    changes: dict[str, str]
    result: Result | None
    trouble: str = ""

    @property
    def name(self) -> str:
        """What makes it this design, in words."""
        if self.changes:
            return "; ".join(f"{path} = {value}" for path, value in self.changes.items())
        return str(self.case.source.file) or str(self.case.title)

    @property
    def dwell(self) -> dict[str, Any] | None:
        """The window that was found, None where nothing was sought."""
        return None if self.result is None else self.result.study.get("dwell")

    @property
    def answered(self) -> bool:
        """Whether it ran, and has a window where one was sought."""
        if self.result is None or self.result.status != "finished":
            return False
        return self.dwell is None or self.dwell["recommended"] is not None


@dataclass(frozen=True)
class Row:
    """One quantity over all designs: values in ``unit``, None where a design has none; met : of a limit, by design.

    weight : how much the designs differ in it, 0 where they are alike.
    """

    name: str
    unit: str
    kind: str  # window, limit or outcome
    values: tuple[Any, ...]
    met: tuple[bool | None, ...] = ()
    required: str = ""
    meaning: str = ""
    weight: float = 0.0


@dataclass(frozen=True)
class Comparison:
    """Designs, and their rows with what differs most first; inputs : path -> value of each design, where they differ."""

    designs: tuple[Design, ...]
    rows: tuple[Row, ...]
    inputs: dict[str, tuple[str, ...]]

    def as_json(self) -> dict[str, Any]:
        """The JSON object of the command."""
        from thermokit.results.summary import as_json

        designs = []
        for design in self.designs:
            own: dict[str, Any] = {
                "letter": design.letter,
                "file": design.case.source.file,
                "title": design.case.title,
                "process": design.case.process,
                "changes": design.changes,
                "answered": design.answered,
                "trouble": design.trouble or None,
            }
            if design.result is not None:
                whole = as_json(design.result, None)
                own |= {key: whole[key] for key in ("status", "outcomes", "limits", "warnings", "remarks")}
                own["dwell"] = whole.get("dwell")
            designs.append(own)
        rows = [
            {
                "name": row.name,
                "unit": row.unit,
                "kind": row.kind,
                "required": row.required or None,
                "values": list(row.values),
                "met": list(row.met) or None,
                "differs": row.weight > 0.0,
            }
            for row in self.rows
        ]
        return {"designs": designs, "rows": rows, "inputs": {path: list(v) for path, v in self.inputs.items()}}


def compare(
    cases: Sequence[Any], sets: Sequence[str] = (), progress: Callable[[float], None] | None = None
) -> Comparison:
    """Cases side by side, or one case beside itself with other values.

    cases : cases or case files; sets : ``path=value``, with one case only (see :func:`changes_of`). Tolerances are not drawn:
    every design is judged as it stands. Raises CaseError on more than six designs, on fewer than two, and on a case that is wrong.
    """
    loaded = [as_case(case) for case in cases]
    altered = changes_of(sets)
    if altered and len(loaded) != 1:
        raise CaseError(
            "",
            [
                Mistake(
                    "--set", f"stands with {len(loaded)} cases", "one case, which is compared with itself as changed"
                )
            ],
        )
    wanted: list[tuple[Any, dict[str, str]]] = [(case, {}) for case in loaded]
    wanted += [(changed(loaded[0], changes), changes) for changes in altered]
    if not 2 <= len(wanted) <= MOST:
        raise CaseError(
            "",
            [
                Mistake(
                    "CASE",
                    f"{len(wanted)} design{'s' * (len(wanted) != 1)}",
                    f"2 to {MOST} designs: case files, or one and --set path=value",
                )
            ],
        )
    designs = []
    for i, (case, changes) in enumerate(wanted):
        designs.append(_solved(LETTERS[i], case, changes))
        if progress is not None:
            progress((i + 1) / len(wanted))
    return Comparison(tuple(designs), tuple(_rows(designs)), _inputs(designs))


def _solved(letter: str, case: Any, changes: dict[str, str]) -> Design:
    """A design with its result."""
    plain = replace(case, tolerances={})
    try:
        return Design(letter, case, changes, _result(plain))
    except SolveError as wrong:
        return Design(letter, case, changes, None, str(wrong))


def _result(case: Any) -> Result:
    """The result of a case; what it seeks is found first, without all that a dwell search tells besides."""
    from thermokit.case import sought_path
    from thermokit.processes.run import run_case
    from thermokit.studies.dwell import window_of
    from thermokit.studies.sought import scale_of

    path = sought_path(case)
    if path is None:
        return run_case(case)
    window, scale = window_of(case), scale_of(case, path)
    value = window.middle if window.middle is not None else window.nearest_miss()[0]
    found = {
        "station": path.split(".")[1] if path.startswith("stations.") else path,
        "earliest": scale.shown(window.earliest),
        "latest": scale.shown(window.latest),
        "recommended": scale.shown(window.middle),
        "unit": scale.unit,
        "earliest_limit": window.earliest_limit,
        "latest_limit": window.latest_limit,
    }
    return run_case(case.with_values({path: value}), study={"dwell": found})


# -- rows --------------------------------------------------------------------------------------------------------------


def _rows(designs: Sequence[Design]) -> list[Row]:
    """Window, limits, outcomes; in each, what differs most first."""
    found = [*_window_rows(designs)]
    limits = [_limit_row(designs, name) for name in _names(designs, lambda r: [c.name for c in r.limits])]
    outcomes = [_outcome_row(designs, name) for name in _names(designs, lambda r: [o.name for o in r.outcomes])]
    return found + sorted(limits, key=lambda r: -r.weight) + sorted(outcomes, key=lambda r: -r.weight)


def _names(designs: Sequence[Design], of: Callable[[Result], list[str]]) -> list[str]:
    """Names that any design has, in their order."""
    return list(dict.fromkeys(name for d in designs if d.result is not None for name in of(d.result)))


def _window_rows(designs: Sequence[Design]) -> list[Row]:
    dwells = [design.dwell for design in designs]
    if not any(dwells):
        return []
    rows = []
    unit = next(d["unit"] for d in dwells if d)
    for name in ("earliest", "latest", "recommended"):
        values = tuple(d[name] if d and d["unit"] == unit else None for d in dwells)
        limit = tuple((d or {}).get(f"{name}_limit") or "" for d in dwells)
        by = "" if not any(limit) else "; ".join(dict.fromkeys(text for text in limit if text))
        rows.append(Row(name, unit, "window", values, meaning=by, weight=_weight(values, unit)))
    return rows


def _limit_row(designs: Sequence[Design], name: str) -> Row:
    own = [next((c for c in d.result.limits if c.name == name), None) if d.result else None for d in designs]
    some = next(c for c in own if c is not None)
    values = tuple(None if c is None else c.found for c in own)
    met = tuple(None if c is None else c.met for c in own)
    required = some.required if len({c.required for c in own if c is not None}) == 1 else "differs"
    judged = {m for m in met if m is not None}
    # a limit that one design breaks and another meets matters most
    weight = _weight(values, some.unit) + (10.0 if len(judged) > 1 else 0.0)
    return Row(name, some.unit, "limit", values, met, required, "", weight)


def _outcome_row(designs: Sequence[Design], name: str) -> Row:
    own = [next((o for o in d.result.outcomes if o.name == name), None) if d.result else None for d in designs]
    some = next(o for o in own if o is not None)
    values = tuple(None if o is None or o.unit != some.unit else o.value for o in own)
    return Row(name, some.unit, "outcome", values, (), "", some.meaning, _weight(values, some.unit))


def _weight(values: Sequence[float | None], unit: str) -> float:
    """How much values differ: as a share of the largest, temperatures by their scale; 0 where they are alike."""
    known = [float(v) for v in values if v is not None]
    if not known:
        return 0.0
    if len(known) < len(values):
        return 2.0  # what one design reaches and another does not
    spread, size = max(known) - min(known), max(abs(v) for v in known)
    if size == 0.0 or spread == 0.0:
        return 0.0
    weight = spread / SCALE.get(unit, size)
    if weight <= ALIKE:
        return 0.0
    return weight * (TIME_WEIGHT if unit in TIMES else 1.0)


def _inputs(designs: Sequence[Design]) -> dict[str, tuple[str, ...]]:
    """Inputs that are not the same in all designs, as they are written."""
    from thermokit.case.tables import Inline
    from thermokit.case.walk import leaves
    from thermokit.case.writing import _value as written

    texts: list[dict[str, str]] = []
    for design in designs:
        own = {}
        for leaf in leaves(replace(design.case, tolerances={})):
            if leaf.value is None or leaf.path[0] in UNSHOWN:
                continue
            value = leaf.kind.write(leaf.value)
            own[leaf.name] = (
                ""
                if value is None
                else value
                if isinstance(value, str)
                else written(Inline(value) if isinstance(value, dict) else value)
            )
        texts.append(own)
    paths = dict.fromkeys(path for own in texts for path in own)
    rows = {path: tuple(own.get(path, "") for own in texts) for path in paths}
    return {path: row for path, row in rows.items() if len(set(row)) > 1}
