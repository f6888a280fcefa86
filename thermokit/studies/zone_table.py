"""Settings as a controller takes them: rounded, within their bounds, and written into the case."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.rewrite import Setting, with_zone_settings
from thermokit.units import UnitError, find_unit, to_unit

if TYPE_CHECKING:
    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array
    from thermokit.studies.zone_settings import PanelZones, Unknowns
    from thermokit.studies.zone_sheet import State

ROUND = {"degC": 0, "K": 0, "degF": 0, "%": 1}  # digits of a setting behind the point


@dataclass(frozen=True, eq=False)
class PanelSettings:
    """Settings of a panel, before and after, (rows, columns) in ``unit``; NaN where a zone is dead.

    at_bound : (rows, columns) words: ``highest``, ``lowest``, ``full`` (all its power is on), ``off``, ``dead`` or nothing.
    """

    station: str
    side: str
    unit: str
    before: Array
    after: Array
    at_bound: tuple[tuple[str, ...], ...]
    lowest: float
    highest: float

    def count(self, word: str) -> int:
        """How many zones stand at a bound."""
        return sum(row.count(word) for row in self.at_bound)


def written(case: SheetCase, wanted: Unknowns, state: State) -> tuple[SheetCase, tuple[PanelSettings, ...]]:
    """The case with the settings as they are written, and what there is to say of each panel."""
    settings, panels = [], []
    # where power runs out, what it comes to; where a zone is off, what it was asked for
    held = np.where(state.full, state.least, state.asked)
    for panel, table in zip(wanted.panels, wanted.tables(held), strict=True):
        unit = _unit(case, panel)
        full = panel.alive & state.full[panel.group]
        shown = _rounded(table, panel, unit, full)
        rows = tuple(tuple(f"{x:.{_places(x, unit)}f} {unit}" for x in row) for row in shown)
        settings.append(Setting(panel.station, panel.side, panel.by, rows))
        dimension = _dimension(panel)
        low, high = (float(to_unit(bound, unit, dimension)) for bound in (panel.low, panel.high))
        words = np.select(
            [~panel.alive, full, panel.alive & state.idle[panel.group], shown >= high, shown <= low],
            ["dead", "full", "off", "highest", "lowest"], "",
        )  # fmt: skip
        before, after = (np.where(panel.alive, x, np.nan) for x in (to_unit(panel.present, unit, dimension), shown))
        panels.append(
            PanelSettings(
                panel.name, panel.side, unit, before, after, tuple(tuple(map(str, row)) for row in words), low, high
            )
        )
    return with_zone_settings(case, settings), tuple(panels)


def _dimension(panel: PanelZones) -> str:
    return "temperature" if panel.by == "temperature" else "fraction"


def _unit(case: SheetCase, panel: PanelZones) -> str:
    """The unit in which the settings are written: that of the case where it is one of temperature."""
    if panel.by == "power":
        return "%"
    try:
        raw: Any = tomllib.loads(case.source.text)["stations"][panel.station][panel.side]["temperature"]
        while isinstance(raw, list):
            raw = raw[0]
        return find_unit(raw.strip().lstrip("+-0123456789.eE"), "temperature")
    except (KeyError, IndexError, TypeError, AttributeError, ValueError, UnitError):
        return "degC"


def _rounded(table: Array, panel: PanelZones, unit: str, full: Any) -> Array:
    """Settings as a controller takes them, within the bounds; no higher than their power holds."""
    dimension, grain = _dimension(panel), 10.0 ** -ROUND[unit]
    values = to_unit(table, unit, dimension) / grain
    whole = np.where(full, np.floor(values), np.round(values)) * grain
    low, high = (to_unit(bound, unit, dimension) for bound in (panel.low, panel.high))
    # a bound need not be a round number, a dead zone keeps what it has
    return np.asarray(np.where(panel.alive, np.clip(np.round(whole, 6), low, high), to_unit(table, unit, dimension)))


def _places(value: float, unit: str) -> int:
    """Digits behind the point that say a value as it is."""
    return next((n for n in range(ROUND[unit], 6) if abs(round(value, n) - value) < 1e-9), 6)
