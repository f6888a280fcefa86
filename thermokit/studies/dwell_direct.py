"""The window of a case that solves itself (a section, a mould): few settings, since each may be a run of its own."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import CaseError, Mistake
from thermokit.processes import direct_of
from thermokit.studies.found import Dwell, HandCheck, Margin, Shift
from thermokit.studies.sought import bounds_of, noted_input, scale_of
from thermokit.studies.window import find_window

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Direct, Hand, Limit
    from thermokit.studies.sought import Scale
    from thermokit.studies.tolerance import Shares
    from thermokit.studies.window import Window

INSIDE = 3  # settings inside a bracket in each refinement
CLOSE = 1.12  # times, how far an edge may move with the mesh
NEAR = 6.0  # times, how far an edge of a window is looked for when something changes
NOT_DRAWN = (
    "tolerances are not drawn for this kind of case, since each part would be a run of its own: the recommended value is the "
    "middle of the window (or 10 % above its beginning)"
)


@dataclass(frozen=True)
class Asking:
    """A case that solves itself, the path of the setting that is sought, and what is changed.

    values : other inputs, path -> number; transform : the process without an effect; direct : the process, which may remember
    what it has solved, None to make it anew.
    """

    case: Any
    path: str
    values: Mapping[str, Any] = field(default_factory=dict)
    transform: Callable[[Any], Any] | None = None
    direct: Any = None

    def margins(self, settings: Array, values: Mapping[str, Any] | None = None) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings)); NaN where a run did not finish."""
        direct: Any = self.direct if self.direct is not None else direct_of(self.case)
        if self.transform is not None:
            direct = self.transform(direct)
        changed = {**self.values, **(values or {})}
        settings = np.asarray(settings, float)
        spread = {path: np.broadcast_to(np.asarray(v, float), settings.shape) for path, v in changed.items()}
        found: tuple[tuple[Limit, ...], Array] = direct.margins(self.path, settings, spread)
        return found


def window_direct(direct: Direct, path: str) -> Window:
    """The window alone."""
    if by_runs(direct.case, path):
        from thermokit.studies.inverse import limits_window

        return limits_window(direct.case, path)
    return _settled(Asking(direct.case, path, direct=direct), *bounds_of(direct.case, path, direct.bounds(path)))


def _settled(asking: Asking, low: float, high: float) -> Window:
    """The window on the mesh that suits a setting inside it."""
    if by_runs(asking.case, asking.path):
        raise CaseError(
            asking.case.source.file,
            [Mistake(asking.path, "is sought, and this study knows a mould by its cooling time only", "cycle.cooling",
                     "`thermokit dwell` finds it; put the value in its place for this study")],
        )  # fmt: skip
    direct, points = asking.direct, asking.direct.points(asking.path)
    window = find_window(asking, low, high, points, INSIDE)
    guess = window.middle if window.middle is not None else window.nearest_miss()[0]
    if not direct.meshed(asking.path, min(max(guess, low), high)):
        return window
    return _sharpened(asking, window, low, high) or find_window(asking, low, high, points, INSIDE)


def _sharpened(asking: Asking, window: Window, low: float, high: float) -> Window | None:
    """The edges of a window looked for again close to where they were; None where one of them is not there any more."""
    if window.earliest is None:
        return None
    found: dict[str, tuple[float, str]] = {}
    for edge in ("earliest", "latest"):
        at = getattr(window, edge)
        if at is None or getattr(window, f"{edge}_limit") is None:
            continue
        here = find_window(asking, max(low, at / CLOSE), min(high, at * CLOSE), 3, 1)
        moved, limit = getattr(here, edge), getattr(here, f"{edge}_limit")
        if moved is None or limit is None:
            return None
        found[edge] = (moved, limit)
    earliest, first = found.get("earliest", (window.earliest, None))
    latest, last = found.get("latest", (window.latest, None))
    return replace(window, earliest=earliest, latest=latest, earliest_limit=first, latest_limit=last)


def by_runs(case: Any, path: str) -> bool:
    """Whether every setting is a run of its own: of a mould, whose margins are read off the time of opening of one shot."""
    return case.process == "mould" and noted_input(case, path) is not None


def dwell_direct(direct: Direct, path: str, told: Callable[[float], None]) -> Dwell:
    """The window of a setting, and why; see :func:`thermokit.studies.dwell.dwell`."""
    case = direct.case
    if by_runs(case, path):
        from thermokit.studies.inverse import limits_inverse

        return limits_inverse(case, path, told)
    if not direct.limits():
        raise CaseError(
            case.source.file,
            [Mistake("limits", "a dwell is sought, and nothing limits it", "at least one limit", "add [limits]")],
        )
    low, high = bounds_of(case, path, direct.bounds(path))
    asking, points, scale = Asking(case, path, direct=direct), direct.points(path), scale_of(case, path)
    window = _settled(asking, low, high)
    told(0.4)
    shared = _shares(asking, window, direct.draws) if case.tolerances and direct.draws and window.open else None
    recommended = window.middle
    if shared is not None:
        recommended = shared.best if window.latest is not None else shared.first_best
    told(0.6)
    return Dwell(
        station=path.split(".")[1] if path.startswith("stations.") and not window.even else path,
        path=path,
        earliest=window.earliest,
        latest=window.latest,
        recommended=recommended,
        earliest_limit=window.earliest_limit,
        latest_limit=window.latest_limit,
        margins=_margins(asking, window, recommended, scale),
        opens_with=None if window.open else _opens_with(asking, direct, window, (low, high, points), scale),
        hand=None if window.even else _hand(asking, direct, window, scale),
        shifts=() if window.even else _shifts(asking, direct, window, points),
        shares=shared,
        low=low,
        high=high,
        nearest=window.nearest_miss()[0],
        scale=scale,
        notes=(NOT_DRAWN,) if case.tolerances and not direct.draws else (),
    )


def _shares(asking: Asking, window: Window, draws: int) -> Shares:
    """Shares of good parts about the window."""
    from thermokit.studies.tolerance import shares

    assert window.earliest is not None
    last = window.latest if window.latest is not None else 1.5 * window.earliest
    width = last - window.earliest
    question: Any = asking
    return shares(question, max(window.earliest - width / 2, window.earliest / 2), last + width / 2, draws=draws)


def _margins(asking: Asking, window: Window, recommended: float | None, scale: Scale) -> tuple[Margin, ...]:
    if recommended is None:
        return ()
    limits, margins = asking.margins(np.array([recommended]))
    found = [Margin(n.name, float(m[0]), n.margin_unit) for n, m in zip(limits, margins, strict=True)]
    if window.earliest is not None and window.earliest_limit is not None:
        found.append(
            Margin(window.earliest_limit, (recommended - window.earliest) / scale.factor, scale.step, edge=True)
        )
    if window.latest is not None and window.latest_limit is not None:
        found.append(Margin(window.latest_limit, (window.latest - recommended) / scale.factor, scale.step, edge=True))
    return tuple(found)


def _about(asking: Asking, window: Window, points: int) -> Window:
    """A search about a window that was found, wide enough for both its edges to move."""
    low, high = float(window.settings[0]), float(window.settings[-1])
    assert window.earliest is not None
    last = window.latest if window.latest is not None else window.earliest
    return find_window(asking, max(low, window.earliest / NEAR), min(high, NEAR * last), points, INSIDE)


def _shifts(asking: Asking, direct: Direct, window: Window, points: int) -> tuple[Shift, ...]:
    if window.middle is None:
        return ()
    found = []
    for words, values in direct.shifts():
        other = _about(replace(asking, values=values), window, points)
        found.append(Shift(words, other.earliest, other.latest))
    return tuple(found)


def _hand(asking: Asking, direct: Direct, window: Window, scale: Scale) -> HandCheck | None:
    """The hand formula, and the model with one effect off at a time."""
    hand = direct.hand()
    if hand is None:
        return None
    own = _held_against(hand, window)
    if own is None:
        return HandCheck(hand.value, hand.formula, "the model finds no window to compare it with")
    edge = "earliest" if hand.of_earliest or window.latest is None else "middle of the window"
    if scale.dimension != "time":
        edge = edge.replace("earliest", "smallest")
    held = f"the model's {edge} is {scale.text(own)}"
    if hand.value > 0.0:  # a formula may say that no time at all is needed
        held += f", {100.0 * (own - hand.value) / hand.value:+.1f} % of the formula"
    parts = [held]
    for effect in hand.effects:
        other = _held_against(
            hand, _about(replace(asking, transform=effect.without), window, direct.points(asking.path))
        )
        words = f"{scale.text(other)} ({scale.change(other - own)})" if other is not None else "no window"
        parts.append(f"without {effect.words} it would be {words}")
    return HandCheck(hand.value, hand.formula, "; ".join(parts))


def _held_against(hand: Hand, window: Window) -> float | None:
    return window.earliest if hand.of_earliest or window.latest is None else window.middle


def _opens_with(asking: Asking, direct: Direct, window: Window, search: tuple[float, float, int], scale: Scale) -> str:
    """What would open a window, in words and numbers, found by running the model."""
    at, margins = window.nearest_miss()
    limit, margin = min(margins, key=lambda pair: pair[1])
    if np.isfinite(margin):
        amount = f"{-margin:.2g}" + ("" if limit.margin_unit == "1" else f" {limit.margin_unit}")
        why = f"{limit.name} ({limit.required}) is missed by {amount}"
    else:
        why = "the run does not finish"
    miss = f"no window: the nearest miss is at {scale.plain(at)}, where {why}"
    for words, values, shown in () if window.even else direct.openers():
        present = float(asking.case.value(next(iter(values))))
        order = np.argsort(np.abs(np.asarray(next(iter(values.values()))) - present), kind="stable")
        for i in order:
            here = {path: float(np.asarray(v)[i]) for path, v in values.items()}
            other = find_window(replace(asking, values=here), *search, INSIDE)
            if other.earliest is not None:
                upper = f" to {scale.text(other.latest)}" if other.latest is not None else " on"
                return f"{miss}; {words.format(f'{shown[i]:.0f}')} open one from {scale.text(other.earliest)}{upper}"
        miss += f"; {words.format(f'{float(np.min(shown)):.0f} to {float(np.max(shown)):.0f}')} do not open one"
    return f"{miss}; limits further apart by that much would open one"
