"""What a tool does to the skin of a sheet: touch temperature, how long it can still be drawn, release, which face is slower."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes import shaping_plan, sheet_hand
from thermokit.processes.media import typical
from thermokit.results.model import Outcome

if TYPE_CHECKING:
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.history import History
    from thermokit.conduction.problem import Medium
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
FIRST, POINTS = 1e-3, 121  # s after the touch, and how many moments are looked at
ALIKE = 0.5  # K between the faces at release that counts as none


def effusivity(medium: Medium) -> float:
    """sqrt(k rho cp) [W s^(1/2)/m2/K] with properties at 100 degC: what decides the temperature of a touch."""
    return float(np.sqrt(typical(medium.conductivity) * typical(medium.density) * typical(medium.specific_heat)))


def touch_temperature(first: float, effusivity_1: float, second: float, effusivity_2: float) -> float:
    """Temperature of the joint of two bodies in the moment of perfect contact: (e1 T1 + e2 T2)/(e1 + e2).

    Temperatures in K (or both in degC), effusivities e = sqrt(k rho cp). Source: Carslaw and Jaeger, Conduction of heat in
    solids, 2nd ed. (1959), section 2.15; holds until heat has gone through the thinner body.

    >>> round(touch_temperature(150.0, 599.0, 65.0, 20000.0), 1)
    67.5
    """
    return (effusivity_1 * first + effusivity_2 * second) / (effusivity_1 + effusivity_2)


def skin_time(process: SheetProcess, travel: Travel, side: str, threshold: float) -> float | None:
    """Time after the touch at which the face that touches has fallen to the lower forming limit [s]; None if it does not.

    The leg is solved again with rows that crowd after the touch; between rows the time is found in its logarithm.
    """
    from thermokit.conduction.course import Shown
    from thermokit.conduction.single import solve

    begin = touching(process)
    station = 0
    for i, leg in enumerate(travel.legs):
        if station + len(leg.spans) > begin:
            before = sum(float(span.duration) for span in leg.spans[: begin - station])
            length = sum(float(span.duration) for span in leg.spans[begin - station :])
            times = before + np.geomspace(min(FIRST, length / 10), length, POINTS)
            run = solve(leg, times)
            course = process.course(edges_of(process, travel))
            inner, outer = Shown(course, i).faces(run.temperature.T, run.inner_face, run.outer_face)
            face, after = (inner if side == "upper" else outer), run.time - before
            below = np.flatnonzero(face < threshold)
            if not len(below):
                return None
            j = int(below[0])
            if j == 0:
                return float(after[0])
            share = (face[j - 1] - threshold) / (face[j - 1] - face[j])
            return float(np.exp(np.log(after[j - 1]) + share * np.log(after[j] / after[j - 1])))
        station += len(leg.spans)
    return None


def touching(process: SheetProcess) -> int:
    """Index of the first station at which a tool touches; of that at which the sheet is drawn where none does."""
    plan = process.plan
    return process.touch + 1 if plan is None or plan.first_touch is None else plan.first_touch


def edges_of(process: SheetProcess, travel: Travel) -> list[Any]:
    """Edges of the layers of a run, in the order of the process's layers."""
    known = {layer.name: layer.edges for leg in travel.legs for layer in leg.layers}
    return [known.get(name, np.array([0.0, 1.0])) for name, *_ in process.layers()]


def outcomes(
    process: SheetProcess, history: History, facts: Facts, found: dict[str, float], released: float
) -> list[Outcome]:
    """Touch, the time in which the draw must be done, release."""
    first = process.case.stations[touching(process)]
    end = history.ends[process.release]  # type: ignore[index]
    upper, lower = end.inner_face - ZERO, end.outer_face - ZERO
    out = _touch(process, history, first)
    out += _draw(process, facts, first)
    out += [
        Outcome(
            "release_temperature", found["release_temperature"] - ZERO, "degC", "hottest plane of the sheet at release"
        ),
        Outcome(
            "release_difference", found["release_difference"], "K", "between the faces at release, where it is largest"
        ),
        Outcome("upper_face_at_release", upper, "degC", "upper face at release" + _pace(upper, lower)),
        Outcome("lower_face_at_release", lower, "degC", "lower face at release" + _pace(lower, upper)),
        Outcome("release_time", released, "s", "when the sheet is released, from the start of the first station"),
    ]
    ratio = _areas(process)
    if ratio != 1.0:
        thickness = 1e3 * float(np.ravel(process.case.sheet.thickness)[0]) / ratio
        region = f", region {process.regions[process.thickest_region()]}" if process.regions else ""
        out.append(Outcome("drawn_thickness", thickness, "mm", f"thickness of the drawn sheet{region}"))
    return out


def _touches(station: Any) -> Any:
    """What touches at a station, by side; nothing in air."""
    return getattr(station, "touches", {})


def _pace(own: float, other: float) -> str:
    if abs(own - other) < ALIKE:
        return ""
    return ": the slower face" if own > other else ": the quicker face"


def _areas(process: SheetProcess) -> float:
    total = 1.0
    for station in process.case.stations:
        ratio = process.ratio(station)
        total *= 1.0 if ratio is None else float(np.ravel(ratio)[0])
    return total


def _touch(process: SheetProcess, history: History, station: Any) -> list[Outcome]:
    """Ideal touch temperature on every side whose tool has a body."""
    case = process.case
    out = []
    sheet = effusivity(process.stuff.medium(case.sheet.material))
    for side, touch in _touches(station).items():
        tool = case.tools[touch.tool]
        if tool.material is None:
            continue
        own = _face_before(process, history, side)
        assert tool.start is not None
        face = float(np.ravel(tool.start)[0])
        value = touch_temperature(own, sheet, face, effusivity(process.stuff.medium(tool.material)))
        words = f"{side} face in the moment of touch, by effusivities, with perfect contact and the tool at its start"
        out.append(Outcome(f"{side}_touch_temperature", value - ZERO, "degC", words))
    return out


def _face_before(process: SheetProcess, history: History, side: str) -> float:
    if touching(process) < 1:
        return float(np.ravel(process.case.sheet.start)[0])
    end = history.ends[touching(process) - 1]
    return end.inner_face if side == "upper" else end.outer_face


def draw_times(process: SheetProcess, facts: Facts, station: Any) -> dict[str, float | None]:
    """Side -> time after the touch until its skin is below the lower forming limit [s]; nothing without such a limit."""
    from thermokit.processes.sheet_judgement import window

    lower, _ = window(process)
    if lower is None or facts.travel is None:
        return {}
    travel = _where_touched(process, facts.travel)
    late = shaping_plan.arrival(process)
    found = {side: skin_time(process, travel, side, float(np.ravel(lower)[0])) for side in _touches(station)}
    return {side: None if time is None else max(time - late, 0.0) for side, time in found.items()}


def _where_touched(process: SheetProcess, travel: Travel) -> Travel:
    """The run of a region that is touched, where the region that is shown is not."""
    from thermokit.conduction.follow import follow
    from thermokit.processes.sheet_places import MIDDLE

    plan = process.plan
    if plan is None or plan.touched[process.thickest_region()] > 0.0 or not any(plan.touched):
        return travel
    other = type(process)(process.case, ((MIDDLE, int(np.argmax(plan.touched))),))
    return follow(other.course(edges_of(process, travel)), np.zeros(0))


def _draw(process: SheetProcess, facts: Facts, station: Any) -> list[Outcome]:
    out = []
    for side, time in draw_times(process, facts, station).items():
        words = (
            f"after the touch the skin of the {side} face falls below the lower forming limit: "
            "the draw must be finished before, or expect a chill mark"
        )
        out.append(Outcome(f"{side}_draw_time", time, "s", words))
    return out


def warnings(process: SheetProcess, history: History) -> list[str]:
    """Said where no time is left to draw, or where the tool is hotter than the sheet may be at release."""
    found = []
    if process.release is None:
        return []
    for station in process.case.stations:
        for side, touch in getattr(station, "touches", {}).items():
            share = float(np.ravel(touch.share)[0])
            if share < 1.0 and process.case.tools[touch.tool].has_body:
                found.append(
                    f"{station.name}: {100 * share:.0f} % of the {side} face touches {touch.tool}, a tool with a body: no heat is "
                    "counted through the rest of that face; a tool of one temperature counts the air on it"
                )
    return found + never_released(process)


def never_released(process: SheetProcess) -> list[str]:
    """Said where the sheet stays too hot however long it lies there: hottest face in the steady state of the last tool station."""
    bound = next((limit.bound for limit in process.limits() if limit.name == "release_temperature"), None)
    station: Any = process.case.stations[process.release]  # type: ignore[index]
    if bound is None or any(process.case.tools[touch.tool].has_body for touch in _touches(station).values()):
        return []
    release = float(np.ravel(bound)[0])
    medium = process.stuff.medium(process.case.sheet.material)
    thickness = float(np.ravel(process.case.sheet.thickness)[0]) / _areas(process)
    (upper, upper_air), (lower, lower_air) = (
        sheet_hand.cooler(process, station, s, release) for s in ("upper", "lower")
    )
    if upper <= 0.0 or lower <= 0.0:
        hottest = lower_air if upper <= 0.0 else upper_air
    else:
        resistance = 1.0 / upper + thickness / typical(medium.conductivity) + 1.0 / lower
        flux = (upper_air - lower_air) / resistance
        hottest = max(upper_air - flux / upper, lower_air + flux / lower)
    if hottest < release:
        return []
    return [
        f"however long it stays in {station.name}, a face of the sheet keeps {hottest - ZERO:.0f} degC, and the release "
        f"temperature is {release - ZERO:.0f} degC: cool the tool"
    ]


def remarks(process: SheetProcess, history: History, facts: Facts) -> list[str]:
    """What a technologist would say of touch and release."""
    if process.release is None:
        return []
    found = []
    station: Any = process.case.stations[touching(process)]
    takes = getattr(station, "draw_takes", None)
    for side, time in draw_times(process, facts, station).items():
        if time is None:
            continue
        words = f"the draw must be finished within {_seconds(time)} of the {side} face touching the tool, or expect a chill mark"
        if takes is not None:
            late = float(np.ravel(takes)[0]) > time
            words += f"; it takes {_seconds(float(np.ravel(takes)[0]))}: " + ("TOO SLOW" if late else "in time")
        found.append(words)
    end = history.ends[process.release]
    upper, lower = end.inner_face, end.outer_face
    if abs(upper - lower) >= ALIKE:
        quick, slow = ("lower", "upper") if upper > lower else ("upper", "lower")
        on = dict.fromkeys(_touches(process.case.stations[process.release]), "tool")
        names = [f"{side} face ({on.get(side, 'air')} side)" for side in (quick, slow)]
        found.append(
            f"the {names[0]} is the quicker one, the {names[1]} sets the release; {abs(upper - lower):.1f} K apart then"
        )
    return found


def _seconds(value: float) -> str:
    return f"{value:.2g} s" if value < 10.0 else f"{value:.0f} s"
