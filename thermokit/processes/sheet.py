"""A sheet from panels to release: what the solver is given, and what a run is judged by."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Reaction
from thermokit.kinetics.pvc import HeatDose
from thermokit.kinetics.softening import Softening
from thermokit.processes import (
    cautions_kinds,
    shaping_judgement,
    shaping_plan,
    sheet_hand,
    sheet_judgement,
    sheet_map,
    sheet_places,
    sheet_shots,
)
from thermokit.processes.base import Facts, Hand, Limit, Plain, facts_of_batch, facts_of_run
from thermokit.processes.media import Stuff, typical
from thermokit.processes.sheet_course import SHEET, sheet_course
from thermokit.processes.start import begun
from thermokit.stations.panels import SheetView, bands_of_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.course import Course, Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.results.model import Field, Outcome

EMISSIVITY = 0.93  # of a plastics face where neither case nor material gives one; from memory
ALL = "all"


class SheetProcess(Plain):
    """A sheet case, translated. Depth counts from the upper face, which is the solver's inner face.

    places : None for the middle of the sheet (in its region that is drawn least, so is thickest), ALL for every spot of
    the map, or pairs (spot, region). In a batch the numbers of the case are arrays that hold all places of each case side by
    side.
    """

    def __init__(self, case: SheetCase, places: Any = None):
        self.case = case
        self.stuff = Stuff(case.materials, {})
        self.record = self.stuff.material(case.sheet.material)
        given = case.sheet.emissivity
        self.emissivity: Any = given if given is not None else getattr(self.record, "emissivity", None) or EMISSIVITY
        self.conductivity = typical(self.stuff.medium(case.sheet.material).conductivity)
        self.choice = places
        #: how the hot sheet is shaped, None where the case does not say
        self.plan = shaping_plan.plan_of(self)
        self.regions = sheet_places.regions(case) if self.plan is None else self.plan.names
        self.at = self._places(places)
        tools = [i for i, station in enumerate(case.stations) if station.kind == "tool"]
        #: stations at whose end the sheet reaches the tool (-1: as it comes) and is released (None: no tool)
        self.touch = tools[0] - 1 if tools else len(case.stations) - 1
        self.release = tools[-1] if tools else None
        if self.plan is not None:
            self.touch, self.release = self.plan.at - 1, self.plan.release
        self._view: SheetView | None = None

    def _places(self, places: Any) -> sheet_places.Places:
        thickest = self.thickest_region()
        if places is None:
            return sheet_places.middle(thickest)
        if isinstance(places, str):
            whole = sheet_places.spots(self.case)
            return sheet_places.middle(thickest) if whole is None else replace(whole, region=0 * whole.spot + thickest)
        return sheet_places.picked(self.case, places)

    def thickest_region(self) -> int:
        """Index of the region that is drawn least; 0 without regions."""
        if self.plan is not None:
            return int(np.argmin(self.plan.final))
        for station in self.case.stations:
            own = getattr(station, "regions", ())
            if own:
                return int(np.argmin([float(np.ravel(region.draw_ratio)[0]) for region in own]))
        return 0

    # -- for the solver --------------------------------------------------------------------------------------------

    def places(self) -> int:
        """How many places are solved side by side."""
        return len(self.at)

    def tiled(self, values: Array) -> Any:
        """Values of the places, for every case of the batch: a number for one place."""
        if len(values) == 1:
            return float(values[0])
        return np.tile(values, max(1, self._cases() // len(values)))

    def _cases(self) -> int:
        """Length of the arrays that the case holds, places included; the number of places where it holds none."""
        from thermokit.case.walk import leaves

        sizes = [np.size(v) for place in leaves(self.case) if np.ndim(v := place.value) == 1 and np.size(v) > 1
                 and isinstance(v, np.ndarray)]  # fmt: skip
        return max(sizes, default=len(self.at))

    def ratio(self, station: Any) -> Any:
        """Areal draw ratio at the beginning of a station, by place and case; None where it is not drawn."""
        ratios = sheet_places.ratios(station)
        if self.plan is not None and station is self.case.stations[self.plan.at]:
            ratios = list(self.plan.ratios)
        elif self._snaps_back(station):
            assert self.plan is not None
            # what was drawn further in the air comes back onto the tool
            ratios = [b / a for a, b in zip(self.plan.ratios, self.plan.final, strict=True)]
        if len(ratios) == 1:
            return None if np.ndim(ratios[0]) == 0 and float(ratios[0]) == 1.0 else ratios[0]
        region = self.at.region
        if len(region) == 1:
            return ratios[int(region[0])]
        cases = max(1, self._cases() // len(region))
        columns = [np.broadcast_to(r, (cases * len(region),)) for r in ratios]
        return np.choose(np.tile(region, cases), columns)

    def _snaps_back(self, station: Any) -> bool:
        """Whether a bubble comes back onto its tool at the beginning of a station."""
        plan = self.plan
        return (
            plan is not None
            and plan.first_touch is not None
            and plan.final != plan.ratios
            and station is self.case.stations[plan.first_touch]
        )

    def view(self) -> SheetView:
        """What panels need to know of the sheet."""
        if self._view is None:
            sheet = self.case.sheet
            self._view = SheetView(
                length=sheet.length,
                width=sheet.width,
                emissivity=self.emissivity,
                bands=bands_of_sheet(sheet, self.record),
                path=sheet.path,
                x=self.at.x,
                y=self.at.y,
                tiled=self.tiled,
                typical=self.typical_temperature(),
            )
        return self._view

    def typical_temperature(self) -> Any:
        """Temperature that stands for the sheet while it is heated: between stock and the middle of its window [K]."""
        start, goal = self.case.sheet.start, [b for b in sheet_judgement.window(self) if b is not None]
        return (start + sum(goal) / len(goal)) / 2.0 if goal else start + 60.0

    def reactions(self) -> tuple[Reaction, ...]:
        """States that the sheet adds up: sag and heat dose."""
        sheet = self.case.sheet
        found = []
        if sheet.sag is not None:
            found.append(Reaction("sag_state", Softening(sheet.sag.rate, sheet.sag.softening)))
        if sheet.dose is not None:
            found.append(Reaction("heat_dose", HeatDose(sheet.dose.time, sheet.dose.energy, sheet.dose.reference)))
        else:
            found += self.stuff.reactions((), sheet.material)
        return tuple(found)

    def layers(self) -> Sequence[tuple[str, Any, Any, int | None]]:
        """(name, thickness [m], medium, None) of the sheet and of the tools that have bodies."""
        sheet = self.case.sheet
        found: list[tuple[str, Any, Any, int | None]] = [
            (SHEET, sheet.thickness, self.stuff.medium(sheet.material), None)
        ]
        for name, tool in self.case.tools.items():
            if tool.material is not None:
                found.append((name, tool.thickness, self.stuff.medium(tool.material), None))
        return found

    def named(self, edges: Sequence[Array]) -> Mapping[str, Array]:
        """Edges by the name of their layer."""
        return {layer[0]: cut for layer, cut in zip(self.layers(), edges, strict=True)}

    def course(self, edges: Sequence[Array]) -> Course:
        """What the sheet passes through."""
        return begun(sheet_course(self, self.named(edges)), self.case)

    def memory(self, edges: Sequence[Array], cases: int | None, tolerance: float, near: Memory | None = None) -> Memory:
        """The tools as many shots have left them, where answers are those of the settled state."""
        shots = self.case.shots
        if shots is None or not shots.settled:
            return {}
        return sheet_shots.settled_tools(self, edges, cases, tolerance, near).memory

    # -- for the judgement -----------------------------------------------------------------------------------------

    def limits(self) -> tuple[Limit, ...]:
        """Limits of the case, or else of the material; a limit that neither gives is left out."""
        return sheet_judgement.limits(self)

    def facts(self, travel: Travel, edges: Sequence[Array], tolerance: float) -> Facts:
        """Facts of every spot of the map in every region; of the run itself where there is one place only."""
        other = self.everywhere()
        if other.places() == 1:
            return replace(facts_of_run(travel.history), travel=travel)
        from thermokit.conduction.follow_batch import follow_batch

        cases = other.places()
        memory = other.memory(edges, cases, tolerance)
        return replace(facts_of_batch(follow_batch(other.course(edges), cases, tolerance, memory)), travel=travel)

    def everywhere(self) -> SheetProcess:
        """The same at all spots of the map, region by region with the thickest first; at the middle where it is not mapped."""
        count = max(1, len(self.regions))
        whole = sheet_places.spots(self.case)
        if whole is None or self.touch < 0:
            return SheetProcess(self.case, tuple((sheet_places.MIDDLE, i) for i in range(count)))
        if count == 1:
            return SheetProcess(self.case, ALL)
        thickest = self.thickest_region()
        order = [thickest, *(i for i in range(count) if i != thickest)]
        return SheetProcess(self.case, tuple((spot, region) for region in order for spot in range(len(whole))))

    def chosen(self, edges: Sequence[Array], tolerance: float, settings: Sequence[float], path: str) -> Any:
        """The places that are worst for a limit at one of the settings; None where there is one place only."""
        if self.everywhere().places() == 1:
            return None
        return sheet_map.worst_places(self, edges, tolerance, settings, path)

    def quantities(self, facts: Facts) -> dict[str, Array]:
        """What limits are put on, the worst of the places: (cases,) in SI."""
        return sheet_judgement.quantities(self, facts)

    def found_at(self, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
        """Place in words and time of what a limit looks at."""
        return sheet_judgement.found_at(self.judging(facts), limit, history, facts)

    def judging(self, facts: Facts) -> SheetProcess:
        """The process whose places these facts are of."""
        return self if facts.travel is None or self.choice is not None else self.everywhere()

    def outcomes(self, history: History, facts: Facts) -> list[Outcome]:
        """Answers of a single run."""
        return sheet_judgement.outcomes(self, history, facts)

    def fields(self, travel: Travel, facts: Facts, edges: Sequence[Array], tolerance: float) -> tuple[Field, ...]:
        """Maps over the sheet, the regions, tools, shots."""
        found = [*sheet_map.fields(self.judging(facts), facts), *sheet_shots.tool_fields(travel)]
        found += shaping_judgement.fields(self)
        if self.case.shots is not None:
            found += sheet_shots.shot_fields(self, edges, tolerance)
        return tuple(found)

    def study(self, facts: Facts) -> dict[str, Any]:
        """Why the sheet must not be shaped so, where that is."""
        return shaping_judgement.stop(self, facts)

    def place(self, depth: float) -> str:
        """A depth in words."""
        total = float(np.ravel(self.case.sheet.thickness)[0])
        if depth <= 0.0:
            return "upper face"
        if depth >= total * (1.0 - 1e-12):
            return "lower face"
        return f"{1e3 * depth:.3g} mm below the upper face"

    def cautions(self) -> list[str]:
        """What to take care of; printed with every answer."""
        return cautions_kinds.told(self)

    def warnings(self, history: History) -> list[str]:
        """What in the run lies outside what is known."""
        return sheet_judgement.warnings(self, history)

    def remarks(self, history: History, facts: Facts) -> list[str]:
        """What the outcomes mean at the machine."""
        return sheet_judgement.remarks(self, history, facts)

    def hand(self, edges: Sequence[Array]) -> Hand | None:
        """The shop's formula for the duration that is sought."""
        return sheet_hand.hand(self, edges)

    def openers(self) -> list[tuple[str, dict[str, Any], Any]]:
        """What could open a closed window."""
        return sheet_hand.openers(self)

    def shifts(self) -> list[tuple[str, dict[str, Any]]]:
        """What most often changes at the machine."""
        return sheet_hand.shifts(self)
