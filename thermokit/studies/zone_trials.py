"""What binds the zones? They are set anew without one of the things that bind them, and the real model says what that gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from thermokit.studies.zone_fit import fit
from thermokit.studies.zone_settings import Unknowns, unknowns, with_settings
from thermokit.studies.zone_sheet import State, ZoneModel, at_rest
from thermokit.units import to_unit

if TYPE_CHECKING:
    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array
    from thermokit.studies.zone_table import PanelSettings

STEPS = 3  # from the settings that were found
FREE = 2500.0  # K, no zone is hotter where nothing binds it
OVER = 10.0  # the same for power, of what is installed


@dataclass(frozen=True)
class Trial:
    """What the zones would do without something that binds them: mean and spread of the sheet [K], settings [in words]."""

    without: str
    mean: float
    spread: float
    settings: str


def trials(model: ZoneModel, state: State, panels: tuple[PanelSettings, ...]) -> tuple[Trial, ...]:
    """The zones set anew with one thing that binds them away, by a few steps from where they are."""
    own, case = model.unknowns, model.sheet.case
    out = []
    if any(panel.count(word) for panel in panels for word in ("highest", "lowest", "full", "off")):
        low = np.where(own.radiant, -own.trim + float(np.min(case.sheet.start)), 0.0)
        high = np.where(own.radiant, FREE, OVER)
        sheet = replace(model.sheet, case=_unbound(case, own))
        free = replace(own, low=np.minimum(low, own.low), high=np.maximum(high, own.high))
        out.append(_trial("bounds", replace(model, sheet=sheet, unknowns=free), state.come))
    dead = any(panel.count("dead") for panel in panels)
    if dead and case.zones is not None and case.zones.symmetry != "none":
        each = unknowns(replace(case, zones=replace(case.zones, symmetry="none")), len(case.stations) - 1)
        start = each.vector(own.tables(state.come))
        out.append(_trial("symmetry", replace(model, unknowns=each, start=start), start))
    if dead:
        case = with_settings(case, own.panels, own.tables(state.come), dead=())
        mended = unknowns(case, len(case.stations) - 1)
        tables = [
            np.where(panel.alive, table, np.mean(table[panel.alive]))
            for panel, table in zip(own.panels, own.tables(state.come), strict=True)
        ]
        start = np.clip(mended.vector(tables), mended.low, mended.high)
        again = ZoneModel(replace(model.sheet, case=case), mended, model.target, start)
        out.append(_trial("dead zones", again, start))
    return tuple(out)


def _unbound(case: SheetCase, own: Unknowns) -> SheetCase:
    """The case with as much power as controlled zones may want."""
    for panel in own.panels:
        if panel.by == "temperature" and panel.entry.installed is not None:
            case = with_settings(case, [panel], [panel.present], installed=OVER * panel.entry.installed)
    return case


def _trial(without: str, model: ZoneModel, start: Array) -> Trial:
    found: State = fit(model, start, at_rest, STEPS).state
    ends = []
    for name, radiant in (("temperature", True), ("fraction", False)):
        some = found.come[model.unknowns.radiant == radiant]
        if len(some):
            unit = "degC" if radiant else "%"
            low, high = (to_unit(end, unit, name) for end in (some.min(), some.max()))
            ends.append(f"{low:.0f} to {high:.0f} {unit}")
    return Trial(without, float(found.plan.mean.mean()), found.plan.spread, " and ".join(ends))
