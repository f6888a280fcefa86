"""What a case answers when its inputs change: outcomes and margins of thousands of rows, for every kind of case.

Sweeps, maps, sensitivities and charts are all built on this. Three ways, and each outcome says which is its own
(:class:`thermokit.studies.answers_plan.Told`):

- ``batch``: layered bodies side by side; what limits look at, and what `thermokit run` tells of the same quantity;
- ``window``: of a case that seeks a value, its smallest and largest one, found for all rows together;
- ``run``: everything else of `thermokit run`: each row by itself on the same mesh. Sections and moulds are always so.

Only numbers change: cells, words and choices make another case. Where an input is a whole number, or must be one number for a
batch, rows are run one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import CaseError, Mistake, ThermokitError
from thermokit.processes import direct_of
from thermokit.studies.answers_batch import shown, solve_rows
from thermokit.studies.answers_plan import FINISHED, Answers, Plan, Told, joined, row_of, rows_in
from thermokit.studies.answers_prepare import OF_WINDOW, drawn, prepared, whole_numbers
from thermokit.studies.answers_run import Row, of_error, run_row, run_whole
from thermokit.studies.answers_window import Windows, recommended, windows
from thermokit.studies.sought import scale_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from thermokit.conduction.problem import Array

__all__ = ["FINISHED", "Answers", "Plan", "Told", "answers", "answers_of", "joined", "plan_of"]

EDGE_WORDS = ("earliest_limit", "latest_limit")


def answers(
    case: Any,
    values: Mapping[str, Array],
    wanted: Sequence[str] | None = None,
    edges: Sequence[Array] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Answers:
    """Outcomes, margins and status of every row.

    Parameters
    ----------
    case : Case
        a validated case; one with ``"find"`` is answered by the window of what is sought, and by outcomes inside it
    values : mapping of str to (n,) float
        path of an input (``sheet.thickness``) -> its values in SI, one a row
    wanted : sequence of str, optional
        names of outcomes as `thermokit run` tells them, or ``["all"]``; left out: all that a batch gives, or all where
        rows are run one by one
    edges : sequence of arrays, optional
        cell edges of each layer as shares of its thickness; left out: the finest mesh that rows at the corners of the
        ranges settle on
    progress : callable, optional
        told the share that is done

    Returns
    -------
    Answers
        arrays over the rows; a row that fails has NaN and its reason

    Raises
    ------
    CaseError
        an unknown path or outcome, a value out of range, an input that is no plain number; nothing limits what is sought

    """
    plan = plan_of(case, values, wanted, edges)
    return answers_of(plan, values, progress)


def plan_of(
    case: Any, values: Mapping[str, Array], wanted: Sequence[str] | None = None, edges: Sequence[Array] | None = None
) -> Plan:
    """What :func:`answers` finds out before it solves; the same plan serves chunks of the rows: :func:`answers_of`."""
    return prepared(case, checked(case, values), wanted, edges)


def checked(case: Any, values: Mapping[str, Array]) -> dict[str, Array]:
    """The rows as arrays of one length. Raises CaseError where a path or a value is wrong."""
    columns = {path: np.atleast_1d(np.asarray(column, float)) for path, column in values.items()}
    lengths = {path: column.size for path, column in columns.items()}
    if not columns or min(lengths.values()) < 1 or any(column.ndim != 1 for column in columns.values()):
        raise CaseError(case.source.file, [Mistake("inputs", "no row to solve", "one value a row and input")])
    if len(set(lengths.values())) > 1:
        words = ", ".join(f"{path} has {size}" for path, size in lengths.items())
        raise CaseError(case.source.file, [Mistake("inputs", words, "as many values for each input")])
    single = whole_numbers(case, columns)
    case.with_values({path: column for path, column in columns.items() if path not in single})
    for path in single:
        for value in np.unique(columns[path]):
            case.with_values({path: float(value)})
    return columns


def answers_of(plan: Plan, values: Mapping[str, Array], progress: Callable[[float], None] | None = None) -> Answers:
    """Rows answered as a plan lays out."""
    told = progress or (lambda share: None)
    if plan.how == "batch":
        return _side_by_side(plan, values, told)
    return _one_by_one(plan, values, told)


def blank(plan: Plan, count: int) -> Answers:
    """Answers of so many rows of which nothing is known yet."""
    chosen = plan.chosen() if plan.told else ()
    return Answers(
        outcomes={o.name: np.full(count, np.nan) for o in chosen},
        units={o.name: o.unit for o in chosen},
        meanings={o.name: o.meaning for o in chosen},
        limits=tuple(name for name, _ in plan.limits),
        margins=np.full((len(plan.limits), count), np.nan),
        margin_units=tuple(unit for _, unit in plan.limits),
        status=np.full(count, FINISHED, dtype=object),
        words={name: np.full(count, "", dtype=object) for name in EDGE_WORDS} if plan.search is not None else {},
        edges=plan.edges,
    )


def _side_by_side(plan: Plan, values: Mapping[str, Array], told: Callable[[float], None]) -> Answers:
    """All rows in batches; single runs only for outcomes that need them."""
    count = rows_in(values)
    out = blank(plan, count)
    filled = dict(values)
    found: Windows | None = None
    if plan.search is not None:
        found = windows(plan, values)
        filled[plan.search.path] = _put_windows(plan, values, found, out)
        told(0.7)
    near = plan.search.near if plan.search is not None else None
    solved = solve_rows(plan.case, filled, plan.edges, plan.tolerance, plan.places, near)
    out.margins[:] = solved.margins
    failed = solved.status != FINISHED
    out.status[failed] = solved.status[failed]
    singly = []
    for o in plan.chosen():
        if o.how == "batch":
            out.outcomes[o.name][:] = shown(solved.quantities[o.name], o.unit)
        elif o.how == "run":
            singly.append(o.name)
    if singly:
        for i in np.flatnonzero(~failed).tolist():
            row = run_row(plan.case.with_values(row_of(filled, i)), plan.edges, plan.tolerance)
            _put(out, i, row, singly)
            told((i + 1) / count)
    told(1.0)
    return out


def _put_windows(plan: Plan, values: Mapping[str, Array], found: Windows, out: Answers) -> Array:
    """Edges of the windows into the answers; returns the settings at which outcomes are told [SI]."""
    assert plan.search is not None
    scale = scale_of(plan.case, plan.search.path)
    setting = found.setting
    edges = {"earliest": found.earliest, "latest": found.latest}
    if "recommended" in plan.wanted:
        best = recommended(plan, values, found)
        setting = np.where(np.isnan(best), setting, best)
        edges["recommended"] = best
    for name, column in edges.items():
        if name in out.outcomes:
            out.outcomes[name][:] = scale.shown(column)
    names = np.array([*(limit.name for limit in found.limits), ""], dtype=object)
    for name, index in zip(EDGE_WORDS, (found.first, found.last), strict=True):
        out.words[name][:] = names[index]
    for i in np.flatnonzero(np.isnan(found.earliest)).tolist():
        out.status[i] = no_window(
            plan, scale.plain(float(found.setting[i])), int(found.missed_by[i]), float(found.missed[i])
        )
    return np.asarray(setting, float)


def no_window(plan: Plan, at: str, by: int, margin: float) -> str:
    """The status of a row without a window."""
    name, unit = plan.limits[by]
    if not np.isfinite(margin):
        return f"no window: runs near {at} do not finish"
    amount = f"{-margin:.2g}" + ("" if unit == "1" else f" {unit}")
    return f"no window: nearest at {at}, where {name} is missed by {amount}"


def _put(out: Answers, i: int, row: Row, names: Sequence[str]) -> None:
    """Outcomes of a single run into the answers."""
    if row.status != FINISHED:
        out.status[i] = row.status
        return
    own = {o.name: o.value for o in row.outcomes}
    for name in names:
        value = own.get(name)
        out.outcomes[name][i] = np.nan if value is None else value


def _one_by_one(plan: Plan, values: Mapping[str, Array], told: Callable[[float], None]) -> Answers:
    """Every row a run of its own."""
    count = rows_in(values)
    out = blank(plan, count)
    names = [o.name for o in plan.chosen() if o.how != "window"] if plan.told else []
    for i in range(count):
        try:
            case = plan.case.with_values(row_of(values, i))
            if plan.search is not None:
                case = _found_singly(plan, case, out, i)
            if names or plan.search is None:
                _put_row(plan, out, i, run_whole(case) if plan.how == "direct" else _run(plan, case), names)
        except ThermokitError as wrong:
            out.status[i] = of_error(wrong)
        told((i + 1) / count)
    return out


def _run(plan: Plan, case: Any) -> Row:
    return run_row(case, plan.edges, plan.tolerance)


def _put_row(plan: Plan, out: Answers, i: int, row: Row, names: Sequence[str]) -> None:
    """Outcomes and margins of a single run; a row without a window keeps that as its status."""
    status = out.status[i]
    _put(out, i, row, names)
    if status != FINISHED:
        out.status[i] = status
    for j, (name, _) in enumerate(plan.limits):
        out.margins[j, i] = row.margins.get(name, (np.nan, ""))[0] if row.status == FINISHED else np.nan


def _found_singly(plan: Plan, case: Any, out: Answers, i: int) -> Any:
    """The case with what is sought filled in, its window put into the answers."""
    assert plan.search is not None
    path = plan.search.path
    direct = direct_of(case)
    if direct is not None:
        from thermokit.studies.dwell_direct import window_direct

        window = window_direct(direct, path)
    else:
        from thermokit.studies.dwell import window_of

        window = window_of(case)
    scale = scale_of(plan.case, path)
    edges = {"earliest": window.earliest, "latest": window.latest, "recommended": window.middle}
    if "recommended" in plan.wanted and drawn(case) and window.middle is not None:
        from thermokit.studies.dwell import dwell

        edges["recommended"] = dwell(case).recommended
    for name in OF_WINDOW:
        value = edges[name]
        if name in out.outcomes and value is not None:
            out.outcomes[name][i] = scale.shown(value)
    for name, word in zip(EDGE_WORDS, (window.earliest_limit, window.latest_limit), strict=True):
        out.words[name][i] = word or ""
    at, margins = window.nearest_miss()
    setting = edges["recommended"] or at  # None without a window
    # between settings of the search by straight lines; a run there, where one is made, puts its own
    out.margins[:, i] = [np.interp(setting, window.settings, row) for row in window.margins]
    if window.middle is not None:
        return case.with_values({path: setting})
    by = int(np.argmin([-np.inf if np.isnan(m) else m for _, m in margins]))
    out.status[i] = no_window(plan, scale.plain(at), by, margins[by][1])
    return case.with_values({path: at})
