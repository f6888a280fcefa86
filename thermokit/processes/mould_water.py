"""The coolant of a mould: in each channel its flow, film and mean temperature, for the heat that the section gives it.

In series the coolant warms from channel to channel; in parallel each channel takes an even share of the flow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.exchange.channel_circuit import (
    ENTRY,
    EXIT,
    SHARP_BEND,
    TURN_ROUND,
    Bore,
    BoreFlow,
    bore_flow,
    flow_for_reynolds,
    flow_for_rise,
)

if TYPE_CHECKING:
    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_blocks import CircuitEntry
    from thermokit.case.mould_shape import Hole, MouldShape
    from thermokit.conduction.problem import Number

TURBULENT_AIM = 10_000.0  # Reynolds number; common practice, no source


@dataclass(frozen=True)
class ChannelWater:
    """A channel and the coolant in it.

    flow [m3/s]; heat [W] given to it over the cycle's mean; inlet, outlet and mean temperature of the coolant [K]; wall [K];
    at : Reynolds number, film and pressure drop.
    """

    hole: Hole
    flow: float
    heat: float
    inlet: float
    outlet: float
    mean: float
    wall: float
    at: BoreFlow

    @property
    def coefficient(self) -> float:
        """From the drilled wall to the coolant, scale included [W/m2/K]."""
        return float(self.at.coefficient)

    @property
    def reynolds(self) -> float:
        """By the open diameter."""
        return float(self.at.reynolds)


@dataclass(frozen=True)
class CircuitWater:
    """A circuit: its channels in the order of the coolant, heat [W], rise [K], pressure_drop [Pa] and pump power [W].

    for_reynolds, for_rise : flow through the circuit [m3/s] at which Re is 10 000 everywhere, and the rise at its limit.
    """

    entry: CircuitEntry
    channels: tuple[ChannelWater, ...]
    heat: float
    rise: float
    pressure_drop: float
    pumping: float
    for_reynolds: float
    for_rise: float


def bore_of(entry: CircuitEntry, diameter: Number) -> Bore:
    """A channel of a circuit, with two sharp bends to the next one."""
    both_ways = 2.0 if entry.bore != "plain" else 1.0
    turns = 2.0 * SHARP_BEND + (TURN_ROUND if entry.bore != "plain" else 0.0)
    return Bore(
        diameter,
        both_ways * entry.length,
        scale=entry.scale,
        losses=turns,
        kind=entry.bore,
        insert=entry.insert if entry.bore != "plain" else 0.0,
    )


def water_of(
    case: MouldCase, shape: MouldShape, heat: Mapping[str, float], walls: Mapping[str, float]
) -> tuple[CircuitWater, ...]:
    """Every circuit, for the heat [W] and the wall temperature [K] of each channel by its name (the inlet's where unknown)."""
    return tuple(_circuit(case, entry, shape, heat, walls) for entry in case.circuits)


def _circuit(
    case: MouldCase, entry: CircuitEntry, shape: MouldShape, heat: Mapping[str, float], walls: Mapping[str, float]
) -> CircuitWater:
    holes = [hole for hole in shape.holes if hole.circuit == entry.name]
    series = entry.connected == "series"
    flow = float(entry.flow) / (1.0 if series else len(holes))
    inlet = float(entry.temperature)
    glycol = float(entry.glycol)
    found: list[ChannelWater] = []
    for hole in holes:
        own = heat.get(hole.name, 0.0)
        bore = bore_of(entry, hole.diameter)
        begins = found[-1].outlet if series and found else inlet
        mean = begins
        at = bore_flow(bore, flow, entry.coolant, mean, walls.get(hole.name, mean), glycol)
        for _ in range(2):  # properties at the mean of the way
            mean = begins + own * float(at.rise_per_watt) / 2.0
            at = bore_flow(bore, flow, entry.coolant, mean, walls.get(hole.name, mean), glycol)
        outlet = begins + own * float(at.rise_per_watt)
        found.append(ChannelWater(hole, flow, own, begins, outlet, mean, walls.get(hole.name, mean), at))
    total = sum(c.heat for c in found)
    drops = [float(c.at.pressure_drop) for c in found]
    ends = (ENTRY + EXIT) * float(found[0].at.liquid.density) * float(found[0].at.velocity) ** 2 / 2.0
    link = bore_flow(Bore(holes[0].diameter, float(entry.link)), flow, entry.coolant, inlet, None, glycol)
    between = (len(holes) - 1) * float(link.pressure_drop) if series else 0.0
    drop = ends + between + (sum(drops) if series else max(drops))
    rise = found[-1].outlet - inlet if series else max(c.outlet for c in found) - inlet
    branches = 1 if series else len(holes)
    turbulent = max(
        float(flow_for_reynolds(bore_of(entry, h.diameter), TURBULENT_AIM, entry.coolant, inlet, glycol)) for h in holes
    )
    hottest = total if series else max(c.heat for c in found)
    enough = float(flow_for_rise(hottest, float(case.limits.rise), entry.coolant, inlet, glycol)) * branches
    return CircuitWater(entry, tuple(found), total, rise, drop, drop * float(entry.flow), turbulent * branches, enough)


def films(circuits: tuple[CircuitWater, ...]) -> dict[str, tuple[float, float]]:
    """Channel -> (coefficient [W/m2/K], mean temperature of the coolant [K])."""
    return {c.hole.name: (c.coefficient, c.mean) for circuit in circuits for c in circuit.channels}


def by_name(circuits: tuple[CircuitWater, ...]) -> dict[str, ChannelWater]:
    """Every channel by its name."""
    return {c.hole.name: c for circuit in circuits for c in circuit.channels}


def spread(values: Mapping[str, Any]) -> float:
    """Largest less smallest of some values."""
    found = np.array(list(values.values()), float)
    return float(np.ptp(found)) if found.size else 0.0
