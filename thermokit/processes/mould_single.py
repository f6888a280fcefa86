"""The same mould case as one wall between two rows of channels: the second opinion, and what tolerances are drawn on.

Numbers of the case may be arrays over cases. Ribs, inserts, the ends of the part and the order of the channels are left out;
what a section finds differs from it by the ``ratio`` of the two times.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.mould_shape import SAME
from thermokit.exchange.channel_circuit import bore_flow
from thermokit.processes.media import typical
from thermokit.processes.mould_cycle import settled_cycle
from thermokit.processes.mould_wall import MouldSide, MouldWall
from thermokit.processes.mould_water import bore_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from thermokit.case.mould import MouldCase
    from thermokit.case.mould_shape import MouldShape
    from thermokit.conduction.problem import Array
    from thermokit.processes.media import Stuff
    from thermokit.processes.mould_cycle import WallCycle

LOOSE = 0.2  # K, local error of a step
CRITERIA = {"ejection_centre": "hottest", "ejection_mean": "mean"}


def wall_of(case: MouldCase, stuff: Stuff, shape: MouldShape, hold: Any, ejection: Any, criterion: str) -> MouldWall:
    """The wall of a case.

    shape : of the case with single numbers (what it has no key for is read off it); hold [s]; ejection [K] and criterion as
    :class:`~thermokit.processes.mould_wall.MouldWall` has them.
    """
    thickness = case.part.thickness if case.part.thickness is not None else shape.wall
    return MouldWall(
        part=stuff.medium(case.part.material),
        thickness=thickness,
        melt=case.part.melt,
        ejection=ejection,
        hold=hold,
        open=case.cycle.open + case.cycle.fill,
        cavity=_side(case, stuff, shape, "cavity"),
        core=_side(case, stuff, shape, "core"),
        criterion=criterion,
    )


def _side(case: MouldCase, stuff: Stuff, shape: MouldShape, name: str) -> MouldSide:
    """One half: its metal and the row of channels nearest to the part."""
    block = getattr(case.mould, name)
    medium = stuff.medium(block.material)
    common: dict[str, Any] = {
        "conductivity": typical(medium.conductivity),
        "density": medium.density,
        "specific_heat": typical(medium.specific_heat),
        "contact": case.mould.packed_contact,
        "contact_after": case.mould.shrunk_contact,
        "air": case.air.temperature,
        "air_coefficient": case.air.coefficient,
    }
    entries = [circuit for circuit in case.circuits if circuit.side == name]
    if not entries:
        # a half without channels gives its heat to the air at its back
        height = _back(case, shape, name)
        slim = height / 4.0
        return MouldSide(
            **common, diameter=slim, depth=height - slim, pitch=4.0 * slim, coefficient=case.air.coefficient * 1.3,
            coolant=case.air.temperature,
        )  # fmt: skip
    entry = entries[0]
    holes = [hole for hole in shape.holes if hole.circuit in {e.name for e in entries}]
    diameter = entry.diameter if entry.diameter is not None else holes[0].diameter
    depth = entry.depth if entry.depth is not None else min(_to_part(shape, hole.centre) for hole in holes)
    pitch = entry.pitch if entry.pitch is not None and len(entries) == 1 else shape.length / len(holes)
    branches = 1 if entry.connected == "series" else len([h for h in holes if h.circuit == entry.name])
    film = bore_flow(
        bore_of(entry, diameter),
        np.asarray(entry.flow, float) / branches,
        entry.coolant,
        entry.temperature,
        None,
        entry.glycol,
    )
    return MouldSide(
        **common, diameter=diameter, depth=depth, pitch=pitch, coefficient=film.coefficient, coolant=entry.temperature
    )


def _back(case: MouldCase, shape: MouldShape, name: str) -> float:
    outline = shape.cavity if name == "cavity" else shape.core
    face = shape.cavity_face if name == "cavity" else shape.core_face
    far = outline[:, 1].min() if name == "cavity" else outline[:, 1].max()
    return float(abs(far - face[:, 1].mean()))


def _to_part(shape: MouldShape, centre: tuple[float, float]) -> float:
    """Distance of a channel's axis from the part [m]."""
    a, b = shape.part, np.roll(shape.part, -1, axis=0)
    run, p = b - a, np.array(centre)
    share = np.clip(((p - a) * run).sum(axis=1) / np.maximum((run**2).sum(axis=1), SAME**2), 0.0, 1.0)
    return float(np.hypot(*(a + share[:, None] * run - p).T).min())


def wall_times(
    case: MouldCase,
    stuff: Stuff,
    shape: MouldShape,
    hold: Any,
    bounds: Mapping[str, Any],
    change: Callable[[MouldWall], MouldWall] | None = None,
) -> tuple[dict[str, Array], WallCycle | None]:
    """(limit -> time from the end of the fill at which it is met [s], (cases,); the settled shot that opens then).

    bounds : ``ejection_centre``, ``ejection_mean`` [K], those that there are; change : of the wall, for an effect that is off.
    inf where a limit is never met, 0 where the other one is met later in every case.
    """
    times: dict[str, Array] = {}
    ruling = None
    for name, bound in bounds.items():
        if ruling is not None and np.all(ruling.mean <= np.asarray(bound, float)):
            times[name] = np.zeros(len(ruling.mean))
            continue
        wall = wall_of(case, stuff, shape, hold, bound, CRITERIA[name])
        found = settled_cycle(wall if change is None else change(wall), LOOSE)
        times[name] = np.where(found.reached & np.isfinite(found.earliest), found.earliest, np.inf)
        ruling = (
            found
            if ruling is None or float(times[name][0]) > max(float(t[0]) for t in times.values()) - 1e-9
            else ruling
        )
    return times, ruling
