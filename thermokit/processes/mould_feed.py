"""Gate, runner and sprue: when each has set, and the hold that follows from the gate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.mould_gate import Piece, gate_times, time_until

if TYPE_CHECKING:
    from thermokit.case.mould import MouldCase
    from thermokit.processes.media import Stuff

HOLD_BEYOND = 0.75  # s beyond the freezing of the gate; common practice 0.5 to 1 s, no source
ABOVE_GLASS = (
    30.0  # K above the glass transition at which an amorphous melt no longer flows; common practice, no source
)
FACE_ABOVE_COOLANT = 12.0  # K, of the mould's face at the gate above the coolant, for want of better: common practice


@dataclass(frozen=True)
class FeedTimes:
    """Times from the end of the fill [s], None for what is not there or never sets; gate_by_hand : by the formula.

    The gate has frozen when its middle no longer flows; runner and sprue come out when they no longer flow in the mean (common
    practice, no source).
    """

    gate: Any = None
    gate_by_hand: Any = None
    runner: Any = None
    sprue: Any = None

    @property
    def slowest(self) -> tuple[str, float]:
        """(name, time) of runner or sprue, whichever is last; time 0 where there is neither."""
        found = [(name, float(getattr(self, name))) for name in ("runner", "sprue") if getattr(self, name) is not None]
        return max(found, key=lambda pair: pair[1], default=("", 0.0))


def no_flow(case: MouldCase, stuff: Stuff) -> float | None:
    """Temperature [K] below which the melt flows no more: where it begins to crystallise, or 30 K above its glass transition.

    None where the material's record knows neither.
    """
    record = stuff.material(case.part.material)
    if record is not None and record.crystallising is not None:
        return float(record.crystallising.high)
    if record is not None and record.glass_transition is not None and record.melting is None:
        return float(record.glass_transition.temperature) + ABOVE_GLASS
    medium = stuff.medium(case.part.material)
    curve = medium.crystallising or medium.melting
    return None if curve is None else float(np.ravel(curve.high)[0])


def feed_times(case: MouldCase, stuff: Stuff, face: float | None = None) -> FeedTimes:
    """When gate, runner and sprue have set; face [K] : of the mould beside them, None to take the coolant and 12 K."""
    wanted = no_flow(case, stuff)
    feed = case.feed
    if wanted is None:
        return FeedTimes()
    wall = face if face is not None else _coolant(case) + FACE_ABOVE_COOLANT
    medium = stuff.medium(case.part.material)

    def piece(shape: str, size: Any) -> Piece:
        return Piece(medium, shape, size, float(case.part.melt), wall, float(case.mould.packed_contact))

    gate = by_hand = None
    if feed.gate_thickness is not None or feed.gate_diameter is not None:
        flat = feed.gate_thickness is not None
        own = gate_times(
            piece("plane" if flat else "cylinder", feed.gate_thickness if flat else feed.gate_diameter), wanted
        )
        gate, by_hand = _number(own.freeze), _number(own.by_hand)
    sizes = {
        n: getattr(feed, f"{n}_diameter") for n in ("runner", "sprue") if getattr(feed, f"{n}_diameter") is not None
    }
    set_: dict[str, float | None] = {}
    if sizes:
        found = time_until(piece("cylinder", np.array([float(size) for size in sizes.values()])), wanted, "mean")
        set_ = {name: _number(value) for name, value in zip(sizes, found, strict=True)}
    return FeedTimes(gate, by_hand, set_.get("runner"), set_.get("sprue"))


def _number(value: Any) -> float | None:
    found = float(np.ravel(value)[0])
    return found if np.isfinite(found) else None


def _coolant(case: MouldCase) -> float:
    return sum(float(circuit.temperature) for circuit in case.circuits) / len(case.circuits)


def hold_of(case: MouldCase, times: FeedTimes) -> float:
    """The hold [s]: what the case says, else until the gate has frozen and 0.75 s more."""
    if case.cycle.hold is not None:
        return float(np.ravel(case.cycle.hold)[0])
    return (times.gate if times.gate is not None else 0.0) + HOLD_BEYOND
