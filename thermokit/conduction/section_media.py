"""Heat content and temperature of the nodes of a section: each node has one coordinate w from which both follow.

    straight nodes (all of constant specific heat)        T = w,           H = C w
    curved nodes of one medium                            T = table(w),    H = m dh w
    curved nodes at which several media meet              T = w,           H = sum of m h(w)

H : heat content of the node [J], on a scale of its own. In the second kind w is the energy coordinate of
:mod:`thermokit.conduction.enthalpy`, so that latent heat is there whatever the step. Media that melt on one curve and
crystallise on another have a shift (their molten share times the latent heat in units of the table) that rests during a step.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.enthalpy import energy_tables, melted_share
from thermokit.conduction.problem import Curve, Transition
from thermokit.conduction.tables import Tables, concatenated, coordinate_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.problem import Array, Medium
    from thermokit.conduction.section_matrices import SectionBody

    Whole = NDArray[np.intp]


class EnergyMap:
    """Energy coordinate and temperature of one curved medium; one unit of the coordinate is ``spacing`` J/kg."""

    def __init__(self, medium: Medium):
        tables = energy_tables(medium)
        self.medium = medium
        self.spacing = tables[0].spacing
        singles = [self._single(table.temperature) for table in tables]
        others = len(singles) > 1
        self.rest = singles[0]
        self.melt: Tables | None = singles[1] if others else None
        self.cool: Tables | None = singles[2] if others else None
        self.most = float(medium.melting.heat) / self.spacing if medium.melting is not None and others else 0.0

    @staticmethod
    def _single(temperature: Array) -> Tables:
        intercept, slope, first, last = concatenated([temperature])
        return Tables(intercept, slope, np.array(first), np.array(last))

    def temperature(self, y: Array, shift: Array) -> tuple[Array, Array]:
        """(T [K], dT/dy) at coordinates (nodes,)."""
        if self.melt is None or self.cool is None:
            return self.rest(y)
        t, b = self.rest(y - shift)
        t_cool, b_cool = self.cool(y)
        on_cool = t_cool > t
        t, b = np.where(on_cool, t_cool, t), np.where(on_cool, b_cool, b)
        t_melt, b_melt = self.melt(y)
        on_melt = t_melt < t
        return np.where(on_melt, t_melt, t), np.where(on_melt, b_melt, b)

    def coordinate(self, temperature: Array, shift: Array) -> tuple[Array, Array]:
        """(y, dy/dT) at temperatures (nodes,), the inverse."""
        y, c = self._inverse(self.rest, temperature)
        if self.melt is None or self.cool is None:
            return y, c
        y = y + shift
        y_cool, c_cool = self._inverse(self.cool, temperature)
        on_cool = y_cool < y
        y, c = np.where(on_cool, y_cool, y), np.where(on_cool, c_cool, c)
        y_melt, c_melt = self._inverse(self.melt, temperature)
        on_melt = y_melt > y
        return np.where(on_melt, y_melt, y), np.where(on_melt, c_melt, c)

    def _inverse(self, tables: Tables, temperature: Array) -> tuple[Array, Array]:
        y = coordinate_of(tables, temperature)
        return y, 1.0 / tables(y)[1]

    def shift_after(self, y: Array, shift: Array) -> Array:
        """The shift after a step that ends at ``y``: unchanged between the two curves."""
        if self.melt is None:
            return shift
        t = self.temperature(y, shift)[0]
        moved = t != self.rest(y - shift)[0]
        return np.asarray(np.clip(np.where(moved, y - coordinate_of(self.rest, t), shift), 0.0, self.most))

    def start_shift(self, temperature: Array) -> Array:
        """The shift of what was heated to a temperature."""
        melting = self.medium.melting
        if self.melt is None or melting is None:
            return np.zeros(temperature.shape)
        once = Transition(1.0, melting.low, melting.high, melting.peak)
        return self.most * melted_share(temperature, once)


class NodeEnergy:
    """Heat content and temperature of all nodes of a section.

    capacity : (nodes,) [J/K] of what is straight at a node, [J per unit of w] of curved nodes of one medium; straight :
    whether there is nothing else.
    """

    def __init__(self, body: SectionBody):
        n = body.nodes
        stuffs = body.stuffs
        count = np.zeros(n, int)
        for stuff in stuffs:
            count[stuff.nodes] += 1
        self.capacity = np.zeros(n)
        self.alone: list[tuple[EnergyMap, Whole, slice]] = []
        self.shared: list[tuple[EnergyMap, Whole, Array, slice]] = []
        self.curved = np.zeros(n, bool)
        self.shifts = 0
        for stuff in stuffs:
            mass = float(stuff.medium.density) * stuff.volume
            if not stuff.curved_energy:
                self.capacity[stuff.nodes] += mass * stuff.constant_heat
                continue
            self.curved[stuff.nodes] = True
            table = EnergyMap(stuff.medium)
            single = count[stuff.nodes] == 1
            nodes = stuff.nodes[single]
            self.capacity[nodes] += mass[single] * table.spacing
            self.alone.append((table, nodes, self._slots(len(nodes))))
            nodes = stuff.nodes[~single]
            if len(nodes):
                self.shared.append((table, nodes, mass[~single] * table.spacing, self._slots(len(nodes))))
        self.straight = not bool(np.any(self.curved))
        self.hysteresis = any(table.melt is not None for table, *_ in self.alone)
        self.unit = np.ones(n)

    def _slots(self, count: int) -> slice:
        self.shifts += count
        return slice(self.shifts - count, self.shifts)

    def temperature(self, w: Array, shift: Array) -> tuple[Array, Array]:
        """(T [K], dT/dw), (nodes,)."""
        if self.straight:
            return w, self.unit
        t, b = w.copy(), np.ones(len(w))
        for table, nodes, slots in self.alone:
            t[nodes], b[nodes] = table.temperature(w[nodes], shift[slots])
        return t, b

    def energy(self, w: Array, shift: Array) -> tuple[Array, Array]:
        """(H [J], dH/dw), (nodes,)."""
        h = self.capacity * w
        if not self.shared:
            return h, self.capacity
        c = self.capacity.copy()
        for table, nodes, mass, slots in self.shared:
            y, slope = table.coordinate(w[nodes], shift[slots])
            h[nodes] += mass * y
            c[nodes] += mass * slope
        return h, c

    def coordinate(self, temperature: Array, shift: Array) -> Array:
        """w of nodes at given temperatures."""
        w = np.array(temperature, float)
        for table, nodes, slots in self.alone:
            w[nodes] = table.coordinate(w[nodes], shift[slots])[0]
        return w

    def start_shift(self, temperature: Array) -> Array:
        """The shifts of a section that was heated to given temperatures."""
        shift = np.zeros(self.shifts)
        for table, nodes, slots in self._all():
            shift[slots] = table.start_shift(temperature[nodes])
        return shift

    def shift_after(self, w: Array, shift: Array) -> Array:
        """The shifts after a step that ends at ``w``."""
        if not self.hysteresis:
            return shift
        new = shift.copy()
        for table, nodes, slots in self.alone:
            new[slots] = table.shift_after(w[nodes], shift[slots])
        for table, nodes, _, slots in self.shared:
            new[slots] = table.shift_after(table.coordinate(w[nodes], shift[slots])[0], shift[slots])
        return new

    def restarted(self, shift: Array, temperature: Array, nodes: NDArray[np.bool_]) -> Array:
        """Shifts with those of some nodes (flags) as if they had been heated to their temperature."""
        if not self.hysteresis:
            return shift
        new, fresh = shift.copy(), self.start_shift(temperature)
        for _, mine, slots in self._all():
            new[slots] = np.where(nodes[mine], fresh[slots], shift[slots])
        return new

    def slot_flags(self, nodes: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(shifts,) flags of the shifts that belong to flagged nodes."""
        flags = np.zeros(self.shifts, bool)
        for _, mine, slots in self._all():
            flags[slots] = nodes[mine]
        return flags

    def _all(self) -> list[tuple[EnergyMap, Whole, slice]]:
        return [*self.alone, *((table, nodes, slots) for table, nodes, _, slots in self.shared)]


def starts_of(body: SectionBody) -> Array:
    """(nodes,) temperatures at the start [K]: those of the regions, and their mean by heat capacity where regions meet."""
    capacity, heat = np.zeros(body.nodes), np.zeros(body.nodes)
    for region, volume in zip(body.problem.regions, body.volume, strict=True):
        cp = region.medium.specific_heat
        c = np.interp(region.start, cp.temperature, cp.value) if isinstance(cp, Curve) else cp
        share = float(region.medium.density) * float(c) * volume
        capacity += share
        heat += share * region.start
    return heat / capacity
