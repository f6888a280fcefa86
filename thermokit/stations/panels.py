"""Heater panels above and below a sheet, as faces and sources: radiation of panels and oven, and air."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, DepthSource, Exchange, Face, Radiation, Series, Span
from thermokit.exchange.absorption import share_in_cells
from thermokit.exchange.bands import bands_between, bands_of, grey_bands
from thermokit.stations.sight import SheetView, Sight, sight, surroundings

if TYPE_CHECKING:
    from thermokit.case.blank import SheetSection
    from thermokit.case.sheet_stations import AirStation, PanelsStation
    from thermokit.conduction.problem import Array, Varying
    from thermokit.exchange.bands import Bands

__all__ = ["SheetView", "Sight", "air_span_in_depth", "bands_of_sheet", "panels_span", "sight"]

SIDES = ("upper", "lower")
COLDEST = 1.0  # K, of a source: what is colder sends nothing, but has no spectrum either


def bands_of_sheet(sheet: SheetSection, record: Any) -> Bands | None:
    """How a clear sheet takes in radiation: the case's own bands, or those of its material; None for an opaque one."""
    if sheet.absorption != "in_depth":
        return None
    if not sheet.bands:
        return bands_of(record.record)
    if sheet.bands[0].low is None:
        return grey_bands(sheet.bands[0].coefficient, sheet.bands[0].reflectance)
    own = sorted(sheet.bands, key=lambda band: float(np.ravel(band.low)[0]))  # type: ignore[arg-type]
    return bands_between(
        [float(np.ravel(band.low)[0]) for band in own],  # type: ignore[arg-type]
        [float(np.ravel(band.high)[0]) for band in own],  # type: ignore[arg-type]
        [band.coefficient for band in own],
        [band.reflectance for band in own],
    )


def panels_span(station: PanelsStation, view: SheetView, edges: Array, thickness: Any) -> Span:
    """A station between panels; edges : of the sheet's cells as shares, (cells + 1,); thickness [m].

    Opaque sheet, at each face: e_s [K_p sigma (T_p^4 - T^4) + K_0 sigma (T_0^4 - T^4)] + h (T_air - T), with K the shares of
    the black radiation of panel and surroundings that fall on the face, reflections counted. Where an exchange factor is
    given, it stands for e_s K_p and nothing else is seen. Clear sheet: the same radiation is taken in cell by cell.
    """
    seen = {side: _seen(station, side, view) for side in SIDES}
    exchange = (Exchange(station.air.coefficient, station.air.temperature),)
    if view.bands is None:
        faces = []
        for side in SIDES:
            given = getattr(station, side) is not None and getattr(station, side).exchange is not None
            faces.append(Face(exchange=exchange, radiation=_radiation(seen[side], 1.0 if given else view.emissivity)))
        return Span(station.duration, *faces, name=station.name)  # type: ignore[arg-type, misc]
    sources, emission = _in_depth(seen, view, edges, thickness)
    face = Face(exchange=exchange)
    return Span(station.duration, face, face, sources, station.name, emission)  # type: ignore[arg-type]


def air_span_in_depth(station: AirStation, view: SheetView, edges: Array, thickness: Any) -> Span:
    """A clear sheet in the air, which radiates to its surroundings from its depth."""
    around = station.surround if station.surround is not None else station.air.temperature
    open_side = Sight(0.0, around, 1.0, around, None, 0.0, np.zeros(0), np.zeros(0), None)
    sources, emission = _in_depth(dict.fromkeys(SIDES, open_side), view, edges, thickness)
    face = Face(exchange=(Exchange(station.air.coefficient, station.air.temperature),))
    return Span(station.duration, face, face, sources, station.name, emission)  # type: ignore[arg-type]


def _seen(station: PanelsStation, side: str, view: SheetView) -> Sight:
    """What a face sees; a side without a panel sees the oven."""
    if getattr(station, side) is not None:
        return sight(station, side, view)
    around = surroundings(station)
    behind = station.oven.behind if station.oven is not None else 0.0
    return Sight(0.0, around, 1.0, around, None, behind, np.zeros(0), np.zeros(0), None)


def _radiation(seen: Sight, emissivity: Any) -> tuple[Radiation, ...]:
    found = []
    for factor, temperature in ((seen.panel, seen.hot), (seen.rest, seen.around)):
        if np.any(np.asarray(factor) > 0.0):
            found.append(Radiation(emissivity * factor, temperature))
    return tuple(found)


def _in_depth(
    seen: dict[str, Sight], view: SheetView, edges: Array, thickness: Any
) -> tuple[tuple[DepthSource, ...], Array]:
    """Sources of what falls on both faces, and the emission of the cells through them.

    A source that warms up keeps the spread over depth of its last temperature; its strength goes with T^4.
    """
    assert view.bands is not None
    bands, path = view.bands, view.path
    wide = np.ndim(thickness) == 1
    depth = np.asarray(edges)[:, None] * thickness if wide else np.asarray(edges) * thickness
    width = np.diff(depth, axis=0)
    sources: list[DepthSource] = []
    emission: Any = 0.0
    for side, other in (("upper", "lower"), ("lower", "upper")):
        own = seen[side]
        lit = "inner" if side == "upper" else "outer"
        behind = seen[other].back
        for share, temperature in ((own.panel, own.hot), (own.rest, own.around)):
            if not np.any(np.asarray(share) > 0.0):
                continue
            last = np.maximum(temperature.value[-1] if isinstance(temperature, Series) else temperature, COLDEST)
            fallen = np.asarray(share) * STEFAN_BOLTZMANN * last**4
            taken = share_in_cells(bands, depth, bands.weights(last), path, behind, side=lit)  # type: ignore[arg-type]
            sources.append(DepthSource(_by_volume(taken, fallen, width), _strength(temperature, last)))
        whole = np.asarray(own.panel) + np.asarray(own.rest)
        given_off = share_in_cells(bands, depth, bands.weights(view.typical), path, behind, side=lit)  # type: ignore[arg-type]
        emission = emission + _by_volume(given_off, whole, width)
    return tuple(sources), np.asarray(emission)


def _by_volume(share: Array, amount: Any, width: Array) -> Array:
    """share (cells,) or (cells, cases) x amount, number or (cases,), over the cells' width."""
    amount = np.asarray(amount)
    if amount.ndim == 1 or share.ndim == 2 or width.ndim == 2:
        share = share if share.ndim == 2 else share[:, None]
        width = width if width.ndim == 2 else width[:, None]
    return np.asarray(share * amount / width)


def _strength(temperature: Varying, last: Any) -> Varying:
    """T^4 over that of the last temperature, in time; cut finely enough where the table rises far in one piece."""
    if not isinstance(temperature, Series):
        return 1.0
    return Series(temperature.time, tuple((np.asarray(v) / last) ** 4 for v in temperature.value))
