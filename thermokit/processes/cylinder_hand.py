"""The hand formula for the cycle of a heating cylinder: a slab warmed on one face."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Face
from thermokit.processes.base import Effect, Hand
from thermokit.processes.media import sensible_mean, typical

if TYPE_CHECKING:
    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Problem
    from thermokit.processes.cylinder import CylinderProcess

ZERO = 273.15
FIRM = 1e3  # times the contact: a face that takes the bore's temperature


def hand(process: CylinderProcess) -> Hand | None:
    """Cycle = t/N with t = 4 s^2/(pi^2 a) ln[c (Tb - T0)/(Tb - T)], N the shots that the cylinder holds.

    First term of the series for a slab of thickness s (the ring), one face at Tb (the bore, mean of the zones by length), the
    other insulated (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., section 3.4): c = 8/pi^2 for the mean, 4/pi
    for the coldest place. None where no cycle is sought, no limit puts a least temperature, or the bore is below it.
    """
    from thermokit.case import sought_path

    if sought_path(process.case) != "shot.cycle":
        return None
    case = process.case
    limits = {limit.name: limit for limit in process.limits()}
    limit = limits.get("mean") or limits.get("coldest")
    if limit is None:
        return None
    goal, start = float(np.ravel(limit.bound)[0]), float(np.ravel(case.shot.start)[0])
    length = sum(float(np.ravel(z.length)[0]) for z in case.zones)
    bore = sum(float(np.ravel(z.length * z.temperature)[0]) for z in case.zones) / length
    if not start < goal < bore:
        return None
    gap = float(np.ravel(process.gap)[0])
    medium = process.medium
    capacity = float(np.ravel(medium.density)[0]) * sensible_mean(medium.specific_heat, start, goal)
    latent = (
        0.0 if medium.melting is None else float(np.ravel(medium.melting.heat)[0]) * float(np.ravel(medium.density)[0])
    )
    capacity += latent / (goal - start)
    diffusivity = typical(medium.conductivity) / capacity
    factor, words = (8.0 / np.pi**2, "8/pi^2") if limit.name == "mean" else (4.0 / np.pi, "4/pi")
    argument = factor * (bore - start) / (bore - goal)
    if argument <= 1.0:
        return None
    time = 4.0 * gap**2 / (np.pi**2 * diffusivity) * float(np.log(argument))
    inner = float(np.ravel(process.inner_radius)[0])
    volume = np.pi * ((inner + gap) ** 2 - inner**2) * length
    shots = volume * float(np.ravel(case.melt_density())[0]) / float(np.ravel(case.shot.mass)[0])
    formula = (
        f"cycle = t/N, t = 4 s^2/(pi^2 a) ln[{words} (Tb - T0)/(Tb - T)] = {time:.0f} s with s {1e3 * gap:.3g} mm, "
        f"a {1e6 * diffusivity:.3f} mm2/s, Tb {bore - ZERO:.0f}, T0 {start - ZERO:.0f}, T {goal - ZERO:.0f} degC; N = "
        f"{shots:.2f} shots in the cylinder"
    )
    effects = [Effect("the film between barrel and material", _firm)]
    if case.machine.spreader_contact is not None:
        effects.append(Effect("the warm spreader", _cold_spreader))
    if np.any(np.asarray(case.shot.pressure_loss) > 0.0):
        effects.append(Effect("friction heat", _quiet))
    return Hand(time / shots, formula, tuple(effects), of_earliest=True)


def _firm(course: Course) -> Course:
    def change(leg: Problem) -> Problem:
        spans = tuple(
            replace(
                span,
                outer=replace(
                    span.outer,
                    exchange=tuple(replace(e, coefficient=_times(e.coefficient, FIRM)) for e in span.outer.exchange),
                ),
            )
            for span in leg.spans
        )
        return replace(leg, spans=spans)

    return course.each(change)


def _cold_spreader(course: Course) -> Course:
    return course.each(lambda leg: replace(leg, spans=tuple(replace(span, inner=Face()) for span in leg.spans)))


def _quiet(course: Course) -> Course:
    def change(leg: Problem) -> Problem:
        return replace(leg, layers=tuple(replace(layer, heat=0.0) for layer in leg.layers))

    return course.each(change)


def _times(value: Any, factor: float) -> Any:
    return value * factor
