"""Contradictions between ``[shaping]``, ``[part]`` and the rest of a sheet case."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import known
from thermokit.case.mistakes import nearest, shown
from thermokit.case.shaping import AIR_ONLY, PARTLY
from thermokit.conduction.problem import Series

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.case.sheet import SheetCase

THICKER = 1.06  # of the blank, that heated cast sheet may have
DOMES = ("free_blowing",)


def region_names(case: Any) -> tuple[str, ...]:
    """Names of the regions of the part: those that are free first, then what the ribs of a skeleton touch."""
    ribs = partly(case)
    if case.part.shape == "dome":
        return ("pole", "middle", "ring", *(("rib",) if ribs else ()))
    if case.part.shape == "tray":
        return ("flat", "wall", "rib" if ribs else "corner")
    return ("web", "rib") if ribs else ("panel",)


def partly(case: Any) -> bool:
    """Whether the tool touches a share of the area only."""
    touches = [touch for i in tool_stations(case) for touch in case.stations[i].touches.values()]
    return case.shaping.method in PARTLY and any(
        known(t) and known(t.share) and float(np.min(t.share)) < 1.0 for t in touches
    )


def shaped_at(case: Any) -> int:
    """Index of the station at whose beginning the sheet is drawn."""
    names = [station.name for station in case.stations]
    if case.shaping.at is not None and case.shaping.at in names:
        return names.index(case.shaping.at)
    tools = tool_stations(case)
    return tools[0] if tools else len(names) - 1


def released_at(case: Any) -> int:
    """Index of the station at whose end the part is let go."""
    names = [station.name for station in case.stations]
    if case.shaping.release is not None and case.shaping.release in names:
        return names.index(case.shaping.release)
    tools = tool_stations(case)
    return max(tools[-1] if tools else 0, shaped_at(case))


def tool_stations(case: Any) -> list[int]:
    """Indices of the stations with tools."""
    return [i for i, station in enumerate(case.stations) if station.kind == "tool"]


def check_shaping(case: SheetCase, at: At) -> None:
    """Part and method belong together; stations are there; the draw is said once."""
    shaping, part = case.shaping, case.part
    if shaping is None:
        if part is not None and known(part):
            (at / "part").mistake("stands without [shaping]", "[shaping] with a method")
        return
    if part is None:
        (at / "part").mistake("missing: [shaping] needs the part", "a table with shape and its sizes")
        return
    if not known(shaping, part) or not known(shaping.method, part.shape, shaping.at, shaping.release):
        return
    if not known(case.stations) or not known(*case.stations):
        return
    names = [station.name for station in case.stations]
    if not known(*names):
        return
    for word in ("at", "release"):
        name = getattr(shaping, word)
        if name is not None and name not in names:
            (at / "shaping" / word).mistake(f"{shown(name)} is no station", " or ".join(names), nearest(name, names))
            return
    tools, first, last = tool_stations(case), shaped_at(case), released_at(case)
    if last < first:
        (at / "shaping" / "release").mistake(
            "comes before the station at which the sheet is drawn", "a station after it"
        )
    if shaping.method in AIR_ONLY and tools:
        (at / "shaping" / "method").mistake(
            f"{shaping.method} touches no tool, and {names[tools[0]]} is a tool station",
            "blow_into_mould, or an air station",
        )
    if shaping.method not in AIR_ONLY and not tools:
        (at / "shaping" / "method").mistake(
            f"{shaping.method} needs a tool, and no station touches one", 'a station with kind = "tool"'
        )
    if shaping.method in DOMES and part.shape != "dome":
        (at / "part" / "shape").mistake(f"{shaping.method} makes domes", '"dome"')
    if shaping.method == "snap_back" and tools and first >= tools[0]:
        (at / "shaping" / "at").mistake(
            "the bubble is drawn in air, before the tool goes in", "an air station before the tool station",
            "name it here",
        )  # fmt: skip
    if known(shaping.measured):
        own = region_names(case)
        thick = case.sheet.thickness if known(case.sheet) and known(case.sheet.thickness) else np.inf
        for name, value in shaping.measured.items():
            if known(value) and value > THICKER * float(np.max(thick)):
                (at / "shaping" / "measured" / name).mistake(
                    "is thicker than the blank",
                    "at most 6 % over the sheet's thickness (cast sheet gains some when heated)",
                )
            if name not in own:
                (at / "shaping" / "measured" / name).mistake(
                    "is no region of the part", " or ".join(own), nearest(name, own)
                )
    _check_draw(case, at)
    _check_shares(case, at)
    if case.zones is not None:
        (at / "zones").mistake("a case with [shaping] has no map of the sheet", "a case of the oven alone")


def _check_draw(case: SheetCase, at: At) -> None:
    """The draw ratios come from the part."""
    for i, station in enumerate(case.stations):
        ratio = getattr(station, "draw_ratio", 1.0)
        for word, given in (
            ("draw_ratio", known(ratio) and ratio != 1.0),
            ("regions", bool(getattr(station, "regions", ()))),
        ):
            if given:
                (at / "stations" / i / word).mistake(
                    "stands together with [shaping]", "draw ratios as [part] and [shaping] give them",
                    "measured in [shaping] takes your own thicknesses",
                )  # fmt: skip


def _check_shares(case: SheetCase, at: At) -> None:
    """Tools that touch a share of the area have one temperature: what they leave free is in the air."""
    assert case.shaping is not None
    if not known(case.tools):
        return
    for i in tool_stations(case):
        for side, touch in case.stations[i].touches.items():  # type: ignore[union-attr]
            if not known(touch) or not known(touch.share, touch.tool):
                continue
            place = at / "stations" / i / side / "share"
            tool = case.tools.get(touch.tool)
            _check_filling(case, at, i, touch, tool)
            if case.shaping.method in ("skeleton_press", "snap_back") and touch.share == 1.0:
                place.mistake(
                    "missing: a skeleton touches a share of the area", "a share such as 0.1; 5 to 20 % are usual"
                )
            elif (
                case.shaping.method in PARTLY
                and touch.share < 1.0
                and tool is not None
                and known(tool)
                and tool.has_body
            ):
                (at / "tools" / touch.tool).mistake(
                    "a tool that touches a share of the area has a body", "a temperature",
                    "so little of it touches that it hardly warms",
                )  # fmt: skip


def _check_filling(case: SheetCase, at: At, i: int, touch: Any, tool: Any) -> None:
    """A mould that fills region by region has one temperature, and contact and air do not change by themselves."""
    assert case.shaping is not None
    if not known(case.shaping.fills_in) or not case.shaping.fills_in or tool is None or not known(tool):
        return
    place = at / "shaping" / "fills_in"
    air = case.stations[i].air
    if tool.has_body:
        place.mistake(
            f"the tool {touch.tool} has a body", "a tool with a temperature", "leave it out: all touches at once"
        )
    elif isinstance(touch.contact, Series) or (air is not None and known(air) and isinstance(air.coefficient, Series)):
        place.mistake("stands together with a table of contact or air", "one contact and one coefficient of the air")
    elif air is None:
        (at / "stations" / i / "air").mistake(
            "missing: what has not yet arrived is in the air", "the air of the station"
        )
