"""Lays out how the rows of a study are solved: mesh and places that serve all, and which outcomes come with a batch.

Some rows, at the corners of the ranges and in their middle, are probes. Each is settled by itself, and the finest mesh
of any serves all rows: so the accuracy holds at the corners (a mesh is given in shares of the thickness, which each row has
its own of). Then the probes are run once more on that mesh, one by one and side by side: an outcome whose quantity comes out
alike both ways is taken from the batch. Where a batch cannot do what the rows need (an input that must be one number), it
differs from the single runs, and rows are run one by one.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.case.sweep import sweepable
from thermokit.case.values import Whole
from thermokit.case.walk import scalar_kind
from thermokit.conduction.mesh import TIME_SHARE, base_edges
from thermokit.errors import CaseError, Mistake, ThermokitError
from thermokit.processes import direct_of, process_of
from thermokit.processes.media import slowness
from thermokit.processes.run import settled
from thermokit.studies.answers_batch import shown, solve_rows
from thermokit.studies.answers_plan import FINISHED, Plan, Search, Told, row_of, some_rows
from thermokit.studies.answers_run import Row, run_row, run_whole
from thermokit.studies.sought import bounds_of, scale_of
from thermokit.studies.window import Question, find_window

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from thermokit.conduction.problem import Array

MOST_CORNERS = 3  # inputs up to which every corner is a probe; beyond, the ends of each input
MOST_PROBES = 9
WIDER = 1.5  # times, how far beyond the windows of the probes those of the rows are looked for
POINTS = 65
LIKE_KELVIN, LIKE_SHARE = 2.0, 0.02  # accuracies, share: what single runs and a batch may differ by
#: told of the middle of the sheet alone, though the quantity of that name is the worst over all places
OF_THE_MIDDLE = ("upper_face", "lower_face", "mean_temperature", "middle")
OF_WINDOW = ("earliest", "latest", "recommended")


def prepared(
    case: Any,
    values: Mapping[str, Array],
    wanted: Sequence[str] | None = None,
    edges: Sequence[Array] | None = None,
) -> Plan:
    """How the rows of a study are solved; see :func:`thermokit.studies.answers.answers`."""
    probes = [row_of(values, i) for i in probe_rows(values)]
    base = case.with_values(probes[0])
    path = sought_path(base)
    if path is not None and case.wanted is not None:
        raise CaseError(
            case.source.file,
            [
                Mistake(
                    "wanted", "an outcome is wanted of one case at a time", "limits", "leave [wanted] out of this study"
                )
            ],
        )
    if direct_of(base) is not None:
        return _direct(case, probes, path, wanted)
    process = process_of(base)
    if path is not None and not process.limits():
        raise CaseError(
            case.source.file,
            [Mistake("limits", "a value is sought, and nothing limits it", "at least one limit", "add [limits]")],
        )
    tolerance = TIME_SHARE * float(case.accuracy.temperature)
    whole: Any = process.everywhere() if hasattr(process, "everywhere") else process
    each = whole.places()
    everywhere = whole.choice if each > 1 else None
    search = None
    if path is None:
        cut = tuple(edges) if edges is not None else finest(case, probes)
        filled = probes
    else:
        cut, search, at, chosen = _sought(case, probes, path, tolerance, edges)
        filled = [row | {path: setting} for row, setting in zip(probes, at, strict=True)]
    singles = [run_row(case.with_values(row), cut, tolerance) for row in filled]
    columns = {name: np.array([row[name] for row in filled]) for name in filled[0]}
    whole_ones = whole_numbers(case, values)
    if whole_ones:
        outcomes = {o.name: o for single in singles for o in single.outcomes}
        told = tuple(Told(o.name, o.unit, o.meaning, "run") for o in outcomes.values())
        note = f"{whole_ones[0]} is a whole number"
    else:
        told, note = _matched(case, columns, singles, cut, tolerance, everywhere)
    how: Any = "run" if note else "batch"
    if search is not None:
        scale = scale_of(base, path or "")
        words = {"earliest": "every limit is met from here on", "latest": "here the first limit is broken"}
        best = " share of good parts is largest" if case.tolerances else " middle of the window"
        words["recommended"] = "where the" + best
        of_window = [Told(name, scale.unit, words[name], "window") for name in OF_WINDOW]
        told = (*of_window, *(o for o in told if o.name not in OF_WINDOW))
    limits = tuple((limit.name, limit.margin_unit) for limit in process_of(case.with_values(filled[0])).limits())
    steps = max((single.steps for single in singles), default=0) or 100
    runs = 1.0 if search is None else 8.0 + np.log(search.near_high / search.near_low) / np.log(WIDER)
    plan = Plan(
        case=case,
        how=how,
        edges=cut,
        tolerance=tolerance,
        places=everywhere if search is None else chosen,
        told=told,
        wanted=(),
        limits=limits,
        search=search,
        work=float(steps * sum(len(e) - 1 for e in cut) * each * runs),
        note=note,
    )
    plan = replace(plan, wanted=_wanted(plan, wanted))
    if search is not None and case.tolerances and "recommended" in plan.wanted:
        from thermokit.studies.tolerance import DRAWS, NODES

        plan = replace(plan, work=plan.work * (1.0 + DRAWS * NODES / runs))
    return plan


def whole_numbers(case: Any, paths: Iterable[str]) -> list[str]:
    """Paths of those inputs that are whole numbers: they have one value in a batch."""
    inputs = sweepable(case)
    return [path for path in paths if path in inputs and isinstance(scalar_kind(inputs[path].kind), Whole)]


def probe_rows(values: Mapping[str, Array]) -> list[int]:
    """Rows at the corners of the ranges, in their middle, and the first: indices, ascending."""
    columns = np.array(list(values.values()), float)
    low, high = columns.min(axis=1), columns.max(axis=1)
    width = np.where(high > low, high - low, 1.0)
    unit = (columns - low[:, None]) / width[:, None]
    free = np.flatnonzero(high > low)
    targets = [np.full(len(columns), 0.5)]
    if len(free) <= MOST_CORNERS:
        corners = [dict(zip(free, ends, strict=True)) for ends in product((0.0, 1.0), repeat=len(free))]
    else:
        corners = [dict.fromkeys(free, end) for end in (0.0, 1.0)]
        corners += [{k: end} for k in free for end in (0.0, 1.0)]
    for corner in corners:
        target = np.full(len(columns), 0.5)
        for k, end in corner.items():
            target[k] = end
        targets.append(target)
    found = [int(np.argmin(((unit - target[:, None]) ** 2).sum(axis=0))) for target in targets[:MOST_PROBES]]
    return sorted({0, *found})


def finest(case: Any, rows: Sequence[Mapping[str, float]]) -> tuple[Array, ...]:
    """The finest mesh that any of these rows settles on, layer by layer; the coarse one where none can be run."""
    best: list[Array] | None = None
    for row in rows:
        try:
            own = case.with_values(row)
            found = settled(own, process_of(own)).edges
        except ThermokitError:
            continue
        best = list(found) if best is None else [max(a, b, key=len) for a, b in zip(best, found, strict=True)]
    if best is None:
        layers = process_of(case.with_values(rows[0])).layers()
        best = base_edges([slowness(medium, t) for _, t, medium, _ in layers], [cells for *_, cells in layers])
    return tuple(best)


def _sought(
    case: Any, probes: Sequence[dict[str, float]], path: str, tolerance: float, edges: Sequence[Array] | None
) -> tuple[tuple[Array, ...], Search, list[float], Any]:
    """(mesh, search, a setting inside the window of each probe, places that decide windows)."""
    low, high = bounds_of(case, path)
    own = case.with_values(probes[0])
    layers = process_of(own).layers()
    cut: Any = edges or base_edges([slowness(m, t) for _, t, m, _ in layers], [cells for *_, cells in layers])
    found = []
    for row in probes:
        window = find_window(Question(case.with_values(row), path, cut, tolerance), low, high)
        found.append((row, window))
    at = [w.middle if w.middle is not None else w.nearest_miss()[0] for _, w in found]
    filled = [row | {path: setting} for row, setting in zip(probes, at, strict=True)]
    if edges is None:
        cut = finest(case, filled)
    inside = process_of(case.with_values(filled[0]))
    near = inside.memory(cut, None, tolerance) or None
    places: tuple[Any, ...] = ()
    ends: list[float] = []
    for row, window in found:
        mine = [x for x in (window.earliest, window.latest) if x is not None] or [window.nearest_miss()[0]]
        ends += mine
        process = process_of(case.with_values(row))
        chosen = process.chosen(cut, tolerance, mine, path)
        places = tuple(dict.fromkeys((*places, *(chosen or ()))))
    open_low = any(w.earliest is not None and w.earliest_limit is None for _, w in found)
    open_high = any(w.earliest is not None and w.latest is None for _, w in found)
    near_low = low if open_low else max(low, min(ends) / WIDER)
    near_high = high if open_high else min(high, max(ends) * WIDER)
    return tuple(cut), Search(path, low, high, near_low, near_high, near), at, places or None


def _matched(
    case: Any,
    columns: Mapping[str, Array],
    singles: Sequence[Row],
    edges: Sequence[Array],
    tolerance: float,
    places: Any,
) -> tuple[tuple[Told, ...], str]:
    """(outcomes, each with how it is had; why rows must be run one by one, empty where a batch does)."""
    outcomes = {o.name: o for single in singles for o in single.outcomes}
    done = np.array([single.status == FINISHED for single in singles])
    if not done.any():
        return (), ""
    kept = [single for single in singles if single.status == FINISHED]
    kelvin = LIKE_KELVIN * float(case.accuracy.temperature)
    try:
        solved = solve_rows(case, some_rows(columns, done), edges, tolerance, places)
    except (TypeError, ValueError, IndexError) as wrong:
        note = f"these inputs cannot be solved side by side ({type(wrong).__name__})"
        return tuple(Told(o.name, o.unit, o.meaning, "run") for o in outcomes.values()), note
    note = ""
    for j, limit in enumerate(solved.limits):
        if solved.status[0] != FINISHED:
            break
        one = np.array([single.margins[limit.name][0] for single in kept])
        if not _alike(solved.margins[j], one, kelvin if limit.margin_unit == "K" else None):
            note = f"side by side the margin of {limit.name} comes out otherwise than one by one"
    told = []
    several = places is not None
    for name, outcome in outcomes.items():
        how: Any = "run"
        if name in solved.quantities and not note and not (several and name in OF_THE_MIDDLE):
            one = np.array([next((_number(o.value) for o in s.outcomes if o.name == name), np.nan) for s in kept])
            batch = shown(solved.quantities[name], outcome.unit)
            if _alike(batch, one, kelvin if outcome.unit in ("degC", "K") else None):
                how = "batch"
        told.append(Told(name, outcome.unit, outcome.meaning, how))
    return tuple(told), note


def _number(value: float | None) -> float:
    return np.nan if value is None else float(value)


def _alike(a: Array, b: Array, kelvin: float | None) -> bool:
    """Whether two ways of solving came to the same, within their errors."""
    if np.any(np.isnan(a) != np.isnan(b)):
        return False
    here = ~np.isnan(a)
    allowed = kelvin if kelvin is not None else LIKE_SHARE * np.abs(b[here]).max(initial=0.0) + 1e-9
    return bool(np.all(np.abs(a[here] - b[here]) <= allowed))


def _wanted(plan: Plan, wanted: Sequence[str] | None) -> tuple[str, ...]:
    """The names that are told: those asked for; else all that come with the batch, or all where rows are run one by one."""
    known = [o.name for o in plan.told]
    if wanted is None:
        # a recommended value by shares of good parts takes thousands of runs a row
        dear = ("recommended",) if plan.search is not None and drawn(plan.case) else ()
        cheap = [o.name for o in plan.told if o.how != "run" or plan.how != "batch"]
        return tuple(name for name in cheap if name not in dear)
    if list(wanted) == ["all"]:
        return tuple(known)
    wrong = [name for name in wanted if name not in known]
    if wrong and known:
        from thermokit.case.mistakes import nearest

        raise CaseError(
            plan.case.source.file,
            [
                Mistake("outcomes", f'"{name}" is no outcome of this case', ", ".join(known), nearest(name, known))
                for name in wrong
            ],
        )
    return tuple(dict.fromkeys(wanted))


def drawn(case: Any) -> bool:
    """Whether a recommended value comes from parts that are drawn within the tolerances of the case."""
    direct = direct_of(case)
    return bool(case.tolerances) and (direct is None or direct.draws > 0)


def _direct(case: Any, probes: Sequence[Mapping[str, float]], path: str | None, wanted: Sequence[str] | None) -> Plan:
    """Rows of a process that solves itself: a first run says which outcomes there are."""
    first = case.with_values(probes[0])
    direct: Any = direct_of(first)
    search, of_window = None, []
    filled = first
    if path is not None:
        low, high = bounds_of(first, path, direct.bounds(path))
        search = Search(path, low, high, low, high)
        unit = scale_of(first, path).unit
        of_window = [Told(name, unit, f"{name} value of what is sought", "window") for name in OF_WINDOW]
        filled = first.with_values({path: float(np.sqrt(low * high))})
    told: list[Told] = [*of_window]
    for row in probes:
        one = run_whole(filled if row is probes[0] else case.with_values({**row, **_middle(search)}))
        if one.status == FINISHED:
            told += [Told(o.name, o.unit, o.meaning, "run") for o in one.outcomes]
            break
    limits = tuple((limit.name, limit.margin_unit) for limit in direct.limits())
    tolerance = TIME_SHARE * float(case.accuracy.temperature)
    plan = Plan(
        case, "direct", (), tolerance, None, tuple(told), (), limits, search, 0.0, "each row is a run of its own"
    )
    return replace(plan, wanted=_wanted(plan, wanted))


def _middle(search: Search | None) -> dict[str, float]:
    return {} if search is None else {search.path: float(np.sqrt(search.low * search.high))}
