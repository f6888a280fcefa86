"""What rules the cycle: its stations in order, how far each can be shortened before a limit is broken, and what a second is worth.

Cycle C of n parts: 3600 n/C parts an hour; one second less gives 3600 n (1/(C - 1) - 1/C) more. Stations that work side by side
give C = the slowest: a second less at any other gains nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import numeric_paths, sought_path
from thermokit.case.cost import IN_TURN, SIDE_BY_SIDE, Cost
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.processes import direct_of
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable

LEAST = 0.3  # share of its time down to which a station is shortened
POINTS, SLOW_POINTS = 29, 4
CYCLE = ("fill", "hold", "cooling", "open")  # times of a moulding's shot


@dataclass(frozen=True)
class Step:
    """One stretch of the cycle: name, path of its time (empty where it follows from the rest), seconds; of those that it shares its
    place with, ``group`` is the same.

    rules : whether the cycle gets shorter with it; spare : seconds by which it can be shortened alone with all limits met, None
    where that was not asked; limit : broken first then, empty where none is down to 30 %.
    """

    name: str
    path: str
    seconds: float
    group: int
    rules: bool = False
    spare: float | None = None
    limit: str = ""


@dataclass(frozen=True)
class Bottleneck:
    """The answer: cycle [s] of ``parts``, its steps, parts an hour, what one second less is worth in parts an hour and money.

    saved_per_part, saved_per_hour : of one second less, in the currency; None without rates. broken : limits not met as it stands.
    """

    case: Any
    steps: tuple[Step, ...]
    cycle: float
    parts: int
    arrangement: str
    broken: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def ruling(self) -> Step:
        """The longest step of those that rule."""
        return max((s for s in self.steps if s.rules), key=lambda s: s.seconds)

    @property
    def easiest(self) -> Step | None:
        """The ruling step from which most can be taken, None where none has any spare."""
        open_ = [s for s in self.steps if s.rules and (s.spare or 0.0) > 0.0]
        return max(open_, key=lambda s: s.spare or 0.0) if open_ else None

    @property
    def per_hour(self) -> float:
        """Parts an hour."""
        return 3600.0 * self.parts / self.cycle

    @property
    def gain(self) -> float:
        """Parts an hour more for one second less of the cycle; halved cycles stand for those of less than two seconds."""
        less = min(1.0, self.cycle / 2.0)
        return (3600.0 * self.parts / (self.cycle - less) - self.per_hour) / less

    @property
    def slack(self) -> float:
        """Seconds that the ruling group can lose before another one rules; inf where all are in turn."""
        if self.arrangement == IN_TURN:
            return float("inf")
        groups = sorted(lengths_of(self.steps).values())
        return groups[-1] - groups[-2] if len(groups) > 1 else float("inf")

    @property
    def rate(self) -> float | None:
        """What a machine hour costs in all, in the currency; None without rates."""
        cost = cost_of(self.case)
        if cost.machine is None and cost.labour is None:
            return None
        idle = float(cost.idle) / 1e3 * float(cost.energy or 0.0)
        return float(cost.machine or 0.0) + float(cost.labour or 0.0) + idle

    @property
    def saved_per_part(self) -> float | None:
        """Money saved on each part by one second less."""
        return None if self.rate is None else self.rate / 3600.0 / self.parts

    @property
    def saved_per_hour(self) -> float | None:
        """The same on all parts of an hour."""
        return None if self.saved_per_part is None else self.saved_per_part * self.per_hour


def cost_of(case: Any) -> Cost:
    """The ``[cost]`` of a case, or its defaults."""
    return case.cost if case.cost is not None else Cost()


def bottleneck(case: Any, progress: Callable[[float], None] | None = None) -> Bottleneck:
    """Which station rules the cycle, and what could be taken from it.

    case : Case or path; what is sought in it is found first (the middle of the window). Raises CaseError where the case has no
    cycle (a line runs without one), SolveError where what it seeks does not exist.
    """
    case = as_case(case)
    told = progress or (lambda share: None)
    filled, notes = settled_case(case)
    told(0.3)
    steps = steps_of(filled)
    cost = cost_of(filled)
    found, broken = _spares(filled, steps)
    told(0.9)
    lengths = lengths_of(found)
    between = float(cost.between)
    if cost.stations == SIDE_BY_SIDE:
        ruling = max(lengths, key=lambda group: lengths[group])
        cycle = lengths[ruling] + between
        found = tuple(replace(s, rules=s.group == ruling) for s in found)
    else:
        cycle = sum(s.seconds for s in found) + between
        found = tuple(replace(s, rules=True) for s in found)
    if between > 0.0:
        found = (*found, Step("between parts", "cost.between", between, -1, True))
    return Bottleneck(filled, found, cycle, int(cost.parts), cost.stations, broken, tuple(notes))


def settled_case(case: Any) -> tuple[Any, list[str]]:
    """(the case with what it seeks filled in, what must be said)."""
    path = sought_path(case)
    if path is None:
        return case, []
    from thermokit.studies.dwell import window_of
    from thermokit.studies.sought import scale_of

    window = window_of(case)
    if window.middle is None:
        raise SolveError(f"{path} has no window, so there is no cycle; `thermokit dwell` tells what would open one")
    return case.with_values({path: window.middle}), [
        f"{path} at {scale_of(case, path).text(window.middle)}, the middle of its window"
    ]


def steps_of(case: Any) -> tuple[Step, ...]:
    """The stretches of the cycle in order. Raises CaseError where the case has none."""
    paths = numeric_paths(case)
    if case.process == "mould":
        return _mould_steps(case)
    stations = getattr(case, "stations", ())
    names = [f"stations.{s.name}.duration" for s in stations]
    names = [name if name in paths else "stations.duration" if len(stations) == 1 else name for name in names]
    if case.process == "cylinder":
        return (Step("shot", "shot.cycle", float(case.value("shot.cycle")), 0),)
    if not names or any(name not in paths for name in names):
        raise CaseError(
            case.source.file,
            [Mistake("stations", "the case has no cycle of stations with a time each", "stations with a duration",
                     "a line has no cycle: `thermokit run` and `thermokit dwell` tell what rules its speed")],
        )  # fmt: skip
    groups = _groups(stations)
    return tuple(
        Step(s.name, name, float(paths[name][0]), group) for s, name, group in zip(stations, names, groups, strict=True)
    )


def _groups(stations: Any) -> list[int]:
    """Stations that work on the same part: of a sheet all up to the tool, and all from it on; others each by itself."""
    kinds = [getattr(s, "kind", "") for s in stations]
    if "tool" in kinds:
        first = kinds.index("tool")
        return [0 if i < first else 1 for i in range(len(kinds))]
    return list(range(len(kinds)))


def _mould_steps(case: Any) -> tuple[Step, ...]:
    """Fill, hold, cooling and open; the hold may follow from the gate, and is then told by a run."""
    times = {name: getattr(case.cycle, name) for name in CYCLE}
    if times["hold"] is None:
        direct: Any = direct_of(case)
        result = direct.result(None, {})
        known = {o.name: o.value for o in result.outcomes}
        whole = known.get("cycle_time")
        rest = sum(float(v) for v in times.values() if v is not None)
        times["hold"] = max(float(whole or rest) - rest, 0.0)
    own = case.cycle
    return tuple(
        Step(name, f"cycle.{name}" if getattr(own, name) is not None else "", float(seconds), 0)
        for name, seconds in times.items()
    )


def lengths_of(steps: Any) -> dict[int, float]:
    """Group -> seconds."""
    out: dict[int, float] = {}
    for step in steps:
        if step.group >= 0:
            out[step.group] = out.get(step.group, 0.0) + step.seconds
    return out


def _spares(case: Any, steps: tuple[Step, ...]) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """(steps with how far each can be shortened alone, limits that are broken as it stands)."""
    direct: Any = direct_of(case)
    asked = [s for s in steps if s.path and (direct is None or s.name not in ("fill", "open", "hold"))]
    points = POINTS if direct is None else SLOW_POINTS
    shares = np.linspace(LEAST, 1.0, points)
    rows = {s.path: np.full(len(asked) * points, s.seconds) for s in asked}
    for i, step in enumerate(asked):
        rows[step.path][i * points : (i + 1) * points] = step.seconds * shares
    if not asked:
        return steps, ()
    plan = plan_of(case, rows)
    if not plan.limits:
        return steps, ()
    margins = answers_of(plan, rows).margins.reshape(len(plan.limits), len(asked), points)
    names = [name for name, _ in plan.limits]
    broken = tuple(name for name, row in zip(names, margins[:, 0, -1], strict=True) if not row >= 0.0)
    found = {}
    for i, step in enumerate(asked):
        least, limit = _least(step.seconds * shares, margins[:, i], names)
        found[step.name] = replace(step, spare=max(step.seconds - least, 0.0), limit=limit)
    return tuple(found.get(step.name, step) for step in steps), broken


def _least(times: Any, margins: Any, names: list[str]) -> tuple[float, str]:
    """(shortest time from which on every limit is met up to the present one, limit that is broken below it)."""
    edge, limit = float(times[0]), ""
    for name, row in zip(names, margins, strict=True):
        bad = np.flatnonzero(~(row >= 0.0))
        if not len(bad):
            continue
        i = int(bad[-1])
        if i == len(row) - 1:
            return float(times[-1]), name  # it is broken as it stands
        a, b = row[i], row[i + 1]
        share = a / (a - b) if np.isfinite(a) else 1.0
        at = float(times[i] + share * (times[i + 1] - times[i]))
        if at > edge:
            edge, limit = at, name
    return edge, limit
