"""What flows through a mould's channels: water, water with glycol, oil; its properties, where it freezes and boils."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.errors import DataError
from thermokit.exchange import glycol_mixture as glycols
from thermokit.exchange import water_formulation as water
from thermokit.exchange.water_formulation import saturation_pressure, saturation_temperature

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

__all__ = [
    "COOLANTS",
    "Liquid",
    "freezing_temperature",
    "liquid",
    "outside",
    "pressure_to_stay_liquid",
    "saturation_pressure",
    "saturation_temperature",
]

COOLANTS = ("water", "water_glycol", "oil")
ATMOSPHERE = 101325.0  # Pa
ZERO = 273.15
_OIL = "thermal_oil"  # its record in the library
_OF_OIL = ("density", "specific_heat", "conductivity")


@dataclass(frozen=True)
class Liquid:
    """A coolant at its temperature: density [kg/m3], specific_heat [J/kg/K], conductivity [W/m/K], viscosity [Pa s]."""

    density: Array
    specific_heat: Array
    conductivity: Array
    viscosity: Array

    @property
    def prandtl(self) -> Array:
        """mu cp/k."""
        return np.asarray(self.viscosity * self.specific_heat / self.conductivity)


def liquid(coolant: str, temperature: ArrayLike, glycol: ArrayLike = 0.3, pressure: ArrayLike | None = None) -> Liquid:
    """Properties of a coolant.

    coolant : one of COOLANTS; temperature [K]; glycol : share by mass of a ``water_glycol``, up to 0.6; pressure [Pa,
    absolute] of water, None for one atmosphere or, above 100 degC, that at which it boils (a few bar more change the
    numbers by less than 0.1 %). Ranges: :func:`outside`; outside them the ends are held. Sources: IAPWS (water, good to
    0.1 %), Melinder 2010 (glycol, 1 to 5 %), the library's record of a heat transfer oil (viscosity good to 25 %).
    Raises DataError for another name.

    >>> at = liquid("water", 293.15)
    >>> round(float(at.density), 1), round(float(at.viscosity) * 1e3, 3), round(float(at.prandtl), 1)  # Cengel, table A-9
    (998.2, 1.002, 7.0)
    """
    low, high = _range(coolant, glycol)
    T = np.clip(np.asarray(temperature, float), low, high)
    if coolant == "water":
        own = np.maximum(ATMOSPHERE, saturation_pressure(T)) if pressure is None else np.asarray(pressure, float)
        rho, cp = water.density_and_specific_heat(T, own)
        return Liquid(rho, cp, water.conductivity(T, rho), water.viscosity(T, rho))
    if coolant == "water_glycol":
        rho, cp, k, mu = glycols.mixture(T, glycol)
        return Liquid(rho, cp, k, mu)
    from thermokit.materials import library

    table = library.load(_OIL).properties
    rho, cp, k = (np.asarray(table[name].at(T)) for name in _OF_OIL)
    # the logarithm of a viscosity is nearly straight against 1/T, the viscosity itself is not
    nodes = table["viscosity"]
    mu = np.exp(np.interp(-1.0 / T, -1.0 / nodes.temperature, np.log(nodes.value)))
    return Liquid(rho, cp, k, np.asarray(mu))


def _range(coolant: str, glycol: ArrayLike) -> tuple[Array, Array]:
    """(lowest, highest) temperature [K] for which there are properties."""
    if coolant == "water":
        return np.asarray(ZERO), np.asarray(ZERO + 200.0)
    if coolant == "water_glycol":
        share = np.asarray(glycol, float)
        if np.any((share < glycols.SHARES[0]) | (share > glycols.SHARES[1])):
            raise DataError(f"a mixture holds 0 to {100 * glycols.SHARES[1]:.0f} % of glycol by mass")
        return freezing_temperature(share), np.asarray(glycols.HOTTEST)
    if coolant == "oil":
        return np.asarray(ZERO + 20.0), np.asarray(ZERO + 280.0)
    raise DataError(f"no coolant {coolant[:40]!r}; there are {', '.join(COOLANTS)}")


def freezing_temperature(glycol: ArrayLike = 0.0) -> Array:
    """Where ice begins to form [K]; glycol : share by mass, 0 for water."""
    share = np.asarray(glycol, float)
    return np.asarray(np.where(share > 0.0, glycols.freezing_temperature(share), ZERO))


def outside(coolant: str, temperature: ArrayLike, glycol: ArrayLike = 0.3) -> str:
    """In words that a coolant has no properties at a temperature [K]; empty where it has."""
    low, high = _range(coolant, glycol)
    T = np.asarray(temperature, float)
    if np.all((low - 1e-9 <= T) & (high + 1e-9 >= T)):
        return ""
    words = {"water": "water", "water_glycol": "this mixture of water and glycol", "oil": "the oil"}[coolant]
    least, most = float(np.max(low)) - ZERO, float(np.min(high)) - ZERO
    return f"{words} is known from {least:.0f} to {most:.0f} degC, asked for {_span(T)} degC"


def _span(T: Array) -> str:
    low, high = float(np.min(T)) - ZERO, float(np.max(T)) - ZERO
    return f"{low:.0f}" if high - low < 0.5 else f"{low:.0f} to {high:.0f}"


def pressure_to_stay_liquid(temperature: ArrayLike, margin: ArrayLike = 10.0) -> Array:
    """Absolute pressure [Pa] that keeps water (or water with glycol) from boiling, at least one atmosphere.

    temperature : the hottest water [K]; margin : by which it stays below boiling [K]; 10 K is common practice, no source.
    Glycol raises the boiling point, so that the number is on the safe side for mixtures. Water above 100 degC needs a
    pressurised unit; competent persons size and guard it under local codes.
    """
    hottest = np.asarray(temperature, float) + np.asarray(margin, float)
    return np.asarray(np.maximum(ATMOSPHERE, saturation_pressure(np.maximum(hottest, ZERO))))
