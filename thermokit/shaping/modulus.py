"""Shear modulus of hot sheet as a rubber, against temperature: what resists the draw.

A few numbers a material stand in ``data/rubber.toml`` with their source, confidence and how wrong they may be. Pressures go
straight with the modulus; shapes and thicknesses of free domes do not depend on it.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.materials.library import load
from thermokit.materials.material import ZERO_CELSIUS, Confidence, Property
from thermokit.units import parse

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

DATA = Path(__file__).parent / "data" / "rubber.toml"
GAS_CONSTANT = 8.314462618  # J/mol/K


@dataclass(frozen=True, eq=False)
class HotModulus:
    """Shear modulus of one material's hot sheet.

    modulus : at the temperature ``at`` [Pa]; at, lowest, highest, flows_from, fall [K]; factor : the truth is likely between
    modulus/factor and modulus*factor; density : table of the material.
    """

    material: str
    modulus: float
    at: float
    lowest: float
    highest: float
    flows_from: float
    fall: float
    factor: float
    density: Property
    confidence: Confidence
    source: tuple[str, ...]
    note: str = ""

    def value(self, temperature: ArrayLike) -> Array:
        """Shear modulus at temperatures [Pa], any shape.

        G = G0 (rho T)/(rho0 T0) f(T)/f(T0): a network of rubber, of which nothing flows up to T1 = ``flows_from`` and
        f = exp[-(T - T1)/fall] above.

        temperature [K], ``lowest`` to ``highest``; outside it raises DataError with both ends.
        Source: G = rho R T/Mc, L. R. G. Treloar, The Physics of Rubber Elasticity; the fall is common practice.

        >>> acrylic = hot_modulus("pmma_cast")
        >>> round(float(acrylic.value(433.15)) / 1e6, 2)
        0.45
        """
        t = np.asarray(temperature, dtype=float)
        outside = t[~((t >= self.lowest) & (t <= self.highest))]
        if outside.size:
            raise DataError(
                f"hot {self.material} at {outside.flat[0] - ZERO_CELSIUS:.0f} degC is not known as a rubber: "
                f"{self.lowest - ZERO_CELSIUS:.0f} to {self.highest - ZERO_CELSIUS:.0f} degC; below it is too stiff to be "
                "drawn, above it flows or is spoiled; give a modulus of your own if you measured one"
            )
        network = self.density.at(t) * t / (self.density.at(self.at) * self.at)
        return np.asarray(self.modulus * network * self._held(t) / self._held(np.asarray(self.at)))

    def chain_length(self) -> float:
        """Molar mass between the knots of the network, Mc = rho R T/G [kg/mol], to hold against what is published."""
        return float(self.density.at(self.at)) * GAS_CONSTANT * self.at / self.modulus

    def _held(self, temperature: Array) -> Array:
        return np.asarray(np.exp(-np.maximum(temperature - self.flows_from, 0.0) / self.fall))


def materials() -> list[str]:
    """Names of the materials whose hot modulus is known."""
    return [name for name, entry in _record().items() if isinstance(entry, dict)]


def hot_modulus(material: str) -> HotModulus:
    """The hot modulus of a material of the library.

    Raises DataError where there is none, naming those that have one.
    """
    record = _record()
    entry = record.get(material)
    if not isinstance(entry, dict):
        raise DataError(
            f"no modulus of hot {material[:40]} is known; known: {', '.join(materials())}; or give a modulus of your own"
        )
    references = record["references"]
    return HotModulus(
        material=material,
        modulus=parse(entry["modulus"], "pressure"),
        at=parse(entry["at"], "temperature"),
        lowest=parse(entry["lowest"], "temperature"),
        highest=parse(entry["highest"], "temperature"),
        flows_from=parse(entry["flows_from"], "temperature"),
        fall=parse(entry["fall"], "temperature_difference"),
        factor=float(entry["factor"]),
        density=load(material).density,
        confidence=entry["confidence"],
        source=tuple(references[number - 1] for number in entry["sources"]),
        note=entry.get("note", ""),
    )


def calibrated(height: float, pressure: float, ring_radius: float, blank_thickness: float) -> float:
    """Shear modulus [Pa] of hot neo-Hookean sheet, from one blowing of a known blank to a known height.

    G = p R/(P h0), with P(H/R) of the membrane. height : of the dome [m], 0.002 to 2 ring radii; pressure : at which it
    stood [Pa]; ring_radius, blank_thickness [m].

    >>> inch, psi = 0.0254, 6894.757  # 8 inch acrylic hemisphere at 7.5 lbf/in2, the blank taken as 1/4 inch
    >>> round(calibrated(4 * inch, 7.5 * psi, 4 * inch, inch / 4) / 1e6, 2)
    0.45
    """
    from thermokit.shaping.membrane import at_height
    from thermokit.shaping.rubber import neo_hookean

    return pressure * ring_radius / (at_height(neo_hookean(), height / ring_radius, 2).pressure * blank_thickness)


def _record() -> dict[str, Any]:
    return tomllib.loads(DATA.read_text(encoding="utf-8"))
