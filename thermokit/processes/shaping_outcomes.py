"""Answers of a shaped sheet: working time, pressure and clamp, blank and cold size, left thickness, marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import BLOWN, VACUUM
from thermokit.processes import shaping_judgement as judged
from thermokit.processes import shaping_plan
from thermokit.results.model import Outcome
from thermokit.shaping import clamp

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
LONGEST, ROWS = 900.0, 241  # s and rows, of a sheet that waits in the air
ROOM, STILL = 293.15, 10.0  # K, W/m2/K: air where no station says; common practice
FIRST_SHRINKAGE = {"pmma_cast": 0.02}  # of the blank's sides on first heating; the material's record says so


def outcomes(places: SheetProcess, process: SheetProcess, history: History, facts: Facts) -> list[Outcome]:
    """All answers; ``places`` : the process with all regions, ``process`` : that of the single run."""
    plan, case = process.plan, process.case
    assert plan is not None and case.shaping is not None and case.part is not None
    out = [
        Outcome(
            "working_time", working_time(process, facts), "s",
            "after the oven, in the air: until the coldest layer falls below the lower forming limit",
        ),
        Outcome(
            "holding_time", _end(history, plan.release) - _end(history, plan.at - 1), "s", "from the draw to the release"
        ),
        *_setting(process, facts),
        *_forces(process, facts),
        *_thickness(process),
        *_sizes(process, facts),
        *_marks(places, process, facts),
    ]  # fmt: skip
    found = {k: float(v[0]) for k, v in quantities(places, facts).items()}
    if "coldest_at_vacuum_release" in found:
        value = found["coldest_at_vacuum_release"] - ZERO
        out.append(
            Outcome(
                "coldest_at_vacuum_release", value, "degC", "coldest layer of any region when the vacuum is released"
            )
        )
    if len(plan.names) > 1:
        words = "regions of the part against each other at release, mean temperatures"
        out.append(Outcome("crown_difference", found["crown_difference"], "K", words))
    return out


def quantities(places: SheetProcess, facts: Facts) -> dict[str, Any]:
    """What limits look at, the worst of the regions."""
    from thermokit.processes import sheet_judgement

    return dict(sheet_judgement.quantities(places, facts))


def _end(history: History, station: int) -> float:
    return float(history.ends[station].time) if station >= 0 else 0.0


def _setting(process: SheetProcess, facts: Facts) -> list[Outcome]:
    """When the thickest region has set through, and how far faces and core are apart then."""
    found = setting(process, facts)
    if found is None:
        return []
    words = "faces against core when the thickest region passes the glass transition: what is locked in as stress"
    return [
        Outcome("setting_time", found[0], "s", "after the draw, until the hottest layer is below the glass transition"),
        Outcome("face_core_at_setting", found[1], "K", words),
    ]


def setting(process: SheetProcess, facts: Facts) -> tuple[float, float] | None:
    """(time after the draw [s], hottest less coldest layer then [K]) when the last layer passes the glass transition.

    Read off the rows of the run; None where it does not set, or has no glass transition on record.
    """
    glass, plan = judged.glass_transition(process), process.plan
    if glass is None or plan is None or facts.travel is None:
        return None
    history = facts.travel.history
    drawn = _end(history, plan.at - 1)
    rows = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    after = history.time >= drawn
    time, hottest, coldest = history.time[after], rows[after].max(axis=1), rows[after].min(axis=1)
    below = np.flatnonzero(hottest < glass)
    if not len(below) or below[0] == 0:
        return None
    j = int(below[0])
    share = (hottest[j - 1] - glass) / (hottest[j - 1] - hottest[j])
    apart = hottest - coldest
    return (
        float(time[j - 1] + share * (time[j] - time[j - 1]) - drawn),
        float(apart[j - 1] + share * (apart[j] - apart[j - 1])),
    )


# -- how long it can be worked -------------------------------------------------------------------------------------------


def left_oven(process: SheetProcess) -> int:
    """Index of the last station that heats before the draw, -1 where none does."""
    from thermokit.processes.sheet_judgement import window

    plan, (lower, _) = process.plan, window(process)
    assert plan is not None
    heats = -1
    stations: Any = process.case.stations
    for i, station in enumerate(stations[: plan.at]):
        hot = station.kind == "air" and lower is not None and _now(station.air.temperature) > float(np.ravel(lower)[0])
        if station.kind == "panels" or hot:
            heats = i
    return heats


def _now(value: Any) -> float:
    """A value, or the last of its time table."""
    return float(np.ravel(value.value[-1] if hasattr(value, "value") else value)[0])


def working_time(process: SheetProcess, facts: Facts) -> float | None:
    """Time after the oven until the coldest layer of the flat sheet falls below the lower forming limit [s].

    The sheet as it left the oven is let wait in the air of the station that follows it (room air where none does). None where
    it never was above the limit, or no limit is known; 900 s where it stays above it as long.
    """
    from thermokit.conduction.problem import Layer, Problem, Span
    from thermokit.conduction.single import solve
    from thermokit.processes.sheet_judgement import window
    from thermokit.processes.sheet_skin import edges_of
    from thermokit.stations.air import air_face

    plan, case, (lower, _) = process.plan, process.case, window(process)
    if lower is None or facts.travel is None or plan is None:
        return None
    out, bound = left_oven(process), float(np.ravel(lower)[0])
    ends = facts.travel.history.ends
    start: Any = ends[out].temperature if out >= 0 else float(np.ravel(case.sheet.start)[0])
    states = ends[out].states if out >= 0 else {}
    medium = process.stuff.medium(case.sheet.material)
    layer = Layer(
        medium, shaping_plan.blank(process), edges_of(process, facts.travel)[0], start, name="sheet",
        crystalline_start=states.get("crystalline_share") if medium.crystallising is not None else None,
    )  # fmt: skip
    air, surround = air_after(process, out)
    face = air_face(air, process.emissivity, surround)
    run = solve(Problem((layer,), (Span(LONGEST, face, face, name="wait"),)), np.geomspace(0.05, LONGEST, ROWS))
    coldest = np.minimum(np.minimum(run.inner_face, run.outer_face), run.temperature.min(axis=1))
    below = np.flatnonzero(coldest < bound)
    if not len(below):
        return LONGEST
    j = int(below[0])
    if j == 0:
        return 0.0 if np.min(start) < bound + 1e-9 else float(run.time[0])
    share = (coldest[j - 1] - bound) / (coldest[j - 1] - coldest[j])
    return float(run.time[j - 1] + share * (run.time[j] - run.time[j - 1]))


def air_after(process: SheetProcess, out: int) -> tuple[Any, Any]:
    """(air, surroundings) in which the sheet leaves the oven."""
    from thermokit.case.sheet_stations import AirEntry

    stations: Any = process.case.stations
    for station in stations[out + 1 :]:
        if station.kind == "air":
            return station.air, station.surround
        if station.air is not None:
            return station.air, None
    return AirEntry(temperature=ROOM, coefficient=STILL), None


# -- pressure and clamp --------------------------------------------------------------------------------------------------


def _forces(process: SheetProcess, facts: Facts) -> list[Outcome]:
    case, plan = process.case, process.plan
    assert case.shaping is not None and plan is not None
    shaping, out = case.shaping, []
    temperature = judged.sheet_temperature(process, facts)
    blown, _ = shaping_plan.blown_dome(process, temperature)
    known = shaping_plan.modulus(process, temperature) is not None
    if blown is not None and known and shaping.method in (*BLOWN, "snap_back", "vacuum_bubble"):
        what = "depth of the bubble" if shaping.method in VACUUM else "height of the dome over its ring"
        out.append(Outcome("dome_height", 1e3 * blown.height, "mm", what))
        out.append(Outcome("blowing_pressure", blown.pressure / 1e5, "bar", "pressure that holds the hot dome so high"))
        if np.isfinite(blown.limit_pressure):
            words = f"the most it can carry, at {1e3 * blown.limit_height:.0f} mm: under more it grows until it tears"
            out.append(Outcome("bursting_pressure", blown.limit_pressure / 1e5, "bar", words))
    wanted = judged.pressure_for_detail(process, temperature)
    radius = judged.detail(process)
    if wanted is not None and radius is not None:
        words = f"pressure that presses the hot sheet into a radius of {1e3 * radius:.3g} mm, before it is chilled"
        out.append(Outcome("detail_pressure", wanted / 1e5, "bar", words))
    own, what = judged.pressure(process, facts)
    if own is None:
        return out
    area = judged.opening(process)
    force = float(clamp.clamp_force(own, area))
    out.append(Outcome("shaping_pressure", own / 1e5, "bar", f"pressure on the sheet, {what}"))
    on = "on sheet and vacuum box" if shaping.method in VACUUM else "against the clamp"
    out.append(
        Outcome(
            "clamp_force", force / 1e3, "kN", f"pressure times {area:.3g} m2 {on}: {float(clamp.tonnes(force)):.3g} t"
        )
    )
    if shaping.clamp is not None and shaping.method not in VACUUM:
        out.append(Outcome("clamp_share", force / shaping.clamp, "1", "of the clamp's rating; at most 0.6 is usual"))
    volume = shaping.volume + part_volume(process)
    energy = clamp.vacuum_energy if shaping.method in VACUUM else clamp.stored_energy
    words = f"energy in {1e3 * volume:.3g} L " + ("of vacuum, set free when the box caves in" if shaping.method in VACUUM else
                                                  "of compressed air, set free when it bursts")  # fmt: skip
    out.append(Outcome("stored_energy", float(energy(own, volume)) / 1e3, "kJ", words))
    return out


def part_volume(process: SheetProcess) -> float:
    """Volume of the part [m3]."""
    part, plan = process.case.part, process.plan
    assert part is not None
    if plan is not None and plan.dome is not None:
        return plan.dome.volume
    if part.shape == "tray":
        return float(part.length * part.width * part.depth)  # type: ignore[operator]
    return 0.0


# -- thickness and sizes -------------------------------------------------------------------------------------------------


def _thickness(process: SheetProcess) -> list[Outcome]:
    plan = process.plan
    assert plan is not None
    blank = shaping_plan.blank(process)
    worst, best = int(np.argmax(plan.final)), int(np.argmin(plan.final))
    how = "measured" if plan.names[worst] in process.case.shaping.measured else _how(process)  # type: ignore[union-attr]
    return [
        Outcome("thinnest_place", 1e3 * blank / plan.final[worst], "mm", f"thickness left in the {plan.names[worst]} ({how})"),
        Outcome("thickest_place", 1e3 * blank / plan.final[best], "mm", f"thickness left in the {plan.names[best]}"),
        Outcome("mean_thickness", 1e3 * blank / shaping_plan.mean_draw(process, plan), "mm", "blank over the whole draw"),
    ]  # fmt: skip


def _how(process: SheetProcess) -> str:
    assert process.case.part is not None
    return {"dome": "membrane of rubber", "tray": "usual bands of the trade", "panel": "not drawn"}[
        process.case.part.shape
    ]


def blank_sides(process: SheetProcess) -> list[tuple[str, float, float]]:
    """(name, opening, blank to cut) of each side, or of the diameter [m]."""
    case, plan = process.case, process.plan
    assert case.part is not None and case.shaping is not None and plan is not None
    part, shaping = case.part, case.shaping
    sides = [("diameter", part.ring)] if part.ring is not None else [("length", part.length), ("width", part.width)]
    around = np.pi * part.ring if part.ring is not None else 2.0 * (part.length + part.width)  # type: ignore[operator]
    # what slips in from under the clamp must be there
    fed = shaping.slip * (shaping_plan.mean_draw(process, plan) - 1.0) * judged.opening(process) / around
    shrinkage = shaping.shrinkage if shaping.shrinkage is not None else FIRST_SHRINKAGE.get(case.sheet.material, 0.0)
    return [
        (name, float(side), float(clamp.blank_size(side, shaping.margin + fed, shrinkage)))
        for name, side in sides
        if side is not None
    ]


def _sizes(process: SheetProcess, facts: Facts) -> list[Outcome]:
    case, plan = process.case, process.plan
    assert case.shaping is not None and plan is not None
    out = [
        Outcome(
            f"blank_{name}",
            1e3 * cut,
            "mm",
            f"{name} of the blank, cut cold: opening, clamp margin, shrinkage in the oven",
        )
        for name, _, cut in blank_sides(process)
    ]
    shrinks = contraction(process, facts)
    if shrinks is None:
        return out
    out.append(
        Outcome("contraction", 100.0 * shrinks, "%", f"from release to {case.shaping.cold - ZERO:.0f} degC, linear")
    )
    for name, side, _ in blank_sides(process):
        words = f"{name} of the opening on the cold part: {1e3 * side * shrinks:.2g} mm less than on the tool or ring"
        out.append(Outcome(f"cold_{name}", 1e3 * side * (1.0 - shrinks), "mm", words))
    return out


def contraction(process: SheetProcess, facts: Facts) -> float | None:
    """Linear contraction from release until the part is cold, as a share; None without a table of density."""
    plan, case = process.plan, process.case
    record: Any = process.record
    density = getattr(record, "density", None)
    if plan is None or case.shaping is None or not hasattr(density, "at"):
        return None
    width = np.diff(facts.edges, axis=0)
    mean = (facts.stations[plan.release][1:-1] * width).sum(axis=0) / width.sum(axis=0)
    return float(clamp.contraction(record, float(mean.max()), case.shaping.cold))


# -- marks -----------------------------------------------------------------------------------------------------------------


def _marks(places: SheetProcess, process: SheetProcess, facts: Facts) -> list[Outcome]:
    return [
        Outcome(f"{side}_face_at_touch", hot - ZERO, "degC", f"{side} face where the tool touches it: {words}")
        for side, (hot, words) in marks(places, process, facts).items()
    ]


def marks(places: SheetProcess, process: SheetProcess, facts: Facts) -> dict[str, tuple[float, str]]:
    """Side that is touched -> (its hottest temperature in the moment of touch [K], how strongly that marks it)."""
    plan, glass = process.plan, judged.glass_transition(process)
    assert plan is not None
    touched = np.asarray(plan.touched)[places.at.region] > 0.0
    found = {}
    for side, station in judged.touched_sides(process).items():
        profile = judged.before(places, facts, station)
        hot = float(np.max(profile[0 if side == "upper" else -1][touched]))
        share = float(np.ravel(process.case.stations[station].touches[side].share)[0])  # type: ignore[union-attr]
        area = "" if share == 1.0 else f", on {100 * share:.0f} % of the area"
        if glass is None:
            words = f"glass transition not known{area}"
        elif hot > glass:
            words = f"MARKED, {hot - glass:.0f} K above the glass transition{area}"
        elif hot > glass - judged.UNMARKED:
            words = f"lightly marked, {glass - hot:.0f} K below the glass transition{area}"
        else:
            words = f"not marked, {glass - hot:.0f} K below the glass transition{area}"
        found[side] = (hot, words)
    return found
