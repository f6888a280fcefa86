"""Temperature from energy: the state of a cell is its enthalpy, its temperature is read from a uniform table.

In temperature form a sharp latent heat is stepped over in silence by every integrator; in energy form the heat is there
whatever the step. The state of a cell is the coordinate

    y = first + (h - h_low)/dh,      h : specific enthalpy, sensible and latent [J/kg],  dh : spacing of the table [J/kg]

so that temperature is one gather away: T = a[i] + b[i] y with i = floor(y), and dT/dy = b[i]. Beyond its ends a table goes
on as a straight line, which is exact because property curves hold their ends. A medium of constant specific heat is a
table of one interval from 0 K, dh = cp * 1 K.

Where a medium melts on one curve and crystallises on a cooler one, the crystalline share X is a state too. Between the
two curves X rests; on a curve it moves with the temperature (a play operator, rate-independent). With X as it stood when
the step began,

    T = min(max(T_rest(h, X), T_crystallising(h)), T_melting(h)),      X afterwards = 1 - (h - h_sensible(T))/L.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.problem import Curve, Medium, Transition

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array

INTERVALS = (4096, 16384)  # tried in turn
STRAIGHT = 1e-4  # K, how far a table's straight pieces may leave its curve


def melted_share(temperature: Array, transition: Transition) -> Array:
    """Share of the latent heat taken up below a temperature, 0 to 1: uniform or triangular over the range.

    temperature : (...) [K]; returns (...). With a peak the density of heat rises linearly from ``low`` to ``peak`` and
    falls to ``high``, so the share at the peak is (peak - low)/(high - low).

    >>> from thermokit.conduction.problem import Transition
    >>> melted_share(np.array([95.0, 110.0, 125.0]), Transition(1.0, 95.0, 125.0, 110.0)).tolist()
    [0.0, 0.5, 1.0]
    """
    low, high = transition.low, transition.high
    t = np.clip(temperature, low, high)
    width = high - low
    if transition.peak is None:
        return np.asarray((t - low) / width)
    peak = transition.peak
    rising = (t - low) ** 2 / (width * np.maximum(peak - low, 1e-300))
    falling = 1.0 - (high - t) ** 2 / (width * np.maximum(high - peak, 1e-300))
    return np.where(t <= peak, rising, falling)


def sensible_enthalpy(temperature: Array, specific_heat: float | Curve) -> Array:
    """Integral of the specific heat from the first node (or from 0 K when it is constant), exact [J/kg].

    temperature : (...) [K]; the curve is linear between its nodes and holds its ends.
    """
    if not isinstance(specific_heat, Curve):
        return np.asarray(specific_heat * temperature)
    nodes, values = specific_heat.temperature, specific_heat.value
    at_nodes = np.concatenate([[0.0], np.cumsum(np.diff(nodes) * (values[1:] + values[:-1]) / 2)])
    if len(nodes) == 1:
        return np.asarray((temperature - nodes[0]) * values[0])
    i = np.clip(np.searchsorted(nodes, temperature, side="right") - 1, 0, len(nodes) - 2)
    inside = np.clip(temperature, nodes[0], nodes[-1])
    here = np.interp(inside, nodes, values)
    h = at_nodes[i] + (inside - nodes[i]) * (values[i] + here) / 2
    h = h + np.minimum(temperature - nodes[0], 0.0) * values[0] + np.maximum(temperature - nodes[-1], 0.0) * values[-1]
    return np.asarray(h)


@dataclass(frozen=True)
class EnergyTable:
    """Temperature at equal steps of enthalpy for one medium (one case).

    temperature : (intervals + 1,) [K]; spacing : dh [J/kg]; low : enthalpy of the first node [J/kg] on the scale of
    :func:`sensible_enthalpy` plus the latent heat taken up.
    """

    temperature: Array
    spacing: float
    low: float


def _kinks(medium: Medium) -> Array:
    """Temperatures where the enthalpy curve bends, and the ends of its transitions, ascending."""
    parts = [medium.specific_heat.temperature] if isinstance(medium.specific_heat, Curve) else []
    for transition in (medium.melting, medium.crystallising):
        if transition is not None:
            marks = (transition.low, transition.peak, transition.high)
            parts.append(np.array([mark for mark in marks if mark is not None], float))
    return np.unique(np.concatenate(parts)) if parts else np.zeros(0)


def energy_tables(medium: Medium, intervals: int | None = None) -> tuple[EnergyTable, ...]:
    """Tables of temperature against enthalpy of one case's medium, all on the same nodes.

    One table for a medium with one curve; (resting, melting, crystallising) for one with two, where the resting table
    holds no latent heat. Between kinks the specific heat with the latent heat is a straight line, so that the nodes are
    the exact inverse of a quadratic however narrow a transition is; they reach beyond the last kink at each end.
    """
    kinks = _kinks(medium)
    if not len(kinks):
        cp = float(medium.specific_heat)  # type: ignore[arg-type]
        return (EnergyTable(np.array([0.0, 1.0]), cp, 0.0),)
    choices = INTERVALS if intervals is None else (intervals,)
    for count in choices:
        tables, bend = _tabulated(medium, kinks, count)
        if bend <= STRAIGHT:
            break
    return tables


def _tabulated(medium: Medium, kinks: Array, intervals: int) -> tuple[tuple[EnergyTable, ...], float]:
    """(tables with so many intervals, how far their straight pieces leave the curves [K])."""
    # the nodes are equal in energy: several of them must lie beyond each end, where the curves are straight
    cp_low, cp_high = _apparent(np.array([kinks[0] - 1.0, kinks[-1] + 1.0]), medium, None)
    latent = medium.melting.heat if medium.melting is not None else 0.0
    spacing = ((kinks[-1] - kinks[0] + 1.0) * max(cp_low, cp_high) + latent) / intervals
    knots = np.concatenate([[kinks[0] - 8.0 * spacing / cp_low], kinks, [kinks[-1] + 8.0 * spacing / cp_high]])
    curves = [_integrated(knots, medium, transition) for transition in _curves_of(medium)]
    first, last = min(c.enthalpy[0] for c in curves), max(c.enthalpy[-1] for c in curves)
    nodes = np.linspace(first, last, 2 * intervals + 1)
    found, bend = [], 0.0
    for curve in curves:
        fine = curve.inverse(nodes)
        bend = max(bend, float(np.max(np.abs(fine[1::2] - (fine[:-1:2] + fine[2::2]) / 2))))
        found.append(EnergyTable(fine[::2], float(nodes[2] - nodes[0]), float(first)))
    return tuple(found), bend


def _curves_of(medium: Medium) -> tuple[Transition | None, ...]:
    """Latent heats of the tables of a medium; crystallising gives back what melting took."""
    if medium.crystallising is None or medium.melting is None:
        return (medium.melting,)
    cooling = medium.crystallising
    return (None, medium.melting, Transition(medium.melting.heat, cooling.low, cooling.high, cooling.peak))


@dataclass(frozen=True)
class _Quadratic:
    """Enthalpy against temperature: between knots the specific heat, latent heat included, is a straight line."""

    knots: Array
    enthalpy: Array  # at the knots
    left: Array  # specific heat at the lower end of each interval
    slope: Array  # its slope there

    def inverse(self, enthalpy: Array) -> Array:
        """Temperature at an enthalpy, exact; straight on beyond the ends."""
        i = np.clip(np.searchsorted(self.enthalpy, enthalpy, side="right") - 1, 0, len(self.left) - 1)
        c, s, rise = self.left[i], self.slope[i], enthalpy - self.enthalpy[i]
        # the stable form of the root of c t + s t^2/2 = rise
        return np.asarray(self.knots[i] + 2.0 * rise / (c + np.sqrt(np.maximum(c * c + 2.0 * s * rise, 0.0))))


def _integrated(knots: Array, medium: Medium, transition: Transition | None) -> _Quadratic:
    """Exact enthalpy at the knots, and the straight specific heat between them."""
    width = np.diff(knots)
    early, late = knots[:-1] + 0.25 * width, knots[:-1] + 0.75 * width
    near, far = (_apparent(t, medium, transition) for t in (early, late))
    left, right = 1.5 * near - 0.5 * far, 1.5 * far - 0.5 * near
    enthalpy = sensible_enthalpy(knots[:1], medium.specific_heat) + np.concatenate(  # type: ignore[arg-type]
        [[0.0], np.cumsum(width * (left + right) / 2)]
    )
    return _Quadratic(knots, enthalpy, left, (right - left) / width)


def _apparent(temperature: Array, medium: Medium, transition: Transition | None) -> Array:
    """Specific heat with the latent heat spread over its range [J/kg/K]."""
    cp = medium.specific_heat
    value = np.interp(temperature, cp.temperature, cp.value) if isinstance(cp, Curve) else np.full_like(temperature, cp)
    if transition is None:
        return value
    low, high, peak = transition.low, transition.high, transition.peak
    inside = (temperature > low) & (temperature < high)
    if peak is None:
        share = np.ones_like(temperature)
    else:
        rising = (temperature - low) / np.maximum(peak - low, 1e-300)
        falling = (high - temperature) / np.maximum(high - peak, 1e-300)
        share = 2.0 * np.where(temperature <= peak, rising, falling)
    return value + np.where(inside, transition.heat / (high - low) * share, 0.0)


def conductivity_table(conductivity: float | Curve, intervals: int = 1024) -> tuple[Array, float, float]:
    """(values at equal steps of temperature (intervals + 1,), first temperature [K], spacing [K]) of one case."""
    if not isinstance(conductivity, Curve) or len(conductivity.temperature) == 1:
        k = float(conductivity.value[0] if isinstance(conductivity, Curve) else conductivity)
        return np.array([k, k]), 273.15, 1.0
    nodes, values = conductivity.temperature, conductivity.value
    pad = 2.0 * (nodes[-1] - nodes[0]) / intervals
    grid = np.linspace(nodes[0] - pad, nodes[-1] + pad, intervals + 1)
    return np.interp(grid, nodes, values), float(grid[0]), float(grid[1] - grid[0])
