"""What every kind of process gives to the rest: a problem for the solver, and how its history is judged.

A process turns a case into a :class:`Problem` (numbers may be arrays over cases throughout) and names its limits as bounds
on quantities of :class:`Facts`, which one run and a batch of runs both provide. So a limit is written once and serves the
single run, the dwell search, maps and tolerances.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from thermokit.conduction.course import Course, Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.follow_batch import BatchTravel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionProblem
    from thermokit.processes.media import Stuff
    from thermokit.results.model import Field, Outcome, Result

ZERO_CELSIUS = 273.15


@dataclass(frozen=True)
class Facts:
    """What limits are put on; the last axis is the case (one for a single run).

    depth : (points, 1 or cases) [m] faces and cell centres; final : (points, cases) [K] at the end; hottest, coldest :
    (cases,) [K] at any time, hottest_when [s]; states : name -> (cells, cases) at the end; failed : (cases,) runs that did
    not finish, whose numbers do not count. stations : (points, cases) [K] at the end of every station, with their states;
    travel : the run that they belong to, None in a batch.
    """

    depth: Array
    edges: Array
    final: Array
    hottest: Array
    hottest_when: Array
    hottest_depth: Array
    coldest: Array
    states: Mapping[str, Array]
    end: Array
    failed: Any
    stations: tuple[Array, ...] = ()
    station_states: tuple[Mapping[str, Array], ...] = ()
    travel: Travel | None = None


def facts_of_run(history: History) -> Facts:
    """Facts of a single run, from the last span that was finished."""
    last = history.ends[-1] if history.ends else None
    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])[:, None]
    if last is None:
        nothing = np.full((len(depth), 1), np.nan)
        states = {name: np.full((len(history.centres), 1), np.nan) for name in history.states}
        final, end = nothing, history.ending.time
    else:
        final = np.concatenate([[last.inner_face], last.temperature, [last.outer_face]])[:, None]
        states = {name: value[:, None] for name, value in last.states.items()}
        end = last.time
    return Facts(
        depth=depth,
        edges=history.edges[:, None],
        final=final,
        hottest=np.array([history.hottest.value]),
        hottest_when=np.array([history.hottest.time]),
        hottest_depth=np.array([history.hottest.depth]),
        coldest=np.array([history.coldest.value]),
        states=states,
        end=np.array([end]),
        failed=np.array([history.ending.status != "finished"]),
        stations=tuple(np.concatenate([[e.inner_face], e.temperature, [e.outer_face]])[:, None] for e in history.ends),
        station_states=tuple({name: v[:, None] for name, v in e.states.items()} for e in history.ends),
    )


def facts_of_batch(travel: BatchTravel) -> Facts:
    """Facts of every case of a batch."""
    edges, cases = travel.edges, len(travel.status)
    centres = (edges[1:] + edges[:-1]) / 2
    unknown = np.full(cases, np.nan)
    profiles = tuple(
        np.concatenate([inner[None], whole, outer[None]])
        for inner, whole, outer in zip(
            travel.end_inner_face, travel.end_temperature, travel.end_outer_face, strict=True
        )
    )
    states = tuple(
        {name: value[i] for name, value in travel.end_states.items()} for i in range(len(travel.end_temperature))
    )
    return Facts(
        depth=np.concatenate([np.zeros((1, edges.shape[1])), centres, edges[-1:]]),
        edges=edges,
        final=profiles[-1],
        hottest=travel.hottest,
        hottest_when=travel.hottest_time,
        hottest_depth=unknown,
        coldest=travel.coldest,
        states=states[-1],
        end=unknown,
        failed=travel.status != 0,
        stations=profiles,
        station_states=states,
    )


@dataclass(frozen=True)
class Limit:
    """A bound on a quantity: ``least`` True for at least, False for at most; bound in SI; difference: unit K, else degC.

    dimension : ``temperature``, ``temperature_difference`` or ``fraction``; where : what place the quantity looks at.
    """

    name: str
    quantity: str
    least: bool
    bound: Any
    dimension: str = "temperature"
    where: str = ""

    def margin(self, value: Array) -> Array:
        """Margin in SI, positive where the limit is met."""
        return np.asarray(value - self.bound if self.least else self.bound - value)

    @property
    def unit(self) -> str:
        """Unit of the value as it is shown."""
        return {"temperature": "degC", "temperature_difference": "K"}.get(self.dimension, "1")

    @property
    def margin_unit(self) -> str:
        """Unit of the margin as it is shown."""
        return "K" if self.unit in ("degC", "K") else "1"

    def shown(self, value: float) -> float:
        """An SI value in the unit that is shown."""
        return value - ZERO_CELSIUS if self.dimension == "temperature" else value

    @property
    def required(self) -> str:
        """The limit in words."""
        unit = f" {self.unit}" if self.unit != "1" else ""
        return f"{'at least' if self.least else 'at most'} {self.shown(float(np.ravel(self.bound)[0])):.6g}{unit}"


@dataclass(frozen=True)
class Effect:
    """One effect that a hand formula leaves out: words, and the problem without it."""

    words: str
    without: Any  # Callable[[Problem], Problem]


@dataclass(frozen=True)
class Hand:
    """A hand formula: value [s], the formula with its numbers, and the effects that it leaves out.

    of_earliest, of_latest : it stands for the earliest (latest) value, not for the middle of a window.
    """

    value: float
    formula: str
    effects: tuple[Effect, ...]
    of_earliest: bool = False
    of_latest: bool = False


class Process(Protocol):
    """A case, translated. ``case`` may hold arrays over cases; then so does the problem."""

    case: Any
    stuff: Stuff

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, cells asked for) of each layer."""

    def course(self, edges: Sequence[Array]) -> Course:
        """What the body passes through, on given cell edges, one array a layer."""

    def places(self) -> int:
        """How many places of the part are solved side by side: a batch holds them all for each of its cases."""

    def chosen(self, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str) -> Any:
        """The places that decide a window in the setting of that path, for ``process_of``; None where there is one."""

    def memory(self, edges: Sequence[Array], cases: int | None, tolerance: float, near: Memory | None = None) -> Memory:
        """What layers remember from before the first station (a tool from many shots), for one run or many cases.

        near : that of a similar single run on the same edges, from which it is found sooner.
        """

    def limits(self) -> tuple[Limit, ...]:
        """The limits that the case or its material puts."""

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """What a single run is judged by: its own facts, or those of all places where there are several."""

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, by name: (cases,) in SI, the worst of the places."""

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """(place in words, time [s]) of what a limit looks at, in a run that finished."""

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """What a run leaves beside its rows: maps, tools, shots."""

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""

    def study(self, facts: Facts) -> dict[str, Any]:
        """Blocks beside the outcomes of a single run; one named ``stop`` says why it must not be done, and fails the command."""

    def place(self, depth: float) -> str:
        """A depth in words."""

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the outcomes of a run that finished mean at the machine, in sentences."""

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The hand formula for the duration that is sought, where the trade has one."""

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window: (words with {}, path -> array of values, values shown)."""

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """Changes at the machine whose effect on the window is worth telling: (words, path -> value)."""


class Direct(Protocol):
    """A case that is no single layered body and solves itself: a section, a mould. Its numbers are single ones.

    draws : how many parts a tolerance study may draw (each is a run of its own); 0 where that would take too long: a
    result then says that tolerances are not drawn.
    """

    case: Any
    draws: int

    def result(self, progress: Callable[[float], None] | None, study: dict[str, Any]) -> Result:
        """The case solved and judged; ``study`` goes into the result. Raises CaseError where something is still to be found."""

    def limits(self) -> tuple[Limit, ...]:
        """The limits that the case or its material puts; they need no run."""

    def margins(self, path: str, settings: Array, values: Mapping[str, Array]) -> tuple[tuple[Limit, ...], Array]:
        """(limits, margins (limits, settings) in SI) with the setting at a path; NaN where a run failed.

        values : further inputs that are changed, path -> (settings,).
        """

    def bounds(self, path: str) -> tuple[float, float] | None:
        """How far a setting is looked for [SI] where the case does not say; None: what suits its dimension."""

    def points(self, path: str) -> int:
        """Settings of the first look at a setting; about 9 where each is a run of its own."""

    def meshed(self, path: str, setting: float) -> bool:
        """Look for the mesh that suits a setting; True where margins will now be found on another one than before."""

    def hand(self) -> Hand | None:
        """The hand formula, where the trade has one; its effects take and give a ``Direct`` instead of a problem."""

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """Changes at the machine whose effect on the window is worth telling: (words, path -> value)."""

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window: (words with {}, path -> array of values, values shown)."""

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""

    def trial(self, finer: float = 1.0, tighter: float = 1.0) -> SectionHistory:
        """The case solved once more for ``thermokit verify``: cells and error a step divided by these, the same rows."""

    def problem(self) -> SectionProblem:
        """What is given to the solver, and to the second engine."""


class PlainDirect:
    """What most of these do alike: no tolerances, no formula, nothing that usually changes."""

    draws = 0

    def bounds(self, path: str) -> tuple[float, float] | None:
        """What suits the dimension."""
        return None

    def points(self, path: str) -> int:
        """Each is a run of its own."""
        return 9

    def meshed(self, path: str, setting: float) -> bool:
        """Margins are found on one mesh."""
        return False

    def hand(self) -> Hand | None:
        """The trade has no formula."""
        return None

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """Nothing usually changes."""
        return []

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Nothing known that would open a window."""
        return []


class Plain:
    """What most processes do alike: one place, no memory, judged by their own run, nothing beside the rows."""

    def places(self) -> int:
        """One place."""
        return 1

    def chosen(self, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str) -> Any:
        """There is one place."""
        return None

    def memory(self, edges: Sequence[Array], cases: int | None, tolerance: float, near: Memory | None = None) -> Memory:
        """Nothing is remembered."""
        return {}

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """The run's own facts."""
        return facts_of_run(travel.history)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """Nothing beside the rows."""
        return ()

    def study(self, facts: Facts) -> dict[str, Any]:
        """Nothing beside the outcomes."""
        return {}

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """Nothing to remark."""
        return []

    def place(self, depth: float) -> str:
        """A depth in words."""
        return f"{1e3 * depth:.3g} mm from the inner face"

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place in words and time of what a limit looks at."""
        if limit.quantity == "hottest_temperature":
            return self.place(history.hottest.depth), history.hottest.time
        if limit.quantity == "coldest_temperature":
            return self.place(float(facts.depth[int(np.nanargmin(facts.final[:, 0])), 0])), history.ending.time
        return limit.where, history.ending.time

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The trade has no formula."""
        return None

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """Nothing known that would open a window."""
        return []

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """Nothing usually changes."""
        return []


def coldest_and_hottest(facts: Facts) -> tuple[Array, Array]:
    """(coldest, hottest) place of the body at the end, (cases,) [K]."""
    return facts.final.min(axis=0), facts.final.max(axis=0)


def mean_temperature(facts: Facts, shape: str, inner_radius: Any) -> Array:
    """Volume-weighted mean temperature at the end, (cases,) [K]."""
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
    radius = facts.edges + (np.asarray(inner_radius) if shape != "plane" else 0.0)
    volume = np.diff(radius**power, axis=0)
    return np.asarray((facts.final[1:-1] * volume).sum(axis=0) / volume.sum(axis=0))
