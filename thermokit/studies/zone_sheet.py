"""What the sheet comes to at some zone settings, and how that changes with each of them.

Columns through the thickness feel a panel only through what falls on their face. With K_si the share of zone i's black
radiation that falls on spot s, that is S_s = sum_i K_si sigma T_i^4 for each panel, and for any temperature Y of a column::

    dY_s/du_g = sum over panels (dY_s/dS_s) (dS_s/du_g)

The first factor takes one run of the whole sheet for each panel, at settings a little higher in all its zones; the second
takes no run at all: it is the panel's own balance, by finite differences of the settings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Series
from thermokit.errors import SolveError
from thermokit.processes import sheet_judgement
from thermokit.processes.base import facts_of_batch
from thermokit.processes.sheet import ALL, SheetProcess
from thermokit.stations.panels import sight
from thermokit.studies.zone_settings import with_settings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array
    from thermokit.studies.zone_settings import PanelZones, Unknowns

RAISED = {"temperature": 10.0, "power": 0.05}  # K and share by which a whole panel is raised for a trial
STEP = {"temperature": 1.0, "power": 0.01}  # the same for one zone
MOST_NUMBERS = 20_000_000  # held at once while the zones of a panel are changed one by one
REST = 0.05  # K, change of the spread in a step that is the last
LEVEL = 10.0  # weight of the mean over the sheet less the target: first the target, then the spread
ALL_SPOTS = 0.5  # weight of all spots alike, beside that of the hottest and coldest: says what to do in between
FACES = 0.1  # weight of the difference between the faces, beside that of the spread
STAY = 0.01  # weight of a zone's change of setting


@dataclass(frozen=True, eq=False)
class Plan:
    """The sheet when it reaches the tool, spot by spot, (spots,) [K]: mean through the thickness, and both faces."""

    mean: Array
    upper: Array
    lower: Array

    @property
    def spread(self) -> float:
        """Hottest less coldest mean over the sheet [K]."""
        return float(np.ptp(self.mean))

    @property
    def apart(self) -> Array:
        """Upper less lower face, (spots,) [K]."""
        return self.upper - self.lower


@dataclass(frozen=True, eq=False)
class ZonedSheet:
    """A case up to the tool, its mesh, and how exactly it is solved."""

    case: SheetCase
    edges: Sequence[Array]
    tolerance: float

    @cached_property
    def process(self) -> SheetProcess:
        """The case at every spot of the map."""
        return SheetProcess(self.case, ALL)

    def plan(self, case: SheetCase | None = None) -> Plan:
        """What the sheet comes to, with the settings of this case or of another that differs in settings only."""
        process = SheetProcess(case if case is not None else self.case, ALL)
        spots = process.places()
        facts = facts_of_batch(follow_batch(process.course(self.edges), spots, self.tolerance))
        if np.any(facts.failed):
            raise SolveError("the sheet could not be followed at these settings", "look at the bounds in [zones]")
        found = sheet_judgement.by_place(process, facts)
        return Plan(*(np.asarray(found[name]) for name in ("mean_temperature", "upper_face", "lower_face")))

    def fallen(self, case: SheetCase, station: int, side: str, cases: int = 1) -> Array:
        """What falls on each spot from a panel in the end, sum of K sigma T^4, (cases, spots) [W/m2]."""
        seen = sight(case.stations[station], side, self.process.view())  # type: ignore[arg-type]
        hot = seen.hot.value[-1] if isinstance(seen.hot, Series) else seen.hot
        spots = self.process.places()
        whole = np.asarray(seen.panel) * STEFAN_BOLTZMANN * np.asarray(hot) ** 4
        return np.asarray(np.broadcast_to(whole, (cases * spots,)).reshape(cases, spots))


@dataclass(frozen=True, eq=False)
class State:
    """Settings that were tried, and what came of them.

    asked : (n,) settings; plan : of the sheet; most, least : (n,) what the zones of each unknown come to, at most and at
    least: another than what is asked where their power does not hold it.
    """

    asked: Array
    plan: Plan
    most: Array
    least: Array

    @property
    def full(self) -> Any:
        """Unknowns of which every zone has all its power on and stays below its setting, (n,)."""
        return self.most < self.asked

    @property
    def idle(self) -> Any:
        """Unknowns of which every zone is off and stays above its setting, (n,)."""
        return self.least > self.asked

    @property
    def come(self) -> Array:
        """Settings as far as they are held, (n,)."""
        return np.clip(self.asked, self.least, self.most)


@dataclass(frozen=True, eq=False)
class ZoneModel:
    """Residuals of the sheet against what is wanted, for :func:`thermokit.studies.zone_fit.fit`.

    target : mean temperature wanted [K]; start : (n,) settings from which a change counts a little, so that what does
    nothing for the sheet stays as it is. To be even: the mean through the thickness, spot by spot, over the square root of
    their number. To come to nothing: the mean of all less the target, times LEVEL; the spots less their mean once more, times
    ALL_SPOTS; upper less lower face, times FACES, where panels on both sides can be set; change of what each zone sends out,
    times STAY.
    """

    sheet: ZonedSheet
    unknowns: Unknowns
    target: float
    start: Array

    def at(self, settings: Array) -> State:
        """The sheet at some settings."""
        case = self.case(settings)
        most, least = settings.copy(), settings.copy()
        for panel in self.unknowns.panels:
            if panel.by == "power" or panel.entry.installed is None:
                continue
            entry = getattr(case.stations[panel.station], panel.side)
            seen = sight(case.stations[panel.station], panel.side, self.sheet.process.view())  # type: ignore[arg-type]
            wanted = settings[panel.group]
            come = seen.zones.reshape(wanted.shape) - float(np.ravel(entry.trim)[0])
            come = np.where(np.reshape(seen.held, wanted.shape), wanted, come)[panel.alive]
            own = panel.group[panel.alive]
            most[own], least[own] = -np.inf, np.inf
            np.maximum.at(most, own, come)
            np.minimum.at(least, own, come)
        return State(settings, self.sheet.plan(case), most, least)

    def case(self, settings: Array) -> SheetCase:
        """The case at some settings."""
        return with_settings(self.sheet.case, self.unknowns.panels, self.unknowns.tables(settings))

    def room(self, state: State) -> tuple[Array, Array, Array]:
        """Where the settings stand and between what they may go, as what they send out (``Unknowns.drive``), (n,) each.

        A setting goes no further up where all power is on.
        """
        here = state.come
        low = np.where(state.idle, here, np.minimum(self.unknowns.low, here))
        high = np.where(state.full, here, np.maximum(self.unknowns.high, here))
        return self.unknowns.drive(here), self.unknowns.drive(low), self.unknowns.drive(high)

    def moved(self, state: State, way: Array) -> Array:
        """Settings a way further on; zones that are to stay at all their power, or at none, are asked for it."""
        to = self.unknowns.settings(self.unknowns.drive(state.come) + way)
        to = np.where(state.full & (way >= 0.0), self.unknowns.high, to)
        return np.where(state.idle & (way <= 0.0), self.unknowns.low, to)

    def residuals(self, state: State) -> tuple[Array, Array]:
        """What should be even, (spots,), and what should come to nothing, (1 + 2 spots + n,) [K]."""
        share, mean = 1.0 / np.sqrt(len(state.plan.mean)), state.plan.mean - self.target
        faces = share * self._faces * state.plan.apart
        moved = self.unknowns.drive(state.come) - self.unknowns.drive(self.start)
        all_of_it = ALL_SPOTS * share * (mean - mean.mean())
        return share * mean, np.concatenate([[LEVEL * mean.mean()], all_of_it, faces, self._stay * moved])

    def slopes(self, state: State) -> tuple[Array, Array]:
        """Change of both with what each zone sends out, (spots, n) and (1 + 2 spots + n, n) [K over K]."""
        base = self.case(state.asked)
        spots, count = len(state.plan.mean), len(state.asked)
        by_mean, by_apart = np.zeros((spots, count)), np.zeros((spots, count))
        for i, panel in enumerate(self.unknowns.panels):
            raised = self._raised(state, i)
            more = self.sheet.fallen(raised, panel.station, panel.side)[0]
            more = more - self.sheet.fallen(base, panel.station, panel.side)[0]
            plan = self.sheet.plan(raised)
            fallen = self._fallen_by_setting(state, base, panel)
            by_mean += ((plan.mean - state.plan.mean) / more)[:, None] * fallen
            by_apart += ((plan.apart - state.plan.apart) / more)[:, None] * fallen
        by_mean, by_apart = (by / self.unknowns.driving(state.come) for by in (by_mean, by_apart))
        share = 1.0 / np.sqrt(spots)
        level, faces = LEVEL * by_mean.mean(axis=0), share * self._faces * by_apart
        all_of_it = ALL_SPOTS * share * (by_mean - by_mean.mean(axis=0))
        return share * by_mean, np.vstack([level, all_of_it, faces, np.diag(self._stay)])

    @property
    def _faces(self) -> float:
        """Only panels on both sides can do something about the difference between the faces."""
        return FACES if len({panel.side for panel in self.unknowns.panels}) > 1 else 0.0

    @property
    def _stay(self) -> Array:
        zones = self.unknowns.zones
        return np.asarray(STAY * np.sqrt(zones / zones.sum()))

    def _raised(self, state: State, i: int) -> SheetCase:
        """The case with all zones of a panel, dead ones left out, raised a little, and the power for it."""
        tables, panels = self.unknowns.tables(state.come), self.unknowns.panels
        tables[i] = tables[i] + RAISED[panels[i].by]
        case = with_settings(self.sheet.case, panels, tables)
        installed = panels[i].entry.installed
        if panels[i].by == "temperature" and installed is not None:
            case = with_settings(case, [panels[i]], [tables[i]], installed=1.2 * installed)
        return case

    def _fallen_by_setting(self, state: State, base: SheetCase, panel: PanelZones) -> Array:
        """What more falls on each spot for each setting, (spots, n) [W/m2 over K, or over a share]."""
        spots = len(state.plan.mean)
        out = np.zeros((spots, len(state.asked)))
        own = np.unique(panel.group[panel.alive])
        # zones with all their power on can only be turned down
        step = STEP[panel.by] * np.where(state.full, -1.0, 1.0)
        table = np.where(panel.alive, state.asked[panel.group], panel.present)
        onset = state.come + step - state.asked
        at_once = max(1, MOST_NUMBERS // (spots * table.size) - 1)
        for begin in range(0, len(own), at_once):
            some = own[begin : begin + at_once]
            # one case for the settings as they are, one more for each that is changed
            changed = table[None] + np.concatenate(
                [np.zeros((1, *table.shape)), [onset[g] * (panel.group == g) for g in some]]
            )
            over = np.repeat(changed.reshape(len(changed), -1), spots, axis=0).T
            setting: Any = tuple(
                tuple(over[r * table.shape[1] + c] for c in range(table.shape[1])) for r in range(table.shape[0])
            )
            entry = replace(
                getattr(base.stations[panel.station], panel.side), **{panel.by: setting if table.size > 1 else over[0]}
            )
            station: Any = replace(base.stations[panel.station], **{panel.side: entry})
            stations = (*base.stations[: panel.station], station, *base.stations[panel.station + 1 :])
            fallen = self.sheet.fallen(replace(base, stations=stations), panel.station, panel.side, len(changed))
            out[:, some] = ((fallen[1:] - fallen[0]) / step[some][:, None]).T
        return out


def at_rest(before: State, after: State) -> bool:
    """Whether a step has hardly changed the spread."""
    return abs(before.plan.spread - after.plan.spread) < REST
