"""How should the zones of the panels be set? The settings with the smallest spread over the sheet, at the target.

Bounded least squares around the real model (:mod:`thermokit.studies.zone_fit`): the mean over the sheet, when it reaches the
tool, is brought to the target, and its spots are made as even as the zones allow. Dead zones stay dead, mirrored zones alike
where that is asked for. Then settings are rounded to what a controller takes, written into the case, and run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.mesh import TIME_SHARE, base_edges
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.processes import process_of, sheet_judgement
from thermokit.processes.media import slowness
from thermokit.processes.run import failed, judged, settled
from thermokit.processes.sheet import SheetProcess
from thermokit.studies.run import as_case
from thermokit.studies.zone_fit import fit
from thermokit.studies.zone_settings import unknowns
from thermokit.studies.zone_sheet import Plan, ZonedSheet, ZoneModel, at_rest
from thermokit.studies.zone_table import PanelSettings, written
from thermokit.studies.zone_trials import Trial, trials
from thermokit.units import to_unit

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array
    from thermokit.results.model import Result
    from thermokit.studies.window import Window

CLOSE = 1.0  # K, so near to the target the mean counts as there


@dataclass(frozen=True, eq=False)
class Zones:
    """The answer. plans : of the sheet before and after; dwell [s] : of the station at which ``path`` was sought, else None.

    case : with the new settings, its ``source.text`` is the new file; result : its run; windows : of the dwell before and
    after, where one is sought; trials : see :class:`Trial`.
    """

    case: SheetCase
    target: float
    panels: tuple[PanelSettings, ...]
    plans: tuple[Plan, Plan]
    steps: int
    path: str | None
    dwell: float | None
    windows: tuple[Window | None, Window | None]
    trials: tuple[Trial, ...]
    result: Result

    @property
    def missed(self) -> float:
        """Mean over the sheet less the target [K]."""
        return float(self.plans[1].mean.mean()) - self.target

    @property
    def reached(self) -> bool:
        """Whether the target is reached."""
        return abs(self.missed) <= CLOSE


def zones(case: Any, progress: Callable[[float], None] | None = None) -> Zones:
    """Settings of the zones of a sheet case (or a case file) that even out the sheet at the target.

    Where a dwell is sought, it is taken to be the one at which the mean over the sheet comes to the target with the present
    settings; the settings found are those for it. Raises CaseError where there are no zones to set, no map of the sheet, or
    no target; SolveError where no dwell brings the sheet there.
    """
    told = progress or (lambda share: None)
    case = as_case(case)
    touch = _checked(case)
    target = _target(case)
    wanted = unknowns(case, touch)
    path, dwell = _dwell(case, touch, target)
    told(0.1)
    sheet = _sheet(_filled(case, path, dwell), touch)
    present = wanted.vector([panel.present for panel in wanted.panels])
    start = np.clip(present, wanted.low, wanted.high)
    model = ZoneModel(sheet, wanted, target, start)
    found = fit(model, start, at_rest, progress=lambda share: told(0.1 + 0.4 * share))
    new, panels = written(case, wanted, found.state)
    filled = _filled(new, path, dwell)
    told(0.6)
    other = trials(model, found.state, panels)
    told(0.8)
    windows = _windows(case, new)
    told(0.95)
    if _sought(filled) is None:
        result = judged(filled, process_of(filled), settled(filled, process_of(filled)), {})
    else:  # a dwell after the sheet has left the panels
        from thermokit.studies.run import run

        result = run(replace(filled, tolerances={}))
    if failed(result):
        raise SolveError("the run at the new settings did not finish", "; ".join(result.history.warnings))
    plans = sheet.plan(), _sheet(filled, touch).plan()
    answer = Zones(new, target, panels, plans, found.steps, path, dwell, windows, other, result)
    from thermokit.studies.zones_fields import fields, study

    result = replace(result, study=result.study | study(answer), fields=(*result.fields, *fields(answer)))
    return replace(answer, result=result)


# -- what is asked -----------------------------------------------------------------------------------------------------


def _checked(case: Any) -> int:
    """Number of the last station before the tool; CaseError where the case is of no kind to be evened out."""
    if case.process != "sheet":
        raise _wrong(case, "process", f'"{case.process}" has no heater zones', '"sheet"')
    if case.map_spots is None or not any(
        panel.geometric for s in case.stations if s.kind == "panels" for panel in s.panels.values()
    ):
        raise _wrong(
            case, "sheet.spots", "there is no map of the sheet to even out",
            "length and width of the sheet, size and gap of the panels",
            "with an exchange factor alone every spot of the sheet is heated alike",
        )  # fmt: skip
    touch = SheetProcess(case).touch
    if touch < 0:
        raise _wrong(case, "stations", "the sheet meets the tool before any panel", "panels before the first tool")
    return touch


def _target(case: SheetCase) -> float:
    """Mean temperature wanted [K]."""
    if case.zones is not None and case.zones.target is not None:
        return float(case.zones.target)
    window = [None if bound is None else float(np.mean(bound)) for bound in sheet_judgement.window(SheetProcess(case))]
    if window[0] is None or window[1] is None:
        raise _wrong(
            case, "zones.target", "missing: neither the case nor the material gives both forming limits",
            'the mean temperature wanted, such as "155 degC"', "or coldest_point and hottest_face in [limits]",
        )  # fmt: skip
    return (window[0] + window[1]) / 2.0


def _sheet(case: SheetCase, touch: int) -> ZonedSheet:
    """The case up to the tool, on the mesh that a run of the whole case takes."""
    first = _up_to(case, touch)
    whole = case if _sought(case) is None else first
    solved = settled(whole, process_of(whole))
    if solved.history.ending.status != "finished":
        raise SolveError("the sheet could not be followed at the present settings", solved.history.ending.advice)
    return ZonedSheet(first, solved.edges[:1], solved.tolerance)


def _up_to(case: SheetCase, touch: int) -> SheetCase:
    return replace(case, stations=case.stations[: touch + 1], tools={}, shots=None, tolerances={})


def _filled(case: SheetCase, path: str | None, dwell: float | None) -> SheetCase:
    """The case with the dwell that was found for it."""
    return case if path is None else case.with_values({path: dwell})


def _sought(case: SheetCase) -> str | None:
    from thermokit.case import sought_path

    return sought_path(case)


def _dwell(case: SheetCase, touch: int, target: float) -> tuple[str | None, float | None]:
    """(path, time [s]) of a dwell before the tool that is sought: the mean over the sheet then comes to the target."""
    from scipy.optimize import brentq

    from thermokit.studies.dwell import HIGH, LOW
    from thermokit.studies.window import Question

    first = _up_to(case, touch)
    path = _sought(first)
    if path is None:
        return None, None
    if not any(s.kind == "panels" and not isinstance(s.duration, (int, float)) for s in first.stations):
        raise _wrong(
            case, path, 'is "find"', "a time", "zones are set for a given way to the tool; a dwell may be sought between panels"
        )  # fmt: skip
    sought = first.value(path)
    low, high = (float(end) if end is not None else other for end, other in ((sought.low, LOW), (sought.high, HIGH)))
    process = process_of(first)
    (_, thickness, medium, cells), *_ = process.layers()
    edges = base_edges([slowness(medium, thickness)], [cells])
    tolerance = TIME_SHARE * float(case.accuracy.temperature)

    def middle(times: Array) -> Array:
        own, facts = Question(first, path, edges, tolerance).facts(times)
        return np.asarray(sheet_judgement.by_place(own, facts)["mean_temperature"])  # type: ignore[arg-type]

    def short(time: float) -> float:
        filled = first.with_values({path: time})
        return float(ZonedSheet(filled, edges, tolerance).plan().mean.mean()) - target

    times = np.geomspace(low, high, 65)
    warm = np.flatnonzero(middle(times) >= target)
    if not len(warm):
        raise _never(path, target, low, high)
    begin = end = float(times[warm[0]])
    while short(end) < 0.0:
        if end >= high:
            raise _never(path, target, low, high)
        begin, end = end, min(1.3 * end, high)
    while begin == end or short(begin) >= 0.0:
        if begin <= low:
            raise _never(path, target, low, high)
        begin = max(begin / 1.3, low)
    return path, round(float(brentq(short, begin, end, xtol=0.02)), 1)


def _never(path: str, target: float, low: float, high: float) -> SolveError:
    return SolveError(
        f"{path}: with the present settings no dwell from {low:g} to {high:g} s brings the mean over the sheet to "
        f"{to_unit(target, 'degC', 'temperature'):.1f} degC",
        "give the duration that is wanted, or settings and a target that fit together",
    )


def _windows(case: SheetCase, new: SheetCase) -> tuple[Window | None, Window | None]:
    """The window of the dwell that is sought, with the old settings and with the new ones."""
    from thermokit.studies.dwell import window_of

    if _sought(case) is None or not process_of(case).limits():
        return None, None
    return window_of(case), window_of(new)


def _wrong(case: Any, where: str, what: str, allowed: str, advice: str = "") -> CaseError:
    return CaseError(case.source.file, [Mistake(where, what, allowed, advice)])
