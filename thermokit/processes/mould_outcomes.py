"""The answers of a settled shot: times, temperatures, water; and what it leaves beside its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.mould_facts import mean_along
from thermokit.processes.mould_feed import no_flow
from thermokit.processes.mould_judgement import along, dew, place_words
from thermokit.processes.mould_shots import start_up
from thermokit.results.model import Axis, Field, Outcome
from thermokit.stations.mould import FACES

if TYPE_CHECKING:
    from thermokit.processes.mould import MouldProcess
    from thermokit.processes.mould_solve import Shot
    from thermokit.processes.mould_water import ChannelWater

ZERO = 273.15
LITRES = 6e4  # L/min of 1 m3/s
FROM_FILL = "from the end of the fill"


def outcomes(process: MouldProcess, shot: Shot) -> list[Outcome]:
    """Answers of a shot."""
    return [*_times(process, shot), *_temperatures(process, shot), *_mould(shot), *_water(process, shot)]


def gain(cycle: float) -> float:
    """Parts an hour more for a second less of cycle, which lasts more than that."""
    return 3600.0 / max(cycle - 1.0, 0.01) - 3600.0 / cycle


def _times(process: MouldProcess, shot: Shot) -> list[Outcome]:
    times, feed = shot.times, process.feed
    found = [
        Outcome("cycle_time", times.cycle, "s", "fill, hold, cooling and open"),
        Outcome("cooling_time", times.cooling, "s", "from the end of the hold until the mould opens"),
        Outcome("hold_time", times.hold, "s", FROM_FILL),
        Outcome("parts_per_hour", 3600.0 / times.cycle, "1/h", "of one cavity"),
        Outcome("gain_per_second", gain(times.cycle), "1/h", "parts an hour more for each second saved"),
    ]
    if feed.gate is not None:
        found.append(Outcome("gate_freeze", feed.gate, "s", f"{FROM_FILL}: its middle no longer flows"))
    for name in ("runner", "sprue"):
        if getattr(feed, name) is not None:
            found.append(Outcome(f"{name}_set", getattr(feed, name), "s", f"{FROM_FILL}: stiff enough to come out"))
    wall, _ = process.single_wall
    found.append(
        Outcome("single_wall_cooling", wall if np.isfinite(wall) else None, "s",
                "second opinion: cooling after the hold until the ejection limits are met, by the wall alone")
    )  # fmt: skip
    return found


def _temperatures(process: MouldProcess, shot: Shot) -> list[Outcome]:
    facts = shot.facts
    x, y = facts.hottest_place()
    found = [
        Outcome("hottest_at_ejection", float(facts.hottest[-1]) - ZERO, "degC", f"hottest of the part: {place_words(x, y)}"),
        Outcome("mean_at_ejection", float(facts.mean[-1]) - ZERO, "degC", "mean of the part"),
        Outcome("face_difference", float(facts.face_difference[-1]), "K", "part's face at the cavity less that at the core"),
    ]  # fmt: skip
    values = along(process.case, process.stuff, facts, shot.shape.length, shot.shape.wall)
    if "bow" in values:
        share = float(values["bow"][-1])
        found.append(
            Outcome(
                "bow",
                1e3 * share * shot.shape.length,
                "mm",
                "of a free flat strip of the part's length; an upper bound",
            )
        )
    wanted = no_flow(process.case, process.stuff)
    if wanted is not None:
        last, x, y = facts.last_to_set(wanted)
        place = f"x {1e3 * x:.4g} mm, y {1e3 * y:.4g} mm"
        found.append(Outcome("last_place_set", last, "s", f"{FROM_FILL}: the last place no longer flows, at {place}"))
        if process.feed.gate is not None:
            share = facts.share_above(wanted, min(float(process.feed.gate), shot.times.closed))
            found.append(
                Outcome("molten_at_gate_freeze", share, "1", "share of the part that still flows when the gate freezes")
            )
    return found


def _mould(shot: Shot) -> list[Outcome]:
    facts, found = shot.facts, []
    for name in FACES:
        own = facts.metal_face(name)
        means = mean_along(facts.faces[name].metal_way, own)
        spot, x, y = facts.hot_spot(name)
        words = name.replace("_", " ")
        found += [
            Outcome(
                f"{name}_at_ejection", float(means[facts.opening]) - ZERO, "degC", f"mean of the {words} (touch probe)"
            ),
            Outcome(f"{name}_swing", float(np.ptp(means)), "K", f"of the {words}'s mean over the shot"),
            Outcome(
                f"{name}_hot_spot", spot, "K", f"hottest place over the mean, at x {1e3 * x:.4g} mm, y {1e3 * y:.4g} mm"
            ),
        ]
    if shot.cycle.shots is not None:
        found.append(
            Outcome(
                "shots_to_settle",
                float(shot.cycle.shots),
                "1",
                "from the first shot until no place moves by more than 0.5 K",
            )
        )
    return found


def _water(process: MouldProcess, shot: Shot) -> list[Outcome]:
    heat = sum(circuit.heat for circuit in shot.circuits)
    found = [
        Outcome("heat_per_shot", heat * shot.times.cycle / 1e3, "kJ", "into the coolant"),
        Outcome("heat_to_coolant", heat / 1e3, "kW", "mean over the cycle"),
        Outcome("dew_point", dew(process.case) - ZERO, "degC", "of the shop's air"),
    ]
    for circuit in shot.circuits:
        name = f"circuit_{circuit.entry.name}"
        slow = min(circuit.channels, key=lambda c: c.reynolds)
        found += [
            Outcome(f"{name}_heat", circuit.heat, "W", "mean over the cycle"),
            Outcome(f"{name}_reynolds", slow.reynolds, "1", f"lowest, in channel {slow.hole.number}"),
            Outcome(f"{name}_rise", circuit.rise, "K", "from inlet to outlet"),
            Outcome(f"{name}_pressure_drop", circuit.pressure_drop / 1e5, "bar", "channels, bends and links"),
            Outcome(f"{name}_pump_power", circuit.pumping, "W", "hydraulic"),
            Outcome(f"{name}_flow_for_reynolds", LITRES * circuit.for_reynolds, "L/min", "for Re 10 000 everywhere"),
            Outcome(f"{name}_flow_for_rise", LITRES * circuit.for_rise, "L/min", "for the rise that is allowed"),
        ]
    return found


def channel_words(channel: ChannelWater) -> str:
    """A channel in one line."""
    return (
        f"{channel.hole.name}: {channel.heat:.0f} W, Re {channel.reynolds:.0f}, {channel.coefficient:.0f} W/m2/K, "
        f"coolant {channel.mean - ZERO:.1f} degC (+{channel.outlet - channel.inlet:.2f} K), "
        f"wall {channel.wall - ZERO:.1f} degC, {float(channel.at.pressure_drop) / 1e5:.2f} bar"
    )


def water_table(process: MouldProcess, shot: Shot) -> dict[str, Any]:
    """Channel by channel, in lines."""
    return {"channels": [channel_words(c) for circuit in shot.circuits for c in circuit.channels]}


def fields(process: MouldProcess, shot: Shot) -> tuple[Field, ...]:
    """Faces along the part, faces over the shot, the mould from shot to shot, the channels."""
    facts, found = shot.facts, []
    rows = Axis("time", "s", shot.history.time, "time from the end of the fill")
    for name in FACES:
        own, short = facts.faces[name], name.removesuffix("_face")
        words = name.replace("_", " ")
        way = Axis("way", "mm", 1e3 * own.metal_way, "way along the face from its left end")
        temperature = facts.metal_face(name)
        found += [
            Field(
                f"mould_{short}_face/at_ejection",
                (way,),
                "degC",
                temperature[facts.opening] - ZERO,
                f"{words} when the mould opens",
            ),
            Field(
                f"mould_{short}_face/highest",
                (way,),
                "degC",
                temperature.max(axis=0) - ZERO,
                f"{words}, highest of the shot",
            ),
            Field(
                f"mould_{short}_face/at_touch", (way,), "degC", temperature[0] - ZERO, f"{words} when the melt comes"
            ),
        ]
        means = mean_along(own.metal_way, temperature)
        found.append(Field(f"mould_shot/{name}", (rows,), "degC", means - ZERO, f"mean of the {words}"))
    channels = [c for circuit in shot.circuits for c in circuit.channels]
    axis = Axis("channel", "", tuple(c.hole.name for c in channels), "channel, in the order of the coolant")
    for name, unit, values, words in (
        ("heat", "W", [c.heat for c in channels], "heat, mean over the cycle"),
        ("reynolds", "1", [c.reynolds for c in channels], "Reynolds number"),
        ("coefficient", "W/m2/K", [c.coefficient for c in channels], "from the wall to the coolant, scale included"),
        ("coolant", "degC", [c.mean - ZERO for c in channels], "mean temperature of the coolant"),
        ("pressure_drop", "bar", [float(c.at.pressure_drop) / 1e5 for c in channels], "pressure drop"),
    ):
        found.append(Field(f"mould_channels/{name}", (axis,), unit, np.array(values, float), words))
    found += _cycle_bar(process, shot)
    return (*found, *start_up(shot))


def _cycle_bar(process: MouldProcess, shot: Shot) -> list[Field]:
    """The parts of the cycle in their order."""
    times, cycle = shot.times, process.case.cycle
    names = ("fill", "hold", "cooling", "open")
    axis = Axis("part", "", names, "part of the cycle")
    values = np.array([float(cycle.fill), times.hold, times.cooling, float(cycle.open)])
    return [Field("mould_cycle/duration", (axis,), "s", values, "duration of a part of the cycle")]
