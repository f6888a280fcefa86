"""What the shaping of a sheet is judged by: limits, what they look at, why it must not be done, warnings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import BLOWN, PARTLY, VACUUM
from thermokit.errors import DataError
from thermokit.processes import shaping_plan
from thermokit.processes.base import Limit
from thermokit.processes.media import typical
from thermokit.results.model import Axis, Field
from thermokit.shaping.clamp import check_clamp

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
RUBBERY = 20.0  # K above the glass transition where hot sheet is surely rubbery; common practice
UNMARKED = 10.0  # K below the glass transition where a touch leaves no mark; common practice
STRETCHED = 0.98  # of the limit pressure: nearer to it a small error bursts the dome
AT_FIRST_TOUCH = ("coldest_at_vacuum_release", "clear_face_at_touch")
RUBBER = 423.15  # K that a rubber nose bears; common practice
NEVER = -1e9  # K: a temperature of what is never touched


def glass_transition(process: SheetProcess) -> float | None:
    """Glass transition of the sheet [K], None where the material has no record of it."""
    found = getattr(process.record, "glass_transition", None)
    return None if found is None else float(found.temperature)


def limits(process: SheetProcess) -> tuple[Limit, ...]:
    """Limits that the shaping puts; none without [shaping]."""
    plan, case = process.plan, process.case
    if plan is None:
        return ()
    assert case.shaping is not None and case.part is not None
    least = case.shaping.least_thickness
    found = [Limit("least_thickness", "least_thickness", True, least, "fraction", "thinnest region, over the blank")]
    glass = glass_transition(process)
    if case.shaping.method == "snap_back" and glass is not None and plan.first_touch is not None:
        words = "coldest layer of any region when the vacuum is released"
        found.append(Limit("vacuum_release", "coldest_at_vacuum_release", True, glass + RUBBERY, where=words))
    if glass is not None and clear_sides(process):
        words = f"clear face where a tool touches it ({' and '.join(clear_sides(process))})"
        found.append(Limit("clear_face", "clear_face_at_touch", False, glass - UNMARKED, where=words))
    if case.shaping.crown_difference is not None:
        words = "regions against each other, mean temperatures at release"
        found.append(
            Limit(
                "crown_difference",
                "crown_difference",
                False,
                case.shaping.crown_difference,
                "temperature_difference",
                words,
            )
        )
    return tuple(found)


def clear_sides(process: SheetProcess) -> list[str]:
    """Sides that must stay clear and are touched."""
    plan, part = process.plan, process.case.part
    if plan is None or part is None or plan.first_touch is None:
        return []
    clear = {"none": (), "upper": ("upper",), "lower": ("lower",), "both": ("upper", "lower")}[part.clear_face]
    touched = touched_sides(process)
    return [side for side in clear if side in touched]


def touched_sides(process: SheetProcess) -> dict[str, int]:
    """Sides that a tool touches while the part is shaped, with the first station that does."""
    plan = process.plan
    found: dict[str, int] = {}
    if plan is not None:
        for i in range(plan.at, plan.release + 1):
            for side in getattr(process.case.stations[i], "touches", {}):
                found.setdefault(side, i)
    return found


def before(process: SheetProcess, facts: Facts, station: int) -> Array:
    """Profile when a station begins, (points, cases) [K]."""
    if station > 0:
        return facts.stations[station - 1]
    return np.asarray(np.broadcast_to(np.asarray(process.case.sheet.start, float), facts.final.shape))


def by_place(process: SheetProcess, facts: Facts) -> dict[str, Array]:
    """What limits of the shaping look at, at every place of every case, in SI."""
    plan = process.plan
    if plan is None:
        return {}
    cases = facts.final.shape[1]
    regions = np.tile(process.at.region, max(1, cases // len(process.at)))
    found = {"least_thickness": 1.0 / np.asarray(plan.final)[regions]}
    width = np.diff(facts.edges, axis=0)
    found["mean_at_release"] = (facts.stations[plan.release][1:-1] * width).sum(axis=0) / width.sum(axis=0)
    if plan.first_touch is not None:
        touch = before(process, facts, plan.first_touch)
        if process.case.shaping is not None and process.case.shaping.method == "snap_back":
            found["coldest_at_vacuum_release"] = touch.min(axis=0)
        sides = clear_sides(process)
        if sides:
            touched = np.asarray(plan.touched)[regions] > 0.0
            first = touched_sides(process)
            faces = [before(process, facts, first[side])[0 if side == "upper" else -1] for side in sides]
            found["clear_face_at_touch"] = np.where(touched, np.max(faces, axis=0), NEVER)
    return found


# -- pressure, force -----------------------------------------------------------------------------------------------------


def sheet_temperature(process: SheetProcess, facts: Facts) -> float:
    """Mean temperature of the sheet when it is drawn [K]: of its first place."""
    from thermokit.processes.sheet_judgement import at_touch, mean_of

    return float(mean_of(facts, at_touch(process, facts))[0])


def opening(process: SheetProcess) -> float:
    """Area inside the clamp that pressure acts on [m2]."""
    part = process.case.part
    assert part is not None
    if part.ring is not None:
        return float(np.pi * part.ring**2 / 4.0)
    assert part.length is not None and part.width is not None
    return float(part.length * part.width)


def detail(process: SheetProcess) -> float | None:
    """Smallest radius that a tool must bring out [m]; None where no tool does or nobody asks."""
    part, shaping = process.case.part, process.case.shaping
    assert part is not None and shaping is not None
    if process.plan is None or process.plan.first_touch is None or shaping.method in PARTLY:
        return None  # ribs and pegs are the edge themselves
    return part.detail if part.detail is not None else part.corner


def pressure_for_detail(process: SheetProcess, temperature: float) -> float | None:
    """Pressure that presses the hot sheet into the detail [Pa], where there is one and the modulus is known."""
    from thermokit.shaping.caps import detail_pressure

    own, radius = shaping_plan.modulus(process, temperature), detail(process)
    if own is None or radius is None or process.plan is None:
        return None
    ratio = max(shaping_plan.mean_draw(process, process.plan), 1.05)
    return float(detail_pressure(radius, shaping_plan.blank(process), ratio, own))


def drawing_force(process: SheetProcess, temperature: float) -> float | None:
    """Force with which a tool draws the hot sheet, and with which that pulls at the frame [N]; None where nothing is drawn.

    A dome: the pressure of its membrane times the opening. A tray: rubber stretched along its upright walls,
    F = U sigma t with sigma = G (A^2 - A^-2), t = h0/A and the perimeter U of the opening; A : areal draw of the wall, > 1.
    None where the modulus is not known. Source: the balances of ``shaping.caps``, put to a wall here; no source of its own.
    """
    own, plan, part = shaping_plan.modulus(process, temperature), process.plan, process.case.part
    assert plan is not None and part is not None
    if own is None or part.shape == "panel":
        return None
    if part.shape == "dome":
        blown = shaping_plan.blown_dome(process, temperature)[0]
        assert blown is not None
        return (blown.pressure if blown.stable else blown.limit_pressure) * opening(process)
    assert part.length is not None and part.width is not None
    ratio = max(plan.final[plan.names.index("wall")], 1.0)
    stress = own * (ratio**2 - ratio**-2)
    return 2.0 * (part.length + part.width) * stress * shaping_plan.blank(process) / ratio


def weight_pressure(process: SheetProcess) -> float:
    """Weight of the hot sheet on its area [Pa]: rho g h0."""
    density = typical(process.stuff.medium(process.case.sheet.material).density)
    return 9.81 * density * shaping_plan.blank(process)


def pressure(process: SheetProcess, facts: Facts) -> tuple[float | None, str]:
    """(pressure on the sheet [Pa], what it is) while it is shaped; None where no air presses and no pressure is given."""
    shaping, plan = process.case.shaping, process.plan
    assert shaping is not None and plan is not None
    temperature = sheet_temperature(process, facts)
    if shaping.method in VACUUM:
        return shaping.vacuum, "vacuum"
    if shaping.pressure is not None:
        return shaping.pressure, "as given"
    if shaping.method not in BLOWN:
        force = drawing_force(process, temperature)
        return (None, "") if force is None else (force / opening(process), "what the tool must pull to draw the sheet")
    own = shaping_plan.modulus(process, temperature)
    blown = shaping_plan.blown_dome(process, temperature)[0]
    if own is None:
        return None, ""
    free = 0.0
    if blown is not None:
        free = blown.pressure if blown.stable else blown.limit_pressure
    pressed = pressure_for_detail(process, temperature) if shaping.method == "blow_into_mould" else None
    if pressed is not None and pressed > free:
        return pressed, "what the detail takes"
    return (free, "what the height takes") if free > 0.0 else (None, "")


def stop(process: SheetProcess, facts: Facts) -> dict[str, Any]:
    """``{"stop": {...}}`` where the sheet must not be shaped so, else nothing: why, and what helps."""
    plan, case = process.plan, process.case
    if plan is None or not facts.stations or len(facts.stations) <= plan.release:
        return {}
    assert case.shaping is not None
    shaping, reasons, remedies = case.shaping, [], []
    temperature = sheet_temperature(process, facts)
    own, _ = pressure(process, facts)
    if own is not None and shaping.clamp is not None and shaping.method not in VACUUM:
        try:
            check_clamp(own, opening(process), shaping.clamp)
        except DataError as wrong:
            said, _, advice = str(wrong).partition(". ")
            reasons.append(f"STOP: the clamp may open. {said[:1].upper()}{said[1:]}")
            remedies.append(advice[:1].lower() + advice[1:])
    blown, burst = shaping_plan.blown_dome(process, temperature)
    known = shaping_plan.modulus(process, temperature) is not None
    held_by_pressure = known and shaping.stop == "pressure" and shaping.method in BLOWN
    if burst is None and blown is not None and own is not None and held_by_pressure and (
        own > STRETCHED * blown.limit_pressure
    ):  # fmt: skip
        burst = f"{own / 1e5:.3g} bar is the most that the dome can carry"
    if burst is not None:
        reasons.append(f"STOP: past the limit point the dome grows by itself until it tears: {burst}")
        remedies.append("stop by height (a trip), or less pressure")
    if shaping.method in VACUUM and blown is not None:
        most = blown.pressure if blown.stable else blown.limit_pressure
        if known and most > shaping.vacuum:
            reasons.append(
                f"STOP: drawing {1e3 * blown.height:.3g} mm deep takes {most / 1e3:.3g} kPa, the vacuum gives "
                f"{shaping.vacuum / 1e3:.3g} kPa"
            )
            remedies.append("heat the sheet more, take thinner sheet, draw less deep, or help with air")
    worst = int(np.argmax(plan.ratios))
    if plan.ratios[worst] > shaping.greatest_draw:
        reasons.append(
            f"STOP: the {plan.names[worst]} is drawn {plan.ratios[worst]:.3g} times in area, the sheet gives "
            f"{shaping.greatest_draw:.3g}: it tears"
        )
        remedies.append("a shallower part, rounder corners, a plug or a bubble first, or let the clamp slip")
    if not reasons:
        return {}
    return {"stop": {"why": ". ".join(reasons) + ".", "remedies": remedies}}


# -- words -----------------------------------------------------------------------------------------------------------------


def warnings(process: SheetProcess) -> list[str]:
    """What is not known of the shaping, and what cannot be."""
    plan, case = process.plan, process.case
    if plan is None:
        return []
    assert case.shaping is not None and case.part is not None
    found = []
    if shaping_plan.modulus(process, shaping_plan.middle_of_window(process)) is None and case.shaping.method in BLOWN:
        found.append("no modulus of this hot sheet is known: pressures are left out; give shaping.modulus")
    found += _never_released(process) + _rubber(process)
    if case.part.undercut and case.shaping.method != "free_blowing":
        found.append("the part has an undercut: the tool must come apart, or the part be let go while it still gives")
    if glass_transition(process) is None and (case.shaping.method == "snap_back" or case.part.clear_face != "none"):
        found.append("the material has no glass transition on record: marks and the vacuum release are not judged")
    return found


def _never_released(process: SheetProcess) -> list[str]:
    """Said where what a rib touches stays too hot, however long it lies there; the free regions are seen to elsewhere."""
    from thermokit.processes.sheet_places import MIDDLE
    from thermokit.processes.sheet_skin import never_released

    plan = process.plan
    if plan is None or len(set(plan.touched)) == 1:
        return []
    return never_released(type(process)(process.case, ((MIDDLE, int(np.argmax(plan.touched))),)))


def _rubber(process: SheetProcess) -> list[str]:
    """Said where a rubber nose is kept hotter than it bears."""
    case = process.case
    if case.shaping is None or case.shaping.method != "rubber_nose":
        return []
    found = []
    for name, tool in case.tools.items():
        value: Any = tool.start if tool.has_body else tool.temperature
        values = value.value if hasattr(value, "value") else (value,)
        hottest = max(float(np.ravel(v)[0]) for v in values if v is not None)
        if hottest > RUBBER:
            found.append(
                f"{name} has {hottest - ZERO:.0f} degC; a rubber nose bears {RUBBER - ZERO:.0f} degC (common practice)"
            )
    return found


# -- fields ----------------------------------------------------------------------------------------------------------------


def fields(process: SheetProcess) -> list[Field]:
    """Draw by region, and the meridian of a dome."""
    plan = process.plan
    if plan is None:
        return []
    axis = (Axis("part_region", "1", plan.names, "region of the part"),)
    thickness = 1e3 * shaping_plan.blank(process)
    out = [
        Field("shaping/draw_ratio", axis, "1", np.asarray(plan.final), "area after over area before"),
        Field("shaping/thickness", axis, "mm", thickness / np.asarray(plan.final), "thickness left"),
        Field(
            "shaping/touched", axis, "1", np.asarray(plan.touched), "1 where a tool touches, 0 where it is in the air"
        ),
    ]
    if plan.dome is not None:
        shape = plan.dome
        along = (Axis("meridian_radius", "mm", 1e3 * shape.r, "distance from the axis, from the pole to the ring"),)
        out += [
            Field("shaping/meridian_height", along, "mm", 1e3 * shape.z, "height over the ring"),
            Field("shaping/meridian_thickness", along, "mm", 1e3 * shape.thickness, "thickness left, without slip"),
        ]
    return out


def outcomes(process: SheetProcess, history: Any, facts: Facts) -> list[Any]:
    """Answers of a shaped sheet."""
    if process.plan is None:
        return []
    from thermokit.processes import shaping_outcomes

    return shaping_outcomes.outcomes(process.judging(facts), process, history, facts)


def remarks(process: SheetProcess, history: Any, facts: Facts) -> list[str]:
    """What they mean at the machine."""
    if process.plan is None:
        return []
    from thermokit.processes import shaping_remarks

    return shaping_remarks.remarks(process.judging(facts), process, facts)
