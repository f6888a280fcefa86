"""The shop's formulas for a sheet, the effects that they leave out, and what usually changes at the machine."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.sheet_stations import PanelsStation
from thermokit.conduction.problem import STEFAN_BOLTZMANN, Face, Layer, Medium, Series
from thermokit.processes.base import Effect, Hand
from thermokit.processes.media import sensible_mean, typical
from thermokit.processes.shaping_plan import touch_of
from thermokit.processes.sheet_course import SHEET

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.course import Course
    from thermokit.conduction.problem import Array, Span
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
SIDES = ("upper", "lower")
EVEN = 1e3  # times the conductivity: a sheet without a gradient
PANEL_STEPS = np.arange(-300.0, 201.0, 20.0)  # K, panel temperatures tried when no window is open
POWER_STEPS = np.arange(0.3, 1.71, 0.1)  # times the power
TOOL_STEPS = np.arange(-60.0, 1.0, 5.0)  # K
COLDER_PANELS = 15.0  # K, usual spread of panel faces; common practice, no source
COLDER_STOCK = 15.0  # K, stock from a cold store; common practice, no source
THICKER = 0.5e-3  # m, the next gauge of sheet; common practice, no source
HOTTER_TOOL = 10.0  # K; common practice, no source
LOW_MAINS = 0.95  # of the voltage; common practice, no source


def _sought(process: SheetProcess) -> int | None:
    """Index of the station whose duration is sought."""
    from thermokit.case import sought_path

    path = sought_path(process.case)
    names = [station.name for station in process.case.stations]
    parts = (path or "").split(".")
    return names.index(parts[1]) if len(parts) == 3 and parts[0] == "stations" and parts[1] in names else None


def hand(process: SheetProcess, edges: Sequence[Array]) -> Hand | None:
    """The formula for the duration that is sought: heating between panels, or cooling to release; None for others."""
    number = _sought(process)
    panels = [i for i, s in enumerate(process.case.stations) if s.kind == "panels"]
    if number is not None and process.release is not None and number > process.touch:
        return _cooling(process, edges, number)
    if panels and (number is None or number in panels):
        return _heating(process, edges, number if number is not None else panels[0])
    return None


# -- heating -----------------------------------------------------------------------------------------------------------


def _heating(process: SheetProcess, edges: Sequence[Array], number: int) -> Hand | None:
    """Dwell by the shop formula t = rho cp L dT/q, with all its numbers.

    rho [kg/m3], mean cp [J/kg/K] between the temperatures, L thickness [m], dT from stock to the middle of the
    forming window [K], q [W/m2] heat into both faces at the face temperature half-way between stock and upper limit; for
    clear sheet q is what it takes in over its depth. Common practice, no source. None where there is no window.
    """
    sheet = process.case.sheet
    bounds = {limit.name: float(limit.bound) for limit in process.limits()}
    if not {"coldest_point", "hottest_face"} <= set(bounds):
        return None
    start, thickness = float(sheet.start), float(sheet.thickness)
    goal = (bounds["coldest_point"] + bounds["hottest_face"]) / 2
    face = (start + bounds["hottest_face"]) / 2
    span = process.course(edges).spans[number]
    width = np.diff(process.named(edges)[SHEET]) * thickness
    heat = sum(_flux(side, face) for side in (span.inner, span.outer)) + _depth_flux(span, face, width)
    if heat <= 0.0 or goal <= start:
        return None
    medium = process.stuff.medium(sheet.material)
    cp = sensible_mean(medium.specific_heat, start, goal)
    value = typical(medium.density) * cp * thickness * (goal - start) / heat
    where = "taken in over the depth" if span.sources else "both faces"
    formula = (
        f"t = rho cp L dT/q = {typical(medium.density):.0f} x {cp:.0f} x {1e3 * thickness:.3g} mm x {goal - start:.0f} K"
        f" / {heat / 1e3:.2f} kW/m2 ({where} at {face - ZERO:.0f} degC, mean of the sheet to {goal - ZERO:.0f} degC)"
    )
    effects = [Effect("the gradient between face and core", _even)]
    if not span.sources:
        effects.append(Effect("the fall of the heat flux as the faces warm", _steady(number, face)))
    if _varies(medium):
        effects.append(Effect("specific heat that changes with temperature (and melting)", _plain(cp)))
    if span.sources:
        effects.append(Effect("absorption in the depth (as if opaque)", _opaque(process, number)))
    if len(process.case.stations) > 1:
        effects.append(Effect("the stations without panels (transfer)", _alone(number)))
    return Hand(value, formula, tuple(effects))


def _varies(medium: Medium) -> bool:
    return bool(np.ndim(getattr(medium.specific_heat, "value", 0.0))) or medium.melting is not None


def _on_sheet(change: Callable[[Layer], Layer]) -> Callable[[Course], Course]:
    """A change of the sheet's layer in every leg."""

    def changed(course: Course) -> Course:
        return course.each(
            lambda leg: replace(leg, layers=tuple(change(x) if x.name == SHEET else x for x in leg.layers))
        )

    return changed


def _on_spans(change: Callable[[int, Span], Span]) -> Callable[[Course], Course]:
    """A change of the spans, counted through the course."""

    def changed(course: Course) -> Course:
        legs, first = [], 0
        for leg in course.legs:
            legs.append(replace(leg, spans=tuple(change(first + i, span) for i, span in enumerate(leg.spans))))
            first += len(leg.spans)
        return replace(course, legs=tuple(legs))

    return changed


def _even(course: Course) -> Course:
    def conducting(layer: Layer) -> Layer:
        medium = replace(layer.medium, conductivity=EVEN * typical(layer.medium.conductivity))
        return replace(layer, medium=medium)

    return _on_sheet(conducting)(course)


def _steady(number: int, face: float) -> Callable[[Course], Course]:
    def steady(i: int, span: Span) -> Span:
        if i != number:
            return span
        return replace(span, inner=Face(heating=_flux(span.inner, face)), outer=Face(heating=_flux(span.outer, face)))

    return _on_spans(steady)


def _plain(cp: float) -> Callable[[Course], Course]:
    return _on_sheet(lambda layer: replace(layer, medium=Medium(layer.medium.density, layer.medium.conductivity, cp)))


def _alone(number: int) -> Callable[[Course], Course]:
    def alone(i: int, span: Span) -> Span:
        return span if i == number else replace(span, inner=Face(), outer=Face(), sources=(), emission=None)

    return _on_spans(alone)


def _opaque(process: SheetProcess, number: int) -> Callable[[Course], Course]:
    """All that falls on the sheet in a station taken in at its faces."""
    from thermokit.stations.panels import panels_span

    station = process.case.stations[number]

    def opaque(i: int, span: Span) -> Span:
        if i != number:
            return span
        view = replace(process.view(), bands=None)
        own = panels_span(station, view, np.array([0.0, 1.0]), process.case.sheet.thickness)  # type: ignore[arg-type]
        return replace(own, duration=span.duration)

    return _on_spans(opaque)


# -- cooling -----------------------------------------------------------------------------------------------------------


def _cooling(process: SheetProcess, edges: Sequence[Array], number: int) -> Hand | None:
    """Cooling by the shop formula t = rho cp L/U ln[(T0 - Tc)/(Tr - Tc)] with conductances U = 1/(1/h + L/3k) of the sides.

    L drawn thickness [m], h of contact or air with its radiation at the mean temperature [W/m2/K], Tc the mean of what cools
    weighted with U, T0 the mean of the sheet at the touch, Tr the release temperature. Common practice, no source. None
    without a release temperature, or where the mean of what cools lies above it.
    """
    case = process.case
    bound = next((limit for limit in process.limits() if limit.name == "release_temperature"), None)
    station = case.stations[number]
    if bound is None or station.kind == "panels":
        return None
    release = float(bound.bound)
    start = (
        float(case.sheet.start) if process.touch < 0 else process.typical_temperature() * 2 - float(case.sheet.start)
    )
    medium = process.stuff.medium(case.sheet.material)
    thickness = float(case.sheet.thickness)
    for other in case.stations[: number + 1]:
        ratio = process.ratio(other)
        thickness = thickness if ratio is None else thickness / float(np.ravel(ratio)[0])
    k = typical(medium.conductivity)
    sides = [cooler(process, station, side, (start + release) / 2) for side in SIDES]
    conductance = [1.0 / (1.0 / h + thickness / (3.0 * k)) if h > 0.0 else 0.0 for h, _ in sides]
    total = sum(conductance)
    if total <= 0.0:
        return None
    cold = sum(u * t for u, (_, t) in zip(conductance, sides, strict=True)) / total
    if not cold < release < start:
        return None
    cp = sensible_mean(medium.specific_heat, release, start)
    value = typical(medium.density) * cp * thickness / total * float(np.log((start - cold) / (release - cold)))
    formula = (
        f"t = rho cp L/U ln[(T0 - Tc)/(Tr - Tc)] = {typical(medium.density):.0f} x {cp:.0f} x {1e3 * thickness:.3g} mm / "
        f"{total:.0f} W/m2/K x ln[({start - ZERO:.0f} - {cold - ZERO:.0f})/({release - ZERO:.0f} - {cold - ZERO:.0f})]"
        f", U of upper and lower side {conductance[0]:.0f} and {conductance[1]:.0f} W/m2/K"
    )
    parts = {side: u / h if h > 0.0 else 1.0 for side, u, (h, _) in zip(SIDES, conductance, sides, strict=True)}
    effects = [Effect("a gradient other than L/3k on each side", _as_resistance(number, parts))]
    if _varies(medium):
        effects.append(Effect("specific heat that changes with temperature (and crystallising)", _plain(cp)))
    return Hand(value, formula, tuple(effects), of_earliest=True)


def _as_resistance(number: int, parts: dict[str, float]) -> Callable[[Course], Course]:
    """A sheet without a gradient, and what cools its sides in a station weakened to ``parts`` of it."""

    def weaker(face: Face, part: float) -> Face:
        exchange = tuple(replace(e, coefficient=_times(e.coefficient, part)) for e in face.exchange)
        radiation = tuple(replace(r, factor=r.factor * part) for r in face.radiation)
        return replace(face, exchange=exchange, radiation=radiation)

    def changed(course: Course) -> Course:
        legs, first = [], 0
        for leg in _even(course).legs:
            inside, first = number - first, first + len(leg.spans)
            if 0 <= inside < len(leg.spans):
                layers, spans = list(leg.layers), list(leg.spans)
                at = next(i for i, layer in enumerate(layers) if layer.name == SHEET)
                if at > 0:
                    joint = layers[at - 1]
                    layers[at - 1] = replace(joint, contact=joint.contact * parts["upper"])  # type: ignore[operator]
                else:
                    spans[inside] = replace(spans[inside], inner=weaker(spans[inside].inner, parts["upper"]))
                if at < len(layers) - 1:
                    joint = layers[at]
                    layers[at] = replace(joint, contact=joint.contact * parts["lower"])  # type: ignore[operator]
                else:
                    spans[inside] = replace(spans[inside], outer=weaker(spans[inside].outer, parts["lower"]))
                leg = replace(leg, layers=tuple(layers), spans=tuple(spans))
            legs.append(leg)
        return replace(course, legs=tuple(legs))

    return changed


def cooler(process: SheetProcess, station: Any, side: str, mean: float) -> tuple[float, float]:
    """(coefficient [W/m2/K], temperature [K]) of what cools a side; a tool with a body counts with its water, or its start."""
    touch = getattr(station, "touches", {}).get(side)
    touch = touch if touch is None else touch_of(process, station, touch)
    air, coefficient = 0.0, 0.0
    if station.air is not None:
        air = float(np.ravel(_first(station.air.temperature))[0])
        own = station.emissivity if station.emissivity is not None else process.emissivity
        radiation = 4.0 * float(np.ravel(own)[0]) * STEFAN_BOLTZMANN * ((mean + air) / 2) ** 3
        coefficient = float(np.ravel(_first(station.air.coefficient))[0]) + radiation
    if touch is None:
        return coefficient, air
    tool = process.case.tools[touch.tool]
    face = tool.temperature
    if face is None:
        face = tool.back.temperature if tool.back is not None else tool.start
    share = float(np.ravel(touch.share.value[-1] if isinstance(touch.share, Series) else touch.share)[0])
    free = 0.0 if tool.has_body else 1.0 - share
    own, beside = float(np.ravel(_first(touch.contact))[0]) * share, free * coefficient
    return own + beside, (own * float(np.ravel(_first(face))[0]) + beside * air) / (own + beside)


# -- what changes ------------------------------------------------------------------------------------------------------


def _panel_paths(process: SheetProcess) -> dict[str, tuple[Any, Any]]:
    """Path of what moves every panel as a whole -> (present value, panel); temperature, trim of zones, power by its mains."""
    found: dict[str, tuple[Any, Any]] = {}
    for station in process.case.stations:
        if not isinstance(station, PanelsStation):
            continue
        for side, panel in station.panels.items():
            path = f"stations.{station.name}.{side}"
            if panel.set_by == "power":
                found[f"{path}.installed"] = (panel.installed, panel)
            elif isinstance(panel.temperature, (Series, tuple)):
                found[f"{path}.trim"] = (panel.trim, panel)
            else:
                found[f"{path}.temperature"] = (panel.temperature, panel)
    return found


def _level(panel: Any) -> float:
    """Highest temperature that a panel is set to [K]."""
    table = panel.temperature
    values = table.value if isinstance(table, Series) else [v for row in panel.zones("temperature") for v in row]
    return max(float(np.ravel(v)[0]) for v in values)


def openers(process: SheetProcess) -> list[tuple[str, dict[str, Any], Any]]:
    """Other panel temperatures (or power), the same shift on every panel; colder tools."""
    found: list[tuple[str, dict[str, Any], Any]] = []
    paths = _panel_paths(process)
    heated = {p: (float(v), panel) for p, (v, panel) in paths.items() if panel.set_by == "temperature"}
    if heated:
        levels = [_level(panel) for _, panel in heated.values()]
        shifts = PANEL_STEPS[(PANEL_STEPS != 0.0) & (min(levels) + PANEL_STEPS > 373.15)]
        found.append(
            ("panels at {} degC", {p: v + shifts for p, (v, _) in heated.items()}, max(levels) + shifts - ZERO)
        )
    powered = {p: float(v) for p, (v, panel) in paths.items() if panel.set_by == "power"}
    if powered:
        steps = POWER_STEPS[np.abs(POWER_STEPS - 1.0) > 1e-9]
        found.append(("panels at {} % of their power", {p: v * steps for p, v in powered.items()}, 100.0 * steps))
    fixed = {
        f"tools.{name}.temperature": float(tool.temperature)
        for name, tool in process.case.tools.items()
        if tool.temperature is not None and not isinstance(tool.temperature, Series)
    }
    behind = {
        f"tools.{name}.back.temperature": float(np.ravel(tool.back.temperature)[0])
        for name, tool in process.case.tools.items()
        if tool.back is not None
    }
    for words, cooled in (("tools at {} degC", fixed), ("what cools the tools' backs at {} degC", behind)):
        if not cooled:
            continue
        steps = TOOL_STEPS[(TOOL_STEPS != 0.0) & (min(cooled.values()) + TOOL_STEPS > 273.15)]
        if len(steps):
            shown = max(cooled.values()) + steps - ZERO
            found.append((words, {p: v + steps for p, v in cooled.items()}, shown))
    return found


def shifts(process: SheetProcess) -> list[tuple[str, dict[str, Any]]]:
    """What most often changes at the machine."""
    sheet = process.case.sheet
    found: list[tuple[str, dict[str, Any]]] = [
        (f"sheet {1e3 * THICKER:g} mm thicker", {"sheet.thickness": sheet.thickness + THICKER}),
    ]
    number = _sought(process)
    if number is not None and number > process.touch:
        tools: dict[str, Any] = {}
        for name, tool in process.case.tools.items():
            if tool.temperature is not None and not isinstance(tool.temperature, Series):
                tools[f"tools.{name}.temperature"] = tool.temperature + HOTTER_TOOL
            elif tool.back is not None:
                tools[f"tools.{name}.back.temperature"] = tool.back.temperature + HOTTER_TOOL
        if tools:
            found.append((f"tool or its water {HOTTER_TOOL:g} K hotter", tools))
        return found
    found.append((f"stock {COLDER_STOCK:g} K colder", {"sheet.start": sheet.start - COLDER_STOCK}))
    paths = _panel_paths(process)
    panels = {p: v - COLDER_PANELS for p, (v, panel) in paths.items() if panel.set_by == "temperature"}
    if panels:
        found.append((f"panels {COLDER_PANELS:g} K colder", panels))
    mains = {
        f"stations.{station.name}.mains.actual": station.mains.actual * LOW_MAINS
        for station in process.case.stations
        if isinstance(station, PanelsStation) and station.mains is not None
    }
    if mains:
        found.append((f"mains at {100 * LOW_MAINS:g} % of their voltage", mains))
    return found


def _times(value: Any, factor: float) -> Any:
    return Series(value.time, tuple(v * factor for v in value.value)) if isinstance(value, Series) else value * factor


def _first(value: Any) -> Any:
    return value.value[0] if isinstance(value, Series) else value


def _flux(face: Face, temperature: float) -> float:
    """Heat into a face at a temperature [W/m2]; time tables count with their first value."""

    def first(value: Any) -> float:
        return float(np.ravel(_first(value))[0])

    total = first(face.heating)
    for term in face.exchange:
        total += first(term.coefficient) * (first(term.temperature) - temperature)
    for seen in face.radiation:
        total += first(seen.factor) * STEFAN_BOLTZMANN * (first(seen.temperature) ** 4 - temperature**4)
    return total


def _depth_flux(span: Span, temperature: float, width: Array) -> float:
    """Heat taken in over the depth at a temperature of the sheet [W/m2]."""
    total = 0.0
    for source in span.sources:
        density = source.density if source.density.ndim == 1 else source.density[:, 0]
        total += float((density * width).sum()) * float(np.ravel(_first(source.factor))[0])
    if span.emission is not None:
        emission = span.emission if span.emission.ndim == 1 else span.emission[:, 0]
        total -= float((emission * width).sum()) * STEFAN_BOLTZMANN * temperature**4
    return total
