"""The zones of a case as unknowns: which of them may be set, which get the same setting, and within what bounds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.sheet_limits import ZonesSection
from thermokit.case.sheet_stations import PanelsStation
from thermokit.conduction.problem import Series
from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.case.panels import PanelEntry
    from thermokit.case.sheet import SheetCase
    from thermokit.conduction.problem import Array

KELVIN_PER_SHARE = 400.0  # what a share of installed power counts as, beside kelvins of a face temperature
AT = 700.0  # K, face temperature at which one kelvin of what is sent out is a kelvin of the face
MOST = 300  # settings that are sought at once: more would take minutes


@dataclass(frozen=True, eq=False)
class PanelZones:
    """A panel whose zones may be set.

    station : its number; name : of the station; side : ``upper`` or ``lower``; entry : the panel as it is in the case;
    present : settings in the case, (rows, columns) [K, without trim, or share of installed power]; alive : (rows, columns);
    low, high : bounds of a setting; group : (rows, columns), number of the unknown of each zone, -1 for a dead one.
    """

    station: int
    name: str
    side: str
    entry: PanelEntry
    present: Array
    alive: Any
    low: float
    high: float
    group: Any

    @property
    def by(self) -> str:
        """``temperature`` or ``power``."""
        return self.entry.set_by

    @property
    def path(self) -> str:
        """Path of the settings in the case."""
        return f"stations.{self.station}.{self.side}.{self.by}"


@dataclass(frozen=True, eq=False)
class Unknowns:
    """All settings that are sought, as one vector; zones that must be alike share one entry of it.

    low, high : (n,) bounds; radiant : (n,) whether it is a temperature; trim : (n,) what is added to it [K]; zones : (n,)
    how many zones share it.
    """

    panels: tuple[PanelZones, ...]
    low: Array
    high: Array
    radiant: Any
    trim: Array
    zones: Array

    def vector(self, tables: Sequence[Array]) -> Array:
        """Mean setting of the zones of each unknown, (n,)."""
        total = np.zeros(len(self.zones))
        for panel, table in zip(self.panels, tables, strict=True):
            np.add.at(total, panel.group[panel.alive], table[panel.alive])
        return np.asarray(total / self.zones)

    def tables(self, vector: Array) -> list[Array]:
        """Settings of every panel, (rows, columns) each; a dead zone keeps what stands in the case."""
        return [np.where(p.alive, vector[p.group], p.present) for p in self.panels]

    def drive(self, settings: Array) -> Array:
        """What zones at these settings send out, in kelvins: AT/4 (T/AT)^4, or KELVIN_PER_SHARE times the share.

        What falls on the sheet goes straight with it, which it does not with temperature.
        """
        sent = AT / 4.0 * (np.maximum(settings + self.trim, 0.0) / AT) ** 4
        return np.asarray(np.where(self.radiant, sent, KELVIN_PER_SHARE * settings))

    def settings(self, drive: Array) -> Array:
        """Settings that send that much out."""
        face = AT * (4.0 * np.maximum(drive, 0.0) / AT) ** 0.25
        return np.asarray(np.where(self.radiant, face - self.trim, drive / KELVIN_PER_SHARE))

    def driving(self, settings: Array) -> Array:
        """Change of what is sent out with the setting."""
        return np.asarray(np.where(self.radiant, ((settings + self.trim) / AT) ** 3, KELVIN_PER_SHARE))


def unknowns(case: SheetCase, touch: int) -> Unknowns:
    """The zones that may be set before the sheet reaches its tool.

    touch : number of the last station before the tool. Panels that follow a table of times stay as they are. Raises
    CaseError where there is nothing to set.
    """
    wanted = case.zones
    settable = [
        (i, station, side, panel)
        for i, station in enumerate(case.stations[: touch + 1])
        if isinstance(station, PanelsStation)
        for side, panel in station.panels.items()
        if not isinstance(panel.temperature, Series)
    ]
    if not settable:
        raise _wrong(
            case, "stations", "no panel heats the sheet whose zones could be set",
            "panels set by one temperature, by power, or by a table of zones, before the sheet reaches a tool",
        )  # fmt: skip
    if wanted is None and any(panel.set_by == "temperature" for *_, panel in settable):
        raise _wrong(
            case, "zones", "missing: it says how cold and how hot a zone may be set",
            '[zones] with lowest and highest, such as lowest = "200 degC" and highest = "550 degC"',
        )  # fmt: skip
    if not any(panel.zoned for *_, panel in settable):
        station, side = settable[0][1], settable[0][2]
        raise _wrong(
            case, f"stations.{station.name}.{side}.rows", "missing: no panel is cut into zones",
            "rows and columns of the panel's zones, or a table of zones",
        )  # fmt: skip
    bounds = wanted if wanted is not None else ZonesSection()
    count, panels = 0, []
    for i, station, side, panel in settable:
        alive = np.array(panel.alive)
        group = _groups(alive, bounds.symmetry) + count
        group[~alive] = -1
        low, high = _bounds(bounds, panel)
        present = np.array([[_first(zone) for zone in row] for row in panel.zones(panel.set_by)])
        panels.append(PanelZones(i, station.name, side, panel, present, alive, low, high, group))
        count = max(count, int(group.max()) + 1)
    if not 0 < count <= MOST:
        raise _wrong(
            case, "zones.symmetry", f"{count} settings would be sought", f"1 to {MOST}",
            "fewer zones, or mirrored zones alike" if count else "zones that are not dead",
        )  # fmt: skip
    return _together(tuple(panels), count)


def _together(panels: tuple[PanelZones, ...], count: int) -> Unknowns:
    low, high, trim, zones = (np.zeros(count) for _ in range(4))
    radiant = np.zeros(count, bool)
    for panel in panels:
        own = panel.group[panel.alive]
        low[own], high[own], radiant[own] = panel.low, panel.high, panel.by == "temperature"
        trim[own] = _first(panel.entry.trim) if panel.by == "temperature" else 0.0
        np.add.at(zones, own, 1.0)
    return Unknowns(panels, low, high, radiant, trim, zones)


def _bounds(zones: ZonesSection, panel: PanelEntry) -> tuple[float, float]:
    if panel.set_by == "power":
        return float(zones.lowest_power), float(zones.highest_power)
    trim = _first(panel.trim)
    assert zones.lowest is not None and zones.highest is not None
    return float(zones.lowest) - trim, float(zones.highest) - trim


def _groups(alive: Any, symmetry: str) -> Any:
    """Number of the unknown of each zone, counted from 0: mirrored ones have the same; dead ones do not count."""
    rows, columns = alive.shape
    row, column = np.indices(alive.shape)
    if symmetry in ("width", "both"):
        row = np.minimum(row, rows - 1 - row)
    if symmetry in ("length", "both"):
        column = np.minimum(column, columns - 1 - column)
    key = row * columns + column
    found = np.full(alive.shape, -1)
    if alive.any():
        found[alive] = np.unique(key[alive], return_inverse=True)[1].ravel()
    return found


def with_settings(case: SheetCase, panels: Sequence[PanelZones], tables: Sequence[Array], **changes: Any) -> SheetCase:
    """The case with other settings of its panels, (rows, columns) each; a panel of one zone gets one number.

    changes : further fields of the panels. Nothing is checked again, so that settings may pass a bound in a trial.
    """
    stations: list[Any] = list(case.stations)
    for panel, table in zip(panels, tables, strict=True):
        station = stations[panel.station]
        setting: Any = float(table[0, 0]) if table.size == 1 else tuple(tuple(float(x) for x in row) for row in table)
        entry = replace(getattr(station, panel.side), **{panel.by: setting}, **changes)
        stations[panel.station] = replace(station, **{panel.side: entry})
    return replace(case, stations=tuple(stations))


def _first(value: Any) -> float:
    return float(np.ravel(value)[0])


def _wrong(case: SheetCase, where: str, what: str, allowed: str, advice: str = "") -> CaseError:
    return CaseError(case.source.file, [Mistake(where, what, allowed, advice)])
