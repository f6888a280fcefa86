"""Where in one setting are all limits met? Edges of the window, each with the limit that makes it.

Every limit is followed over a grid of the setting in one batch of runs; each change of sign is cut down in two further
batches and by a straight line at the end. A limit may be met on several stretches; the window is the first stretch on
which all are.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from thermokit.conduction.follow_batch import follow_batch
from thermokit.processes import process_of
from thermokit.processes.base import facts_of_batch

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from thermokit.conduction.course import Course, Memory
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts, Limit, Process

INSIDE = 17  # points inside a bracket in each refinement
ROUNDS = 2
SPEED = "line.speed"  # path of a setting that is wanted as high as it may be
INNER = 0.1  # of the search, inside the one edge of such a window, where settings count by differences; as above
ABOVE, BELOW = 1.1, 0.9  # of the one edge of a window that has one only: common practice, no source


class Asked(Protocol):
    """Whatever tells how far its limits are met at given settings."""

    def margins(self, settings: Array) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings)), NaN where a run did not finish."""


@dataclass(frozen=True)
class Question:
    """A case, the path of the setting that is sought, and how it is solved.

    values : other inputs that are changed, path -> number; transform : the course without an effect; places : which
    places of the part are solved (see :func:`thermokit.processes.process_of`); near : what layers remember in a similar run.
    """

    case: Any
    path: str
    edges: Sequence[Array]
    tolerance: float
    values: Mapping[str, Any] = field(default_factory=dict)
    transform: Callable[[Course], Course] | None = None
    places: Any = None
    near: Memory | None = None

    def margins(self, settings: Array, values: Mapping[str, Any] | None = None) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings)) in one batch; NaN where a run did not finish.

        values : further inputs as arrays of the same length.
        """
        process, facts = self.facts(settings, values)
        quantities = process.quantities(facts)
        limits = process.limits()
        count = len(settings)
        found = np.array([np.broadcast_to(self._margin(limit, quantities), count) for limit in limits])
        found = found.reshape(len(limits), count)
        found[:, np.reshape(facts.failed, (count, -1)).any(axis=1)] = np.nan
        return limits, found

    @staticmethod
    def _margin(limit: Limit, quantities: Mapping[str, Array]) -> Array:
        bound = limit.bound
        if np.ndim(bound) and np.size(bound) != np.size(quantities[limit.quantity]):  # one for every place
            bound = np.reshape(bound, (np.size(quantities[limit.quantity]), -1))[:, 0]
        return replace(limit, bound=bound).margin(quantities[limit.quantity])

    def facts(self, settings: Array, values: Mapping[str, Any] | None = None) -> tuple[Process, Facts]:
        """(the process, its facts) for all settings, in one batch with the places of each side by side."""
        settings = np.asarray(settings, float)
        places = process_of(self.case.with_values({self.path: float(settings[0])}), self.places).places()
        changed = {**self.values, **(values or {}), self.path: settings}
        spread = {path: np.repeat(v, places) if np.ndim(v) else v for path, v in changed.items()}
        process = process_of(self.case.with_values(spread), self.places)
        course = process.course(self.edges)
        if self.transform is not None:
            course = self.transform(course)
        cases = len(settings) * places
        travel = follow_batch(
            course, cases, self.tolerance, process.memory(self.edges, cases, self.tolerance, self.near)
        )
        return process, facts_of_batch(travel)


@dataclass(frozen=True)
class Window:
    """What was found: edges [SI], the limit at each (None where the search ended there), and the margins on the grid.

    earliest, latest : None where there is no window; latest None too where nothing limits it. settings, margins : what
    was computed on the way, (settings,) and (limits, settings). high : as high as it may be is what is wanted (a speed). even :
    settings count by their differences (a temperature), not by their ratios.
    """

    earliest: float | None
    latest: float | None
    earliest_limit: str | None
    latest_limit: str | None
    limits: tuple[Limit, ...]
    settings: Array
    margins: Array
    high: bool = False
    even: bool = False

    @property
    def open(self) -> bool:
        """True where there is a window."""
        return self.earliest is not None

    @property
    def middle(self) -> float | None:
        """Middle of the window; 10 % above its beginning where it has no end, of a speed that nothing holds up from below 10 %
        below its end; None without a window."""
        if self.earliest is None:
            return None
        if self.even:
            return self._inside()
        found = within(self.earliest, self.latest, self.earliest_limit is not None, self.high)
        return float(found)

    def _inside(self) -> float:
        """The middle of the window; 10 % of the search inside its only edge, or half-way to the end of the search."""
        low, high = float(self.settings[0]), float(self.settings[-1])
        return float(within_search(self.earliest, self.latest, self.earliest_limit is not None, low, high))

    def nearest_miss(self) -> tuple[float, tuple[tuple[Limit, float], ...]]:
        """(setting, each limit with its margin) where the worst margin is best."""
        best = int(np.argmax(_worst(self.margins)))
        found = tuple((limit, float(row[best])) for limit, row in zip(self.limits, self.margins, strict=True))
        return float(self.settings[best]), found


def wants_high(path: str) -> bool:
    """Whether a setting is wanted as high as it may be, so that the last stretch of it counts: at a crawl everything on a
    line ends as its surroundings, which is no way to run it."""
    return path == SPEED


def within(earliest: Any, latest: Any, begins: Any, high: bool) -> Array:
    """Where to stand in a window: its middle; 10 % inside its only edge where it has one only.

    earliest, latest : numbers or (n,), latest None or NaN where nothing limits it; begins : whether a limit makes the
    earliest; high : the setting is wanted high, so that without such a limit it stands 10 % below the latest.
    """
    first = np.asarray(earliest, float)
    last = np.asarray(np.nan if latest is None else latest, float)
    found = np.where(np.isnan(last), ABOVE * first, (first + last) / 2.0)
    return np.where(high & ~np.isnan(last) & ~np.asarray(begins, bool), np.maximum(first, BELOW * last), found)


def within_search(earliest: Any, latest: Any, begins: Any, low: float, high: float) -> Array:
    """The same for a setting whose zero says nothing, such as a temperature: 10 % of the search inside an only edge, at most
    half-way to the end of the search.

    >>> float(within_search(340.0, None, True, 330.0, 470.0))
    354.0
    """
    first = np.asarray(earliest, float)
    last = np.asarray(np.nan if latest is None else latest, float)
    open_end, begun = np.isnan(last), np.asarray(begins, bool)
    step = INNER * (high - low)
    upwards = np.where(begun, np.minimum(first + step, (first + high) / 2.0), (low + high) / 2.0)
    downwards = np.maximum(last - step, (low + last) / 2.0)
    return np.where(open_end, upwards, np.where(begun, (first + last) / 2.0, downwards))


def _worst(margins: Array) -> Array:
    """Smallest margin at each setting; a run that did not finish is worst of all."""
    return np.asarray(np.where(np.isnan(margins), -np.inf, margins).min(axis=0))


def find_window(question: Asked, low: float, high: float, points: int = 65, inside: int = INSIDE) -> Window:
    """The first stretch of the setting between low and high [SI, > 0] on which every limit is met; of a line's speed the last.

    points : settings of the first look; inside : settings within each bracket in each of the refinements.
    """
    even = is_even(question)
    settings = np.linspace(low, high, points) if even else np.geomspace(low, high, points)
    limits, margins = question.margins(settings)
    for _ in range(ROUNDS):
        brackets = _brackets(settings, margins)
        if np.all(_worst(margins) < 0.0):  # where it comes nearest to a window
            best = int(np.argmax(_worst(margins)))
            brackets.append((float(settings[max(best - 1, 0)]), float(settings[min(best + 1, len(settings) - 1)])))
        if not brackets:
            break
        added = np.unique(np.concatenate([np.linspace(a, b, inside + 2)[1:-1] for a, b in brackets]))
        added = np.setdiff1d(added, settings)
        _, more = question.margins(added)
        settings = np.concatenate([settings, added])
        order = np.argsort(settings, kind="stable")
        settings, margins = settings[order], np.concatenate([margins, more], axis=1)[:, order]
    pick = last_stretch if wants_high(getattr(question, "path", "")) else _first_stretch
    return replace(pick(limits, settings, margins), even=even)


def is_even(question: Any) -> bool:
    """Whether settings are equally spaced: of an input whose key is not declared to be sought, which may be a temperature."""
    own = getattr(question, "even", None)
    note = getattr(getattr(question, "case", None), "sought_input", None)
    return bool(own) if own is not None else note is not None and note.is_at(getattr(question, "path", ""))


def _brackets(settings: Array, margins: Array) -> list[tuple[float, float]]:
    """Neighbouring settings between which a limit changes from met to broken or back."""
    met = margins >= 0.0
    change = np.any(met[:, 1:] != met[:, :-1], axis=0)
    return [(float(settings[i]), float(settings[i + 1])) for i in np.flatnonzero(change)]


def _first_stretch(limits: tuple[Limit, ...], settings: Array, margins: Array) -> Window:
    """Edges by straight lines between neighbouring settings."""
    starts: list[tuple[float, int | None]] = []  # (setting, limit) where a limit begins to be met
    ends: list[tuple[float, int | None]] = []
    met = margins >= 0.0
    for j, (margin, good) in enumerate(zip(margins, met, strict=True)):
        for i in np.flatnonzero(good[1:] != good[:-1]):
            a, b = margin[i], margin[i + 1]
            share = a / (a - b) if np.isfinite(a) and np.isfinite(b) and a != b else 1.0 if good[i + 1] else 0.0
            edge = float(settings[i] + share * (settings[i + 1] - settings[i]))
            (starts if good[i + 1] else ends).append((edge, j))

    def named(j: int | None) -> str | None:
        return limits[j].name if j is not None else None

    for begin, own in [(float(settings[0]), None), *sorted(starts, key=lambda e: e[0])]:
        if _all_met(settings, margins, begin, own):
            later = sorted((e for e in ends if e[0] >= begin), key=lambda e: e[0])
            end, by = later[0] if later else (None, None)
            return Window(begin, end, named(own), named(by), limits, settings, margins)
    return Window(None, None, None, None, limits, settings, margins)


def last_stretch(limits: tuple[Limit, ...], settings: Array, margins: Array) -> Window:
    """The last stretch, of a setting that is wanted high."""
    found = _first_stretch(limits, -settings[::-1], margins[:, ::-1])
    if found.earliest is None:
        return replace(found, settings=settings, margins=margins, high=True)
    earliest = float(settings[0]) if found.latest is None else -found.latest
    latest = None if found.earliest_limit is None else -found.earliest
    return Window(earliest, latest, found.latest_limit, found.earliest_limit, limits, settings, margins, True)


def _all_met(settings: Array, margins: Array, at: float, own: int | None) -> bool:
    """Whether every limit is met at a setting (the one whose edge it is counts as met)."""
    for j, margin in enumerate(margins):
        if j == own:
            continue
        i = int(np.clip(np.searchsorted(settings, at, side="right") - 1, 0, len(settings) - 2))
        pair = margin[i : i + 2]
        if np.any(np.isnan(pair)):
            return False
        share = (at - settings[i]) / (settings[i + 1] - settings[i])
        if np.all(np.isfinite(pair)):
            value = pair[0] + share * (pair[1] - pair[0])
        else:  # a margin without end (never cold enough) has no straight line: the worse of both in between
            value = pair[0] if share <= 0.0 else pair[1] if share >= 1.0 else pair.min()
            pair = np.zeros(2)
        if value < -1e-9 * float(np.abs(pair).max()):  # two limits may have the same edge, to round-off
            return False
    return True
