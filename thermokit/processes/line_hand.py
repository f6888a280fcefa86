"""The shop's formula for a line: an even body, station by station; what could open a window, what usually changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.line_stations import ROLLS
from thermokit.case.tables import Find
from thermokit.conduction.enthalpy import melted_share
from thermokit.conduction.problem import STEFAN_BOLTZMANN
from thermokit.processes.base import Hand
from thermokit.processes.line_course import legs_of
from thermokit.processes.line_speed import offered
from thermokit.processes.media import sensible_mean, typical

if TYPE_CHECKING:
    from thermokit.conduction.problem import Face
    from thermokit.processes.line import LineProcess

ZERO = 273.15
ABOVE_HELD = 5.0  # K by which the mean is aimed above a temperature that every place must have
STEPS = np.array([-30.0, -20.0, -15.0, -10.0, -5.0, 5.0, 10.0, 15.0, 20.0, 30.0])  # K, tried when no window is open
SHARES = np.array([0.6, 0.7, 0.8, 0.9, 1.1, 1.2])  # of the lamps' setting
LOOKS = 60  # settings of the first look
SPEEDS = (1e-3, 50.0)  # m/s between which the formula looks


@dataclass(frozen=True)
class Goal:
    """What the formula is solved for: number of the station at whose end the mean is to be at a temperature [K]; between : it
    stands between two limits, so for the middle of a window."""

    station: int
    temperature: float
    between: bool = False


def goal_of(process: LineProcess) -> Goal | None:
    """The mean (else face or back) that limits ask for: of a layer that is held at the end of the lamps, else where there
    is a least and a most, their middle; else at the last station with a limit. None where no temperature is asked for."""
    held = process.case.limits.held
    stations = process.case.stations
    if held is not None:
        hot = [i for i, s in enumerate(stations) if s.kind == "lamps"]
        hot = hot or [i for i, s in enumerate(stations) if s.kind in ("oven", "drum", "roll")]
        if hot:
            return Goal(hot[-1], float(np.ravel(held.temperature)[0]) + ABOVE_HELD)
    found = []
    for number in range(len(stations) - 1, -1, -1):
        for place in ("mean", "back", "face"):
            ends = [getattr(stations[number].limits, f"{place}_{end}") for end in ("least", "most")]
            known = [float(np.ravel(x)[0]) for x in ends if x is not None]
            if known:
                found.append(Goal(number, sum(known) / len(known), len(known) > 1))
    return next((goal for goal in found if goal.between), found[0] if found else None)


@dataclass(frozen=True)
class Step:
    """A span as an even body sees it: time constant [s], what it goes to [K]; by the state when it begins."""

    heat: float
    exchange: float
    settled: float

    @property
    def tau(self) -> float:
        """Time constant [s]."""
        return self.heat / self.exchange if self.exchange > 0.0 else np.inf


def hand(process: LineProcess) -> Hand | None:
    """T = Te + (T0 - Te) exp(-t/tau) from station to station, solved for the speed or the length that is sought.

    tau = sum(rho cp L)/U, U the sum over both faces of 1/(1/h + R/3), R the resistance through the thickness, Te where the
    stations' temperatures and heats balance; radiation is counted in h. Latent heat is spread over the way to the goal. None
    without a goal, or where no setting reaches it. Common practice, no source.
    """
    from thermokit.case import sought_path

    goal, path = goal_of(process), sought_path(process.case)
    if goal is None or path is None:
        return None
    low, high = SPEEDS if path == "line.speed" else (1e-3, 1e5)

    def miss(value: float) -> float:
        return march(process, path, value, goal)[0] - goal.temperature

    tried = np.geomspace(low, high, LOOKS)
    met = np.sign([miss(float(value)) for value in tried])
    changes = np.flatnonzero(met[1:] != met[:-1])
    if not len(changes):
        return None
    # at a crawl everything ends as its surroundings: the crossing on the fast side, of lengths the first, is the one meant
    i = int(changes[-1] if path == "line.speed" else changes[0])
    low, high = float(tried[i]), float(tried[i + 1])
    for _ in range(40):
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if np.sign(miss(middle)) == met[i] else (low, middle)
    value = float(np.sqrt(low * high))
    _, step, seconds, name = march(process, path, value, goal)
    found = f"{60.0 * value:.3g} m/min" if path == "line.speed" else f"{value:.3g} m"
    tau = f"{step.tau:.3g}" if np.isfinite(step.tau) else "endless"
    unit = "kJ/m2/K" if process.shape == "plane" else "kJ/m/K"
    formula = (
        f"T = Te + (T0 - Te) exp(-t/tau) from station to station, mean {goal.temperature - ZERO:.0f} degC at the end of "
        f"{process.case.stations[goal.station].name}: {found}; in {name} tau = sum(rho cp L)/U = {1e-3 * step.heat:.3g} {unit} / "
        f"{step.exchange:.3g} = {tau} s, Te = {step.settled - ZERO:.0f} degC, t = {seconds:.2f} s"
    )
    formula += "; of other limits it knows nothing"
    edge = not goal.between
    return Hand(value, formula, (), of_earliest=edge and path != "line.speed", of_latest=edge and path == "line.speed")


def march(process: LineProcess, path: str, value: float, goal: Goal) -> tuple[float, Step, float, str]:
    """(mean at the end of the goal's station [K]; the step that changes it most, its time [s], its station) for one setting."""
    other = type(process)(process.case.with_values({path: value}), process.stuff)
    edges = {name: np.array([0.0, 1.0]) for name in other.shown()}
    legs = legs_of(other, edges)
    own = {p.name: float(np.ravel(p.start)[0]) for leg in legs for p in leg.pieces}
    for leg in legs:
        if leg.preheat is not None:
            own |= dict.fromkeys(leg.warmed, float(np.ravel(leg.preheat)[0]))
    last_span = other.last_span(goal.station)
    t: float | None = None
    on: set[str] = set()
    told, count = (-1.0, Step(1.0, 0.0, 0.0), 0.0, ""), 0
    for leg in legs:
        heats = {p.name: _heat(other, p, leg.ratio, own[p.name], goal.temperature) for p in leg.pieces}
        fresh = [p.name for p in leg.pieces if p.name not in on]
        was = sum(heats[n] for n in on)
        t = ((t or 0.0) * was + sum(heats[n] * own[n] for n in fresh)) / (was + sum(heats[n] for n in fresh))
        on |= set(fresh)
        for span in leg.spans:
            heat = sum(heats.values())
            step = _step(other, leg, span, heat, t)
            duration, before = float(np.ravel(span.duration)[0]), t
            if step.exchange > 0.0:
                t = step.settled + (t - step.settled) * float(np.exp(-duration / step.tau))
            else:
                t += step.settled * duration / heat  # no exchange: settled holds the flux
            told = max(told, (abs(t - before), step, duration, span.name), key=lambda x: x[0])
            count += 1
            if count > last_span:
                return t, *told[1:]
    assert t is not None
    return t, *told[1:]


def _heat(process: LineProcess, piece: Any, ratio: Any, start: float, goal: float) -> float:
    """Heat capacity by area (of what is round by length) on the way from start to goal, latent heat spread over it."""
    medium = piece.medium
    low, high = sorted((start, goal))
    cp = sensible_mean(medium.specific_heat, low, high) if high > low + 1.0 else typical(medium.specific_heat)
    if medium.melting is not None and high > low + 1.0:
        curve = medium.crystallising if medium.crystallising is not None and goal < start else medium.melting
        share = melted_share(np.array([low, high]), curve)
        cp += float(medium.melting.heat) * float(share[1] - share[0]) / (high - low)
    drawn = float(np.ravel(ratio)[0]) / float(np.ravel(piece.since)[0])
    if process.shape == "plane":
        return typical(medium.density) * cp * float(np.ravel(piece.thickness)[0]) / drawn
    outer, inner = _radii(process)[piece.name]
    return typical(medium.density) * cp * np.pi * (outer**2 - inner**2) / drawn


def _radii(process: LineProcess) -> dict[str, tuple[float, float]]:
    """(outer, inner) radius of each layer where it comes on [m]."""
    found, radius = {}, float(np.ravel(process.inner_radius)[0])
    for name, thickness, *_ in process.layers():
        outer = radius + float(np.ravel(thickness)[0])
        found[name], radius = (outer, radius), outer
    return found


def _step(process: LineProcess, leg: Any, span: Any, heat: float, t: float) -> Step:
    drawn = float(np.ravel(leg.ratio)[0])
    thin = np.sqrt(drawn) if process.shape == "cylinder" else drawn
    product = [p for p in leg.pieces if p.name in process.product_layers] or list(leg.pieces)
    resistance = sum(float(np.ravel(p.thickness)[0]) / typical(p.medium.conductivity) for p in product) / thin
    area = {"inner": 1.0, "outer": 1.0}
    if process.shape == "cylinder":
        radii = _radii(process)
        outer, inner = radii[leg.pieces[-1].name][0] / thin, radii[leg.pieces[0].name][1] / thin
        area = {"inner": 2.0 * np.pi * inner, "outer": 2.0 * np.pi * outer}
    total = drive = 0.0
    for word, face in (("inner", span.inner), ("outer", span.outer)):
        h, pull, heating = _of_face(face, t)
        if h > 0.0:
            u = area[word] / (1.0 / h + resistance / 3.0)
            total, drive = total + u, drive + u * pull / h
        drive += area[word] * heating
    for source in span.sources:
        thick = sum(float(np.ravel(p.thickness)[0]) for p in leg.pieces) / thin
        drive += float(np.mean(source.density)) * thick
    return Step(heat, total, drive / total if total > 0.0 else drive)


def _of_face(face: Face, t: float) -> tuple[float, float, float]:
    """(coefficient with radiation, sum of coefficient x temperature, prescribed flux) of a face at about ``t`` [K]."""
    h = pull = 0.0
    for exchange in face.exchange:
        own = float(np.ravel(exchange.coefficient)[0])  # type: ignore[arg-type]
        h, pull = h + own, pull + own * float(np.ravel(exchange.temperature)[0])  # type: ignore[arg-type]
    for seen in face.radiation:
        around = float(np.ravel(seen.temperature)[0])  # type: ignore[arg-type]
        own = 4.0 * float(np.ravel(seen.factor)[0]) * STEFAN_BOLTZMANN * ((t + around) / 2.0) ** 3
        h, pull = h + own, pull + own * around
    heating = face.heating
    return h, pull, float(np.ravel(heating)[0]) if isinstance(heating, (int, float, np.ndarray)) else 0.0


def openers(process: LineProcess) -> list[tuple[str, dict[str, Any], Any]]:
    """Other rolls, other water, other lamps."""
    found: list[tuple[str, dict[str, Any], Any]] = []
    stations = process.case.stations
    groups = (
        ("rolls and drums", [s for s in stations if s.kind in ROLLS and float(np.ravel(s.temperature)[0]) > 320.0]),
        ("water", [s for s in stations if s.kind == "bath"]),
        ("oven", [s for s in stations if s.kind == "oven"]),
    )
    for words, group in groups:
        if not group:
            continue
        first = float(np.ravel(group[0].temperature)[0])
        steps = STEPS[first + STEPS > ZERO + 1.0] if words == "water" else STEPS
        values = {f"stations.{s.name}.temperature": float(np.ravel(s.temperature)[0]) + steps for s in group}
        spoken = group[0].name if len(group) == 1 else words
        found.append((f"{spoken} at {{}} degC", values, first + steps - ZERO))
    lamps = [s for s in stations if s.kind == "lamps"]
    if lamps:
        shares = SHARES[float(np.ravel(lamps[0].setting)[0]) * SHARES <= 1.2]
        values = {f"stations.{s.name}.setting": float(np.ravel(s.setting)[0]) * shares for s in lamps}
        found.append(("lamps at {} %", values, 100.0 * float(np.ravel(lamps[0].setting)[0]) * shares))
    return found


def shifts(process: LineProcess) -> list[tuple[str, dict[str, Any]]]:
    """What most often changes at the line; the speed too where it is not what is sought."""
    if not isinstance(process.line.speed, Find):
        return list(offered(process))
    standing = type(process)(process.case.with_values({"line.speed": 1.0}), process.stuff)
    return [(words, own) for words, own in offered(standing) if "line.speed" not in own]
