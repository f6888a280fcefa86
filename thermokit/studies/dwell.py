"""How long? Earliest, latest and recommended value of the one input that a case leaves to be found, and why.

Earliest : every limit is met from here on; latest : here the first one is broken. Both edges are named by their limit.
The recommended value is that with the best share of good parts where the case has tolerances, else the middle of the
window, else 10 % inside its only edge; of a line's speed the fastest that is as good as the best. Where there is no window
the model is run to find what would open one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import TIME_SHARE, base_edges
from thermokit.errors import CaseError, Mistake
from thermokit.processes import direct_of, process_of
from thermokit.processes.media import slowness
from thermokit.processes.run import judged, settled
from thermokit.studies.found import Dwell, HandCheck, Margin, Shift
from thermokit.studies.run import as_case
from thermokit.studies.sought import BOUNDS, bounds_of, scale_of
from thermokit.studies.tolerance import ALIKE
from thermokit.studies.window import Question, Window, find_window, wants_high
from thermokit.studies.window_speed import moved as moved_by
from thermokit.studies.window_speed import settle_speed

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.processes.base import Hand, Process
    from thermokit.results.model import Result
    from thermokit.studies.tolerance import Shares

LOW, HIGH = BOUNDS["time"]  # s, bounds of the search for a duration where the case gives none
FINE_MESH = 65  # edges of a layer above which shares of parts are found on half the cells
LOOSE = 0.05  # K, local error that is enough for them
NEAR = 6.0  # times, how far an edge of a window is looked for when something changes
POINTS = 17  # settings of that search before it is refined
LOOKS = 3  # for places that decide a window
NEAR_KELVIN, NEAR_SHARE = 3.0, 0.2  # a limit missed by more on the grid has no window between its settings
ENOUGH = 0.1  # a window of this share of the dwell is worth opening; common practice, no source


def dwell(case: Any, progress: Callable[[float], None] | None = None) -> Dwell:
    """The window of the duration (or other setting) that a case (or a case file) leaves to be found.

    Raises CaseError where nothing is to be found or nothing limits it. Without a window ``recommended`` is None and
    ``opens_with`` says what would open one.
    """
    from thermokit.case import sought_path

    case = as_case(case)
    path = sought_path(case)
    if path is None:
        raise CaseError(
            case.source.file,
            [Mistake("stations", "no dwell is to be found in this case", 'one station with duration = "find"',
                     "`thermokit run` runs it as it stands")],
        )  # fmt: skip
    told = progress or (lambda share: None)
    if case.wanted is not None:
        from thermokit.studies.inverse import inverse

        return inverse(case, path, told)
    direct = direct_of(case)
    if direct is not None:
        from thermokit.studies.dwell_direct import dwell_direct

        return dwell_direct(direct, path, told)
    low, high = bounds_of(case, path)
    process = process_of(case)
    if not process.limits():
        raise CaseError(
            case.source.file,
            [Mistake("limits", "a dwell is sought, and nothing limits it", "at least one limit", "add [limits]")],
        )
    question, window = _settle(case, path, low, high, told)
    plain = window.even
    told(0.4)
    name = path.split(".")[1] if path.startswith("stations.") and not plain else path
    shared = None
    if case.tolerances and window.open:
        shared = _shares(question, window)
    recommended = _recommended(window, shared)
    told(0.6)
    return Dwell(
        station=name,
        path=path,
        earliest=window.earliest,
        latest=window.latest,
        recommended=recommended,
        earliest_limit=window.earliest_limit,
        latest_limit=window.latest_limit,
        margins=_margins(question, window, recommended),
        opens_with=None if window.open else _opens_with(question, process, window, low, high),
        # formulas and changes of the trade are those of a dwell
        hand=None if plain else _hand(question, process, window),
        shifts=() if plain else _shifts(question, process, window, low, high),
        shares=shared,
        low=low,
        high=high,
        nearest=window.nearest_miss()[0],
        edges=tuple(question.edges),
        scale=scale_of(case, path),
    )


def run_at(case: Any, found: Dwell, progress: Callable[[float], None] | None = None) -> Result:
    """The case run at the recommended value, with the dwell beside it; without a window at the nearest miss.

    Raises nothing of its own: a result without a window has its limits broken and says so.
    """
    value = found.recommended if found.recommended is not None else found.nearest
    filled = case.with_values({found.path: value})
    direct = direct_of(filled)
    if direct is not None:
        result = direct.result(progress, {"dwell": found.as_json()})
        return replace(result, remarks=(*result.remarks, *found.notes))
    process = process_of(filled)
    result = judged(filled, process, settled(filled, process, progress), {"dwell": found.as_json()})
    return replace(result, remarks=(*result.remarks, *found.notes)) if found.notes else result


def window_of(case: Any) -> Window:
    """The window alone, without what moves it and why: for a case with something to find and limits."""
    from thermokit.case import sought_path

    path = sought_path(case)
    assert path is not None
    if case.wanted is not None:
        from thermokit.studies.inverse import wanted_window

        return wanted_window(case, path)
    direct = direct_of(case)
    if direct is not None:
        from thermokit.studies.dwell_direct import window_direct

        return window_direct(direct, path)
    return _settle(case, path, *bounds_of(case, path), lambda share: None)[1]


def _settle(case: Any, path: str, low: float, high: float, told: Any) -> tuple[Question, Window]:
    """The window on a mesh that meets the accuracy at a setting inside it."""
    if wants_high(path):
        quick = settle_speed(case, path, low, high)
        if quick is not None:
            return quick
    tolerance = TIME_SHARE * float(case.accuracy.temperature)
    process = process_of(case)
    layers = process.layers()
    edges: Any = base_edges([slowness(medium, t) for _, t, medium, _ in layers], [cells for *_, cells in layers])
    question = Question(case, path, edges, tolerance)
    window = find_window(question, low, high)
    told(0.2)
    for _ in range(2):
        guess = window.middle if window.middle is not None else window.nearest_miss()[0]
        filled = case.with_values({path: guess})
        inside = process_of(filled)
        finer = settled(filled, inside).edges
        question = replace(question, near=inside.memory(question.edges, None, tolerance) or None)
        if all(len(a) >= len(b) for a, b in zip(question.edges, finer, strict=True)):
            break
        question = Question(case, path, finer, tolerance, near=inside.memory(finer, None, tolerance) or None)
        window = find_window(question, low, high)
        told(0.3)
    return _at_worst_places(question, window, low, high)


def _at_worst_places(question: Question, window: Window, low: float, high: float) -> tuple[Question, Window]:
    """The window of the places of the part that decide it, found from the first place's and looked for again at its edges."""
    process = process_of(question.case)
    places: tuple[Any, ...] = ()
    for _ in range(LOOKS):
        at = [x for x in (window.earliest, window.latest) if x is not None] or [window.nearest_miss()[0]]
        found = process.chosen(question.edges, question.tolerance, at, question.path)
        if found is None or set(found) <= set(places):
            break
        places = tuple(dict.fromkeys((*places, *found)))
        question = replace(question, places=places)
        near = _near(at[0], low, high)
        window = find_window(question, *near, points=33)
        if not window.open or window.latest is None:  # the other places may be met far from where the first one is
            window = find_window(question, low, high)
    return question, window


def _recommended(window: Window, shared: Shares | None) -> float | None:
    if shared is None or window.earliest is None:
        return window.middle
    return best_of(shared, window.latest is not None, window.high)


def best_of(shared: Shares, ends: bool, high: bool) -> float:
    """The setting that shares of parts speak for [SI]. ends : something limits it upwards; high : it is wanted high.

    Where nothing limits it upwards, longer is only dearer: the first setting that is as good as the best. A speed that is as
    good as the best is wanted as fast as that.
    """
    if high:
        return float(shared.settings[shared.good >= shared.good.max() - ALIKE][-1])
    return shared.best if ends else shared.first_best


def _shares(question: Question, window: Window) -> Shares:
    """Shares of good parts about the window, on a mesh that suits tolerances of kelvins rather than tenths."""
    from thermokit.studies.tolerance import shares

    assert window.earliest is not None
    last = window.latest if window.latest is not None else 1.5 * window.earliest
    if window.even:
        last = min(last, float(window.settings[-1]))
    width = last - window.earliest
    low = max(window.earliest - width / 2, window.earliest / 2)
    if window.even:
        low = max(low, float(window.settings[0]))
    edges = [e[::2] if len(e) > FINE_MESH and len(e) % 2 else e for e in question.edges]
    return shares(replace(question, edges=edges, tolerance=max(question.tolerance, LOOSE)), low, last + width / 2)


def _margins(question: Question, window: Window, recommended: float | None) -> tuple[Margin, ...]:
    if recommended is None:
        return ()
    scale = scale_of(question.case, question.path)
    limits, margins = question.margins(np.array([recommended]))
    found = [Margin(n.name, float(m[0]), n.margin_unit) for n, m in zip(limits, margins, strict=True)]
    if window.earliest is not None and window.earliest_limit is not None:
        found.append(
            Margin(window.earliest_limit, (recommended - window.earliest) / scale.factor, scale.step, edge=True)
        )
    if window.latest is not None and window.latest_limit is not None:
        found.append(Margin(window.latest_limit, (window.latest - recommended) / scale.factor, scale.step, edge=True))
    return tuple(found)


def _around(window: Window, low: float, high: float) -> tuple[float, float]:
    """A narrower search about a window that was found, wide enough for both its edges to move."""
    assert window.earliest is not None
    last = window.latest if window.latest is not None else window.earliest
    return max(low, window.earliest / NEAR), min(high, NEAR * last)


def _near(value: float, low: float, high: float) -> tuple[float, float]:
    """A narrower search about a value."""
    return max(low, value / NEAR), min(high, value * NEAR)


def _shifts(question: Question, process: Process, window: Window, low: float, high: float) -> tuple[Shift, ...]:
    if window.middle is None:
        return ()
    found = []
    if window.high:
        shifts = process.shifts()
        quick = moved_by(question, window, [values for _, values in shifts], low, high)
        if quick is not None:
            return tuple(Shift(words, *edges) for (words, _), edges in zip(shifts, quick, strict=True))
    for words, values in process.shifts():
        moved = replace(question, values=values)
        other = find_window(moved, *_around(window, low, high), points=POINTS)
        found.append(Shift(words, other.earliest, other.latest))
    return tuple(found)


def _hand(question: Question, process: Process, window: Window) -> HandCheck | None:
    """The hand formula, and the model with one effect off at a time."""
    hand = process.hand(question.edges)
    if hand is None:
        return None
    edge_of = _earliest if hand.of_earliest else _latest if hand.of_latest else _of_window
    middle = edge_of(window)
    if middle is None:
        return HandCheck(hand.value, hand.formula, "the model finds no window to compare it with")
    scale = scale_of(question.case, question.path)
    wide = scale.bounds
    edge = "earliest" if hand.of_earliest or window.latest is None else "middle of the window"
    edge = "latest" if hand.of_latest and window.latest is not None else edge
    by = window.earliest_limit if edge == "earliest" else window.latest_limit if edge == "latest" else None
    edge += f" ({by})" if window.high and by is not None else ""
    held = f"the model's {edge} is {scale.text(middle)}"
    # a formula may say that nothing at all is needed
    parts = [f"{held}, {_percent(middle, hand.value)} of the formula" if hand.value > 0.0 else held]
    if not hand.effects:
        return HandCheck(hand.value, hand.formula, "; ".join(parts))
    if question.places is not None:
        question = replace(question, places=None)
        one = edge_of(find_window(question, *_around(window, *wide), points=POINTS))
        words = f"{scale.text(one)} ({scale.change(one - middle)})" if one is not None else "no window"
        parts.append(f"for the middle alone it would be {words}")
        middle = one if one is not None else middle
    for effect in hand.effects:
        without = replace(question, transform=effect.without)
        other = edge_of(find_window(without, *_around(window, *wide), points=POINTS))
        words = f"{scale.text(other)} ({scale.change(other - middle)})" if other is not None else "no window"
        parts.append(f"without {effect.words} it would be {words}")
    every = replace(question, transform=_all_off(hand))
    other = edge_of(find_window(every, *_around(window, *wide), points=POINTS))
    if other is not None:
        parts.append(f"without all of these {scale.text(other)}")
    return HandCheck(hand.value, hand.formula, "; ".join(parts))


def _earliest(window: Window) -> float | None:
    """Where the window begins."""
    return window.earliest


def _latest(window: Window) -> float | None:
    """Where the window ends; its beginning where it has no end."""
    return window.earliest if window.latest is None else window.latest


def _of_window(window: Window) -> float | None:
    """What a hand formula is held against: the middle of the window, its beginning where it has no end."""
    return window.earliest if window.latest is None else window.middle


def _all_off(hand: Hand) -> Any:
    def off(problem: Any) -> Any:
        for effect in hand.effects:
            problem = effect.without(problem)
        return problem

    return off


def _percent(value: float, base: float) -> str:
    return f"{100.0 * (value - base) / base:+.1f} %"


def _opens_with(question: Question, process: Process, window: Window, low: float, high: float) -> str:
    """What would open a window, in words and numbers, found by running the model."""
    at, margins = window.nearest_miss()
    limit, margin = min(margins, key=lambda pair: pair[1])
    amount = f"{-margin:.2g}" + ("" if limit.margin_unit == "1" else f" {limit.margin_unit}")
    scale = scale_of(question.case, question.path)
    miss = f"no window: the nearest miss is at {scale.plain(at)}, where {limit.name} ({limit.required}) is missed by {amount}"
    coarse = [_coarser(cut) for cut in question.edges]
    question = replace(question, edges=coarse, tolerance=max(question.tolerance, LOOSE), near=None)
    for words, values, shown in () if window.even else process.openers():
        found = _first_opening(question, values, len(shown), low, high)
        if found is None:
            lowest, highest = float(np.min(shown)), float(np.max(shown))
            miss += f"; {words.format(f'{lowest:.0f} to {highest:.0f}')} do not open one"
            continue
        i, earliest, latest = found
        from_here = scale.text(earliest)
        upper = (
            f"{from_here.removesuffix(f' {scale.unit}')} to {scale.text(latest)}"
            if latest is not None
            else f"{from_here} on"
        )
        return f"{miss}; {words.format(f'{shown[i]:.0f}')} open one from {upper}"
    return f"{miss}; limits further apart by that much would open one"


def _coarser(cut: Any) -> Any:
    """A mesh that suits advice: every second edge, until few are left."""
    while len(cut) > FINE_MESH and len(cut) % 2:
        cut = cut[::2]
    return cut


def _first_opening(
    question: Question, values: dict[str, Any], count: int, low: float, high: float
) -> tuple[int, float, float | None] | None:
    """(index, earliest, latest) of the value nearest to the present one that opens a useful window."""
    settings = np.geomspace(low, high, 49)
    tiled = {path: np.repeat(np.asarray(v), len(settings)) for path, v in values.items()}
    limits, margins = question.margins(np.tile(settings, count), tiled)
    # a coarse grid of settings may miss a narrow window by about as much
    near = np.array([NEAR_KELVIN if limit.margin_unit == "K" else NEAR_SHARE for limit in limits])[:, None]
    worst = np.where(np.isnan(margins), -np.inf, margins / near).min(axis=0).reshape(count, len(settings)).max(axis=1)
    path = next(iter(values))
    present = float(question.case.value(path))
    order = np.argsort(np.abs(np.asarray(values[path]) - present), kind="stable")
    narrow = None
    for i in order:
        if worst[i] < -1.0:
            continue
        here = {p: float(np.asarray(v)[i]) for p, v in values.items()}
        window = find_window(replace(question, values=here), low, high, points=49)
        if window.earliest is None:
            continue
        width = np.inf if window.latest is None else (window.latest - window.earliest) / window.earliest
        if width >= ENOUGH:
            return int(i), window.earliest, window.latest
        narrow = narrow or (int(i), window.earliest, window.latest)
    return narrow
