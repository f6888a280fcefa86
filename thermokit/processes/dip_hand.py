"""The shop's formulas for a dip, and what usually changes: growth of the gel, heating and cooling of the former."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import STEFAN_BOLTZMANN, Curve, Series
from thermokit.kinetics.pvc import Fusion, Gelation
from thermokit.processes.base import Effect, Hand
from thermokit.processes.dip_remarks import FUSES, former_heat
from thermokit.processes.media import typical
from thermokit.stations.oven import level

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Face, Layer, Medium, Problem
    from thermokit.processes.dip import DipProcess

ZERO = 273.15
MINUTE = 60.0  # s, time in which paste gels at the temperature that stands for its gel point
STEADY = 1e4  # on the heat capacity of a former whose temperature shall not fall in a dip
QUICK = 30.0  # times as fast a fusion as takes no time beside the heating
SHARP = 5e5  # J/mol, activation energy of a gelling that takes a few kelvin; sharper fronts cost very many steps
EVEN = 1e3  # on conductivities, where gradients are left out
COOLER_OVEN = 10.0  # K; common practice, no source
COLDER_PASTE = 4.0  # K; common practice, no source
THICKER_FORMER = 1.2  # times; common practice, no source
OVEN_STEPS = np.array([-40.0, -30.0, -20.0, -10.0, 10.0, 20.0, 30.0, 40.0])  # K


def sought(process: DipProcess) -> int | None:
    """Number of the station whose duration is sought."""
    from thermokit.case import sought_path

    path = sought_path(process.case)
    parts = (path or "").split(".")
    names = [station.name for station in process.case.stations]
    return names.index(parts[1]) if len(parts) == 3 and parts[0] == "stations" and parts[1] in names else None


def hand(process: DipProcess, edges: Any) -> Hand | None:
    """The formula for the station that is sought: growth of the gel, heating or cooling of the former; None for others."""
    number = sought(process)
    if number is None:
        return None
    if process.case.stations[number].kind == "dip":
        return _growth(process, number)
    return _lumped(process, number)


def similarity_root(share: float) -> float:
    """lambda of erfc(lambda) = share: the isotherm of that share lies at 2 lambda sqrt(a t) in a deep body.

    share : (T_isotherm - T_far)/(T_face - T_far), 0 to 1. Carslaw & Jaeger, Conduction of Heat in Solids, section 2.4.

    >>> round(similarity_root(0.5), 4)
    0.4769
    """
    from scipy.special import erfcinv

    return float(erfcinv(share))


def _growth(process: DipProcess, number: int) -> Hand | None:
    """Dwell by t = d^2/(4 lambda^2 a), erfc(lambda) = (T_gel - T_bath)/(T_face - T_bath): the face keeps its temperature."""
    from thermokit.processes.dip_outcomes import gel_point

    bounds = {limit.name: _one(limit.bound) for limit in process.limits()}
    walls = [bounds[name] for name in ("wall_least", "wall_most") if name in bounds]
    gels = gel_point(process, MINUTE)
    if not walls or gels is None or len(process.dips) > 1:
        return None
    goal = sum(walls) / len(walls) - _one(process.clinging(0))
    bath, face = _one(process.bath_temperature(number)), _typical_former(process, number)
    if goal <= 0.0 or not bath < gels < face:
        return None
    medium = process.paste_medium
    diffusivity = typical(medium.conductivity) / (typical(medium.density) * typical(medium.specific_heat))
    root = similarity_root((gels - bath) / (face - bath))
    value = goal**2 / (4.0 * root**2 * diffusivity)
    formula = (
        f"t = d^2/(4 lambda^2 a) = ({1e3 * goal:.2f} mm)^2/(4 x {root:.3f}^2 x {1e6 * diffusivity:.4f} mm2/s), erfc(lambda) = "
        f"({gels - ZERO:.0f} - {bath - ZERO:.0f})/({face - ZERO:.0f} - {bath - ZERO:.0f}); d without what clings"
    )
    effects = (
        Effect("the fall of the former's temperature in the paste", _steady_former(process)),
        Effect(
            f"the time that gelling takes (as if it gelled within some kelvin of {gels - ZERO:.0f} degC)",
            _sharp(process, gels),
        ),
    )
    return Hand(value, formula, effects)


def _sharp(process: DipProcess, gels: float) -> Callable[[Course], Course]:
    """Paste that gels at one temperature, at once."""
    needed = -float(np.log1p(-_one(process.case.paste.stays)))
    law = Gelation(needed / MINUTE, SHARP, gels)

    def sharp(layer: Layer) -> Layer:
        found = tuple(replace(r, rate=law) if r.state == "gel_degree" else r for r in layer.reactions)
        return replace(layer, reactions=found)

    return lambda course: course.each(lambda leg: replace(leg, layers=tuple(sharp(x) for x in leg.layers)))


def _steady_former(process: DipProcess) -> Callable[[Course], Course]:
    """The former with so much heat, in the dips alone, that it does not cool there."""
    names = {layer.name for layer in process.case.former.layers}

    def steady(course: Course) -> Course:
        legs = []
        for leg in course.legs:
            if any(layer.name.startswith("paste_") for layer in leg.layers):
                leg = replace(leg, layers=tuple(_heavier(x) if x.name in names else x for x in leg.layers))
            legs.append(leg)
        return replace(course, legs=tuple(legs))

    return steady


def _heavier(layer: Layer) -> Layer:
    medium = layer.medium
    heat = medium.specific_heat
    more = Curve(heat.temperature, heat.value * STEADY) if isinstance(heat, Curve) else heat * STEADY
    k = medium.conductivity
    conducts = Curve(k.temperature, k.value * STEADY) if isinstance(k, Curve) else k * STEADY
    return replace(layer, medium=replace(medium, specific_heat=more, conductivity=conducts))


def _typical_former(process: DipProcess, number: int) -> float:
    """About what the former has when a station begins [K]: a lumped body through the stations before it."""
    mass = former_heat(process)
    t = _one(process.case.former.start)
    for i in range(number):
        station = process.case.stations[i]
        if not isinstance(station.duration, (int, float)):
            continue
        if station.kind == "dip":
            t = _dipped(process, i, t, mass)
            continue
        h, around = _surroundings(process, i, t)
        t = around + (t - around) * float(np.exp(-h * station.duration / mass))
    return t


def _dipped(process: DipProcess, number: int, start: float, mass: float) -> float:
    """A former after a dip [K]: T = Tb + (T0 - Tb) exp(b^2 t) erfc(b sqrt t), b = e/M, e effusivity of the paste.

    A body of one temperature in contact with a deep one, Carslaw & Jaeger, Conduction of Heat in Solids, section 12.
    """
    from scipy.special import erfcx

    paste = process.paste_medium
    effusivity = (typical(paste.conductivity) * typical(paste.density) * typical(paste.specific_heat)) ** 0.5
    bath = _one(process.bath_temperature(number))
    root = effusivity / mass * _one(process.case.stations[number].duration) ** 0.5
    return bath + (start - bath) * float(erfcx(root))


def _surroundings(process: DipProcess, number: int, surface: float) -> tuple[float, float]:
    """(coefficient with radiation [W/m2/K], temperature [K]) about a former in a station."""
    from thermokit.stations.oven import coefficient_by_speed

    station = process.case.stations[number]
    if station.kind == "quench":
        return _one(level(station.coefficient)), _one(level(station.temperature))
    if station.kind == "oven":
        source, factor, view = station, _one(station.turbulence), _one(station.view)
        around = _one(process.case.ovens[station.oven].temperature if station.oven else level(station.temperature))
    else:
        source, factor, view, around = station.air, 1.0, 1.0, _one(level(station.air.temperature))
    h = source.coefficient
    if h is None:
        speed = source.speed if source.speed is not None else 0.0
        length = _one(process.case.former.length)
        h = factor * coefficient_by_speed(process.shape, _one(process.diameter), length, _one(speed), surface, around)
    bare = number < process.dips[0]
    emissivity = _one(process.case.former.emissivity if bare else process.coat_emissivity) * view
    return _one(level(h)) + 4.0 * emissivity * STEFAN_BOLTZMANN * ((surface + around) / 2.0) ** 3, around


def _lumped(process: DipProcess, number: int) -> Hand | None:
    """Heating or cooling of former and coat as one body: t = M c/h ln[(T0 - Ta)/(T - Ta)], h with radiation."""
    station = process.case.stations[number]
    bounds = {limit.name: _one(limit.bound) for limit in process.limits()}
    before = number < process.dips[0]
    names = ("former_least", "former_most") if before else ("strip_least", "strip_most")
    if station.kind == "oven" and not before:
        goal: float | None = FUSES
    else:
        ends = [bounds[name] for name in names if name in bounds]
        goal = sum(ends) / len(ends) if ends else None
    if goal is None:
        return None
    mass = former_heat(process)
    if not before:
        walls = [bounds[name] for name in ("wall_least", "wall_most") if name in bounds]
        coat = sum(walls) / len(walls) if walls else 1e-3
        mass += coat * typical(process.paste_medium.density) * typical(process.paste_medium.specific_heat)
    first = _typical_former(process, number)
    h, around = _surroundings(process, number, (first + goal) / 2.0)
    ratio = (first - around) / (goal - around) if goal != around else 0.0
    if ratio <= 1.0:
        return None
    value = mass / h * float(np.log(ratio))
    formula = (
        f"t = M c/h ln[(T0 - Ta)/(T - Ta)] = {1e-3 * mass:.1f} kJ/m2/K / {h:.0f} W/m2/K x ln[({first - ZERO:.0f} - "
        f"{around - ZERO:.0f})/({goal - ZERO:.0f} - {around - ZERO:.0f})], h with radiation"
    )
    effects = [Effect("the gradient through former and coat", _even)]
    if station.kind == "oven" and station.oven is not None:
        effects.append(Effect("the load and the doors of the oven", _as_set(station.name, around)))
    if station.kind == "oven" and not before:
        effects.append(Effect("the time that fusing takes (as if done when hot)", _at_once))
    return Hand(value, formula, tuple(effects), of_earliest=station.kind == "oven" and not before)


def _as_set(name: str, temperature: float) -> Callable[[Course], Course]:
    """The air of a station at a temperature from beginning to end."""

    def held(face: Face) -> Face:
        exchange = tuple(replace(x, temperature=temperature) for x in face.exchange)
        seen = tuple(replace(x, temperature=temperature) for x in face.radiation)
        return replace(face, exchange=exchange, radiation=seen)

    def with_spans(leg: Problem) -> Problem:
        return leg.with_(
            spans=tuple(
                replace(x, inner=held(x.inner), outer=held(x.outer)) if x.name == name else x for x in leg.spans
            )
        )

    return lambda course: course.each(with_spans)


def _at_once(course: Course) -> Course:
    """Fusion that is as far as its temperature leads to, within a second or so."""

    def quick(layer: Layer) -> Layer:
        found = tuple(
            replace(r, rate=replace(r.rate, rate=r.rate.rate * QUICK)) if isinstance(r.rate, Fusion) else r
            for r in layer.reactions
        )
        return replace(layer, reactions=found)

    return course.each(lambda leg: leg.with_(layers=tuple(quick(x) for x in leg.layers)))


def _even(course: Course) -> Course:
    def conducting(layer: Layer) -> Layer:
        if layer.name.startswith("paste_"):
            return layer
        return replace(layer, medium=_conducting(layer.medium), contact=None)

    return course.each(lambda leg: replace(leg, layers=tuple(conducting(x) for x in leg.layers)))


def _conducting(medium: Medium) -> Medium:
    return replace(medium, conductivity=EVEN * typical(medium.conductivity))


# -- what changes ------------------------------------------------------------------------------------------------------


def _ovens(process: DipProcess, after: bool) -> dict[str, float]:
    """Paths of what sets the ovens before (or after) the first dip: path -> temperature [K]; logged ones are left out."""
    found: dict[str, float] = {}
    for i, station in enumerate(process.case.stations):
        if station.kind != "oven" or (i > process.dips[0]) is not after:
            continue
        if station.oven is not None:
            found[f"ovens.{station.oven}.temperature"] = _one(process.case.ovens[station.oven].temperature)
        elif not isinstance(station.temperature, Series):
            found[f"stations.{station.name}.temperature"] = _one(station.temperature)
    return found


def openers(process: DipProcess) -> list[tuple[str, dict[str, Any], Any]]:
    """Another preheat, another oven."""
    found: list[tuple[str, dict[str, Any], Any]] = []
    for after, words in ((False, "preheat oven at {} degC"), (True, "oven at {} degC")):
        paths = _ovens(process, after)
        if paths and not any(path.startswith("ovens.") for path in paths):
            hottest = max(paths.values())
            found.append((words, {p: v + OVEN_STEPS for p, v in paths.items()}, hottest + OVEN_STEPS - ZERO))
    return found


def shifts(process: DipProcess) -> list[tuple[str, dict[str, Any]]]:
    """What most often changes at the bath and the oven."""
    number = sought(process)
    found: list[tuple[str, dict[str, Any]]] = []
    for after, words in ((False, "preheat oven"), (True, "oven after the dip")):
        paths = _ovens(process, after)
        if paths and (number is None or after or number <= process.dips[0]):
            found.append((f"{words} {COOLER_OVEN:g} K cooler", {p: v - COOLER_OVEN for p, v in paths.items()}))
    if number is not None and number <= process.dips[0]:
        colder = _one(process.case.paste.temperature) - COLDER_PASTE
        found.append((f"paste {COLDER_PASTE:g} K colder", {"paste.temperature": colder}))
    layer = process.case.former.layers[-1]
    word = "thickness" if layer.thickness is not None else "mass"
    path = f"former.layers.{layer.name}.{word}"
    found.append(
        (f"former {100 * (THICKER_FORMER - 1):.0f} % heavier", {path: THICKER_FORMER * _one(getattr(layer, word))})
    )
    return found


def _one(value: Any) -> float:
    return float(np.ravel(value)[0])
