"""The window of a sought value in many rows at once: a grid of settings for all of them, then their edges cut down.

What :mod:`thermokit.studies.window` does for one case. Here every row brings its own settings, and the grid reaches only
over where windows of the probes lie; rows without a window there, or with one that is open at an end of the grid, are looked
for again over the whole range.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.studies.answers_batch import HELD, rows_at_once, solve_rows
from thermokit.studies.answers_plan import row_of, rows_in, some_rows
from thermokit.studies.window import wants_high, within, within_search

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit
    from thermokit.studies.answers_plan import Plan, Search

STEP = 1.25  # ratio of neighbouring settings of the grid
CLOSER = (0.02, 0.003)  # half a bracket about an edge in each refinement, as a share of the setting
COLUMNS = ("earliest", "latest", "first", "last", "setting", "missed_by", "missed")
INSIDE = 4  # settings inside each bracket beside the nearest miss, where no window is seen


@dataclass(frozen=True)
class Windows:
    """Edges of the window of every row, (n,) [SI].

    earliest : NaN without a window; latest : NaN without one or where nothing limits it (``open_ended``); first, last :
    index of the limit at each edge, -1 where the search ended there or there is none; setting : where outcomes are told, the
    middle of the window (10 % inside its only edge where it has one only), else the nearest miss; missed_by, missed : index of the
    limit with the smallest margin where the rows come nearest to a window, and that margin [SI].
    """

    earliest: Array
    latest: Array
    first: Any
    last: Any
    setting: Array
    missed_by: Any
    missed: Array
    limits: tuple[Limit, ...]


def windows(plan: Plan, values: Mapping[str, Array]) -> Windows:
    """The windows of all rows; values : path -> (n,) [SI]."""
    search = plan.search
    assert search is not None
    found = _found(plan, values, search)
    note = getattr(plan.case, "sought_input", None)
    if note is None or not note.is_at(search.path):
        return found
    there = ~np.isnan(found.earliest)
    inside = within_search(found.earliest, found.latest, found.first >= 0, search.low, search.high)
    return replace(found, setting=np.where(there, inside, found.setting))


def _found(plan: Plan, values: Mapping[str, Array], search: Search) -> Windows:
    """The windows of all rows, first where those of the probes lie."""
    found = _search(plan, values, search, search.near_low, search.near_high)
    narrow = search.near_low > search.low or search.near_high < search.high
    again = np.isnan(found.earliest)
    again |= (found.first < 0) & (found.earliest <= search.near_low) & (search.near_low > search.low)
    again |= ~np.isnan(found.earliest) & np.isnan(found.latest) & (search.near_high < search.high)
    if not narrow or not np.any(again):
        return found
    at = np.flatnonzero(again)
    other = _search(plan, some_rows(values, at), search, search.low, search.high)
    return _patched(found, at, other)


def _search(plan: Plan, values: Mapping[str, Array], search: Search, low: float, high: float) -> Windows:
    """The windows between two bounds, lot by lot."""
    points = int(np.ceil(np.log(high / low) / np.log(STEP))) + 1
    settings = np.geomspace(low, high, max(points, 5))
    count = rows_in(values)
    lot = rows_at_once(plan.case.with_values({search.path: low}), values, plan.edges, plan.places)
    lot = max(1, min(lot, HELD // 100) // len(settings))
    parts = [_lot(plan, some_rows(values, slice(i, i + lot)), search, settings) for i in range(0, count, lot)]
    if len(parts) == 1:
        return parts[0]
    whole: dict[str, Any] = {name: np.concatenate([getattr(p, name) for p in parts]) for name in COLUMNS}
    return replace(parts[0], **whole)


def _lot(plan: Plan, values: Mapping[str, Array], search: Search, grid: Array) -> Windows:
    """Rows that fit into memory together: the grid, then settings of each row's own about its edges."""
    count = rows_in(values)
    settings = np.broadcast_to(grid, (count, len(grid))).copy()
    limits, margins = _margins(plan, values, search, settings)
    for share in CLOSER:
        settings, margins = _closer(plan, values, search, settings, margins, share)
    stretch = _stretch_of(search)
    found = stretch(limits, settings, margins)
    at = np.flatnonzero(np.isnan(found.earliest))
    if not len(at):
        return found
    # where limits only just shut each other out, the nearest miss is a kink between settings
    values, settings, margins = some_rows(values, at), settings[at], margins[:, at]
    for share in CLOSER:
        settings, margins = _closer(plan, values, search, settings, margins, share)
    return _patched(found, at, stretch(limits, settings, margins))


def _patched(found: Windows, at: Any, other: Windows) -> Windows:
    """Windows with those of some rows replaced."""
    whole: dict[str, Any] = {name: np.array(getattr(found, name)) for name in COLUMNS}
    for name, column in whole.items():
        column[at] = getattr(other, name)
    return replace(found, **whole)


def _closer(
    plan: Plan, values: Mapping[str, Array], search: Search, settings: Array, margins: Array, share: float
) -> tuple[Array, Array]:
    """(settings, margins) with more settings where edges, or the nearest miss, of each row lie."""
    more = _next(settings, margins, share, _stretch_of(search)((), settings, margins))
    _, fresh = _margins(plan, values, search, more)
    settings = np.concatenate([settings, more], axis=1)
    margins = np.concatenate([margins, fresh], axis=2)
    order = np.argsort(settings, axis=1, kind="stable")
    return np.take_along_axis(settings, order, axis=1), np.take_along_axis(margins, order[None], axis=2)


def _margins(
    plan: Plan, values: Mapping[str, Array], search: Search, settings: Array
) -> tuple[tuple[Limit, ...], Array]:
    """(limits, margins (limits, rows, settings)); settings (rows, m)."""
    count, m = settings.shape
    spread = {path: np.repeat(column, m) for path, column in values.items()} | {search.path: settings.ravel()}
    solved = solve_rows(plan.case, spread, plan.edges, plan.tolerance, plan.places, search.near)
    return solved.limits, solved.margins.reshape(-1, count, m)


def _next(settings: Array, margins: Array, share: float, own: Windows) -> Array:
    """Settings to look at next, (rows, 4): two about each edge of the window, or beside the nearest miss."""
    rows = np.arange(len(settings))
    low, high = settings[:, 0], settings[:, -1]
    best = np.argmax(_worst(margins), axis=1)
    before = settings[rows, np.maximum(best - 1, 0)]
    after = settings[rows, np.minimum(best + 1, settings.shape[1] - 1)]
    miss = before[:, None] + (after - before)[:, None] * (np.arange(1, INSIDE + 1) / (INSIDE + 1.0))
    first = np.where(np.isnan(own.earliest), 1.0, own.earliest)
    last = np.where(np.isnan(own.latest), first, own.latest)
    edges = np.stack([first * (1 - share), first * (1 + share), last * (1 - share), last * (1 + share)], axis=1)
    open_ended = np.isnan(own.latest)[:, None] & (np.arange(4) > 1)
    edges = np.where(open_ended, edges * (1.0 + share / 7.0), edges)  # a setting is looked at once
    found = np.where(np.isnan(own.earliest)[:, None], miss, edges)
    return np.clip(found, low[:, None], high[:, None])


def _worst(margins: Array) -> Array:
    """(rows, settings) smallest margin; a run that did not finish is worst of all."""
    return np.asarray(np.where(np.isnan(margins), -np.inf, margins).min(axis=0))


def _first_stretch(limits: tuple[Limit, ...], settings: Array, margins: Array) -> Windows:
    """The first stretch on which every limit is met, by straight lines between neighbouring settings of each row.

    settings (rows, m) ascending, margins (limits, rows, m).
    """
    a, b = margins[..., :-1], margins[..., 1:]
    met_a, met_b = a >= 0.0, b >= 0.0  # NaN is not met
    s, t = settings[:, :-1], settings[:, 1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(met_a == met_b, 0.0, a / (a - b))
    share = np.where(np.isfinite(share), share, np.where(met_b, 1.0, 0.0))
    cut = s + share * (t - s)
    starts, ends = ~met_a & met_b, met_a & ~met_b
    begin_of, end_of = np.where(starts, cut, -np.inf), np.where(ends, cut, np.inf)
    first_by, last_by = np.argmax(begin_of, axis=0), np.argmin(end_of, axis=0)
    begin, end = np.maximum(begin_of.max(axis=0), s), np.minimum(end_of.min(axis=0), t)
    good = (met_a | met_b).all(axis=0) & (begin <= end * (1.0 + 1e-12))
    rows, last_interval = np.arange(len(settings)), settings.shape[1] - 2
    there = good.any(axis=1)
    i = np.argmax(good, axis=1)
    earliest = np.where(there, begin[rows, i], np.nan)
    started = np.asarray(starts.any(axis=0))[rows, i]
    first = np.where(there & started, first_by[rows, i], -1)
    # the stretch goes on until the first interval from there in which a limit ends
    ending = np.asarray(ends.any(axis=0) & (np.arange(last_interval + 1)[None] >= i[:, None]))
    closed = there & ending.any(axis=1)
    j = np.argmax(ending, axis=1)
    latest = np.where(closed, end[rows, j], np.nan)
    last = np.where(closed, last_by[rows, j], -1)
    worst = _worst(margins)
    best = np.argmax(worst, axis=1)
    setting = np.where(there, within(earliest, latest, first >= 0, high=False), settings[rows, best])
    at_best = margins[:, rows, best]
    by = np.argmin(np.where(np.isnan(at_best), -np.inf, at_best), axis=0)
    return Windows(earliest, latest, first, last, setting, by, at_best[by, rows], limits)


def _last_stretch(limits: tuple[Limit, ...], settings: Array, margins: Array) -> Windows:
    """The last stretch of every row, of a setting that is wanted high."""
    own = _first_stretch(limits, -settings[:, ::-1], margins[..., ::-1])
    there = ~np.isnan(own.earliest)
    earliest = np.where(there, np.where(np.isnan(own.latest), settings[:, 0], -own.latest), np.nan)
    latest = np.where(there & (own.first >= 0), -own.earliest, np.nan)
    setting = np.where(there, within(earliest, latest, own.last >= 0, high=True), -own.setting)
    return replace(own, earliest=earliest, latest=latest, first=own.last, last=own.first, setting=setting)


def _stretch_of(search: Search) -> Callable[[tuple[Limit, ...], Array, Array], Windows]:
    """Which stretch is meant of what is sought: :func:`thermokit.studies.window.wants_high`."""
    return _last_stretch if wants_high(search.path) else _first_stretch


def recommended(plan: Plan, values: Mapping[str, Array], found: Windows) -> Array:
    """The recommended value of every row [SI], by the share of good parts where the case has tolerances."""
    if not plan.case.tolerances:
        return np.where(np.isnan(found.earliest), np.nan, found.setting)
    from thermokit.studies.dwell import FINE_MESH, LOOSE, best_of
    from thermokit.studies.tolerance import shares
    from thermokit.studies.window import Question

    assert plan.search is not None
    edges = [cut[::2] if len(cut) > FINE_MESH and len(cut) % 2 else cut for cut in plan.edges]
    out = np.full(len(found.earliest), np.nan)
    for i in np.flatnonzero(~np.isnan(found.earliest)).tolist():
        case = plan.case.with_values(row_of(values, i))
        question = Question(
            case, plan.search.path, edges, max(plan.tolerance, LOOSE), places=plan.places, near=plan.search.near
        )
        first = float(found.earliest[i])
        last = float(found.latest[i]) if not np.isnan(found.latest[i]) else 1.5 * first
        width = last - first
        own = shares(question, max(first - width / 2, first / 2), last + width / 2)
        out[i] = best_of(own, not np.isnan(found.latest[i]), wants_high(plan.search.path))
    return out
