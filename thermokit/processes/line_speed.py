"""What a line's speed may be by each limit, and what changes at the line do.

Both found by running the model beside the run: one batch over speeds, one over changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.follow_batch import follow_batch
from thermokit.exchange.roll_contact import CONTACT_BY_TENSION
from thermokit.processes.base import facts_of_batch
from thermokit.processes.line_cooling import one_curve
from thermokit.processes.line_events import coarser

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts, Limit
    from thermokit.processes.line import LineProcess

HOT_ROLLS = ("roll", "drum")
SPEEDS = np.geomspace(0.2, 5.0, 17)  # of the speed that is run
LOOSE = 0.05  # K, local error of them
TRAPPED = 200.0  # W/m2/K, contact when air is trapped under the web; from memory
MORE_ROLL = 10.0  # K
WARMER = 5.0  # K, water


@dataclass(frozen=True)
class BySpeed:
    """A limit against the speed: slowest and fastest [m/s] about the speed that is run; None where nothing limits it within
    a fifth and five times of that."""

    limit: str
    slowest: float | None
    fastest: float | None


@dataclass(frozen=True)
class Change:
    """A change at the line: words, and what the deciding quantity and its margin become (shown units)."""

    words: str
    value: float
    by: float


def at_values(process: LineProcess, values: dict[str, Any], count: int) -> tuple[dict[str, Array], tuple[Limit, ...]]:
    """(quantities, limits) of ``count`` cases with other inputs at some paths, on a mesh that suits comparisons."""
    other = type(process)(process.case.with_values(values))
    course = one_curve(other.course(coarser(process.edges)))
    travel = follow_batch(course, count, max(process.tolerance, LOOSE))
    facts = facts_of_batch(travel)
    found = {name: np.broadcast_to(value, (count,)).astype(float) for name, value in other.quantities(facts).items()}
    return {name: np.where(facts.failed, np.nan, value) for name, value in found.items()}, other.limits()


def by_speed(process: LineProcess) -> list[BySpeed]:
    """Slowest and fastest speed by each limit, about the speed that is run."""
    now = process.pace
    speeds = now * SPEEDS
    values, limits = at_values(process, {"line.speed": speeds}, len(speeds))
    here = len(SPEEDS) // 2  # the speed that is run: what the coarser mesh is off there it is taken to be off elsewhere
    return [
        _stretch(limit.name, speeds, margin + _off(process, limit, float(margin[here])), now)
        for limit in limits
        for margin in (limit.margin(values[limit.quantity]),)
    ]


def _off(process: LineProcess, limit: Limit, margin: float) -> float:
    """Margin of a limit in the run less that of the same speed on the coarser mesh."""
    if process.ran is None or not np.isfinite(margin):
        return 0.0
    off = float(limit.margin(process.quantities(process.ran)[limit.quantity])[0]) - margin
    return off if np.isfinite(off) else 0.0


def _stretch(name: str, speeds: Array, margin: Array, now: float) -> BySpeed:
    """The stretch of speeds about the present one (or the nearest) on which a margin is positive."""
    good = margin >= 0.0
    if not good.any():
        return BySpeed(name, np.nan, np.nan)
    i = int(np.flatnonzero(good)[np.argmin(np.abs(np.log(speeds[good] / now)))])
    low, high = i, i
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(good) - 1 and good[high + 1]:
        high += 1

    def edge(a: int, b: int) -> float:
        return zero(speeds, margin, min(a, b)) if np.isfinite(margin[b]) else float(speeds[a])

    return BySpeed(
        name, edge(low, low - 1) if low > 0 else None, edge(high, high + 1) if high < len(good) - 1 else None
    )


def deciding(process: LineProcess, facts: Facts) -> Limit | None:
    """The limit on a temperature that is nearest to being broken (or most broken the other way round), None without one."""
    limits = [limit for limit in process.limits() if limit.dimension == "temperature"]
    values = process.quantities(facts)
    return min(limits, key=lambda limit: abs(float(limit.margin(values[limit.quantity])[0])), default=None)


def changes(process: LineProcess, limit: Limit) -> list[Change]:
    """What usual changes do to the quantity of a limit."""
    offers = offered(process)
    now = {
        path: float(np.ravel(process.case.value(path) or _usual(process, path))[0]) for _, own in offers for path in own
    }
    count = len(offers) + 1
    values = {path: np.full(count, value) for path, value in now.items()}
    for i, (_, own) in enumerate(offers):
        for path, value in own.items():
            values[path][i + 1] = value
    found, _ = at_values(process, values, count)
    row = found[limit.quantity]
    return [
        Change(words, limit.shown(float(row[i + 1])), float(row[i + 1] - row[0])) for i, (words, _) in enumerate(offers)
    ]


def _usual(process: LineProcess, path: str) -> float:
    """What stands for a key that the case leaves out."""
    from thermokit.processes.line_body import USUAL_CONTACT

    return USUAL_CONTACT if path.endswith(".contact") else 0.0


def offered(process: LineProcess) -> list[tuple[str, dict[str, float]]]:
    """Changes at the line that are worth telling: (words, path -> value)."""
    speed = process.pace
    found: list[tuple[str, dict[str, float]]] = [("10 % faster", {"line.speed": 1.1 * speed})]
    rolls = [s for s in process.case.stations if s.kind in HOT_ROLLS and float(np.ravel(s.temperature)[0]) > 320.0]
    for station in rolls:
        path = f"stations.{station.name}"
        rest = station.contact if station.contact is not None else _usual(process, ".contact")
        if TRAPPED < float(np.ravel(rest)[0]) <= CONTACT_BY_TENSION[2]:  # beyond it is pressed on, or sticks
            found.append(
                (f"air trapped on {station.name} (contact {TRAPPED:.0f} W/m2/K)", {f"{path}.contact": TRAPPED})
            )
        hotter = float(np.ravel(station.temperature)[0]) + MORE_ROLL
        found.append((f"{station.name} {MORE_ROLL:.0f} K hotter", {f"{path}.temperature": hotter}))
    water = {
        f"stations.{s.name}.temperature": float(np.ravel(s.temperature)[0]) + WARMER
        for s in process.case.stations
        if s.kind == "bath"
    }
    if water:
        found.append((f"water {WARMER:.0f} K warmer", water))
    lamps = {
        f"stations.{s.name}.setting": 0.9 * float(np.ravel(s.setting)[0])
        for s in process.case.stations
        if s.kind == "lamps"
    }
    if lamps:
        found.append(("lamps 10 % lower", lamps))
    sizes = wall_sizes(process)
    found.append(("5 % thicker", {path: 1.05 * value for path, value in sizes.items()}))
    return found


def wall_sizes(process: LineProcess) -> dict[str, float]:
    """Paths of the thicknesses (or masses) of the product's layers; a pipe's diameter stays."""
    found = {}
    rows = [(f"line.layers.{layer.name}", layer) for layer in process.line.layers]
    rows += [
        (f"stations.{s.name}.layers.{layer.name}", layer)
        for s in process.case.stations
        if s.kind == "coat"
        for layer in s.layers
    ]
    for path, layer in rows:
        for word in ("thickness", "mass"):
            value = getattr(layer, word)
            if value is not None:
                found[f"{path}.{word}"] = float(np.ravel(value)[0])
    return found


def zero(speeds: Array, row: Array, i: int) -> float:
    """Where a row crosses zero between speeds i and i + 1, by a monotone cubic through what is known of it."""
    from scipy.interpolate import PchipInterpolator

    known = np.isfinite(row)
    curve = PchipInterpolator(np.log(speeds[known]), row[known])
    fine = np.linspace(np.log(speeds[i]), np.log(speeds[i + 1]), 65)
    values = curve(fine)
    j = int(np.argmax(np.sign(values[1:]) != np.sign(values[:-1])))
    share = values[j] / (values[j] - values[j + 1]) if values[j] != values[j + 1] else 0.0
    return float(np.exp(fine[j] + share * (fine[j + 1] - fine[j])))
