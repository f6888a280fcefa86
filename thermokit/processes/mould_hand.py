"""The trade's formula for the cooling time, what opens a closed window, and what most often changes at mould "
"and machine."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.base import Effect, Hand
from thermokit.processes.mould_judgement import release_limits
from thermokit.processes.mould_wall import cooling_time_by_hand

if TYPE_CHECKING:
    from thermokit.processes.mould import MouldProcess
    from thermokit.processes.mould_wall import MouldWall

ZERO = 273.15
FIRM = 1e3  # times the contact: a face that takes the mould's temperature
WELL_COOLED = 50.0  # times conductivity and film of the mould, which then keeps near its coolant
MOST_CONDUCTING = 5e3  # W/m/K, beyond which nothing is left to gain and the equations grow stiff to no purpose
WARMER = 5.0  # K
DEEPER = 5e-3  # m
THICKER = 0.5e-3  # m
SCALE = 0.5e-3  # m
COLDER = np.array([-5.0, -10.0, -15.0, -20.0])  # K, tried when no window is open


def hand(process: MouldProcess) -> Hand | None:
    """Cooling after the hold by t = s^2/(pi^2 a) ln[(4/pi)(Tm - Tw)/(Te - Tw)], faces at the coolant's temperature.

    First term of the series for a slab whose faces take the mould's temperature, for its middle (widely printed in the trade).
    None where no cooling time is sought.
    """
    from thermokit.case.tables import Find

    if not isinstance(process.case.cycle.cooling, Find):
        return None
    bounds = release_limits(process.case, process.stuff)
    _, found = process.single_wall
    if "ejection_centre" not in bounds or found is None:
        return None
    case = process.case
    wall = float(np.mean([float(c.temperature) for c in case.circuits]))
    melt, out = float(case.part.melt), float(bounds["ejection_centre"])
    own = process.wall(out)
    thickness, a = float(np.ravel(own.thickness)[0]), float(np.ravel(own.diffusivity)[0])
    time = float(cooling_time_by_hand(thickness, a, melt, wall, out))
    if not np.isfinite(time) or time <= process.hold:
        return None  # the hold is longer than the formula's whole cooling: there is nothing to compare
    formula = (
        f"t = s^2/(pi^2 a) ln[(4/pi)(Tm - Tw)/(Te - Tw)] = {time:.1f} s from the end of the fill for s = "
        f"{1e3 * thickness:.3g} mm, "
        f"a = {1e6 * a:.3f} mm2/s, Tm = {melt - ZERO:.0f}, Tw = {wall - ZERO:.0f} (the coolant), Te = "
        f"{out - ZERO:.0f} degC, less the "
        f"hold of {process.hold:.1f} s; rule of thumb 2.5 s (1.5 to 3.5) for each mm2 of wall squared, common practice"
    )
    return Hand(max(time - process.hold, 0.0), formula, _effects(process), of_earliest=True)


def _as_it_is(wall: MouldWall) -> MouldWall:
    return wall


def _effects(process: MouldProcess) -> tuple[Effect, ...]:
    """What the formula leaves out, taken off on the single wall."""

    def cold(wall: MouldWall) -> MouldWall:
        sides = (
            replace(
                side,
                conductivity=np.maximum(
                    side.conductivity, np.minimum(side.conductivity * WELL_COOLED, MOST_CONDUCTING)
                ),
                coefficient=side.coefficient * WELL_COOLED,
            )
            for side in (wall.cavity, wall.core)
        )
        cavity, core = sides
        return replace(wall, cavity=cavity, core=core)

    def firm(wall: MouldWall) -> MouldWall:
        cavity, core = (
            replace(side, contact=side.contact * FIRM, contact_after=side.contact_after * FIRM)
            for side in (wall.cavity, wall.core)
        )
        return replace(wall, cavity=cavity, core=core)

    def sensible(wall: MouldWall) -> MouldWall:
        return replace(wall, part=replace(wall.part, melting=None, crystallising=None))

    found = [
        Effect(
            "what a single wall leaves out (ends, ribs, inserts, the way of the coolant)",
            lambda direct: direct.alone(_as_it_is),
        ),
        Effect("that and the warmth of the mould over its coolant", lambda direct: direct.alone(cold)),
        Effect("that and the contact's resistance", lambda direct: direct.alone(firm)),
    ]
    medium = process.stuff.medium(process.case.part.material)
    if medium.melting is not None or medium.crystallising is not None:
        found.append(Effect("that and the heat of crystallising", lambda direct: direct.alone(sensible)))
    return tuple(found)


def openers(process: MouldProcess) -> list[tuple[str, dict[str, Any], Any]]:
    """Colder coolant in every circuit."""
    temperatures = {f"circuits.{c.name}.temperature": float(c.temperature) for c in process.case.circuits}
    coldest = min(temperatures.values())
    steps = COLDER[coldest + COLDER > ZERO + 5.0]
    if not steps.size:
        return []
    return [("coolants from {} degC", {p: t + steps for p, t in temperatures.items()}, coldest + steps - ZERO)]


def shifts(process: MouldProcess) -> list[tuple[str, dict[str, Any]]]:
    """What most often changes: coolant, scale, depth of the channels, wall, contact."""
    case = process.case
    found = [
        (
            f"coolant {WARMER:.0f} K warmer",
            {f"circuits.{c.name}.temperature": float(c.temperature) + WARMER for c in case.circuits},
        ),
        (
            f"scale of {1e3 * SCALE:g} mm more in every channel",
            {f"circuits.{c.name}.scale": float(c.scale) + SCALE for c in case.circuits},
        ),
    ]
    depths = {f"circuits.{c.name}.depth": float(c.depth) + DEEPER for c in case.circuits if c.depth is not None}
    if depths:
        found.append((f"channels {1e3 * DEEPER:.0f} mm deeper", depths))
    if case.part.thickness is not None:
        found.append((f"wall {1e3 * THICKER:g} mm thicker", {"part.thickness": float(case.part.thickness) + THICKER}))
    shrunk = float(case.mould.shrunk_contact)
    found.append((f"contact after the hold halved ({shrunk / 2:.0f} W/m2/K)", {"mould.shrunk_contact": shrunk / 2}))
    return found
