"""The properties of a material against temperature: conductivity, specific heat, enthalpy, density."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.figures.style import house_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.materials.material import Material, Property

    Array = NDArray[np.float64]

ZERO_CELSIUS = 273.15
_HEATING, _COOLING = "0.0", "0.45"  # grey levels; the two also differ in dashes


def draw_material(material: Material) -> Figure:
    """Four panels over the range of the tables; specific heat and enthalpy with the latent heat, heating and cooling.

    The grey band is the uncertainty of the table (two standard deviations), dots are its nodes.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(10.0, 7.8))
        panels = figure.subplots(2, 2)
        figure.subplots_adjust(left=0.09, right=0.975, bottom=0.08, top=0.88, hspace=0.3, wspace=0.24)
        figure.text(0.09, 0.975, f"{material.name} ({material.id})", va="top", fontsize=12, weight="bold")
        figure.text(0.09, 0.94, "; ".join(_marks(material)), va="top", fontsize=9)
        first = min(t.temperature[0] for t in (material.conductivity, material.specific_heat, material.density))
        last = max(t.temperature[-1] for t in (material.conductivity, material.specific_heat, material.density))
        _property(panels[0, 0], material.conductivity, "Conductivity [W/m/K]")
        _specific_heat(panels[0, 1], material, float(first), float(last))
        _enthalpy(panels[1, 0], material, float(first), float(last))
        _property(panels[1, 1], material.density, "Density [kg/m³]")
        for panel in panels.flat:
            _transitions(panel, material)
            panel.margins(y=0.12)
            panel.set_xlim(first - ZERO_CELSIUS, last - ZERO_CELSIUS)
            panel.set_xlabel("Temperature [°C]")
    return figure


def _marks(material: Material) -> list[str]:
    """What the marks mean, for this material."""
    found = ["dots: nodes of the table", "grey: ± its uncertainty (k = 2)"]
    glass = material.glass_transition
    if glass and glass.temperature > material.specific_heat.temperature[0]:
        found.append("dotted upright: glass transition")
    if material.melting:
        found.append("at the foot: melting (hatched)" + (", crystallising (dots)" if material.crystallising else ""))
    return found


def _property(panel: Axes, table: Property, label: str) -> None:
    """A table as it stands, with its uncertainty."""
    at = table.temperature - ZERO_CELSIUS
    panel.plot(at, table.value, color=_HEATING, marker="o", markersize=4, clip_on=False)
    if table.uncertainty is not None:
        panel.fill_between(
            at, table.value * (1 - table.uncertainty), table.value * (1 + table.uncertainty), color="0.85", linewidth=0
        )
    low, high = float(table.value.min()), float(table.value.max())
    if high - low < 0.02 * high:  # a table that hardly changes is not blown up to look as if it did
        spread = max(table.uncertainty or 0.0, 0.05) * 1.4 * high
        panel.set_ylim(low - spread, high + spread)
    panel.set_ylabel(label)
    _confidence(panel, table)


def _specific_heat(panel: Axes, material: Material, first: float, last: float) -> None:
    """Specific heat with the latent heat in it, and its table without."""
    grid = _grid(material, first, last)
    table = material.specific_heat
    panel.plot(grid - ZERO_CELSIUS, material.apparent_specific_heat(grid) / 1e3, color=_HEATING, label="heating")
    if material.crystallising is not None:
        cooling = material.apparent_specific_heat(grid, cooling=True) / 1e3
        panel.plot(grid - ZERO_CELSIUS, cooling, color=_COOLING, linestyle=(0, (5, 2)), label="cooling")
    at = table.temperature - ZERO_CELSIUS
    panel.plot(at, table.value / 1e3, color=_HEATING, marker="o", markersize=4, linestyle=(0, (1, 2)), linewidth=1.2)
    if table.uncertainty is not None:
        share = table.uncertainty
        panel.fill_between(at, table.value * (1 - share) / 1e3, table.value * (1 + share) / 1e3, color="0.85", lw=0)
    latent = material.melting is not None
    panel.set_ylabel("Specific heat" + (", with latent heat" if latent else "") + " [kJ/kg/K]")
    if latent:
        panel.set_ylim(bottom=0.0)
        panel.legend(loc="upper left", frameon=True, framealpha=1.0, edgecolor="none", handlelength=3.2)
    _confidence(panel, table)


def _enthalpy(panel: Axes, material: Material, first: float, last: float) -> None:
    """Heat content above 20 degC."""
    grid = _grid(material, first, last)
    panel.plot(grid - ZERO_CELSIUS, material.enthalpy(grid) / 1e3, color=_HEATING, label="heating")
    if material.crystallising is not None:
        cooling = material.enthalpy(grid, cooling=True) / 1e3
        panel.plot(grid - ZERO_CELSIUS, cooling, color=_COOLING, linestyle=(0, (5, 2)), label="cooling")
        panel.legend(loc="upper left", frameon=True, framealpha=1.0, edgecolor="none", handlelength=3.2)
    panel.set_ylabel("Enthalpy above 20 °C [kJ/kg]")


def _grid(material: Material, first: float, last: float) -> Array:
    """Temperatures [K] close enough for a curve, with every kink among them."""
    kinks: list[float] = [*material.specific_heat.temperature]
    for latent in (material.melting, material.crystallising):
        if latent is not None:
            # the step at the end of a uniform range needs a point on each side
            kinks += [latent.low - 1e-6, latent.low, latent.high, latent.high + 1e-6]
            kinks += [] if latent.peak is None else [latent.peak]
    inside = [t for t in kinks if first <= t <= last]
    return np.unique(np.concatenate([np.linspace(first, last, 400), inside]))


def _transitions(panel: Axes, material: Material) -> None:
    """Glass transition as an upright line, melting and crystallising as hatched ranges along the foot of the panel."""
    common = {"facecolor": "none", "edgecolor": "0.6", "linewidth": 0.0, "zorder": 0}
    if (glass := material.glass_transition) is not None:
        panel.axvline(glass.temperature - ZERO_CELSIUS, color="0.35", linestyle=(0, (1, 2)), linewidth=1.2)
    if (melting := material.melting) is not None:
        panel.axvspan(melting.low - ZERO_CELSIUS, melting.high - ZERO_CELSIUS, 0.0, 0.06, hatch="///", **common)
    if (crystallising := material.crystallising) is not None:
        panel.axvspan(
            crystallising.low - ZERO_CELSIUS, crystallising.high - ZERO_CELSIUS, 0.06, 0.12, hatch="......", **common
        )


def _confidence(panel: Axes, table: Property) -> None:
    """How sure a table is, in a corner of its panel."""
    sure = f", ± {100 * table.uncertainty:.3g} %" if table.uncertainty is not None else ""
    panel.set_title(f"{table.confidence}{sure}", loc="right", fontsize=8.5, pad=3)
