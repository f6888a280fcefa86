"""What a sheet passes through, as a course: legs change where the sheet is drawn and where tools come and go."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, thinned
from thermokit.conduction.problem import Exchange, Face, Layer, Problem, Series, Span
from thermokit.processes.shaping_plan import jet_factor, touch_of
from thermokit.stations.air import air_face
from thermokit.stations.panels import panels_span
from thermokit.stations.tools import open_face, tool_layer, touch_face

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.case.sheet_stations import Touch
    from thermokit.conduction.problem import Array
    from thermokit.processes.sheet import SheetProcess

SHEET = "sheet"


@dataclass
class _Leg:
    """A leg in the making: what is on either side of the sheet, and the spans so far."""

    upper: Layer | None
    lower: Layer | None
    upper_contact: Any
    contact: Any
    area: Any
    spans: list[Span] = field(default_factory=list)

    def same(self, other: _Leg) -> bool:
        """Whether a station with these sides goes on in this leg."""
        return (
            self.upper is other.upper
            and self.lower is other.lower
            and self.area is other.area
            and self.upper_contact is other.upper_contact
            and self.contact is other.contact
        )


def sheet_course(process: SheetProcess, edges: Mapping[str, Array]) -> Course:
    """The course of the sheet at the places of the process; edges by name of the layer.

    A leg holds the layers [upper tool] sheet [lower tool], as far as the tools have bodies. It ends where the sheet is
    drawn (thickness over ratio, area times ratio) and where what touches it changes.
    """
    case, stuff = process.case, process.stuff
    tools = {name: tool_layer(name, tool, stuff, edges[name]) for name, tool in case.tools.items() if tool.material}
    thickness: Any = case.sheet.thickness
    area: Any = 1.0
    legs: list[_Leg] = []
    for station in case.stations:
        ratio = process.ratio(station)
        if ratio is not None:
            thickness, area = thickness / ratio, area * ratio
        touches = getattr(station, "touches", {})
        touches = {side: touch_of(process, station, touch) for side, touch in touches.items()}
        with_body = {side: touch for side, touch in touches.items() if touch.tool in tools}
        leg = _Leg(
            upper=tools[with_body["upper"].tool] if "upper" in with_body else None,
            lower=tools[with_body["lower"].tool] if "lower" in with_body else None,
            upper_contact=_joint(with_body.get("upper")),
            contact=_joint(with_body.get("lower")),
            area=area,
        )
        if legs and legs[-1].same(leg):
            leg = legs[-1]
        else:
            legs.append(leg)
        leg.spans.append(_span(process, station, edges[SHEET], thickness, with_body, touches))
    problems = tuple(_problem(process, leg, edges[SHEET]) for leg in legs)
    return Course(problems, (SHEET,), tuple(leg.area for leg in legs))


def _problem(process: SheetProcess, leg: _Leg, edges: Array) -> Problem:
    sheet = process.case.sheet
    blank = Layer(
        process.stuff.medium(sheet.material), sheet.thickness, edges, sheet.start, contact=leg.contact,
        reactions=process.reactions(), name=SHEET,
    )  # fmt: skip
    own = thinned(blank, leg.area)
    layers = [own]
    if leg.upper is not None:
        layers.insert(0, replace(leg.upper, contact=leg.upper_contact))
    if leg.lower is not None:
        layers.append(leg.lower)
    return Problem(tuple(layers), tuple(leg.spans))


def _joint(touch: Touch | None) -> Any:
    """Conductance to a tool that has a body, a mean over the face: what does not touch passes no heat (sheet_skin warns)."""
    if touch is None:
        return None
    # a contact between layers does not change within a leg; the case allows no time table there
    contact = touch.contact.value[-1] if isinstance(touch.contact, Series) else touch.contact
    return contact if np.ndim(touch.share) == 0 and float(touch.share) == 1.0 else contact * touch.share


def _span(
    process: SheetProcess,
    station: Any,
    edges: Array,
    thickness: Any,
    with_body: dict[str, Any],
    touches: dict[str, Any],
) -> Span:
    case = process.case
    if station.kind == "panels":
        span = panels_span(station, process.view(), edges, thickness)
    elif station.kind == "air":
        span = _air_span(process, station, edges, thickness)
    else:
        faces = {}
        for side in ("upper", "lower"):
            touch = touches.get(side)
            if touch is None:
                faces[side] = air_face(station.air, station.emissivity)
            elif side in with_body:
                faces[side] = open_face(case.tools[touch.tool].back)  # the far side of the tool
            else:
                faces[side] = touch_face(touch, case.tools[touch.tool], station.air, station.emissivity)
        span = Span(station.duration, faces["upper"], faces["lower"], name=station.name)
    if case.sheet.frame is not None and station.kind != "tool":
        span = _with_frame(process, span, thickness)
    return span


def _air_span(process: SheetProcess, station: Any, edges: Array, thickness: Any) -> Span:
    from thermokit.stations.panels import air_span_in_depth

    own = station.emissivity if station.emissivity is not None else process.emissivity
    if station.ends_at is not None:
        slow = Series((0.0, station.duration), (station.air.temperature, station.ends_at))
        station = replace(station, air=replace(station.air, temperature=slow))
    if process.view().bands is not None and station.emissivity is None:
        return air_span_in_depth(station, process.view(), edges, thickness)
    upper, lower = (
        air_face(station.air, own, station.surround, jet_factor(process, station, side)) for side in ("upper", "lower")
    )
    return Span(station.duration, upper, lower, name=station.name)


def _with_frame(process: SheetProcess, span: Span, thickness: Any) -> Span:
    """Heat that an edge place loses to the clamp frame through the sheet's plane, half through each face."""
    frame = process.case.sheet.frame
    assert frame is not None
    edge = process.tiled(process.at.edge)
    joint = Exchange(process.conductivity * thickness * edge / 2.0, frame.temperature)

    def joined(face: Face) -> Face:
        return replace(face, exchange=(*face.exchange, joint))

    return replace(span, inner=joined(span.inner), outer=joined(span.outer))
