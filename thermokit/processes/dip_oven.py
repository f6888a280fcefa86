"""An oven under its load: the air that all formers of a rack share, found together with them.

All formers are the cases of one batch. Given the air, the batch gives their faces; given the faces, the oven gives its air
(``exchange/lumped_oven.py``); the two go round until the air stands still. The air does not depend on when a station ends,
so one solve serves all durations that a dwell is sought among.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import Section, same
from thermokit.case.dip_ovens import AIR_HEAT
from thermokit.conduction.problem import Series
from thermokit.exchange.lumped_oven import Oven, loaded_air
from thermokit.processes.dip_rack import Rack, groups, load_of, members_of, plain, where
from thermokit.results.model import Axis, Field

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from thermokit.case.dip import DipCase
    from thermokit.conduction.problem import Array
    from thermokit.exchange.lumped_oven import Load
    from thermokit.processes.dip import DipProcess

ZERO = 273.15
STANDS_STILL = 0.05  # K, change of the air from round to round
ROUNDS = 15
NODES = 48  # of the air against time, besides doors
FINER = 8  # steps of the oven between two of them
LONGEST = 7200.0  # s, followed where the duration is sought; by then any oven has settled
BELOW = 40.0  # K under the set temperature, at which the radiation of the load is made straight for its stand-in
MOST_CASES = 64  # of which each has an oven of its own
STRAIGHT = 0.1  # K, by which the table of the air may leave what was found
NEAR = 2.0  # K below the set temperature that counts as reached


@dataclass(frozen=True)
class OvenAir:
    """Air of an oven under its load.

    series : for the faces of the case's own former; time (times,) [s]; air (times,) and faces (times, formers) [K] of the first
    case; names of the formers; heats : words -> [J], into the air positive; rounds; warnings.
    """

    series: Any
    time: Array
    air: Array
    faces: Array
    names: tuple[str, ...]
    heats: dict[str, float]
    rounds: int
    warnings: tuple[str, ...]

    def fields(self, station: str) -> list[Field]:
        """Air and faces against time, and the heat balance."""
        axis = Axis("time", "s", self.time, "time in the oven")
        formers = Axis("former", "1", self.names, "former on the rack")
        parts = Axis("part", "1", tuple(self.heats), "what gives and takes heat")
        name = "".join(c if c.isalnum() else "_" for c in station)  # as a group of the result file may be called
        return [
            Field(f"oven_{name}/air", (axis,), "degC", self.air - ZERO, "air of the oven under its load"),
            Field(f"oven_{name}/faces", (axis, formers), "degC", self.faces - ZERO, "faces of the formers in it"),
            Field(
                f"oven_{name}/heat",
                (parts,),
                "kJ",
                np.array([1e-3 * v for v in self.heats.values()]),
                "into the air positive",
            ),
        ]


def air_of_oven(process: DipProcess, number: int) -> OvenAir:
    """The air of the oven of a station, with all that stands in it; solved once for all that it depends on."""
    case = process.case
    station = case.stations[number]
    horizon = _horizon(station.duration)
    entry = case.ovens[station.oven]
    parts = (
        entry, case.former, case.paste, case.materials, case.kinetics, *case.stations[:number],
        *(getattr(station, f.name) for f in fields(station) if f.name != "duration"),
    )  # fmt: skip
    for known, length, air in entry.solved:
        # a run tells the heat of its own time; a study only wants the air, and a longer one holds that of shorter ones
        long_enough = length >= horizon if isinstance(station.duration, np.ndarray) else length == horizon
        if long_enough and len(known) == len(parts) and all(map(same, known, parts)):
            return air  # type: ignore[no-any-return]
    found = _solved(process, number, horizon)
    entry.solved.append((parts, horizon, found))
    return found


def _solved(process: DipProcess, number: int, horizon: float) -> OvenAir:
    case = process.case
    station = case.stations[number]
    own, off_mean = _up_to(case, number, horizon)
    cases = _cases(own)
    entry = own.ovens[station.oven]
    members = members_of(process, own, number)
    time = _times(horizon, entry.doors)
    fine = np.concatenate([time[:1], *(np.linspace(a, b, FINER + 1)[1:] for a, b in pairwise(time))])
    doors = _doors(fine, entry.doors)
    losses = entry.losses + AIR_HEAT * entry.air_change
    oven = Oven(entry.temperature, entry.room, entry.power, losses, entry.capacity, entry.band)
    start = entry.start if entry.start is not None else entry.temperature
    air = np.broadcast_to(np.asarray(start, float), (len(time), cases)).copy()
    racks = [Rack([members[i][2] for i in group], group, number, cases) for group in groups(members)]
    number_of = np.array([float(count) for _, count, _ in members])[:, None]
    count = np.concatenate([number_of] * (len(where(racks)) // len(members)))
    rounds, moved = 0, np.inf
    while moved > STANDS_STILL and rounds < ROUNDS:
        seen = [rack.faces(time, air) for rack in racks]
        faces = np.stack([seen[r][0][:, k] for r, k in where(racks)], axis=1)
        load = load_of(racks, count, faces[0], float(np.mean(np.asarray(entry.temperature))) - BELOW)
        off = _at(fine, time, faces) - load.stand_in(fine, _at(fine, time, air))
        whole, true = loaded_air(oven, load, fine, start, doors, off)
        new = whole[::FINER]
        moved, air, rounds = float(np.max(np.abs(new - air))), new, rounds + 1
    taken = np.stack([seen[r][1][k] for r, k in where(racks)[: len(members)]]) * number_of
    heats = _heats(oven, load, fine, whole, true, doors, taken)
    told = _warnings(entry, station, air[:, 0], moved, heats, horizon)
    kept = _telling(time, air)
    values = tuple(plain(row + off_mean) for row in air[kept])
    names = tuple(name for name, _, _ in members)
    return OvenAir(
        Series(tuple(time[kept].tolist()), values),
        time,
        air[:, 0],
        faces[:, : len(members), 0],
        names,
        heats,
        rounds,
        tuple(told),
    )


def _up_to(case: DipCase, number: int, horizon: float) -> tuple[DipCase, Any]:
    """(the case up to the end of a station that lasts as long as may be, what its air is off that of the case's own arrays).

    What comes later counts with its first case only. With more cases than MOST_CASES the oven of the mean case stands for all,
    moved by what each oven's set temperature is off the mean.
    """
    own = replace(case, stations=tuple(
        replace(station, duration=horizon) if i == number else station if i < number else _single(station, _first)
        for i, station in enumerate(case.stations)
    ), limits=_single(case.limits, _first))  # fmt: skip
    if _cases(own) <= MOST_CASES:
        return own, 0.0
    set_point = case.ovens[case.stations[number].oven].temperature
    return _single(own, lambda values: float(np.mean(values))), np.asarray(set_point) - float(np.mean(set_point))


def _single(part: Any, one: Callable[[Any], float]) -> Any:
    """A section of a case with one number in place of each array."""
    if isinstance(part, np.ndarray):
        return one(part) if part.ndim == 1 else part
    if isinstance(part, tuple):
        return tuple(_single(item, one) for item in part)
    if isinstance(part, Series):
        return Series(tuple(_single(t, one) for t in part.time), tuple(_single(v, one) for v in part.value))
    if isinstance(part, dict):
        return {name: _single(item, one) for name, item in part.items()}
    if isinstance(part, Section):
        changed = {f.name: _single(getattr(part, f.name), one) for f in fields(part)}
        return replace(part, **changed)
    return part


def _telling(time: Array, air: Array) -> NDArray[np.intp]:
    """Numbers of the nodes that are enough: straight lines between them stay within STRAIGHT of all others.

    Every node of a table costs a piece of a run. Ramer, Computer Graphics and Image Processing 1 (1972) 244.
    """
    kept = {0, len(time) - 1}
    open_ = [(0, len(time) - 1)]
    while open_:
        a, b = open_.pop()
        if b - a < 2:
            continue
        share = ((time[a + 1 : b] - time[a]) / (time[b] - time[a]))[:, None]
        off = np.abs(air[a + 1 : b] - air[a] - share * (air[b] - air[a])).max(axis=1)
        worst = int(np.argmax(off))
        if off[worst] > STRAIGHT:
            kept.add(a + 1 + worst)
            open_ += [(a, a + 1 + worst), (a + 1 + worst, b)]
    return np.array(sorted(kept), np.intp)


def _cases(case: Any) -> int:
    from thermokit.case.walk import leaves

    sizes = [np.size(v) for leaf in leaves(case) if isinstance(v := leaf.value, np.ndarray) and v.ndim == 1]
    return max(sizes, default=1)


def _horizon(duration: Any) -> float:
    if isinstance(duration, (int, float)):
        return float(duration)
    if isinstance(duration, np.ndarray):
        return min(float(np.max(duration)), LONGEST)
    return float(duration.high) if duration.high is not None else LONGEST


def _times(horizon: float, doors: Any) -> Array:
    """Nodes of the air: close together at the beginning and where a door moves."""
    first = max(horizon / 1000.0, 0.2)
    marks: list[Any] = [[0.0], np.geomspace(first, horizon, NODES)]
    for door in doors:
        opens, shuts = _first(door.at), _first(door.at) + _first(door.lasts)
        for mark in (opens, shuts):
            marks.append(mark + np.concatenate([[0.0], np.geomspace(0.5, 120.0, 12)]))
        marks.append(np.linspace(opens, shuts, 7))
    found = np.unique(np.concatenate(marks).round(6))
    found = found[found <= horizon]
    keep = np.concatenate([[True], np.diff(found) > 1e-3])
    return np.unique(np.append(found[keep], horizon))


def _doors(fine: Array, doors: Any) -> Array:
    """Room air through open doors in the step that ends at each time, (times,) [W/K]."""
    out = np.zeros(len(fine))
    middle = np.concatenate([[0.0], (fine[1:] + fine[:-1]) / 2.0])
    for door in doors:
        open_ = (middle >= _first(door.at)) & (middle < _first(door.at) + _first(door.lasts))
        out = out + np.where(open_, AIR_HEAT * _first(door.exchange), 0.0)
    return out


def _heats(oven: Oven, load: Load, fine: Array, air: Array, faces: Array, doors: Array, net: Array) -> dict[str, float]:
    """What gave and took heat [J], first case; what is astray is the formers' own account against that of the air."""
    step = np.diff(fine)

    def total(power: Array) -> float:
        return float((power[1:, 0] * step).sum())

    first = [_first(v) for v in (oven.losses, oven.room, oven.capacity)]
    taken = np.stack([load.taken(t, f) for t, f in zip(air, faces, strict=True)]).sum(axis=1)
    found = {
        "heaters": total(oven.heaters(air)),
        "walls and air change": -first[0] * total(air - first[1]),
        "doors": -total(doors[:, None] * (air - first[1])),
        "formers": -total(taken),
        "stored in the oven": -first[2] * float(air[-1, 0] - air[0, 0]),
    }
    # what the formers' own heat balance took less what the air gave them
    found["astray"] = float(net[:, 0].sum()) + found["formers"]
    return found


def _warnings(entry: Any, station: Any, air: Array, moved: float, heats: dict[str, float], horizon: float) -> list[str]:
    found = []
    goal = _first(entry.temperature)
    name = f"oven {station.oven} in station {station.name}"
    if moved > 2.0 * STANDS_STILL:
        found.append(f"{name}: its air and its load did not settle with each other, they still move by {moved:.2g} K")
    if air[-1] < goal - NEAR and isinstance(station.duration, (int, float)):
        found.append(
            f"{name}: not at its set temperature of {goal - ZERO:.0f} degC with this load: {air[-1] - ZERO:.0f} degC at the end "
            f"of {horizon:.0f} s; more power than {1e-3 * _first(entry.power):.3g} kW, fewer formers, or longer"
        )
    turned = sum(abs(v) for v in heats.values()) / 2.0
    if turned > 0.0 and abs(heats["astray"]) > 0.01 * turned:
        found.append(f"{name}: {100.0 * abs(heats['astray']) / turned:.1f} % of its heat balance is astray")
    return found


def _at(fine: Array, time: Array, values: Array) -> Array:
    """Values (times, ...) at finer times, straight between."""
    i = np.clip(np.searchsorted(time, fine, side="right") - 1, 0, len(time) - 2)
    share = ((fine - time[i]) / (time[i + 1] - time[i])).reshape(-1, *([1] * (values.ndim - 1)))
    return np.asarray(values[i] + share * (values[i + 1] - values[i]))


def _broad(value: Any, cases: int) -> Array:
    return np.asarray(np.broadcast_to(np.asarray(value, float), (cases,)))


def _first(value: Any) -> float:
    return float(np.ravel(value)[0])
