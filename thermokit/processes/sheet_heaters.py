"""What the heaters of a sheet do: views, zones, power, what a clear sheet lets through, energy by part and by hour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.sheet_stations import PanelsStation
from thermokit.conduction.problem import Series
from thermokit.exchange.absorption import slab_shares
from thermokit.exchange.pyrometer import NARROW_BANDS, pyrometer_bands
from thermokit.results.model import Outcome
from thermokit.stations.panels import sight

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.processes.sheet import SheetProcess
    from thermokit.stations.sight import Sight

ZERO = 273.15
FEW = 3  # bands that are named


def _panels(process: SheetProcess) -> list[tuple[Any, str, Any]]:
    return [
        (station, side, panel)
        for station in process.case.stations
        if isinstance(station, PanelsStation)
        for side, panel in station.panels.items()
    ]


def outcomes(process: SheetProcess, history: History) -> list[Outcome]:
    """View and exchange factors, what a clear sheet takes in, power and energy of the heaters."""
    out: list[Outcome] = []
    view = process.view()
    energy, steady = 0.0, True
    for station, side, panel in _panels(process):
        seen = sight(station, side, view)
        name = f"{station.name}_{side}"
        if seen.view is not None:
            out.append(Outcome(f"{name}_view", _one(seen.view), "1", f"view factor of the {side} panel, mid-sheet"))
            factor = _one(seen.panel) * (_one(view.emissivity) if view.bands is None else 1.0)
            out.append(Outcome(f"{name}_exchange", factor, "1", f"exchange factor, {side} panel"))
        if panel.set_by == "power" or panel.installed is not None:
            out.append(Outcome(f"{name}_hottest_zone", float(seen.zones.max()) - ZERO, "degC", "its hottest zone"))
            out.append(Outcome(f"{name}_coldest_zone", float(seen.zones.min()) - ZERO, "degC", "its coldest zone"))
        if view.bands is not None:
            out += _shares(process, name, side, seen)
        power = _power(panel, seen, process)
        if power is None:
            steady = False
            continue
        energy += power * float(station.duration)
        out.append(Outcome(f"{name}_power", power / 1e3, "kW", f"drawn by the {side} panel to stay as it is"))
    if steady and energy > 0.0:
        out.append(Outcome("heater_energy", energy / 3.6e6, "kWh", "drawn by the panels while they heat one sheet"))
        cycle = _cycle(process, history)
        out.append(
            Outcome("heater_power", energy / cycle / 1e3, "kW", f"the same as a mean over a cycle of {cycle:.0f} s")
        )
    return out


def _power(panel: Any, seen: Sight, process: SheetProcess) -> float | None:
    """Power that a panel draws [W]; None without a size, or where it is not in a steady state."""
    if panel.size is None or isinstance(panel.temperature, Series) or panel.initial is not None:
        return None
    area = _one(panel.size[0]) * _one(panel.size[1])
    # a zone that takes up heat draws none
    return float(np.mean(np.maximum(seen.power, 0.0))) * area / (1.0 - _one(panel.back_loss))


def _cycle(process: SheetProcess, history: History) -> float:
    """Time from sheet to sheet [s]: heating goes on beside forming and cooling where there is a tool."""
    ends = [0.0, *(end.time for end in history.ends)]
    length = np.diff(ends)
    if process.release is None:
        return float(ends[-1])
    heated = float(length[: process.touch + 1].sum())
    formed = float(length[process.touch + 1 : process.release + 1].sum())
    between = float(process.case.shots.between) if process.case.shots is not None else 0.0
    return max(heated, formed + between)


def _shares(process: SheetProcess, name: str, side: str, seen: Sight) -> list[Outcome]:
    """Where the radiation of a panel goes in a clear sheet."""
    view = process.view()
    assert view.bands is not None
    last = seen.hot.value[-1] if isinstance(seen.hot, Series) else seen.hot
    thickness = float(np.ravel(process.case.sheet.thickness)[0])
    shares = slab_shares(view.bands, thickness, _one(last), _one(view.path), 0.0)
    words = {
        "absorbed": "taken in by the sheet",
        "reflected": "thrown back by it",
        "passed": "let through to what lies behind",
    }
    return [
        Outcome(
            f"{name}_{key}", float(np.ravel(getattr(shares, key))[0]), "1", f"of the {side} panel's radiation, {text}"
        )
        for key, text in words.items()
    ]


def remarks(process: SheetProcess) -> list[str]:
    """Which pyrometer reads a clear sheet truly, and what else follows from its transparency."""
    bands = process.view().bands
    if bands is None:
        return []
    thickness = float(np.ravel(process.case.sheet.thickness)[0])
    true = [band for band in pyrometer_bands(bands, thickness) if band.true][:FEW]
    found = [
        "radiation is taken in through the depth: heating as if at the face would be reckoned wrong in time and in the sign of "
        "the gradient; what passes through meets panels and reflectors behind, which matter"
    ]
    narrow = NARROW_BANDS.get(process.case.sheet.material)
    usual = f"; usual in the trade is a narrow band at {narrow} (common practice, no source)" if narrow else ""
    if not true:
        found.append(
            f"no band of the data reads the face of this sheet truly: use a pyrometer in an absorbing band{usual}"
        )
        return found
    words = ", ".join(
        f"{1e6 * b.low:.3g} to {_micrometre(b.high)} (set emissivity {b.emissivity:.2f}, sees {1e3 * b.sight:.2g} mm deep)"
        for b in true
    )
    found.append(f"a pyrometer reads the face truly in an absorbing band: {words}{usual}")
    return found


def _micrometre(length: float) -> str:
    return f"{1e6 * length:.3g} um" if np.isfinite(length) else "the far infrared"


def warnings(process: SheetProcess) -> list[str]:
    """Panels that cannot hold their setting; panels smaller than the sheet."""
    found = []
    sheet = process.case.sheet
    for station, side, panel in _panels(process):
        seen = sight(station, side, process.view())
        if panel.installed is not None and panel.set_by == "temperature" and not np.all(seen.held):
            count = int(np.size(seen.held) - np.count_nonzero(seen.held))
            found.append(
                f"{station.name}: {count} of {np.size(seen.held)} zones of the {side} panel cannot hold their setting with the "
                f"power that they have; the coldest comes to {float(seen.zones.min()) - ZERO:.0f} degC"
            )
        if panel.size is not None and sheet.length is not None and sheet.width is not None:
            short = [
                word
                for word, own, other in zip(("length", "width"), panel.size, (sheet.length, sheet.width), strict=True)
                if _one(own) < _one(other)
            ]
            if short:
                found.append(
                    f"{station.name}: the {side} panel is smaller than the sheet in {' and '.join(short)}; the edges stay cold"
                )
    return found


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])
