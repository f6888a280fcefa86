"""The shop's formula for the cure time, what opens a closed window, and what most often changes at the press."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Series
from thermokit.processes.base import Effect, Hand
from thermokit.processes.charge_changes import mould_paths, starting_at, times_as_thick, warmer_mould
from thermokit.processes.charge_course import CURE, reactions_of
from thermokit.processes.charge_judgement import least_degree
from thermokit.processes.charge_times import isothermal_time
from thermokit.processes.media import typical

if TYPE_CHECKING:
    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Problem
    from thermokit.processes.charge import ChargeProcess

NEAR = 10.0  # K below the mould at which the core counts as warm in the shop's formula
ZERO = 273.15
FIRM_CONTACT = 1e3  # times the contact: a face that takes the mould's temperature
PREHEATED, COLD = 373.15, 298.15  # K, usual; common practice, no source
THICKER = 1e-3  # m
MOULD_STEPS = np.array([-40.0, -30.0, -20.0, -10.0, 10.0, 20.0, 30.0])  # K, tried when no window is open


def hand(process: ChargeProcess) -> Hand | None:
    """Cure time by the shop's formula: heat-through, then reaction at the temperature of the mould,

    t = L^2/(pi^2 a) ln[(4/pi)(Tm - T0)/10 K] + integral of d(degree)/rate at Tm from the start to the least degree.

    First term of the series for a slab of thickness L between faces at Tm, diffusivity a, start T0, until the middle is 10 K
    below Tm (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.3); the sum is common practice. For layers
    L^2/a is the square of the sum of L/sqrt(a). None where no cure time is sought, or the mould has no one temperature.
    """
    from thermokit.case.tables import Find

    sought = next((s for s in process.case.stations if isinstance(s.duration, Find)), None)
    if sought is None or sought.kind != "cure":
        return None
    hot = _mould(process, sought)
    reacting = [part for part in process.parts if any(r.state == CURE for r in reactions_of(process, part))]
    if hot is None or not reacting:
        return None
    start = min(float(np.ravel(part.start)[0]) for part in process.parts)
    slow = 0.0
    for part in process.parts:
        medium = process.stuff.medium(part.material)
        capacity = typical(medium.density) * typical(medium.specific_heat)
        slow += float(np.ravel(part.thickness)[0]) * float(np.sqrt(capacity / typical(medium.conductivity)))
    argument = 4.0 / np.pi * (hot - start) / NEAR
    through = slow**2 / np.pi**2 * float(np.log(argument)) if argument > 1.0 else 0.0
    least = float(np.ravel(least_degree(process))[0])
    reaction = max(
        isothermal_time(r.rate, hot, float(np.ravel(r.start)[0]), least)
        for part in reacting
        for r in reactions_of(process, part)
        if r.state == CURE
    )
    if not np.isfinite(reaction):
        return None
    thickness = 1e3 * float(np.ravel(process.thickness)[0])
    formula = (
        f"t = L^2/(pi^2 a) ln[(4/pi)(Tm - T0)/10] + time to {least:.3g} at Tm = {through:.0f} s for {thickness:.3g} mm to "
        f"heat through from {start - ZERO:.0f} degC to 10 K below {hot - ZERO:.0f} degC + {reaction:.0f} s to cure there, one "
        "after the other (the charge does both at once; trade: 10 to 20 s for each mm, common practice)"
    )
    return Hand(through + reaction, formula, _effects(process), of_earliest=True)


def _mould(process: ChargeProcess, station: Any) -> float | None:
    """Mean temperature of the two halves in a station [K], None where a half has a table."""
    found = []
    for side in station.touches:
        half = getattr(process.case.mould, side)
        own = getattr(station, side).temperature
        value = own if own is not None else half.temperature if half.platen is None else half.platen.temperature
        if isinstance(value, Series):
            return None
        found.append(float(np.ravel(value)[0]))
    return sum(found) / len(found)


def _effects(process: ChargeProcess) -> tuple[Effect, ...]:
    names = {station.name: station.kind for station in process.case.stations}

    def without_heat(course: Course) -> Course:
        def leg(problem: Problem) -> Problem:
            layers = (
                replace(layer, reactions=tuple(replace(r, heat=0.0) for r in layer.reactions))
                for layer in problem.layers
            )
            return replace(problem, layers=tuple(layers))

        return course.each(leg)

    def firm(course: Course) -> Course:
        def leg(problem: Problem) -> Problem:
            spans = []
            for span in problem.spans:
                if names.get(span.name) == "cure":
                    span = replace(span, inner=_firmer(span.inner), outer=_firmer(span.outer))
                spans.append(span)
            layers = tuple(replace(x, contact=None) if x.contact is not None else x for x in problem.layers)
            return replace(problem, layers=layers if _all_cure(problem, names) else problem.layers, spans=tuple(spans))

        return course.each(leg)

    def even(course: Course) -> Course:
        def leg(problem: Problem) -> Problem:
            layers = (
                replace(
                    x,
                    medium=replace(
                        x.medium,
                        conductivity=typical(x.medium.conductivity),
                        specific_heat=typical(x.medium.specific_heat),
                    ),
                )
                for x in problem.layers
            )
            return replace(problem, layers=tuple(layers))

        return course.each(leg)

    effects = [Effect("the heat of cure", without_heat), Effect("the resistance of the contact with the mould", firm)]
    media = [process.stuff.medium(part.material) for part in process.parts]
    if any(not isinstance(x, (int, float)) and np.ndim(getattr(x, "value", 0.0)) for m in media
           for x in (m.conductivity, m.specific_heat)):  # fmt: skip
        effects.append(Effect("properties that change with temperature", even))
    return tuple(effects)


def _all_cure(problem: Problem, names: dict[str, str]) -> bool:
    return all(names.get(span.name) == "cure" for span in problem.spans)


def _firmer(face: Any) -> Any:
    def firm(value: Any) -> Any:
        if isinstance(value, Series):
            return Series(value.time, tuple(entry * FIRM_CONTACT for entry in value.value))
        return value * FIRM_CONTACT

    return replace(face, exchange=tuple(replace(term, coefficient=firm(term.coefficient)) for term in face.exchange))


def openers(process: ChargeProcess) -> list[tuple[str, dict[str, Any], Any]]:
    """Other temperatures of the mould, then of the charge, that might open a window."""
    case = process.case
    paths = mould_paths(case)
    if any(isinstance(value, Series) for value in paths.values()):
        return []
    hottest = max(float(value) for value in paths.values())
    values = {path: float(value) + MOULD_STEPS for path, value in paths.items()}
    found = [("moulds at {} degC", values, hottest + MOULD_STEPS - ZERO)]
    starts = np.array([298.15, 323.15, 343.15, 363.15, 383.15])
    warm = starting_at(case, starts)
    if warm:
        found.append(("charges at {} degC", warm, starts - ZERO))
    return found


def shifts(process: ChargeProcess) -> list[tuple[str, dict[str, Any]]]:
    """What most often changes at the press: mould, preheating, thickness."""
    case = process.case
    found = [
        (f"mould {abs(by):.0f} K {word}", warmer_mould(case, by)) for by, word in ((-10.0, "cooler"), (10.0, "hotter"))
    ]
    start = max(float(np.ravel(part.start)[0]) for part in process.parts)
    if start > COLD + 20.0:
        found.append((f"charge not preheated ({COLD - ZERO:.0f} degC)", starting_at(case, COLD)))
    else:
        found.append((f"charge preheated to {PREHEATED - ZERO:.0f} degC", starting_at(case, PREHEATED)))
    thickness = float(np.ravel(sum(part.thickness for part in process.parts if part.reacts))[0])
    found.append((f"{1e3 * THICKER:.0f} mm thicker", times_as_thick(case, (thickness + THICKER) / thickness)))
    return found
