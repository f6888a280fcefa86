"""Answers of a single dip run: outcomes, warnings, and what it leaves beside its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.dip_checks import DOSE, FUSION
from thermokit.conduction.follow import follow
from thermokit.exchange.air_film import outside_of_air
from thermokit.exchange.drag_out import HIGH_CAPILLARY, capillary_number
from thermokit.kinetics.guards import GAS_CONSTANT
from thermokit.kinetics.pvc import Gelation
from thermokit.processes import dip_bath, dip_judgement, dip_remarks
from thermokit.processes.base import facts_of_run
from thermokit.processes.dip_wall import wall_curves
from thermokit.processes.media import typical
from thermokit.results.model import Axis, Field, Outcome

if TYPE_CHECKING:
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.dip import DipProcess

ZERO = 273.15


def place(process: DipProcess, depth: float) -> str:
    """A depth in words, for what is known without the run: the former's own layers, else the coat."""
    total = 0.0
    if depth <= 0.0:
        return (
            "inside of the former" if process.shape == "plane" or np.any(process.inner_radius) else "axis of the former"
        )
    for layer, wall in zip(process.case.former.layers, process.walls, strict=True):
        total += float(np.ravel(wall)[0])
        if depth <= total * (1.0 + 1e-9):
            return f"in the former ({layer.name}), {1e3 * (total - depth):.3g} mm under its face"
    return f"{1e3 * (depth - total):.3g} mm outside the former"


def place_in_layer(process: DipProcess, cell: int, facts: Facts) -> str:
    """A cell of the body in words."""
    for name in process.article:
        cells = process.cells(name)
        if cells[0] <= cell <= cells[-1]:
            if cell == cells[0] and name == process.article[0]:
                return f"{name}, at the former"
            if cell == cells[-1] and name == process.article[-1]:
                return f"{name}, at the skin"
            edge = facts.edges[process.edge(name)[0], 0]
            return f"{name}, {1e3 * (facts.depth[1 + cell, 0] - edge):.3g} mm from its inner side"
    return place(process, float(facts.depth[1 + cell, 0]))


def outcomes(process: DipProcess, history: History, facts: Facts) -> list[Outcome]:
    """What the setting sheet of a dip asks for."""
    finished = len(history.ends) == len(process.case.stations)
    if not finished or facts.travel is None:
        return []
    found: list[Outcome] = []

    def put(name: str, value: Any, unit: str, words: str) -> None:
        found.append(Outcome(name, float(np.ravel(value)[0]), unit, words))

    judged = process.judging(facts)
    values = dip_judgement.by_place(judged, facts)
    curves = wall_curves(process, facts.travel, dip_remarks.TOLERANCE)
    for i, (number, curve) in enumerate(zip(process.dips, curves, strict=True)):
        station = process.case.stations[number]
        dwell = float(np.ravel(station.duration)[0])
        tag = f"_{i + 1}" if len(process.dips) > 1 else ""
        words = f", dip {i + 1}" if tag else ""
        put(
            f"former_at_dip{tag}",
            _face_before(process, history, number) - ZERO,
            "degC",
            f"dipped face when it goes in{words}",
        )
        put(f"former_after_dip{tag}", curve.face_at(dwell) - ZERO, "degC", f"dipped face when it comes out{words}")
        put(f"gelled{tag}", 1e3 * curve.at(dwell), "mm", f"paste that has gelled on it{words}")
        if station.withdrawal is not None:
            put(
                f"drawn{tag}",
                1e3 * _one(process.drawn(i)),
                "mm",
                f"liquid paste that clings when it is drawn out{words}",
            )
            put(
                f"clinging{tag}",
                1e3 * _one(process.clinging(i)),
                "mm",
                f"liquid paste that is left of it after draining{words}",
            )
        if curve.stall is not None:
            put(
                f"gel_limit{tag}",
                1e3 * curve.limit,
                "mm",
                f"gel after {curve.dwell[-1]:.0f} s{words}",
            )
            put(f"stall_time{tag}", curve.stall, "s", f"dwell from which another minute adds less than 0.1 mm{words}")
        put(
            f"front_speed{tag}",
            1e3 * curve.speed(dwell),
            "mm/s",
            f"speed of the gel front at the end of the dwell{words}",
        )
    for name, value in zip(judged.at, np.broadcast_to(values["wall"], (judged.places(),)), strict=True):
        at = "" if name == "middle" else f"_{name}"
        where = "in the middle of the dipped length" if name == "middle" else f"at the {name}"
        if name in ("middle", "top", "bottom"):
            put(f"wall{at}", 1e3 * value, "mm", f"all coats, {where}")
    if process.case.former.shape == "capped":
        cap = process.cap()
        ball = dip_judgement.by_place(
            cap, facts_of_run(follow(cap.course(process.edges), None, dip_remarks.TOLERANCE).history)
        )
        put("cap_wall", 1e3 * ball["wall"], "mm", "all coats, on the ball at the end")
        if FUSION in ball:
            put("cap_fusion_degree", ball[FUSION], "1", "lowest degree of fusion on the ball at the end")
    mass = 1e3 * typical(process.paste_medium.density) * dip_judgement.coat_volume(judged, facts)[0]
    put("coat_mass", mass, "g/m2", "coats of one m2 of former")
    put("article_mass", mass * _one(process.area), "g", "coats of one former")
    worst = dip_judgement.quantities(process, facts)
    if FUSION in worst:
        put(FUSION, worst[FUSION], "1", "lowest degree of fusion anywhere in the coat at the end")
    if DOSE in worst:
        put(DOSE, worst[DOSE], "1", "share of the heat life used up in the hottest place")
    put("skin", worst["skin"] - ZERO, "degC", "hottest place of the coat at any time")
    rows = dip_remarks.OvenRows.of(process, history)
    if rows is not None:
        put(
            "interface",
            float(np.max(rows.interface)) - ZERO,
            "degC",
            "hottest that the coat gets where it lies on the former",
        )
        put(
            "interface_hot_time",
            rows.time_above(rows.interface, dip_remarks.FUSES),
            "s",
            "time that the coat is above 175 degC where it lies on the former",
        )
        put("film_rate", rows.film_rate(), "K/s", "fastest that the skin heats in an oven")
        lag = rows.interface_when_skin_is(dip_remarks.SKIN_SHUT)
        if lag is not None:
            put(
                "interface_when_skin_shuts",
                lag - ZERO,
                "degC",
                "where the coat lies on the former when the skin passes 150 degC",
            )
    if process.strip is not None:
        put(
            "strip_temperature",
            worst["strip_most"] - ZERO,
            "degC",
            "coat where it lies on the former, when it is stripped",
        )
        put(
            "former_at_strip",
            dip_judgement.former_face(process, facts_of_run(history), process.strip)[0] - ZERO,
            "degC",
            "face of the former when it is stripped",
        )
    if process.case.paste.bath is not None:
        bath = process.case.paste.bath
        put("bath", worst["bath"] - ZERO, "degC", f"bath at the end of a shift of {_one(bath.shift) / 3600.0:.3g} h")
        put(
            "heat_to_bath",
            1e-3 * dip_bath.heat_left(judged, facts)[0] * _one(process.area),
            "kJ",
            "heat that one former leaves in the bath",
        )
    return found


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])


def _face_before(process: DipProcess, history: History, number: int) -> float:
    """Outermost cell of what is dipped, before a station [K]."""
    if number == 0:
        return _one(process.case.former.start)
    whole = history.ends[number - 1].temperature
    return float(whole[np.flatnonzero(np.isfinite(whole))[-1]])


def fields(process: DipProcess, travel: Travel, facts: Facts, edges: Any, tolerance: float) -> tuple[Field, ...]:
    """Wall against dwell of every dip, the places, the air of ovens under load."""
    found: list[Field] = []
    for i, curve in enumerate(wall_curves(process, travel, dip_remarks.TOLERANCE)):
        axis = Axis("dwell", "s", curve.dwell, "dwell in the paste")
        found.append(Field(f"dip_{i + 1}/wall", (axis,), "mm", 1e3 * curve.wall, "paste that has gelled"))
        found.append(Field(f"dip_{i + 1}/face", (axis,), "degC", curve.face - ZERO, "dipped face"))
    judged = process.judging(facts)
    if judged.places() > 1:
        places = Axis("place", "1", judged.at, "place on the former")
        values = dip_judgement.by_place(judged, facts)
        for name, unit in (("wall", "mm"), (FUSION, "1"), (DOSE, "1"), ("skin", "degC")):
            if name in values:
                value: Array = np.broadcast_to(values[name], (judged.places(),))
                shown = 1e3 * value if unit == "mm" else value - ZERO if unit == "degC" else value
                found.append(
                    Field(f"places/{name}", (places,), unit, np.array(shown), f"{name.replace('_', ' ')} by place")
                )
    for number, air in process.ovens_solved().items():
        found += air.fields(process.case.stations[number].name)
    return tuple(found)


def gel_point(process: DipProcess, seconds: float) -> float | None:
    """Temperature at which paste reaches the degree that stays within a time [K]; None for kinetics of another law.

    k t = -ln(1 - stays), k = rate exp[-E/R (1/T - 1/T_ref)].
    """
    law = next((r.rate for r in process.reactions() if r.state == "gel_degree"), None)
    if not isinstance(law, Gelation):
        return None
    needed = -np.log1p(-_one(process.case.paste.stays)) / seconds
    inverse = 1.0 / _one(law.reference_temperature) - GAS_CONSTANT / _one(law.energy) * np.log(needed / _one(law.rate))
    return float(1.0 / inverse)


def warnings(process: DipProcess, history: History) -> list[str]:
    """What in the run lies outside what is known."""
    gelling = f"kinetics {process.states.get('gel_degree')}:"  # hotter than its range all is gelled at once: no matter
    found = [told for told in process.stuff.warnings(history) if not told.startswith(gelling)]
    paste = process.case.paste
    for i, number in enumerate(process.dips):
        station = process.case.stations[number]
        if station.withdrawal is not None:
            ca = float(np.max(capillary_number(paste.viscosity, station.withdrawal, paste.surface_tension)))
            if ca > HIGH_CAPILLARY:
                found.append(
                    f"station {station.name}: withdrawal faster than the theory's range: drag over surface tension is "
                    f"{ca:.2g}, the film is known up to {HIGH_CAPILLARY:g}; below "
                    f"{1e3 * HIGH_CAPILLARY * _one(paste.surface_tension) / _one(paste.viscosity):.3g} mm/s it would hold"
                )
        if len(history.ends) <= number:
            continue
        face = _face_before(process, history, number)
        gels = gel_point(process, _one(station.duration))
        if gels is not None and face < gels and station.withdrawal is None:
            found.append(
                f"station {station.name}: the former goes in at {face - ZERO:.0f} degC, colder than the gel point of "
                f"{gels - ZERO:.0f} degC for this dwell: nothing stays on it"
            )
        elif gels is not None and face < gels and face > _one(process.bath_temperature(number)) + 20.0:
            found.append(
                f"station {station.name}: the former goes in at {face - ZERO:.0f} degC, colder than the gel point of "
                f"{gels - ZERO:.0f} degC for this dwell: it warms the paste without gelling it"
            )
        if i < len(process.coats):
            first, last = process.edge(process.coats[i])
            thick = float(history.edges[last] - history.edges[first])
            if thick > 0.95 * _one(process.paste_depth(number)):
                found.append(
                    f"station {station.name}: all the paste that is followed has gelled or clings; give paste.depth more"
                )
    for station in process.case.stations:
        air = station if station.kind == "oven" else getattr(station, "air", None)
        if air is not None and air.speed is not None and air.coefficient is None:
            size = process.case.former.length if process.shape == "plane" else process.diameter
            told = outside_of_air(process.shape, _one(size), _one(air.speed), 370.0)
            if told:
                found.append(f"station {station.name}: {told}")
    for air in process.ovens_solved().values():
        found += air.warnings
    found += dip_remarks.flags(process, history)
    return found
