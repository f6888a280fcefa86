"""What a sheet is judged by: limits, the quantities that they look at, outcomes, remarks and warnings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.sheet_stations import PanelsStation
from thermokit.conduction.watch import along
from thermokit.kinetics.softening import softened_time
from thermokit.processes import shaping_judgement, sheet_anneal, sheet_heaters, sheet_shots, sheet_skin
from thermokit.processes.base import Facts, Limit
from thermokit.processes.media import typical
from thermokit.results.model import Outcome

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Array
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
TOLERANCE = 0.03  # K, of the steps by which shots are followed
CLEAR = 0.05  # m, a sheet keeps at least so far from the lower panel; common practice, no source


def window(process: SheetProcess) -> tuple[Any, Any]:
    """(lower, upper) forming limit [K] of the case, or else of the material; None where neither gives one."""
    given, forming = process.case.limits, getattr(process.record, "forming", None) or {}
    lower = given.coldest_point if given.coldest_point is not None else forming.get("lower")
    upper = given.hottest_face if given.hottest_face is not None else forming.get("upper")
    return lower, upper


def limits(process: SheetProcess) -> tuple[Limit, ...]:
    """The limits that the case or its material puts."""
    given, (lower, upper) = process.case.limits, window(process)
    at_touch = "when the sheet reaches the tool" if process.release is not None else "at the end of the last station"
    found = []
    if lower is not None and (process.touch >= 0 or given.coldest_point is not None):
        found.append(Limit("coldest_point", "coldest_point", True, lower, where=f"coldest point, {at_touch}"))
    if upper is not None:
        found.append(Limit("hottest_face", "hottest_face", False, upper, where="hottest face, at any time"))
    release = given.release_temperature
    if release is None and process.release is not None:
        release = (getattr(process.record, "forming", None) or {}).get("release_high")
    for name, bound, dimension, where in (
        (
            "face_core_difference",
            given.face_core_difference,
            "temperature_difference",
            f"hottest less coldest, {at_touch}",
        ),
        (
            "map_spread",
            given.map_spread,
            "temperature_difference",
            f"hottest less coldest mean over the map, {at_touch}",
        ),
        ("sag_index", given.sag_index, "fraction", f"sag number over that of the known-good run, {at_touch}"),
        ("heat_dose", given.heat_dose, "fraction", "hottest place, over all stations"),
        ("release_temperature", release, "temperature", "hottest plane, at release"),
        ("release_difference", given.release_difference, "temperature_difference", "between the faces, at release"),
    ):
        if bound is not None:
            found.append(Limit(name, name, False, bound, dimension, where))
    return (*found, *shaping_judgement.limits(process))


def at_touch(process: SheetProcess, facts: Facts) -> Array:
    """Profile when the sheet reaches the tool, (points, cases) [K]."""
    if process.touch >= 0:
        return facts.stations[process.touch]
    start = np.asarray(process.case.sheet.start, float)
    return np.asarray(np.broadcast_to(start, facts.final.shape))


def mean_of(facts: Facts, profile: Array) -> Array:
    """Mean through the thickness of a profile (points, cases)."""
    width = np.diff(facts.edges, axis=0)
    return np.asarray((profile[1:-1] * width).sum(axis=0) / width.sum(axis=0))


def by_place(process: SheetProcess, facts: Facts) -> dict[str, Array]:
    """Every quantity at every place of every case, (cases x places,) in SI."""
    touch = at_touch(process, facts)
    coldest = touch.min(axis=0)
    found = {
        "coldest_point": coldest,
        "hottest_face": facts.hottest,
        "face_core_difference": touch.max(axis=0) - coldest,
        "mean_temperature": mean_of(facts, touch),
        "upper_face": touch[0],
        "lower_face": touch[-1],
    }
    if process.release is not None:
        released = facts.stations[process.release]
        found["release_temperature"] = released.max(axis=0)
        found["release_difference"] = np.abs(released[-1] - released[0])
    if "heat_dose" in facts.states:
        found["heat_dose"] = np.fmax.reduce(facts.states["heat_dose"], axis=0)
    sag = process.case.sheet.sag
    if sag is not None:
        number = _sag_number(process, facts)
        found["sag_number"] = number
        if sag.known_good is not None:
            found["sag_index"] = number / sag.known_good
    return found | shaping_judgement.by_place(process, facts)


def _sag_number(process: SheetProcess, facts: Facts) -> Array:
    """Integral of exp[rate (T - softening)] dt, mean through the thickness, times span^2/thickness [m s]."""
    sheet = process.case.sheet
    assert sheet.sag is not None
    if process.touch < 0:
        return np.zeros(facts.final.shape[1])
    width = np.diff(facts.edges, axis=0)
    own = softened_time(facts.station_states[process.touch]["sag_state"])
    time = (own * width).sum(axis=0) / width.sum(axis=0)
    span = sheet.sag.span if sheet.sag.span is not None else np.minimum(sheet.length, sheet.width)  # type: ignore[arg-type]
    return np.asarray(time * np.asarray(span) ** 2 / np.asarray(sheet.thickness))


#: quantities of which the smallest place counts; of all others it is the largest
SMALLEST = ("coldest_point", "least_thickness", "coldest_at_vacuum_release")


def quantities(process: SheetProcess, facts: Facts) -> dict[str, Array]:
    """What limits are put on, the worst of the places, (cases,) in SI."""
    process = process.judging(facts)
    m = process.places()
    found = {}
    for name, values in by_place(process, facts).items():
        table = np.reshape(np.broadcast_to(values, np.shape(facts.hottest)), (-1, m))
        found[name] = table.min(axis=1) if name in SMALLEST else table.max(axis=1)
        if name == "mean_temperature":
            found["map_spread"] = table.max(axis=1) - table.min(axis=1)
        if name == "mean_at_release":
            found["crown_difference"] = table.max(axis=1) - table.min(axis=1)
    return found


def found_at(process: SheetProcess, limit: Limit, history: History, facts: Facts) -> tuple[str, float | None]:
    """Place in words, and time [s], of what a limit looks at."""
    ends = [end.time for end in history.ends]
    touch = ends[process.touch] if process.touch >= 0 else 0.0
    if limit.quantity == "map_spread":
        return limit.where, touch
    if limit.quantity == "crown_difference":
        return limit.where, history.ending.time
    values = by_place(process, facts)[limit.quantity]
    i = int(np.argmin(values) if limit.quantity in SMALLEST else np.argmax(values))
    place = process.at.words(i, process.regions)
    if limit.quantity == "hottest_face":
        depth = process.place(history.hottest.depth)
        when = float(facts.hottest_when[i])
        return ", ".join(x for x in (depth if process.places() == 1 else "", place) if x) or "hottest face", when
    if limit.quantity == "coldest_point":
        cell = int(np.argmin(at_touch(process, facts)[:, i]))
        depth = process.place(float(facts.depth[cell, i if facts.depth.shape[1] > 1 else 0]))
        return ", ".join(x for x in (depth, place) if x), touch
    plan = process.plan
    if plan is not None and plan.first_touch and limit.quantity in shaping_judgement.AT_FIRST_TOUCH:
        touch = ends[plan.first_touch - 1]
    release = process.release
    when = ends[release] if limit.quantity.startswith("release") and release is not None else touch
    return ", ".join(
        x for x in (limit.where, place) if x
    ), history.ending.time if limit.quantity == "heat_dose" else when


def outcomes(process: SheetProcess, history: History, facts: Facts) -> list[Outcome]:
    """Answers of a single run: the worst places first, then the middle of the sheet."""
    found = {name: float(value[0]) for name, value in quantities(process, facts).items()}
    ends = history.ends
    reached = process.release is not None
    then = "when the sheet reaches the tool" if reached else "at the end of the last station"
    touch = _own_touch(process, history)
    depth = np.concatenate([[0.0], history.centres, [history.edges[-1]]])
    over = " over the sheet" if process.judging(facts).places() > 1 else ""
    out = [
        _degrees("coldest_point", found["coldest_point"], f"coldest point{over} {then}"),
        _degrees("hottest_face", found["hottest_face"], f"hottest point{over} at any time"),
        Outcome("hottest_time", float(facts.hottest_when[int(np.argmax(facts.hottest))]), "s", "when that is"),
        Outcome("face_core_difference", found["face_core_difference"], "K", f"hottest less coldest point {then}"),
        _degrees("upper_face", touch[0], "upper face then, middle of the sheet"),
        _degrees("middle", float(along(depth, touch[None, :], float(history.edges[-1]) / 2)[0]), "mid-thickness then"),
        _degrees("lower_face", touch[-1], "lower face then"),
        _degrees("mean_temperature", _mean(history, touch), "mean through the thickness then"),
    ]
    if process.judging(facts).places() > 1 and process.touch >= 0:
        out.append(Outcome("map_spread", found["map_spread"], "K", "hottest less coldest mean over the sheet then"))
    if "sag_number" in found:
        out += _sag(process, found)
    if "heat_dose" in found:
        out.append(Outcome("heat_dose", found["heat_dose"], "1", "share of the heat life used at the hottest place"))
    if process.release is not None:
        out += sheet_skin.outcomes(process, history, facts, found, ends[process.release].time)
        if facts.travel is not None:
            out += sheet_shots.outcomes(process, sheet_skin.edges_of(process, facts.travel), TOLERANCE)
    out += shaping_judgement.outcomes(process, history, facts)
    return [*out, *_of_part(process, history), *sheet_heaters.outcomes(process, history)]


def _own_touch(process: SheetProcess, history: History) -> Array:
    """Profile of the run itself when it reaches the tool, (points,) [K]."""
    if process.touch < 0:
        return np.full(len(history.centres) + 2, float(np.ravel(process.case.sheet.start)[0]))
    end = history.ends[process.touch]
    return np.concatenate([[end.inner_face], end.temperature, [end.outer_face]])


def _mean(history: History, profile: Array) -> float:
    width = np.diff(history.edges)
    return float((profile[1:-1] * width).sum() / width.sum())


def _degrees(name: str, value: float, meaning: str) -> Outcome:
    return Outcome(name, float(value) - ZERO, "degC", meaning)


def _sag(process: SheetProcess, found: dict[str, float]) -> list[Outcome]:
    sag = process.case.sheet.sag
    assert sag is not None
    out = [
        Outcome("sag_number", found["sag_number"], "m s", "sag number: only its ratio to another run means something")
    ]
    if "sag_index" in found:
        out.append(Outcome("sag_index", found["sag_index"], "1", "sag number over that of the known-good run"))
        if sag.known_good_sag is not None:
            depth = found["sag_index"] * float(np.ravel(sag.known_good_sag)[0])
            out.append(Outcome("sag", 1e3 * depth, "mm", "sag that follows from the known-good run"))
            gap = _lower_gap(process)
            if gap is not None:
                out.append(Outcome("clearance", 1e3 * (gap - depth), "mm", "from the sagged sheet to the lower panel"))
    return out


def _lower_gap(process: SheetProcess) -> float | None:
    gaps = [
        float(np.ravel(station.lower.gap)[0])
        for station in process.case.stations
        if isinstance(station, PanelsStation) and station.lower is not None and station.lower.gap is not None
    ]
    return min(gaps, default=None)


def _of_part(process: SheetProcess, history: History) -> list[Outcome]:
    """Heat and mass of a blank whose size is given."""
    sheet = process.case.sheet
    stored = heat_taken(process, history) / 3.6e6
    if sheet.length is None or sheet.width is None:
        return [Outcome("heat_taken", stored, "kWh/m2", "heat taken up until then, ideal: without heater losses")]
    area = float(np.ravel(sheet.length * sheet.width)[0])
    mass = area * float(np.ravel(sheet.thickness)[0]) * typical(process.stuff.medium(sheet.material).density)
    return [
        Outcome(
            "heat_taken", stored * area, "kWh", "heat taken up by the blank until then, ideal: without heater losses"
        ),
        Outcome("blank_mass", mass, "kg", "mass of the blank"),
    ]


def heat_taken(process: SheetProcess, history: History) -> float:
    """Heat content when the sheet reaches the tool, over that of the stock [J/m2], by its enthalpy cell by cell."""
    from thermokit.conduction.enthalpy import melted_share, sensible_enthalpy

    medium = process.stuff.medium(process.case.sheet.material)
    profile = _own_touch(process, history)[1:-1]
    start = float(np.ravel(process.case.sheet.start)[0])
    cp: Any = medium.specific_heat
    rise = sensible_enthalpy(profile, cp) - sensible_enthalpy(np.array([start]), cp)
    if medium.melting is not None:
        share = melted_share(profile, medium.melting) - melted_share(np.array([start]), medium.melting)
        rise = rise + medium.melting.heat * share
    return float(np.sum(rise * np.diff(history.edges)) * typical(medium.density))


def warnings(process: SheetProcess, history: History) -> list[str]:
    """What in the run lies outside what is known."""
    found = process.stuff.warnings(history)
    surface = getattr(process.record, "surface_limit", None) or {}
    caution = surface.get("caution")
    if caution is not None and history.hottest.value > caution:
        found.append(
            f"a face reaches {history.hottest.value - ZERO:.0f} degC; above {caution - ZERO:.0f} degC the surface "
            "of this material begins to suffer"
        )
    if any(bound is None for bound in window(process)):
        found.append(
            "neither the case nor the material gives both forming limits: add coldest_point and hottest_face to [limits]"
        )
    return [
        *found,
        *_moisture(process),
        *sheet_heaters.warnings(process),
        *sheet_skin.warnings(process, history),
        *shaping_judgement.warnings(process),
    ]


def remarks(process: SheetProcess, history: History, facts: Facts) -> list[str]:
    """What the outcomes mean at the machine."""
    return [
        *sheet_heaters.remarks(process),
        *_sagging(process, facts),
        *sheet_skin.remarks(process, history, facts),
        *sheet_anneal.remarks(process),
        *shaping_judgement.remarks(process, history, facts),
    ]


def _sagging(process: SheetProcess, facts: Facts) -> list[str]:
    """Said where the sheet comes too near to the lower panel."""
    sag, gap = process.case.sheet.sag, _lower_gap(process)
    if sag is None or sag.known_good_sag is None or gap is None:
        return []
    depth = float(quantities(process, facts)["sag_index"][0]) * float(np.ravel(sag.known_good_sag)[0])
    if gap - depth >= CLEAR:
        return []
    return [
        f"the sheet sags by {1e3 * depth:.0f} mm and comes within {1e3 * (gap - depth):.0f} mm of the lower panel; "
        f"{1e3 * CLEAR:.0f} mm are usual at least"
    ]


def _moisture(process: SheetProcess) -> list[str]:
    """Said where the material takes up water and nobody says that it was dried."""
    drying = (getattr(process.record, "record", None) or {}).get("drying")
    dried = process.case.sheet.dried
    if drying is None or dried or (dried is None and sheet_anneal.is_dried(process)):
        return []
    known = "was not dried" if dried is False else "may not have been dried (sheet.dried is not given)"
    how = ""
    if isinstance(drying, dict) and {"temperature", "shortest", "longest"} <= set(drying):
        how = f": {drying['shortest']} to {drying['longest']} at {drying['temperature']} is usual"
    return [f"the sheet {known}; moisture blisters this material when it is heated fast{how}"]
