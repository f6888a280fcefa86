"""Answers of a shaped sheet: working time, pressure and clamp, blank and cold size, left thickness, marks; and what they mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import BLOWN, VACUUM
from thermokit.errors import DataError
from thermokit.processes import shaping_judgement as judged
from thermokit.processes import shaping_plan
from thermokit.results.model import Outcome
from thermokit.shaping import caps, clamp, thinning

if TYPE_CHECKING:
    from thermokit.conduction.history import History
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
LONGEST, ROWS = 900.0, 241  # s and rows, of a sheet that waits in the air
ROOM, STILL = 293.15, 10.0  # K, W/m2/K: air where no station says; common practice
FIRST_SHRINKAGE = {"pmma_cast": 0.02}  # of the blank's sides on first heating; the material's record says so
EVEN = 5.0  # K, regions of a dome against each other; common practice
SHARP = 2.0  # detail radii below this times the thickness left are no membrane


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
        *_forces(process, facts),
        *_thickness(process),
        *_sizes(process, facts),
        *_marks(places, process, facts),
    ]  # fmt: skip
    found = {k: float(v[0]) for k, v in _quantities(places, facts).items()}
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


def _quantities(places: SheetProcess, facts: Facts) -> Any:
    from thermokit.processes.sheet_judgement import quantities

    return quantities(places, facts)


def _end(history: History, station: int) -> float:
    return float(history.ends[station].time) if station >= 0 else 0.0


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


# -- remarks ---------------------------------------------------------------------------------------------------------------


def remarks(places: SheetProcess, process: SheetProcess, facts: Facts) -> list[str]:
    """What a technologist would say of the draw."""
    plan, case = process.plan, process.case
    assert plan is not None and case.shaping is not None and case.part is not None
    shaping = case.shaping
    found = [_force_words(process, facts)]
    time = working_time(process, facts)
    waits: Any = case.stations[left_oven(process) + 1 : plan.at]
    before = sum(float(np.ravel(s.duration)[0]) for s in waits)
    if time is not None:
        word = "LATE: it is drawn too cold" if time < before else "in time"
        more = "and more " if time >= LONGEST else ""
        found.append(
            f"working time after the oven {time:.0f} s {more}in the air; the draw begins {before:.3g} s after it: {word}"
        )
    worst = int(np.argmax(plan.final))
    left = 1.0 / plan.final[worst]
    where = f"the {plan.names[worst]} keeps {100 * left:.0f} % of the blank"
    found.append(
        where
        + (
            ""
            if left >= shaping.least_thickness
            else f", less than {100 * shaping.least_thickness:.0f} %: it is weak there"
        )
    )
    found += _frozen(process)
    marked = marks(places, process, facts)
    found += [f"the {side} face, where the tool touches it: {words}" for side, (_, words) in marked.items()]
    if not marked:
        found.append("no tool touches either face: both stay as clear as the sheet was")
    found += _detail(process, facts)
    found += _blank(process)
    apart = float(_quantities(places, facts)["crown_difference"][0])
    if plan.dome is not None and not marked and apart > EVEN:
        found.append(
            f"the regions are {apart:.0f} K apart at release: the thin crown sets before the ring, which draws it flat or wavy; "
            f"{EVEN:g} K are usual: less air on the crown, a wider diffuser, slower cooling"
        )
    if shaping.blanking:
        found.append(
            "the same stroke cuts the part out: cut before it has set through, and keep the knife out of the hold"
        )
    return found


def _force_words(process: SheetProcess, facts: Facts) -> str:
    shaping = process.case.shaping
    assert shaping is not None
    own, what = judged.pressure(process, facts)
    area = judged.opening(process)
    if own is None:
        return (
            "no air pressure is known: what the press gives times the opening, "
            f"{1e4 * area:.0f} cm2, is what opens the frame (1 bar on it makes {area * 1e5 / 1e3:.3g} kN)"
        )
    force = float(clamp.clamp_force(own, area))
    said = (
        f"{own / 1e5:.3g} bar ({what}) on {area:.3g} m2 make {force / 1e3:.3g} kN, {float(clamp.tonnes(force)):.3g} t"
    )
    if shaping.method == "snap_back":
        said += "; throttle the pump and stop by depth, the whole of it would tear the bubble"
    if shaping.method in VACUUM:
        return f"{said}; it presses on every wall of the vacuum box"
    if shaping.clamp is None:
        return f"{said}; the rating of the clamp is not given (clamp in [shaping]): it must be at least {force / 600.0:.3g} kN"
    return f"{said}, {100 * force / shaping.clamp:.0f} % of the clamp's rating"


def _frozen(process: SheetProcess) -> list[str]:
    """The corner by the model in which the sheet freezes where it touches, beside the usual bands."""
    from thermokit.shaping.freeze import frozen_draw

    part, shaping = process.case.part, process.case.shaping
    assert part is not None and shaping is not None
    if part.shape != "tray" or shaping.method not in ("vacuum_female", "blow_into_mould"):
        return []
    try:
        drawn = frozen_draw(min(part.length, part.width) / 2, part.depth, np.pi / 2, part.corner, trough=True)  # type: ignore[type-var, operator, arg-type]
    except DataError:
        return []
    blank = 1e3 * shaping_plan.blank(process)
    return [
        f"by the model in which the sheet sets where it touches, the edge of the long side keeps {blank * drawn.corner:.2g} mm "
        f"({100 * drawn.corner:.0f} % of the blank); corners where three faces meet less"
    ]


def _detail(process: SheetProcess, facts: Facts) -> list[str]:
    """Whether the detail comes out, and whether air can get away."""
    shaping, plan = process.case.shaping, process.plan
    assert shaping is not None and plan is not None
    found = []
    temperature = judged.sheet_temperature(process, facts)
    own, radius = judged.pressure(process, facts)[0], judged.detail(process)
    wanted, modulus = judged.pressure_for_detail(process, temperature), shaping_plan.modulus(process, temperature)
    if own is not None and radius is not None and wanted is not None and modulus is not None:
        ratio = max(shaping_plan.mean_draw(process, plan), 1.05)
        gives = float(caps.detail_radius(own, shaping_plan.blank(process), ratio, modulus))
        word = "it comes out" if gives <= radius else "it stays ROUND"
        found.append(
            f"a radius of {1e3 * radius:.3g} mm takes {wanted / 1e5:.2g} bar hot, {own / 1e5:.3g} bar press down to "
            f"{1e3 * gives:.2g} mm: {word}; a chilled skin asks for more (close detail takes about 3.5 bar, 50 lbf/in2: fact of "
            "the trade)"
        )
        if radius < SHARP * shaping_plan.blank(process) / ratio:
            found.append("the detail is no larger than the sheet is thick: several bar, whatever the formula says")
    if shaping.method in ("blow_into_mould", "vacuum_female", "vacuum_plug"):
        if shaping.vents is False:
            found.append(
                f"no vents: air is trapped in the {plan.names[0]}, where the sheet arrives last; contact there is taken as "
                f"{100 * shaping_plan.TRAPPED:.0f} % (assumed) and detail will be lost; vent with holes or slots up to 0.5 mm"
            )
        elif shaping.vents is None:
            found.append("vents are not known (vents in [shaping]): trapped air delays the touch and spoils detail")
    return found


def _blank(process: SheetProcess) -> list[str]:
    """Said where the sheet of the case is too small."""
    sheet = process.case.sheet
    given = [float(np.ravel(s)[0]) for s in (sheet.length, sheet.width) if s is not None]
    if len(given) != 2:
        return []
    sides = [cut for _, _, cut in blank_sides(process)]
    sides = sorted(sides * 2 if len(sides) == 1 else sides)
    if all(have >= need * (1.0 - 1e-9) for have, need in zip(sorted(given), sides, strict=True)):
        return []
    words = " x ".join(f"{1e3 * side:.0f}" for side in sides)
    return [
        f"the sheet of {' x '.join(f'{1e3 * x:.0f}' for x in sorted(given))} mm is TOO SMALL: the blank is {words} mm"
    ]


def allowed_thickness(process: SheetProcess) -> float:
    """Least thickness over the blank that a part should keep."""
    shaping = process.case.shaping
    return thinning.LEAST_CORNER if shaping is None else shaping.least_thickness
