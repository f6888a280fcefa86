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
    from collections.abc import Mapping, Sequence

    from thermokit.conduction.batch import BatchHistory
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array, Problem
    from thermokit.processes.media import Stuff
    from thermokit.results.model import Outcome

ZERO_CELSIUS = 273.15


@dataclass(frozen=True)
class Facts:
    """What limits are put on; the last axis is the case (one for a single run).

    depth : (points, 1 or cases) [m] faces and cell centres; final : (points, cases) [K] at the end; hottest, coldest :
    (cases,) [K] at any time, hottest_when [s]; states : name -> (cells, cases) at the end; failed : (cases,) runs that did
    not finish, whose numbers do not count.
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
    )


def facts_of_batch(batch: BatchHistory, edges: Array) -> Facts:
    """Facts of every case of a batch; edges (cells + 1, 1 or cases) [m]."""
    inner, outer = batch.end_inner_face[-1], batch.end_outer_face[-1]
    cases = len(batch.status)
    depth = np.concatenate([np.zeros((1, edges.shape[1])), batch.centres, edges[-1:]])
    unknown = np.full(cases, np.nan)
    return Facts(
        depth=depth,
        edges=edges,
        final=np.concatenate([inner[None], batch.end_temperature[-1], outer[None]]),
        hottest=batch.hottest,
        hottest_when=batch.hottest_time,
        hottest_depth=unknown,
        coldest=batch.coldest,
        states={name: value[-1] for name, value in batch.end_states.items()},
        end=unknown,
        failed=batch.status != 0,
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
    """A hand formula: value [s], the formula with its numbers, and the effects that it leaves out."""

    value: float
    formula: str
    effects: tuple[Effect, ...]


class Process(Protocol):
    """A case, translated. ``case`` may hold arrays over cases; then so does the problem."""

    case: Any
    stuff: Stuff

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, cells asked for) of each layer."""

    def problem(self, edges: Sequence[Array]) -> Problem:
        """The problem on given cell edges, one array a layer."""

    def limits(self) -> tuple[Limit, ...]:
        """The limits that the case or its material puts."""

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, by name: (cases,) in SI."""

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""

    def place(self, depth: float) -> str:
        """A depth in words."""

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The hand formula for the duration that is sought, where the trade has one."""

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window: (words with {}, path -> array of values, values shown)."""

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """Changes at the machine whose effect on the window is worth telling: (words, path -> value)."""


def coldest_and_hottest(facts: Facts) -> tuple[Array, Array]:
    """(coldest, hottest) place of the body at the end, (cases,) [K]."""
    return facts.final.min(axis=0), facts.final.max(axis=0)


def mean_temperature(facts: Facts, shape: str, inner_radius: Any) -> Array:
    """Volume-weighted mean temperature at the end, (cases,) [K]."""
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[shape]
    radius = facts.edges + (np.asarray(inner_radius) if shape != "plane" else 0.0)
    volume = np.diff(radius**power, axis=0)
    return np.asarray((facts.final[1:-1] * volume).sum(axis=0) / volume.sum(axis=0))
