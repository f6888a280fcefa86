"""What a settled shot is held against: the limits of the part, of the mould and of the water, and the times that follow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.exchange.dew_point import dew_point
from thermokit.processes.base import Limit
from thermokit.results.model import LimitCheck

if TYPE_CHECKING:
    from thermokit.case.mould import MouldCase
    from thermokit.conduction.problem import Array
    from thermokit.processes.media import Stuff
    from thermokit.processes.mould_facts import MouldFacts
    from thermokit.processes.mould_feed import FeedTimes
    from thermokit.processes.mould_solve import Shot

ZERO = 273.15
FACE_DIFFERENCE = 10.0  # K, general; common practice, no source
BOW = 0.003  # of the length; common practice, no source
SURE = 1e-12


@dataclass(frozen=True)
class TimeLimit(Limit):
    """A bound on a time [s]."""

    dimension: str = "time"

    @property
    def unit(self) -> str:
        """Unit of the value as it is shown."""
        return "s"

    @property
    def margin_unit(self) -> str:
        """Unit of the margin as it is shown."""
        return "s"


def release_limits(case: MouldCase, stuff: Stuff) -> dict[str, Any]:
    """``ejection_centre`` and ``ejection_mean`` [K]: the case's, else the release temperatures of the material's record."""
    record = stuff.material(case.part.material)
    forming = dict(record.forming or {}) if record is not None else {}
    found = {}
    for name, word in (("ejection_centre", "release_high"), ("ejection_mean", "release_low")):
        own = getattr(case.limits, name)
        value = own if own is not None else forming.get(word)
        if value is not None:
            found[name] = value
    return found


def expansion_of(case: MouldCase, stuff: Stuff) -> Any:
    """Linear thermal expansion of the part [1/K], None where it is not known."""
    if case.part.expansion is not None:
        return case.part.expansion
    record = stuff.material(case.part.material)
    text = (record.record.get("expansion") or {}).get("linear") if record is not None else None
    return None if text is None else units.parse(str(text), "thermal_expansion")


def bow_share(expansion: Any, difference: Any, length: Any, thickness: Any) -> Any:
    """Bow of a free strip whose faces differ by a temperature, as a share of its length: alpha dT l/(8 s).

    A linear difference dT [K] across a thickness s [m] bends it to the curvature alpha dT/s; over a length l [m] that rises by
    l^2/8 of it. expansion alpha [1/K]. An upper bound: ribs, frames and the fixture hold a part straight. Source: Timoshenko,
    Analysis of bi-metal thermostats, J. Opt. Soc. Am. 11 (1925) 233 (curvature; the even strip is its limit); geometry.

    >>> round(bow_share(1e-4, 5.0, 0.1, 0.0025), 6)
    0.0025
    """
    return expansion * difference * length / (8.0 * thickness)


def bounding(case: MouldCase, stuff: Stuff) -> tuple[Limit, ...]:
    """The limits that bound the cooling time: those on ejection, and of the others what the case itself asks for."""
    found = []
    where = {"ejection_centre": "hottest place of the part", "ejection_mean": "mean of the part"}
    for name, bound in release_limits(case, stuff).items():
        found.append(Limit(name, name, False, bound, "temperature", where[name]))
    if case.limits.face_difference is not None:
        found.append(
            Limit("face_difference", "face_difference", False, case.limits.face_difference, "temperature_difference",
                  "between the part's faces, in the mean")
        )  # fmt: skip
    if case.limits.bow is not None and expansion_of(case, stuff) is not None:
        found.append(Limit("bow", "bow", False, case.limits.bow, "fraction", "share of the length"))
    return tuple(found)


def along(case: MouldCase, stuff: Stuff, facts: MouldFacts, shape_length: float, wall: float) -> dict[str, Array]:
    """What the bounding limits look at, against the time of opening: name -> (rows,) in SI."""
    difference = np.abs(facts.face_difference)
    found = {"ejection_centre": facts.hottest, "ejection_mean": facts.mean, "face_difference": difference}
    expansion = expansion_of(case, stuff)
    if expansion is not None:
        found["bow"] = np.asarray(bow_share(float(expansion), difference, shape_length, wall))
    return found


def first_met(time: Array, margin: Array) -> float:
    """When a margin becomes and stays positive [s]; beyond the rows by going on as the last ones do, inf where it never does."""
    broken = np.flatnonzero(margin < 0.0)
    if not broken.size:
        return 0.0
    last = int(broken[-1])
    if last + 1 < len(time):
        a, b = margin[last], margin[last + 1]
        return float(time[last] + (time[last + 1] - time[last]) * a / (a - b))
    return beyond(time, margin)


def beyond(time: Array, margin: Array) -> float:
    """When a margin that is still negative reaches zero, going on towards its end value as exp(-t/tau); inf where it does not."""
    t1, t3 = float(time[len(time) * 3 // 5]), float(time[-1])
    m1, m2, m3 = np.interp([t1, (t1 + t3) / 2.0, t3], time, margin)
    first, second = m2 - m1, m3 - m2
    if second <= SURE:
        return float("inf")
    ratio = min(second / first if first > second else 0.999, 0.999)
    end = m3 + second * ratio / (1.0 - ratio)
    if end <= 0.0:
        return float("inf")
    left = -m3 / (end - m3)  # share of the way to the end value that brings it to zero
    return t3 + (t3 - t1) / 2.0 * float(np.log(1.0 - left) / np.log(ratio))


def dew(case: MouldCase) -> float:
    """Dew point of the shop's air [K]."""
    return float(dew_point(float(case.air.temperature), max(float(case.air.humidity), 1e-3)))


def checks(case: MouldCase, stuff: Stuff, shot: Shot, feed: FeedTimes, hold: float) -> tuple[LimitCheck, ...]:
    """Every limit held against the settled shot."""
    facts = shot.facts
    opened, cycle = shot.times.closed, shot.times.cycle
    values = {k: float(v[-1]) for k, v in along(case, stuff, facts, shot.shape.length, shot.shape.wall).items()}
    found = []
    for limit in bounding(case, stuff):
        value = values[limit.quantity]
        where = place_words(*facts.hottest_place()) if limit.name == "ejection_centre" else limit.where
        found.append(_checked(limit, value, where, opened))
    named = {limit.name for limit in bounding(case, stuff)}
    usual = [
        Limit(
            "face_difference", "face_difference", False, FACE_DIFFERENCE, "temperature_difference",
            "between the part's faces, in the mean",
        ),
        Limit("bow", "bow", False, BOW, "fraction", "share of the length, of a free flat strip"),
    ]  # fmt: skip
    found += [_checked(n, values[n.name], n.where, opened) for n in usual if n.name not in named and n.name in values]
    spots = {name: facts.hot_spot(name) for name in ("cavity_face", "core_face")}
    worst = max(spots, key=lambda name: spots[name][0])
    above, x, y = spots[worst]
    found.append(
        _checked(
            Limit("hot_spot", "", False, float(case.limits.hot_spot), "temperature_difference"), above,
            f"{worst.removesuffix('_face')}, {place_words(x, y)}", opened,
        )
    )  # fmt: skip
    channels = [channel for circuit in shot.circuits for channel in circuit.channels]
    slow = min(channels, key=lambda c: c.reynolds)
    found.append(
        _checked(
            Limit("reynolds", "", True, float(case.limits.reynolds), "fraction"),
            slow.reynolds,
            f"channel {slow.hole.name}",
            None,
        )
    )
    warm = max(shot.circuits, key=lambda c: c.rise)
    found.append(
        _checked(
            Limit("rise", "", False, float(case.limits.rise), "temperature_difference"), warm.rise,
            f"circuit {warm.entry.name}", None,
        )
    )  # fmt: skip
    found.append(
        _checked(
            Limit("condensation", "", True, float(case.limits.condensation), "temperature_difference"),
            facts.coldest_face() - dew(case), f"coldest place of the faces over the dew point, {dew(case) - ZERO:.1f} degC", cycle,
        )
    )  # fmt: skip
    last, set_ = feed.slowest
    if last:
        found.append(_checked(TimeLimit(f"{last}_set", "", True, set_), opened, last, opened))
    if feed.gate is not None:
        least = TimeLimit("hold_beyond_gate", "", True, float(case.limits.hold_beyond_gate))
        found.append(_checked(least, hold - float(feed.gate), "gate", hold))
    return tuple(found)


def _checked(limit: Limit, value: float, where: str, when: float | None) -> LimitCheck:
    margin = float(limit.margin(np.array(value)))
    return LimitCheck(limit.name, limit.required, limit.shown(value), limit.unit, margin, margin >= 0.0, where, when)


def place_words(x: float, y: float) -> str:
    """A place in the section, in words."""
    return f"x {1e3 * x:.4g} mm, y {1e3 * y:.4g} mm"
