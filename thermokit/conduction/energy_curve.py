"""Energy against temperature for the second engine, on tables of its own (it shares nothing with the solver's tables).

With h_s the sensible enthalpy, L the latent heat and phi the molten share on the melting and crystallising curves,

    h_melting = h_s + L phi_m(T),   h_crystallising = h_s + L phi_c(T),   h_resting = h_s + L (1 - X)

A medium with one curve is h_melting alone. With two, and the crystalline share X as it stood when the step began,
h(T) = max(min(h_resting, h_crystallising), h_melting); all three rise with T, so h(T) is inverted entry by entry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import Curve, Medium, Transition

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

NODES = 8001
REACH = 3000.0  # K beyond the last bend, where the curves are straight


def molten_share(temperature: Array, transition: Transition) -> Array:
    """Integral of the (uniform or triangular) density of latent heat up to a temperature, by its corner points.

    temperature : (...) [K]; returns (...), 0 to 1.

    >>> molten_share(np.array([90.0, 105.0, 125.0]), Transition(1.0, 95.0, 125.0)).round(6).tolist()
    [0.0, 0.333333, 1.0]
    """
    low, high, peak = float(transition.low), float(transition.high), transition.peak
    if peak is None:
        return np.asarray(np.interp(temperature, [low, high], [0.0, 1.0]))
    top = 2.0 / (high - low)
    grid = np.unique(np.concatenate([np.linspace(low, high, 4001), [float(peak)]]))
    density = np.interp(grid, [low, float(peak), high], [0.0, top, 0.0])
    share = np.concatenate([[0.0], np.cumsum(np.diff(grid) * (density[1:] + density[:-1]) / 2)])
    return np.asarray(np.interp(temperature, grid, share))


class EnergyCurve:
    """Specific enthalpy [J/kg] of one medium against temperature [K], and back."""

    def __init__(self, medium: Medium):
        cp = medium.specific_heat
        bends = [300.0] if not isinstance(cp, Curve) else [float(t) for t in cp.temperature]
        for transition in (medium.melting, medium.crystallising):
            if transition is not None:
                bends += [float(t) for t in (transition.low, transition.high, transition.peak) if t is not None]
        inside = np.linspace(min(bends) - 1.0, max(bends) + 1.0, NODES)
        nodes = np.unique(np.concatenate([inside, bends, [min(bends) - REACH, max(bends) + REACH]]))
        capacity = (
            np.full(len(nodes), float(cp)) if not isinstance(cp, Curve) else np.interp(nodes, cp.temperature, cp.value)
        )
        sensible = np.concatenate([[0.0], np.cumsum(np.diff(nodes) * (capacity[1:] + capacity[:-1]) / 2)])
        self.nodes = nodes
        self.constant = not isinstance(cp, Curve) and medium.melting is None
        self.latent = 0.0 if medium.melting is None else float(medium.melting.heat)
        self.sensible = sensible
        self.melting = (
            sensible if medium.melting is None else sensible + self.latent * molten_share(nodes, medium.melting)
        )
        self.crystallising = (
            None if medium.crystallising is None else sensible + self.latent * molten_share(nodes, medium.crystallising)
        )

    def start_share(self, temperature: Array) -> Array:
        """Crystalline share of a body that was heated to its start temperature."""
        if self.latent == 0.0:
            return np.ones_like(temperature)
        melted = np.interp(temperature, self.nodes, self.melting - self.sensible) / self.latent
        return np.asarray(1.0 - melted)

    def energy(self, temperature: Array, share: Array) -> Array:
        """Enthalpy [J/kg] at temperatures [K] with a resting crystalline share."""
        melting = np.asarray(np.interp(temperature, self.nodes, self.melting))
        if self.crystallising is None:
            return melting
        resting = np.interp(temperature, self.nodes, self.sensible) + self.latent * (1.0 - share)
        crystallising = np.interp(temperature, self.nodes, self.crystallising)
        return np.asarray(np.maximum(np.minimum(resting, crystallising), melting))

    def temperature(self, energy: Array, share: Array) -> tuple[Array, Array]:
        """(temperature [K], slope d energy/d temperature [J/kg/K]) at enthalpies [J/kg]."""
        t, slope = self._invert(self.melting, energy)
        if self.crystallising is None:
            return t, slope
        t_rest, c_rest = self._invert(self.sensible, energy - self.latent * (1.0 - share))
        t_cool, c_cool = self._invert(self.crystallising, energy)
        cooling = t_cool > t_rest
        t_high, c_high = np.where(cooling, t_cool, t_rest), np.where(cooling, c_cool, c_rest)
        heating = t < t_high
        return np.where(heating, t, t_high), np.where(heating, slope, c_high)

    def share_after(self, energy: Array, share: Array) -> Array:
        """Crystalline share after a step that ended at these enthalpies."""
        if self.crystallising is None:
            return share
        t, _ = self.temperature(energy, share)
        solid = 1.0 - (energy - np.interp(t, self.nodes, self.sensible)) / self.latent
        return np.asarray(np.clip(solid, 0.0, 1.0))

    def _invert(self, values: Array, energy: Array) -> tuple[Array, Array]:
        i = np.clip(np.searchsorted(values, energy, side="right") - 1, 0, len(values) - 2)
        slope = (values[i + 1] - values[i]) / (self.nodes[i + 1] - self.nodes[i])
        return np.asarray(self.nodes[i] + (energy - values[i]) / slope), np.asarray(slope)
