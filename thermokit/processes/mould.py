"""A moulding cooled shot after shot in a mould with channels: what is solved, and what a settled shot is judged by.

The section is solved in its cyclic steady state (:mod:`thermokit.processes.mould_solve`). What moves the window, and tolerances,
are found on the single wall of :mod:`thermokit.processes.mould_single`, whose times are brought to the section's by one ratio.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.mistakes import At, Report
from thermokit.case.mould_places import check_places
from thermokit.case.mould_shape import ShapeError, shape_of
from thermokit.case.tables import Find
from thermokit.errors import CaseError, Mistake
from thermokit.processes import cautions_kinds, cautions_run, mould_hand, mould_judgement, mould_outcomes, mould_remarks
from thermokit.processes.base import Limit, PlainDirect
from thermokit.processes.media import Stuff
from thermokit.processes.mould_feed import FeedTimes, feed_times, hold_of
from thermokit.processes.mould_single import wall_of, wall_times
from thermokit.processes.mould_solve import MouldSolver
from thermokit.results.model import SECTION, Result
from thermokit.stations.mould import SPANS, ShotTimes

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_shape import MouldShape
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionProblem
    from thermokit.processes.base import Hand
    from thermokit.processes.mould_facts import MouldFacts
    from thermokit.processes.mould_solve import Shot
    from thermokit.processes.mould_wall import MouldWall

PATH = "cycle.cooling"
BOUNDS = (0.5, 600.0)  # s, of the search where the case gives none
POINTS = 49
DRAWS = 128
FAR = 1e6  # s, in place of a time that is never reached: differences of it stay numbers
USUAL_HEAT = 1e6  # J/m2, of a wall of some mm, where nothing better is known


class MouldProcess(PlainDirect):
    """A mould case, translated, solved and judged. single : whether all is found on the single wall (hand formula's effects)."""

    draws = DRAWS

    def __init__(self, case: MouldCase, single: bool = False):
        self.case, self.single = case, single
        self.stuff = Stuff(case.materials, {})
        self.change: Callable[[Any], Any] | None = None  # of the single wall, for an effect that is off
        self._known: dict[Any, dict[str, float]] = {}  # times on the single wall that were found
        self._alone: dict[Any, MouldProcess] = {}

    @cached_property
    def shape(self) -> MouldShape:
        """The outlines. Raises CaseError where a drawing has not been read, or they cannot be drawn."""
        if self.case.drawing is not None and self.case.drawn is None:
            raise CaseError(
                self.case.source.file,
                [Mistake("drawing", "was not read", "a case in a file, from whose folder the drawing is read")],
            )
        try:
            shape = shape_of(self.case)
        except ShapeError as wrong:
            raise CaseError(
                self.case.source.file, [Mistake(".".join(wrong.path), wrong.what, wrong.allowed, wrong.advice)]
            ) from None
        # inputs may have been changed since the case was read, by a sweep or a study
        report = Report()
        check_places(self.case, shape, At(report))
        if report.found:
            raise CaseError(self.case.source.file, [mistake for _, mistake in report.found])
        return shape

    @cached_property
    def feed(self) -> FeedTimes:
        """When gate, runner and sprue have set."""
        return feed_times(self.case, self.stuff)

    @cached_property
    def hold(self) -> float:
        """The hold [s]."""
        return hold_of(self.case, self.feed)

    @property
    def empty(self) -> float:
        """From opening until the mould is full again [s]."""
        return float(self.case.cycle.open) + float(self.case.cycle.fill)

    @cached_property
    def solver(self) -> MouldSolver:
        """Outlines and meshes made ready."""
        _, wall = self.single_wall
        heat = float(wall.heat[0]) if wall is not None and np.isfinite(wall.heat[0]) else USUAL_HEAT
        return MouldSolver(self.case, self.shape, self.stuff, heat)

    def times(self, cooling: float) -> ShotTimes:
        """The times of a shot that cools for so long after the hold."""
        return ShotTimes(self.hold, cooling, self.empty)

    def limits(self) -> tuple[Limit, ...]:
        """The limits that bound the cooling time."""
        return (*mould_judgement.bounding(self.case, self.stuff), *self._feed_limit())

    def _feed_limit(self) -> tuple[Limit, ...]:
        """Runner and sprue are to be stiff when the mould opens."""
        name, time = self.feed.slowest
        return (mould_judgement.TimeLimit(f"{name}_set", "closed", True, time, where=name),) if name else ()

    # -- window -----------------------------------------------------------------------------------------------------

    def bounds(self, path: str) -> tuple[float, float] | None:
        """How far a cooling time is looked for [s]."""
        return BOUNDS

    def points(self, path: str) -> int:
        """Many: they are read off one shot."""
        return POINTS

    @cached_property
    def single_wall(self) -> tuple[float, Any]:
        """(cooling after the hold [s] by the single wall, not a number where it never cools so far; its settled shot)."""
        return max(self.opens_by_wall - self.hold, 0.0), self._base[1]

    @property
    def opens_by_wall(self) -> float:
        """Time from the end of the fill at which the single wall has met its limits [s], within the hold or after it; not a
        number where it never does."""
        slowest = max((float(t[0]) for t in self._base[0].values()), default=np.inf)
        return slowest if np.isfinite(slowest) else float("nan")

    @cached_property
    def _base(self) -> tuple[dict[str, Array], Any]:
        return self._times_of_wall(self.case)

    def _times_of_wall(self, case: MouldCase) -> tuple[dict[str, Array], Any]:
        """Times from the fill at which the ejection limits are met on the single wall, of a case that may hold arrays."""
        bounds = mould_judgement.release_limits(case, self.stuff)
        stuff = self.stuff if case is self.case else Stuff(case.materials, {})
        return wall_times(case, stuff, self.shape, self.hold, bounds, self.change)

    def crossing(self, facts: MouldFacts) -> float:
        """Time from the end of the fill at which every limit is met, runner and sprue included [s]."""
        return max(self.crossing_of_part(facts), self.feed.slowest[1])

    def wall(self, ejection: float) -> MouldWall:
        """The single wall, to be taken out when its hottest place has a temperature [K]."""
        return wall_of(self.case, self.stuff, self.shape, self.hold, ejection, "hottest")

    def crossing_of_part(self, facts: MouldFacts) -> float:
        """Time from the end of the fill at which every limit of the part is met [s]; inf where it never is."""
        series = mould_judgement.along(self.case, self.stuff, facts, self.shape.length, self.shape.wall)
        found = [0.0]
        for limit in mould_judgement.bounding(self.case, self.stuff):
            found.append(mould_judgement.first_met(facts.time, np.asarray(limit.margin(series[limit.quantity]))))
        return max(found)

    @cached_property
    def anchor(self) -> tuple[Shot, float]:
        """(the settled shot that opens when every limit is met, its cooling time [s]); inf where that never is."""
        guess, _ = self.single_wall
        return self.solver.find(
            self.hold, self.empty, guess if np.isfinite(guess) and guess > 0.5 else 10.0, self.crossing
        )

    def margins(self, path: str, settings: Array, values: Mapping[str, Array]) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings) in SI) with cooling times; other inputs are changed on the single wall.

        Raises ValueError for the path of anything else: its settings would be taken for cooling times.
        """
        if path != PATH:
            raise ValueError(f"margins of a mould are told by {PATH}, not by {path}")
        limits = self.limits()
        settings = np.asarray(settings, float)
        if values or self.single:
            return limits, self._margins_of_wall(limits, settings, values)
        if len(settings) == 1 and np.isfinite(self.anchor[1]):
            # what is printed of a setting is solved for it; its coolant is nearly that of the shot that opens when it may
            shot = self.solver.shot(self.times(float(settings[0])), self.anchor[0].circuits, fine=True)
            return limits, self._section_margins(limits, settings, shot)
        return limits, self._section_margins(limits, settings)

    def _section_margins(self, limits: tuple[Limit, ...], settings: Array, shot: Shot | None = None) -> Array:
        """Margins (limits, settings) against the time of opening, read off a shot: of itself the one that opens when it may."""
        facts = (shot if shot is not None else self.anchor[0]).facts
        series = mould_judgement.along(self.case, self.stuff, facts, self.shape.length, self.shape.wall)
        opened = self.hold + settings
        found = []
        for limit in limits:
            if limit.quantity == "closed":
                found.append(np.asarray(limit.margin(opened)))
                continue
            found.append(_read(facts.time, np.asarray(limit.margin(series[limit.quantity])), opened))
        return np.array(found)

    @cached_property
    def ratio(self) -> float:
        """Time to open by the section over that by the single wall; 1 where either is not known."""
        wall, section = self.opens_by_wall, self.crossing_of_part(self.anchor[0].facts)
        return section / wall if wall > 0.0 and np.isfinite(section) and section > 0.0 else 1.0

    def _margins_of_wall(self, limits: tuple[Limit, ...], settings: Array, values: Mapping[str, Array]) -> Array:
        """Where the single wall has its limits, brought to the section; as seconds beyond them: only the sign is meant."""
        paths = list(values)
        which = np.zeros(len(settings), int)
        if paths:
            rows = np.array([np.broadcast_to(values[path], settings.shape) for path in paths], float)
            unlike, which = np.unique(rows, axis=1, return_inverse=True)
            times, which = self._remembered(paths, unlike), np.ravel(which)
        else:
            times = self._base[0]
        opened = self.hold + settings
        ratio = 1.0 if self.single else self.ratio
        found = []
        for limit in limits:
            if limit.quantity == "closed":
                found.append(np.asarray(limit.margin(opened)))
            elif limit.name in times:
                found.append(opened - ratio * times[limit.name][which])
            else:  # a limit on the difference of the faces: as in the section
                found.append(
                    np.full(settings.shape, np.inf) if self.single else self._section_margins((limit,), settings)[0]
                )
        return np.asarray(np.clip(np.array(found, float), -FAR, FAR))

    def _remembered(self, paths: list[str], rows: Array) -> dict[str, Array]:
        """Times on the single wall for rows of values (paths, cases); those of the usual changes all at once."""
        keys = [tuple(zip(paths, column, strict=True)) for column in rows.T]
        if any(key not in self._known for key in keys):
            wanted = dict.fromkeys(keys)
            if len(keys) == 1:
                wanted |= dict.fromkeys(tuple((p, float(v)) for p, v in change.items()) for _, change in self.shifts())
            every = sorted({path for key in wanted for path, _ in key})
            base = {path: float(self.case.value(path)) for path in every}
            columns = {path: np.array([dict(key).get(path, base[path]) for key in wanted]) for path in every}
            times, _ = self._times_of_wall(self.case.with_values(columns))
            for i, key in enumerate(wanted):
                self._known[key] = {name: float(np.broadcast_to(t, (len(wanted),))[i]) for name, t in times.items()}
        names = self._known[keys[0]].keys()
        return {name: np.array([self._known[key][name] for key in keys]) for name in names}

    def hand(self) -> Hand | None:
        """The formula of the trade for a slab between cold faces."""
        return mould_hand.hand(self)

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the machine and at the mould."""
        return mould_hand.shifts(self)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Colder coolant."""
        return mould_hand.openers(self)

    # -- result -----------------------------------------------------------------------------------------------------

    def problem(self) -> SectionProblem:
        """The first shot into a mould at its start: what is verified, since a second engine settles no mould."""
        times = self.times(self._cooling())
        return self.solver.problem(times, self.solver.guessed(times))

    def trial(self, finer: float = 1.0, tighter: float = 1.0) -> SectionHistory:
        """The first shot on a finer mesh with tighter steps."""
        return self.solver.first(self.times(self._cooling()), finer, tighter)

    def _cooling(self) -> float:
        cooling: Any = self.case.cycle.cooling
        if isinstance(cooling, Find):
            raise CaseError(self.case.source.file, [Mistake(PATH, 'is "find"', "a time", "`thermokit dwell` finds it")])
        return float(cooling)

    def _shot(self) -> Shot:
        return self.solver.run(self.times(self._cooling()))

    def result(self, progress: Callable[[float], None] | None, study: dict[str, Any]) -> Result:
        """The settled shot, judged."""
        from thermokit.processes.run import heat_warnings, provenance

        told = progress or (lambda share: None)
        shot = self._shot()
        told(0.7)
        history = shot.history
        told(0.9)
        found = mould_judgement.checks(self.case, self.stuff, shot, self.feed, self.hold)
        result = Result(
            provenance=provenance(self.case),
            history=history,
            shape=SECTION,
            inner_radius=0.0,
            span_names=SPANS,
            layer_names=history.region_names,
            layer_edges=(),
            outcomes=tuple(mould_outcomes.outcomes(self, shot)),
            limits=found,
            warnings=(*heat_warnings(history), *mould_remarks.warnings(self, shot)),
            cautions=tuple(self.cautions()),
            remarks=tuple(mould_remarks.remarks(self, shot, found)),
            study=study | {"water": mould_outcomes.water_table(self, shot)},
            fields=mould_outcomes.fields(self, shot),
        )
        return cautions_run.complete(self, result)

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return cautions_kinds.told(self)

    def alone(self, change: Callable[[Any], Any]) -> MouldProcess:
        """The same on the single wall, which is changed."""
        if change not in self._alone:
            other = self._alone[change] = MouldProcess(self.case, single=True)
            other.change, other.feed, other.shape, other.hold = change, self.feed, self.shape, self.hold
        return self._alone[change]


def _read(time: Array, margin: Array, at: Array) -> Array:
    """A margin at other times of opening; beyond the last row as it goes on towards its end value."""
    inside = np.interp(at, time, margin)
    late = at > time[-1]
    if not np.any(late):
        return np.asarray(inside)
    t1, t3 = float(time[len(time) * 3 // 5]), float(time[-1])
    m1, m2, m3 = np.interp([t1, (t1 + t3) / 2.0, t3], time, margin)
    first, second = m2 - m1, m3 - m2
    ratio = float(np.clip(second / first, 0.0, 0.999)) if first * second > 0.0 else 0.0
    end = m3 + second * ratio / (1.0 - ratio)
    steps = (at - t3) / ((t3 - t1) / 2.0)
    going_on = end + (m3 - end) * np.maximum(ratio, 1e-9) ** np.maximum(steps, 0.0)
    return np.asarray(np.where(late, going_on, inside))
