"""Why the wall is what it is, and what limits fusing: sentences for the dipper, and flags on how the coat was heated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.dip_checks import FUSION
from thermokit.processes import dip_judgement
from thermokit.processes.dip_wall import LEAST, wall_curves
from thermokit.processes.media import typical

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.dip import DipProcess

ZERO = 273.15
TOLERANCE = 0.05  # K, of steps in runs that only explain
FUSES = 448.15  # K: 175 degC, where paste fuses within a minute or so
SKIN_SHUT = 423.15  # K: 150 degC, above which a skin holds back what boils under it; common practice, no source
BOILS, BOILED = 373.15, 393.15  # K: by then air and water leave; common practice, no source
CRACKS = 2.0  # K/s, film heating rate beyond which it may crack like mud; common practice, no source
LAGS = 0.02  # of the degree of fusion, between skin and interface, that is worth a sentence


@dataclass(frozen=True)
class OvenRows:
    """Rows of a run from the last dip on: time [s], interface (coat on former) and skin [K], and whether in an oven."""

    time: Array
    interface: Array
    skin: Array
    oven: NDArray[np.bool_]

    @classmethod
    def of(cls, process: DipProcess, history: History) -> OvenRows | None:
        """None where no oven comes after the last dip."""
        last = process.dips[-1]
        ovens = [i for i, s in enumerate(process.case.stations) if s.kind == "oven" and i > last]
        rows = history.span > last
        if not ovens or not np.any(rows):
            return None
        cells = process.cells(*process.article)
        return cls(
            history.time[rows],
            history.temperature[rows][:, cells[0]],
            history.outer_face[rows],
            np.isin(history.span[rows], ovens),
        )

    def time_above(self, value: Array, threshold: float) -> float:
        """Time above a temperature [s], rows joined by straight lines."""
        a, b, step = value[:-1] - threshold, value[1:] - threshold, np.diff(self.time)
        with np.errstate(divide="ignore", invalid="ignore"):
            part = np.where(a * b < 0.0, np.maximum(a, b) / np.abs(b - a), (a + b > 0.0).astype(float))
        return float((part * step).sum())

    def film_rate(self) -> float:
        """Fastest rise of the skin between two rows in an oven [K/s]."""
        both = self.oven[1:] & self.oven[:-1]
        rate = np.diff(self.skin) / np.maximum(np.diff(self.time), 1e-9)
        return float(np.max(rate[both], initial=0.0))

    def interface_when_skin_is(self, temperature: float) -> float | None:
        """Temperature of the interface when the skin first passes one [K]; None where it never does."""
        past = np.flatnonzero(self.skin >= temperature)
        if not len(past):
            return None
        i = int(past[0])
        if i == 0:
            return float(self.interface[0])
        share = (temperature - self.skin[i - 1]) / (self.skin[i] - self.skin[i - 1])
        return float(self.interface[i - 1] + share * (self.interface[i] - self.interface[i - 1]))


def flags(process: DipProcess, history: History) -> list[str]:
    """Blisters from a skin that shuts early, and cracks from a film that is heated too fast."""
    rows = OvenRows.of(process, history)
    found: list[str] = []
    if rows is None:
        return found
    lag = rows.interface_when_skin_is(SKIN_SHUT)
    if lag is not None and lag < BOILED:
        worse = "still below 100 degC" if lag < BOILS else "only between 100 and 120 degC"
        found.append(
            f"blisters: when the skin passes 150 degC the coat on the former is at {lag - ZERO:.0f} degC, {worse}; air and "
            "moisture under the skin lift it (heat more slowly at first, or preheat the former more)"
        )
    rate = rows.film_rate()
    if rate > CRACKS:
        found.append(
            f"mud-cracking: the skin heats at {rate:.1f} K/s, above {CRACKS:g} K/s; with volatile diluent in the paste it cracks"
        )
    return found


def heat_above(process: DipProcess, history: History, number: int, gels: float) -> float:
    """Heat that what is dipped holds above the gel point when it goes in, [J/m2 of its face]."""
    whole = history.ends[number - 1].temperature if number else None
    radius = history.edges + (_one(process.inner_radius) if process.shape != "plane" else 0.0)
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[process.shape]
    total, outer = 0.0, 0.0
    for name, _, medium, _ in process.layers():
        if name not in process.shown():
            continue
        cells = process.cells(name)
        t = np.full(len(cells), _one(process.case.former.start)) if whole is None else whole[cells]
        if not np.all(np.isfinite(t)):
            break
        first, last = process.edge(name)
        volume = np.diff(radius[first : last + 1] ** power) / power
        total += float(
            (typical(medium.density) * typical(medium.specific_heat) * volume * np.maximum(t - gels, 0.0)).sum()
        )
        outer = float(radius[last])
    return total / outer ** (power - 1) if outer else 0.0


def remarks(process: DipProcess, history: History, facts: Facts) -> list[str]:
    """Wall: growing or stalled, and why; fusion: where it lags, and why; withdrawal against the gel front."""
    from thermokit.processes.dip_outcomes import gel_point

    found: list[str] = []
    assert facts.travel is not None
    for i, curve in enumerate(wall_curves(process, facts.travel, TOLERANCE)):
        number = process.dips[i]
        station = process.case.stations[number]
        dwell = _one(station.duration)
        wall, name = curve.at(dwell), station.name
        gels = gel_point(process, 60.0) or 353.15
        heat = heat_above(process, history, number, gels)
        if curve.limit < LEAST:
            cling = _one(process.clinging(i))
            what = f"what stays is the {1e3 * cling:.2f} mm that clings" if cling > 0.0 else "nothing stays"
            found.append(f"{name}: the former brings no heat to gel paste with; {what}")
            continue
        reason = (
            f"the former brought {1e-3 * heat:.0f} kJ/m2 above {gels - ZERO:.0f} degC, where paste gels within a minute"
        )
        if curve.stall is not None and dwell >= curve.stall:
            found.append(
                f"{name}: the wall has stalled at {1e3 * wall:.2f} mm: after {curve.stall:.0f} s another minute adds less than "
                f"0.1 mm, the face has fallen to {curve.face_at(curve.stall) - ZERO:.0f} degC and has little heat left to gel "
                f"more; {reason}"
            )
        elif curve.stall is not None:
            found.append(
                f"{name}: at the end of the dwell the wall is {1e3 * wall:.2f} mm and still grows, the face is at "
                f"{curve.face_at(dwell) - ZERO:.0f} degC; it would stall at {1e3 * curve.at(curve.stall):.2f} mm, from about "
                f"{curve.stall:.0f} s on, when the former has little heat left; {reason}"
            )
        else:
            found.append(
                f"{name}: at the end of the dwell the wall is {1e3 * wall:.2f} mm and still grows, the face is at "
                f"{curve.face_at(dwell) - ZERO:.0f} degC; the former has heat for more than {1e3 * curve.limit:.1f} mm: the "
                f"dwell sets the wall; {reason}"
            )
        if station.withdrawal is not None:
            drawn = _one(process.drawn(i))
            if drawn > 0.5 * wall:
                found.append(
                    f"{name}: {1e3 * drawn:.2f} mm of liquid paste comes out on the gel: expect runs and tails; withdraw "
                    "more slowly, let it drain, or dwell longer"
                )
    found += _fusing(process, history, facts)
    return found


def _fusing(process: DipProcess, history: History, facts: Facts) -> list[str]:
    """What limits fusion: the interface on a heavy former, or the coat itself."""
    rows = OvenRows.of(process, history)
    if rows is None or FUSION not in facts.states:
        return []
    judged = process.judging(facts)
    fusion = dip_judgement.by_place(judged, facts)[FUSION]
    worst = int(np.argmin(np.broadcast_to(fusion, (judged.places(),))))
    cells = process.cells(*process.article)
    column = facts.states[FUSION][cells, worst]
    ends = [i for i, station in enumerate(process.case.stations) if station.kind == "oven" and i > process.dips[-1]]
    end = history.ends[ends[-1]]
    inner, skin = float(end.temperature[cells[0]]), end.outer_face
    mass = former_heat(process)
    where = int(np.argmin(column))
    words = f"lowest degree of fusion {column[where]:.2f}"
    if where < len(cells) / 2 and column[where] < column[-1] - LAGS:
        return [
            f"fusion: the interface limits it ({words}, at the skin {column[-1]:.2f}): the former, {1e-3 * mass:.1f} kJ/m2/K, "
            f"must be heated through the coat; at the end of the oven the coat is {inner - ZERO:.0f} degC on the former and "
            f"{skin - ZERO:.0f} degC at the skin"
        ]
    return [
        f"fusion: the coat fuses nearly evenly ({words}): the former, {1e-3 * mass:.1f} kJ/m2/K, follows the skin, "
        f"{inner - ZERO:.0f} and {skin - ZERO:.0f} degC at the end of the oven"
    ]


def former_heat(process: DipProcess) -> float:
    """Heat capacity of the bare former for each m2 of its face [J/m2/K]."""
    radius = _one(process.inner_radius) if process.shape != "plane" else 0.0
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[process.shape]
    total = 0.0
    for layer, wall in zip(process.case.former.layers, process.walls, strict=True):
        medium = process.stuff.medium(layer.material)
        outer = radius + _one(wall)
        total += typical(medium.density) * typical(medium.specific_heat) * (outer**power - radius**power) / power
        radius = outer
    return total / radius ** (power - 1)


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])
