"""How long? Earliest, latest and recommended value of the one input that a case leaves to be found, and why.

Earliest : every limit is met from here on; latest : here the first one is broken. Both edges are named by their limit.
The recommended value is that with the best share of good parts where the case has tolerances, else the middle of the
window, else 10 % above its beginning. Where there is no window the model is run to find what would open one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import TIME_SHARE, base_edges
from thermokit.errors import CaseError, Mistake
from thermokit.processes import process_of
from thermokit.processes.media import slowness
from thermokit.processes.run import judged, settled
from thermokit.studies.run import as_case
from thermokit.studies.window import Question, Window, find_window

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.processes.base import Hand, Process
    from thermokit.results.model import Result
    from thermokit.studies.tolerance import Shares

LOW, HIGH = 0.1, 36_000.0  # s, bounds of the search where the case gives none
FINE_MESH = 65  # edges of a layer above which shares of parts are found on half the cells
LOOSE = 0.05  # K, local error that is enough for them
NEAR = 6.0  # times, how far an edge of a window is looked for when something changes
POINTS = 17  # settings of that search before it is refined
LOOKS = 3  # for places that decide a window
NEAR_KELVIN, NEAR_SHARE = 3.0, 0.2  # a limit missed by more on the grid has no window between its settings
ENOUGH = 0.1  # a window of this share of the dwell is worth opening; common practice, no source


@dataclass(frozen=True)
class Margin:
    """A margin at the recommended value: of a limit in K (or 1), or to an edge of the window in s."""

    limit: str
    value: float
    unit: str


@dataclass(frozen=True)
class HandCheck:
    """The hand formula beside the answer: value [s], the formula, and why the two differ."""

    value: float
    formula: str
    why_different: str


@dataclass(frozen=True)
class Shift:
    """The window after one change at the machine: words, earliest and latest [s] (None without)."""

    change: str
    earliest: float | None
    latest: float | None


@dataclass(frozen=True)
class Dwell:
    """The answer: times in s; see :func:`dwell`. nearest : the setting that comes nearest to a window where there is none."""

    station: str
    path: str
    earliest: float | None
    latest: float | None
    recommended: float | None
    earliest_limit: str | None
    latest_limit: str | None
    margins: tuple[Margin, ...]
    opens_with: str | None
    hand: HandCheck | None
    shifts: tuple[Shift, ...]
    shares: Shares | None
    low: float
    high: float
    nearest: float
    edges: tuple[Any, ...]

    def as_json(self) -> dict[str, Any]:
        """The ``dwell`` block of the JSON object."""
        out: dict[str, Any] = {
            "station": self.station,
            "earliest": self.earliest,
            "latest": self.latest,
            "recommended": self.recommended,
            "unit": "s",
            "earliest_limit": self.earliest_limit,
            "latest_limit": self.latest_limit,
            "margins": [{"limit": m.limit, "value": m.value, "unit": m.unit} for m in self.margins],
            "opens_with": self.opens_with,
            "hand": None
            if self.hand is None
            else {
                "value": self.hand.value,
                "unit": "s",
                "formula": self.hand.formula,
                "why_different": self.hand.why_different,
            },
            "shifts": [
                {"change": s.change, "earliest": s.earliest, "latest": s.latest, "unit": "s"} for s in self.shifts
            ],
            "searched": {"from": self.low, "to": self.high, "unit": "s"},
        }
        if self.shares is not None and self.recommended is not None:
            good, broken = self.shares.at(self.recommended)
            out["parts"] = {"inside": good, "breaking": broken, "draws": self.shares.draws, "seed": self.shares.seed}
        return out


def dwell(case: Any, progress: Callable[[float], None] | None = None) -> Dwell:
    """The window of the duration that a case (or a case file) leaves to be found.

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
    low, high = _bounds(case, path)
    process = process_of(case)
    if not process.limits():
        raise CaseError(
            case.source.file,
            [Mistake("limits", "a dwell is sought, and nothing limits it", "at least one limit", "add [limits]")],
        )
    question, window = _settle(case, path, low, high, told)
    told(0.4)
    name = path.split(".")[1] if path.startswith("stations.") else path
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
        hand=_hand(question, process, window),
        shifts=_shifts(question, process, window, low, high),
        shares=shared,
        low=low,
        high=high,
        nearest=window.nearest_miss()[0],
        edges=tuple(question.edges),
    )


def run_at(case: Any, found: Dwell, progress: Callable[[float], None] | None = None) -> Result:
    """The case run at the recommended value, with the dwell beside it; without a window at the nearest miss.

    Raises nothing of its own: a result without a window has its limits broken and says so.
    """
    value = found.recommended if found.recommended is not None else found.nearest
    filled = case.with_values({found.path: value})
    process = process_of(filled)
    return judged(filled, process, settled(filled, process, progress), {"dwell": found.as_json()})


def window_of(case: Any) -> Window:
    """The window alone, without what moves it and why: for a case with something to find and limits."""
    from thermokit.case import sought_path

    path = sought_path(case)
    assert path is not None
    return _settle(case, path, *_bounds(case, path), lambda share: None)[1]


def _bounds(case: Any, path: str) -> tuple[float, float]:
    sought = case.value(path)
    low = float(sought.low) if sought.low is not None else LOW
    high = float(sought.high) if sought.high is not None else HIGH
    return low, high


def _settle(case: Any, path: str, low: float, high: float, told: Any) -> tuple[Question, Window]:
    """The window on a mesh that meets the accuracy at a setting inside it."""
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
    # where nothing limits it upwards, longer is only dearer: the first setting that is as good as the best
    return shared.best if window.latest is not None else shared.first_best


def _shares(question: Question, window: Window) -> Shares:
    """Shares of good parts about the window, on a mesh that suits tolerances of kelvins rather than tenths."""
    from thermokit.studies.tolerance import shares

    assert window.earliest is not None
    last = window.latest if window.latest is not None else 1.5 * window.earliest
    width = last - window.earliest
    low = max(window.earliest - width / 2, window.earliest / 2)
    edges = [e[::2] if len(e) > FINE_MESH and len(e) % 2 else e for e in question.edges]
    return shares(replace(question, edges=edges, tolerance=max(question.tolerance, LOOSE)), low, last + width / 2)


def _margins(question: Question, window: Window, recommended: float | None) -> tuple[Margin, ...]:
    if recommended is None:
        return ()
    limits, margins = question.margins(np.array([recommended]))
    found = [Margin(n.name, float(m[0]), n.margin_unit) for n, m in zip(limits, margins, strict=True)]
    if window.earliest is not None and window.earliest_limit is not None:
        found.append(Margin(window.earliest_limit, recommended - window.earliest, "s"))
    if window.latest is not None and window.latest_limit is not None:
        found.append(Margin(window.latest_limit, window.latest - recommended, "s"))
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
    edge_of = _earliest if hand.of_earliest else _of_window
    middle = edge_of(window)
    if middle is None:
        return HandCheck(hand.value, hand.formula, "the model finds no window to compare it with")
    edge = "earliest" if hand.of_earliest or window.latest is None else "middle of the window"
    parts = [f"the model's {edge} is {middle:.1f} s, {_percent(middle, hand.value)} of the formula"]
    if question.places is not None:
        question = replace(question, places=None)
        one = edge_of(find_window(question, *_around(window, LOW, HIGH), points=POINTS))
        words = f"{one:.1f} s ({one - middle:+.1f} s)" if one is not None else "no window"
        parts.append(f"for the middle alone it would be {words}")
        middle = one if one is not None else middle
    for effect in hand.effects:
        without = replace(question, transform=effect.without)
        other = edge_of(find_window(without, *_around(window, LOW, HIGH), points=POINTS))
        words = f"{other:.1f} s ({other - middle:+.1f} s)" if other is not None else "no window"
        parts.append(f"without {effect.words} it would be {words}")
    every = replace(question, transform=_all_off(hand))
    other = edge_of(find_window(every, *_around(window, LOW, HIGH), points=POINTS))
    if other is not None:
        parts.append(f"without all of these {other:.1f} s")
    return HandCheck(hand.value, hand.formula, "; ".join(parts))


def _earliest(window: Window) -> float | None:
    """Where the window begins."""
    return window.earliest


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
    miss = f"no window: the nearest miss is at {at:.4g} s, where {limit.name} ({limit.required}) is missed by {amount}"
    coarse = [_coarser(cut) for cut in question.edges]
    question = replace(question, edges=coarse, tolerance=max(question.tolerance, LOOSE), near=None)
    for words, values, shown in process.openers():
        found = _first_opening(question, values, len(shown), low, high)
        if found is None:
            lowest, highest = float(np.min(shown)), float(np.max(shown))
            miss += f"; {words.format(f'{lowest:.0f} to {highest:.0f}')} do not open one"
            continue
        i, earliest, latest = found
        upper = f" to {latest:.1f} s" if latest is not None else " s on"
        return f"{miss}; {words.format(f'{shown[i]:.0f}')} open one from {earliest:.1f}{upper}"
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
