"""What a settled shot means at machine and mould, in sentences: settings first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.exchange.channel_flow import outside
from thermokit.processes.mould_feed import FACE_ABOVE_COOLANT, no_flow
from thermokit.processes.mould_judgement import place_words
from thermokit.processes.mould_outcomes import gain
from thermokit.processes.mould_shots import rejects, start_up
from thermokit.processes.mould_water import TURBULENT_AIM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.mould import MouldProcess
    from thermokit.processes.mould_solve import Shot
    from thermokit.results.model import LimitCheck

ZERO = 273.15
LITRES = 6e4
STILL_MOLTEN = 0.4  # of the part when packing ends; common practice, no source
THIN_GATE = 0.5  # of the wall, below which a gate is thin; common practice, no source
RIB = 0.6  # of the wall, the thickest rib; common practice, no source
# m: an insert nearer than the one touches the part, one nearer than the other most likely should
SAME, SKIN = 1e-6, 3e-3
# channels by their diameter; common practice, no source
DIAMETERS, DEPTHS, PITCHES, DROP = (8e-3, 14e-3), (1.0, 2.5), (2.5, 5.0), 2e5


def remarks(process: MouldProcess, shot: Shot, limits: Sequence[LimitCheck]) -> list[str]:
    """Settings, what rules the cycle, the last place to set, warp, water, start-up, and the second opinion."""
    found = [_settings(process, shot), *_ruling(process, shot), *_sink(process, shot), *_warp(shot)]
    found += [*_water(shot), *_places(process, shot), *_condensation(limits), *_start(shot), *_second(process, shot)]
    return found


def _settings(process: MouldProcess, shot: Shot) -> str:
    times, cycle = shot.times, process.case.cycle
    return (
        f"Settings: fill {float(cycle.fill):.1f} s, hold {times.hold:.1f} s, cooling {times.cooling:.1f} s, open "
        f"{float(cycle.open):.1f} s: "
        f"cycle {times.cycle:.1f} s, {3600.0 / times.cycle:.0f} parts an hour from a cavity; each second saved makes "
        f"{gain(times.cycle):.1f} more"
    )


def _ruling(process: MouldProcess, shot: Shot) -> list[str]:
    """The bottleneck of the cycle."""
    times = shot.times
    name, slow = process.feed.slowest
    part = process.crossing_of_part(shot.facts)
    found = []
    if name and slow > part:
        spare = f"{slow - part:.1f} s more than the part"
        found.append(
            f"The {name} rules the cycle: it is stiff {slow:.1f} s after the fill, "
            f"{spare if np.isfinite(part) else 'the part never'}; a thinner "
            f"{name}, or a hot one, gains up to that"
        )
    elif part < times.hold:
        found.append(
            f"The hold rules the cycle: the part's limits are met {part:.1f} s after the fill, before the hold of "
            f"{times.hold:.1f} s ends; hold no longer than the part's weight grows"
        )
    elif times.closed > 0.5 * times.cycle:
        found.append(
            f"Cooling rules the cycle: {times.cooling:.1f} s of {times.cycle:.1f} s after a hold of "
            f"{times.hold:.1f} s; the part's limits "
            f"are met {part:.1f} s after the fill" if np.isfinite(part) else "The part's limits are never met: "
            "colder coolant first"
        )  # fmt: skip
    elif float(process.case.cycle.open) > times.cooling:
        found.append("Opening, ejecting and closing take longer than cooling: look there first")
    if process.feed.gate is not None and process.hold < float(process.feed.gate):
        found.append(
            f"The hold ends {float(process.feed.gate) - process.hold:.1f} s before the gate freezes: melt flows "
            f"back, weights scatter; "
            "weigh parts against the hold until the weight no longer grows"
        )
    return found


def _sink(process: MouldProcess, shot: Shot) -> list[str]:
    facts, found = shot.facts, []
    wanted = no_flow(process.case, process.stuff)
    if wanted is not None and process.feed.gate is not None:
        last, x, y = facts.last_to_set(wanted)
        when = f"{last:.1f} s after the fill" if last is not None else "after the mould opens"
        found.append(f"Last to set is {place_words(x, y)}, {when}; {_packing(process, shot, wanted)}")
    wall = shot.shape.wall
    thick = [rib.name for rib in process.case.part.ribs if float(rib.thickness) > RIB * wall + 1e-9]
    if thick:
        found.append(f"Thicker than 0.6 of the wall, where sinks show opposite: {', '.join(thick)} (common practice)")
    return found


def _packing(process: MouldProcess, shot: Shot, wanted: float) -> str:
    """When packing ends, how much of the part still flows then, and which gate or hold would do."""
    gate, feed, wall = float(process.feed.gate), process.case.feed, shot.shape.wall
    end = min(gate, process.hold)
    share = shot.facts.share_above(wanted, min(end, shot.times.closed))
    found = (
        f"packing ends after {end:.1f} s, as {'the gate freezes' if gate <= process.hold else 'the hold ends'}, when "
        f"{100.0 * share:.0f} % of the part still flows (30 to 40 % is usual practice)"
    )
    if share <= STILL_MOLTEN:
        return f"{found}: it reaches most of the part"
    due = shot.facts.when_share(wanted, STILL_MOLTEN)
    found += f", {100.0 * STILL_MOLTEN:.0f} % " + (f"after {due:.1f} s" if due is not None else "after the mould opens")
    if due is not None and due <= gate:
        return f"{found}: hold until then, or sinks and voids are to be expected there"
    size = float(
        np.ravel(np.asarray(feed.gate_thickness if feed.gate_thickness is not None else feed.gate_diameter))[0]
    )
    if due is not None:
        found += (
            f"; a gate of {1e3 * size * np.sqrt(due / gate):.2g} mm instead of {1e3 * size:.2g} would stay open so long"
        )
    if feed.gate_thickness is not None and size < THIN_GATE * wall:
        return f"{found}. The gate is thinner than half the wall: sinks or voids are to be expected there"
    return (
        f"{found}. That is for melt at rest in the gate, whose mould face is taken {FACE_ABOVE_COOLANT:.0f} K above the coolant: "
        "melt that is packed through it keeps it open longer, so weigh parts against the hold before the gate is cut wider"
    )


def _warp(shot: Shot) -> list[str]:
    difference = float(shot.facts.face_difference[-1])
    if abs(difference) < 0.5:
        return []
    hot, cold = ("cavity", "core") if difference > 0.0 else ("core", "cavity")
    return [
        f"The part leaves with its face at the {hot} {abs(difference):.1f} K hotter: that side shrinks more and "
        f"becomes hollow; cool the {hot} "
        f"more or the {cold} less"
    ]


def _water(shot: Shot) -> list[str]:
    found = []
    for circuit in shot.circuits:
        slow = min(c.reynolds for c in circuit.channels)
        if slow < TURBULENT_AIM:
            found.append(
                f"Circuit {circuit.entry.name}: Re {slow:.0f}; {LITRES * circuit.for_reynolds:.1f} L/min instead of "
                f"{LITRES * float(circuit.entry.flow):.1f} bring it to 10 000 (film now "
                f"{min(c.coefficient for c in circuit.channels):.0f} W/m2/K)"
            )
        if circuit.pressure_drop > DROP:
            found.append(
                f"Circuit {circuit.entry.name} drops {circuit.pressure_drop / 1e5:.1f} bar, more than 2 bar that "
                f"units usually give: shorten it, "
                "or connect in parallel"
            )
        film, bore = min((float(c.at.film), c.coefficient) for c in circuit.channels)
        if float(circuit.entry.scale) > 0.0:
            found.append(
                f"Circuit {circuit.entry.name}: scale of {1e3 * float(circuit.entry.scale):g} mm lets through "
                f"{bore:.0f} instead of {film:.0f} "
                "W/m2/K: descale"
            )
    return found


def _places(process: MouldProcess, shot: Shot) -> list[str]:
    """Channels that lie outside of common practice."""
    found = []
    for circuit in process.case.circuits:
        holes = [hole for hole in shot.shape.holes if hole.circuit == circuit.name]
        d = holes[0].diameter
        odd = []
        if not DIAMETERS[0] - 1e-9 <= d <= DIAMETERS[1] + 1e-9:
            odd.append(f"diameter {1e3 * d:g} mm (8 to 14)")
        if circuit.depth is not None and not DEPTHS[0] - 1e-9 <= float(circuit.depth) / d <= DEPTHS[1] + 1e-9:
            odd.append(f"depth {float(circuit.depth) / d:.2g} diameters (1 to 2.5)")
        if circuit.pitch is not None and not PITCHES[0] - 1e-9 <= float(circuit.pitch) / d <= PITCHES[1] + 1e-9:
            odd.append(f"pitch {float(circuit.pitch) / d:.2g} diameters (2.5 to 5)")
        if odd:
            found.append(f"Circuit {circuit.name} lies outside of common practice: {', '.join(odd)}")
    return found


def _condensation(limits: Sequence[LimitCheck]) -> list[str]:
    broken = [check for check in limits if check.name == "condensation" and not check.met]
    return ["Faces sweat: warmer coolant, drier air, or coolant off while the mould stands open"] if broken else []


def _start(shot: Shot) -> list[str]:
    fields = start_up(shot)
    count = rejects(fields)
    if count is None or shot.cycle.shots is None:
        return []
    own = next(field for field in fields if field.name.endswith("cavity_face"))
    rejected = f"reject the first {count} shots" if count else "no shot need be rejected for it"
    return [
        f"Start-up: the cavity's face creeps from {own.values[0]:.1f} to {own.values[-1]:.1f} degC (when the melt "
        f"comes); {rejected}, "
        f"all is settled to 0.5 K after {shot.cycle.shots}; after a stop of minutes count again"
    ]


def _second(process: MouldProcess, shot: Shot) -> list[str]:
    wall = process.opens_by_wall
    if not np.isfinite(wall):
        return ["Second opinion: by the single wall the part never gets as cold as its limits"]
    own = process.crossing_of_part(shot.facts)
    found = f"Second opinion: the single wall alone may open {wall:.1f} s after the fill"
    if np.isfinite(own) and own > 0.0 and wall > 0.0:
        found += f", the section {own:.1f} s ({100.0 * (own - wall) / wall:+.0f} %)"
    return [
        found
        + "; what moves the window and tolerances are found on the single wall, brought to the section by that ratio"
    ]


def warnings(process: MouldProcess, shot: Shot) -> list[str]:
    """What lies outside of what is known."""
    found = list(process.stuff.warnings(shot.history))  # type: ignore[arg-type]
    channels = [c for circuit in shot.circuits for c in circuit.channels]
    said = outside([c.reynolds for c in channels], [float(c.at.liquid.prandtl) for c in channels])
    if said:
        found.append(said)
    wanted = no_flow(process.case, process.stuff)
    if wanted is not None and float(process.case.part.melt) < wanted:
        found.append(
            f"the melt is colder than {wanted - ZERO:.0f} degC, at which it no longer flows: it would not fill "
            f"the mould"
        )
    if shot.mesh_error is not None and shot.mesh_error > float(process.case.accuracy.temperature):
        found.append(
            f"the mesh is still about {shot.mesh_error:.2g} K off at the hottest place when the mould opens: ask for a smaller "
            "[accuracy] temperature where that matters"
        )
    for name, outline in shot.shape.inserts:
        gap = _apart(outline, shot.shape.part)
        if SAME < gap < SKIN:
            found.append(
                f"insert {name} stands {1e3 * gap:.2g} mm behind the part's face: where it is meant to touch the part, give its "
                "corners anew; it does not follow a thickness that is changed"
            )
    if not shot.cycle.reached:
        found.append(f"the settled shot was found to {shot.cycle.error:.2g} K only")
    return found


def _apart(one: Array, other: Array) -> float:
    """Shortest way between two outlines that do not cross, (n, 2) each [m]."""
    best = np.inf
    for points, ring in ((one, other), (other, one)):
        run = np.roll(ring, -1, axis=0) - ring
        off = points[:, None] - ring[None]
        share = np.clip((off * run).sum(axis=2) / np.maximum((run**2).sum(axis=1), 1e-30), 0.0, 1.0)
        best = min(best, float(np.linalg.norm(off - share[..., None] * run, axis=2).min()))
    return best
