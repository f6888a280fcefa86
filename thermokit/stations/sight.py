"""What one face of a sheet sees of a heater panel: exchange factors, and the temperature that the panel seems to have.

Panels of given exchange factor reach every place alike. A panel of given size and gap is seen by each place of the sheet
in its own way, by the radiosity of its zones (:mod:`thermokit.exchange.panel_zones`); its zones are at their set temperature,
at what their power gives (:mod:`thermokit.exchange.panel_power`), or at the lower of the two where a controller runs out of
power. While cases differ only in temperatures, geometry is solved once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Series
from thermokit.exchange.panel_power import Surroundings, held_temperatures, supplied, zone_temperatures
from thermokit.exchange.panel_reach import PanelReach, panel_reach
from thermokit.exchange.panel_zones import ZonedPanel
from thermokit.exchange.view_factors import exchange_factor_grey, view_element_rectangle
from thermokit.exchange.warm_up import warm_up

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.case.panels import PanelEntry
    from thermokit.case.sheet_stations import PanelsStation
    from thermokit.conduction.problem import Array, Varying
    from thermokit.exchange.bands import Bands

ROUNDS = 60
STEP = 400.0  # K, of a warm-up for which its nodes are laid out: the same for all panels, zones and cases


@dataclass(frozen=True, eq=False)
class SheetView:
    """What panels need to know of a sheet.

    length, width : of the blank [m] or None; emissivity : of its faces; bands : absorption in depth, None for an opaque
    sheet; path : mean length of a ray over depth; x, y : places (m,) [m]; tiled : spreads (m,) over the cases of a batch;
    typical : temperature that stands for the sheet while it is heated [K], a number or (cases,).
    """

    length: Any
    width: Any
    emissivity: Any
    bands: Bands | None
    path: Any
    x: Array
    y: Array
    tiled: Callable[[Array], Any]
    typical: Any


@dataclass(frozen=True, eq=False)
class Sight:
    """What a face sees of its side, by place and case.

    panel : share of the panel's black radiation that falls on the face, (cases,) or a number; hot : its temperature
    [K]; rest : share of the surroundings' radiation that falls on it; around : their temperature; view : direct view
    factor of the panel; back : what the side throws back of radiation that comes through the sheet; zones : (zones,)
    temperature of its zones [K] at the first case's settings; power : (zones,) [W/m2] that they give off; held : (zones,).
    """

    panel: Any
    hot: Varying
    rest: Any
    around: Varying
    view: Any
    back: Any
    zones: Array
    power: Array
    held: Any
    zone_area: float | None = None


def sight(station: PanelsStation, side: str, view: SheetView) -> Sight:
    """What the face on a side of the sheet sees; the panel must be there."""
    panel: PanelEntry = getattr(station, side)
    return _geometric(station, panel, view) if panel.geometric else _given(station, panel, view)


def surroundings(station: PanelsStation) -> Any:
    """Temperature of the oven's walls, by which the faces see what no panel fills [K]."""
    oven = station.oven
    return oven.surround if oven is not None and oven.surround is not None else station.air.temperature


def _first(value: Varying) -> Any:
    """The value at the beginning, of one that may change in time."""
    return value.value[0] if isinstance(value, Series) else value


def _mains(station: PanelsStation) -> Any:
    return station.mains.actual / station.mains.rated if station.mains is not None else 1.0


# -- a given exchange factor -------------------------------------------------------------------------------------------


def _given(station: PanelsStation, panel: PanelEntry, view: SheetView) -> Sight:
    """A panel of which only the exchange factor is known: nothing else is seen."""
    factor = np.asarray(panel.exchange)
    air, h = _first(station.air.temperature), _first(station.air.coefficient)

    def off(t: Any) -> Any:
        return factor * STEFAN_BOLTZMANN * (t**4 - view.typical**4) + h * (t - air)

    most = None if panel.installed is None else supplied(panel.installed, 1.0, _mains(station), panel.back_loss)
    held = np.ones(1, bool)
    if panel.set_by == "power":
        assert most is not None
        wanted = _balance(off, most * np.asarray(panel.power))
    else:
        wanted = panel.zones("temperature")[0][0]
        if not isinstance(wanted, Series):
            wanted = np.asarray(wanted) + panel.trim
            if most is not None:
                held = np.ravel(off(wanted) <= most * (1.0 + 1e-9))[:1]
                wanted = np.minimum(wanted, _balance(off, most))
    hot = _in_time(panel, wanted)
    zones = np.atleast_1d(np.asarray(_first(hot) if isinstance(wanted, Series) else wanted, float).ravel()[:1])
    return Sight(
        _plain(factor), hot, 0.0, station.air.temperature, None, _plain(factor * (1.0 - np.asarray(panel.emissivity))),
        zones, np.atleast_1d(np.ravel(off(zones[0]))[:1]), held,
    )  # fmt: skip


def _balance(off: Callable[[Any], Any], power: Any) -> Any:
    """Temperature at which a face gives off a power, elementwise by bisection [K]."""
    power = np.asarray(power, float)
    low, high = np.full(power.shape, 1.0), np.full(power.shape, 6000.0)
    for _ in range(ROUNDS):
        middle = (low + high) / 2.0
        more = off(middle) < power
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return (low + high) / 2.0


def _in_time(panel: PanelEntry, wanted: Any) -> Varying:
    """The face's temperature over the station: its setting, a time table with its trim, warm-up or after-glow."""
    if isinstance(wanted, Series):
        return Series(wanted.time, tuple(v + panel.trim for v in wanted.value))
    if panel.initial is None or panel.time_constant is None:
        return _number(wanted)
    times, left = _warming()
    constant, step = panel.time_constant, panel.initial - np.asarray(wanted)
    return Series(tuple(_plain(t * constant) for t in times), tuple(_plain(wanted + step * share) for share in left))


def _warming() -> tuple[Array, Array]:
    """Nodes of exp(-t/time_constant), (nodes,) each: t in time constants, and the share of the step that is left.

    Laid out for one step, so that a panel's curve does not depend on the zones and cases beside it.
    """
    times, left = warm_up(0.0, STEP, 1.0)
    return times, left / STEP


def _number(value: Any) -> Varying:
    held: Varying = _plain(value)
    return held


def _plain(value: Any) -> Any:
    """A number where an array holds one."""
    return float(value) if np.ndim(value) == 0 else value


# -- size and gap ------------------------------------------------------------------------------------------------------


def _geometric(station: PanelsStation, panel: PanelEntry, view: SheetView) -> Sight:
    """A panel that each place sees in its own way."""
    if view.length is None:
        return _over_the_middle(station, panel, view)
    m = len(view.x)
    shape = panel.shape
    assert panel.size is not None
    reflectance = station.oven.reflectance if station.oven is not None else 0.0
    emissivity = view.emissivity if view.bands is None else _clear_emissivity(view)
    geometry = [
        *panel.size,
        panel.gap,
        *panel.offset,
        panel.emissivity,
        emissivity,
        reflectance,
        view.length,
        view.width,
    ]
    cases = max(_cases([*geometry, *_heat_inputs(station, panel, view)], m), 1)
    rows = np.stack([_of_cases(v, m, cases) for v in geometry], axis=1)
    distinct, which = np.unique(rows, axis=0, return_inverse=True)
    which = np.ravel(which)
    factor, rest, direct = (np.empty((cases, m)) for _ in range(3))
    times: Array | None = None
    seen: Any = None
    first: tuple[Array, Array, Any] | None = None
    for i, row in enumerate(distinct):
        at = np.flatnonzero(which == i)
        reach = _reach(row, shape, view)
        factor[at], rest[at] = reach.panel.sum(axis=1), reach.surround
        direct[at] = reach.views.sum(axis=1)
        zones, power, held = _zone_temperatures(station, panel, reach, at, m, cases, view)
        table_times, table = _zones_in_time(panel, zones, at, m, cases)
        values = np.stack([reach.seen_temperature(level) for level in table])  # (times, cases here, m)
        if seen is None:
            times, seen = table_times, np.empty((len(values), cases, m))
        seen[:, at] = values
        if first is None or 0 in at:
            first = (zones[0], power[0], held[0])
    assert first is not None and seen is not None

    def spread(x: Array) -> Any:
        return view.tiled(x[0]) if cases == 1 else x.ravel()

    hot: Varying
    if times is None or len(seen) == 1:
        hot = spread(seen[0])
    else:
        hot = Series(tuple(_time(t, m) for t in times), tuple(spread(level) for level in seen))
    back = direct * (1.0 - _of_cases(panel.emissivity, m, cases))[:, None]
    return Sight(
        spread(factor), hot, spread(rest), surroundings(station), spread(direct), spread(back), *first,
        zone_area=float(distinct[0][0] * distinct[0][1] / (shape[0] * shape[1])),
    )  # fmt: skip


def _time(t: Array, m: int) -> Any:
    """A node of time for every place of every case."""
    return float(t) if np.ndim(t) == 0 else np.repeat(t, m)


def _clear_emissivity(view: SheetView) -> Any:
    """For the reflections between panel and clear sheet: all that its face does not throw back, a number or (cases,)."""
    assert view.bands is not None
    return _plain(1.0 - view.bands.reflectance.mean(axis=0))


def _reach(row: Array, shape: tuple[int, int], view: SheetView) -> PanelReach:
    length, width, gap, across, along, panel_emissivity, emissivity, reflectance, own_length, own_width = map(
        float, row
    )
    zoned = ZonedPanel(length, width, gap, shape[0], shape[1], (across, along))
    # places are those of the first case; a sheet of another size has them at the same shares of its sides
    x, y = view.x * (own_length / _of_first(view.length)), view.y * (own_width / _of_first(view.width))
    return panel_reach(zoned, x, y, panel_emissivity, emissivity, reflectance, (own_length, own_width))


def _of_first(value: Any) -> float:
    return float(np.ravel(value)[0])


def _heat_inputs(station: PanelsStation, panel: PanelEntry, view: SheetView) -> list[Any]:
    """Inputs that decide the zones' temperatures, as far as they are numbers."""
    table = panel.zones(panel.set_by)
    found = [value for line in table for value in line if not isinstance(value, Series)]
    mains = [station.mains.actual, station.mains.rated] if station.mains is not None else []
    more = [panel.trim, panel.installed, panel.initial, panel.time_constant, panel.back_loss, *mains]
    air = [_first(station.air.temperature), _first(station.air.coefficient), _first(surroundings(station))]
    return [value for value in (*found, *more, *air, view.typical) if value is not None]


def _cases(values: list[Any], m: int) -> int:
    """Cases of a batch, without their places."""
    return max((np.size(v) for v in values if v is not None), default=m) // m if any(np.ndim(v) for v in values) else 1


def _of_cases(value: Any, m: int, cases: int) -> Array:
    """A number for every case; arrays over cases and places hold the same for all places of a case."""
    array = np.asarray(value, float)
    return np.full(cases, float(array)) if array.ndim == 0 else np.broadcast_to(array, (cases * m,))[::m]


def _zone_temperatures(
    station: PanelsStation, panel: PanelEntry, reach: PanelReach, at: Any, m: int, cases: int, view: SheetView
) -> tuple[Array, Array, Any]:
    """(temperature [K], power given off [W/m2], held) of the zones of some cases, (cases here, zones) each."""

    def of(value: Any) -> Array:
        return np.asarray(_of_cases(value, m, cases)[at])

    table = [value for line in panel.zones(panel.set_by) for value in line]
    alive = np.array([zone for line in panel.alive for zone in line])
    setting = np.stack([of(_first(value)) for value in table], axis=1)
    given = (station.air.temperature, surroundings(station), station.air.coefficient, view.typical)
    air, walls, h, sheet = (of(_first(v)) for v in given)
    bounded = panel.installed is not None or not np.all(alive)
    if panel.set_by == "temperature":
        setting = setting + of(panel.trim)[:, None]
    if panel.set_by == "temperature" and not bounded:
        around = Surroundings(reach, float(sheet[0]), float(walls[0]), float(air[0]), float(h[0]))
        power = np.stack([around.needed(setting[0])] * len(setting))
        return setting, power, np.ones(setting.shape, bool)  # held
    # a panel without installed power holds what it is set to: all but its dead zones
    installed = of(panel.installed) if panel.installed is not None else np.full(len(at), 1e9)
    most = supplied(installed, 1.0, of(_mains(station)), of(panel.back_loss))
    inputs = np.column_stack([setting, most, air, walls, h, sheet])
    distinct, which = np.unique(inputs, axis=0, return_inverse=True)
    zones, power, held = (np.empty((len(distinct), len(alive))) for _ in range(3))
    for i, row in enumerate(distinct):
        own, (full, t_air, t_walls, coefficient, t_sheet) = row[:-5], row[-5:]
        around = Surroundings(reach, t_sheet, t_walls, t_air, coefficient)
        if panel.set_by == "power":
            power[i] = np.where(alive, own, 0.0) * full
            zones[i] = zone_temperatures(around, power[i])
            held[i] = True
        else:
            found = held_temperatures(around, own, np.where(alive, full, 0.0))
            zones[i], power[i], held[i] = found.temperature, found.power, found.held | ~alive
    which = np.ravel(which)
    return zones[which], power[which], held[which].astype(bool)


def _zones_in_time(panel: PanelEntry, zones: Array, at: Any, m: int, cases: int) -> tuple[Array | None, Array]:
    """(times (nodes,) or (nodes, cases) or None, temperatures (nodes, cases here, zones))."""
    if isinstance(panel.temperature, Series):
        table = panel.temperature
        trim = _of_cases(panel.trim, m, cases)[at]
        values = np.stack([_of_cases(v, m, cases)[at] + trim for v in table.value])[:, :, None]
        return np.array([np.ravel(t)[0] for t in table.time]), values
    if panel.initial is None or panel.time_constant is None:
        return None, zones[None]
    initial, constant = _of_cases(panel.initial, m, cases), _of_cases(panel.time_constant, m, cases)
    times, left = _warming()
    values = zones + (initial[at][:, None] - zones) * left[:, None, None]
    return times * constant[0] if np.ptp(constant) == 0.0 else times[:, None] * constant, values


def _over_the_middle(station: PanelsStation, panel: PanelEntry, view: SheetView) -> Sight:
    """Size and gap without the sheet's own size: the middle of a sheet as large as the panel, without reflections.

    Exchange factor 1/[(1 - e1)/e1 + 1/F + (1 - e2)/e2] with F the view factor of the panel from the middle, and e1 (1 - F)
    with the surroundings: exact for F = 1 (wide plates) and for black surfaces.
    """
    assert panel.size is not None
    direct = view_element_rectangle(panel.size[0], panel.size[1], panel.gap)  # type: ignore[arg-type]
    own = np.asarray(view.emissivity)
    factor = exchange_factor_grey(own, panel.emissivity, direct) / own
    sighted = _given(station, _as_given(panel, own * factor), view)
    return Sight(
        _plain(factor), sighted.hot, _plain(1.0 - direct), surroundings(station), _plain(direct),
        _plain(direct * (1.0 - np.asarray(panel.emissivity))), sighted.zones, sighted.power, sighted.held,
    )  # fmt: skip


def _as_given(panel: PanelEntry, factor: Any) -> PanelEntry:
    from dataclasses import replace

    return replace(panel, exchange=factor, size=None, gap=None)
