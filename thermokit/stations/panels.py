"""Heater panels above and below a sheet, as faces: radiation from the panel, from the rest of the oven, and air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Exchange, Face, Radiation
from thermokit.exchange.view_factors import exchange_factor_grey, view_element_rectangle

if TYPE_CHECKING:
    from thermokit.case.sheet import AirEntry, PanelEntry
    from thermokit.conduction.problem import Number


@dataclass(frozen=True)
class PanelExchange:
    """How a panel reaches the sheet: factor on sigma (panel^4 - sheet^4), and factor on the rest of the oven.

    factor, surround : [-]; view : share of the sheet's view that the panel fills, None where the factor was given.
    """

    factor: Any
    surround: Any
    view: Any = None


def panel_exchange(panel: PanelEntry, sheet_emissivity: Number) -> PanelExchange:
    """Exchange of the middle of the sheet with one panel.

    With a given exchange factor nothing else is seen. From size and gap: view factor F of the panel from the middle of
    the sheet, factor 1/[(1 - e1)/e1 + 1/F + (1 - e2)/e2], and what the panel does not fill, e1 (1 - F), sees the oven at
    the air's temperature. Exact for F = 1 (wide plates) and for black surfaces; between, re-radiation is left out.
    """
    if panel.exchange is not None:
        return PanelExchange(panel.exchange, 0.0)
    assert panel.size is not None and panel.gap is not None
    view = view_element_rectangle(panel.size[0], panel.size[1], panel.gap)
    factor = exchange_factor_grey(sheet_emissivity, panel.emissivity, view)
    rest = np.asarray(sheet_emissivity) * (1.0 - view)
    return PanelExchange(*(float(x) if np.ndim(x) == 0 else x for x in (factor, rest, view)))


def panel_face(panel: PanelEntry | None, air: AirEntry, sheet_emissivity: Number) -> Face:
    """The face of a sheet towards a panel (None: towards the oven alone)."""
    exchange = (Exchange(air.coefficient, air.temperature),)
    if panel is None:
        return Face(exchange=exchange, radiation=(Radiation(sheet_emissivity, air.temperature),))
    reach = panel_exchange(panel, sheet_emissivity)
    radiation = [Radiation(reach.factor, panel.temperature)]
    if np.any(np.asarray(reach.surround) > 0.0):
        radiation.append(Radiation(reach.surround, air.temperature))
    return Face(exchange=exchange, radiation=tuple(radiation))
