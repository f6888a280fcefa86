"""What runs through a line: what the solver is given, and what a run is judged by. Depth counts from the back (the bore)."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from thermokit.processes import (
    cautions_kinds,
    line_events,
    line_hand,
    line_inside,
    line_judgement,
    line_outcomes,
    line_speed,
    line_study,
    line_words,
)
from thermokit.processes.base import Facts, Hand, Limit, Plain, facts_of_run
from thermokit.processes.line_body import LineBody
from thermokit.processes.line_course import line_course
from thermokit.processes.start import begun

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.line import LineCase
    from thermokit.conduction.course import Course
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.line_speed import BySpeed, Change
    from thermokit.processes.line_stop import Happening
    from thermokit.processes.media import Stuff
    from thermokit.results.model import Field, Outcome


class LineProcess(LineBody, Plain):
    """A line case, translated."""

    def __init__(self, case: LineCase, stuff: Stuff | None = None):
        super().__init__(case, stuff)
        self.tolerance = 0.05
        self._happened: list[Happening] | None = None
        self._changed: dict[str, list[Change]] = {}
        self._speeds: list[BySpeed] | None = None
        self.ran: Facts | None = None

    # -- for the solver ----------------------------------------------------------------------------------------------

    def course(self, edges: Sequence[Array]) -> Course:
        """What it runs through."""
        self.edges = edges
        first = 0
        for name, cut in zip(self.shown(), edges, strict=True):
            self._cells[name] = slice(first, first + len(cut) - 1)
            first = self._cells[name].stop
        if self.inner and not self.faces:
            self.faces = line_inside.faces(self, edges)
        return begun(line_course(self, dict(zip(self.shown(), edges, strict=True))), self.case)

    # -- for the judgement -----------------------------------------------------------------------------------------

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """The run's own facts."""
        self.edges, self.tolerance = edges, tolerance
        self.ran = replace(facts_of_run(travel.history), travel=travel)
        return self.ran

    def limits(self) -> tuple[Limit, ...]:
        """Limits of stations and line, or else of material and trade."""
        return line_judgement.limits(self)

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, (cases,) in SI."""
        return line_judgement.quantities(self, facts)

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place in words and time of what a limit looks at."""
        return line_judgement.found_at(self, limit, history, facts)

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        return line_outcomes.outcomes(self, history, facts)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """Stations, temperatures along the line, events."""
        return line_outcomes.fields(self, travel, facts)

    def study(self, facts: Facts) -> dict[str, Any]:
        """Slowest and fastest speed by limit, what changes do, scale-up, events."""
        return line_study.study(self, facts)

    def on(self, edges: Sequence[Array]) -> LineProcess:
        """The same on another mesh."""
        other = LineProcess(self.case, self.stuff)
        other.edges, other.tolerance = edges, self.tolerance
        other.course(edges)
        return other

    def happened(self, facts: Facts) -> list[Happening]:
        """The events of the case, followed once."""
        if self._happened is None:
            self._happened = line_events.happenings(self, facts)
        return self._happened

    def changed(self, limit: Limit) -> list[Change]:
        """What usual changes do to the quantity of a limit, found once."""
        if limit.quantity not in self._changed:
            self._changed[limit.quantity] = line_speed.changes(self, limit)
        return self._changed[limit.quantity]

    def speeds(self) -> list[BySpeed]:
        """Slowest and fastest speed by each limit, found once."""
        if self._speeds is None:
            self._speeds = line_speed.by_speed(self)
        return self._speeds

    def place(self, depth: float) -> str:
        """A depth in words."""
        return line_words.place(self, depth)

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        return line_words.warnings(self, history)

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the answers mean at the line."""
        return line_words.remarks(self, history, facts)

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The shop's formula for the speed or length that is sought."""
        return line_hand.hand(self)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window."""
        return line_hand.openers(self)

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the line."""
        return line_hand.shifts(self)
