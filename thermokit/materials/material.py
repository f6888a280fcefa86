"""What a material is: properties against temperature, transitions and limits, each with source and confidence.

Everything is SI and kelvin. The data files in ``data/`` hold the numbers; ``library.load`` reads them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

ZERO_CELSIUS = 273.15  # K
REFERENCE_TEMPERATURE = ZERO_CELSIUS + 20.0  # K, where density is taken and enthalpy counted from

Confidence = str  # published, handbook, common-practice, from-memory, computed, estimated or calibrated-to-practice


@dataclass(frozen=True, eq=False)
class Property:
    """A property against temperature: linear between the nodes, ends held.

    name : ``specific_heat``; temperature : (nodes,) ascending [K]; value : (nodes,) in ``unit`` (SI); confidence and
    source : where the numbers come from; uncertainty : share of the value at two standard deviations, None if unknown;
    note : what else is to be known.
    """

    name: str
    temperature: Array
    value: Array
    unit: str
    confidence: Confidence
    source: tuple[str, ...]
    uncertainty: float | None = None
    note: str = ""

    def at(self, temperature: ArrayLike) -> Array:
        """Value at temperatures [K]; outside the table its end values are held.

        >>> cp = Property("specific_heat", np.array([273.15, 373.15]), np.array([1000.0, 1200.0]), "J/kg/K", "", ())
        >>> float(cp.at(323.15)), float(cp.at(500.0))
        (1100.0, 1200.0)
        """
        found: Array = np.asarray(np.interp(np.asarray(temperature, dtype=float), self.temperature, self.value))
        return found

    def integral(self, temperature: ArrayLike) -> Array:
        """Integral of the property over temperature from the table's first node [unit times K], exact for the table."""
        t = np.asarray(temperature, dtype=float)
        nodes, values = self.temperature, self.value
        if len(nodes) == 1:
            return np.asarray(values[0] * (t - nodes[0]))
        steps = np.diff(nodes)
        slopes = np.diff(values) / steps
        sums = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * steps)])
        place = np.clip(np.searchsorted(nodes, t, side="right") - 1, 0, len(nodes) - 2)
        rise = np.clip(t, nodes[0], nodes[-1]) - nodes[place]
        inside = sums[place] + rise * (values[place] + 0.5 * slopes[place] * rise)
        below = values[0] * np.minimum(t - nodes[0], 0.0)
        above = values[-1] * np.maximum(t - nodes[-1], 0.0)
        return np.asarray(inside + below + above)


@dataclass(frozen=True)
class LatentHeat:
    """Heat of a transition, spread over a range: uniform, or a triangle where a peak is given.

    heat [J/kg]; low, peak, high [K], ascending also for crystallising; heat_low, heat_high : spread of ``heat`` as
    reported [J/kg], None where unknown.
    """

    heat: float
    low: float
    peak: float | None
    high: float
    heat_low: float | None = None
    heat_high: float | None = None
    confidence: Confidence = ""
    source: tuple[str, ...] = ()
    note: str = ""

    def share(self, temperature: ArrayLike) -> Array:
        """Share of the heat taken up below a temperature [K], 0 at ``low`` and 1 at ``high``.

        >>> melting = LatentHeat(200e3, 370.0, 390.0, 400.0)
        >>> [round(float(x), 6) for x in melting.share([360.0, 390.0, 400.0])]
        [0.0, 0.666667, 1.0]
        """
        t = np.clip(np.asarray(temperature, dtype=float), self.low, self.high)
        if self.peak is None:
            return np.asarray((t - self.low) / (self.high - self.low))
        width = self.high - self.low
        rising = (t - self.low) ** 2 / (width * max(self.peak - self.low, 1e-12))
        falling = 1.0 - (self.high - t) ** 2 / (width * max(self.high - self.peak, 1e-12))
        return np.asarray(np.where(t < self.peak, rising, falling))

    def extra_specific_heat(self, temperature: ArrayLike) -> Array:
        """What the transition adds to the specific heat [J/kg/K] at temperatures [K]: heat times d(share)/dT."""
        t = np.asarray(temperature, dtype=float)
        width = self.high - self.low
        inside = (t >= self.low) & (t <= self.high)
        if self.peak is None:
            return np.asarray(np.where(inside, self.heat / width, 0.0))
        rising = (t - self.low) / max(self.peak - self.low, 1e-12)
        falling = (self.high - t) / max(self.high - self.peak, 1e-12)
        height = 2.0 * self.heat / width
        return np.asarray(np.where(inside, height * np.minimum(rising, falling), 0.0))


@dataclass(frozen=True)
class GlassTransition:
    """Glass transition: temperature and the ends of its step [K]; the step itself is in the specific heat table."""

    temperature: float
    low: float
    high: float
    confidence: Confidence = ""
    source: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, eq=False)
class Material:
    """A material of the library.

    specific_heat : WITHOUT latent heat; melting : read on heating; crystallising : read on cooling, on the heat of
    melting (None: melting is reversible); cold_crystallising : heat given off on heating a quenched material.
    forming, surface_limit : temperatures [K] and times [s] by name (``lower``, ``upper``, ...; ``caution``,
    ``scorch``, ``longest_at_scorch``), None where the material is not formed so. kinetics : names of the kinetics
    sets it reacts by unless others are asked for, in order. properties : every table of the file by name, also
    viscosity and the like. record : the file as it stands, sources resolved, so that nothing is lost.
    """

    id: str
    name: str
    family: str
    cautions: tuple[str, ...]
    note: str
    conductivity: Property
    specific_heat: Property
    density: Property
    melting: LatentHeat | None = None
    crystallising: LatentHeat | None = None
    cold_crystallising: LatentHeat | None = None
    glass_transition: GlassTransition | None = None
    forming: Mapping[str, float] | None = None
    surface_limit: Mapping[str, float] | None = None
    emissivity: float | None = None
    emissivity_confidence: Confidence = ""
    emissivity_source: tuple[str, ...] = ()
    kinetics: tuple[str, ...] = ()
    properties: Mapping[str, Property] = field(default_factory=dict)
    record: Mapping[str, Any] = field(default_factory=dict)

    @property
    def reference_density(self) -> float:
        """Density at 20 degC [kg/m3], the one number that conserves mass on a fixed mesh."""
        return float(self.density.at(REFERENCE_TEMPERATURE))

    def enthalpy(self, temperature: ArrayLike, cooling: bool = False) -> Array:
        """Heat content above 20 degC [J/kg]: H(T) = integral of cp dT + latent heat times its share.

        temperature : any shape [K]; cooling : on the crystallising curve instead of the melting curve. Outside the
        tables the specific heat of their ends is held.
        """
        total = self.specific_heat.integral(temperature) - self.specific_heat.integral(REFERENCE_TEMPERATURE)
        latent = self.latent(cooling)
        if latent is not None:
            total = total + latent.heat * (latent.share(temperature) - latent.share(REFERENCE_TEMPERATURE))
        return np.asarray(total)

    def apparent_specific_heat(self, temperature: ArrayLike, cooling: bool = False) -> Array:
        """Specific heat with the latent heat in it [J/kg/K], what a calorimeter shows: dH/dT."""
        total = self.specific_heat.at(temperature)
        latent = self.latent(cooling)
        return total if latent is None else np.asarray(total + latent.extra_specific_heat(temperature))

    def latent(self, cooling: bool = False) -> LatentHeat | None:
        """The latent heat that counts on heating, or on cooling; None where nothing melts."""
        return self.crystallising if cooling and self.crystallising is not None else self.melting

    def warnings_outside(self, low: float, high: float) -> list[str]:
        """In words, which tables do not cover a run between two temperatures [K]; empty where all do.

        Density is not looked at: a run uses its value at 20 degC.
        """
        found = []
        for table in (self.conductivity, self.specific_heat):
            first, last = float(table.temperature[0]), float(table.temperature[-1])
            for reached, outside in ((low, low < first - 0.5), (high, high > last + 0.5)):
                if outside:
                    found.append(
                        f"{table.name.replace('_', ' ')} of {self.id}: table covers {first - ZERO_CELSIUS:.0f} to "
                        f"{last - ZERO_CELSIUS:.0f} degC, the run reached {reached - ZERO_CELSIUS:.0f} degC "
                        "(the end value was held)"
                    )
        return found
